"""What can still be done when work needs more people than are left: named work, what waits for it, and the rest.

Pure computation on a day's problem with the facts in it; the solver does not know of it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import reduce

from slackwater.day.edits import only_option, without
from slackwater.day.model import Choice, Clock, DayProblem, Event, Interval, Mode


@dataclass(frozen=True)
class RunningOn:
    """A clock that has begun and whose end is left out.

    Attributes
    ----------
    start, latest : int
        When it began, or began again, and its limit [min from the start of access].
    """

    clock: Clock
    start: int
    latest: int


@dataclass(frozen=True)
class FewHands:
    """A day without what needs more people than are there.

    Attributes
    ----------
    problem : DayProblem
        What can be done by those who are left.
    lacking : tuple of str
        Open work for which nobody, or too few, are there at a time; in the order of work.
    waiting : tuple of str
        What comes after it.
    opening : tuple of str
        Work that could be done and is left out with what comes after it, because it starts a clock that only work left
        out could stop: bacteria, plants and animals are better off where they are.
    running : tuple of RunningOn
        Clocks that nobody stops on this day, those that end first in front.
    """

    problem: DayProblem
    lacking: tuple[str, ...]
    waiting: tuple[str, ...]
    opening: tuple[str, ...]
    running: tuple[RunningOn, ...]


def few_hands(problem: DayProblem) -> FewHands | None:
    """The day without what needs more people than are there; None where there are people enough for all of it.

    Parameters
    ----------
    problem : DayProblem
        With the facts and the people's hours in it.

    Notes
    -----
    People are enough for a piece of work where all of one of its crews are there together for as long as it takes, at
    any time from now on. Whether they are free then is for the solver.
    """
    begun = {item.activity for item in problem.fixed}
    windows = {person.id: person.windows for person in problem.people}
    short = {
        activity.id
        for activity in problem.activities
        if activity.id not in begun and not any(_can_be(mode, windows, problem.now_min) for mode in activity.modes)
    }
    optional = {activity.id for activity in problem.activities if activity.optional}
    lacking = short - optional
    if not lacking:
        return None
    gone = set(short)
    waiting, opening = set[str](), set[str]()
    while True:
        # Optional work is gone straight through, as everywhere.
        blocking = gone - (optional & short)
        after = {
            activity.id
            for activity in problem.activities
            if activity.id not in begun | gone and set(activity.after) & blocking
        }
        after |= {
            lag.b.activity for lag in problem.lags if lag.a.activity in blocking and lag.b.activity not in begun | gone
        }
        if after:
            waiting |= after
            gone |= after
            continue
        unsafe = {
            clock.starts.activity
            for clock in _endless(_narrowed(problem, gone, begun), gone)
            if clock.starts.activity not in begun
        }
        if not unsafe:
            break
        opening |= unsafe
        gone |= unsafe
    narrowed = _narrowed(problem, gone, begun)
    order = _in_order(problem)
    return FewHands(
        problem=without(narrowed, gone),
        lacking=tuple(name for name in order if name in lacking),
        waiting=tuple(name for name in order if name in waiting - optional),
        opening=tuple(name for name in order if name in opening),
        running=tuple(
            sorted(
                (_running_on(narrowed, clock) for clock in _endless(narrowed, gone)),
                key=lambda item: (item.latest, item.clock.id),
            )
        ),
    )


def _can_be(mode: Mode, windows: Mapping[str, tuple[Interval, ...]], now: int) -> bool:
    """Whether all of its crew are there together for long enough."""
    if not mode.crew:
        return True
    together = reduce(_shared, (windows[name] for name in mode.crew))
    return any(end - max(start, now) >= mode.minutes for start, end in together)


def _shared(one: tuple[Interval, ...], other: tuple[Interval, ...]) -> tuple[Interval, ...]:
    pairs = ((max(a, c), min(b, d)) for a, b in one for c, d in other)
    return tuple((start, end) for start, end in pairs if end > start)


def _endless(problem: DayProblem, gone: Collection[str]) -> list[Clock]:
    """Clocks that start and whose end is left out; of a choice, those under every option that is left."""
    options = {f"{choice.id}.{option.id}" for choice in problem.choices for option in choice.options}
    return [
        clock
        for clock in problem.clocks
        if clock.ends.activity in gone
        and clock.starts.activity not in gone
        and (clock.only_if is None or clock.only_if in options)
    ]


def _narrowed(problem: DayProblem, gone: Collection[str], begun: Collection[str]) -> DayProblem:
    """The day with each choice made so that no clock runs on, or the one that runs longest."""
    for choice in problem.choices:
        best = _best_option(problem, choice, gone, begun)
        if best is not None:
            problem = only_option(problem, choice.id, best)
    return problem


def _best_option(problem: DayProblem, choice: Choice, gone: Collection[str], begun: Collection[str]) -> str | None:
    """The option under which no clock runs on, or the longest one; None where that does not decide."""
    can_be = [option for option in choice.options if not set(option.activities) & set(gone)]
    taken = [option for option in can_be if set(option.activities) & set(begun)]
    others_begun = {name for option in choice.options for name in option.activities} & set(begun)
    if others_begun and not taken:
        return None

    def shortest(option_id: str) -> float:
        # Of those that run already: what would start one is not begun at all.
        limits = [
            clock.limit_min
            for clock in _endless(problem, gone)
            if clock.only_if == f"{choice.id}.{option_id}" and clock.starts.activity in begun
        ]
        return min(limits, default=float("inf"))

    lengths = {option.id: shortest(option.id) for option in taken or can_be}
    # The first of equals: as the catalog has them. Where all are, the choice stays open.
    return max(lengths, key=lengths.__getitem__) if len(set(lengths.values())) > 1 else None


def _running_on(problem: DayProblem, clock: Clock) -> RunningOn:
    begun = {item.activity: item for item in problem.fixed}

    def at(event: Event) -> int:
        item = begun[event.activity]
        return item.start if event.side == "start" else item.end

    taken = [name for name in clock.restarts if name in begun]
    start = begun[taken[-1]].end if taken else at(clock.starts)
    return RunningOn(clock=clock, start=start, latest=start + clock.piece_limit_min(len(taken)))


def _in_order(problem: DayProblem) -> list[str]:
    """Work in an order in which it can be done, else as the day has it."""
    left = {activity.id: set(activity.after) for activity in problem.activities}
    found: list[str] = []
    while left:
        free = next(name for name, before in left.items() if not before & set(left))
        found.append(free)
        del left[free]
    return found
