"""Prices as they were told, each from a day on; an older one stays for the offers that were made with it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Row, func, select

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import checked_id, new_id
from slackwater.book.rows import add as add_row
from slackwater.book.rows import found
from slackwater.book.tables import price
from slackwater.errors import BadInput


@dataclass(frozen=True, slots=True)
class Price:
    """A price.

    Attributes
    ----------
    item : str
        Id of the goods or the work, as in the catalog.
    amount_minor : int
        In the smallest unit of the currency, such as cents.
    currency : str
    unit : str
        What it buys: "piece", "L", "h".
    supplier : str
    valid_from : date
    """

    id: str
    item: str
    amount_minor: int
    currency: str
    unit: str
    supplier: str
    valid_from: date
    note: str
    added_at: datetime
    added_by: str


def add(
    book: Book,
    *,
    item: str,
    amount_minor: int,
    currency: str,
    unit: str,
    valid_from: date,
    at: datetime,
    by: str,
    supplier: str = "",
    note: str = "",
    price_id: str | None = None,
) -> Price:
    """Keep a price.

    Raises
    ------
    BadInput, Conflict
        If it is less than nothing, or names no item or currency; if the id is taken.
    """
    if amount_minor < 0 or not item or not currency:
        raise BadInput(
            f"The price of {item or 'nothing named'} is {amount_minor} {currency}; expected 0 or more, with its currency"
        )
    new = new_id(at) if price_id is None else checked_id(price_id)
    with book.writing() as connection:
        add_row(
            connection,
            price,
            id=new,
            item=item,
            amount_minor=amount_minor,
            currency=currency,
            unit=unit,
            supplier=supplier,
            valid_from=valid_from.isoformat(),
            note=note,
            added_at=moments.stored(at),
            added_by=by,
        )
        return _row(found(connection, price, new))


def on_day(book: Book, day: date) -> dict[str, Price]:
    """The price of each item that holds on a day: the one valid from the latest day, entered last."""
    asked = select(price).where(price.c.valid_from <= day.isoformat())
    with book.reading() as connection:
        rows = connection.execute(asked.order_by(price.c.valid_from, price.c.id)).all()
    return {row.item: _row(row) for row in rows}


def stamp(book: Book, day: date) -> tuple[int, str]:
    """How many prices are valid by a day, and the last id of them: as long as it is the same, so is what `on_day` gives.

    Prices are only ever added.
    """
    asked = select(func.count(), func.max(price.c.id)).where(price.c.valid_from <= day.isoformat())
    with book.reading() as connection:
        count, last = connection.execute(asked).one()
    return int(count), last or ""


def of_item(book: Book, item: str) -> list[Price]:
    """All prices of an item, in the order in which they hold."""
    asked = select(price).where(price.c.item == item).order_by(price.c.valid_from, price.c.id)
    with book.reading() as connection:
        return [_row(row) for row in connection.execute(asked)]


def _row(row: Row[Any]) -> Price:
    return Price(
        id=row.id,
        item=row.item,
        amount_minor=row.amount_minor,
        currency=row.currency,
        unit=row.unit,
        supplier=row.supplier,
        valid_from=date.fromisoformat(row.valid_from),
        note=row.note,
        added_at=moments.read(row.added_at),
        added_by=row.added_by,
    )
