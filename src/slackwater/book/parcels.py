"""What passes between machines that share a database and no disk: small folders of files, each under a mark.

All of it can be made again: a parcel is in no backup, and may be thrown away at any time.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Mapping
from datetime import timedelta

from sqlalchemy import delete, select, update

from slackwater.book import moments, traces
from slackwater.book.blobs import content_hash
from slackwater.book.handle import Book
from slackwater.book.rows import insert_once
from slackwater.book.tables import parcel
from slackwater.errors import BadInput

KEPT = timedelta(days=30)
"""So long what was laid is there to be fetched; whoever comes later makes it anew."""
LARGEST = 100_000_000
"""Bytes unpacked; a plan with its papers has about two million."""
EARLIEST = (1980, 1, 1, 0, 0, 0)
"""The date of every file inside: the same files give the same bytes."""


def lay(book: Book, mark: str, files: Mapping[str, bytes]) -> None:
    """Lay files under a mark, in place of what lies there; what has lain for too long is thrown away.

    Parameters
    ----------
    mark : str
        What the files are of, with a hash of everything that decides them where there is one.
    files : mapping of str to bytes
        By plain names, without folders.

    Raises
    ------
    BadInput
        If they are far too large.
    """
    if sum(map(len, files.values())) > LARGEST:
        raise BadInput(f"What was made has more than {LARGEST / 1e6:.0f} MB and is too large to be kept")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as bundle:
        for name in sorted(files):
            entry = zipfile.ZipInfo(name, date_time=EARLIEST)
            entry.compress_type = zipfile.ZIP_DEFLATED
            bundle.writestr(entry, files[name])
    content, now = packed.getvalue(), book.clock()
    values = {"content": content, "sha256": content_hash(content), "laid_at": moments.stored(now)}
    with book.writing() as connection:
        connection.execute(delete(parcel).where(parcel.c.laid_at < moments.stored(now - KEPT)))
        if not insert_once(connection, parcel, mark=mark, **values):
            connection.execute(update(parcel).where(parcel.c.mark == mark).values(**values))


def fetch(book: Book, mark: str) -> dict[str, bytes] | None:
    """The files under a mark; None where there are none, or what lies there is not what was laid."""
    with book.reading() as connection:
        row = connection.execute(select(parcel).where(parcel.c.mark == mark)).one_or_none()
    if row is None or content_hash(row.content) != row.sha256:
        return None
    with zipfile.ZipFile(io.BytesIO(row.content)) as bundle:
        entries = bundle.infolist()
        if sum(entry.file_size for entry in entries) > LARGEST or any(_leads_away(entry.filename) for entry in entries):
            return None
        return {entry.filename: bundle.read(entry) for entry in entries}


def _leads_away(name: str) -> bool:
    return not name or name.startswith(".") or any(sign in name for sign in "/\\:\0")


def laid(book: Book, marks: Iterable[str]) -> set[str]:
    """Those of the marks under which something lies."""
    with book.reading() as connection:
        return set(connection.scalars(select(parcel.c.mark).where(parcel.c.mark.in_(list(marks)))))


def forget(book: Book, kind: str) -> None:
    """Throw away all whose mark begins with a word and a slash; that traces of them are left is noted for whoever erases."""
    with book.writing() as connection:
        gone = connection.execute(delete(parcel).where(parcel.c.mark.startswith(f"{kind}/", autoescape=True)))
        if gone.rowcount:
            traces.leave(connection, parcel.name)
