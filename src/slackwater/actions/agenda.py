"""What needs doing: jobs by date, facts they lack, what to order by when, visits, alarms; and the same as a calendar."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from functools import lru_cache
from pathlib import Path

from slackwater.actions.laid import fetch_folders
from slackwater.actions.office import Office
from slackwater.actions.own_rows import COMPUTED
from slackwater.actions.plan_work import inputs_hash, parcel_of, rows_mark
from slackwater.book import jobs, layouts, plans, tasks
from slackwater.book.jobs import JobRow
from slackwater.book.tasks import OPEN, State, TaskRow
from slackwater.supply.icalendar import escaped, folded
from slackwater.wording.render import say

SOON = timedelta(days=14)
"""So long before the day a plan should stand: goods have to be ordered; common practice, no source."""
BACK = timedelta(days=56)
"""So long after the day a job stands on the start page; visits of its contract may go on for longer."""
MOST_JOBS = 60
"""Jobs looked at on either side of today: the page stays as fast as the book grows; all of them stand in the list of jobs."""
HEAVY = ("does not fit", "do not take", "cannot say")


class Kind(StrEnum):
    """What an entry of the list is about."""

    DAY = "day"
    ORDER = "order"
    STEP = "step"
    VISIT = "visit"


@dataclass(frozen=True)
class Due:
    """One thing on one date."""

    on: date
    at: str
    kind: Kind
    text: str
    job_id: str
    job: str
    items: tuple[str, ...] = ()
    """Goods to order by that date."""


@dataclass(frozen=True)
class JobLine:
    """A job on the start page.

    Attributes
    ----------
    row : JobRow
    outcome : str
        The verdict of its newest version's plan; empty where that has none.
    verdict : str
        The same as a sentence.
    missing : tuple of str
        Facts without which a part cannot be computed.
    planned : bool
        Whether the newest version has a plan.
    dates_from : int
        The version whose plan gives its dates, where the newest has none; 0 otherwise.
    """

    row: JobRow
    outcome: str
    verdict: str
    missing: tuple[str, ...]
    planned: bool
    dates_from: int = 0

    @property
    def name(self) -> str:
        """What it is called; its reference or a word where the text does not say."""
        return self.row.name or self.row.reference or say("web.start.unnamed", {})


@dataclass(frozen=True)
class Alarm:
    """Something that will not wait."""

    text: str
    href: str


@dataclass(frozen=True)
class Agenda:
    """Everything that the start page shows."""

    today: date
    coming: tuple[JobLine, ...]
    undated: tuple[JobLine, ...]
    past: tuple[JobLine, ...]
    due: tuple[Due, ...]
    alarms: tuple[Alarm, ...]
    working: tuple[tuple[TaskRow, str], ...]
    """Each with the name of its job."""

    @property
    def more(self) -> bool:
        """Whether there may be jobs that it does not show."""
        return MOST_JOBS in (len(self.coming), len(self.undated))


@dataclass(frozen=True)
class _Told:
    """What a plan says to the start page."""

    outcome: str
    verdict: str
    missing: tuple[str, ...]
    due: tuple[tuple[str, str, str, str, tuple[str, ...]], ...]
    again: tuple[_Again, ...]
    """Visits that go on."""


@dataclass(frozen=True)
class _Again:
    """A visit that comes again and again."""

    first: date
    every_days: int
    until: date | None
    off: frozenset[str]
    text: str

    def between(self, start: date, end: date) -> list[date]:
        """Its dates from `start` to `end`."""
        last = end if self.until is None else min(end, self.until)
        number = max(0, -(-(start - self.first).days // self.every_days))
        on, found = self.first + timedelta(days=number * self.every_days), []
        while on <= last:
            if on.isoformat() not in self.off:
                found.append(on)
            on += timedelta(days=self.every_days)
        return found


FEW = 3
"""So many goods are named in one line."""


def _goods(items: list[str]) -> str:
    if len(items) <= FEW:
        return ", ".join(items)
    return say("web.due.goods", {"names": ", ".join(items[:FEW]), "more": len(items) - FEW})


@lru_cache(maxsize=2000)
def _told(file: str, _changed: int) -> _Told:
    """What a page says; read once, for it is only ever replaced as a whole."""
    page = json.loads(Path(file).read_text(encoding="utf-8"))
    orders: dict[str, list[str]] = {}
    for on, item in page["orders"]:
        orders.setdefault(on, []).append(item)
    due = [(on, "", Kind.ORDER.value, _goods(items), tuple(items)) for on, items in orders.items()]
    due += [
        (step["on"], step["at"], (Kind.VISIT if step["id"].startswith("visit") else Kind.STEP).value, step["text"], ())
        for step in page["steps"]
        # What to order by then is told by its names.
        if step["on"] and not step.get("every") and not (step["id"] == "order" and step["on"] in orders)
    ]
    again = tuple(
        _Again(
            first=date.fromisoformat(step["on"]),
            every_days=step["every"],
            until=date.fromisoformat(step["until"]) if step["until"] else None,
            off=frozenset(step["except"]),
            text=step["text"],
        )
        for step in page["steps"]
        # A page of an older version of the program knows of none.
        if step.get("every")
    )
    return _Told(page["outcome"], page["verdict"], tuple(page["missing"]), tuple(due), again)


@dataclass(frozen=True)
class _Page:
    """What is shown of a plan: its file, and when that was written."""

    file: str
    changed: int

    @property
    def told(self) -> _Told:
        """What it says to the start page."""
        return _told(self.file, self.changed)


def _page_at(office: Office, inputs: str) -> _Page | None:
    file = f"{office.settings.home}/{COMPUTED}/{inputs}/metric/page.json"
    try:
        return _Page(file, Path(file).stat().st_mtime_ns)
    except OSError:
        return None


def _bring(office: Office, inputs: list[str]) -> None:
    """Bring here, all at once, what workers made of inputs since."""
    wanted = [
        (parcel_of(one, "metric"), office.settings.home / COMPUTED / one / "metric")
        for one in inputs
        if _page_at(office, one) is None
    ]
    fetch_folders(office.book, wanted)


def _dated(office: Office, today: date) -> list[JobRow]:
    """Jobs of the last weeks and those to come, by their day."""
    rows = jobs.by_day(office.book, since=today - BACK, limit=MOST_JOBS)
    past = [row for row in rows if row.day and row.day < today]
    # The last of them are not all that is to come, unless there were no more.
    coming = rows[len(past) :] if len(rows) < MOST_JOBS else jobs.by_day(office.book, since=today, limit=MOST_JOBS)
    return [*past, *coming]


def _under_contract(office: Office, today: date) -> list[tuple[JobRow, int, _Page]]:
    """Jobs of longer ago whose last plan has visits still to come."""
    older = jobs.before_day(office.book, day=today - BACK, limit=MOST_JOBS)
    found = []
    for row, version, page in _pages(office, older, today):
        if page is None:
            continue
        told = page.told
        if any(visit.between(today, today + BACK) for visit in told.again) or any(
            kind == Kind.VISIT and on >= today.isoformat() for on, _, kind, *_ in told.due
        ):
            found.append((row, version, page))
    return found


def _pages(office: Office, rows: list[JobRow], today: date) -> list[tuple[JobRow, int, _Page | None]]:
    """For each job the page of its newest version, or else of the last one planned: dates stand until others do."""
    ids = [row.id for row in rows]
    marks, last = jobs.newest_hashes(office.book, ids), plans.newest_inputs(office.book, ids)
    layouts_saved = layouts.newest_marks(office.book)
    found: list[tuple[JobRow, int, _Page | None]] = []
    asked = {
        row.id: inputs_hash(
            marks[row.id], rows_mark(office.settings, office.book, today, row.day), layouts_saved.get(row.id, "")
        )
        for row in rows
    }
    _bring(office, [*asked.values(), *(inputs for _, inputs in last.values())])
    for row in rows:
        version, page = row.newest_n, _page_at(office, asked[row.id])
        if page is None and row.id in last:
            # Made with other prices or by an older version of the program, its dates still are the last that were told.
            version, inputs = last[row.id]
            page = _page_at(office, inputs)
        found.append((row, version if page else 0, page))
    return found


def _line(row: JobRow, version: int, page: _Page | None) -> tuple[JobLine, _Told | None]:
    if page is None:
        return JobLine(row=row, outcome="", verdict="", missing=(), planned=False), None
    told = page.told
    if version != row.newest_n:
        return JobLine(row=row, outcome="", verdict="", missing=(), planned=False, dates_from=version), told
    return JobLine(row=row, outcome=told.outcome, verdict=told.verdict, missing=told.missing, planned=True), told


def agenda(office: Office) -> Agenda:
    """What needs doing, as of now."""
    today = office.clock().date()
    with_day, without_day = _dated(office, today), jobs.without_day(office.book, limit=MOST_JOBS)
    lines = [_line(*found) for found in _pages(office, [*with_day, *without_day], today)]
    dated, undated = lines[: len(with_day)], [line for line, _ in lines[len(with_day) :]]
    told_of = [*dated, *(_line(*found) for found in _under_contract(office, today))]
    due = sorted(
        (
            Due(on=on, at=at, kind=Kind(kind), text=text, job_id=line.row.id, job=line.name, items=items)
            for line, told in told_of
            if told is not None
            for on, at, kind, text, items in (
                *((date.fromisoformat(on), at, kind, text, items) for on, at, kind, text, items in told.due),
                *(
                    (on, "", Kind.VISIT.value, visit.text, ())
                    for visit in told.again
                    for on in visit.between(today, today + BACK)
                ),
            )
        ),
        key=lambda item: (item.on, item.at, item.job, item.text),
    )
    work = tasks.listed(office.book, limit=20)
    shown = [line for line, _ in dated]
    return Agenda(
        today=today,
        coming=tuple(line for line in shown if line.row.day and line.row.day >= today),
        undated=tuple(undated),
        past=tuple(line for line in reversed(shown) if line.row.day and line.row.day < today),
        due=soon(due, today),
        alarms=(*_alarms(shown, due, today), *_broken(office, work)),
        working=tuple((task, _name_of(office, task)) for task in work if task.state in OPEN),
    )


def soon(due: list[Due], today: date) -> tuple[Due, ...]:
    """What is due in the next weeks; where nothing is, that of the next date, however far off."""
    ahead = [item for item in due if item.on >= today]
    until = max(today + BACK, ahead[0].on) if ahead else today
    return tuple(item for item in ahead if item.on <= until)


def _name_of(office: Office, task: TaskRow) -> str:
    row = jobs.get(office.book, task.job_id) if task.job_id else None
    return (row.name or row.reference if row is not None else "") or say("web.start.unnamed", {})


def _alarms(lines: list[JobLine], due: list[Due], today: date) -> list[Alarm]:
    found = []
    ordered: dict[str, list[str]] = {}
    for item in due:
        if item.kind is Kind.ORDER and item.on < today:
            ordered.setdefault(item.job_id, []).extend(item.items)
    for line in lines:
        day = line.row.day
        if day is None or day < today:
            continue
        values = {"job": line.name, "day": f"{day:%a %d %b}"}
        late = ordered.get(line.row.id, [])
        if day <= today + SOON and not line.planned:
            found.append(Alarm(say("web.alarm.no_plan", values), f"/jobs/{line.row.id}/plan"))
        elif day <= today + SOON and line.outcome in HEAVY:
            found.append(
                Alarm(say("web.alarm.heavy", {**values, "verdict": line.verdict}), f"/jobs/{line.row.id}/plan")
            )
        if late:
            names = ", ".join(late[:3]) + (" …" if len(late) > 3 else "")
            found.append(Alarm(say("web.alarm.order", {**values, "items": names}), f"/jobs/{line.row.id}/plan#order"))
    return found


def _broken(office: Office, work: list[TaskRow]) -> list[Alarm]:
    """Work that was cut off, unless the same was begun again or done since; the newest of `work` stands first."""
    begun_again = {task.restarts for task in work}
    done: set[tuple[str, str | None]] = set()
    found = []
    for task in work:
        what = (task.kind, task.job_id)
        if task.state is State.DONE:
            done.add(what)
        elif task.state is State.BROKEN and task.id not in begun_again and what not in done:
            found.append(Alarm(say("web.alarm.broken", {"job": _name_of(office, task)}), f"/tasks/{task.id}"))
    return found


def calendar_feed(office: Office) -> str:
    """All dates of all jobs as one calendar (RFC 5545): of planned jobs their calendars, of others the day itself."""
    today = office.clock().date()
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//slackwater//office//EN", "CALSCALE:GREGORIAN"]
    under_contract = _under_contract(office, today)
    for row, _, page in (*under_contract, *_pages(office, _dated(office, today), today)):
        calendar = None if page is None else Path(page.file).with_name("calendar.ics")
        if calendar is not None and calendar.is_file():
            with calendar.open(encoding="utf-8", newline="") as file:
                text = file.read()
            start, end = text.find("BEGIN:VEVENT"), text.rfind("END:VCALENDAR")
            if start >= 0:
                lines += text[start:end].removesuffix("\r\n").split("\r\n")
            continue
        if row.day is not None:
            name = row.name or row.reference or say("web.start.unnamed", {})
            lines += [
                "BEGIN:VEVENT",
                f"UID:{row.id}@slackwater",
                f"DTSTAMP:{row.added_at:%Y%m%dT%H%M%SZ}",
                f"DTSTART;VALUE=DATE:{row.day:%Y%m%d}",
                # The last day that there is has none after it; without an end an entry has one day.
                *([f"DTEND;VALUE=DATE:{row.day + timedelta(days=1):%Y%m%d}"] if row.day < date.max else []),
                folded(f"SUMMARY:{escaped(name)}"),
                "END:VEVENT",
            ]
    lines.append("END:VCALENDAR")
    return "".join(f"{line}\r\n" for line in lines)
