"""The day's stage of the pipeline: the day as booked, whether it fits, why not, and what would make it fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

from pydantic import ValidationError

from slackwater.day.activities import CrewMember, Minutes, minutes_of
from slackwater.day.check import RULES, broken_rules, the_day_closes_in_time
from slackwater.day.drivers import Driver, RoomQuantities, driver_quantities
from slackwater.day.learning import PastJob, learned_minutes
from slackwater.day.model import DayProblem, Schedule, Status
from slackwater.day.odds import day_risk, drops_of, mishaps_of, odds_figures, odds_findings
from slackwater.day.problem import FILTER_CHOICE, REFRESHES, SAFE_STATE, SECOND_DAY, DayFacts, build_problem
from slackwater.day.report import entries_of, held_of, spans_of
from slackwater.day.result import Conflict, DayResult, WhatIf
from slackwater.day.solve import Effort, OnProgress, Relaxed, can_fit, solve
from slackwater.day.when import Clockface
from slackwater.day.why import smallest_conflict
from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Remedy, Severity
from slackwater.job.catalog import Catalog, ClockRow
from slackwater.job.model import Job, Person
from slackwater.stage import Stage

QUICK = 0.3
"""Deterministic effort for each question beside the day itself."""
LONGEST_PLANNED_MIN = 36 * 60
"""No day is planned further than this past the start of access."""
LATEST_LATER_END_MIN = 150
"""A house may agree to stay this much longer; beyond it is another day; common practice, no source."""
HELPER_SPEED = 0.8
"""Pace of a helper nobody knows yet, against the lead's; common practice, no source."""
BENCH_SHARE = 0.3
"""Share of the epiphyte minutes left on site when they were fixed at the bench; common practice, no source."""


@dataclass(frozen=True)
class _Day:
    """One version of the day to solve: who, how long, what is to be done."""

    job: Job
    catalog: Catalog
    face: Clockface
    drivers: Mapping[str, Driver]
    minutes: Mapping[str, Minutes]
    crew: Sequence[CrewMember]
    closes_min: int
    work_places: int
    past: Mapping[str, Sequence[PastJob]]
    """Past jobs of this crew behind the minutes of an activity."""

    def facts(self) -> DayFacts:
        quiet: dict[str, tuple[tuple[int, int], ...]] = {}
        for hours in self.job.site.quiet or ():
            reason = hours.reason or "quiet hours"
            span = (max(0, self.face.minute(hours.start)), min(LONGEST_PLANNED_MIN, self.face.minute(hours.end)))
            if span[1] > span[0]:
                quiet[reason] = (*quiet.get(reason, ()), span)
        return DayFacts(
            minutes=self.minutes,
            crew=self.crew,
            work_places=self.work_places,
            quiet=quiet,
            closes_min=self.closes_min,
            horizon_min=LONGEST_PLANNED_MIN,
        )


def _member(person: Person, face: Clockface, closes_min: int) -> CrewMember:
    """A person with the spans in which they are here; who stays to the end may also stay longer."""
    start = 0 if person.from_ is None else max(0, face.minute(person.from_))
    end = LONGEST_PLANNED_MIN if person.until is None else face.minute(person.until)
    if person.until is not None and end >= closes_min:
        end = LONGEST_PLANNED_MIN
    rest_from, rest_until = 0, 0
    rest = round(person.break_min or 0)
    if rest:
        earliest = face.times_of_day(person.break_from or 0, first_minute=-24 * 60, last_minute=LONGEST_PLANNED_MIN)
        latest = face.times_of_day(
            person.break_until if person.break_until is not None else 24 * 60 - 1,
            first_minute=0,
            last_minute=LONGEST_PLANNED_MIN,
        )
        pairs = [
            (a, b) for a in earliest for b in latest if 0 < b - a <= 24 * 60 and min(b, end) - max(a, start) >= rest
        ]
        if pairs:
            rest_from, rest_until = pairs[0]
            rest_from, rest_until = max(rest_from, start), min(rest_until, end)
        else:
            rest = 0
    return CrewMember(
        id=person.id,
        speed=person.speed,
        speed_at=person.speed_at,
        windows=((start, end),) if end > start else (),
        break_min=rest,
        break_from=rest_from,
        break_until=rest_until,
    )


def _nothing_alive(job: Job) -> bool:
    return job.livestock is not None and not any(animals.keep for animals in job.livestock)


def _past_jobs(job: Job, catalog: Catalog) -> Mapping[str, Sequence[PastJob]]:
    """Past jobs by activity of the table; a row that names a crew counts where one of it is booked."""
    booked = {person.id for person in job.people or () if not person.on_call}
    found: dict[str, list[PastJob]] = {}
    for row in job.past_jobs:
        if row.activity in catalog.activities and (not row.crew or booked & set(row.crew)):
            found.setdefault(row.activity, []).append(PastJob(planned_min=row.planned_min, actual_min=row.actual_min))
    return found


def _learned(span: Minutes, jobs: Sequence[PastJob]) -> Minutes:
    """What past jobs make of the minutes; without any, or where the table is certain, the table's own."""
    if not jobs or span.typical == 0 or span.low == span.high:
        return span
    known = learned_minutes(span, jobs)
    return Minutes(known.low_min, known.typical_min, known.high_min)


def _minutes(
    job: Job, catalog: Catalog, drivers: Mapping[str, Driver], past: Mapping[str, Sequence[PastJob]]
) -> tuple[Mapping[str, Minutes], tuple[str, ...]]:
    """Minutes of each activity, or the facts that are missing."""
    lacks: list[str] = []
    minutes: dict[str, Minutes] = {}
    for row in catalog.activities.values():
        if row.id in ("E27", "E28", "E7", *REFRESHES) and _nothing_alive(job):
            minutes[row.id] = Minutes(0, 0, 0)
            continue
        driver = drivers[row.driver]
        if driver.quantity is None:
            lacks += driver.lacks
            continue
        minutes[row.id] = _learned(minutes_of(row, driver), past.get(row.id, ()))
    if job.brief.epiphytes_at_bench and "E21" in minutes:
        minutes["E21"] = _scaled(minutes["E21"], BENCH_SHARE)
    return minutes, tuple(dict.fromkeys(lacks))


def _scaled(minutes: Minutes, share: float) -> Minutes:
    return Minutes(minutes.low * share, minutes.typical * share, minutes.high * share)


def _problem(day: _Day, only: frozenset[str] | None = None) -> DayProblem | str:
    """The problem, or in one phrase why there is none."""
    facts = day.facts()
    nobody = [
        name
        for name, minutes in facts.minutes.items()
        if minutes.typical > 0
        and (only is None or name in only)
        and name in day.catalog.activities
        and day.catalog.activities[name].people_min > min(len(day.crew), 99)
    ]
    if nobody:
        return "people"
    narrow = [
        name
        for name, minutes in facts.minutes.items()
        if minutes.typical > 0
        and day.catalog.activities[name].needs_tank_mouth
        and day.catalog.activities[name].people_min > day.work_places
    ]
    if narrow:
        return "places"
    try:
        return build_problem(facts, day.catalog, only=only)
    except ValidationError as error:
        return str(error.errors()[0]["msg"])


@dataclass(frozen=True)
class BookedDay:
    """The day as booked, solved with closing left open; and what was found on the way."""

    day: _Day
    problem: DayProblem
    schedule: Schedule
    findings: tuple[Finding, ...]


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
    lacks: list[str] = []
    windows = [window for window in job.site.windows or () if window.kind == "day"]
    if not windows:
        lacks.append("site.windows")
    if job.site.time_zone is None:
        lacks.append("site.time_zone")
    booked = [person for person in job.people or () if not person.on_call]
    if not booked:
        lacks.append("people")
    if work_places is None:
        lacks.append("tank.work_places")
    drivers = driver_quantities(job, catalog, rooms)
    past = _past_jobs(job, catalog)
    minutes, missing = _minutes(job, catalog, drivers, past)
    lacks += missing
    if lacks or not windows or job.site.time_zone is None or work_places is None:
        return Stage(result=None, lacks=tuple(dict.fromkeys(lacks)))

    window = windows[0]
    face = Clockface(window.start, job.site.time_zone)
    closes_min = face.minute(window.end)
    if closes_min <= 0:
        return Stage(
            result=None,
            findings=(_finding("window_empty", Severity.MISFIT, start=_hm(face, 0), end=_hm(face, closes_min)),),
        )
    findings: list[Finding] = [
        _finding("past_job_unknown", Severity.CONDITION, about=name, activity=name)
        for name in dict.fromkeys(row.activity for row in job.past_jobs)
        if name not in catalog.activities
    ]
    crew = []
    for person in booked:
        member = _member(person, face, closes_min)
        if not member.windows:
            findings.append(_finding("person_never_here", Severity.MISFIT, about=person.id, person=person.id))
        else:
            crew.append(member)
        if person.break_min and not member.break_min:
            findings.append(_finding("break_without_room", Severity.CONDITION, about=person.id, person=person.id))
    day = _Day(job, catalog, face, drivers, minutes, crew, closes_min, work_places, past)
    problem = _problem(day)
    if isinstance(problem, str):
        if problem == "people":
            findings.append(_finding("needs_two", Severity.MISFIT, people=len(crew)))
        elif problem == "places":
            findings.append(_finding("needs_two_places", Severity.MISFIT, places=work_places))
        else:
            findings.append(_finding("cannot_be_set_up", Severity.MISFIT, reason=problem))
        return Stage(result=None, findings=tuple(findings))

    on_progress("planning the day")
    schedule = solve(problem, effort=effort, relaxed=Relaxed(closing=True), on_progress=on_progress)
    if schedule.finish_min is None:
        early = _who_leaves_too_early(problem, effort)
        findings += [_finding("person_leaves_too_early", Severity.MISFIT, about=name, person=name) for name in early]
        if not early:
            findings.append(_finding("no_day_found", Severity.MISFIT))
        return Stage(result=None, findings=tuple(findings))
    return BookedDay(day=day, problem=problem, schedule=schedule, findings=tuple(findings))


def assess_day(
    job: Job,
    catalog: Catalog,
    rooms: RoomQuantities,
    *,
    work_places: int | None,
    effort: Effort | None = None,
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
    return _assessed(booked.day, booked.problem, booked.schedule, list(booked.findings), effort, on_progress)


def _who_leaves_too_early(problem: DayProblem, effort: Effort) -> tuple[str, ...]:
    """People whose hours alone keep any day from being done, however long it may take."""
    everything = frozenset(clock.id for clock in problem.clocks)
    return tuple(
        person.id
        for person in problem.people
        if can_fit(
            problem,
            seconds=QUICK,
            seed=effort.seed,
            relaxed=Relaxed(closing=True, clocks=everything, absences=frozenset({person.id})),
        )
        is Status.BEST_FOUND
    )


def _assessed(
    day: _Day,
    problem: DayProblem,
    schedule: Schedule,
    findings: list[Finding],
    effort: Effort,
    on_progress: OnProgress,
) -> Stage[DayResult]:
    face, catalog = day.face, day.catalog
    finish = schedule.finish_min or 0
    margin = day.closes_min - finish
    fits = margin >= 0 and schedule.excess_min == 0
    broken = broken_rules(
        problem, schedule, rules=tuple(rule for rule in RULES if margin >= 0 or rule is not the_day_closes_in_time)
    )
    quick = replace(effort, excess=min(effort.excess, QUICK), finish=min(effort.finish, QUICK), exposure=0.0, tidy=0.0)
    safe = None
    conflicts: tuple[Conflict, ...] = ()
    what_ifs: tuple[WhatIf, ...] = ()
    if not fits:
        on_progress("asking why it does not fit, and what would make it fit")
        # The solver leaves Python's lock while it works, so two questions at a time use two cores; each answer depends
        # on its own question and seed only, not on the order in which they finish.
        with ThreadPoolExecutor(max_workers=2) as pool:
            conflicting = pool.submit(smallest_conflict, problem, seconds=QUICK, seed=effort.seed)
            saving = pool.submit(_finish, day, quick, SAFE_STATE)
            changed = _changes(day)
            asked = {name: pool.submit(_finish, change.day, quick, None, schedule) for name, change in changed.items()}
            second = pool.submit(_finish, _second_day(day), quick, SECOND_DAY)
            safe = saving.result()
            conflicts = tuple(_conflict(rule, day) for rule in conflicting.result().rules)
            what_ifs = (
                *(
                    _what_if(day, name, asked[name].result(), day.closes_min, change.values)
                    for name, change in changed.items()
                ),
                _later_end(day, schedule),
                _reserve_day(day, safe, second.result()),
            )
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
        person_minutes=person_minutes,
        risk=risk,
        drops=drops_of(problem, schedule, carpet_share=_carpet_share(day), spans=day.minutes),
        safe_planned=face.moment(max((off[name].end for name in SAFE_STATE if name in off), default=finish)),
        places={resource.id: resource.capacity for resource in problem.resources},
        held=held_of(problem, schedule, face=face),
        broken_rules=tuple(f"{item.rule}: {item.what}" for item in broken) + schedule.doubts,
    )
    findings += _findings(day, schedule, result, safe)
    return Stage(
        result=result,
        figures=tuple(_figures(day, schedule, result)),
        findings=tuple(findings),
        assumed=tuple(_assumed(day, result)),
    )


def _finish(day: _Day, effort: Effort, only: frozenset[str] | None = None, near: Schedule | None = None) -> int | None:
    """Earliest finish of a version of the day with closing left open; None when there is none."""
    problem = _problem(day, only)
    if isinstance(problem, str):
        return None
    return solve(problem, effort=effort, relaxed=Relaxed(closing=True), near=near).finish_min


def _conflict(rule: str, day: _Day) -> Conflict:
    kind, _, name = rule.partition(":")
    values: dict[str, float | str] = {"name": name}
    if kind == "closing":
        values = {"closes": _hm(day.face, day.closes_min)}
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


@dataclass(frozen=True)
class _Change:
    """A version of the day with one thing changed, and what its sentence needs."""

    day: _Day
    values: Mapping[str, float | str]


def _changes(day: _Day) -> Mapping[str, _Change]:
    """Single changes to the day, smallest first, and the pair of them that costs least."""
    job = day.job
    found: dict[str, _Change] = {}
    if not job.brief.epiphytes_at_bench and day.minutes.get("E21", Minutes(0, 0, 0)).typical > 0:
        bench = replace(day, minutes={**day.minutes, "E21": _scaled(day.minutes["E21"], BENCH_SHARE)})
        found["epiphytes_at_bench"] = _Change(bench, {})
    carpet = _carpet_left_out(day)
    if carpet is not None:
        portions = (day.drivers["soil_portions"].quantity or 0) - (carpet.drivers["soil_portions"].quantity or 0)
        found["carpet_later"] = _Change(carpet, {"portions": portions})
    on_call = [person for person in job.people or () if person.on_call]
    extra = [_member(person, day.face, day.closes_min) for person in on_call]
    helper = (
        extra[0] if extra else CrewMember("one more helper", HELPER_SPEED, {}, ((0, LONGEST_PLANNED_MIN),), 0, 0, 0)
    )
    values: dict[str, float | str] = {"person": helper.id}
    more = [*day.crew, helper]
    found["one_more_person"] = _Change(replace(day, crew=more), values)
    if carpet is not None:
        found["person_and_carpet"] = _Change(replace(carpet, crew=more), values)
    return found


def _what_if(day: _Day, name: str, end: int | None, closes_min: int, values: Mapping[str, float | str]) -> WhatIf:
    margin = None if end is None else closes_min - end
    return WhatIf(
        id=name,
        values={
            **values,
            "finish": "" if end is None else _hm(day.face, end),
            "margin_min": abs(margin or 0),
            "closes": _hm(day.face, closes_min),
        },
        finish=None if end is None else day.face.moment(end),
        margin_min=margin,
        fits=margin is not None and margin >= 0,
        proved=False,
    )


def _carpet_left_out(day: _Day) -> _Day | None:
    """The day without the carpet and foreground, which can be planted at the first visit; None if there are none."""
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
    return replace(
        day,
        drivers={**day.drivers, "soil_portions": driver},
        minutes={**day.minutes, "E22": _learned(minutes_of(row, driver), day.past.get("E22", ()))},
    )


def _carpet_share(day: _Day) -> float:
    """Share of the planting minutes that carpet and foreground take."""
    carpet = _carpet_left_out(day)
    whole = day.minutes["E22"].typical if "E22" in day.minutes else 0.0
    return 0.0 if carpet is None or not whole else 1 - carpet.minutes["E22"].typical / whole


def _later_end(day: _Day, schedule: Schedule) -> WhatIf:
    """The day as it is, to its end: a repair only where clocks bear it and a house might agree to it."""
    finish = schedule.finish_min or 0
    late = max(0, finish - day.closes_min)
    found = _what_if(day, "later_end", finish, finish, {"late_min": late})
    return found.model_copy(update={"fits": schedule.excess_min == 0 and late <= LATEST_LATER_END_MIN})


def _second_day(day: _Day) -> _Day:
    """The same crew on a day of their own, with nothing to be quiet for."""
    crew = [replace(member, windows=((0, LONGEST_PLANNED_MIN),), break_min=0) for member in day.crew]
    site = day.job.site.model_copy(update={"quiet": ()})
    return replace(day, crew=crew, job=day.job.model_copy(update={"site": site}))


def _reserve_day(day: _Day, safe: int | None, rest: int | None) -> WhatIf:
    """The work split at the safe overnight state: does each part fit its own span?"""
    face = day.face
    reserve = [window for window in day.job.site.windows or () if window.kind == "reserve"]
    length = face.minute(reserve[0].end) - face.minute(reserve[0].start) if reserve else 0
    in_time = safe is not None and rest is not None and safe <= day.closes_min
    fits = in_time and (not reserve or (rest or 0) <= length)
    name = "reserve_day_too_short" if not fits else "reserve_day_fits" if reserve else "second_day"
    return WhatIf(
        id=name,
        values={
            "safe": "" if safe is None else _hm(face, safe),
            "closes": _hm(face, day.closes_min),
            "second_h": _hours(rest),
            "reserve_h": _hours(length),
        },
        finish=None if safe is None else face.moment(safe),
        margin_min=None if safe is None else day.closes_min - safe,
        fits=fits,
        proved=False,
    )


def _findings(day: _Day, schedule: Schedule, result: DayResult, safe: int | None) -> list[Finding]:
    face = day.face
    finish = schedule.finish_min or 0
    found: list[Finding] = []
    fitting = [Remedy(id=f"day.{item.id}", values=item.values) for item in result.what_ifs if item.fits]
    if finish > day.closes_min:
        found.append(
            Finding(
                id="day.ends_late",
                severity=Severity.MISFIT,
                values={
                    "finish": _hm(face, finish),
                    "closes": _hm(face, day.closes_min),
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
                        "safe": _hm(face, safe),
                        "closes": _hm(face, day.closes_min),
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
                )
            )
    found += odds_findings(result.risk, finish_min=finish, closes_min=day.closes_min, face=face)
    when = {item.activity: item for item in schedule.placed}
    if result.filter_state == "running_on_barrel":
        damp = day.catalog.clocks["media.drained_damp"]
        found.append(
            Finding(
                id="day.filter_on_barrel",
                severity=Severity.CONDITION,
                values={
                    "damp_h": _hours(result.media_off_min),
                    "limit_h": (damp.low_min or 0) / 60,
                    "stop_h": (damp.high_min or 0) / 60,
                },
            )
        )
    elif result.filter_state == "drained_damp":
        found.append(
            Finding(id="day.filter_damp", severity=Severity.CONDITION, values={"damp_h": _hours(result.media_off_min)})
        )
    refreshes = [when[name] for name in REFRESHES if name in when]
    if refreshes:
        found.append(
            Finding(
                id="day.refresh_boxes",
                severity=Severity.CONDITION,
                values={"rounds": len(refreshes), "times": " and ".join(_hm(face, item.start) for item in refreshes)},
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
                values={"finish": _hm(face, finish), "leaves": _hm(face, face.minute(leaves))},
                margin=face.minute(leaves) - finish,
                margin_unit="min",
            )
        )
    if result.broken_rules:
        found.append(
            Finding(id="day.check_failed", severity=Severity.MISFIT, values={"rules": "; ".join(result.broken_rules)})
        )
    return found


def _figures(day: _Day, schedule: Schedule, result: DayResult) -> list[Figure]:
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
            formula="earliest end of all activities under order, people, places, quiet hours and clocks; low is the solver's bound, high what 95 of 100 simulated days do not exceed",
            source=minutes_source,
            inputs={"people": ", ".join(member.id for member in day.crew), "work_places": day.work_places},
        ),
        *odds_figures(result.risk),
    ]
    for name in sorted(day.minutes):
        span, row = day.minutes[name], day.catalog.activities[name]
        quantity = day.drivers[row.driver].quantity
        if span.typical > 0 and quantity is not None:
            figures.append(
                Figure(
                    id=f"day.minutes.{name}",
                    value=round(span.typical, 1),
                    unit="min",
                    low=round(span.low, 1),
                    high=round(span.high, 1),
                    formula=f"fixed {row.fixed_typ:g} + {row.per_unit_typ:g} x {row.driver}, {row.nominal_people} people at speed 1.0"
                    + (", times the factor of past jobs" if day.past.get(name) else ""),
                    source=row.source_kind,
                    inputs={row.driver: round(quantity, 3), "jobs_behind_it": len(day.past.get(name, ()))},
                )
            )
    return figures


def _taken_as(row: ClockRow) -> str:
    if row.kind == "minimum":
        return f"at least {row.low_min} min"
    pieces = (
        f"; each stretch with {number} half change{'s' * (number > 1)} at most {limit} min"
        for number, limit in enumerate(row.restarted_low_min, start=1)
    )
    return f"at most {row.low_min} min{''.join(pieces)}"


def _assumed(day: _Day, result: DayResult) -> list[Assumption]:
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
    return found


def _finding(name: str, severity: Severity, *, about: str = "", **values: float | str) -> Finding:
    return Finding(id=f"day.{name}", severity=severity, about=about, values=values)


def _hours(minutes: int | None) -> float:
    """Hours to a tenth: no schedule is known better."""
    return round((minutes or 0) / 60, 1)


def _hm(face: Clockface, minute: int) -> str:
    return face.shown(minute)
