"""Computed plans, each kept with the version and the inputs it was computed from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, select

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import new_id
from slackwater.book.rows import found, insert_once
from slackwater.book.tables import job, plan, version
from slackwater.errors import NotFound


@dataclass(frozen=True, slots=True)
class PlanRow:
    """A plan that was computed.

    Attributes
    ----------
    job_id : str
    version_n : int
        The version of the job.
    inputs_hash : str
        Of everything that decides the plan: text, catalog, program. The same inputs give the same plan.
    plan_json : str
        The plan as in plan.json.
    computed_at : datetime
    """

    job_id: str
    version_n: int
    inputs_hash: str
    plan_json: str
    computed_at: datetime


def keep(book: Book, job_id: str, version_n: int, *, plan_json: str, inputs_hash: str, at: datetime) -> PlanRow:
    """Keep a plan; for inputs that are there already the kept one stands.

    Raises
    ------
    NotFound
        If the job has no such version.
    """
    with book.writing() as connection:
        found(connection, job, job_id)
        asked = select(version.c.n).where(version.c.job_id == job_id, version.c.n == version_n)
        if connection.scalar(asked) is None:
            raise NotFound(f"This job has no version {version_n}")
        insert_once(
            connection,
            plan,
            id=new_id(at),
            job_id=job_id,
            version_n=version_n,
            inputs_hash=inputs_hash,
            plan_json=plan_json,
            computed_at=moments.stored(at),
        )
    kept = of_inputs(book, job_id, version_n, inputs_hash)
    assert kept is not None
    return kept


def of_inputs(book: Book, job_id: str, version_n: int, inputs_hash: str) -> PlanRow | None:
    """The plan computed from these inputs, if it was."""
    asked = select(plan).where(
        plan.c.job_id == job_id, plan.c.version_n == version_n, plan.c.inputs_hash == inputs_hash
    )
    with book.reading() as connection:
        row = connection.execute(asked).one_or_none()
    return None if row is None else _row(row)


def newest(book: Book, job_id: str) -> PlanRow | None:
    """The plan of the newest version that has one, the last computed of it; None where there is none."""
    asked = select(plan).where(plan.c.job_id == job_id)
    with book.reading() as connection:
        row = connection.execute(asked.order_by(plan.c.version_n.desc(), plan.c.computed_at.desc()).limit(1)).first()
    return None if row is None else _row(row)


def of_version(book: Book, job_id: str, version_n: int) -> PlanRow | None:
    """The last computed plan of a version; None where there is none."""
    asked = select(plan).where(plan.c.job_id == job_id, plan.c.version_n == version_n)
    with book.reading() as connection:
        row = connection.execute(asked.order_by(plan.c.computed_at.desc()).limit(1)).first()
    return None if row is None else _row(row)


def _row(row: Row[Any]) -> PlanRow:
    return PlanRow(
        job_id=row.job_id,
        version_n=row.version_n,
        inputs_hash=row.inputs_hash,
        plan_json=row.plan_json,
        computed_at=moments.read(row.computed_at),
    )
