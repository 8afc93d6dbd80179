"""From a job and its water to what the simulations need: boxes with their animals, and the tank that starts again."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import numpy as np
from numpy.typing import NDArray

from slackwater.job.catalog import Catalog, Species
from slackwater.job.model import Job
from slackwater.living.priors import median
from slackwater.living.respiration import fish_resting_oxygen_mg_h, shrimp_oxygen_mg_g_h
from slackwater.living.restart import Tank
from slackwater.water.composition import Water
from slackwater.water.gas import oxygen_saturation_mg_l, pressure_at_altitude_atm
from slackwater.water.result import Reading, WaterBudget
from slackwater.water.salts import ATOMIC_WEIGHT, MEQ_L_PER_DKH, molar_mass_g_mol
from slackwater.water.speciation import speciate_at_ph

FloatArray = NDArray[np.float64]
FISH_OXYGEN_MG_L, SHRIMP_OXYGEN_MG_L = 5.0, 4.0
"""Oxygen below which a box is stopped; limits table, from memory."""
FEED_SHARE_PER_D = 0.01
PROTEIN_SHARE = 0.45
"""Dry feed per live mass in a day, and the protein in it; common practice, no source."""
OXYGEN_PRIORS = ("fish_oxygen_spread", "shrimp_spread", "snail_oxygen_mg_g_h")
ROOM_C = 20.0
FILTERED_SATURATION = 0.9
"""Oxygen of a filtered, planted tank against saturation; from memory."""
PLANTS_TAKE = 0.3
"""Share of what the old tank's animals gave off that plants took; from memory."""


def water_of(reading: Reading) -> Water:
    """A water again from what the water room hands on, with its carbon."""
    water = Water(
        calcium_mmol_l=reading.calcium_mg_l / ATOMIC_WEIGHT["Ca"],
        magnesium_mmol_l=reading.magnesium_mg_l / ATOMIC_WEIGHT["Mg"],
        sodium_mmol_l=reading.sodium_mg_l / ATOMIC_WEIGHT["Na"],
        potassium_mmol_l=reading.potassium_mg_l / ATOMIC_WEIGHT["K"],
        chloride_mmol_l=reading.chloride_mg_l / ATOMIC_WEIGHT["Cl"],
        sulfate_mmol_l=reading.sulfate_mg_l / molar_mass_g_mol("SO4"),
        nitrate_mmol_l=reading.nitrate_mg_l / molar_mass_g_mol("NO3"),
        ammonia_mmol_l=reading.tan_mg_l / ATOMIC_WEIGHT["N"],
        alkalinity_meq_l=reading.alkalinity_dkh * MEQ_L_PER_DKH,
        temp_c=reading.temp_c,
    )
    return speciate_at_ph(water, ph=reading.ph).water


def refilled_on(job: Job) -> date | None:
    """Day 0 of the weeks after: the date on which the day's window ends, for work by night begins the evening before."""
    return next((window.end.date() for window in job.site.windows or () if window.kind == "day"), None)


def resting_oxygen_mg_h(
    species: Species, *, count: float, temp_c: float, drawn: Mapping[str, FloatArray]
) -> FloatArray:
    """Oxygen that so many of a species use at rest, for each member [mg/h]."""
    mass = species.typical_mass_g
    if species.group == "fish":
        each = float(np.asarray(fish_resting_oxygen_mg_h(mass_g=mass, temp_c=temp_c)))
        return count * each * drawn["fish_oxygen_spread"]
    if species.group == "shrimp":
        each = mass * float(np.asarray(shrimp_oxygen_mg_g_h(temp_c=temp_c, mass_g=min(max(mass, 0.1), 2.0))))
        return count * each * drawn["shrimp_spread"]
    return count * mass * drawn["snail_oxygen_mg_g_h"]


def planted_m2(job: Job, catalog: Catalog) -> float:
    """Bed that the plants cover on the first day."""
    return sum(
        planting.units * row.cover_cm2_per_unit_at_planting / 1e4
        for planting in job.plants or ()
        if (row := catalog.plants.get(planting.plant)) is not None and not planting.undeliverable
    )


def live_mass_g(job: Job, catalog: Catalog) -> float:
    """All animals that are kept, by the middle of each count."""
    return sum(
        (animals.count.middle or 0.0) * species.typical_mass_g
        for animals in job.livestock or ()
        if animals.keep and (species := catalog.species.get(animals.species)) is not None
    )


def routine_oxygen_mg_d(job: Job, catalog: Catalog, *, temp_c: float) -> float:
    """Oxygen that all kept animals use in a day, moving about; medians of the priors."""
    one = {name: np.array([median(name)]) for name in OXYGEN_PRIORS}
    total = 0.0
    for animals in job.livestock or ():
        species = catalog.species.get(animals.species)
        if species is not None and animals.keep and animals.count.middle:
            total += float(resting_oxygen_mg_h(species, count=animals.count.middle, temp_c=temp_c, drawn=one)[0])
    return total * median("routine_factor") * 24


def protein_g_d(job: Job, catalog: Catalog) -> float:
    """Protein fed in a day once feeding is back to usual."""
    return live_mass_g(job, catalog) * FEED_SHARE_PER_D * PROTEIN_SHARE


def unsettled(job: Job, catalog: Catalog) -> tuple[str, ...]:
    """What is to be entered before anything can be said of the kept animals: species not known, and animals not counted.

    An answer for the rest would be one for other animals than those in the tank.
    """
    found = []
    for animals in job.livestock or ():
        if animals.species not in catalog.species:
            near = ", ".join(catalog.near(animals.species, "species"))
            found.append(
                f"a species of the catalog in place of {animals.species}" + (f" (perhaps {near})" if near else "")
            )
        elif animals.keep and animals.count.high is None:
            found.append(f"the count of {animals.species}")
    return tuple(found)


def soil_kind_of(job: Job, catalog: Catalog) -> str:
    """Active, lean or inert, by the catalog's row of the soil; inert without a soil."""
    soil = catalog.materials.get(job.bed.soil.material) if job.bed.soil else None
    if soil is None or soil.kind != "active soil":
        return "inert"
    return "lean" if "lean" in soil.id else "active"


def tank_of(
    job: Job, catalog: Catalog, water: WaterBudget, *, soil_l: float, footprint_m2: float, media_kept: float
) -> Tank:
    """The tank that starts again, as far as the nitrogen after it is concerned."""
    temp_c = water.refill.temp_c
    pressure = pressure_at_altitude_atm(altitude_m=job.site.altitude_m or 0.0)
    saturation = float(np.asarray(oxygen_saturation_mg_l(temp_c=temp_c, pressure_atm=pressure)))
    load = protein_g_d(job, catalog) * 1000 * median("feed_excretion") * (1 - PLANTS_TAKE)
    return Tank(
        volume_l=water.net_l,
        temp_c=temp_c,
        oxygen_mg_l=FILTERED_SATURATION * saturation,
        soil_l=soil_l,
        soil_kind=soil_kind_of(job, catalog),
        footprint_m2=footprint_m2,
        planted_m2=min(footprint_m2, planted_m2(job, catalog)),
        load_before_mg_d=load,
        media_kept=media_kept,
        co2_mg_l=None if job.co2 is None else job.co2.set_point_mg_l,
        alkalinity_meq_l=water.refill.alkalinity_dkh * MEQ_L_PER_DKH,
        nitrate_mg_l=water.refill.nitrate_mg_l * ATOMIC_WEIGHT["N"] / molar_mass_g_mol("NO3"),
    )
