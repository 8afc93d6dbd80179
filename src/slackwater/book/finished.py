"""Jobs whose day is over and of which something was noted, and what tells whether what is known of them is still right."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Select, func, select

from slackwater.book.handle import Book
from slackwater.book.tables import erasure, job, left_out, plan, receipt


@dataclass(frozen=True, slots=True)
class FinishedJob:
    """A job whose day is over.

    Attributes
    ----------
    job_id : str
    name : str
    day : date
    state : str
        Changes whenever its log, its text, its plans, its deliveries or the list of erasures do.
    """

    job_id: str
    name: str
    day: date
    state: str


def finished_jobs(book: Book, *, before: date) -> list[FinishedJob]:
    """Jobs with a log and a day before a date, the earliest first."""
    made, came = (
        select(table.c.job_id, func.count().label("count"))
        .where(table.c.job_id.in_(_over(before)))
        .group_by(table.c.job_id)
        .subquery()
        for table in (plan, receipt)
    )
    counts = made.c.count.label("plans"), came.c.count.label("receipts")
    asked = (
        select(job.c.id, job.c.name, job.c.reference, job.c.day, job.c.events_n, job.c.newest_n, *counts)
        .outerjoin(made, made.c.job_id == job.c.id)
        .outerjoin(came, came.c.job_id == job.c.id)
        .where(job.c.id.in_(_over(before)))
        .order_by(job.c.day, job.c.id)
    )
    with book.reading() as connection:
        rows = connection.execute(asked).all()
        erased = connection.scalar(select(func.count()).select_from(erasure))
    return [
        FinishedJob(
            job_id=row.id,
            name=row.name or row.reference,
            day=date.fromisoformat(row.day),
            state=f"{row.events_n}.{row.newest_n}.{row.plans or 0}.{row.receipts or 0}.{erased}",
        )
        for row in rows
    ]


def stamp(book: Book, *, before: date) -> tuple[int, ...]:
    """As long as it is the same, so are the states of `finished_jobs` and the jobs that are left out."""
    sums = select(func.count(), func.sum(job.c.events_n), func.sum(job.c.newest_n)).where(job.c.id.in_(_over(before)))
    with book.reading() as connection:
        jobs, events, versions = connection.execute(sums).one()
        made, came = (
            connection.scalar(select(func.count()).select_from(table).where(table.c.job_id.in_(_over(before))))
            for table in (plan, receipt)
        )
        decided = connection.scalar(select(func.count()).select_from(left_out))
        erased = connection.scalar(select(func.count()).select_from(erasure))
    return tuple(int(count or 0) for count in (jobs, events, versions, made, came, decided, erased))


def _over(before: date) -> Select[tuple[str]]:
    return select(job.c.id).where(job.c.day < before.isoformat(), job.c.events_n > 0)
