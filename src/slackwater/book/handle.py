"""The handle of an open book: transactions for reading and for writing, and database faults as plain sentences."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import TracebackType

from sqlalchemy import Connection, Engine

from slackwater.book.blobs import Blobs
from slackwater.book.faults import told
from slackwater.book.safe import Safe


@dataclass(frozen=True, slots=True)
class Book:
    """An open record book; made by `open_book`, handed to the functions of this room.

    Attributes
    ----------
    engine : Engine
        For this room only.
    folder : Path
        The data folder: the list of erasures lies in it, and with SQLite the book and its photos too.
    blobs : Blobs
        Where originals of photos and documents are kept.
    safe : Safe
        Seals and opens personal data.
    clock : callable
        The time now, in UTC; read only for the moment at which something was received.
    """

    engine: Engine
    folder: Path
    blobs: Blobs
    safe: Safe
    clock: Callable[[], datetime]

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent look at the book; writers go on meanwhile."""
        with told(), self.engine.connect() as plain:
            on_postgresql = self.engine.dialect.name == "postgresql"
            connection = plain.execution_options(isolation_level="REPEATABLE READ") if on_postgresql else plain
            with connection.begin():
                yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that writes: all of it is kept when it ends well, none of it otherwise."""
        with (
            told(),
            self.engine.connect() as plain,
            plain.execution_options(slackwater_writes=True) as connection,
            connection.begin(),
        ):
            yield connection

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    def __enter__(self) -> Book:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
