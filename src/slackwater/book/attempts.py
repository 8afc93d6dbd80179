"""Failed attempts to sign in, by name and by address: kept in the book, so that a restart forgives nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta

from sqlalchemy import delete, select, update

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.rows import insert_once
from slackwater.book.tables import attempt

FORGOTTEN = timedelta(days=1)
"""After so long without another one they are forgotten."""


def begin(book: Book, waits_s: Mapping[str, Callable[[int], int]], *, at: datetime) -> int:
    """Count an attempt as failed before it is looked at, so that many at once cannot all be the first.

    Parameters
    ----------
    waits_s : mapping of str to callable
        For each key how long to wait after so many failed ones [s].

    Returns
    -------
    int
        Seconds still to wait; 0 where it may be looked at. One that has to wait is not counted.
    """
    with book.writing() as connection:
        connection.execute(delete(attempt).where(attempt.c.last_at < moments.stored(at - FORGOTTEN)))
        left = 0
        for key in sorted(waits_s):
            insert_once(connection, attempt, key=key, failed=0, last_at=moments.stored(at))
            row = connection.execute(select(attempt).where(attempt.c.key == key).with_for_update()).one()
            until = moments.read(row.last_at) + timedelta(seconds=waits_s[key](row.failed))
            # A clock that was set back keeps nobody out for longer than the wait itself.
            left = max(left, min(waits_s[key](row.failed), int((until - at).total_seconds() + 0.999)))
        if left <= 0:
            counted = update(attempt).where(attempt.c.key.in_(list(waits_s)))
            connection.execute(counted.values(failed=attempt.c.failed + 1, last_at=moments.stored(at)))
        return max(left, 0)


def went_well(book: Book, *, forget: str, halve: str) -> None:
    """An attempt has let somebody in: that name begins anew, and half of what failed at the address is forgiven.

    Not all of it, for whoever knows one password could forgive themselves the guesses at others.
    """
    with book.writing() as connection:
        connection.execute(delete(attempt).where(attempt.c.key == forget))
        less = update(attempt).where(attempt.c.key == halve, attempt.c.failed > 0)
        connection.execute(less.values(failed=(attempt.c.failed - 1) // 2))


def forget(book: Book, keys: list[str]) -> None:
    """Let keys begin anew, as the owner asks on the machine itself."""
    with book.writing() as connection:
        connection.execute(delete(attempt).where(attempt.c.key.in_(keys)))
