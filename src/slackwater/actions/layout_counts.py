"""What a layout comes to, for whoever moves its pieces: litres, planting area, remarks, and the glass that a hand cannot clean."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slackwater.finding import Finding, Severity
from slackwater.layout.columns import Columns, stands_as
from slackwater.layout.ground import node_areas_m2
from slackwater.layout.litres import Volumes4
from slackwater.layout.place import Passage, findings_of, fits_opening, held_window
from slackwater.layout.reach import HAND_M, Clearance, clearance
from slackwater.layout.scene import Bed, Floats, Glass, Layout, Piece, Placement, stood


@dataclass(frozen=True, eq=False)
class Alone:
    """What one piece comes to where it stands, whatever stands beside it.

    Attributes
    ----------
    rows, columns : slice
        Nodes of the bed under it.
    held : array of bool
        In which of them it stands.
    """

    passage: Passage
    findings: tuple[Finding, ...]
    rows: slice
    columns: slice
    held: NDArray[np.bool_]

    @staticmethod
    def of(glass: Glass, bed: Bed, piece: Piece, placement: Placement, passage: Passage) -> Alone:
        """Of one placement."""
        corners = stood(piece.closed_vertices_m, placement)
        rows, columns, held = held_window(bed, corners, piece.closed_faces)
        return Alone(
            passage=passage,
            findings=findings_of(glass, placement.number, piece.name, corners, passage),
            rows=rows,
            columns=columns,
            held=held,
        )


@dataclass(frozen=True, eq=False)
class Counted:
    """A counted layout, and what the next count can take over from it."""

    columns: Columns
    plantable_m2: Floats
    """What each node of the bed counts for; 0 in a bay of another material than the soil."""
    alone: Mapping[int, Alone]
    """By the number of the placement."""

    @property
    def layout(self) -> Layout:
        """What was counted."""
        return self.columns.layout

    @property
    def volumes(self) -> Volumes4:
        """By columns."""
        return self.columns.volumes

    @property
    def planting_m2(self) -> float:
        """Soil in which nothing stands, seen from above; bays of sand are none."""
        free = self.plantable_m2.copy()
        for item in self.alone.values():
            free[item.rows, item.columns][item.held] = 0
        return float(free.sum().clip(0))

    @property
    def mass_kg(self) -> float:
        """Of all placed pieces."""
        return sum(self.layout.pieces[item.piece].mass_kg for item in self.layout.placements)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Of pieces that stand where nothing can, or cannot be brought in."""
        if not self.alone:
            return (Finding(id="layout.nothing_placed", severity=Severity.NOTE),)
        return tuple(finding for item in self.layout.placements for finding in self.alone[item.number].findings)


def count(layout: Layout, before: Counted | None = None) -> Counted:
    """Count a layout.

    Parameters
    ----------
    layout : Layout
    before : Counted or None
        Where it has the same glass and bed, only pieces that stand elsewhere are counted again; the answer is the same.
    """
    if before is None or not before.columns.is_of(layout) or before.layout.bed.bays != layout.bed.bays:
        return _counted(layout, Columns.of(layout), _plantable_m2(layout), {}, {})
    stood_so = {item.number: item for item in before.layout.placements}
    kept = {
        item.number: before.alone[item.number]
        for item in layout.placements
        if item.number in stood_so and stands_as(stood_so[item.number], item)
    }
    passages = {stood_so[number].piece: alone.passage for number, alone in before.alone.items()}
    return _counted(layout, before.columns.followed_by(layout), before.plantable_m2, kept, passages)


def _counted(
    layout: Layout,
    columns: Columns,
    plantable_m2: Floats,
    kept: Mapping[int, Alone],
    passages: Mapping[str, Passage],
) -> Counted:
    alone = {}
    for item in layout.placements:
        piece = layout.pieces[item.piece]
        alone[item.number] = kept.get(item.number) or Alone.of(
            layout.glass, layout.bed, piece, item, passages.get(item.piece) or fits_opening(piece, layout.glass)
        )
    return Counted(columns=columns, plantable_m2=plantable_m2, alone=alone)


def _plantable_m2(layout: Layout) -> Floats:
    bed = layout.bed
    areas = node_areas_m2(bed, layout.glass.corners_m)
    for bay in bed.bays:
        areas = areas - node_areas_m2(bed, bay.outline_m)
    return areas


def cleaning(layout: Layout) -> Clearance:
    """What of each pane a hand of usual width can clean."""
    return clearance(layout, hand_m=HAND_M)
