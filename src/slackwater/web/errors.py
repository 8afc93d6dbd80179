"""One shape for everything that goes wrong: a sentence, as a page for people and as JSON for programs; never a trace."""

from __future__ import annotations

from collections.abc import Mapping

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException
from starlette.routing import Match
from starlette.types import Scope

from slackwater.errors import BadInput, CannotRun, Conflict, NoSuchRecord, NotFound, SlackwaterError
from slackwater.frozen import Frozen
from slackwater.web.pages import render
from slackwater.wording.render import say, sentences

STATUS: tuple[tuple[type[SlackwaterError], int], ...] = (
    (NotFound, 404),
    (Conflict, 409),
    (BadInput, 422),
    (CannotRun, 503),
)


class Problem(Frozen):
    """What the API answers when it refuses.

    Attributes
    ----------
    status : int
        The HTTP status again, for logs that keep the body only.
    message : str
        One sentence for the person in front of the screen.
    """

    status: int
    message: str


def status_of(error: SlackwaterError) -> int:
    """The HTTP status of one of our errors."""
    return next((status for kind, status in STATUS if isinstance(error, kind)), 500)


def wants_json(scope: Scope) -> bool:
    """Whether a program asks: the API, or something that takes JSON and no page."""
    accept = next((value.decode("latin-1") for name, value in scope["headers"] if name == b"accept"), "")
    return scope["path"].startswith("/api/") or ("application/json" in accept and "text/html" not in accept)


def answer(scope: Scope, status: int, message: str, headers: Mapping[str, str] | None = None) -> Response:
    """The refusal, in the shape that the caller reads."""
    if wants_json(scope):
        problem = Problem(status=status, message=message)
        return JSONResponse(problem.model_dump(), status_code=status, headers=dict(headers or {}))
    page = render(Request(scope), "error.html", status_code=status, message=message, status=status)
    page.headers.update(headers or {})
    return page


def refusal(scope: Scope, status: int, sentence_id: str) -> Response:
    """A refusal whose sentence stands in the catalog."""
    return answer(scope, status, say(sentence_id, {}))


def allowed(app: FastAPI, scope: Scope) -> set[str]:
    """Methods that an address takes, over all handlers of it: the router names those of the first only."""
    found: set[str] = set()
    for route in app.routes:
        router = getattr(route, "original_router", None)
        for inner in (route,) if router is None else router.routes:
            if inner.matches(scope)[0] is not Match.NONE:
                found |= getattr(inner, "methods", None) or set()
    return found


def add_error_pages(app: FastAPI) -> None:
    """Give every error of the app its one shape."""

    @app.exception_handler(SlackwaterError)
    async def ours(request: Request, error: SlackwaterError) -> Response:
        # One sentence for what is not there and for what belongs to somebody else.
        message = say("web.error.404", {}) if isinstance(error, NoSuchRecord) else str(error)
        return answer(request.scope, status_of(error), message)

    @app.exception_handler(HTTPException)
    async def plain(request: Request, error: HTTPException) -> Response:
        known = f"web.error.{error.status_code}"
        message = say(known, {}) if known in sentences() else say("web.error.other", {})
        headers = {name.lower(): value for name, value in (error.headers or {}).items()}
        if error.status_code == 405:
            headers["allow"] = ", ".join(sorted(allowed(app, request.scope)))
        return answer(request.scope, error.status_code, message, headers)

    @app.exception_handler(RequestValidationError)
    async def invalid(request: Request, error: RequestValidationError) -> Response:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"][1:]) or str(first["loc"][0])
        return answer(request.scope, 422, say("web.error.invalid", {"where": where, "what": first["msg"]}))
