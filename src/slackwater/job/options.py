"""Options of an offer: the job as it would have been surveyed, had the client asked for less or more.

Each change is the job as somebody would have entered it by hand, so that the whole pipeline answers for it: nothing is a
share of a price. Pure functions; None where a change makes no sense for the job.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from math import ceil

from slackwater.job.catalog import Catalog
from slackwater.job.model import Job, OfferOption, OptionChange, VisitGroup
from slackwater.job.variants import Vary

FEWER, RICHER = Fraction(2, 3), Fraction(3, 2)
"""Units of each planting with fewer plants and with a richer planting, of those surveyed; common practice, no source."""
USUAL_WEEKS = 6
"""Weeks of visits in a price where the job does not say, and as many more with longer care; common practice, no source."""
WEEK_D = 7


def carpet_later(job: Job, catalog: Catalog) -> Job | None:
    """The carpet is planted at the first visit; None where there is none, or this is planned so already."""
    rows = [catalog.plants.get(planting.plant) for planting in job.plants or () if planting.units]
    carpet = [row for row in rows if row and row.position == "carpet"]
    if not carpet or job.brief.carpet_later:
        return None
    return job.model_copy(update={"brief": job.brief.model_copy(update={"carpet_later": True})})


def _planted(job: Job, share: Fraction) -> Job | None:
    if not job.plants:
        return None
    plants = tuple(item.model_copy(update={"units": ceil(item.units * share)}) for item in job.plants)
    return None if plants == job.plants else job.model_copy(update={"plants": plants})


def fewer_plants(job: Job, catalog: Catalog) -> Job | None:
    """Two thirds of the pots, cups and portions of each plant, rounded up."""
    return _planted(job, FEWER)


def richer_planting(job: Job, catalog: Catalog) -> Job | None:
    """Half as many pots, cups and portions of each plant again, rounded up."""
    return _planted(job, RICHER)


def longer_care(job: Job, catalog: Catalog) -> Job | None:
    """A visit each week for six more weeks after those in the price; None where no visit is in it."""
    contract = job.contract
    last = contract.priced_to_day or USUAL_WEEKS * WEEK_D
    if not contract.visit_days(last_day=last):
        return None
    until = last + USUAL_WEEKS * WEEK_D
    more = VisitGroup(from_day=last + WEEK_D, to_day=until, every_days=WEEK_D)
    changed = {"visits": (*contract.visits, more), "priced_to_day": until}
    return job.model_copy(update={"contract": contract.model_copy(update=changed)})


OPTION_CHANGES: Mapping[OptionChange, Vary] = {
    "carpet_later": carpet_later,
    "fewer_plants": fewer_plants,
    "richer_planting": richer_planting,
    "longer_care": longer_care,
}


def with_option(job: Job, catalog: Catalog, option: OfferOption) -> tuple[Job, tuple[OptionChange, ...]]:
    """The job of one option, without further options, and those of its changes that make no difference to it."""
    varied, idle = job.model_copy(update={"price": job.price.model_copy(update={"options": ()})}), []
    for name in dict.fromkeys(option.changes):
        changed = OPTION_CHANGES[name](varied, catalog)
        if changed is None:
            idle.append(name)
        else:
            varied = changed
    return varied, tuple(idle)
