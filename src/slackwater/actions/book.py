"""What a user does with the record book as a whole: open, back up, restore, check, export, import."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from slackwater import __version__
from slackwater.actions.settings import Settings
from slackwater.book import Book, bringing, checking, erasing, saving
from slackwater.book import open_book as open_at
from slackwater.book.archive import Kind, manifest_of
from slackwater.book.archive import Manifest as Manifest
from slackwater.book.bringing import Brought as Brought
from slackwater.book.checking import Checked as Checked
from slackwater.book.checking import Fault as Fault
from slackwater.book.opening import FILE_NAME
from slackwater.book.safe import new_key_file, read_key_file
from slackwater.errors import NotFound


def open_book(settings: Settings) -> Book:
    """The user's book; it is begun where there is none.

    Raises
    ------
    BadInput, NotFound, CannotRun, CorruptBook
        If it, or its key, cannot be opened.
    """
    key = None if settings.key_file is None else read_key_file(settings.key_file)
    return open_at(settings.database or settings.home, key, folder=settings.home)


def back_up(settings: Settings, file: Path, *, at: datetime) -> Manifest:
    """Write a backup of the book, with personal data sealed as they are in it.

    Parameters
    ----------
    file : Path
        A new file.
    at : datetime
        Now, with its time zone.

    Raises
    ------
    NotFound, Conflict, CannotRun, CorruptBook
        If there is no book; if the file is there or cannot be written; if the book cannot be read.
    """
    with begun_book(settings) as book:
        return saving.save(book, file, kind=Kind.BACKUP, at=at, program=__version__)


def export(settings: Settings, file: Path, *, at: datetime) -> Manifest:
    """Write everything to a file that other programs can read, personal data in the open.

    Raises
    ------
    NotFound, Conflict, CannotRun, CorruptBook
        As for `back_up`.
    """
    with begun_book(settings) as book:
        return saving.save(book, file, kind=Kind.EXPORT, at=at, program=__version__)


def restore(settings: Settings, file: Path, *, erased: tuple[Path, ...] = ()) -> Brought:
    """Bring a backup or an export into an empty book, and erase again what was erased since.

    Parameters
    ----------
    erased : tuple of Path
        Lists of erasures kept elsewhere, beside the one in the data folder.

    Raises
    ------
    NotFound, Conflict, BadInput, CannotRun, CorruptBook
        If a file is not there; if the book is not empty; if the file is none of ours, newer, sealed otherwise or damaged.
    """
    lists = [entry for path in erased for entry in _erasures(path)]
    # Before a book is begun: a mistyped name should not leave an empty one.
    manifest_of(file)
    with open_book(settings) as book:
        return bringing.restore(book, file, erasures=lists)


def bring_in(settings: Settings, file: Path) -> Brought:
    """Add what is in an export or a backup to the book.

    Raises
    ------
    NotFound, Conflict, BadInput, CannotRun, CorruptBook
        As for `restore`; a conflict is something of the same id that is not the same.
    """
    manifest_of(file)
    with open_book(settings) as book:
        return bringing.bring(book, file)


def check(settings: Settings) -> Checked:
    """Look the whole book through; nothing in it is changed.

    Raises
    ------
    NotFound, CannotRun, CorruptBook
        If there is no book, or it cannot be read at all.
    """
    with begun_book(settings) as book:
        return checking.check(book)


def make_key(file: Path) -> None:
    """Write a new key for personal data to a file.

    Raises
    ------
    Conflict, CannotRun
        If the file is there, or cannot be written.
    """
    new_key_file(file)


def erasure_list(settings: Settings) -> Path:
    """Where the list of erasures is kept on this machine."""
    return settings.home / erasing.FILE_NAME


def begun_book(settings: Settings) -> Book:
    """The user's book, which must have been begun: looking for it in the wrong place should not begin one there.

    Raises
    ------
    BadInput, NotFound, CannotRun, CorruptBook
        If there is none, or it cannot be opened.
    """
    if settings.database is None and not (settings.home / FILE_NAME).exists():
        raise NotFound(f"{settings.home}: there is no record book in this folder; look at SLACKWATER_HOME")
    return open_book(settings)


def _erasures(path: Path) -> list[erasing.Erasure]:
    if not path.exists():
        raise NotFound(f"{path}: there is no such list of erasures")
    return erasing.read_list(path)
