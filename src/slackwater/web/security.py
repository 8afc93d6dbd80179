"""What stands between the network and the pages: who may call, from which page, with how much, and what a page may load.

Written as one plain ASGI wrapper, so that it also covers static files, errors and streams.
"""

from __future__ import annotations

import logging
import traceback
from collections.abc import Iterable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from slackwater.web.errors import refusal

log = logging.getLogger(__name__)

CONTENT_POLICY = (
    "default-src 'self'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    # Not "no-referrer": browsers would then send "Origin: null" with our own forms.
    "referrer-policy": "same-origin",
    "x-frame-options": "DENY",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(self), geolocation=(), microphone=()",
}
LOOPBACK = ("localhost", "127.0.0.1", "[::1]")
"""Names of this machine for itself; under any other a page of the net could reach the office by a name of its own."""
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
LARGEST_FORM = 2_000_000
"""Bytes of a form or a call; the longest job file is some tens of kilobytes."""
LARGEST_UPLOAD = 30_000_000
"""Bytes of an upload: photos of a phone have 3 to 12 MB."""


LARGEST_FIRM_FORM = 100_000_000
"""Bytes of the firm's form: a logo that is too large is told beside its field, with what else was typed kept."""


class Guard:
    """Checks host, origin and size before a request is looked at, and sets the headers of every answer.

    Parameters
    ----------
    app : ASGIApp
        What is guarded.
    hosts : iterable of str
        Names under which the office may be called, without port.
    """

    def __init__(self, app: ASGIApp, *, hosts: Iterable[str]) -> None:
        self._app = app
        self._hosts = frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let one request pass, or refuse it with a sentence."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        started = False
        bodyless = scope["method"] == "HEAD"
        if bodyless:
            # Whatever answers GET answers HEAD with the same head and nothing after it.
            scope = {**scope, "method": "GET"}

        async def sending(message: Message) -> None:
            nonlocal started
            if bodyless and message["type"] == "http.response.body":
                if not message.get("more_body", False):
                    await send({"type": "http.response.body", "body": b""})
                return
            if message["type"] == "http.response.start":
                started = True
                found = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    found.setdefault(name, value)
                # Pages hold facts of clients: no copy stays behind but of what is the same for everyone.
                found.setdefault("cache-control", "no-store")
            await send(message)

        refused = self._refused(scope["method"], headers, scope["path"])
        if refused is not None:
            status, sentence = refused
            await refusal(scope, status, sentence)(scope, receive, sending)
            return
        left = largest(headers, scope["path"])

        async def receiving() -> Message:
            nonlocal left
            message = await receive()
            if message["type"] == "http.request":
                left -= len(message.get("body", b""))
                if left < 0:
                    raise HTTPException(413)
            return message

        try:
            await self._app(scope, receiving, sending)
        except ClientDisconnect:
            return  # nobody is left to be told
        except Exception as error:
            # The last border: what nobody foresaw goes to the log, and to the reader as a sentence without its inside.
            log.error("%s %s: %s", scope["method"], pattern_of(scope), where_from(error))
            # An answer that has begun is left without its end, which the reader's side notices.
            if not started:
                await refusal(scope, 500, "web.error.500")(scope, receive, sending)

    def _refused(self, method: str, headers: Headers, path: str) -> tuple[int, str] | None:
        host = headers.get("host", "")
        if host_name(host) not in self._hosts:
            return 421, "web.error.host"
        if method not in SAFE and not same_origin(headers, host):
            return 403, "web.error.origin"
        announced = headers.get("content-length", "0")
        if announced.isascii() and announced.isdigit() and int(announced) > largest(headers, path):
            return 413, "web.error.413"
        return None


def pattern_of(scope: Scope) -> str:
    """The address as the program writes it: what somebody put into it may name people."""
    return str(getattr(scope.get("route"), "path", "an address"))


def where_from(error: BaseException) -> str:
    """The kind of an error and the lines that led to it; its message may hold what somebody typed."""
    lines = [f"{frame.filename}:{frame.lineno}" for frame in traceback.extract_tb(error.__traceback__)]
    return " < ".join([type(error).__name__, *reversed(lines)])


def host_name(host: str) -> str:
    """The name in a Host header, without its port; a name in brackets keeps them."""
    if host.startswith("["):
        inside, _, rest = host.partition("]")
        return f"{inside}]".lower() if not rest or rest.startswith(":") else host
    return host.partition(":")[0].lower()


def same_origin(headers: Headers, host: str) -> bool:
    """Whether a page of ours sent this; a request that does not say counts as from elsewhere."""
    origin = headers.get("origin")
    if origin is None:
        return headers.get("sec-fetch-site") == "same-origin"
    named = urlsplit(origin)
    return named.scheme in ("http", "https") and named.netloc.lower() == host.lower()


def largest(headers: Headers, path: str) -> int:
    """Bytes that a request may have, by what it brings and where to."""
    multipart = headers.get("content-type", "").startswith("multipart/form-data")
    if multipart and path == "/firm":
        return LARGEST_FIRM_FORM
    return LARGEST_UPLOAD if multipart else LARGEST_FORM
