"""The handover sheet for the client's staff: what is normal in the coming weeks, what to do, when to call."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from slackwater.job.model import Job
from slackwater.living.holding import Limits
from slackwater.living.result import Weeks
from slackwater.plan import Plan, animals_back
from slackwater.reader import Reader
from slackwater.supply.calendar import LAST_DAY
from slackwater.units import show
from slackwater.wording.render import say, sentence_list

MOST_ROWS = 12
"""Visits that are told one by one; a sheet on the wall has room for no more."""
SPREAD_K = Limits.drift_k
"""So far off its target the water may be before somebody is called."""


def handover_data(plan: Plan, job: Job, reader: Reader) -> dict[str, Any]:
    """Everything the handover sheet reads; what is not known is left to be written in."""
    weeks = None if plan.living is None else plan.living.weeks
    refilled = _refilled(plan, weeks)
    temp_c = job.target.temp_c if job.target.temp_c is not None else plan.water.refill.temp_c if plan.water else None
    calls = sentence_list("handover.call_when", reader)
    if temp_c is not None:
        band = {"low": show(temp_c - SPREAD_K, "°C", reader), "high": show(temp_c + SPREAD_K, "°C", reader)}
        calls.append(say("handover.temp", band, reader))
    return {
        "rebuilt": "" if refilled is None else f"{refilled:%a %d %b %Y}",
        "normal": [
            *sentence_list("handover.normal", reader),
            *([say("handover.wood", {}, reader)] if job.wood else []),
        ],
        "please": [*_feeding(plan, weeks, refilled, job, reader), *sentence_list("handover.please", reader)],
        "not_you": sentence_list("handover.not_you", reader),
        "calls": calls,
        "visits": [] if refilled is None else _visits(weeks, refilled, job, reader),
        "danger": sentence_list("handover.danger", reader),
    }


def _refilled(plan: Plan, weeks: Weeks | None) -> date | None:
    """Day 0 of the weeks after."""
    if weeks is not None and weeks.refilled is not None:
        return weeks.refilled
    return None if plan.day is None else plan.day.closes.date()


def _feeding(plan: Plan, weeks: Weeks | None, refilled: date | None, job: Job, reader: Reader) -> list[str]:
    if not any(animals.keep for animals in job.livestock or ()):
        return []
    back = animals_back(plan, job)
    if weeks is None or refilled is None or back is None:
        return [say("handover.feed_open", {}, reader)]
    told = [say("handover.back_later", {"date": f"{back.on:%a %d %b}"}, reader)] if back.day else []
    told.append(say("handover.feed_date", {"date": f"{back.fed_from:%a %d %b}"}, reader))
    if weeks.plan is not None and weeks.plan.feed_share < 1:
        until = refilled + timedelta(days=weeks.plan.until_day)
        share = {"date": f"{until:%a %d %b}", "percent": f"{100 * weeks.plan.feed_share:.0f}"}
        told.append(say("handover.feed_less", share, reader))
    return told


def _visits(weeks: Weeks | None, refilled: date, job: Job, reader: Reader) -> list[list[str]]:
    """Dates on which somebody comes or water is to be changed, with what is done."""
    plan = None if weeks is None else weeks.plan
    changes = {} if plan is None else dict(zip(plan.days, plan.litres, strict=True))
    visits = set(job.contract.visit_days(last_day=LAST_DAY))
    days = sorted(visits | set(changes))
    rows = []
    for day in days[:MOST_ROWS]:
        name = "visit" if day not in changes else "change" if day in visits else "change_only"
        text = say(f"handover.{name}", {"litres_l": changes.get(day, 0.0)}, reader)
        rows.append([f"{refilled + timedelta(days=day):%a %d %b}", str(day), text])
    if len(days) > MOST_ROWS:
        last = refilled + timedelta(days=days[-1])
        more = say("handover.more", {"count": str(len(days) - MOST_ROWS), "date": f"{last:%a %d %b}"}, reader)
        rows.append(["", "", more])
    return rows
