"""Sites: a client's premises. The address and door codes are an entry in `people`; here stands only what to call it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, select

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import checked_id, new_id
from slackwater.book.rows import add as add_row
from slackwater.book.rows import change as change_row
from slackwater.book.rows import found
from slackwater.book.tables import client, person, site


@dataclass(frozen=True, slots=True)
class SiteRow:
    """A site; `person_id` is whom to ring there, with address and access."""

    id: str
    client_id: str
    person_id: str | None
    name: str
    revision: int
    added_at: datetime


def add(
    book: Book, client_id: str, *, name: str, at: datetime, person_id: str | None = None, site_id: str | None = None
) -> SiteRow:
    """Enter a site of a client.

    Raises
    ------
    NotFound, Conflict
        If there is no such client or person, or the id is taken.
    """
    new = new_id(at) if site_id is None else checked_id(site_id)
    with book.writing() as connection:
        found(connection, client, client_id)
        if person_id is not None:
            found(connection, person, person_id)
        add_row(
            connection,
            site,
            id=new,
            client_id=client_id,
            person_id=person_id,
            name=name,
            added_at=moments.stored(at),
        )
    return get(book, new)


def change(book: Book, site_id: str, *, name: str, person_id: str | None, revision: int) -> SiteRow:
    """Call a site otherwise, or name another person there.

    Raises
    ------
    NotFound, Conflict
        If something is not there, or the site was changed since `revision` was read.
    """
    with book.writing() as connection:
        if person_id is not None:
            found(connection, person, person_id)
        change_row(connection, site, site_id, revision=revision, name=name, person_id=person_id)
    return get(book, site_id)


def get(book: Book, site_id: str) -> SiteRow:
    """A site.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        return _row(found(connection, site, site_id))


def of_client(book: Book, client_id: str) -> list[SiteRow]:
    """A client's sites, in the order of entry."""
    with book.reading() as connection:
        rows = connection.execute(select(site).where(site.c.client_id == client_id).order_by(site.c.id)).all()
    return [_row(row) for row in rows]


def of_clients(book: Book, client_ids: list[str]) -> dict[str, list[SiteRow]]:
    """Sites by client, each in the order of entry, for a page that shows many; clients without a site are left out."""
    with book.reading() as connection:
        rows = connection.execute(select(site).where(site.c.client_id.in_(client_ids)).order_by(site.c.id)).all()
    sites: dict[str, list[SiteRow]] = {}
    for row in rows:
        sites.setdefault(row.client_id, []).append(_row(row))
    return sites


def several(book: Book, site_ids: list[str]) -> dict[str, SiteRow]:
    """Sites by id, for a page that shows many."""
    with book.reading() as connection:
        rows = connection.execute(select(site).where(site.c.id.in_(site_ids))).all()
    return {row.id: _row(row) for row in rows}


def _row(row: Row[Any]) -> SiteRow:
    return SiteRow(
        id=row.id,
        client_id=row.client_id,
        person_id=row.person_id,
        name=row.name,
        revision=row.revision,
        added_at=moments.read(row.added_at),
    )
