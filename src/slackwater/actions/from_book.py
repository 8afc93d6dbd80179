"""A catalog for one job file with what the record book knows: prices that hold, and what finished jobs took."""

from __future__ import annotations

from datetime import date, datetime

from slackwater.actions.book import begun_book
from slackwater.actions.book_prices import told_prices
from slackwater.actions.experience import experience_before
from slackwater.actions.settings import Settings
from slackwater.book.jobs import line_of
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job


def with_book(catalog: Catalog, job: Job, text: str, settings: Settings, *, at: datetime) -> Catalog:
    """The catalog as the office would plan this job with it at a moment.

    Parameters
    ----------
    job, text : Job, str
        The job, and its file.
    at : datetime
        Now, with its zone.

    Raises
    ------
    NotFound, BadInput, CannotRun, CorruptBook
        If there is no book, or it cannot be opened.
    """
    line = line_of(text) or {}
    day = date.fromisoformat(line["day"]) if line.get("day") else None
    with begun_book(settings) as book:
        catalog = catalog.with_prices(told_prices(book, at.date()), currency=job.price.currency)
        return catalog.with_experience(experience_before(settings, book, on=at.date(), day=day))
