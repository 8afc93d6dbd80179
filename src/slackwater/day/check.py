"""The independent checker: every rule of a day re-verified on a finished schedule, without any solver code."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import combinations

from slackwater.day.model import Activity, Break, Clock, DayProblem, Event, Fixed, Mode, Person, Placed, Schedule
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


def _facts(problem: DayProblem) -> Mapping[str, Fixed]:
    return {item.activity: item for item in problem.fixed}


def _was_taken(rest: Break, problem: DayProblem) -> bool:
    """Whether a break lies in the past as a fact: it has one place only, and that has begun."""
    return rest.earliest + rest.minutes == rest.latest_end and rest.earliest < problem.now_min


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
        elif item.activity in _facts(problem):
            continue
        elif item.end - item.start != mode.minutes:
            yield f"{item.activity} takes {item.end - item.start} min, its mode {mode.minutes}"
        elif item.crew != mode.crew:
            yield f"{item.activity} is done by {item.crew}, its mode names {mode.crew}"


def facts_stay(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """Work that is done or has been started stays as it was: time, mode and people."""
    when = _when(schedule)
    for name, fact in _facts(problem).items():
        item = when.get(name)
        mode = None if item is None else _mode(problem, item)
        crew = fact.crew if fact.crew is not None else mode.crew if mode else None
        if item is None or (item.start, item.end, item.mode) != (fact.start, fact.end, fact.mode) or item.crew != crew:
            yield f"{name} was done from {fact.start} to {fact.end}"


def nothing_starts_in_the_past(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """What is not a fact starts now or later, breaks too."""
    for item in schedule.placed:
        if item.start < problem.now_min and item.activity not in _facts(problem):
            yield f"{item.activity} starts at {item.start}, it is {problem.now_min}"
    for person in problem.people:
        taken = {rest.earliest for rest in person.rests if _was_taken(rest, problem)}
        for placed in schedule.breaks:
            if placed.person == person.id and placed.start < problem.now_min and placed.start not in taken:
                yield f"{person.id}'s break starts at {placed.start}, it is {problem.now_min}"


def order_is_kept(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """What comes after starts no earlier than what comes before ends, also across optional work that is left out.

    What has started did not wait: facts come after nothing.
    """
    when = _when(schedule)
    activities = _activity(problem)

    def before(name: str) -> set[str]:
        found: set[str] = set()
        for other in activities[name].after:
            found |= {other} if other in when else before(other)
        return found

    for name in when:
        if name in activities and name not in _facts(problem):
            for other in before(name):
                if when[name].start < when[other].end:
                    yield f"{name} starts before {other} has ended"


def waits_are_long_enough(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """Each minimum wait between two events is kept, where the later one is still open."""
    when = _when(schedule)
    facts = _facts(problem)
    for lag in problem.lags:
        later = lag.b if lag.minimum >= 0 else lag.a
        if later.activity in facts or (lag.a.activity in facts and lag.b.activity in facts):
            continue
        if _present(when, lag.a, lag.b) and _at(when, lag.b) - _at(when, lag.a) < lag.minimum:
            yield f"{lag.b} comes less than {lag.minimum} min after {lag.a}"


def people_are_here(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """Nobody works outside the spans in which they are on site."""
    windows = {person.id: person.windows for person in problem.people}
    for item in schedule.placed:
        if item.activity in _facts(problem):
            continue
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
    """No two activities, no two breaks, and no activity and break, of one person overlap; two facts may."""
    facts = _facts(problem)
    for person in problem.people:
        spans = [
            (item.start, item.end, item.activity, item.activity in facts)
            for item in schedule.placed
            if person.id in item.crew
        ]
        taken = {rest.earliest for rest in person.rests if _was_taken(rest, problem)}
        spans += [
            (rest.start, rest.end, "a break", rest.start in taken)
            for rest in schedule.breaks
            if rest.person == person.id
        ]
        for (start_a, end_a, a, was_a), (start_b, end_b, b, was_b) in combinations(spans, 2):
            if start_a < end_b and start_b < end_a and not (was_a and was_b):
                yield f"{person.id} has {a} and {b} at the same time"


def breaks_are_taken(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """Each person's breaks are all there, whole, in order, and each within its span."""
    for person in problem.people:
        taken = sorted((rest.start, rest.end) for rest in schedule.breaks if rest.person == person.id)
        if len(taken) != len(person.rests):
            yield f"{person.id} has {len(taken)} breaks"
            continue
        for (start, end), rest in zip(taken, person.rests, strict=True):
            if end - start != rest.minutes or start < rest.earliest or end > rest.latest_end:
                yield f"{person.id}'s break from {start} to {end} is not as agreed"


def nobody_goes_on_too_long(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """From arriving or a break to the next break, or to the end of one's work, is no longer than agreed.

    Where it is too long already, the next break comes at once.
    """
    for person in problem.people:
        if person.longest_stretch_min is not None:
            yield from _too_long(problem, schedule, person, person.longest_stretch_min)


def _too_long(problem: DayProblem, schedule: Schedule, person: Person, longest_min: int) -> Iterator[str]:
    facts = _facts(problem)
    work = [item for item in schedule.placed if person.id in item.crew]
    rests = [(rest.start, rest.end) for rest in schedule.breaks if rest.person == person.id]
    fresh = [start for start, _ in _merged(person.windows)] + [end for _, end in rests]
    free = max([problem.now_min, *(item.end for item in work if item.activity in facts)])

    def since(moment: int) -> int | None:
        return max((mark for mark in fresh if mark <= moment), default=None)

    for item in work:
        begun = since(item.start)
        if item.activity not in facts and (begun is None or item.end - begun > longest_min):
            yield f"{person.id} works on {item.activity} until {item.end} without a break since {begun}"
    past = {rest.earliest for rest in person.rests if _was_taken(rest, problem)}
    for start, _ in rests:
        if start in past or all(item.end <= start for item in work):
            continue
        begun = since(start)
        if begun is None or start > max(begun + longest_min, free):
            yield f"{person.id}'s break at {start} comes too late after {begun}"


def places_and_tools_suffice(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """At no moment does open work need more of a resource than facts, holds and outages leave of it."""
    facts = _facts(problem)
    when = _when(schedule)
    for resource in problem.resources:
        users: list[tuple[int, float, int, str, bool]] = []
        for item in schedule.placed:
            mode = _mode(problem, item)
            amount = mode.resources.get(resource.id, 0) if mode else 0
            users.append((item.start, item.end, amount, item.activity, item.activity in facts))
        for hold in problem.holds:
            if hold.resource == resource.id and _present(when, *hold.events):
                end = float("inf") if hold.ends is None else _at(when, hold.ends)
                users.append((_at(when, hold.starts), end, hold.amount, hold.id, hold.starts.activity in facts))
        users = [user for user in users if user[2] and user[1] > user[0]]
        out = [
            (start, end, outage.capacity)
            for outage in problem.outages
            if outage.resource == resource.id
            for start, end in outage.spans
        ]
        moments = {user[0] for user in users} | {start for start, _, _ in out} | {problem.now_min}
        for moment in sorted(moments):
            there = min([resource.capacity, *(left for start, end, left in out if start <= moment < end)])
            used = [user for user in users if user[0] <= moment < user[1]]
            if moment >= problem.now_min and sum(user[2] for user in used) > there and not all(u[4] for u in used):
                yield f"{resource.id} at {moment}: {', '.join(user[3] for user in used)}"


def holds_run_forward(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """What is held is given back no earlier than it is taken, unless that has happened."""
    when = _when(schedule)
    facts = _facts(problem)
    for hold in problem.holds:
        if hold.ends is None or hold.ends.activity in facts or not _present(when, *hold.events):
            continue
        if _at(when, hold.ends) < _at(when, hold.starts):
            yield f"{hold.id} ends at {_at(when, hold.ends)}, before it starts"


def silence_is_kept(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """No work with a tag goes on in the spans that forbid it."""
    for blackout in problem.blackouts:
        for item in schedule.placed:
            mode = _mode(problem, item) if item.activity not in _facts(problem) else None
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
    """No soft clock runs over its limit, which may depend on the restarts taken, by more than declared in all."""
    over = [item for clock in problem.clocks if not clock.hard for item in _overruns(clock, schedule)]
    total = sum(minutes for minutes, _ in over)
    if total > schedule.excess_min:
        yield f"{total} min over, declared {schedule.excess_min}: {', '.join(where for _, where in over)}"


def hard_clocks_are_never_exceeded(problem: DayProblem, schedule: Schedule) -> Iterator[str]:
    """No hard clock runs over its limit, whatever is declared."""
    for clock in problem.clocks:
        if clock.hard:
            for minutes, where in _overruns(clock, schedule):
                yield f"{minutes} min over: {where}"


def _overruns(clock: Clock, schedule: Schedule) -> Iterator[tuple[int, str]]:
    """Minutes over in each piece of a clock that runs, and where."""
    when = _when(schedule)
    if not _present(when, clock.starts, clock.ends):
        return
    if clock.only_if is not None:
        choice, _, option = clock.only_if.partition(".")
        if schedule.options.get(choice) != option:
            return
    taken = [name for name in clock.restarts if name in when]
    limit = clock.restarted_limits_min[len(taken) - 1] if taken and clock.restarted_limits_min else clock.limit_min
    since = _at(when, clock.starts)
    for name in taken:
        if when[name].start - since > limit:
            yield when[name].start - since - limit, f"{clock.id} before {name}"
        since = when[name].end
    last = _at(when, clock.ends) - since
    if last > limit:
        yield last - limit, f"{clock.id} before {clock.ends}"


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
        if item.activity in _facts(problem):
            continue
        if item.end > problem.closes_min:
            yield f"{item.activity} ends at {item.end}, closing is {problem.closes_min}"
        if item.start < 0:
            yield f"{item.activity} starts before access"


Rule = Callable[[DayProblem, Schedule], Iterator[str]]

RULES: tuple[Rule, ...] = (
    everything_is_done_once,
    modes_are_real,
    facts_stay,
    nothing_starts_in_the_past,
    order_is_kept,
    waits_are_long_enough,
    people_are_here,
    people_do_one_thing_at_a_time,
    breaks_are_taken,
    nobody_goes_on_too_long,
    places_and_tools_suffice,
    holds_run_forward,
    silence_is_kept,
    one_option_is_taken,
    clocks_are_kept,
    hard_clocks_are_never_exceeded,
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
