"""What tap, stone and soil do to the water and to the animals: chlorine, copper, lime, exchange, ranges."""

from __future__ import annotations

import numpy as np

from slackwater.finding import Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job, WaterReading
from slackwater.water.chlorine import thiosulfate_g
from slackwater.water.combination import (
    UNBALANCED_CO2_MG_L,
    Range,
    Ranges,
    Triple,
    changes_until_spent,
    lime_rise_dkh_week,
    saturated_alkalinity_dkh,
    triples,
)
from slackwater.water.composition import Water
from slackwater.water.dissolving import SCALE_WARNING_SI
from slackwater.water.gas import ROOM_CO2_ATM
from slackwater.water.notes import Notes
from slackwater.water.result import Reading, SoilStoneWater
from slackwater.water.salts import NITROGEN_PER_CHLORINE
from slackwater.water.speciation import nearest_at_ph, speciate_at_pco2

SOFT_TARGET_DKH = 4.0
"""Carbonate hardness up to which a stone that gives lime works against the target; common practice, no source."""
PH_READING = 0.2
"""What a drop test of pH cannot tell apart; common practice, no source."""
USUAL_CO2_MG_L = 20.0
"""Carbon dioxide that is injected where nobody told the set point; common practice, no source."""


def disinfectant(catalog: Catalog, notes: Notes, tap: WaterReading, tap_l: float) -> tuple[float | None, float | None]:
    """Conditioner for the tap share, and the ammonia that broken chloramine sets free."""

    def told(field: str, value: float | None) -> float | None:
        # Below detection counts as none: half a detection limit is no reason for a dose.
        return 0.0 if field in tap.below_detection else value

    free = told("free_chlorine_mg_l", tap.free_chlorine_mg_l)
    combined = told("combined_chlorine_mg_l", tap.combined_chlorine_mg_l)
    if free is None and combined is None:
        notes.say("chlorine_untested", Severity.CONDITION)
        return None, None
    total = (free or 0.0) + (combined or 0.0)
    if total <= 0:
        return 0.0, 0.0
    dose = catalog.parameter("conditioner_thiosulfate")
    grams = thiosulfate_g(chlorine_mg_l=total, litres=tap_l, mg_per_mg=dose.typical)
    freed = (combined or 0.0) * NITROGEN_PER_CHLORINE
    notes.figure(
        "conditioner_g",
        grams,
        "g",
        "chlorine x tap litres x 7 mg thiosulfate per mg",
        "common practice, no source (working dose); stoichiometry 0.9 to 3.5",
        band=(grams * (dose.low or dose.typical) / dose.typical, grams * (dose.high or dose.typical) / dose.typical),
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


def quality(
    job: Job,
    catalog: Catalog,
    notes: Notes,
    *,
    tap: WaterReading,
    tank: WaterReading,
    old_l: float,
    nitrate_limit_mg_l: float | None,
    new: Reading | None,
    refill: Water | None,
) -> None:
    """Nitrate of the old water, softener, copper, clouding."""
    if tank.nitrate_mg_l is not None and nitrate_limit_mg_l is not None and tank.nitrate_mg_l > nitrate_limit_mg_l:
        notes.say(
            "old_nitrate_high",
            Severity.CONDITION,
            nitrate_mg_l=tank.nitrate_mg_l,
            limit_mg_l=nitrate_limit_mg_l,
            old_l=old_l,
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
    if refill is not None:
        _ph_against_target(job, catalog, notes, refill)
    if new is not None and new.si_calcite > SCALE_WARNING_SI:
        notes.say("may_cloud", Severity.CONDITION, si=round(new.si_calcite, 1), limit_si=SCALE_WARNING_SI)
    _species_against_target(job, catalog, notes)


def _ph_against_target(job: Job, catalog: Catalog, notes: Notes, refill: Water) -> None:
    """The agreed pH against that of the refill in room air: what carbon dioxide or soil would have to do."""
    low, high = job.target.ph_low, job.target.ph_high
    aired = float(np.asarray(speciate_at_pco2(refill, pco2_atm=ROOM_CO2_ATM).ph))
    if low is None or high is None or low - PH_READING <= aired <= high + PH_READING:
        return
    needed = nearest_at_ph(refill, ph=np.array([high, low])).co2_mg_l
    soil = catalog.materials.get(job.bed.soil.material) if job.bed.soil else None
    if soil is not None and soil.kind == "active soil":
        severity, who = (
            Severity.NOTE,
            "Active soil lowers KH and pH within days; until then the animals meet this water.",
        )
    elif job.co2 is not None:
        severity, who = Severity.NOTE, "See that the injection reaches that, and not more than the animals bear."
    else:
        severity, who = Severity.CONDITION, "Agree another pH or less KH: nothing planned here brings it there."
    notes.say(
        "ph_needs_co2",
        severity,
        low=low,
        high=high,
        ph=round(aired, 1),
        kh_dkh=round(float(np.asarray(refill.alkalinity_dkh)), 1),
        co2_low_mg_l=float(np.asarray(needed)[0]),
        co2_high_mg_l=float(np.asarray(needed)[1]),
        who=who,
    )


def soil_and_stone(
    job: Job, catalog: Catalog, notes: Notes, refill: Water, *, water_l: float, soil_l: float
) -> tuple[SoilStoneWater, ...]:
    """What soil and stone make of the refill within weeks, and which animals each choice of them suits.

    Parameters
    ----------
    water_l, soil_l : float
        Water of the finished tank, and its active soil as laid [L].
    """
    limestone = 0.0
    for stone in job.stones or ():
        material = catalog.materials.get(stone.material)
        if material is None or not material.gh_effect.startswith("raises"):
            continue
        limestone += sum(stone.pieces_kg)
        high = job.target.alkalinity_high_dkh
        if high is not None and high <= SOFT_TARGET_DKH:
            notes.say(
                "stone_hardens",
                Severity.CONDITION,
                about=stone.material,
                stone=material.material,
                gh_effect=material.gh_effect,
                kh_effect=material.kh_effect,
                mass_kg=sum(stone.pieces_kg),
            )
    co2 = UNBALANCED_CO2_MG_L
    if job.co2 is not None:
        if job.co2.set_point_mg_l is None:
            co2 = USUAL_CO2_MG_L
            notes.assume("co2.set_point", f"{USUAL_CO2_MG_L:g} mg/L", "common practice, no source")
        else:
            co2 = job.co2.set_point_mg_l
    if limestone > 0:
        low, typical, high_rise = lime_rise_dkh_week(limestone_kg=limestone, water_l=water_l, co2_mg_l=co2)
        notes.figure(
            "lime_rise_dkh_week",
            typical,
            "dKH",
            "limestone per litre x carbon dioxide, in proportion to 0.5 dKH a week for 10 kg in 100 L at 20 mg/L",
            "from memory; an order of size",
            band=(low, high_rise),
            limestone_kg=round(limestone, 1),
            co2_mg_l=co2,
        )
        notes.figure(
            "lime_end_dkh",
            saturated_alkalinity_dkh(refill, co2_mg_l=co2),
            "dKH",
            "carbonate hardness at which the water is saturated with calcite at that carbon dioxide",
            "Plummer and Busenberg 1982",
            co2_mg_l=co2,
        )
    soil = catalog.materials.get(job.bed.soil.material) if job.bed.soil else None
    active = soil is not None and soil.kind == "active soil"
    if soil is not None and active:
        kh = float(np.asarray(refill.alkalinity_dkh))
        spent = changes_until_spent(soil_l=soil_l, lean="lean" in soil.id, water_l=water_l, alkalinity_dkh=kh)
        if np.isfinite(spent.high):
            notes.figure(
                "soil_spent_refills",
                (spent.low * spent.high) ** 0.5,
                "",
                "capacity of the soil for alkalinity over what one whole refill brings",
                "10 to 120 meq per litre of soil, from memory",
                band=(spent.low, spent.high),
                soil_l=round(soil_l, 1),
                alkalinity_dkh=round(kh, 2),
            )
        notes.say("soil_takes_alkalinity", Severity.NOTE, about=soil.id, soil=soil.material, kh_effect=soil.kh_effect)
    found = triples(refill, _ranges(job, catalog), limestone_kg=limestone, water_l=water_l, co2_mg_l=co2)
    choices = []
    for triple in found:
        chosen = (triple.soil == "active") == active and (triple.stone == "lime") == (limestone > 0)
        choices.append(
            SoilStoneWater(
                soil=triple.soil,
                stone=triple.stone,
                ph=(triple.settled.ph.low, triple.settled.ph.high),
                hardness_dgh=(triple.settled.hardness_dgh.low, triple.settled.hardness_dgh.high),
                alkalinity_dkh=(triple.settled.alkalinity_dkh.low, triple.settled.alkalinity_dkh.high),
                against=tuple(triple.against),
                chosen=chosen,
            )
        )
        if chosen:
            for species, outside in triple.against.items():
                notes.say(
                    "soil_against_species",
                    Severity.CONDITION,
                    about=species,
                    species=catalog.species[species].common_name,
                    outside="; ".join(outside),
                    others=_others(found, species, triple.soil, triple.stone),
                )
    return tuple(choices)


def _others(found: tuple[Triple, ...], species: str, soil: str, stone: str) -> str:
    """Choices that would suit the species, in words."""
    suits = [
        f"{triple.soil} soil with {'this' if triple.stone == 'lime' else 'lime-free'} stone"
        for triple in found
        if species not in triple.against and (triple.soil, triple.stone) != (soil, stone)
    ]
    return " or ".join(suits) if suits else "none of the soils and stones here"


def _ranges(job: Job, catalog: Catalog) -> tuple[Ranges, ...]:
    found = []
    for animals in job.livestock or ():
        species = catalog.species.get(animals.species)
        if species is not None and animals.keep:
            found.append(
                Ranges(
                    species=species.id,
                    name=species.common_name,
                    ph=Range(species.ph_min, species.ph_max),
                    hardness_dgh=Range(species.gh_min_dgh, species.gh_max_dgh),
                    alkalinity_dkh=Range(species.kh_min_dkh, species.kh_max_dkh),
                )
            )
    return tuple(found)


def _species_against_target(job: Job, catalog: Catalog, notes: Notes) -> None:
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
