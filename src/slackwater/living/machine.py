"""The one simulation machine: a right-hand side, a state, events, a fixed-step integrator for one member or thousands.

A state is an array with one row for each quantity and one column for each member. SciPy has no integrator for a batch of
equal problems, and bacteria at next to no substrate are stiff: a linearly implicit method of second order on whole
arrays keeps every member stable at one step.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import OutOfRange

FloatArray = NDArray[np.float64]
RightHandSide = Callable[[float, FloatArray], FloatArray]
"""Time and state in, rates out, of the same shape."""
Change = Callable[[FloatArray], FloatArray]
Relax = Callable[[float, FloatArray, float], Callable[[FloatArray], FloatArray]]
"""From time, state and a scaled step s: what solves (1 - s A) x = r for r, in place, with A the fast part of the rate's
derivative. A may be any approximation; where its columns keep a sum, the method keeps it too."""
GAMMA = 1 - 0.5**0.5
"""For which the method is L-stable."""


@dataclass(frozen=True)
class Event:
    """Something that happens at one time: the state before in, the state after out."""

    time: float
    change: Change


@dataclass(frozen=True)
class Course:
    """States at the times asked for: shape (times, quantities, members). Events at a time count as done there."""

    times: FloatArray
    states: FloatArray


def _as_it_is(_time: float, _state: FloatArray, _scaled: float) -> Callable[[FloatArray], FloatArray]:
    return lambda right: right


def ros2_step(rate: RightHandSide, relax: Relax, time: float, state: FloatArray, step: float) -> FloatArray:
    """One step of the Rosenbrock method ROS2, second order for any fast part; without one it is Heun's.

    References
    ----------
    Verwer, Spee, Blom and Hundsdorfer (1999), SIAM J. Sci. Comput. 20:1456-1480.
    """
    solve = relax(time, state, GAMMA * step)
    first = solve(rate(time, state))
    second = solve(rate(time + step, state + step * first) - 2 * first)
    first *= 1.5 * step
    second *= 0.5 * step
    first += second
    first += state
    return first


def simulate(
    rate: RightHandSide,
    start: FloatArray,
    *,
    times: Sequence[float] | FloatArray,
    longest_step: float,
    events: Sequence[Event] = (),
    relax: Relax = _as_it_is,
) -> Course:
    """Integrate from the first time to the last, stopping at each time asked for and at each event.

    Parameters
    ----------
    rate : callable
        Called with arrays shaped like `start`; must return a new array.
    start : (quantities, members) array
    times : sequence of float
        Rising; the first is the start.
    longest_step : float
        In the unit of the times, more than 0.
    events : sequence of Event
        In any order; those at one time happen in the order given.
    relax : callable
        The fast part, for stiff rates; see ``Relax``.

    Returns
    -------
    Course

    Raises
    ------
    OutOfRange
        If times do not rise, or the step is not positive.
    """
    stops = np.asarray(times, dtype=float)
    if not longest_step > 0:
        raise OutOfRange(f"longest_step is {longest_step:g}, expected more than 0")
    if stops.size == 0 or np.any(np.diff(stops) <= 0):
        raise OutOfRange("times must rise, and there must be one at least")
    due = sorted((event for event in events if stops[0] <= event.time <= stops[-1]), key=lambda event: event.time)
    state = np.array(start, dtype=float)
    states = np.empty((stops.size, *state.shape))
    now, waiting = float(stops[0]), list(due)
    for place, stop in enumerate(stops):
        while True:
            # Up to the next event or the time asked for, in equal steps no longer than allowed.
            target = min(float(stop), waiting[0].time) if waiting else float(stop)
            if target > now:
                pieces = max(1, int(np.ceil((target - now) / longest_step - 1e-9)))
                step = (target - now) / pieces
                for piece in range(pieces):
                    state = ros2_step(rate, relax, now + piece * step, state, step)
                now = target
            if waiting and waiting[0].time <= now:
                state = waiting.pop(0).change(state)
                continue
            if now >= stop:
                break
        states[place] = state
    return Course(times=stops, states=states)
