"""Open the office on this machine, for this machine."""

from __future__ import annotations

import socket
from collections.abc import Callable

import uvicorn

from slackwater.actions.settings import Settings
from slackwater.errors import CannotRun
from slackwater.web.app import create_app

LOOPBACK = "127.0.0.1"
GOODBYE_S = 3
"""Seconds that open pages get when the office closes."""


def serve(settings: Settings, *, port: int, demo: bool, say: Callable[[str], None]) -> None:
    """Run the office until it is interrupted.

    Parameters
    ----------
    settings : Settings
    port : int
        [0..65535]; 0 takes a free one.
    demo : bool
        Whether the book should hold the example jobs.
    say : callable
        Told the address once the door is open.

    Raises
    ------
    CannotRun
        If the port is taken.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as door:
        try:
            door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            door.bind((LOOPBACK, port))
        except OSError as error:
            raise CannotRun(f"Port {port} cannot be used ({error.strerror}): choose another, e.g. --port 0") from error
        config = uvicorn.Config(
            create_app(settings, demo=demo),
            log_level="warning",
            access_log=False,
            server_header=False,
            timeout_graceful_shutdown=GOODBYE_S,
        )
        say(f"http://{LOOPBACK}:{door.getsockname()[1]}/")
        uvicorn.Server(config).run(sockets=[door])
