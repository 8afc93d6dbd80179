"""Where each key of a TOML text stands, so that an error can name its line.

The standard TOML reader gives no positions. The text has been accepted by it before this runs, so only
well-formed TOML has to be followed here.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping

Path = tuple[str | int, ...]

_TABLE = re.compile(r"\s*\[([^\[\]]+)\]\s*(?:#.*)?$")
_ARRAY_TABLE = re.compile(r"\s*\[\[([^\[\]]+)\]\]\s*(?:#.*)?$")
_KEY = re.compile(r"\s*((?:[A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*'))*)\s*=")


def _parts(dotted: str) -> list[str]:
    found = re.findall(r"[A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*'", dotted)
    return [part.strip("\"'") for part in found]


def _is_whole(statement: str) -> bool:
    """Whether these lines are one complete ``key = value``."""
    try:
        tomllib.loads(statement)
    except tomllib.TOMLDecodeError:
        return False
    return True


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
    lines = text.split("\n")
    found: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    here: Path = ()
    row = 0

    def resolve(parts: list[str]) -> Path:
        path: Path = ()
        for part in parts:
            path = (*path, part)
            if path in counts:
                path = (*path, counts[path] - 1)
        return path

    while row < len(lines):
        line = lines[row]
        if match := _ARRAY_TABLE.match(line):
            *above, last = _parts(match[1])
            array = (*resolve(above), last)
            counts[array] = counts.get(array, 0) + 1
            here = (*array, counts[array] - 1)
            found.setdefault(array, row + 1)
            found[here] = row + 1
        elif match := _TABLE.match(line):
            here = resolve(_parts(match[1]))
            found[here] = row + 1
        elif match := _KEY.match(line):
            found[(*here, *_parts(match[1]))] = row + 1
            statement = line
            while not _is_whole(statement) and row + 1 < len(lines):
                row += 1
                statement += "\n" + lines[row]
        row += 1
    return found


def line_of(path: Path, lines: Mapping[Path, int]) -> int | None:
    """Line of the nearest enclosing key that has one, or None for a path that is nowhere in the text."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None
