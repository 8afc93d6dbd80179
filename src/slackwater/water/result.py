"""What the water room hands on: boxes, litres by source, salts, reverse osmosis, warming, barrels, minutes."""

from __future__ import annotations

from datetime import datetime

from slackwater.frozen import Frozen


class BoxUse(Frozen):
    """One holding box: its container, its water, who lives in it for the day."""

    label: str
    """A, B, C … as written on the box."""
    container: str
    water_l: float
    species: tuple[str, ...]
    animals_low: int | None
    animals_high: int | None
    animal_mass_kg: float
    for_shrimp: bool
    """Shrimp, or shrimp with snails: the short clock."""


class Reading(Frozen):
    """A water as predicted by linear mixing; None where a source was not tested."""

    temp_c: float | None
    hardness_dgh: float | None
    alkalinity_dkh: float | None
    nitrate_mg_l: float | None
    chloride_mg_l: float | None
    conductivity_us_cm: float | None


class SaltDose(Frozen):
    """Whole grams of a salt, for one barrel or for the whole new water."""

    salt: str
    grams: int
    raises: str
    """What it raises and by how much, e.g. ``GH by 2 dGH``."""


class OsmosisRun(Frozen):
    """Making the permeate."""

    rate_l_day: float
    rate_low_l_day: float
    rate_high_l_day: float
    need_l: float
    hours_needed: float
    hours_allowed: float
    possible_l: float
    waste_l: float
    start_latest: datetime | None
    """Local time of the site."""
    unattended_hours: float


class WarmingRun(Frozen):
    """Bringing the new water to temperature."""

    litres: float
    from_c: float
    to_c: float
    heater_w: float
    hours: float | None
    """None: the heater never gets there against the loss."""
    energy_kwh: float
    start_latest: datetime | None


class BarrelFill(Frozen):
    """One barrel or tub on the day."""

    container: str
    holds: str
    """old or new."""
    litres: float
    mass_kg: float


class WaterBudget(Frozen):
    """Where every litre comes from and goes to."""

    net_l: float
    boxes: tuple[BoxUse, ...]
    box_water_l: float
    refresh_l: float
    """Old water set aside for refreshing boxes."""
    old_refill_l: float
    """Old water that goes back into the tank."""
    old_kept_l: float
    """Boxes, refresh and refill together."""
    old_available_l: float
    """Clean old water that can be taken before the tank clouds."""
    discarded_l: float
    new_l: float
    ro_l: float
    tap_l: float
    new_water: Reading
    refill: Reading
    """Old and new water together."""
    salts: tuple[SaltDose, ...]
    conditioner_g: float | None
    freed_tan_mg_l: float | None
    osmosis: OsmosisRun | None
    warming: WarmingRun | None
    barrels: tuple[BarrelFill, ...]
    barrel_short_l: float
    """Litres for which no barrel is on hand."""
    carried_water_l: float
    """Permeate made elsewhere and carried in."""
    water_trips: int
    """Trolley trips with it."""
    stop_level_m: float | None
    """Level in the old tank at which the clean water wanted is in boxes and barrels."""
    drain_min: float | None
    refill_min: float | None
    acclimatise_steps: int | None
