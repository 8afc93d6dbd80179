"""Everything alive, made by hand with plausible values: the papers are tested without minutes of reckoning."""

from __future__ import annotations

from datetime import date
from typing import Any

from slackwater.living.result import (
    Band,
    BoxCourse,
    BoxHours,
    Catch,
    ChangePlan,
    Fan,
    FilterState,
    Hours,
    Living,
    OptionOutcome,
    PeroxideUse,
    Way,
    Weeks,
)
from slackwater.plan import LivingPlan

HOURS = tuple(hour / 2 for hour in range(29))
DAYS = tuple(float(day) for day in range(61))


def course(temp_c: float = 24.6) -> BoxCourse:
    def rising(start: float, per_h: float) -> tuple[tuple[float, float, float], ...]:
        return tuple((start + 0.5 * per_h * hour, start + per_h * hour, start + 2 * per_h * hour) for hour in HOURS)

    return BoxCourse(
        hours=HOURS,
        oxygen_mg_l=tuple((7.0, 7.9, 8.2) for _ in HOURS),
        co2_mg_l=tuple((1.1, 1.4, 2.3) for _ in HOURS),
        ph=tuple((7.9, 8.1, 8.2) for _ in HOURS),
        tan_mg_l=rising(0.05, 0.08),
        uia_mg_l=rising(0.0005, 0.005),
        temp_c=tuple((temp_c - 0.1 * hour, temp_c - 0.05 * hour, temp_c) for hour in HOURS),
    )


def box(label: str = "A", **changes: Any) -> BoxHours:
    values: dict[str, Any] = {
        "label": label,
        "container": "box_45",
        "water_l": 21.7,
        "counts": {"trichopodus_leerii": 4},
        "shrimp": False,
        "keeping": "wrapped",
        "stones": 2,
        "heat_w": 9.2,
        "hours": Hours(low=28 / 3, middle=12.5, high=None),
        "binds": "ammonia",
        "refreshed_h": (6.2, 5.3),
        "still": Hours(low=1.0, middle=2.2, high=5.3),
        "still_binds": "oxygen",
        "air_failed": False,
        "failure_at_h": 3.0,
        "after_failure": Hours(low=0.5, middle=1.8, high=5.8),
        "ways": (
            Way(id="change", hours=Hours(low=13.5, middle=None, high=None), values={"at_h": 6.25}),
            Way(id="fuller", hours=Hours(low=11.0, middle=None, high=None), values={"litres_l": 34.0}),
            Way(id="split", hours=Hours(low=9.3, middle=None, high=None)),
        ),
        "course": course(),
    }
    return BoxHours(**(values | changes))


def endless_box(label: str = "B") -> BoxHours:
    """One that keeps all limits as long as was looked at."""
    never = Hours(low=None, middle=None, high=None)
    return box(
        label,
        hours=never,
        binds="",
        still=never,
        still_binds="",
        after_failure=never,
        ways=(),
        keeping="heated",
        stones=0,
        refreshed_h=(9.3, 8.0),
    )


def filter_state() -> FilterState:
    return FilterState(
        shut_min=Band(low=13.2, middle=40.9, high=128.8),
        mature=True,
        surviving=Band(low=0.5, middle=0.85, high=0.98),
        loss_per_day=Band(low=0.1, middle=0.2, high=0.3),
        lag_first_h=Band(low=0.5, middle=6.0, high=18.0),
        lag_second_h=Band(low=0.2, middle=2.0, high=8.0),
        peroxide_loss=Band(low=0.05, middle=0.3, high=0.9),
    )


def peroxide(**changes: Any) -> PeroxideUse:
    values: dict[str, Any] = {
        "area_m2": 1.97,
        "litres": 0.197,
        "grams": 5.96,
        "strength_percent": 3.0,
        "dilute_from_percent": None,
        "stock_l": None,
        "doubtful": "",
        "wait_min": 10.0,
        "left_after_wait": Band(low=0.25, middle=0.63, high=0.84),
        "rinses": 3,
        "rinse_l": 12.5,
        "refill_mg_l": 0.017,
        "unrinsed_mg_l": 122.0,
        "unrinsed_h": Band(low=4.3, middle=17.3, high=78.0),
        "limit_mg_l": 0.3,
    }
    return PeroxideUse(**(values | changes))


def fan(peak: float, at: float = 9.0) -> Fan:
    return Fan(
        days=DAYS,
        bands=tuple(
            tuple(factor * peak * (day / at) * 2.718 ** (1 - day / at) for factor in (0.2, 0.6, 1.0, 1.6, 3.0))
            for day in DAYS
        ),
    )


def level(value: float, width: float) -> Fan:
    row = (value - 2 * width, value - width, value, value + width, value + 2 * width)
    return Fan(days=DAYS, bands=tuple(row for _ in DAYS))


def option(name: str, kept: float, **changes: Any) -> OptionOutcome:
    values: dict[str, Any] = {
        "id": name,
        "return_day": 0.0,
        "kept": kept,
        "over_ammonia": 0.6 * (1 - kept),
        "over_nitrite": 0.8 * (1 - kept),
        "by_species": {"trichopodus_leerii": 0.2 * (1 - kept), "caridina_multidentata": 1 - kept},
        "cost": 100.0,
        "passes": kept >= 0.95,
    }
    return OptionOutcome(**(values | changes))


OPTIONS = (
    option("binder", 0.97, cost=9.0, values={"kg": 1.5}),
    option("inert_soil", 0.96, cost=0.0),
    option("hold", 0.99, cost=1726.0, return_day=21.0, values={"days": 21}),
    option("binder_and_hold", 0.98, cost=455.0, return_day=7.0, values={"kg": 1.5, "days": 7}),
    option("more_changes", 0.948, cost=1330.0, values={"changes": 26, "extra": 19}),
    option("part", 0.44, values={"days": 28}),
    option("part_half", 0.4, values={"days": 14}),
    option("seeded", 0.19, cost=40.0, values={"litres_l": 4.0}),
    option("lean_soil", 0.15, cost=0.0),
    option("today", 0.11, cost=0.0),
)


def change_plan(**changes: Any) -> ChangePlan:
    values: dict[str, Any] = {
        "days": (1, 5, 12, 26),
        "litres": (80.0, 80.0, 40.0, 40.0),
        "waters": ("permeate", "permeate", "tap", "tap"),
        "probability": 0.97,
        "keeps": True,
        "binding_day": 9,
        "binding_limit": "nitrite",
        "sampling_days": (5, 9, 16),
        "tried": 3000,
        "feed_share": 1.0,
        "kept_short_light": 0.94,
        "by_contract": True,
    }
    return ChangePlan(**(values | changes))


def weeks(**changes: Any) -> Weeks:
    values: dict[str, Any] = {
        "members": 1000,
        "fit_share": 0.31,
        "soil": "active",
        "sensitive": ("caridina_multidentata",),
        "uia_limit_mg_l": 0.02,
        "nitrite_limit_mg_l": 0.19,
        "tan_limit_mg_l": 1.5,
        "options": OPTIONS,
        "chosen": "binder",
        "fans": {
            "tan_mg_l": fan(0.8),
            "uia_mg_l": fan(0.008),
            "nitrite_mg_l": fan(0.08, at=14.0),
            "nitrate_mg_l": fan(20.0, at=40.0),
            "alkalinity_dkh": level(2.0, 0.3),
            "ph": level(6.8, 0.1),
        },
        "drivers": (
            ("soil_nitrogen_mg_l", 0.79),
            ("plant_growth_per_d", -0.38),
            ("decay_per_d", 0.2),
            ("yield_first", 0.05),
        ),
        "plan": change_plan(),
        "refilled": date(2027, 2, 10),
        "ph_table_error": 0.0078,
        "uia_table_error": 0.021,
    }
    return Weeks(**(values | changes))


def catch(**changes: Any) -> Catch:
    values: dict[str, Any] = {
        "species": "neocaridina_davidi",
        "passes": (46, 29, 20),
        "caught": 95,
        "left": 33.0,
        "left_low": 10.0,
        "left_high": 122.0,
        "minutes_to_90": 77.1,
        "advice": "go_on",
        "from_passes": True,
    }
    return Catch(**(values | changes))


def living(**changes: Any) -> Living:
    shrimp = {
        "container": "bucket_20",
        "counts": {"caridina_multidentata": 16},
        "shrimp": True,
        "keeping": "bare",
        "stones": 1,
        "hours": Hours(low=5 / 6, middle=2.0, high=6.0),
        "binds": "oxygen",
    }
    values: dict[str, Any] = {
        "boxes": (box("A"), endless_box("B"), box("C", **shrimp)),
        "clocks": (),
        "filter": filter_state(),
        "peroxide": peroxide(),
        "catches": (),
        "weeks": weeks(),
    }
    return Living(**(values | changes))


def nothing_known() -> Living:
    """As little as there can be."""
    return Living(boxes=(), clocks=(), filter=None, peroxide=None, catches=(), weeks=None)


def living_plan_of(found: Living | None, **changes: Any) -> LivingPlan:
    values: dict[str, Any] = {
        "version": "test",
        "job_name": "Blue corridor",
        "reference": "BC",
        "job_hash": "0123456789abcdef",
        "findings": (),
        "figures": (),
        "assumed": (),
        "water": None,
        "living": found,
    }
    return LivingPlan(**(values | changes))
