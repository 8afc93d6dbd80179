"""The rest of a day, planned again from what has happened. A function of the plan, the facts and the minute: nothing else.

Started work is a fact; work of which nothing was logged went as planned where it can have. If the rest can go on as it
was planned, it does. Otherwise it is solved again near the plan; and where no day is left, rules are given up in a
fixed order, so that there is always an answer or a plain word why not.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from pydantic import ValidationError

from slackwater.day.check import RULES, broken_rules, the_day_closes_in_time
from slackwater.day.edits import (
    REST,
    cut,
    interrupted,
    remade,
    scaled,
    with_added,
    with_outage,
    with_people,
    with_restarts,
    without,
)
from slackwater.day.hands import FewHands, few_hands
from slackwater.day.model import (
    Activity,
    Break,
    Clock,
    DayProblem,
    Fixed,
    Mode,
    Person,
    Placed,
    PlacedBreak,
    Schedule,
    Status,
)
from slackwater.day.pieces import clock_pieces
from slackwater.day.progress import LIFT, Added, Facts, Work
from slackwater.day.solve import Effort, Relaxed, least_relaxation, replan_near
from slackwater.finding import Finding, Severity

AGAIN = Effort(excess=0.1, finish=0.12, exposure=0.025, tidy=0.0)
"""Effort for a re-plan: an answer is wanted while people wait."""
OVERDUE_MIN = 5
"""Work that should be over and of which nobody has told the end is taken to need so long still; common practice, no source."""
LATE_BREAK_MIN = 60
"""A break that work ran over is taken at most so long after that work; common practice, no source."""
READINGS = frozenset(f"day.log_{name}" for name in ("no_start", "finish_before_start", "future"))
"""How entries about one activity were taken; only the last such reading of an activity is told."""
OPEN_ENDED = tuple(rule for rule in RULES if rule is not the_day_closes_in_time)


@dataclass(frozen=True)
class Standing:
    """A day as it stands now: its problem with the facts in it, and what of the facts is to be told."""

    problem: DayProblem
    findings: tuple[Finding, ...]
    as_planned: bool
    """Nothing was done in less time or begun earlier than planned, so keeping to the plan gives nothing away."""


@dataclass(frozen=True)
class Rest:
    """The day from now on.

    Attributes
    ----------
    standing : Standing
        What it was planned from.
    schedule : Schedule
        Facts and open work together. Without a finish when there is no day.
    way : str
        ``as planned``, ``planned again``, ``least relaxation``, ``without breaks``, ``less work <number>``,
        ``few hands``, ``none``.
    hands : FewHands or None
        What was left out for want of people, where that is the way.
    """

    standing: Standing
    schedule: Schedule
    way: str
    hands: FewHands | None = None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is to be told of the facts and of the way out that was taken."""
        return self.standing.findings


def replan(
    problem: DayProblem,
    before: Schedule,
    facts: Facts,
    *,
    lift_users: Collection[str] = (),
    less: Sequence[DayProblem] = (),
    effort: Effort = AGAIN,
) -> Rest:
    """Plan the rest of a day.

    Parameters
    ----------
    problem, before : DayProblem, Schedule
        The day as planned. `before` may be the plan of a similar problem, for a version of the day.
    facts : Facts
        What has happened, and the minute.
    lift_users : collection of str
        Activities that need the lift.
    less : sequence of DayProblem
        Smaller days to fall back on where none is found, in order, such as the safe overnight state.
    effort : Effort
        Deterministic time for each stage, and the seed.

    Returns
    -------
    Rest
        Always. Where not even the smallest day can be done, what those who are left can do of the whole one; without
        a finish only where that is no day either.
    """
    standing = stand(problem, before, facts, lift_users=lift_users)
    kept = _as_planned(standing, before)
    if kept is not None:
        return Rest(standing, kept, "as planned")
    found = replan_near(standing.problem, before, effort=effort, relaxed=Relaxed(closing=True))
    if found.finish_min is not None:
        return Rest(standing, found, "planned again")
    if any(clock.hard for clock in standing.problem.clocks):
        found = least_relaxation(standing.problem, effort=effort)
        if found.finish_min is not None:
            return Rest(standing, found, "least relaxation")
    everybody = frozenset(person.id for person in problem.people)
    if any(person.rests or person.longest_stretch_min for person in standing.problem.people):
        found = replan_near(standing.problem, before, effort=effort, relaxed=Relaxed(closing=True, breaks=everybody))
        if found.finish_min is not None:
            return Rest(standing, found, "without breaks")
    for number, smaller in enumerate(less, start=1):
        standing_less = stand(smaller, before, facts, lift_users=lift_users)
        found = replan_near(
            standing_less.problem, before, effort=effort, relaxed=Relaxed(closing=True, breaks=everybody)
        )
        if found.finish_min is not None:
            return Rest(standing_less, found, f"less work {number}")
    hands = few_hands(standing.problem)
    if hands is not None:
        left = replace(standing, problem=hands.problem)
        for relaxed in (Relaxed(closing=True), Relaxed(closing=True, breaks=everybody)):
            found = replan_near(left.problem, before, effort=effort, relaxed=relaxed)
            if found.finish_min is not None:
                return Rest(left, found, "few hands", hands)
    return Rest(standing, Schedule(status=found.status), "none")


def stand(problem: DayProblem, before: Schedule, facts: Facts, *, lift_users: Collection[str] = ()) -> Standing:
    """The day's problem with the facts in it."""
    taker = _Taker(problem, before, facts, frozenset(lift_users))
    return taker.standing()


def changed_rest(
    problem: DayProblem,
    before: Schedule,
    facts: Facts,
    *,
    near: Schedule,
    lift_users: Collection[str] = (),
    effort: Effort = AGAIN,
) -> Rest:
    """The rest of a changed day: the better of what a search finds from `near` and of going on as planned.

    Parameters as of `replan`. No rule but closing is given up: a move that needs that is none.
    """
    standing = stand(problem, before, facts, lift_users=lift_users)
    found = replan_near(
        standing.problem,
        before if near.finish_min is None else near,
        effort=effort,
        relaxed=Relaxed(closing=True),
    )
    kept = _with_facts(standing, before)
    if kept is not None and (found.finish_min is None or _minutes(kept) <= _minutes(found)):
        return Rest(standing, kept, "as planned")
    return Rest(standing, found, "none" if found.finish_min is None else "planned again")


def _minutes(schedule: Schedule) -> int:
    """What both a late finish and clocks over cost."""
    return (schedule.finish_min or 0) + schedule.excess_min


def _as_planned(standing: Standing, before: Schedule) -> Schedule | None:
    """The plan with the facts in it, where that gives nothing away against the plan."""
    if not standing.as_planned:
        return None
    kept = _with_facts(standing, before)
    # Later than planned, or over a clock that was kept: then another order may do better.
    if kept is None or (kept.finish_min or 0) > (before.finish_min or 0) or kept.excess_min > before.excess_min:
        return None
    return kept


def _with_facts(standing: Standing, before: Schedule) -> Schedule | None:
    """The plan with the facts in it, where that keeps every rule but closing."""
    problem = standing.problem
    if before.finish_min is None:
        return None
    facts = {item.activity: item for item in problem.fixed}
    modes = {(activity.id, mode.id): mode for activity in problem.activities for mode in activity.modes}
    placed = []
    for item in before.placed:
        fact = facts.get(item.activity)
        if fact is None:
            placed.append(item)
        else:
            crew = fact.crew if fact.crew is not None else modes[fact.activity, fact.mode].crew
            placed.append(Placed(activity=fact.activity, mode=fact.mode, start=fact.start, end=fact.end, crew=crew))
    placed.sort(key=lambda item: (item.start, item.end, item.activity))
    pieces = clock_pieces(problem, placed, before.options)
    hard = {clock.id for clock in problem.clocks if clock.hard}
    finish = max((item.end for item in placed), default=0)
    excess = sum(piece.excess_min for piece in pieces if piece.clock not in hard)
    kept = Schedule(
        status=before.status if finish == before.finish_min else Status.BEST_FOUND,
        placed=tuple(placed),
        breaks=before.breaks,
        options=before.options,
        pieces=pieces,
        finish_min=finish,
        bound_min=before.bound_min if finish == before.finish_min else None,
        excess_min=excess,
        doubts=before.doubts,
    )
    return None if broken_rules(problem, kept, rules=OPEN_ENDED) else kept


class _Taker:
    """Puts facts into a problem, one kind after the other."""

    def __init__(self, problem: DayProblem, before: Schedule, facts: Facts, lift_users: frozenset[str]) -> None:
        self.facts = facts
        self.before = before
        self.now = min(facts.now_min, problem.horizon_min - 1)
        self.findings = list(facts.findings)
        self.lift_users = lift_users
        self.planned = {item.activity: item for item in before.placed}
        self.problem = without(problem, [name for name in facts.dropped if name not in facts.work])
        self.added = {item.id: item for item in facts.added}
        for item in facts.added:
            self._add(item)
        self.activities = {activity.id: activity for activity in self.problem.activities}
        self.begun: dict[str, Fixed] = {}
        self.rest: dict[str, tuple[Mode, ...]] = {}

    def tell_last(self, name: str, about: str, **values: float | str) -> None:
        """How an activity was read in the end, in place of what its entries were read as before."""
        self.findings = [item for item in self.findings if item.id not in READINGS or item.about != about]
        self.tell(name, about, **values)

    def tell(self, name: str, about: str, **values: float | str) -> None:
        self.findings.append(
            Finding(id=f"day.{name}", severity=Severity.CONDITION, about=about, values={"what": about, **values})
        )

    def _add(self, item: Added) -> None:
        known = {activity.id: activity for activity in self.problem.activities}
        if item.id in known:
            return
        after = item.after if item.after in known else None
        size = min(item.people, max(1, len(self.problem.people)))
        place = self.problem.handed_over_at
        resources: dict[str, int] = {}
        if after is not None and place is not None and any(m.resources.get(place) for m in known[after].modes):
            capacity = next(resource.capacity for resource in self.problem.resources if resource.id == place)
            resources = {place: min(size, capacity)}
        teams = combinations([person.id for person in self.problem.people], size)
        modes = [Mode(id="+".join(team), minutes=item.minutes, crew=team, resources=resources) for team in teams]
        if modes:
            self.problem = with_added(self.problem, item.id, modes, after=after, begun=set(self.facts.work))

    def standing(self) -> Standing:
        self._take_the_log()
        self._take_as_seen()
        self._take_as_implied()
        self._take_as_planned()
        self._check_order()
        begun = tuple(self.begun.values())
        as_planned = not self.rest and all(
            item.activity in self.planned
            and item.start >= self.planned[item.activity].start
            and item.end - item.start >= self.planned[item.activity].end - self.planned[item.activity].start
            for item in begun
        )
        problem = self.problem
        problem = remade(problem, clocks=tuple(self._with_begun_restarts(clock) for clock in problem.clocks))
        for name, modes in self.rest.items():
            problem = interrupted(problem, name, modes)
        spans = [(away.from_min, away.until_min) for away in self.facts.lift_out if away.until_min is not None]
        spans = [(start, end) for start, end in spans if end > start]
        if spans and self.lift_users:
            users = self.lift_users | {name + REST for name in self.lift_users}
            problem = with_outage(problem, LIFT, users, spans)
        problem = with_people(problem, {person.id: self._person(person) for person in problem.people})
        now = max([self.now, *(item.start for item in begun)])
        problem = self._with_facts(problem, begun, now)
        return Standing(problem, tuple(self.findings), as_planned)

    def _with_begun_restarts(self, clock: Clock) -> Clock:
        """The clock with the restarts that began while it ran, as they came; those outside of it restarted nothing."""
        done = sorted((self.begun[name] for name in clock.restarts if name in self.begun), key=lambda item: item.start)
        if not done:
            return clock
        begun = self.begun.get(clock.starts.activity)
        over = self.begun.get(clock.ends.activity)
        if over is not None and clock.ends.side == "end" and over.end > self.now:
            over = None
        within: list[str] = []
        if begun is not None and (clock.starts.side == "start" or begun.end <= self.now):
            since = begun.start if clock.starts.side == "start" else begun.end
            until = None if over is None else over.start if clock.ends.side == "start" else over.end
            for item in done:
                if item.start >= since and (until is None or item.end <= until):
                    within.append(item.activity)
                    since = item.end
        still_open = [name for name in clock.restarts if name not in self.begun] if over is None else []
        return with_restarts(clock, (*within, *still_open))

    def _with_facts(self, problem: DayProblem, begun: tuple[Fixed, ...], now: int) -> DayProblem:
        try:
            return remade(problem, fixed=begun, now_min=now)
        except ValidationError:
            # Only more held at once than there is can still be wrong; the log is right, so the hold was not kept.
            self.tell("holds_given_up", "")
            return remade(problem, fixed=begun, now_min=now, holds=())

    # What the log says -------------------------------------------------------------------------------------------

    def _take_the_log(self) -> None:
        for name, work in self.facts.work.items():
            if name in self.activities:
                self.begun[name] = self._as_told(name, work)

    def _mode_of(self, activity: Activity, crew: tuple[str, ...] | None) -> Mode:
        planned = self.planned.get(activity.id)
        if crew is not None:
            exact = [mode for mode in activity.modes if set(mode.crew) == set(crew)]
            if exact:
                return next((mode for mode in exact if planned and mode.id == planned.mode), exact[0])
        return next((mode for mode in activity.modes if planned and mode.id == planned.mode), activity.modes[0])

    def _as_told(self, name: str, work: Work) -> Fixed:
        activity = self.activities[name]
        mode = self._mode_of(activity, work.crew)
        crew = work.crew if work.crew is not None and set(work.crew) != set(mode.crew) else None
        start = min(work.start_min, self.now)
        if work.end_min is not None:
            return Fixed(activity=name, mode=mode.id, start=start, end=max(start, work.end_min), crew=crew)
        if work.remaining_until_min is not None:
            # What was to be over by now and was not told of is taken to have ended as it was said to.
            end = max(start, work.remaining_until_min)
        else:
            planned = self.planned.get(name)
            minutes = planned.end - planned.start if planned and planned.mode == mode.id else mode.minutes
            end = start + minutes
            followers = [
                self.facts.work[other.id].start_min
                for other in self.activities.values()
                if name in other.after and other.id in self.facts.work
            ]
            followers = [begun for begun in followers if begun >= start]
            if end < self.now and followers:
                end = min([*followers, self.now])
                self.tell_last("log_ended_by_then", name)
                # What is over cannot be interrupted by who leaves before.
                return Fixed(activity=name, mode=mode.id, start=start, end=end, crew=crew)
            if end < self.now:
                end = self.now + OVERDUE_MIN
                self.tell_last("log_overdue", name, minutes=OVERDUE_MIN)
        return self._until_interrupted(Fixed(activity=name, mode=mode.id, start=start, end=end, crew=crew))

    def _crew_of(self, item: Fixed) -> tuple[str, ...]:
        if item.crew is not None:
            return item.crew
        return next(mode.crew for mode in self.activities[item.activity].modes if mode.id == item.mode)

    def _until_interrupted(self, item: Fixed) -> Fixed:
        """Running work up to the moment its people or the lift were gone; the remainder is work of its own."""
        stops = [
            away.from_min
            for away in self.facts.gone
            if away.what in self._crew_of(item) and (away.until_min is None or away.until_min > self.now)
        ]
        if item.activity in self.lift_users:
            for away in self.facts.lift_out:
                if away.until_min is not None and away.until_min > self.now:
                    stops.append(away.from_min)
                elif away.until_min is not None and item.start < away.until_min and away.from_min < item.end:
                    # Over by now: it went on when the lift was back.
                    out = away.until_min - max(away.from_min, item.start)
                    item = item.model_copy(update={"end": item.end + out})
        inside = [max(stop, item.start) for stop in stops if stop < item.end]
        if not inside:
            return item
        at = min([*inside, self.now])
        mode = next(m for m in self.activities[item.activity].modes if m.id == item.mode)
        remaining = item.end - at
        if remaining <= 0 or mode.minutes <= 0:
            return item
        self.rest[item.activity] = scaled(self.activities[item.activity].modes, remaining / mode.minutes)
        self.tell("interrupted", item.activity, remaining_min=remaining)
        return item.model_copy(update={"end": at})

    def _take_as_seen(self) -> None:
        """What was counted in the course of work says that the work had begun, and had not ended before."""
        for name in _in_order(self.activities):
            planned = self.planned.get(name)
            if name in self.begun or name not in self.facts.seen or planned is None:
                continue
            first, last = self.facts.seen[name]
            ended = [self.facts.seen[other][1] for other in self.activities[name].after if other in self.facts.seen]
            start = min(first, max([planned.start, *ended]))
            mode = self._mode_of(self.activities[name], planned.crew)
            end = max(last, start + planned.end - planned.start)
            self.begun[name] = self._until_interrupted(Fixed(activity=name, mode=mode.id, start=start, end=end))

    def _take_as_implied(self) -> None:
        """What must be done because something that waits for it has begun."""
        waited_for: dict[str, set[str]] = {name: set() for name in self.activities}
        for activity in self.activities.values():
            for name in self._before(activity):
                waited_for[name].add(activity.id)
        implied = []
        for name in reversed(_in_order(self.activities)):
            starts = [self.begun[other].start for other in waited_for[name] if other in self.begun]
            planned = self.planned.get(name)
            if name in self.begun or not starts or planned is None:
                continue
            mode = self._mode_of(self.activities[name], planned.crew)
            end = min(planned.end, *starts)
            start = max(0, min(planned.start, end - (planned.end - planned.start)))
            self.begun[name] = Fixed(activity=name, mode=mode.id, start=min(start, end), end=end)
            if end != planned.end:
                implied.append(name)
        if implied:
            self.findings = [item for item in self.findings if item.id not in READINGS or item.about not in implied]
            self.tell("log_implied", "", what=", ".join(sorted(implied)))

    # What nothing was told of -------------------------------------------------------------------------------------

    def _take_as_planned(self) -> None:
        silent = []
        told = {item.about for item in self.findings if item.id in READINGS}
        for item in sorted(self.before.placed, key=lambda placed: (placed.start, placed.end)):
            activity = self.activities.get(item.activity)
            if item.start >= self.now or item.activity in self.begun or activity is None:
                continue
            mode = next((mode for mode in activity.modes if mode.id == item.mode), None)
            if mode is not None and self._can_have_begun(activity, mode, item):
                self.begun[item.activity] = self._until_interrupted(
                    Fixed(activity=item.activity, mode=mode.id, start=item.start, end=item.end)
                )
            elif item.activity not in told:
                silent.append(item.activity)
        if silent:
            self.tell("log_silent", "", what=", ".join(silent))

    def _can_have_begun(self, activity: Activity, mode: Mode, item: Placed) -> bool:
        for name in self._before(activity):
            fact = self.begun.get(name)
            if fact is None or fact.end > item.start or name in self.rest:
                return False
        others = [fact for fact in self.begun.values() if fact.start < item.end and item.start < fact.end]
        if any(set(self._crew_of(fact)) & set(item.crew) for fact in others):
            return False
        for away in self.facts.gone:
            if (
                away.what in item.crew
                and away.from_min <= item.start
                and (away.until_min is None or away.until_min > item.start)
            ):
                return False
        if activity.id in self.lift_users and any(
            away.from_min <= item.start and away.until_min is not None and away.until_min > item.start
            for away in self.facts.lift_out
        ):
            return False
        return self._has_room(mode, item, others)

    def _has_room(self, mode: Mode, item: Placed, others: Sequence[Fixed]) -> bool:
        capacity = {resource.id: resource.capacity for resource in self.problem.resources}
        for resource, amount in mode.resources.items():
            for moment in [item.start, *(fact.start for fact in others if fact.start > item.start)]:
                used = sum(self._uses(fact, resource) for fact in others if fact.start <= moment < fact.end)
                if used + amount > capacity[resource]:
                    return False
        return True

    def _uses(self, fact: Fixed, resource: str) -> int:
        modes = self.activities[fact.activity].modes
        return next(mode.resources.get(resource, 0) for mode in modes if mode.id == fact.mode)

    def _before(self, activity: Activity) -> set[str]:
        """What it waits for, straight through optional work that was neither planned nor begun."""
        found: set[str] = set()
        for name in activity.after:
            other = self.activities[name]
            if name in self.begun or name in self.planned or not other.optional:
                found.add(name)
            else:
                found |= self._before(other)
        return found

    def _check_order(self) -> None:
        for name in self.facts.work:
            fact = self.begun.get(name)
            if fact is None:
                continue
            for other in sorted(self._before(self.activities[name])):
                earlier = self.begun.get(other)
                if earlier is None or earlier.end > fact.start:
                    self.tell("log_before_predecessor", name, before=other)

    # People -------------------------------------------------------------------------------------------------------

    def _person(self, person: Person) -> Person:
        windows = person.windows
        for away in self.facts.gone:
            if away.what == person.id:
                until = self.problem.horizon_min if away.until_min is None else away.until_min
                windows = cut(windows, (away.from_min, max(until, away.from_min)))
        taken = [rest for rest in self.before.breaks if rest.person == person.id]
        rests: list[Break] = []
        ready = 0
        for number, rest in enumerate(person.rests):
            planned = taken[number] if number < len(taken) else None
            rests.append(self._rest(person, rest, planned, ready))
            ready = rests[-1].earliest + rests[-1].minutes
        if windows != person.windows and not any(end > self.now for _, end in windows):
            # Who is gone for good takes no break here.
            rests = [rest for rest in rests if rest.earliest + rest.minutes == rest.latest_end < self.now]
        return person.model_copy(update={"windows": windows, "rests": tuple(rests)})

    def _rest(self, person: Person, rest: Break, planned: PlacedBreak | None, ready: int) -> Break:
        facts = [fact for fact in self.begun.values() if person.id in self._crew_of(fact)]
        if planned is not None and planned.start < self.now:
            if all(fact.end <= planned.start or fact.start >= planned.end for fact in facts):
                return Break(minutes=rest.minutes, earliest=planned.start, latest_end=planned.end)
            self.tell("break_moved", person.id)
        # Work in hand goes on over the agreed span; the break then comes right after it.
        free = max([self.now, ready, *(fact.end for fact in facts)])
        earliest = max(rest.earliest, self.now, ready)
        if free + rest.minutes <= rest.latest_end:
            return rest.model_copy(update={"earliest": earliest})
        return Break(minutes=rest.minutes, earliest=earliest, latest_end=free + rest.minutes + LATE_BREAK_MIN)


def _in_order(activities: Mapping[str, Activity]) -> list[str]:
    """Each activity after all it waits for."""
    found: list[str] = []
    while len(found) < len(activities):
        found += [name for name, item in activities.items() if name not in found and set(item.after) <= set(found)]
    return found


def shifted(before: Schedule, after: Schedule, *, now_min: int) -> Mapping[str, tuple[int | None, int | None]]:
    """Old and new start of open work that moved; None where it was not planned, or is not done any more."""
    was = {item.activity: item.start for item in before.placed}
    will = {item.activity: item.start for item in after.placed}
    found: dict[str, tuple[int | None, int | None]] = {}
    for name in [*was, *(name for name in will if name not in was)]:
        old, new = was.get(name), will.get(name)
        if old != new and (new is None or new >= now_min):
            found[name] = (old, new)
    return found
