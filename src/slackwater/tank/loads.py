"""What the floor carries at each step, and what people carry; compared with stated figures and guidance."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Remedy, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
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
ROUND_BARRELS = ("barrel_60", "barrel_120", "barrel_220")


def barrel_area_m2(container_id: str, catalog: Catalog) -> float:
    """Patch of floor under a container: a circle under barrels, a rectangle under boxes [m2]."""
    container = catalog.containers[container_id]
    area = container.length_cm * container.width_cm / 1e4
    return area * 3.141592653589793 / 4 if container_id in ROUND_BARRELS else area


def _tank_states(
    job: Job, shape: TankShape, volumes: Volumes, bed_dry_kg: float, stone_kg: float, wood_kg: float
) -> Iterable[LoadState]:
    """The tank on its stand, step by step; glass and stand count where they are known."""
    tank = job.tank
    if tank.stand_length_m is None or tank.stand_width_m is None:
        return
    area = tank.stand_length_m * tank.stand_width_m
    glass = [LoadItem(what="glass and stand", mass_kg=tank.glass_and_stand_kg or 0.0)]
    floor = job.site.floor
    limit = floor.stated_load_kn_m2
    if floor.stand_limit_kn is not None and floor.stand_plate_length_m and floor.stand_plate_width_m:
        area = floor.stand_plate_length_m * floor.stand_plate_width_m
        limit = floor.stand_limit_kn / area
    built = [
        LoadItem(what="soil", mass_kg=bed_dry_kg),
        LoadItem(what="stones and wood", mass_kg=stone_kg + wood_kg),
    ]
    steps = {
        "empty": glass,
        "built": [*glass, *built, LoadItem(what="water in the soil", mass_kg=volumes.pore_water_l * 0.4)],
        "refilled": [*glass, *built, LoadItem(what="water", mass_kg=_water_kg(volumes.net_l, job))],
    }
    old = _before(job, shape)
    if old is not None:
        steps = {"before": [*glass, *old], **steps}
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
            source=floor.stated_by or "not stated by whom",
        )


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


def _floor_findings(states: Sequence[LoadState], catalog: Catalog) -> list[Finding]:
    found = []
    tank = [state for state in states if state.where == "tank"]
    heaviest = max(tank, key=lambda state: state.pressure_kn_m2, default=None)
    for state in states:
        if state.limit_kn_m2 is None or (state.where == "tank" and state is not heaviest):
            continue
        if state.where == "beside":
            found += _barrel_finding(state, state.limit_kn_m2, catalog)
        elif state.pressure_kn_m2 > state.limit_kn_m2:
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


def near_tank_kg(job: Job) -> float | None:
    """What may stand near the tank at once by an engineer's figure, people not counted [kg]; None: none is known."""
    limit = job.site.floor.extra_near_tank_kn
    return None if limit is None else limit * 1000 / GRAVITY_M_S2


def _beside(
    job: Job, catalog: Catalog, barrels: Sequence[tuple[str, float]], boxes: Sequence[tuple[str, float]], bags_kg: float
) -> list[Finding]:
    """Everything that stands near the tank at once against an engineer's figure for that."""
    limit = job.site.floor.extra_near_tank_kn
    if limit is None:
        return []
    mass = bags_kg + sum(
        litres + catalog.containers[container].empty_mass_kg for container, litres in (*barrels, *boxes)
    )
    load = mass * GRAVITY_M_S2 / 1000
    if load <= limit:
        return []
    return [
        Finding(
            id="tank.extra_near_tank",
            severity=Severity.CONDITION,
            values={
                "load_kn": load,
                "limit_kn": limit,
                "mass_kg": mass,
                "radius_m": job.site.floor.near_tank_m or 0.0,
                "allowed_kg": near_tank_kg(job) or 0.0,
            },
            margin=limit - load,
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
    stone_kg = sum(sum(stone.pieces_kg) for stone in job.stones or ())
    wood_kg = sum(wood.mass_kg for wood in job.wood or ())
    states = (*_tank_states(job, shape, volumes, bed_dry_kg, stone_kg, wood_kg), *_barrel_states(job, catalog, barrels))
    findings = _floor_findings(states, catalog)
    findings += _beside(job, catalog, barrels, boxes, bags_kg=BAGS_AT_EDGE_KG)
    assumed = []
    if job.tank.glass_and_stand_kg is None:
        assumed.append(
            Assumption(
                field="tank.glass_and_stand", value="0 kg", source="not surveyed: the tank's own mass is left out"
            )
        )
    if job.site.floor.stated_load_kn_m2 is None and job.site.floor.stand_limit_kn is None:
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
        figures=(*figures, *gas_figures),
        findings=tuple(findings),
        assumed=tuple(assumed),
    )
