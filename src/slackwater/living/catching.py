"""When to stop catching: how many animals are left, from the counts of the passes so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import lgamma, log

from scipy.optimize import brentq
from scipy.stats import chi2

from slackwater.errors import BadInput

MOST_TIMES = 200
"""Totals beyond so many times the catch are not told apart any more."""


@dataclass(frozen=True)
class Left:
    """Animals that were there, by removal.

    Attributes
    ----------
    caught : int
    total : float
        Most likely number there before the first pass.
    low, high : float
        95 % range by likelihood; `high` is infinite where the counts do not fall.
    chance : float
        Share of those present that a pass takes.
    """

    caught: int
    total: float
    low: float
    high: float
    chance: float

    @property
    def left(self) -> float:
        """Most likely number still there."""
        return self.total - self.caught


def two_passes(first: int, second: int) -> float:
    """Total from two passes of equal effort, c1^2/(c1 - c2); infinite where the second caught as many.

    References
    ----------
    Seber and Le Cren (1967); closed form of Zippin (1958) for two passes.
    """
    if first < 0 or second < 0:
        raise BadInput("counts must be 0 or more")
    return first * first / (first - second) if first > second else float("inf")


def _log_likelihood(total: float, counts: Sequence[int]) -> float:
    """Of a total, the chance of a pass at its best; Zippin (1958), Biometrics 12:163-189."""
    caught, passes = sum(counts), len(counts)
    earlier = sum((passes - 1 - number) * count for number, count in enumerate(counts))
    # Animals present summed over the passes: passes x total - what earlier passes had taken.
    exposed = passes * total - earlier
    chance = caught / exposed
    missed = exposed - caught
    ways = lgamma(total + 1) - lgamma(total - caught + 1)
    return ways + caught * log(chance) + (missed * log(1 - chance) if missed > 0 else 0.0)


def removal(counts: Sequence[int]) -> Left:
    """Animals there before the first of some passes of equal effort.

    Parameters
    ----------
    counts : sequence of int
        Caught and kept out in each pass, two passes at least.

    Raises
    ------
    BadInput
        If there are fewer than two passes or a count is negative.

    Notes
    -----
    Maximum likelihood over whole totals; the range holds all totals whose likelihood is within the 95 % point of chi-square
    with one degree of freedom. The chance of a catch is taken as equal for all: shy animals make it a lower guess.

    References
    ----------
    Zippin (1958), Biometrics 12:163-189.
    """
    if len(counts) < 2 or any(count < 0 for count in counts):
        raise BadInput("two passes at least are needed, each with a count of 0 or more")
    caught = sum(counts)
    if caught == 0:
        return Left(caught=0, total=0.0, low=0.0, high=float("inf"), chance=0.0)
    most = caught * MOST_TIMES
    best = caught
    # The likelihood has one top: climb while it rises.
    step = max(1, caught // 2)
    while step >= 1:
        while best + step <= most and _log_likelihood(best + step, counts) > _log_likelihood(best, counts):
            best += step
        if step > 1 and best > caught:
            best = max(caught, best - step)
        step //= 2
    top = _log_likelihood(best, counts)
    drop = float(chi2.ppf(0.95, 1)) / 2

    def over(total: float) -> float:
        return _log_likelihood(total, counts) - top + drop

    low = float(caught) if over(caught) >= 0 else float(brentq(over, caught, best))
    high = float("inf") if best >= most or over(most) >= 0 else float(brentq(over, best, most))
    earlier = sum((len(counts) - 1 - number) * count for number, count in enumerate(counts))
    return Left(
        caught=caught,
        total=float("inf") if best >= most else float(best),
        low=low,
        high=high,
        chance=caught / (len(counts) * best - earlier),
    )


def minutes_to_share(estimate: Left, *, share: float, minutes_per_pass: float) -> float | None:
    """Minutes of more passes until that share of what is left is caught; None where a pass takes nothing."""
    if estimate.chance <= 0:
        return None
    if estimate.chance >= 1 or estimate.left < 0.5:
        return 0.0
    return minutes_per_pass * log(1 - share) / log(1 - estimate.chance)
