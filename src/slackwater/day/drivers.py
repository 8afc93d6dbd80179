"""From a job to the quantities that set the minutes: litres carried, animals to catch, portions to plant."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from slackwater.frozen import Frozen
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job

CARRY_KG_PER_TRIP = 80.0
"""One loaded trolley [kg]; common practice, no source."""


class Standing(Frozen):
    """Something that stands beside the tank for part of the day."""

    what: str
    container: str
    """Catalog id; empty for bags."""
    holds: Literal["animals", "leaving", "bags", "old", "new"]
    mass_kg: float


class RoomQuantities(Frozen):
    """What the rooms before the day have computed; None where facts are missing."""

    inner_glass_m2: float | None = None
    footprint_m2: float | None = None
    net_l: float | None = None
    refill_l: float | None = None
    kept_water_l: float | None = None
    boxes: int | None = None
    boxes_back: int | None = None
    """Of them, those whose animals are let go on the day; None: all."""
    old_barrel: bool | None = None
    """Whether old water stands in a barrel that a filter can run on; None where that is not known."""
    acclimatise_steps: int | None = None
    bags: int | None = None
    carried_kg: float | None = None
    waste_kg: float | None = None
    old_soil_l: float | None = None
    circuit: str = ""
    circuit_w: float | None = None
    """What the largest circuit has for us [W]."""
    watts: Mapping[str, float] = {}
    """Devices that draw power on the day [W]."""
    near_tank_kg: float | None = None
    """What barrels, boxes and bags beside the tank may weigh at once [kg]."""
    near_tank_said: Mapping[str, float | str] = {"who": "@near_tank.people_not_told"}
    """What the figure behind it counts, as values of a sentence."""
    standing: tuple[Standing, ...] = ()


class Driver(Frozen):
    """The quantity that an activity's minutes grow with, or the facts it waits for."""

    quantity: float | None
    lacks: tuple[str, ...] = ()


def equivalent_trips(
    *, carried_kg: float, one_way_m: float, thresholds: int, ramps: int, storeys_by_stairs: int, lift: bool
) -> float:
    """Trolley trips of one's own length that a load amounts to.

    Parameters
    ----------
    carried_kg : float
        Everything brought in [kg].
    one_way_m : float
        Van to tank [m].
    thresholds, ramps, storeys_by_stairs : int
        Obstacles on the way.
    lift : bool
        Whether a lift is used.

    Returns
    -------
    float
        Trips of 80 kg, each made longer by a share for the way and its obstacles.

    References
    ----------
    Common practice, no source.
    """
    way = 1 + one_way_m / 100 + 0.1 * (thresholds + ramps) + (0.5 if lift else 0.0) + 2.0 * storeys_by_stairs
    return carried_kg / CARRY_KG_PER_TRIP * way


def _animals(job: Job, catalog: Catalog, group: str | None) -> Driver:
    """Sum of count times catch difficulty, by the middle of each range; what nobody counted is lacking."""
    if job.livestock is None:
        return Driver(quantity=None, lacks=("livestock",))
    total = 0.0
    for animals in job.livestock:
        species = catalog.species.get(animals.species)
        if species is None or not animals.keep:
            continue
        if (species.group == "fish") != (group == "fish"):
            continue
        if animals.count.middle is None:
            return Driver(quantity=None, lacks=(f"livestock.{animals.species}.count",))
        total += animals.count.middle * species.catch_difficulty_1_5
    return Driver(quantity=total)


def _plants(job: Job, catalog: Catalog, *, on_hardscape: bool, without_carpet: bool = False) -> Driver:
    """Pots of epiphytes, or portions for the soil; floating plants take no time at the bed."""
    if job.plants is None:
        return Driver(quantity=None, lacks=("plants",))
    total = 0.0
    for planting in job.plants:
        plant = catalog.plants.get(planting.plant)
        if plant is None or plant.position == "floating":
            continue
        epiphyte = plant.attach_to.startswith(("wood", "stone"))
        if epiphyte != on_hardscape:
            continue
        if without_carpet and plant.position == "carpet":
            continue
        total += planting.units * (1 if on_hardscape else plant.portions_per_unit)
    return Driver(quantity=total)


def _of(value: float | None, *lacks: str) -> Driver:
    return Driver(quantity=value, lacks=() if value is not None else lacks)


def driver_quantities(job: Job, catalog: Catalog, rooms: RoomQuantities) -> Mapping[str, Driver]:
    """Each driver of the activity table, by its name there.

    A driver whose facts are missing carries their key paths instead of a number.
    """
    route = job.site.route
    trips = _of(None, "site.route.distance")
    if rooms.carried_kg is not None and route.distance_m is not None:
        trips = Driver(
            quantity=equivalent_trips(
                carried_kg=rooms.carried_kg,
                one_way_m=route.distance_m,
                thresholds=route.thresholds or 0,
                ramps=route.ramps or 0,
                storeys_by_stairs=route.storeys_by_stairs or 0,
                lift=job.site.lift is not None,
            )
        )
    fish = _animals(job, catalog, "fish")
    shrimp = _animals(job, catalog, None)
    cover = job.old.cover_factor
    planted = _of(None, "old.planted_area", "old.cover_factor")
    if job.old.planted_m2 is not None and cover is not None:
        planted = Driver(quantity=job.old.planted_m2 * cover)
    filters = _of(None if job.filters is None else float(len(job.filters)), "filters")
    media = _of(None, "filters.media")
    if job.filters is not None and all(item.media_l is not None for item in job.filters):
        media = Driver(quantity=sum(item.media_l or 0.0 for item in job.filters))
    stones = _of(None if job.stones is None else sum(sum(stone.pieces_kg) for stone in job.stones), "stones")
    wood = _of(None if job.wood is None else float(len(job.wood)), "wood")
    joints = _of(None, *stones.lacks, *wood.lacks)
    if job.stones is not None and job.wood is not None:
        joints = Driver(quantity=2.0 * len(job.wood) + 0.5 * sum(len(stone.pieces_kg) for stone in job.stones))
    sides = job.tank.public_sides
    epiphytes = _plants(job, catalog, on_hardscape=True)
    return {
        "job": Driver(quantity=1.0),
        "equivalent_trips": trips,
        "kept_water_l": _of(rooms.kept_water_l, "water.tank"),
        "fish_effort": fish if fish.quantity is None else Driver(quantity=fish.quantity / 2),
        "shrimp_effort": shrimp
        if shrimp.quantity is None or cover is None
        else Driver(quantity=shrimp.quantity / 3 * cover),
        "boxes": _of(None if rooms.boxes is None else float(rooms.boxes), "containers", "livestock"),
        "boxes_back": _of(
            None if rooms.boxes is None else float(rooms.boxes if rooms.boxes_back is None else rooms.boxes_back),
            "containers",
            "livestock",
        ),
        "filters": filters,
        "media_l": media,
        "old_planted_m2_x_cover": planted,
        "old_hardscape_kg": _of(job.old.hardscape_kg, "old.hardscape"),
        "old_soil_l": _of(rooms.old_soil_l, "old.soil_depth"),
        "inner_glass_m2": _of(rooms.inner_glass_m2, "tank.length", "tank.width", "tank.height"),
        "footprint_m2": _of(rooms.footprint_m2, "tank.length", "tank.width"),
        "new_soil_bags": _of(None if rooms.bags is None else float(rooms.bags), "bed.shape", "bed.soil"),
        "stone_kg": stones,
        "wood_pieces": wood,
        "joints": joints,
        "public_sides": _of(None if sides is None else float(len(sides)), "tank.public_sides"),
        "epiphyte_units": epiphytes,
        "soil_portions": _plants(job, catalog, on_hardscape=False, without_carpet=job.brief.carpet_later),
        "refill_l": _of(rooms.refill_l, "tank.water_line", "bed.shape"),
        "acclimatise_steps": _of(
            None if rooms.acclimatise_steps is None else float(rooms.acclimatise_steps), "water.tank", "target"
        ),
        "waste_kg": _of(rooms.waste_kg, "old.soil_depth"),
    }
