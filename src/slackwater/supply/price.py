"""What the job costs and what to ask: every hour counted, money in decimals, rounded once."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from slackwater.figure import Assumption
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job, Person
from slackwater.supply.calendar import LAST_DAY
from slackwater.supply.order import rounded
from slackwater.supply.result import DirectCost, OrderLine, PriceLine, PriceResult, Quantities, WasteLine

OFFICE_PHASES = ("A", "B", "C", "D")


def office_hours(catalog: Catalog) -> float:
    """Typical hours before the day: enquiry, survey, design, preparation [h]."""
    return sum(row.min_typ for row in catalog.office_activities.values() if row.id[0] in OFFICE_PHASES) / 60


def cost_lacks(working: Sequence[Person]) -> tuple[str, ...]:
    """Facts without which there is no direct cost of a crew."""
    lacks = [] if working else ["people"]
    return (*lacks, *(f"people.{person.id}.hourly_rate" for person in working if person.hourly_rate is None))


def rate_lacks(job: Job) -> tuple[str, ...]:
    """Rates without which no price is made of a direct cost; the program never makes one up."""
    price = job.price
    lacks = [] if price.overhead_share is not None else ["price.overhead_share"]
    # A margin of all of the price would leave nothing to pay the work with.
    return (*lacks, *(["price.margin_share"] if price.margin_share is None or price.margin_share >= 1 else []))


def price_lacks(job: Job, working: Sequence[Person]) -> tuple[str, ...]:
    """Facts without which there is no price for a crew."""
    return (*cost_lacks(working), *rate_lacks(job))


def direct_cost_of(
    job: Job,
    catalog: Catalog,
    quantities: Quantities,
    order: tuple[OrderLine, ...],
    waste: tuple[WasteLine, ...],
) -> tuple[DirectCost | None, tuple[str, ...], tuple[Assumption, ...]]:
    """What the work costs the firm, or the facts without which that is not known.

    Notes
    -----
    Lines are rounded to the cent, and the sum is the sum of the rounded lines.
    """
    people = {person.id: person for person in job.people or ()}
    working = [people[name] for name in quantities.crew_minutes if name in people]
    if lacks := cost_lacks(working):
        return None, (*lacks, *rate_lacks(job)), ()
    assumed: list[Assumption] = []
    lines: list[PriceLine] = []

    def line(name: str, amount: Decimal, source: str, hours: float | None = None) -> None:
        lines.append(PriceLine(id=name, hours=hours, amount=rounded(amount), source=source))

    drive_h = 0.0 if job.van.drive_one_way_min is None else 2 * job.van.drive_one_way_min / 60
    for person in working:
        hours = max(quantities.crew_minutes[person.id] / 60, person.minimum_hours if person.on_call else 0.0)
        rate = person.hourly_rate or Decimal(0)
        night = quantities.crew_night_minutes.get(person.id, 0) / 60 * (person.night_surcharge or 0.0)
        line(
            f"labour:{person.id}",
            rate * Decimal(str(round(hours + night + drive_h, 2))),
            "hours on site with breaks, drive both ways, night surcharge",
            round(hours + drive_h, 2),
        )
    lead_rate = working[0].hourly_rate or Decimal(0)
    before_h = office_hours(catalog)
    line(
        "office",
        lead_rate * Decimal(str(round(before_h, 2))),
        "typical minutes of the activities A to D",
        round(before_h, 2),
    )
    visits = job.contract.visit_days(last_day=LAST_DAY)
    visit_min = job.contract.visit_min
    if visits and visit_min is None:
        visit_min = 60.0
        assumed.append(
            Assumption(
                field="contract.visit_time", value="60 min", source="typical of the activities F2 to F4; from memory"
            )
        )
    if visits and visit_min is not None:
        each_h = visit_min / 60 + drive_h
        line(
            "visits",
            lead_rate * Decimal(str(round(each_h * len(visits), 2))),
            f"{len(visits)} visits up to day {LAST_DAY}, drive both ways; later ones are not in it",
            round(each_h * len(visits), 2),
        )
    if job.van.drive_one_way_km is not None:
        per_km = job.price.travel_per_km
        if per_km is None:
            per_km = Decimal(str(catalog.prices["travel_km"].typical_cr))
            assumed.append(
                Assumption(field="price.travel_per_km", value=f"{per_km}", source=catalog.prices["travel_km"].origin)
            )
        trips = 2 * (2 + len(visits))  # survey, day and visits, there and back
        line(
            "travel", per_km * Decimal(str(job.van.drive_one_way_km * trips)), "survey, day and visits, there and back"
        )
    materials = sum((entry.price for entry in order if entry.price is not None), Decimal(0))
    line("materials", materials, "order list; lines without a price are not in it")
    if quantities.ro_l:
        line(
            "permeate",
            Decimal(str(catalog.prices["ro_litre"].typical_cr)) * Decimal(str(round(quantities.ro_l))),
            catalog.prices["ro_litre"].origin,
        )
    waste_cost = sum((entry.cost for entry in waste if entry.cost is not None), Decimal(0))
    if waste_cost:
        line("waste", waste_cost, "disposal list")
    total = sum((entry.amount for entry in lines), Decimal(0))
    lacks = rate_lacks(job)
    direct = DirectCost(currency=job.price.currency, lines=tuple(lines), total=total, lacks=lacks)
    return direct, lacks, tuple(assumed)


def price_of(job: Job, direct: DirectCost) -> tuple[PriceResult | None, tuple[Assumption, ...]]:
    """The price of a direct cost; None where a rate for it is missing.

    Notes
    -----
    price = (direct cost + overhead) / (1 - margin share), because the margin is a share of the sales price; tax comes
    on top. Lines are rounded to the cent, and the sums are sums of the rounded lines.
    """
    overhead_share, margin_share = job.price.overhead_share, job.price.margin_share
    if direct.lacks or overhead_share is None or margin_share is None:
        return None, ()
    overhead = rounded(direct.total * Decimal(str(overhead_share)))
    cost = direct.total + overhead
    price = rounded(cost / (1 - Decimal(str(margin_share))))
    tax = rounded(price * Decimal(str(job.price.tax_share or 0.0)))
    assumed: tuple[Assumption, ...] = ()
    if job.price.tax_share is None:
        assumed = (
            Assumption(
                field="price.tax_share", value="0", source="not told: no tax added; the firm's own rules decide"
            ),
        )
    return (
        PriceResult(
            currency=job.price.currency,
            lines=(
                *direct.lines,
                PriceLine(id="overhead", hours=None, amount=overhead, source=f"{overhead_share:.0%} of direct cost"),
                PriceLine(id="margin", hours=None, amount=price - cost, source=f"{margin_share:.0%} of the price"),
            ),
            cost=cost,
            price=price,
            tax=tax,
            total=price + tax,
            budget=job.price.client_budget,
        ),
        assumed,
    )
