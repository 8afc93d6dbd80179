"""Where this machine keeps the record book, and how the office is reached: read once, handed on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_data_path

from slackwater.errors import BadInput

HOME, DATABASE, KEY_FILE = "SLACKWATER_HOME", "SLACKWATER_DATABASE", "SLACKWATER_KEY_FILE"


@dataclass(frozen=True)
class Settings:
    """What differs from machine to machine.

    Attributes
    ----------
    home : Path
        The data folder.
    database : str
        Address of the database; a SQLite file in the data folder unless a firm names its own.
    key_file : Path or None
        File with the key that personal data is encrypted with; None leaves it readable.
    hosts : tuple of str
        Names under which the office may be called; others are refused, so that no page of the net can reach it by a
        name of its own.
    """

    home: Path
    database: str
    key_file: Path | None = None
    hosts: tuple[str, ...] = ("localhost", "127.0.0.1", "[::1]")


def read_settings(environment: Mapping[str, str]) -> Settings:
    """Settings from the environment, and the system's own data folder where it is silent.

    Raises
    ------
    BadInput
        If a path is named that is not absolute: it would mean another folder each time.
    """
    home = Path(environment[HOME]) if environment.get(HOME) else user_data_path("slackwater", appauthor=False)
    key = Path(environment[KEY_FILE]) if environment.get(KEY_FILE) else None
    for name, path in ((HOME, home), (KEY_FILE, key)):
        if path is not None and not path.is_absolute():
            raise BadInput(f"{name} is {path}; name it from the top of the disk")
    return Settings(
        home=home, database=environment.get(DATABASE) or f"sqlite:///{(home / 'book.sqlite').as_posix()}", key_file=key
    )
