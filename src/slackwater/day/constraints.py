"""The rules of a day as constraints on whatever solver's model is handed in; it imports none.

`solve.py` hands in the model and asks for the objectives of its stages.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from slackwater.day.model import (
    Activity,
    Choice,
    Clock,
    DayProblem,
    Event,
    Fixed,
    Hold,
    Interval,
    Person,
    Resource,
    Schedule,
)

EXPOSURE_SCALE = 1000
OPTIONAL_COST = 200
"""What an activity that nobody asked for must save in exposure to be worth doing (thousandths of a clock's limit)."""
RESERVE_WEIGHT = 10
"""A minute of a reserve that is used, against a minute that a clock runs."""
SWAP_MIN = 20
"""Minutes of shifted work that a re-plan takes on rather than swap one person for another; common practice, no source."""


@dataclass(frozen=True)
class Relaxed:
    """Rules that are not asked for: the closing time, and named clocks, blackouts, breaks and absences."""

    closing: bool = False
    clocks: frozenset[str] = frozenset()
    blackouts: frozenset[str] = frozenset()
    breaks: frozenset[str] = frozenset()
    absences: frozenset[str] = frozenset()


class DayModel:
    """The constraint model of one problem; one short method for each rule.

    An activity has one start, one end and one interval for its places, and one optional interval for each person who
    may do it, whatever the number of modes. This shape matters: with one optional interval for each mode, all sharing
    the activity's start and end, the solver (releases 9.12 to 9.15) called different finish times "optimal" for one
    unchanged problem, as if what it learns about two modes held for their siblings; with separate copies of the times
    the answers agree but the proof takes a hundred times longer. Here they agree and are proved at once;
    tests/day/test_solve.py holds that.
    """

    def __init__(self, problem: DayProblem, relaxed: Relaxed, cp: Any, domain: Callable[[list[int]], Any]) -> None:
        self.problem = problem
        self.relaxed = relaxed
        self.cp = cp
        self.domain = domain
        self.last = problem.horizon_min if relaxed.closing else min(problem.closes_min, problem.horizon_min)
        self.start: dict[str, Any] = {}
        self.end: dict[str, Any] = {}
        self.size: dict[str, Any] = {}
        self.present: dict[str, Any] = {}
        self.mode: dict[tuple[str, str], Any] = {}
        self.place: dict[str, Any] = {}
        self.works: dict[tuple[str, str], tuple[Any, Any]] = {}
        self.breaks: dict[tuple[str, int], tuple[Any, int]] = {}
        self.option: dict[tuple[str, str], Any] = {}
        self.excess: list[Any] = []
        self.excess_of: dict[str, list[Any]] = {}
        self.exposure: list[Any] = []
        self.running: list[tuple[Clock, Event, Event, int, list[Any]]] = []
        """Pieces of clocks that are still open: from where to where, their limit, and when they count."""
        self.fixed = {item.activity: item for item in problem.fixed}
        self.far = max([problem.horizon_min, problem.now_min, *(item.end for item in problem.fixed)])
        self.modes = {(activity.id, mode.id): mode for activity in problem.activities for mode in activity.modes}
        for activity in problem.activities:
            self._add_activity(activity)
        for choice in problem.choices:
            self._add_choice(choice)
        self._order()
        self._lags()
        for person in problem.people:
            self._one_thing_at_a_time(person)
            if person.longest_stretch_min is not None and person.id not in relaxed.breaks:
                self._rests_in_time(person, person.longest_stretch_min)
            if person.id not in relaxed.absences:
                self._only_while_here(person)
        for resource in problem.resources:
            self._enough_of(resource)
        self._blackouts()
        for clock in problem.clocks:
            if clock.id not in relaxed.clocks:
                self._add_clock(clock)
        self.finish = self.cp.new_int_var(0, max([self.last, *(item.end for item in problem.fixed)]), "finish")
        for activity in problem.activities:
            ends = self.cp.add(self.finish >= self.end[activity.id])
            if problem.now_min and activity.optional:
                ends.only_enforce_if(self.present[activity.id])

    def value(self) -> Any:
        """What the day is worth: its finish, later by the worth of what is left out; of equals, the one that does more.

        Divided by `scale` it is minutes again.
        """
        left_out = [
            (self.scale * activity.worth + 1) * self.present[activity.id].negated()
            for activity in self.problem.activities
            if activity.worth
        ]
        return self.scale * self.finish + sum(left_out) if left_out else self.finish

    @property
    def scale(self) -> int:
        """Units of `value` in a minute."""
        return 1 + sum(activity.worth > 0 for activity in self.problem.activities)

    def crew_of(self, item: Fixed) -> tuple[str, ...]:
        """Who did it."""
        return self.modes[item.activity, item.mode].crew if item.crew is None else item.crew

    def _add_fixed(self, activity: Activity, item: Fixed) -> None:
        name = activity.id
        self.start[name] = self.cp.new_constant(item.start)
        self.end[name] = self.cp.new_constant(item.end)
        self.size[name] = self.cp.new_constant(item.end - item.start)
        self.present[name] = self.cp.new_constant(1)
        for mode in activity.modes:
            self.mode[name, mode.id] = self.cp.new_constant(int(mode.id == item.mode))

    def _add_activity(self, activity: Activity) -> None:
        name = activity.id
        if name in self.fixed:
            self._add_fixed(activity, self.fixed[name])
            return
        now = self.problem.now_min
        self.start[name] = self.cp.new_int_var(now, max(now, self.last), f"start {name}")
        self.end[name] = self.cp.new_int_var(now, max(now, self.last), f"end {name}")
        self.present[name] = self.cp.new_bool_var(f"present {name}")
        if now > self.last:
            self.cp.add(self.present[name] == 0)
        if not activity.optional:
            self.cp.add(self.present[name] == 1)
        sizes = {mode.minutes for mode in activity.modes} | ({0} if activity.optional else set())
        self.size[name] = self.cp.new_int_var_from_domain(self.domain(sorted(sizes)), f"size {name}")
        for mode in activity.modes:
            self.mode[name, mode.id] = self.cp.new_bool_var(f"{name} by {mode.id}")
        taken = [self.mode[name, mode.id] for mode in activity.modes]
        self.cp.add(sum(taken) == self.present[name])
        self.cp.add(self.size[name] == sum(mode.minutes * self.mode[name, mode.id] for mode in activity.modes))
        self.place[name] = self.cp.new_optional_interval_var(
            self.start[name], self.size[name], self.end[name], self.present[name], f"place {name}"
        )
        # What is left out still has a time, of no length, so that order runs through it.
        self.cp.add(self.end[name] == self.start[name] + self.size[name])
        for person in sorted({who for mode in activity.modes for who in mode.crew}):
            does = self.cp.new_bool_var(f"{name} with {person}")
            self.cp.add(sum(self.mode[name, mode.id] for mode in activity.modes if person in mode.crew) == does)
            interval = self.cp.new_optional_interval_var(
                self.start[name], self.size[name], self.end[name], does, f"{person} at {name}"
            )
            self.works[name, person] = (does, interval)

    def _add_choice(self, choice: Choice) -> None:
        taken = {option.id: self.cp.new_bool_var(f"{choice.id} {option.id}") for option in choice.options}
        for option_id, literal in taken.items():
            self.option[choice.id, option_id] = literal
        self.cp.add_exactly_one(taken.values())
        for name in sorted({name for option in choice.options for name in option.activities}):
            asking = [taken[option.id] for option in choice.options if name in option.activities]
            self.cp.add(self.present[name] == sum(asking))

    def _order(self) -> None:
        for activity in self.problem.activities:
            # What has started did not wait, whatever the order says.
            if activity.id not in self.fixed:
                for before in activity.after:
                    self.cp.add(self.start[activity.id] >= self.end[before])

    def _lags(self) -> None:
        for lag in self.problem.lags:
            if lag.b.activity in self.fixed and (lag.a.activity in self.fixed or lag.minimum >= 0):
                continue
            self.cp.add(self._at(lag.b) - self._at(lag.a) >= lag.minimum).only_enforce_if(
                [self.present[lag.a.activity], self.present[lag.b.activity]]
            )

    def _at(self, event: Event) -> Any:
        return self.start[event.activity] if event.side == "start" else self.end[event.activity]

    def _one_thing_at_a_time(self, person: Person) -> None:
        now = self.problem.now_min
        busy = [interval for (_, who), (_, interval) in self.works.items() if who == person.id]
        spans = [(item.start, item.end) for item in self.problem.fixed if person.id in self.crew_of(item)]
        ready: Any = None
        for number, rest in enumerate(person.rests if person.id not in self.relaxed.breaks else ()):
            latest = rest.latest_end - rest.minutes
            if latest == rest.earliest < now:
                start = self.cp.new_constant(latest)
                spans.append((latest, rest.latest_end))
            else:
                earliest = max(rest.earliest, now)
                start = self.cp.new_int_var(earliest, max(earliest, latest), f"break {person.id} {number}")
                if earliest > latest:
                    self.cp.add(start <= latest)
                if ready is not None:
                    self.cp.add(start >= ready)
                busy.append(self.cp.new_fixed_size_interval_var(start, rest.minutes, f"break {person.id} {number}"))
            self.breaks[person.id, number] = (start, rest.minutes)
            ready = start + rest.minutes
        # Facts may overlap; together they are one busy span.
        for left, right in _merged(spans):
            busy.append(self.cp.new_fixed_size_interval_var(left, right - left, f"{person.id} was busy {left}"))
        self.cp.add_no_overlap(busy)

    def _rests_in_time(self, person: Person, longest_min: int) -> None:
        """Work ends within the stretch after some arrival or break; so does the waiting before each next break."""
        known = [0] if person.id in self.relaxed.absences else [start for start, _ in _merged(person.windows)]
        rests = {number: rest for (who, number), rest in self.breaks.items() if who == person.id}
        works = [(name, does) for (name, who), (does, _) in self.works.items() if who == person.id]
        worked = [item.end for item in self.problem.fixed if person.id in self.crew_of(item)]
        # A stretch that is over already cannot be mended, but the break can come at once.
        at_once = max([self.problem.now_min, *worked])
        marks = [*known, *(start + minutes for start, minutes in rests.values())]
        for name, does in works:
            within = []
            for mark in marks:
                literal = self.cp.new_bool_var(f"{person.id} fresh at {name}")
                self.cp.add(self.start[name] >= mark).only_enforce_if(literal)
                self.cp.add(self.end[name] <= mark + longest_min).only_enforce_if(literal)
                within.append(literal)
            self.cp.add_bool_or([*within, does.negated()])
        for number, (start, _) in rests.items():
            rest = person.rests[number]
            if rest.earliest + rest.minutes == rest.latest_end and rest.earliest < self.problem.now_min:
                continue
            done = self.cp.new_bool_var(f"{person.id} done before break {number}")
            for name, does in works:
                self.cp.add(self.end[name] <= start).only_enforce_if([done, does])
            for end in worked:
                self.cp.add(start >= end).only_enforce_if(done)
            within = [done]
            earlier = [other + minutes for place, (other, minutes) in rests.items() if place < number]
            limits = [(mark, max(mark + longest_min, at_once)) for mark in known]
            limits += [(mark, mark + longest_min) for mark in earlier]
            for mark, limit in limits:
                literal = self.cp.new_bool_var(f"{person.id} rests in time {number}")
                self.cp.add(start >= mark).only_enforce_if(literal)
                self.cp.add(start <= limit).only_enforce_if(literal)
                within.append(literal)
            self.cp.add_bool_or(within)

    def _only_while_here(self, person: Person) -> None:
        for left, right in _gaps(person.windows, self.problem.horizon_min):
            for (name, who), (does, _) in self.works.items():
                if who == person.id:
                    self._keep_out(name, [does], left, right)

    def _keep_out(self, name: str, conditions: list[Any], left: int, right: int) -> None:
        """An activity lies wholly before or wholly after a span, where the conditions hold."""
        before = self.cp.new_bool_var(f"{name} before {left}")
        self.cp.add(self.end[name] <= left).only_enforce_if([*conditions, before])
        self.cp.add(self.start[name] >= right).only_enforce_if([*conditions, before.negated()])

    def _enough_of(self, resource: Resource) -> None:
        places: list[Any] = []
        amounts: list[Any] = []
        for activity in self.problem.activities:
            used = {mode.id: mode.resources.get(resource.id, 0) for mode in activity.modes}
            if any(used.values()) and activity.id not in self.fixed:
                amount = self.cp.new_int_var(0, max(used.values()), f"{resource.id} for {activity.id}")
                self.cp.add(amount == sum(used[mode.id] * self.mode[activity.id, mode.id] for mode in activity.modes))
                places.append(self.place[activity.id])
                amounts.append(amount)
        holds = [hold for hold in self.problem.holds if hold.resource == resource.id]
        for hold in holds:
            if not self._is_past(hold):
                places.append(self._held(hold))
                amounts.append(hold.amount)
        if places:
            for left, right, taken in self._taken(resource, holds):
                places.append(self.cp.new_fixed_size_interval_var(left, right - left, f"{resource.id} taken {left}"))
                amounts.append(taken)
            self.cp.add_cumulative(places, amounts, resource.capacity)

    def _is_past(self, hold: Hold) -> bool:
        """Whether nothing is to be decided: both its ends are facts, or it would end before now."""
        if hold.ends is None or hold.ends.activity not in self.fixed:
            return False
        return hold.starts.activity in self.fixed or self._fixed_at(hold.ends) <= self.problem.now_min

    def _held(self, hold: Hold) -> Any:
        start = self._at(hold.starts)
        if hold.starts.activity in self.fixed:
            start = max(self.problem.now_min, self._fixed_at(hold.starts))
        end = self.far if hold.ends is None else self._at(hold.ends)
        held = self.cp.new_bool_var(f"{hold.id} held")
        present = [self.present[event.activity] for event in hold.events]
        for literal in present:
            self.cp.add_implication(held, literal)
        reasons_not_to = [literal.negated() for literal in present]
        if hold.ends is not None and hold.ends.activity in self.fixed:
            late = self.cp.new_bool_var(f"{hold.id} starts after its end")
            self.cp.add(start >= end).only_enforce_if(late)
            reasons_not_to.append(late)
        self.cp.add_bool_or([held, *reasons_not_to])
        size = self.cp.new_int_var(0, self.far, f"minutes of {hold.id}")
        return self.cp.new_optional_interval_var(start, size, end, held, f"hold {hold.id}")

    def _fixed_at(self, event: Event) -> int:
        item = self.fixed[event.activity]
        return item.start if event.side == "start" else item.end

    def _taken(self, resource: Resource, holds: list[Hold]) -> list[tuple[int, int, int]]:
        """Spans from now on in which facts and outages leave less of a resource, and how much they take.

        Never more than there is, beside what is held now: facts that break the rule leave nothing, and still a plan.
        """
        used: list[tuple[int, int, int]] = []
        for item in self.problem.fixed:
            amount = self.modes[item.activity, item.mode].resources.get(resource.id, 0)
            used.append((item.start, item.end, amount))
        running = 0
        for hold in holds:
            if hold.starts.activity in self.fixed:
                if hold.ends is not None and hold.ends.activity in self.fixed:
                    used.append((self._fixed_at(hold.starts), self._fixed_at(hold.ends), hold.amount))
                else:
                    running += hold.amount
        out = [
            (left, right, outage.capacity)
            for outage in self.problem.outages
            if outage.resource == resource.id
            for left, right in outage.spans
        ]
        now = self.problem.now_min
        ends = {now, *(max(now, moment) for left, right, _ in [*used, *out] for moment in (left, right))}
        found = []
        for left, right in pairwise(sorted(ends)):
            there = min([resource.capacity, *(capacity for begin, end, capacity in out if begin <= left < end)])
            taken = resource.capacity - there + sum(amount for begin, end, amount in used if begin <= left < end)
            taken = min(taken, resource.capacity - running)
            if taken > 0:
                found.append((left, right, taken))
        return found

    def _blackouts(self) -> None:
        for blackout in self.problem.blackouts:
            if blackout.reason in self.relaxed.blackouts:
                continue
            for activity in self.problem.activities:
                for mode in activity.modes if activity.id not in self.fixed else ():
                    if blackout.tag in mode.tags:
                        for left, right in blackout.spans:
                            self._keep_out(activity.id, [self.mode[activity.id, mode.id]], left, right)

    def _add_clock(self, clock: Clock) -> None:
        runs: list[Any] = [self.present[clock.starts.activity], self.present[clock.ends.activity]]
        for choice in self.problem.choices:
            runs += [
                self.option[choice.id, option.id]
                for option in choice.options
                if f"{choice.id}.{option.id}" == clock.only_if
            ]
        restarts = clock.restarts
        for before, after in pairwise(restarts):
            self.cp.add_implication(self.present[after], self.present[before])
        for count in range(len(restarts) + 1):
            taken = [self.present[name] for name in restarts[:count]]
            left_out = [self.present[name].negated() for name in restarts[count : count + 1]]
            marks = [clock.starts]
            for name in restarts[:count]:
                marks += [Event(activity=name, side="start"), Event(activity=name, side="end")]
            marks.append(clock.ends)
            for a, b in zip(marks[::2], marks[1::2], strict=True):
                # What has run out is a fact: no reason to run over others.
                if not clock.hard and self.fixed.keys() >= {a.activity, b.activity}:
                    continue
                limit = clock.piece_limit_min(count)
                conditions = [*runs, *taken, *left_out]
                self.running.append((clock, a, b, limit, conditions))
                over: Any = 0
                if not clock.hard:
                    over = self.cp.new_int_var(0, self.far, f"over {clock.id} {a}")
                    self.excess.append(over)
                    self.excess_of.setdefault(clock.id, []).append(over)
                self.cp.add(self._at(b) - self._at(a) <= limit + over).only_enforce_if(conditions)
            for name in restarts[:count]:
                conditions = [*runs, *taken, *left_out]
                self.cp.add(self.start[name] >= self._at(clock.starts)).only_enforce_if(conditions)
                self.cp.add(self.end[name] <= self._at(clock.ends)).only_enforce_if(conditions)
        weight = max(1, EXPOSURE_SCALE // max(1, clock.limit_min))
        exposed = self.cp.new_int_var(0, self.far, f"exposed {clock.id}")
        self.cp.add(exposed >= self._at(clock.ends) - self._at(clock.starts)).only_enforce_if(runs)
        self.exposure.append(exposed * weight)

    def exposed(self) -> Any:
        """How long clocks run, each by its limit, and what is done though nobody asked for it."""
        chosen = {name for choice in self.problem.choices for option in choice.options for name in option.activities}
        unasked = [
            self.present[activity.id]
            for activity in self.problem.activities
            if activity.optional and not activity.worth and activity.id not in chosen and activity.id not in self.fixed
        ]
        return sum(self.exposure) + OPTIONAL_COST * sum(unasked)

    def reserves_used(self, share: float) -> Any:
        """Minutes by which clocks run into the last share of their limit, each by its limit."""
        used = []
        for clock, a, b, limit, conditions in self.running:
            into = self.cp.new_int_var(0, self.far, f"reserve of {clock.id} {a}")
            kept = round((1 - share) * limit)
            self.cp.add(self._at(b) - self._at(a) <= kept + into).only_enforce_if(conditions)
            used.append(max(1, EXPOSURE_SCALE // max(1, limit)) * into)
        return sum(used)

    def untidiness(self, solver: Any) -> Any:
        """Idle minutes of people between their first and last work, then hand-overs; with hints from the day found."""
        idle = [self._presence(person, solver) for person in self.problem.people]
        passed_on = self._hand_overs(solver)
        return (len(passed_on) + 1) * sum(idle) + sum(passed_on)

    def _presence(self, person: Person, solver: Any) -> Any:
        """Minutes from a person's first work to the end of their last."""
        works = [(name, does) for (name, who), (does, _) in self.works.items() if who == person.id]
        facts = [item for item in self.problem.fixed if person.id in self.crew_of(item)]
        done = [name for name, does in works if solver.value(does)] + [item.activity for item in facts]
        first = self.cp.new_int_var(0, self.far, f"{person.id} begins")
        last = self.cp.new_int_var(0, self.far, f"{person.id} leaves")
        self.cp.add(last >= first)
        self.cp.add_hint(first, min((solver.value(self.start[name]) for name in done), default=0))
        self.cp.add_hint(last, max((solver.value(self.end[name]) for name in done), default=0))
        for name, does in works:
            self.cp.add(first <= self.start[name]).only_enforce_if(does)
            self.cp.add(last >= self.end[name]).only_enforce_if(does)
        for item in facts:
            self.cp.add(first <= item.start)
            self.cp.add(last >= item.end)
        return last - first

    def _hands(self, name: str) -> dict[str, Any]:
        """Person to whether they do it."""
        if name in self.fixed:
            return {who: self.present[name] for who in self.crew_of(self.fixed[name])}
        return {who: does for (activity, who), (does, _) in self.works.items() if activity == name}

    def _hand_overs(self, solver: Any) -> list[Any]:
        """For each pair in order at the place where hands should stay: whether nobody goes on from one to the other."""
        place = self.problem.handed_over_at
        at_place = {name for (name, _), mode in self.modes.items() if place is not None and mode.resources.get(place)}
        found = []
        for activity in self.problem.activities:
            for before in activity.after:
                pair = (before, activity.id)
                if not at_place.issuperset(pair) or self.fixed.keys() >= set(pair):
                    continue
                one, other = self._hands(before), self._hands(activity.id)
                apart = self.cp.new_bool_var(f"{before} handed over to {activity.id}")
                goes_on = []
                for who in sorted(one.keys() & other.keys()):
                    both = self.cp.new_bool_var(f"{who} goes on from {before} to {activity.id}")
                    self.cp.add_implication(both, one[who])
                    self.cp.add_implication(both, other[who])
                    self.cp.add_hint(both, bool(solver.value(one[who]) and solver.value(other[who])))
                    goes_on.append(both)
                # Waiting, which nobody does, is handed over to nobody.
                alone = [
                    self.mode[name, mode_id]
                    for (name, mode_id), mode in self.modes.items()
                    if name in pair and not mode.crew
                ]
                self.cp.add(apart + sum(goes_on) + sum(alone) >= self.present[before] + self.present[activity.id] - 1)
                found.append(apart)
        return found

    def changes_from(self, before: Schedule) -> Any:
        """Minutes by which open work is shifted, and in minutes too: people swapped, work left out, work added."""
        terms: list[Any] = []
        was = {item.activity: item for item in before.placed}
        for activity in self.problem.activities:
            name, item = activity.id, was.get(activity.id)
            present = self.present[name]
            if name in self.fixed:
                continue
            if item is None:
                terms.append(SWAP_MIN * present)
                continue
            shift = self.cp.new_int_var(0, max(self.far, item.start), f"shift of {name}")
            self.cp.add(shift >= self.start[name] - item.start).only_enforce_if(present)
            self.cp.add(shift >= item.start - self.start[name]).only_enforce_if(present)
            hands = self._hands(name)
            swapped = self.cp.new_int_var(0, len(self.problem.people) + len(item.crew), f"swapped at {name}")
            stay = sum(hands[who] for who in item.crew if who in hands)
            self.cp.add(swapped >= len(item.crew) - stay).only_enforce_if(present)
            self.cp.add(swapped >= sum(does for who, does in hands.items() if who not in item.crew))
            terms.append(shift + SWAP_MIN * swapped + SWAP_MIN * present.negated())
        return sum(terms)


def _merged(spans: list[Interval] | tuple[Interval, ...]) -> list[Interval]:
    """Spans without overlap or touching, in order."""
    found: list[Interval] = []
    for start, end in sorted(spans):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((start, end))
    return found


def _gaps(windows: tuple[tuple[int, int], ...], horizon_min: int) -> list[tuple[int, int]]:
    """The spans between windows, from the start of access to the horizon."""
    gaps = []
    at = 0
    for start, end in sorted(windows):
        if start > at:
            gaps.append((at, start))
        at = max(at, end)
    if at < horizon_min:
        gaps.append((at, horizon_min))
    return gaps
