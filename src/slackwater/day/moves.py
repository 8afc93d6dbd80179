"""What to do when the day slips: the day as it stands now, and the ways out of it, ranked.

Urgent things for living animals come first, then whether catching goes on or stops, then keeping to the day as it is
planned again where that fits, then repairs by how little they disturb, then those that do not fit by the minutes over.
"""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime
from types import MappingProxyType

from slackwater.day.activities import CrewMember
from slackwater.day.assess import BookedDay
from slackwater.day.check import broken_rules
from slackwater.day.edits import REST, only_option, scaled, with_activity, without
from slackwater.day.hands import FewHands, RunningOn
from slackwater.day.model import ClockPiece, DayProblem, Event, Fixed, Schedule
from slackwater.day.problem import FILTER_CHOICE, FILTER_ON, SAFE_STATE, WAITING_BY_GROUP
from slackwater.day.progress import Facts, Work
from slackwater.day.repairs import HELPER_SPEED, LATEST_LATER_END_MIN, carpet_later
from slackwater.day.replan import AGAIN, OPEN_ENDED, Rest, changed_rest, replan, shifted
from slackwater.day.solve import Effort
from slackwater.day.version import LONGEST_PLANNED_MIN, Version, member_of, problem_of
from slackwater.day.when import Clockface
from slackwater.finding import Finding, Severity
from slackwater.frozen import Frozen
from slackwater.job.catalog import Catalog

ARRIVES_AFTER_MIN = 45
"""From the call to somebody on call at work; common practice, no source."""
RESERVE_MIN = 10
"""A repair that leaves less before closing is none; common practice, no source."""
SIMPLER_SHARE = 0.6
"""Minutes of stones, wood and joints when fewer are set; common practice, no source."""
ACCEPTED_LOSS_SHARE = 0.05
"""Share of a species that may be left in the old tank where nothing else was agreed; common practice, no source."""
FISH_CATCH, REST_CATCH = "E5", "E6"
SOIL_OUT, PEROXIDE, EPIPHYTES, CARPET, DRIP, LET_GO = "E12", "E14", "E21", "E22", "E27", "E28"
WASTE_OUT = "E29"
HARDSCAPE = ("E17", "E18", "E19")
IN_SOIL = "in substrate"
ORDER = (
    "keep",
    "no_day",
    "person",
    "carpet_later",
    "person_and_carpet",
    "epiphytes_later",
    "simpler_hardscape",
    "filter_on_barrel",
    "board_the_rest",
    "safe_overnight",
    "person_and_safe_overnight",
    "later_end",
    "later_end_key",
    "few_hands",
)
"""From the least disturbance of what was agreed to the most; common practice, no source."""
URGENT = (
    "air_back",
    "mend_filter",
    "look_in_old_soil",
    "fresh_peroxide",
    "call_hands",
    "call_hands_late",
    "call_hands_at_once",
)
"""What is done first whatever the way for the day; a way comes behind it."""
SOMEBODY = "somebody"
HELPED = "helped"
"""The day with somebody who is not named: asked for to know by when help must come, and no way that is offered."""
QUICK = Effort(excess=0.06, finish=0.06, exposure=0.0, tidy=0.0)
"""Effort for each move: many are asked for at once, and a finish a few minutes off ranks them all the same."""


@dataclass(frozen=True)
class CatchLeft:
    """What the counts of the passes say of a species.

    Attributes
    ----------
    total, left : float
        Most likely number before the first pass, and still there; infinite where the counts do not fall.
    high : float
        Upper end of the total's range; infinite where the counts fall too little to tell.
    minutes_for_most : float or None
        Minutes of more passes until nine tenths of those left are caught; None where that cannot be said.
    """

    total: float
    left: float
    high: float
    minutes_for_most: float | None


class EntryNow(Frozen):
    """One activity or break of the day as it stands."""

    activity: str
    label: str
    start: datetime
    end: datetime
    start_min: int
    end_min: int
    crew: tuple[str, ...]
    hold_point: bool
    state: str
    """done, running or open."""


class ClockNow(Frozen):
    """A clock that runs or will run.

    Attributes
    ----------
    end : datetime or None
        None where nothing on this day stops it.
    left_min : int or None
        Minutes from now to its limit, for one that runs; negative when it is over.
    excess_min : int
        Minutes over its limit by the day as planned now.
    """

    clock: str
    what: str
    start: datetime
    latest: datetime
    end: datetime | None
    runs: bool
    left_min: int | None
    margin_min: int | None
    excess_min: int


class Moved(Frozen):
    """Open work that starts at another time than planned; None: not planned, or not done any more."""

    activity: str
    label: str
    old: datetime | None
    new: datetime | None


class Hours(Frozen):
    """A day from now on, hour by hour, with the clocks that have not stopped and what moved against the plan."""

    entries: tuple[EntryNow, ...]
    clocks: tuple[ClockNow, ...]
    moved: tuple[Moved, ...]


class Move(Frozen):
    """One thing that can be done now, and the day that it gives.

    Attributes
    ----------
    id : str
        Of its sentences: ``move.<id>`` and ``move_name.<id>``.
    way : str
        How its day was found, as of `Rest`.
    finish : datetime or None
        None where no day is found.
    first_clock : str
        The clock that breaks first; empty where all are kept.
    over_min : int or None
        Minutes after closing and over clocks together; None where no day is found.
    """

    id: str
    way: str
    values: Mapping[str, float | str] = {}
    finish: datetime | None
    margin_min: int | None
    first_clock: str
    over_min: int | None
    fits: bool
    hours: Hours
    broken_rules: tuple[str, ...] = ()
    """What the independent checker found wrong with its day; anything here is a defect of the tool."""


class Replanned(Frozen):
    """The first thing to do, the way for the rest of the day, and what else could be done.

    Attributes
    ----------
    moves : tuple of Move
        Best first.
    """

    now: datetime
    opens: datetime
    closes: datetime
    moves: tuple[Move, ...]
    findings: tuple[Finding, ...]

    @property
    def first(self) -> str:
        """Id of the first thing to do."""
        return self.moves[0].id

    @property
    def urgent(self) -> tuple[Move, ...]:
        """What is done before anything else, whatever the way for the day."""
        return tuple(move for move in self.moves if move.id in URGENT)

    @property
    def advised(self) -> Move:
        """The way for the rest of the day: its hours are those to go by."""
        return next(move for move in self.moves if move.id not in URGENT)

    @property
    def broken_rules(self) -> tuple[str, ...]:
        """What the independent checker found wrong with the day to go by."""
        return self.advised.broken_rules


@dataclass(frozen=True)
class _Version:
    """A version of the rest of the day that is to be solved."""

    problem: DayProblem
    facts: Facts
    values: Mapping[str, float | str]


def replanned(
    booked: BookedDay,
    facts: Facts,
    *,
    left: Mapping[str, CatchLeft] | None = None,
    effort: Effort = AGAIN,
    quick: Effort = QUICK,
) -> Replanned:
    """The day planned again from what has happened, and every way out of it.

    Parameters
    ----------
    booked : BookedDay
        The day as it was planned.
    facts : Facts
        What has happened, and the minute.
    left : mapping
        Species id to what its counts say.
    effort, quick : Effort
        For the day itself and for each move.
    """
    return _Replanner(booked, facts, left or {}, effort, quick).answer()


def rest_of_day(booked: BookedDay, facts: Facts, *, effort: Effort = AGAIN) -> Rest:
    """The rest of the day by itself, without the moves."""
    day = booked.day
    less = [without(booked.problem, [CARPET, EPIPHYTES]), *_safe(day, facts.work)]
    return replan(booked.problem, booked.schedule, facts, lift_users=_lift_users(day), less=less, effort=effort)


def _lift_users(day: Version) -> frozenset[str]:
    """Work whose loads go by the building's lift: carrying in and carrying out."""
    if day.job.site.route is None or day.job.site.lift is None:
        return frozenset()
    rows = day.catalog.activities.values()
    return frozenset(row.id for row in rows if row.zone == "route" and "lift" in row.tags)


def _safe(day: Version, begun: Collection[str]) -> tuple[DayProblem, ...]:
    """The day up to the safe overnight state, and whatever else has begun; none where it cannot be worked."""
    problem = problem_of(day, SAFE_STATE | frozenset(begun))
    return (problem,) if isinstance(problem, DayProblem) else ()


class _Replanner:
    def __init__(
        self, booked: BookedDay, facts: Facts, left: Mapping[str, CatchLeft], effort: Effort, quick: Effort
    ) -> None:
        self.booked, self.facts, self.left, self.effort, self.quick = booked, facts, left, effort, quick
        self.day, self.face, self.catalog = booked.day, booked.day.face, booked.day.catalog
        self.closes_min = booked.day.closes_min
        self.lift_users = _lift_users(booked.day)
        leaves = booked.day.job.site.key_holder_leaves
        self.leaves_min = None if leaves is None else self.face.minute(leaves)
        self.last_min = self.closes_min if self.leaves_min is None else min(self.closes_min, self.leaves_min)

    def answer(self) -> Replanned:
        rest = rest_of_day(self.booked, self.facts, effort=self.effort)
        versions = self._versions(rest)
        # The solver leaves Python's lock while it works; each answer depends on its own question and seed only.
        with ThreadPoolExecutor(max_workers=2) as pool:
            asked = {
                name: pool.submit(
                    changed_rest,
                    version.problem,
                    self.booked.schedule,
                    version.facts,
                    near=rest.schedule,
                    lift_users=self.lift_users,
                    effort=self.quick,
                )
                for name, version in versions.items()
            }
            rests = {name: asked[name].result() for name in versions}
        helped = rests.pop(HELPED, None) or rests.get("person_and_safe_overnight") or rests.get("person")
        moves = {name: self._move(name, found, versions[name].values) for name, found in rests.items()}
        as_left = "few_hands" if rest.hands is not None else "no_day" if rest.way == "none" else "keep"
        kept = self._move(as_left, rest, {})
        moves[kept.id] = kept
        late = max(0, -(kept.margin_min or 0))
        if late and kept.id == "keep":
            later = self._later_end(kept, rest, late)
            moves[later.id] = later
        ranked = self._ranked(moves, kept, rest, helped)
        return Replanned(
            now=self.face.moment(self.facts.now_min),
            opens=self.face.moment(0),
            closes=self.face.moment(self.closes_min),
            moves=ranked,
            findings=(
                *missing_findings(self.facts, rest, self.catalog, self.face),
                *self._labelled(rest.findings),
                *self._of_hands(rest, ranked),
                *self._of_the_way(ranked),
                *self._of_filters(),
            ),
        )

    # What may be done ---------------------------------------------------------------------------------------------

    def _versions(self, rest: Rest) -> Mapping[str, _Version]:
        facts, booked, day = self.facts, self.booked, self.day
        # What has begun by the facts or by the plan.
        begun = {item.activity.removesuffix(REST): item for item in rest.standing.problem.fixed}
        found: dict[str, _Version] = {}

        def add(
            name: str,
            problem: DayProblem | None,
            values: Mapping[str, float | str] = MappingProxyType({}),
            changed: Facts = facts,
        ) -> None:
            if problem is not None:
                found[name] = _Version(problem, changed, values)

        def of(version: Version | None, only: frozenset[str] | None = None) -> DayProblem | None:
            problem = None if version is None else problem_of(version, only)
            return problem if isinstance(problem, DayProblem) else None

        for name, changed, values in self._catching(begun, rest):
            add(name, booked.problem, values, changed)
        helper = self._helper()
        with_helper = None if helper is None else replace(day, crew=[*day.crew, helper])
        who: dict[str, float | str] = {"person": helper.id, "arrives": self._hm(helper.windows[0][0])} if helper else {}
        add("person", of(with_helper), who)
        if helper is None and rest.hands is not None:
            open_to_safe = LET_GO in {activity.id for activity in booked.problem.activities} and LET_GO not in begun
            kept_work = SAFE_STATE | frozenset(begun) if open_to_safe else None
            add(HELPED, of(replace(day, crew=[*day.crew, self._somebody()]), kept_work))
        if CARPET not in begun:
            carpet = carpet_later(day)
            add("carpet_later", None if carpet is None else of(carpet.day))
            if carpet is not None and helper is not None:
                add("person_and_carpet", of(replace(carpet.day, crew=[*day.crew, helper])), who)
        there = {activity.id for activity in booked.problem.activities}
        if EPIPHYTES in there and EPIPHYTES not in begun:
            add("epiphytes_later", without(booked.problem, [EPIPHYTES]))
        open_hardscape = [name for name in HARDSCAPE if name in there and name not in begun]
        if open_hardscape:
            simpler = booked.problem
            for activity in booked.problem.activities:
                if activity.id in open_hardscape:
                    simpler = with_activity(simpler, activity.id, scaled(activity.modes, SIMPLER_SHARE))
            add("simpler_hardscape", simpler)
        options = {option.id for choice in booked.problem.choices for option in choice.options}
        barrel = "running_on_barrel"
        if barrel in options and rest.schedule.options.get(FILTER_CHOICE) != barrel and FILTER_ON not in begun:
            add("filter_on_barrel", only_option(booked.problem, FILTER_CHOICE, barrel))
        if DRIP in there and DRIP not in begun and not booked.animals_wait:
            add("board_the_rest", without(booked.problem, [DRIP]))
        if LET_GO in there and LET_GO not in begun:
            kept = SAFE_STATE | frozenset(begun)
            add("safe_overnight", of(day, kept))
            add("person_and_safe_overnight", of(with_helper, kept), who)
        return found

    def _helper(self) -> CrewMember | None:
        """The first on call who can still come, from when they can be there."""
        gone = {away.what for away in self.facts.gone}
        here = {member.id for member in self.day.crew}
        arrives = self.facts.now_min + ARRIVES_AFTER_MIN
        for person in self.day.job.people or ():
            if not person.on_call or person.id in gone | here:
                continue
            member = member_of(person, self.face, self.closes_min)
            windows = tuple((max(start, arrives), end) for start, end in member.windows if end > arrives)
            if windows:
                has_room = member.break_until - max(member.break_from, windows[0][0]) >= member.break_min
                return replace(
                    member,
                    windows=windows,
                    break_min=member.break_min if has_room else 0,
                    break_from=max(member.break_from, windows[0][0]),
                )
        return None

    def _somebody(self) -> CrewMember:
        """Anybody who can be fetched, as soon as anybody can be there."""
        arrives = self.facts.now_min + ARRIVES_AFTER_MIN
        return CrewMember(SOMEBODY, HELPER_SPEED, {}, ((arrives, LONGEST_PLANNED_MIN),), 0, 0, 0)

    def _help_by(self, helped: Rest | None) -> int | None:
        """By when help must be there for its day still to end in time, about; None where no such day is found.

        All that is planned with help may begin later by what is left before closing, and by what is left of each clock
        that runs already when help comes.
        """
        if helped is None or helped.schedule.finish_min is None:
            return None
        helper = self._helper() or self._somebody()
        arrives = helper.windows[0][0]
        left = [
            piece.start + piece.limit_min - piece.end
            for piece in helped.schedule.pieces
            if piece.start < arrives < piece.end
        ]
        slack = min([self.last_min - RESERVE_MIN - helped.schedule.finish_min, *left])
        return arrives + slack if slack >= 0 else None

    def _catching(self, begun: Mapping[str, Fixed], rest: Rest) -> list[tuple[str, Facts, Mapping[str, float | str]]]:
        """Whether to stop catching, or to go on for longer than planned."""
        if SOIL_OUT in begun:
            return []
        now = self.facts.now_min
        catching = next(
            (begun[name] for name in (REST_CATCH, FISH_CATCH) if name in begun),
            None,
        )
        if catching is None:
            return []
        remaining = max(0, catching.end - now)
        kept = [animals.species for animals in self.day.job.livestock or () if animals.keep]
        fish = catching.activity == FISH_CATCH
        mine = [name for name in kept if (self.catalog.species[name].group == "fish") == fish]
        found: list[tuple[str, Facts, Mapping[str, float | str]]] = []
        if remaining and mine and all(name in self.left and self.left[name].left < 1 for name in mine):
            values: dict[str, float | str] = {
                "species": self._names(mine),
                "left": max(self.left[name].left for name in mine),
                "saved_min": remaining,
            }
            found.append(("stop_catching", self._ending(catching, now), values))
        worst = [
            (estimate.minutes_for_most or 0.0, name)
            for name, estimate in self.left.items()
            if name in kept
            and estimate.left >= 1
            and estimate.high < float("inf")
            and estimate.left > ACCEPTED_LOSS_SHARE * estimate.total
            and (estimate.minutes_for_most or 0.0) > remaining
        ]
        if worst:
            minutes, name = max(worst)
            values = {
                "species": self._names([name]),
                "left": self.left[name].left,
                "total": self.left[name].total,
                "catch_min": minutes,
            }
            found.append(("catch_on", self._ending(catching, now + round(minutes)), values))
        return found

    def _ending(self, catching: Fixed, end_min: int) -> Facts:
        """The facts with the catch over, or going on until then."""
        over = end_min <= self.facts.now_min
        work = Work(
            start_min=catching.start,
            end_min=max(catching.start, end_min) if over else None,
            remaining_until_min=None if over else end_min,
            crew=catching.crew,
        )
        return self.facts.model_copy(update={"work": {**self.facts.work, catching.activity: work}})

    def _names(self, species: list[str]) -> str:
        return ", ".join(self.catalog.species[name].common_name for name in species)

    def _urgent(self, begun: frozenset[str], kept: Move, soil: str) -> list[Move]:
        """What living animals need before anything else; the day that goes with each is the one planned again."""
        found: list[tuple[str, Mapping[str, float | str]]] = []
        if self.facts.without_air:
            found.append(("air_back", {"box": ", ".join(self.facts.without_air)}))
        if self.facts.broken:
            what = "; ".join(f"{name}: {part}" for name, part in self.facts.broken.items())
            found.append(("mend_filter", {"part": what}))
        in_soil = [
            item
            for item in self.facts.missing
            if soil != "out"
            and item.species in self.catalog.species
            and self.catalog.species[item.species].hides_in == IN_SOIL
        ]
        if in_soil:
            missing = ", ".join(f"{item.expected - item.caught} {self._names([item.species])}" for item in in_soil)
            found.append(("look_in_old_soil", {"missing": missing}))
        if any("peroxide" in item for item in self.facts.expired) and PEROXIDE not in begun:
            found.append(("fresh_peroxide", {}))
        return [kept.model_copy(update={"id": name, "values": {**kept.values, **values}}) for name, values in found]

    # Ranking ------------------------------------------------------------------------------------------------------

    def _move(self, name: str, rest: Rest, values: Mapping[str, float | str]) -> Move:
        schedule = rest.schedule
        finish = schedule.finish_min
        margin = None if finish is None else self.closes_min - finish
        broken = _first_to_break(schedule)
        over = None if finish is None else max(0, finish - self.last_min) + schedule.excess_min
        least = 0 if name in ("keep", "stop_catching", "catch_on") else RESERVE_MIN
        as_agreed = not rest.way.startswith(("less", "without", "few"))
        checked = finish is not None and rest.way != "without breaks" and not rest.way.startswith(("less", "few"))
        runs_out = self._runs_out(rest)
        broken_rules_of = broken_rules(rest.standing.problem, schedule, rules=OPEN_ENDED) if checked else ()
        return Move(
            id=name,
            values={
                **values,
                "finish": "" if finish is None else self._hm(finish),
                "margin_min": abs(margin or 0),
                "closes": self._hm(self.closes_min),
            },
            finish=None if finish is None else self.face.moment(finish),
            margin_min=margin,
            first_clock=self._what(broken.clock) if broken is not None else runs_out,
            # Work that is left out for want of people cannot be weighed against minutes.
            over_min=None if rest.hands is not None else over,
            fits=as_agreed and margin is not None and margin >= least and over == 0 and not runs_out,
            way=rest.way,
            hours=Hours(entries=self._entries(rest), clocks=self._clocks(rest), moved=self._moved(schedule)),
            broken_rules=tuple(f"{item.rule}: {item.what}" for item in broken_rules_of) + schedule.doubts,
        )

    def _runs_out(self, rest: Rest) -> str:
        """The first clock that this way leaves running and that runs out before its work is done; "" where none does."""
        finish = rest.schedule.finish_min
        running = self._running_on(rest.schedule) if finish is not None and rest.hands is None else []
        out = [item for item in running if finish is not None and item.latest < finish]
        return self._what(min(out, key=lambda item: item.latest).clock.id) if out else ""

    def _later_end(self, kept: Move, rest: Rest, late: int) -> Move:
        """The day as it stands to its end, past closing; never past the hour at which whoever locks up has to go."""
        finish, excess = rest.schedule.finish_min or 0, rest.schedule.excess_min
        # Until work beyond the safe overnight state begins, stopping there is still open.
        beyond = [
            item.start
            for item in rest.schedule.placed
            if item.activity.removesuffix(REST) not in SAFE_STATE and item.start >= self.facts.now_min
        ]
        values: dict[str, float | str] = {
            **kept.values,
            "late_min": late,
            "by": self._hm(min([*beyond, self.last_min])),
        }
        if self.leaves_min is not None and finish > self.leaves_min:
            values["leaves"] = self._hm(self.leaves_min)
            return kept.model_copy(update={"id": "later_end_key", "values": values, "fits": False})
        agreed = not kept.way.startswith(("less", "without"))
        fits = agreed and not excess and late <= LATEST_LATER_END_MIN
        return kept.model_copy(update={"id": "later_end", "values": values, "fits": fits})

    def _ranked(self, moves: Mapping[str, Move], kept: Move, rest: Rest, helped: Rest | None) -> tuple[Move, ...]:
        begun = frozenset(item.activity for item in rest.standing.problem.fixed)
        catching = [
            moves[name] for name in ("catch_on", "stop_catching") if name in moves and moves[name].finish is not None
        ]
        others = [moves[name] for name in ORDER if name in moves]
        fitting = [move for move in others if move.fits]
        # In their order where two are as far over.
        failing = sorted(
            (move for move in others if not move.fits),
            key=lambda move: (move.finish is None, float("inf") if move.over_min is None else move.over_min),
        )
        ways = (*catching, *fitting, *failing)
        call = () if "person" in ways[0].values or rest.hands is None else (self._call(kept, rest.hands, helped),)
        return (*self._urgent(begun, kept, _soil(rest, self.facts)), *call, *ways)

    def _call(self, kept: Move, hands: FewHands, helped: Rest | None) -> Move:
        """The call for more hands, where no way found has them already."""
        helper, by = self._helper(), self._help_by(helped)
        values: dict[str, float | str] = {
            "person": SOMEBODY if helper is None else helper.id,
            "work": self._named(hands.lacking),
            "arrives": self._hm((helper or self._somebody()).windows[0][0]),
        }
        name = "call_hands_at_once"
        if by is not None:
            name, values = "call_hands", {**values, "by": self._hm(by)}
        elif helped is not None and helped.schedule.finish_min is not None:
            name, values = "call_hands_late", {**values, "helped": self._hm(helped.schedule.finish_min)}
        return kept.model_copy(update={"id": name, "values": {**kept.values, **values}})

    # What is shown ------------------------------------------------------------------------------------------------

    def _hm(self, minute: int) -> str:
        return self.face.shown(minute)

    def _label(self, name: str) -> str:
        row = self.catalog.activities.get(name.removesuffix(REST))
        added = next((item.what for item in self.facts.added if item.id == name), "")
        label = row.activity if row is not None else added or name
        return f"{label} (the rest of it)" if name.endswith(REST) else label

    def _named(self, names: Sequence[str]) -> str:
        """Work by the first words of its name, with the number by which it is logged."""
        return "; ".join(f"{textwrap.shorten(self._label(name), 48, placeholder=' …')} ({name})" for name in names)

    def _entries(self, rest: Rest) -> tuple[EntryNow, ...]:
        facts = {item.activity: item for item in rest.standing.problem.fixed}
        now = self.facts.now_min
        found = []
        for item in rest.schedule.placed:
            row = self.catalog.activities.get(item.activity)
            found.append(
                EntryNow(
                    activity=item.activity,
                    label=self._label(item.activity),
                    start=self.face.moment(item.start),
                    end=self.face.moment(item.end),
                    start_min=item.start,
                    end_min=item.end,
                    crew=item.crew,
                    hold_point=row is not None and bool(row.hold_point),
                    state="open" if item.activity not in facts else "done" if item.end <= now else "running",
                )
            )
        for taken in rest.schedule.breaks:
            found.append(
                EntryNow(
                    activity=f"break:{taken.person}",
                    label="break",
                    start=self.face.moment(taken.start),
                    end=self.face.moment(taken.end),
                    start_min=taken.start,
                    end_min=taken.end,
                    crew=(taken.person,),
                    hold_point=False,
                    state="open" if taken.start >= now else "done" if taken.end <= now else "running",
                )
            )
        return tuple(sorted(found, key=lambda entry: (entry.start_min, entry.end_min, entry.activity)))

    def _what(self, clock: str) -> str:
        row = self.catalog.clocks.get(clock) or self.catalog.clocks["media.drained_damp"]
        return row.what

    def _clocks(self, rest: Rest) -> tuple[ClockNow, ...]:
        """Clocks that have not stopped, those that break first at the top."""
        now, schedule = self.facts.now_min, rest.schedule
        running_on = self._running_on(schedule) if rest.hands is None else rest.hands.running
        running = {item.clock.id for item in running_on}
        found = [
            ClockNow(
                clock=item.clock.id,
                what=self._what(item.clock.id),
                start=self.face.moment(item.start),
                latest=self.face.moment(item.latest),
                end=None,
                runs=item.start <= now,
                left_min=item.latest - now if item.start <= now else None,
                margin_min=None,
                excess_min=0,
            )
            for item in running_on
        ]
        for piece in sorted(schedule.pieces, key=lambda piece: (piece.start + piece.limit_min, piece.clock)):
            # Held on while the crew is there, the last stretch of a box's clock is one that runs on.
            if piece.end <= now or (piece.clock in running and piece.ends == Event(activity=FILTER_ON, side="end")):
                continue
            runs = piece.start <= now
            latest = piece.start + piece.limit_min
            found.append(
                ClockNow(
                    clock=piece.clock,
                    what=self._what(piece.clock),
                    start=self.face.moment(piece.start),
                    latest=self.face.moment(latest),
                    end=self.face.moment(piece.end),
                    runs=runs,
                    left_min=latest - now if runs else None,
                    margin_min=latest - piece.end,
                    excess_min=piece.excess_min,
                )
            )
        return tuple(sorted(found, key=lambda clock: (clock.latest, clock.clock)))

    def _running_on(self, schedule: Schedule) -> list[RunningOn]:
        """Clocks of the day as booked that this one starts and does not stop, such as of boxes that stay shut overnight."""
        when = {item.activity: item for item in schedule.placed}
        found = []
        for clock in self.booked.problem.clocks:
            choice, _, option = (clock.only_if or "").partition(".")
            begins = when.get(clock.starts.activity)
            if begins is None or clock.ends.activity in when or schedule.options.get(choice, "") != option:
                continue
            again = [when[name].end for name in clock.restarts if name in when]
            start = max([begins.start if clock.starts.side == "start" else begins.end, *again])
            found.append(RunningOn(clock=clock, start=start, latest=start + clock.piece_limit_min(len(again))))
        return found

    def _moved(self, schedule: Schedule) -> tuple[Moved, ...]:
        if schedule.finish_min is None:
            return ()
        starts = shifted(self.booked.schedule, schedule, now_min=self.facts.now_min)

        def moment(minute: int | None) -> datetime | None:
            return None if minute is None else self.face.moment(minute)

        return tuple(
            Moved(activity=name, label=self._label(name), old=moment(old), new=moment(new))
            for name, (old, new) in starts.items()
        )

    def _labelled(self, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
        """Findings of the facts with the names of their activities."""

        def named(value: float | str) -> float | str:
            names = str(value).split(", ")
            return self._named(names) if set(names) <= set(self.catalog.activities) else value

        return tuple(
            item.model_copy(
                update={
                    "values": {
                        key: named(value) if key in ("what", "before") else value for key, value in item.values.items()
                    }
                }
            )
            for item in findings
        )

    def _of_hands(self, rest: Rest, ranked: Sequence[Move]) -> tuple[Finding, ...]:
        """What takes more people than are left; and, where that is the way to go by, what that leaves open."""
        if rest.hands is None:
            return ()
        hands, now = rest.hands, self.facts.now_min
        people = [person.id for person in rest.standing.problem.people if any(end > now for _, end in person.windows)]

        found = [
            _finding(
                "few_hands",
                Severity.MISFIT,
                work=self._named(hands.lacking),
                people=" and ".join(people) or "nobody",
            )
        ]
        if next(move.id for move in ranked if move.id not in URGENT) != "few_hands":
            return tuple(found)
        if hands.waiting:
            found.append(_finding("few_hands_waiting", Severity.CONDITION, work=self._named(hands.waiting)))
        if hands.opening:
            found.append(_finding("few_hands_not_begun", Severity.CONDITION, work=self._named(hands.opening)))
        if hands.running:
            clocks = ", ".join(f"{self._what(item.clock.id)} until {self._hm(item.latest)}" for item in hands.running)
            found.append(_finding("few_hands_clocks", Severity.CONDITION, clocks=clocks))
        return tuple(found)

    def _of_filters(self) -> tuple[Finding, ...]:
        """The filters of which nothing is told, where another one is broken."""
        names = [item.name for item in self.day.job.filters or () if item.name]
        whole = [name for name in names if not any(name in subject.split() for subject in self.facts.broken)]
        if not self.facts.broken or not whole or len(whole) == len(names):
            return ()
        return (_finding("other_filters", Severity.CONDITION, filters=", ".join(whole)),)

    def _of_the_way(self, ranked: Sequence[Move]) -> tuple[Finding, ...]:
        """What the day to go by gives up."""
        ids = {
            "least relaxation": "day.replan_over_hard_limits",
            "without breaks": "day.replan_without_breaks",
            "less work 1": "day.replan_less_planting",
            "less work 2": "day.replan_safe_state_only",
            "none": "day.replan_none",
        }
        advised = next(move for move in ranked if move.id not in URGENT)
        found = []
        if advised.way in ids:
            severity = Severity.MISFIT if advised.way == "none" else Severity.CONDITION
            found.append(Finding(id=ids[advised.way], severity=severity))
        waits = [
            clock
            for clock in advised.hours.clocks
            if clock.end is None and clock.clock.partition(".")[0] in WAITING_BY_GROUP.values()
        ]
        if waits and advised.id.endswith("safe_overnight"):
            first = min(waits, key=lambda clock: clock.latest)
            due = self._hm(self.face.minute(first.latest.replace(tzinfo=None)))
            found.append(_finding("boxes_run_on", Severity.CONDITION, due=due, what=first.what))
        return tuple(found)


def _soil(rest: Rest, facts: Facts) -> str:
    """Whether the old soil is still there: in, leaving or out."""
    problem = rest.standing.problem
    begun = next((item for item in problem.fixed if item.activity == SOIL_OUT), None)
    if begun is None:
        return "in"
    interrupted = any(activity.id == SOIL_OUT + REST for activity in problem.activities)
    return "leaving" if begun.end > facts.now_min or interrupted else "out"


def missing_findings(facts: Facts, rest: Rest, catalog: Catalog, face: Clockface) -> list[Finding]:
    """Animals that were expected and not caught, by species: where to look, and before what."""
    soil = _soil(rest, facts)
    starts = {item.activity: face.shown(item.start) for item in rest.schedule.placed}
    before = WASTE_OUT if soil == "out" else SOIL_OUT
    name = {"in": "missing_in_tank", "leaving": "missing_soil_leaving", "out": "missing_in_waste"}[soil]
    found = []
    for item in facts.missing:
        row = catalog.species.get(item.species)
        values: dict[str, float | str] = {
            "count": item.expected - item.caught,
            "caught": item.caught,
            "expected": item.expected,
            "species": item.species if row is None else row.common_name,
            "hides": "not known" if row is None else row.hides_in,
            "before": f"{catalog.activities[before].activity} ({before})" if before in catalog.activities else before,
            "time": starts.get(before, "no time yet"),
        }
        found.append(Finding(id=f"day.{name}", severity=Severity.CONDITION, about=item.species, values=values))
    return found


def _first_to_break(schedule: Schedule) -> ClockPiece | None:
    over = [piece for piece in schedule.pieces if piece.excess_min]
    return min(over, key=lambda piece: piece.start + piece.limit_min, default=None)


def _finding(name: str, severity: Severity, **values: str) -> Finding:
    return Finding(id=f"day.{name}", severity=severity, values=values)
