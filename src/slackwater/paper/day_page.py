"""Pages of the day beside its phases: odds and gates, what decides, the first night, what to do without a computer."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from slackwater.day.halving import latest_half_changes
from slackwater.day.problem import REFRESHES
from slackwater.day.result import DayResult, Entry, Odds
from slackwater.day.when import clock_time, zone
from slackwater.job.model import AccessWindow, Job
from slackwater.living.result import BoxHours
from slackwater.paper.day_figures import uses_of
from slackwater.paper.hour_list import clause, hour_list, hour_rows, numbered, piece_names
from slackwater.paper.living_page import box_latest, duration, planned_at_most
from slackwater.plan import Plan
from slackwater.reader import ENGLISH, Reader
from slackwater.supply.result import OrderLine, Step
from slackwater.units import spoken
from slackwater.water.assess import REFRESH_SHARE
from slackwater.wording.render import in_ten, named, say, sentence_list

LOOK_AGAIN = timedelta(hours=2)
"""Somebody of the house looks this long after closing: leaks show in the first hours; common practice, no source."""
LEAST_TOLD = 0.01
"""Shares nearer to none or all are told as less or more than this: the minutes behind them are not known better."""


def day_pages(plan: Plan, job: Job, day: DayResult, reader: Reader) -> dict[str, Any]:
    """Everything that the template of these pages reads."""
    return {
        "hours": hour_list(day, reader),
        "odds": _odds(day, reader),
        "places": _places(day, reader),
        "critical": _critical(day, reader),
        "night": _night(plan, job, day, reader),
        "fallback": _fallback(day, reader),
        "two_days": _two_days(plan, job, day, reader),
    }


def latest_told(entry: Entry, day: DayResult, *, none: str) -> str:
    """The latest start of work; `none` where it lies before access opens: no start on the day is early enough."""
    if entry.latest_start is None:
        return ""
    return none if entry.latest_start < day.opens else clock_time(entry.latest_start, day.opens.date())


def too_late(day: DayResult, reader: Reader) -> str:
    """By how much the day is too late already when access opens; empty where it is not. Told once, on the first page."""
    latest = min((entry.latest_start for entry in day.entries if entry.latest_start is not None), default=day.opens)
    lacking_min = (day.opens - latest).total_seconds() / 60
    if lacking_min <= 0:
        return ""
    return say("odds.too_late", {"by": spoken(lacking_min), "opens": clock_time(day.opens, day.opens.date())}, reader)


def stop_points(day: DayResult, reader: Reader) -> list[dict[str, str]]:
    """Hold points with their planned start, the latest by the plan, and the latest of nine days in ten."""
    first = day.opens.date()
    likely = {item.activity: item.at for item in day.risk.latest_starts}
    found = []
    for entry in day.entries:
        if entry.hold_point:
            at = likely.get(entry.activity)
            found.append(
                {
                    "label": named(entry.label, reader),
                    "planned": clock_time(entry.start, first),
                    "latest": latest_told(entry, day, none=say("odds.never", {}, reader)),
                    "likely": say("odds.never", {}, reader) if at is None else clock_time(at, first),
                }
            )
    return found


def day_steps(day: DayResult, reader: Reader) -> tuple[Step, ...]:
    """Stop points and the safe overnight state for the calendar, at the times of the plan with their offset."""
    first = day.opens.date()
    likely = {item.activity: item.at for item in day.risk.latest_starts}
    steps = []
    for entry in day.entries:
        if entry.hold_point:
            at = likely.get(entry.activity)
            latest = say("odds.never", {}, reader) if at is None else clock_time(at, first)
            values = {"label": entry.label, "latest": latest}
            steps.append(Step(id="stop_point", on=None, at=entry.start, ends=entry.end, values=values))
    if day.safe_planned is not None:
        steps.append(Step(id="safe_state", on=None, at=day.safe_planned))
    return tuple(sorted(steps, key=lambda step: step.at or day.opens))


def jobs_behind(jobs: int, reader: Reader, factor: float = 1.0) -> str:
    """How many past jobs stand behind an activity's minutes, and how far they moved them; empty without any."""
    if not jobs:
        return ""
    told = say("odds.jobs_one" if jobs == 1 else "odds.jobs", {"jobs": jobs}, reader)
    percent = round(100 * (factor - 1))
    if not percent:
        return told
    side = "longer" if percent > 0 else "shorter"
    return say(f"odds.jobs_{side}", {"told": told, "percent": str(abs(percent))}, reader)


def goods_behind(line: OrderLine, reader: Reader) -> str:
    """How many past jobs stand behind what is needed of some goods, and how far they moved it; empty without any."""
    if not line.past_jobs:
        return ""
    return say("odds.goods", {"jobs": line.past_jobs, "factor": f"{line.learned_factor:.2f}"}, reader)


def _labels(day: DayResult, reader: Reader) -> dict[str, str]:
    return {entry.activity: named(entry.label, reader) for entry in day.entries}


def _percent(odds: Odds) -> str:
    if odds.share < LEAST_TOLD:
        return "< 1 %"
    return "> 99 %" if odds.share > 1 - LEAST_TOLD else f"{100 * odds.share:.0f} %"


def _odds(day: DayResult, reader: Reader) -> dict[str, Any]:
    risk, first, label = day.risk, day.opens.date(), _labels(day, reader)
    start = {entry.activity: clock_time(entry.start, first) for entry in day.entries}
    sides = (risk.as_planned, risk.with_gates)
    names = numbered([item.what for item in risk.as_planned.clocks], reader)
    rows = [
        (say("sheet.odds.done_by_closing", {}, reader), *(_percent(side.done_by_closing) for side in sides)),
        (say("sheet.odds.hours_kept", {}, reader), *(_percent(side.hours_kept) for side in sides)),
        (say("sheet.odds.clocks_kept", {}, reader), *(_percent(side.clocks_kept) for side in sides)),
        *(
            (say("sheet.odds.clock", {"name": name}, reader), _percent(planned.kept), _percent(gated.kept))
            for name, planned, gated in zip(names, *(side.clocks for side in sides), strict=True)
        ),
        (say("sheet.odds.everything_holds", {}, reader), *(_percent(side.everything_holds) for side in sides)),
        (say("sheet.odds.half_by", {}, reader), *(clock_time(side.finish_p50, first) for side in sides)),
        (say("sheet.odds.eight_by", {}, reader), *(clock_time(side.finish_p80, first) for side in sides)),
        (say("sheet.odds.nineteen_by", {}, reader), *(clock_time(side.finish_p95, first) for side in sides)),
    ]
    adds = any(gate.adds_a_wait for gate in risk.gates)
    shares = {
        "with_gates": risk.with_gates.everything_holds.share,
        "as_planned": risk.as_planned.everything_holds.share,
    }
    return {
        "rules": say("odds.rules", {"days": risk.days}, reader),
        "closing": in_ten(risk.as_planned.done_by_closing.share, reader),
        "everything": in_ten(risk.as_planned.everything_holds.share, reader),
        "rows": rows,
        "compared": say("odds.gates_help" if adds else "odds.gates_alike", shares if adds else {}, reader),
        "by_progress": say("odds.by_progress", {}, reader),
        "gates": [(label[gate.opener], label[gate.after], start[gate.opener], gate.what) for gate in risk.gates],
    }


def _places(day: DayResult, reader: Reader) -> dict[str, Any]:
    first = day.opens.date()
    minutes: dict[str, int] = {}
    span: dict[str, list[str]] = {}
    for use in uses_of(day, reader):
        minutes[use.unit] = minutes.get(use.unit, 0) + round((use.end - use.start).total_seconds() / 60)
        span.setdefault(use.unit, [clock_time(use.start, first), ""])[1] = clock_time(use.end, first)
    return {
        "rows": [(unit, *span[unit], f"{minutes[unit]} min") for unit in minutes],
        "clocks": [
            (
                name,
                f"{clock_time(item.start, first)}-{clock_time(item.end, first)}",
                clock_time(item.latest, first),
                say(
                    "odds.over" if item.excess_min else "odds.left",
                    {"min": abs(item.limit_min - item.used_min)},
                    reader,
                ),
            )
            for item, name in zip(day.clocks, piece_names(day.clocks, reader), strict=True)
        ],
    }


def _critical(day: DayResult, reader: Reader) -> dict[str, Any]:
    often = {name for pair in day.risk.waits for name in pair}
    share = {item.activity: item.share for item in day.risk.critical}
    before: dict[str, list[str]] = {}
    for first, then in day.risk.waits:
        before.setdefault(then, []).append(first)
    return {
        "rows": [
            (
                entry.activity,
                clause(named(entry.label, reader)),
                f"{100 * share[entry.activity]:.0f} %",
                ", ".join(before.get(entry.activity, [])),
            )
            for entry in day.entries
            if entry.activity in often
        ]
    }


def _to_five(moment: datetime) -> datetime:
    return moment - timedelta(minutes=moment.minute % 5)


def _whereabouts(plan: Plan, job: Job) -> str:
    """Where the animals are tonight, as planned: none, boarded, wait in their boxes, or back in the tank."""
    weeks = plan.living.weeks if plan.living is not None else None
    away = _overnight_at(job)
    return "back" if away == "wait" and (weeks is None or weeks.may_return_today) else away


ANIMALS_TONIGHT = {
    "none": "night.no_animals",
    "boarded": "night.animals_boarded",
    "wait": "night.animals_wait",
    "back": "night.animals_back",
}


def _night_facts(job: Job, whereabouts: str, reader: Reader) -> list[str]:
    """What must stand before a night: line, filter, heater, and the animals where they are."""
    line, count, target = job.tank.water_line_m, len(job.filters or ()), job.target.temp_c
    return [
        say("night.line_unknown", {}, reader) if line is None else say("night.line", {"line_m": line}, reader),
        say("night.filters" if count > 1 else "night.filter", {"count": count}, reader),
        say("night.heater_unknown", {}, reader) if target is None else say("night.heater", {"temp_c": target}, reader),
        say(ANIMALS_TONIGHT[whereabouts], {}, reader),
    ]


def _waiting_boxes(plan: Plan) -> list[BoxHours]:
    """Boxes whose animals wait at the site; those of boarded animals have left."""
    return [box for box in (plan.living.boxes if plan.living is not None else ()) if not box.leaves]


def _changes_of(
    box: BoxHours,
    caught: datetime,
    until: datetime,
    reader: Reader,
    *,
    made: Sequence[datetime] = (),
    told: Sequence[datetime] = (),
) -> tuple[str, str, str]:
    """The half changes of one box through a wait at the site: box, times, litres.

    Told are those that are given, then those that are due after them, each at the latest; `made` are over by then.
    """
    limit_h = planned_at_most(box.hours.low)
    before = [_hours_after(caught, moment) for moment in (*made, *told)]
    due = latest_half_changes(limit_h, until=_hours_after(caught, until), done=before)
    times = [*told, *(_to_five(_later(caught, 60 * hour)) for hour in due)]
    if not times:
        return box.label, say("night.no_change", {"holds": duration(limit_h, reader)}, reader), ""
    spoken_times = ", ".join(f"{moment:%a %H:%M}" for moment in times)
    litres = REFRESH_SHARE * box.water_l
    values = {"count": len(times), "each_l": litres, "all_l": litres * len(times)}
    return box.label, spoken_times, say("night.change_one" if len(times) == 1 else "night.changes", values, reader)


def _hours_after(since: datetime, moment: datetime) -> float:
    return (moment.astimezone(UTC) - since.astimezone(UTC)).total_seconds() / 3600


def _later(moment: datetime, minutes: float) -> datetime:
    return (moment.astimezone(UTC) + timedelta(minutes=minutes)).astimezone(moment.tzinfo)


def _night_changes(plan: Plan, day: DayResult, reader: Reader) -> list[tuple[str, str, str]]:
    """Half changes of every box until the house opens next morning."""
    until = day.opens + timedelta(days=1)
    found = []
    for box in _waiting_boxes(plan):
        if box.stay is None:
            continue
        latest = box_latest(box, day)
        made = [_later(day.opens, minute) for minute in box.stay.changed_min]
        told = () if latest is None or latest >= until else (latest,)
        caught = _later(day.opens, box.stay.caught_from_min)
        found.append(_changes_of(box, caught, until, reader, made=made, told=told))
    return found


def _who_looks(job: Job, at: datetime, reader: Reader) -> str:
    """Who can look after closing: a house with people at all hours, or whoever has a key."""
    if job.site.care_setting:
        return say("night.staff", {}, reader)
    leaves = job.site.key_holder_leaves
    shut = leaves is not None and leaves < at.replace(tzinfo=None)
    return say("night.crew_with_key" if shut else "night.somebody_with_key", {}, reader)


def _part(title: str, entries: Sequence[Entry], closes: datetime, reader: Reader) -> dict[str, Any]:
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
        "title": say(title, {"date": f"{first:%a %d %b %Y}"}, reader),
        "hours": say("two_days.late" if late > 0 else "two_days.in_time", values, reader),
        "rows": hour_rows(entries, (), first, reader),
    }


def _overnight_at(job: Job) -> str:
    """Where the animals are between two days: at the site unless they are boarded."""
    kept = [kind for kind in job.livestock or () if kind.keep]
    if job.livestock is not None and not kept:
        return "none"
    return "boarded" if kept and all(kind.boarded for kind in kept) else "wait"


SPLIT_LABELS = {"E4": "two_days.lower", "E24": "two_days.fill", "E29": "two_days.tidy"}
"""Work that is another on one of two days than on the one day it stands for in the table of activities."""


def _told(entries: Sequence[Entry], reader: Reader, *, but: str) -> list[Entry]:
    """The work of one of two days as it is called there."""
    return [
        entry.model_copy(update={"label": say(SPLIT_LABELS[entry.activity], {}, reader)})
        if entry.activity in SPLIT_LABELS and entry.activity not in but.split()
        else entry
        for entry in entries
    ]


def _box_nights(plan: Plan, job: Job, day: DayResult, reader: Reader) -> tuple[list[tuple[str, str, str]], bool]:
    """Half changes of every box between the days, and whether none is due while nobody is there."""
    caught = [entry.start for entry in day.first_day if entry.phase == "catch"]
    back = [entry.end for entry in day.second_day if entry.phase == "return"]
    if not caught or not back or _overnight_at(job) != "wait":
        return [], True
    since, until = min(caught), max(back)
    leave, again = max(entry.end for entry in day.first_day), min(entry.start for entry in day.second_day)
    planned = sorted(entry.start for entry in day.first_day if entry.activity in REFRESHES and entry.start > since)
    by_day = [_hours_after(since, moment) for moment in (*planned, leave)]
    rows, borne = [], True
    for box in _waiting_boxes(plan):
        limit_h = planned_at_most(box.hours.low)
        borne = borne and not latest_half_changes(limit_h, until=_hours_after(since, again), done=by_day)
        rows.append(_changes_of(box, since, until, reader, told=planned))
    return rows, borne


def _reserve(job: Job) -> AccessWindow | None:
    return next((window for window in job.site.windows or () if window.kind == "reserve"), None)


def two_days_verdict(plan: Plan, job: Job, day: DayResult) -> str:
    """What the day split at the safe overnight state comes to.

    Returns
    -------
    str
        ``fits``, ``boarded`` (only with the animals boarded), ``too_short``; empty where the one day fits or no second
        one is agreed.
    """
    reserve = _reserve(job)
    if reserve is None or not day.first_day or not day.second_day:
        return ""
    closes = reserve.end.replace(tzinfo=zone(str(job.site.time_zone)))
    first, second = (max(entry.end for entry in part) for part in (day.first_day, day.second_day))
    if first > day.closes or second > closes:
        return "too_short"
    return "fits" if _box_nights(plan, job, day, ENGLISH)[1] else "boarded"


def split_told(plan: Plan, job: Job, day: DayResult, reader: Reader) -> str:
    """The split in one line for the first page; empty where it is none of the ways."""
    verdict = two_days_verdict(plan, job, day)
    if verdict not in ("fits", "boarded"):
        return ""
    second = day.second_day
    start, end = min(entry.start for entry in second), max(entry.end for entry in second)
    values = {"date": f"{start:%a %d %b}", "start": f"{start:%H:%M}", "end": clock_time(end, start.date())}
    return say(f"two_days.head_{verdict}", values, reader)


def second_day_steps(plan: Plan, job: Job, day: DayResult) -> tuple[Step, ...]:
    """The second day for calendar and packing list, where splitting the work is a way."""
    if two_days_verdict(plan, job, day) not in ("fits", "boarded"):
        return ()
    start, end = min(entry.start for entry in day.second_day), max(entry.end for entry in day.second_day)
    return (Step(id="second_day", on=None, at=start, ends=end),)


def _two_days(plan: Plan, job: Job, day: DayResult, reader: Reader) -> dict[str, Any] | None:
    """The day split at the safe overnight state; None where the one day fits or no second one is agreed."""
    reserve, verdict = _reserve(job), two_days_verdict(plan, job, day)
    if reserve is None or not verdict:
        return None
    closes = reserve.end.replace(tzinfo=zone(str(job.site.time_zone)))
    safe, again = max(entry.end for entry in day.first_day), min(entry.start for entry in day.second_day)
    rows, borne = _box_nights(plan, job, day, reader)
    span = {"safe": f"{safe:%a %H:%M}", "again": f"{again:%a %H:%M}"}
    return {
        "title": say("two_days.title", {}, reader),
        "lead": say(f"two_days.{verdict}", {}, reader),
        "first": _part("two_days.first", _told(day.first_day, reader, but="E4 E24"), day.closes, reader),
        "between": say("two_days.between", span, reader),
        "boxes": say("two_days.boxes" if borne else "two_days.boxes_not", span, reader) if rows else "",
        "changes": rows,
        "plants": _plants_over_night(day, reader),
        "must": [*_night_facts(job, _overnight_at(job), reader), *sentence_list("night.must", reader)],
        "second": _part("two_days.second", _told(day.second_day, reader, but="E29"), closes, reader),
        "water": say("two_days.water", {}, reader) if any(entry.activity == "E24" for entry in day.second_day) else "",
    }


def _plants_over_night(day: DayResult, reader: Reader) -> str:
    """What pulled plants need from the first day to the second, against the limit of their tray."""
    tray = next((span for span in day.clocks if span.ends_with.startswith("E22") and span.clock == "plants"), None)
    pulled = [entry.end for entry in day.first_day if entry.activity == "E10"]
    planted = [entry.end for entry in day.second_day if entry.activity == "E22"]
    if tray is None or not pulled or not planted:
        return ""
    values = {
        "since": f"{pulled[0]:%a %H:%M}",
        "until": f"{planted[0]:%a %H:%M}",
        "limit": spoken(tray.limit_min),
    }
    return say("two_days.plants", values, reader)


def _night(plan: Plan, job: Job, day: DayResult, reader: Reader) -> dict[str, Any]:
    first = day.opens.date()
    where = _whereabouts(plan, job)
    visits = [step for step in (plan.supply.calendar if plan.supply else ()) if step.id.startswith("visit") and step.on]
    visit = (
        say("night.visit", {"date": f"{visits[0].on:%a %d %b}"}, reader)
        if visits
        else say("night.visit_unknown", {}, reader)
    )
    crew = ", ".join(dict.fromkeys(name for entry in day.entries for name in entry.crew))
    leave = max(day.closes, day.finish or day.closes)
    later = _to_five(leave + LOOK_AGAIN)
    again = say("night.after_leaving", {"time": clock_time(later, first)}, reader)
    looks = say("night.staff_looks", {"animals": say(f"night.look_{where}", {}, reader)}, reader)
    shut = not job.site.care_setting
    return {
        "title": say("night.title", {}, reader),
        "rule": say("night.rule", {}, reader),
        "must": [*_night_facts(job, where, reader), *sentence_list("night.must", reader)],
        "changes": _night_changes(plan, day, reader) if where == "wait" else [],
        "changes_rule": say("night.changes_rule", {}, reader),
        "looks": [
            (say("night.before_leaving", {}, reader), crew, say("night.crew_looks", {}, reader)),
            (again, _who_looks(job, later, reader), looks),
            (
                say("night.morning", {}, reader),
                say("night.opens_the_house" if shut else "night.staff", {}, reader),
                looks,
            ),
            (visit, "", say("night.visit_looks", {}, reader)),
        ],
        "photo": say("night.photo", {}, reader),
        "triggers": sentence_list("night.triggers", reader),
        "then": say("night.then", {}, reader),
        "calls": sentence_list("night.calls", reader),
    }


def _fallback(day: DayResult, reader: Reader) -> dict[str, Any]:
    points = stop_points(day, reader)
    safe = "" if day.safe_planned is None else clock_time(day.safe_planned, day.opens.date())
    return {
        "title": say("fallback.title", {}, reader),
        "how": say("fallback.how", {}, reader),
        "points": points,
        "hopeless": say("fallback.none_left", {}, reader)
        if day.risk.latest_starts and day.risk.latest_starts[0].at is None
        else "",
        "drops_rule": say("fallback.drops" if day.drops else "fallback.no_drops", {}, reader),
        "drops": [(say(f"drop.{item.id}", {}, reader), f"{item.saves_min} min") for item in day.drops],
        "safe": say("fallback.safe", {"time": safe}, reader) if safe else "",
        "early": ""
        if day.safe_state is None
        else say("fallback.early", {"time": clock_time(day.safe_state, day.opens.date())}, reader),
        "stop": say("fallback.safe_stop", {}, reader),
        "cautions": [say(f"fallback.{name}", {}, reader) for name in ("power", "water", "peroxide")],
        "lines": [row for row in hour_rows(day.entries, (), day.opens.date(), reader) if row["id"]],
    }
