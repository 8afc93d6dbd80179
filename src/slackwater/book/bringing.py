"""Bringing an archive into a book: a restore into an empty one, or an import beside what is there."""

from __future__ import annotations

import base64
import json
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import (
    Connection,
    LargeBinary,
    MetaData,
    StaticPool,
    Table,
    create_engine,
    func,
    insert,
    select,
    update,
)
from sqlalchemy.exc import IntegrityError, SQLAlchemyError

from slackwater.book import archive, erasing, migrate, sealing, tables, traces
from slackwater.book.archive import Manifest, Reader
from slackwater.book.erasing import Erasure
from slackwater.book.handle import Book
from slackwater.book.rows import add_many
from slackwater.book.saving import NOT_SAVED
from slackwater.errors import Conflict, CorruptBook

CHUNK = 100
NOT_QUEUED = {"program": None, "handed": "{}"}
"""A book that was brought back has no workers: what waited is handed over anew by the office that opens it."""
LINKS_TO_ITSELF = {"job": "copied_from", "water_test": "corrects", "task": "restarts", "invoice": "corrects"}
OWN = ("firm",)
"""What a book has of its own: it comes from elsewhere only where there is none yet."""


@dataclass(frozen=True, slots=True)
class Brought:
    """What came into the book.

    Attributes
    ----------
    manifest : Manifest
    added : int
        Rows that are new.
    there : int
        Rows that the book had already, the same.
    erased_again : int
        Erasures that were applied.
    traces_removed : bool
        As in `erasing.Erased`.
    """

    manifest: Manifest
    added: int
    there: int
    erased_again: int
    traces_removed: bool


def restore(book: Book, path: Path, *, erasures: Sequence[Erasure] = ()) -> Brought:
    """Bring a backup or an export into an empty book, all or nothing, and erase again what was erased.

    Parameters
    ----------
    erasures : sequence of Erasure
        From a list kept elsewhere, beside the one in the data folder and the one in the archive.

    Raises
    ------
    Conflict
        If there is something in the book.
    NotFound, BadInput, CorruptBook, CannotRun
        If the archive is not there, is no archive, is damaged, or was written by a newer program or with another key.
    """
    with book.reading() as connection:
        held = [table.name for table in _saved() if connection.scalar(select(func.count()).select_from(table))]
    if set(held) - {"erasure"}:
        raise Conflict(
            "This book is not empty. A restore goes into an empty one: choose another SLACKWATER_HOME or database, or move the "
            "book's file aside. To add what is in the file to this book, import it"
        )
    return bring(book, path, erasures=erasures)


def bring(book: Book, path: Path, *, erasures: Sequence[Erasure] = ()) -> Brought:
    """Add what is in an archive to a book, all or nothing; what is there already, the same, is left as it is.

    Raises
    ------
    Conflict
        If the book has something of the same id that is not the same.
    NotFound, BadInput, CorruptBook, CannotRun
        As for `restore`.
    """
    with archive.reading(path) as reader:
        reader.verify()
        with _unpacked(reader) as source:
            return _merge(book, reader, source, erasures)


def _saved() -> list[Table]:
    return [table for table in tables.metadata.sorted_tables if table.name not in NOT_SAVED]


@contextmanager
def _unpacked(reader: Reader) -> Iterator[Connection]:
    """The archive's rows in today's form: laid out in the form they were saved in, then taken through the steps since.

    A database without a name lies in memory, and beyond that in a file that nobody can find and that is gone with the process
    (https://www.sqlite.org/inmemorydb.html, section 3): no copy of personal data is left on a disk.
    """
    migrate.check_known(reader.manifest.form)
    engine = create_engine("sqlite://", creator=lambda: sqlite3.connect(""), poolclass=StaticPool)
    try:
        with engine.connect() as connection, connection.begin():
            migrate.to_revision(connection, reader.manifest.form)
            was = MetaData()
            was.reflect(connection)
            try:
                for table in was.sorted_tables:
                    if table.name in reader.manifest.rows:
                        rows = _read(reader, table)
                        while chunk := [row for _, row in zip(range(CHUNK), rows, strict=False)]:
                            connection.execute(insert(table), chunk)
            except (ValueError, LookupError, TypeError, AttributeError, RecursionError, SQLAlchemyError) as error:
                raise CorruptBook(
                    f"The archive does not hold what its tables ask for ({error}); use another copy"
                ) from error
            migrate.to_revision(connection, migrate.newest_revision())
            yield connection
    finally:
        engine.dispose()


def _read(reader: Reader, table: Table) -> Iterator[dict[str, Any]]:
    binary = [column.name for column in table.c if isinstance(column.type, LargeBinary)]
    expected = {column.name for column in table.c} - ({"content"} if table.name == "blob" else set())
    for line in reader.lines(archive.table_file(table.name)):
        row = json.loads(line)
        if table.name == "version":
            row["text"] = reader.content(archive.text_file(row["job_id"], row["n"])).decode("utf-8")
        if (opened := row.pop("open", None)) is not None:
            row["sealed"] = base64.b64encode(_as_sealed(opened)).decode("ascii")
        for name in binary:
            if row.get(name) is not None:
                row[name] = base64.b64decode(row[name], validate=True)
        if row.keys() != expected:
            raise ValueError(f"{table.name}: {', '.join(sorted(row.keys() ^ expected))[:80]}")
        yield row


def _as_sealed(opened: dict[str, Any]) -> bytes:
    return json.dumps(opened, ensure_ascii=False, sort_keys=True).encode("utf-8")


def _merge(book: Book, reader: Reader, source: Connection, erasures: Sequence[Erasure]) -> Brought:
    added = there = 0
    listed = erasing.read_list(book.folder / erasing.FILE_NAME)
    try:
        with book.writing() as connection:
            for table in _saved():
                new, same = _merge_table(book, reader, source, connection, table)
                added, there = added + new, there + same
            again = _all(erasing.known(connection), listed, erasures)
            dropped = erasing.carry_out(book, connection, again)
    except IntegrityError as error:
        raise Conflict(
            "What is in the file does not fit together with what is in the book, and nothing was taken from it: two events of "
            f"one device or two invoices bear one number, or something that is linked is missing ({error.orig})"
        ) from error
    erasing.sweep(book, dropped)
    erasing.write_list(book.folder / erasing.FILE_NAME, [entry for entry in again if entry not in listed])
    removed = traces.clear(book) if again else True
    return Brought(reader.manifest, added, there, len(again), removed)


def _all(*lists: Sequence[Erasure]) -> list[Erasure]:
    by_id = {entry.id: entry for entries in lists for entry in entries}
    return sorted(by_id.values(), key=lambda entry: (entry.at, entry.id))


def _merge_table(
    book: Book, reader: Reader, source: Connection, connection: Connection, table: Table
) -> tuple[int, int]:
    """Add the rows that are new; how many they were, and how many were there."""
    keys = list(table.primary_key.columns)
    held = {tuple(row) for row in connection.execute(select(*keys))}
    new: list[dict[str, Any]] = []
    links: dict[str, str] = {}
    added = there = 0
    for found in source.execute(select(table).order_by(*keys)).mappings():
        row = _for_here(book, table, dict(found))
        key = tuple(row[column.name] for column in keys)
        if held and table.name in OWN:
            there += 1
            continue
        if key in held:
            _check_same(book, connection, table, key, row)
            there += 1
            continue
        added += 1
        if table.name == "blob":
            _put_original(book, reader, connection, row["sha256"])
            continue
        itself = LINKS_TO_ITSELF.get(table.name, "")
        if row.get(itself):
            links[row["id"]], row[itself] = row[itself], None
        new.append(row)
        if len(new) == CHUNK:
            add_many(connection, table, new)
            new = []
    add_many(connection, table, new)
    for row_id, link in links.items():
        connection.execute(update(table).where(table.c.id == row_id).values({LINKS_TO_ITSELF[table.name]: link}))
    return added, there


def _for_here(book: Book, table: Table, row: dict[str, Any]) -> dict[str, Any]:
    """A row as this book keeps it: what comes open is sealed with its key, and work is in nobody's queue."""
    if table.name == "task":
        return {**row, **NOT_QUEUED}
    if table.name in sealing.NAMES and row["sealed"] is not None:
        book.safe.check_key(row["sealed_with"])
        if row["sealed_with"] == "":
            row = {**row, "sealed": book.safe.seal(row["sealed"].decode("utf-8")), "sealed_with": book.safe.fingerprint}
    return row


def _put_original(book: Book, reader: Reader, connection: Connection, sha256: str) -> None:
    name = next(
        (name for name in reader.manifest.files if name.startswith(f"originals/{sha256}.")), f"originals/{sha256}"
    )
    if book.blobs.put(connection, reader.content(name)) != sha256:
        raise CorruptBook(
            f"{name[:80]} in the archive is not what its name says; nothing was taken from it, use another copy"
        )


def _check_same(book: Book, connection: Connection, table: Table, key: tuple[Any, ...], row: dict[str, Any]) -> None:
    columns = list(table.primary_key.columns)
    asked = select(table).where(*(column == part for column, part in zip(columns, key, strict=True)))
    here = dict(connection.execute(asked).mappings().one())
    if _comparable(book, table, here) != _comparable(book, table, row):
        name = f" ({here['name']})" if here.get("name") else ""
        raise Conflict(
            f"The book has {table.name.replace('_', ' ')} {'/'.join(map(str, key))}{name} already, and not as it is in the file. "
            "Nothing was taken from it. To have the book as it was then, restore the file into an empty one"
        )


def _comparable(book: Book, table: Table, row: dict[str, Any]) -> dict[str, Any]:
    if table.name == "blob":
        return {"size": row["size"]}
    if table.name == "task":
        return {**row, **NOT_QUEUED}
    if table.name in sealing.NAMES and row["sealed"] is not None:
        return {
            **row,
            "sealed": json.loads(book.safe.open(row["sealed"], sealed_with=row["sealed_with"])),
            "sealed_with": "",
        }
    return row
