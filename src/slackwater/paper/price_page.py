"""What the price is made of, for whoever makes it: never on a paper that the client sees."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.paper.data import item_name, money
from slackwater.plan import Plan
from slackwater.reader import Reader
from slackwater.supply.result import DirectCost, PriceLine, PriceResult
from slackwater.units import digits
from slackwater.wording.render import say


def price_data(plan: Plan, job: Job, catalog: Catalog, reader: Reader) -> dict[str, Any] | None:
    """Lines of the calculation in the order in which they add up, each with its "why?"; None without hours and rates.

    Returns
    -------
    mapping or None
        `lines` add up to `total` where there is a price, else to the direct cost; `ceiling` is what the client will pay
        at the most, `over` and `under` by how much the total lies above or below it, empty where none is told.
    """
    supply = plan.supply
    if supply is None or supply.direct is None:
        return None
    price: PriceResult | DirectCost = supply.price or supply.direct
    currency = price.currency
    lines = [_line(line, plan, job, catalog, currency, reader) for line in price.lines]
    ceiling = job.price.client_budget
    found = {"lines": lines, "total": "", "direct": "", "ceiling": money(ceiling, currency), "over": "", "under": ""}
    if not isinstance(price, PriceResult):
        return {**found, "direct": money(price.total, currency)}
    lines.append(
        {
            "name": say("price_line.tax", {}, reader),
            "hours": "",
            "amount": money(price.tax, currency),
            "formula": say("price_why.tax", {"percent": digits(100 * (job.price.tax_share or 0.0))}, reader),
            "inputs": [[say("price_line.before_tax", {}, reader), money(price.price, currency)]],
        }
    )
    if ceiling is not None:
        side = "over" if price.total > ceiling else "under"
        found[side] = money(abs(price.total - ceiling), currency)
    return {**found, "total": money(price.total, currency)}


def _line(line: PriceLine, plan: Plan, job: Job, catalog: Catalog, currency: str, reader: Reader) -> dict[str, Any]:
    kind, _, person = line.id.partition(":")
    return {
        "name": say(f"price_line.{kind}", {"person": person}, reader),
        "hours": "" if line.hours is None else f"{digits(line.hours)} h",
        "amount": money(line.amount, currency),
        "formula": line.source,
        "inputs": _inputs(kind, person, line, plan, job, catalog, currency, reader),
    }


def _inputs(
    kind: str, person: str, line: PriceLine, plan: Plan, job: Job, catalog: Catalog, currency: str, reader: Reader
) -> list[list[str]]:
    """What went into a line: hours and rate, the goods with their prices, what leaves the site."""
    supply = plan.supply
    if kind == "materials" and supply is not None:
        return [
            [
                item_name(order.item, catalog, reader),
                money(order.price, currency) or say("price_why.no_price", {}, reader),
            ]
            for order in supply.order
            if order.packs > 0
        ]
    if kind == "waste" and supply is not None:
        return [[waste.what, money(waste.cost, currency)] for waste in supply.waste if waste.cost is not None]
    if kind in ("overhead", "margin") and supply is not None and supply.direct is not None:
        return [[say("price_line.direct", {}, reader), money(supply.direct.total, currency)]]
    if line.hours is None:
        return []
    rates = {one.id: one.hourly_rate for one in job.people or ()}
    rate = rates.get(person) if kind == "labour" else _per_hour(line)
    return [
        [say("price_why.hours", {}, reader), f"{digits(line.hours)} h"],
        *([[say("price_why.rate", {}, reader), money(rate, currency)]] if rate is not None else []),
    ]


def _per_hour(line: PriceLine) -> Decimal | None:
    return None if not line.hours else line.amount / Decimal(str(line.hours))
