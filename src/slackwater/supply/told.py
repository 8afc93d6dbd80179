"""The price as figures that can be asked "why?", and what is to be said of it."""

from __future__ import annotations

from collections.abc import Mapping

from slackwater.figure import Figure
from slackwater.finding import Finding, Severity
from slackwater.supply.result import PriceOdds, PriceResult

DAYS_SOURCE = "simulated days (docs/reference/risk.md), rates of the job, three-point minutes before the day; docs/reference/price.md"
FLOOR_SOURCE = "common practice, no source: what is sold below its expected cost loses money in the long run"


def price_figures(price: PriceResult) -> list[Figure]:
    """Cost, floor, prices at several risks and the price of a visit, each with what it was reckoned from."""
    found = [] if price.odds is None else _odds_figures(price, price.odds)
    if price.visit is not None:
        visit = price.visit
        found.append(
            Figure(
                id="supply.visit_price",
                value=float(visit.each),
                unit=visit.currency,
                formula="(hours, ways and water of all visits + overhead) / (1 - margin share) / number of visits",
                source="visits of the contract, changes of the plan for the weeks after, rates of the job",
                inputs={
                    "visits": len(visit.days),
                    "cost": f"{visit.cost:.2f} {visit.currency}",
                    **{line.id: f"{line.amount:.2f} {visit.currency}" for line in visit.lines},
                },
            )
        )
    return found


def _odds_figures(price: PriceResult, odds: PriceOdds) -> list[Figure]:
    unit = price.currency
    inputs: Mapping[str, float | str] = {
        "days": odds.days,
        "second_visit_share": odds.second_visit_share,
        "second_visit_cost": f"{odds.second_visit_cost:.2f} {unit}",
        "loss_share": odds.loss_share,
        "loss_cost": "not told" if odds.loss_cost is None else f"{odds.loss_cost:.2f} {unit}",
    }
    found = [
        Figure(
            id="supply.cost_expected",
            value=float(odds.expected),
            unit=unit,
            high=float(odds.p95),
            formula="mean over all cases of (hours x rates + goods + ways + second visit + loss) + overhead; "
            "high: 95 of 100 such jobs cost no more",
            source=DAYS_SOURCE,
            inputs={**inputs, "p50": float(odds.p50), "p80": float(odds.p80)},
        ),
        Figure(
            id="supply.floor",
            value=float(odds.floor),
            unit=unit,
            formula="expected cost with overhead, no margin",
            source=FLOOR_SOURCE,
            inputs=inputs,
        ),
        Figure(
            id="supply.price_risk_share",
            value=round(100 * odds.asked_risk_share, 1),
            unit="%",
            formula="100 x share of cases whose cost with overhead lies above price x (1 - margin share)",
            source=DAYS_SOURCE,
            inputs={**inputs, "price": f"{price.price:.2f} {unit}", "cost": f"{price.cost:.2f} {unit}"},
        ),
    ]
    for item in odds.carried:
        found.append(
            Figure(
                id=f"supply.price_at_risk.{percent_of(item.risk_share)}",
                value=float(item.price),
                unit=unit,
                formula="max(cost exceeded with a probability of no more than the risk / (1 - margin share), floor)",
                source=DAYS_SOURCE,
                inputs={
                    **inputs,
                    "risk_share": item.risk_share,
                    "cost": f"{item.cost:.2f} {unit}",
                    "floor": f"{odds.floor:.2f} {unit}",
                },
            )
        )
    return found


def percent_of(share: float) -> str:
    """A risk as people say it: "5 %"."""
    return f"{100 * share:.3g} %"


def price_findings(price: PriceResult, *, chosen: float | None) -> list[Finding]:
    """Whether a risk was chosen, and whether price or ceiling lie below the floor."""
    odds = price.odds
    if odds is None:
        return []
    unit, found = price.currency, []
    floor = f"{odds.floor:.2f} {unit}"
    if chosen is None:
        several = "; ".join(f"{percent_of(item.risk_share)}: {item.price:.2f} {unit}" for item in odds.carried)
        found.append(
            Finding(
                id="supply.risk_unchosen",
                severity=Severity.NOTE,
                values={
                    "price": f"{price.price:.2f} {unit}",
                    "risk": percent_of(odds.asked_risk_share),
                    "several": several,
                },
            )
        )
    if price.price < odds.floor:
        found.append(
            Finding(
                id="supply.below_floor",
                severity=Severity.CONDITION,
                values={"price": f"{price.price:.2f} {unit}", "floor": floor},
                margin=float(price.price - odds.floor),
                margin_unit=unit,
            )
        )
    if price.budget is not None and price.budget < odds.floor_total:
        found.append(
            Finding(
                id="supply.budget_below_floor",
                severity=Severity.CONDITION,
                values={"budget": f"{price.budget:.2f} {unit}", "floor": f"{odds.floor_total:.2f} {unit}"},
                margin=float(price.budget - odds.floor_total),
                margin_unit=unit,
            )
        )
    return found
