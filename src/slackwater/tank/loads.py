"""What the floor carries at each step, and what people carry; compared with stated figures and guidance."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import sqrt

from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Remedy, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Floor, Job
from slackwater.stage import Stage
from slackwater.tank.floor import GRAVITY_M_S2, gas_share_of_room, pressure_kn_m2, tank_mass_kg
from slackwater.tank.fluid import density_kg_m3
from slackwater.tank.lifting import lifting_index, recommended_weight_kg
from slackwater.tank.result import Lift, LoadItem, Loads, LoadState, TankShape, Volumes

BAG_EDGE_KG = 15.0
BAGS_AT_EDGE_KG = 2 * BAG_EDGE_KG
OLD_SOIL_KG_L = 1.35
"""Spent soil, wet (catalog: old_soil_wet)."""
TROLLEY_CM = 75.0
REACH_CM = 45.0
TURN_DEG = 45.0
"""Lifts are taken as: from a trolley at 75 cm over to the rim, hands 45 cm out, a quarter turn; from memory."""
PERSON_KG = 80.0
"""One of the crew; from memory, used only for the load beside the tank."""
STAND_ERRORS: Mapping[str, float] = {"glass and stand": 0.10, "soil": 0.15, "stones and wood": 0.05, "water": 0.03}
"""By what share each mass on the stand may be wrong, 90 of 100 cases; from memory: soil by its bulk density, water by the
tape at the tank."""
NOT_KNOWN, AS_ENTERED = "not known", "as entered"
ROUND_BARRELS = ("barrel_60", "barrel_120", "barrel_220")


def barrel_area_m2(container_id: str, catalog: Catalog) -> float:
    """Patch of floor under a container: a circle under barrels, a rectangle under boxes [m2]."""
    container = catalog.containers[container_id]
    area = container.length_cm * container.width_cm / 1e4
    return area * 3.141592653589793 / 4 if container_id in ROUND_BARRELS else area


def _filled(job: Job, volumes: Volumes, bed_dry_kg: float) -> tuple[LoadItem, ...]:
    """What the stand carries once the tank is filled to its line; glass and stand count where they are known."""
    hardscape_kg = sum(sum(stone.pieces_kg) for stone in job.stones or ()) + sum(
        wood.mass_kg for wood in job.wood or ()
    )
    return (
        LoadItem(what="glass and stand", mass_kg=job.tank.glass_and_stand_kg or 0.0),
        LoadItem(what="soil", mass_kg=bed_dry_kg),
        LoadItem(what="stones and wood", mass_kg=hardscape_kg),
        LoadItem(what="water", mass_kg=_water_kg(volumes.net_l, job)),
    )


def _plate_m2(floor: Floor) -> float | None:
    """The plate below the stand, where one is told [m2]."""
    if floor.stand_plate_length_m is None or floor.stand_plate_width_m is None:
        return None
    return floor.stand_plate_length_m * floor.stand_plate_width_m


def _limit_under_plate(floor: Floor) -> bool:
    return floor.stand_limit_kn is not None and _plate_m2(floor) is not None


def _stands_on(job: Job) -> tuple[float, float | None] | None:
    """The patch under the tank and what it may bear by the house's figures [m2, kN/m2]; None where its size is not known.

    A limit told with a plate is the floor's under that plate, and stands in place of its limit for every square metre.
    One told without a plate is the stand's own, and says nothing of the floor.
    """
    floor, tank = job.site.floor, job.tank
    plate = _plate_m2(floor)
    if plate is not None:
        return plate, floor.stated_load_kn_m2 if floor.stand_limit_kn is None else floor.stand_limit_kn / plate
    if tank.stand_length_m is None or tank.stand_width_m is None:
        return None
    return tank.stand_length_m * tank.stand_width_m, floor.stated_load_kn_m2


def _tank_states(job: Job, shape: TankShape, volumes: Volumes, filled: tuple[LoadItem, ...]) -> Iterable[LoadState]:
    """The tank on its stand, step by step."""
    stands_on = _stands_on(job)
    if stands_on is None:
        return
    area, limit = stands_on
    glass, *built, _ = filled
    steps = {
        "empty": [glass],
        "built": [glass, *built, LoadItem(what="water in the soil", mass_kg=volumes.pore_water_l * 0.4)],
        "refilled": list(filled),
    }
    old = _before(job, shape)
    if old is not None:
        steps = {"before": [glass, *old], **steps}
    for state, items in steps.items():
        mass = sum(item.mass_kg for item in items)
        yield LoadState(
            state=state,
            where="tank",
            items=tuple(items),
            mass_kg=mass,
            footprint_m2=area,
            pressure_kn_m2=pressure_kn_m2(mass_kg=mass, area_m2=area),
            limit_kn_m2=limit,
            source=job.site.floor.stated_by or "not stated by whom",
        )


def _stand(job: Job, filled: tuple[LoadItem, ...]) -> tuple[tuple[Figure, ...], list[Finding]]:
    """The whole load on the stand against the limit stated for it, whatever it presses on.

    Notes
    -----
    The band takes the errors of the single masses as independent of each other: the root of the sum of their squares.
    Filters, lamps and what stands in the cabinet are not surveyed by mass and left out.
    """
    limit = job.site.floor.stand_limit_kn
    if limit is None:
        return (), []
    unknown = job.tank.glass_and_stand_kg is None
    mass = sum(item.mass_kg for item in filled)
    error = sqrt(sum((STAND_ERRORS[item.what] * item.mass_kg) ** 2 for item in filled))
    load, low, high = (kg * GRAVITY_M_S2 / 1000 for kg in (mass, mass - error, mass + error))
    by = job.site.floor.stated_by or "not stated by whom"
    values: dict[str, float | str] = {
        "load_kn": load,
        "low_kn": low,
        "high_kn": high,
        "mass_kg": mass,
        "limit_kn": limit,
        "by": by,
        **{f"{item.what.replace(' ', '_')}_kg": item.mass_kg for item in filled},
        "left_kg": (limit - load) * 1000 / GRAVITY_M_S2,
    }
    figure = Figure(
        id="tank.stand_load_kn",
        value=load,
        unit="kN",
        low=low,
        high=high,
        formula="(glass and stand + dry soil + stones and wood + water) x 9.81 / 1000; filters, lamps and cabinet left out",
        source=(
            f"limit {limit:g} kN: {by}; glass and stand: {NOT_KNOWN if unknown else AS_ENTERED}; stones and wood: "
            f"{AS_ENTERED}; soil: litres of the bed and bulk density of the catalog (from memory); water: geometry, at its "
            "temperature"
        ),
        inputs={f"{item.what.replace(' ', '_')}_kg": round(item.mass_kg, 1) for item in filled} | {"limit_kn": limit},
    )
    if unknown and low <= limit:
        return (figure,), [_stand_finding("stand_unjudged", values)]
    if low > limit:
        return (figure,), [_stand_finding("stand_over_limit", values, margin=limit - load)]
    if high > limit:
        return (figure,), [_stand_finding("stand_near_limit", values, margin=limit - load)]
    return (figure,), [_stand_finding("stand_within_limit", values, margin=limit - load, severity=Severity.NOTE)]


def _stand_finding(
    name: str,
    values: Mapping[str, float | str],
    *,
    margin: float | None = None,
    severity: Severity = Severity.CONDITION,
) -> Finding:
    unit = "" if margin is None else "kN"
    return Finding(id=f"tank.{name}", severity=severity, values=values, margin=margin, margin_unit=unit)


def _water_kg(litres: float, job: Job) -> float:
    """Mass of water at the temperature agreed, or at 25 C [kg]."""
    temp = job.target.temp_c if job.target.temp_c is not None else 25.0
    return tank_mass_kg(
        water_l=litres,
        density_kg_m3=density_kg_m3(temp_c=min(40.0, max(0.0, temp))),
        glass_and_stand_kg=0.0,
        substrate_kg=0.0,
        hardscape_kg=0.0,
    )


def _before(job: Job, shape: TankShape) -> list[LoadItem] | None:
    """What stood on the floor for years: old soil soaked, old stone, and the water over it."""
    if job.old.soil_depth_m is None and job.old.soil_l is None:
        return None
    soil_l = job.old.soil_l if job.old.soil_l is not None else 1000 * (job.old.soil_depth_m or 0.0) * shape.footprint_m2
    return [
        LoadItem(what="old soil, soaked", mass_kg=soil_l * OLD_SOIL_KG_L),
        LoadItem(what="old stones and wood", mass_kg=job.old.hardscape_kg or 0.0),
        LoadItem(what="old water", mass_kg=_water_kg(max(0.0, shape.gross_l - soil_l), job)),
    ]


def _barrel_states(job: Job, catalog: Catalog, barrels: Sequence[tuple[str, float]]) -> Iterable[LoadState]:
    """Each kind of barrel as it stands on its own footprint, at its fullest."""
    fullest: dict[str, float] = {}
    for container_id, litres in barrels:
        fullest[container_id] = max(litres, fullest.get(container_id, 0.0))
    for container_id, litres in sorted(fullest.items()):
        container = catalog.containers[container_id]
        mass = litres + container.empty_mass_kg
        area = barrel_area_m2(container_id, catalog)
        yield LoadState(
            state=f"barrel:{container_id}",
            where="beside",
            items=(LoadItem(what=container.container, mass_kg=mass),),
            mass_kg=mass,
            footprint_m2=area,
            pressure_kn_m2=pressure_kn_m2(mass_kg=mass, area_m2=area),
            limit_kn_m2=job.site.floor.stated_load_kn_m2,
            source=job.site.floor.stated_by or "not stated by whom",
        )


def _floor_findings(states: Sequence[LoadState], job: Job, catalog: Catalog) -> list[Finding]:
    found = []
    # What the floor bears under a plate is compared as a whole load.
    whole = _limit_under_plate(job.site.floor)
    tank = [state for state in states if state.where == "tank"]
    heaviest = max(tank, key=lambda state: state.pressure_kn_m2, default=None)
    for state in states:
        if state.limit_kn_m2 is None or (state.where == "tank" and state is not heaviest):
            continue
        if state.where == "beside":
            found += _barrel_finding(state, state.limit_kn_m2, catalog)
        elif not whole and state.pressure_kn_m2 > state.limit_kn_m2:
            found.append(
                Finding(
                    id="tank.stand_over_floor",
                    severity=Severity.CONDITION,
                    about=state.state,
                    values={
                        "pressure_kn_m2": state.pressure_kn_m2,
                        "limit_kn_m2": state.limit_kn_m2,
                        "mass_kg": state.mass_kg,
                        "by": state.source,
                    },
                    margin=state.limit_kn_m2 - state.pressure_kn_m2,
                    margin_unit="kN/m2",
                )
            )
    return found


def _barrel_finding(state: LoadState, limit_kn_m2: float, catalog: Catalog) -> list[Finding]:
    """A barrel that presses too hard when full, whatever is planned in it: people fill barrels to the brim."""
    container = catalog.containers[state.state.removeprefix("barrel:")]
    full_kg = container.usable_l + container.empty_mass_kg
    full = pressure_kn_m2(mass_kg=full_kg, area_m2=state.footprint_m2)
    if full <= limit_kn_m2:
        return []
    allowed_l = max(0.0, limit_kn_m2 * state.footprint_m2 * 1000 / GRAVITY_M_S2 - container.empty_mass_kg)
    return [
        Finding(
            id="tank.barrel_over_floor",
            severity=Severity.CONDITION,
            about=container.id,
            values={
                "barrel": f"{container.container} of {container.nominal_l:g} L",
                "pressure_kn_m2": full,
                "limit_kn_m2": limit_kn_m2,
                "full_kg": full_kg,
                "planned_l": state.mass_kg - container.empty_mass_kg,
                "planned_kn_m2": state.pressure_kn_m2,
                "by": state.source,
            },
            margin=limit_kn_m2 - state.pressure_kn_m2,
            margin_unit="kN/m2",
            remedies=(
                Remedy(id="tank.fill_less", values={"litres_l": allowed_l}),
                Remedy(id="tank.spread_board", values={"area_m2": full_kg * GRAVITY_M_S2 / 1000 / limit_kn_m2}),
                Remedy(id="tank.smaller_barrel"),
            ),
        )
    ]


def near_tank_said(job: Job) -> Mapping[str, float | str]:
    """What the figure for the floor near the tank counts, as values of a sentence: whether people, how many of them [kg]."""
    counted = job.site.floor.extra_near_tank_with_people
    people = sum(not person.on_call for person in job.people or ()) if counted else 0
    who = "people_not_told" if counted is None else "with_people" if counted else "without_people"
    return {"who": f"@near_tank.{who}", "people": people, "people_kg": people * PERSON_KG}


def near_tank_kg(job: Job) -> float | None:
    """What barrels, boxes and bags near the tank may weigh at once by an engineer's figure [kg]; None: none is known.

    Where people count within that figure, the crew is taken off it.
    """
    limit = job.site.floor.extra_near_tank_kn
    if limit is None:
        return None
    return max(0.0, limit * 1000 / GRAVITY_M_S2 - float(near_tank_said(job)["people_kg"]))


def _beside(
    job: Job, catalog: Catalog, barrels: Sequence[tuple[str, float]], boxes: Sequence[tuple[str, float]], bags_kg: float
) -> list[Finding]:
    """Everything that stands near the tank at once against an engineer's figure for that."""
    limit, allowed = job.site.floor.extra_near_tank_kn, near_tank_kg(job)
    if limit is None or allowed is None:
        return []
    mass = bags_kg + sum(
        litres + catalog.containers[container].empty_mass_kg for container, litres in (*barrels, *boxes)
    )
    if mass <= allowed:
        return []
    radius = job.site.floor.near_tank_m
    return [
        Finding(
            id="tank.extra_near_tank",
            severity=Severity.CONDITION,
            values={
                "load_kn": mass * GRAVITY_M_S2 / 1000,
                "limit_kn": limit,
                "limit_kg": limit * 1000 / GRAVITY_M_S2,
                "mass_kg": mass,
                "radius_m": radius or 0.0,
                "within": f"@near_tank.{'within_not_told' if radius is None else 'within'}",
                "allowed_kg": allowed,
                **near_tank_said(job),
            },
            margin=(allowed - mass) * GRAVITY_M_S2 / 1000,
            margin_unit="kN",
            remedies=(Remedy(id="tank.stand_away"),),
        )
    ]


def _lifts(job: Job, catalog: Catalog, shape: TankShape) -> tuple[tuple[Lift, ...], list[Finding]]:
    """Single heavy things against guidance for one pair of hands."""
    guide = catalog.limits["lift_one"]
    caution = guide.caution_above or 20.0
    stop = guide.stop_above or 25.0
    things = [
        (f"{catalog.materials[stone.material].material}, {mass:g} kg piece", mass)
        for stone in job.stones or ()
        if stone.material in catalog.materials
        for mass in stone.pieces_kg
    ]
    things += [("waste sack, filled to its limit", BAG_EDGE_KG)]
    rim_cm = 100 * (job.tank.rim_height_m if job.tank.rim_height_m is not None else 1.2)
    recommended = recommended_weight_kg(
        hand_distance_cm=REACH_CM,
        hand_height_cm=TROLLEY_CM,
        travel_cm=min(175.0, abs(rim_cm - TROLLEY_CM)),
        asymmetry_deg=TURN_DEG,
        lifts_per_min=0.5,
        duration="<=1h",
        coupling="poor",
    )
    lifts = tuple(
        Lift(
            what=what,
            mass_kg=mass,
            lifting_index=lifting_index(load_kg=mass, recommended_kg=recommended),
            people=2 if mass > caution or lifting_index(load_kg=mass, recommended_kg=recommended) > 1 else 1,
            guidance=(
                f"NIOSH 94-110: {recommended:.1f} kg from a trolley over this rim with dry hands; "
                "HSE INDG143 and ISO 11228-1: 25 kg close to the body, far less at arm's length or on steps"
            ),
        )
        for what, mass in sorted(things, key=lambda thing: -thing[1])
        if mass >= 10 or mass == max(item for _, item in things)
    )
    heavy = [lift for lift in lifts if lift.mass_kg > stop]
    findings = [
        Finding(
            id="tank.heavy_piece",
            severity=Severity.CONDITION,
            about=lift.what,
            values={"what": lift.what, "mass_kg": lift.mass_kg, "guide_kg": stop},
            margin=stop - lift.mass_kg,
            margin_unit="kg",
        )
        for lift in heavy
    ]
    return lifts, findings


def _lift_cage(job: Job, catalog: Catalog, barrels: Sequence[tuple[str, float]]) -> list[Finding]:
    lift = job.site.lift
    if lift is None or lift.rated_load_kg is None:
        return []
    trolley = next((item.mass_kg for item in catalog.kit.values() if item.id == "trolley"), 0.0)
    heaviest = 80.0 + trolley + 2 * PERSON_KG
    if heaviest <= lift.rated_load_kg:
        return []
    return [
        Finding(
            id="tank.lift_overloaded",
            severity=Severity.CONDITION,
            values={"load_kg": heaviest, "rated_kg": lift.rated_load_kg},
            margin=lift.rated_load_kg - heaviest,
            margin_unit="kg",
        )
    ]


def _gas(job: Job, catalog: Catalog) -> tuple[list[Figure], list[Finding]]:
    """A carbon dioxide cylinder leaked empty, against the room and its cabinet."""
    if job.co2 is None:
        return [], []
    figures, findings = [], []
    limit = (catalog.limits["co2_room"].caution_above or 0.5) / 100
    if job.site.room_volume_m3 is not None:
        share = gas_share_of_room(gas_kg=job.co2.cylinder_kg, room_m3=job.site.room_volume_m3)
        figures.append(
            Figure(
                id="tank.co2_room_percent",
                value=100 * share,
                unit="%",
                formula="cylinder leaked empty over the room's volume, no ventilation",
                source="density 1.83 kg/m3 at 20 C; limit 0.5 %: Directive 2006/15/EC",
                inputs={"cylinder_kg": job.co2.cylinder_kg, "room_m3": job.site.room_volume_m3},
            )
        )
        if share > limit:
            findings.append(
                Finding(
                    id="tank.co2_room",
                    severity=Severity.CONDITION,
                    values={"percent": 100 * share, "limit_percent": 100 * limit},
                    margin=100 * (limit - share),
                    margin_unit="%",
                )
            )
    if job.co2.cabinet_m3 is not None:
        share = gas_share_of_room(gas_kg=job.co2.cylinder_kg, room_m3=job.co2.cabinet_m3)
        if share > limit:
            findings.append(
                Finding(
                    id="tank.co2_cabinet",
                    severity=Severity.CONDITION,
                    values={"percent": 100 * share, "cabinet_m3": job.co2.cabinet_m3},
                    margin=100 * (limit - share),
                    margin_unit="%",
                )
            )
    return figures, findings


def assess_loads(
    job: Job,
    catalog: Catalog,
    shape: TankShape,
    volumes: Volumes,
    *,
    bed_dry_kg: float,
    barrels: Sequence[tuple[str, float]],
    boxes: Sequence[tuple[str, float]],
) -> Stage[Loads]:
    """All loads of the day against what the floor, the lift and hands are stated to bear.

    Parameters
    ----------
    job, catalog, shape, volumes
        As elsewhere.
    bed_dry_kg : float
        Dry mass of all bed layers [kg].
    barrels, boxes : sequences of (container id, litres)
        What stands beside the tank.
    """
    filled = _filled(job, volumes, bed_dry_kg)
    states = (*_tank_states(job, shape, volumes, filled), *_barrel_states(job, catalog, barrels))
    stand_figures, findings = _stand(job, filled)
    findings += _floor_findings(states, job, catalog)
    findings += _beside(job, catalog, barrels, boxes, bags_kg=BAGS_AT_EDGE_KG)
    assumed = []
    if job.tank.glass_and_stand_kg is None:
        assumed.append(
            Assumption(
                field="tank.glass_and_stand", value="0 kg", source="not surveyed: the tank's own mass is left out"
            )
        )
    if job.site.floor.stated_load_kn_m2 is None and not _limit_under_plate(job.site.floor):
        findings.append(Finding(id="tank.floor_unknown", severity=Severity.CONDITION))
    lifts, heavy = _lifts(job, catalog, shape)
    gas_figures, gas_findings = _gas(job, catalog)
    findings += heavy + _lift_cage(job, catalog, barrels) + gas_findings
    figures = [
        Figure(
            id=f"tank.floor.{state.state}",
            value=state.pressure_kn_m2,
            unit="kN/m2",
            formula="mass x 9.81 / footprint",
            source=f"limit {state.limit_kn_m2:g} kN/m2: {state.source}" if state.limit_kn_m2 else "no limit stated",
            inputs={"mass_kg": round(state.mass_kg, 1), "footprint_m2": round(state.footprint_m2, 3)},
        )
        for state in states
    ]
    return Stage(
        result=Loads(states=states, lifts=lifts),
        figures=(*stand_figures, *figures, *gas_figures),
        findings=tuple(findings),
        assumed=tuple(assumed),
    )
