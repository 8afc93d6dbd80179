"""The layout on paper: its pieces in the order of placing, and its drawings with their size."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from slackwater.layout.result import LayoutResult, PlacedPiece
from slackwater.paper.layout_figures import layout_drawings
from slackwater.reader import Reader
from slackwater.units import show
from slackwater.wording.render import named, say


@dataclass(frozen=True)
class ScoredPart:
    """A part of a score: what it is, 0 bad to 1 good, and what its sentence needs."""

    id: str
    value: float
    values: Mapping[str, float | str]


COLUMNS = ("number", "piece", "mass", "size", "from_left", "from_front", "sunk", "top")
TOUCHES_M = 0.002
"""A piece that ends less far over the bed lies on it."""


def piece_columns(reader: Reader) -> tuple[str, ...]:
    """Heads of the table of pieces."""
    return tuple(say(f"sheet.layout.{name}", {}, reader) for name in COLUMNS)


def piece_rows(layout: LayoutResult, reader: Reader) -> list[tuple[str, ...]]:
    """A row for each piece, in the order of placing."""
    left, front = min(x for x, _ in layout.corners_m), min(y for _, y in layout.corners_m)

    def row(piece: PlacedPiece) -> tuple[str, ...]:
        told = [show(side, "m", reader, significant=2) for side in piece.size_m]
        return (
            str(piece.number),
            named(piece.name, reader),
            show(piece.mass_kg, "kg", reader, significant=2),
            _box(told),
            show(piece.middle_m[0] - left, "m", reader),
            show(piece.middle_m[1] - front, "m", reader),
            show(piece.sunk_m, "m", reader, significant=2)
            if piece.sunk_m > -TOUCHES_M
            else say("sheet.layout.stands_on", {}, reader),
            show(piece.high_m, "m", reader),
        )

    return [row(piece) for piece in layout.pieces]


def _box(sides: list[str]) -> str:
    """Three sides with one unit where they have the same."""
    units = {side.rpartition(" ")[2] for side in sides}
    if len(units) > 1:
        return " × ".join(sides)
    return " × ".join([*(side.rpartition(" ")[0] for side in sides[:-1]), sides[-1]])


def layout_data(layout: LayoutResult | None, reader: Reader) -> dict[str, Any] | None:
    """What the day sheet and the offer say of a layout; None where none was laid."""
    if layout is None or not layout.pieces:
        return None
    return {
        "told": say(f"sheet.layout.{layout.source}", {}, reader),
        "told_client": say(f"sheet.layout.client_{layout.source}", {}, reader),
        "columns": list(piece_columns(reader)),
        "rows": [list(row) for row in piece_rows(layout, reader)],
        "drawings": [
            {
                "file": drawing.file,
                "title": say(f"figure.{name}.title", {}, reader),
                "alt": say(f"figure.{name}.description", {}, reader),
                "width_mm": drawing.width_mm,
            }
            for drawing in layout_drawings(layout, reader)
            for name in (drawing.file.partition(".")[0].replace("-", "_"),)
        ],
    }


def part_told(part: ScoredPart, reader: Reader) -> str:
    """Why a proposal was picked, or what speaks against it, in one sentence."""
    return say(f"layout_part.{part.id}", part.values, reader)


def litres_rows(layout: LayoutResult, reader: Reader) -> list[tuple[str, str]]:
    """What is where, in litres."""
    told = (
        ("displaced_l", layout.displaced),
        ("buried_l", layout.buried),
        ("soil_net_l", layout.soil),
        ("free_water_l", layout.water),
        ("above_water_l", layout.above_water),
    )
    return [(say(f"figure_name.layout.{name}", {}, reader), show(item.value_l, "L", reader)) for name, item in told]


def proposals_data(
    layouts: Sequence[tuple[LayoutResult, Sequence[ScoredPart]]], reader: Reader
) -> list[dict[str, Any]]:
    """What the sheet of layouts says of each; drawings are named by the number of the layout before their file."""
    found = []
    for number, (layout, parts) in enumerate(layouts, start=1):
        data = layout_data(layout, reader)
        if data is None:
            continue
        heading = (
            say("sheet.layout.proposal", {"number": number}, reader)
            if len(layouts) > 1
            else say("sheet.layout.title", {}, reader)
        )
        drawings = [{**item, "file": f"{number}-{item['file']}"} for item in data["drawings"]]
        found.append(
            {
                **data,
                "drawings": drawings,
                "heading": heading,
                "parts": [part_told(part, reader) for part in parts],
                "litres": [list(row) for row in litres_rows(layout, reader)],
            }
        )
    return found
