"""A day's problem with one thing changed: work left out, added or interrupted, somebody gone, something out of order."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from slackwater.day.model import (
    Activity,
    Clock,
    DayProblem,
    Event,
    Hold,
    Interval,
    Lag,
    Mode,
    Outage,
    Person,
    Resource,
)


def remade(problem: DayProblem, **changes: object) -> DayProblem:
    """The problem with parts replaced, and looked over again.

    Raises
    ------
    pydantic.ValidationError
        If it does not hang together any more.
    """
    parts = {name: getattr(problem, name) for name in DayProblem.model_fields}
    return DayProblem(**(parts | changes))


def without(problem: DayProblem, names: Collection[str]) -> DayProblem:
    """The day without some of its work; what came after it now comes after what it waited for."""
    gone = set(names) & {activity.id for activity in problem.activities}
    if not gone:
        return problem
    after = {activity.id: activity.after for activity in problem.activities}

    def before(name: str) -> set[str]:
        return {b for other in after[name] for b in (before(other) if other in gone else {other})}

    activities = tuple(
        activity.model_copy(update={"after": tuple(sorted(before(activity.id)))})
        if gone & set(activity.after)
        else activity
        for activity in problem.activities
        if activity.id not in gone
    )
    choices = []
    closed: set[str] = set()
    for choice in problem.choices:
        options = tuple(option for option in choice.options if not gone & set(option.activities))
        closed |= {f"{choice.id}.{option.id}" for option in choice.options if option not in options}
        if options:
            choices.append(choice.model_copy(update={"options": options}))
    clocks = tuple(
        with_restarts(clock, tuple(name for name in clock.restarts if name not in gone))
        for clock in problem.clocks
        if not {clock.starts.activity, clock.ends.activity} & gone and clock.only_if not in closed
    )
    return remade(
        problem,
        activities=activities,
        choices=tuple(choices),
        clocks=clocks,
        lags=tuple(lag for lag in problem.lags if not {lag.a.activity, lag.b.activity} & gone),
        holds=tuple(hold for hold in problem.holds if not {at.activity for at in hold.events} & gone),
        fixed=tuple(item for item in problem.fixed if item.activity not in gone),
    )


def with_restarts(clock: Clock, restarts: tuple[str, ...]) -> Clock:
    """The clock with some of its restarts, or in another order; limits go by how many are taken."""
    if restarts == clock.restarts:
        return clock
    limits = clock.restarted_limits_min[: len(restarts)]
    return clock.model_copy(update={"restarts": restarts, "restarted_limits_min": limits})


def only_option(problem: DayProblem, choice_id: str, option_id: str) -> DayProblem:
    """The day with a choice made; activities that only other options ask for are left out."""
    choice = next(choice for choice in problem.choices if choice.id == choice_id)
    taken = next(option for option in choice.options if option.id == option_id)
    others = {name for option in choice.options for name in option.activities} - set(taken.activities)
    narrowed = choice.model_copy(update={"options": (taken,)})
    choices = tuple(narrowed if item.id == choice_id else item for item in problem.choices)
    clocks = tuple(
        clock
        for clock in problem.clocks
        if clock.only_if is None
        or not clock.only_if.startswith(f"{choice_id}.")
        or clock.only_if == f"{choice_id}.{option_id}"
    )
    return without(remade(problem, choices=choices, clocks=clocks), others)


def with_added(
    problem: DayProblem, name: str, modes: Sequence[Mode], *, after: str | None, begun: Collection[str] = ()
) -> DayProblem:
    """The day with one more activity; what came after `after` and has not begun waits for it too."""
    followers = {
        activity.id
        for activity in problem.activities
        if after is not None and after in activity.after and activity.id not in begun
    }
    activities = tuple(
        activity.model_copy(update={"after": (*activity.after, name)}) if activity.id in followers else activity
        for activity in problem.activities
    )
    one_more = Activity(id=name, modes=tuple(modes), after=() if after is None else (after,))
    return remade(problem, activities=(*activities, one_more))


REST = "+"
"""Stands behind the id of an activity for what is left of it after an interruption."""


def interrupted(problem: DayProblem, name: str, rest: Sequence[Mode]) -> DayProblem:
    """The day with the remainder of an activity as work of its own; what hung on its end hangs on the end of that."""
    left = name + REST

    def moved(at: Event) -> Event:
        return Event(activity=left, side="end") if at.activity == name and at.side == "end" else at

    activities = [
        activity.model_copy(update={"after": tuple(left if other == name else other for other in activity.after)})
        if name in activity.after
        else activity
        for activity in problem.activities
    ]
    activities.append(Activity(id=left, modes=tuple(rest), after=(name,)))

    def moved_lag(lag: Lag) -> Lag:
        return lag.model_copy(update={"a": moved(lag.a), "b": moved(lag.b)})

    def moved_hold(hold: Hold) -> Hold:
        ends = None if hold.ends is None else moved(hold.ends)
        return hold.model_copy(update={"starts": moved(hold.starts), "ends": ends})

    return remade(
        problem,
        activities=tuple(activities),
        clocks=tuple(
            clock.model_copy(update={"starts": moved(clock.starts), "ends": moved(clock.ends)})
            for clock in problem.clocks
        ),
        lags=tuple(moved_lag(lag) for lag in problem.lags),
        holds=tuple(moved_hold(hold) for hold in problem.holds),
    )


def scaled(modes: Sequence[Mode], share: float) -> tuple[Mode, ...]:
    """Modes for a share of the work, at least a minute each."""
    return tuple(mode.model_copy(update={"minutes": max(1, round(mode.minutes * share))}) for mode in modes)


def with_activity(problem: DayProblem, name: str, modes: Sequence[Mode]) -> DayProblem:
    """The day with other ways to do an activity."""
    return remade(
        problem,
        activities=tuple(
            activity.model_copy(update={"modes": tuple(modes)}) if activity.id == name else activity
            for activity in problem.activities
        ),
    )


def cut(windows: Sequence[Interval], away: Interval) -> tuple[Interval, ...]:
    """Spans without a span."""
    found: list[Interval] = []
    for start, end in windows:
        found += [(a, b) for a, b in ((start, min(end, away[0])), (max(start, away[1]), end)) if b > a]
    return tuple(found)


def with_people(problem: DayProblem, people: Mapping[str, Person]) -> DayProblem:
    """The day with other hours for some people."""
    return remade(problem, people=tuple(people.get(person.id, person) for person in problem.people))


def with_outage(problem: DayProblem, resource: str, users: Collection[str], spans: Sequence[Interval]) -> DayProblem:
    """The day with something that some activities use, out of order in some spans; otherwise everybody may use it."""
    everybody = max(1, len(problem.people))
    activities = tuple(
        activity.model_copy(
            update={
                "modes": tuple(
                    mode.model_copy(update={"resources": {**mode.resources, resource: 1}}) for mode in activity.modes
                )
            }
        )
        if activity.id in users
        else activity
        for activity in problem.activities
    )
    return remade(
        problem,
        activities=activities,
        resources=(*problem.resources, Resource(id=resource, capacity=everybody)),
        outages=(*problem.outages, Outage(resource=resource, spans=tuple(spans))),
    )
