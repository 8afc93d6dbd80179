"""Clearing what a database leaves behind of rows that are gone."""

from __future__ import annotations

import os
import sqlite3
import time
from contextlib import suppress

from sqlalchemy import Connection, delete, exc, select, text

from slackwater.book.faults import told
from slackwater.book.handle import Book
from slackwater.book.rows import insert_once
from slackwater.book.tables import fact, metadata

TRIES = 3


PENDING = "traces"
"""Name of the fact that something is gone of which traces are left."""


def leave(connection: Connection, *tables: str) -> None:
    """Note, within the transaction that removes something from tables, that their traces are to be cleared."""
    names = {*noted(connection), *tables}
    connection.execute(delete(fact).where(fact.c.name == PENDING))
    insert_once(connection, fact, name=PENDING, value=" ".join(sorted(names)))


def noted(connection: Connection) -> list[str]:
    """Tables of which traces are left."""
    value = connection.scalar(select(fact.c.value).where(fact.c.name == PENDING))
    return value.split(" ") if value else []


def are_left(book: Book) -> bool:
    """Whether something is gone of which traces are left."""
    with book.reading() as connection:
        return bool(noted(connection))


def clear(book: Book) -> bool:
    """Rewrite the database without what is no longer in it.

    SQLite overwrites freed bytes at once (``secure_delete``), but old pages stand in its log until that is emptied, and a page
    that was split can keep a copy: so the file is rewritten and the log emptied. PostgreSQL keeps old rows until their table is
    rewritten; only the tables that lost something are, for nobody can use a table meanwhile. What either has written to the disk before, copies of the disk, and PostgreSQL's log for replicas are out of
    reach from here.

    Returns
    -------
    bool
        False where others were using the book all the time; it is tried again when the book is next opened.
    """
    cleared = _clear_sqlite(book) if book.engine.dialect.name == "sqlite" else _clear_postgresql(book)
    if cleared:
        with book.writing() as connection:
            connection.execute(delete(fact).where(fact.c.name == PENDING))
    return cleared


def _clear_sqlite(book: Book) -> bool:
    with told(), book.engine.connect() as connection:
        # The driver itself: neither of the two runs within a transaction.
        driver = connection.connection.driver_connection
        assert driver is not None
        for _ in range(TRIES):
            with suppress(sqlite3.OperationalError):
                driver.execute("VACUUM").close()
                busy, _log, _moved = driver.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
                if not busy:
                    return True
            time.sleep(0.2)
    return False


def _clear_postgresql(book: Book) -> bool:
    with book.reading() as connection:
        names = noted(connection)
    with told(), book.engine.connect() as plain:
        connection = plain.execution_options(isolation_level="AUTOCOMMIT")
        connection.execute(text("SET lock_timeout = '5s'"))
        try:
            for table in metadata.sorted_tables:
                if table.name in names:
                    connection.execute(text(f"VACUUM (FULL) {table.name}"))
        except exc.OperationalError:
            return False
        finally:
            connection.execute(text("RESET lock_timeout"))
    return True


def to_disk(handle: int) -> None:
    """Bring a file that was written to the disk itself."""
    os.fsync(handle)
