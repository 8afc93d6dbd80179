"""Events: facts appended to a job, never changed; sending one again does no harm."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Row, select, update
from sqlalchemy.exc import IntegrityError

from slackwater.book import moments
from slackwater.book.blobs import content_hash
from slackwater.book.handle import Book
from slackwater.book.rows import LARGEST_INTEGER, add_many, found, insert_once, storable
from slackwater.book.tables import event, job
from slackwater.errors import BadInput
from slackwater.job.event import Event, EventKind

READ_AT_ONCE = 1000
LARGEST_BATCH = 100
"""Events that are taken at once."""
ERASED = ""
"""In place of the hash of an event whose text was erased: what it was can no longer be compared."""


class Reason(StrEnum):
    """Why an event was refused; its sentence is ``book.refused.<reason>`` of the wording."""

    OTHER_BODY = "other_body"
    """An event of this id is in the book, and says something else."""
    OTHER_JOB = "other_job"
    """An event of this id is in the book, under another job."""
    NUMBER_USED = "number_used"
    """This device has used this running number for another event."""
    NOT_STORABLE = "not_storable"
    """A text in it holds what cannot be kept."""


@dataclass(frozen=True, slots=True)
class Accepted:
    """An event that is in the book, now or since before: its id and its number within the job."""

    id: str
    n: int


@dataclass(frozen=True, slots=True)
class Refused:
    """An event that is not in the book, and why."""

    id: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class Appended:
    """What became of a batch; each of its events is in one of the two."""

    accepted: tuple[Accepted, ...]
    refused: tuple[Refused, ...]


@dataclass(frozen=True, slots=True)
class EventRow:
    """An event in the book.

    Attributes
    ----------
    n : int
        Its number within the job, in the order in which events became certain: a reader that asks for those after the
        last number it has seen misses none.
    event : Event
    received_at : datetime
        When the book took it; clocks of phones lie, this one orders.
    """

    n: int
    event: Event
    received_at: datetime


def append(book: Book, job_id: str, events: Sequence[Event]) -> Appended:
    """Append events to a job; those that are refused hinder no other.

    Parameters
    ----------
    events : sequence of Event
        At most `LARGEST_BATCH`; ids are made by the client.

    Raises
    ------
    NotFound, BadInput
        If there is no such job, or there are too many events at once.
    """
    if len(events) > LARGEST_BATCH:
        raise BadInput(f"{len(events)} events at once, expected at most {LARGEST_BATCH}; send them in several parts")
    accepted: list[Accepted] = []
    refused: list[Refused] = []
    with book.writing() as connection:
        # The locked row makes numbers follow commits: who takes n + 1 has waited until n was certain or gone.
        n = before = int(found(connection, job, job_id, locked=True).events_n)
        received = moments.stored(book.clock())
        rows = [
            {"job_id": job_id, "n": n + k, "received_at": received, **_values(fact)}
            for k, fact in enumerate(events, start=1)
            if _storable(fact)
        ]
        if len(rows) == len(events) and _all_are_new(connection, rows) and _inserted_together(connection, rows):
            accepted = [Accepted(row["id"], row["n"]) for row in rows]
            n += len(rows)
        else:
            n = _append_singly(connection, job_id, n, received, events, accepted, refused)
        if n != before:
            connection.execute(update(job).where(job.c.id == job_id).values(events_n=n))
    return Appended(tuple(accepted), tuple(refused))


def _all_are_new(connection: Connection, rows: Sequence[dict[str, Any]]) -> bool:
    ids = {row["id"] for row in rows}
    numbers: dict[str, set[int]] = {}
    for row in rows:
        if row["device"]:
            numbers.setdefault(row["device"], set()).add(row["seq"])
    if len(ids) < len(rows) or sum(map(len, numbers.values())) < sum(bool(row["device"]) for row in rows):
        return False
    # That a device is named stands in each question, for only then may the index of numbers be used.
    asked = [event.c.id.in_(ids)] + [
        (event.c.device != "") & (event.c.device == device) & event.c.seq.in_(used) for device, used in numbers.items()
    ]
    return not any(connection.execute(select(event.c.id).where(one).limit(1)).first() for one in asked)


def _inserted_together(connection: Connection, rows: list[dict[str, Any]]) -> bool:
    """Insert all at once, or none where another device has been quicker with one of them."""
    try:
        with connection.begin_nested():
            add_many(connection, event, rows)
    except IntegrityError:
        return False
    return True


def _append_singly(
    connection: Connection,
    job_id: str,
    n: int,
    received: str,
    events: Sequence[Event],
    accepted: list[Accepted],
    refused: list[Refused],
) -> int:
    """Insert those that can be, one by one, and tell what became of each; the number of the last."""
    for fact in events:
        if not _storable(fact):
            refused.append(Refused(str(fact.id), Reason.NOT_STORABLE))
        elif insert_once(connection, event, job_id=job_id, n=n + 1, received_at=received, **_values(fact)):
            n += 1
            accepted.append(Accepted(str(fact.id), n))
        else:
            told = _told(connection, job_id, fact)
            if isinstance(told, Accepted):
                accepted.append(told)
            else:
                refused.append(told)
    return n


def after(book: Book, job_id: str, n: int = 0, *, limit: int = 1000) -> list[EventRow]:
    """Events of a job whose number is larger, in order.

    Raises
    ------
    NotFound
    """
    asked = select(event).where(event.c.job_id == job_id, event.c.n > n).order_by(event.c.n).limit(limit)
    with book.reading() as connection:
        found(connection, job, job_id)
        return [read_row(row) for row in connection.execute(asked)]


def all_of(book: Book, job_id: str) -> list[EventRow]:
    """All events of a job, in order.

    Raises
    ------
    NotFound
    """
    rows: list[EventRow] = []
    more = True
    while more:
        batch = after(book, job_id, rows[-1].n if rows else 0, limit=READ_AT_ONCE)
        rows += batch
        more = len(batch) == READ_AT_ONCE
    return rows


def event_hash(fact: Event) -> str:
    """SHA-256 of what an event says, whatever the order of its keys."""
    text = json.dumps(fact.model_dump(mode="json"), ensure_ascii=True, sort_keys=True)
    return content_hash(text.encode("ascii"))


def _values(fact: Event) -> dict[str, Any]:
    return {
        "id": str(fact.id),
        "kind": fact.kind.value,
        "subject": fact.subject,
        "at": fact.at.isoformat(),
        "job_reference": fact.job,
        "actor": fact.actor,
        "device": fact.device,
        "seq": fact.seq,
        "body": json.dumps(dict(fact.body), ensure_ascii=True, sort_keys=True),
        "sha256": event_hash(fact),
    }


def _storable(fact: Event) -> bool:
    try:
        for name in ("subject", "job", "actor", "device"):
            storable(name, getattr(fact, name))
        storable("body", json.dumps(dict(fact.body), ensure_ascii=False))
    except BadInput:
        return False
    return fact.seq <= LARGEST_INTEGER


def _told(connection: Connection, job_id: str, fact: Event) -> Accepted | Refused:
    """What is said of an event that could not be inserted."""
    same = select(event.c.job_id, event.c.n, event.c.sha256).where(event.c.id == str(fact.id))
    row = connection.execute(same).one_or_none()
    if row is None:
        return Refused(str(fact.id), Reason.NUMBER_USED)
    if row.job_id != job_id:
        return Refused(str(fact.id), Reason.OTHER_JOB)
    if row.sha256 not in (event_hash(fact), ERASED):
        return Refused(str(fact.id), Reason.OTHER_BODY)
    return Accepted(str(fact.id), int(row.n))


def read_row(row: Row[Any]) -> EventRow:
    """An event out of its row."""
    return EventRow(n=row.n, event=_fact(row), received_at=moments.read(row.received_at))


def _fact(row: Row[Any]) -> Event:
    # It was checked when it was taken, and the log of a day has hundreds: they are not checked again at each look.
    return Event.model_construct(
        id=UUID(row.id),
        at=datetime.fromisoformat(row.at),
        kind=EventKind(row.kind),
        job=row.job_reference,
        subject=row.subject,
        body=json.loads(row.body),
        actor=row.actor,
        device=row.device,
        seq=row.seq,
    )
