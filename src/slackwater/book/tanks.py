"""Tanks, several to a site; what is measured of one stands in its jobs."""

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
from slackwater.book.tables import site, tank


@dataclass(frozen=True, slots=True)
class TankRow:
    """A tank at a site."""

    id: str
    site_id: str
    name: str
    revision: int
    added_at: datetime


def add(book: Book, site_id: str, *, name: str, at: datetime, tank_id: str | None = None) -> TankRow:
    """Enter a tank at a site.

    Raises
    ------
    NotFound, Conflict
        If there is no such site, or the id is taken.
    """
    new = new_id(at) if tank_id is None else checked_id(tank_id)
    with book.writing() as connection:
        found(connection, site, site_id)
        add_row(connection, tank, id=new, site_id=site_id, name=name, added_at=moments.stored(at))
    return get(book, new)


def change(book: Book, tank_id: str, *, name: str, revision: int) -> TankRow:
    """Call a tank otherwise.

    Raises
    ------
    NotFound, Conflict
        If it is not there, or was changed since `revision` was read.
    """
    with book.writing() as connection:
        change_row(connection, tank, tank_id, revision=revision, name=name)
    return get(book, tank_id)


def get(book: Book, tank_id: str) -> TankRow:
    """A tank.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        return _row(found(connection, tank, tank_id))


def at_site(book: Book, site_id: str) -> list[TankRow]:
    """The tanks of a site, in the order of entry."""
    with book.reading() as connection:
        rows = connection.execute(select(tank).where(tank.c.site_id == site_id).order_by(tank.c.id)).all()
    return [_row(row) for row in rows]


def several(book: Book, tank_ids: list[str]) -> dict[str, TankRow]:
    """Tanks by id, for a page that shows many."""
    with book.reading() as connection:
        rows = connection.execute(select(tank).where(tank.c.id.in_(tank_ids))).all()
    return {row.id: _row(row) for row in rows}


def _row(row: Row[Any]) -> TankRow:
    return TankRow(
        id=row.id, site_id=row.site_id, name=row.name, revision=row.revision, added_at=moments.read(row.added_at)
    )
