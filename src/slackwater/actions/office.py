"""The office of one user: the open book, the workshop for long work, and the clock; opened once, closed at the end."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime

from slackwater import __version__
from slackwater.actions.book import begun_book, open_book
from slackwater.actions.drafts import Drafts
from slackwater.actions.layout_work import layout_kinds
from slackwater.actions.passwords import Passwords
from slackwater.actions.picture_work import PICTURES, picture_kind
from slackwater.actions.plan_work import PLAN, plan_kind
from slackwater.actions.rest_work import REST, rest_kind
from slackwater.actions.settings import LongWork, Settings
from slackwater.book import Book
from slackwater.work import Doer, Workshop

Clock = Callable[[], datetime]


@dataclass(frozen=True, kw_only=True)
class Desk:
    """What the actions on a book need that begin no long work.

    Attributes
    ----------
    settings : Settings
    book : Book
    clock : callable
        The time now, in UTC.
    passwords : Passwords
        Hashes them, a few at a time.
    """

    settings: Settings
    book: Book
    clock: Clock
    passwords: Passwords


@dataclass(frozen=True, kw_only=True)
class Office(Desk):
    """A desk with somebody who gets long work done: processes of its own, or workers on other machines."""

    workshop: Doer
    drafts: Drafts = field(default_factory=Drafts)


@contextmanager
def open_desk(settings: Settings, *, clock: Clock, begin: bool = False) -> Iterator[Desk]:
    """Open a book that was begun, beside an office that may be open too; what that is working on goes on.

    Parameters
    ----------
    begin : bool
        Whether a book may be begun where there is none.

    Raises
    ------
    BadInput, NotFound, CannotRun, CorruptBook
        If there is no book, or it cannot be opened.
    """
    with open_book(settings) if begin else begun_book(settings) as book:
        yield Desk(settings=settings, book=book, clock=clock, passwords=Passwords(settings.hash_cost))


@contextmanager
def open_office(settings: Settings, *, clock: Clock, workers: int = 2) -> Iterator[Office]:
    """Open the book, and its own pool of processes or the queue of workers; all are closed at the end.

    What the pool was running can be restarted; what workers do goes on.

    Raises
    ------
    BadInput, NotFound, CannotRun, CorruptBook
        If the book cannot be opened; if it has no room for a queue.
    """
    with open_book(settings) as book:
        kinds = {
            PLAN: plan_kind(settings, book, clock),
            REST: rest_kind(settings, book),
            PICTURES: picture_kind(settings, book),
            **layout_kinds(settings, book),
        }
        workshop: Doer
        if settings.long_work is LongWork.WORKERS:
            # Loaded late: an office with its own pool needs no queue.
            from slackwater.work.outwork import Outwork

            workshop = Outwork(book, kinds, program=__version__, clock=clock)
        else:
            workshop = Workshop(book, kinds, clock=clock, workers=workers)
        try:
            passwords = Passwords(settings.hash_cost)
            yield Office(settings=settings, book=book, workshop=workshop, clock=clock, passwords=passwords)
        finally:
            workshop.close()
