"""What lists show of a job without its whole text: name, reference and day, read out of that text."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import date
from typing import Any

LONGEST = 200
"""Characters of a name that lists show; a longer one ends with "…" there, and stands whole in its job."""


@dataclass(frozen=True, slots=True)
class Face:
    """A job in a list; `day` is the first date of access to do the work."""

    name: str
    reference: str
    day: date | None


def face_of(text: str) -> Face | None:
    """Read a job's text as far as a list needs it; None where it is no TOML."""
    try:
        told = tomllib.loads(text)
    except (ValueError, RecursionError):
        return None
    return Face(name=_word(told.get("name")), reference=_word(told.get("reference")), day=_day(told.get("site")))


def _word(told: object) -> str:
    if not isinstance(told, str):
        return ""
    return (told if len(told) <= LONGEST else f"{told[: LONGEST - 1]}…").replace("\x00", "")


def _day(site: Any) -> date | None:
    windows = site.get("windows") if isinstance(site, dict) else None
    starts = [
        _date(window.get("start"))
        for window in (windows if isinstance(windows, list) else [])
        if isinstance(window, dict) and window.get("kind", "day") == "day"
    ]
    return min((start for start in starts if start is not None), default=None)


def _date(told: object) -> date | None:
    try:
        return date.fromisoformat(str(told)[:10])
    except ValueError:
        return None
