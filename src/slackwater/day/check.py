"""The independent checker: every rule of a day re-verified on a finished schedule, without any solver code."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import combinations

from slackwater.day.model import Activity, DayProblem, Event, Mode, Placed, Schedule
from slackwater.frozen import Frozen


class Broken(Frozen):
    """A rule that a schedule breaks, and where."""

    rule: str
    what: str


def _when(schedule: Schedule) -> Mapping[str, Placed]:
    return {item.activity: item for item in schedule.placed}


def _activity(problem: DayProblem) -> Mapping[str, Activity]:
    return {activity.id: activity for activity in problem.activities}


def _mode(problem: DayProblem, item: Placed) -> Mode | None:
    activity = _activity(problem).get(item.activity)
    return next((mode for mode in activity.modes if mode.id == item.mode), None) if activity else None


def _at(when: Mapping[str, Placed], event: Event) -> int:
    return when[event.activity].start if event.side == "start" else when[event.activity].end


def _present(when: Mapping[str, Placed], *events: Event) -> bool:
    return all(event.activity in when for event in events)


def everything_is_done_once(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """Each activity that is not optional is placed, none twice, none unknown."""
    names = [item.activity for item in schedule.placed]
    for name in sorted({name for name in names if names.count(name) > 1}):
        yield f"{name} is placed twice"
    for activity in problem.activities:
        if not activity.optional and activity.id not in names:
            yield f"{activity.id} is missing"
    for name in sorted(set(names) - {activity.id for activity in problem.activities}):
        yield f"{name} is not part of the day"


def modes_are_real(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """Each placed activity uses one of its modes, with that mode's minutes and people."""
    for item in schedule.placed:
        mode = _mode(problem, item)
        if mode is None:
            yield f"{item.activity} has no mode {item.mode}"
        elif item.end - item.start != mode.minutes:
            yield f"{item.activity} takes {item.end - item.start} min, its mode {mode.minutes}"
        elif item.crew != mode.crew:
            yield f"{item.activity} is done by {item.crew}, its mode names {mode.crew}"


def order_is_kept(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """What comes after starts no earlier than what comes before ends, also across optional work that is left out."""
    when = _when(schedule)
    activities = _activity(problem)

    def before(name: str) -> set[str]:
        found: set[str] = set()
        for other in activities[name].after:
            found |= {other} if other in when else before(other)
        return found

    for name in when:
        if name in activities:
            for other in before(name):
                if when[name].start < when[other].end:
                    yield f"{name} starts before {other} has ended"


def waits_are_long_enough(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """Each minimum wait between two events is kept."""
    when = _when(schedule)
    for lag in problem.lags:
        if _present(when, lag.a, lag.b) and _at(when, lag.b) - _at(when, lag.a) < lag.minimum:
            yield f"{lag.b} comes less than {lag.minimum} min after {lag.a}"


def people_are_here(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """Nobody works outside the spans in which they are on site."""
    windows = {person.id: person.windows for person in problem.people}
    for item in schedule.placed:
        for name in item.crew:
            covered = sum(
                max(0, min(end, item.end) - max(start, item.start)) for start, end in _merged(windows.get(name, ()))
            )
            if covered < item.end - item.start:
                yield f"{name} works on {item.activity} while away"


def _merged(windows: tuple[tuple[int, int], ...]) -> list[tuple[int, int]]:
    merged: list[tuple[int, int]] = []
    for start, end in sorted(windows):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return merged


def people_do_one_thing_at_a_time(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """No two activities, and no activity and break, of one person overlap."""
    for person in problem.people:
        spans = [(item.start, item.end, item.activity) for item in schedule.placed if person.id in item.crew]
        spans += [(rest.start, rest.end, "a break") for rest in schedule.breaks if rest.person == person.id]
        for (start_a, end_a, a), (start_b, end_b, b) in combinations(spans, 2):
            if start_a < end_b and start_b < end_a:
                yield f"{person.id} has {a} and {b} at the same time"


def breaks_are_taken(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """Each person's break is there, whole, and within its span."""
    for person in problem.people:
        if person.rest is None:
            continue
        taken = [rest for rest in schedule.breaks if rest.person == person.id]
        if len(taken) != 1:
            yield f"{person.id} has {len(taken)} breaks"
            continue
        rest = taken[0]
        if (
            rest.end - rest.start != person.rest.minutes
            or rest.start < person.rest.earliest
            or rest.end > person.rest.latest_end
        ):
            yield f"{person.id}'s break from {rest.start} to {rest.end} is not as agreed"


def places_and_tools_suffice(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """At no moment is more of a resource in use than there is."""
    for resource in problem.resources:
        users = []
        for item in schedule.placed:
            mode = _mode(problem, item)
            amount = mode.resources.get(resource.id, 0) if mode else 0
            if amount and item.end > item.start:
                users.append((item, amount))
        for moment in sorted({item.start for item, _ in users}):
            used = [(item.activity, amount) for item, amount in users if item.start <= moment < item.end]
            if sum(amount for _, amount in used) > resource.capacity:
                yield f"{resource.id} at {moment}: {', '.join(name for name, _ in used)}"


def silence_is_kept(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """No work with a tag goes on in the spans that forbid it."""
    for blackout in problem.blackouts:
        for item in schedule.placed:
            mode = _mode(problem, item)
            if mode and blackout.tag in mode.tags:
                for start, end in blackout.spans:
                    if item.start < end and start < item.end:
                        yield f"{item.activity} during {blackout.reason}"


def one_option_is_taken(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """Of each choice exactly one option is taken; its activities are done, those of the others are not."""
    done = {item.activity for item in schedule.placed}
    for choice in problem.choices:
        taken = schedule.options.get(choice.id)
        if taken not in {option.id for option in choice.options}:
            yield f"{choice.id}: no option taken"
            continue
        wanted = {name for option in choice.options if option.id == taken for name in option.activities}
        named = {name for option in choice.options for name in option.activities}
        for name in sorted(wanted - done):
            yield f"{choice.id} is {taken}, but {name} is not done"
        for name in sorted((named - wanted) & done):
            yield f"{choice.id} is {taken}, but {name} is done"


def clocks_are_kept(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """No clock runs over its limit, which may depend on the restarts taken, by more than the schedule declares in all."""
    when = _when(schedule)
    over: list[str] = []
    total = 0
    for clock in problem.clocks:
        if not _present(when, clock.starts, clock.ends):
            continue
        if clock.only_if is not None:
            choice, _, option = clock.only_if.partition(".")
            if schedule.options.get(choice) != option:
                continue
        taken = [name for name in clock.restarts if name in when]
        limit = clock.restarted_limits_min[len(taken) - 1] if taken and clock.restarted_limits_min else clock.limit_min
        since = _at(when, clock.starts)
        for name in taken:
            total += max(0, when[name].start - since - limit)
            if when[name].start - since > limit:
                over.append(f"{clock.id} before {name}")
            since = when[name].end
        last = _at(when, clock.ends) - since
        total += max(0, last - limit)
        if last > limit:
            over.append(f"{clock.id} before {clock.ends}")
    if total > schedule.excess_min:
        yield f"{total} min over, declared {schedule.excess_min}: {', '.join(over)}"


def restarts_lie_within_their_clock(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """A restart comes after its clock has started and before it ends, the second after the first."""
    when = _when(schedule)
    for clock in problem.clocks:
        if not _present(when, clock.starts, clock.ends):
            continue
        since = _at(when, clock.starts)
        for position, name in enumerate(clock.restarts):
            if name not in when:
                continue
            if any(earlier not in when for earlier in clock.restarts[:position]):
                yield f"{name} without the restart before it"
            if when[name].start < since or when[name].end > _at(when, clock.ends):
                yield f"{name} lies outside {clock.id}"
            since = when[name].end


def the_day_closes_in_time(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """Nothing ends after closing, and nothing starts before access."""
    for item in schedule.placed:
        if item.end > problem.closes_min:
            yield f"{item.activity} ends at {item.end}, closing is {problem.closes_min}"
        if item.start < 0:
            yield f"{item.activity} starts before access"


Rule = Callable[[DayProblem, Schedule], Iterator[str]]

RULES: tuple[Rule, ...] = (
    everything_is_done_once,
    modes_are_real,
    order_is_kept,
    waits_are_long_enough,
    people_are_here,
    people_do_one_thing_at_a_time,
    breaks_are_taken,
    places_and_tools_suffice,
    silence_is_kept,
    one_option_is_taken,
    clocks_are_kept,
    restarts_lie_within_their_clock,
    the_day_closes_in_time,
)


def broken_rules(problem: DayProblem, schedule: Schedule, *, rules: tuple[Rule, ...] = RULES) -> tuple[Broken, ...]:
    """What a schedule breaks; empty when it keeps every rule.

    Parameters
    ----------
    problem, schedule : DayProblem, Schedule
        The question and its answer.
    rules : tuple of Rule
        The rules to look at, all by default; an open-ended day leaves out the closing time.
    """
    return tuple(Broken(rule=rule.__name__, what=what) for rule in rules for what in rule(problem, schedule))
