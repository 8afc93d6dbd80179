"""What to load, and what it weighs."""

from __future__ import annotations

from collections import Counter
from math import ceil

from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.supply.learned import learned_count
from slackwater.supply.order import CONDITIONER, order_lines
from slackwater.supply.result import PackItem, Quantities

PLATFORM_ABOVE_M = 1.30
PLANT_KG = 0.15
"""A potted plant with its water; from memory."""
STAYS_AT_CLIENT = frozenset({"lid_keys"})
BOX_HEATER = "box_heater"


def packing_items(job: Job, catalog: Catalog, quantities: Quantities) -> tuple[PackItem, ...]:
    """Everything that goes into the van, heavy and low things first."""
    items: list[PackItem] = []

    def add(item: str, category: str, quantity: float, unit: str, mass_kg: float | None, check: str = "") -> None:
        if quantity > 0:
            items.append(
                PackItem(item=item, category=category, quantity=quantity, unit=unit, mass_kg=mass_kg, check=check)
            )

    for bag in quantities.bags:
        material = catalog.materials[bag.material]
        count = bag.bags + 1
        add(
            material.material,
            "soil",
            count,
            f"bag of {bag.bag_l:g} L",
            count * bag.bag_l * material.bulk_density_kg_per_l,
            "dry, whole",
        )
    for stone in job.stones or ():
        name = catalog.materials[stone.material].material if stone.material in catalog.materials else stone.material
        add(name, "stones", len(stone.pieces_kg), "piece", sum(stone.pieces_kg), "washed, acid-drop test done")
    for wood in job.wood or ():
        name = catalog.materials[wood.material].material if wood.material in catalog.materials else wood.material
        add(name, "wood", 1, "piece", wood.mass_kg, "soaked, kept wet")
    for container_id, count in sorted(quantities.containers.items()):
        container, count = catalog.containers[container_id], learned_count(count, catalog.experience)
        add(
            container.container + f" ({container.nominal_l:g} L)",
            "boxes and barrels",
            count,
            "piece",
            count * container.empty_mass_kg,
            "clean, lid fits",
        )
    if quantities.ro_l and job.preparation.ro is not None and job.preparation.ro.place == "workshop":
        add("permeate in barrels", "water", round(quantities.ro_l), "L", quantities.ro_l, "lids strapped")
    plants = sum(planting.units for planting in job.plants or ())
    add("plants", "plants", plants, "unit", plants * PLANT_KG, "insulated, pest check done")
    for salt, grams in sorted(quantities.salt_grams.items()):
        add(catalog.salts[salt].substance, "water", grams, "g", grams / 1000, "weighed into bags, labelled")
    for line in order_lines(job, catalog, quantities, None)[0]:
        # What is used up is brought with its spare, whether it was bought for this job or lay on the shelf.
        if line.item == CONDITIONER:
            mass_g = ceil((line.need + line.spare) / line.pack_size) * line.pack_size
            add(
                catalog.salts[CONDITIONER].substance, "water", mass_g, "g", mass_g / 1000, "weighed into bags, labelled"
            )
        elif line.kind == "consumable" and line.item in catalog.consumables:
            row, amount = catalog.consumables[line.item], ceil(line.need + line.spare)
            mass_kg = None if row.mass_kg is None else amount * row.mass_kg
            add(row.item, row.category, amount, line.unit, mass_kg)
    for size_w, count in sorted(Counter(quantities.box_heaters_w).items()):
        heater = catalog.kit[BOX_HEATER]
        add(
            heater.item,
            heater.category,
            count,
            f"piece of {size_w} W",
            count * heater.mass_kg,
            heater.check_before_use or "",
        )
    for item in catalog.kit.values():
        quantity = item.qty_200l
        if item.id in STAYS_AT_CLIENT or (
            item.id == "booster_pump" and not (job.preparation.ro and job.preparation.ro.booster_w)
        ):
            continue
        if item.id in ("barrel_new", "barrel_old", "media_box"):
            continue  # counted with the boxes and barrels on hand
        if item.id == BOX_HEATER:
            continue  # by size, above
        if item.id == "box_wrap":
            quantity = float(quantities.boxes_wrapped)
        if (item.id == "spray_bottle_plants" and not plants) or (
            item.id == "spray_bottle_peroxide" and not quantities.peroxide_l
        ):
            continue
        if item.id == "step_platform" and (job.tank.rim_height_m or 0) <= PLATFORM_ABOVE_M:
            continue
        if item.id == "co2_tools" and job.co2 is None:
            continue
        if (
            item.category == "water"
            and item.id in ("ro_unit", "float_valve", "leak_sensor", "timer_valve", "drain_line")
            and not (job.preparation.ro and job.preparation.ro.place != "workshop")
        ):
            continue
        if item.id == "spare_impeller":
            quantity = float(quantities.filters or 0)
        if item.id == "air_pump_battery":
            quantity = float(-(-(quantities.boxes or 0) // 2) + 1) if quantities.boxes else 0.0
        add(item.item, item.category, quantity, "piece", quantity * item.mass_kg, item.check_before_use or "")
    return tuple(items)


def packed_mass_kg(items: tuple[PackItem, ...]) -> float:
    """Mass of all that has one [kg]."""
    return sum(item.mass_kg or 0.0 for item in items)
