"""A caller of the app: asks it as a browser on this machine would, over ASGI, without a network."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from typing import Any

import httpx
from fastapi import FastAPI

HOME = "http://localhost:8765"


class Caller:
    """Sends requests one at a time; forms come from a page of ours unless told otherwise.

    The app's start and end are run by the fixture that makes it.
    """

    def __init__(self, app: FastAPI) -> None:
        self.app = app

    def __call__(
        self, method: str, path: str, *, headers: Mapping[str, str] | None = None, **more: Any
    ) -> httpx.Response:
        sent = {"origin": HOME, "accept": "text/html", **(headers or {})}
        sent = {name: value for name, value in sent.items() if value}

        async def ask() -> httpx.Response:
            transport = httpx.ASGITransport(app=self.app, raise_app_exceptions=False)
            async with httpx.AsyncClient(transport=transport, base_url=HOME) as client:
                return await client.request(method, path, headers=sent, **more)

        return asyncio.run(ask())

    def get(self, path: str, **more: Any) -> httpx.Response:
        return self("GET", path, **more)

    def post(self, path: str, **more: Any) -> httpx.Response:
        return self("POST", path, **more)
