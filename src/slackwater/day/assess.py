"""The day's stage of the pipeline: the day as booked, whether it fits, why not, and what would make it fit."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from slackwater.day.activities import Minutes, minutes_of, skills_lacking, wait_of
from slackwater.day.check import RULES, broken_rules, the_day_closes_in_time
from slackwater.day.contradictions import circle_of, clocks_too_short, most_min
from slackwater.day.drivers import Driver, RoomQuantities, driver_quantities
from slackwater.day.learning import PastJob, is_absurd
from slackwater.day.model import DayProblem, Schedule, Status
from slackwater.day.observed import planned_today
from slackwater.day.odds import day_risk, drops_of, mishaps_of, odds_figures, odds_findings
from slackwater.day.problem import FILTER_CHOICE, REFRESHES, SAFE_STATE
from slackwater.day.repairs import BENCH_SHARE, Apply, Change, Repairs, carpet_later, repairs_of
from slackwater.day.report import entries_of, held_of, spans_of
from slackwater.day.rests import LONG_DAY_MIN, LONGEST_STRETCH_MIN, USUAL_BREAKS_MIN, rested, tired
from slackwater.day.result import Conflict, DayResult, WhatIf
from slackwater.day.risk import choose_robust
from slackwater.day.solve import RESERVE_SHARE, Effort, OnProgress, Relaxed, can_fit, solve_each
from slackwater.day.version import Version, hm, hours, learned, member_of, problem_of, scaled, work_without_people
from slackwater.day.when import Clockface
from slackwater.day.why import smallest_conflict
from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Remedy, Severity
from slackwater.job.catalog import Catalog, ClockRow
from slackwater.job.model import Job
from slackwater.stage import Stage

RESERVES = (RESERVE_SHARE, 0.25)
"""Shares of the clocks' limits left unused, of days to choose among; which of them holds most often differs by job."""
ABOUT_HOURS = 0.3
"""Deterministic effort for asking whose hours alone are too short."""
RANKED_DAYS = 4000
LAST_TOLD = 8
"""So many past jobs are told one by one behind the minutes of an activity."""
LEARNED_BY = "log-normal, shrunk to the table, which counts as 4 jobs: Gelman et al. 2013, section 3.3"
BROUGHT_BACK = ("E27", "E28", *REFRESHES)
"""Work with animals that are let go on the day."""


def _idle(job: Job) -> tuple[str, ...]:
    """Work with animals that has nothing to do: none are kept, or none of them come back on the day."""
    if job.all_boarded:
        return BROUGHT_BACK
    nobody = job.livestock is not None and not any(animals.keep for animals in job.livestock)
    return ("E7", *BROUGHT_BACK) if nobody else ()


def past_jobs(job: Job, catalog: Catalog) -> Mapping[str, Sequence[PastJob]]:
    """Past jobs by activity of the table, those of the job file and those of the book.

    A row of the file that names a crew counts where one of it is booked; one of a day that the book tells as well counts
    once. What is a slip of the pen is left out (and told, `_absurd`).
    """
    booked = {person.id for person in job.people or () if not person.on_call}
    found: dict[str, list[PastJob]] = {}
    for row in job.past_jobs:
        if row.activity not in catalog.activities or is_absurd(row.actual_min, row.planned_min):
            continue
        if not row.crew or booked & set(row.crew):
            past = PastJob(planned_min=row.planned_min, actual_min=row.actual_min, on=row.date)
            found.setdefault(row.activity, []).append(past)
    told = {(row.activity, row.date) for row in job.past_jobs if row.date is not None}
    for done in catalog.experience.work:
        planned = planned_today(done, catalog)
        if planned is not None and (done.activity, done.on) not in told:
            past = PastJob(planned_min=planned, actual_min=done.actual_min, on=done.on)
            found.setdefault(done.activity, []).append(past)
    return found


def _absurd(job: Job, catalog: Catalog) -> list[Finding]:
    """Past jobs of the file that are a slip of the pen rather than a job."""
    return [
        _finding(
            "past_job_absurd",
            Severity.CONDITION,
            about=row.activity,
            what=catalog.activities[row.activity].activity,
            planned=f"{row.planned_min:g}",
            actual=f"{row.actual_min:g}",
        )
        for row in job.past_jobs
        if row.activity in catalog.activities and is_absurd(row.actual_min, row.planned_min)
    ]


def _minutes(
    job: Job, catalog: Catalog, drivers: Mapping[str, Driver], past: Mapping[str, Sequence[PastJob]]
) -> tuple[Mapping[str, Minutes], tuple[str, ...]]:
    """Minutes of each activity, or the facts that are missing."""
    lacks: list[str] = []
    minutes: dict[str, Minutes] = {}
    idle = _idle(job)
    for row in catalog.activities.values():
        if row.id in idle:
            minutes[row.id] = Minutes(0, 0, 0)
            continue
        driver = drivers[row.driver]
        if driver.quantity is None:
            lacks += driver.lacks
            continue
        minutes[row.id] = learned(minutes_of(row, driver), past.get(row.id, ()))
    if job.brief.epiphytes_at_bench and "E21" in minutes:
        minutes["E21"] = scaled(minutes["E21"], BENCH_SHARE)
    return minutes, tuple(dict.fromkeys(lacks))


def _booking_lacks(job: Job, work_places: int | None) -> tuple[str, ...]:
    """What was not said about when, where and by whom."""
    return tuple(
        name
        for name, there in (
            ("site.windows", any(window.kind == "day" for window in job.site.windows or ())),
            ("site.time_zone", job.site.time_zone is not None),
            ("people", any(not person.on_call for person in job.people or ())),
            ("tank.work_places", work_places is not None),
        )
        if not there
    )


ALL_ROOMS = RoomQuantities(
    inner_glass_m2=1,
    footprint_m2=1,
    net_l=1,
    refill_l=1,
    kept_water_l=1,
    boxes=1,
    acclimatise_steps=1,
    bags=1,
    carried_kg=1,
    waste_kg=1,
    old_soil_l=1,
)
"""As if every room before the day had its answer: what is lacking then is asked of the job by the day alone."""


def day_lacks(job: Job, catalog: Catalog) -> tuple[str, ...]:
    """Facts that the day itself waits for, apart from those of the rooms before it; nothing is solved."""
    rooms = ALL_ROOMS
    if job.old.soil_depth_m is None and job.old.soil_l is None:
        rooms = rooms.model_copy(update={"old_soil_l": None, "waste_kg": None})
    _, missing = _minutes(job, catalog, driver_quantities(job, catalog, rooms), {})
    return tuple(dict.fromkeys((*_booking_lacks(job, job.tank.work_places or 1), *missing)))


@dataclass(frozen=True)
class JobVariant:
    """A variant of the job, as the rooms before the day reckoned it; the day's own fields as of `assess_day`.

    Attributes
    ----------
    values : mapping
        What its sentence needs.
    sizes, adds, price, lacks
        As of `Change`.
    """

    job: Job
    catalog: Catalog
    rooms: RoomQuantities
    work_places: int | None
    values: Mapping[str, float | str]
    sizes: Mapping[str, float]
    adds: tuple[Finding, ...]
    price: float | None
    lacks: tuple[str, ...]


Variants = Mapping[str, Callable[[], JobVariant | None]]
"""By id; each is run through the rooms before the day when it is called, and None where it makes no sense."""


def _changed(variant: JobVariant | None, booked: Version) -> Change | None:
    """The day of a variant; None where it has none."""
    if variant is None:
        return None
    found = version_of(variant.job, variant.catalog, variant.rooms, work_places=variant.work_places)
    if isinstance(found, Stage):
        return None
    return Change(
        found.day,
        variant.values,
        sizes=variant.sizes,
        adds=(*variant.adds, *(told for told in _told(found.day) if told not in _told(booked))),
        price=lambda _: variant.price,
        lacks=variant.lacks,
    )


def _asking(vary: Callable[[], JobVariant | None]) -> Apply:
    return lambda booked: _changed(vary(), booked)


def _told(day: Version) -> list[Finding]:
    """What people must know to keep the rules of the house."""
    return [_finding(told.id, Severity.CONDITION, about=told.about, **told.values) for told in day.house.told]


@dataclass(frozen=True)
class SetUp:
    """The day as booked before it is solved, and what was found on the way."""

    day: Version
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class BookedDay:
    """The day as booked, solved with closing left open; and what was found on the way.

    Attributes
    ----------
    boxes : tuple of str or None
        Labels of the holding boxes; None where they are not known.
    animals_wait : bool
        No animal goes back on the day; the catalog of `day` then names the work with animals so.
    """

    day: Version
    problem: DayProblem
    schedule: Schedule
    findings: tuple[Finding, ...]
    boxes: tuple[str, ...] | None = None
    animals_wait: bool = False


def version_of(
    job: Job, catalog: Catalog, rooms: RoomQuantities, *, work_places: int | None
) -> SetUp | Stage[DayResult]:
    """The day as booked, not yet solved; parameters as of `assess_day`.

    Returns
    -------
    SetUp or Stage
        A stage without a result when facts are missing or there is no day to plan.
    """
    windows = [window for window in job.site.windows or () if window.kind == "day"]
    booked = [person for person in job.people or () if not person.on_call]
    drivers = driver_quantities(job, catalog, rooms)
    past = past_jobs(job, catalog)
    minutes, missing = _minutes(job, catalog, drivers, past)
    lacks = (*_booking_lacks(job, work_places), *missing)
    if lacks or not windows or job.site.time_zone is None or work_places is None:
        return Stage(result=None, lacks=tuple(dict.fromkeys(lacks)))

    window = windows[0]
    face = Clockface(window.start, job.site.time_zone)
    closes_min = face.minute(window.end)
    if closes_min <= 0:
        return Stage(
            result=None,
            findings=(_finding("window_empty", Severity.MISFIT, start=hm(face, 0), end=hm(face, closes_min)),),
        )
    findings: list[Finding] = [
        _finding("past_job_unknown", Severity.CONDITION, about=name, activity=name)
        for name in dict.fromkeys(row.activity for row in job.past_jobs)
        if name not in catalog.activities
    ]
    findings += _absurd(job, catalog)
    crew = []
    for person in booked:
        member = member_of(person, face, closes_min)
        if not member.windows:
            findings.append(_finding("person_never_here", Severity.MISFIT, about=person.id, person=person.id))
        else:
            crew.append(member)
        if person.break_min and not member.break_min:
            findings.append(_finding("break_without_room", Severity.CONDITION, about=person.id, person=person.id))
        elif min(member.break_until, closes_min) - member.break_from < member.break_min:
            findings.append(
                _finding(
                    "break_outside_hours",
                    Severity.CONDITION,
                    about=person.id,
                    person=person.id,
                    opens=hm(face, 0),
                    closes=hm(face, closes_min),
                    earliest=hm(face, member.break_from),
                )
            )
    waits = {row.id: wait for row in catalog.activities.values() if (wait := wait_of(row, drivers[row.driver]))}
    day = Version(job, catalog, face, drivers, minutes, crew, closes_min, work_places, rooms, waits, past)
    unskilled = _nobody_skilled(day)
    if unskilled:
        return Stage(result=None, findings=(*findings, *unskilled))
    circle = circle_of(catalog.activities)
    if circle:
        findings.append(_finding("circle", Severity.MISFIT, circle=" after ".join((*circle, circle[0]))))
        return Stage(result=None, findings=tuple(findings))
    findings += hours_findings(face, closes_min)
    return SetUp(day=day, findings=tuple(findings))


def booked_day(
    job: Job,
    catalog: Catalog,
    rooms: RoomQuantities,
    *,
    work_places: int | None,
    effort: Effort | None = None,
    on_progress: OnProgress = lambda _: None,
) -> BookedDay | Stage[DayResult]:
    """The day as booked, without the questions asked of it; parameters as of `assess_day`.

    Returns
    -------
    BookedDay or Stage
        A stage without a result when facts are missing or there is no day to plan.
    """
    effort = effort or Effort(seed=job.seed)
    set_up = version_of(job, catalog, rooms, work_places=work_places)
    if isinstance(set_up, Stage):
        return set_up
    day, findings = set_up.day, list(set_up.findings)
    problem = problem_of(day)
    if isinstance(problem, str):
        if problem == "people":
            findings += _too_few(day)
        elif problem == "places":
            findings.append(_finding("needs_two_places", Severity.MISFIT, places=day.work_places))
        else:
            findings.append(_finding("cannot_be_set_up", Severity.MISFIT, reason=problem))
        return Stage(result=None, findings=tuple(findings))

    on_progress("planning the day")
    reserves = RESERVES if effort.exposure else RESERVES[:1]
    found = solve_each(problem, reserves, effort=effort, relaxed=Relaxed(closing=True), on_progress=on_progress)
    schedule = found[0]
    if schedule.finish_min is None:
        early = _who_leaves_too_early(problem, effort)
        findings += [_finding("person_leaves_too_early", Severity.MISFIT, about=name, person=name) for name in early]
        if not early:
            findings.append(_finding("no_day_found", Severity.MISFIT))
        return Stage(result=None, findings=tuple(findings))
    findings += _too_short(day, problem)
    if len(found) > 1:
        schedule = found[_most_robust(day, problem, found)]
    problem, schedule = rested(problem, schedule, _limits(day), effort)
    return BookedDay(day=day, problem=problem, schedule=schedule, findings=tuple(findings))


def assess_day(
    job: Job,
    catalog: Catalog,
    rooms: RoomQuantities,
    *,
    work_places: int | None,
    effort: Effort | None = None,
    variants: Variants | None = None,
    on_progress: OnProgress = lambda _: None,
) -> Stage[DayResult]:
    """Plan the day.

    Parameters
    ----------
    job, catalog : Job, Catalog
        What is known.
    rooms : RoomQuantities
        What tank, layout, water and supply have computed.
    work_places : int or None
        People who can work at the tank at the same time.
    effort : Effort or None
        Solver effort in deterministic time.
    variants : mapping of str to callable, or None
        Variants of the job to ask for where the day as booked does not fit.
    on_progress : callable
        Told what is being solved.

    Returns
    -------
    Stage of DayResult
        Without a result when facts are missing or there is no day to plan; findings and `lacks` then say why.
    """
    effort = effort or Effort(seed=job.seed)
    booked = booked_day(job, catalog, rooms, work_places=work_places, effort=effort, on_progress=on_progress)
    if isinstance(booked, Stage):
        return booked
    applied = {name: _asking(vary) for name, vary in (variants or {}).items()}
    return _assessed(booked.day, booked.problem, booked.schedule, list(booked.findings), effort, applied, on_progress)


def _most_robust(day: Version, problem: DayProblem, found: Sequence[Schedule]) -> int:
    """Which of days that finish equally early holds most often; its odds are told on other days than it is chosen by."""
    choice = choose_robust(
        problem,
        found,
        day.minutes,
        mishaps_of(day.job, day.catalog, people=len(day.crew)),
        rank_seed=day.job.seed + 1,
        report_seed=day.job.seed,
        days=RANKED_DAYS,
    )
    return choice.chosen


def _too_few(day: Version) -> list[Finding]:
    """Work for more people than there are; work for two is told in one."""
    rows = [day.catalog.activities[name] for name in work_without_people(day)]
    found = [
        _finding(
            "needs_more", Severity.MISFIT, about=row.id, work=row.activity, needs=row.people_min, people=len(day.crew)
        )
        for row in rows
        if row.people_min > 2
    ]
    if any(row.people_min <= 2 for row in rows):
        found.append(_finding("needs_two", Severity.MISFIT, people=len(day.crew)))
    return found


def hours_findings(face: Clockface, closes_min: int) -> list[Finding]:
    """What people misread in the hours of access: another date at the end, and clocks that are changed between."""
    start, end = face.moment(0), face.moment(closes_min)
    found = []
    if start.date() != end.date():
        found.append(_finding("crosses_midnight", Severity.NOTE, start=_day_and_time(start), end=_day_and_time(end)))
    ahead = (end.utcoffset() or timedelta()) - (start.utcoffset() or timedelta())
    if ahead:
        found.append(
            _finding(
                "clocks_change",
                Severity.CONDITION,
                way="forward" if ahead > timedelta() else "back",
                by_min=abs(ahead.total_seconds()) / 60,
                real_h=hours(closes_min),
            )
        )
    return found


def _day_and_time(moment: datetime) -> str:
    return f"{moment:%a %d %b %H:%M}"


def _too_short(day: Version, problem: DayProblem) -> list[Finding]:
    found = []
    for clock_id, chain in clocks_too_short(problem).items():
        clock = next(clock for clock in problem.clocks if clock.id == clock_id)
        most = most_min(problem, clock)
        # Of waits alone no work lies between.
        names = chain.activities or (clock.starts.activity, clock.ends.activity)
        found.append(
            Finding(
                id="day.clock_too_short",
                severity=Severity.MISFIT,
                about=clock_id,
                values={
                    "what": day.catalog.clocks[clock_id].what,
                    "limit_h": most / 60,
                    "chain_h": chain.minutes / 60,
                    "over_min": chain.minutes - most,
                    "count": len(chain.activities),
                    "first": day.catalog.activities[names[0]].activity,
                    "last": day.catalog.activities[names[-1]].activity,
                },
                margin=most - chain.minutes,
                margin_unit="min",
            )
        )
    return found


def _breaks(day: Version, problem: DayProblem, schedule: Schedule) -> list[Finding]:
    """Breaks that the job does not book and the day needs."""
    found = []
    limits = _limits(day)
    for name, (start, end) in tired(problem, schedule, limits).items():
        found.append(
            Finding(
                id="day.break_needed",
                severity=Severity.CONDITION,
                about=name,
                values={
                    "person": name,
                    "start": hm(day.face, start),
                    "end": hm(day.face, end),
                    "stretch_h": (end - start) / 60,
                    "limit_h": limits[name] / 60,
                    "due": hm(day.face, start + limits[name]),
                },
                margin=limits[name] - (end - start),
                margin_unit="min",
            )
        )
    for member in day.crew:
        work = [item for item in schedule.placed if member.id in item.crew]
        here = max((item.end for item in work), default=0) - min((item.start for item in work), default=0)
        if here > LONG_DAY_MIN and member.break_min < USUAL_BREAKS_MIN:
            found.append(
                _finding(
                    "short_break_usual",
                    Severity.NOTE,
                    about=member.id,
                    person=member.id,
                    here_h=here / 60,
                    booked_min=member.break_min,
                    usual_min=USUAL_BREAKS_MIN,
                )
            )
    return found


def _limits(day: Version) -> dict[str, int]:
    return {member.id: member.longest_stretch_min or LONGEST_STRETCH_MIN for member in day.crew}


def _nobody_skilled(day: Version) -> list[Finding]:
    """Work that asks for a skill which nobody of the crew has."""
    return [
        _finding("nobody_skilled", Severity.MISFIT, about=row.id, work=row.activity, skill=", ".join(sorted(lacking)))
        for row in day.catalog.activities.values()
        if row.id in day.minutes and day.minutes[row.id].typical > 0 and (lacking := skills_lacking(row, day.crew))
    ]


def _who_leaves_too_early(problem: DayProblem, effort: Effort) -> tuple[str, ...]:
    """People whose hours alone keep any day from being done, however long it may take."""
    everything = frozenset(clock.id for clock in problem.clocks)
    return tuple(
        person.id
        for person in problem.people
        if can_fit(
            problem,
            seconds=ABOUT_HOURS,
            seed=effort.seed,
            relaxed=Relaxed(closing=True, clocks=everything, absences=frozenset({person.id})),
        )
        is Status.BEST_FOUND
    )


def _assessed(
    day: Version,
    problem: DayProblem,
    schedule: Schedule,
    findings: list[Finding],
    effort: Effort,
    variants: Mapping[str, Apply],
    on_progress: OnProgress,
) -> Stage[DayResult]:
    face, catalog = day.face, day.catalog
    finish = schedule.finish_min or 0
    margin = day.closes_min - finish
    fits = margin >= 0 and schedule.excess_min == 0
    broken = broken_rules(
        problem, schedule, rules=tuple(rule for rule in RULES if margin >= 0 or rule is not the_day_closes_in_time)
    )
    quick = replace(
        effort, excess=min(effort.excess, effort.why), finish=min(effort.finish, effort.why), exposure=0.0, tidy=0.0
    )
    safe = None
    repairs: Repairs | None = None
    conflicts: tuple[Conflict, ...] = ()
    what_ifs: tuple[WhatIf, ...] = ()
    if not fits and effort.why > 0:
        on_progress("asking why it does not fit, and what would make it fit")
        # The solver leaves Python's lock while it works, so two questions at a time use two cores; each answer depends
        # on its own question and seed only, not on the order in which they finish.
        with ThreadPoolExecutor(max_workers=2) as pool:
            conflicting = pool.submit(smallest_conflict, problem, seconds=effort.why, seed=effort.seed)
            repairs = repairs_of(day, problem, schedule, quick, pool, variants)
            safe, what_ifs = repairs.safe_min, repairs.what_ifs
            conflicts = tuple(_conflict(rule, day) for rule in conflicting.result().rules)
    on_progress("playing the day through")
    risk = day_risk(
        problem,
        schedule,
        spans=day.minutes,
        mishaps=mishaps_of(day.job, catalog, people=len(day.crew)),
        catalog=catalog,
        face=face,
        seed=day.job.seed,
    )

    filter_state = schedule.options.get(FILTER_CHOICE)
    off = {item.activity: item for item in schedule.placed}
    media_off = off["E25"].end - off["E8"].start if "E8" in off and "E25" in off else None
    spans = spans_of(schedule, catalog=catalog, face=face)
    person_minutes = {
        member.id: sum(item.end - item.start for item in schedule.placed if member.id in item.crew)
        for member in day.crew
    }
    result = DayResult(
        opens=face.moment(0),
        closes=face.moment(day.closes_min),
        entries=entries_of(
            problem,
            schedule,
            catalog=catalog,
            face=face,
            drivers=day.drivers,
            minutes=day.minutes,
            closes_min=day.closes_min,
            past_jobs={name: len(jobs) for name, jobs in day.past.items()},
            factors=day.factors,
        ),
        clocks=spans,
        finish=face.moment(finish),
        margin_min=margin,
        status=schedule.status,
        bound_min=schedule.bound_min,
        filter_state=filter_state,
        media_off_min=media_off,
        safe_state=None if safe is None else face.moment(safe),
        shown="as booked" if margin >= 0 else "open-ended",
        conflict=conflicts,
        what_ifs=what_ifs,
        least_over=repairs.least if repairs else None,
        first_day=repairs.first_day if repairs else (),
        second_day=repairs.second_day if repairs else (),
        person_minutes=person_minutes,
        risk=risk,
        drops=drops_of(problem, schedule, carpet_share=_carpet_share(day), spans=day.minutes),
        safe_planned=face.moment(max((off[name].end for name in SAFE_STATE if name in off), default=finish)),
        places={resource.id: resource.capacity for resource in problem.resources},
        held=held_of(problem, schedule, face=face),
        broken_rules=tuple(f"{item.rule}: {item.what}" for item in broken) + schedule.doubts,
    )
    findings += _findings(day, schedule, result, safe)
    findings += _breaks(day, problem, schedule)
    return Stage(
        result=result,
        figures=tuple(_figures(day, schedule, result)),
        findings=tuple(findings),
        assumed=tuple(_assumed(day, result)),
    )


def _conflict(rule: str, day: Version) -> Conflict:
    kind, _, name = rule.partition(":")
    values: dict[str, float | str] = {"name": name}
    if kind == "closing":
        values = {"closes": hm(day.face, day.closes_min)}
    elif kind == "clock":
        return clock_conflict(day.catalog.clocks.get(name) or day.catalog.clocks["media.drained_damp"])
    return Conflict(id=kind, values=values)


def clock_conflict(row: ClockRow) -> Conflict:
    """A clock among the rules that cannot be kept together, with its limit for each number of restarts."""
    values: dict[str, float | str] = {"what": row.what, "limit_h": (row.low_min or 0) / 60}
    if not row.restarted_low_min:
        return Conflict(id="clock", values=values)
    values |= {"once_h": row.restarted_low_min[0] / 60, "twice_h": row.restarted_low_min[-1] / 60}
    return Conflict(id="clock_restarted", values=values)


def _carpet_share(day: Version) -> float:
    """Share of the planting minutes that carpet and foreground take."""
    change = carpet_later(day)
    whole = day.minutes["E22"].typical if "E22" in day.minutes else 0.0
    return 0.0 if change is None or not whole else 1 - change.day.minutes["E22"].typical / whole


def _findings(day: Version, schedule: Schedule, result: DayResult, safe: int | None) -> list[Finding]:
    face = day.face
    finish = schedule.finish_min or 0
    found = _told(day)
    done = {item.activity for item in schedule.placed}
    found += [
        _finding("left_out", Severity.CONDITION, about=name, work=day.catalog.activities[name].activity)
        for name in day.job.brief.may_be_left_out
        if name in day.minutes and day.minutes[name].typical > 0 and name not in done
    ]
    found += [
        _finding("not_in_table", Severity.CONDITION, about=name, what=name)
        for name in day.job.brief.may_be_left_out
        if name not in day.catalog.activities
    ]
    found += _least_findings(result)
    fitting = [Remedy(id=f"day.{item.id}", values=item.values) for item in result.what_ifs if item.fits]
    if finish > day.closes_min:
        found.append(
            Finding(
                id="day.ends_late",
                severity=Severity.MISFIT,
                values={
                    "finish": hm(face, finish),
                    "closes": hm(face, day.closes_min),
                    "late_min": finish - day.closes_min,
                    "people": len(day.crew),
                },
                margin=day.closes_min - finish,
                margin_unit="min",
                remedies=tuple(fitting),
            )
        )
        if safe is not None and safe > day.closes_min:
            found.append(
                Finding(
                    id="day.safe_state_late",
                    severity=Severity.MISFIT,
                    values={
                        "safe": hm(face, safe),
                        "closes": hm(face, day.closes_min),
                        "late_min": safe - day.closes_min,
                    },
                    margin=day.closes_min - safe,
                    margin_unit="min",
                )
            )
    for span in result.clocks:
        if span.excess_min:
            found.append(
                Finding(
                    id="day.clock_over",
                    severity=Severity.MISFIT,
                    about=span.clock,
                    values={
                        "what": span.what,
                        "over_min": span.excess_min,
                        "limit_h": span.limit_min / 60,
                        "needs": span.needs,
                    },
                    margin=-span.excess_min,
                    margin_unit="min",
                    remedies=() if finish > day.closes_min else tuple(fitting),
                )
            )
    found += odds_findings(result.risk, finish_min=finish, closes_min=day.closes_min, face=face)
    when = {item.activity: item for item in schedule.placed}
    if result.filter_state == "running_on_barrel":
        damp = day.catalog.clocks["media.drained_damp"]
        found.append(
            Finding(
                id="day.filter_on_barrel",
                severity=Severity.NOTE,
                values={
                    "damp_h": hours(result.media_off_min),
                    "limit_h": (damp.low_min or 0) / 60,
                    "stop_h": (damp.high_min or 0) / 60,
                },
            )
        )
    elif result.filter_state == "drained_damp":
        found.append(
            Finding(id="day.filter_damp", severity=Severity.CONDITION, values={"damp_h": hours(result.media_off_min)})
        )
    refreshes = [when[name] for name in REFRESHES if name in when]
    if refreshes:
        found.append(
            Finding(
                id="day.refresh_boxes",
                severity=Severity.CONDITION,
                values={"rounds": len(refreshes), "times": " and ".join(hm(face, item.start) for item in refreshes)},
            )
        )
    if "E12" in when and when["E12"].mode.endswith(" quiet"):
        extra = (when["E12"].end - when["E12"].start) * (1 - 1 / 1.6)
        found.append(Finding(id="day.quiet_mode", severity=Severity.CONDITION, values={"extra_min": extra}))
    leaves = day.job.site.key_holder_leaves
    if leaves is not None and finish > face.minute(leaves):
        found.append(
            Finding(
                id="day.key_holder_gone",
                severity=Severity.MISFIT,
                values={"finish": hm(face, finish), "leaves": hm(face, face.minute(leaves))},
                margin=face.minute(leaves) - finish,
                margin_unit="min",
            )
        )
    seen = day.job.site.seen_from
    if seen is not None and finish > face.minute(seen):
        found.append(
            Finding(
                id="day.seen_before_done",
                severity=Severity.CONDITION,
                values={"finish": hm(face, finish), "seen": hm(face, face.minute(seen))},
                margin=face.minute(seen) - finish,
                margin_unit="min",
            )
        )
    if result.broken_rules:
        found.append(
            Finding(id="day.check_failed", severity=Severity.MISFIT, values={"rules": "; ".join(result.broken_rules)})
        )
    return found


def _least_findings(result: DayResult) -> list[Finding]:
    """The least that would have to give, in words."""
    least = result.least_over
    if least is None or not (least.late_min or least.over_min):
        return []
    name = "least_both" if least.late_min and least.over_min else "least_late" if least.late_min else "least_clocks"
    over = ", ".join(f"{what} {minutes} min over" for what, minutes in least.over_min.items())
    return [_finding(name, Severity.NOTE, late_min=least.late_min, over=over)]


def _figures(day: Version, schedule: Schedule, result: DayResult) -> list[Figure]:
    minutes_source = (
        "activity table: fixed and per-unit minutes, common practice and from memory; replace with own records"
    )
    figures = [
        Figure(
            id="day.finish_min",
            value=float(schedule.finish_min or 0),
            unit="min",
            low=None if schedule.bound_min is None else float(schedule.bound_min),
            high=float(max(schedule.finish_min or 0, result.risk.as_planned.finish_p95_min)),
            formula="earliest end of all activities under order, people, places, quiet hours and clocks; low is what is proved that no day can beat, high what 95 of 100 simulated days do not exceed",
            source=minutes_source,
            inputs={"people": ", ".join(member.id for member in day.crew), "work_places": day.work_places},
        ),
        *odds_figures(result.risk),
    ]
    for name in sorted(day.minutes):
        span, row = day.minutes[name], day.catalog.activities[name]
        quantity, past = day.drivers[row.driver].quantity, day.past.get(name, ())
        if span.typical > 0 and quantity is not None:
            figures.append(
                Figure(
                    id=f"day.minutes.{name}",
                    value=round(span.typical, 1),
                    unit="min",
                    low=round(span.low, 1),
                    high=round(span.high, 1),
                    formula=f"fixed {row.fixed_typ:g} + {row.per_unit_typ:g} x {row.driver}, {row.nominal_people} people at speed 1.0"
                    + (f", times {day.factors.get(name, 1.0):.3g} of past jobs ({LEARNED_BY})" if past else ""),
                    source=row.source_kind,
                    inputs={
                        row.driver: round(quantity, 3),
                        "jobs_behind_it": len(past),
                        **(_learned_inputs(day, name, minutes_of(row, day.drivers[row.driver])) if past else {}),
                    },
                )
            )
    return figures


def _learned_inputs(day: Version, name: str, catalog: Minutes) -> Mapping[str, float | str]:
    """What is told of the past jobs behind an activity's minutes: the catalog's own, the factor, the last few of them."""
    past = day.past[name]
    return {
        "catalog_min": round(catalog.typical, 1),
        "learned_factor": round(day.factors.get(name, 1.0), 3),
        "last_jobs": "; ".join(
            f"{'' if one.on is None else f'{one.on}: '}{one.actual_min:.0f} of {one.planned_min:.0f} min"
            for one in past[-LAST_TOLD:]
        ),
    }


def _taken_as(row: ClockRow) -> str:
    if row.kind == "minimum":
        return f"at least {row.low_min} min"
    pieces = (
        f"; each stretch with {number} half change{'s' * (number > 1)} at most {limit} min"
        for number, limit in enumerate(row.restarted_low_min, start=1)
    )
    return f"at most {row.low_min} min{''.join(pieces)}"


def _assumed(day: Version, result: DayResult) -> list[Assumption]:
    found = [
        Assumption(
            field=f"clocks.{row.id}",
            value=_taken_as(row),
            source=f"{row.source} ({row.source_kind})",
        )
        for row in day.catalog.clocks.values()
        if row.id in {f"{span.clock}.{span.state}" for span in result.clocks}
    ]
    for name in ("thresholds", "ramps", "storeys_by_stairs"):
        if getattr(day.job.site.route, name) is None:
            found.append(
                Assumption(field=f"site.route.{name}", value="0", source="not surveyed: taken as none; check on site")
            )
    found += [
        Assumption(
            field=f"people.{member.id}.longest_stretch",
            value=f"{LONGEST_STRETCH_MIN // 60} h without a break",
            source="Directive 2003/88/EC, article 4; national law and agreements set more",
        )
        for member in day.crew
        if member.longest_stretch_min is None
    ]
    return found


def _finding(name: str, severity: Severity, *, about: str = "", **values: float | str) -> Finding:
    return Finding(id=f"day.{name}", severity=severity, about=about, values=values)
