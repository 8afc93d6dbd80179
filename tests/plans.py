"""Plans for tests, computed once a process: solving a day takes seconds."""

from __future__ import annotations

from functools import cache

from slackwater.day.solve import Effort
from slackwater.job.catalog import Catalog, load_catalog
from slackwater.living.weeks import Thoroughness
from slackwater.plan import Plan, plan
from tests.jobs import job_from

QUICK = Effort(excess=0.4, finish=0.9, exposure=0.1)
HARDLY = Effort(excess=0.05, finish=0.01, exposure=0.0)
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
