"""Open the office on this machine, for this machine."""

from __future__ import annotations

import signal
import socket
from collections.abc import Callable
from contextlib import suppress

import uvicorn

from slackwater.actions.office import Office
from slackwater.errors import CannotRun
from slackwater.web.app import create_app
from slackwater.web.ready import make_ready

LOOPBACK = "127.0.0.1"
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


def serve(office: Office, *, port: int, say: Callable[[str], None]) -> None:
    """Run the office until it is interrupted or asked to end.

    Parameters
    ----------
    office : Office
        Open; it stays open afterwards.
    port : int
        [0..65535]; 0 takes a free one.
    say : callable
        Told the address once the door is open.

    Raises
    ------
    CannotRun
        If the port is taken.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as door:
        try:
            _own(door)
            door.bind((LOOPBACK, port))
            door.listen(WAITING)
        except OSError as error:
            raise CannotRun(f"Port {port} cannot be used ({error.strerror}): choose another, e.g. --port 0") from error
        app = create_app(office.settings, clock=office.clock)
        app.state.office = office
        make_ready(office)
        config = uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,
            server_header=False,
            timeout_graceful_shutdown=GOODBYE_S,
            ws="none",
        )
        address = f"http://{LOOPBACK}:{door.getsockname()[1]}/"
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        # The server ends by sending itself the signal that ended it; the office is closed by whoever opened it.
        with suppress(KeyboardInterrupt):
            _Server(config, lambda: say(address)).run(sockets=[door])
