"""Which part of a plan waits for which fact, told at once: every room is asked what it lacks and none reckons."""

from __future__ import annotations

from slackwater.day.assess import day_lacks
from slackwater.finding import Finding, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.job.screen import fact_missing, screen
from slackwater.layout.assess import bed_lacks
from slackwater.living.housing import boxes_lack
from slackwater.living.weeks import weeks_lack
from slackwater.supply.price import price_lacks
from slackwater.tank.assess import hardscape_solid_l, tank_lacks
from slackwater.water.assess import water_lacks


def lacking(job: Job, catalog: Catalog) -> tuple[Finding, ...]:
    """What the screening says, and for each part of a plan the facts that it waits for.

    The same parts and keys as in the findings of a whole plan, apart from what only shows when one is reckoned.
    """
    hardscape = hardscape_solid_l(job, catalog)
    asked = job
    if job.plants is None and not tank_lacks(job) and not bed_lacks(job):
        # Where there is a bed, plants are proposed.
        job = job.model_copy(update={"plants": ()})
    working = tuple(person for person in job.people or () if not person.on_call)
    parts = (
        ("the tank", tank_lacks(job)),
        ("the bed", bed_lacks(job)),
        ("stone and wood", hardscape.lacks),
        ("the boxes", boxes_lack(job)),
        ("the water", water_lacks(job, catalog)),
        ("the day", day_lacks(job, catalog)),
        ("the weeks after", weeks_lack(job, catalog)),
    )
    missing = [fact_missing(part, keys) for part, keys in parts if keys]
    price = price_lacks(job, working)
    if price:
        missing.append(fact_missing("the price", price, Severity.CONDITION))
    return (*screen(asked, catalog), *hardscape.findings, *missing)
