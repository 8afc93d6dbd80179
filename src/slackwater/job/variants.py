"""Variants of a job: what could be agreed instead where it touches animals, boxes, water, filter or bed.

Each is the job as somebody would have entered it by hand, so that the whole pipeline answers for it; None where it makes no
sense for the job. Pure functions; what a variant comes to is reckoned by the plan.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from math import ceil

from slackwater.job.catalog import Catalog
from slackwater.job.model import Animals, Job

Vary = Callable[[Job, Catalog], Job | None]
KEPT = Fraction(1, 2)
"""Share of bed and planting that a part rebuild leaves as it is; common practice, no source."""


def _boarded(job: Job, leave: Callable[[Animals], bool]) -> Job | None:
    """The same job with animals boarded; None where all of them are, or nobody is left to be."""
    livestock = tuple(
        animals.model_copy(update={"boarded": True}) if animals.keep and leave(animals) else animals
        for animals in job.livestock or ()
    )
    return None if livestock == (job.livestock or ()) else job.model_copy(update={"livestock": livestock})


def board_animals(job: Job, catalog: Catalog) -> Job | None:
    """All animals leave in their boxes and come back another day."""
    return _boarded(job, lambda animals: True)


def board_shrimp(job: Job, catalog: Catalog) -> Job | None:
    """Shrimp and snails leave, fish wait; None where that would be everybody."""

    def swims(animals: Animals) -> bool:
        species = catalog.species.get(animals.species)
        return species is not None and species.group == "fish"

    if not any(animals.keep and not animals.boarded and swims(animals) for animals in job.livestock or ()):
        return None
    return _boarded(job, lambda animals: animals.species in catalog.species and not swims(animals))


def filter_on_barrel(job: Job, catalog: Catalog) -> Job | None:
    """The filter runs on a barrel of old water from the draining to the refit."""
    if not job.filters or job.preparation.filter_on_barrel:
        return None
    return job.model_copy(update={"preparation": job.preparation.model_copy(update={"filter_on_barrel": True})})


def part_rebuild(job: Job, catalog: Catalog) -> Job | None:
    """Half of the old bed and its planting stay; the other half is renewed, and what stays is not made up for later."""
    if job.old.kept_share or (job.old.soil_l is None and job.old.soil_depth_m is None):
        return None
    planted = job.old.planted_m2
    old = job.old.model_copy(
        update={
            "kept_share": float(KEPT),
            "planted_m2": None if planted is None else planted * (1 - float(KEPT)),
        }
    )

    def renewed(plant: str, units: int) -> int:
        row = catalog.plants.get(plant)
        in_soil = row is not None and row.position != "floating" and not row.attach_to.startswith(("wood", "stone"))
        return ceil(units * (1 - KEPT)) if in_soil else units

    plants = (
        None
        if job.plants is None
        else tuple(item.model_copy(update={"units": renewed(item.plant, item.units)}) for item in job.plants)
    )
    return job.model_copy(update={"old": old, "plants": plants})


VARIANTS: Mapping[str, Vary] = {
    "filter_on_barrel": filter_on_barrel,
    "board_shrimp": board_shrimp,
    "boarding": board_animals,
    "part_rebuild": part_rebuild,
}
"""Smallest first."""
