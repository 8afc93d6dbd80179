"""Finished jobs that are not learned from, each with its reason; every decision stays, and the last of a job counts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, func, select

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import checked_id, new_id
from slackwater.book.rows import found, insert_once, storable
from slackwater.book.tables import job, left_out
from slackwater.errors import BadInput


@dataclass(frozen=True, slots=True)
class Decision:
    """Whether a job is left out of what is learned, as somebody decided it.

    Attributes
    ----------
    job_id : str
    is_out : bool
    reason : str
        Why; may be empty where it is taken back in.
    """

    id: str
    job_id: str
    is_out: bool
    reason: str
    added_at: datetime
    added_by: str


def leave_out(
    book: Book, job_id: str, *, reason: str, at: datetime, by: str, decision_id: str | None = None
) -> Decision:
    """Leave a job out from now on.

    Raises
    ------
    NotFound, BadInput
        If there is no such job; if no reason is told.
    """
    if not reason.strip():
        raise BadInput("Leaving a job out needs a reason")
    return _decide(book, job_id, is_out=True, reason=reason, at=at, by=by, decision_id=decision_id)


def take_in(book: Book, job_id: str, *, at: datetime, by: str, decision_id: str | None = None) -> Decision:
    """Learn from a job again.

    Raises
    ------
    NotFound
    """
    return _decide(book, job_id, is_out=False, reason="", at=at, by=by, decision_id=decision_id)


def _decide(
    book: Book, job_id: str, *, is_out: bool, reason: str, at: datetime, by: str, decision_id: str | None
) -> Decision:
    storable("reason", reason)
    new = new_id(at) if decision_id is None else checked_id(decision_id)
    values = {"id": new, "job_id": job_id, "is_out": is_out, "reason": reason}
    with book.writing() as connection:
        # The locked row makes decisions follow each other, whatever the clocks of two machines say.
        found(connection, job, job_id, locked=True)
        count = connection.scalar(select(func.count()).where(left_out.c.job_id == job_id)) or 0
        # A form that is sent twice decides once.
        insert_once(connection, left_out, **values, n=count + 1, added_at=moments.stored(at), added_by=by)
        return _row(found(connection, left_out, new))


def now_out(book: Book) -> dict[str, Decision]:
    """By job, the decision that holds for those that are left out now."""
    last = {decision.job_id: decision for decision in _all(book)}
    return {job_id: decision for job_id, decision in last.items() if decision.is_out}


def of_job(book: Book, job_id: str) -> list[Decision]:
    """All decisions about a job, in their order."""
    return [decision for decision in _all(book) if decision.job_id == job_id]


def _all(book: Book) -> list[Decision]:
    with book.reading() as connection:
        rows = connection.execute(select(left_out).order_by(left_out.c.job_id, left_out.c.n)).all()
    return [_row(row) for row in rows]


def _row(row: Row[Any]) -> Decision:
    return Decision(
        id=row.id,
        job_id=row.job_id,
        is_out=bool(row.is_out),
        reason=row.reason,
        added_at=moments.read(row.added_at),
        added_by=row.added_by,
    )
