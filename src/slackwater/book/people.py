"""People: names, contacts, addresses and door codes, in a table of their own behind an id, sealed where a key is set."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, select

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import checked_id, new_id
from slackwater.book.rows import add as add_row
from slackwater.book.rows import change as change_row
from slackwater.book.rows import found, storable
from slackwater.book.sealing import sealed
from slackwater.book.tables import person
from slackwater.errors import Conflict
from slackwater.frozen import Frozen


class Contact(Frozen):
    """One way to reach somebody: ``kind`` such as "phone" or "mail", and the number or address."""

    kind: str
    value: str


class Person(Frozen):
    """What is known of a person or of a firm.

    Attributes
    ----------
    name : str
    contacts : tuple of Contact
    address : str
    access : str
        Door codes, where the key is, whom to ring.
    note : str
    """

    name: str
    contacts: tuple[Contact, ...] = ()
    address: str = ""
    access: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class PersonRow:
    """A person in the book; `person` is None once erased."""

    id: str
    person: Person | None
    revision: int
    added_at: datetime
    erased_at: datetime | None


def add(book: Book, known: Person, *, at: datetime, person_id: str | None = None) -> PersonRow:
    """Enter a person.

    Parameters
    ----------
    at : datetime
        Now, with its time zone.
    person_id : str or None
        An id made by the client; None for one made here.

    Raises
    ------
    Conflict
        If the id is taken.
    """
    new = new_id(at) if person_id is None else checked_id(person_id)
    with book.writing() as connection:
        put(book, connection, known, at=at, person_id=new)
    return get(book, new)


def put(book: Book, connection: Connection, known: Person, *, at: datetime, person_id: str) -> None:
    """As `add`, within a transaction of something that belongs to the person."""
    add_row(connection, person, id=person_id, added_at=moments.stored(at), **_sealed(book, known))


def within(book: Book, connection: Connection, person_ids: list[str]) -> dict[str, Person]:
    """What is known of people, within a transaction; those erased are left out."""
    rows = connection.execute(select(person).where(person.c.id.in_(person_ids), person.c.sealed.is_not(None))).all()
    return {row.id: known for row in rows if (known := _row(book, row).person) is not None}


def get(book: Book, person_id: str) -> PersonRow:
    """A person.

    Raises
    ------
    NotFound, CannotRun, CorruptBook
        If there is none of this id, or the entry cannot be opened.
    """
    with book.reading() as connection:
        return _row(book, found(connection, person, person_id))


def several(book: Book, person_ids: list[str]) -> dict[str, PersonRow]:
    """People by id, for a page that shows many."""
    with book.reading() as connection:
        rows = connection.execute(select(person).where(person.c.id.in_(person_ids))).all()
    return {row.id: _row(book, row) for row in rows}


def change(book: Book, person_id: str, known: Person, *, revision: int) -> PersonRow:
    """Correct a person's entry; what stood there before is not kept.

    Raises
    ------
    NotFound, Conflict
        If it is not there, was erased, or somebody else changed it since `revision` was read.
    """
    with book.writing() as connection:
        if found(connection, person, person_id, locked=True).erased_at is not None:
            raise Conflict("This person was erased from the book; enter them anew if they are a client again")
        change_row(connection, person, person_id, revision=revision, **_sealed(book, known))
    return get(book, person_id)


def _sealed(book: Book, known: Person) -> dict[str, Any]:
    text = json.dumps(known.model_dump(mode="json"), ensure_ascii=False, sort_keys=True)
    storable("person", text)
    return sealed(book, text)


def _row(book: Book, row: Row[Any]) -> PersonRow:
    known = None
    if row.sealed is not None:
        known = Person.model_validate_json(book.safe.open(row.sealed, sealed_with=row.sealed_with))
    return PersonRow(
        id=row.id,
        person=known,
        revision=row.revision,
        added_at=moments.read(row.added_at),
        erased_at=None if row.erased_at is None else moments.read(row.erased_at),
    )
