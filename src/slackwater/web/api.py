"""The typed API for parts of pages that live in the browser, and for programs of one's own on this machine."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Annotated, Any, Literal
from uuid import UUID

from fastapi import APIRouter, Body, Query, Response
from pydantic import Field

from slackwater.actions import happening, planning
from slackwater.actions.office import Office
from slackwater.actions.plan_work import Wanted
from slackwater.book import events, jobs
from slackwater.book.tasks import State, TaskRow
from slackwater.errors import NotFound
from slackwater.frozen import Frozen
from slackwater.job.event import Event
from slackwater.paper.fact_names import as_said
from slackwater.web.here import LARGEST_NUMBER, Here
from slackwater.wording.render import say

router = APIRouter(prefix="/api", tags=["office"])

Units = Literal["metric", "us"]
JobId = UUID


class JobItem(Frozen):
    """A job of the book.

    Attributes
    ----------
    newest_version : int
        Number of its newest saved version.
    events : int
        Number of its newest event; 0 while nothing has happened.
    """

    id: UUID
    name: str
    reference: str
    day: date | None
    newest_version: int
    events: int


class JobPage(Frozen):
    """Jobs, newest first; `next` is given as `after` for those that follow, and null at the end."""

    jobs: tuple[JobItem, ...]
    next: UUID | None


class VersionItem(Frozen):
    """A saved version of a job: never changed, never left out."""

    number: int
    parent: int
    sha256: str
    saved_at: datetime


class JobText(Frozen):
    """A version of a job with its text as it stands, comments included."""

    number: int
    parent: int
    sha256: str
    saved_at: datetime
    text: str


class FindingItem(Frozen):
    """One statement of a plan, and what would make it go away."""

    text: str
    remedies: tuple[str, ...]


class FigureItem(Frozen):
    """A number of a plan with what is needed to ask it "why?"; `number` is in the metric unit of the formula."""

    id: str
    name: str
    number: float
    value: str
    band: str
    formula: str
    source: str
    inputs: tuple[tuple[str, str], ...]


class PlanSummary(Frozen):
    """What a plan says.

    Attributes
    ----------
    outcome : str
        fits, fits with conditions, does not fit, cannot say, do not take.
    verdict : str
        The same as a sentence.
    figures : mapping
        By the part of the plan: tank, layout, water, living, day, supply.
    drawings : tuple of str
        Names of its figures, each to be had as SVG.
    """

    job: UUID
    version: int
    outcome: str
    verdict: str
    deciding: tuple[FindingItem, ...]
    conditions: tuple[FindingItem, ...]
    notes: tuple[FindingItem, ...]
    figures: Mapping[str, tuple[FigureItem, ...]]
    drawings: tuple[str, ...]


class Task(Frozen):
    """Long work.

    Attributes
    ----------
    doing : str
        What it is at, in words.
    fault : str or None
        Why nothing came out.
    """

    id: UUID
    job: UUID | None
    state: State
    doing: str
    stopping: bool
    fault: str | None


class EventItem(Frozen):
    """An event with its number within the job, in the order in which the book took them."""

    n: int
    event: Event
    received_at: datetime


class EventPage(Frozen):
    """Events of a job after a number."""

    events: tuple[EventItem, ...]


class AcceptedItem(Frozen):
    """An event that is in the book.

    Attributes
    ----------
    id : UUID
    n : int
    contradicts : str
        A sentence where its time cannot be right together with another event's; it is kept all the same. Else empty.
    """

    id: UUID
    n: int
    contradicts: str = ""


class RefusedItem(Frozen):
    """An event that is not in the book, with a sentence why."""

    id: UUID
    reason: str
    message: str


class Appended(Frozen):
    """What became of a batch of events; each of them is in one of the two."""

    accepted: tuple[AcceptedItem, ...]
    refused: tuple[RefusedItem, ...]


Number = Annotated[int, Field(ge=1, le=LARGEST_NUMBER)]


def task_item(task: TaskRow) -> Task:
    """Long work as the API tells it."""
    return Task(
        id=UUID(task.id),
        job=None if task.job_id is None else UUID(task.job_id),
        state=task.state,
        doing=task.doing,
        stopping=task.cancel_asked,
        fault=task.fault,
    )


def _job(row: jobs.JobRow) -> JobItem:
    return JobItem(
        id=UUID(row.id),
        name=row.name,
        reference=row.reference,
        day=row.day,
        newest_version=row.newest_n,
        events=row.events_n,
    )


@router.get("/jobs")
def list_jobs(
    office: Here, limit: Annotated[int, Query(ge=1, le=200)] = 100, after: Annotated[UUID | None, Query()] = None
) -> JobPage:
    """Jobs of the book."""
    rows = jobs.listed(office.book, limit=limit, after=None if after is None else str(after))
    full = len(rows) == limit
    return JobPage(jobs=tuple(_job(row) for row in rows), next=UUID(rows[-1].id) if full else None)


@router.get("/jobs/{job_id}")
def get_job(office: Here, job_id: JobId) -> JobItem:
    """One job."""
    return _job(jobs.get(office.book, str(job_id)))


@router.get("/jobs/{job_id}/versions")
def list_versions(office: Here, job_id: JobId) -> list[VersionItem]:
    """All saved versions of a job, newest first."""
    jobs.get(office.book, str(job_id))
    return [
        VersionItem(number=line.n, parent=line.parent, sha256=line.sha256, saved_at=line.saved_at)
        for line in jobs.history(office.book, str(job_id))
    ]


@router.get("/jobs/{job_id}/versions/{number}")
def get_version(office: Here, job_id: JobId, number: Number) -> JobText:
    """The text of a version."""
    found = jobs.version(office.book, str(job_id), number)
    return JobText(number=found.n, parent=found.parent, sha256=found.sha256, saved_at=found.saved_at, text=found.text)


@router.get("/jobs/{job_id}/versions/{number}/plan")
def get_plan(office: Here, job_id: JobId, number: Number, units: Units = "metric") -> PlanSummary:
    """What the plan of a version says; 404 until it was made."""
    shown = _shown(office, Wanted(str(job_id), number, units))
    page = shown.page

    def findings(part: str) -> tuple[FindingItem, ...]:
        return tuple(
            FindingItem(text=as_said(item["text"]), remedies=tuple(as_said(text) for text in item["remedies"]))
            for item in page[part]
        )

    return PlanSummary(
        job=job_id,
        version=number,
        outcome=page["outcome"],
        verdict=page["verdict"],
        deciding=findings("deciding"),
        conditions=findings("conditions"),
        notes=findings("notes"),
        figures={room: tuple(_figure(why) for why in whys) for room, whys in page["whys"].items()},
        drawings=tuple(page["figures"]),
    )


def _figure(why: Mapping[str, Any]) -> FigureItem:
    return FigureItem(**{**why, "inputs": tuple((name, value) for name, value in why["inputs"])})


def _shown(office: Office, wanted: Wanted) -> planning.Shown:
    shown = planning.see_plan(office, wanted)
    if shown is None:
        raise NotFound(say("web.no_plan.api", {}))
    return shown


@router.get(
    "/jobs/{job_id}/versions/{number}/drawings/{name}",
    response_class=Response,
    responses={200: {"content": {"image/svg+xml": {}}}},
)
def get_drawing(office: Here, job_id: JobId, number: Number, name: str, units: Units = "metric") -> Response:
    """A figure of a plan as SVG."""
    shown = _shown(office, Wanted(str(job_id), number, units))
    if name not in shown.page["figures"]:
        raise NotFound(f"There is no figure called {name[:60]} in this plan")
    return Response(shown.drawing(name), media_type="image/svg+xml")


@router.post("/jobs/{job_id}/versions/{number}/plan", status_code=202)
def make_plan(office: Here, job_id: JobId, number: Number, units: Units = "metric") -> Task:
    """Have a plan made; asked twice, it is made once."""
    return task_item(planning.ask_plan(office, Wanted(str(job_id), number, units)))


@router.get("/tasks/{task_id}")
def get_task(office: Here, task_id: UUID) -> Task:
    """How far long work is."""
    return task_item(planning.follow(office, str(task_id)))


@router.post("/tasks/{task_id}/cancel")
def cancel_task(office: Here, task_id: UUID) -> Task:
    """Ask long work to stop."""
    return task_item(planning.stop(office, str(task_id)))


@router.post("/tasks/{task_id}/restart", status_code=202)
def restart_task(office: Here, task_id: UUID) -> Task:
    """Begin work that ended without a result once more, as a new task."""
    return task_item(planning.again(office, str(task_id)))


@router.get("/jobs/{job_id}/events")
def list_events(
    office: Here,
    job_id: JobId,
    after: Annotated[int, Query(ge=0, le=LARGEST_NUMBER)] = 0,
    limit: Annotated[int, Query(ge=1, le=1000)] = 1000,
) -> EventPage:
    """Events of a job after a number, in order; who asks for those after the last number seen misses none."""
    rows = events.after(office.book, str(job_id), after, limit=limit)
    return EventPage(events=tuple(EventItem(n=row.n, event=row.event, received_at=row.received_at) for row in rows))


@router.post("/jobs/{job_id}/events")
def append_events(
    office: Here,
    job_id: JobId,
    batch: Annotated[list[Event], Body(max_length=events.LARGEST_BATCH)],
) -> Appended:
    """Append events; sent again they do no harm, and one that is refused hinders no other."""
    done = events.append(office.book, str(job_id), batch)
    told = happening.contradicted(office, str(job_id))
    return Appended(
        accepted=tuple(
            AcceptedItem(id=UUID(item.id), n=item.n, contradicts=told.get(UUID(item.id), "")) for item in done.accepted
        ),
        refused=tuple(
            RefusedItem(id=UUID(item.id), reason=item.reason, message=say(f"book.refused.{item.reason}", {}))
            for item in done.refused
        ),
    )
