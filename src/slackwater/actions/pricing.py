"""What a user does with prices: see those that hold, tell a new one from a day on, see how one changed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation

from slackwater.actions.book_prices import DECIMALS, in_whole
from slackwater.actions.entering import Entered, nothing_there
from slackwater.actions.office import Office
from slackwater.actions.surveying import catalog_of
from slackwater.book import prices
from slackwater.book.prices import Price
from slackwater.errors import Conflict
from slackwater.reader import currencies

HIGHEST_MINOR = 10**12


@dataclass(frozen=True)
class Held:
    """The price of an item that holds today, and the next one; either may be missing."""

    item: str
    now: Price | None
    coming: Price | None


def amount(price: Price) -> str:
    """A price with its currency, such as "12.50 EUR"."""
    places = DECIMALS.get(price.currency, 2)
    return f"{in_whole(price):.{places}f} {price.currency}"


def held(office: Office) -> list[Held]:
    """All items that have a price, by name."""
    today = office.clock().astimezone().date()
    now, last = prices.on_day(office.book, today), prices.on_day(office.book, date.max)
    found = []
    for item in sorted(last, key=str.lower):
        ahead = last[item].valid_from > today
        coming = (
            next(price for price in prices.of_item(office.book, item) if price.valid_from > today) if ahead else None
        )
        found.append(Held(item, now.get(item), coming))
    return found


def history(office: Office, item: str) -> list[Price]:
    """All prices of an item, the one that holds longest from now first.

    Raises
    ------
    NotFound
        If it has none.
    """
    found = prices.of_item(office.book, item)
    if not found:
        raise nothing_there()
    return found[::-1]


def known_items(office: Office) -> dict[str, str]:
    """Items of the catalog by id, to choose from."""
    return {row.id: row.item for row in catalog_of(office).prices.values()}


def set_price(office: Office, typed: Mapping[str, str], *, by: str = "") -> Price:
    """Tell a price from a day on; older ones stay.

    Raises
    ------
    Unusable
    """
    entered = Entered(typed)
    item, unit, supplier = entered.needed("item"), entered.needed("unit", most=60), entered.text("supplier")
    currency = entered.needed("currency", most=10).upper()
    if currency and currency not in currencies():
        entered.fault("currency", "currency", currency=currency)
    minor = _minor(entered, DECIMALS.get(currency, 2))
    valid_from, note = entered.day("valid_from"), entered.text("note")
    entered.done()
    own = entered.own_id()
    try:
        return prices.add(
            office.book,
            item=item,
            amount_minor=minor,
            currency=currency,
            unit=unit,
            supplier=supplier,
            valid_from=valid_from,
            note=note,
            at=office.clock(),
            by=by,
            price_id=own,
        )
    except Conflict:
        for price in prices.of_item(office.book, item):
            if price.id == own:
                return price
        raise nothing_there() from None


def _minor(entered: Entered, places: int) -> int:
    """An amount such as 12.50 or 12,50 in the smallest unit of its currency."""
    found = entered.text("amount")
    if re.fullmatch(r"[-−]\s*\d[\d.,]*", found):
        entered.fault("amount", "below_nothing", value=found)
        return 0
    if not re.fullmatch(r"\d{1,12}(?:[.,]\d+)?", found):
        entered.fault("amount", "money" if found else "empty")
        return 0
    if re.fullmatch(r"\d{1,3},\d{3}", found):
        entered.fault("amount", "thousand", value=found, whole=found.replace(",", ""), point=found.replace(",", "."))
        return 0
    try:
        minor = Decimal(found.replace(",", ".")).scaleb(places)
    except InvalidOperation:
        minor = Decimal("NaN")
    if minor != minor.to_integral_value() or not 0 <= minor <= HIGHEST_MINOR:
        entered.fault("amount", "money")
        return 0
    return int(minor)
