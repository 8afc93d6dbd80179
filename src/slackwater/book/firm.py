"""The firm's own settings: one entry; what an invoice said when it was issued stands in the invoice."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select

from slackwater.book import moments
from slackwater.book.blobs import content_hash
from slackwater.book.handle import Book
from slackwater.book.photos import drop_unused
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


def save(
    book: Book, facts: str, *, revision: int, at: datetime, by: str, logo: bytes = b"", former_logo: str = ""
) -> FirmRow:
    """Replace the settings.

    Parameters
    ----------
    revision : int
        As read; 0 where there were none.
    logo : bytes
        A new one, whose SHA-256 the settings name.
    former_logo : str
        SHA-256 of the one that they no longer name; empty where it stays or there was none.

    Raises
    ------
    Conflict
        If somebody else has changed them since.
    """
    values = {"facts": facts, "changed_at": moments.stored(at), "changed_by": by}
    with book.writing() as connection:
        if logo:
            book.blobs.put(connection, logo)
        if revision:
            change_row(connection, firm, THE_FIRM, revision=revision, **values)
        elif not insert_once(connection, firm, id=THE_FIRM, **values):
            raise Conflict("Somebody else entered the firm's settings meanwhile. Look at them, then make your change")
        dropped = bool(former_logo) and former_logo != content_hash(logo) and drop_unused(book, connection, former_logo)
    if dropped:
        with book.writing() as connection:
            book.blobs.sweep(connection, former_logo)
    return get(book)


def logo(book: Book, sha256: str) -> bytes:
    """The logo that the settings name.

    Raises
    ------
    CorruptBook
        If it is lost or damaged.
    """
    with book.reading() as connection:
        return book.blobs.get(connection, sha256)
