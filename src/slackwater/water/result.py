"""What the water room hands on: boxes, litres by source, salts, reverse osmosis, warming, barrels, minutes."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from slackwater.frozen import Frozen


class BoxUse(Frozen):
    """One holding box: its container, its water, who lives in it for the day."""

    label: str
    """A, B, C … as written on the box."""
    container: str
    water_l: float
    species: tuple[str, ...]
    counts: Mapping[str, int]
    """Animals of each kind, the most there may be."""
    animals_low: int | None
    animals_high: int | None
    animal_mass_kg: float
    for_shrimp: bool
    """Shrimp, or shrimp with snails: the short clock."""
    oxygen_mg_h: float
    """What they use, moving about."""
    leaves: bool = False
    """Its animals are boarded: it leaves once they are counted, and is not refreshed or let go on the day."""


def brought_back(boxes: tuple[BoxUse, ...]) -> tuple[BoxUse, ...]:
    """Boxes whose animals are let go on the day."""
    return tuple(box for box in boxes if not box.leaves)


class Expected(Frozen):
    """What one instrument should show of a water, and how far off it may be.

    Between `low` and `high` go on; as far again on either side adjust; beyond that stop and find the fault.
    """

    what: str
    """hardness_dgh, alkalinity_dkh, conductivity_us_cm, ph, temp_c, nitrate_mg_l or chlorine_mg_l."""
    value: float
    low: float
    high: float
    stop_low: float
    stop_high: float


class Reading(Frozen):
    """A water as predicted from what goes into it."""

    temp_c: float
    ph: float
    """Mixed without air."""
    ph_aired: float
    """In balance with the room's air."""
    co2_mg_l: float
    hardness_dgh: float
    alkalinity_dkh: float
    calcium_mg_l: float
    magnesium_mg_l: float
    sodium_mg_l: float
    potassium_mg_l: float
    nitrate_mg_l: float
    chloride_mg_l: float
    sulfate_mg_l: float
    tan_mg_l: float
    ammonia_n_mg_l: float
    """Un-ionised, as nitrogen."""
    conductivity_us_cm: float
    si_calcite: float
    """In balance with the room's air: above 0.5 it clouds or scales."""
    bands: Mapping[str, tuple[float, float]]
    """5 and 95 % ends, by field name."""


class SaltDose(Frozen):
    """Whole grams of a salt, for one barrel or for the whole new water."""

    salt: str
    grams: int
    raises: str
    """What it raises and by how much, e.g. ``GH by 2 dGH``."""
    minutes: float | None = None
    """Until it is dissolved, stirred; None for salts that dissolve at once."""


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
    probability_short: float | None
    """That the hours allowed bring less than is needed; None where no hours were told."""
    hours_for_95: float
    """Hours that are enough in 95 of 100 cases."""


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


class BarrelCard(Frozen):
    """What to do at one barrel of new water, in order, and what it should then read."""

    container: str
    holds: str
    """old or new."""
    number: int
    """1, 2 … among the barrels of old or of new water."""
    litres: float
    parts: tuple[tuple[str, float], ...]
    """Litres of each water, in the order of filling."""
    salts: tuple[SaltDose, ...]
    """In the order of adding; at temperature, stirred."""
    conditioner_g: float
    expected: tuple[Expected, ...]
    per_dgh_g: tuple[tuple[str, float], ...]
    """Grams that lift this barrel by 1 dGH, for adjusting."""
    softer: tuple[str, float] | None
    """Softest water on hand, and the litres that it replaces to lower this barrel by 1 dGH."""
    per_dkh_g: float
    """Potassium hydrogen carbonate that lifts it by 1 dKH."""


class BindingLimit(Frozen):
    """A limit that shapes the recipe."""

    about: str
    limit: float
    room: float
    fewer_steps: float
    """What that much more room would spare the animals, in steps that they bear in half an hour."""


class BoxReturn(Frozen):
    """How one box is brought to the new water."""

    label: str
    soft: bool
    """Shrimp, snails or sensitive fish are in it: half steps."""
    minutes: int
    reason: str
    """step, ammonia or none: what decides."""
    temp_step_c: float
    ph_step: float
    hardness_step_dgh: float
    conductivity_step_share: float
    hours_held: float
    tan_mg_l: float
    highest_uia_mg_l: float


class SoilStoneWater(Frozen):
    """One choice of soil and stone with this water, and which animals it does not suit."""

    soil: str
    stone: str
    ph: tuple[float, float]
    hardness_dgh: tuple[float, float]
    alkalinity_dkh: tuple[float, float]
    against: tuple[str, ...]
    """Species by id; empty: allowed."""
    chosen: bool


class ChangeOption(Frozen):
    """What a half change with one water does while soil gives off ammonium."""

    name: str
    share: float
    ph_before: float
    ph: float
    uia_factor: float
    """Un-ionised ammonia after against before; above 1 worse."""
    nitrite_borne_mg_l: float
    alkalinity_dkh: float
    """Of the water itself, as the two below."""
    nitrate_mg_l: float
    tan_mg_l: float
    permeate_share: float
    """Of a litre of it that has to be made by reverse osmosis."""


class MakingCourse(Frozen):
    """Litres made and temperature over the hours of preparation."""

    hours: tuple[float, ...]
    low_l: tuple[float, ...]
    middle_l: tuple[float, ...]
    high_l: tuple[float, ...]
    temp_c: tuple[float, ...]


class WaterBudget(Frozen):
    """Where every litre comes from and goes to."""

    net_l: float
    boxes: tuple[BoxUse, ...]
    box_water_l: float
    refresh_l: float
    """Old water set aside for refreshing boxes that stay."""
    filter_l: float = 0.0
    """Old water set aside for the filter alone to run on."""
    old_refill_l: float
    """Old water that goes back into the tank."""
    old_kept_l: float
    """Boxes, refresh, refill and what the filter runs on together."""
    old_available_l: float
    """Clean old water that can be taken before the tank clouds."""
    discarded_l: float
    new_l: float
    ro_l: float
    tap_l: float
    other_l: tuple[tuple[str, float], ...]
    """Other waters, by name."""
    old_water: Reading
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
    drain_band_min: tuple[float, float] | None
    refill_band_min: tuple[float, float] | None
    acclimatise_steps: int | None
    cards: tuple[BarrelCard, ...]
    limits: tuple[BindingLimit, ...]
    returns: tuple[BoxReturn, ...]
    choices: tuple[SoilStoneWater, ...]
    changes: tuple[ChangeOption, ...]
    """For the first weeks: the best water to change with comes first."""
    aired_h: float | None
    """Until an air stone has brought the new water within 0.1 of its aired pH."""
    course: MakingCourse | None
