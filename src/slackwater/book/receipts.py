"""Goods received against the order of a job; goods sent back are received less than nothing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, func, select

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import checked_id, new_id
from slackwater.book.rows import add as add_row
from slackwater.book.rows import found
from slackwater.book.tables import job, receipt
from slackwater.errors import BadInput


@dataclass(frozen=True, slots=True)
class Receipt:
    """One delivery of one line of the order.

    Attributes
    ----------
    line : str
        Id of the line, as in the plan's order.
    ordered : float or None
        What the order said then, in `unit`.
    received : float
        In `unit`.
    at : datetime
        When it came.
    """

    id: str
    job_id: str
    line: str
    ordered: float | None
    received: float
    unit: str
    note: str
    at: datetime
    added_by: str
    received_at: datetime


def add(
    book: Book,
    job_id: str,
    *,
    line: str,
    received: float,
    unit: str,
    at: datetime,
    by: str,
    ordered: float | None = None,
    note: str = "",
    receipt_id: str | None = None,
) -> Receipt:
    """Note a delivery.

    Raises
    ------
    BadInput, NotFound, Conflict
        If an amount is no number; if there is no such job; if the id is taken.
    """
    if not math.isfinite(received) or (ordered is not None and not math.isfinite(ordered)):
        raise BadInput(f"{line[:60]}: received {received} {unit}, expected a number")
    new = new_id(at) if receipt_id is None else checked_id(receipt_id)
    with book.writing() as connection:
        found(connection, job, job_id)
        add_row(
            connection,
            receipt,
            id=new,
            job_id=job_id,
            line=line,
            ordered=ordered,
            received=received,
            unit=unit,
            note=note,
            at=moments.stored(at),
            added_by=by,
            received_at=moments.stored(book.clock()),
        )
        return _row(found(connection, receipt, new))


def of_job(book: Book, job_id: str) -> list[Receipt]:
    """Deliveries for a job, in the order of entry."""
    with book.reading() as connection:
        rows = connection.execute(select(receipt).where(receipt.c.job_id == job_id).order_by(receipt.c.id)).all()
    return [_row(row) for row in rows]


def totals(book: Book, job_id: str) -> dict[tuple[str, str], float]:
    """What has come in all, by line and unit."""
    asked = select(receipt.c.line, receipt.c.unit, func.sum(receipt.c.received)).where(receipt.c.job_id == job_id)
    with book.reading() as connection:
        rows = connection.execute(asked.group_by(receipt.c.line, receipt.c.unit)).all()
    return {(line, unit): float(total) for line, unit, total in rows}


def _row(row: Row[Any]) -> Receipt:
    return Receipt(
        id=row.id,
        job_id=row.job_id,
        line=row.line,
        ordered=row.ordered,
        received=row.received,
        unit=row.unit,
        note=row.note,
        at=moments.read(row.at),
        added_by=row.added_by,
        received_at=moments.read(row.received_at),
    )
