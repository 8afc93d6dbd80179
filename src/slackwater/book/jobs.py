"""Jobs: each is a line of saved versions, of which none is ever changed or left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Row, select, update

from slackwater.book import moments
from slackwater.book.blobs import content_hash
from slackwater.book.faces import face_of
from slackwater.book.handle import Book
from slackwater.book.ids import checked_id, new_id
from slackwater.book.rows import add as add_row
from slackwater.book.rows import change as change_row
from slackwater.book.rows import found
from slackwater.book.tables import job, site, tank
from slackwater.book.tables import version as versions
from slackwater.errors import BadInput, Conflict, NotFound

LONGEST_TEXT = 1_000_000
"""Characters of a job; the examples have about twenty thousand."""


@dataclass(frozen=True, slots=True)
class JobRow:
    """A job in the book.

    Attributes
    ----------
    id : str
    site_id, tank_id : str or None
        Where it is, once known.
    copied_from : str or None
        The job it was begun from.
    newest_n : int
        Number of its newest version.
    events_n : int
        Number of its newest event; 0 while nothing has happened.
    revision : int
        For `place`.
    added_at : datetime
    added_by : str
    name, reference : str
        As the newest version that could be read says them.
    day : date or None
        First date of access for the work, read in the same way.
    """

    id: str
    site_id: str | None
    tank_id: str | None
    copied_from: str | None
    newest_n: int
    events_n: int
    revision: int
    added_at: datetime
    added_by: str
    name: str
    reference: str
    day: date | None


@dataclass(frozen=True, slots=True)
class VersionLine:
    """A saved version without its text, for lists."""

    job_id: str
    n: int
    parent: int
    sha256: str
    saved_at: datetime
    saved_by: str


@dataclass(frozen=True, slots=True)
class Version:
    """A saved version of a job: its text as it stood, with comments."""

    job_id: str
    n: int
    parent: int
    text: str
    sha256: str
    saved_at: datetime
    saved_by: str


class EditConflict(Conflict):
    """Two people edited the same job; nothing of the later edit was saved.

    Attributes
    ----------
    based_on : int
        The version the edit began from.
    newest : Version
        What the other one has saved meanwhile.
    """

    def __init__(self, based_on: int, newest: Version) -> None:
        self.based_on = based_on
        self.newest = newest
        by = f" by {newest.saved_by}" if newest.saved_by else ""
        super().__init__(
            f"This job was changed meanwhile: yours began from version {based_on}, version {newest.n} was saved{by} at "
            f"{newest.saved_at:%Y-%m-%d %H:%M} UTC. Yours was not saved; look at both, then save again"
        )


def create(
    book: Book,
    *,
    text: str,
    at: datetime,
    by: str,
    site_id: str | None = None,
    tank_id: str | None = None,
    copied_from: str | None = None,
    job_id: str | None = None,
) -> JobRow:
    """Begin a job with its first version, both or neither.

    Parameters
    ----------
    text : str
        The job as TOML. It must hold no personal data: those are in `people`.
    at : datetime
        Now, with its time zone.
    by : str
        Id of who does it.
    site_id, tank_id, copied_from : str or None
    job_id : str or None
        An id made by the client; None for one made here.

    Raises
    ------
    NotFound, Conflict, BadInput
        If a linked record is not there or the tank is at another site; if the id is taken; if the text cannot be kept.
    """
    new = new_id(at) if job_id is None else checked_id(job_id)
    with book.writing() as connection:
        _check_place(connection, site_id, tank_id)
        if copied_from is not None:
            found(connection, job, copied_from)
        add_row(
            connection,
            job,
            id=new,
            site_id=site_id,
            tank_id=tank_id,
            copied_from=copied_from,
            added_at=moments.stored(at),
            added_by=by,
        )
        _append(connection, new, 1, text, at=at, by=by)
    return get(book, new)


def save_version(book: Book, job_id: str, text: str, *, parent: int, at: datetime, by: str) -> Version:
    """Append a version; the text that is saved already is not saved twice.

    Parameters
    ----------
    parent : int
        Number of the version the edit began from; it must still be the newest.

    Returns
    -------
    Version
        The new one, or the newest where its text is the same.

    Raises
    ------
    EditConflict
        If somebody else has saved a version meanwhile, with another text.
    NotFound, BadInput
    """
    with book.writing() as connection:
        newest_n = int(found(connection, job, job_id, locked=True).newest_n)
        now = _version(connection, job_id, newest_n)
        if now.text == text:
            return now
        if parent != newest_n:
            raise EditConflict(parent, now)
        _append(connection, job_id, newest_n + 1, text, at=at, by=by)
        return _version(connection, job_id, newest_n + 1)


def place(book: Book, job_id: str, *, site_id: str | None, tank_id: str | None, revision: int) -> JobRow:
    """Say at which site and tank a job is.

    Raises
    ------
    NotFound, Conflict, BadInput
        If something is not there, the tank is at another site, or the job was placed since `revision` was read.
    """
    with book.writing() as connection:
        _check_place(connection, site_id, tank_id)
        change_row(connection, job, job_id, revision=revision, site_id=site_id, tank_id=tank_id)
    return get(book, job_id)


def get(book: Book, job_id: str) -> JobRow:
    """A job.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        return _row(found(connection, job, job_id))


def newest(book: Book, job_id: str) -> Version:
    """The newest version of a job.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        return _version(connection, job_id, int(found(connection, job, job_id).newest_n))


def version(book: Book, job_id: str, n: int) -> Version:
    """A version of a job by its number.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        found(connection, job, job_id)
        return _version(connection, job_id, n)


def history(book: Book, job_id: str) -> list[VersionLine]:
    """All versions of a job without their texts, newest first."""
    columns = [column for column in versions.c if column.name != "text"]
    asked = select(*columns).where(versions.c.job_id == job_id).order_by(versions.c.n.desc())
    with book.reading() as connection:
        rows = connection.execute(asked).all()
    return [
        VersionLine(row.job_id, row.n, row.parent, row.sha256, moments.read(row.saved_at), row.saved_by) for row in rows
    ]


def listed(book: Book, *, limit: int = 100, after: str | None = None) -> list[JobRow]:
    """Jobs, newest first.

    Parameters
    ----------
    limit : int
        At most so many.
    after : str or None
        The last id of the page before.
    """
    asked = select(job).order_by(job.c.id.desc()).limit(limit)
    with book.reading() as connection:
        rows = connection.execute(asked if after is None else asked.where(job.c.id < after)).all()
    return [_row(row) for row in rows]


def several(book: Book, job_ids: Sequence[str]) -> dict[str, JobRow]:
    """Jobs by id, for a page that shows many."""
    with book.reading() as connection:
        rows = connection.execute(select(job).where(job.c.id.in_(job_ids))).all()
    return {row.id: _row(row) for row in rows}


def newest_hashes(book: Book, job_ids: Sequence[str]) -> dict[str, str]:
    """By job, SHA-256 of the text of its newest version."""
    newest = (versions.c.job_id == job.c.id) & (versions.c.n == job.c.newest_n)
    asked = select(versions.c.job_id, versions.c.sha256).join(job, newest).where(job.c.id.in_(job_ids))
    with book.reading() as connection:
        return {row.job_id: row.sha256 for row in connection.execute(asked)}


def by_day(book: Book, *, since: date, limit: int = 100) -> list[JobRow]:
    """Jobs whose day is `since` or later, the next one first."""
    asked = select(job).where(job.c.day >= since.isoformat()).order_by(job.c.day, job.c.id).limit(limit)
    with book.reading() as connection:
        return [_row(row) for row in connection.execute(asked)]


def before_day(book: Book, *, day: date, limit: int = 100) -> list[JobRow]:
    """Jobs whose day is before `day`, the last one first."""
    asked = select(job).where(job.c.day < day.isoformat()).order_by(job.c.day.desc(), job.c.id).limit(limit)
    with book.reading() as connection:
        return [_row(row) for row in connection.execute(asked)]


def without_day(book: Book, *, limit: int = 100) -> list[JobRow]:
    """Jobs that have no day yet, newest first."""
    asked = select(job).where(job.c.day.is_(None)).order_by(job.c.id.desc()).limit(limit)
    with book.reading() as connection:
        return [_row(row) for row in connection.execute(asked)]


def at_site(book: Book, site_id: str) -> list[JobRow]:
    """Jobs of a site, newest first."""
    with book.reading() as connection:
        rows = connection.execute(select(job).where(job.c.site_id == site_id).order_by(job.c.id.desc())).all()
    return [_row(row) for row in rows]


def _check_place(connection: Connection, site_id: str | None, tank_id: str | None) -> None:
    if site_id is not None:
        found(connection, site, site_id)
    if tank_id is not None and found(connection, tank, tank_id).site_id != site_id:
        raise BadInput("This tank stands at another site than the one given; choose a tank of this site")


def _append(connection: Connection, job_id: str, n: int, text: str, *, at: datetime, by: str) -> None:
    if len(text) > LONGEST_TEXT:
        raise BadInput(
            f"The job has {len(text)} characters, expected at most {LONGEST_TEXT}: is it the right file? It was not saved"
        )
    add_row(
        connection,
        versions,
        job_id=job_id,
        n=n,
        parent=n - 1,
        text=text,
        sha256=_text_hash(text),
        saved_at=moments.stored(at),
        saved_by=by,
    )
    connection.execute(update(job).where(job.c.id == job_id).values(newest_n=n, **line_of(text)))


def line_of(text: str) -> dict[str, Any]:
    """What a job's line says of its text; nothing new where that cannot be read."""
    face = face_of(text)
    if face is None:
        return {}
    return {
        "name": face.name,
        "reference": face.reference,
        "day": None if face.day is None else face.day.isoformat(),
    }


def _text_hash(text: str) -> str:
    # What cannot be encoded is refused with a sentence where the row is written.
    return content_hash(text.encode("utf-8", errors="replace"))


def _version(connection: Connection, job_id: str, n: int) -> Version:
    row = connection.execute(select(versions).where(versions.c.job_id == job_id, versions.c.n == n)).one_or_none()
    if row is None:
        raise NotFound(f"This job has no version {n}")
    return Version(
        job_id=row.job_id,
        n=row.n,
        parent=row.parent,
        text=row.text,
        sha256=row.sha256,
        saved_at=moments.read(row.saved_at),
        saved_by=row.saved_by,
    )


def _row(row: Row[Any]) -> JobRow:
    return JobRow(
        id=row.id,
        site_id=row.site_id,
        tank_id=row.tank_id,
        copied_from=row.copied_from,
        newest_n=row.newest_n,
        events_n=row.events_n,
        revision=row.revision,
        added_at=moments.read(row.added_at),
        added_by=row.added_by,
        name=row.name,
        reference=row.reference,
        day=None if row.day is None else date.fromisoformat(row.day),
    )
