"""Water tests of a tank; one that was wrong stays, and a later one says that it corrects it."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, select

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import checked_id, new_id
from slackwater.book.rows import add as add_row
from slackwater.book.rows import found
from slackwater.book.tables import job, tank, water_test
from slackwater.errors import BadInput
from slackwater.job.event import READABLE


@dataclass(frozen=True, slots=True)
class WaterTest:
    """A test.

    Attributes
    ----------
    at : datetime
        When the water was tested.
    readings : mapping of str to float
        By name with unit, those of `slackwater.job.event.READABLE`.
    corrects : str or None
        Id of the test that was wrong.
    """

    id: str
    job_id: str | None
    tank_id: str | None
    corrects: str | None
    at: datetime
    readings: Mapping[str, float]
    note: str
    added_by: str
    received_at: datetime


def add(
    book: Book,
    *,
    readings: Mapping[str, float],
    at: datetime,
    by: str,
    job_id: str | None = None,
    tank_id: str | None = None,
    corrects: str | None = None,
    note: str = "",
    test_id: str | None = None,
) -> WaterTest:
    """Keep a test of a tank, or of a job's tank.

    Raises
    ------
    BadInput
        If a reading is not known, or not within what such a test can show; if neither tank nor job is named.
    NotFound, Conflict
        If something named is not there, or the id is taken.
    """
    _check(readings)
    if job_id is None and tank_id is None:
        raise BadInput("A water test belongs to a tank or to a job; name one")
    new = new_id(at) if test_id is None else checked_id(test_id)
    with book.writing() as connection:
        for table, named in ((job, job_id), (tank, tank_id), (water_test, corrects)):
            if named is not None:
                found(connection, table, named)
        add_row(
            connection,
            water_test,
            id=new,
            job_id=job_id,
            tank_id=tank_id,
            corrects=corrects,
            at=moments.stored(at),
            readings=json.dumps({name: float(value) for name, value in readings.items()}, sort_keys=True),
            note=note,
            added_by=by,
            received_at=moments.stored(book.clock()),
        )
        return _row(found(connection, water_test, new))


def of_tank(book: Book, tank_id: str) -> list[WaterTest]:
    """Tests of a tank, whether entered for it or for one of its jobs, in the order of testing."""
    jobs_there = select(job.c.id).where(job.c.tank_id == tank_id)
    asked = select(water_test).where((water_test.c.tank_id == tank_id) | water_test.c.job_id.in_(jobs_there))
    with book.reading() as connection:
        return [_row(row) for row in connection.execute(asked.order_by(water_test.c.at, water_test.c.id))]


def of_job(book: Book, job_id: str) -> list[WaterTest]:
    """Tests entered for a job, in the order of testing."""
    asked = select(water_test).where(water_test.c.job_id == job_id).order_by(water_test.c.at, water_test.c.id)
    with book.reading() as connection:
        return [_row(row) for row in connection.execute(asked)]


def _check(readings: Mapping[str, float]) -> None:
    if not readings:
        raise BadInput("A water test without a reading; enter at least one")
    for name, value in readings.items():
        if name not in READABLE:
            raise BadInput(f"{name[:60]} is no reading known here; known are {', '.join(READABLE)}")
        low, high = READABLE[name]
        if isinstance(value, bool) or math.isnan(value) or not low <= value <= high:
            raise BadInput(f"{name} is {value:g}, expected {low:g} to {high:g}; look at the test again")


def _row(row: Row[Any]) -> WaterTest:
    return WaterTest(
        id=row.id,
        job_id=row.job_id,
        tank_id=row.tank_id,
        corrects=row.corrects,
        at=moments.read(row.at),
        readings=json.loads(row.readings),
        note=row.note,
        added_by=row.added_by,
        received_at=moments.read(row.received_at),
    )
