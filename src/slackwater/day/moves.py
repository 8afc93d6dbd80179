"""What to do when the day slips: the day as it stands now, and the ways out of it, ranked.

Urgent things for living animals come first, then whether catching goes on or stops, then keeping to the day as it is
planned again where that fits, then repairs by how little they disturb, then those that do not fit by the minutes over.
"""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime
from types import MappingProxyType

from slackwater.day.activities import CrewMember
from slackwater.day.assess import BookedDay
from slackwater.day.check import broken_rules
from slackwater.day.edits import REST, only_option, scaled, with_activity, without
from slackwater.day.model import ClockPiece, DayProblem, Fixed, Schedule
from slackwater.day.problem import FILTER_CHOICE, SAFE_STATE
from slackwater.day.progress import Facts, Work
from slackwater.day.repairs import LATEST_LATER_END_MIN, carpet_later
from slackwater.day.replan import AGAIN, OPEN_ENDED, Rest, changed_rest, replan, shifted
from slackwater.day.solve import Effort
from slackwater.day.version import Version, member_of, problem_of
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
SOIL_OUT, PEROXIDE, EPIPHYTES, CARPET, DRIP, LET_GO, FILTER_ON = "E12", "E14", "E21", "E22", "E27", "E28", "E25"
WASTE_OUT = "E29"
HARDSCAPE = ("E17", "E18", "E19")
IN_SOIL = "in substrate"
ORDER = (
    "keep",
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
)
"""From the least disturbance of what was agreed to the most; common practice, no source."""
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
    left_min : int or None
        Minutes from now to its limit, for one that runs; negative when it is over.
    excess_min : int
        Minutes over its limit by the day as planned now.
    """

    clock: str
    what: str
    start: datetime
    latest: datetime
    end: datetime
    runs: bool
    left_min: int | None
    margin_min: int
    excess_min: int


class Moved(Frozen):
    """Open work that starts at another time than planned; None: not planned, or not done any more."""

    activity: str
    label: str
    old: datetime | None
    new: datetime | None


class Move(Frozen):
    """One thing that can be done now, and the day that it gives.

    Attributes
    ----------
    id : str
        Of its sentences: ``move.<id>`` and ``move_name.<id>``.
    finish : datetime or None
        None where no day is found.
    first_clock : str
        The clock that breaks first; empty where all are kept.
    over_min : int or None
        Minutes after closing and over clocks together; None where no day is found.
    """

    id: str
    values: Mapping[str, float | str] = {}
    finish: datetime | None
    margin_min: int | None
    first_clock: str
    over_min: int | None
    fits: bool


class Replanned(Frozen):
    """The day from now on, the first thing to do, and what else could be done."""

    now: datetime
    opens: datetime
    closes: datetime
    way: str
    entries: tuple[EntryNow, ...]
    clocks: tuple[ClockNow, ...]
    finish: datetime | None
    margin_min: int | None
    first_clock: str
    moved: tuple[Moved, ...]
    first: str
    moves: tuple[Move, ...]
    findings: tuple[Finding, ...]
    broken_rules: tuple[str, ...] = ()
    """What the independent checker found wrong with the day shown; anything here is a defect of the tool."""


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
    less = [without(booked.problem, [CARPET, EPIPHYTES]), _safe(booked.problem, facts)]
    return replan(booked.problem, booked.schedule, facts, lift_users=_lift_users(day), less=less, effort=effort)


def _lift_users(day: Version) -> frozenset[str]:
    """Work whose loads go by the building's lift: carrying in and carrying out."""
    if day.job.site.route is None or day.job.site.lift is None:
        return frozenset()
    rows = day.catalog.activities.values()
    return frozenset(row.id for row in rows if row.zone == "route" and "lift" in row.tags)


def _safe(problem: DayProblem, facts: Facts) -> DayProblem:
    """The day up to the safe overnight state, and whatever else has begun."""
    kept = SAFE_STATE | set(facts.work) | {item.id for item in facts.added}
    return without(problem, [activity.id for activity in problem.activities if activity.id not in kept])


class _Replanner:
    def __init__(
        self, booked: BookedDay, facts: Facts, left: Mapping[str, CatchLeft], effort: Effort, quick: Effort
    ) -> None:
        self.booked, self.facts, self.left, self.effort, self.quick = booked, facts, left, effort, quick
        self.day, self.face, self.catalog = booked.day, booked.day.face, booked.day.catalog
        self.closes_min = booked.day.closes_min
        self.lift_users = _lift_users(booked.day)

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
            moves = {name: self._move(name, asked[name].result(), versions[name].values) for name in versions}
        kept = self._move("keep", rest, {})
        late = max(0, -(kept.margin_min or 0))
        moves["keep"] = kept
        moves["later_end"] = kept.model_copy(
            update={
                "id": "later_end",
                "values": {**kept.values, "late_min": late},
                "fits": kept.over_min == late and 0 < late <= LATEST_LATER_END_MIN,
            }
        )
        if not late:
            del moves["later_end"]
        ranked = self._ranked(moves, kept, rest)
        schedule = rest.schedule
        broken = (
            broken_rules(rest.standing.problem, schedule, rules=OPEN_ENDED)
            if schedule.finish_min is not None and rest.way != "without breaks" and not rest.way.startswith("less")
            else ()
        )
        return Replanned(
            now=self.face.moment(self.facts.now_min),
            opens=self.face.moment(0),
            closes=self.face.moment(self.closes_min),
            way=rest.way,
            entries=self._entries(rest),
            clocks=self._clocks(schedule),
            finish=kept.finish,
            margin_min=kept.margin_min,
            first_clock=kept.first_clock,
            moved=self._moved(schedule),
            first=ranked[0].id,
            moves=ranked,
            findings=(
                *missing_findings(self.facts, rest, self.catalog, self.face),
                *self._labelled(rest.findings),
                *self._of_the_way(rest),
            ),
            broken_rules=tuple(f"{item.rule}: {item.what}" for item in broken) + schedule.doubts,
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
        over = None if margin is None else max(0, -margin) + schedule.excess_min
        least = 0 if name in ("keep", "stop_catching", "catch_on") else RESERVE_MIN
        as_agreed = not rest.way.startswith(("less", "without"))
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
            first_clock="" if broken is None else self._what(broken),
            over_min=over,
            fits=as_agreed and margin is not None and margin >= least and over == 0,
        )

    def _ranked(self, moves: Mapping[str, Move], kept: Move, rest: Rest) -> tuple[Move, ...]:
        begun = frozenset(item.activity for item in rest.standing.problem.fixed)
        catching = [moves[name] for name in ("catch_on", "stop_catching") if name in moves]
        others = [moves[name] for name in ORDER if name in moves]
        fitting = [move for move in others if move.fits]
        # In their order where two are as far over.
        failing = sorted(
            (move for move in others if not move.fits),
            key=lambda move: float("inf") if move.over_min is None else move.over_min,
        )
        return (*self._urgent(begun, kept, _soil(rest, self.facts)), *catching, *fitting, *failing)

    # What is shown ------------------------------------------------------------------------------------------------

    def _hm(self, minute: int) -> str:
        return self.face.shown(minute)

    def _label(self, name: str) -> str:
        row = self.catalog.activities.get(name.removesuffix(REST))
        added = next((item.what for item in self.facts.added if item.id == name), "")
        label = row.activity if row is not None else added or name
        return f"{label} (the rest of it)" if name.endswith(REST) else label

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

    def _what(self, piece: ClockPiece) -> str:
        row = self.catalog.clocks.get(piece.clock) or self.catalog.clocks["media.drained_damp"]
        return row.what

    def _clocks(self, schedule: Schedule) -> tuple[ClockNow, ...]:
        """Clocks that have not stopped, those that break first at the top."""
        now = self.facts.now_min
        found = []
        for piece in sorted(schedule.pieces, key=lambda piece: (piece.start + piece.limit_min, piece.clock)):
            if piece.end <= now:
                continue
            runs = piece.start <= now
            latest = piece.start + piece.limit_min
            found.append(
                ClockNow(
                    clock=piece.clock,
                    what=self._what(piece),
                    start=self.face.moment(piece.start),
                    latest=self.face.moment(latest),
                    end=self.face.moment(piece.end),
                    runs=runs,
                    left_min=latest - now if runs else None,
                    margin_min=latest - piece.end,
                    excess_min=piece.excess_min,
                )
            )
        return tuple(found)

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
        return tuple(
            item.model_copy(update={"values": {**item.values, "what": f"{item.about} ({self._label(item.about)})"}})
            if item.about in self.catalog.activities
            else item
            for item in findings
        )

    def _of_the_way(self, rest: Rest) -> tuple[Finding, ...]:
        ids = {
            "least relaxation": "day.replan_over_hard_limits",
            "without breaks": "day.replan_without_breaks",
            "less work 1": "day.replan_less_planting",
            "less work 2": "day.replan_safe_state_only",
            "none": "day.replan_none",
        }
        if rest.way not in ids:
            return ()
        severity = Severity.MISFIT if rest.way == "none" else Severity.CONDITION
        return (Finding(id=ids[rest.way], severity=severity),)


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
            "before": f"{before} ({catalog.activities[before].activity})" if before in catalog.activities else before,
            "time": starts.get(before, "no time yet"),
        }
        found.append(Finding(id=f"day.{name}", severity=Severity.CONDITION, about=item.species, values=values))
    return found


def _first_to_break(schedule: Schedule) -> ClockPiece | None:
    over = [piece for piece in schedule.pieces if piece.excess_min]
    return min(over, key=lambda piece: piece.start + piece.limit_min, default=None)
