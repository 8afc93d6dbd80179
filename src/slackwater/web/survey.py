"""Jobs and their survey: the list, a new one, the parts of one, one part to fill in, its photos, its file."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Mapping
from dataclasses import dataclass, replace
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData, UploadFile

from slackwater.actions import clientele, surveying
from slackwater.errors import BadInput, NotFound
from slackwater.job.answers import Deed
from slackwater.job.form import Part, field_name, parts, path_of
from slackwater.job.positions import Path
from slackwater.job.text import value_at
from slackwater.web.access import is_business
from slackwater.web.here import Here
from slackwater.web.pages import asker_of, dom_id, render, units_of
from slackwater.web.survey_view import (
    CARDS_A_PAGE,
    clash_views,
    everything,
    fields_in,
    new_cards_left,
    part_lines,
    part_view,
    read_otherwise,
    told_otherwise,
)

router = APIRouter(include_in_schema=False)

MOST_FIELDS = 5000


async def _form(request: Request) -> AsyncIterator[FormData]:
    async with request.form(max_fields=MOST_FIELDS, max_files=1) as form:
        yield form


Sent = Annotated[FormData, Depends(_form)]


def _text(form: FormData, name: str) -> str:
    value = form.get(name, "")
    return value if isinstance(value, str) else ""


# ---------------------------------------------------------------- jobs


@router.get("/jobs")
def all_jobs(request: Request, office: Here, after: Annotated[str | None, Query(max_length=60)] = None) -> Response:
    """All jobs, the newest first."""
    found = surveying.all_jobs(office, after=after, limit=51)
    return render(request, "survey_jobs.html", jobs=found[:50], more=found[49].id if len(found) > 50 else "")


@router.get("/jobs/new")
def new(request: Request) -> Response:
    """Begin a job, or bring one in."""
    return render(request, "survey_new.html", typed="", fault="")


@router.post("/jobs/new")
def begin(request: Request, office: Here, form: Sent) -> Response:
    """A job with nothing but a name; a name that cannot be kept comes back with the reason."""
    name = _text(form, "name")
    try:
        made = surveying.begin(office, name=name)
    except BadInput as error:
        return render(request, "survey_new.html", status_code=422, typed=name, fault=str(error))
    return RedirectResponse(f"/jobs/{made.id}", 303)


@router.post("/jobs/bring-in")
def bring_in(office: Here, form: Sent) -> Response:
    """A job from a job file."""
    return RedirectResponse(f"/jobs/{surveying.bring_in(office, _file(form)).id}", 303)


def _file(form: FormData) -> bytes:
    file = form.get("file")
    if not isinstance(file, UploadFile) or not file.size:
        raise BadInput("No file was chosen; choose one, then send it")
    return file.file.read()


@router.get("/jobs/{job_id}")
def job(request: Request, office: Here, job_id: str) -> Response:
    """A job: the parts of its survey, how far they are, and what can be done with it."""
    seen = surveying.see(office, job_id)
    return render(
        request,
        "survey_job.html",
        seen=seen,
        lines=part_lines(seen, units_of(request)),
        near=surveying.neighbours(office, job_id),
        photos=surveying.photos_of(office, job_id),
        ring=clientele.whom_to_ring(office, seen.row),
        houses=[] if seen.row.site_id else surveying.houses(office),
    )


@router.post("/jobs/{job_id}/house")
def put_at(office: Here, job_id: str, form: Sent) -> Response:
    """Say in which house the job is."""
    surveying.put_at(
        office, job_id, site_id=_text(form, "site_id"), client=_text(form, "client"), site=_text(form, "site")
    )
    return RedirectResponse(f"/jobs/{job_id}", 303)


@router.post("/jobs/{job_id}/copy")
def copy(office: Here, job_id: str, form: Sent) -> Response:
    """The same tank once more, or another one in the same house."""
    make = surveying.another_tank if _text(form, "what") == "other" else surveying.copy
    return RedirectResponse(f"/jobs/{make(office, job_id, name=_text(form, 'name')).id}", 303)


@router.get("/jobs/{job_id}/job.toml")
def take_out(office: Here, job_id: str) -> Response:
    """The job file as it stands."""
    text, name = surveying.take_out(office, job_id)
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(text, media_type="application/toml; charset=utf-8", headers=headers)


# ---------------------------------------------------------------- one part


def _part(part_id: str) -> tuple[Part, Part | None]:
    """A part and the one after it."""
    for part, following in zip(parts(), (*parts()[1:], None), strict=True):
        if part.id == part_id:
            return part, following
    raise NotFound("The survey has no such part; go back to the list of parts")


def _asked_of(request: Request) -> Callable[[Path], bool]:
    """Which questions whoever asks is asked."""
    return everything if asker_of(request).is_owner else lambda path: not is_business(path)


def _pages(request: Request) -> Mapping[str, int]:
    """Which page of which long list is asked for: ``?plants=2``."""
    asked = request.query_params.items()
    return {name: int(text) for name, text in asked if text.isascii() and text.isdigit() and len(text) < 10}


@router.get("/jobs/{job_id}/survey/{part_id}")
def part(request: Request, office: Here, job_id: str, part_id: str) -> Response:
    """One part to fill in."""
    asked, following = _part(part_id)
    seen = surveying.see(office, job_id)
    saved = _pages(request).get("saved") == seen.version
    return render(
        request,
        "survey_part.html",
        seen=seen,
        part=part_view(
            asked, new_cards_left(seen) if saved else seen, units_of(request), _pages(request), _asked_of(request)
        ),
        following=following,
        saved=saved,
    )


@dataclass(frozen=True)
class _Answers:
    """A part as it was sent."""

    based_on: int
    posted: Mapping[str, str]
    deed: tuple[Deed, Path] | None
    taken: str
    then: str


_OURS = frozenset({"based_on", "do", "then", "take"})


def _answers(form: FormData) -> _Answers:
    based_on = _text(form, "based_on")
    if not (based_on.isascii() and based_on.isdigit() and len(based_on) < 10):
        raise BadInput("The page did not say which version it showed; load it again")
    posted: dict[str, list[str]] = {}
    for name, value in form.multi_items():
        if name not in _OURS and isinstance(value, str):
            posted.setdefault(name, []).append(value)
    what, _, where = _text(form, "do").partition(":")
    deed = None
    if where:
        if what not in set(Deed):
            raise BadInput("There is no such button; load the page again")
        deed = (Deed(what), path_of(where))
    taken, _, meaning = _text(form, "take").partition("=")
    if taken:
        posted[taken] = [meaning]
    return _Answers(
        based_on=int(based_on),
        posted={name: "\n".join(values) for name, values in posted.items()},
        deed=deed,
        taken=taken,
        then=_text(form, "then"),
    )


@router.post("/jobs/{job_id}/survey/{part_id}")
def save(request: Request, office: Here, job_id: str, part_id: str, form: Sent) -> Response:
    """Save a part; with script only what changed comes back, without it the page again."""
    asked, following = _part(part_id)
    sent = _answers(form)
    asked_of = _asked_of(request)
    # What is not shown is not taken either, whoever wrote the form.
    sent = replace(
        sent,
        posted={name: text for name, text in sent.posted.items() if asked_of(path_of(name))},
        deed=sent.deed if sent.deed is None or asked_of(sent.deed[1]) else None,
    )
    saved = surveying.save(office, job_id, based_on=sent.based_on, posted=sent.posted, deed=sent.deed)
    units, pages = units_of(request), _pages(request)
    clashes = clash_views(saved.clashes)
    then = surveying.see_version(office, job_id, sent.based_on)
    if request.headers.get("hx-request") == "true":
        before = part_view(asked, then, units, pages, asked_of)
        after = part_view(asked, saved.seen, units, pages, asked_of)
        return render(
            request,
            "survey_saved.html",
            seen=saved.seen,
            saved=saved,
            clashes=clashes,
            part=after,
            again={
                one.name: one for one in (*told_otherwise(before, after), *read_otherwise(after, sent.posted))
            }.values(),
            theirs=[field for field in fields_in(after.groups) if field.name in {clash.name for clash in clashes}],
            status_code=409 if clashes else 200,
        )
    if clashes:
        return render(
            request,
            "survey_clash.html",
            status_code=409,
            seen=saved.seen,
            part=part_view(asked, saved.seen, units, pages, asked_of),
            clashes=clashes,
        )
    return RedirectResponse(_next(request, job_id, then, sent, saved, asked, following), 303)


def _unusable(before: surveying.Seen, after: surveying.Seen, posted: Mapping[str, str]) -> str:
    """The first field that was answered just now with what cannot be used; empty where there is none."""
    faults = {fault.path for fault in after.faults}
    for name in posted:
        path = path_of(name)
        if value_at(before.plain, path) != value_at(after.plain, path) and any(
            fault[: len(path)] == path for fault in faults
        ):
            return name
    return ""


def _next(
    request: Request,
    job_id: str,
    before: surveying.Seen,
    sent: _Answers,
    saved: surveying.Saved,
    asked: Part,
    following: Part | None,
) -> str:
    """Where to go after saving: on, back to the list, or the same page at the card that something was done with.

    What was just answered and cannot be used is told before anything else: the page comes back at its field.
    """
    wrong = "" if sent.deed or not sent.then else _unusable(before, saved.seen, sent.posted)
    if wrong:
        kept = {name: str(number) for name, number in _pages(request).items() if name != "saved"}
        query = urlencode({**kept, "saved": saved.seen.version})
        return f"/jobs/{job_id}/survey/{asked.id}?{query}#field-{dom_id(wrong)}"
    if sent.then == "parts" or (sent.then == "next" and following is None):
        return f"/jobs/{job_id}"
    if sent.then == "next" and following is not None:
        return f"/jobs/{job_id}/survey/{following.id}"
    kept = {name: str(number) for name, number in _pages(request).items() if name != "saved"}
    anchor = f"#field-{dom_id(sent.taken)}" if sent.taken else ""
    if sent.deed is not None:
        deed, path = sent.deed
        if deed is Deed.ADD:
            count = len(surveying.cards_at(saved.seen, path))
            kept[field_name(path)] = str(-(-count // CARDS_A_PAGE))
            path = (*path, count - 1)
        elif isinstance(path[-1], int):
            step = {Deed.UP: -1, Deed.DOWN: 1}.get(deed, 0)
            path = (*path[:-1], max(0, path[-1] + step))
        anchor = f"#{dom_id(field_name(path))}"
    return f"/jobs/{job_id}/survey/{asked.id}?{urlencode({**kept, 'saved': saved.seen.version})}{anchor}"


# ---------------------------------------------------------------- photos


@router.post("/jobs/{job_id}/photos")
def keep_photo(office: Here, job_id: str, form: Sent) -> Response:
    """Keep a photo of a job."""
    surveying.keep_photo(
        office,
        job_id,
        _file(form),
        caption=_text(form, "caption"),
        without_place=_text(form, "without_place") == "yes",
    )
    return RedirectResponse(f"/jobs/{job_id}#photos", 303)


@router.get("/jobs/{job_id}/photos/{photo_id}/small")
def small(office: Here, job_id: str, photo_id: str) -> Response:
    """A small picture of a photo."""
    return Response(surveying.thumbnail(office, job_id, photo_id), media_type="image/jpeg")


@router.get("/jobs/{job_id}/photos/{photo_id}")
def photo(office: Here, job_id: str, photo_id: str) -> Response:
    """A photo as it came."""
    content, media_type = surveying.original(office, job_id, photo_id)
    return Response(content, media_type=media_type, headers={"content-disposition": "inline"})
