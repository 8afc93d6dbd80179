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

LOOPBACK = "127.0.0.1"
GOODBYE_S = 3
"""Seconds that open pages get when the office closes."""


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
            door.bind((LOOPBACK, port))
        except OSError as error:
            raise CannotRun(f"Port {port} cannot be used ({error.strerror}): choose another, e.g. --port 0") from error
        app = create_app(office.settings, clock=office.clock)
        app.state.office = office
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
