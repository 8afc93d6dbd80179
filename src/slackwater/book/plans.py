"""Computed plans, each kept with the version and the inputs it was computed from."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, select

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import new_id
from slackwater.book.rows import add as add_row
from slackwater.book.rows import found, insert_once
from slackwater.book.tables import job, plan, plan_summary, version
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


@dataclass(frozen=True, slots=True)
class PlanSummary:
    """What a list shows of a plan, without reading it."""

    job_id: str
    version_n: int
    summary: Mapping[str, Any]
    computed_at: datetime


def keep(
    book: Book,
    job_id: str,
    version_n: int,
    *,
    plan_json: str,
    inputs_hash: str,
    at: datetime,
    summary: Mapping[str, Any] | None = None,
) -> PlanRow:
    """Keep a plan; for inputs that are there already the kept one stands.

    Parameters
    ----------
    summary : mapping or None
        The few values that lists show: the verdict, how many facts are missing, dates to order by.

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
        new, computed_at = new_id(at), moments.stored(at)
        if insert_once(
            connection,
            plan,
            id=new,
            job_id=job_id,
            version_n=version_n,
            inputs_hash=inputs_hash,
            plan_json=plan_json,
            computed_at=computed_at,
        ):
            add_row(
                connection,
                plan_summary,
                id=new,
                job_id=job_id,
                version_n=version_n,
                summary=json.dumps(dict(summary or {}), ensure_ascii=True, sort_keys=True),
                computed_at=computed_at,
            )
    kept = of_inputs(book, job_id, version_n, inputs_hash)
    assert kept is not None
    return kept


def summaries(book: Book, job_ids: Sequence[str]) -> dict[str, PlanSummary]:
    """By job, what to show of the plan that `newest` gives; jobs without a plan are left out."""
    asked = select(plan_summary).where(plan_summary.c.job_id.in_(job_ids))
    with book.reading() as connection:
        rows = connection.execute(asked.order_by(plan_summary.c.version_n, plan_summary.c.computed_at)).all()
    return {
        row.job_id: PlanSummary(row.job_id, row.version_n, json.loads(row.summary), moments.read(row.computed_at))
        for row in rows
    }


def newest_inputs(book: Book, job_ids: Sequence[str]) -> dict[str, tuple[int, str]]:
    """By job, version and inputs of the plan that `newest` gives; jobs without a plan are left out."""
    asked = select(plan.c.job_id, plan.c.version_n, plan.c.inputs_hash).where(plan.c.job_id.in_(job_ids))
    with book.reading() as connection:
        rows = connection.execute(asked.order_by(plan.c.version_n, plan.c.computed_at)).all()
    return {row.job_id: (row.version_n, row.inputs_hash) for row in rows}


def of_inputs(book: Book, job_id: str, version_n: int, inputs_hash: str) -> PlanRow | None:
    """The plan computed from these inputs, if it was."""
    asked = select(plan).where(
        plan.c.job_id == job_id, plan.c.version_n == version_n, plan.c.inputs_hash == inputs_hash
    )
    with book.reading() as connection:
        row = connection.execute(asked).one_or_none()
    return None if row is None else _row(row)


def inputs_of(book: Book, job_id: str, version_n: int) -> list[str]:
    """Inputs that plans of a version were computed from, the last computed first."""
    asked = select(plan.c.inputs_hash).where(plan.c.job_id == job_id, plan.c.version_n == version_n)
    with book.reading() as connection:
        return list(connection.scalars(asked.order_by(plan.c.computed_at.desc())))


def planned_versions(book: Book, job_id: str) -> list[int]:
    """Numbers of the versions that have a plan, the newest first."""
    asked = select(plan.c.version_n).where(plan.c.job_id == job_id).distinct()
    with book.reading() as connection:
        return list(connection.scalars(asked.order_by(plan.c.version_n.desc())))


def newest(book: Book, job_id: str) -> PlanRow | None:
    """The plan of the newest version that has one, the last computed of it; None where there is none."""
    asked = select(plan).where(plan.c.job_id == job_id)
    with book.reading() as connection:
        row = connection.execute(asked.order_by(plan.c.version_n.desc(), plan.c.computed_at.desc()).limit(1)).first()
    return None if row is None else _row(row)


def made(book: Book, job_id: str) -> list[tuple[datetime, int, str]]:
    """When each plan of a job was computed, of which version and from which inputs, the earliest first."""
    asked = select(plan.c.computed_at, plan.c.version_n, plan.c.inputs_hash).where(plan.c.job_id == job_id)
    with book.reading() as connection:
        rows = connection.execute(asked.order_by(plan.c.computed_at, plan.c.version_n)).all()
    return [(moments.read(row.computed_at), row.version_n, row.inputs_hash) for row in rows]


def of_versions(book: Book, job_id: str, *, limit: int = 10) -> list[PlanRow]:
    """The last plan of each of the newest versions that have one, the newest version first."""
    asked = select(plan.c.version_n).where(plan.c.job_id == job_id).distinct().order_by(plan.c.version_n.desc())
    with book.reading() as connection:
        numbers = connection.scalars(asked.limit(limit)).all()
        rows = [
            connection.execute(
                select(plan)
                .where(plan.c.job_id == job_id, plan.c.version_n == n)
                .order_by(plan.c.computed_at.desc())
                .limit(1)
            ).one()
            for n in numbers
        ]
    return [_row(row) for row in rows]


def _row(row: Row[Any]) -> PlanRow:
    return PlanRow(
        job_id=row.job_id,
        version_n=row.version_n,
        inputs_hash=row.inputs_hash,
        plan_json=row.plan_json,
        computed_at=moments.read(row.computed_at),
    )
