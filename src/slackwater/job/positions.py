"""Where each key and value of a TOML text stands, so that an error can name its line and an edit touch nothing else.

The standard TOML reader gives no positions. The text has been accepted by it before this runs, so only
well-formed TOML has to be followed here, in one pass from its start to its end.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Path = tuple[str | int, ...]

STRING = (
    r'"""(?:\\.|[^\\])*?(?:"{3,5}|\Z)|'
    r"'''.*?(?:'{3,5}|\Z)|"
    r'"(?:\\.|[^"\\\n])*(?:"|(?=\n)|\Z)|'
    r"'[^'\n]*(?:'|(?=\n)|\Z)"
)
"""One string of any of the four kinds, one that is not closed included, so that no search starts over within it."""
_STRING = re.compile(STRING, re.DOTALL)
_DATE = re.compile(r"\d{4}-\d\d-\d\d(?: \d\d:[\d:.]+(?:[Zz]|[+-]\d\d:\d\d)?)?")
_BARE = re.compile(r"[^\s,\]}#]+")
_KEY_PART = re.compile(r"[A-Za-z0-9_-]+|" + STRING)
_GAP = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_BLANK = re.compile(r"[ \t]*")


@dataclass(frozen=True)
class Value:
    """The stretch of text of one value, and what stands in it when it is a list or a table in braces."""

    start: int
    end: int
    kind: Literal["plain", "list", "table"] = "plain"
    entries: tuple[Entry, ...] = ()


@dataclass(frozen=True)
class Entry:
    """One entry of a list or of a table in braces; `path` is counted from there, `start` is where its key begins."""

    path: Path
    start: int
    value: Value


@dataclass(frozen=True)
class Statement:
    """One ``key = value``: whole lines from `start` to `end`, its path from the top of the file."""

    path: Path
    start: int
    value: Value
    end: int


@dataclass(frozen=True)
class Block:
    """A header and the statements below it; the first block of a file has no header and the empty path.

    `end` is behind the last statement: comments and blank lines between two blocks belong to neither.
    """

    path: Path
    start: int
    head_end: int
    statements: tuple[Statement, ...]

    @property
    def end(self) -> int:
        """Where the next line after the block's last statement begins."""
        return self.statements[-1].end if self.statements else self.head_end


class _Reader:
    """Follows well-formed TOML from left to right."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0

    def skip(self, pattern: re.Pattern[str]) -> None:
        """Go on behind what matches here."""
        match = pattern.match(self.text, self.at)
        if match is not None:
            self.at = match.end()

    def line_end(self) -> int:
        """Behind the newline of the line that we are on."""
        found = self.text.find("\n", self.at)
        return len(self.text) if found < 0 else found + 1

    def key(self) -> tuple[str, ...]:
        """A key with its dots, up to what follows it."""
        start = self.at
        parts = []
        while True:
            self.skip(_BLANK)
            match = _KEY_PART.match(self.text, self.at)
            if match is None:
                break
            parts.append(match[0])
            self.at = match.end()
            self.skip(_BLANK)
            if self.text[self.at : self.at + 1] != ".":
                break
            self.at += 1
        if any(part[0] in "\"'" for part in parts):
            return _unquoted(self.text[start : self.at])
        return tuple(parts)

    def value(self) -> Value:
        """The value that begins here."""
        start = self.at
        opening = self.text[start : start + 1]
        if opening == "[":
            return self._list()
        if opening == "{":
            return self._table()
        for pattern in (_STRING, _DATE, _BARE):
            match = pattern.match(self.text, start)
            if match is not None and match.end() > start:
                self.at = match.end()
                break
        return Value(start=start, end=self.at)

    def _list(self) -> Value:
        start = self.at
        self.at += 1
        entries: list[Entry] = []
        while True:
            self.skip(_GAP)
            if self.text[self.at] == "]":
                self.at += 1
                return Value(start=start, end=self.at, kind="list", entries=tuple(entries))
            if self.text[self.at] == ",":
                self.at += 1
                continue
            entries.append(Entry(path=(len(entries),), start=self.at, value=self.value()))

    def _table(self) -> Value:
        start = self.at
        self.at += 1
        entries: list[Entry] = []
        while True:
            self.skip(_GAP)
            if self.text[self.at] == "}":
                self.at += 1
                return Value(start=start, end=self.at, kind="table", entries=tuple(entries))
            if self.text[self.at] == ",":
                self.at += 1
                continue
            begins = self.at
            parts = self.key()
            self.at += 1  # the equals sign
            self.skip(_BLANK)
            entries.append(Entry(path=parts, start=begins, value=self.value()))


def _unquoted(key: str) -> tuple[str, ...]:
    found: object = tomllib.loads(f"{key} = 0")
    parts = []
    while isinstance(found, dict):
        part, found = next(iter(found.items()))
        parts.append(part)
    return tuple(parts)


def blocks_of(text: str) -> tuple[Block, ...]:
    """All headers with what stands below them, in the order of the text.

    Parameters
    ----------
    text : str
        TOML that ``tomllib`` accepts.

    Returns
    -------
    tuple of Block
        The first one is what stands above the first header, also when that is nothing.
    """
    reader = _Reader(text)
    counts: dict[Path, int] = {}
    found: list[Block] = []
    here, start, head_end = (), 0, 0  # type: tuple[Path, int, int]
    statements: list[Statement] = []

    def resolve(parts: tuple[str, ...]) -> Path:
        path: Path = ()
        for part in parts:
            path = (*path, part)
            if path in counts:
                path = (*path, counts[path] - 1)
        return path

    while reader.at < len(text):
        line = reader.at
        reader.skip(_BLANK)
        sign = text[reader.at : reader.at + 1]
        if sign == "[":
            found.append(Block(here, start, head_end, tuple(statements)))
            statements = []
            double = text[reader.at + 1 : reader.at + 2] == "["
            reader.at += 2 if double else 1
            parts = reader.key()
            if double:
                array = (*resolve(parts[:-1]), parts[-1])
                counts[array] = counts.get(array, 0) + 1
                here = (*array, counts[array] - 1)
            else:
                here = resolve(parts)
            start, head_end = line, reader.line_end()
        elif sign and sign not in "#\r\n":
            parts = reader.key()
            reader.at += 1  # the equals sign
            reader.skip(_BLANK)
            value = reader.value()
            statements.append(Statement((*here, *parts), line, value, reader.line_end()))
        reader.at = reader.line_end()
    found.append(Block(here, start, head_end, tuple(statements)))
    return tuple(found)


def key_lines(text: str) -> Mapping[Path, int]:
    r"""Line number (from 1) of each table and key; what stands inside an inline value is found at its key's line.

    Parameters
    ----------
    text : str
        TOML that ``tomllib`` accepts.

    Returns
    -------
    mapping of path to int
        A path holds table names, keys and, for arrays of tables, the position in the array.

    Examples
    --------
    >>> key_lines('[tank]\nlength = "1 m"\n')[("tank", "length")]
    2
    """
    found: dict[Path, int] = {}
    line, counted_to = 1, 0
    for block in blocks_of(text):
        places = [(statement.path, statement.start) for statement in block.statements]
        if block.path:
            places.insert(0, (block.path, block.start))
        for path, start in places:
            line += text.count("\n", counted_to, start)
            counted_to = start
            if path and isinstance(path[-1], int):
                found.setdefault(path[:-1], line)
            found[path] = line
    return found


def line_of(path: Path, lines: Mapping[Path, int]) -> int | None:
    """Line of the nearest enclosing key that has one, or None for a path that is nowhere in the text."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None
