"""What past jobs say about goods: how much was used against what was planned, and what that makes of the next order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal
from math import ceil

from slackwater.figure import Figure
from slackwater.job.experience import Experience, UsedGoods
from slackwater.shrinkage import LogFactor, is_absurd, known_after, starting
from slackwater.supply.money import rounded
from slackwater.supply.result import OrderLine

LEAST_JOBS = 3
"""With fewer jobs the plan's own amounts stand; common practice, no source."""
SPREAD = 0.15
"""Standard deviation of what the next job uses against its plan before any job is known, as a logarithm; common practice, no
source."""
BOX = "box"
"""Boxes and barrels: packed, not ordered."""
BY_KIND = ("soil", "stone", "plant", "salt", BOX)
"""Goods of which all of a kind are learned together: single plants and salts come too seldom."""
WHOLE = ("soil", "plant", BOX)
"""Goods of which a part cannot be had: the learned need is the nearest whole number."""
SOURCE = (
    "log-normal, shrunk to the plan's own amount, which counts as 4 jobs: Gelman et al. 2013, Bayesian Data Analysis, section "
    "3.3; spread before any job and least number of jobs: common practice, no source"
)


def sort_of(kind: str, item: str) -> str | None:
    """As what goods are learned; None for pieces of wood, of which each is its own."""
    if kind in ("consumable", "conditioner"):
        return item
    return kind if kind in BY_KIND else None


def goods_known(used: Sequence[UsedGoods]) -> LogFactor:
    """What is known of the factor of one sort of goods; order of jobs does not matter."""
    return known_after(starting(SPREAD), [math.log(row.used / row.planned) for row in used if usable(row)])


def usable(row: UsedGoods) -> bool:
    """Whether an amount is no slip of the pen."""
    return not is_absurd(row.used, row.planned)


def of_sort(experience: Experience, sort: str) -> tuple[UsedGoods, ...]:
    """Past jobs of one sort of goods that count."""
    return tuple(row for row in experience.goods if row.sort == sort and usable(row))


def goods_factor(experience: Experience, sort: str | None) -> tuple[float, int]:
    """What the need of the plan is multiplied by, and the number of jobs behind it; 1 and 0 with too few of them."""
    used = () if sort is None else of_sort(experience, sort)
    return (goods_known(used).factor, len(used)) if len(used) >= LEAST_JOBS else (1.0, 0)


def learned_line(line: OrderLine, experience: Experience) -> OrderLine:
    """An order line with what past jobs make of its need; its spare stays."""
    sort = sort_of(line.kind, line.item)
    factor, jobs = goods_factor(experience, sort)
    if not jobs:
        return line
    need = round(line.need * factor, 3)
    if sort in WHOLE:
        need = float(round(need))
    packs = max(0, ceil((need + line.spare - line.on_hand) / line.pack_size - 1e-9))
    return line.model_copy(
        update={
            "need": need,
            "plan_need": line.need,
            "packs": packs,
            "price": _price(line, packs),
            "past_jobs": jobs,
            "learned_factor": round(factor, 4),
        }
    )


def _price(line: OrderLine, packs: int) -> Decimal | None:
    """Of so many packs; lines that were put together at several prices have only their sum."""
    if line.unit_price is not None:
        return rounded(line.unit_price * packs)
    return None if line.price is None or not line.packs else rounded(line.price * packs / line.packs)


def learned_count(count: int, experience: Experience) -> int:
    """Boxes or barrels to pack: never fewer than the plan needs, for animals wait in them."""
    return max(count, round(count * goods_factor(experience, BOX)[0]))


def goods_figures(experience: Experience, sorts: Sequence[str]) -> tuple[Figure, ...]:
    """The factor of each sort that past jobs move."""
    found = []
    for sort in dict.fromkeys(sorts):
        used = of_sort(experience, sort)
        if len(used) < LEAST_JOBS:
            continue
        known = goods_known(used)
        low, high = known.next_band()
        found.append(
            Figure(
                id=f"supply.goods.{sort}",
                value=round(known.factor, 3),
                unit="",
                low=round(low, 3),
                high=round(high, 3),
                formula="used / planned of past jobs: median of the next job, shrunk to 1",
                source=SOURCE,
                inputs={"jobs_behind_it": len(used)},
            )
        )
    return tuple(found)
