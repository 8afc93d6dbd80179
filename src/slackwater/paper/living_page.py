"""The living page: a card for each box, filter, peroxide, catching, and the weeks after; as texts for the template."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from slackwater.day.result import ClockSpan, DayResult
from slackwater.day.when import clock_time
from slackwater.finding import Finding, Severity
from slackwater.job.catalog import Catalog
from slackwater.living.assess import LONGEST_CLOCK_MIN, heater_sold_w
from slackwater.living.catching import two_passes
from slackwater.living.holding import DRIFT_K, Limits
from slackwater.living.result import Band, BoxHours, Catch, FilterState, Hours, Living, PeroxideUse
from slackwater.living.waiting import LAST_H
from slackwater.living.weeks import NH4_PER_N
from slackwater.paper.fact_names import finding_told
from slackwater.paper.living_figures import box_figure_name, box_groups
from slackwater.paper.living_weeks import no_weeks, show_small, weeks_data
from slackwater.reader import Reader
from slackwater.units import digits, show, show_about, spoken
from slackwater.water.ammonia import acute_2013_mg_l
from slackwater.water.assess import REFRESH_SHARE
from slackwater.water.result import WaterBudget
from slackwater.wording.render import between, named, remedy_sentence, say, sentence_list

STEP_MIN = 5
"""Ways that buy less than this buy nothing."""
DECIDING = (Severity.REFUSE, Severity.MISFIT, Severity.MISSING)
URGENT = frozenset(
    f"living.{name}"
    for name in (
        "not_today",
        "return_today",
        "reading_high",
        "air_stopped",
        "box_on_the_day",
        "found_without_box",
        "count_of_unknown",
        "unknown_box",
    )
)
"""What decides on the day or cannot wait, whatever it weighs in the verdict."""
FIRST_PASS = (40, 20, 10, 5)
SECOND_PASS = (20, 10, 5, 2, 1, 0)
"""Counts of the printed table: what two people catch in a pass of twenty minutes."""


def duration(hours: float | None, reader: Reader) -> str:
    """Hours as people say them, rounded down; None is longer than was looked at."""
    if hours is None:
        return say("box.longer", {"hours_h": LAST_H}, reader)
    return spoken(60 * hours)


def _later(moment: datetime, minutes: int) -> datetime:
    """So many real minutes later, by the clock of the place: a clock change moves what is shown, not what passes."""
    return (moment.astimezone(UTC) + timedelta(minutes=minutes)).astimezone(moment.tzinfo)


def _id(name: str) -> str:
    return name.replace(" ", "_")


def _holds(hours: Hours, reader: Reader) -> str:
    """Low end and middle in one line; shorter where both are the same to five minutes."""
    low, rule = duration(planned_at_most(hours.low), reader), duration(hours.middle, reader)
    return say("box.holds_alike" if low == rule else "box.holds", {"low": low, "rule": rule}, reader)


def _ways(box: BoxHours, reader: Reader, *, changed: bool) -> list[str]:
    if box.hours.low is None:
        return []
    found = []
    for way in box.ways:
        if changed and way.id == "change":
            continue
        values = dict(way.values)
        if "at_h" in values:
            values["at"] = duration(float(values["at_h"]), reader)
        what = say(f"way.{way.id}", values, reader)
        longer = way.hours.low is None or way.hours.low >= box.hours.low + STEP_MIN / 60
        # Ways are reckoned with air, which a box whose air has stopped lacks.
        sentence = "buys_with_air" if _air_stopped(box) else "buys" if longer else "buys_nothing"
        found.append(say(f"box.{sentence}", {"what": what, "low": duration(way.hours.low, reader)}, reader))
    return found


def _air_stopped(box: BoxHours) -> bool:
    """Whether events told so; otherwise the hour is the one that every box is tried with."""
    return box.air_failed


def _unheated(box: BoxHours, reader: Reader) -> list[str]:
    hours = box.unheated_h
    if hours is None:
        return []
    values: dict[str, float | str] = {
        "low": duration(hours.low, reader),
        "rule": duration(hours.middle, reader),
        "drift_k": DRIFT_K,
    }
    return [say("box.unheated", values, reader)]


def _spans(box: BoxHours, day: DayResult | None) -> list[ClockSpan]:
    """The stretches of the clock that a box of this kind runs on, in order."""
    if day is None or box.air_failed:
        return []
    name = "shrimp_box" if box.shrimp else "holding"
    return sorted((span for span in day.clocks if span.clock == name), key=lambda span: span.latest)


def box_latest(box: BoxHours, day: DayResult | None) -> datetime | None:
    """The one latest time of a box on the planned day: its animals are out by then, changed as the plan says.

    It is that of the box that bears least among those that are changed together, so no paper tells two.

    Returns
    -------
    datetime or None
        None without a day, or where its air is known to have stopped.
    """
    spans = _spans(box, day)
    return spans[-1].latest if spans else None


def change_times(box: BoxHours, day: DayResult | None) -> tuple[datetime, ...]:
    """The latest times of the changes of a box on the planned day, in order; none where the day has none."""
    return tuple(span.latest for span in _spans(box, day)[:-1])


def _latest(box: BoxHours, boxes: Sequence[BoxHours], day: DayResult | None, reader: Reader) -> tuple[str, str]:
    """The latest time of a box with those of its changes, and the reason."""
    spans = _spans(box, day)
    if not spans or day is None:
        return "", ""
    first = day.opens.date()
    changes = ", ".join(clock_time(span.latest, first) for span in spans[:-1])
    told = {"latest": clock_time(spans[-1].latest, first), "changes": changes}
    alike = [other for other in boxes if other.shrimp == box.shrimp and not other.leaves] or [box]
    least = min(alike, key=lambda other: LAST_H if other.hours.low is None else other.hours.low)
    reason = {
        "what": say(f"binds.{_id(least.binds)}", {}, reader) if least.binds else say("box.rule", {}, reader),
        "limit": spoken(spans[-1].limit_min),
        "since": say("box.since_change" if changes else "box.since_caught", {}, reader),
        "box": least.label,
    }
    return (
        say("box.latest_changed" if changes else "box.latest", told, reader),
        say("box.reason" if least.label == box.label or len(alike) == 1 else "box.reason_other", reason, reader),
    )


def _without_air(box: BoxHours, reader: Reader) -> list[str]:
    """Without air from the start, and when it stops on the way or has stopped."""
    left = {"low": duration(box.after_failure.low, reader), "rule": duration(box.after_failure.middle, reader)}
    hour = digits(box.failure_at_h, 2)
    if box.failure_at_h == 0:
        return [say("box.failed_unknown", left, reader)]
    if _air_stopped(box):
        return [say("box.failed", {**left, "hour": hour}, reader)]
    still = {"low": duration(box.still.low, reader), "rule": duration(box.still.middle, reader)}
    binds = say(f"binds.{_id(box.still_binds)}", {}, reader) if box.still_binds else ""
    shorter = box.after_failure.low is not None and (box.still.low is None or box.after_failure.low < box.still.low)
    return [
        say(
            "box.still" if binds and still["low"] != still["rule"] else "box.still_alike",
            {**still, "what": binds},
            reader,
        ),
        say("box.failure" if left["low"] != left["rule"] else "box.failure_alike", {**left, "hour": hour}, reader)
        + (" " + say("box.failure_shorter", {}, reader) if shorter else ""),
    ]


def _refresh(box: BoxHours, reader: Reader) -> str:
    if box.hours.low is None or not box.refreshed_h:
        return ""
    told = dict(zip(("once", "twice"), (duration(hours, reader) for hours in box.refreshed_h), strict=False))
    return say("box.refresh_twice" if "twice" in told else "box.refresh_once", told, reader)


def _stay(box: BoxHours, day: DayResult | None, reader: Reader) -> str:
    """The hours of the planned day, and how often they keep the box's limits; empty without them."""
    if day is None or box.stay is None or box.kept_share is None or box.air_failed:
        return ""
    stay, first = box.stay, day.opens.date()

    def at(minute: int) -> str:
        return clock_time(_later(day.opens, minute), first)

    changes = ", ".join(at(minute) for minute in stay.changed_min)
    return say(
        "box.stay_changed" if changes else "box.stay",
        {
            "caught": between(at(stay.caught_from_min), at(stay.caught_by_min), reader),
            "changes": changes,
            "out": between(at(stay.let_go_from_min), at(stay.let_go_by_min), reader),
            "kept": f"{100 * box.kept_share:.0f}",
        },
        reader,
    )


def _lowest_acute_mg_l(box: BoxHours) -> float:
    """TAN from which it would kill within hours, at the highest pH that the box is likely to come to [mg N/L]."""
    ph, temp = (np.asarray(band, dtype=float) for band in (box.course.ph, box.course.temp_c))
    return float(np.min(acute_2013_mg_l(ph=ph[:, 2], temp_c=temp[:, 1])))


def planned_at_most(hours: float | None) -> float:
    """What a box is told to hold in large: never more than is planned."""
    cap_h = LONGEST_CLOCK_MIN / 60
    return cap_h if hours is None else min(cap_h, hours)


def _box(
    box: BoxHours,
    boxes: Sequence[BoxHours],
    census: str,
    catalog: Catalog,
    reader: Reader,
    day: DayResult | None,
) -> dict[str, Any]:
    container, acute = catalog.containers[box.container], _lowest_acute_mg_l(box)
    binds = say(f"binds.{_id(box.binds)}", {}, reader) if box.binds else ""
    stay, (latest, reason) = _stay(box, day, reader), _latest(box, boxes, day, reader)
    first = ""
    # Behind a latest time stands what reaches its limit already.
    if binds and not latest:
        first = say("box.first_if" if box.hours.low is None else "box.first", {"what": binds}, reader)
    stones = ("box.no_stone", "box.stone")[box.stones] if box.stones < 2 else "box.stones"
    return {
        "label": box.label,
        "who": [
            {
                "name": catalog.species[name].common_name,
                "latin": catalog.species[name].scientific_name,
                "count": str(count),
            }
            for name, count in box.counts.items()
        ],
        "census": census,
        "container": f"{named(container.container, reader)} {show(container.nominal_l, 'L', reader)}",
        "water": show(box.water_l, "L", reader),
        "air": say(stones, {"count": str(box.stones)}, reader),
        "keeping": say(f"keeping.{box.keeping}", {"heat": f"{heater_sold_w(box.heat_w)}"}, reader),
        "holds": _holds(box.hours, reader),
        "low": duration(planned_at_most(box.hours.low), reader),
        "rule": duration(box.hours.middle, reader),
        "act": say(
            "box.act",
            {
                "tan": show_small(acute, reader),
                "nh4": show_small(NH4_PER_N * acute, reader),
                "litres": show(REFRESH_SHARE * box.water_l, "L", reader, significant=2),
            },
            reader,
        ),
        "binds": binds,
        "first": first,
        "watch": say(f"watch.{_id(box.binds)}" if box.binds else "watch.any", {"drift_k": Limits.drift_k}, reader),
        "latest": latest,
        "times": [text for text in (stay, reason) if text],
        "unheated": "" if box.unheated_h is None else duration(box.unheated_h.low, reader),
        "without_air": [*_without_air(box, reader), *_unheated(box, reader)],
        # Where the day has the changes in it, what they would buy is in its latest time already.
        "ways": _ways(box, reader, changed=bool(latest)),
        "refresh": "" if latest else _refresh(box, reader),
    }


def _census(water: WaterBudget | None, reader: Reader) -> Mapping[str, str]:
    """How many there are in all where the census left it open, by box."""
    if water is None:
        return {}
    return {
        use.label: say("box.count", {"low": str(use.animals_low), "high": str(use.animals_high)}, reader)
        for use in water.boxes
        if use.animals_low != use.animals_high and use.animals_low is not None
    }


def _figures(living: Living, reader: Reader) -> list[dict[str, str]]:
    found = []
    for number, group in enumerate(box_groups(living.boxes), start=1):
        holds = "; ".join(f"{box.label} {duration(box.hours.low, reader)}" for box in group)
        hours = max((hour for box in group for hour in box.course.hours), default=LAST_H)
        found.append(
            {
                "file": box_figure_name(number),
                "alt": say(
                    "living_alt.boxes",
                    {"boxes": ", ".join(box.label for box in group), "hours": f"{hours:g}", "holds": holds},
                    reader,
                ),
            }
        )
    return found


def _percent_band(band: Band, reader: Reader) -> str:
    low, middle, high = (f"{100 * share:.0f}" for share in (band.low, band.middle, band.high))
    return say("sheet.band", {"middle": f"{middle} %", "low": low, "high": f"{high} %"}, reader)


def _hours_band(band: Band, reader: Reader) -> str:
    low, middle, high = (digits(hours, 2) for hours in (band.low, band.middle, band.high))
    return say("sheet.band", {"middle": f"{middle} h", "low": low, "high": f"{high} h"}, reader)


def _minutes_band(band: Band, reader: Reader) -> str:
    low, middle, high = (spoken(minutes) for minutes in (band.low, band.middle, band.high))
    return say("sheet.band", {"middle": middle, "low": low, "high": high}, reader)


def _filter(state: FilterState, reader: Reader) -> dict[str, Any]:
    def row(name: str, value: str) -> list[str]:
        return [say(f"filter_card.{name}", {}, reader), value]

    return {
        "kind": say(f"filter_card.kind_{'mature' if state.mature else 'light'}", {}, reader),
        "rows": [
            [*row("shut", _minutes_band(state.shut_min, reader)), ""],
            [*row("surviving", _percent_band(state.surviving, reader)), say("filter_card.weak", {}, reader)],
            [*row("per_day", _percent_band(state.loss_per_day, reader)), ""],
            [*row("lag_first", _hours_band(state.lag_first_h, reader)), ""],
            [*row("lag_second", _hours_band(state.lag_second_h, reader)), say("filter_card.weak", {}, reader)],
            [*row("peroxide", _percent_band(state.peroxide_loss, reader)), say("filter_card.weak", {}, reader)],
        ],
        "cautions": [say(f"filter_card.{name}", {}, reader) for name in ("open", "flush", "never")],
    }


def _peroxide(use: PeroxideUse, reader: Reader) -> dict[str, Any]:
    strength = digits(use.strength_percent, 2)
    steps = [say("peroxide_card.ready", {}, reader)]
    if use.dilute_from_percent is not None and use.stock_l is not None:
        steps.append(
            say(
                "peroxide_card.thin",
                {
                    "percent": digits(use.dilute_from_percent, 2),
                    "stock": show_about(use.stock_l, "L", reader),
                    "water": show_about(use.litres - use.stock_l, "L", reader),
                    "strength": strength,
                },
                reader,
            )
        )
    steps += [
        say(
            "peroxide_card.spray",
            {
                "area_m2": float(digits(use.area_m2, 2)),
                "litres": show_about(use.litres, "L", reader),
                "strength": strength,
                "grams": show(use.grams, "g", reader, significant=2),
            },
            reader,
        ),
        say("peroxide_card.wait", {"wait_min": use.wait_min}, reader),
        say("peroxide_card.rinse", {"rinses": str(use.rinses), "rinse_l": use.rinse_l}, reader),
        say("peroxide_card.strip", {"limit_mg_l": use.limit_mg_l}, reader),
    ]
    return {
        "doubt": say(f"peroxide_card.{use.doubtful}", {}, reader) if use.doubtful else "",
        "steps": steps,
        "rows": [
            [say("peroxide_card.left", {}, reader), _percent_band(use.left_after_wait, reader)],
            [say("peroxide_card.rinsed", {}, reader), f"{show_small(use.refill_mg_l, reader)} mg/L"],
            [say("peroxide_card.unrinsed", {}, reader), f"{show_small(use.unrinsed_mg_l, reader)} mg/L"],
            [say("peroxide_card.unrinsed_h", {}, reader), _hours_band(use.unrinsed_h, reader)],
        ],
        "cautions": sentence_list("peroxide_card.cautions", reader),
    }


def _catch(item: Catch, catalog: Catalog, reader: Reader) -> dict[str, str]:
    species = catalog.species.get(item.species)
    left = say("catch.one_pass", {}, reader)
    if item.from_passes:
        if item.left is None:
            left = say("catch.endless", {}, reader)
        elif item.left_high is None:
            left = say("catch.range_open", {"left": f"{item.left:.0f}", "low": f"{item.left_low:.0f}"}, reader)
        else:
            left = say(
                "catch.range",
                {"left": f"{item.left:.0f}", "low": f"{item.left_low:.0f}", "high": f"{item.left_high:.0f}"},
                reader,
            )
    minutes = item.minutes_to_90
    return {
        "who": item.species.replace("_", " ") if species is None else species.common_name,
        "passes": ", ".join(str(count) for count in item.passes),
        "caught": str(item.caught),
        "left": left,
        "minutes": "" if not minutes else say("catch.minutes", {"minutes": f"{minutes:.0f}"}, reader),
        "advice": say(f"catch.{item.advice}", {}, reader),
    }


def _left_after(first: int, second: int) -> tuple[str, bool]:
    """What the printed rule says of two passes, and whether less than one is left."""
    if second >= first:
        return "?", False
    left = two_passes(first, second) - first - second
    return digits(round(left, 1), 2), left < 1


def _stop_rule(reader: Reader) -> dict[str, Any]:
    return {
        "words": sentence_list("catch.rule", reader),
        "title": say("catch.table", {}, reader),
        "second": [str(count) for count in SECOND_PASS],
        "rows": [
            {
                "first": str(first),
                "left": [
                    {"text": text, "stop": stop}
                    for text, stop in (_left_after(first, second) for second in SECOND_PASS)
                ],
            }
            for first in FIRST_PASS
        ],
    }


def opening_data(findings: Sequence[Finding], reader: Reader) -> dict[str, Any]:
    """What the living page by itself opens with, and what is left to settle at its end."""
    first = [finding for finding in findings if finding.severity in DECIDING or finding.id in URGENT]
    rest = [finding for finding in findings if finding not in first and finding.severity is Severity.CONDITION]

    def told(finding: Finding) -> dict[str, Any]:
        return {
            "text": finding_told(finding, reader),
            "remedies": [remedy_sentence(remedy, reader) for remedy in finding.remedies],
        }

    return {"opening": [told(finding) for finding in first], "living_findings": [told(finding) for finding in rest]}


def living_data(
    living: Living,
    water: WaterBudget | None,
    catalog: Catalog,
    reader: Reader,
    *,
    currency: str = "cr",
    day: DayResult | None = None,
) -> dict[str, Any]:
    """Everything the living page reads; with the day, hours of boxes are told by the clock too."""
    census = _census(water, reader)
    return {
        "boxes": [_box(box, living.boxes, census.get(box.label, ""), catalog, reader, day) for box in living.boxes],
        "box_words": [
            say(f"box.{name}", {"cap_h": LONGEST_CLOCK_MIN / 60, "look_h": LAST_H}, reader) for name in ("cap", "rim")
        ],
        "nobody": say("box.unsettled", {"lacks": "; ".join(living.boxes_lack)}, reader)
        if living.boxes_lack
        else say("box.nobody", {}, reader),
        "box_figures": _figures(living, reader),
        "box_caption": say(
            "weeks.boxes_on_the_day" if any(box.stay for box in living.boxes) else "weeks.boxes_figure", {}, reader
        ),
        "filter": None if living.filter is None else _filter(living.filter, reader),
        "no_filter": say("filter_card.none", {}, reader),
        "peroxide": None if living.peroxide is None else _peroxide(living.peroxide, reader),
        "no_peroxide": say("peroxide_card.none", {}, reader),
        "catches": [_catch(item, catalog, reader) for item in living.catches],
        "stop_rule": None if any(item.from_passes for item in living.catches) else _stop_rule(reader),
        "stop_words": sentence_list("catch.rule", reader),
        "weeks": None if living.weeks is None else weeks_data(living.weeks, water, catalog, reader, currency=currency),
        "no_weeks": no_weeks(reader),
    }
