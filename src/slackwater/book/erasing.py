"""Erasing for good: a person, a photo, a document, or words in a text; the list of it is applied again on every restore.

Nothing else in the book is ever changed in place. An erasure is written to a file beside the book before anything is removed,
so that one that was cut off is finished when the book is next opened, and one made after a backup outlives the book.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from sqlalchemy import Connection, select, update

from slackwater.book import invoices, moments, places, traces
from slackwater.book.accounts import close_account_of
from slackwater.book.handle import Book
from slackwater.book.ids import new_id
from slackwater.book.photos import drop_unused
from slackwater.book.places import TextPlace
from slackwater.book.rows import found, insert_once
from slackwater.book.tables import client, client_person, document, erasure, job, person, photo, site
from slackwater.errors import CannotRun, CorruptBook
from slackwater.frozen import Frozen

FILE_NAME = "erased.jsonl"
"""The list of erasures in the data folder; it holds ids only, and texts as they read since."""


class Kind(StrEnum):
    """What was erased."""

    PERSON = "person"
    PHOTO = "photo"
    DOCUMENT = "document"
    TEXT = "text"


class Erasure(Frozen):
    """One erasure.

    Attributes
    ----------
    id : str
    kind : Kind
    target : str
        Id of the person, photo or document; for a text, where it stands (`TextPlace`).
    becomes : str or None
        How a text reads since.
    at : str
        UTC.
    by : str
        Id of who did it.
    """

    id: str
    kind: Kind
    target: str
    becomes: str | None = None
    at: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class Erased:
    """What was erased.

    Attributes
    ----------
    erasures : tuple of Erasure
    traces_removed : bool
        False where somebody else was using the book all the time, so that old pages of the file could not be cleared: that is
        tried again when the book is next opened.
    """

    erasures: tuple[Erasure, ...]
    traces_removed: bool


def erase_person(book: Book, person_id: str, *, at: datetime, by: str) -> Erased:
    """Remove everything that is known of a person; their id stays where it is named.

    Drafts of invoices to their clients go too. Invoices that were issued stay: tax law asks for them for years.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        found(connection, person, person_id)
    return _erase(book, [_erasure(Kind.PERSON, person_id, None, at, by)])


def erase_client(book: Book, client_id: str, *, at: datetime, by: str) -> Erased:
    """Remove all people of a client and of its sites; what to look through then is told by `review.of_client`.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        found(connection, client, client_id)
        spoke = connection.scalars(select(client_person.c.person_id).where(client_person.c.client_id == client_id))
        there = connection.scalars(
            select(site.c.person_id).where(site.c.client_id == client_id, site.c.person_id.is_not(None))
        )
        ids = sorted({*spoke, *there})
    return _erase(book, [_erasure(Kind.PERSON, person_id, None, at, by) for person_id in ids])


def erase_photo(book: Book, photo_id: str, *, at: datetime, by: str) -> Erased:
    """Remove a photo, its thumbnail and its caption; that there was one stays.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        found(connection, photo, photo_id)
    return _erase(book, [_erasure(Kind.PHOTO, photo_id, None, at, by)])


def erase_document(book: Book, document_id: str, *, at: datetime, by: str) -> Erased:
    """Remove a document and its title; that there was one stays.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        found(connection, document, document_id)
    return _erase(book, [_erasure(Kind.DOCUMENT, document_id, None, at, by)])


def replace_text(book: Book, place: TextPlace, becomes: str, *, at: datetime, by: str) -> Erased:
    """Let a text read otherwise, after review; what stood there is gone.

    Raises
    ------
    NotFound, BadInput
        If there is no such text, or the new one cannot stand there.
    """
    with book.reading() as connection:
        places.text_at(connection, place)
    places.check_fits(place, becomes)
    return _erase(book, [_erasure(Kind.TEXT, place.told(), becomes, at, by)])


def listed(book: Book) -> list[Erasure]:
    """All erasures, in the order in which they were made."""
    with book.reading() as connection:
        return known(connection)


def catch_up(book: Book) -> int:
    """Finish what is in the list beside the book and not in the book: cut off, or made after the backup it came from.

    Returns
    -------
    int
        How many there were.

    Raises
    ------
    CorruptBook
        If the list cannot be read.
    """
    told = read_list(book.folder / FILE_NAME)
    with book.reading() as connection:
        done = known(connection)
    ids = {entry.id for entry in done}
    missing = [entry for entry in told if entry.id not in ids]
    if missing:
        apply(book, missing)
    elif traces.are_left(book):
        with book.writing() as connection:
            book.blobs.sweep_strays(connection)
        traces.clear(book)
    # A firm's book is opened on several machines: each of them keeps the whole list.
    listed_here = {entry.id for entry in told}
    if unlisted := [entry for entry in done if entry.id not in listed_here]:
        write_list(book.folder / FILE_NAME, unlisted)
    return len(missing)


def apply(book: Book, erasures: Iterable[Erasure]) -> bool:
    """Carry out erasures, those that were carried out before included; what is not in the book is passed over.

    Returns
    -------
    bool
        Whether traces in old pages of the file are gone too.
    """
    with book.writing() as connection:
        dropped = carry_out(book, connection, erasures)
    sweep(book, dropped)
    return traces.clear(book)


def carry_out(book: Book, connection: Connection, erasures: Iterable[Erasure]) -> list[str]:
    """Carry out erasures within a transaction; the originals that `sweep` removes when it is certain."""
    dropped: list[str] = []
    for entry in erasures:
        dropped += _carry_out(book, connection, entry)
        insert_once(connection, erasure, **entry.model_dump(mode="json"))
        traces.leave(connection, *_tables_of(entry))
    return dropped


def sweep(book: Book, dropped: Iterable[str]) -> None:
    """Remove the files of originals that were dropped."""
    with book.writing() as connection:
        for sha256 in dropped:
            book.blobs.sweep(connection, sha256)


def read_list(path: Path) -> list[Erasure]:
    """The erasures in a list; none where there is no such file.

    Raises
    ------
    CorruptBook, CannotRun
        If it cannot be read.
    """
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except FileNotFoundError:
        return []
    except UnicodeDecodeError as error:
        raise CorruptBook(_DAMAGED_LIST.format(path=path, line=1)) from error
    except OSError as error:
        raise CannotRun(f"{path} cannot be read: {error.strerror}") from error
    entries: list[Erasure] = []
    for number, line in enumerate(lines, start=1):
        try:
            entries.append(Erasure.model_validate_json(line))
        except ValidationError as error:
            # A last line cut off in the middle was never acted on: the list is written before anything is removed.
            if number < len(lines):
                raise CorruptBook(_DAMAGED_LIST.format(path=path, line=number)) from error
    return entries


_DAMAGED_LIST = (
    "{path}, line {line}: the list of erasures is damaged. Bring this file back from your last copy of the folder; without it, "
    "what was erased could come back"
)


def write_list(path: Path, erasures: Iterable[Erasure]) -> None:
    """Add erasures to a list, down to the disk.

    Raises
    ------
    CannotRun
    """
    try:
        cut_off = path.exists() and not path.read_bytes().endswith(b"\n") and path.stat().st_size > 0
        if cut_off:
            whole = path.read_bytes()
            path.write_bytes(whole[: whole.rfind(b"\n") + 1])
        with path.open("ab") as file:
            for entry in erasures:
                file.write(entry.model_dump_json().encode("utf-8") + b"\n")
            file.flush()
            traces.to_disk(file.fileno())
    except OSError as error:
        raise CannotRun(f"{path} cannot be written: {error.strerror}. Nothing was erased") from error


def _erasure(kind: Kind, target: str, becomes: str | None, at: datetime, by: str) -> Erasure:
    return Erasure(id=new_id(at), kind=kind, target=target, becomes=becomes, at=moments.stored(at), by=by)


def _erase(book: Book, erasures: list[Erasure]) -> Erased:
    write_list(book.folder / FILE_NAME, erasures)
    return Erased(tuple(erasures), apply(book, erasures))


def known(connection: Connection) -> list[Erasure]:
    """All erasures, read within a transaction, in the order in which they were made."""
    rows = connection.execute(select(erasure).order_by(erasure.c.at, erasure.c.id)).mappings()
    return [Erasure.model_validate(dict(row)) for row in rows]


def _tables_of(entry: Erasure) -> tuple[str, ...]:
    if entry.kind is Kind.TEXT:
        # A job's line repeats what its text says.
        return (TextPlace.from_told(entry.target).table, "job")
    return ("person", "invoice") if entry.kind is Kind.PERSON else (entry.kind.value, "blob")


def _jobs_of(person_id: str) -> Any:
    """Jobs of the clients for whom a person is entered: their drafts of invoices name them."""
    of_client = select(client_person.c.client_id).where(client_person.c.person_id == person_id)
    return select(job.c.id).join(site, site.c.id == job.c.site_id).where(site.c.client_id.in_(of_client))


def _carry_out(book: Book, connection: Connection, entry: Erasure) -> list[str]:
    """Remove what an erasure names; the originals that nothing uses any more."""
    if entry.kind is Kind.PERSON:
        gone: dict[str, Any] = {"sealed": None, "sealed_with": "", "erased_at": entry.at}
        connection.execute(update(person).where(person.c.id == entry.target).values(**gone))
        close_account_of(connection, entry.target, ended_at=entry.at)
        invoices.drop_drafts_of(connection, _jobs_of(entry.target))
        return []
    if entry.kind is Kind.TEXT:
        places.put_text(connection, TextPlace.from_told(entry.target), entry.becomes or "")
        return []
    table = photo if entry.kind is Kind.PHOTO else document
    row = connection.execute(select(table).where(table.c.id == entry.target)).one_or_none()
    if row is None or row.sha256 is None:
        return []
    of_kind = {"thumbnail": None, "caption": ""} if entry.kind is Kind.PHOTO else {"title": ""}
    connection.execute(
        update(table).where(table.c.id == entry.target).values(sha256=None, erased_at=entry.at, **of_kind)
    )
    return [row.sha256] if drop_unused(book, connection, row.sha256) else []
