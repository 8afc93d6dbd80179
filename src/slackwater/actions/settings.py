"""Where this user's data lie, as set in the environment or by the habit of the system."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_data_path


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
    """

    home: Path
    database: str | None = None
    key_file: Path | None = None


def read_settings(environment: Mapping[str, str]) -> Settings:
    """The settings in an environment such as ``os.environ``; what is empty counts as not set."""
    home, key_file = environment.get("SLACKWATER_HOME"), environment.get("SLACKWATER_KEY_FILE")
    return Settings(
        home=Path(home).expanduser() if home else user_data_path("slackwater", appauthor=False),
        database=environment.get("SLACKWATER_DATABASE") or None,
        key_file=Path(key_file).expanduser() if key_file else None,
    )
