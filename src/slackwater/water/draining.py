"""Running water on the day: hose, siphon or pump, drain, rinses, the level at which to stop."""

from __future__ import annotations

from slackwater.finding import Severity
from slackwater.job.model import Job
from slackwater.tank.result import TankShape
from slackwater.tank.volume import level_m, volume_at_level_l
from slackwater.water.gas import pressure_at_altitude_atm
from slackwater.water.hydraulics import HIGHEST_SUMMIT_M, drain_minutes, pumped_l_min, siphon_holds, with_band
from slackwater.water.notes import Notes

OLD_SOIL_POROSITY = 0.45
"""Water-filled share of spent soil and gravel; from memory."""
HOSE_BORE_M = 0.019
HOSE_MINOR_LOSS = 2.5
"""Entrance, strainer and bends of a drain hose, 1.5 to 4; from memory."""
BARREL_LIFT_M = 0.9
"""From the floor to the rim of a tank on its stand, where no rim was measured; common practice, no source."""
Band = tuple[float, float]


def _hose(job: Job, notes: Notes) -> tuple[float, float]:
    """Bore and length of the hose [m], as told or as usual."""
    bore = job.preparation.hose_bore_m
    if bore is None:
        bore = HOSE_BORE_M
        notes.assume("preparation.hose_bore", f"{1000 * bore:g} mm", "common practice, no source")
    length = job.preparation.hose_length_m
    if length is None:
        way = job.site.drain.distance_m
        if way is None:
            way = 10.0
            notes.assume("site.drain.distance", "10 m of hose", "common practice, no source")
        length = max(2.0, way)
    return bore, length


def _temp_c(job: Job) -> float:
    tank = job.water.tank
    return min(40.0, tank.temp_c if tank is not None and tank.temp_c is not None else 25.0)


def _siphon_l_min(job: Job, notes: Notes, shape: TankShape) -> float | None:
    """Mean flow of a hose that empties the tank over its rim, where no pump is named."""
    rim = job.tank.rim_height_m
    if rim is None or rim <= shape.height_m:
        return None
    bore, length = _hose(job, notes)
    notes.assume(
        "preparation.pump_flow", f"siphon through a hose of {1000 * bore:g} mm", "no pump named; common practice"
    )
    summit = job.preparation.hose_summit_m
    pressure = pressure_at_altitude_atm(altitude_m=job.site.altitude_m or 0.0)
    if summit is not None and not siphon_holds(summit_m=summit, pressure_atm=pressure):
        notes.say("siphon_breaks", Severity.CONDITION, summit_m=summit, highest_m=round(HIGHEST_SUMMIT_M * pressure, 1))
        return None
    minutes = drain_minutes(
        plan_area_m2=shape.footprint_m2,
        depth_start_m=shape.water_line_m,
        depth_end_m=0.05 * shape.water_line_m,
        outlet_below_bottom_m=rim - shape.height_m,
        inner_diameter_m=bore,
        length_m=length,
        minor_loss=HOSE_MINOR_LOSS,
        temp_c=_temp_c(job),
    )
    return 0.95 * shape.gross_l / minutes


def _pump_l_min(job: Job, notes: Notes, *, lift_m: float) -> float | None:
    """The pump's flow as told, else from its label's curve against the hose."""
    told = job.preparation
    if told.pump_flow_l_min is not None:
        return told.pump_flow_l_min
    if told.pump_free_flow_l_min is None or told.pump_head_m is None:
        return None
    bore, length = _hose(job, notes)
    flow = pumped_l_min(
        free_flow_l_min=told.pump_free_flow_l_min,
        shut_head_m=told.pump_head_m,
        lift_m=lift_m,
        inner_diameter_m=bore,
        length_m=length,
        minor_loss=HOSE_MINOR_LOSS,
        temp_c=_temp_c(job),
    )
    if flow <= 0:
        notes.say("pump_too_weak", Severity.CONDITION, head_m=told.pump_head_m, lift_m=lift_m)
        return None
    return flow


def running_minutes(
    job: Job, notes: Notes, shape: TankShape, *, discarded_l: float, refill_l: float, ro_waste_l_min: float
) -> tuple[float | None, Band | None, float | None, Band | None]:
    """Minutes out and in, each with its band: out at the slower of pump or siphon and drain, in at the pump's flow.

    The drain takes the waste of a running reverse osmosis unit at the same time.
    """
    rim = job.tank.rim_height_m
    out_pump = _pump_l_min(job, notes, lift_m=0.0)
    out_flow = out_pump if out_pump is not None else _siphon_l_min(job, notes, shape)
    in_flow = _pump_l_min(job, notes, lift_m=rim if rim is not None else BARREL_LIFT_M)
    drain = job.site.drain.flow_l_min
    if drain is not None:
        room = drain - ro_waste_l_min
        if room <= 0:
            notes.say("drain_full_of_waste", Severity.CONDITION, drain_l_min=drain, waste_l_min=ro_waste_l_min)
        elif out_flow is not None and out_flow > room:
            notes.say(
                "drain_slower_than_pump",
                Severity.NOTE,
                drain_l_min=drain,
                waste_l_min=ro_waste_l_min,
                pump_l_min=out_flow,
            )
    flows = [flow for flow in (out_flow, None if drain is None else drain - ro_waste_l_min) if flow and flow > 0]
    out = discarded_l / min(flows) if flows else None
    back = refill_l / in_flow if in_flow else None
    bands = [None if value is None else with_band(value) for value in (out, back)]
    for name, value, band, litres in (
        ("drain_min", out, bands[0], discarded_l),
        ("refill_min", back, bands[1], refill_l),
    ):
        if value is not None:
            notes.figure(
                name,
                value,
                "min",
                "litres over the slowest of pump or siphon, hose and drain",
                "job file; Darcy-Weisbach with Colebrook; kinked hose 0.6 to 1 from memory",
                band=band,
                litres_l=litres,
            )
    return out, bands[0], back, bands[1]


def stop_level_m(job: Job, notes: Notes, shape: TankShape, *, kept_l: float) -> float | None:
    """Level of the old tank when what is to be kept has been taken; None where the old soil was not measured."""
    depth = job.old.soil_depth_m
    if depth is None and job.old.soil_l is not None:
        depth = job.old.soil_l / 1000 / shape.footprint_m2
    if depth is None or depth >= shape.water_line_m:
        return None
    before = volume_at_level_l(
        level_m=shape.water_line_m, footprint_m2=shape.footprint_m2, bed_depth_m=depth, bed_porosity=OLD_SOIL_POROSITY
    )
    if kept_l >= before:
        return None
    level = level_m(
        volume_l=before - kept_l,
        footprint_m2=shape.footprint_m2,
        bed_depth_m=depth,
        bed_porosity=OLD_SOIL_POROSITY,
    )
    notes.figure(
        "stop_level_m",
        level,
        "m",
        "level of the water left over and in the old soil; old stones not counted, so it will be a little higher",
        "geometry; porosity of old soil 0.45 (from memory)",
        kept_l=round(kept_l, 1),
        old_soil_m=round(depth, 3),
    )
    return level
