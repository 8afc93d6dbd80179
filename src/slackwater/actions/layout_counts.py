"""What a layout comes to, for whoever moves its pieces: litres, planting area, remarks, and the glass that a hand cannot clean."""

from __future__ import annotations

from dataclasses import dataclass

from slackwater.finding import Finding
from slackwater.layout.columns import Columns
from slackwater.layout.ground import node_areas_m2
from slackwater.layout.litres import Volumes4
from slackwater.layout.place import held_by, placing_findings
from slackwater.layout.reach import HAND_M, Clearance, clearance
from slackwater.layout.scene import Layout


@dataclass(frozen=True)
class Counted:
    """What is counted after each touch.

    Attributes
    ----------
    volumes : Volumes4
        By columns.
    planting_m2 : float
        Soil in which nothing stands, seen from above; bays of sand are none.
    mass_kg : float
        Of all placed pieces.
    findings : tuple of Finding
        Of pieces that stand where nothing can, or cannot be brought in.
    """

    volumes: Volumes4
    planting_m2: float
    mass_kg: float
    findings: tuple[Finding, ...]


def count(layout: Layout) -> Counted:
    """Count a layout."""
    return Counted(
        volumes=Columns.of(layout).volumes,
        planting_m2=planting_m2(layout),
        mass_kg=sum(layout.pieces[item.piece].mass_kg for item in layout.placements),
        findings=placing_findings(layout),
    )


def planting_m2(layout: Layout) -> float:
    """Soil in which nothing stands, seen from above [m2]; a bay of another material is none."""
    bed = layout.bed
    areas = node_areas_m2(bed, layout.glass.corners_m)
    for bay in bed.bays:
        areas = areas - node_areas_m2(bed, bay.outline_m)
    return float((areas * ~held_by(layout)).sum().clip(0))


def cleaning(layout: Layout) -> Clearance:
    """What of each pane a hand of usual width can clean."""
    return clearance(layout, hand_m=HAND_M)
