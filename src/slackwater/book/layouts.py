"""Layouts of a job: one draft that changes with every touch, and saved versions, of which none is ever changed.

A version is a document like any other, so that it is kept, copied and erased as they are. A draft holds places and heights only;
both tell nothing of people.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from uuid import UUID

from sqlalchemy import select, update

from slackwater.book import documents, moments
from slackwater.book.documents import LARGEST_BYTES, DocumentRow
from slackwater.book.handle import Book
from slackwater.book.ids import new_id
from slackwater.book.rows import add as add_row
from slackwater.book.rows import found, insert_once
from slackwater.book.tables import document, job, layout_draft
from slackwater.errors import BadInput, Conflict, NotFound

MEDIA_TYPE = "model/gltf-binary"
"""Of a saved layout; no other document of a job has it."""


@dataclass(frozen=True, slots=True)
class Draft:
    """What somebody is at.

    Attributes
    ----------
    job_id : str
    revision : int
        Counts the changes.
    based_on : int
        Number of the saved version it began from; 0 where there was none.
    body : str
        Places and heights as JSON.
    """

    job_id: str
    revision: int
    based_on: int
    body: str
    changed_at: datetime
    changed_by: str


@dataclass(frozen=True, slots=True)
class Saved:
    """A saved version; `row.sha256` is None once it was erased."""

    n: int
    row: DocumentRow


def draft(book: Book, job_id: str) -> Draft | None:
    """The draft of a job; None where nobody has begun one."""
    with book.reading() as connection:
        row = connection.execute(select(layout_draft).where(layout_draft.c.id == job_id)).one_or_none()
    if row is None:
        return None
    return Draft(row.id, row.revision, row.based_on, row.body, moments.read(row.changed_at), row.changed_by)


def put_draft(book: Book, job_id: str, body: str, *, based_on: int, revision: int, at: datetime, by: str) -> int:
    """Keep a draft in place of the one before; its new revision.

    Parameters
    ----------
    based_on : int
        Number of the saved version it began from.
    revision : int
        That of the draft which was changed; 0 for a first one.

    Raises
    ------
    NotFound, Conflict
        If there is no such job; if somebody else has changed the draft meanwhile.
    """
    values = {"based_on": based_on, "body": body, "changed_at": moments.stored(at), "changed_by": by}
    with book.writing() as connection:
        found(connection, job, job_id)
        if revision == 0:
            done = insert_once(connection, layout_draft, id=job_id, revision=1, **values)
        else:
            asked = update(layout_draft).where(layout_draft.c.id == job_id, layout_draft.c.revision == revision)
            done = connection.execute(asked.values(revision=revision + 1, **values)).rowcount == 1
    if not done:
        raise Conflict("Somebody else has changed this layout meanwhile. Yours was not kept; look at theirs first")
    return revision + 1


def versions(book: Book, job_id: str) -> list[Saved]:
    """Saved versions of a job's layout, the newest first; one that was erased keeps its number."""
    kept = [row for row in documents.of_job(book, job_id) if row.media_type == MEDIA_TYPE]
    return [Saved(n, row) for n, row in enumerate(kept, start=1)][::-1]


def newest_marks(book: Book) -> dict[str, str]:
    """SHA-256 of the newest saved layout of each job that has one which was not erased, by job."""
    asked = select(document.c.job_id, document.c.sha256).where(document.c.media_type == MEDIA_TYPE)
    with book.reading() as connection:
        rows = connection.execute(asked.order_by(document.c.id)).all()
    return {row.job_id: row.sha256 for row in rows if row.sha256 is not None}


def newest(book: Book, job_id: str) -> Saved | None:
    """The newest saved version of a job's layout that was not erased."""
    return next((saved for saved in versions(book, job_id) if saved.row.sha256 is not None), None)


def save(book: Book, job_id: str, content: bytes, *, title: str, parent: int, at: datetime, by: str) -> Saved:
    """Save a version.

    Parameters
    ----------
    content : bytes
        The scene, glTF binary.
    parent : int
        The newest version when the work began; 0 for none.

    Raises
    ------
    BadInput, NotFound, Conflict
        If it is too large; if there is no such job; if somebody has saved another version meanwhile.
    """
    if len(content) > LARGEST_BYTES:
        raise BadInput(f"The layout has {len(content) / 1e6:.0f} MB, expected at most {LARGEST_BYTES / 1e6:.0f} MB")
    with book.writing() as connection:
        # The locked row makes two who save follow each other.
        found(connection, job, job_id, locked=True)
        asked = select(document.c.id).where(document.c.job_id == job_id, document.c.media_type == MEDIA_TYPE)
        before = sorted(connection.scalars(asked))
        count = len(before)
        if count != parent:
            raise Conflict(
                f"This layout was saved meanwhile: yours began from version {parent}, the newest is {count}. "
                "Yours was not saved; look at both, then save again"
            )
        # Versions are counted in the order of their ids: also two of one moment, or after a clock was set back.
        last_ms = UUID(before[-1]).int >> 80 if before else 0
        new = new_id(max(at, datetime.fromtimestamp((last_ms + 1) / 1000, UTC)))
        add_row(
            connection,
            document,
            id=new,
            job_id=job_id,
            sha256=book.blobs.put(connection, content),
            media_type=MEDIA_TYPE,
            title=title,
            added_at=moments.stored(at),
            added_by=by,
        )
    return Saved(count + 1, documents.get(book, new))


def scene(book: Book, job_id: str, n: int) -> bytes:
    """A saved version as it was saved.

    Raises
    ------
    NotFound, CorruptBook
        If there is none of this number, or it was erased; if its file is damaged.
    """
    with book.reading() as connection:
        # Who asks for a job that is not there is not told whether it had layouts.
        found(connection, job, job_id)
    kept = next((saved for saved in versions(book, job_id) if saved.n == n), None)
    if kept is None:
        raise NotFound(f"This job has no saved layout of number {n}")
    return documents.content(book, kept.row.id)
