"""Pages of what is kept beside a job: photos, condition before work, goods received, documents, log."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response

from slackwater.actions import arriving, book_papers, happening, recording, resting
from slackwater.actions.office import Office
from slackwater.actions.present import Basis
from slackwater.book.tasks import TaskRow
from slackwater.job.event import Event, EventKind
from slackwater.web.forms import Sent, Sheet, files_in, fresh, tried, typed_in
from slackwater.web.here import Here
from slackwater.web.pages import render, units_of

router = APIRouter(include_in_schema=False)
LAST_ENTRIES = 40
"""Of a log that are shown at first: nobody scrolls through hundreds with wet hands."""


def now_here(office: Office) -> datetime:
    """The time of this machine, as its clock on the wall shows it."""
    return office.clock().astimezone().replace(tzinfo=None)


def at_now(office: Office) -> dict[str, str]:
    """A form whose time is filled in."""
    return {"at": f"{now_here(office):%Y-%m-%dT%H:%M}"}


# ---------------------------------------------------------------- photos


@router.get("/jobs/{job_id}/photos")
def photos(request: Request, office: Here, job_id: str) -> Response:
    """All photos of a job."""
    return _photos(request, office, job_id, fresh(office))


def _photos(request: Request, office: Office, job_id: str, sheet: Sheet) -> Response:
    return render(
        request,
        "records_photos.html",
        status_code=sheet.status,
        job=recording.job_of(office, job_id),
        photos=recording.photos_of(office, job_id),
        sheet=sheet,
    )


@router.post("/jobs/{job_id}/photos/more")
def keep_photos(request: Request, office: Here, job_id: str, form: Sent) -> Response:
    """Keep photos."""
    typed, files = typed_in(form), [content for _, content in files_in(form)]
    sheet = tried(lambda: recording.keep_photos(office, job_id, typed, files), typed)
    return _photos(request, office, job_id, sheet) if sheet else RedirectResponse(f"/jobs/{job_id}/photos", 303)


@router.post("/jobs/{job_id}/photos/{photo_id}/place")
def take_place_out(office: Here, job_id: str, photo_id: str) -> Response:
    """Take the place out of a photo."""
    recording.take_place_out(office, job_id, photo_id)
    return RedirectResponse(f"/jobs/{job_id}/photos#p-{photo_id}", 303)


# ---------------------------------------------------------------- condition before work


@router.get("/jobs/{job_id}/condition")
def condition(request: Request, office: Here, job_id: str) -> Response:
    """What was seen before the work began, to be read through and signed."""
    return _condition(request, office, job_id, fresh(office, at_now(office)))


def _condition(request: Request, office: Office, job_id: str, sheet: Sheet) -> Response:
    found = recording.condition_of(office, job_id)
    there = {photo.id for photo in recording.photos_of(office, job_id)}
    return render(
        request,
        "records_condition.html",
        status_code=sheet.status,
        job=recording.job_of(office, job_id),
        parts=[(part.value, [entry for entry in found if entry.part is part]) for part in recording.Part],
        there=there,
        sheet=sheet,
        more=fresh(office),
        any_seen=bool(found),
    )


@router.post("/jobs/{job_id}/condition")
def note_condition(request: Request, office: Here, job_id: str, form: Sent) -> Response:
    """Note what was seen."""
    typed, files = typed_in(form), [content for _, content in files_in(form)]
    sheet = tried(lambda: recording.note_condition(office, job_id, typed, files), typed)
    return _condition(request, office, job_id, sheet) if sheet else RedirectResponse(f"/jobs/{job_id}/condition", 303)


@router.get("/jobs/{job_id}/condition/record.pdf")
def condition_record(request: Request, office: Here, job_id: str) -> Response:
    """The same as a paper to sign before the work."""
    return _pdf(book_papers.condition_pdf(office, job_id, units_of(request)), "condition-record.pdf")


def _pdf(content: bytes, name: str) -> Response:
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type="application/pdf", headers=headers)


# ---------------------------------------------------------------- care report


@router.get("/jobs/{job_id}/report")
def report(request: Request, office: Here, job_id: str) -> Response:
    """Which period a care report is of."""
    return _report(request, office, job_id, fresh(office, book_papers.usual_period(office)))


def _report(request: Request, office: Office, job_id: str, sheet: Sheet) -> Response:
    return render(
        request,
        "records_report.html",
        status_code=sheet.status,
        job=recording.job_of(office, job_id),
        sheet=sheet,
        contradictions=tuple(dict.fromkeys(happening.contradicted(office, job_id).values())),
    )


@router.get("/jobs/{job_id}/report.pdf")
def report_paper(
    request: Request,
    office: Here,
    job_id: str,
    first: Annotated[str, Query(max_length=40)] = "",
    last: Annotated[str, Query(max_length=40)] = "",
) -> Response:
    """The care report of a period."""
    typed, made = {"first": first, "last": last}, list[bytes]()
    sheet = tried(lambda: made.append(book_papers.care_pdf(office, job_id, typed, units_of(request))), typed)
    return _report(request, office, job_id, sheet) if sheet else _pdf(made[0], f"care-report-{last}.pdf")


@router.post("/jobs/{job_id}/condition/{condition_id}/photos")
def add_condition_photos(request: Request, office: Here, job_id: str, condition_id: str, form: Sent) -> Response:
    """Put photos to what was seen."""
    typed, files = typed_in(form), [content for _, content in files_in(form)]
    sheet = tried(lambda: recording.add_condition_photos(office, job_id, condition_id, typed, files), typed)
    if sheet:
        return _condition(request, office, job_id, Sheet(sheet.once, {**at_now(office)}, sheet.faults))
    return RedirectResponse(f"/jobs/{job_id}/condition#c-{condition_id}", 303)


# ---------------------------------------------------------------- goods received


@router.get("/jobs/{job_id}/goods")
def goods(request: Request, office: Here, job_id: str) -> Response:
    """What was ordered, and what has come of it."""
    return _goods(request, office, job_id, fresh(office, at_now(office)))


def _goods(request: Request, office: Office, job_id: str, sheet: Sheet) -> Response:
    return render(
        request,
        "records_goods.html",
        status_code=sheet.status,
        job=recording.job_of(office, job_id),
        goods=arriving.goods(office, job_id),
        sheet=sheet,
    )


@router.post("/jobs/{job_id}/goods")
def receive(request: Request, office: Here, job_id: str, form: Sent) -> Response:
    """Note what came."""
    typed = typed_in(form)
    sheet = tried(lambda: arriving.receive(office, job_id, typed), typed)
    return _goods(request, office, job_id, sheet) if sheet else RedirectResponse(f"/jobs/{job_id}/goods", 303)


# ---------------------------------------------------------------- documents


@router.get("/jobs/{job_id}/documents")
def documents(request: Request, office: Here, job_id: str) -> Response:
    """Documents of a job."""
    return _documents(request, office, job_id, fresh(office))


def _documents(request: Request, office: Office, job_id: str, sheet: Sheet) -> Response:
    return render(
        request,
        "records_documents.html",
        status_code=sheet.status,
        job=recording.job_of(office, job_id),
        documents=recording.documents_of(office, job_id),
        sheet=sheet,
    )


@router.post("/jobs/{job_id}/documents")
def keep_document(request: Request, office: Here, job_id: str, form: Sent) -> Response:
    """Keep a document."""
    typed, files = typed_in(form), files_in(form)
    sheet = tried(lambda: recording.keep_document(office, job_id, typed, files[0] if files else None), typed)
    return _documents(request, office, job_id, sheet) if sheet else RedirectResponse(f"/jobs/{job_id}/documents", 303)


@router.get("/jobs/{job_id}/documents/{document_id}")
def document(office: Here, job_id: str, document_id: str) -> Response:
    """A document, to be saved: it is never shown within the office, whatever it is."""
    found = recording.document(office, job_id, document_id)
    plain = found.file_name.encode("ascii", "replace").decode().replace("?", "_").replace("%", "_")
    named = f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(found.file_name, safe='')}"
    headers = {"content-disposition": named, "content-security-policy": "default-src 'none'; sandbox"}
    return Response(found.content, media_type=found.media_type, headers=headers)


# ---------------------------------------------------------------- log


@router.get("/jobs/{job_id}/log")
def log(request: Request, office: Here, job_id: str, noted: str = "", entries: str = "") -> Response:
    """What is due and what happened, in the order of time: the last entries, or all of them."""
    return _log(request, office, job_id, fresh(office), noted=noted, whole=entries == "all")


def _log(
    request: Request,
    office: Office,
    job_id: str,
    sheet: Sheet,
    rest: Sheet | None = None,
    noted: str = "",
    whole: bool = False,
) -> Response:
    found = happening.log_of(office, job_id)
    # On the day an empty time means the moment of the tap, however long the page has been open.
    proposed = "" if found.present.basis is Basis.NOW else f"{found.present.at:%Y-%m-%d %H:%M}"
    again = {kind: fresh(office, {"at": proposed}) for kind in ("due", "work", "counted", "used", "noted")}
    entry = next((entry for entry in found.entries if str(entry.row.event.id) == noted), None)
    kind = happening.tapped(sheet.typed).get("kind", "")
    asked = kind if kind in ("counted", "used", "noted") else "due" if "tap" in sheet.typed else "work"
    return render(
        request,
        "records_log.html",
        status_code=(rest or sheet).status,
        job=recording.job_of(office, job_id),
        log=found,
        entries=found.entries if whole else found.entries[-LAST_ENTRIES:],
        sheet=sheet,
        sheets={**again, asked: sheet} if sheet.refused else again,
        rest=rest or fresh(office, {"rest_at": proposed}),
        rests=resting.rests_of(office, job_id),
        noted=entry,
        contradiction=happening.contradiction,
        # What was used is often counted in the evening, in the workshop.
        outside=entry is not None
        and entry.row.event.kind is not EventKind.USED
        and not found.present.in_access(entry.row.event.at.replace(tzinfo=None)),
    )


@router.post("/jobs/{job_id}/log")
def note_event(request: Request, office: Here, job_id: str, form: Sent) -> Response:
    """Append one entry, and show it with a way to take it back."""
    typed, kept = typed_in(form), list[Event]()
    sheet = tried(lambda: kept.append(happening.note_event(office, job_id, typed)), typed)
    return (
        _log(request, office, job_id, sheet)
        if sheet
        else RedirectResponse(f"/jobs/{job_id}/log?noted={kept[0].id}", 303)
    )


@router.post("/jobs/{job_id}/log/{event_id}/wrong")
def withdraw(office: Here, job_id: str, event_id: str) -> Response:
    """Say that an entry was wrong."""
    happening.withdraw(office, job_id, event_id)
    return RedirectResponse(f"/jobs/{job_id}/log", 303)


@router.get("/jobs/{job_id}/log/events.jsonl")
def log_file(office: Here, job_id: str) -> Response:
    """The log as a file for the command that plans the rest of the day."""
    headers = {"content-disposition": 'attachment; filename="events.jsonl"'}
    return Response(happening.log_file(office, job_id), media_type="application/jsonl", headers=headers)


# ---------------------------------------------------------------- the rest of the day


@router.post("/jobs/{job_id}/rest")
def ask_rest(request: Request, office: Here, job_id: str, form: Sent) -> Response:
    """Have the rest of the day planned from the log and the time, and follow the work."""
    typed, asked = typed_in(form), list[TaskRow]()
    sheet = tried(lambda: asked.append(resting.ask_rest(office, job_id, typed, units_of(request))), typed)
    if sheet:
        return _log(request, office, job_id, fresh(office), sheet)
    return RedirectResponse(f"/tasks/{asked[0].id}", 303)


@router.get("/jobs/{job_id}/rest/{task_id}")
def rest(request: Request, office: Here, job_id: str, task_id: str) -> Response:
    """The rest of a day: what to do first, its hours, every way out."""
    page, moved_on = resting.see_rest(office, job_id, task_id)
    job = recording.job_of(office, job_id)
    return render(request, "rest.html", job=job, page=page, moved_on=moved_on)
