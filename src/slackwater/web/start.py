"""The start page: what needs doing; and the same as a calendar feed."""

from __future__ import annotations

import hashlib

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from slackwater.actions.agenda import agenda, calendar_feed
from slackwater.web.here import Here
from slackwater.web.pages import UNITS_COOKIE, inside, render

router = APIRouter(include_in_schema=False)


@router.get("/")
def start(request: Request, office: Here) -> Response:
    """What needs doing."""
    return render(request, "start.html", agenda=agenda(office))


@router.get("/calendar.ics")
def calendar(request: Request, office: Here) -> Response:
    """All dates as a calendar that other programs may subscribe to; its address holds no secret, for it never leaves here."""
    text = calendar_feed(office).encode()
    mark = f'"{hashlib.sha256(text).hexdigest()[:32]}"'
    headers = {"etag": mark, "cache-control": "private, no-cache"}
    if mark in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    return Response(text, media_type="text/calendar; charset=utf-8", headers=headers)


@router.post("/units")
async def units(request: Request) -> Response:
    """Choose the units that everything is shown in; then back to the page they were chosen on."""
    form = await request.form()
    answer = RedirectResponse(inside(str(form.get("back", "/"))), 303)
    chosen = "us" if form.get("units") == "us" else "metric"
    answer.set_cookie(UNITS_COOKIE, chosen, max_age=31_536_000, httponly=True, samesite="lax")
    return answer
