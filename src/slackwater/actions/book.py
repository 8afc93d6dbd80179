"""What a user does with the record book as a whole: open, back up, restore, check, export, import."""

from __future__ import annotations

from slackwater.actions.settings import Settings
from slackwater.book import Book
from slackwater.book import open_book as open_at
from slackwater.book.safe import read_key_file


def open_book(settings: Settings) -> Book:
    """The user's book; it is begun where there is none.

    Raises
    ------
    BadInput, NotFound, CannotRun, CorruptBook
        If it, or its key, cannot be opened.
    """
    key = None if settings.key_file is None else read_key_file(settings.key_file)
    return open_at(settings.database or settings.home, key, folder=settings.home)
