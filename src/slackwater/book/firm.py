"""The firm's own settings: one entry; what an invoice said when it was issued stands in the invoice."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.rows import change as change_row
from slackwater.book.rows import insert_once
from slackwater.book.tables import firm
from slackwater.errors import Conflict

THE_FIRM = "firm"
"""The id of the one entry."""


@dataclass(frozen=True, slots=True)
class FirmRow:
    """The settings as JSON, and the revision from which they may be changed; 0 while there are none."""

    facts: str
    revision: int


def get(book: Book) -> FirmRow:
    """The settings; an empty object while there are none."""
    with book.reading() as connection:
        row = connection.execute(select(firm).where(firm.c.id == THE_FIRM)).one_or_none()
    return FirmRow("{}", 0) if row is None else FirmRow(row.facts, row.revision)


def save(book: Book, facts: str, *, revision: int, at: datetime, by: str) -> FirmRow:
    """Replace the settings.

    Parameters
    ----------
    revision : int
        As read; 0 where there were none.

    Raises
    ------
    Conflict
        If somebody else has changed them since.
    """
    values = {"facts": facts, "changed_at": moments.stored(at), "changed_by": by}
    with book.writing() as connection:
        if revision:
            change_row(connection, firm, THE_FIRM, revision=revision, **values)
        elif not insert_once(connection, firm, id=THE_FIRM, **values):
            raise Conflict("Somebody else entered the firm's settings meanwhile. Look at them, then make your change")
    return get(book)
