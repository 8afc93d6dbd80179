"""The office as an ASGI app, made from settings: routers, guard, one error shape."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Iterable
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from importlib.resources import files
from typing import Any

from anyio.to_thread import current_default_thread_limiter
from fastapi import FastAPI
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from slackwater import __version__
from slackwater.actions.office import open_office
from slackwater.actions.settings import Settings
from slackwater.web import (
    accounts,
    api,
    clients,
    erase,
    invoices,
    layout,
    learned,
    plans,
    records,
    start,
    survey,
    tests_prices,
    versions,
)
from slackwater.web.errors import Problem, add_error_pages
from slackwater.web.gate import Gate
from slackwater.web.pages import STATIC, Kept
from slackwater.web.security import LOOPBACK, Guard

AT_ONCE = 2
"""Pages worked on at a time. Python computes one at a time whatever they are: with the forty of the library all are late
together (95 of 100 pages within 538 ms in place of 227, fifty people, a hundred jobs)."""
PAGES_KEPT = 64
"""Plans whose pages stay written out; one has about 0.6 MB."""
Clock = Callable[[], datetime]
PROBLEMS: dict[int | str, dict[str, Any]] = {
    code: {"model": Problem, "description": what}
    for code, what in (
        (400, "Cannot be read."),
        (401, "Nobody is signed in."),
        (403, "Sent from a page of another site, or not for those who are signed in so."),
        (404, "There is no such thing."),
        (409, "Somebody else was first."),
        (413, "Too large."),
        (422, "Cannot be used as it stands."),
    )
}


class _Static(StaticFiles):
    """Static files; their addresses change with their content, so that browsers may keep them."""

    def file_response(self, full_path: Any, stat_result: Any, scope: Scope, status_code: int = 200) -> Any:
        """Like the base, with leave to keep the file."""
        found = super().file_response(full_path, stat_result, scope, status_code)
        marked = b"v=" in scope.get("query_string", b"")
        found.headers["cache-control"] = "public, max-age=31536000, immutable" if marked else "no-cache"
        return found


def _now() -> datetime:
    return datetime.now(UTC)


def create_app(
    settings: Settings, *, clock: Clock = _now, hosts: Iterable[str] = LOOPBACK, alone: bool = True
) -> FastAPI:
    """Make the app; nothing is opened before it starts.

    Parameters
    ----------
    settings : Settings
        Data folder, database, names under which it may be called.
    clock : callable
        What tells the time, in UTC.
    hosts : iterable of str
        Names under which it may be called.
    alone : bool
        Whether an office without accounts is open to its own machine; never where others can reach it.
    """

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        current_default_thread_limiter().total_tokens = AT_ONCE
        if getattr(app.state, "office", None) is not None:
            yield  # whoever opened it closes it
            return
        with open_office(settings, clock=clock) as app.state.office:
            yield

    app = FastAPI(
        title="Slackwater",
        version=__version__,
        summary="The record book and the office of one-day aquarium rebuilds.",
        lifespan=life,
        # The usual pages of documentation load scripts from elsewhere; the description itself is enough.
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        responses=PROBLEMS,
    )
    app.state.kept = Kept(PAGES_KEPT)
    add_error_pages(app)
    app.mount("/static/fonts", _Static(directory=str(files("slackwater.paper").joinpath("fonts"))), name="fonts")
    app.mount("/static", _Static(directory=STATIC), name="static")
    for room in (
        start,
        survey,
        clients,
        erase,
        records,
        tests_prices,
        learned,
        invoices,
        versions,
        layout,
        plans,
        accounts,
        api,
    ):
        app.include_router(room.router)
    app.state.alone = alone
    app.include_router(layout.api)
    app.add_middleware(Gate, alone=alone)
    # The guard stands outermost: what it refuses, the gate does not see.
    app.add_middleware(Guard, hosts=hosts)
    return app
