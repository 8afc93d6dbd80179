"""The water's stage of the pipeline: from the old water that can be kept to a barrel that is right, warm and in time."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from math import ceil
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Remedy, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job, WaterReading
from slackwater.stage import Stage
from slackwater.tank.result import TankShape, Volumes
from slackwater.tank.volume import level_m, volume_at_level_l
from slackwater.water.boxes import assign_boxes
from slackwater.water.hydraulics import drain_minutes
from slackwater.water.mix import (
    Blend,
    Limits,
    Source,
    blend,
    hardness_of_salts_dgh,
    hardness_salts_g,
    permeate_of,
    value_of,
)
from slackwater.water.mixing import fraction_of_b
from slackwater.water.preparation import hours_before, rates_l_day, run_of
from slackwater.water.result import BarrelFill, BoxUse, OsmosisRun, Reading, SaltDose, WarmingRun, WaterBudget
from slackwater.water.rinse import rinses_needed
from slackwater.water.salts import NITROGEN_PER_CHLORINE
from slackwater.water.warming import heat_kwh, heating_hours

REFRESH_SHARE = 0.5
"""A refresh changes half of the box; catalog, shrimp box clock."""
HALF = 0.5
"""More old water than half of the tank is not put back; common practice, no source."""
OLD_SOIL_POROSITY = 0.45
"""Water-filled share of spent soil and gravel; from memory."""
HOSE_BORE_M = 0.019
HOSE_MINOR_LOSS = 2.5
"""Entrance, strainer and bends of a drain hose, 1.5 to 4; from memory."""
SHRIMP_PEROXIDE_MG_L = 0.3
"""Peroxide in water that shrimp return to; from memory."""
RINSE_SHARE = 0.06
"""Water of one rinse as a share of the tank; common practice, no source."""
HARDNESS_READING_DGH = 0.5
"""Half a drop of a titration kit: a limit is not missed by less than can be read; common practice, no source."""
TROLLEY_L = 50.0
"""Water on one trolley trip: one barrel_60 (catalog)."""


@dataclass
class _Notes:
    """Findings, figures, defaults and missing facts as they turn up."""

    findings: list[Finding] = field(default_factory=list)
    figures: list[Figure] = field(default_factory=list)
    assumed: list[Assumption] = field(default_factory=list)
    lacks: list[str] = field(default_factory=list)

    def say(self, name: str, severity: Severity, *, about: str = "", **values: float | str) -> None:
        self.findings.append(Finding(id=f"water.{name}", severity=severity, about=about, values=values))

    def figure(self, name: str, value: float, unit: str, formula: str, source: str, **inputs: float | str) -> None:
        self.figures.append(
            Figure(id=f"water.{name}", value=value, unit=unit, formula=formula, source=source, inputs=inputs)
        )


def _source(reading: WaterReading) -> Source:
    return Source(
        hardness_dgh=reading.hardness_dgh,
        alkalinity_dkh=reading.alkalinity_dkh,
        nitrate_mg_l=reading.nitrate_mg_l,
        temp_c=reading.temp_c,
        chloride_mg_l=reading.chloride_mg_l,
        conductivity_us_cm=reading.conductivity_us_cm,
    )


def _zone(job: Job) -> ZoneInfo:
    # An unknown zone is reported by the day; times here then count as universal time.
    try:
        return ZoneInfo(job.site.time_zone or "UTC")
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return ZoneInfo("UTC")


def _work_start(job: Job) -> datetime | None:
    return next((window.start for window in job.site.windows or () if window.kind == "day"), None)


def assess_water(job: Job, catalog: Catalog, volumes: Volumes, shape: TankShape) -> Stage[WaterBudget]:
    """The water budget of the day; every litre has a source and a use."""
    notes = _Notes()
    tap, tank = job.water.tap, job.water.tank
    if tap is None:
        notes.lacks.append("water.tap")
    if tank is None:
        notes.lacks.append("water.tank")
    if job.livestock is None:
        notes.lacks.append("livestock")
    if job.livestock and job.containers is None:
        notes.lacks.append("containers")
    for name, reading in (("tap", tap), ("tank", tank)):
        if reading is not None:
            notes.lacks += [
                f"water.{name}.{key}"
                for key, value in (("gh", reading.hardness_dgh), ("kh", reading.alkalinity_dkh))
                if value is None
            ]
    if notes.lacks or tap is None or tank is None:
        return Stage(result=None, lacks=tuple(notes.lacks))

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
    mixture = _mix(job, catalog, notes, volumes, available - box_water - refresh, tap, tank)
    if mixture is None:
        return Stage(
            result=None, findings=tuple(notes.findings), figures=tuple(notes.figures), assumed=tuple(notes.assumed)
        )
    parts, osmosis_rates = mixture
    salts, refill = _salts(job, catalog, notes, parts, volumes, tap, tank)
    new_l = parts.ro_l + parts.tap_l
    new_water = _new_water(parts, catalog, tap)
    _quality_findings(job, catalog, notes, parts, refill, tap, tank)
    conditioner, freed = _chlorine(catalog, notes, tap, parts.tap_l)

    barrels, short = _barrels(job, catalog, notes, old_l=parts.old_l + refresh, new_l=new_l)
    warming = _warming(job, catalog, notes, new_l=new_l, from_c=new_water.temp_c, barrels=barrels)
    osmosis = _osmosis(job, notes, parts, osmosis_rates, warming)
    drain_min, refill_min = _minutes(
        job,
        notes,
        shape,
        discarded_l=max(0.0, shape.gross_l - box_water - refresh - parts.old_l),
        refill_l=volumes.net_l,
    )
    _rinse(job, catalog, notes, shape, volumes)
    _tap_alone(job, notes, tap, catalog)
    steps = _steps(job, refill, tank)
    carried = parts.ro_l if job.preparation.ro is not None and job.preparation.ro.place == "workshop" else 0.0
    kept = box_water + refresh + parts.old_l
    budget = WaterBudget(
        net_l=volumes.net_l,
        boxes=boxes,
        box_water_l=box_water,
        refresh_l=refresh,
        old_refill_l=parts.old_l,
        old_kept_l=kept,
        old_available_l=available,
        discarded_l=max(0.0, shape.gross_l - kept),
        new_l=new_l,
        ro_l=parts.ro_l,
        tap_l=parts.tap_l,
        new_water=new_water,
        refill=refill,
        salts=salts,
        conditioner_g=conditioner,
        freed_tan_mg_l=freed,
        osmosis=osmosis,
        warming=warming,
        barrels=barrels,
        barrel_short_l=short,
        carried_water_l=carried,
        water_trips=ceil(carried / TROLLEY_L),
        stop_level_m=_stop_level_m(job, notes, shape, kept_l=kept),
        drain_min=drain_min,
        refill_min=refill_min,
        acclimatise_steps=steps,
    )
    _budget_figures(notes, budget)
    return Stage(
        result=budget,
        figures=tuple(notes.figures),
        findings=tuple(notes.findings),
        assumed=tuple(notes.assumed),
        lacks=tuple(notes.lacks),
    )


def _limits(job: Job, catalog: Catalog, notes: _Notes) -> Limits:
    nitrate = job.target.nitrate_high_mg_l
    if nitrate is None:
        row = catalog.limits["nitrate"]
        nitrate = row.target_high
        notes.assumed.append(
            Assumption(
                field="target.nitrate_high", value=f"{nitrate:g} mg/L", source=f"limits table: {row.source_kind}"
            )
        )
    hardness = job.target.hardness_high_dgh
    return Limits(
        hardness_dgh=None if hardness is None else hardness + HARDNESS_READING_DGH,
        alkalinity_dkh=job.target.alkalinity_high_dkh,
        nitrate_mg_l=nitrate,
    )


def _mix(
    job: Job,
    catalog: Catalog,
    notes: _Notes,
    volumes: Volumes,
    old_left_l: float,
    tap: WaterReading,
    tank: WaterReading,
) -> tuple[Blend, tuple[float, float, float] | None] | None:
    """Litres of old, permeate and tap, with what the permeate can be made at."""
    rates: tuple[float, float, float] | None = None
    ro_max = 0.0
    ro = job.preparation.ro
    if ro is not None:
        answer, extra = rates_l_day(ro, catalog, tap_conductivity_us_cm=tap.conductivity_us_cm)
        if answer is None:
            notes.lacks += [str(name) for name in extra]
        else:
            rates = answer
            notes.assumed += [item for item in extra if isinstance(item, Assumption)]
            run = run_of(ro, rates, need_l=0, ready_by=None, after_hours=0, waste_ratio=0, zone=_zone(job))
            ro_max = run.possible_l if ro.may_run_from and ro.may_run_until else 1e6
            _osmosis_figures(notes, run, ro.rated_l_day, ro.measured_l_day is not None)
    old_max = max(0.0, min(old_left_l, HALF * volumes.net_l))
    if old_left_l < 0:
        notes.say("boxes_take_all_old_water", Severity.CONDITION, short_l=-old_left_l)
    wish = job.preparation.keep_old_l
    if wish is not None:
        if wish > volumes.net_l:
            notes.say("keep_old_too_much", Severity.CONDITION, wish_l=wish, net_l=volumes.net_l)
        old_max = min(old_max, wish)
    tap_max = 0.0 if job.preparation.tap_allowed is False else 1e6
    if job.preparation.tap_allowed is None:
        notes.assumed.append(
            Assumption(field="preparation.tap_allowed", value="true", source="not told: tap water may be mixed in")
        )
    limits = _limits(job, catalog, notes)
    rejection = catalog.parameter("ro_rejection").typical
    tap_source = _source(tap)
    found = blend(
        total_l=volumes.net_l,
        old=_source(tank),
        permeate=permeate_of(tap_source, rejection=rejection),
        tap=tap_source,
        limits=limits,
        old_max_l=old_max,
        ro_max_l=ro_max,
        tap_max_l=tap_max,
    )
    if found is None:
        notes.findings.append(
            Finding(
                id="water.cannot_fill",
                severity=Severity.MISFIT,
                values={"net_l": volumes.net_l, "old_l": old_max, "ro_l": ro_max, "tap_l": tap_max},
                margin=old_max + ro_max + tap_max - volumes.net_l,
                margin_unit="L",
                remedies=(Remedy(id="water.run_longer"), Remedy(id="water.allow_tap")),
            )
        )
        return None
    for name, over, limit, unit in (
        ("hardness_over_target", found.hardness_over_dgh, limits.hardness_dgh, "dgh"),
        ("alkalinity_over_target", found.alkalinity_over_dkh, limits.alkalinity_dkh, "dkh"),
        ("nitrate_over_target", found.nitrate_over_mg_l, limits.nitrate_mg_l, "mg_l"),
    ):
        if over > 0.05 and limit is not None:
            remedies = (Remedy(id="water.run_longer"),) if ro is not None else (Remedy(id="water.get_ro"),)
            notes.findings.append(
                Finding(
                    id=f"water.{name}",
                    severity=Severity.CONDITION,
                    values={f"over_{unit}": over, f"limit_{unit}": limit, f"value_{unit}": limit + over},
                    margin=-over,
                    margin_unit={"dgh": "dGH", "dkh": "dKH", "mg_l": "mg/L"}[unit],
                    remedies=remedies,
                )
            )
    return found, rates


def _osmosis_figures(notes: _Notes, run: OsmosisRun, rated_l_day: float, measured: bool) -> None:
    notes.figures.append(
        Figure(
            id="water.ro_rate_l_day",
            value=run.rate_l_day,
            unit="L/day",
            low=run.rate_low_l_day,
            high=run.rate_high_l_day,
            formula="as measured" if measured else "label x net pressure ratio x temperature factor x condition",
            source="measured at survey"
            if measured
            else "solution-diffusion (form of ASTM D4516); makers' temperature tables",
            inputs={"rated_l_day": rated_l_day},
        )
    )
    notes.figure(
        "ro_possible_l", run.possible_l, "L", "rate x hours in which it may run", "job file", hours=run.hours_allowed
    )


def _salts(
    job: Job, catalog: Catalog, notes: _Notes, parts: Blend, volumes: Volumes, tap: WaterReading, tank: WaterReading
) -> tuple[tuple[SaltDose, ...], Reading]:
    """Salts up to the middle of the agreed hardness, and the refilled water as then predicted."""
    tap_source, old = _source(tap), _source(tank)
    permeate = permeate_of(tap_source, rejection=catalog.parameter("ro_rejection").typical)
    mixture = ((parts.old_l, old), (parts.ro_l, permeate), (parts.tap_l, tap_source))
    hardness = value_of(mixture, "hardness_dgh")
    doses: tuple[SaltDose, ...] = ()
    low, high = job.target.hardness_low_dgh, job.target.hardness_high_dgh
    if hardness is not None and low is not None and hardness < low - 0.05:
        goal = low if high is None else (low + high) / 2
        gypsum_purity = catalog.salts["gypsum"].typical_purity or 1.0
        epsom_purity = catalog.salts["epsom_salt"].typical_purity or 1.0
        gypsum, epsom = hardness_salts_g(
            step_dgh=goal - hardness, volume_l=volumes.net_l, gypsum_purity=gypsum_purity, epsom_purity=epsom_purity
        )
        gained = hardness_of_salts_dgh(
            gypsum_g=gypsum,
            epsom_g=epsom,
            volume_l=volumes.net_l,
            gypsum_purity=gypsum_purity,
            epsom_purity=epsom_purity,
        )
        doses = (
            SaltDose(salt="gypsum", grams=gypsum, raises=f"GH by {gained * 0.75:.1f} dGH"),
            SaltDose(salt="epsom_salt", grams=epsom, raises=f"GH by {gained * 0.25:.1f} dGH"),
        )
        notes.figure(
            "salts_dgh",
            gained,
            "dGH",
            "grams x purity / molar mass / litres, calcium to magnesium 3:1 by mol",
            "stoichiometry, IUPAC 2021; DIN 38409-6; ratio: common practice",
            gypsum_g=gypsum,
            epsom_g=epsom,
            volume_l=volumes.net_l,
        )
        hardness += gained
    return doses, Reading(
        temp_c=job.target.temp_c,
        hardness_dgh=hardness,
        alkalinity_dkh=value_of(mixture, "alkalinity_dkh"),
        nitrate_mg_l=value_of(mixture, "nitrate_mg_l"),
        chloride_mg_l=value_of(mixture, "chloride_mg_l"),
        conductivity_us_cm=None,
    )


def _new_water(parts: Blend, catalog: Catalog, tap: WaterReading) -> Reading:
    source = _source(tap)
    permeate = permeate_of(source, rejection=catalog.parameter("ro_rejection").typical)
    mixture = ((parts.ro_l, permeate), (parts.tap_l, source))
    return Reading(
        temp_c=value_of(mixture, "temp_c"),
        hardness_dgh=value_of(mixture, "hardness_dgh"),
        alkalinity_dkh=value_of(mixture, "alkalinity_dkh"),
        nitrate_mg_l=value_of(mixture, "nitrate_mg_l"),
        chloride_mg_l=value_of(mixture, "chloride_mg_l"),
        conductivity_us_cm=value_of(mixture, "conductivity_us_cm"),
    )


def _chlorine(catalog: Catalog, notes: _Notes, tap: WaterReading, tap_l: float) -> tuple[float | None, float | None]:
    """Conditioner for the tap share, and the ammonia that broken chloramine sets free."""
    free, combined = tap.free_chlorine_mg_l, tap.combined_chlorine_mg_l
    if free is None and combined is None:
        notes.say("chlorine_untested", Severity.CONDITION)
        return None, None
    total = (free or 0.0) + (combined or 0.0)
    if total <= 0:
        return 0.0, 0.0
    grams = total * tap_l * catalog.parameter("conditioner_thiosulfate").typical / 1000
    freed = (combined or 0.0) * NITROGEN_PER_CHLORINE
    notes.figure(
        "conditioner_g",
        grams,
        "g",
        "chlorine x tap litres x 7 mg thiosulfate per mg",
        "common practice, no source (working dose); stoichiometry 0.9 to 3.5",
        chlorine_mg_l=total,
        tap_l=tap_l,
    )
    if combined:
        notes.figure(
            "freed_tan_mg_l",
            freed,
            "mg/L",
            "chloramine as Cl2 x 14.007 / 70.9",
            "stoichiometry: one N for each Cl2 equivalent",
            combined_chlorine_mg_l=combined,
        )
        notes.say(
            "chloramine",
            Severity.CONDITION,
            combined_mg_l=combined,
            freed_tan_mg_l=round(freed, 3),
            conditioner_g=round(grams, 2),
        )
    else:
        notes.say("chlorine", Severity.CONDITION, free_mg_l=free or 0.0, conditioner_g=round(grams, 2))
    return grams, freed


def _quality_findings(
    job: Job, catalog: Catalog, notes: _Notes, parts: Blend, refill: Reading, tap: WaterReading, tank: WaterReading
) -> None:
    """What the waters, stones and soil do to each other and to the animals."""
    limit = _limits(job, catalog, _Notes()).nitrate_mg_l
    if tank.nitrate_mg_l is not None and limit is not None and tank.nitrate_mg_l > limit:
        notes.say(
            "old_nitrate_high", Severity.CONDITION, nitrate_mg_l=tank.nitrate_mg_l, limit_mg_l=limit, old_l=parts.old_l
        )
    if job.site.tap.softener:
        notes.say("softener", Severity.CONDITION)
    shrimp = any(
        (species := catalog.species.get(animals.species)) is not None and species.group != "fish" and animals.keep
        for animals in job.livestock or ()
    )
    copper = catalog.limits["copper"]
    first = tap.copper_first_draw_ug_l if tap.copper_first_draw_ug_l is not None else tap.copper_ug_l
    if shrimp and first is not None and copper.target_high is not None and first > copper.target_high:
        notes.say("copper_first_draw", Severity.CONDITION, copper_ug_l=first, limit_ug_l=copper.target_high)
    for stone in job.stones or ():
        material = catalog.materials.get(stone.material)
        soft = job.target.alkalinity_high_dkh is not None and job.target.alkalinity_high_dkh <= 4
        if material is not None and material.gh_effect.startswith("raises") and soft:
            notes.say(
                "stone_hardens",
                Severity.CONDITION,
                about=stone.material,
                stone=material.material,
                gh_effect=material.gh_effect,
                kh_effect=material.kh_effect,
                mass_kg=sum(stone.pieces_kg),
            )
    soil = catalog.materials.get(job.bed.soil.material) if job.bed.soil else None
    if soil is not None and soil.kind == "active soil":
        notes.say("soil_takes_alkalinity", Severity.NOTE, about=soil.id, soil=soil.material, kh_effect=soil.kh_effect)
    _species_against_target(job, catalog, notes)


def _species_against_target(job: Job, catalog: Catalog, notes: _Notes) -> None:
    """Each kept species against the agreed water: a range that ends before the target does."""
    target = job.target
    for animals in job.livestock or ():
        species = catalog.species.get(animals.species)
        if species is None or not animals.keep:
            continue
        outside = []
        if target.temp_c is not None and not species.temp_min_c <= target.temp_c <= species.temp_max_c:
            outside.append(f"{target.temp_c:g} °C against {species.temp_min_c:g} to {species.temp_max_c:g} °C")
        for low, high, least, most, what in (
            (target.ph_low, target.ph_high, species.ph_min, species.ph_max, "pH"),
            (target.hardness_low_dgh, target.hardness_high_dgh, species.gh_min_dgh, species.gh_max_dgh, "dGH"),
            (target.alkalinity_low_dkh, target.alkalinity_high_dkh, species.kh_min_dkh, species.kh_max_dkh, "dKH"),
        ):
            if low is None or high is None:
                continue
            if high < least or low > most:
                outside.append(f"{low:g} to {high:g} {what} against {least:g} to {most:g}")
        if outside:
            notes.say(
                "species_outside_target",
                Severity.CONDITION,
                about=species.id,
                species=species.common_name,
                outside="; ".join(outside),
            )


def _barrels(
    job: Job, catalog: Catalog, notes: _Notes, *, old_l: float, new_l: float
) -> tuple[tuple[BarrelFill, ...], float]:
    """The fewest litres of barrel that hold old and new water apart; what no barrel holds is short."""
    stock = sorted(
        (
            container
            for owned in job.containers or ()
            if (container := catalog.containers.get(owned.container)) is not None
            and container.id.startswith(("barrel", "ibc", "fold"))
            for _ in range(owned.count)
        ),
        key=lambda container: container.usable_l,
    )
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
    notes: _Notes,
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
        room = 20.0
        notes.assumed.append(
            Assumption(field="site.room_temperature", value="20 °C", source="common practice, no source")
        )
    loss = sum(
        catalog.containers[fill.container].heat_loss_w_per_k_lidded or 0.0 for fill in barrels if fill.holds == "new"
    )
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
        notes.figure(
            "warming_h",
            hours,
            "h",
            "m c dT/dt = P - UA (T - room), solved",
            "energy balance; barrel losses from the catalog (estimated)",
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
    job: Job, notes: _Notes, parts: Blend, rates: tuple[float, float, float] | None, warming: WarmingRun | None
) -> OsmosisRun | None:
    ro = job.preparation.ro
    if ro is None or rates is None:
        return None
    waste_ratio = ro.waste_ratio
    if waste_ratio is None:
        waste_ratio = 2.5
        notes.assumed.append(
            Assumption(field="preparation.ro.waste_ratio", value="2.5", source="common practice, no source")
        )
    run = run_of(
        ro,
        rates,
        need_l=parts.ro_l,
        ready_by=_work_start(job),
        after_hours=(warming.hours or 0.0) if warming is not None else 0.0,
        waste_ratio=waste_ratio,
        zone=_zone(job),
    )
    if ro.may_run_from is not None and ro.may_run_until is not None:
        low_possible = run.rate_low_l_day * run.hours_allowed / 24
        if rates[1] <= 0 or run.possible_l <= 0:
            notes.say("ro_never_fills", Severity.MISFIT, rate_l_day=rates[1])
        elif low_possible < parts.ro_l - 0.5:
            notes.findings.append(
                Finding(
                    id="water.ro_short",
                    severity=Severity.CONDITION,
                    values={"need_l": parts.ro_l, "low_l": low_possible, "possible_l": run.possible_l},
                    margin=low_possible - parts.ro_l,
                    margin_unit="L",
                    remedies=(Remedy(id="water.run_longer"), Remedy(id="water.booster")),
                )
            )
    if run.unattended_hours > 0 and ro.place != "workshop" and parts.ro_l > 0:
        notes.say(
            "ro_unattended",
            Severity.CONDITION,
            unattended_h=run.unattended_hours,
            cut_off="is on hand" if ro.leak_cut_off else "is not told: bring one",
            waste_l=run.waste_l,
        )
    return run


def _siphon_l_min(job: Job, notes: _Notes, shape: TankShape) -> float | None:
    """Mean flow of a hose that empties the tank over its rim, where no pump is named."""
    rim = job.tank.rim_height_m
    if rim is None or rim <= shape.height_m:
        return None
    way = job.site.drain.distance_m
    if way is None:
        way = 10.0
        notes.assumed.append(
            Assumption(field="site.drain.distance", value="10 m of hose", source="common practice, no source")
        )
    notes.assumed.append(
        Assumption(
            field="preparation.pump_flow",
            value=f"siphon through a hose of {1000 * HOSE_BORE_M:g} mm",
            source="no pump named; common practice, no source",
        )
    )
    minutes = drain_minutes(
        plan_area_m2=shape.footprint_m2,
        depth_start_m=shape.water_line_m,
        depth_end_m=0.05 * shape.water_line_m,
        outlet_below_bottom_m=rim - shape.height_m,
        inner_diameter_m=HOSE_BORE_M,
        length_m=max(2.0, way),
        minor_loss=HOSE_MINOR_LOSS,
        temp_c=min(40.0, job.water.tank.temp_c if job.water.tank and job.water.tank.temp_c is not None else 25.0),
    )
    return 0.95 * shape.gross_l / minutes


def _rinse(job: Job, catalog: Catalog, notes: _Notes, shape: TankShape, volumes: Volumes) -> None:
    """Rinses after peroxide, down to what shrimp and media bear."""
    limit = catalog.limits["peroxide_rest"]
    goal = SHRIMP_PEROXIDE_MG_L if limit.target_high is None else min(SHRIMP_PEROXIDE_MG_L, limit.target_high)
    rinse = rinses_needed(
        wetted_m2=shape.inner_glass_m2 + shape.footprint_m2,
        rinse_l=max(5.0, RINSE_SHARE * shape.gross_l),
        net_l=volumes.net_l,
        limit_mg_l=goal,
        flow_l_min=job.site.tap.flow_l_min,
    )
    notes.figure(
        "rinses",
        float(rinse.rinses),
        "",
        "repeated dilution of the film left on wetted glass, decay not counted",
        "film 0.2 to 0.5 L/m2 (from memory); limit 0.3 mg/L for shrimp (from memory)",
        litres_each=round(rinse.litres_each, 1),
        left_mg_l=round(rinse.left_mg_l, 3),
    )
    notes.say(
        "rinse_after_peroxide",
        Severity.CONDITION,
        rinses=rinse.rinses,
        litres_l=round(rinse.litres_each),
        limit_mg_l=goal,
    )


def _tap_alone(job: Job, notes: _Notes, tap: WaterReading, catalog: Catalog) -> None:
    """Share of tap water in permeate that alone meets the middle of the agreed carbonate hardness: for spare water."""
    low, high = job.target.alkalinity_low_dkh, job.target.alkalinity_high_dkh
    if job.preparation.ro is None or low is None or high is None or tap.alkalinity_dkh is None:
        return
    permeate = permeate_of(_source(tap), rejection=catalog.parameter("ro_rejection").typical).alkalinity_dkh or 0.0
    middle = (low + high) / 2
    if not permeate < middle < tap.alkalinity_dkh:
        return
    notes.figure(
        "spare_tap_share",
        fraction_of_b(value_a=permeate, value_b=tap.alkalinity_dkh, target=middle),
        "",
        "(target - permeate) / (tap - permeate), carbonate hardness; for water mixed without any old",
        "linear mixing of a conserved quantity",
        permeate_dkh=round(permeate, 2),
        tap_dkh=tap.alkalinity_dkh,
        target_dkh=middle,
    )


def _stop_level_m(job: Job, notes: _Notes, shape: TankShape, *, kept_l: float) -> float | None:
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


def _minutes(
    job: Job, notes: _Notes, shape: TankShape, *, discarded_l: float, refill_l: float
) -> tuple[float | None, float | None]:
    """Minutes of running water: out at the slower of pump (or siphon) and drain, in at the pump's flow."""
    pump, drain = job.preparation.pump_flow_l_min, job.site.drain.flow_l_min
    out_flow = pump or _siphon_l_min(job, notes, shape)
    flows = [flow for flow in (out_flow, drain) if flow]
    out = discarded_l / min(flows) if flows else None
    back = refill_l / pump if pump else None
    for name, value, litres in (("drain_min", out, discarded_l), ("refill_min", back, refill_l)):
        if value is not None:
            notes.figure(
                name, value, "min", "litres over the slowest flow", "job file: pump and drain flow", litres_l=litres
            )
    return out, back


def _steps(job: Job, refill: Reading, tank: WaterReading) -> int | None:
    """Small steps in which animals are brought from their water to the new one; two at least."""
    gaps = []
    if refill.hardness_dgh is not None and tank.hardness_dgh is not None:
        gaps.append(abs(refill.hardness_dgh - tank.hardness_dgh) / 2)
    if refill.temp_c is not None and tank.temp_c is not None:
        gaps.append(abs(refill.temp_c - tank.temp_c) / 1)
    if not gaps:
        return None
    return max(2, round(max(gaps)))


def _budget_figures(notes: _Notes, budget: WaterBudget) -> None:
    rule = "linear balance of the three waters to the agreed limits"
    source = "mass balance; readings of the job file"
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
    for name, value, unit in (
        ("refill_gh_dgh", budget.refill.hardness_dgh, "dGH"),
        ("refill_kh_dkh", budget.refill.alkalinity_dkh, "dKH"),
        ("refill_nitrate_mg_l", budget.refill.nitrate_mg_l, "mg/L"),
    ):
        if value is not None:
            notes.figure(name, value, unit, rule + ", salts included", source + "; drop tests read to about 20 to 30 %")


def box_masses(boxes: tuple[BoxUse, ...]) -> tuple[tuple[str, float], ...]:
    """Container and litres of each box, for the floor."""
    return tuple((box.container, box.water_l) for box in boxes)
