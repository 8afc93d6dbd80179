"""From a job file to its day; and, from what has happened and the time, to the rest of it and what to do first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from pathlib import Path

from slackwater.actions.events_file import read_events_file
from slackwater.actions.files import read_text
from slackwater.actions.from_book import with_book
from slackwater.actions.laying import laid_for
from slackwater.actions.settings import Settings
from slackwater.day.assess import BookedDay
from slackwater.day.moves import ClockNow as ClockNow
from slackwater.day.moves import Move as Move
from slackwater.day.moves import Replanned as Replanned
from slackwater.day.progress import timed
from slackwater.day.when import clock_time as clock_time
from slackwater.day.when import told_time
from slackwater.errors import BadInput
from slackwater.finding import Finding
from slackwater.job.catalog import Catalog, load_catalog
from slackwater.job.event import Event
from slackwater.job.load import read_job
from slackwater.job.model import Job
from slackwater.layout.result import LayoutStage
from slackwater.plan import day_as_booked, day_now


@dataclass(frozen=True)
class DayShown:
    """A day as it stands.

    Attributes
    ----------
    job_name : str
    day : Replanned or None
        None where facts are missing; the findings then say which.
    findings : tuple of Finding
    is_plan : bool
        Nothing has happened yet and no time was given: the day as planned.
    """

    job_name: str
    day: Replanned | None
    findings: tuple[Finding, ...]
    is_plan: bool


def day_job(
    path: Path,
    *,
    at: str | None,
    events: Path | None,
    catalog_folder: Path | None,
    layouts: Path,
    on_progress: Callable[[str], None],
    book: Settings | None = None,
    now: datetime | None = None,
) -> DayShown:
    """Plan the day of a job, and plan it again where a time or events are given.

    Parameters
    ----------
    path : Path
        The job file.
    at : str or None
        Local time of day, ``12:40``, or with its date, ``2027-02-10 12:40``. None: the time of the last event.
    events : Path or None
        What has happened, one event a line.
    book : Settings or None
        Where the record book lies whose finished jobs are to count; None: the tables alone.
    now : datetime or None
        Now, where there is a book.

    Raises
    ------
    NotFound, BadInput
        If the job, the events or the time are not there or cannot be understood.
    """
    text = read_text(path)
    job = read_job(text, file_name=str(path))
    happened = read_events_file(events)
    # Before the day is planned: who mistyped the time should not wait for it.
    asked = None if at is None else read_time(at)
    catalog = load_catalog(catalog_folder)
    if book is not None and now is not None:
        catalog = with_book(catalog, job, text, book, at=now)
    laid = laid_for(job, catalog, folder=path.parent, cache=layouts, on_progress=on_progress)
    return day_of(job, catalog, laid=laid, at=asked, happened=happened, on_progress=on_progress)


def day_of(
    job: Job,
    catalog: Catalog,
    *,
    laid: LayoutStage | None,
    at: time | datetime | None,
    happened: tuple[Event, ...],
    on_progress: Callable[[str], None],
) -> DayShown:
    """As `day_job`, of a job and a log that were read.

    Raises
    ------
    BadInput
        If the time is not one of the day.
    """
    booked, findings = day_as_booked(job, catalog, laid=laid, on_progress=on_progress)
    if booked is None:
        return DayShown(job.name, None, findings, is_plan=True)
    now = _now(booked, at, happened)
    if now is None:
        return DayShown(job.name, day_now(booked, (), booked.day.face.moment(0)), findings, is_plan=True)
    on_progress("planning the rest of the day")
    found = day_now(booked, happened, now)
    return DayShown(job.name, found, (*found.findings, *findings), is_plan=False)


def read_time(text: str) -> time | datetime:
    """A time of day, or a moment.

    Raises
    ------
    BadInput
        If it is neither.
    """
    found = told_time(text)
    if found is None:
        raise BadInput(f'--at: "{text}" is not a time; expected a local time such as 12:40, or "2027-02-10 12:40"')
    return found


def _now(booked: BookedDay, asked: time | datetime | None, events: tuple[Event, ...]) -> datetime | None:
    """The moment meant: a time of day is the first such after the start of access."""
    face = booked.day.face
    if isinstance(asked, datetime):
        return asked
    if asked is None:
        mine = [event for event in events if not booked.day.job.reference or event.job == booked.day.job.reference]
        last = booked.day.closes_min + 24 * 60
        on_the_day = [item.minute for item in timed(mine, face)[0] if 0 <= item.minute <= last]
        return face.moment(max(on_the_day, default=0)) if events else None
    opens = face.moment(0)
    today = datetime.combine(opens.date(), asked)
    if face.minute(today) >= 0:
        return today
    tomorrow = today + timedelta(days=1)
    if face.minute(tomorrow) <= booked.day.closes_min:
        return tomorrow
    raise BadInput(
        f"--at: {asked:%H:%M} is before the start of access at {opens:%H:%M}; give a time from then on, "
        "with its date where it is the next day's"
    )
