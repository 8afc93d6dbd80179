"""What time it is at the site of a job: what its log proposes as "now", and what a time typed there means."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from enum import StrEnum
from typing import Any

from slackwater.actions.entering import Entered
from slackwater.day.when import zone
from slackwater.errors import BadInput
from slackwater.job.event import Event, at_site

PAST_MIDNIGHT = timedelta(hours=12)
"""So long after the last entry work that outlasts its last day still goes on; common practice, no source."""
CLOCKS_DIFFER = timedelta(minutes=10)
"""A time so little ahead is one of another clock, not one to come; common practice, no source."""
TAPS_WAIT = timedelta(days=1)
"""A tap that could not be sent is taken with its own time for so long."""
_TIME = re.compile(r"(\d{1,2})\s*[:.,hH]?\s*(\d{2})\s*([aApP][mM])?")


class Basis(StrEnum):
    """Where the proposed time comes from; its sentence is ``records.log.basis_<basis>`` of the wording."""

    NOW = "now"
    """It is the day of the work: what the clocks of the site show."""
    LAST = "last"
    """Another day: the time of the last entry."""
    OPENS = "opens"
    """Another day, and nothing was noted: the start of access."""


@dataclass(frozen=True)
class Present:
    """The time that the log of a job proposes.

    Attributes
    ----------
    at : datetime
        Local time of the site, without a zone, in whole minutes.
    basis : Basis
    zone : str
        The site's time zone; empty where the survey does not tell it, and the clock of this machine counts.
    opens : datetime or None
        Start of access, where it is known.
    now : datetime
        What the clocks of the site show, whatever the basis.
    """

    at: datetime
    basis: Basis
    zone: str
    opens: datetime | None
    now: datetime


def present_at(told: Mapping[str, Any], events: Iterable[Event], moment: datetime) -> Present:
    """The time to propose.

    Parameters
    ----------
    told : mapping
        The job as far as it can be read.
    events : iterable of Event
        What counts of its log.
    moment : datetime
        The time now, with its zone.
    """
    site = told.get("site")
    site = site if isinstance(site, Mapping) else {}
    name, there = _zone(site.get("time_zone"))
    now = _local(moment, there)
    windows = _windows(site.get("windows"))
    opens = min((start for start, _ in windows), default=None)
    last = max((at_site(event.at, there).replace(second=0, microsecond=0) for event in events), default=None)
    on_the_day = not windows or min(start for start, _ in windows).date() <= now.date() <= _last_day(windows)
    if on_the_day or (last is not None and timedelta() <= now - last <= PAST_MIDNIGHT):
        return Present(now, Basis.NOW, name, opens, now)
    if last is not None:
        return Present(last, Basis.LAST, name, opens, now)
    assert opens is not None
    return Present(opens, Basis.OPENS, name, opens, now)


def _last_day(windows: list[tuple[datetime, datetime]]) -> date:
    return max(end for _, end in windows).date()


def _local(moment: datetime, there: tzinfo | None) -> datetime:
    return moment.astimezone(there).replace(tzinfo=None, second=0, microsecond=0)


def _zone(told: object) -> tuple[str, tzinfo | None]:
    try:
        return (told, zone(told)) if isinstance(told, str) and told else ("", None)
    except BadInput:
        return "", None


def _windows(told: object) -> list[tuple[datetime, datetime]]:
    """Times of access for the work, as far as they can be read."""
    found = []
    for window in told if isinstance(told, list) else ():
        if isinstance(window, Mapping) and window.get("kind", "day") == "day":
            start = _moment(window.get("start"))
            if start is not None:
                found.append((start, max(start, _moment(window.get("end")) or start)))
    return found


def _moment(told: object) -> datetime | None:
    try:
        return datetime.fromisoformat(str(told).strip()).replace(tzinfo=None)
    except ValueError:
        return None


def read_clock(text: str) -> time | None:
    """A time of day as people type it with wet fingers; None for anything else.

    >>> [read_clock(text) for text in ("1240", "12.40", "8:05", "1:15 pm")] == [
    ...     time(12, 40), time(12, 40), time(8, 5), time(13, 15)]
    True
    """
    found = _TIME.fullmatch(text.strip())
    if found is None:
        return None
    hour, minute, half = int(found[1]), int(found[2]), (found[3] or "").lower()
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    return time(hour, minute) if hour < 24 and minute < 60 else None


def entered_time(entered: Entered, name: str, present: Present) -> datetime:
    """The moment that a field of a form means, local time of the site.

    Empty means now, on the day of the work: the moment of the tap where the page told it (``tapped``), for what could
    not be sent at once. A time of day is of today, or of yesterday where it would still be to come; on any other day it
    is of the day that is proposed. A date with a time is taken as it is.
    """
    text = entered.text(name)
    if not text:
        if present.basis is not Basis.NOW:
            entered.fault(name, "empty")
        return _tapped(entered, present)
    clock = read_clock(text)
    if clock is None:
        found = _moment(text) if ":" in text else None
        if found is None or not 1970 < found.year < 9000:
            entered.fault(name, "clock")
            return present.at
        return found
    found = datetime.combine(present.at.date(), clock)
    if present.basis is Basis.NOW and found > present.now + CLOCKS_DIFFER:
        found -= timedelta(days=1)
        if present.opens is not None and found < present.opens:
            entered.fault(name, "to_come", now=f"{present.now:%H:%M}")
    return found


def _tapped(entered: Entered, present: Present) -> datetime:
    try:
        tapped = datetime.fromisoformat(entered.typed.get("tapped", ""))
    except ValueError:
        return present.at
    if tapped.tzinfo is None:
        return present.at
    found = _local(tapped, _zone(present.zone)[1])
    return found if present.now - TAPS_WAIT <= found <= present.now + CLOCKS_DIFFER else present.at
