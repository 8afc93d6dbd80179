"""Open the office: for this machine, or beyond it with an owner and TLS."""

from __future__ import annotations

import errno
import signal
import socket
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path

import uvicorn

from slackwater.actions.accounts import has_owner
from slackwater.actions.office import Office
from slackwater.errors import CannotRun
from slackwater.web.app import create_app
from slackwater.web.certificate import Certificate, read_certificate
from slackwater.web.ready import make_ready
from slackwater.web.security import LOOPBACK
from slackwater.wording.render import say

GOODBYE_S = 3
"""Seconds that open pages get when the office closes."""
WAITING = 2048
"""Connections that may wait to be let in, as the server itself has it."""


class _Server(uvicorn.Server):
    """Tells when the door is open, not before."""

    def __init__(self, config: uvicorn.Config, opened: Callable[[], None]) -> None:
        super().__init__(config)
        self._opened = opened

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to listen, then tell."""
        await super().startup(sockets)
        if self.started:
            self._opened()


def _own(door: socket.socket) -> None:
    """Let an office that was killed be opened again at once, and keep a second one from the same port.

    Connections of pages that were open outlive the server by minutes, and would keep the port until then. On Windows they
    do not, and the same option would let anybody take a port that is in use; there its opposite is asked for.
    """
    exclusive = getattr(socket, "SO_EXCLUSIVEADDRUSE", None)
    door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR if exclusive is None else exclusive, 1)


@dataclass(frozen=True)
class Door:
    """Where the office listens.

    Attributes
    ----------
    host : str
        An address of this machine.
    port : int
        [0..65535]; 0 takes a free one.
    certificate : Certificate or None
        For TLS.
    """

    host: str = "127.0.0.1"
    port: int = 8765
    certificate: Certificate | None = None

    @property
    def is_for_this_machine(self) -> bool:
        """Whether nobody else can reach it."""
        return ip_address(self.host).is_loopback


def door_of(office: Office, *, host: str, port: int, certificate: Path | None, key: Path | None, called: str) -> Door:
    """Where the office is to listen, if it may.

    Parameters
    ----------
    called : str
        How the program was called, for what is to be typed next.

    Raises
    ------
    CannotRun
        If others could reach it and there is no owner or no TLS; if a certificate cannot be used.
    """
    try:
        named = ip_address("127.0.0.1" if host == "localhost" else host)
    except ValueError:
        raise CannotRun(say("people.serve.no_address", {"host": host[:100]})) from None
    if (certificate is None) != (key is None):
        raise CannotRun(say("people.serve.one_file", {}))
    if not named.is_loopback:
        if not has_owner(office):
            raise CannotRun(say("people.serve.no_owner", {"host": host, "called": called}))
        if certificate is None:
            raise CannotRun(say("people.serve.no_certificate", {"host": host}))
    read = None if certificate is None or key is None else read_certificate(certificate, key, at=office.clock())
    return Door(host=str(named), port=port, certificate=read)


def names_of(door: Door) -> frozenset[str]:
    """Names under which the office may be called: this machine's own for itself, and those of its certificate."""
    of_certificate = door.certificate.names if door.certificate else ()
    return frozenset({*LOOPBACK, *of_certificate} if door.is_for_this_machine else of_certificate)


def serve(office: Office, door_wanted: Door, *, tell: Callable[[str], None]) -> None:
    """Run the office until it is interrupted or asked to end.

    Parameters
    ----------
    office : Office
        Open; it stays open afterwards.
    door_wanted : Door
        As `door_of` allows it.
    tell : callable
        Told the address once the door is open.

    Raises
    ------
    CannotRun
        If the port is taken, or the address is none of this machine.
    """
    host, tls = door_wanted.host, door_wanted.certificate
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET, socket.SOCK_STREAM) as door:
        try:
            _own(door)
            door.bind((host, door_wanted.port))
            door.listen(WAITING)
        except OSError as error:
            if error.errno == errno.EADDRNOTAVAIL:
                raise CannotRun(say("people.serve.no_address", {"host": host})) from error
            raise CannotRun(
                f"Port {door_wanted.port} cannot be used ({error.strerror}): choose another, e.g. --port 0"
            ) from error
        app = create_app(
            office.settings, clock=office.clock, hosts=names_of(door_wanted), alone=door_wanted.is_for_this_machine
        )
        app.state.office = office
        make_ready(office)
        config = uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,
            server_header=False,
            timeout_graceful_shutdown=GOODBYE_S,
            ws="none",
            # Nobody stands between: who says in a header to come from elsewhere, or by TLS, is not believed.
            proxy_headers=False,
            ssl_certfile=None if tls is None else str(tls.file),
            ssl_keyfile=None if tls is None else str(tls.key),
        )
        named = f"[{host}]" if ":" in host else host
        if tls is not None and not door_wanted.is_for_this_machine:
            # The address of all doors is no address to call, and a certificate is good for its names only.
            named = named if named in tls.names else tls.names[0]
        address = f"{'http' if tls is None else 'https'}://{named}:{door.getsockname()[1]}/"
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        # The server ends by sending itself the signal that ended it; the office is closed by whoever opened it.
        with suppress(KeyboardInterrupt):
            _Server(config, lambda: tell(address)).run(sockets=[door])
