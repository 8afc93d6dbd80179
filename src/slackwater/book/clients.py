"""Clients, and who speaks for them; a client's own name is that of a person or firm in `people`."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, select

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import checked_id, new_id
from slackwater.book.rows import add as add_row
from slackwater.book.rows import found, insert_once
from slackwater.book.tables import client, client_person, person

THE_CLIENT = "client"
"""The role of the person or firm that the client is; others are contacts, such as "caretaker"."""


@dataclass(frozen=True, slots=True)
class ClientRow:
    """A client.

    Attributes
    ----------
    id : str
    people : tuple of (str, str)
        Role and id of each person, in the order of entry.
    added_at : datetime
    """

    id: str
    people: tuple[tuple[str, str], ...]
    added_at: datetime

    @property
    def person_id(self) -> str | None:
        """The person or firm that the client is."""
        return next((known for role, known in self.people if role == THE_CLIENT), None)


def add(book: Book, *, person_id: str, at: datetime, client_id: str | None = None) -> ClientRow:
    """Enter a client, who is a person or firm in the book already.

    Raises
    ------
    NotFound, Conflict
        If there is no such person, or the id is taken.
    """
    new = new_id(at) if client_id is None else checked_id(client_id)
    with book.writing() as connection:
        found(connection, person, person_id)
        add_row(connection, client, id=new, added_at=moments.stored(at))
        _join(connection, new, person_id, THE_CLIENT, at)
    return get(book, new)


def add_person(book: Book, client_id: str, *, person_id: str, role: str, at: datetime) -> ClientRow:
    """Add somebody who speaks for a client, such as its caretaker; the same one twice is kept once.

    Raises
    ------
    NotFound
        If there is no such client or person.
    """
    with book.writing() as connection:
        found(connection, client, client_id)
        found(connection, person, person_id)
        _join(connection, client_id, person_id, role, at)
    return get(book, client_id)


def get(book: Book, client_id: str) -> ClientRow:
    """A client.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        row = found(connection, client, client_id)
        return _rows(connection, [(row.id, row.added_at)])[0]


def listed(book: Book, *, limit: int = 100, after: str | None = None) -> list[ClientRow]:
    """Clients, newest first.

    Parameters
    ----------
    limit : int
        At most so many.
    after : str or None
        The last id of the page before.
    """
    asked = select(client.c.id, client.c.added_at).order_by(client.c.id.desc()).limit(limit)
    with book.reading() as connection:
        rows = connection.execute(asked if after is None else asked.where(client.c.id < after)).all()
        return _rows(connection, [(row.id, row.added_at) for row in rows])


def _join(connection: Connection, client_id: str, person_id: str, role: str, at: datetime) -> None:
    insert_once(
        connection, client_person, client_id=client_id, person_id=person_id, role=role, added_at=moments.stored(at)
    )


def _rows(connection: Connection, known: list[tuple[str, str]]) -> list[ClientRow]:
    ids = [client_id for client_id, _ in known]
    asked = select(client_person).where(client_person.c.client_id.in_(ids))
    people: dict[str, list[tuple[str, str]]] = {}
    for row in connection.execute(asked.order_by(client_person.c.added_at, client_person.c.person_id)):
        people.setdefault(row.client_id, []).append((row.role, row.person_id))
    return [
        ClientRow(id=client_id, people=tuple(people.get(client_id, ())), added_at=moments.read(added_at))
        for client_id, added_at in known
    ]
