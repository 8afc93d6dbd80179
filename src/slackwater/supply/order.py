"""What to order: whole packs with a spare and the reason for it, less what is on hand."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from math import ceil

from slackwater.finding import Finding, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.supply.learned import learned_line
from slackwater.supply.money import rounded as rounded
from slackwater.supply.result import OrderLine, Quantities

CONDITIONER = "sodium_thiosulfate"
DRY_GOODS_DAYS = 14
PLANT_DAYS = 7
SOAK_DAYS = 28
"""Wood soaks so long before the day; common practice, no source."""
ZONE_BESIDE_M, ZONE_DEEP_M = 1.0, 3.0
"""The floor on which work is done: beside the tank at either end, and before it, where boxes and tools stand; common
practice, no source. For a tank of 200 L this comes to the 10 m2 of the table."""
STONE_SPARE = 0.20
"""Spare share of stone by mass; common practice, no source."""


def _line(
    *,
    item: str,
    kind: str,
    need: float,
    unit: str,
    spare: float,
    why: str,
    on_hand: float = 0.0,
    pack: float = 1.0,
    price: Decimal | None,
    price_source: str,
    order_by: date | None,
    note: str = "",
) -> OrderLine:
    packs = max(0, ceil((need + spare - on_hand) / pack - 1e-9))
    return OrderLine(
        item=item,
        kind=kind,
        need=round(need, 3),
        unit=unit,
        spare=round(spare, 3),
        spare_reason=why,
        on_hand=on_hand,
        packs=packs,
        pack_size=pack,
        unit_price=price,
        price=None if price is None else rounded(price * packs),
        price_source=price_source,
        order_by=order_by,
        note=note,
    )


def order_lines(
    job: Job, catalog: Catalog, quantities: Quantities, day: date | None
) -> tuple[tuple[OrderLine, ...], list[Finding]]:
    """All order lines with their latest dates, and what is wrong with the plants and goods asked for."""
    dry = None if day is None else day - timedelta(days=DRY_GOODS_DAYS)
    green = None if day is None else day - timedelta(days=PLANT_DAYS)
    lines: list[OrderLine] = []
    findings: list[Finding] = []

    def anchor(price_id: str) -> tuple[Decimal, str]:
        row = catalog.prices[price_id]
        return Decimal(str(row.typical_cr)), row.origin

    for bag in quantities.bags:
        price, source = (
            (bag.price_per_bag, "job file")
            if bag.price_per_bag is not None
            else anchor("base_bag_5l" if bag.bag_l <= 6 else "soil_bag_9l")
        )
        lines.append(
            _line(
                item=bag.material,
                kind="soil",
                need=bag.bags,
                unit=f"bag of {bag.bag_l:g} L",
                spare=1,
                why="half a bag short stops the day",
                on_hand=bag.on_hand_bags,
                price=price,
                price_source=source,
                order_by=dry,
            )
        )
    for stone in job.stones or ():
        mass = sum(stone.pieces_kg)
        price, source = (stone.price_per_kg, "job file") if stone.price_per_kg is not None else anchor("stone_kg")
        lines.append(
            _line(
                item=stone.material,
                kind="stone",
                need=mass,
                unit="kg",
                spare=mass * STONE_SPARE,
                why="a fifth more to choose from on site",
                price=price,
                price_source=source,
                order_by=dry,
                note="acid-drop test before use",
            )
        )
    for wood in job.wood or ():
        price, source = (wood.price, "job file") if wood.price is not None else anchor("wood_kg")
        if wood.price is None:
            price = price * Decimal(str(wood.mass_kg))
        lines.append(
            _line(
                item=wood.material,
                kind="wood",
                need=1,
                unit="piece",
                spare=0,
                why="",
                price=price,
                price_source=source,
                # What has begun to soak is there; other wood has to come before it can soak.
                order_by=None if wood.soaked_days or dry is None else dry - timedelta(days=SOAK_DAYS),
            )
        )
    for planting in job.plants or ():
        plant = catalog.plants.get(planting.plant)
        if plant is None:
            continue
        price, source = (
            (planting.unit_price, "job file") if planting.unit_price is not None else anchor(plant.price_item)
        )
        carpet = plant.position == "carpet"
        lines.append(
            _line(
                item=planting.plant,
                kind="plant",
                need=planting.units,
                unit=plant.unit_sold,
                spare=ceil(planting.units * 0.1) if carpet else 0,
                why="a tenth for losses in cups" if carpet else "",
                price=price,
                price_source=source,
                order_by=green,
                note="substitute allowed" if planting.substitute_allowed else "",
            )
        )
        findings += _plant_findings(
            catalog, planting.plant, undeliverable=planting.undeliverable and not planting.substitute_allowed
        )
    for salt, grams in sorted(quantities.salt_grams.items()):
        price, source = anchor("mineral_kg")
        lines.append(
            _line(
                item=salt,
                kind="salt",
                need=grams,
                unit="g",
                spare=grams * 0.1,
                why="weighing",
                pack=100,
                price=price / 10,
                price_source=source,
                order_by=dry,
            )
        )
    if quantities.conditioner_g:
        lines.append(
            _line(
                item=CONDITIONER,
                kind="conditioner",
                need=quantities.conditioner_g,
                unit="g",
                spare=quantities.conditioner_g,
                why="as much again for tap water used unplanned",
                pack=10,
                price=None,
                price_source="no price known",
                order_by=dry,
            )
        )
    lines += _consumables(job, catalog, quantities, dry)
    return tuple(learned_line(line, catalog.experience) for line in merged(lines)), findings


def merged(lines: Sequence[OrderLine]) -> tuple[OrderLine, ...]:
    """Lines of the same thing from the same source by the same date as one, with what is needed added up.

    Parameters
    ----------
    lines : sequence of OrderLine

    Returns
    -------
    tuple of OrderLine
        In the order in which each thing came first; no sum of packs or money changes. A price for each is told only
        where all have the same.
    """
    alike: dict[tuple[object, ...], list[OrderLine]] = {}
    for line in lines:
        source = (line.item, line.kind, line.unit, line.pack_size, line.price_source, line.order_by)
        alike.setdefault(source, []).append(line)
    return tuple(_sum(same) for same in alike.values())


def _sum(same: Sequence[OrderLine]) -> OrderLine:
    first = same[0]
    prices = [line.price for line in same if line.price is not None]
    return first.model_copy(
        update={
            "need": round(sum(line.need for line in same), 3),
            "spare": round(sum(line.spare for line in same), 3),
            "spare_reason": "; ".join(dict.fromkeys(line.spare_reason for line in same if line.spare_reason)),
            "on_hand": sum(line.on_hand for line in same),
            "packs": sum(line.packs for line in same),
            "unit_price": first.unit_price if len({line.unit_price for line in same}) == 1 else None,
            "price": sum(prices, Decimal(0)) if len(prices) == len(same) else None,
            "note": "; ".join(dict.fromkeys(line.note for line in same if line.note)),
        }
    )


def _consumables(job: Job, catalog: Catalog, quantities: Quantities, dry: date | None) -> list[OrderLine]:
    """Things used up, each by what it grows with."""
    joints = 2 * len(job.wood or ()) + sum(len(stone.pieces_kg) for stone in job.stones or ()) / 2
    people = max(1, len(quantities.crew_minutes))
    needs: list[tuple[str, float, str, float, str]] = [
        ("cyanoacrylate_gel", joints / 6, "tube", 1, "tubes clog"),
        ("cotton_fibre", joints, "g", 2, "small tufts only"),
        ("gloves_long", people, "pair", 1, "a glove tears"),
        ("gloves_nitrile", 4 * people, "pair", 2, "a glove tears"),
        ("filter_floss", 3 * (quantities.filters or 1), "piece", 1, "first two weeks"),
        (
            "airstone",
            (quantities.boxes or 0) if quantities.air_stones is None else quantities.air_stones,
            "set",
            1,
            "spare for the spare box",
        ),
        ("label_set", 1, "set", 0, ""),
        ("fine_sieve", 2, "piece", 1, "clogs"),
    ]
    if quantities.peroxide_l:
        needs.append(("peroxide_3pct", 1000 * quantities.peroxide_l, "ml", 100, "fresh bottle, 3 % only"))
    if quantities.old_soil_l:
        needs.append(("waste_sack", ceil(quantities.old_soil_l * 1.35 / 15) * 2, "piece", 4, "double bags"))
    if quantities.tank_length_m:
        film_m2 = ceil((quantities.tank_length_m + 2 * ZONE_BESIDE_M) * ZONE_DEEP_M)
        needs.append(("floor_film", film_m2, "m2", 0, ""))
        needs.append(("towel", ceil(10 * quantities.tank_length_m), "piece", 2, "spills"))
    lines = []
    glue = catalog.prices["glue_tube"]
    for item, need, unit, spare, why in needs:
        if need <= 0:
            continue
        known = item == "cyanoacrylate_gel"
        lines.append(
            _line(
                item=item,
                kind="consumable",
                need=need,
                unit=unit,
                spare=spare,
                why=why,
                price=Decimal(str(glue.typical_cr)) if known else None,
                price_source=glue.origin if known else "no price known",
                order_by=dry,
            )
        )
    return lines


def _plant_findings(catalog: Catalog, plant_id: str, *, undeliverable: bool) -> list[Finding]:
    plant = catalog.plants[plant_id]
    found = []
    listed = catalog.regulated(plant.scientific_name)
    note = plant.regulated_note or ""
    hint = any(word in note for word in ("list", "regulated", "banned", "restricted"))
    if listed:
        severity = Severity.MISFIT if any(row.list_scope.startswith("EU") for row in listed) else Severity.CONDITION
        found.append(
            Finding(
                id="supply.regulated_plant",
                severity=severity,
                about=plant_id,
                values={
                    "plant": plant.common_name,
                    "list": "; ".join(f"{row.list_scope}: {row.action}" for row in listed),
                },
            )
        )
    elif hint:
        found.append(
            Finding(
                id="supply.regulated_plant",
                severity=Severity.CONDITION,
                about=plant_id,
                values={"plant": plant.common_name, "list": note},
            )
        )
    if undeliverable:
        found.append(
            Finding(
                id="supply.plant_undeliverable",
                severity=Severity.CONDITION,
                about=plant_id,
                values={"plant": plant.common_name},
            )
        )
    return found


def regulated_in_tank(job: Job, catalog: Catalog) -> list[Finding]:
    """Listed species among the animals and old plants: to be told to the authority, never released."""
    found = []
    names = [
        (animals.species, catalog.species[animals.species].scientific_name)
        for animals in job.livestock or ()
        if animals.species in catalog.species
    ]
    names += [
        (name, catalog.plants[name].scientific_name if name in catalog.plants else name) for name in job.old.plants
    ]
    for about, scientific in names:
        for row in catalog.regulated(scientific):
            found.append(
                Finding(
                    id="supply.regulated_in_tank",
                    severity=Severity.CONDITION,
                    about=about,
                    values={"species": row.common_name, "list": row.list_scope, "action": row.action},
                )
            )
    return found


def goods_findings(job: Job, catalog: Catalog, day: date | None) -> list[Finding]:
    """Peroxide and reagents past their date, opened long ago, or stronger than they should be."""
    found = []
    months = catalog.parameter("goods_open_months").typical
    for goods in job.goods:
        item = catalog.salts[goods.item].substance if goods.item in catalog.salts else goods.item.replace("_", " ")
        strength = goods.strength_percent
        if strength is not None and "peroxide" in goods.item and strength > 12:
            found.append(
                Finding(
                    id="supply.peroxide_restricted",
                    severity=Severity.MISFIT,
                    about=goods.item,
                    values={"percent": strength},
                )
            )
        elif strength is not None and "peroxide" in goods.item and strength > 3.5:
            found.append(
                Finding(
                    id="supply.peroxide_strong",
                    severity=Severity.CONDITION,
                    about=goods.item,
                    values={"percent": strength},
                )
            )
        if day is None:
            continue
        if goods.expires is not None and goods.expires < day:
            found.append(
                Finding(
                    id="supply.goods_expired",
                    severity=Severity.CONDITION,
                    about=goods.item,
                    values={"item": item, "expired": f"{goods.expires}", "batch": goods.batch or "no batch noted"},
                )
            )
        elif goods.opened is not None and (day - goods.opened).days > months * 30.4:
            found.append(
                Finding(
                    id="supply.goods_open_long",
                    severity=Severity.CONDITION,
                    about=goods.item,
                    values={"item": item, "opened": f"{goods.opened}", "months": months},
                )
            )
    return found


def wood_findings(job: Job, catalog: Catalog) -> list[Finding]:
    """Wood that still floats, with the mass that would hold it down."""
    floating = [wood for wood in job.wood or () if wood.floats]
    if not floating:
        return []
    lift_kg = 0.0
    for wood in floating:
        material = catalog.materials.get(wood.material)
        if material is not None and material.solid_density_kg_per_l < 1:
            lift_kg += wood.mass_kg * (1 / material.solid_density_kg_per_l - 1)
    return [
        Finding(
            id="supply.wood_floats", severity=Severity.CONDITION, values={"pieces": len(floating), "lift_kg": lift_kg}
        )
    ]
