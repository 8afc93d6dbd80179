"""The visits of the contract by themselves: what they cost together, and the days of the change plan without one."""

from __future__ import annotations

from decimal import Decimal

from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.supply.calendar import priced_visits
from slackwater.supply.order import rounded
from slackwater.supply.price import per_km, visit_water_cost
from slackwater.supply.result import DirectCost, PriceLine, Quantities


def visit_price_of(
    job: Job, catalog: Catalog, quantities: Quantities, direct: DirectCost
) -> tuple[tuple[int, ...], tuple[PriceLine, ...], tuple[int, ...]] | None:
    """Direct cost of the visits of the first weeks; None where none are agreed.

    Returns
    -------
    days, lines, unvisited
        Days of the visits; lines for all of them together; days on which the change plan has a change and the contract
        no visit.
    """
    days = priced_visits(job)
    work = next((line for line in direct.lines if line.id == "visits"), None)
    if not days or work is None:
        return None
    lines = [work]
    if job.van.drive_one_way_km is not None:
        ways = per_km(job, catalog) * Decimal(str(2 * job.van.drive_one_way_km * len(days)))
        lines.append(PriceLine(id="travel", hours=None, amount=rounded(ways), source="to the visits and back"))
    if water := visit_water_cost(catalog, quantities, days):
        lines.append(PriceLine(id="visit_water", hours=None, amount=water, source=catalog.prices["ro_litre"].origin))
    unvisited = tuple(water.day for water in quantities.visit_water if water.day not in days)
    return days, tuple(lines), unvisited
