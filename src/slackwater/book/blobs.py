"""Originals of photos and documents, kept by the SHA-256 of their content.

With SQLite they are files in the data folder: gigabytes of pictures inside would make each backup, check and clean-up of the
small, precious book slow. With PostgreSQL they are in the database: several machines share it, and no folder.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

from sqlalchemy import Connection, delete, select

from slackwater.book.rows import insert_once
from slackwater.book.tables import blob
from slackwater.errors import CannotRun, CorruptBook


def content_hash(content: bytes) -> str:
    """SHA-256 as 64 hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


class Blobs(Protocol):
    """A place for originals."""

    def put(self, connection: Connection, content: bytes) -> str:
        """Keep a content within a transaction; the same one twice is kept once. Returns its hash."""

    def get(self, connection: Connection, sha256: str) -> bytes:
        """A content, as it was given.

        Raises
        ------
        CorruptBook
            If it is lost, or is no longer what it was.
        """

    def drop(self, connection: Connection, sha256: str) -> None:
        """Forget a content, within a transaction."""

    def sweep(self, connection: Connection, sha256: str) -> None:
        """Remove what a dropped content left outside the database; in a writing transaction after that of the dropping."""

    def strays(self, connection: Connection) -> Iterator[str]:
        """Contents and half-written files that no record knows."""

    def sweep_strays(self, connection: Connection) -> None:
        """Remove them, in a writing transaction: nobody else can be in the middle of keeping one then."""


def _sound(sha256: str, content: bytes | None) -> bytes:
    if content is None:
        raise CorruptBook(f"The original {sha256[:12]} of a photo or document is lost. Bring it back from a backup")
    if content_hash(content) != sha256:
        raise CorruptBook(f"The original {sha256[:12]} of a photo or document is damaged. Bring it back from a backup")
    return content


class TableBlobs:
    """Originals inside the database."""

    def put(self, connection: Connection, content: bytes) -> str:
        """Keep a content."""
        sha256 = content_hash(content)
        insert_once(connection, blob, sha256=sha256, size=len(content), content=content)
        return sha256

    def get(self, connection: Connection, sha256: str) -> bytes:
        """A content, proven by its hash."""
        return _sound(sha256, connection.scalar(select(blob.c.content).where(blob.c.sha256 == sha256)))

    def drop(self, connection: Connection, sha256: str) -> None:
        """Delete it."""
        connection.execute(delete(blob).where(blob.c.sha256 == sha256))

    def sweep(self, connection: Connection, sha256: str) -> None:
        """Nothing lies outside."""

    def strays(self, connection: Connection) -> Iterator[str]:
        """Nothing lies outside."""
        return iter(())

    def sweep_strays(self, connection: Connection) -> None:
        """Nothing lies outside."""


class FolderBlobs:
    """Originals as files named by their hash; the database knows which there are."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def _path(self, sha256: str) -> Path:
        return self._folder / sha256[:2] / sha256

    def put(self, connection: Connection, content: bytes) -> str:
        """Write the file whole and to the disk itself, before the transaction that names it ends."""
        sha256 = content_hash(content)
        path = self._path(sha256)
        try:
            if not (path.exists() and path.stat().st_size == len(content)):
                self._folder.mkdir(mode=0o700, exist_ok=True)
                path.parent.mkdir(exist_ok=True)
                part = path.with_name(f"{sha256}.{os.getpid()}.{os.urandom(4).hex()}.part")
                with part.open("xb") as file:
                    file.write(content)
                    file.flush()
                    os.fsync(file.fileno())
                part.replace(path)
                _settle(path.parent)
        except OSError as error:
            raise CannotRun(f"{self._folder} cannot be written: {error.strerror}. The picture was not saved") from error
        insert_once(connection, blob, sha256=sha256, size=len(content), content=None)
        return sha256

    def get(self, connection: Connection, sha256: str) -> bytes:
        """A content, proven by its hash."""
        try:
            return _sound(sha256, self._path(sha256).read_bytes())
        except FileNotFoundError:
            return _sound(sha256, None)
        except OSError as error:
            raise CannotRun(f"{self._path(sha256)} cannot be read: {error.strerror}") from error

    def drop(self, connection: Connection, sha256: str) -> None:
        """Forget it; the file goes with `sweep`, once this is certain."""
        connection.execute(delete(blob).where(blob.c.sha256 == sha256))

    def sweep(self, connection: Connection, sha256: str) -> None:
        """Remove the file, unless the same content was kept once more meanwhile."""
        if connection.scalar(select(blob.c.sha256).where(blob.c.sha256 == sha256)) is None:
            self._path(sha256).unlink(missing_ok=True)

    def strays(self, connection: Connection) -> Iterator[str]:
        """Files that the database does not know: left by a process that was stopped, harmless."""
        known = set(connection.scalars(select(blob.c.sha256)))
        for path in sorted(self._folder.glob("*/*")):
            if not re.fullmatch(r"[0-9a-f]{64}", path.name) or path.name not in known:
                yield path.relative_to(self._folder).as_posix()

    def sweep_strays(self, connection: Connection) -> None:
        """Remove the files."""
        for name in list(self.strays(connection)):
            (self._folder / name).unlink(missing_ok=True)


def _settle(folder: Path) -> None:
    """Bring a folder's own entries to the disk, where the system can do that."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
