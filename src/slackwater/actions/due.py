"""Which planned work is due: what runs, what should have begun, what comes next, by the newest plan and the log so far."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from functools import lru_cache
from typing import Any

from slackwater.actions.office import Desk
from slackwater.actions.rest_work import REST, rest_there
from slackwater.book import plans, tasks
from slackwater.book.plans import PlanRow
from slackwater.book.tasks import State
from slackwater.job.event import Event, EventKind

MOST_DUE, MOST_NEXT = 4, 2
"""So much work is offered of what should have begun, and of what comes next: a phone shows about one at a time."""
OF_WORK = (EventKind.STARTED, EventKind.SLIPPED, EventKind.FINISHED, EventKind.DROPPED)


class Stand(StrEnum):
    """Where a piece of work stands; its word is ``records.log.due_<stand>`` of the wording."""

    RUNNING = "running"
    DUE = "due"
    NEXT = "next"


@dataclass(frozen=True)
class PlannedWork:
    """Work of the planned day; times are local times of the site, None where the plan does not tell them."""

    id: str
    name: str
    start: datetime | None = None
    end: datetime | None = None
    crew: tuple[str, ...] = ()


@dataclass(frozen=True)
class Due:
    """Work to be offered on the log.

    Attributes
    ----------
    work : PlannedWork
    stand : Stand
    since : datetime or None
        When it was begun.
    until : datetime or None
        When it should be over by what was noted last; of work that was not begun as planned.
    """

    work: PlannedWork
    stand: Stand
    since: datetime | None
    until: datetime | None


def planned_day(office: Desk, job_id: str) -> tuple[PlannedWork, ...]:
    """Work of the newest plan in its order, with the times of the rest of the day where that was planned later; else none."""
    newest = plans.newest(office.book, job_id)
    if newest is None:
        return ()
    work = _work(newest.plan_json)
    hours = _replanned(office, job_id, newest)
    if hours is None:
        return work
    times = {row["id"]: (_local(row["from"]), _local(row["until"])) for row in hours if row["id"]}
    # What the rest of the day leaves out is not due at any time.
    return tuple(
        replace(one, start=times.get(one.id, (None,))[0], end=times.get(one.id, (None, None))[1]) for one in work
    )


@lru_cache(maxsize=16)
def _work(plan_json: str) -> tuple[PlannedWork, ...]:
    """On the day the log of one job is opened again and again."""
    entries = (json.loads(plan_json).get("day") or {}).get("entries") or ()
    found = {
        entry["activity"]: PlannedWork(
            id=entry["activity"],
            name=entry["label"],
            start=_local(entry.get("start")),
            end=_local(entry.get("end")),
            crew=tuple(entry.get("crew") or ()),
        )
        for entry in entries
        if not str(entry["activity"]).startswith("break:")
    }
    return tuple(found.values())


def _replanned(office: Desk, job_id: str, planned: PlanRow) -> list[dict[str, Any]] | None:
    """Hours of the rest of the day, where it was planned after the plan; of an older program they tell no times."""
    for task in tasks.of_job(office.book, job_id):
        if task.kind != REST or task.state is not State.DONE or task.ended_at is None:
            continue
        if task.ended_at < planned.computed_at or task.arguments["version"] != planned.version_n:
            return None
        file = rest_there(office.settings, office.book, task.id)
        if file is None:
            return None
        day = json.loads(file.read_text(encoding="utf-8"))["day"]
        hours: list[dict[str, Any]] = day["hours"] if day else []
        return hours if hours and all("from" in row for row in hours) else None
    return None


def _local(told: object) -> datetime | None:
    return None if told is None else datetime.fromisoformat(str(told)).replace(tzinfo=None, second=0, microsecond=0)


def stands(work: Sequence[PlannedWork], happened: Iterable[Event]) -> dict[str, Due]:
    """Work of which something was noted and that still runs, by its id.

    Parameters
    ----------
    happened : iterable of Event
        What counts of the log, in the order of time.
    """
    known = {one.id: one for one in work}
    running: dict[str, Due] = {}
    for event in happened:
        one, at = known.get(event.subject), event.at.replace(tzinfo=None)
        if one is None or event.kind not in OF_WORK:
            continue
        was = running.get(one.id)
        if event.kind is EventKind.STARTED:
            until = at + (one.end - one.start) if one.start and one.end else None
            running[one.id] = Due(one, Stand.RUNNING, at, until)
        elif event.kind is EventKind.SLIPPED:
            left = event.body.get("remaining_min")
            until = at + timedelta(minutes=left) if isinstance(left, int | float) else None
            running[one.id] = Due(one, Stand.RUNNING, was.since if was else at, until)
        else:
            running.pop(one.id, None)
    return running


def due_now(work: Sequence[PlannedWork], happened: Sequence[Event], at: datetime) -> tuple[Due, ...]:
    """What to offer at a time: what runs, then what should have begun, then what comes next.

    Parameters
    ----------
    happened : sequence of Event
        What counts of the log, in the order of time.
    at : datetime
        Local time of the site.
    """
    running = stands(work, happened)
    begun = {event.subject for event in happened if event.kind in OF_WORK}
    timed = [(one.start, one) for one in work if one.id not in begun and one.start is not None]
    timed.sort(key=lambda item: item[0])
    late = [Due(one, Stand.DUE, None, one.end) for start, one in timed if start <= at]
    coming = [Due(one, Stand.NEXT, None, one.end) for start, one in timed if start > at]
    now = sorted(running.values(), key=lambda due: due.until or due.since or at)
    return (*now, *late[:MOST_DUE], *coming[:MOST_NEXT])
