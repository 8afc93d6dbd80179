"""Pages of erasing: what may tell of a client, and each erasure in two steps with a sentence of what goes and what stays."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response

from slackwater.actions import clientele, erasing
from slackwater.actions.erasing import Asked, Target
from slackwater.actions.office import Office
from slackwater.web.forms import Sent, Sheet, fresh, tried, typed_in
from slackwater.web.here import Here
from slackwater.web.pages import asker_of, render

router = APIRouter(include_in_schema=False)


@router.get("/clients/{client_id}/erase")
def review(request: Request, office: Here, client_id: str, done: Annotated[str, Query(max_length=20)] = "") -> Response:
    """Everything that may tell of a client."""
    return render(
        request,
        "erase_review.html",
        seen=clientele.see_client(office, client_id),
        review=erasing.review_of(office, client_id),
        done=done,
    )


@router.get("/erase/{target}/{record_id}")
def confirm(
    request: Request, office: Here, target: str, record_id: str, client: Annotated[str, Query(max_length=60)] = ""
) -> Response:
    """What goes and what stays, before anything is erased."""
    asked = erasing.asked(office, target, record_id, client_id=client)
    return render(request, "erase_confirm.html", asked=asked, back=_back(asked))


@router.post("/erase/{target}/{record_id}")
def erase(request: Request, office: Here, target: str, record_id: str, form: Sent) -> Response:
    """Erase it."""
    asked = erasing.asked(office, target, record_id, client_id=typed_in(form).get("client", ""))
    done = erasing.erase(office, asked, by=asker_of(request).account_id)
    told = "yes" if done.traces_removed else "traces"
    back = f"/clients/{asked.client_id}/erase" if asked.client_id else _back(asked)
    return RedirectResponse(f"{back}?done={told}" if asked.client_id else back, 303)


def _back(asked: Asked) -> str:
    """Where such things are listed."""
    if asked.target is Target.CLIENT:
        return f"/clients/{asked.id}/erase"
    if asked.job_id:
        return f"/jobs/{asked.job_id}/{'photos' if asked.target is Target.PHOTO else 'documents'}"
    return f"/clients/{asked.client_id}" if asked.client_id else "/clients"


@router.get("/clients/{client_id}/erase/text")
def text(request: Request, office: Here, client_id: str, place: Annotated[str, Query(max_length=200)]) -> Response:
    """A text, to be reworded."""
    found = erasing.text_at(office, client_id, place)
    becomes = erasing.without(found) if found.made else found.text
    return _text(request, office, client_id, place, fresh(office, {"becomes": becomes}))


def _text(
    request: Request, office: Office, client_id: str, place: str, sheet: Sheet, *, sure: bool = False
) -> Response:
    return render(
        request,
        "erase_text.html",
        status_code=sheet.status,
        seen=clientele.see_client(office, client_id),
        text=erasing.text_at(office, client_id, place),
        sheet=sheet,
        sure=sure,
    )


@router.post("/clients/{client_id}/erase/text")
def reword(request: Request, office: Here, client_id: str, form: Sent) -> Response:
    """First show what will stand there, then let it stand there."""
    typed = typed_in(form)
    place = typed.get("place", "")
    found = erasing.text_at(office, client_id, place)
    becomes = erasing.without(found) if found.made else typed.get("becomes", "").replace("\r\n", "\n")
    typed = {**typed, "becomes": becomes}
    if typed.get("sure") != "yes":
        sheet = tried(lambda: erasing.check_words(found, becomes), typed)
        return _text(request, office, client_id, place, sheet or Sheet(fresh(office).once, typed), sure=sheet is None)
    sheet = tried(lambda: erasing.reword(office, client_id, place, becomes, by=asker_of(request).account_id), typed)
    if sheet:
        return _text(request, office, client_id, place, sheet)
    return RedirectResponse(f"/clients/{client_id}/erase?done=yes#texts", 303)
