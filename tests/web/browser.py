"""A real browser and a real office for tests; skipped where there is no Chromium, unless CI asks for it."""

from __future__ import annotations

import os
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
import uvicorn
from fastapi import FastAPI

CHROMIUM = next(
    (path for name in ("chromium", "chromium-browser", "google-chrome") if (path := shutil.which(name))), None
)
ARGUMENTS = [
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 800}


def need_chromium() -> str:
    """The browser's program, or a reason to skip."""
    if CHROMIUM is None:
        if os.environ.get("CI") == "true":
            pytest.fail("no Chromium on this machine, and CI asks for the tests that need it")
        pytest.skip("no Chromium on this machine")
    return CHROMIUM


@contextmanager
def open_door(app: FastAPI) -> Iterator[str]:
    """The app behind a free port of this machine, in a thread; its address."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as door:
        door.bind(("127.0.0.1", 0))
        # Neither a page left open nor a failed start may keep the tests from ending.
        config = uvicorn.Config(app, log_level="warning", access_log=False, ws="none", timeout_graceful_shutdown=3)
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True)
        thread.start()
        for _ in range(600):
            if server.started:
                break
            time.sleep(0.05)
        assert server.started
        try:
            yield f"http://127.0.0.1:{door.getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join(30)
