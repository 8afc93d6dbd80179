"""What would make a day fit: one change to it at a time, or two, each solved again; and the least that would have to give."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from slackwater.day.activities import CrewMember, Minutes, minutes_of
from slackwater.day.check import RULES, broken_rules, the_day_closes_in_time
from slackwater.day.drivers import Driver
from slackwater.day.halving import latest_half_changes
from slackwater.day.model import DayProblem, Schedule, Status
from slackwater.day.problem import (
    CLOCK_STATES,
    FILTER_CHOICE,
    FIRST_DAY,
    ON_BARREL,
    REFRESHES,
    SAFE_STATE,
    SECOND_DAY,
    WAITING_BY_GROUP,
)
from slackwater.day.report import entries_of
from slackwater.day.result import Entry, LeastOver, WhatIf
from slackwater.day.solve import Effort, least_relaxation
from slackwater.day.version import (
    LONGEST_PLANNED_MIN,
    Version,
    hm,
    hours,
    learned,
    member_of,
    problem_of,
    scaled,
    solved,
)
from slackwater.day.when import Clockface
from slackwater.finding import Finding, Severity

FIRST_LOOK = 0.06
"""Deterministic effort for the first look at a change; each begins from the day as booked, so little is enough."""
NEAR_MISS_MIN = 20
"""A change that misses by no more than this on the first look is looked at again, with all the effort of a question."""
LEAST_SHARE = 1 / 3
"""Work moved elsewhere that is less than this share of what is lacking is not asked about: it cannot do, nor help much."""
LATEST_LATER_END_MIN = 150
"""A house may agree to stay this much longer; beyond it is another day; common practice, no source."""
EARLIER_STARTS_MIN = (30, 60, 90)
"""A house may agree to open this much earlier; common practice, no source."""
HELPER_SPEED = 0.8
"""Pace of a helper nobody knows yet, against the lead's; common practice, no source."""
BENCH_SHARE = 0.3
"""Share of the epiphyte minutes left on site when they were fixed at the bench; common practice, no source."""
HARDSCAPE_READY_SHARE = 0.4
"""Share of the stone and wood minutes left on site when the groups come built; common practice, no source."""
DAY_MIN = 24 * 60
PLACES_AT_OPENING = 2
"""People who can work at one opening; common practice, no source."""
HARDSCAPE = ("E17", "E18", "E19")
ON_BARREL_VARIANT = "filter_on_barrel"
AGAINST = (Severity.MISSING, Severity.MISFIT, Severity.REFUSE)
"""What keeps a repair from fitting when a variant of the job adds it."""
NONE = Minutes(0, 0, 0)


@dataclass(frozen=True)
class Change:
    """A version of the day with one thing changed, what its sentence needs, and what it costs elsewhere.

    Attributes
    ----------
    work_min : float
        Minutes of work moved to the bench, the workshop or another visit.
    shift_min : int
        By how much earlier it starts: its minutes are so much more at the same wall time.
    laid_out_anew : bool
        Whether there are more people or places than before.
    price : callable
        What it costs by the firm's own rates, given the day it comes to; None where a rate is not known.
    lacks : tuple of str
        What has no price, by name, and is not in the cost.
    sizes : mapping of str to float
        By how much it changes what the rooms before the day reckon.
    adds : tuple of Finding
        What a variant of the job adds to the findings of the job as booked, or makes worse.
    """

    day: Version
    values: Mapping[str, float | str] = field(default_factory=dict)
    work_min: float = 0.0
    shift_min: int = 0
    laid_out_anew: bool = False
    price: Callable[[Schedule], float | None] = lambda _: None
    lacks: tuple[str, ...] = ()
    sizes: Mapping[str, float] = field(default_factory=dict)
    adds: tuple[Finding, ...] = ()


Apply = Callable[[Version], Change | None]
"""Makes one change to a version; None where there is nothing to change."""


def _minutes(day: Version, name: str) -> Minutes:
    return day.minutes.get(name, NONE)


def _less(day: Version, shares: Mapping[str, float]) -> Version:
    return replace(
        day, minutes={**day.minutes, **{name: scaled(_minutes(day, name), share) for name, share in shares.items()}}
    )


def _moved(day: Version, changed: Version, **values: float | str) -> Change | None:
    """Work done elsewhere, in the same minutes; None where there was none."""
    work = sum(_minutes(day, name).typical - _minutes(changed, name).typical for name in day.minutes)
    return Change(changed, values, work_min=work) if work > 0 else None


def epiphytes_at_bench(day: Version) -> Change | None:
    """Epiphytes fixed before the day."""
    return None if day.job.brief.epiphytes_at_bench else _moved(day, _less(day, {"E21": BENCH_SHARE}))


def hardscape_ready(day: Version) -> Change | None:
    """Stone and wood groups built and glued before the day."""
    return _moved(day, _less(day, dict.fromkeys(HARDSCAPE, HARDSCAPE_READY_SHARE)))


def carpet_later(day: Version) -> Change | None:
    """Carpet and foreground at the first visit."""
    row = day.catalog.activities["E22"]
    carpet = 0.0
    for planting in day.job.plants or ():
        plant = day.catalog.plants.get(planting.plant)
        if plant is not None and plant.position in ("carpet", "foreground") and plant.attach_to == "soil":
            carpet += planting.units * plant.portions_per_unit
    portions = day.drivers["soil_portions"].quantity
    if not carpet or portions is None or day.job.brief.carpet_later:
        return None
    driver = Driver(quantity=portions - carpet)
    less = replace(
        day,
        drivers={**day.drivers, "soil_portions": driver},
        minutes={**day.minutes, "E22": learned(minutes_of(row, driver), day.past.get("E22", ()))},
    )
    return _moved(day, less, portions=carpet)


def planting_later(day: Version) -> Change | None:
    """All planting in soil at the first visit."""
    return _moved(day, _less(day, {"E22": 0.0}), portions=day.drivers["soil_portions"].quantity or 0.0)


def one_more_person(day: Version) -> Change | None:
    """Somebody on call, or a helper nobody knows yet."""
    booked = {member.id for member in day.crew}
    on_call = [person for person in day.job.people or () if person.on_call and person.id not in booked]
    extra = [member for person in on_call if (member := member_of(person, day.face, day.closes_min)).windows]
    helper = (
        extra[0] if extra else CrewMember("one more helper", HELPER_SPEED, {}, ((0, LONGEST_PLANNED_MIN),), 0, 0, 0)
    )

    def price(schedule: Schedule) -> float | None:
        person = next((person for person in on_call if person.id == helper.id), None)
        if person is None or person.hourly_rate is None:
            return None
        here = min(helper.windows[0][1], schedule.finish_min or 0) - helper.windows[0][0]
        return float(person.hourly_rate) * max(person.minimum_hours, here / 60)

    return Change(replace(day, crew=[*day.crew, helper]), {"person": helper.id}, laid_out_anew=True, price=price)


def more_places(day: Version) -> Change | None:
    """Two more people at the tank, where another opening gives them room."""
    room = PLACES_AT_OPENING * len(day.job.tank.free_openings or ())
    places = min(room, day.work_places + PLACES_AT_OPENING)
    if places <= day.work_places or len(day.crew) < 3:
        return None
    return Change(replace(day, work_places=places), {"places": places}, laid_out_anew=True)


def earlier_start(late_min: int) -> Apply:
    """An earlier start: the least of the usual ones that is as long as the day is late, else the longest."""
    early = next((minutes for minutes in EARLIER_STARTS_MIN if minutes >= late_min), EARLIER_STARTS_MIN[-1])

    def apply(day: Version) -> Change | None:
        face = Clockface(day.face.moment(-early).replace(tzinfo=None), str(day.job.site.time_zone))
        closes = day.closes_min + early
        people = {person.id: person for person in day.job.people or ()}
        crew = [member_of(people[m.id], face, closes) if m.id in people else m for m in day.crew]
        return Change(
            replace(day, face=face, closes_min=closes, crew=crew),
            {"early_min": early, "opens": hm(face, 0)},
            shift_min=early,
            price=lambda _: wages(day, early),
        )

    return apply


def wages(day: Version, minutes: int) -> float | None:
    """What the booked crew costs for so long; None where a rate is not known."""
    people = [person for person in day.job.people or () if person.id in {member.id for member in day.crew}]
    rates = [person.hourly_rate for person in people if person.hourly_rate is not None]
    return float(sum(rates)) * minutes / 60 if len(rates) == len(day.crew) else None


def singles(late_min: int) -> Mapping[str, Apply]:
    """Single changes, smallest first."""
    return {
        "epiphytes_at_bench": epiphytes_at_bench,
        "hardscape_ready": hardscape_ready,
        "carpet_later": carpet_later,
        "earlier_start": earlier_start(late_min),
        "one_more_person": one_more_person,
        "more_places": more_places,
        "planting_later": planting_later,
    }


ORDER = (
    "epiphytes_at_bench",
    "filter_on_barrel",
    "hardscape_ready",
    "carpet_later",
    "earlier_start",
    "one_more_person",
    "more_places",
    "planting_later",
    "board_shrimp",
    "boarding",
    "part_rebuild",
)
"""Single changes to the day and variants of the job together, by how little they disturb what was agreed."""
LARGE = ("planting_later", "boarding", "part_rebuild")
"""Changes to what the client gets on the day; asked for only where no smaller one does."""
HELPS_ONLY: Mapping[str, str] = {"filter_on_barrel": "media", "board_shrimp": "shrimp_box"}
"""Variants that help one clock and nothing else: asked for only where that clock is over."""
PAIRS: Mapping[str, tuple[str, str]] = {
    "carpet_and_hardscape": ("carpet_later", "hardscape_ready"),
    "earlier_and_carpet": ("earlier_start", "carpet_later"),
    "person_and_carpet": ("one_more_person", "carpet_later"),
    "person_and_hardscape": ("one_more_person", "hardscape_ready"),
    "person_and_boarding": ("boarding", "one_more_person"),
    "person_and_part": ("part_rebuild", "one_more_person"),
    "planting_and_boarding": ("boarding", "planting_later"),
}
"""Pairs of changes that people would agree to together, smallest first; a variant of the job comes before what is changed
on its day."""
ALWAYS_ASKED = ("person_and_carpet",)
"""Asked even where one change does: with one alone such a day often ends to the minute."""


def both(one: Change, second: Apply) -> Change | None:
    """Two changes, one on top of the other."""
    two = second(one.day)
    if two is None:
        return None
    later = two

    def price(schedule: Schedule) -> float | None:
        prices = [change.price(schedule) for change in (one, later)]
        told = [value for value in prices if value is not None]
        return sum(told) if told else None

    return replace(
        one,
        day=two.day,
        values={**one.values, **two.values},
        work_min=one.work_min + two.work_min,
        shift_min=one.shift_min + two.shift_min,
        laid_out_anew=one.laid_out_anew or two.laid_out_anew,
        price=price,
        lacks=one.lacks + two.lacks,
    )


def _answer(name: str, change: Change, found: Schedule | None) -> WhatIf:
    """When the day then ends, against the closing time it then has.

    It fits where all clocks are kept too, nothing it adds stands against it, and the independent check finds no fault.
    """
    day = change.day
    end = None if found is None else found.finish_min
    margin = None if end is None else day.closes_min - end
    excess = 0 if found is None else found.excess_min
    return WhatIf(
        id=name,
        values={
            **change.values,
            "finish": "" if end is None else hm(day.face, end),
            "margin_min": abs(margin or 0),
            "closes": hm(day.face, day.closes_min),
        },
        finish=None if end is None else day.face.moment(end),
        margin_min=margin,
        over_min=excess,
        work_min=round(change.work_min),
        price=None if found is None else change.price(found),
        price_lacks=change.lacks,
        sizes=change.sizes,
        adds=change.adds,
        fits=margin is not None
        and margin >= 0
        and excess == 0
        and not any(finding.severity in AGAINST for finding in change.adds)
        and _checked(day, found),
        proved=False,
    )


def _checked(day: Version, found: Schedule | None) -> bool:
    problem = problem_of(day)
    rules = tuple(rule for rule in RULES if rule is not the_day_closes_in_time)
    return found is not None and not isinstance(problem, str) and not broken_rules(problem, found, rules=rules)


class _Asked(NamedTuple):
    answer: WhatIf
    schedule: Schedule | None


@dataclass(frozen=True)
class Repairs:
    """The menu of repairs, and what else is asked of a day that does not fit."""

    what_ifs: tuple[WhatIf, ...]
    safe_min: int | None
    """Earliest end of the safe overnight state."""
    first_day: tuple[Entry, ...]
    second_day: tuple[Entry, ...]
    least: LeastOver | None


def _clocks_over(schedule: Schedule) -> frozenset[str]:
    return frozenset(piece.clock.partition(".")[0] for piece in schedule.pieces if piece.excess_min)


def _helps(name: str, schedule: Schedule) -> bool:
    """Whether a variant can help at all: not one for a clock that is kept, nor one that the day has already."""
    if name == ON_BARREL_VARIANT and schedule.options.get(FILTER_CHOICE) == ON_BARREL:
        return False
    return name not in HELPS_ONLY or HELPS_ONLY[name] in _clocks_over(schedule)


def _changes(day: Version, applied: Mapping[str, Apply], over_min: int) -> Mapping[str, Change]:
    """Changes worth asking about: work moved elsewhere saves no more than its own minutes."""
    return {
        name: change
        for name, apply in applied.items()
        if (change := apply(day)) is not None and not 0 < change.work_min < LEAST_SHARE * over_min
    }


def repairs_of(
    day: Version,
    problem: DayProblem,
    schedule: Schedule,
    effort: Effort,
    pool: ThreadPoolExecutor,
    variants: Mapping[str, Apply] | None = None,
) -> Repairs:
    """Ask for every repair at once; the answers do not depend on the order in which they come.

    Parameters
    ----------
    day, problem, schedule : Version, DayProblem, Schedule
        The day as booked, which does not fit; its schedule is where each search begins.
    effort : Effort
        For each question.
    pool : ThreadPoolExecutor
        Where the questions are worked on.
    variants : mapping of str to callable, or None
        Variants of the job, each with its own day; run through the rooms before the day only if they are asked for.

    Notes
    -----
    Large changes are asked for where no smaller one does, and pairs where no single one does and the gains of both come to
    half of what is lacking.
    """
    part = replace(effort, finish=effort.finish / 2)
    saving = pool.submit(solved, day, part, FIRST_DAY, schedule)
    rest = second_day(day)
    resting = pool.submit(solved, rest, part, SECOND_DAY)
    lacking = max(0, (schedule.finish_min or 0) - day.closes_min)
    applied = {**singles(lacking), **{name: vary for name, vary in (variants or {}).items() if _helps(name, schedule)}}
    over = lacking + schedule.excess_min
    relaxing = pool.submit(least_relaxation, problem, effort=replace(effort, finish=min(effort.finish, FIRST_LOOK)))
    changes: dict[str, Change] = {}
    answers: dict[str, _Asked] = {}
    for wanted in (set(applied) - set(LARGE), set(LARGE)):
        if any(asked.answer.fits for asked in answers.values()):
            break
        round_of = _changes(day, {name: applied[name] for name in ORDER if name in applied and name in wanted}, over)
        near = {name: _shifted(schedule, change.shift_min) for name, change in round_of.items()}
        changes |= round_of
        answers |= _asked(round_of, near, effort, pool)
    single_does = any(asked.answer.fits for asked in answers.values())

    def gain(name: str) -> int:
        answer = answers[name].answer
        return 0 if answer.margin_min is None else over + answer.margin_min - answer.over_min

    paired: dict[str, Change] = {}
    begun: dict[str, Schedule] = {}
    for name, (first, second) in PAIRS.items():
        if {first, second} <= set(answers) and (
            name in ALWAYS_ASKED or (not single_does and gain(first) + gain(second) >= over / 2)
        ):
            change = both(changes[first], applied[second])
            if change is not None:
                paired[name] = change
                better = max(first, second, key=gain)
                begun[name] = _shifted(
                    answers[better].schedule or schedule, change.shift_min - changes[better].shift_min
                )
    safe, after = saving.result(), resting.result()
    return Repairs(
        what_ifs=(
            *(answers[name].answer for name in ORDER if name in answers),
            *(asked.answer for asked in _asked(paired, begun, effort, pool).values()),
            _later_end(day, schedule),
            _reserve_day(day, safe, None if after is None else after.finish_min),
        ),
        safe_min=_safe_min(safe),
        first_day=_entries(day, safe, FIRST_DAY),
        second_day=_entries(rest, after, SECOND_DAY) if _reserve(day) else (),
        least=_least(day, problem, schedule, relaxing.result()),
    )


def _asked(
    changes: Mapping[str, Change], near: Mapping[str, Schedule], effort: Effort, pool: ThreadPoolExecutor
) -> Mapping[str, _Asked]:
    """The answers to changes; near misses are looked at twice."""

    def ask(efforts: Mapping[str, Effort]) -> Mapping[str, _Asked]:
        asked = {
            name: pool.submit(solved, changes[name].day, effort, None, near[name]) for name, effort in efforts.items()
        }
        found = {name: future.result() for name, future in asked.items()}
        return {name: _Asked(_answer(name, changes[name], schedule), schedule) for name, schedule in found.items()}

    # Another pair of hands lets the whole day be laid out anew: there the day as booked is a poor place to begin.
    look = replace(effort, finish=min(effort.finish, FIRST_LOOK))
    first = ask({name: effort if change.laid_out_anew else look for name, change in changes.items()})
    missed = [
        name
        for name, (answer, _) in first.items()
        if not changes[name].laid_out_anew
        and not answer.fits
        and answer.margin_min is not None
        and answer.margin_min - answer.over_min >= -NEAR_MISS_MIN
    ]
    return {**first, **ask(dict.fromkeys(missed, effort))}


def _shifted(schedule: Schedule, minutes: int) -> Schedule:
    """The same day at the same wall times, seen from a start so much earlier."""
    placed = (
        item.model_copy(update={"start": item.start + minutes, "end": item.end + minutes}) for item in schedule.placed
    )
    return schedule.model_copy(update={"placed": tuple(placed)})


def _least(day: Version, problem: DayProblem, booked: Schedule, relaxed: Schedule) -> LeastOver | None:
    """The better of the least found and the day as booked, which is an answer too."""

    def total(schedule: Schedule) -> int:
        finish = problem.horizon_min if schedule.finish_min is None else schedule.finish_min
        return max(0, finish - problem.closes_min) + sum(piece.excess_min for piece in schedule.pieces)

    found = min(relaxed, booked, key=total)
    if found.finish_min is None:
        return None
    over: dict[str, int] = {}
    for piece in found.pieces:
        if piece.excess_min:
            row = day.catalog.clocks.get(piece.clock) or day.catalog.clocks["media.drained_damp"]
            over[row.what] = over.get(row.what, 0) + piece.excess_min
    return LeastOver(
        late_min=max(0, found.finish_min - problem.closes_min),
        over_min=over,
        proved=found is relaxed and found.status is Status.PROVED,
    )


def _later_end(day: Version, schedule: Schedule) -> WhatIf:
    """The day as it is, to its end: a repair only where clocks bear it and house and key holder might agree to it."""
    finish = schedule.finish_min or 0
    late = max(0, finish - day.closes_min)
    later = Change(replace(day, closes_min=finish), {"late_min": late}, price=lambda _: wages(day, late))
    leaves = day.job.site.key_holder_leaves
    if leaves is not None and finish > day.face.minute(leaves):
        values = {**later.values, "leaves": hm(day.face, day.face.minute(leaves))}
        return _answer("later_end_key", replace(later, values=values), schedule).model_copy(update={"fits": False})
    found = _answer("later_end", later, schedule)
    return found.model_copy(update={"fits": found.fits and late <= LATEST_LATER_END_MIN})


def _reserve(day: Version) -> Clockface | None:
    """The face of the day held in reserve, if one is agreed."""
    reserve = [window for window in day.job.site.windows or () if window.kind == "reserve"]
    return Clockface(reserve[0].start, str(day.job.site.time_zone)) if reserve else None


def second_day(day: Version) -> Version:
    """The same crew on the reserve day, or on a day of their own, from its first minute, with the hours of that day."""
    crew = [replace(member, windows=((0, LONGEST_PLANNED_MIN),), break_min=0) for member in day.crew]
    face = _reserve(day)
    if face is not None:
        return replace(day, crew=crew, face=face)
    # On a day nobody has named, nobody knows the quiet hours, the client's or the lift's.
    lift = day.job.site.lift and day.job.site.lift.model_copy(update={"out_of_order": ()})
    site = day.job.site.model_copy(update={"quiet": (), "client_here": None, "lift": lift})
    return replace(day, crew=crew, job=day.job.model_copy(update={"site": site}))


def _entries(day: Version, found: Schedule | None, only: frozenset[str]) -> tuple[Entry, ...]:
    problem = problem_of(day, only)
    if isinstance(problem, str) or found is None:
        return ()
    return entries_of(
        problem,
        found,
        catalog=day.catalog,
        face=day.face,
        drivers=day.drivers,
        minutes=day.minutes,
        closes_min=found.finish_min or 0,
        past_jobs={name: len(jobs) for name, jobs in day.past.items()},
        factors=day.factors,
    )


def _safe_min(first: Schedule | None) -> int | None:
    """When the first of two days has reached the safe overnight state; what comes after it is tidying up."""
    if first is None:
        return None
    return max((item.end for item in first.placed if item.activity in SAFE_STATE), default=0)


def _night_borne(day: Version, first: Schedule, again_min: int) -> bool:
    """Whether the boxes bear the hours with nobody there: half changed as planned before, and once more when leaving."""
    facts, leave = day.facts(), first.finish_min or 0
    when = {item.activity: item for item in first.placed}
    for name in set(WAITING_BY_GROUP.values()):
        row = day.catalog.clocks[f"{name}.{CLOCK_STATES[name]}"]
        opener = row.starts.partition(".")[0]
        if row.low_min is None or opener not in when or (facts.waiting is not None and name not in facts.waiting):
            continue
        since = when[opener].start
        planned = sorted(when[item].start - since for item in REFRESHES if item in when and when[item].start > since)
        if latest_half_changes(row.low_min, until=again_min - since, done=(*planned, leave - since)):
            return False
    return True


def _reserve_day(day: Version, first: Schedule | None, rest: int | None) -> WhatIf:
    """The work split at the safe overnight state: does each part fit its own span, and do the boxes bear the night?"""
    face, safe = day.face, _safe_min(first)
    reserve = [window for window in day.job.site.windows or () if window.kind == "reserve"]
    length = face.minute(reserve[0].end) - face.minute(reserve[0].start) if reserve else 0
    # A second day that nobody has named begins at the hour of the first.
    again = face.minute(reserve[0].start) if reserve else DAY_MIN
    in_time = (
        first is not None and rest is not None and (first.finish_min or 0) <= day.closes_min and not first.excess_min
    )
    name = "reserve_day_too_short"
    if in_time and (not reserve or (rest or 0) <= length):
        name = "reserve_day_fits" if reserve else "second_day"
        if first is not None and not _night_borne(day, first, again):
            name = "reserve_day_boarded"
    return WhatIf(
        id=name,
        values={
            "safe": "" if safe is None else hm(face, safe),
            "closes": hm(face, day.closes_min),
            "second_h": hours(rest),
            "reserve_h": hours(length),
        },
        finish=None if safe is None else face.moment(safe),
        margin_min=None if first is None else day.closes_min - (first.finish_min or 0),
        work_min=rest or 0,
        price=None if rest is None else wages(day, rest),
        fits=name in ("reserve_day_fits", "second_day"),
        proved=False,
    )
