"""Links by which a client looks at one job: kept as the hash of their token, with an end."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, select, update

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import new_id
from slackwater.book.rows import add as add_row
from slackwater.book.rows import found
from slackwater.book.tables import job, link, site
from slackwater.errors import NoSuchRecord


@dataclass(frozen=True, slots=True)
class LinkRow:
    """A link; whoever has its token can look until it expires or is ended."""

    id: str
    job_id: str
    added_at: datetime
    expires_at: datetime
    ended_at: datetime | None


def add(book: Book, job_id: str, token_sha256: str, *, at: datetime, until: datetime, by: str) -> LinkRow:
    """Make a link for a job.

    Raises
    ------
    NotFound
        If there is no such job.
    """
    new = new_id(at)
    with book.writing() as connection:
        found(connection, job, job_id)
        times = {"added_at": moments.stored(at), "expires_at": moments.stored(until)}
        add_row(connection, link, id=new, job_id=job_id, token_sha256=token_sha256, added_by=by, **times)
        return _row(found(connection, link, new))


def of_job(book: Book, job_id: str) -> list[LinkRow]:
    """All links of a job, the newest first, those that ended included.

    Raises
    ------
    NotFound
        If there is no such job.
    """
    with book.reading() as connection:
        found(connection, job, job_id)
        rows = connection.execute(select(link).where(link.c.job_id == job_id).order_by(link.c.id.desc()))
        return [_row(row) for row in rows]


def end(book: Book, job_id: str, link_id: str, *, at: datetime) -> bool:
    """End a link of a job; False where it had ended.

    Raises
    ------
    NotFound
        If this job has no such link.
    """
    with book.writing() as connection:
        if found(connection, link, link_id).job_id != job_id:
            raise NoSuchRecord("This job has no such link")
        ended = update(link).where(link.c.id == link_id, link.c.ended_at.is_(None))
        return connection.execute(ended.values(ended_at=moments.stored(at))).rowcount == 1


def end_of_client(book: Book, client_id: str, *, at: datetime) -> int:
    """End all links of a client's jobs; how many there were."""
    jobs = select(job.c.id).join(site, job.c.site_id == site.c.id).where(site.c.client_id == client_id)
    ended = update(link).where(link.c.job_id.in_(jobs), link.c.ended_at.is_(None))
    with book.writing() as connection:
        return connection.execute(ended.values(ended_at=moments.stored(at))).rowcount


def job_of(book: Book, token_sha256: str, *, at: datetime) -> str:
    """The job that a token shows.

    Raises
    ------
    NotFound
        If it was never made, has expired or was ended: nobody is told which.
    """
    asked = select(link.c.job_id).where(
        link.c.token_sha256 == token_sha256, link.c.expires_at > moments.stored(at), link.c.ended_at.is_(None)
    )
    with book.reading() as connection:
        job_id = connection.scalar(asked)
    if job_id is None:
        raise NoSuchRecord("There is no such link")
    return str(job_id)


def _row(row: Row[Any]) -> LinkRow:
    return LinkRow(
        id=row.id,
        job_id=row.job_id,
        added_at=moments.read(row.added_at),
        expires_at=moments.read(row.expires_at),
        ended_at=None if row.ended_at is None else moments.read(row.ended_at),
    )
