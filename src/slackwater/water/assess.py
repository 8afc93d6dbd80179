"""The water's stage of the pipeline: from the old water that can be kept to a barrel that is right, warm and in time."""

from __future__ import annotations

from math import ceil

import numpy as np

from slackwater.figure import Figure
from slackwater.finding import Remedy, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.stage import Stage
from slackwater.tank.result import TankShape, Volumes
from slackwater.water.barrels import barrel_fills, stock
from slackwater.water.change import best_change, with_tan
from slackwater.water.composition import Water, ion_mg_l
from slackwater.water.draining import running_minutes, stop_level_m
from slackwater.water.gas import ROOM_CO2_ATM
from slackwater.water.making import (
    aired_h,
    making_course,
    osmosis_run,
    osmosis_unit,
    say_before_access,
    say_chance_of_short,
    warming_run,
    waste_on_the_day_l_min,
    zone_of,
)
from slackwater.water.mixing import fraction_of_b
from slackwater.water.notes import Notes
from slackwater.water.preparation import hours_allowed, unit_of
from slackwater.water.production import (
    Unit,
)
from slackwater.water.quality import disinfectant, quality, soil_and_stone
from slackwater.water.refill import Refill, cards, doses, old_cards, reading_of, refill_of
from slackwater.water.result import (
    BindingLimit,
    BoxUse,
    ChangeOption,
    Reading,
    WaterBudget,
    brought_back,
)
from slackwater.water.returning import note_slowest, returns, steps_of, warmed
from slackwater.water.speciation import nearest_at_ph, speciate, speciate_at_pco2
from slackwater.water.waters import Waters, waters_of

REFRESH_SHARE = 0.5
"""A refresh changes half of the box; catalog, shrimp box clock."""
HALF = 0.5
"""More old water than half of the tank is not put back; common practice, no source."""
FILTER_BARREL_L = 20.0
"""Old water that a filter runs on: less warms and fouls within the day; common practice, no source."""
TROLLEY_L = 50.0
"""Water on one trolley trip: one barrel_60 (catalog)."""
ENDLESS_L = 1e6


def _stage(notes: Notes, budget: WaterBudget | None) -> Stage[WaterBudget]:
    return Stage(
        result=budget,
        figures=tuple(notes.figures),
        findings=tuple(notes.findings),
        assumed=tuple(notes.assumed),
        lacks=tuple(notes.lacks),
    )


def water_lacks(job: Job, catalog: Catalog) -> tuple[str, ...]:
    """Facts without which the water cannot be reckoned, told before anything is reckoned; new water is taken to be needed."""
    tap, tank = job.water.tap, job.water.tank
    lacks = [name for name, value in (("water.tap", tap), ("water.tank", tank)) if value is None]
    for name, reading in (("tap", tap), ("tank", tank)):
        if reading is not None and reading.hardness_dgh is None and reading.calcium_mg_l is None:
            lacks.append(f"water.{name}.gh")
    for key, value in (
        ("target.temperature", job.target.temp_c),
        ("water.tap.temperature", 0.0 if tap is None else tap.temp_c),
        ("preparation.heater", job.preparation.heater_w),
    ):
        if value is None:
            lacks.append(key)
    if job.preparation.ro is not None:
        unit, extra = unit_of(job.preparation.ro, catalog, tap_conductivity_us_cm=None)
        lacks += [str(key) for key in extra] if unit is None else []
    return tuple(lacks)


def assess_water(
    job: Job,
    catalog: Catalog,
    volumes: Volumes,
    shape: TankShape,
    *,
    boxes: tuple[BoxUse, ...],
    soil_l: float,
) -> Stage[WaterBudget]:
    """The water budget of the day; every litre has a source and a use.

    Parameters
    ----------
    boxes : tuple of BoxUse
        Who waits in which box; their litres come from the old water first.
    soil_l : float
        Active soil as laid.
    """
    notes = Notes()
    # Draws are the same on every run of the same job.
    rng = np.random.default_rng(job.seed)
    tap, tank = job.water.tap, job.water.tank
    for name, value in (("water.tap", tap), ("water.tank", tank)):
        if value is None:
            notes.lacks.append(name)
    if notes.lacks or tap is None or tank is None:
        return _stage(notes, None)
    waters = waters_of(job, catalog, tap, tank, notes, rng)
    if waters is None:
        return _stage(notes, None)

    box_water = sum(box.water_l for box in boxes)
    refresh = REFRESH_SHARE * sum(box.water_l for box in boxes if not box.leaves)
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
    unit = osmosis_unit(job, catalog, notes, tap)
    if unit is None and job.preparation.ro is not None:
        # Reckoned on without its permeate, the day would be shown filled from the tap, which nobody has chosen.
        return _stage(notes, None)
    most = _most_l(job, notes, unit, net_l=volumes.net_l, old_left_l=available - box_water - refresh)
    refill = refill_of(
        job,
        catalog,
        notes,
        waters,
        total_l=round(volumes.net_l),
        most_l=most,
        barrels_l=[barrel.usable_l for barrel in stock(job, catalog)],
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
    old_reading = reading_of(waters.central["old"], waters.draws["old"])
    for_filter = _for_filter_l(job, notes, old_l=refill.old_l, left_l=available - box_water - refresh - refill.old_l)
    fills, short = barrel_fills(job, catalog, notes, old_l=refill.old_l + refresh + for_filter, new_l=refill.new_l)
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
        refill=filled,
    )
    choices = soil_and_stone(job, catalog, notes, filled, water_l=volumes.net_l, soil_l=soil_l)
    from_c = _start_c(refill)
    warming = warming_run(job, catalog, notes, new_l=refill.new_l, from_c=from_c, barrels=fills)
    osmosis = osmosis_run(job, notes, unit, warming, need_l=ro_l, rng=rng)
    if osmosis is not None and unit is not None:
        say_chance_of_short(job, notes, unit, osmosis, waters)
    say_before_access(job, notes, osmosis, warming)
    kept = box_water + refresh + refill.old_l + for_filter
    out_min, out_band, back_min, back_band = running_minutes(
        job,
        notes,
        shape,
        discarded_l=max(0.0, shape.gross_l - kept),
        refill_l=volumes.net_l,
        ro_waste_l_min=waste_on_the_day_l_min(job, unit),
    )
    _tap_alone(job, notes, waters)
    back = returns(brought_back(boxes), catalog, old=waters.central["old"], refill=filled, held={})
    note_slowest(back, notes)
    carried = sum(litres.get(source.name, 0) for source in refill.sources if source.carried)
    temp_c = goal_c if goal_c is not None else float(np.asarray(filled.temp_c))
    budget = WaterBudget(
        net_l=volumes.net_l,
        boxes=boxes,
        box_water_l=box_water,
        refresh_l=refresh,
        filter_l=for_filter,
        old_refill_l=refill.old_l,
        old_kept_l=kept,
        old_available_l=available,
        discarded_l=max(0.0, shape.gross_l - kept),
        new_l=refill.new_l,
        ro_l=ro_l,
        tap_l=tap_l,
        other_l=tuple((other.name, float(litres[other.name])) for other in job.water.other if other.name in litres),
        old_water=old_reading,
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
        + old_cards(fills, old_reading),
        limits=tuple(
            BindingLimit(about=item.about, limit=item.limit, room=item.room, fewer_steps=item.fewer_steps)
            for item in refill.recipe.binding
        ),
        returns=back,
        choices=choices,
        changes=_changes(job, waters, filled, refill),
        aired_h=None if refill.new is None else aired_h(notes, warmed(refill.new, goal_c)),
        course=making_course(job, catalog, unit, osmosis, warming, fills, tap_l=refill.new_l - ro_l, rng=rng),
    )
    _budget_figures(notes, budget)
    return _stage(notes, budget)


def _for_filter_l(job: Job, notes: Notes, *, old_l: float, left_l: float) -> float:
    """Old water kept for the filter alone: none where what goes back into the tank is enough to run it on until then."""
    if job.preparation.filter_on_barrel is not True or not job.filters:
        return 0.0
    wanted = max(0.0, FILTER_BARREL_L - old_l)
    if wanted > max(0.0, left_l):
        notes.miss(
            "none_for_filter",
            Severity.MISFIT,
            margin=max(0.0, left_l) - wanted,
            unit="L",
            remedies=(),
            need_l=FILTER_BARREL_L,
            short_l=wanted - max(0.0, left_l),
        )
    return min(wanted, max(0.0, left_l))


def _most_l(job: Job, notes: Notes, unit: Unit | None, *, net_l: float, old_left_l: float) -> dict[str, float]:
    """What there is of each water [L]."""
    ro_max = 0.0
    ro = job.preparation.ro
    if ro is not None and unit is not None:
        hours = hours_allowed(ro, zone_of(job))
        possible = unit.middle_l_day * (hours or 0.0) / 24
        ro_max = ENDLESS_L if hours is None else possible
        if hours is None:
            notes.assume("preparation.ro.may_run_from", "as early as it takes", "not told: no hours are kept from it")
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
            **({} if ro.rated_l_day is None else {"rated_l_day": ro.rated_l_day}),
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


MIX = "new water as mixed for the day"
FOUND_TAN_MG_L = 1.0
"""Ammonium found in the first weeks, for comparing waters: the factors do not depend on it."""


def _changes(job: Job, waters: Waters, filled: Water, refill: Refill) -> tuple[ChangeOption, ...]:
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
    permeate = {"permeate": 1.0}
    if refill.new is not None:
        # Old water is gone by then: the mix is made as the new water of the day was.
        tried[MIX] = speciate_at_pco2(warmed(refill.new, temp), pco2_atm=ROOM_CO2_ATM).water
        permeate[MIX] = float(refill.recipe.litres.get("permeate", 0)) / max(refill.new_l, 1.0)
    before = float(np.asarray(speciate(tank).ph))
    return tuple(
        ChangeOption(
            name=item.name,
            share=item.share,
            ph_before=before,
            ph=item.ph,
            uia_factor=item.uia_factor,
            nitrite_borne_mg_l=item.nitrite_borne_mg_l,
            alkalinity_dkh=float(np.asarray(tried[item.name].alkalinity_dkh)),
            nitrate_mg_l=float(np.asarray(ion_mg_l(tried[item.name], "nitrate_mmol_l"))),
            tan_mg_l=float(np.asarray(ion_mg_l(tried[item.name], "ammonia_mmol_l"))),
            permeate_share=permeate.get(item.name, 0.0),
        )
        for item in best_change(tank, tried)
    )


def _new_reading(refill: Refill, goal_c: float | None) -> Reading | None:
    if refill.new is None or refill.new_draws is None:
        return None
    return reading_of(warmed(refill.new, goal_c), warmed(refill.new_draws, goal_c))


def _start_c(refill: Refill) -> float | None:
    """Temperature of the new water as it comes."""
    return None if refill.new is None else float(np.asarray(refill.new.temp_c))


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
    rule = (
        "of all mixtures in whole litres and grams the one with the least step for the animals within the agreed limits"
    )
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
        "boxes + half of those that stay for a refresh + refill + what the filter runs on",
        source,
        boxes_l=budget.box_water_l,
        refresh_l=budget.refresh_l,
        filter_l=budget.filter_l,
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
