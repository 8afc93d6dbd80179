"""What would make a day fit: one change to it at a time, or two, each solved again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from slackwater.day.activities import CrewMember, Minutes, minutes_of
from slackwater.day.drivers import Driver
from slackwater.day.model import Schedule
from slackwater.day.result import WhatIf
from slackwater.day.version import LONGEST_PLANNED_MIN, Version, hm, hours, member_of, scaled

QUICK = 0.3
"""Deterministic effort for each question beside the day itself."""
LATEST_LATER_END_MIN = 150
"""A house may agree to stay this much longer; beyond it is another day; common practice, no source."""
HELPER_SPEED = 0.8
"""Pace of a helper nobody knows yet, against the lead's; common practice, no source."""
BENCH_SHARE = 0.3
"""Share of the epiphyte minutes left on site when they were fixed at the bench; common practice, no source."""


@dataclass(frozen=True)
class Change:
    """A version of the day with one thing changed, and what its sentence needs."""

    day: Version
    values: Mapping[str, float | str]


def changes_of(day: Version) -> Mapping[str, Change]:
    """Single changes to the day, smallest first, and the pair of them that costs least."""
    job = day.job
    found: dict[str, Change] = {}
    if not job.brief.epiphytes_at_bench and day.minutes.get("E21", Minutes(0, 0, 0)).typical > 0:
        bench = replace(day, minutes={**day.minutes, "E21": scaled(day.minutes["E21"], BENCH_SHARE)})
        found["epiphytes_at_bench"] = Change(bench, {})
    carpet = _carpet_left_out(day)
    if carpet is not None:
        portions = (day.drivers["soil_portions"].quantity or 0) - (carpet.drivers["soil_portions"].quantity or 0)
        found["carpet_later"] = Change(carpet, {"portions": portions})
    on_call = [person for person in job.people or () if person.on_call]
    extra = [member_of(person, day.face, day.closes_min) for person in on_call]
    helper = (
        extra[0] if extra else CrewMember("one more helper", HELPER_SPEED, {}, ((0, LONGEST_PLANNED_MIN),), 0, 0, 0)
    )
    values: dict[str, float | str] = {"person": helper.id}
    more = [*day.crew, helper]
    found["one_more_person"] = Change(replace(day, crew=more), values)
    if carpet is not None:
        found["person_and_carpet"] = Change(replace(carpet, crew=more), values)
    return found


def what_if(day: Version, name: str, end: int | None, closes_min: int, values: Mapping[str, float | str]) -> WhatIf:
    """The answer to one change: when the day then ends, against a closing time."""
    margin = None if end is None else closes_min - end
    return WhatIf(
        id=name,
        values={
            **values,
            "finish": "" if end is None else hm(day.face, end),
            "margin_min": abs(margin or 0),
            "closes": hm(day.face, closes_min),
        },
        finish=None if end is None else day.face.moment(end),
        margin_min=margin,
        fits=margin is not None and margin >= 0,
        proved=False,
    )


def _carpet_left_out(day: Version) -> Version | None:
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
        minutes={**day.minutes, "E22": minutes_of(row, driver)},
    )


def later_end(day: Version, schedule: Schedule) -> WhatIf:
    """The day as it is, to its end: a repair only where clocks bear it and a house might agree to it."""
    finish = schedule.finish_min or 0
    late = max(0, finish - day.closes_min)
    found = what_if(day, "later_end", finish, finish, {"late_min": late})
    return found.model_copy(update={"fits": schedule.excess_min == 0 and late <= LATEST_LATER_END_MIN})


def second_day(day: Version) -> Version:
    """The same crew on a day of their own, with nothing to be quiet for."""
    crew = [replace(member, windows=((0, LONGEST_PLANNED_MIN),), break_min=0) for member in day.crew]
    site = day.job.site.model_copy(update={"quiet": ()})
    return replace(day, crew=crew, job=day.job.model_copy(update={"site": site}))


def reserve_day(day: Version, safe: int | None, rest: int | None) -> WhatIf:
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
            "safe": "" if safe is None else hm(face, safe),
            "closes": hm(face, day.closes_min),
            "second_h": hours(rest),
            "reserve_h": hours(length),
        },
        finish=None if safe is None else face.moment(safe),
        margin_min=None if safe is None else day.closes_min - safe,
        fits=fits,
        proved=False,
    )
