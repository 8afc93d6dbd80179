"""Days replayed by a policy: when everything starts and ends with other minutes, what decides the finish, what is left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from slackwater.day.policy import Policy

Floats: TypeAlias = NDArray[np.float64]
Bools: TypeAlias = NDArray[np.bool_]
SAME_MIN = 1e-6
"""Times closer than this are the same time: sums of minutes in another order differ in the last digits."""


@dataclass(frozen=True)
class Replayed:
    """Times of every activity on every day.

    Attributes
    ----------
    at : (events, days) float
        Time of each event [min], numbered as the policy does.
    activities : int
        How many of the elements are activities; breaks follow them.
    """

    at: Floats
    activities: int

    @property
    def start(self) -> Floats:
        """Start of each activity, (days, activities) [min]."""
        return self.at[0 : 2 * self.activities : 2].T

    @property
    def end(self) -> Floats:
        """End of each activity, (days, activities) [min]."""
        return self.at[1 : 2 * self.activities : 2].T

    @property
    def finish(self) -> Floats:
        """End of the last activity, (days,) [min]."""
        finish: Floats = self.at[1 : 2 * self.activities : 2].max(axis=0)
        return finish


def _by_activity(policy: Policy, minutes: Floats) -> Floats:
    days = np.atleast_2d(np.asarray(minutes, dtype=np.float64))
    if days.ndim != 2 or days.shape[1] != len(policy.activities):
        raise ValueError(f"minutes have shape {days.shape}; expected (days, {len(policy.activities)})")
    if not (days >= 0).all():
        raise ValueError("minutes below zero, or not a number")
    return days.T


def _waited(policy: Policy, waits: Floats | None, days: int) -> Floats | None:
    if waits is None:
        return None
    taken = np.atleast_2d(np.asarray(waits, dtype=np.float64))
    if taken.shape != (days, len(policy.waits)):
        raise ValueError(f"waits have shape {taken.shape}; expected ({days}, {len(policy.waits)})")
    if not (taken >= 0).all():
        raise ValueError("waits below zero, or not a number")
    return taken.T


def _lag(policy: Policy, waits: Floats | None, source: int, target: int, planned: int) -> Floats | int:
    column = policy.waiting.get((source, target))
    return planned if waits is None or column is None else waits[column]


def replay(policy: Policy, minutes: Floats, waits: Floats | None = None) -> Replayed:
    """Start and end of everything when activities and waits take these minutes.

    Parameters
    ----------
    policy : Policy
        What waits for what.
    minutes : (days, activities) float or (activities,) float
        Minutes of each activity in the order of ``policy.activities`` [min, not below 0]. Fastest when each
        activity's days lie side by side in memory.
    waits : (days, waits) float, optional
        Minutes of each wait in the order of ``policy.waits`` [min, not below 0]; without them all are as planned.

    Returns
    -------
    Replayed
        Times of all days; with the planned minutes exactly the planned times.

    Raises
    ------
    ValueError
        If minutes or waits have another shape, or are below zero.
    """
    taken = _by_activity(policy, minutes)
    waited = _waited(policy, waits, taken.shape[1])
    at = np.empty((len(policy.order), taken.shape[1]))
    for event in policy.order:
        element, side = divmod(event, 2)
        row = at[event]
        if side:
            np.add(at[event - 1], _minutes(policy, taken, element), out=row)
        else:
            row.fill(policy.not_before[element])
        for source, lag in policy.arcs[event]:
            np.maximum(row, at[source] + _lag(policy, waited, source, event, lag) if lag else at[source], out=row)
        if not side:
            for left, right in policy.shut_starts[element]:
                row[(row > left) & (row < right)] = right
    return Replayed(at=at, activities=len(policy.activities))


def _minutes(policy: Policy, taken: Floats, element: int) -> Floats | int:
    return taken[element] if element < len(policy.activities) else policy.planned_min[element]


def critical_shares(
    policy: Policy, minutes: Floats, replayed: Replayed, waits: Floats | None = None
) -> dict[str, float]:
    """Share of the days on which an activity is critical: one minute more of it would end the day later.

    Parameters
    ----------
    policy, minutes, replayed, waits : Policy, (days, activities) float, Replayed, (days, waits) float
        What was replayed, and its answer.

    Returns
    -------
    dict
        By activity [0..1]. The path ends where hours that are shut, or a planned time, hold the work back.
    """
    taken = _by_activity(policy, minutes)
    waited = _waited(policy, waits, taken.shape[1])
    at = replayed.at
    finish = replayed.finish
    decides: list[Bools | None] = [None] * len(policy.order)
    shares = dict.fromkeys(policy.activities, 0.0)
    for event in reversed(policy.order):
        element, side = divmod(event, 2)
        is_activity = element < len(policy.activities)
        here = decides[event]
        if side and is_activity:
            last = at[event] >= finish - SAME_MIN
            here = last if here is None else here | last
        if here is None or not here.any():
            continue
        just = at[event] - SAME_MIN
        if side:
            through = here & (at[event - 1] + _minutes(policy, taken, element) >= just)
            if is_activity:
                shares[policy.activities[element]] = float(np.count_nonzero(through) / through.size)
            _mark(decides, event - 1, through)
        for source, lag in policy.arcs[event]:
            _mark(decides, source, here & (at[source] + _lag(policy, waited, source, event, lag) >= just))
    return shares


def _mark(decides: list[Bools | None], event: int, days: Bools) -> None:
    known = decides[event]
    decides[event] = days if known is None else known | days


def latest_starts(policy: Policy, minutes: Floats, waits: Floats | None = None, *, closes_min: float) -> Floats:
    """Latest start of each activity, on each day, from which all that follows it still ends by closing.

    Parameters
    ----------
    policy, minutes, waits : Policy, (days, activities) float, (days, waits) float
        What would be replayed.
    closes_min : float
        When everything must have ended [min].

    Returns
    -------
    (days, activities) float
        [min]; minus infinity where what follows cannot end in time however early this starts. What stands beside an
        activity and does not follow it is taken to be on time.
    """
    taken = _by_activity(policy, minutes)
    waited = _waited(policy, waits, taken.shape[1])
    latest = np.full((len(policy.order), taken.shape[1]), float(closes_min))
    for event in range(2 * len(policy.activities), len(policy.order)):
        latest[event].fill(np.inf)
    for event in reversed(policy.order):
        element, side = divmod(event, 2)
        row = latest[event]
        allowed = row
        if not side:
            for left, right in reversed(policy.shut_starts[element]):
                row[(row > left) & (row < right)] = left
            allowed = np.where(row < policy.not_before[element] - SAME_MIN, -np.inf, row)
        else:
            np.minimum(latest[event - 1], row - _minutes(policy, taken, element), out=latest[event - 1])
        for source, lag in policy.arcs[event]:
            np.minimum(latest[source], allowed - _lag(policy, waited, source, event, lag), out=latest[source])
    return latest[0 : 2 * len(policy.activities) : 2].T
