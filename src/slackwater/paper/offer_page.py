"""The price as people read it: options for the client, what the price carries for the firm."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from slackwater.day.when import clock_time
from slackwater.finding import Verdict
from slackwater.paper.fact_names import finding_told
from slackwater.paper.money import money
from slackwater.plan import Plan
from slackwater.reader import Reader, Typed
from slackwater.supply.result import PlannedOption, PriceOdds, PriceResult, VisitPrice
from slackwater.supply.told import percent_of
from slackwater.wording.render import say, say_count, verdict_sentence


def option_data(plan: Plan, reader: Reader) -> list[dict[str, Any]]:
    """The options as the client reads them: what is in each, whether its day can be kept, what it costs."""
    return [_option(option, plan, reader) for option in plan.options]


def _option(option: PlannedOption, plan: Plan, reader: Reader) -> dict[str, Any]:
    price = option.price
    changes = [say(f"option.change.{name}", {}, reader) for name in option.changes if name not in option.idle]
    verdict = say(f"option.verdict.{option.verdict.name.lower()}", {}, reader)
    counts = {"planting": option.plants, "visit_after": option.visits}
    return {
        "name": Typed(option.name),
        "what": changes or [say("option.as_asked", {}, reader)],
        "idle": [say(f"option.idle.{name}", {}, reader) for name in option.idle],
        "counts": [say_count(name, count, reader) for name, count in counts.items() if count],
        "ready": option.verdict in (Verdict.FITS, Verdict.FITS_IF) and price is not None,
        "verdict": verdict,
        "not_ready": say("offer_paper.not_ready", {"verdict": verdict}, reader),
        "ends": "" if option.finish is None or plan.day is None else clock_time(option.finish, plan.day.opens.date()),
        "late_min": max(0, -(option.margin_min or 0)),
        "closing": "" if option.done_by_closing is None else percent_of(option.done_by_closing),
        "price": money(price.price, price.currency) if price else "",
        "tax": money(price.tax, price.currency) if price else "",
        "total": money(price.total, price.currency) if price else "",
        "carried": risk_words(price, reader) if price else "",
        "floor": money(price.odds.floor, price.currency) if price and price.odds else "",
        "adds": [finding_told(finding, reader) for finding in option.adds],
        "spares": [finding_told(finding, reader) for finding in option.spares],
    }


def risk_words(price: PriceResult, reader: Reader) -> str:
    """In one phrase how often the job costs more than the price carries; empty where no day was simulated."""
    if price.odds is None:
        return ""
    return say("price_risk.carried", {"risk": percent_of(price.odds.asked_risk_share)}, reader)


def risk_data(plan: Plan, reader: Reader) -> dict[str, Any] | None:
    """What the price carries, for whoever makes it: never on a paper that the client sees."""
    price = None if plan.supply is None else plan.supply.price
    if price is None:
        return None
    return {
        "odds": None if price.odds is None else _odds(price, price.odds, reader),
        "visit": None if price.visit is None else visit_data(price.visit, reader),
    }


def _odds(price: PriceResult, odds: PriceOdds, reader: Reader) -> dict[str, Any]:
    def told(amount: Decimal | None) -> str:
        return money(amount, price.currency)

    chosen = any(line.id == "risk" for line in price.lines)
    values: dict[str, float | str] = {
        "price": told(price.price),
        "risk": percent_of(odds.asked_risk_share),
        "losing": percent_of(odds.asked_losing_share),
        "days": odds.days,
        "floor": told(odds.floor),
        "again": told(odds.second_visit_cost),
        "again_share": percent_of(odds.second_visit_share),
        "loss": told(odds.loss_cost),
        "loss_share": percent_of(odds.loss_share),
    }
    return {
        "words": [
            say("price_risk.chosen" if chosen else "price_risk.unchosen", values, reader),
            say("price_risk.losing", values, reader),
            say("price_risk.second_visit", values, reader),
            say("price_risk.loss_unknown" if odds.loss_cost is None else "price_risk.loss", values, reader),
        ],
        "floor": told(odds.floor),
        "below": price.price < odds.floor,
        "costs": [
            [say(f"price_risk.cost.{name}", {}, reader), told(amount)]
            for name, amount in (
                ("planned", price.cost if not chosen else None),
                ("expected", odds.expected),
                ("p50", odds.p50),
                ("p80", odds.p80),
                ("p95", odds.p95),
            )
            if amount is not None
        ],
        "prices": [
            [
                percent_of(item.risk_share),
                told(item.cost),
                told(item.price),
                told(item.total),
                say("price_risk.at_floor" if item.at_floor else "price_risk.losing_share",
                    {"share": percent_of(item.losing_share)}, reader),
            ]
            for item in odds.carried
        ],
    }  # fmt: skip


def visit_data(visit: VisitPrice, reader: Reader) -> dict[str, Any]:
    """The price of one visit, with what it was reckoned from."""
    return {
        "each": money(visit.each, visit.currency),
        "tax": money(visit.tax, visit.currency),
        "total": money(visit.total, visit.currency),
        "words": say(
            "visit_price.from",
            {"count": len(visit.days), "cost": money(visit.cost, visit.currency), "last": visit.days[-1]},
            reader,
        ),
        "unvisited": say("visit_price.unvisited", {"days": ", ".join(map(str, visit.unvisited))}, reader)
        if visit.unvisited
        else "",
    }


def offer_facts(plan: Plan, reader: Reader, for_the_client: frozenset[str]) -> dict[str, Any]:
    """What an offer says, laid out so that two can be held against each other.

    Parameters
    ----------
    for_the_client : frozenset of str
        Ids of the findings that a client must agree to.
    """
    supply = plan.supply
    price = None if supply is None else supply.price
    amounts: list[list[str]] = []
    if price is not None:
        amounts = [[_line_name(line.id, reader), f"{line.amount}"] for line in price.lines]
        amounts += [[say(f"offer_line.{name}", {}, reader), f"{amount}"] for name, amount in (
            ("price", price.price), ("tax", price.tax), ("total", price.total),
        )]  # fmt: skip
        if price.visit is not None:
            amounts.append([say("offer_line.visit_price", {}, reader), f"{price.visit.each}"])
    amounts += [
        [say("offer_line.option", {"name": option.name}, reader), f"{option.price.total}"]
        for option in plan.options
        if option.price is not None
    ]
    goods = [] if supply is None else [line for line in supply.order if line.packs > 0]
    return {
        "currency": "" if price is None else price.currency,
        "amounts": amounts,
        "counts": [[line.item.replace("_", " "), line.packs] for line in goods],
        "texts": [
            verdict_sentence(plan.verdict, plan.findings, reader),
            *(finding_told(finding, reader) for finding in plan.findings if finding.id in for_the_client),
        ],
    }


def _line_name(line_id: str, reader: Reader) -> str:
    kind, _, person = line_id.partition(":")
    return say(f"offer_line.{kind}", {"person": person}, reader)
