"""The file of a backup or an export: a zip that other programs can read too.

Inside: ``tables/<name>.jsonl`` with one row a line, ``jobs/<job id>/<number>.toml`` with each saved text as it was typed,
``originals/<sha256>.<ending>`` with photos and documents, and ``manifest.json`` with the hash of every file. There is one form for
both databases and for both purposes: what is tested by every export is what a restore depends on. A backup keeps personal
data sealed as they are in the book, an export opens them.
"""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import IO, Any

from pydantic import ValidationError

from slackwater.errors import BadInput, CannotRun, Conflict, CorruptBook, NotFound
from slackwater.frozen import Frozen

FORMAT = "slackwater-book"
MANIFEST = "manifest.json"
EARLIEST = (1980, 1, 1, 0, 0, 0)
"""The date of every file inside: the same book gives the same bytes."""
LARGEST_TABLE = 4_000_000_000
LARGEST_FILE = 60_000_000
"""Bytes unpacked of a table, and of one text, photo or document; more is no archive of ours."""


class Kind(StrEnum):
    """What an archive is for."""

    BACKUP = "backup"
    EXPORT = "export"


class Manifest(Frozen):
    """What an archive holds.

    Attributes
    ----------
    format : str
    kind : Kind
    form : str
        Form of the book it was taken from.
    program : str
        Version of Slackwater that wrote it.
    book_id : str
    written_at : str
        UTC.
    rows : mapping of str to int
        Rows of each table.
    files : mapping of str to str
        SHA-256 of each file inside.
    """

    format: str
    kind: Kind
    form: str
    program: str
    book_id: str
    written_at: str
    rows: Mapping[str, int]
    files: Mapping[str, str]


class Writer:
    """Puts files into an archive and remembers their hashes."""

    def __init__(self, packed: zipfile.ZipFile) -> None:
        self._packed = packed
        self.files: dict[str, str] = {}
        self.rows: dict[str, int] = {}

    def put(self, name: str, content: bytes, *, packs_well: bool = True) -> None:
        """One whole file."""
        entry = zipfile.ZipInfo(name, EARLIEST)
        entry.compress_type = zipfile.ZIP_DEFLATED if packs_well else zipfile.ZIP_STORED
        entry.external_attr = 0o600 << 16
        self._packed.writestr(entry, content)
        self.files[name] = hashlib.sha256(content).hexdigest()

    def put_rows(self, table: str, rows: Iterator[Mapping[str, Any]]) -> None:
        """One table, row by row."""
        name, told, count = table_file(table), hashlib.sha256(), 0
        entry = zipfile.ZipInfo(name, EARLIEST)
        entry.compress_type = zipfile.ZIP_DEFLATED
        entry.external_attr = 0o600 << 16
        with self._packed.open(entry, "w", force_zip64=True) as file:
            for row in rows:
                line = json.dumps(row, ensure_ascii=False, sort_keys=True).encode("utf-8") + b"\n"
                told.update(line)
                file.write(line)
                count += 1
        self.files[name], self.rows[table] = told.hexdigest(), count


class Reader:
    """Takes files out of an archive; each is held to the hash that the manifest gives."""

    def __init__(self, path: Path, packed: zipfile.ZipFile) -> None:
        self._path = path
        self._packed = packed
        self.manifest = self._manifest()

    def _manifest(self) -> Manifest:
        try:
            found = Manifest.model_validate_json(self._content(MANIFEST, LARGEST_FILE))
        except ValidationError as error:
            raise BadInput(f"{self._path} is no backup or export of a record book, or of another program's") from error
        if found.format != FORMAT:
            raise BadInput(f"{self._path} is no backup or export of a record book: it says it is {found.format[:40]}")
        return found

    def verify(self) -> None:
        """Read every file and compare its hash.

        Raises
        ------
        CorruptBook
        """
        for name in self.manifest.files:
            if name.startswith("tables/"):
                for _ in self.lines(name):
                    pass
            else:
                self.content(name)
        extra = set(self._packed.namelist()) - set(self.manifest.files) - {MANIFEST}
        if extra:
            raise self._damaged(f"{min(extra)[:80]} does not belong to it")

    def content(self, name: str) -> bytes:
        """A whole file.

        Raises
        ------
        CorruptBook
            If it is missing or not what it was.
        """
        found = self._content(name, LARGEST_FILE)
        if hashlib.sha256(found).hexdigest() != self.manifest.files.get(name):
            raise self._damaged(f"{name[:80]} is not what it was")
        return found

    def lines(self, name: str) -> Iterator[bytes]:
        """The lines of a table; the last is not given before the hash of all is proven."""
        told, last = hashlib.sha256(), None
        with self._entry(name, LARGEST_TABLE) as file:
            while line := file.readline(LARGEST_FILE):
                told.update(line)
                if last is not None:
                    yield last
                last = line
        if told.hexdigest() != self.manifest.files.get(name):
            raise self._damaged(f"{name[:80]} is not what it was")
        if last is not None:
            yield last

    def _content(self, name: str, largest: int) -> bytes:
        with self._entry(name, largest) as file:
            return file.read()

    @contextmanager
    def _entry(self, name: str, largest: int) -> Iterator[IO[bytes]]:
        try:
            if self._packed.getinfo(name).file_size > largest:
                raise self._damaged(f"{name[:80]} is far too large")
            with self._packed.open(name) as file:
                yield file
        except KeyError:
            if name == MANIFEST:
                raise BadInput(f"{self._path} is no backup or export of a record book") from None
            raise self._damaged(f"{name[:80]} is missing") from None
        except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError) as error:
            raise self._damaged(f"{name[:80]} cannot be unpacked") from error
        except OSError as error:
            raise CannotRun(f"{self._path} cannot be read: {error.strerror}") from error

    def _damaged(self, what: str) -> CorruptBook:
        return CorruptBook(f"{self._path} is damaged: {what}. Nothing was taken from it; use another copy")


def table_file(table: str) -> str:
    """Where a table stands inside."""
    return f"tables/{table}.jsonl"


def text_file(job_id: str, n: int) -> str:
    """Where a saved text stands inside."""
    return f"jobs/{job_id}/{n}.toml"


@contextmanager
def writing(path: Path) -> Iterator[zipfile.ZipFile]:
    """A new archive, which is put in place whole when all has been written and read again.

    Raises
    ------
    Conflict, CannotRun
        If something is there, or it cannot be written.
    """
    if path.exists():
        raise Conflict(f"{path} exists and is left as it is; choose another name")
    part = path.with_name(f".{path.name}.part")
    try:
        with part.open("wb") as file:
            part.chmod(0o600)
            with zipfile.ZipFile(file, "w") as packed:
                yield packed
            file.flush()
            os.fsync(file.fileno())
        with reading(part) as reader:
            reader.verify()
        part.replace(path)
    except OSError as error:
        raise CannotRun(
            f"{path} cannot be written: {error.strerror}. There is no backup; make room or choose another disk"
        ) from error
    finally:
        part.unlink(missing_ok=True)


@contextmanager
def reading(path: Path) -> Iterator[Reader]:
    """An archive that is there.

    Raises
    ------
    NotFound, BadInput, CannotRun
        If it is not there, is something else, or cannot be read.
    """
    try:
        with zipfile.ZipFile(path) as packed:
            yield Reader(path, packed)
    except FileNotFoundError:
        raise NotFound(f"{path}: there is no such file") from None
    except zipfile.BadZipFile:
        raise CorruptBook(f"{path} is no backup or export of a record book, or was cut off; use another copy") from None
    except IsADirectoryError:
        raise BadInput(f"{path} is a folder; name the file in it") from None
    except OSError as error:
        raise CannotRun(f"{path} cannot be read: {error.strerror}") from error


def manifest_of(path: Path) -> Manifest:
    """What an archive says it holds.

    Raises
    ------
    NotFound, BadInput, CannotRun, CorruptBook
        As for `reading`.
    """
    with reading(path) as reader:
        return reader.manifest
