"""What a client may look at: a link to one job, and what stands behind it, the offer and the dates and nothing else."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from slackwater.actions import planning
from slackwater.actions.accounts import sha256
from slackwater.actions.entering import Entered
from slackwater.actions.office import Desk, Office
from slackwater.book import jobs, links, trail
from slackwater.book.links import LinkRow
from slackwater.book.trail import Deed
from slackwater.errors import NotFound
from slackwater.units import UnitSystem
from slackwater.wording.render import say

LONGEST_DAYS = 366
FOR_CLIENTS = frozenset(
    {"client_fasting", "client_light_off", "the_day", "second_day", "visit", "visits_until", "visits_open"}
)
"""Steps of the calendar that a client has a part in; orders, weighing and what is decided on the day are the firm's."""
OFFER, HANDOVER = "offer.pdf", "handover.pdf"


@dataclass(frozen=True)
class Look:
    """What a client sees of a job.

    Attributes
    ----------
    job : str
        Its name.
    day : date or None
    offer : mapping or None
        As on paper; None while there is none that may be sent.
    hours : (str, str) or None
        From when to when the crew is there.
    dates : tuple of (date, str, str)
        Day, time of day where one is told, and what happens.
    """

    job: str
    day: date | None
    offer: Mapping[str, Any] | None
    hours: tuple[str, str] | None
    dates: tuple[tuple[date, str, str], ...]


def make(office: Desk, job_id: str, typed: Mapping[str, str], *, by: str) -> tuple[LinkRow, str]:
    """Make a link; with its token, which is told once and kept nowhere.

    Raises
    ------
    NotFound, Unusable
        If there is no such job, or the days cannot be used.
    """
    jobs.get(office.book, job_id)
    entered = Entered(typed)
    days = int(entered.number("days", 1, LONGEST_DAYS))
    entered.done()
    token, at = secrets.token_urlsafe(32), office.clock()
    row = links.add(office.book, job_id, sha256(token), at=at, until=at + timedelta(days=days), by=by)
    trail.note(office.book, Deed.LINK_MADE, at=at, by=by, about=job_id, note=f"{days} d")
    return row, token


def links_of(office: Desk, job_id: str) -> list[LinkRow]:
    """All links of a job, the newest first.

    Raises
    ------
    NotFound
    """
    return links.of_job(office.book, job_id)


def end(office: Desk, job_id: str, link_id: str, *, by: str) -> None:
    """End a link; ended twice, it was ended once.

    Raises
    ------
    NotFound
    """
    if links.end(office.book, job_id, link_id, at=office.clock()):
        trail.note(office.book, Deed.LINK_ENDED, at=office.clock(), by=by, about=job_id)


def _shown(office: Office, token: str, units: UnitSystem) -> tuple[jobs.JobRow, planning.Shown | None]:
    """The job of a token, and its newest plan whose offer may be sent: what the firm is still writing takes none away."""
    row = jobs.get(office.book, links.job_of(office.book, sha256(token), at=office.clock()))
    seen = planning.plans_of(office, row.id, units)
    return row, next((shown for shown in seen if shown.page["offer"]["ready"]), None)


def look(office: Office, token: str, units: UnitSystem) -> Look:
    """What the holder of a token sees.

    Raises
    ------
    NotFound
        If it shows nothing: never made, expired or ended.
    """
    row, shown = _shown(office, token, units)
    page = shown.page if shown else None
    day = page["day"] if page is not None else None
    return Look(
        job=row.name,
        day=row.day,
        offer=page["offer"] if page is not None else None,
        hours=(day["opens"], day["closes"]) if day else None,
        dates=_dates(page) if page is not None else (),
    )


def _dates(page: Mapping[str, Any]) -> tuple[tuple[date, str, str], ...]:
    found = [
        (date.fromisoformat(step["on"]), step["at"], _step(step))
        for step in page["steps"]
        if step["on"] and step["id"] in FOR_CLIENTS
    ]
    return tuple(sorted(found))


def _step(step: Mapping[str, Any]) -> str:
    return say("people.look.the_day", {}) if step["id"] == "the_day" else str(step["text"])


def offer_paper(office: Office, token: str, units: UnitSystem) -> bytes:
    """The offer as a paper, once it may be sent.

    Raises
    ------
    NotFound
        If the token shows nothing, or there is no offer yet.
    """
    return _paper(office, token, units, OFFER)


def handover_paper(office: Office, token: str, units: UnitSystem) -> bytes:
    """The handover sheet, which the client's staff may have as soon as the client has the offer.

    Raises
    ------
    NotFound
        If the token shows nothing, or there is no offer yet.
    """
    return _paper(office, token, units, HANDOVER)


def _paper(office: Office, token: str, units: UnitSystem, name: str) -> bytes:
    _, shown = _shown(office, token, units)
    if shown is None or name not in shown.papers():
        raise NotFound(say("people.look.no_offer", {}))
    return planning.paper(office, shown, name)[0]
