"""The water page: litres, one card for each barrel, how boxes come back, soil and stone; as texts for the template."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from slackwater.job.catalog import Catalog
from slackwater.paper.water_flow import barrel_names
from slackwater.reader import Reader
from slackwater.units import digits, show
from slackwater.water.chlorine import STOCK_G_L, stock_ml
from slackwater.water.result import BarrelCard, BoxReturn, Expected, Reading, WaterBudget, brought_back
from slackwater.wording.render import between, named, say

UNIT_OF: Mapping[str, str] = {
    "hardness_dgh": "dGH",
    "alkalinity_dkh": "dKH",
    "conductivity_us_cm": "µS/cm",
    "temp_c": "°C",
    "ph": "",
    "ph_aired": "",
    "nitrate_mg_l": "mg/L",
    "sodium_mg_l": "mg/L",
    "potassium_mg_l": "mg/L",
    "co2_mg_l": "mg/L",
    "tan_mg_l": "mg/L",
    "ammonia_n_mg_l": "mg/L",
    "calcium_mg_l": "mg/L",
    "magnesium_mg_l": "mg/L",
    "chloride_mg_l": "mg/L",
    "calcium_per_magnesium": "",
}
STEPS: Mapping[str, float] = {
    "hardness_dgh": 0.1,
    "alkalinity_dkh": 0.1,
    "conductivity_us_cm": 5.0,
    "temp_c": 0.1,
    "ph": 0.05,
    "ph_aired": 0.05,
}
"""To what a figure is rounded: finer would claim more than can be read."""
LEAST_SHOWN_MG_L = 0.001
REFILL = (
    "temp_c",
    "hardness_dgh",
    "alkalinity_dkh",
    "conductivity_us_cm",
    "ph",
    "ph_aired",
    "co2_mg_l",
    "nitrate_mg_l",
    "sodium_mg_l",
    "potassium_mg_l",
    "chloride_mg_l",
    "ammonia_n_mg_l",
)


def salt_name(name: str) -> str:
    """A salt as the trade calls it: its id in the catalog."""
    return name.replace("_", " ").replace("epsom", "Epsom")


def _grams(value: float) -> str:
    """Salts are weighed in grams everywhere: a fraction of an ounce cannot be read off a scale."""
    return f"{digits(value, 2)} g"


def _value(name: str, value: float, reader: Reader) -> str:
    step = STEPS.get(name)
    if step is not None:
        return show(round(value / step) * step, UNIT_OF[name], reader, significant=3)
    if value < LEAST_SHOWN_MG_L:
        return say("sheet.below", {"value": f"{LEAST_SHOWN_MG_L:g} {UNIT_OF[name]}"}, reader)
    return show(value, UNIT_OF[name], reader, significant=2)


def _range(name: str, low: float, high: float, reader: Reader) -> str:
    first, second = _value(name, low, reader), _value(name, high, reader)
    if first == second:
        return first
    unit = second.rpartition(" ")[2] if UNIT_OF[name] else ""
    return between(first.removesuffix(unit).strip() if unit else first, second, reader)


def _expected(item: Expected, reader: Reader) -> dict[str, str]:
    return {
        "what": say(f"reading.{item.what}", {}, reader),
        "value": _value(item.what, item.value, reader),
        "go": _range(item.what, item.low, item.high, reader),
        "adjust": _range(item.what, item.stop_low, item.stop_high, reader),
    }


def _card(card: BarrelCard, water: WaterBudget, catalog: Catalog, reader: Reader) -> dict[str, Any]:
    steps = []
    if card.holds == "old":
        return {
            **_card_head(card, catalog, reader),
            "steps": [say(f"water_card.{name}", {"litres_l": card.litres}, reader) for name in ("keep", "guard")],
            "adjust": "",
            "stop": say("water_card.stop_old", {}, reader),
        }
    for name, litres in card.parts:
        key = name if name in ("permeate", "tap") else "other"
        steps.append(say(f"water_card.{key}", {"litres_l": litres, "name": name}, reader))
    if card.conditioner_g > 0:
        steps.append(
            say(
                "water_card.conditioner",
                {
                    "mass_mg": digits(1000 * card.conditioner_g, 2),
                    "stock_ml": digits(stock_ml(mass_g=card.conditioner_g), 2),
                    "stock_g_l": STOCK_G_L,
                },
                reader,
            )
        )
    if water.warming is not None:
        values: dict[str, float | str] = {"to_c": water.warming.to_c, "heater_w": water.warming.heater_w}
        if water.warming.hours is not None:
            steps.append(say("water_card.warm", {**values, "hours_h": water.warming.hours}, reader))
        else:
            steps.append(say("water_card.too_weak", values, reader))
    for dose in card.salts:
        text = say(
            "water_card.salt",
            {"salt": salt_name(dose.salt), "mass": _grams(dose.grams), "raises": dose.raises},
            reader,
        )
        if dose.minutes is not None:
            text += " " + say("water_card.stir", {"minutes_min": dose.minutes}, reader)
        steps.append(text)
    steps.append(say("water_card.test", {}, reader))
    adjust = ""
    for name, grams in card.per_dgh_g:
        one = f"{_grams(grams)} {named(salt_name(name), reader)}"
        adjust = say("sheet.water.or", {"one": adjust, "other": one}, reader) if adjust else one
    return {
        **_card_head(card, catalog, reader),
        "steps": steps,
        "adjust": _adjust(card, adjust, reader),
        "stop": say("water_card.stop", {}, reader),
    }


def _adjust(card: BarrelCard, salts: str, reader: Reader) -> str:
    """What to do between "go on" and "stop", in this barrel's litres and grams."""
    found = [say("water_card.harder", {"salts": salts}, reader)] if salts else []
    if card.softer is not None:
        name, litres = card.softer
        found.append(say("water_card.softer", {"litres_l": litres, "name": name}, reader))
    else:
        found.append(say("water_card.no_softer", {}, reader))
    found.append(say("water_card.more_kh", {"mass": _grams(card.per_dkh_g)}, reader))
    return " ".join(found)


def _card_head(card: BarrelCard, catalog: Catalog, reader: Reader) -> dict[str, Any]:
    container = catalog.containers[card.container]
    return {
        "title": say(f"sheet.barrel.{card.holds}", {"number": card.number}, reader),
        "container": f"{named(container.container, reader)} {show(container.nominal_l, 'L', reader)}",
        "litres": show(card.litres, "L", reader),
        "readings": [_expected(item, reader) for item in card.expected],
    }


def _return(item: BoxReturn, who: str, reader: Reader) -> dict[str, str]:
    minutes = say("sheet.water.direct", {}, reader) if item.minutes == 0 else show(float(item.minutes), "min", reader)
    return {
        "label": item.label,
        "who": who,
        "minutes": minutes,
        "why": say(f"returning.{item.reason}", {"hours_h": item.hours_held}, reader),
        "temp": show(item.temp_step_c, "K", reader, significant=2),
        "ph": f"{item.ph_step:+.1f}",
        "gh": f"{item.hardness_step_dgh:+.1f} dGH",
        "salt": f"{100 * item.conductivity_step_share:+.0f} %",
        "ammonia": f"{item.highest_uia_mg_l:.3f} mg/L",
        "soft": say("sheet.yes", {}, reader) if item.soft else "",
    }


def _refill_rows(reading: Reading, reader: Reader) -> list[list[str]]:
    rows = []
    for name in REFILL:
        low, high = reading.bands.get(name, (float("nan"), float("nan")))
        band = "" if low != low else _range(name, low, high, reader)
        rows.append([say(f"reading.{name}", {}, reader), _value(name, float(getattr(reading, name)), reader), band])
    return rows


def _lines(water: WaterBudget, reader: Reader) -> list[list[str]]:
    """Litres, most important first."""

    def line(name: str) -> str:
        return say(f"sheet.line.{name}", {}, reader)

    lines = [[line("keep"), show(water.old_kept_l, "L", reader)]]
    if water.stop_level_m is not None:
        lines.append([line("stop_level"), show(water.stop_level_m, "m", reader)])
    lines += [
        [line("into_boxes"), show(water.box_water_l, "L", reader)],
        [line("refresh"), show(water.refresh_l, "L", reader)],
        *([[line("filter"), show(water.filter_l, "L", reader)]] if water.filter_l else []),
        [line("back"), show(water.old_refill_l, "L", reader)],
        [line("new"), show(water.new_l, "L", reader)],
        [line("permeate"), show(water.ro_l, "L", reader)],
        [line("tap"), show(water.tap_l, "L", reader)],
    ]
    lines += [
        [say("sheet.line.other", {"name": name}, reader), show(litres, "L", reader)] for name, litres in water.other_l
    ]
    lines += [[named(salt_name(dose.salt), reader), _grams(dose.grams)] for dose in water.salts]
    if water.conditioner_g:
        lines.append([line("thiosulfate"), f"{digits(1000 * water.conditioner_g, 2)} mg"])
    for what, value, band in (
        ("draining", water.drain_min, water.drain_band_min),
        ("refilling", water.refill_min, water.refill_band_min),
    ):
        if value is not None and band is not None:
            told = {"min": f"{value:.0f}", "low": f"{band[0]:.0f}", "high": f"{band[1]:.0f}"}
            lines.append([line(what), say("sheet.line.minutes", told, reader)])
    return lines


def water_data(water: WaterBudget, catalog: Catalog, reader: Reader) -> dict[str, Any]:
    """Everything the water page reads."""
    names = barrel_names(water, reader)
    return {
        "barrels": [
            {
                "name": names[place],
                "container": f"{named(catalog.containers[fill.container].container, reader)} "
                f"{show(catalog.containers[fill.container].nominal_l, 'L', reader)}",
                "litres": show(fill.litres, "L", reader),
                "mass": show(fill.mass_kg, "kg", reader),
            }
            for place, fill in enumerate(water.barrels)
        ],
        "lines": _lines(water, reader),
        "cards": [_card(card, water, catalog, reader) for card in water.cards],
        "refill": _refill_rows(water.refill, reader),
        "limits": [
            say(
                "water_limit.gain",
                {
                    "what": say(f"reading.{item.about}", {}, reader),
                    "limit": f"{digits(item.limit)} {UNIT_OF[item.about]}".strip(),
                    "room": f"{digits(item.room, 2)} {UNIT_OF[item.about]}".strip(),
                    "steps": digits(item.fewer_steps, 2),
                },
                reader,
            )
            for item in water.limits
            if item.fewer_steps >= 0.05
        ],
        "returns": [
            _return(item, ", ".join(named(catalog.species[name].common_name, reader) for name in box.species), reader)
            for item, box in zip(water.returns, brought_back(water.boxes), strict=True)
        ],
        "choices": [
            {
                "soil": say(f"soil.{item.soil}", {}, reader),
                "stone": say(f"stone.{item.stone}", {}, reader),
                "ph": _range("ph", *item.ph, reader),
                "gh": _range("hardness_dgh", *item.hardness_dgh, reader),
                "kh": _range("alkalinity_dkh", *item.alkalinity_dkh, reader),
                "against": ", ".join(named(catalog.species[name].common_name, reader) for name in item.against)
                or say("sheet.none", {}, reader),
                "chosen": item.chosen,
            }
            for item in water.choices
        ],
        "changes": [
            {
                "name": item.name,
                "ph": between(f"{item.ph_before:.1f}", f"{item.ph:.1f}", reader),
                "factor": f"{digits(item.uia_factor, 2)} x",
                "nitrite": f"{item.nitrite_borne_mg_l:.2f} mg/L",
            }
            for item in water.changes
        ],
        "making": _making(water, reader),
        "has_course": water.course is not None,
    }


def _making(water: WaterBudget, reader: Reader) -> list[str]:
    """When to start, and how sure it is."""
    found = []
    run, warming = water.osmosis, water.warming
    if run is not None and run.need_l > 0:
        if run.start_latest is not None:
            found.append(
                say(
                    "water_making.start",
                    {
                        "start": f"{run.start_latest:%a %d %b %H:%M}",
                        "need_l": run.need_l,
                        "hours_h": run.hours_for_95,
                    },
                    reader,
                )
            )
        if run.probability_short is not None:
            found.append(
                say(
                    "water_making.chance",
                    {"percent": f"{100 * run.probability_short:.0f}", "hours_h": run.hours_allowed},
                    reader,
                )
            )
        found.append(say("water_making.flush", {}, reader))
    if water.aired_h:
        found.append(say("water_making.aired", {"hours_h": water.aired_h}, reader))
    if warming is not None and warming.start_latest is not None:
        found.append(
            say(
                "water_making.warm",
                {
                    "start": f"{warming.start_latest:%a %d %b %H:%M}",
                    "to_c": warming.to_c,
                    "energy": f"{warming.energy_kwh:.1f}",
                },
                reader,
            )
            + (
                " " + say("water_making.gypsum", {}, reader)
                if any(dose.salt == "gypsum" for dose in water.salts)
                else ""
            )
        )
    return found
