"""Papers made of what stands in the record book: the condition before work to sign, the care report of a period."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from typing import Any

from slackwater.actions import happening, planning, recording
from slackwater.actions.entering import Entered
from slackwater.actions.firm import the_firm
from slackwater.actions.letterhead import sender_of
from slackwater.actions.looking import FOR_CLIENTS
from slackwater.actions.office import Office
from slackwater.actions.testing import place_of_job, tests_at, unit_of
from slackwater.book import accounts, jobs, photos
from slackwater.book.photos import PhotoRow
from slackwater.job.event import READABLE, EventKind
from slackwater.job.text import read_once, value_at
from slackwater.paper.record_papers import About, Care, Done, Picture, Seen, care_report, condition_record
from slackwater.paper.tested_figures import Tested
from slackwater.reader import SOURCE_LANGUAGE, Reader, UnitSystem, languages
from slackwater.wording.render import say

TOLD = frozenset(
    {
        EventKind.FINISHED,
        EventKind.DROPPED,
        EventKind.ADDED,
        EventKind.COUNTED,
        EventKind.NOTED,
        EventKind.DECIDED,
    }
)
"""What a client reads of the log; who was late or away is the firm's own business, and so are words that nobody marked as
meant for the client."""
USUAL_DAYS = 28
"""Length of the period that is proposed."""
MOST_NEXT = 8


def about_of(office: Office, job_id: str, units: UnitSystem) -> tuple[About, Reader]:
    """What a paper of a job's book is of, and who reads it: as the job says, else the firm.

    Raises
    ------
    NotFound
    """
    row = recording.job_of(office, job_id)
    plain = read_once(jobs.newest(office.book, job_id).text)
    look = the_firm(office)[0].look

    def said(*way: str) -> str:
        found: Any = value_at(plain, way)
        return found if isinstance(found, str) else ""

    language = said("papers", "language") or look.language
    size = said("papers", "size") or look.size
    about = About(
        job=row.name or row.id,
        reference=row.reference,
        site=said("site", "name"),
        client=said("client"),
        size=size if size in ("a4", "letter") else None,
    )
    return about, Reader(units, language if language in languages() else SOURCE_LANGUAGE)


def _local(moment: datetime) -> datetime:
    return moment.astimezone().replace(tzinfo=None)


def _pictures(office: Office, rows: Iterable[PhotoRow], what: str = "") -> tuple[Picture, ...]:
    """Each with what it shows, when it was kept and by whom."""
    names = {row.id: row.name for row in accounts.listed(office.book)}

    def caption(row: PhotoRow) -> str:
        told = (what, row.caption, f"{_local(row.added_at):%Y-%m-%d %H:%M}", names.get(row.added_by, ""))
        return " · ".join(part for part in told if part)

    return tuple(
        Picture(content=photos.thumbnail(office.book, row.id), caption=caption(row))
        for row in rows
        if row.sha256 is not None
    )


def condition_pdf(office: Office, job_id: str, units: UnitSystem) -> bytes:
    """What was there before the work, with its photos, to be signed by both sides.

    Raises
    ------
    NotFound
    """
    about, reader = about_of(office, job_id, units)
    there = {row.id: row for row in recording.photos_of(office, job_id)}
    seen = [
        Seen(
            part=entry.part.value,
            place=entry.place,
            seen=entry.seen,
            at=_local(entry.at),
            pictures=_pictures(office, (there[photo] for photo in entry.photo_ids if photo in there), entry.place),
        )
        for entry in recording.condition_of(office, job_id)
    ]
    return condition_record(about, seen, reader, sender_of(office, job_id))


def usual_period(office: Office) -> dict[str, str]:
    """The period that is proposed: the last four weeks, today among them."""
    today = _local(office.clock()).date()
    return {"first": f"{today - timedelta(days=USUAL_DAYS - 1)}", "last": f"{today}"}


def care_pdf(office: Office, job_id: str, typed: Mapping[str, str], units: UnitSystem) -> bytes:
    """What was done and read in a period, its pictures, and what comes next; a visit is a period of one day.

    Raises
    ------
    NotFound, Unusable
        If there is no such job; if no such period can be.
    """
    recording.job_of(office, job_id)
    entered = Entered(typed)
    first, last = entered.day("first"), entered.day("last")
    if not entered.faults and last < first:
        entered.fault("last", "before_first")
    entered.done()
    about, reader = about_of(office, job_id, units)

    def within(moment: datetime) -> bool:
        return first <= moment.date() <= last

    care = Care(
        first=first,
        last=last,
        done=tuple(_done(office, job_id, within)),
        tested=_tested(office, job_id, within, reader),
        pictures=_pictures(
            office, (row for row in recording.photos_of(office, job_id) if within(_local(row.added_at)))
        ),
        next=_next(office, job_id, last, units),
    )
    return care_report(about, care, reader, sender_of(office, job_id))


def _done(office: Office, job_id: str, within: Any) -> Iterable[Done]:
    for entry in happening.log_of(office, job_id).entries:
        event = entry.row.event
        at = event.at.replace(tzinfo=None)
        if entry.withdrawn or event.kind not in TOLD or not within(at):
            continue
        if event.kind is EventKind.NOTED and not entry.for_client:
            continue
        caught, text = event.body.get("caught"), event.body.get("text")
        yield Done(
            # Which of two times is wrong nobody can tell: the client reads neither.
            at=at if entry.clash is None else at.date(),
            kind=event.kind.value,
            what=entry.what,
            words=text if isinstance(text, str) and entry.for_client else "",
            caught=caught if isinstance(caught, int) else None,
        )


def _tested(office: Office, job_id: str, within: Any, reader: Reader) -> tuple[Tested, ...]:
    """Readings of the period; a test that was corrected is left out."""
    tests = tests_at(office, place_of_job(office, job_id))
    corrected = {test.corrects for test in tests}
    good = [(_local(test.at), test.readings) for test in tests if test.id not in corrected and within(_local(test.at))]
    return tuple(
        Tested(
            name=say(f"care.reading.{name}", {}, reader),
            unit=unit_of(name),
            units=reader.units,
            at=tuple(at for at, readings in good if name in readings),
            values=tuple(readings[name] for _, readings in good if name in readings),
        )
        for name in READABLE
        if any(name in readings for _, readings in good)
    )


def _next(office: Office, job_id: str, last: date, units: UnitSystem) -> tuple[tuple[date, str], ...]:
    """Dates after the period in which the client has a part, by the newest plan; none while there is none."""
    shown = next(planning.plans_of(office, job_id, units), None)
    if shown is None:
        return ()
    steps = (
        (date.fromisoformat(step["on"]), str(step["text"]))
        for step in planning.sheets(shown)["dated"]
        if step["id"] in FOR_CLIENTS
    )
    return tuple(sorted(step for step in steps if step[0] > last)[:MOST_NEXT])
