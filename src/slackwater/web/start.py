"""The start page: what needs doing."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from slackwater.web.pages import UNITS_COOKIE, render

router = APIRouter(include_in_schema=False)


@router.get("/")
def start(request: Request) -> HTMLResponse:
    """What needs doing."""
    return render(request, "start.html")


@router.post("/units")
async def units(request: Request) -> Response:
    """Choose the units that everything is shown in; then back to the page they were chosen on."""
    form = await request.form()
    back = str(form.get("back", "/"))
    answer = RedirectResponse(back if back.startswith("/") and not back.startswith(("//", "/\\")) else "/", 303)
    chosen = "us" if form.get("units") == "us" else "metric"
    answer.set_cookie(UNITS_COOKIE, chosen, max_age=31_536_000, httponly=True, samesite="lax")
    return answer
