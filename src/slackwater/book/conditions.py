"""What was there before the work began: scratches, seams, hoses, floor, animals; each with its photos."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import Connection, Row, select

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import checked_id, new_id
from slackwater.book.rows import add as add_row
from slackwater.book.rows import found, insert_once
from slackwater.book.tables import condition, condition_photo, job, photo


class Part(StrEnum):
    """What was looked at."""

    SCRATCHES = "scratches"
    SEAMS = "seams"
    HOSES = "hoses"
    FLOOR = "floor"
    ANIMALS = "animals"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Condition:
    """One thing that was seen.

    Attributes
    ----------
    part : Part
    place : str
        Where, such as "front pane, lower left".
    seen : str
        In words; "nothing" is an answer too.
    photo_ids : tuple of str
    at : datetime
        When it was seen.
    received_at : datetime
        When the book took it, which is what counts later.
    """

    id: str
    job_id: str
    part: Part
    place: str
    seen: str
    photo_ids: tuple[str, ...]
    at: datetime
    added_by: str
    received_at: datetime


def add(
    book: Book,
    job_id: str,
    *,
    part: Part,
    seen: str,
    at: datetime,
    by: str,
    place: str = "",
    photo_ids: Sequence[str] = (),
    condition_id: str | None = None,
) -> Condition:
    """Note what was seen; it cannot be changed later, only added to.

    Raises
    ------
    NotFound, Conflict
        If the job or a photo is not there, or the id is taken.
    """
    new = new_id(at) if condition_id is None else checked_id(condition_id)
    with book.writing() as connection:
        found(connection, job, job_id)
        add_row(
            connection,
            condition,
            id=new,
            job_id=job_id,
            part=part.value,
            place=place,
            seen=seen,
            at=moments.stored(at),
            added_by=by,
            received_at=moments.stored(book.clock()),
        )
        for photo_id in photo_ids:
            _attach(connection, new, photo_id)
    return get(book, new)


def add_photo(book: Book, condition_id: str, photo_id: str) -> Condition:
    """Put a photo to what was seen.

    Raises
    ------
    NotFound
    """
    with book.writing() as connection:
        found(connection, condition, condition_id)
        _attach(connection, condition_id, photo_id)
    return get(book, condition_id)


def get(book: Book, condition_id: str) -> Condition:
    """One thing that was seen.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        return _rows(connection, [found(connection, condition, condition_id)])[0]


def of_job(book: Book, job_id: str) -> list[Condition]:
    """The record of a job, in the order of entry."""
    with book.reading() as connection:
        asked = select(condition).where(condition.c.job_id == job_id).order_by(condition.c.id)
        return _rows(connection, list(connection.execute(asked)))


def _attach(connection: Connection, condition_id: str, photo_id: str) -> None:
    found(connection, photo, photo_id)
    insert_once(connection, condition_photo, condition_id=condition_id, photo_id=photo_id)


def _rows(connection: Connection, rows: Sequence[Row[Any]]) -> list[Condition]:
    asked = select(condition_photo).where(condition_photo.c.condition_id.in_([row.id for row in rows]))
    photos: dict[str, list[str]] = {}
    for link in connection.execute(asked.order_by(condition_photo.c.photo_id)):
        photos.setdefault(link.condition_id, []).append(link.photo_id)
    return [
        Condition(
            id=row.id,
            job_id=row.job_id,
            part=Part(row.part),
            place=row.place,
            seen=row.seen,
            photo_ids=tuple(photos.get(row.id, ())),
            at=moments.read(row.at),
            added_by=row.added_by,
            received_at=moments.read(row.received_at),
        )
        for row in rows
    ]
