"""Where this user's data lie, as set in the environment or by the habit of the system."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from platformdirs import user_cache_path, user_data_path

from slackwater.errors import BadInput


class LongWork(StrEnum):
    """Who does what takes longer than a page may wait."""

    HERE = "here"
    """Processes of the office's own machine."""
    WORKERS = "workers"
    """Workers on other machines, or on this one (`slackwater worker`)."""


@dataclass(frozen=True)
class HashCost:
    """What a guess at a password costs whoever stole the book.

    Attributes
    ----------
    memory_kib, passes, lanes : int
        Of Argon2id. As set: 64 MiB, 3 passes, 4 lanes.

    References
    ----------
    RFC 9106 (2021), Argon2 Memory-Hard Function, section 4, second recommended option. It is above the least that the OWASP
    Password Storage Cheat Sheet names: 19 MiB, 2 passes, 1 lane.
    """

    memory_kib: int = 65_536
    passes: int = 3
    lanes: int = 4


@dataclass(frozen=True)
class Settings:
    """What is set outside of the program.

    Attributes
    ----------
    home : Path
        The data folder (``SLACKWATER_HOME``).
    database : str or None
        ``postgresql://user@host/name`` of a firm (``SLACKWATER_DATABASE``); None for a book in the data folder.
    key_file : Path or None
        File with the key that seals personal data (``SLACKWATER_KEY_FILE``); None for none.
    long_work : LongWork
        Who does it (``SLACKWATER_LONG_WORK``).
    cache : Path or None
        Folder of what is slow to find and can be found again (``SLACKWATER_CACHE``); None for one in the data folder.
    hash_cost : HashCost
        Of passwords; set by tests only.
    """

    home: Path
    database: str | None = None
    key_file: Path | None = None
    long_work: LongWork = LongWork.HERE
    cache: Path | None = None
    hash_cost: HashCost = HashCost()

    @property
    def layouts(self) -> Path:
        """Folder of layouts that were found before."""
        return (self.home / "cache" if self.cache is None else self.cache) / "layouts"


def read_settings(environment: Mapping[str, str]) -> Settings:
    """The settings in an environment such as ``os.environ``; what is empty counts as not set.

    Raises
    ------
    BadInput
        If one is none that is known.
    """
    cache = environment.get("SLACKWATER_CACHE")
    home, key_file = environment.get("SLACKWATER_HOME"), environment.get("SLACKWATER_KEY_FILE")
    long_work = environment.get("SLACKWATER_LONG_WORK") or LongWork.HERE
    if long_work not in list(LongWork):
        raise BadInput(f"SLACKWATER_LONG_WORK is {long_work[:20]!r}; expected here or workers")
    return Settings(
        home=Path(home).expanduser() if home else user_data_path("slackwater", appauthor=False),
        database=environment.get("SLACKWATER_DATABASE") or None,
        key_file=Path(key_file).expanduser() if key_file else None,
        long_work=LongWork(long_work),
        cache=Path(cache).expanduser() if cache else None,
    )


def cache_folder(environment: Mapping[str, str]) -> Path:
    """Where what can be made again is kept (``SLACKWATER_CACHE``), by default in the user's cache folder."""
    folder = environment.get("SLACKWATER_CACHE")
    return Path(folder).expanduser() if folder else user_cache_path("slackwater", appauthor=False)
