"""Which offices are open on a book: each holds a lock that the system lets go of when its process ends, however it ends.

No clock is asked: clocks of two machines differ, and a machine that slept has not died. With SQLite the lock is on a file of
the data folder, with PostgreSQL an advisory lock of a session of its own
(https://www.postgresql.org/docs/current/explicit-locking.html#ADVISORY-LOCKS).
"""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import BinaryIO
from uuid import UUID

from sqlalchemy import select, text

from slackwater.book.faults import told
from slackwater.book.handle import Book
from slackwater.book.ids import new_id
from slackwater.book.tables import fact

FOLDER = "offices"
"""Of lock files inside the data folder, with SQLite."""


_HELD = text(
    "SELECT EXISTS (SELECT 1 FROM pg_locks WHERE locktype = 'advisory' AND mode = 'ShareLock' AND granted AND objsubid = 1 "
    "AND classid::bigint = :high AND objid::bigint = :low "
    "AND database = (SELECT oid FROM pg_database WHERE datname = current_database()))"
)
"""Whether anybody shares an advisory lock of 64 bits, told in two halves
(https://www.postgresql.org/docs/current/view-pg-locks.html)."""


class Presence:
    """An office that is open; `leave` ends it, and so does the end of its process.

    Attributes
    ----------
    id : str
        Under which it takes work.
    """

    def __init__(self, office_id: str, leave: Callable[[], None]) -> None:
        self.id = office_id
        self.leave = leave


def enter(book: Book, *, at: datetime) -> Presence:
    """Open an office on a book.

    Raises
    ------
    CannotRun
        If the database or the data folder does not let it.
    """
    office_id = new_id(at)
    with told():
        if book.engine.dialect.name == "postgresql":
            # Kept, and ended rather than handed back: a session of the pool keeps its locks, whoever has it.
            session = book.engine.connect().execution_options(isolation_level="AUTOCOMMIT")
            session.execute(text("SELECT pg_advisory_lock(:key)"), {"key": _key(office_id)})

            def let_go() -> None:
                session.invalidate()
                session.close()

            return Presence(office_id, let_go)
        file = _file(book, office_id)
        file.parent.mkdir(mode=0o700, exist_ok=True)
        held = file.open("wb")
        _locked(held)

    def leave() -> None:
        held.close()
        file.unlink(missing_ok=True)

    return Presence(office_id, leave)


def is_open(book: Book, office_id: str) -> bool:
    """Whether the office of an id is open now, in whatever process."""
    if book.engine.dialect.name == "postgresql":
        with told(), book.engine.connect() as session, session.begin():
            asked = session.execute(text("SELECT pg_try_advisory_xact_lock(:key)"), {"key": _key(office_id)})
            return not asked.scalar_one()
    file = _file(book, office_id)
    try:
        with file.open("r+b") as tried:
            if not _locked(tried):
                return True
    except OSError:
        return False
    # Left by an office that was killed.
    with suppress(OSError):
        file.unlink()
    return False


def attend(book: Book, what: str, *, at: datetime) -> Presence:
    """Be one of those who attend to something, as many as there are, until leaving or the end of the process; PostgreSQL only.

    Raises
    ------
    CannotRun
        If the database does not let it.
    """
    with told():
        session = book.engine.connect().execution_options(isolation_level="AUTOCOMMIT")
        session.execute(text("SELECT pg_advisory_lock_shared(:key)"), {"key": _key_of(book, what)})

    def let_go() -> None:
        session.invalidate()
        session.close()

    return Presence(new_id(at), let_go)


def is_attended(book: Book, what: str) -> bool:
    """Whether anybody attends to something now; with SQLite nobody ever does."""
    if book.engine.dialect.name != "postgresql":
        return False
    # Looked up, not tried: two who tried at once would each take the other for one who attends.
    high, low = divmod(_key_of(book, what) & 0xFFFF_FFFF_FFFF_FFFF, 1 << 32)
    with told(), book.engine.connect() as session, session.begin():
        return bool(session.execute(_HELD, {"high": high, "low": low}).scalar_one())


@contextmanager
def alone(book: Book, what: str) -> Iterator[bool]:
    """True for one of those who come at once, for as long as it stays; the others are not kept waiting. PostgreSQL only."""
    with told(), book.engine.connect() as session, session.begin():
        asked = session.execute(text("SELECT pg_try_advisory_xact_lock(:key)"), {"key": _key_of(book, what)})
        yield bool(asked.scalar_one())


def _key_of(book: Book, what: str) -> int:
    """Locks are of the whole database, which may hold more than one book: each has its own, by its id."""
    with book.reading() as connection:
        book_id = connection.scalar(select(fact.c.value).where(fact.c.name == "book_id"))
    return int.from_bytes(hashlib.sha256(f"{book_id} {what}".encode()).digest()[:8], signed=True)


def _file(book: Book, office_id: str) -> Path:
    return book.folder / FOLDER / str(UUID(office_id))


def _key(office_id: str) -> int:
    """Of 64 bits with a sign, as PostgreSQL takes it: the bits of the id that are drawn by chance."""
    return int.from_bytes(UUID(office_id).bytes[8:], signed=True)


if sys.platform == "win32":  # pragma: no cover
    import msvcrt

    def _locked(file: BinaryIO) -> bool:
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _locked(file: BinaryIO) -> bool:
        """Take the lock of a file if nobody has it; each opening of a file counts as another, in one process too."""
        try:
            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True
