"""Photos: the original as it came, a thumbnail for lists, and the place taken out where that is asked."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, select, update

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import checked_id, new_id
from slackwater.book.pictures import Seen, look_at
from slackwater.book.placeless import without_place
from slackwater.book.rows import add as add_row
from slackwater.book.rows import found
from slackwater.book.tables import document, firm, job, photo, tank
from slackwater.errors import NotFound


@dataclass(frozen=True, slots=True)
class PhotoRow:
    """A photo.

    Attributes
    ----------
    sha256 : str or None
        Of the original; None once erased.
    width_px, height_px : int
        Upright.
    has_place : bool
        The file tells where it was taken.
    """

    id: str
    job_id: str | None
    tank_id: str | None
    sha256: str | None
    media_type: str
    width_px: int
    height_px: int
    has_place: bool
    caption: str
    added_at: datetime
    added_by: str
    erased_at: datetime | None


def add(
    book: Book,
    content: bytes,
    *,
    at: datetime,
    by: str,
    job_id: str | None = None,
    tank_id: str | None = None,
    caption: str = "",
    photo_id: str | None = None,
) -> PhotoRow:
    """Keep a photo as it is.

    Parameters
    ----------
    content : bytes
        JPEG, PNG or WebP; the name of its file is not asked, for nothing is done with it.

    Raises
    ------
    BadInput
        If it is no picture that can be kept.
    NotFound, Conflict
        If there is no such job or tank, or the id is taken.
    """
    new = new_id(at) if photo_id is None else checked_id(photo_id)
    seen = look_at(content)
    with book.writing() as connection:
        if job_id is not None:
            found(connection, job, job_id)
        if tank_id is not None:
            found(connection, tank, tank_id)
        add_row(
            connection,
            photo,
            id=new,
            job_id=job_id,
            tank_id=tank_id,
            sha256=book.blobs.put(connection, content),
            caption=caption,
            added_at=moments.stored(at),
            added_by=by,
            **_seen(seen),
        )
    return get(book, new)


def take_place_out(book: Book, photo_id: str) -> PhotoRow:
    """Replace a photo's file by one that does not tell where it was taken; the one before is removed.

    Raises
    ------
    NotFound, BadInput, CorruptBook
        If there is no such photo, or it was erased; or its file cannot be read.
    """
    with book.writing() as connection:
        row = found(connection, photo, photo_id, locked=True)
        if row.sha256 is None:
            raise NotFound("This photo was erased")
        clean = without_place(book.blobs.get(connection, row.sha256))
        values = {**_seen(look_at(clean)), "sha256": book.blobs.put(connection, clean)}
        connection.execute(update(photo).where(photo.c.id == photo_id).values(**values))
        unused = drop_unused(book, connection, row.sha256)
    if unused:
        with book.writing() as connection:
            book.blobs.sweep(connection, row.sha256)
    return get(book, photo_id)


def drop_unused(book: Book, connection: Connection, sha256: str) -> bool:
    """Forget an original that no photo, no document and no letterhead has any more; whether it was one."""
    for table in (photo, document):
        if connection.execute(select(table.c.id).where(table.c.sha256 == sha256).limit(1)).first():
            return False
    if connection.execute(select(firm.c.id).where(firm.c.facts.contains(sha256)).limit(1)).first():
        return False
    book.blobs.drop(connection, sha256)
    return True


def get(book: Book, photo_id: str) -> PhotoRow:
    """What is known of a photo.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        return _row(found(connection, photo, photo_id))


def original(book: Book, photo_id: str) -> bytes:
    """A photo's file.

    Raises
    ------
    NotFound, CorruptBook
        If there is no such photo or it was erased; if its file is lost or damaged.
    """
    with book.reading() as connection:
        row = found(connection, photo, photo_id)
        if row.sha256 is None:
            raise NotFound("This photo was erased")
        return book.blobs.get(connection, row.sha256)


def thumbnail(book: Book, photo_id: str) -> bytes:
    """A photo's thumbnail, as JPEG.

    Raises
    ------
    NotFound
        If there is no such photo, or it was erased.
    """
    with book.reading() as connection:
        content: bytes | None = found(connection, photo, photo_id).thumbnail
    if content is None:
        raise NotFound("This photo was erased")
    return content


def of_job(book: Book, job_id: str) -> list[PhotoRow]:
    """Photos of a job, in the order of entry."""
    columns = [column for column in photo.c if column.name != "thumbnail"]
    with book.reading() as connection:
        rows = connection.execute(select(*columns).where(photo.c.job_id == job_id).order_by(photo.c.id)).all()
    return [_row(row) for row in rows]


def _seen(seen: Seen) -> dict[str, Any]:
    return {
        "media_type": seen.media_type,
        "width_px": seen.width_px,
        "height_px": seen.height_px,
        "has_place": seen.has_place,
        "thumbnail": seen.thumbnail,
    }


def _row(row: Row[Any]) -> PhotoRow:
    return PhotoRow(
        id=row.id,
        job_id=row.job_id,
        tank_id=row.tank_id,
        sha256=row.sha256,
        media_type=row.media_type,
        width_px=row.width_px,
        height_px=row.height_px,
        has_place=row.has_place,
        caption=row.caption,
        added_at=moments.read(row.added_at),
        added_by=row.added_by,
        erased_at=None if row.erased_at is None else moments.read(row.erased_at),
    )
