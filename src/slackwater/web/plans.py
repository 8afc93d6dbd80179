"""The plan on screen: asking for it, following the work, seeing it, changing a fact, comparing two."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import RedirectResponse, Response

from slackwater.actions import planning
from slackwater.actions.layout_work import PIECES, PROPOSE, SETTLE
from slackwater.actions.office import Office
from slackwater.actions.plan_work import Wanted, wanted_of
from slackwater.actions.planning import Shown
from slackwater.actions.rest_work import REST
from slackwater.book.tasks import OPEN, State, TaskRow
from slackwater.errors import BadInput, NotFound
from slackwater.job.text import MOST_TYPED
from slackwater.paper.shown import without_money
from slackwater.web.access import PAPERS_OF_CREW
from slackwater.web.here import LARGEST_NUMBER, Here
from slackwater.web.pages import asker_of, render, render_once, units_of
from slackwater.web.survey_view import fact_view, facts_by_part

_IN_FILE = re.compile(r"^job, line \d+: ")
"""Where an error stands in a file that whoever uses a form never sees."""
router = APIRouter(include_in_schema=False)

Number = Annotated[int | None, Query(ge=1, le=LARGEST_NUMBER)]


def _wanted(office: Office, request: Request, job_id: str, version: int | None) -> Wanted:
    newest = planning.newest_version(office, job_id)
    return Wanted(job_id=job_id, version=version or newest, units=units_of(request))


@router.get("/jobs/{job_id}/plan")
def plan(request: Request, office: Here, job_id: str, version: Number = None) -> Response:
    """The plan of a version of a job, the newest by default."""
    wanted = _wanted(office, request, job_id, version)
    shown = planning.see_plan(office, wanted)
    if shown is None:
        task = planning.last_task(office, wanted)
        # What it made was thrown away since, or was set by an older version of the program.
        task = None if task is not None and task.state is State.DONE else task
        return render(request, "no_plan.html", wanted=wanted, task=task, told=_told(task))
    newest, versions = planning.newest_version(office, job_id), planning.version_numbers(office, job_id)
    shown = _for(request, shown)
    return render_once(
        request,
        "plan.html",
        (shown.made, wanted, newest, tuple(versions), shown.is_outdated),
        shown=shown,
        page=shown.page,
        phases=phases(shown.page["day"]["pages"] if shown.page["day"] else (), office.clock()),
        wanted=wanted,
        newest=newest,
        versions=versions,
        papers_of_crew=PAPERS_OF_CREW,
    )


def phases(pages: Sequence[Mapping[str, Any]], now: datetime) -> Mapping[str, list[Mapping[str, Any]]]:
    """The phases of a day by the hour: what goes on or comes next, what comes later, what is over by the plan.

    Parameters
    ----------
    pages : sequence of mapping
        In the order of the day.
    now : datetime
        Before the first phase and after the last one nothing is over: the day is read as a whole.
    """
    found: dict[str, list[Mapping[str, Any]]] = {"now": [], "later": [], "over": []}
    spans = [(datetime.fromisoformat(page["begins"]), datetime.fromisoformat(page["ends"]), page) for page in pages]
    if not spans or not min(begins for begins, _, _ in spans) <= now < max(ends for _, ends, _ in spans):
        return {**found, "later": list(pages)}
    coming = min((begins for begins, _, _ in spans if begins > now), default=None)
    for begins, ends, page in spans:
        found["over" if ends <= now else "now" if begins <= now or begins == coming else "later"].append(page)
    return found


def _for(request: Request, shown: Shown) -> Shown:
    """A plan as whoever asks may see it."""
    return shown if asker_of(request).is_owner else replace(shown, page=without_money(shown.page))


@router.post("/jobs/{job_id}/plan")
def ask(
    request: Request, office: Here, job_id: str, version: Annotated[int | None, Form(ge=1, le=LARGEST_NUMBER)] = None
) -> Response:
    """Have the plan made, and follow the work."""
    wanted = _wanted(office, request, job_id, version)
    if planning.current_plan(office, wanted) is not None:
        return RedirectResponse(_address(wanted), 303)
    return RedirectResponse(f"/tasks/{planning.ask_plan(office, wanted).id}", 303)


@router.post("/jobs/{job_id}/plan/pictures")
def pictures(
    request: Request, office: Here, job_id: str, version: Annotated[int | None, Form(ge=1, le=LARGEST_NUMBER)] = None
) -> Response:
    """Have the pictures of the offer drawn, and follow the work."""
    wanted = _wanted(office, request, job_id, version)
    _made(office, wanted)
    return RedirectResponse(f"/tasks/{planning.ask_pictures(office, wanted).id}", 303)


@router.post("/jobs/{job_id}/plan/option")
def take(
    request: Request,
    office: Here,
    job_id: str,
    version: Annotated[int | None, Form(ge=1, le=LARGEST_NUMBER)] = None,
    place: Annotated[int, Form(ge=0, le=LARGEST_NUMBER)] = 0,
) -> Response:
    """Write the option that the client chose into the job; its plan is then to be made."""
    wanted = _wanted(office, request, job_id, version)
    planning.take_option(office, wanted, place, by=asker_of(request).account_id)
    return RedirectResponse(f"/jobs/{job_id}/plan", 303)


@router.get("/jobs/{job_id}/plan/papers.zip")
def papers(request: Request, office: Here, job_id: str, version: Number = None) -> Response:
    """All papers in one file."""
    shown = _made(office, _wanted(office, request, job_id, version))
    name = f"plan-{shown.page['hash']}.zip"
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(planning.papers_zip(office, shown), media_type="application/zip", headers=headers)


@router.get("/jobs/{job_id}/plan/papers/{name}")
def paper(request: Request, office: Here, job_id: str, name: str, version: Number = None) -> Response:
    """One paper."""
    of = planning.paper if asker_of(request).is_owner else planning.paper_of_crew
    content, media_type = of(office, _made(office, _wanted(office, request, job_id, version)), name)
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=media_type, headers=headers)


@router.get("/jobs/{job_id}/plan/figures/{name}")
def figure(request: Request, office: Here, job_id: str, name: str, version: Number = None) -> Response:
    """One drawing by itself, as large as it can be read."""
    wanted = _wanted(office, request, job_id, version)
    shown = _for(request, _made(office, wanted))
    if name not in shown.page["figures"]:
        raise NotFound(f"There is no drawing called {name[:60]} in this plan")
    return render(request, "figure.html", shown=shown, wanted=wanted, item=shown.page["figures"][name])


def _made(office: Office, wanted: Wanted) -> Shown:
    shown = planning.see_plan(office, wanted)
    if shown is None:
        raise NotFound("This plan was not made yet; open its page and have it made")
    return shown


def _address(wanted: Wanted) -> str:
    """The page that shows a plan."""
    if not wanted.changes:
        return f"/jobs/{wanted.job_id}/plan?{urlencode({'version': wanted.version})}"
    change = wanted.changes[0]
    asked = urlencode({"version": wanted.version, "key": planning.dotted(change.key), "value": change.typed})
    return f"/jobs/{wanted.job_id}/change?{asked}"


def _made_at(task: TaskRow) -> str:
    """The page that shows what a task has made."""
    if task.kind == PIECES:
        return f"/jobs/{task.job_id}/layout"
    if task.kind in (SETTLE, PROPOSE):
        return f"/jobs/{task.job_id}/layout?came={task.id}#came"
    return f"/jobs/{task.job_id}/rest/{task.id}" if task.kind == REST else _address(wanted_of(task))


# ---------------------------------------------------------------- long work


def _told(task: TaskRow | None) -> str:
    return "" if task is None or not planning.unfinished(task) else f"web.work.{task.state.value}"


@router.get("/tasks/{task_id}")
def work(request: Request, office: Here, task_id: str) -> Response:
    """How far a task is; when it is done, on to what it made."""
    task = planning.follow(office, task_id)
    if task.state is State.DONE:
        return RedirectResponse(_made_at(task), 303)
    return render(
        request,
        "work.html",
        task=task,
        wanted=wanted_of(task),
        running=task.state in OPEN,
        told=_told(task),
        no_worker=planning.has_no_worker(office, task),
    )


@router.get("/tasks/{task_id}/line")
def work_line(request: Request, office: Here, task_id: str) -> Response:
    """The part of that page that changes; when the work has ended, the page is to be loaded anew."""
    task = planning.follow(office, task_id)
    no_worker = planning.has_no_worker(office, task)
    page = render(request, "work_line.html", task=task, running=task.state in OPEN, no_worker=no_worker)
    if task.state not in OPEN:
        page.headers["hx-redirect"] = _made_at(task) if task.state is State.DONE else f"/tasks/{task_id}"
    return page


@router.post("/tasks/{task_id}/cancel")
def cancel(office: Here, task_id: str) -> Response:
    """Ask a task to stop."""
    planning.stop(office, task_id)
    return RedirectResponse(f"/tasks/{task_id}", 303)


@router.post("/tasks/{task_id}/restart")
def restart(office: Here, task_id: str) -> Response:
    """Begin a task that ended without a result once more."""
    return RedirectResponse(f"/tasks/{planning.again(office, task_id).id}", 303)


# ---------------------------------------------------------------- what moves, and two side by side


@router.get("/jobs/{job_id}/change")
def change(
    request: Request,
    office: Here,
    job_id: str,
    version: Number = None,
    key: Annotated[str, Query(max_length=200)] = "",
    value: Annotated[str, Query(max_length=MOST_TYPED)] = "",
    q: Annotated[str, Query(max_length=MOST_TYPED)] = "",
) -> Response:
    """Find a fact and choose another value; with both, which figures move."""
    wanted = _wanted(office, request, job_id, version)
    known = planning.facts(office, job_id, wanted.version)
    before = planning.current_plan(office, wanted)
    comparison, fault, task, chosen = None, "", None, None
    try:
        chosen = planning.fact_of(known, key) if key else None
        if chosen is not None and value:
            changed = planning.try_change(office, wanted, chosen.path, value)
            after = planning.current_plan(office, changed)
            if before is not None and after is not None:
                comparison = planning.compare(before, after)
            else:
                task = planning.last_task(office, changed)
    except (BadInput, NotFound) as error:
        fault = _IN_FILE.sub("", str(error))
    return render(
        request,
        "change.html",
        status_code=422 if fault else 200,
        wanted=wanted,
        parts=facts_by_part(known, q),
        q=q,
        fact=None if chosen is None else fact_view(chosen, units_of(request), value),
        key=key,
        value=value,
        fault=fault,
        comparison=comparison,
        planned=before is not None,
        task=task,
    )


@router.post("/jobs/{job_id}/change")
def ask_change(
    request: Request,
    office: Here,
    job_id: str,
    key: Annotated[str, Form(max_length=200)],
    value: Annotated[str, Form(max_length=MOST_TYPED)],
    version: Annotated[int | None, Form(ge=1, le=LARGEST_NUMBER)] = None,
) -> Response:
    """Plan with one fact changed; the job itself stays as it is."""
    wanted = _wanted(office, request, job_id, version)
    asked = urlencode({"version": wanted.version, "key": key, "value": value})
    try:
        chosen = planning.fact_of(planning.facts(office, job_id, wanted.version), key)
        changed = planning.try_change(office, wanted, chosen.path, value)
    except (BadInput, NotFound):
        return RedirectResponse(f"/jobs/{job_id}/change?{asked}", 303)
    if planning.current_plan(office, changed) is None:
        return RedirectResponse(f"/tasks/{planning.ask_plan(office, changed).id}", 303)
    return RedirectResponse(f"/jobs/{job_id}/change?{asked}", 303)


@router.get("/compare")
def compare(
    request: Request,
    office: Here,
    before: Annotated[str, Query(max_length=80)] = "",
    after: Annotated[str, Query(max_length=80)] = "",
) -> Response:
    """Two plans side by side, each named as job:version."""
    plans = planning.planned(office)
    sides = [_side(office, request, named) for named in (before, after) if named]
    seen = [planning.see_plan(office, wanted) for wanted in sides]
    made = [shown for shown in seen if shown is not None]
    missing = [wanted for wanted, shown in zip(sides, seen, strict=True) if shown is None]
    comparison = planning.compare(*made) if len(made) == 2 else None
    return render(
        request, "compare.html", plans=plans, before=before, after=after, missing=missing, comparison=comparison
    )


def _side(office: Office, request: Request, named: str) -> Wanted:
    job_id, _, number = named.partition(":")
    if not (number.isascii() and number.isdigit() and len(number) < 7 and int(number)):
        raise BadInput("Choose the two plans from the lists")
    return _wanted(office, request, job_id, int(number))
