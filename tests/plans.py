"""Plans for tests, computed once a run and shared by its processes: solving a day takes seconds."""

from __future__ import annotations

import hashlib
import os
import pickle
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TypeVar

from slackwater.day import assess
from slackwater.day.activities import Minutes
from slackwater.day.model import DayProblem, Schedule
from slackwater.day.solve import Effort
from slackwater.day.version import Version
from slackwater.job.catalog import Catalog, load_catalog
from slackwater.living.weeks import Thoroughness
from slackwater.plan import Plan, plan
from tests.jobs import job_from

T = TypeVar("T")
PLANS_OF_THIS_RUN = "SLACKWATER_PLANS_OF_THIS_RUN"
"""Names the folder in which the processes of one test run share plans; tests/conftest.py makes it and takes it away."""

QUICK = Effort(excess=0.4, finish=0.9, exposure=0.1)
HARDLY = Effort(excess=0.05, finish=0.01, exposure=0.0, tidy=0.0)
"""For what does not depend on how good the day is, but asks why it does not fit."""

UNASKED = replace(HARDLY, why=0.0)
"""For findings of other rooms; it leaves out most of the work."""

ROUGH = Thoroughness(members=60, calendars=30, step_d=1 / 4)
"""For findings that do not hang on how well the weeks after are known."""


@cache
def catalog() -> Catalog:
    return load_catalog()


@cache
def plan_of(example: str, changes: tuple[tuple[str, object], ...] = (), effort: Effort = QUICK) -> Plan:
    """The plan of an example job with single facts changed, with little effort for the day."""

    def made() -> Plan:
        return plan(job_from(example, **dict(changes)), catalog(), version="test", effort=effort, thoroughness=ROUGH)

    return once_a_run((example, changes, effort), made)


def once_a_run(what: object, make: Callable[[], T]) -> T:
    """What another process of this same run has made already, or made now; nothing outlives the run."""
    named = os.environ.get(PLANS_OF_THIS_RUN)
    if named is None:
        return make()
    folder = Path(named)
    file = folder / hashlib.sha256(repr(what).encode()).hexdigest()
    if file.is_file():
        found: T = pickle.loads(file.read_bytes())
        return found
    made = make()
    part = file.with_suffix(f".{os.getpid()}")
    part.write_bytes(pickle.dumps(made))
    part.replace(file)
    return made


class _Solved(Exception):
    """Carries the solved day out of the pipeline, before it is made into what people read."""


@cache
def day_of(example: str, effort: Effort = HARDLY) -> tuple[DayProblem, Schedule, Mapping[str, Minutes]]:
    """The day's problem of an example job, its schedule, and the three-point minutes of its activities."""
    return once_a_run(("day", example, effort), lambda: _day_solved(example, effort))


def _day_solved(example: str, effort: Effort) -> tuple[DayProblem, Schedule, Mapping[str, Minutes]]:
    held: list[tuple[DayProblem, Schedule, Mapping[str, Minutes]]] = []

    def hold(day: Version, problem: DayProblem, schedule: Schedule, *_: object) -> None:
        held.append((problem, schedule, day.minutes))
        raise _Solved

    real, assess._assessed = assess._assessed, hold  # type: ignore[assignment]
    try:
        plan(job_from(example), catalog(), version="test", effort=effort, thoroughness=ROUGH)
    except _Solved:
        pass
    finally:
        assess._assessed = real
    return held[0]
