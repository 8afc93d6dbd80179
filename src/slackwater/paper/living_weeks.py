"""The weeks after the restart as texts: options with their odds, courses, the change calendar, what it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from slackwater.job.catalog import Catalog
from slackwater.living.result import ChangePlan, Fan, OptionOutcome, Weeks
from slackwater.living.weeks import FALLS_BELOW, NH4_PER_N, NO2_PER_N
from slackwater.paper.living_figures import limits_of
from slackwater.reader import Reader
from slackwater.units import digits, show
from slackwater.water.result import WaterBudget
from slackwater.wording.render import named, say

WEAKEST_SHOWN = 0.1
STRONG, CLEAR = 0.6, 0.3
"""Rank correlations from which a cause is called strong or clear."""
HELD_BY_FROM = 0.01
MOST_NAMED = 2
LARGEST_STEP_K = 2.0
"""Temperature step of a change at which care begins; limits table, common practice."""
SMALLEST_MG_L = 0.001
SMALLEST_ERROR_PH = 0.01
LOWEST_MATTERS = ("alkalinity_dkh", "ph")
PEAK_UNIT = {"alkalinity_dkh": "dKH", "ph": ""}


def no_weeks(reader: Reader) -> str:
    """What stands there without a forecast."""
    return say("weeks.none", {}, reader)


def percent(share: float) -> str:
    """A share in percent; with a decimal where whole percents would say none, all, or 95 of 100 falsely."""
    whole = f"{100 * share:.0f}"
    exact = {"0": 0.0, "95": 0.95, "100": 1.0}.get(whole)
    if exact is not None and abs(share - exact) > 1e-9 and not (whole == "95" and share > exact):
        whole = f"{100 * share:.1f}"
    return f"{whole} %"


def show_small(mg_l: float, reader: Reader) -> str:
    """Concentration to two digits, never finer than a thousandth: nothing finer can be read or relied on.

    Examples
    --------
    >>> tuple(show_small(mg_l, Reader()) for mg_l in (0.00042, 0.0183, 1.27, 0.0))
    ('below 0.001', '0.018', '1.3', '0')
    """
    if 0 < mg_l < SMALLEST_MG_L:
        return say("sheet.below", {"value": f"{SMALLEST_MG_L:g}"}, reader)
    return digits(round(mg_l, 3), 2)


def _cost(amount: float, currency: str, reader: Reader) -> str:
    return say("sheet.none", {}, reader) if round(amount) == 0 else f"{amount:,.0f} {currency}".replace(",", "\u202f")


def _option_name(item: OptionOutcome, reader: Reader) -> str:
    return say(f"option.{item.id}", item.values, reader)


def _option(item: OptionOutcome, weeks: Weeks, catalog: Catalog, reader: Reader, currency: str) -> dict[str, Any]:
    short = item.id == "more_changes" and not item.passes
    notes = [say("option_note.more_changes_short" if short else f"option_note.{item.id}", item.values, reader)]
    if item.by_species:
        worst = max(sorted(item.by_species), key=lambda name: item.by_species[name])
        alike = [name for name, share in item.by_species.items() if share == item.by_species[worst]]
        # What the page says once of all ways is not said again at each.
        told = len(alike) == len(item.by_species) or set(alike) == set(weeks.sensitive)
        if item.by_species[worst] >= HELD_BY_FROM and not told:
            notes.append(
                say(
                    "option_note.held_by",
                    {"species": _shortly(alike, catalog, reader), "share": percent(item.by_species[worst])},
                    reader,
                )
            )
    return {
        "what": _option_name(item, reader),
        "note": " ".join(notes),
        "kept": percent(item.kept),
        "ammonia": percent(item.over_ammonia),
        "nitrite": percent(item.over_nitrite),
        "cost": _cost(item.cost, currency, reader),
        "passes": item.passes,
        "chosen": item.id == weeks.chosen,
    }


def _named(species: tuple[str, ...], catalog: Catalog, reader: Reader) -> str:
    return ", ".join(
        named(catalog.species[name].common_name, reader) if name in catalog.species else name.replace("_", " ")
        for name in species
    )


def _shortly(species: Sequence[str], catalog: Catalog, reader: Reader) -> str:
    """Two names at most, then how many more."""
    named = _named(tuple(species[:MOST_NAMED]), catalog, reader)
    more = len(species) - MOST_NAMED
    return say("option_note.and_more", {"species": named, "more": str(more)}, reader) if more > 0 else named


def _lead(weeks: Weeks, reader: Reader) -> str:
    chosen = next((item for item in weeks.options if item.id == weeks.chosen), None)
    if chosen is None or _nobody(weeks):
        return ""
    if chosen.passes:
        return say("weeks.passes", {"option": _option_name(chosen, reader)}, reader)
    nearest = max(weeks.options, key=lambda item: item.kept)
    return say(
        "weeks.fails",
        {"option": _option_name(nearest, reader), "kept": percent(nearest.kept)},
        reader,
    )


def _nobody(weeks: Weeks) -> bool:
    """Whether no animals are kept: then nothing can be over a limit and there is nothing to choose."""
    return all(item.kept == 1.0 and not item.by_species for item in weeks.options)


def _enough(weeks: Weeks) -> bool:
    """Whether the way whose changes are shown is one to go."""
    chosen = next((item for item in weeks.options if item.id == weeks.chosen), None)
    return chosen is not None and chosen.passes and (weeks.plan is None or weeks.plan.keeps)


def _title(weeks: Weeks, reader: Reader) -> str:
    chosen = next((item for item in weeks.options if item.id == weeks.chosen), None)
    if chosen is None or _nobody(weeks):
        return say("weeks.title", {}, reader)
    values = {"option": _option_name(chosen, reader)}
    if _enough(weeks) or weeks.plan is None:
        return say("weeks.title_with", values, reader)
    return say("weeks.title_tried", {**values, "kept": _of_hundred(weeks.plan.probability)}, reader)


def _peak(name: str, fan: Fan, reader: Reader, *, from_day: float) -> dict[str, str]:
    """Highest point of the middle and of the far end from a day on; for KH and pH the lowest."""
    unit = PEAK_UNIT.get(name, "mg/L")
    sign, end = (-1, 0) if name in LOWEST_MATTERS else (1, 4)
    first = next((place for place, day in enumerate(fan.days) if day >= from_day), 0)
    day = max(range(first, len(fan.days)), key=lambda place: (sign * fan.bands[place][2], -place))
    far = max(range(first, len(fan.days)), key=lambda place: (sign * fan.bands[place][end], -place))
    return {
        "what": say(f"peak.{name}", {}, reader),
        "middle": _shown(name, fan.bands[day][2], unit, reader),
        "day": f"{fan.days[day]:.0f}",
        "far": _shown(name, fan.bands[far][end], unit, reader),
    }


def _shown(name: str, value: float, unit: str, reader: Reader) -> str:
    """KH and pH to a tenth: finer cannot be read off a test."""
    if name in LOWEST_MATTERS:
        return f"{value:.1f} {unit}".strip()
    return f"{show_small(value, reader)} {unit}"


def _as_read(name: str, limit: float, reader: Reader) -> str:
    """The limit as strips and drops show it, which do not show nitrogen."""
    factor = {"tan_mg_l": NH4_PER_N, "nitrite_mg_l": NO2_PER_N}.get(name)
    return "" if factor is None else say(f"weeks.read_{name}", {"value": show_small(factor * limit, reader)}, reader)


def _peaks(weeks: Weeks, reader: Reader) -> list[dict[str, str]]:
    limits = limits_of(weeks)
    # Before the animals are back nobody has to bear it.
    back = next((item.return_day for item in weeks.options if item.id == weeks.chosen), 0.0)
    return [
        {
            **_peak(name, fan, reader, from_day=back),
            "limit": f"{show_small(limits[name], reader)} mg/L{_as_read(name, limits[name], reader)}"
            if name in limits
            else _lowest(name, reader),
        }
        for name in ("tan_mg_l", "uia_mg_l", "nitrite_mg_l", "nitrate_mg_l", *LOWEST_MATTERS)
        if (fan := weeks.fans.get(name)) is not None and fan.days
    ]


def _lowest(name: str, reader: Reader) -> str:
    """The limit from below of what must not fall."""
    limit = FALLS_BELOW.get(name)
    return "" if limit is None else say(f"weeks.not_below_{name}", {"limit": f"{limit:g}"}, reader)


def _days(days: tuple[int, ...], reader: Reader) -> str:
    return ", ".join(str(day) for day in days) if days else say("sheet.none", {}, reader)


def _plan(weeks: Weeks, plan: ChangePlan, water: WaterBudget | None, reader: Reader) -> dict[str, Any]:
    limit = say(f"limit_name.{plan.binding_limit.replace(' ', '_')}", {}, reader)
    words = []
    if not plan.days:
        words.append(say("weeks.no_change", {}, reader))
    words.append(
        say(
            "weeks.keeps" if plan.keeps else "weeks.falls_short",
            {"kept": _of_hundred(plan.probability), "until": str(plan.until_day)},
            reader,
        )
    )
    if plan.gone_on_days:
        gone_on = {"days": _days(plan.gone_on_days, reader), "litres": show(plan.gone_on_l, "L", reader, significant=2)}
        words.append(say("weeks.goes_on", {**gone_on, "until": str(plan.until_day)}, reader))
    words.append(
        say(
            "weeks.binding" if plan.keeps else "weeks.binding_short",
            {"limit": limit, "day": str(plan.binding_day)},
            reader,
        )
    )
    if plan.sampling_days:
        words.append(say("weeks.tests", {"days": _days(plan.sampling_days, reader)}, reader))
    if plan.feed_share < 1:
        words.append(say("weeks.feed", {"percent": f"{100 * plan.feed_share:.0f}"}, reader))
    if plan.days and plan.keeps:
        words.append(say("weeks.contract" if plan.by_contract else "weeks.no_contract", {}, reader))
    words.append(say("weeks.short_light", {"kept": f"{100 * plan.kept_short_light:.0f}"}, reader))
    if plan.days:
        words.append(say("weeks.change", {"drift_k": LARGEST_STEP_K}, reader))
    doses = plan.thiosulfate_mg or (0.0,) * len(plan.days)
    if None in doses:
        words.append(say("weeks.chlorine_untested", {}, reader))
    return {
        "words": words,
        "rows": [
            {
                "day": str(day),
                "date": "" if weeks.refilled is None else f"{weeks.refilled + timedelta(days=day):%a %d %b}",
                "amount": show(litres, "L", reader, significant=2),
                "share": "" if water is None or not water.net_l else f"{100 * litres / water.net_l:.0f} %",
                "water": named(name, reader)
                + (say("weeks.thiosulfate", {"mg": digits(dose, 2)}, reader) if dose else ""),
            }
            for day, litres, name, dose in zip(plan.days, plan.litres, plan.waters, doses, strict=True)
        ],
        "alt": say(
            "living_alt.changes",
            {
                "changes": ", ".join(
                    f"{say('living_alt.day', {'day': day}, reader)} {show(litres, 'L', reader, significant=2)}"
                    for day, litres in zip(plan.days, plan.litres, strict=True)
                )
                or say("sheet.none", {}, reader),
                "tests": _days(plan.sampling_days, reader),
                "day": str(plan.binding_day),
            },
            reader,
        ),
    }


def _of_hundred(share: float) -> str:
    return percent(share).removesuffix(" %")


def _drivers(weeks: Weeks, reader: Reader) -> list[dict[str, str]]:
    found = []
    for name, pull in weeks.drivers:
        if abs(pull) < WEAKEST_SHOWN:
            continue
        strength = "strong" if abs(pull) >= STRONG else "clear" if abs(pull) >= CLEAR else "weak"
        found.append(
            {
                "what": say(f"driver.{name}", {}, reader),
                "peak": say("weeks.higher" if pull > 0 else "weeks.lower", {}, reader),
                "pull": say(f"weeks.{strength}", {}, reader),
            }
        )
    return found


def weeks_data(
    weeks: Weeks, water: WaterBudget | None, catalog: Catalog, reader: Reader, *, currency: str
) -> dict[str, Any]:
    """What the page says of the weeks after."""
    peaks = _peaks(weeks, reader)
    last = max((day for fan in weeks.fans.values() for day in fan.days), default=0)
    kept = next((percent(item.kept) for item in weeks.options if item.id == weeks.chosen), "95 %")
    rests = {
        "members": f"{weeks.members}",
        "kept": kept,
        "ph": f"{max(SMALLEST_ERROR_PH, weeks.ph_table_error):.2f}",
        "uia": percent(weeks.uia_table_error),
        "fit": "" if weeks.fit_share is None else percent(weeks.fit_share),
    }
    return {
        "lead": _lead(weeks, reader),
        "limits": say(
            "weeks.limits",
            {
                "uia": show_small(weeks.uia_limit_mg_l, reader),
                "tan": show_small(weeks.tan_limit_mg_l, reader),
                "nh4": show_small(NH4_PER_N * weeks.tan_limit_mg_l, reader),
                "nitrite": show_small(weeks.nitrite_limit_mg_l, reader),
                "no2": show_small(NO2_PER_N * weeks.nitrite_limit_mg_l, reader),
            },
            reader,
        ),
        "sensitive": say("weeks.sensitive", {"species": _named(weeks.sensitive, catalog, reader)}, reader)
        if weeks.sensitive
        else "",
        "options": []
        if _nobody(weeks)
        else [_option(item, weeks, catalog, reader, currency) for item in weeks.options],
        "title": _title(weeks, reader),
        "enough": _enough(weeks),
        "costs": say("weeks.costs", {}, reader),
        "peaks": peaks,
        "has_fans": bool(weeks.fans),
        "caption": say("weeks.figure", {}, reader),
        "alt": say(
            "living_alt.weeks",
            {"days": f"{last:.0f}", "peaks": "; ".join(say("living_alt.peak", row, reader) for row in peaks)},
            reader,
        ),
        "plan": None if weeks.plan is None else _plan(weeks, weeks.plan, water, reader),
        "no_plan": say("weeks.no_plan", {}, reader),
        "calendar_caption": say("weeks.calendar", {}, reader),
        "drivers": _drivers(weeks, reader),
        "rests": [
            say(f"weeks.rests_{name}", rests, reader)
            for name in ("courses", *(("fit",) if weeks.fit_share is not None else ()), "weakest", "ph")
        ],
    }
