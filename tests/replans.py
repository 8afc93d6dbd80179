"""Re-plans for tests: the day of an example as it was booked, and a log as rows of expectations write it."""

from __future__ import annotations

from datetime import datetime
from functools import cache
from typing import Any
from uuid import UUID

from slackwater.day.assess import BookedDay
from slackwater.day.moves import Replanned
from slackwater.day.solve import Effort
from slackwater.job.event import Event
from slackwater.plan import day_as_booked, day_now
from tests.jobs import job_from
from tests.plans import catalog, once_a_run

BOOKED_EFFORT = Effort(excess=0.3, finish=0.4, exposure=0.05, tidy=0.0)
BOOKED: dict[str, dict[str, object]] = {
    "as_booked": {},
    "third_booked": {"people.2.on_call": False},
    "nobody_on_call": {"people": "without the helper on call"},
    "carpet_later": {"brief.carpet_later": True},
}


@cache
def _booked(example: str, changes: tuple[tuple[str, object], ...], effort: Effort) -> BookedDay:
    def made() -> BookedDay:
        found, findings = day_as_booked(job_from(example, **dict(changes)), catalog(), effort=effort)
        assert found is not None, findings
        return found

    return once_a_run(("booked", example, changes, effort), made)


def booked(example: str, how: str = "as_booked", effort: Effort = BOOKED_EFFORT, /, **changes: object) -> BookedDay:
    """The day of an example, solved once a run."""
    changes = BOOKED[how] | changes
    if changes.get("people") == "without the helper on call":
        people = job_from(example).people or ()
        last = len(people) - 1
        assert people[last].on_call
        changes = {f"people.{last}": None}
    return _booked(example, tuple(changes.items()), effort)


def event(number: int, **fields: Any) -> Event:
    """An event with an id of its own."""
    return Event.model_validate({"id": UUID(int=number + 1), "job": "", **fields})


def log_of(rows: list[dict[str, Any]], job: str) -> list[Event]:
    """Events of a row of expectations."""
    return [event(number, **{"job": job, **row}) for number, row in enumerate(rows)]


def now_on(day: BookedDay, rows: list[dict[str, Any]], now: str) -> Replanned:
    """The day planned again."""
    return day_now(day, log_of(rows, day.day.job.reference), datetime.fromisoformat(now))
