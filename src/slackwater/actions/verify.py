"""Recompute reference rows and say, row by row, how far the program is from them."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from importlib.resources import files
from pathlib import Path
from typing import Any

from slackwater.actions.files import read_text
from slackwater.actions.reference_rows import COMPUTED, CONSTANT
from slackwater.errors import BadInput, SlackwaterError

COLUMNS = ("id", "topic", "inputs_json", "value", "unit", "rel_tol", "abs_tol", "source", "kind")
FROM_MEMORY = "from-memory"


class Outcome(StrEnum):
    """What came of a row."""

    PASS = "pass"
    MISS = "miss"
    WARNING = "warning"
    """A row from memory that is missed: look it up, do not stop for it."""
    NOT_IMPLEMENTED = "not implemented"


@dataclass(frozen=True)
class Row:
    """One reference value as read."""

    id: str
    topic: str
    inputs: dict[str, Any]
    value: float
    unit: str
    rel_tol: float
    abs_tol: float
    source: str
    kind: str


@dataclass(frozen=True)
class Line:
    """A row with what the program makes of it; `how` is computed, constant or ``""``."""

    row: Row
    how: str
    got: float | None
    outcome: Outcome
    note: str = ""

    def text(self) -> str:
        """One line for the terminal: computed, reference, difference, verdict."""
        if self.got is None:
            return f"{self.row.id:16} {'':>12} {self.row.value:>12.6g} {'':>10} {self.outcome} {self.note}".rstrip()
        return (
            f"{self.row.id:16} {self.got:>12.6g} {self.row.value:>12.6g} {self.got - self.row.value:>+10.2g} "
            f"{self.row.unit:14} {self.outcome} ({self.how}, {self.row.kind})"
        )


@dataclass(frozen=True)
class VerifyReport:
    """All lines; `passed` is what the exit code says."""

    lines: tuple[Line, ...]
    strict: bool

    @property
    def passed(self) -> bool:
        """No row is missed and, when strict, none lacks a function."""
        bad = {Outcome.MISS} | ({Outcome.NOT_IMPLEMENTED} if self.strict else set())
        return not any(line.outcome in bad for line in self.lines)

    def totals(self) -> list[str]:
        """Counts: computed and constant rows apart, misses, warnings, rows without a function."""

        def count(how: str, outcome: Outcome) -> int:
            return sum(line.how == how and line.outcome is outcome for line in self.lines)

        return [
            f"computed: {count('computed', Outcome.PASS)} pass, {count('computed', Outcome.MISS)} miss, "
            f"{count('computed', Outcome.WARNING)} from-memory warnings",
            f"constant: {count('constant', Outcome.PASS)} pass, {count('constant', Outcome.MISS)} miss, "
            f"{count('constant', Outcome.WARNING)} from-memory warnings",
            f"not implemented: {count('', Outcome.NOT_IMPLEMENTED)}",
        ]


def read_rows(text: str, *, file_name: str) -> tuple[Row, ...]:
    """Read a reference table.

    Raises
    ------
    BadInput
        Naming file, line and column.
    """
    reader = csv.DictReader(io.StringIO(text))
    missing = [column for column in COLUMNS if column not in (reader.fieldnames or ())]
    if missing:
        raise BadInput(f"{file_name}, line 1: column {missing[0]} is missing; expected are {', '.join(COLUMNS)}")
    rows = []
    for record in reader:
        where = f"{file_name}, line {reader.line_num}"
        numbers = {}
        for column in ("value", "rel_tol", "abs_tol"):
            try:
                numbers[column] = float(record[column])
            except (TypeError, ValueError) as error:
                raise BadInput(f'{where}: {column}: "{record[column]}" is not a number') from error
        try:
            inputs = json.loads(record["inputs_json"])
        except (TypeError, ValueError) as error:
            raise BadInput(f"{where}: inputs_json is not readable JSON") from error
        if not isinstance(inputs, dict) or "quantity" not in inputs:
            raise BadInput(f"{where}: inputs_json must be an object that names its quantity")
        rows.append(
            Row(
                id=record["id"],
                topic=record["topic"],
                inputs=inputs,
                unit=record["unit"],
                source=record["source"],
                kind=record["kind"],
                **numbers,
            )
        )
    return tuple(rows)


def check_row(row: Row) -> Line:
    """Compute one row and compare."""
    key = (row.topic, str(row.inputs["quantity"]))
    how = "computed" if key in COMPUTED else "constant" if key in CONSTANT else ""
    if not how:
        return Line(row=row, how="", got=None, outcome=Outcome.NOT_IMPLEMENTED, note=f"{row.topic}: {key[1]}")
    missed = Outcome.WARNING if row.kind == FROM_MEMORY else Outcome.MISS
    try:
        got = (COMPUTED.get(key) or CONSTANT[key])(row.inputs)
    except (SlackwaterError, KeyError, TypeError, ValueError) as error:
        return Line(row=row, how=how, got=None, outcome=missed, note=f"cannot be computed: {error}")
    near = math.isfinite(got) and abs(got - row.value) <= row.abs_tol + row.rel_tol * abs(row.value)
    return Line(row=row, how=how, got=got, outcome=Outcome.PASS if near else missed)


def shipped_tables() -> Iterable[tuple[str, str]]:
    """Name and text of each table that comes with the program."""
    packaged = files("slackwater").joinpath("references")
    # In a checkout the tables stand at the top; a built package carries them inside.
    folder = packaged if packaged.is_dir() else Path(__file__).parents[3] / "references"
    for item in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if item.name.endswith(".csv"):
            yield item.name, item.read_text(encoding="utf-8")


def verify(paths: Sequence[Path] | None, *, strict: bool) -> VerifyReport:
    """Check tables, those that come with the program by default.

    Raises
    ------
    BadInput, NotFound
        If a table cannot be read.
    """
    tables = [(str(path), read_text(path)) for path in paths] if paths else list(shipped_tables())
    rows = [row for name, text in tables for row in read_rows(text, file_name=name)]
    return VerifyReport(lines=tuple(check_row(row) for row in rows), strict=strict)
