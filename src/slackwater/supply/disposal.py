"""What leaves the site, how much of it, and where it may go."""

from __future__ import annotations

from decimal import Decimal
from math import ceil

from slackwater.finding import Finding, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.supply.order import rounded
from slackwater.supply.result import Quantities, WasteLine

BAG_KG = 15.0
"""A waste sack is filled to this; common practice, no source."""


def waste_mass_kg(job: Job, catalog: Catalog, old_soil_l: float) -> float:
    """Wet old soil and old plants with their roots [kg]; plants as far as they were surveyed."""
    soil = old_soil_l * catalog.materials["old_soil_wet"].bulk_density_kg_per_l
    plants = (
        (job.old.planted_m2 or 0.0) * (job.old.cover_factor or 1.0) * catalog.parameter("old_plants_wet_mass").typical
    )
    return soil + plants


def waste_lines(job: Job, catalog: Catalog, quantities: Quantities) -> tuple[tuple[WasteLine, ...], list[Finding]]:
    """Water through a sieve to the foul sewer where allowed; soil and plants bagged twice."""
    lines: list[WasteLine] = []
    findings: list[Finding] = []
    if quantities.drained_l:
        allowed = job.site.drain.permitted is True
        lines.append(
            WasteLine(
                what="old water",
                litres=quantities.drained_l,
                mass_kg=None,
                bags=None,
                goes_to="drain_with_sieve" if allowed else "drain_not_agreed",
                cost=None,
            )
        )
    if quantities.old_soil_l is not None:
        mass = waste_mass_kg(job, catalog, quantities.old_soil_l)
        cost = (
            None if job.price.waste_per_kg is None else rounded(job.price.waste_per_kg * Decimal(str(round(mass, 1))))
        )
        lines.append(
            WasteLine(
                what="old soil and plants, wet",
                litres=quantities.old_soil_l,
                mass_kg=mass,
                bags=ceil(mass / BAG_KG),
                goes_to="bagged_waste",
                cost=cost,
            )
        )
    burrowing = [
        catalog.species[animals.species]
        for animals in job.livestock or ()
        if animals.species in catalog.species
        and not animals.keep
        and catalog.species[animals.species].group == "snail"
        and catalog.species[animals.species].hides_in == "in substrate"
    ]
    for species in burrowing:
        findings.append(
            Finding(
                id="supply.snails_in_waste",
                severity=Severity.CONDITION,
                about=species.id,
                values={"snail": species.common_name, "note": species.holding_note},
            )
        )
    return tuple(lines), findings
