"""Opening a book: connect, bring it to today's form, and make sure that the key fits."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, insert, make_url, select
from sqlalchemy.exc import ArgumentError

from slackwater.book import erasing, migrate, sealing
from slackwater.book.blobs import Blobs, FolderBlobs, TableBlobs
from slackwater.book.faults import told
from slackwater.book.handle import Book
from slackwater.book.ids import new_id
from slackwater.book.moments import utc_now
from slackwater.book.safe import Safe
from slackwater.book.tables import fact
from slackwater.errors import BadInput, CannotRun, Conflict, NotFound

FILE_NAME = "book.sqlite3"
"""The book inside its data folder."""
PHOTO_FOLDER = "originals"
"""Photos and documents inside the data folder, with SQLite."""


def open_book(
    where: Path | str,
    key: bytes | None = None,
    *,
    folder: Path | None = None,
    clock: Callable[[], datetime] = utc_now,
) -> Book:
    """Open a record book; one that is not there is begun, an older one is brought to today's form.

    Parameters
    ----------
    where : Path or str
        The data folder, for a book in SQLite; or ``postgresql://user@host/name``.
    key : bytes or None
        Seals names, contacts and door codes (`safe.read_key_file`).
    folder : Path or None
        The data folder, where `where` is a database; the list of erasures lies in it.
    clock : callable
        The time now, in UTC.

    Raises
    ------
    BadInput, CannotRun
        If it cannot be opened: address, rights, server, key, or a book newer than this program.
    CorruptBook
        If the file is damaged, or is no book.
    """
    engine, folder = _engine(where, folder)
    try:
        _make_private(folder)
        if engine.dialect.name == "sqlite":
            _make_file_private(folder / FILE_NAME)
        with told():
            migrate.to_newest(engine)
        blobs: Blobs = TableBlobs() if engine.dialect.name == "postgresql" else FolderBlobs(folder / PHOTO_FOLDER)
        book = Book(engine=engine, folder=folder, blobs=blobs, safe=Safe(key), clock=clock)
        _begin(book)
        sealing.seal_all(book)
        erasing.catch_up(book)
    except BaseException:
        engine.dispose()
        raise
    return book


def open_to_work(where: str, folder: Path, *, clock: Callable[[], datetime] = utc_now) -> Book:
    """Open a book in a database for long work only: nothing is begun, brought to another form or unsealed.

    Parameters
    ----------
    where : str
        ``postgresql://user@host/name``.
    folder : Path
        Of the worker; no list of erasures is kept in it.
    clock : callable
        The time now, in UTC.

    Raises
    ------
    BadInput, CannotRun
        If it cannot be opened, or is in the form of a newer program.
    NotFound
        If no book was begun there.
    Conflict
        If it is in the form of an older program.
    """
    engine, folder = _engine(where, folder)
    try:
        with told(), engine.connect() as connection:
            form = migrate.revision_of(connection)
        migrate.check_known(form)
        if form is None:
            raise NotFound("No record book was begun in this database")
        if form != migrate.newest_revision():
            raise Conflict(f"The record book has form {form}, this program works on form {migrate.newest_revision()}")
    except BaseException:
        engine.dispose()
        raise
    return Book(engine=engine, folder=folder, blobs=TableBlobs(), safe=Safe(None), clock=clock)


def _begin(book: Book) -> None:
    """Note the book's own id, once."""
    with book.reading() as connection:
        if connection.scalar(select(fact.c.value).where(fact.c.name == "book_id")):
            return
    with book.writing() as connection:
        now = connection.scalar(select(fact.c.value).where(fact.c.name == "book_id"))
        if now is None:
            connection.execute(insert(fact).values(name="book_id", value=new_id(book.clock())))


def _engine(where: Path | str, folder: Path | None) -> tuple[Engine, Path]:
    if isinstance(where, Path) or "://" not in where:
        home = Path(where)
        return _sqlite(home / FILE_NAME), home
    if folder is None:
        raise BadInput("A book in a database needs a data folder too, for the list of erasures")
    try:
        url = make_url(where)
    except ArgumentError:
        raise BadInput(
            "SLACKWATER_DATABASE is no address of a database; expected postgresql://user@host/name"
        ) from None
    if url.get_backend_name() != "postgresql":
        raise BadInput(
            f"SLACKWATER_DATABASE names {url.get_backend_name()}; expected postgresql://user@host/name, or nothing for a "
            "book in the data folder"
        )
    return create_engine(url.set(drivername="postgresql+psycopg"), pool_pre_ping=True, pool_size=20), folder


def _sqlite(file: Path) -> Engine:
    engine = create_engine(f"sqlite:///{file}", pool_size=20)
    event.listen(engine, "connect", _prepare)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare(connection: Any, _record: Any) -> None:
    # The driver's own transactions would leave DDL outside and take the write lock late: ours are begun in `_begin_sqlite`.
    connection.isolation_level = None
    for pragma in (
        "busy_timeout=5000",
        "journal_mode=WAL",
        "foreign_keys=ON",
        "synchronous=FULL",
        "secure_delete=ON",
    ):
        connection.execute(f"PRAGMA {pragma}").close()


def _begin_sqlite(connection: Connection) -> None:
    # A writer that begins as a reader cannot wait: SQLite refuses to lift a stale look at the book to a write.
    writes = connection.get_execution_options().get("slackwater_writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _make_private(folder: Path) -> None:
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise CannotRun(
            f"{folder} cannot be made: {error.strerror}. Choose another folder in SLACKWATER_HOME"
        ) from error


def _make_file_private(file: Path) -> None:
    """Begin the file ourselves: the database would let everybody on the machine read it, and its log likewise."""
    try:
        file.touch(mode=0o600, exist_ok=True)
    except OSError as error:
        raise CannotRun(f"{file} cannot be made: {error.strerror}. Choose another folder in SLACKWATER_HOME") from error
