"""Looking the whole book through: the database's own check, every hash, every number, every link."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, func, select, text

from slackwater.book import erasing, tables, traces
from slackwater.book.blobs import content_hash
from slackwater.book.events import ERASED, event_hash, read_row
from slackwater.book.handle import Book
from slackwater.book.people import Person
from slackwater.book.places import key_of
from slackwater.errors import CorruptBook

HARMLESS = ("original_unused", "file_unknown", "erasure_open", "erasure_unlisted", "erased_came_back", "traces_left")


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that is not as it must be; its sentence is ``book.fault.<id>`` of the wording, filled with `values`."""

    id: str
    values: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Checked:
    """What a look through the book found.

    Attributes
    ----------
    rows : mapping of str to int
        How much there is of everything.
    faults : tuple of Fault
        Empty for a sound book.
    notes : tuple of Fault
        What does no harm, or is put right when the book is next opened.
    """

    rows: Mapping[str, int]
    faults: tuple[Fault, ...]
    notes: tuple[Fault, ...]


def check(book: Book) -> Checked:
    """Look the whole book through; nothing is changed.

    Raises
    ------
    CorruptBook, CannotRun
        If so much is damaged that it cannot be looked through.
    """
    with book.reading() as connection:
        found = [
            *_database(connection),
            *_versions(connection),
            *_events(connection),
            *_people(book, connection),
            *_invoices(book, connection),
            *_originals(book, connection),
            *_erasures(book, connection),
        ]
        rows = {
            table.name: connection.execute(select(func.count()).select_from(table)).scalar_one()
            for table in tables.metadata.sorted_tables
        }
    return Checked(
        rows,
        faults=tuple(fault for fault in found if fault.id not in HARMLESS),
        notes=tuple(fault for fault in found if fault.id in HARMLESS),
    )


def _database(connection: Connection) -> Iterator[Fault]:
    if connection.dialect.name != "sqlite":
        # PostgreSQL keeps links itself and tells of a damaged page when it is read, as all are here.
        return
    for (said,) in connection.execute(text("PRAGMA integrity_check(20)")):
        if said != "ok":
            yield Fault("database", {"said": str(said)})
    for row in connection.execute(text("PRAGMA foreign_key_check")):
        yield Fault("link_missing", {"table": str(row[0]), "to": str(row[2])})


def _versions(connection: Connection) -> Iterator[Fault]:
    version, job = tables.version, tables.job
    seen: Counter[str] = Counter()
    asked = select(version).order_by(version.c.job_id, version.c.n).execution_options(yield_per=100)
    for row in connection.execute(asked):
        seen[row.job_id] += 1
        if content_hash(row.text.encode("utf-8")) != row.sha256:
            yield Fault("version_changed", {"job": row.job_id, "n": str(row.n)})
        if row.n != seen[row.job_id] or row.parent != row.n - 1:
            yield Fault("version_missing", {"job": row.job_id, "n": str(row.n)})
    for row in connection.execute(select(job.c.id, job.c.newest_n)):
        if row.newest_n != seen[row.id] or row.newest_n == 0:
            yield Fault("versions_lost", {"job": row.id, "said": str(row.newest_n), "found": str(seen[row.id])})


def _events(connection: Connection) -> Iterator[Fault]:
    event, job = tables.event, tables.job
    seen: Counter[str] = Counter()
    asked = select(event).order_by(event.c.job_id, event.c.n).execution_options(yield_per=500)
    for row in connection.execute(asked):
        seen[row.job_id] += 1
        if row.n != seen[row.job_id]:
            yield Fault("event_missing", {"job": row.job_id, "n": str(row.n)})
        if row.sha256 != ERASED and not _is_sound(row):
            yield Fault("event_changed", {"job": row.job_id, "n": str(row.n)})
    for row in connection.execute(select(job.c.id, job.c.events_n)):
        if row.events_n != seen[row.id]:
            yield Fault("events_lost", {"job": row.id, "said": str(row.events_n), "found": str(seen[row.id])})


def _is_sound(row: Row[Any]) -> bool:
    try:
        return event_hash(read_row(row).event) == str(row.sha256)
    except ValueError:
        return False


def _people(book: Book, connection: Connection) -> Iterator[Fault]:
    for row in connection.execute(select(tables.person).where(tables.person.c.sealed.is_not(None))):
        try:
            Person.model_validate_json(book.safe.open(row.sealed, sealed_with=row.sealed_with))
        except (CorruptBook, ValueError):
            yield Fault("person_damaged", {"person": row.id})


def _invoices(book: Book, connection: Connection) -> Iterator[Fault]:
    numbers: dict[int, list[int]] = {}
    for table in (tables.invoice, tables.invoice_paper):
        # One at a time: papers are large.
        for row_id in connection.scalars(select(table.c.id).order_by(table.c.id)).all():
            row = connection.execute(select(table).where(table.c.id == row_id)).one()
            try:
                content = book.safe.open(row.sealed or b"", sealed_with=row.sealed_with)
            except (CorruptBook, ValueError):
                content = ""
            if content_hash(content.encode("utf-8")) != row.sha256:
                yield Fault("invoice_changed", {"invoice": row.id})
            if table is tables.invoice and row.n is not None:
                numbers.setdefault(row.year, []).append(row.n)
    papers = set(connection.scalars(select(tables.invoice_paper.c.id)))
    issued = set(connection.scalars(select(tables.invoice.c.id).where(tables.invoice.c.n.is_not(None))))
    for row_id in sorted(issued - papers):
        yield Fault("invoice_paper_lost", {"invoice": row_id})
    for year, used in sorted(numbers.items()):
        for n in sorted(set(range(min(used), max(used))) - set(used)):
            yield Fault("invoice_number_missing", {"year": str(year), "n": str(n)})


def _originals(book: Book, connection: Connection) -> Iterator[Fault]:
    lost: set[str] = set()
    for sha256 in connection.scalars(select(tables.blob.c.sha256).order_by(tables.blob.c.sha256)).all():
        try:
            book.blobs.get(connection, sha256)
        except CorruptBook:
            lost.add(sha256)
    used: set[str] = set()
    for table in (tables.photo, tables.document):
        for row in connection.execute(select(table.c.id, table.c.sha256).where(table.c.sha256.is_not(None))):
            used.add(row.sha256)
            if row.sha256 in lost:
                yield Fault("original_lost", {"table": table.name, "id": key_of(table.name, row)})
    known = set(connection.scalars(select(tables.blob.c.sha256)))
    for sha256 in sorted(known - used):
        yield Fault("original_unused", {"file": sha256})
    for name in book.blobs.strays(connection):
        yield Fault("file_unknown", {"file": name})


def _erasures(book: Book, connection: Connection) -> Iterator[Fault]:
    told = {entry.id for entry in erasing.read_list(book.folder / erasing.FILE_NAME)}
    done = {entry.id for entry in erasing.known(connection)}
    if told - done:
        yield Fault("erasure_open", {"count": str(len(told - done))})
    if done - told:
        yield Fault("erasure_unlisted", {"count": str(len(done - told)), "file": erasing.FILE_NAME})
    still = select(func.count()).select_from(
        tables.erasure.join(tables.person, tables.person.c.id == tables.erasure.c.target)
    )
    back = connection.execute(still.where(tables.person.c.sealed.is_not(None))).scalar_one()
    if back:
        yield Fault("erased_came_back", {"count": str(back)})
    if traces.noted(connection):
        yield Fault("traces_left", {})
