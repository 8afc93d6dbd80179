"""What the crew follows when minutes turn out otherwise: the order of a plan without most of its clock times.

Events are counted: element ``i`` starts with event ``2 i`` and ends with event ``2 i + 1``; the elements are the placed
activities, then the placed breaks.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

from slackwater.day.model import ClockPiece, DayProblem, Event, Interval, Lag, Mode, Placed, PlacedBreak, Schedule
from slackwater.day.pieces import clock_pieces
from slackwater.frozen import Frozen

Arc = tuple[int, int]
"""Event that comes before, and the minutes that must lie between."""
Wait = tuple[Event, int, tuple[float, float]]
"""A wait that may take other minutes than planned: from which event, planned minutes, the least and the most [min]."""


class Gate(Frozen):
    """Progress that a clock waits for: ``opener`` starts its clock only when ``after`` is done."""

    clock: str
    opener: str
    after: str
    adds_a_wait: bool
    """False where the order of the plan has the opener wait for it anyhow."""


@dataclass(frozen=True)
class Policy:
    """The order of a plan, ready to be replayed with other minutes.

    Attributes
    ----------
    activities : tuple of str
        The first elements, in the order of the schedule; columns of the minutes to replay.
    planned_min, planned_start : tuple of int
        Of each element: minutes, and start [min].
    arcs : tuple of tuple of Arc
        For each event, the events that it waits for.
    order : tuple of int
        Events such that each comes after those it waits for; also the order of their planned times.
    not_before : tuple of int
        Earliest start of each element [min].
    shut_starts : tuple of tuple of spans
        Of each element, open spans in which it is not started, because its planned minutes would reach into hours
        that are shut for it; in ascending order, not overlapping.
    shut : tuple of tuple of spans
        Of each element, the hours in which one of its crew is away or its noise is forbidden.
    pieces : tuple of ClockPiece
        Spans of the running clocks, with their planned times.
    waits : tuple of Wait
        What may take other minutes than planned, beside the activities; columns of the waits to replay.
    waiting : mapping of (int, int) to int
        Arcs, by their two events, whose minutes are those of a wait.
    """

    activities: tuple[str, ...]
    planned_min: tuple[int, ...]
    planned_start: tuple[int, ...]
    arcs: tuple[tuple[Arc, ...], ...]
    order: tuple[int, ...]
    not_before: tuple[int, ...]
    shut_starts: tuple[tuple[Interval, ...], ...]
    shut: tuple[tuple[Interval, ...], ...]
    pieces: tuple[ClockPiece, ...]
    waits: tuple[Wait, ...] = ()
    waiting: Mapping[tuple[int, int], int] = field(default_factory=dict)

    def event(self, event: Event) -> int:
        """The number of an activity's start or end."""
        return 2 * self.activities.index(event.activity) + (event.side == "end")

    def planned_at(self, event: int) -> int:
        """Planned time of an event [min]."""
        element, side = divmod(event, 2)
        return self.planned_start[element] + side * self.planned_min[element]


def policy_of(problem: DayProblem, schedule: Schedule) -> Policy:
    """The order of a plan: who does what after what, at which places, between which hours.

    Parameters
    ----------
    problem, schedule : DayProblem, Schedule
        The question and its answer; the answer keeps the rules of order.

    Returns
    -------
    Policy
        Replayed with the planned minutes it gives the plan's times exactly.

    Raises
    ------
    ValueError
        If the schedule contradicts the order it is meant to have; the message names the two events.

    Notes
    -----
    People, tools and places are handed on unit by unit in the planned order. Of the free units an activity takes those
    handed on by something it waits for anyhow, then those nobody has used, then those free longest: each choice in
    turn adds the least to what a delay can reach.

    An activity that starts a clock, or starts it afresh, never starts before its planned time: doing it as soon as
    possible would spend the clock on waiting. An activity or break that the plan starts later than its order asks for
    does not start earlier either: the plan had a reason that the order does not show (a clock that is opened late, a
    longer span elsewhere), and the day sheet prints that time.

    Whether work still fits before hours that are shut is decided by its planned minutes, for nobody knows the real ones
    beforehand. Where a person does not come back they stay; the replay shows it, and the odds count it as not kept.
    What hangs on the end of an activity (a wait, something handed over into a barrel that is not free yet) holds back
    that end: crew and places go on being used until then.
    """
    elements: list[Placed | PlacedBreak] = [*schedule.placed, *schedule.breaks]
    at = [time for item in elements for time in (item.start, item.end)]
    index = {item.activity: position for position, item in enumerate(schedule.placed)}

    def number(event: Event) -> int:
        return 2 * index[event.activity] + (event.side == "end")

    pieces = clock_pieces(problem, schedule.placed, schedule.options)
    links = _links(problem, schedule, index)
    restarts = {(clock.id, name) for clock in problem.clocks for name in clock.restarts}
    for piece in pieces:
        if (piece.clock, piece.starts.activity) in restarts or (piece.clock, piece.ends.activity) in restarts:
            links.append((number(piece.starts), number(piece.ends), 0))
    held = [item for item in problem.holds if _placed(index, *item.events)]
    links += [(number(item.starts), number(item.ends), 0) for item in held if item.ends is not None]
    for source, target, lag in links:
        if at[target] < at[source] + lag:
            raise ValueError(f"{_name(elements, target)} comes too soon after {_name(elements, source)}")
    arcs = _Arcs(at, links)
    order = arcs.order
    for person in problem.people:
        uses = [
            (2 * place, 2 * place + 1, 1)
            for place, item in enumerate(elements)
            if (person.id in item.crew if isinstance(item, Placed) else item.person == person.id)
        ]
        arcs.hand_on(uses, capacity=1)
    modes = {item.activity: _mode(problem, item) for item in schedule.placed}
    for resource in problem.resources:
        uses = [
            (2 * index[name], 2 * index[name] + 1, mode.resources.get(resource.id, 0)) for name, mode in modes.items()
        ]
        uses += [
            (number(item.starts), order[-1] if item.ends is None else number(item.ends), item.amount)
            for item in held
            if item.resource == resource.id
        ]
        arcs.hand_on(uses, capacity=resource.capacity)
    shut = [_shut(problem, item, modes[item.activity]) if isinstance(item, Placed) else () for item in elements]
    shut_starts = [
        _shut_starts(spans, item.end - item.start, item.start, problem.horizon_min)
        for spans, item in zip(shut, elements, strict=True)
    ]
    openers = {piece.starts.activity for piece in pieces}
    not_before = [
        item.start if isinstance(item, Placed) and item.activity in openers else _earliest(problem, item)
        for item in elements
    ]
    kept = arcs.without_detours()
    for event in order:
        element, side = divmod(event, 2)
        if not side:
            ready = max([not_before[element], *(at[source] + lag for source, lag in kept[event])])
            if after_shut_hours(ready, shut_starts[element]) < at[event]:
                not_before[element] = at[event]
    waits = waits_of(problem)
    waiting = {
        (number(lag.a), number(lag.b)): waits.index(wait)
        for lag in problem.lags
        if (wait := wait_of_lag(lag)) is not None
        and _placed(index, lag.a, lag.b)
        and (number(lag.a), lag.minimum) in kept[number(lag.b)]
    }
    return Policy(
        activities=tuple(item.activity for item in schedule.placed),
        planned_min=tuple(item.end - item.start for item in elements),
        planned_start=tuple(item.start for item in elements),
        arcs=kept,
        order=order,
        not_before=tuple(not_before),
        shut_starts=tuple(shut_starts),
        shut=tuple(shut),
        pieces=pieces,
        waits=waits,
        waiting=waiting,
    )


def wait_of_lag(lag: Lag) -> Wait | None:
    """The wait behind a lag; None where its minutes are kept by the watch."""
    return None if lag.spread is None else (lag.a, lag.minimum, lag.spread)


def waits_of(problem: DayProblem) -> tuple[Wait, ...]:
    """The waits of a day that may take other minutes than planned, each once, in the order of the problem."""
    return tuple(dict.fromkeys(wait for lag in problem.lags if (wait := wait_of_lag(lag)) is not None))


def progress_gates(policy: Policy, problem: DayProblem) -> tuple[Gate, ...]:
    """What each clock opener should wait for: the last planned step towards its closing that ends before it opens.

    A step that the opener does not wait for anyhow goes before one that it does, for only the former changes a late
    day. A restart has no gate: it ends one span as it starts another. Neither has an opener with nothing before it.
    """
    before = _before(policy.order, policy.arcs)
    position = {event: place for place, event in enumerate(policy.order)}
    gates = []
    for clock in problem.clocks:
        mine = [piece for piece in policy.pieces if piece.clock == clock.id]
        if not mine:
            continue
        opener = policy.event(Event(activity=mine[0].starts.activity, side="start"))
        closing = policy.event(mine[-1].ends)
        steps = [
            end
            for end in range(1, 2 * len(policy.activities), 2)
            if before[closing] >> end & 1 and position[end] < position[opener]
        ]
        if steps:
            adding = [end for end in steps if not before[opener] >> end & 1]
            last = max(adding or steps, key=lambda end: (policy.planned_at(end), position[end]))
            gates.append(
                Gate(
                    clock=clock.id,
                    opener=mine[0].starts.activity,
                    after=policy.activities[last // 2],
                    adds_a_wait=bool(adding),
                )
            )
    return tuple(gates)


def gated(policy: Policy, gates: Sequence[Gate]) -> Policy:
    """The same order in which clock openers also wait for progress; none starts before its planned time."""
    arcs = [list(sources) for sources in policy.arcs]
    for gate in gates:
        opener = policy.event(Event(activity=gate.opener, side="start"))
        arcs[opener].append((policy.event(Event(activity=gate.after, side="end")), 0))
    return replace(policy, arcs=tuple(tuple(dict.fromkeys(sources)) for sources in arcs))


def order_among(policy: Policy, names: Collection[str]) -> tuple[tuple[str, str], ...]:
    """Which of some activities wait for which, directly or through others; what follows from two such is left out.

    Parameters
    ----------
    policy : Policy
        The order of a plan.
    names : collection of str
        Activities to keep; one that is not placed is left out.

    Returns
    -------
    tuple of (str, str)
        Pairs of what comes before and what waits for it, in the order of the plan.
    """
    before = _before(policy.order, policy.arcs)
    kept = [element for element, name in enumerate(policy.activities) if name in names]
    waits = {
        (a, b) for a in kept for b in kept if a != b and any(before[2 * b + side] >> (2 * a + 1) & 1 for side in (0, 1))
    }
    return tuple(
        (policy.activities[a], policy.activities[b])
        for a, b in sorted(waits)
        if not any((a, c) in waits and (c, b) in waits for c in kept)
    )


def after_shut_hours(start: int, shut_starts: Sequence[Interval]) -> int:
    """The start itself, or the end of the span in which it may not lie [min]."""
    for left, right in shut_starts:
        if left < start < right:
            start = right
    return start


def _placed(index: Mapping[str, int], *events: Event) -> bool:
    return all(event.activity in index for event in events)


def _name(elements: Sequence[Placed | PlacedBreak], event: int) -> str:
    item = elements[event // 2]
    what = item.activity if isinstance(item, Placed) else f"the break of {item.person}"
    return f"the {'end' if event % 2 else 'start'} of {what}"


def _mode(problem: DayProblem, item: Placed) -> Mode:
    return next(
        mode
        for activity in problem.activities
        if activity.id == item.activity
        for mode in activity.modes
        if mode.id == item.mode
    )


def _links(problem: DayProblem, schedule: Schedule, index: Mapping[str, int]) -> list[tuple[int, int, int]]:
    """Order and minimum waits between what is done, straight through optional work that is left out."""
    after = {activity.id: activity.after for activity in problem.activities}

    def before(name: str) -> set[str]:
        found: set[str] = set()
        for other in after[name]:
            found |= {other} if other in index else before(other)
        return found

    links = [(2 * index[other] + 1, 2 * index[name], 0) for name in index for other in sorted(before(name))]
    for lag in problem.lags:
        # A negative wait is a limit the other way round; what is done as soon as possible cannot be held to one.
        if lag.minimum >= 0 and _placed(index, lag.a, lag.b):
            source, target = (2 * index[event.activity] + (event.side == "end") for event in (lag.a, lag.b))
            links.append((source, target, lag.minimum))
    return links


def _earliest(problem: DayProblem, item: Placed | PlacedBreak) -> int:
    if isinstance(item, PlacedBreak):
        # Breaks of one person may be alike; the one that the plan put into a break's span is that break.
        spans = [
            rest.earliest
            for person in problem.people
            for rest in person.rests
            if person.id == item.person
            and rest.minutes == item.end - item.start
            and rest.earliest <= item.start
            and item.end <= rest.latest_end
        ]
        return max(spans, default=item.start)
    return min(0, item.start)


def _shut(problem: DayProblem, item: Placed, mode: Mode) -> tuple[Interval, ...]:
    spans = [span for blackout in problem.blackouts if blackout.tag in mode.tags for span in blackout.spans]
    spans += [
        span
        for outage in problem.outages
        if mode.resources.get(outage.resource, 0) > outage.capacity
        for span in outage.spans
    ]
    for person in problem.people:
        if person.id in item.crew:
            here = 0
            for start, end in sorted(person.windows):
                if start > here:
                    spans.append((here, start))
                here = max(here, end)
            if here < problem.horizon_min:
                spans.append((here, problem.horizon_min))
    return tuple(sorted(spans))


def _shut_starts(shut: Sequence[Interval], minutes: int, planned_start: int, horizon_min: int) -> tuple[Interval, ...]:
    """Open spans of starts from which the planned minutes would reach into shut hours that end one day.

    A span in which the plan itself starts is left out: a rule that the plan was not asked to keep.
    """
    merged: list[Interval] = []
    for left, right in sorted((left - minutes, right) for left, right in shut if right < horizon_min):
        if merged and left < merged[-1][1]:
            merged[-1] = (merged[-1][0], max(right, merged[-1][1]))
        else:
            merged.append((left, right))
    return tuple((left, right) for left, right in merged if not left < planned_start < right)


def _before(order: Sequence[int], arcs: Sequence[Sequence[Arc]]) -> list[int]:
    """For each event the set of those that it waits for, directly or not, as bits."""
    before = [0] * len(order)
    for event in order:
        sources = [source for source, _ in arcs[event]] + ([event - 1] if event % 2 else [])
        for source in sources:
            before[event] |= before[source] | 1 << source
    return before


class _Arcs:
    """Events in the order of their planned times, and what each waits for, growing resource by resource."""

    def __init__(self, at: Sequence[int], links: Sequence[tuple[int, int, int]]) -> None:
        self.into: list[dict[int, int]] = [{} for _ in at]
        for source, target, lag in links:
            self.into[target][source] = max(lag, self.into[target].get(source, 0))
        self.order = self._ordered(at)
        self.position = {event: place for place, event in enumerate(self.order)}

    def _ordered(self, at: Sequence[int]) -> tuple[int, ...]:
        # At one moment things end before others start, so that what is handed on is free when it is taken.
        waiting = [set(sources) | ({event - 1} if event % 2 else set()) for event, sources in enumerate(self.into)]
        follows: list[list[int]] = [[] for _ in at]
        for event, sources in enumerate(waiting):
            for source in sources:
                follows[source].append(event)

        def key(event: int) -> tuple[int, int, int, int]:
            return (at[event], 1 - event % 2, at[event | 1], event)

        ready = [key(event) for event, sources in enumerate(waiting) if not sources]
        heapq.heapify(ready)
        order = []
        while ready:
            event = heapq.heappop(ready)[3]
            order.append(event)
            for other in follows[event]:
                waiting[other].discard(event)
                if not waiting[other]:
                    heapq.heappush(ready, key(other))
        if len(order) < len(at):
            raise ValueError("activities of no length wait for each other in a circle")
        return tuple(order)

    def hand_on(self, uses: Sequence[tuple[int, int, int]], *, capacity: int) -> None:
        """Arcs from who had each unit to who has it next; a use is its first event, its last, and its amount."""
        before = _before(self.order, [list(sources.items()) for sources in self.into])
        last: list[int | None] = [None] * capacity
        for first, until, amount in sorted(uses, key=lambda use: self.position[use[0]]):

            def preference(unit: int, first: int = first) -> tuple[int, int]:
                event = last[unit]
                if event is None:
                    return (1, 0)
                return (0 if before[first] >> event & 1 else 2, self.position[event])

            free = [
                unit for unit, event in enumerate(last) if event is None or self.position[event] < self.position[first]
            ]
            for unit in sorted(free, key=preference)[:amount]:
                event = last[unit]
                if event is not None:
                    self.into[first].setdefault(event, 0)
                last[unit] = until

    def without_detours(self) -> tuple[tuple[Arc, ...], ...]:
        """The arcs without those that say nothing beyond two others."""
        before = _before(self.order, [list(sources.items()) for sources in self.into])
        kept: list[tuple[Arc, ...]] = []
        for event, sources in enumerate(self.into):
            direct = set(sources) | ({event - 1} if event % 2 else set())
            kept.append(
                tuple(
                    (source, lag)
                    for source, lag in sorted(sources.items())
                    if lag or not any(before[other] >> source & 1 for other in direct if other != source)
                )
            )
        return tuple(kept)
