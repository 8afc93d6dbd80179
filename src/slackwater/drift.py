"""Whether a value goes up or down over a number of jobs: a rank test for a trend, and how steep it is."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from itertools import combinations
from statistics import median

from slackwater.frozen import Frozen

LEAST_JOBS = 5
"""With four jobs not even a steady rise is rarer by chance than 5 in 100: 2 of 4! = 24 orders are steady."""
LIKELY_CHANCE = 0.05
"""A trend that chance alone would bring as often as this is not called one; the usual level, common practice."""
EXACT_UP_TO = 40
"""So many values without ties are counted out; beyond it the normal distribution stands in."""


class Trend(Frozen):
    """What the order of some values says.

    Attributes
    ----------
    jobs : int
    s : int
        Pairs that rise less pairs that fall.
    chance : float or None
        How often values in random order would give as large an `s` in either direction; None with too few jobs to tell.
    slope : float or None
        Median rise from one job to the next; None with too few.
    """

    jobs: int
    s: int
    chance: float | None = None
    slope: float | None = None

    @property
    def moves(self) -> bool:
        """Whether it is a trend."""
        return self.chance is not None and self.chance < LIKELY_CHANCE


def trend_of(values: Sequence[float]) -> Trend:
    """The Mann-Kendall test of values in their order, and Sen's slope.

    Parameters
    ----------
    values : sequence of float
        The earliest first.

    References
    ----------
    Mann (1945), Econometrica 13(3), 245-259. Kendall (1975), Rank Correlation Methods, 4th edition. Sen (1968), Journal of
    the American Statistical Association 63, 1379-1389. Variance with ties and continuity: Gilbert (1987), Statistical
    Methods for Environmental Pollution Monitoring, section 16.4.
    """
    count, s = len(values), kendall_s(values)
    if count < LEAST_JOBS:
        return Trend(jobs=count, s=s)
    ties = [number for number in Counter(values).values() if number > 1]
    chance = _chance_normal(s, count, ties) if ties or count > EXACT_UP_TO else _chance_exact(s, count)
    slopes = [(values[b] - values[a]) / (b - a) for a, b in combinations(range(count), 2)]
    return Trend(jobs=count, s=s, chance=chance, slope=median(slopes))


def kendall_s(values: Sequence[float]) -> int:
    """Pairs of which the later is larger, less pairs of which it is smaller."""
    return sum((later > earlier) - (later < earlier) for earlier, later in combinations(values, 2))


def z_of(s: int, count: int, ties: Sequence[int]) -> float:
    """`s` over its standard deviation in random order, one nearer to zero; `ties` are the sizes of groups of equals."""
    variance = count * (count - 1) * (2 * count + 5) - sum(tie * (tie - 1) * (2 * tie + 5) for tie in ties)
    return 0.0 if s == 0 or variance == 0 else (s - math.copysign(1, s)) / math.sqrt(variance / 18)


def _chance_normal(s: int, count: int, ties: Sequence[int]) -> float:
    return math.erfc(abs(z_of(s, count, ties)) / math.sqrt(2))


def _chance_exact(s: int, count: int) -> float:
    """By the number of orders with so many pairs the wrong way round, counted by putting in one value after the other."""
    orders = [1]
    for size in range(2, count + 1):
        longer = [0] * (len(orders) + size - 1)
        for wrong, number in enumerate(orders):
            for more in range(size):
                longer[wrong + more] += number
        orders = longer
    pairs = count * (count - 1) // 2
    extreme = sum(number for wrong, number in enumerate(orders) if abs(pairs - 2 * wrong) >= abs(s))
    return extreme / math.factorial(count)
