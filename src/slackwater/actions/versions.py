"""What a user does with the saved versions of a job: see all, look at one and at what it changed, take one back as a new one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from slackwater.actions.office import Desk
from slackwater.actions.recording import job_of
from slackwater.book import jobs
from slackwater.book.jobs import JobRow, VersionLine
from slackwater.errors import BadInput, NotFound
from slackwater.job.form import question_at, typed
from slackwater.job.positions import Path
from slackwater.job.text import read_once

PAGE = 10
"""Versions on a page: each has to be read to tell what it changed."""


@dataclass(frozen=True)
class Difference:
    """One place where two texts differ.

    Attributes
    ----------
    path : Path
        Of a question, or of a list of cards that has become longer or shorter.
    before, after : str
        As typed; of a list of cards how many there are. Empty where nothing stands.
    counted : bool
        Whether cards are counted.
    """

    path: Path
    before: str
    after: str
    counted: bool = False


@dataclass(frozen=True)
class Saved:
    """A saved version and what it changed; `differences` is None for the first one, and where a text cannot be read."""

    line: VersionLine
    differences: tuple[Difference, ...] | None


@dataclass(frozen=True)
class Listed:
    """A page of saved versions, newest first; `older` is the number to go on before, 0 at the end."""

    row: JobRow
    versions: tuple[Saved, ...]
    older: int


@dataclass(frozen=True)
class Looked:
    """One version beside the newest.

    Attributes
    ----------
    row : JobRow
    line : VersionLine
    text : str
    back : tuple of Difference or None
        What taking it back would change; None where a text cannot be read.
    """

    row: JobRow
    line: VersionLine
    text: str
    back: tuple[Difference, ...] | None


def listed(office: Desk, job_id: str, *, before: int | None = None) -> Listed:
    """Saved versions, each with what it changed.

    Parameters
    ----------
    before : int or None
        Only versions with a smaller number.

    Raises
    ------
    NotFound
    """
    row = job_of(office, job_id)
    lines = [line for line in jobs.history(office.book, job_id) if before is None or line.n < before]
    shown = lines[:PAGE]
    texts = {n: jobs.version(office.book, job_id, n).text for n in _numbers(shown)}
    versions = tuple(
        Saved(line, _told(texts[line.parent], texts[line.n]) if line.parent in texts else None) for line in shown
    )
    return Listed(row, versions, shown[-1].n if len(lines) > PAGE else 0)


def _numbers(lines: list[VersionLine]) -> list[int]:
    return sorted({number for line in lines for number in (line.n, line.parent) if number})


def look(office: Desk, job_id: str, n: int) -> Looked:
    """One version, and what it would be to take it back.

    Raises
    ------
    NotFound
    """
    row = job_of(office, job_id)
    line = next((line for line in jobs.history(office.book, job_id) if line.n == n), None)
    if line is None:
        raise NotFound(f"This job has no version {n}")
    text = jobs.version(office.book, job_id, n).text
    return Looked(row, line, text, _told(jobs.newest(office.book, job_id).text, text))


def take_back(office: Desk, job_id: str, n: int, *, based_on: int, by: str = "") -> int:
    """Save what stands in an old version as a new one; nothing in between is lost. Number of the newest version.

    Parameters
    ----------
    based_on : int
        The newest version that the page showed.

    Raises
    ------
    NotFound, EditConflict
        If there is no such version; if somebody saved another one meanwhile.
    """
    old = jobs.version(office.book, job_id, n)
    return jobs.save_version(office.book, job_id, old.text, parent=based_on, at=office.clock(), by=by).n


@lru_cache(maxsize=512)
def _told(before: str, after: str) -> tuple[Difference, ...] | None:
    try:
        return tuple(_differences(read_once(before), read_once(after), ()))
    except BadInput:
        return None


def _differences(before: Any, after: Any, path: Path) -> Iterator[Difference]:
    if before == after:
        return
    if isinstance(before or {}, dict) and isinstance(after or {}, dict) and (before or after):
        old, new = before or {}, after or {}
        for key in {**old, **new}:
            yield from _differences(old.get(key), new.get(key), (*path, key))
    elif _are_cards(before) or _are_cards(after):
        old, new = before or [], after or []
        if len(old) != len(new):
            yield Difference(path, str(len(old)), str(len(new)), counted=True)
            return
        for number, (one, other) in enumerate(zip(old, new, strict=True)):
            yield from _differences(one, other, (*path, number))
    else:
        told = [("" if value is None else typed(value)) for value in (before, after)]
        if question_at(path) is None or told[0] != told[1]:
            yield Difference(path, told[0], told[1])


def _are_cards(value: Any) -> bool:
    return isinstance(value, list) and any(isinstance(item, dict) for item in value)
