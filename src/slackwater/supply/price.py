"""What the job costs the firm: every hour counted, money in decimals, rounded once."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from slackwater.figure import Assumption
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job, Person
from slackwater.supply.calendar import LAST_DAY, priced_visits
from slackwater.supply.order import rounded
from slackwater.supply.result import DirectCost, OrderLine, PriceLine, Quantities, WasteLine

OFFICE_PHASES = ("A", "B", "C", "D")


def office_hours(catalog: Catalog) -> float:
    """Typical hours before the day: enquiry, survey, design, preparation [h]."""
    return sum(row.min_typ for row in catalog.office_activities.values() if row.id[0] in OFFICE_PHASES) / 60


USUAL_VISIT_MIN = 60.0
"""Of a visit whose time nobody told; typical of the activities F2 to F4, from memory."""


def drive_h(job: Job) -> float:
    """Hours to the site and back; nothing where the drive is not told."""
    return 0.0 if job.van.drive_one_way_min is None else 2 * job.van.drive_one_way_min / 60


def working_people(job: Job, quantities: Quantities) -> list[Person]:
    """The people of the schedule, in its order."""
    people = {person.id: person for person in job.people or ()}
    return [people[name] for name in quantities.crew_minutes if name in people]


def labour_of(person: Person, *, on_site_min: int, night_min: int, drive_h: float) -> tuple[Decimal, float]:
    """What one person's day costs, rounded, and the hours paid.

    Parameters
    ----------
    person : Person
        With a rate; whoever is on call is paid for the least of hours agreed.
    on_site_min, night_min : int
        Minutes on site, and of these those in the surcharge hours.
    drive_h : float
        Hours there and back.
    """
    hours = max(on_site_min / 60, person.minimum_hours if person.on_call else 0.0)
    night = night_min / 60 * (person.night_surcharge or 0.0)
    rate = person.hourly_rate or Decimal(0)
    return rounded(rate * Decimal(str(round(hours + night + drive_h, 2)))), round(hours + drive_h, 2)


def per_km(job: Job, catalog: Catalog) -> Decimal:
    """What a kilometre costs: as the job says, else the catalog."""
    told = job.price.travel_per_km
    return Decimal(str(catalog.prices["travel_km"].typical_cr)) if told is None else told


def permeate_cost(catalog: Catalog, litres: float) -> Decimal:
    """What so many litres of permeate cost, rounded; whole litres are paid."""
    return rounded(Decimal(str(catalog.prices["ro_litre"].typical_cr)) * Decimal(str(round(litres))))


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


def visit_water_cost(catalog: Catalog, quantities: Quantities, visits: Sequence[int]) -> Decimal:
    """Permeate of the water changes at visits; whole litres of each are paid."""
    return sum(
        (permeate_cost(catalog, water.permeate_l) for water in quantities.visit_water if water.day in visits),
        Decimal(0),
    )


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
    working = working_people(job, quantities)
    if lacks := cost_lacks(working):
        return None, (*lacks, *rate_lacks(job)), ()
    assumed: list[Assumption] = []
    lines: list[PriceLine] = []

    def line(name: str, amount: Decimal, source: str, hours: float | None = None) -> None:
        lines.append(PriceLine(id=name, hours=hours, amount=rounded(amount), source=source))

    way_h = drive_h(job)
    for person in working:
        amount, hours = labour_of(
            person,
            on_site_min=quantities.crew_minutes[person.id],
            night_min=quantities.crew_night_minutes.get(person.id, 0),
            drive_h=way_h,
        )
        line(f"labour:{person.id}", amount, "hours on site with breaks, drive both ways, night surcharge", hours)
    lead_rate = working[0].hourly_rate or Decimal(0)
    before_h = office_hours(catalog)
    line(
        "office",
        lead_rate * Decimal(str(round(before_h, 2))),
        "typical minutes of the activities A to D",
        round(before_h, 2),
    )
    visits = priced_visits(job)
    visit_min = job.contract.visit_min
    if visits and visit_min is None:
        visit_min = USUAL_VISIT_MIN
        assumed.append(
            Assumption(
                field="contract.visit_time", value="60 min", source="typical of the activities F2 to F4; from memory"
            )
        )
    if visits and visit_min is not None:
        each_h = visit_min / 60 + way_h
        line(
            "visits",
            lead_rate * Decimal(str(round(each_h * len(visits), 2))),
            f"{len(visits)} visits up to day {job.contract.priced_to_day or LAST_DAY}, drive both ways; later ones are not in it",
            round(each_h * len(visits), 2),
        )
    if quantities.later_planting_min:
        hours = round(quantities.later_planting_min / 60, 2)
        line("later_planting", lead_rate * Decimal(str(hours)), "typical minutes of planting the carpet", hours)
    if job.van.drive_one_way_km is not None:
        km_cost = per_km(job, catalog)
        if job.price.travel_per_km is None:
            assumed.append(
                Assumption(field="price.travel_per_km", value=f"{km_cost}", source=catalog.prices["travel_km"].origin)
            )
        trips = 2 * (2 + len(visits))  # survey, day and visits, there and back
        line(
            "travel", km_cost * Decimal(str(job.van.drive_one_way_km * trips)), "survey, day and visits, there and back"
        )
    materials = sum((entry.price for entry in order if entry.price is not None), Decimal(0))
    line("materials", materials, "order list; lines without a price are not in it")
    if quantities.ro_l:
        line("permeate", permeate_cost(catalog, quantities.ro_l), catalog.prices["ro_litre"].origin)
    if visit_water := visit_water_cost(catalog, quantities, visits):
        line(
            "visit_water", visit_water, f"permeate of the changes at these visits; {catalog.prices['ro_litre'].origin}"
        )
    waste_cost = sum((entry.cost for entry in waste if entry.cost is not None), Decimal(0))
    if waste_cost:
        line("waste", waste_cost, "disposal list")
    total = sum((entry.amount for entry in lines), Decimal(0))
    lacks = rate_lacks(job)
    direct = DirectCost(currency=job.price.currency, lines=tuple(lines), total=total, lacks=lacks)
    return direct, lacks, tuple(assumed)
