"""Documents of a job: papers made, a building's file, a water report; kept as they came, shown as downloads only."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, select

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import checked_id, new_id
from slackwater.book.rows import add as add_row
from slackwater.book.rows import found
from slackwater.book.tables import document, job
from slackwater.errors import BadInput, NotFound

LARGEST_BYTES = 25_000_000
MEDIA_TYPE = re.compile(r"[a-z]+/[a-z0-9][a-z0-9.+-]{0,80}")


@dataclass(frozen=True, slots=True)
class DocumentRow:
    """A document; `sha256` is None once erased."""

    id: str
    job_id: str
    sha256: str | None
    media_type: str
    title: str
    added_at: datetime
    added_by: str
    erased_at: datetime | None


def add(
    book: Book,
    job_id: str,
    content: bytes,
    *,
    title: str,
    media_type: str,
    at: datetime,
    by: str,
    document_id: str | None = None,
) -> DocumentRow:
    """Keep a document.

    Parameters
    ----------
    title : str
        What people call it.
    media_type : str
        Such as "application/pdf", as told by who sends it: it is not looked into.

    Raises
    ------
    BadInput, NotFound, Conflict
        If it is too large or of no known form; if there is no such job; if the id is taken.
    """
    if len(content) > LARGEST_BYTES:
        raise BadInput(f"The document has {len(content) / 1e6:.0f} MB, expected at most {LARGEST_BYTES / 1e6:.0f} MB")
    if not MEDIA_TYPE.fullmatch(media_type):
        raise BadInput(f'"{media_type[:60]}" is no kind of document; expected one such as application/pdf')
    new = new_id(at) if document_id is None else checked_id(document_id)
    with book.writing() as connection:
        found(connection, job, job_id)
        add_row(
            connection,
            document,
            id=new,
            job_id=job_id,
            sha256=book.blobs.put(connection, content),
            media_type=media_type,
            title=title,
            added_at=moments.stored(at),
            added_by=by,
        )
    return get(book, new)


def get(book: Book, document_id: str) -> DocumentRow:
    """What is known of a document.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        return _row(found(connection, document, document_id))


def content(book: Book, document_id: str) -> bytes:
    """A document itself.

    Raises
    ------
    NotFound, CorruptBook
        If there is none or it was erased; if its file is lost or damaged.
    """
    with book.reading() as connection:
        row = found(connection, document, document_id)
        if row.sha256 is None:
            raise NotFound("This document was erased")
        return book.blobs.get(connection, row.sha256)


def of_job(book: Book, job_id: str) -> list[DocumentRow]:
    """Documents of a job, in the order of entry."""
    with book.reading() as connection:
        rows = connection.execute(select(document).where(document.c.job_id == job_id).order_by(document.c.id)).all()
    return [_row(row) for row in rows]


def _row(row: Row[Any]) -> DocumentRow:
    return DocumentRow(
        id=row.id,
        job_id=row.job_id,
        sha256=row.sha256,
        media_type=row.media_type,
        title=row.title,
        added_at=moments.read(row.added_at),
        added_by=row.added_by,
        erased_at=None if row.erased_at is None else moments.read(row.erased_at),
    )
