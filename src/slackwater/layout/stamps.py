"""Pieces as points of their skin and as height maps: what a look, a hand and a search ask of a shape.

A map has cells of one size, laid out from the middle of the glass, so that a mirrored layout has the mirrored map.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from slackwater.layout.compiled import compiled
from slackwater.layout.scene import Faces, Floats, Glass, Layout, Piece, stood

Cells = NDArray[np.int64]
Mask = NDArray[np.bool_]

CELL_M = 0.01
"""Cells of maps that are searched and scored."""
SPACING_M = 0.004
"""Distance of the points on a skin."""
NEAR_M = SPACING_M / np.sqrt(3)
"""No place of a skin is further from one of its points: the circumradius of an even triangle with that side."""
_GRAIN = 1e-9
"""Coordinates are rounded to this before they are sorted into cells, so that the last bit of a machine decides nothing."""


@dataclass(frozen=True)
class Grid:
    """Cells over the box round the glass."""

    left_m: float
    front_m: float
    columns: int
    rows: int
    cell_m: float = CELL_M

    @property
    def x_m(self) -> Floats:
        """Middles of the columns."""
        return np.asarray(self.left_m + (np.arange(self.columns) + 0.5) * self.cell_m, dtype=np.float64)

    @property
    def y_m(self) -> Floats:
        """Middles of the rows."""
        return np.asarray(self.front_m + (np.arange(self.rows) + 0.5) * self.cell_m, dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Stamp:
    """Top and underside of one piece over the cells that any part of it lies in; never less than the piece."""

    row: int
    column: int
    """Of its first cell."""
    top_m: Floats
    """One row for each row of cells; minus infinity beside the piece."""
    under_m: Floats
    """Plus infinity beside the piece."""

    @property
    def filled(self) -> Mask:
        """The cells that the piece lies in."""
        return np.isfinite(self.top_m)


def grid_of(glass: Glass, cell_m: float = CELL_M) -> Grid:
    """Cells that cover the glass, as many on either side of its middle."""
    left, front, right, rear = glass.box_m
    columns, rows = (int(np.ceil(round(size / cell_m, 6))) for size in (right - left, rear - front))
    return Grid(
        left_m=(left + right - columns * cell_m) / 2,
        front_m=(front + rear - rows * cell_m) / 2,
        columns=columns,
        rows=rows,
        cell_m=cell_m,
    )


def skin_points(vertices_m: Floats, faces: Faces, spacing_m: float = SPACING_M) -> Floats:
    """Points all over a mesh: its corners, and more on triangles with a longer side.

    Parameters
    ----------
    vertices_m : (n, 3) float
    faces : (m, 3) int
    spacing_m : float
        No two neighbours are further apart.

    Returns
    -------
    (k, 3) float
    """
    corners = np.asarray(vertices_m, dtype=np.float64)[np.asarray(faces)]
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2)
    parts = np.ceil(sides.max(axis=1) / spacing_m - 1e-9).astype(np.int64)
    found = [np.asarray(vertices_m, dtype=np.float64)]
    for count in np.unique(parts[parts > 1]):
        one, other = np.meshgrid(np.arange(count + 1), np.arange(count + 1), indexing="ij")
        inside = one + other <= count
        a, b = one[inside] / count, other[inside] / count
        chosen = corners[parts == count]
        along, across = chosen[:, 1] - chosen[:, 0], chosen[:, 2] - chosen[:, 0]
        points = chosen[:, None, 0] + a[None, :, None] * along[:, None] + b[None, :, None] * across[:, None]
        found.append(points.reshape(-1, 3))
    return np.concatenate(found)


@lru_cache(maxsize=128)
def piece_points(piece: Piece, spacing_m: float = SPACING_M) -> Floats:
    """Points of the skin of a piece in its own frame; kept, because a search asks for them again for every layout."""
    points = skin_points(piece.closed_vertices_m, piece.closed_faces, spacing_m)
    points.flags.writeable = False
    return points


def stood_points(layout: Layout, spacing_m: float = SPACING_M) -> dict[int, Floats]:
    """Points of the skin of each placement where it stands, by its number."""
    known = {key: piece_points(layout.pieces[key], spacing_m) for key in {item.piece for item in layout.placements}}
    return {item.number: stood(known[item.piece], item) for item in layout.placements}


@compiled
def _cells_of(
    points: Floats, left: float, front: float, cell: float, near_m: float, grain: float, found: Cells, box: Cells
) -> None:
    """First and last column and row of the cells round each point, at most two each way; and of all of them."""
    for axis in range(2):
        box[axis], box[2 + axis] = 1 << 60, -(1 << 60)
    for k in range(len(points)):
        for axis in range(2):
            at = points[k, axis] - (left if axis == 0 else front)
            low = int(np.floor((at - near_m) / cell + grain))
            high = int(np.ceil((at + near_m) / cell - grain)) - 1
            # A point just on a border, with nothing round it, belongs to both.
            found[k, axis], found[k, 2 + axis] = min(low, high), max(low, high)
            box[axis] = min(box[axis], found[k, axis])
            box[2 + axis] = max(box[2 + axis], found[k, 2 + axis])


@compiled
def _stamped(points: Floats, cells: Cells, column: int, row: int, near_m: float, top: Floats, under: Floats) -> None:
    for k in range(len(points)):
        z = points[k, 2]
        for j in range(cells[k, 1] - row, cells[k, 3] - row + 1):
            for i in range(cells[k, 0] - column, cells[k, 2] - column + 1):
                top[j, i] = max(top[j, i], z + near_m)
                under[j, i] = min(under[j, i], z - near_m)


def stamp_of(points_m: Floats, grid: Grid, near_m: float = NEAR_M) -> Stamp:
    """The stamp of points of a skin.

    Parameters
    ----------
    points_m : (n, 3) float
        Where they stand.
    near_m : float
        How far from one of the points the skin may still be: the stamp is so much larger than the points.
    """
    points = np.ascontiguousarray(points_m, dtype=np.float64)
    cells = np.empty((len(points), 4), dtype=np.int64)
    box = np.empty(4, dtype=np.int64)
    _cells_of(points, grid.left_m, grid.front_m, grid.cell_m, near_m, _GRAIN, cells, box)
    column, row, last_column, last_row = (int(value) for value in box)
    top = np.full((last_row - row + 1, last_column - column + 1), -np.inf)
    under = np.full(top.shape, np.inf)
    _stamped(points, cells, column, row, near_m, top, under)
    return Stamp(row=row, column=column, top_m=np.round(top, 9), under_m=np.round(under, 9))


def laid(stamp: Stamp, onto: Floats, values: Floats) -> None:
    """Raise a map to values of a stamp where they are higher; what lies beside the map is left out."""
    rows, columns = onto.shape
    a, b = max(0, stamp.row), min(rows, stamp.row + values.shape[0])
    c, d = max(0, stamp.column), min(columns, stamp.column + values.shape[1])
    if a < b and c < d:
        part = values[a - stamp.row : b - stamp.row, c - stamp.column : d - stamp.column]
        onto[a:b, c:d] = np.maximum(onto[a:b, c:d], part)


def bed_map(layout: Layout, grid: Grid) -> Floats:
    """Height of the bed in the middle of each cell, straight between its nodes."""
    return between_nodes(layout.bed.x_m, layout.bed.y_m, layout.bed.top_m, grid.x_m[None, :], grid.y_m[:, None])


def between_nodes(x_m: Floats, y_m: Floats, height_m: Floats, at_x_m: Floats, at_y_m: Floats) -> Floats:
    """Heights of a grid of nodes at other places, straight between nodes in x and in y, held at its border."""
    step_x, step_y = float(x_m[1] - x_m[0]), float(y_m[1] - y_m[0])
    u = np.clip((np.asarray(at_x_m) - x_m[0]) / step_x, 0, len(x_m) - 1)
    v = np.clip((np.asarray(at_y_m) - y_m[0]) / step_y, 0, len(y_m) - 1)
    i, j = np.minimum(u.astype(np.int64), len(x_m) - 2), np.minimum(v.astype(np.int64), len(y_m) - 2)
    s, t = u - i, v - j
    near = (1 - s) * height_m[j, i] + s * height_m[j, i + 1]
    far = (1 - s) * height_m[j + 1, i] + s * height_m[j + 1, i + 1]
    return np.asarray((1 - t) * near + t * far)


def inside(corners_m: tuple[tuple[float, float], ...], x_m: Floats, y_m: Floats) -> Mask:
    """Whether places lie within an outline."""
    found = np.zeros(np.broadcast(x_m, y_m).shape, dtype=bool)
    for (x0, y0), (x1, y1) in zip(corners_m, (*corners_m[1:], corners_m[0]), strict=True):
        if y0 == y1:
            continue
        crosses = (y0 > y_m) != (y1 > y_m)
        found ^= crosses & (x_m < x0 + (y_m - y0) * (x1 - x0) / (y1 - y0))
    return found


def to_panes(corners_m: tuple[tuple[float, float], ...], x_m: Floats, y_m: Floats) -> Floats:
    """Distance of places from the nearest pane, seen from above."""
    return np.asarray(np.min([to_pane(corners_m, pane, x_m, y_m) for pane in range(len(corners_m))], axis=0))


def to_pane(corners_m: tuple[tuple[float, float], ...], pane: int, x_m: Floats, y_m: Floats) -> Floats:
    """Distance of places from one pane, seen from above; panes count from the first corner on."""
    (x0, y0), (x1, y1) = corners_m[pane], corners_m[(pane + 1) % len(corners_m)]
    along_x, along_y = x1 - x0, y1 - y0
    share = np.clip(((x_m - x0) * along_x + (y_m - y0) * along_y) / (along_x**2 + along_y**2), 0, 1)
    return np.asarray(np.hypot(x_m - x0 - share * along_x, y_m - y0 - share * along_y))
