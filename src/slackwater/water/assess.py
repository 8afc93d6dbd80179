"""The water's stage of the pipeline: from the old water that can be kept to a barrel that is right, warm and in time."""

from __future__ import annotations

from datetime import datetime
from math import ceil
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Remedy, Severity
from slackwater.job.catalog import Catalog, Container
from slackwater.job.model import Job, WaterReading
from slackwater.stage import Stage
from slackwater.tank.result import TankShape, Volumes
from slackwater.water.boxes import assign_boxes
from slackwater.water.change import best_change, with_tan
from slackwater.water.composition import Water, ion_mg_l
from slackwater.water.draining import rinses, running_minutes, stop_level_m
from slackwater.water.gas import ROOM_CO2_ATM, SURFACES, exchange
from slackwater.water.mixing import fraction_of_b
from slackwater.water.notes import Notes
from slackwater.water.preparation import hours_allowed, hours_before, run_of, unit_of
from slackwater.water.production import (
    LOSS_SPREAD,
    Course,
    Unit,
    boosted_l_day,
    changes_before,
    course,
)
from slackwater.water.quality import disinfectant, quality, soil_and_stone
from slackwater.water.refill import Refill, cards, doses, old_cards, reading_of, refill_of
from slackwater.water.result import (
    BarrelFill,
    BindingLimit,
    BoxUse,
    ChangeOption,
    MakingCourse,
    OsmosisRun,
    Reading,
    WarmingRun,
    WaterBudget,
)
from slackwater.water.returning import returns, steps_of, warmed
from slackwater.water.speciation import nearest_at_ph, speciate, speciate_at_pco2
from slackwater.water.warming import heat_kwh, heating_hours
from slackwater.water.waters import Waters, waters_of

REFRESH_SHARE = 0.5
"""A refresh changes half of the box; catalog, shrimp box clock."""
HALF = 0.5
"""More old water than half of the tank is not put back; common practice, no source."""
TROLLEY_L = 50.0
"""Water on one trolley trip: one barrel_60 (catalog)."""
LIKELY_SHORT = 0.05
"""Chance of too little permeate above which something is done about it; common practice, no source."""
ENDLESS_L = 1e6
ROOM_C = 20.0
WASTE_RATIO = 2.5


def _zone(job: Job) -> ZoneInfo:
    # An unknown zone is reported by the day; times here then count as universal time.
    try:
        return ZoneInfo(job.site.time_zone or "UTC")
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return ZoneInfo("UTC")


def _work_start(job: Job) -> datetime | None:
    return next((window.start for window in job.site.windows or () if window.kind == "day"), None)


def _stage(notes: Notes, budget: WaterBudget | None) -> Stage[WaterBudget]:
    return Stage(
        result=budget,
        figures=tuple(notes.figures),
        findings=tuple(notes.findings),
        assumed=tuple(notes.assumed),
        lacks=tuple(notes.lacks),
    )


def assess_water(job: Job, catalog: Catalog, volumes: Volumes, shape: TankShape) -> Stage[WaterBudget]:
    """The water budget of the day; every litre has a source and a use."""
    notes = Notes()
    # Draws are the same on every run of the same job.
    rng = np.random.default_rng(job.seed)
    tap, tank = job.water.tap, job.water.tank
    for name, value in (("water.tap", tap), ("water.tank", tank), ("livestock", job.livestock)):
        if value is None:
            notes.lacks.append(name)
    if job.livestock and job.containers is None:
        notes.lacks.append("containers")
    if notes.lacks or tap is None or tank is None:
        return _stage(notes, None)
    waters = waters_of(job, catalog, tap, tank, notes, rng)
    if waters is None:
        return _stage(notes, None)

    boxes, box_findings = assign_boxes(job, catalog)
    notes.findings += box_findings
    box_water = sum(box.water_l for box in boxes)
    refresh = REFRESH_SHARE * box_water
    left = catalog.parameter("clean_water_left").typical
    available = (1 - left) * shape.gross_l
    notes.figure(
        "old_available_l",
        available,
        "L",
        "water above a quarter of the depth, pumped off before anything is stirred",
        catalog.parameter("clean_water_left").source,
        gross_l=shape.gross_l,
        share_left=left,
    )
    unit = _unit(job, catalog, notes, tap)
    most = _most_l(job, notes, unit, net_l=volumes.net_l, old_left_l=available - box_water - refresh)
    refill = refill_of(
        job,
        catalog,
        notes,
        waters,
        total_l=round(volumes.net_l),
        most_l=most,
        barrels_l=[barrel.usable_l for barrel in _stock(job, catalog)],
        refresh_l=refresh,
        rng=rng,
    )
    if refill is None:
        notes.miss(
            "cannot_fill",
            Severity.MISFIT,
            margin=sum(most.values()) - volumes.net_l,
            unit="L",
            remedies=(Remedy(id="water.run_longer"), Remedy(id="water.allow_tap")),
            net_l=volumes.net_l,
            old_l=most["old"],
            ro_l=most["permeate"],
            tap_l=most["tap"],
        )
        return _stage(notes, None)
    litres = refill.recipe.litres
    ro_l, tap_l = float(litres.get("permeate", 0)), float(litres.get("tap", 0))
    goal_c = job.target.temp_c
    filled = warmed(refill.recipe.water, goal_c)
    reading = reading_of(filled, warmed(refill.draws, goal_c))
    new_reading = _new_reading(refill, goal_c)
    fills, short = _barrels(job, catalog, notes, old_l=refill.old_l + refresh, new_l=refill.new_l)
    conditioner, freed = disinfectant(catalog, notes, tap, tap_l)
    nitrate_limit = job.target.nitrate_high_mg_l
    quality(
        job,
        catalog,
        notes,
        tap=tap,
        tank=tank,
        old_l=refill.old_l,
        nitrate_limit_mg_l=catalog.limits["nitrate"].target_high if nitrate_limit is None else nitrate_limit,
        new=new_reading,
    )
    choices = soil_and_stone(job, catalog, notes, filled, water_l=volumes.net_l)
    from_c = _start_c(refill)
    warming = _warming(job, catalog, notes, new_l=refill.new_l, from_c=from_c, barrels=fills)
    osmosis = _osmosis(job, notes, unit, warming, need_l=ro_l, rng=rng)
    if osmosis is not None and unit is not None:
        _chance_of_short(job, notes, unit, osmosis, waters)
    kept = box_water + refresh + refill.old_l
    out_min, out_band, back_min, back_band = running_minutes(
        job,
        notes,
        shape,
        discarded_l=max(0.0, shape.gross_l - kept),
        refill_l=volumes.net_l,
        ro_waste_l_min=_waste_on_the_day_l_min(job, unit),
    )
    rinses(job, catalog, notes, shape, volumes)
    _tap_alone(job, notes, waters)
    back = returns(boxes, catalog, notes, old=waters.central["old"], refill=filled)
    carried = sum(litres.get(source.name, 0) for source in refill.sources if source.carried)
    temp_c = goal_c if goal_c is not None else float(np.asarray(filled.temp_c))
    budget = WaterBudget(
        net_l=volumes.net_l,
        boxes=boxes,
        box_water_l=box_water,
        refresh_l=refresh,
        old_refill_l=refill.old_l,
        old_kept_l=kept,
        old_available_l=available,
        discarded_l=max(0.0, shape.gross_l - kept),
        new_l=refill.new_l,
        ro_l=ro_l,
        tap_l=tap_l,
        other_l=tuple((other.name, float(litres[other.name])) for other in job.water.other if other.name in litres),
        new_water=new_reading if new_reading is not None else reading,
        refill=reading,
        salts=doses(refill, catalog, litres=max(refill.new_l, 1.0), temp_c=temp_c),
        conditioner_g=conditioner,
        freed_tan_mg_l=freed,
        osmosis=osmosis,
        warming=warming,
        barrels=fills,
        barrel_short_l=short,
        carried_water_l=float(carried),
        water_trips=ceil(carried / TROLLEY_L),
        stop_level_m=stop_level_m(job, notes, shape, kept_l=kept),
        drain_min=out_min,
        drain_band_min=out_band,
        refill_min=back_min,
        refill_band_min=back_band,
        acclimatise_steps=steps_of(back),
        cards=cards(
            refill,
            fills,
            new_reading if new_reading is not None else reading,
            catalog,
            conditioner_g=conditioner or 0.0,
            temp_c=temp_c,
        )
        + old_cards(fills, reading_of(waters.central["old"], waters.draws["old"])),
        limits=tuple(
            BindingLimit(about=item.about, limit=item.limit, room=item.room, fewer_steps=item.fewer_steps)
            for item in refill.recipe.binding
        ),
        returns=back,
        choices=choices,
        changes=_changes(job, waters, filled),
        aired_h=None if refill.new is None else _aired_h(notes, warmed(refill.new, goal_c)),
        course=_course(job, catalog, unit, osmosis, warming, fills, tap_l=refill.new_l - ro_l, rng=rng),
    )
    _budget_figures(notes, budget)
    return _stage(notes, budget)


def _unit(job: Job, catalog: Catalog, notes: Notes, tap: WaterReading) -> Unit | None:
    ro = job.preparation.ro
    if ro is None:
        return None
    unit, extra = unit_of(ro, catalog, tap_conductivity_us_cm=tap.conductivity_us_cm)
    if unit is None:
        notes.lacks += [str(name) for name in extra]
        return None
    notes.assumed += [item for item in extra if isinstance(item, Assumption)]
    return unit


def _most_l(job: Job, notes: Notes, unit: Unit | None, *, net_l: float, old_left_l: float) -> dict[str, float]:
    """What there is of each water [L]."""
    ro_max = 0.0
    ro = job.preparation.ro
    if ro is not None and unit is not None:
        hours = hours_allowed(ro, _zone(job))
        possible = unit.middle_l_day * (hours or 0.0) / 24
        ro_max = ENDLESS_L if hours is None else possible
        rates = unit.rates_l_day(np.random.default_rng(job.seed))
        low, high = (float(value) for value in np.percentile(rates, (5, 95)))
        measured = ro.measured_l_day is not None
        notes.figure(
            "ro_rate_l_day",
            unit.middle_l_day,
            "L/day",
            "as measured" if measured else "label x net pressure ratio x temperature factor x condition",
            "measured at survey" if measured else "solution-diffusion (form of ASTM D4516); makers' temperature tables",
            band=(low, high),
            rated_l_day=ro.rated_l_day,
        )
        notes.figure("ro_possible_l", possible, "L", "rate x hours in which it may run", "job file", hours=hours or 0.0)
    old_max = max(0.0, min(old_left_l, HALF * net_l))
    if old_left_l < 0:
        notes.say("boxes_take_all_old_water", Severity.CONDITION, short_l=-old_left_l)
    wish = job.preparation.keep_old_l
    if wish is not None:
        if wish > net_l:
            notes.say("keep_old_too_much", Severity.CONDITION, wish_l=wish, net_l=net_l)
        old_max = min(old_max, wish)
    if job.preparation.tap_allowed is None:
        notes.assume("preparation.tap_allowed", "true", "not told: tap water may be mixed in")
    tap_max = 0.0 if job.preparation.tap_allowed is False else ENDLESS_L
    return {
        "old": old_max,
        "permeate": ro_max,
        "tap": tap_max,
        **{other.name: other.available_l for other in job.water.other},
    }


def _waste_on_the_day_l_min(job: Job, unit: Unit | None) -> float:
    """Waste that a reverse osmosis unit on site still sends down the drain while the tank is emptied."""
    ro, start = job.preparation.ro, _work_start(job)
    if ro is None or unit is None or ro.place == "workshop" or ro.may_run_until is None or start is None:
        return 0.0
    if ro.may_run_until <= start:
        return 0.0
    return (WASTE_RATIO if ro.waste_ratio is None else ro.waste_ratio) * unit.middle_l_day / (24 * 60)


FOUND_TAN_MG_L = 1.0
"""Ammonium found in the first weeks, for comparing waters: the factors do not depend on it."""


def _changes(job: Job, waters: Waters, filled: Water) -> tuple[ChangeOption, ...]:
    """What a half change with each water does to un-ionised ammonia, from the agreed pH."""
    low, high = job.target.ph_low, job.target.ph_high
    tank = with_tan(filled, tan_mg_l=FOUND_TAN_MG_L)
    if low is not None and high is not None:
        tank = nearest_at_ph(tank, ph=(low + high) / 2).water
    temp = float(np.asarray(filled.temp_c))
    tried = {
        name: speciate_at_pco2(warmed(water, temp), pco2_atm=ROOM_CO2_ATM).water
        for name, water in waters.central.items()
        if name != "old" and (name != "permeate" or job.preparation.ro is not None)
    }
    tried["the refill's mix"] = speciate_at_pco2(filled, pco2_atm=ROOM_CO2_ATM).water
    before = float(np.asarray(speciate(tank).ph))
    return tuple(
        ChangeOption(
            name=item.name,
            share=item.share,
            ph_before=before,
            ph=item.ph,
            uia_factor=item.uia_factor,
            nitrite_borne_mg_l=item.nitrite_borne_mg_l,
        )
        for item in best_change(tank, tried)
    )


NEAR_PH = 0.1


def _aired_h(notes: Notes, new: Water) -> float | None:
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


def _new_reading(refill: Refill, goal_c: float | None) -> Reading | None:
    if refill.new is None or refill.new_draws is None:
        return None
    return reading_of(warmed(refill.new, goal_c), warmed(refill.new_draws, goal_c))


def _start_c(refill: Refill) -> float | None:
    """Temperature of the new water as it comes."""
    return None if refill.new is None else float(np.asarray(refill.new.temp_c))


def _stock(job: Job, catalog: Catalog) -> list[Container]:
    """Barrels on hand, smallest first."""
    return sorted(
        (
            container
            for owned in job.containers or ()
            if (container := catalog.containers.get(owned.container)) is not None
            and container.id.startswith(("barrel", "ibc", "fold"))
            for _ in range(owned.count)
        ),
        key=lambda container: container.usable_l,
    )


def _barrels(
    job: Job, catalog: Catalog, notes: Notes, *, old_l: float, new_l: float
) -> tuple[tuple[BarrelFill, ...], float]:
    """The fewest litres of barrel that hold old and new water apart; what no barrel holds is short."""
    stock = _stock(job, catalog)
    fills: list[BarrelFill] = []
    short = 0.0
    for holds, litres in (("new", new_l), ("old", old_l)):
        left = litres
        while left > 0.01 and stock:
            barrel = next((item for item in stock if item.usable_l >= left), stock[-1])
            stock.remove(barrel)
            amount = min(left, barrel.usable_l)
            fills.append(
                BarrelFill(
                    container=barrel.id, holds=holds, litres=round(amount, 1), mass_kg=amount + barrel.empty_mass_kg
                )
            )
            left -= amount
        if left > 0.01:
            short += left
    if short > 0:
        notes.findings.append(
            Finding(
                id="water.barrels_short",
                severity=Severity.MISFIT,
                values={"short_l": short, "need_l": old_l + new_l},
                margin=-short,
                margin_unit="L",
                remedies=(Remedy(id="water.more_barrels", values={"short_l": short}), Remedy(id="water.keep_less")),
            )
        )
    return tuple(fills), short


def _warming(
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
    start = _work_start(job)
    latest = hours_before(start, hours, _zone(job)) if start is not None and hours is not None else None
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


def _osmosis(
    job: Job,
    notes: Notes,
    unit: Unit | None,
    warming: WarmingRun | None,
    *,
    need_l: float,
    rng: np.random.Generator,
) -> OsmosisRun | None:
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
        ready_by=_work_start(job),
        after_hours=(warming.hours or 0.0) if warming is not None else 0.0,
        waste_ratio=waste_ratio,
        zone=_zone(job),
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
    waste_l_min = waste_ratio * unit.middle_l_day / (24 * 60)
    if drain is not None and need_l > 0 and ro.place != "workshop" and waste_l_min > drain:
        notes.say("drain_full_of_waste", Severity.CONDITION, drain_l_min=drain, waste_l_min=waste_l_min)
    return run


def _chance_of_short(job: Job, notes: Notes, unit: Unit, run: OsmosisRun, waters: Waters) -> None:
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


def _course(
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
    found: Course = course(
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


def _tap_alone(job: Job, notes: Notes, waters: Waters) -> None:
    """Share of tap water in permeate that alone meets the middle of the agreed carbonate hardness: for spare water."""
    low, high = job.target.alkalinity_low_dkh, job.target.alkalinity_high_dkh
    if job.preparation.ro is None or low is None or high is None:
        return
    permeate = float(np.asarray(waters.central["permeate"].alkalinity_dkh))
    tap = float(np.asarray(waters.central["tap"].alkalinity_dkh))
    middle = (low + high) / 2
    if not permeate < middle < tap:
        return
    notes.figure(
        "spare_tap_share",
        fraction_of_b(value_a=permeate, value_b=tap, target=middle),
        "",
        "(target - permeate) / (tap - permeate), carbonate hardness; for water mixed without any old",
        "linear mixing of a conserved quantity",
        permeate_dkh=round(permeate, 2),
        tap_dkh=tap,
        target_dkh=middle,
    )


def _budget_figures(notes: Notes, budget: WaterBudget) -> None:
    rule = "mixed-integer optimum of conserved totals: least step for the animals within the agreed limits"
    source = "mass and charge balance; readings of the job file with their errors"
    notes.figure(
        "boxes",
        float(len(budget.boxes)),
        "",
        "one box for each group of animals that may wait together",
        "common practice, no source",
    )
    notes.figure(
        "old_kept_l",
        budget.old_kept_l,
        "L",
        "boxes + half of that for a refresh + refill",
        source,
        boxes_l=budget.box_water_l,
        refresh_l=budget.refresh_l,
        refill_l=budget.old_refill_l,
    )
    notes.figure("new_l", budget.new_l, "L", rule, source, net_l=budget.net_l, old_l=budget.old_refill_l)
    notes.figure("ro_l", budget.ro_l, "L", rule, source)
    notes.figure("tap_l", budget.tap_l, "L", rule, source)
    chemistry = "speciated: Plummer and Busenberg 1982, Truesdell and Jones 1974; ions by charge and conductivity"
    for name, field, unit, note in (
        ("refill_gh_dgh", "hardness_dgh", "dGH", source),
        ("refill_kh_dkh", "alkalinity_dkh", "dKH", source),
        ("refill_nitrate_mg_l", "nitrate_mg_l", "mg/L", source),
        ("refill_conductivity_us_cm", "conductivity_us_cm", "uS/cm", chemistry),
        ("refill_ph", "ph", "", chemistry),
        ("refill_ph_aired", "ph_aired", "", chemistry),
        ("refill_ammonia_n_mg_l", "ammonia_n_mg_l", "mg/L", chemistry + "; Emerson et al. 1975"),
    ):
        notes.figure(name, float(getattr(budget.refill, field)), unit, rule, note, band=budget.refill.bands.get(field))
    for dose in budget.salts:
        notes.figures.append(
            Figure(
                id=f"water.{dose.salt}_g",
                value=float(dose.grams),
                unit="g",
                formula=f"whole grams for all of the new water; raises {dose.raises} there",
                source="stoichiometry, IUPAC 2021; DIN 38409-6",
                inputs={"new_l": budget.new_l},
            )
        )


def box_masses(boxes: tuple[BoxUse, ...]) -> tuple[tuple[str, float], ...]:
    """Container and litres of each box, for the floor."""
    return tuple((box.container, box.water_l) for box in boxes)
