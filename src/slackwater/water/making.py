"""The making of a job's new water: permeate in time, warming against the loss, airing, and what runs down the drain."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from slackwater.figure import Assumption
from slackwater.finding import Remedy, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job, WaterReading
from slackwater.water.composition import Water, ion_mg_l
from slackwater.water.gas import SURFACES, exchange
from slackwater.water.notes import Notes
from slackwater.water.preparation import hours_before, real_hours, run_of, unit_of
from slackwater.water.production import LOSS_SPREAD, Unit, boosted_l_day, changes_before, course
from slackwater.water.result import BarrelFill, MakingCourse, OsmosisRun, WarmingRun
from slackwater.water.speciation import speciate
from slackwater.water.warming import heat_kwh, heating_hours
from slackwater.water.waters import Waters

LIKELY_SHORT = 0.05
"""Chance of too little permeate above which something is done about it; common practice, no source."""
ROOM_C = 20.0
WASTE_RATIO = 2.5
NEAR_PH = 0.1


def zone_of(job: Job) -> ZoneInfo:
    """The time zone of the site; universal time while it is not known."""
    return ZoneInfo(job.site.time_zone or "UTC")


def work_start(job: Job) -> datetime | None:
    """When the day begins, local time; None while it is not booked."""
    return next((window.start for window in job.site.windows or () if window.kind == "day"), None)


def osmosis_unit(job: Job, catalog: Catalog, notes: Notes, tap: WaterReading) -> Unit | None:
    """The reverse osmosis unit as it runs here; None without one, or while facts of it are missing."""
    ro = job.preparation.ro
    if ro is None:
        return None
    unit, extra = unit_of(ro, catalog, tap_conductivity_us_cm=tap.conductivity_us_cm)
    if unit is None:
        notes.lacks += [str(name) for name in extra]
        return None
    notes.assumed += [item for item in extra if isinstance(item, Assumption)]
    return unit


def warming_run(
    job: Job,
    catalog: Catalog,
    notes: Notes,
    *,
    new_l: float,
    from_c: float | None,
    barrels: tuple[BarrelFill, ...],
) -> WarmingRun | None:
    """Hours to warm the new water, against the loss of its barrels to the room."""
    goal = job.target.temp_c
    lacks = [
        name
        for name, value in (
            ("target.temperature", goal),
            ("water.tap.temperature", from_c),
            ("preparation.heater", job.preparation.heater_w),
        )
        if value is None
    ]
    if goal is None or from_c is None or job.preparation.heater_w is None or new_l <= 0:
        notes.lacks += lacks if new_l > 0 else []
        return None
    room = job.site.room_temp_c
    if room is None:
        room = ROOM_C
        notes.assume("site.room_temperature", f"{ROOM_C:g} °C", "common practice, no source")
    loss = _loss_w_per_k(catalog, barrels)
    hours = heating_hours(
        water_kg=new_l, from_c=from_c, to_c=goal, heater_w=job.preparation.heater_w, loss_w_per_k=loss, room_c=room
    )
    if hours is None:
        notes.say("heater_too_weak", Severity.MISFIT, heater_w=job.preparation.heater_w, to_c=goal, litres_l=new_l)
    start = work_start(job)
    latest = hours_before(start, hours, zone_of(job)) if start is not None and hours is not None else None
    run = WarmingRun(
        litres=new_l,
        from_c=from_c,
        to_c=goal,
        heater_w=job.preparation.heater_w,
        hours=hours,
        energy_kwh=heat_kwh(water_kg=new_l, from_c=from_c, to_c=goal),
        start_latest=latest,
    )
    if hours is not None:
        ends = [
            heating_hours(
                water_kg=new_l,
                from_c=from_c,
                to_c=goal,
                heater_w=job.preparation.heater_w,
                loss_w_per_k=loss * share,
                room_c=room,
            )
            for share in (LOSS_SPREAD[0], LOSS_SPREAD[2])
        ]
        known = [value for value in ends if value is not None]
        notes.figure(
            "warming_h",
            hours,
            "h",
            "m c dT/dt = P - UA (T - room), solved",
            "energy balance; barrel losses from the catalog (estimated), 0.6 to 1.6 of it",
            band=(min(known), max(known)) if len(known) == 2 else None,
            litres_l=new_l,
            from_c=from_c,
            to_c=goal,
            heater_w=job.preparation.heater_w,
            loss_w_per_k=loss,
        )
    storage = catalog.limits["storage_warm"]
    if job.site.care_setting and storage.target_high is not None:
        notes.say("warm_storage", Severity.CONDITION, hours_h=storage.target_high)
    return run


def osmosis_run(
    job: Job,
    notes: Notes,
    unit: Unit | None,
    warming: WarmingRun | None,
    *,
    need_l: float,
    rng: np.random.Generator,
) -> OsmosisRun | None:
    """The run for the permeate that is needed, and what must be guarded while nobody is there."""
    ro = job.preparation.ro
    if ro is None or unit is None:
        return None
    waste_ratio = ro.waste_ratio
    if waste_ratio is None:
        waste_ratio = WASTE_RATIO
        notes.assume("preparation.ro.waste_ratio", f"{WASTE_RATIO:g}", "common practice, no source")
    run = run_of(
        ro,
        unit,
        need_l=need_l,
        ready_by=work_start(job),
        after_hours=(warming.hours or 0.0) if warming is not None else 0.0,
        waste_ratio=waste_ratio,
        zone=zone_of(job),
        rng=rng,
    )
    if run.unattended_hours > 0 and ro.place != "workshop" and need_l > 0:
        notes.say(
            "ro_unattended",
            Severity.CONDITION,
            unattended_h=run.unattended_hours,
            cut_off="is on hand" if ro.leak_cut_off else "is not told: bring one",
            waste_l=run.waste_l,
        )
    drain = job.site.drain.flow_l_min
    waste_l_min = _waste_l_min(unit, waste_ratio)
    if drain is not None and need_l > 0 and ro.place != "workshop" and waste_l_min > drain:
        notes.say("drain_full_of_waste", Severity.CONDITION, drain_l_min=drain, waste_l_min=waste_l_min)
    return run


def prepared_on_site(job: Job) -> bool:
    """Whether the new water is made and warmed in the house: told of the unit; without one it comes from the tap there."""
    ro = job.preparation.ro
    return ro is None or ro.place != "workshop"


def say_before_access(job: Job, notes: Notes, osmosis: OsmosisRun | None, warming: WarmingRun | None) -> None:
    """That water would have to be begun in the house at a time when nobody may be there."""
    windows, opens = job.site.windows or (), work_start(job)
    if opens is None or not prepared_on_site(job):
        return
    begins = [
        run.start_latest
        for run in (osmosis if osmosis is not None and osmosis.need_l > 0 else None, warming)
        if run is not None and run.start_latest is not None
    ]
    shut = [at for at in begins if not any(window.start <= at <= window.end for window in windows)]
    if not shut:
        return
    before_min = real_hours(min(shut), opens, zone_of(job)) * 60
    remedies = [Remedy(id="water.agree_preparing", values={"start": f"{min(shut):%a %d %b %H:%M}"})]
    if warming is not None and warming.hours is not None and warming.start_latest in shut:
        ready = hours_before(opens, -warming.hours, zone_of(job))
        remedies.append(Remedy(id="water.warm_on_arrival", values={"ready": f"{ready:%a %H:%M}"}))
    remedies.append(Remedy(id="water.make_at_workshop"))
    notes.miss(
        "begun_before_access",
        Severity.CONDITION,
        margin=-before_min,
        unit="min",
        remedies=tuple(remedies),
        start=f"{min(shut):%a %d %b %H:%M}",
        opens=f"{opens:%a %d %b %H:%M}",
        before_h=before_min / 60,
    )


def say_chance_of_short(job: Job, notes: Notes, unit: Unit, run: OsmosisRun, waters: Waters) -> None:
    """How likely the permeate comes short, and what would cure it."""
    ro = job.preparation.ro
    if ro is None or run.probability_short is None:
        return
    if unit.middle_l_day <= 0 or run.possible_l <= 0:
        notes.say("ro_never_fills", Severity.MISFIT, rate_l_day=unit.middle_l_day)
        return
    low_possible = run.rate_low_l_day * run.hours_allowed / 24
    notes.figure(
        "ro_short_probability",
        run.probability_short,
        "",
        "share of 4000 draws of membrane age, feed temperature, pressure and flush in which the hours bring too little",
        "spreads: catalog parameters and common practice, no source",
        need_l=round(run.need_l, 1),
        hours_h=round(run.hours_allowed, 1),
    )
    if run.probability_short <= LIKELY_SHORT:
        return
    remedies = [Remedy(id="water.run_hours", values={"hours_h": run.hours_for_95 - run.hours_allowed})]
    boosted = None if ro.feed_pressure_bar is None else boosted_l_day(unit, feed_pressure_bar=ro.feed_pressure_bar)
    if boosted is not None:
        remedies.append(Remedy(id="water.booster_to", values={"rate_l_day": boosted}))
    nitrate = job.target.nitrate_high_mg_l
    tank = job.water.tank
    if nitrate is not None and tank is not None and tank.nitrate_mg_l is not None:
        new = float(np.asarray(ion_mg_l(waters.central["tap"], "nitrate_mmol_l")))
        changes = changes_before(now_mg_l=tank.nitrate_mg_l, new_mg_l=new, goal_mg_l=nitrate)
        if changes:
            remedies.append(Remedy(id="water.changes_before", values={"changes": float(changes)}))
    remedies.append(Remedy(id="water.second_barrel"))
    notes.miss(
        "ro_short",
        Severity.CONDITION,
        margin=low_possible - run.need_l,
        unit="L",
        remedies=tuple(remedies),
        need_l=run.need_l,
        low_l=low_possible,
        possible_l=run.possible_l,
        percent=round(100 * run.probability_short),
    )


def making_course(
    job: Job,
    catalog: Catalog,
    unit: Unit | None,
    run: OsmosisRun | None,
    warming: WarmingRun | None,
    fills: tuple[BarrelFill, ...],
    *,
    tap_l: float,
    rng: np.random.Generator,
) -> MakingCourse | None:
    """Litres and temperature over the hours, for the picture; None without both runs."""
    if warming is None or warming.hours is None or run is None or unit is None or run.need_l <= 0:
        return None
    found = course(
        unit,
        permeate_l=run.need_l,
        tap_l=tap_l,
        making_h=min(run.hours_needed, 240.0),
        warming_h=warming.hours,
        from_c=warming.from_c,
        to_c=warming.to_c,
        heater_w=warming.heater_w,
        loss_w_per_k=_loss_w_per_k(catalog, fills),
        room_c=ROOM_C if job.site.room_temp_c is None else job.site.room_temp_c,
        rng=rng,
    )
    return MakingCourse(
        hours=found.hours, low_l=found.low_l, middle_l=found.middle_l, high_l=found.high_l, temp_c=found.temp_c
    )


def _loss_w_per_k(catalog: Catalog, fills: tuple[BarrelFill, ...]) -> float:
    return sum(
        catalog.containers[fill.container].heat_loss_w_per_k_lidded or 0.0 for fill in fills if fill.holds == "new"
    )


def waste_on_the_day_l_min(job: Job, unit: Unit | None) -> float:
    """Waste that a reverse osmosis unit on site still sends down the drain while the tank is emptied."""
    ro, start = job.preparation.ro, work_start(job)
    if ro is None or unit is None or ro.place == "workshop" or ro.may_run_until is None or start is None:
        return 0.0
    if ro.may_run_until <= start:
        return 0.0
    return _waste_l_min(unit, WASTE_RATIO if ro.waste_ratio is None else ro.waste_ratio)


def _waste_l_min(unit: Unit, waste_ratio: float) -> float:
    return waste_ratio * unit.middle_l_day / (24 * 60)


def aired_h(notes: Notes, new: Water) -> float | None:
    """Hours with an air stone until the new water is near its aired pH."""
    now = speciate(new)
    surface = SURFACES["airstone"]

    def hours(transfer: float) -> float | None:
        course = exchange(now, oxygen_transfer_20_c_per_h=transfer)
        end = float(np.asarray(course.balance.ph))
        start = float(np.asarray(now.ph))
        if abs(end - start) <= NEAR_PH:
            return 0.0
        return course.hours_to_ph(end - NEAR_PH if end > start else end + NEAR_PH)

    typical, slow, fast = hours(surface.typical_per_h), hours(surface.low_per_h), hours(surface.high_per_h)
    if typical is None or slow is None or fast is None:
        return None
    notes.figure(
        "aired_h",
        typical,
        "h",
        "carbon dioxide leaves through the surface until the pH is within 0.1 of that in room air",
        "transfer of one air stone 2.5 (1 to 6) per hour, from memory; Plummer and Busenberg 1982",
        band=(fast, slow),
    )
    return typical
