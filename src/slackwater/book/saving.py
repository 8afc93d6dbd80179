"""Writing the whole book to an archive, from one consistent look at it while others go on working."""

from __future__ import annotations

import base64
import json
from collections.abc import Iterator, Mapping
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, LargeBinary, Table, select

from slackwater.book import archive, migrate, moments, sealing, tables
from slackwater.book.archive import Kind, Manifest, Writer
from slackwater.book.handle import Book
from slackwater.errors import CannotRun, CorruptBook

NOT_SAVED = ("fact", "credential", "session", "attempt", "parcel")
"""The book's own id and notes to itself, and what lets people in: none of that leaves the book in a file; and what passes between
machines, which can be made again."""
ENDINGS = {
    "image/jpeg": "jpg",
    "image/png": "png",
    "image/webp": "webp",
    "application/pdf": "pdf",
    "text/plain": "txt",
    "text/csv": "csv",
    "application/json": "json",
}
TRIES = 3


def save(book: Book, path: Path, *, kind: Kind, at: datetime, program: str) -> Manifest:
    """Write the whole book to a new file, and read all of it again before it counts.

    Parameters
    ----------
    kind : Kind
        A backup keeps personal data sealed; an export opens them.
    program : str
        Version of this program.

    Raises
    ------
    Conflict, CannotRun
        If the file is there, or cannot be written.
    CorruptBook
        If something in the book cannot be read.
    """
    for _ in range(TRIES):
        with suppress(_ErasedMeanwhile):
            return _save(book, path, kind=kind, at=at, program=program)
    raise CannotRun("Something was erased each time while the book was being saved; do it again when that is done")


class _ErasedMeanwhile(Exception):
    """An original is gone that a look at the book, begun before, still names."""


def _save(book: Book, path: Path, *, kind: Kind, at: datetime, program: str) -> Manifest:
    with book.reading() as connection:
        form = migrate.revision_of(connection)
        assert form is not None
        with archive.writing(path) as packed:
            writer = Writer(packed)
            for table in tables.metadata.sorted_tables:
                if table.name not in NOT_SAVED:
                    writer.put_rows(table.name, _rows(book, connection, table, kind))
            _put_texts(connection, writer)
            _put_originals(book, connection, writer)
            manifest = Manifest(
                format=archive.FORMAT,
                kind=kind,
                form=form,
                program=program,
                book_id=connection.execute(
                    select(tables.fact.c.value).where(tables.fact.c.name == "book_id")
                ).scalar_one(),
                written_at=moments.stored(at),
                rows=writer.rows,
                files=writer.files,
            )
            writer.put(archive.MANIFEST, json.dumps(manifest.model_dump(mode="json"), indent=1).encode("utf-8"))
        return manifest


def _rows(book: Book, connection: Connection, table: Table, kind: Kind) -> Iterator[Mapping[str, Any]]:
    left_out = {"version": "text", "blob": "content"}.get(table.name)
    columns = [column for column in table.c if column.name != left_out]
    binary = [column.name for column in columns if isinstance(column.type, LargeBinary)]
    asked = select(*columns).order_by(*table.primary_key.columns).execution_options(yield_per=50)
    for found in connection.execute(asked).mappings():
        row = dict(found)
        if table.name in sealing.NAMES:
            _open(book, row, kind)
        for name in binary:
            if row.get(name) is not None:
                row[name] = base64.b64encode(row[name]).decode("ascii")
        yield row


def _open(book: Book, row: dict[str, Any], kind: Kind) -> None:
    """Show a sealed entry as it is, where it is not sealed or is to be opened."""
    if row["sealed"] is not None and (kind is Kind.EXPORT or row["sealed_with"] == ""):
        row["open"] = json.loads(book.safe.open(row["sealed"], sealed_with=row["sealed_with"]))
        row["sealed"], row["sealed_with"] = None, ""


def _put_texts(connection: Connection, writer: Writer) -> None:
    version = tables.version
    asked = select(version.c.job_id, version.c.n, version.c.text).order_by(version.c.job_id, version.c.n)
    for row in connection.execute(asked.execution_options(yield_per=100)):
        writer.put(archive.text_file(row.job_id, row.n), row.text.encode("utf-8"))


def _put_originals(book: Book, connection: Connection, writer: Writer) -> None:
    endings: dict[str, str] = {}
    for table in (tables.document, tables.photo):
        for sha256, media_type in connection.execute(select(table.c.sha256, table.c.media_type)):
            endings[sha256] = ENDINGS.get(media_type, "bin")
    for sha256 in connection.scalars(select(tables.blob.c.sha256).order_by(tables.blob.c.sha256)).all():
        name = f"originals/{sha256}.{endings.get(sha256, 'bin')}"
        writer.put(name, _original(book, connection, sha256), packs_well=False)


def _original(book: Book, connection: Connection, sha256: str) -> bytes:
    try:
        return book.blobs.get(connection, sha256)
    except CorruptBook:
        with book.reading() as now:
            if now.scalar(select(tables.blob.c.sha256).where(tables.blob.c.sha256 == sha256)) is None:
                raise _ErasedMeanwhile from None
        raise
