"""The firm's own catalog rows, and where what can be computed again lies."""

from __future__ import annotations

import hashlib
from pathlib import Path

from slackwater.actions.settings import Settings

CATALOG = "catalog"
"""What a worker is handed of the firm's own rows, and the folder of these in the data folder."""
COMPUTED = "computed"
"""Folder of what can be computed again, inside the data folder."""


def catalog_mark(settings: Settings) -> str:
    """SHA-256 of the firm's own catalog rows; the same for all that have none."""
    folder, digest = catalog_folder(settings), hashlib.sha256()
    for file in sorted(folder.glob("*.csv")) if folder else ():
        digest.update(f"{file.name}\n".encode() + hashlib.sha256(file.read_bytes()).digest())
    return digest.hexdigest()


def catalog_folder(settings: Settings) -> Path | None:
    """The firm's own catalog rows, where it has any."""
    folder = settings.home / CATALOG
    return folder if folder.is_dir() else None
