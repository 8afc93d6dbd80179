"""Plans for tests, computed once a process: solving a day takes seconds."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from slackwater.day import assess
from slackwater.day.activities import Minutes
from slackwater.day.model import DayProblem, Schedule
from slackwater.day.solve import Effort
from slackwater.day.version import Version
from slackwater.job.catalog import Catalog, load_catalog
from slackwater.living.weeks import Thoroughness
from slackwater.plan import Plan, plan
from tests.jobs import job_from

QUICK = Effort(excess=0.4, finish=0.9, exposure=0.1)
HARDLY = Effort(excess=0.05, finish=0.01, exposure=0.0, tidy=0.0)
"""For findings of other rooms, which do not depend on how good the day is."""

ROUGH = Thoroughness(members=60, calendars=30, step_d=1 / 4)
"""For findings that do not hang on how well the weeks after are known."""


@cache
def catalog() -> Catalog:
    return load_catalog()


@cache
def plan_of(example: str, changes: tuple[tuple[str, object], ...] = (), effort: Effort = QUICK) -> Plan:
    """The plan of an example job with single facts changed, with little effort for the day."""
    return plan(job_from(example, **dict(changes)), catalog(), version="test", effort=effort, thoroughness=ROUGH)


class _Solved(Exception):
    """Carries the solved day out of the pipeline, before it is made into what people read."""


@cache
def day_of(example: str, effort: Effort = HARDLY) -> tuple[DayProblem, Schedule, Mapping[str, Minutes]]:
    """The day's problem of an example job, its schedule, and the three-point minutes of its activities."""
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
