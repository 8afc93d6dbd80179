"""Folders that pass between machines through the record book: laid out there by one, brought to its own disk by another."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterable
from pathlib import Path

from slackwater.book import Book, besides, parcels


def lay_folder(book: Book, mark: str, folder: Path, *, only: str = "*") -> None:
    """Lay the files of a folder out under a mark.

    Parameters
    ----------
    only : str
        Pattern of their names.

    Raises
    ------
    BadInput
        If they are far too large.
    """
    files = {file.name: file.read_bytes() for file in sorted(folder.glob(only)) if file.is_file()}
    parcels.lay(book, mark, files)


def fetch_folder(book: Book, mark: str, folder: Path) -> bool:
    """Bring what lies under a mark into a folder, whole and in place of what is there; False where nothing does."""
    files = parcels.fetch(book, mark) if besides.is_shared(book) else None
    if files is None:
        return False
    folder.parent.mkdir(parents=True, exist_ok=True)
    beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
    # One level down: whoever looks among the folders here for one that is whole does not find it yet.
    whole = beside / "whole"
    try:
        whole.mkdir()
        for name, content in files.items():
            (whole / name).write_bytes(content)
        shutil.rmtree(folder, ignore_errors=True)
        whole.rename(folder)
    except OSError:
        # Two pages asked at once, and the other one was first: what it brought is the same.
        if not folder.is_dir():
            raise
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return True


def fetch_folders(book: Book, wanted: Iterable[tuple[str, Path]]) -> set[str]:
    """Bring of several what lies in the book; which marks were brought."""
    folders = dict(wanted)
    there = parcels.laid(book, folders) if folders and besides.is_shared(book) else set()
    return {mark for mark in there if fetch_folder(book, mark, folders[mark])}
