"""What the job costs and what to ask: every hour counted, money in decimals, rounded once."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from slackwater.figure import Assumption
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job, Person
from slackwater.supply.calendar import LAST_DAY
from slackwater.supply.order import rounded
from slackwater.supply.result import OrderLine, PriceLine, PriceResult, Quantities, WasteLine

OFFICE_PHASES = ("A", "B", "C", "D")


def office_hours(catalog: Catalog) -> float:
    """Typical hours before the day: enquiry, survey, design, preparation [h]."""
    return sum(row.min_typ for row in catalog.office_activities.values() if row.id[0] in OFFICE_PHASES) / 60


def price_lacks(job: Job, working: Sequence[Person]) -> tuple[str, ...]:
    """Facts without which there is no price for a crew."""
    lacks = [] if working else ["people"]
    lacks += [f"people.{person.id}.hourly_rate" for person in working if person.hourly_rate is None]
    lacks += [
        f"price.{name}"
        for name, value in (("overhead_share", job.price.overhead_share), ("margin_share", job.price.margin_share))
        if value is None
    ]
    return tuple(lacks)


def price_of(
    job: Job,
    catalog: Catalog,
    quantities: Quantities,
    order: tuple[OrderLine, ...],
    waste: tuple[WasteLine, ...],
) -> tuple[PriceResult | None, tuple[str, ...], tuple[Assumption, ...]]:
    """The calculation, or the facts without which there is none.

    Notes
    -----
    price = (direct cost + overhead) / (1 - margin share), because the margin is a share of the sales price; tax comes
    on top. Lines are rounded to the cent, and the sums are sums of the rounded lines.
    """
    people = {person.id: person for person in job.people or ()}
    working = [people[name] for name in quantities.crew_minutes if name in people]
    lacks = price_lacks(job, working)
    if lacks or job.price.overhead_share is None or job.price.margin_share is None:
        return None, lacks, ()
    if job.price.margin_share >= 1:
        return None, ("price.margin_share",), ()
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
            f"{len(visits)} visits, drive both ways",
            round(each_h * len(visits), 2),
        )
    if job.van.drive_one_way_km is not None:
        per_km = job.price.travel_per_km
        if per_km is None:
            per_km = Decimal(str(catalog.prices["travel_km"].typical_cr))
            assumed.append(
                Assumption(field="price.travel_per_km", value=f"{per_km}", source="example price of the catalog")
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
            "example price of the catalog",
        )
    waste_cost = sum((entry.cost for entry in waste if entry.cost is not None), Decimal(0))
    if waste_cost:
        line("waste", waste_cost, "disposal list")
    direct = sum((entry.amount for entry in lines), Decimal(0))
    line("overhead", direct * Decimal(str(job.price.overhead_share)), f"{job.price.overhead_share:.0%} of direct cost")
    cost = sum((entry.amount for entry in lines), Decimal(0))
    price = rounded(cost / (1 - Decimal(str(job.price.margin_share))))
    lines.append(
        PriceLine(id="margin", hours=None, amount=price - cost, source=f"{job.price.margin_share:.0%} of the price")
    )
    tax = rounded(price * Decimal(str(job.price.tax_share or 0.0)))
    if job.price.tax_share is None:
        assumed.append(
            Assumption(field="price.tax_share", value="0", source="not told: no tax added; the firm's own rules decide")
        )
    return (
        PriceResult(
            currency=job.price.currency,
            lines=tuple(lines),
            cost=cost,
            price=price,
            tax=tax,
            total=price + tax,
            budget=job.price.client_budget,
        ),
        (),
        tuple(assumed),
    )
