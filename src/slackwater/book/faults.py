"""What a database says when it cannot go on, as one sentence for people."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import exc

from slackwater.errors import CannotRun, CorruptBook, SlackwaterError

DAMAGED = (
    "The record book is damaged: {said}. Nothing was changed. Run `slackwater book check`; if it says the same, keep the "
    "file aside and bring back the last backup with `slackwater book restore`"
)
FULL = "The disk that holds the record book is full. This was not saved; all before it is. Make room and do it again"
BUSY = "The record book was busy for too long with somebody else's work. This was not saved; do it again"
UNREADABLE = "The record book cannot be opened or written: {said}. Look at the rights of its folder and file"
NO_SERVER = (
    "The database server of the record book does not answer: {said}. Look at SLACKWATER_DATABASE and at the server"
)


@contextmanager
def told() -> Iterator[None]:
    """Turn faults of the database into `CorruptBook` and `CannotRun`; defects of the program pass as they are."""
    try:
        yield
    except exc.DBAPIError as error:
        found = _sentence(error)
        if found is None:
            raise
        raise found from error


def _sentence(error: exc.DBAPIError) -> SlackwaterError | None:
    origin = error.orig
    if isinstance(origin, sqlite3.Error):
        return _sqlite(origin)
    return _postgresql(error)


def _sqlite(error: sqlite3.Error) -> SlackwaterError | None:
    if str(error).startswith("Could not decode"):
        # The driver's own words would quote the text.
        return CorruptBook(DAMAGED.format(said="a text in it is no text any more"))
    # The extended code's last byte is the plain one (https://www.sqlite.org/rescode.html, "Primary Result Codes").
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return CorruptBook(DAMAGED.format(said=error))
    if code == sqlite3.SQLITE_FULL:
        return CannotRun(FULL)
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return CannotRun(BUSY)
    if code in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_PERM):
        return CannotRun(UNREADABLE.format(said=error))
    return None


def _postgresql(error: exc.DBAPIError) -> SlackwaterError | None:
    # Classes of SQLSTATE: PostgreSQL documentation, appendix A, "PostgreSQL Error Codes".
    state = getattr(error.orig, "sqlstate", None)
    said = " ".join(str(error.orig).split())
    if state in ("XX001", "XX002"):
        return CorruptBook(DAMAGED.format(said=said))
    if state == "53100":
        return CannotRun(FULL)
    if state in ("40001", "40P01", "55P03", "53300"):
        return CannotRun(BUSY)
    if state in ("25006", "42501", "3D000", "28000", "28P01"):
        return CannotRun(UNREADABLE.format(said=said))
    lost = error.connection_invalidated or (state or "").startswith(("08", "57P"))
    if lost or (state is None and isinstance(error, exc.OperationalError)):
        return CannotRun(NO_SERVER.format(said=said))
    return None
