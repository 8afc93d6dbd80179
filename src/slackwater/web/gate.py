"""The gate behind the guard: finds out who asks, and lets pass what the table of `access` says."""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import urlencode

from fastapi import APIRouter, FastAPI
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import Request, cookie_parser
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Match
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from slackwater.actions import accounts
from slackwater.actions.accounts import ALONE, HERE, NOBODY, Asker
from slackwater.actions.office import Office
from slackwater.errors import SlackwaterError
from slackwater.web.access import May, may, row_of
from slackwater.web.errors import answer, refusal, status_of, wants_json

COOKIE, COOKIE_TLS = "session", "__Host-session"
"""A browser sends the second to the host that set it and to no other, and only over TLS (RFC 6265bis, section 4.1.3.2)."""


TELLS_ITSELF = ("/sign-", "/password", "/units", "/people", "/erase", "/jobs/{job_id}/links")
"""Addresses, by how they begin, that the actions note in words of their own, or that change nothing but one's own page."""


def cookie_name(scope: Scope) -> str:
    """Of the session, by how the office was called."""
    return COOKIE_TLS if scope["scheme"] == "https" else COOKIE


def address_of(scope: Scope) -> str:
    """From which machine somebody asks."""
    return scope["client"][0] if scope.get("client") else HERE[0]


class Gate:
    """Lets a request pass, or asks to sign in, or refuses it; who asks stands in `request.state.asker` then.

    Parameters
    ----------
    app : ASGIApp
        What is guarded.
    alone : bool
        Whether an office without accounts is open to its own machine.
    """

    def __init__(self, app: ASGIApp, *, alone: bool) -> None:
        self._app = app
        self._alone = alone

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let one request pass, or not."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        pattern, named = matched(scope)
        state = scope.setdefault("state", {})
        state["asker"] = NOBODY
        # What everybody may have costs no look at the book. What is not there is told to everybody in the same words.
        if pattern is None or (
            row_of(pattern, scope["method"]) is May.EVERYBODY and not pattern.startswith("/sign-in")
        ):
            await self._app(scope, receive, send)
            return
        try:
            asker = await self._asker(scope)
        except SlackwaterError as error:
            await answer(scope, status_of(error), str(error))(scope, receive, send)
            return
        state["asker"] = asker
        if may(asker, pattern, scope["method"], named):
            await self._noted(pattern, asker, scope, receive, send)
        else:
            await _refused(scope, asker)(scope, receive, send)

    async def _noted(self, pattern: str, asker: Asker, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass it on, and note in the trail what somebody with an account sent and the office took."""
        status = 500

        async def heard(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        await self._app(scope, receive, heard)
        changes = scope["method"] not in ("GET", "HEAD", "OPTIONS") and not pattern.startswith(TELLS_ITSELF)
        if changes and status < 400 and asker.account_id:
            await run_in_threadpool(accounts.note_change, scope["app"].state.office, asker, scope["path"])

    async def _asker(self, scope: Scope) -> Asker:
        office: Office | None = getattr(scope["app"].state, "office", None)
        if office is None:
            return ALONE if self._alone else NOBODY
        token = cookie_parser(Headers(scope=scope).get("cookie", "")).get(cookie_name(scope), "")
        return await run_in_threadpool(self._who, office, token, address_of(scope))

    def _who(self, office: Office, token: str, address: str) -> Asker:
        if token:
            asker = accounts.asker_of(office, token)
            if asker.role is not None:
                return asker
        return ALONE if self._alone and address in HERE and not accounts.any_account(office) else NOBODY


def matched(scope: Scope) -> tuple[str | None, dict[str, str]]:
    """The pattern of the address that is asked for, as the router itself will find it, and what stands in its places."""
    for route in routes_of(scope["app"]):
        how, found = route.matches(scope)
        if how is Match.FULL:
            return str(getattr(route, "path", "")), {
                name: str(value) for name, value in found.get("path_params", {}).items()
            }
    return None, {}


def routes_of(app: FastAPI) -> Iterator[BaseRoute]:
    """All routes of the app, those of its routers included, in the order in which it looks through them."""
    for route in app.routes:
        router: APIRouter | None = getattr(route, "original_router", None)
        yield from (route,) if router is None else router.routes


def _refused(scope: Scope, asker: Asker) -> Response:
    if asker.role is not None:
        return refusal(scope, 403, "people.error.not_yours")
    if scope["method"] in ("GET", "HEAD") and not wants_json(scope) and not Request(scope).headers.get("hx-request"):
        asked = scope["path"] + (f"?{scope['query_string'].decode('latin-1')}" if scope["query_string"] else "")
        back = f"?{urlencode({'back': asked})}" if asked != "/" else ""
        return RedirectResponse(f"/sign-in{back}", 303)
    return refusal(scope, 401, "people.error.sign_in")
