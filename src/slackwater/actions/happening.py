"""What happened on a job, entered by hand: work started, finished, late, animals counted, something noted, an entry withdrawn."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any
from uuid import UUID

from slackwater.actions import surveying
from slackwater.actions.entering import LONGEST_TEXT, Entered, nothing_there
from slackwater.actions.office import Office
from slackwater.actions.recording import job_of
from slackwater.book import events, plans
from slackwater.book.events import EventRow
from slackwater.book.ids import new_id
from slackwater.errors import BadInput
from slackwater.job.event import Event, EventKind, write_events
from slackwater.wording.render import say

BY_HAND = frozenset({EventKind.STARTED, EventKind.FINISHED, EventKind.SLIPPED, EventKind.COUNTED, EventKind.NOTED})
LONGEST_SLIP_MIN = 24 * 60.0
MOST_ANIMALS = 1e6


@dataclass(frozen=True)
class Told:
    """An event of the log.

    Attributes
    ----------
    row : EventRow
    what : str
        The work or the animals as people call them.
    withdrawn : bool
        A later entry says that it was wrong.
    """

    row: EventRow
    what: str
    withdrawn: bool


@dataclass(frozen=True)
class Log:
    """The log of a job, in the order of time; `work` and `animals` are what can be chosen: id and name."""

    entries: tuple[Told, ...]
    work: tuple[tuple[str, str], ...]
    animals: tuple[tuple[str, str], ...]


def log_of(office: Office, job_id: str) -> Log:
    """What happened on a job so far.

    Raises
    ------
    NotFound
    """
    job_of(office, job_id)
    found = events.all_of(office.book, job_id)
    work, animals = _choices(office, job_id)
    names = {**dict(work), **dict(animals)}
    wrong = {str(row.event.body.get("event")) for row in found if row.event.kind is EventKind.CORRECTED}
    told = [
        Told(row=row, what=names.get(row.event.subject, row.event.subject), withdrawn=str(row.event.id) in wrong)
        for row in found
        if row.event.kind is not EventKind.CORRECTED
    ]
    told.sort(key=lambda entry: (entry.row.event.at.replace(tzinfo=None), entry.row.n))
    return Log(tuple(told), work, animals)


def _choices(office: Office, job_id: str) -> tuple[tuple[tuple[str, str], ...], tuple[tuple[str, str], ...]]:
    """Work of the planned day, in its order, and the animals of the job; without a plan all work that the catalog knows."""
    catalog = surveying.catalog_of(office)
    newest = plans.newest(office.book, job_id)
    planned = () if newest is None else _planned_work(newest.plan_json)
    work = dict(planned) or {row.id: row.activity for row in catalog.activities.values()}
    here = surveying.see(office, job_id).plain.get("livestock")
    kept = {str(entry.get("species")) for entry in here if isinstance(entry, dict)} if isinstance(here, list) else set()
    species = {
        name: animal.common_name
        for name, animal in catalog.species.items()
        if not kept or kept & {name, animal.common_name, animal.scientific_name}
    }
    return tuple(work.items()), tuple(sorted(species.items(), key=lambda item: item[1].lower()))


@lru_cache(maxsize=16)
def _planned_work(plan_json: str) -> tuple[tuple[str, str], ...]:
    """Id and name of all work of a planned day; on the day the log of one job is opened again and again."""
    entries = (json.loads(plan_json).get("day") or {}).get("entries") or ()
    return tuple(
        {
            entry["activity"]: entry["label"] for entry in entries if not str(entry["activity"]).startswith("break:")
        }.items()
    )


def note_event(office: Office, job_id: str, typed: Mapping[str, str], *, by: str = "") -> Event:
    """Append one fact to the log: ``kind``, ``subject``, ``at``, and what the kind asks for.

    Raises
    ------
    NotFound, Unusable
        If there is no such job; if a field cannot be used.
    """
    row = job_of(office, job_id)
    entered = Entered(typed)
    kind = entered.one_of("kind", frozenset(BY_HAND))
    at = entered.clock("at")
    body: dict[str, Any] = {}
    if kind == EventKind.NOTED:
        subject = entered.text("subject")
        body["text"] = entered.needed("text", most=LONGEST_TEXT)
    else:
        work, animals = _choices(office, job_id)
        subject = entered.one_of("subject", dict(animals if kind == EventKind.COUNTED else work))
    if kind == EventKind.SLIPPED:
        body["remaining_min"] = entered.minutes("remaining_min", LONGEST_SLIP_MIN)
    if kind == EventKind.COUNTED:
        caught = entered.number("caught", 0, MOST_ANIMALS)
        if caught != int(caught):
            entered.fault("caught", "whole")
        body["caught"] = int(caught)
    entered.done()
    fact = Event(
        id=UUID(entered.own_id() or new_id(office.clock())),
        at=at,
        kind=EventKind(kind),
        job=row.reference,
        subject=subject,
        body=body,
        actor=by,
    )
    _append(office, job_id, fact)
    return fact


def withdraw(office: Office, job_id: str, event_id: str, *, at: datetime, by: str = "") -> None:
    """Say that an entry of this job's log was wrong; the entry stays and counts no more.

    Raises
    ------
    NotFound
        If this job has no such entry.
    """
    row = job_of(office, job_id)
    found = events.all_of(office.book, job_id)
    if event_id not in {str(entry.event.id) for entry in found if entry.event.kind is not EventKind.CORRECTED}:
        raise nothing_there()
    if any(entry.event.body.get("event") == event_id for entry in found):
        return
    fact = Event(
        id=UUID(new_id(office.clock())),
        at=at,
        kind=EventKind.CORRECTED,
        job=row.reference,
        body={"event": event_id},
        actor=by,
    )
    _append(office, job_id, fact)


def _append(office: Office, job_id: str, fact: Event) -> None:
    told = events.append(office.book, job_id, [fact])
    if told.refused:
        raise BadInput(say(f"book.refused.{told.refused[0].reason.value}", {}))


def log_file(office: Office, job_id: str) -> str:
    """The log as JSON lines, as the command that plans the rest of a day reads it.

    Raises
    ------
    NotFound
    """
    job_of(office, job_id)
    return write_events(row.event for row in events.all_of(office.book, job_id))
