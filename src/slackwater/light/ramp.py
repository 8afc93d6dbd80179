"""How the light is raised in the first weeks, so that plants and not algae use it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp

from slackwater.errors import check_range
from slackwater.light.ahead import CANOPY_K

FIRST_HOURS, FIRST_SHARE = 6.0, 0.65
"""In the first week; 60 to 70 % of the light for 6 h, common practice, no source."""
MOST_HOURS_A_WEEK, MOST_SHARE_A_WEEK = 1.0, 0.10
"""Rise from one week to the next at most; common practice, no source."""
FULL_COVER = 0.6
"""Share of the light that the leaves must take before all of it is given; from memory."""
USUAL_HOURS = 8.0
"""A day where the timer is not told; common practice, no source."""


@dataclass(frozen=True)
class Step:
    """One week of the ramp."""

    week: int
    hours: float
    share: float


def ramp(leaf_areas: Sequence[float], *, hours: float) -> tuple[Step, ...]:
    """Hours and share of the light for each week, by how much of it the leaves take.

    Parameters
    ----------
    leaf_areas : floats
        At the start of each week, from the first on.
    hours : float
        What the timer is to come to [0 to 24].

    Notes
    -----
    The way from the start to all of the light goes with the share that the leaves take, never faster than
    `MOST_HOURS_A_WEEK` and `MOST_SHARE_A_WEEK`, and never back.
    """
    check_range("hours", hours, 0, 24, unit="h")
    steps: list[Step] = []
    now_hours, now_share = min(FIRST_HOURS, hours), FIRST_SHARE
    first = 1 - exp(-CANOPY_K * leaf_areas[0]) if leaf_areas else 0.0
    for week, leaf_area in enumerate(leaf_areas, start=1):
        taken = 1 - exp(-CANOPY_K * leaf_area)
        done = min(1.0, max(0.0, (taken - first) / max(FULL_COVER - first, 1e-9)))
        if week > 1:
            want_hours = FIRST_HOURS + done * (hours - FIRST_HOURS) if hours > FIRST_HOURS else hours
            want_share = FIRST_SHARE + done * (1 - FIRST_SHARE)
            now_hours = max(now_hours, min(want_hours, now_hours + MOST_HOURS_A_WEEK, hours))
            now_share = max(now_share, min(want_share, now_share + MOST_SHARE_A_WEEK, 1.0))
        # A timer is set to a quarter of an hour and a dimmer to five per cent; rounded down, so no step is too large.
        steps.append(Step(week=week, hours=int(now_hours * 4 + 1e-9) / 4, share=int(now_share * 20 + 1e-9) / 20))
    return tuple(steps)
