"""The bottom of the tank in cells: height of the bed, what stands on it, how far it lies from panes, and its light."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import BadInput
from slackwater.layout.result import BedResult, LayoutResult, PlacedPiece
from slackwater.tank.result import TankShape

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
Numbers = NDArray[np.int64]
Points = Sequence[tuple[float, float]]

CELL_M = 0.02
"""Cells are about this wide: a hand's breadth has four."""
MOST_CELLS = 120
"""Along one side; a longer tank has wider cells."""
WATER_PER_M = 0.5
"""Attenuation of clear tank water [1/m, 0.2 to 1.2]; from memory."""
READING_ERROR = 0.4
"""Relative error of light that is known from one reading in the middle of the bottom; common practice, no source."""


@dataclass(frozen=True, eq=False)
class LightMap:
    """Light on the bed in cells of any size, and where plants sit higher.

    Attributes
    ----------
    x_m, y_m : (n,), (m,) float
        Middles of the cells, rising.
    par_umol_m2_s, error_umol_m2_s : (m, n) float
        Mean and standard error of each; NaN where it is not known.
    pieces : mapping of int to (float, float)
        Mean and error on top of the piece of that number.
    surface : (float, float) or None
        Just under the surface of the water.
    """

    x_m: Floats
    y_m: Floats
    par_umol_m2_s: Floats
    error_umol_m2_s: Floats
    pieces: Mapping[int, tuple[float, float]] = field(default_factory=dict)
    surface: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        wanted = (len(self.y_m), len(self.x_m))
        for name in ("par_umol_m2_s", "error_umol_m2_s"):
            shape = getattr(self, name).shape
            if shape != wanted:
                raise BadInput(f"the light map has {name} of shape {shape}, expected {wanted}: a row for each y")

    def at(self, x_m: Floats, y_m: Floats) -> tuple[Floats, Floats]:
        """Mean and error at places, each by the cell that it is nearest to."""
        column = np.abs(np.asarray(x_m)[..., None] - self.x_m).argmin(axis=-1)
        row = np.abs(np.asarray(y_m)[..., None] - self.y_m).argmin(axis=-1)
        return self.par_umol_m2_s[row, column], self.error_umol_m2_s[row, column]


@dataclass(frozen=True, eq=False)
class Ground:
    """Cells over the box round the glass; maps have one row for each y.

    Attributes
    ----------
    x_m, y_m : (n,), (m,) float
        Middles of the cells.
    cell_m : (float, float)
        Their size.
    inside : (m, n) bool
        Whether the middle lies within the glass.
    top_m, base_m : (m, n) float
        Height of the bed and of the base layer under the soil over the bottom glass.
    piece : (m, n) int
        Number of the piece that takes the cell; 0 for none.
    """

    x_m: Floats
    y_m: Floats
    cell_m: tuple[float, float]
    inside: Mask
    top_m: Floats
    base_m: Floats
    piece: Numbers
    corners_m: tuple[tuple[float, float], ...]
    height_m: float
    water_line_m: float
    public_sides: tuple[str, ...]
    pieces: tuple[PlacedPiece, ...] = ()

    @property
    def cell_m2(self) -> float:
        """Area of one cell."""
        return self.cell_m[0] * self.cell_m[1]

    @property
    def free(self) -> Mask:
        """Cells that can be planted: within the glass, no piece on them, bed below the water line."""
        return np.asarray(self.inside & (self.piece == 0) & (self.top_m < self.water_line_m - 0.01))


def within(corners_m: Points, x_m: Floats, y_m: Floats) -> Mask:
    """Whether places lie within an outline, by the number of its sides that a ray to the right crosses."""
    found: Mask = np.zeros(np.broadcast(x_m, y_m).shape, dtype=np.bool_)
    for (x0, y0), (x1, y1) in zip(corners_m, (*corners_m[1:], corners_m[0]), strict=True):
        if y0 != y1:
            crosses = (y0 > y_m) != (y1 > y_m)
            found = np.asarray(found ^ (crosses & (x_m < x0 + (y_m - y0) * (x1 - x0) / (y1 - y0))))
    return found


def to_panes_m(corners_m: Points, x_m: Floats, y_m: Floats) -> Floats:
    """Distance of places from the nearest pane, seen from above."""
    nearest: Floats = np.full(np.broadcast(x_m, y_m).shape, np.inf)
    for (x0, y0), (x1, y1) in zip(corners_m, (*corners_m[1:], corners_m[0]), strict=True):
        along_x, along_y = x1 - x0, y1 - y0
        share = np.clip(((x_m - x0) * along_x + (y_m - y0) * along_y) / (along_x**2 + along_y**2), 0, 1)
        nearest = np.minimum(nearest, np.hypot(x_m - x0 - share * along_x, y_m - y0 - share * along_y))
    return nearest


def _between(xs: Floats, ys: Floats, heights: Floats, x_m: Floats, y_m: Floats) -> Floats:
    """Heights of nodes at the middles of cells, straight between nodes in x and in y."""
    along = np.array([np.interp(x_m, xs, row) for row in heights])
    return np.array([np.interp(y_m, ys, column) for column in along.T]).T


def ground_of(
    bed: BedResult, shape: TankShape, *, public_sides: tuple[str, ...], layout: LayoutResult | None = None
) -> Ground:
    """The cells of a job's bed, with the pieces of its layout where it has one.

    Parameters
    ----------
    bed : BedResult
    shape : TankShape
    public_sides : tuple of str
        At least one.
    layout : LayoutResult or None
    """
    left, front = min(x for x, _ in shape.corners_m), min(y for _, y in shape.corners_m)
    right, rear = max(x for x, _ in shape.corners_m), max(y for _, y in shape.corners_m)
    columns = int(np.clip(round((right - left) / CELL_M), 6, MOST_CELLS))
    rows = int(np.clip(round((rear - front) / CELL_M), 6, MOST_CELLS))
    wide, deep = (right - left) / columns, (rear - front) / rows
    x: Floats = np.asarray(left + (np.arange(columns) + 0.5) * wide, dtype=np.float64)
    y: Floats = np.asarray(front + (np.arange(rows) + 0.5) * deep, dtype=np.float64)
    xs, ys = np.asarray(bed.x_m), np.asarray(bed.y_m)
    across, away = np.meshgrid(x, y)
    piece = np.zeros((rows, columns), dtype=np.int64)
    pieces = () if layout is None else layout.pieces
    for one in pieces:
        covered = np.zeros(piece.shape, dtype=bool)
        for ring in one.above:
            covered ^= within(ring, across, away)
        # What ends over the bed, such as a branch, shades it but leaves it free.
        if one.sunk_m > -0.03:
            piece[covered] = one.number
    return Ground(
        x_m=x,
        y_m=y,
        cell_m=(wide, deep),
        inside=within(shape.corners_m, across, away),
        top_m=_between(xs, ys, np.asarray(bed.depth_m), x, y),
        base_m=_between(xs, ys, np.asarray(bed.base_depth_m), x, y),
        piece=piece,
        corners_m=shape.corners_m,
        height_m=shape.height_m,
        water_line_m=shape.water_line_m,
        public_sides=public_sides,
        pieces=pieces,
    )


def light_of_reading(ground: Ground, reading_umol_m2_s: float) -> LightMap:
    """A map from one reading on the bed in the middle of the tank: the same everywhere but for the water above.

    Parameters
    ----------
    ground : Ground
    reading_umol_m2_s : float
        Light on the middle of the bed [umol/(m2 s), at least 0].

    Notes
    -----
    I(z) = I_reading exp(K (depth_reading - depth)), with K of clear water; no shade, no lamp that ends before the pane.
    That is why its error is large.
    """
    rows, columns = ground.inside.shape
    depth = ground.water_line_m - ground.top_m
    middle = float(depth[rows // 2, columns // 2])

    def at(under_m: Floats | float) -> Floats:
        return np.asarray(reading_umol_m2_s * np.exp(WATER_PER_M * (middle - np.asarray(under_m))))

    par = np.where(ground.inside, at(depth), np.nan)
    tops = {one.number: float(at(max(0.0, ground.water_line_m - one.high_m))) for one in ground.pieces}
    surface = float(at(0.0))
    return LightMap(
        x_m=ground.x_m,
        y_m=ground.y_m,
        par_umol_m2_s=par,
        error_umol_m2_s=READING_ERROR * par,
        pieces={number: (value, READING_ERROR * value) for number, value in tops.items()},
        surface=(surface, READING_ERROR * surface),
    )
