"""What cannot be true together before anything is solved: circles in the order, clocks shorter than what lies in them."""

from __future__ import annotations

from collections.abc import Mapping

from slackwater.day.model import Clock, DayProblem, Event
from slackwater.frozen import Frozen
from slackwater.job.catalog import ActivityRow


class Chain(Frozen):
    """The longest chain of work between two events, each at its quickest."""

    activities: tuple[str, ...]
    minutes: int


def circle_of(rows: Mapping[str, ActivityRow]) -> tuple[str, ...]:
    """Activities that wait for each other, in the order of waiting; empty where there are none."""
    done: set[str] = set()

    def walk(name: str, path: tuple[str, ...]) -> tuple[str, ...]:
        if name in path:
            return path[path.index(name) :]
        if name in done or name not in rows:
            return ()
        for before in rows[name].after:
            found = walk(before, (*path, name))
            if found:
                return found
        done.add(name)
        return ()

    return next((found for name in rows if (found := walk(name, ()))), ())


def longest_chain(problem: DayProblem, first: Event, last: Event) -> Chain | None:
    """The longest chain of order and waits from one event to another; None where none leads there.

    Work that may be left out takes no time.
    """
    activities = {activity.id: activity for activity in problem.activities}
    quickest = {
        name: 0 if activity.optional else min(mode.minutes for mode in activity.modes)
        for name, activity in activities.items()
    }
    known: dict[Event, Chain | None] = {}

    def reached(at: Event) -> Chain | None:
        if at not in known:
            known[at] = None
            steps = [_longer(chain, minutes, name) for chain, minutes, name in before(at) if chain is not None]
            if at == first:
                steps.append(Chain(activities=(), minutes=0))
            known[at] = max(steps, key=lambda chain: chain.minutes, default=None)
        return known[at]

    def before(at: Event) -> list[tuple[Chain | None, int, str]]:
        found = [(reached(lag.a), lag.minimum, "") for lag in problem.lags if lag.b == at and lag.minimum >= 0]
        if at.side == "end":
            start = Event(activity=at.activity, side="start")
            return [*found, (reached(start), quickest[at.activity], at.activity)]
        ends = (Event(activity=name, side="end") for name in activities[at.activity].after)
        return [*found, *((reached(end), 0, "") for end in ends)]

    return reached(last)


def _longer(chain: Chain, minutes: int, name: str) -> Chain:
    return Chain(activities=(*chain.activities, name) if name else chain.activities, minutes=chain.minutes + minutes)


def most_min(problem: DayProblem, clock: Clock) -> int:
    """What a clock bears at most, all its restarts taken where that helps [min]."""
    restarts = {a.id: max(m.minutes for m in a.modes) for a in problem.activities if a.id in clock.restarts}
    return max(
        (taken + 1) * clock.piece_limit_min(taken) + sum(restarts.get(name, 0) for name in clock.restarts[:taken])
        for taken in range(len(clock.restarts) + 1)
    )


def clocks_too_short(problem: DayProblem) -> Mapping[str, Chain]:
    """Clocks that no order of work can keep, with the chain that is too long; those that hang on a choice left out."""
    found = {}
    for clock in problem.clocks:
        chain = longest_chain(problem, clock.starts, clock.ends)
        if clock.only_if is None and chain is not None and chain.minutes > most_min(problem, clock):
            found[clock.id] = chain
    return found
