"""Which lists of regulated species hold at a site, and which plants nobody may propose there."""

from __future__ import annotations

from slackwater.job.catalog import Catalog, Plant, RegulatedSpecies
from slackwater.job.model import Job
from slackwater.job.zones import country_of

UNION = frozenset(
    "AT BE BG CY CZ DE DK EE ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK".split()  # noqa: SIM905
)
"""Members of the European Union, ISO 3166-1."""
UNITED_KINGDOM = frozenset({"GB"})
"""Keeps the Union list as retained law: Invasive Alien Species (Enforcement and Permitting) Order 2019, from memory."""
UNITED_STATES = frozenset({"US", "PR", "VI", "GU", "AS", "MP"})
"""With the territories in which 7 CFR 360 holds; from memory."""
HOLDS_IN = {
    "EU Union concern": UNION | UNITED_KINGDOM,
    "EU plant health": UNION,
    "US federal noxious weed": UNITED_STATES,
}
"""Where each list of the catalog holds; one that is not named here holds everywhere."""
CAUTION = ("list", "regulated", "banned", "restricted")
"""Words of a note in the catalog that send the reader to a list of his own."""


def country_at(job: Job) -> str | None:
    """The country of a job's site, by its time zone; None where that does not tell, or no list of it is in the catalog."""
    country = None if job.site.time_zone is None else country_of(job.site.time_zone)
    return country if any(country in where for where in HOLDS_IN.values()) else None


def listed(plant: Plant, catalog: Catalog, country: str | None) -> tuple[RegulatedSpecies, ...]:
    """Rows that name a plant on a list that holds in a country.

    Parameters
    ----------
    plant : Plant
    catalog : Catalog
    country : str or None
        ISO 3166-1; None, or one without a list of its own here: every list counts.
    """
    rows = catalog.regulated(plant.scientific_name)
    if country is None or not any(country in where for where in HOLDS_IN.values()):
        return rows
    return tuple(row for row in rows if country in HOLDS_IN.get(row.list_scope, {country}))


def may_be_proposed(plant: Plant, catalog: Catalog, country: str | None) -> bool:
    """Whether a plant is on no list that holds there, and its row does not send the reader to one."""
    note = plant.regulated_note or ""
    return not listed(plant, catalog, country) and not any(word in note for word in CAUTION)
