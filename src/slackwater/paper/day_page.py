"""Pages of the day beside its phases: odds and gates, what decides, the first night, what to do without a computer."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from slackwater.day.result import DayResult, Entry, Odds
from slackwater.day.when import clock_time, zone
from slackwater.job.model import Job
from slackwater.paper.day_figures import uses_of
from slackwater.paper.living_page import duration, planned_at_most
from slackwater.plan import Plan
from slackwater.supply.result import Step
from slackwater.units import UnitSystem
from slackwater.wording.render import in_ten, say, sentence_list

LOOK_AGAIN = timedelta(hours=2)
"""Somebody of the house looks this long after closing: leaks show in the first hours; common practice, no source."""
LEAST_TOLD = 0.01
"""Shares nearer to none or all are told as less or more than this: the minutes behind them are not known better."""
ACTUAL_LINES = 26


def day_pages(plan: Plan, job: Job, day: DayResult, units: UnitSystem) -> dict[str, Any]:
    """Everything that the template of these pages reads."""
    return {
        "odds": _odds(day, units),
        "places": _places(day),
        "critical": _critical(day),
        "night": _night(plan, job, day, units),
        "fallback": _fallback(day, units),
        "two_days": _two_days(plan, job, day, units),
    }


def stop_points(day: DayResult) -> list[dict[str, str]]:
    """Hold points with their planned start, the latest by the plan, and the latest of nine days in ten."""
    first = day.opens.date()
    likely = {item.activity: item.at for item in day.risk.latest_starts}
    found = []
    for entry in day.entries:
        if entry.hold_point:
            at = likely.get(entry.activity)
            found.append(
                {
                    "label": entry.label,
                    "planned": clock_time(entry.start, first),
                    "latest": "" if entry.latest_start is None else clock_time(entry.latest_start, first),
                    "likely": say("odds.never", {}) if at is None else clock_time(at, first),
                }
            )
    return found


def day_steps(day: DayResult) -> tuple[Step, ...]:
    """Stop points and the safe overnight state for the calendar, at the times of the plan with their offset."""
    first = day.opens.date()
    likely = {item.activity: item.at for item in day.risk.latest_starts}
    steps = []
    for entry in day.entries:
        if entry.hold_point:
            at = likely.get(entry.activity)
            latest = say("odds.never", {}) if at is None else clock_time(at, first)
            values = {"label": entry.label, "latest": latest}
            steps.append(Step(id="stop_point", on=None, at=entry.start, ends=entry.end, values=values))
    if day.safe_planned is not None:
        steps.append(Step(id="safe_state", on=None, at=day.safe_planned))
    return tuple(sorted(steps, key=lambda step: step.at or day.opens))


def jobs_behind(jobs: int) -> str:
    """How many past jobs stand behind an activity's minutes; empty where the catalog stands alone."""
    return "" if not jobs else say("odds.jobs_one" if jobs == 1 else "odds.jobs", {"jobs": jobs})


def _labels(day: DayResult) -> dict[str, str]:
    return {entry.activity: entry.label for entry in day.entries}


def _percent(odds: Odds) -> str:
    if odds.share < LEAST_TOLD:
        return "< 1 %"
    return "> 99 %" if odds.share > 1 - LEAST_TOLD else f"{100 * odds.share:.0f} %"


def _odds(day: DayResult, units: UnitSystem) -> dict[str, Any]:
    risk, first, label = day.risk, day.opens.date(), _labels(day)
    start = {entry.activity: clock_time(entry.start, first) for entry in day.entries}
    sides = (risk.as_planned, risk.with_gates)
    rows = [
        ("done by closing", *(_percent(side.done_by_closing) for side in sides)),
        ("quiet hours and absences kept", *(_percent(side.hours_kept) for side in sides)),
        ("every clock kept", *(_percent(side.clocks_kept) for side in sides)),
        *(
            (f"clock: {planned.what}", _percent(planned.kept), _percent(gated.kept))
            for planned, gated in zip(*(side.clocks for side in sides), strict=True)
        ),
        ("everything holds", *(_percent(side.everything_holds) for side in sides)),
        ("half of the days are done by", *(clock_time(side.finish_p50, first) for side in sides)),
        ("8 days in 10 are done by", *(clock_time(side.finish_p80, first) for side in sides)),
        ("19 days in 20 are done by", *(clock_time(side.finish_p95, first) for side in sides)),
    ]
    adds = any(gate.adds_a_wait for gate in risk.gates)
    shares = {
        "with_gates": risk.with_gates.everything_holds.share,
        "as_planned": risk.as_planned.everything_holds.share,
    }
    return {
        "rules": say("odds.rules", {"days": risk.days}, units),
        "closing": in_ten(risk.as_planned.done_by_closing.share),
        "everything": in_ten(risk.as_planned.everything_holds.share),
        "rows": rows,
        "compared": say("odds.gates_help" if adds else "odds.gates_alike", shares if adds else {}, units),
        "by_progress": say("odds.by_progress", {}),
        "gates": [(label[gate.opener], label[gate.after], start[gate.opener], gate.what) for gate in risk.gates],
    }


def _places(day: DayResult) -> dict[str, Any]:
    first = day.opens.date()
    minutes: dict[str, int] = {}
    span: dict[str, list[str]] = {}
    for use in uses_of(day):
        minutes[use.unit] = minutes.get(use.unit, 0) + round((use.end - use.start).total_seconds() / 60)
        span.setdefault(use.unit, [clock_time(use.start, first), ""])[1] = clock_time(use.end, first)
    return {
        "rows": [(unit, *span[unit], f"{minutes[unit]} min") for unit in minutes],
        "clocks": [
            (
                item.what,
                f"{clock_time(item.start, first)}-{clock_time(item.end, first)}",
                clock_time(item.latest, first),
                say("odds.over" if item.excess_min else "odds.left", {"min": abs(item.limit_min - item.used_min)}),
            )
            for item in day.clocks
        ],
    }


def _critical(day: DayResult) -> dict[str, Any]:
    often = {name for pair in day.risk.waits for name in pair}
    share = {item.activity: item.share for item in day.risk.critical}
    before: dict[str, list[str]] = {}
    for first, then in day.risk.waits:
        before.setdefault(then, []).append(first)
    return {
        "rows": [
            (
                entry.activity,
                entry.label,
                f"{100 * share[entry.activity]:.0f} %",
                ", ".join(before.get(entry.activity, [])),
            )
            for entry in day.entries
            if entry.activity in often
        ]
    }


def _to_five(moment: datetime) -> datetime:
    return moment - timedelta(minutes=moment.minute % 5)


def _night_facts(job: Job, animals: str, units: UnitSystem) -> list[str]:
    """What must stand before a night: line, filter, heater, and the animals by the given sentence."""
    line, count, target = job.tank.water_line_m, len(job.filters or ()), job.target.temp_c
    kept = [kind for kind in job.livestock or () if kind.keep]
    if job.livestock is not None and not kept:
        animals = "night.no_animals"
    elif job.all_boarded:
        animals = "night.animals_boarded"
    return [
        say("night.line_unknown", {}) if line is None else say("night.line", {"line_m": line}, units),
        say("night.filters" if count > 1 else "night.filter", {"count": count}),
        say("night.heater_unknown", {}) if target is None else say("night.heater", {"temp_c": target}, units),
        say(animals, {}),
    ]


def _part(title: str, entries: Sequence[Entry], closes: datetime) -> dict[str, Any]:
    """One of two days: its hours, whether it ends in time, and what is done by whom."""
    first, ends = entries[0].start.date(), max(entry.end for entry in entries)
    late = round((ends.astimezone(UTC) - closes.astimezone(UTC)).total_seconds() / 60)
    values: dict[str, float | str] = {
        "start": f"{min(entry.start for entry in entries):%H:%M}",
        "ends": clock_time(ends, first),
        "closes": clock_time(closes, first),
        "min": abs(late),
    }
    return {
        "title": say(title, {"date": f"{first:%A %d %B %Y}"}),
        "hours": say("two_days.late" if late > 0 else "two_days.in_time", values),
        "rows": [
            {
                "time": f"{clock_time(entry.start, first)} - {clock_time(entry.end, first)}",
                "what": entry.label,
                "who": ", ".join(entry.crew),
                "stop": entry.hold_point,
            }
            for entry in sorted(entries, key=lambda entry: (entry.start, entry.end))
        ],
    }


def _overnight(plan: Plan, job: Job, day: DayResult) -> str:
    """What the boxes need where animals wait in them for longer than the first of them holds."""
    caught = [entry.start for entry in day.first_day if entry.phase == "catch"]
    back = [entry.end for entry in day.second_day if entry.phase == "return"]
    boxes = plan.living.boxes if plan.living is not None else ()
    if not boxes or not caught or not back or not any(animals.keep for animals in job.livestock or ()):
        return ""
    low_h, label = min((planned_at_most(box.hours.low), box.label) for box in boxes)
    wait_h = (max(back).astimezone(UTC) - min(caught).astimezone(UTC)).total_seconds() / 3600
    if wait_h <= low_h:
        return ""
    since, until = f"{min(caught):%a %H:%M}", f"{max(back):%a %H:%M}"
    return say("two_days.boxes", {"caught": since, "back": until, "label": label, "holds": duration(low_h)})


def _two_days(plan: Plan, job: Job, day: DayResult, units: UnitSystem) -> dict[str, Any] | None:
    """The day split at the safe overnight state; None where the one day fits or no second one is agreed."""
    reserve = next((window for window in job.site.windows or () if window.kind == "reserve"), None)
    if reserve is None or not day.first_day or not day.second_day:
        return None
    closes = reserve.end.replace(tzinfo=zone(str(job.site.time_zone)))
    safe, again = max(entry.end for entry in day.first_day), min(entry.start for entry in day.second_day)
    fits = safe <= day.closes and max(entry.end for entry in day.second_day) <= closes
    told = {"safe": f"{safe:%a %H:%M}", "again": f"{again:%a %H:%M}"}
    return {
        "title": say("two_days.title", {}),
        "lead": say("two_days.fits" if fits else "two_days.too_short", {}),
        "first": _part("two_days.first", day.first_day, day.closes),
        "between": say("two_days.between", told),
        "boxes": _overnight(plan, job, day),
        "must": [*_night_facts(job, "night.animals_wait", units), *sentence_list("night.must")],
        "second": _part("two_days.second", day.second_day, closes),
        "lowered": say("two_days.lowered", {}) if any(entry.activity == "E24" for entry in day.second_day) else "",
    }


def _night(plan: Plan, job: Job, day: DayResult, units: UnitSystem) -> dict[str, Any]:
    first = day.opens.date()
    weeks = plan.living.weeks if plan.living is not None else None
    wait_on = weeks is not None and not weeks.may_return_today
    facts = _night_facts(job, "night.animals_wait" if wait_on else "night.animals_back", units)
    visits = [step for step in (plan.supply.calendar if plan.supply else ()) if step.id.startswith("visit") and step.on]
    visit = say("night.visit", {"date": f"{visits[0].on:%a %d %b}"}) if visits else say("night.visit_unknown", {})
    crew = ", ".join(dict.fromkeys(name for entry in day.entries for name in entry.crew))
    leave = max(day.closes, day.finish or day.closes)
    again = say("night.after_leaving", {"time": clock_time(_to_five(leave + LOOK_AGAIN), first)})
    return {
        "title": say("night.title", {}),
        "rule": say("night.rule", {}),
        "must": [*facts, *sentence_list("night.must")],
        "looks": [
            (say("night.before_leaving", {}), crew, say("night.crew_looks", {})),
            (again, say("night.staff", {}), say("night.staff_looks", {})),
            (say("night.morning", {}), say("night.staff", {}), say("night.staff_looks", {})),
            (visit, "", say("night.visit_looks", {})),
        ],
        "photo": say("night.photo", {}),
        "triggers": sentence_list("night.triggers"),
        "then": say("night.then", {}),
        "calls": sentence_list("night.calls"),
    }


def _fallback(day: DayResult, units: UnitSystem) -> dict[str, Any]:
    points = stop_points(day)
    safe = "" if day.safe_planned is None else clock_time(day.safe_planned, day.opens.date())
    return {
        "title": say("fallback.title", {}),
        "how": say("fallback.how", {}),
        "points": points,
        "hopeless": say("fallback.none_left", {})
        if day.risk.latest_starts and day.risk.latest_starts[0].at is None
        else "",
        "drops_rule": say("fallback.drops" if day.drops else "fallback.no_drops", {}),
        "drops": [(say(f"drop.{item.id}", {}, units), f"{item.saves_min} min") for item in day.drops],
        "safe": say("fallback.safe", {"time": safe}) if safe else "",
        "early": ""
        if day.safe_state is None
        else say("fallback.early", {"time": clock_time(day.safe_state, day.opens.date())}),
        "stop": say("fallback.safe_stop", {}),
        "cautions": [say(f"fallback.{name}", {}) for name in ("power", "water", "peroxide")],
        "lines": ACTUAL_LINES,
    }
