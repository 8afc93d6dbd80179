"""What to ask for a job: the price of a cost, a fixed price at a chosen risk, the floor below which to refuse.

The cost of a job is not one number. Its hours on site are those of the simulated days, its hours before the day those of
the table's three points, and a day that is not done by closing takes a second visit. Each way in which it may go is a
*case* with its weight; everything here is counted on these cases, so that no curve is fitted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from slackwater.figure import Assumption
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.supply.order import rounded
from slackwater.supply.price import USUAL_VISIT_MIN, drive_h, labour_of, per_km, working_people
from slackwater.supply.result import (
    CarriedPrice,
    DirectCost,
    PriceLine,
    PriceOdds,
    PriceResult,
    Quantities,
    VisitPrice,
    WorkDay,
)
from slackwater.supply.visits import visit_price_of

SHOWN_RISKS = (0.5, 0.2, 0.1, 0.05)
"""Risks at which prices are shown side by side; common practice, no source."""

Cases = Mapping[Decimal, int]
"""Direct costs, lowest first, each with its weight."""


@dataclass(frozen=True)
class Terms:
    """What the firm lays on a direct cost.

    Attributes
    ----------
    overhead_share : Decimal
        Of the direct cost [0..1].
    margin_share : Decimal
        Of the sales price [0..1[.
    tax_share : Decimal
        Of the price before tax [0..1].
    """

    overhead_share: Decimal
    margin_share: Decimal
    tax_share: Decimal

    def overhead(self, direct: Decimal) -> Decimal:
        """Overhead of a direct cost, rounded."""
        return rounded(direct * self.overhead_share)

    def cost(self, direct: Decimal) -> Decimal:
        """Direct cost with its overhead."""
        return direct + self.overhead(direct)

    def price(self, cost: Decimal) -> Decimal:
        """The price before tax of which the margin is its share, rounded."""
        return rounded(cost / (1 - self.margin_share))

    def tax(self, price: Decimal) -> Decimal:
        """Tax on a price, rounded."""
        return rounded(price * self.tax_share)


def terms_of(job: Job) -> Terms | None:
    """Overhead, margin and tax as the job has them; None where the first two do not make a price."""
    price = job.price
    if price.overhead_share is None or price.margin_share is None or price.margin_share >= 1:
        return None
    # The digits as they were written: 0.1 is a tenth.
    overhead, margin, tax = (
        Decimal(str(share)) for share in (price.overhead_share, price.margin_share, price.tax_share or 0.0)
    )
    return Terms(overhead_share=overhead, margin_share=margin, tax_share=tax)


def second_visit_cost(job: Job, catalog: Catalog, quantities: Quantities) -> Decimal:
    """What a day that is not done by closing costs more: everybody there and back, set up, clear away once more.

    The work that is left costs the same hours on either day and is not in it. Each person's amount is rounded.
    """
    again_h = quantities.second_visit_min / 60 + drive_h(job)
    people = sum(
        (
            rounded((person.hourly_rate or Decimal(0)) * Decimal(str(round(again_h, 2))))
            for person in working_people(job, quantities)
        ),
        Decimal(0),
    )
    if job.van.drive_one_way_km is None:
        return people
    return people + rounded(per_km(job, catalog) * Decimal(str(2 * job.van.drive_one_way_km)))


def cases_of(job: Job, catalog: Catalog, quantities: Quantities, direct: DirectCost) -> Cases:
    """The direct costs that the job may have, each with its weight; empty where no day was simulated.

    Parameters
    ----------
    job, catalog, quantities : Job, Catalog, Quantities
        With groups of simulated days, each of which ends in up to four ways, and equally likely minutes before the day.
    direct : DirectCost
        At the planned hours: goods, ways, waste and visits are taken from it as they are.
    """
    amounts = {line.id: line.amount for line in direct.lines}
    people = working_people(job, quantities)
    labour = {f"labour:{person.id}" for person in people}
    fixed = sum((amount for name, amount in amounts.items() if name != "office" and name not in labour), Decimal(0))
    lead_rate = people[0].hourly_rate or Decimal(0) if people else Decimal(0)
    office = [rounded(lead_rate * Decimal(str(round(minutes / 60, 2)))) for minutes in quantities.office_min]
    again, lost = second_visit_cost(job, catalog, quantities), job.price.loss_cost or Decimal(0)
    way_h = drive_h(job)
    found: Counter[Decimal] = Counter()
    for day in quantities.work_days:
        hours = sum(
            (
                labour_of(
                    person,
                    on_site_min=day.crew_minutes.get(person.id, 0),
                    night_min=day.crew_night_minutes.get(person.id, 0),
                    drive_h=way_h,
                )[0]
                for person in people
            ),
            Decimal(0),
        )
        for more, weight in (
            (Decimal(0), day.closed_kept),
            (lost, day.closed_broken),
            (again, day.late_kept),
            (again + lost, day.late_broken),
        ):
            if weight:
                for before in office or [amounts.get("office", Decimal(0))]:
                    found[fixed + hours + more + before] += weight
    return dict(sorted(found.items()))


def quantile(cases: Cases, *, risk_share: Fraction) -> Decimal:
    """The lowest of the costs that is exceeded with a probability of no more than `risk_share`.

    Parameters
    ----------
    cases : Cases
        At least one.
    risk_share : Fraction
        [0..1[
    """
    above, allowed = sum(cases.values()), risk_share * sum(cases.values())
    for cost, weight in cases.items():
        above -= weight
        if above <= allowed:
            return cost
    raise ValueError("no cases to price")


def expected_cost(cases: Cases, terms: Terms) -> Decimal:
    """Mean of the costs with overhead, rounded once."""
    total = sum((weight * terms.cost(direct) for direct, weight in cases.items()), Decimal(0))
    return rounded(total / sum(cases.values()))


def floor_of(cases: Cases, terms: Terms) -> Decimal:
    """The price before tax below which the job is not to be taken: the expected cost with overhead, and no margin.

    Notes
    -----
    floor = sum of weight x (direct + overhead) / sum of weights. Whoever sells such jobs below it loses money in the long
    run however lucky single days are. The cost that is exceeded on every second job (p50) would be too low a floor: costs
    are skewed, for a second visit or lost animals make a job much dearer and nothing makes it much cheaper.
    """
    return expected_cost(cases, terms)


def exceeded(cases: Cases, terms: Terms, amount: Decimal) -> float:
    """Probability that the cost with overhead lies above an amount [0..1]."""
    return sum(weight for direct, weight in cases.items() if terms.cost(direct) > amount) / sum(cases.values())


def carried_price(cases: Cases, terms: Terms, risk_share: float) -> CarriedPrice:
    """The fixed price that carries the cost but for a risk, never below the floor.

    Notes
    -----
    cost = the lowest direct cost exceeded with a probability of no more than the risk, with overhead;
    price = max(cost / (1 - margin share), floor).
    """
    cost = terms.cost(quantile(cases, risk_share=Fraction(str(risk_share))))
    by_margin, floor = terms.price(cost), floor_of(cases, terms)
    price = max(by_margin, floor)
    tax = terms.tax(price)
    return CarriedPrice(
        risk_share=risk_share,
        cost=cost,
        price=price,
        tax=tax,
        total=price + tax,
        losing_share=exceeded(cases, terms, price),
        at_floor=floor > by_margin,
    )


def _odds(
    job: Job, catalog: Catalog, quantities: Quantities, cases: Cases, terms: Terms, *, cost: Decimal, price: Decimal
) -> PriceOdds:
    days = quantities.work_days
    every = sum(map(_weight, days))
    chosen = job.price.risk_share
    risks = sorted({*SHOWN_RISKS, *(() if chosen is None else (chosen,))}, reverse=True)
    floor = floor_of(cases, terms)
    p50, p80, p95 = (terms.cost(quantile(cases, risk_share=Fraction(n, 100))) for n in (50, 20, 5))
    return PriceOdds(
        days=every,
        expected=expected_cost(cases, terms),
        p50=p50,
        p80=p80,
        p95=p95,
        second_visit_share=sum(day.late_kept + day.late_broken for day in days) / every,
        second_visit_cost=second_visit_cost(job, catalog, quantities),
        loss_share=sum(day.closed_broken + day.late_broken for day in days) / every,
        loss_cost=job.price.loss_cost,
        floor=floor,
        floor_total=floor + terms.tax(floor),
        asked_risk_share=exceeded(cases, terms, cost),
        asked_losing_share=exceeded(cases, terms, price),
        carried=tuple(carried_price(cases, terms, risk) for risk in risks),
    )


def _weight(day: WorkDay) -> int:
    return day.closed_kept + day.closed_broken + day.late_kept + day.late_broken


def price_of(
    job: Job, catalog: Catalog, quantities: Quantities, direct: DirectCost
) -> tuple[PriceResult | None, tuple[Assumption, ...]]:
    """The price of a direct cost; None where a rate for it is missing.

    Notes
    -----
    price = (direct cost + overhead) / (1 - margin share), because the margin is a share of the sales price; tax comes
    on top. Lines are rounded to the cent, and the sums are sums of the rounded lines. Where the job names the risk at
    which it is sold, the price is that of ``carried_price``, and the line ``risk`` is what the direct cost that it
    carries lies above that of the planned hours.
    """
    terms = terms_of(job)
    if direct.lacks or terms is None:
        return None, ()
    cases = cases_of(job, catalog, quantities, direct)
    chosen = job.price.risk_share if cases else None
    lines, carried = list(direct.lines), direct.total
    if chosen is not None:
        carried = quantile(cases, risk_share=Fraction(str(chosen)))
        source = f"direct cost that is exceeded in {100 * chosen:.3g} of 100 cases, less that of the planned hours"
        lines.append(PriceLine(id="risk", hours=None, amount=carried - direct.total, source=source))
    cost = terms.cost(carried)
    price = terms.price(cost) if chosen is None else carried_price(cases, terms, chosen).price
    tax = terms.tax(price)
    overhead_share, margin_share = float(terms.overhead_share), float(terms.margin_share)
    lines += [
        PriceLine(id="overhead", hours=None, amount=cost - carried, source=f"{overhead_share:.0%} of direct cost"),
        PriceLine(id="margin", hours=None, amount=price - cost, source=f"{margin_share:.0%} of the price"),
    ]
    return (
        PriceResult(
            currency=job.price.currency,
            lines=tuple(lines),
            cost=cost,
            price=price,
            tax=tax,
            total=price + tax,
            budget=job.price.client_budget,
            odds=_odds(job, catalog, quantities, cases, terms, cost=cost, price=price) if cases else None,
            visit=_visit(job, catalog, quantities, direct, terms),
        ),
        tuple(_assumed(job, cases)),
    )


def _assumed(job: Job, cases: Cases) -> list[Assumption]:
    """What the price rests on that nobody told."""
    found = []
    if job.price.tax_share is None:
        source = "not told: no tax added; the firm's own rules decide"
        found.append(Assumption(field="price.tax_share", value="0", source=source))
    if cases and job.price.risk_share is None:
        source = "not told: the price is that of the planned hours; prices at several risks stand beside it"
        found.append(Assumption(field="price.risk_share", value="none", source=source))
    if cases and job.price.loss_cost is None:
        source = "not told: what lost animals cost the firm is in no price; how it is shared is agreed in the offer"
        found.append(Assumption(field="price.loss_cost", value="0", source=source))
    return found


def further_visit_price(job: Job, catalog: Catalog, quantities: Quantities) -> Decimal | None:
    """What one visit beside the contract is charged with, tax in it: the lead's time and way; None where a rate lacks.

    Parameters
    ----------
    quantities : Quantities
        With the crew of the planned day, whose first one goes.
    """
    people, terms = working_people(job, quantities), terms_of(job)
    if not people or people[0].hourly_rate is None or terms is None:
        return None
    visit_min = USUAL_VISIT_MIN if job.contract.visit_min is None else job.contract.visit_min
    cost = rounded(people[0].hourly_rate * Decimal(str(round(visit_min / 60 + drive_h(job), 2))))
    if job.van.drive_one_way_km is not None:
        cost += rounded(per_km(job, catalog) * Decimal(str(2 * job.van.drive_one_way_km)))
    price = terms.price(terms.cost(cost))
    return price + terms.tax(price)


def _visit(job: Job, catalog: Catalog, quantities: Quantities, direct: DirectCost, terms: Terms) -> VisitPrice | None:
    found = visit_price_of(job, catalog, quantities, direct)
    if found is None:
        return None
    days, lines, unvisited = found
    cost = terms.cost(sum((line.amount for line in lines), Decimal(0)))
    each = terms.price(cost / len(days))
    tax = terms.tax(each)
    return VisitPrice(
        currency=direct.currency, days=days, lines=lines, cost=cost, each=each, tax=tax, total=each + tax,
        unvisited=unvisited,
    )  # fmt: skip
