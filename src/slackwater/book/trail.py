"""The trail: who came in, who failed to, who changed a role, made a link, erased or changed something. The database refuses to change it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from sqlalchemy import select

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import new_id
from slackwater.book.rows import add as add_row
from slackwater.book.tables import trail


class Deed(StrEnum):
    """What was done."""

    SIGNED_IN = "signed_in"
    SIGNED_OUT = "signed_out"
    FAILED = "failed"
    ACCOUNT_ADDED = "account_added"
    ACCOUNT_CLOSED = "account_closed"
    ROLE_CHANGED = "role_changed"
    PASSWORD_CHANGED = "password_changed"
    SESSIONS_ENDED = "sessions_ended"
    LINK_MADE = "link_made"
    LINK_ENDED = "link_ended"
    ERASED = "erased"
    CHANGED = "changed"
    """Anything else that was sent and taken; the note is its address."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry.

    Attributes
    ----------
    by : str
        Id of the account; empty for somebody who is not signed in, or sits at the machine itself.
    about : str
        Id of the account, job or record; no name.
    note : str
        A word more, such as the new role.
    """

    id: str
    at: datetime
    deed: Deed
    by: str
    about: str
    note: str


def note(book: Book, deed: Deed, *, at: datetime, by: str = "", about: str = "", note: str = "") -> None:
    """Add an entry."""
    with book.writing() as connection:
        row = {"id": new_id(at), "at": moments.stored(at), "deed": deed.value, "by": by, "about": about, "note": note}
        add_row(connection, trail, **row)


def listed(book: Book, *, limit: int = 100, before: str | None = None) -> list[Entry]:
    """Entries, the newest first.

    Parameters
    ----------
    before : str or None
        The last id of the page before.
    """
    asked = select(trail).order_by(trail.c.id.desc()).limit(limit)
    with book.reading() as connection:
        rows = connection.execute(asked if before is None else asked.where(trail.c.id < before)).all()
    return [Entry(row.id, moments.read(row.at), Deed(row.deed), row.by, row.about, row.note) for row in rows]
