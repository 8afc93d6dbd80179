"""Rows whose content is sealed because it names people, and how all of them take a new key."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select, update

from slackwater.book import traces
from slackwater.book.handle import Book
from slackwater.book.tables import invoice, invoice_paper, person

TABLES = (person, invoice, invoice_paper)
"""Each with an id, `sealed` (JSON) and `sealed_with`."""
NAMES = frozenset(table.name for table in TABLES)


def sealed(book: Book, text: str) -> dict[str, Any]:
    """A content as its row keeps it."""
    return {"sealed_with": book.safe.fingerprint, "sealed": book.safe.seal(text)}


def seal_all(book: Book) -> None:
    """Make sure that the key fits what is sealed, and seal what was entered before there was a key.

    Raises
    ------
    CannotRun
        If entries are sealed with another key, or a key is needed and none is set.
    """
    used: set[str] = set()
    with book.reading() as connection:
        for table in TABLES:
            used |= set(connection.scalars(select(table.c.sealed_with).where(table.c.sealed.is_not(None)).distinct()))
    for fingerprint in used:
        book.safe.check_key(fingerprint)
    if not used - {book.safe.fingerprint}:
        return
    with book.writing() as connection:
        traces.leave(connection, *NAMES)
        for table in TABLES:
            open_ones = select(table.c.id).where(table.c.sealed.is_not(None), table.c.sealed_with == "")
            # One at a time: papers are large.
            for row_id in connection.scalars(open_ones).all():
                row = connection.execute(select(table).where(table.c.id == row_id).with_for_update()).one()
                text = book.safe.open(row.sealed, sealed_with=row.sealed_with)
                connection.execute(update(table).where(table.c.id == row_id).values(**sealed(book, text)))
    traces.clear(book)
