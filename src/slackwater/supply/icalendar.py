"""The preparation calendar as iCalendar text, for any calendar program; same plan, same text."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from slackwater.supply.result import Step

LINE_OCTETS = 75
UTC_FORM = "%Y%m%dT%H%M%SZ"
STEP_MINUTES = 30
"""Length shown for a step at a time that has no end of its own."""


def escaped(text: str) -> str:
    """Text with the characters that iCalendar reserves escaped (RFC 5545, section 3.3.11)."""
    return (
        text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\r\n", "\\n").replace("\n", "\\n")
    )


def folded(line: str) -> str:
    """A content line folded so that none is longer than 75 octets (RFC 5545, section 3.1)."""
    parts: list[str] = []
    current = ""
    for character in line:
        limit = LINE_OCTETS if not parts else LINE_OCTETS - 1
        if len((current + character).encode()) > limit:
            parts.append(current)
            current = ""
        current += character
    return "\r\n ".join([*parts, current])


def _moment(time: datetime, zone: ZoneInfo) -> datetime:
    """In universal time; a time that says its offset keeps it, for an hour that comes twice is two moments."""
    return (time if time.tzinfo is not None else time.replace(tzinfo=zone)).astimezone(UTC)


def calendar_text(
    steps: Iterable[Step],
    *,
    sentence: Callable[[Step], str],
    zone_name: str,
    job_hash: str,
    stamp: date,
    title: str,
    language: str = "en",
) -> str:
    """A VCALENDAR with one event for each step.

    Parameters
    ----------
    steps : iterable of Step
        Dated steps become all-day events, timed ones events in universal time; a time without offset is the site's.
        A dated step that comes again is one event with a rule, without the dates on which it does not come.
    sentence : callable
        What a step says, in the reader's language.
    zone_name, job_hash, title : str
        Zone of the site; identity of the job for stable ids; its name.
    stamp : date
        Stands as DTSTAMP, so that the text does not depend on the clock.
    language : str
        Tag of the language of `sentence`; another than English is told with each (RFC 5545, section 3.2.10).

    References
    ----------
    RFC 5545, Internet Calendaring and Scheduling Core Object Specification.
    """
    zone = ZoneInfo(zone_name)
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//slackwater//preparation calendar//EN", "CALSCALE:GREGORIAN"]
    told = "" if language == "en" else f";LANGUAGE={language}"
    seen: dict[str, int] = {}
    for step in steps:
        seen[step.id] = seen.get(step.id, 0) + 1
        uid = hashlib.sha256(f"{job_hash} {step.id} {seen[step.id]}".encode()).hexdigest()[:32]
        lines += ["BEGIN:VEVENT", f"UID:{uid}@slackwater", f"DTSTAMP:{stamp:%Y%m%d}T000000Z"]
        if step.at is not None:
            starts = _moment(step.at, zone)
            ends = starts + timedelta(minutes=STEP_MINUTES) if step.ends is None else _moment(step.ends, zone)
            lines += [f"DTSTART:{starts:{UTC_FORM}}", f"DTEND:{ends:{UTC_FORM}}"]
        elif step.on is not None:
            lines += [f"DTSTART;VALUE=DATE:{step.on:%Y%m%d}", f"DTEND;VALUE=DATE:{step.on + timedelta(days=1):%Y%m%d}"]
            if step.every_days is not None:
                end = "" if step.until is None else f";UNTIL={step.until:%Y%m%d}"
                lines.append(f"RRULE:FREQ=DAILY;INTERVAL={step.every_days}{end}")
            lines += [f"EXDATE;VALUE=DATE:{off:%Y%m%d}" for off in step.except_on]
        lines += [f"SUMMARY{told}:{escaped(f'{title}: {sentence(step)}')}", "END:VEVENT"]
    lines.append("END:VCALENDAR")
    return "".join(folded(line) + "\r\n" for line in lines)
