"""What the firm's own finished jobs took, as it goes into a plan: part of its inputs, and recorded in it."""

from __future__ import annotations

import hashlib
from datetime import date

from pydantic import Field

from slackwater.frozen import Frozen

MOST_JOBS = 30
"""So many of the last finished jobs count: a crew changes in the long run, and a plan records all of it; common practice,
no source."""


class DoneWork(Frozen):
    """An activity on a finished job.

    Attributes
    ----------
    activity : str
        Catalog id, E1 and on.
    planned_min : float
        Minutes by the catalog of that plan for that job's quantity and crew; never those learned before.
    actual_min : float
        As the log says.
    quantity : float or None
        What the minutes were reckoned from; None for work that is done once a job.
    catalog_min : float or None
        Typical minutes by the catalog of that plan for that quantity and the crew that its row is written for. Where the
        row reads otherwise today, `planned_min` is scaled to it. None: an older plan, which does not tell.
    on : date
        Day of the job.
    job : str
        Its id in the book.
    """

    activity: str
    planned_min: float = Field(gt=0)
    actual_min: float = Field(gt=0)
    quantity: float | None = None
    catalog_min: float | None = Field(default=None, gt=0)
    on: date
    job: str


class UsedGoods(Frozen):
    """Goods of one sort on a finished job.

    Attributes
    ----------
    sort : str
        A kind of goods (soil, stone, plant, salt, box), or the item itself where it is used up.
    planned, used : float
        What the plan said is needed, spare not counted, and what was used. Of several items of a sort in different units
        both are sums of shares of what was planned.
    unit : str
        Of both; empty where they are shares.
    on : date
    job : str
    """

    sort: str
    planned: float = Field(gt=0)
    used: float = Field(gt=0)
    unit: str = ""
    on: date
    job: str


class Experience(Frozen):
    """What finished jobs took, the earliest first; the same whatever order they were found in."""

    work: tuple[DoneWork, ...] = ()
    goods: tuple[UsedGoods, ...] = ()

    @property
    def jobs(self) -> int:
        """How many jobs stand behind it."""
        return len({row.job for row in self.work} | {row.job for row in self.goods})

    @property
    def mark(self) -> str:
        """SHA-256 of all of it; empty where there is nothing."""
        if not self.work and not self.goods:
            return ""
        return hashlib.sha256(self.model_dump_json().encode()).hexdigest()


def in_order(work: list[DoneWork], goods: list[UsedGoods]) -> Experience:
    """Experience in the one order in which it is kept."""
    return Experience(
        work=tuple(sorted(work, key=lambda row: (row.on, row.job, row.activity))),
        goods=tuple(sorted(goods, key=lambda row: (row.on, row.job, row.sort))),
    )
