"""What the layout room hands on: the bed as a grid, its layers and its slopes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from slackwater.frozen import Frozen
from slackwater.layout.bed import Surface
from slackwater.stage import Stage


class Layer(Frozen):
    """One material of the bed as laid: litres poured, and the bags that takes."""

    role: str
    """base, soil, top or bay."""
    material: str
    bulk_l: float
    """Litres in place."""
    order_l: float
    """Litres to have: less stone bedding, plus settling."""
    bag_l: float | None
    bags: int | None
    """Whole bags to have, stock on hand included."""
    solids_l: float
    pore_l: float
    dry_mass_kg: float


class BedResult(Frozen):
    """The bed that the job file asks for."""

    x_m: tuple[float, ...]
    y_m: tuple[float, ...]
    depth_m: tuple[tuple[float, ...], ...]
    """Bed height above the bottom glass, one row for each y."""
    base_depth_m: tuple[tuple[float, ...], ...]
    """Height of the base layer under it, same grid."""
    bulk_l: float
    mean_depth_m: float
    highest_m: float
    steepest_deg: float
    repose_deg: float | None
    layers: tuple[Layer, ...]
    solids_l: float
    pore_l: float


Ring = tuple[tuple[float, float], ...]
"""Corners of an outline [m]; an outline with holes has several."""


class Litres(Frozen):
    """A volume of a layout, exact for its meshes, with what it is checked by."""

    value_l: float
    error_l: float
    """Standard error, of scans that were not closed; 0 where there are none."""
    fast_l: float
    """The same by columns, which shares no code with it."""


class PlacedPiece(Frozen):
    """One stone or one piece of wood where it stands."""

    number: int
    """Order of placing, from 1."""
    name: str
    kind: str
    material: str
    mass_kg: float
    volume_l: float
    stand_in: bool
    """Made up from size and mass, not scanned."""
    locked: bool
    middle_m: tuple[float, float]
    """Middle of its outline from above, from the left and from the front glass."""
    size_m: tuple[float, float, float]
    """Box round it as it stands: left to right, front to rear, up."""
    low_m: float
    """Its lowest point above the bottom glass."""
    high_m: float
    sunk_m: float
    """How deep its lowest point lies under the surface of the bed there; below 0 where it does not touch the bed."""
    above: tuple[Ring, ...]
    """Outline from above: x, y."""
    front: tuple[Ring, ...]
    """Outline from the front: x, z."""
    left: tuple[Ring, ...]
    """Outline from the left: y, z."""


class CutPiece(Frozen):
    """What a section cuts of one piece."""

    number: int
    rings: tuple[Ring, ...]


class Section(Frozen):
    """A cut through the tank: ``long`` left to right, ``cross`` front to rear."""

    along: str
    at_m: float
    """Where: from the front glass, or from the left."""
    bed_m: Ring
    base_m: Ring
    pieces: tuple[CutPiece, ...]


class Sight(Frozen):
    """What one of the public sees from a side."""

    side: str
    posture: str
    """``seated`` or ``standing``."""
    distance_m: float
    """Of the eye from the pane."""
    eye_m: float
    """Height of the eye over the bottom glass; below 0 where the tank stands above it."""
    hidden_share: float
    """Of the far background, what stones and wood hide [0..1]."""


class LayoutResult(Frozen):
    """A layout as papers and rooms read it."""

    source: str
    """``given`` or ``proposed``."""
    settled: bool
    """Whether its pieces were let go and came to rest; else they were lowered and pressed in without turning."""
    intent: str = ""
    seed: int
    corners_m: Ring
    height_m: float
    water_line_m: float
    wall_m: float
    public_sides: tuple[str, ...]
    x_m: tuple[float, ...]
    y_m: tuple[float, ...]
    bed_m: tuple[tuple[float, ...], ...]
    """Heights of the bed, coarser than it was reckoned with, for drawing; one row for each y."""
    retainers_m: tuple[Ring, ...] = ()
    """Strips that hold the bed back, from above."""
    layers_l: Mapping[str, float] = {}
    """Litres in place of each material of the bed, what is buried in it not taken out."""
    at_glass_m: dict[str, Ring]
    """The line of the bed at each side: left to right, or front to rear, and height."""
    pieces: tuple[PlacedPiece, ...]
    sections: tuple[Section, ...]
    sights: tuple[Sight, ...] = ()
    displaced: Litres
    """Pieces above the soil and below the water line."""
    buried: Litres
    soil: Litres
    """Bed less what is buried in it."""
    water: Litres
    """Above the soil, to the water line."""
    above_water: Litres
    """Pieces above the soil and the water line."""
    left_out_l: float = 0.0
    """Pieces on hand that stand nowhere in it, by their solids [L]: somebody will find a place for them."""


@dataclass(frozen=True)
class LayoutStage:
    """What the pipeline takes of a layout that was laid before it: laying is slow and the same for every variant.

    Attributes
    ----------
    stage : Stage of LayoutResult
    surface : callable or None
        The depth of the bed where the layout has one of its own; None where it is the job's.
    """

    stage: Stage[LayoutResult]
    surface: Surface | None = None
