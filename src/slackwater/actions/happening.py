"""What happened on a job, entered by hand: work started, finished, late, animals counted, something noted, an entry withdrawn."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any
from uuid import UUID

from slackwater.actions import surveying
from slackwater.actions.due import Due, PlannedWork, due_now, planned_day, stands
from slackwater.actions.entering import LONGEST_TEXT, Entered, nothing_there
from slackwater.actions.office import Office
from slackwater.actions.present import Present, entered_time, present_at
from slackwater.actions.recording import job_of
from slackwater.book import events, jobs, plans
from slackwater.book.events import EventRow
from slackwater.book.ids import new_id
from slackwater.day.told_times import Clash, clashes
from slackwater.errors import BadInput
from slackwater.job.catalog import Catalog
from slackwater.job.event import Event, EventKind, write_events
from slackwater.job.text import read_once
from slackwater.paper.data import item_name
from slackwater.reader import ENGLISH
from slackwater.wording.render import say

BY_HAND = frozenset(
    {
        EventKind.STARTED,
        EventKind.FINISHED,
        EventKind.SLIPPED,
        EventKind.DROPPED,
        EventKind.COUNTED,
        EventKind.USED,
        EventKind.NOTED,
    }
)
SAYING = ("kind", "subject", "at", "remaining_min", "late_min", "caught", "amount", "text", "for_client")
"""Fields that make what a form says; the same said twice from one page is one entry, anything else another."""
FOR_CLIENT = "for_client"
"""In the body of an event, true: its words may be read by the client. All others are the firm's own."""
LONGEST_SLIP_MIN = 24 * 60.0
MOST_ANIMALS = 1e6
MOST_USED = 1e6


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
    clash : Clash or None
        Another entry whose time cannot be right together with this one's.
    """

    row: EventRow
    what: str
    withdrawn: bool
    clash: Clash | None = None

    @property
    def for_client(self) -> bool:
        """Whether its words are meant for the client."""
        return self.row.event.body.get(FOR_CLIENT) is True


@dataclass(frozen=True)
class Goods:
    """Something that may be used on a job: its id, what it is called, the unit it is counted in, how much is planned."""

    item: str
    name: str
    unit: str
    planned: float


@dataclass(frozen=True)
class Log:
    """The log of a job, in the order of time.

    Attributes
    ----------
    entries : tuple of Told
    work, animals : tuple of (str, str)
        What can be chosen: id and name.
    goods : tuple of Goods
        What can be noted as used: the order and the boxes of the newest plan.
    caught : mapping of str to int
        By species, how many were counted so far.
    planned : bool
        Whether the job has a plan that tells when its work is due.
    due : tuple of Due
        Work to be offered now.
    present : Present
        The time that is proposed.
    """

    entries: tuple[Told, ...]
    work: tuple[tuple[str, str], ...]
    animals: tuple[tuple[str, str], ...]
    goods: tuple[Goods, ...]
    caught: Mapping[str, int]
    planned: bool
    due: tuple[Due, ...]
    present: Present


def log_of(office: Office, job_id: str) -> Log:
    """What happened on a job so far, and what is due.

    Raises
    ------
    NotFound
    """
    job_of(office, job_id)
    plain = _plain(office, job_id)
    rows = events.all_of(office.book, job_id)
    day = planned_day(office, job_id)
    work, animals = _choices(office, plain, day)
    goods = goods_of(office, job_id)
    names = {**dict(work), **dict(animals), **{one.item: one.name for one in goods}}
    wrong = _withdrawn(rows)
    counting = _counting(rows)
    against = {event_id: clash for clash in clashes(counting) for event_id in clash.ids}
    told = [
        Told(
            row=row,
            what=names.get(row.event.subject, row.event.subject),
            withdrawn=str(row.event.id) in wrong,
            clash=against.get(row.event.id),
        )
        for row in _in_order(rows)
    ]
    caught: dict[str, int] = {}
    for event in counting:
        if event.kind is EventKind.COUNTED and isinstance(number := event.body.get("caught"), int):
            caught[event.subject] = caught.get(event.subject, 0) + number
    present = present_at(plain, counting, office.clock())
    return Log(
        entries=tuple(told),
        work=work,
        animals=animals,
        goods=goods,
        caught=caught,
        planned=any(one.start for one in day),
        due=due_now(day, counting, present.at),
        present=present,
    )


def contradicted(office: Office, job_id: str) -> Mapping[UUID, str]:
    """Entries of the log whose times cannot be right together with another entry's, each with a sentence that says so.

    Raises
    ------
    NotFound
    """
    found = clashes(_counting(events.all_of(office.book, job_id)))
    return {event_id: contradiction(clash) for clash in found for event_id in clash.ids}


def contradiction(clash: Clash) -> str:
    """A sentence that tells both times and what to do."""
    values = {"earlier": f"{clash.earlier.at:%a %H:%M}", "later": f"{clash.later.at:%a %H:%M}"}
    return say(f"records.log.clash_{clash.why.value}", values)


def present_of(office: Office, job_id: str) -> Present:
    """The time that the log of a job proposes.

    Raises
    ------
    NotFound
    """
    job_of(office, job_id)
    counting = _counting(events.all_of(office.book, job_id))
    return present_at(_plain(office, job_id), counting, office.clock())


def _plain(office: Office, job_id: str) -> Mapping[str, Any]:
    """What the newest text of a job says, whether or not all of it can be used."""
    return read_once(jobs.newest(office.book, job_id).text)


def _in_order(rows: Sequence[EventRow]) -> list[EventRow]:
    told = [row for row in rows if row.event.kind is not EventKind.CORRECTED]
    return sorted(told, key=lambda row: (row.event.at.replace(tzinfo=None), row.n))


def _withdrawn(rows: Sequence[EventRow]) -> set[str]:
    return {str(row.event.body.get("event")) for row in rows if row.event.kind is EventKind.CORRECTED}


def _counting(rows: Sequence[EventRow]) -> list[Event]:
    """What was not withdrawn, in the order of time."""
    wrong = _withdrawn(rows)
    return [row.event for row in _in_order(rows) if str(row.event.id) not in wrong]


def _choices(
    office: Office, plain: Mapping[str, Any], day: Sequence[PlannedWork]
) -> tuple[tuple[tuple[str, str], ...], tuple[tuple[str, str], ...]]:
    """Work of the planned day, in its order, and the animals of the job; without a plan all work that the catalog knows."""
    catalog = surveying.catalog_of(office)
    work = {one.id: one.name for one in day} or {row.id: row.activity for row in catalog.activities.values()}
    here = plain.get("livestock")
    kept = {str(entry.get("species")) for entry in here if isinstance(entry, dict)} if isinstance(here, list) else set()
    species = {
        name: animal.common_name
        for name, animal in catalog.species.items()
        if not kept or kept & {name, animal.common_name, animal.scientific_name}
    }
    return tuple(work.items()), tuple(sorted(species.items(), key=lambda item: item[1].lower()))


def goods_of(office: Office, job_id: str) -> tuple[Goods, ...]:
    """Goods of the newest plan's order, and its boxes and barrels; none without a plan."""
    newest = plans.newest(office.book, job_id)
    return () if newest is None else _goods(newest.plan_json, surveying.catalog_of(office))


@lru_cache(maxsize=16)
def _goods_told(plan_json: str) -> tuple[tuple[str, str, float], ...]:
    """Item, unit and planned amount; on the day the log of one job is opened again and again."""
    plan = json.loads(plan_json)
    found: dict[str, tuple[str, float]] = {}
    for line in (plan.get("supply") or {}).get("order") or ():
        # Of wood each piece is its own; plans of older programs may lack what is asked for here.
        if line.get("kind") != "wood":
            found[line["item"]] = str(line.get("unit", "")), float(line.get("need", 0))
    water = plan.get("water") or {}
    boxes = Counter(row["container"] for name in ("boxes", "barrels") for row in water.get(name) or ())
    found |= {item: ("piece", float(count)) for item, count in boxes.items()}
    return tuple((item, unit, planned) for item, (unit, planned) in found.items())


def _goods(plan_json: str, catalog: Catalog) -> tuple[Goods, ...]:
    return tuple(
        Goods(item, item_name(item, catalog, ENGLISH), unit, planned) for item, unit, planned in _goods_told(plan_json)
    )


def tapped(typed: Mapping[str, str]) -> Mapping[str, str]:
    """A form of which one button says it all, ``started:E4`` or ``slipped:20:E4``, as the form with fields that it means."""
    if "tap" not in typed:
        return typed
    kind, _, subject = typed["tap"].partition(":")
    if kind != EventKind.SLIPPED:
        return {**typed, "kind": kind, "subject": subject}
    late, _, subject = subject.partition(":")
    return {**typed, "kind": kind, "subject": subject, "late_min": late}


def note_event(office: Office, job_id: str, typed: Mapping[str, str], *, by: str = "") -> Event:
    """Append one fact to the log: ``kind``, ``subject``, ``at``, and what the kind asks for; or ``tap`` in place of the first two.

    Raises
    ------
    NotFound, Unusable
        If there is no such job; if a field cannot be used.
    """
    row = job_of(office, job_id)
    typed = tapped(typed)
    entered = Entered(typed)
    own = entered.own_id(_said(typed))
    plain, rows = _plain(office, job_id), events.all_of(office.book, job_id)
    for kept in rows:
        # Sent again because no answer came: what was noted first keeps its time.
        if str(kept.event.id) == own:
            return kept.event
    if typed.get("tap") == "":
        entered.fault("tap", "tap")
    kind = entered.one_of("kind", frozenset(BY_HAND))
    counting = _counting(rows)
    at = entered_time(entered, "at", present_at(plain, counting, office.clock()))
    body: dict[str, Any] = {}
    day = planned_day(office, job_id)
    if kind == EventKind.NOTED:
        subject = entered.text("subject")
        body["text"] = entered.needed("text", most=LONGEST_TEXT)
        if entered.text(FOR_CLIENT):
            body[FOR_CLIENT] = True
    elif kind == EventKind.USED:
        goods = {one.item: one for one in goods_of(office, job_id)}
        subject = entered.one_of("subject", goods)
        body["amount"] = entered.number("amount", 0, MOST_USED)
        if subject in goods:
            body["unit"] = goods[subject].unit
    else:
        work, animals = _choices(office, plain, day)
        subject = entered.one_of("subject", dict(animals if kind == EventKind.COUNTED else work))
    if kind == EventKind.SLIPPED:
        body["remaining_min"] = _remaining_min(entered, stands(day, counting).get(subject), at)
    if kind == EventKind.COUNTED:
        caught = entered.number("caught", 0, MOST_ANIMALS)
        if caught != int(caught):
            entered.fault("caught", "whole")
        body["caught"] = int(caught)
    entered.done()
    fact = Event(
        id=UUID(own or new_id(office.clock())),
        at=at,
        kind=EventKind(kind),
        job=row.reference,
        subject=subject,
        body=body,
        actor=by,
    )
    _append(office, job_id, fact)
    return fact


def _said(typed: Mapping[str, str]) -> int:
    """A number for what a form says: two buttons of one page make two entries, one that is touched twice makes one."""
    said = "\n".join(f"{name}={typed.get(name, '').strip()}" for name in SAYING)
    return int.from_bytes(hashlib.sha256(said.encode()).digest()[:6])


def _remaining_min(entered: Entered, running: Due | None, at: datetime) -> float:
    """How much longer work takes that is so many minutes later than it was to be over, or as it was typed."""
    if "late_min" not in entered.typed:
        return entered.minutes("remaining_min", LONGEST_SLIP_MIN)
    late = entered.minutes("late_min", LONGEST_SLIP_MIN)
    until = running.until if running else None
    return late if until is None else max(0.0, (until - at).total_seconds() / 60) + late


def withdraw(office: Office, job_id: str, event_id: str, *, by: str = "") -> None:
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
        at=present_at(_plain(office, job_id), (), office.clock()).now,
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
