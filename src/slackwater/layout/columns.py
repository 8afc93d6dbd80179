"""Fast volumes by columns, and height maps: for dragging and for search. Shares no code with the exact count.

Each piece is cut by vertical lines in the middle of the cells of a grid. What the lines give is set right per piece
with two volumes that cost no lines: of the piece under the water line, and over it. So only the shares come from
lines, and what pieces have in common.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import OutOfRange
from slackwater.layout.compiled import compiled
from slackwater.layout.litres import BareBed, Volumes4, bed_litres, cell_areas_m2, figures_of
from slackwater.layout.scene import Bed, Faces, Floats, Glass, Layout, Piece, Placement, stood

Ints = NDArray[np.int32]

LINES_M = 0.0025
"""Distance of the lines. At twice that a ball of 16 cm, half buried, is out by 0.13 %."""


@dataclass(frozen=True, eq=False)
class Stamp:
    """A placed piece cut by the lines of a window of cells.

    The crossings of line number n (row by row) are ``z_m[starts[n] : starts[n + 1]]``, from below.
    """

    row: int
    column: int
    """The window's first cell in the grid of the glass; may lie outside it."""
    shape: tuple[int, int]
    starts: Ints
    z_m: Floats
    into: NDArray[np.int8]
    """1 where the line enters the piece, going up, -1 where it leaves it."""

    def _ends(self, at: Ints) -> Floats:
        found = np.full(self.shape[0] * self.shape[1], np.nan)
        hit = self.starts[1:] > self.starts[:-1]
        found[hit] = self.z_m[at[hit]]
        return found.reshape(self.shape)

    @cached_property
    def top_m(self) -> Floats:
        """Height of the top, one row for each y; NaN beside the piece."""
        return self._ends(np.maximum(self.starts[1:] - 1, 0))

    @cached_property
    def underside_m(self) -> Floats:
        """Height of the lowest surface, same window; NaN beside the piece."""
        return self._ends(np.minimum(self.starts[:-1], max(len(self.z_m) - 1, 0)))


@compiled
def _crossings(
    vertices: Floats, faces: Faces, x0: float, y0: float, step_x: float, step_y: float, nx: int, ny: int
) -> tuple[Ints, Floats, NDArray[np.int8]]:
    counts = np.zeros(nx * ny + 1, np.int32)
    starts = np.zeros(nx * ny + 1, np.int32)
    z = np.zeros(0, np.float64)
    into = np.zeros(0, np.int8)
    # Twice over the same loop: to count, and to fill.
    for filling in range(2):
        if filling:
            total = 0
            for n in range(nx * ny):
                starts[n] = total
                total += counts[n]
                counts[n] = 0
            starts[nx * ny] = total
            z = np.zeros(total, np.float64)
            into = np.zeros(total, np.int8)
        for f in range(len(faces)):
            ax, ay, az = vertices[faces[f, 0], 0], vertices[faces[f, 0], 1], vertices[faces[f, 0], 2]
            bx, by, bz = vertices[faces[f, 1], 0], vertices[faces[f, 1], 1], vertices[faces[f, 1], 2]
            cx, cy, cz = vertices[faces[f, 2], 0], vertices[faces[f, 2], 1], vertices[faces[f, 2], 2]
            area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
            if area == 0.0:
                continue
            i0 = max(0, int(np.floor((min(ax, bx, cx) - x0) / step_x)))
            i1 = min(nx - 1, int(np.ceil((max(ax, bx, cx) - x0) / step_x)))
            j0 = max(0, int(np.floor((min(ay, by, cy) - y0) / step_y)))
            j1 = min(ny - 1, int(np.ceil((max(ay, by, cy) - y0) / step_y)))
            for j in range(j0, j1 + 1):
                y = y0 + j * step_y
                for i in range(i0, i1 + 1):
                    x = x0 + i * step_x
                    left = 0
                    for e in range(3):
                        if e == 0:
                            px, py, qx, qy = ax, ay, bx, by
                        elif e == 1:
                            px, py, qx, qy = bx, by, cx, cy
                        else:
                            px, py, qx, qy = cx, cy, ax, ay
                        # Both triangles at an edge reckon with its ends in one order, and a line that meets the edge
                        # itself is on one side of it: each line goes in as often as out.
                        turned = px > qx or (px == qx and py > qy)
                        if turned:
                            px, py, qx, qy = qx, qy, px, py
                        over = (qx - px) * (y - py) - (qy - py) * (x - px) >= 0.0
                        if over != turned:
                            left += 1
                    if (area > 0.0 and left == 3) or (area < 0.0 and left == 0):
                        n = j * nx + i
                        if filling:
                            wb = (x - ax) * (cy - ay) - (y - ay) * (cx - ax)
                            wc = (bx - ax) * (y - ay) - (by - ay) * (x - ax)
                            height = az + (wb * (bz - az) + wc * (cz - az)) / area
                            height = min(max(height, min(az, bz, cz)), max(az, bz, cz))
                            sign = -1 if area > 0.0 else 1
                            k = starts[n] + counts[n]
                            while k > starts[n] and (z[k - 1] > height or (z[k - 1] == height and into[k - 1] < sign)):
                                z[k] = z[k - 1]
                                into[k] = into[k - 1]
                                k -= 1
                            z[k] = height
                            into[k] = sign
                        counts[n] += 1
    return starts, z, into


@compiled
def _over_level(vertices: Floats, faces: Faces, level: float) -> float:
    """Volume of a closed mesh over a level: over each triangle a tetrahedron, or a prism less one."""
    total = 0.0
    for f in range(len(faces)):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        area = (vertices[b, 0] - vertices[a, 0]) * (vertices[c, 1] - vertices[a, 1]) - (
            vertices[b, 1] - vertices[a, 1]
        ) * (vertices[c, 0] - vertices[a, 0])
        p, q, r = vertices[a, 2] - level, vertices[b, 2] - level, vertices[c, 2] - level
        low, high = min(p, q, r), max(p, q, r)
        if high <= 0.0:
            continue
        mid = p + q + r - low - high
        if low >= 0.0:
            share = p + q + r
        elif mid <= 0.0:
            share = high**3 / ((high - low) * (high - mid))
        else:
            share = p + q + r - low**3 / ((mid - low) * (high - low))
        total += share * area / 6
    return total


@compiled
def _shares(
    starts: Ints,
    z: Floats,
    into: NDArray[np.int8],
    row: int,
    column: int,
    ny: int,
    nx: int,
    bed: Floats,
    areas: Floats,
    cell: float,
    line: float,
) -> Floats:
    """What the lines of one stamp find [m3].

    All under the water line, all over it; then inside the glass: buried under it, buried over it, free under, free over.
    """
    found = np.zeros(6)
    rows, columns = areas.shape
    for n in range(ny * nx):
        first, last = starts[n], starts[n + 1]
        if first == last:
            continue
        j, i = row + n // nx, column + n % nx
        area = areas[j, i] if 0 <= j < rows and 0 <= i < columns else 0.0
        soil = bed[j, i] if area > 0.0 else 0.0
        for k in range(first, last):
            # Leaving counts all below it, entering takes it off again.
            sign = -float(into[k])
            height = max(z[k], 0.0)
            under = min(height, line)
            found[0] += sign * cell * under
            found[1] += sign * cell * (height - under)
            if area > 0.0:
                low, high = min(under, soil), min(height, soil) - min(under, soil)
                found[2] += sign * area * low
                found[3] += sign * area * high
                found[4] += sign * area * (under - low)
                found[5] += sign * area * (height - under - high)
    return found


@compiled
def _common(
    windows: Ints,
    offsets: Ints,
    starts: Ints,
    z: Floats,
    into: NDArray[np.int8],
    bed: Floats,
    areas: Floats,
    line: float,
) -> Floats:
    """What pieces have in common [m3], once for each piece after the first.

    Buried, free under the water line, free over it.
    """
    found = np.zeros(3)
    rows, columns = areas.shape
    times = np.zeros((rows, columns), np.int32)
    crossings = np.zeros((rows, columns), np.int32)
    pieces = len(windows)
    for p in range(pieces):
        row, column, ny, nx = windows[p, 0], windows[p, 1], windows[p, 2], windows[p, 3]
        for n in range(ny * nx):
            count = starts[offsets[p, 0] + n + 1] - starts[offsets[p, 0] + n]
            j, i = row + n // nx, column + n % nx
            if count and 0 <= j < rows and 0 <= i < columns:
                times[j, i] += 1
                crossings[j, i] += count
    most = 0
    shared = 0
    place = np.full((rows, columns), -1, np.int32)
    for j in range(rows):
        for i in range(columns):
            if times[j, i] > 1 and areas[j, i] > 0.0:
                place[j, i] = shared
                shared += 1
                most = max(most, crossings[j, i])
    heights = np.zeros((shared, most))
    signs = np.zeros((shared, most), np.int32)
    filled = np.zeros(shared, np.int32)
    for p in range(pieces):
        row, column, ny, nx = windows[p, 0], windows[p, 1], windows[p, 2], windows[p, 3]
        for n in range(ny * nx):
            j, i = row + n // nx, column + n % nx
            if not (0 <= j < rows and 0 <= i < columns) or place[j, i] < 0:
                continue
            s = place[j, i]
            for k in range(starts[offsets[p, 0] + n], starts[offsets[p, 0] + n + 1]):
                height, sign = max(z[offsets[p, 1] + k], 0.0), into[offsets[p, 1] + k]
                at = filled[s]
                while at > 0 and (
                    heights[s, at - 1] > height or (heights[s, at - 1] == height and signs[s, at - 1] < sign)
                ):
                    heights[s, at] = heights[s, at - 1]
                    signs[s, at] = signs[s, at - 1]
                    at -= 1
                heights[s, at] = height
                signs[s, at] = sign
                filled[s] += 1
    for j in range(rows):
        for i in range(columns):
            s = place[j, i]
            if s < 0:
                continue
            depth = 0
            soil, area = bed[j, i], areas[j, i]
            for k in range(filled[s] - 1):
                depth += signs[s, k]
                if depth < 2:
                    continue
                low, high, often = heights[s, k], heights[s, k + 1], depth - 1
                found[0] += often * area * (min(high, soil) - min(low, soil))
                under = max(soil, line)
                found[1] += often * area * (min(max(high, soil), under) - min(max(low, soil), under))
                found[2] += often * area * (max(high, under) - max(low, under))
    return found


@dataclass(frozen=True, eq=False)
class Counted:
    """One placement, cut by lines, and its litres as if it stood alone: buried, free under the line, free over it."""

    stamp: Stamp
    litres: Floats


def bed_at(bed: Bed, x_m: Floats, y_m: Floats) -> Floats:
    """Height of the bed at the nodes of a grid, on its triangles; one row for each y."""
    step_x, step_y = bed.cell_m
    across = np.clip((x_m - bed.x_m[0]) / step_x, 0, len(bed.x_m) - 1)
    along = np.clip((y_m - bed.y_m[0]) / step_y, 0, len(bed.y_m) - 1)
    i = np.minimum(across.astype(np.int64), len(bed.x_m) - 2)
    j = np.minimum(along.astype(np.int64), len(bed.y_m) - 2)
    u, v = (across - i)[None, :], (along - j)[:, None]
    i, j = i[None, :], j[:, None]
    h00, h10, h11, h01 = (bed.top_m[j + dj, i + di] for dj, di in ((0, 0), (0, 1), (1, 1), (1, 0)))
    lower, upper = h00 + (h10 - h00) * u + (h11 - h10) * v, h00 + (h11 - h01) * u + (h01 - h00) * v
    return np.asarray(np.where(u >= v, lower, upper))


@dataclass(frozen=True, eq=False)
class Grid:
    """The lines: the cells of the box round the glass, the bed at their middles, and how much of each is inside."""

    glass: Glass
    x_m: Floats
    y_m: Floats
    """Middles of the cells."""
    bed_m: Floats
    areas_m2: Floats
    bare: BareBed

    @property
    def step_m(self) -> tuple[float, float]:
        """Width of a cell in x and in y."""
        return float(self.x_m[1] - self.x_m[0]), float(self.y_m[1] - self.y_m[0])

    @staticmethod
    def over(glass: Glass, bed: Bed, cell_m: float) -> Grid:
        """Cells of about that width, so that they divide the box evenly."""
        x0, y0, x1, y1 = glass.box_m
        nx, ny = max(2, round((x1 - x0) / cell_m)), max(2, round((y1 - y0) / cell_m))
        edges_x, edges_y = np.linspace(x0, x1, nx + 1), np.linspace(y0, y1, ny + 1)
        x, y = (edges_x[1:] + edges_x[:-1]) / 2, (edges_y[1:] + edges_y[:-1]) / 2
        return Grid(
            glass=glass,
            x_m=x,
            y_m=y,
            bed_m=bed_at(bed, x, y),
            areas_m2=cell_areas_m2(glass, edges_x, edges_y),
            bare=bed_litres(glass, bed),
        )

    def stamp(self, vertices_m: Floats, faces: Faces) -> Stamp:
        """A mesh in the tank cut by the lines; the window reaches past the glass where the mesh does."""
        step_x, step_y = self.step_m
        (x0, y0), (x1, y1) = vertices_m[:, :2].min(axis=0), vertices_m[:, :2].max(axis=0)
        column, row = int(np.floor((x0 - self.x_m[0]) / step_x)), int(np.floor((y0 - self.y_m[0]) / step_y))
        nx = int(np.ceil((x1 - self.x_m[0]) / step_x)) - column + 1
        ny = int(np.ceil((y1 - self.y_m[0]) / step_y)) - row + 1
        starts, z, into = _crossings(
            vertices_m,
            faces,
            float(self.x_m[0]) + column * step_x,
            float(self.y_m[0]) + row * step_y,
            step_x,
            step_y,
            nx,
            ny,
        )
        return Stamp(row=row, column=column, shape=(ny, nx), starts=starts, z_m=z, into=into)

    def counted(self, piece: Piece, placement: Placement) -> Counted:
        """One placement cut and counted alone."""
        vertices = np.ascontiguousarray(stood(piece.closed_vertices_m, placement))
        stamp = self.stamp(vertices, piece.closed_faces)
        step_x, step_y = self.step_m
        line = self.glass.water_line_m
        over = _over_level(vertices, piece.closed_faces, line)
        under = _over_level(vertices, piece.closed_faces, 0.0) - over
        found = _shares(
            stamp.starts,
            stamp.z_m,
            stamp.into,
            stamp.row,
            stamp.column,
            *stamp.shape,
            self.bed_m,
            self.areas_m2,
            step_x * step_y,
            line,
        )
        right_under = under / found[0] if found[0] > 0 else 0.0
        right_over = over / found[1] if found[1] > 0 else 0.0
        litres = 1000 * np.array(
            [found[2] * right_under + found[3] * right_over, found[4] * right_under, found[5] * right_over]
        )
        return Counted(stamp=stamp, litres=litres)


@dataclass(frozen=True, eq=False)
class Columns:
    """A layout with its placements cut and counted; an edit counts only what it moved."""

    layout: Layout
    grid: Grid
    placed: Mapping[int, Counted] = field(default_factory=dict)
    """By the number of the placement."""
    common: Mapping[tuple[Counted, ...], Floats] = field(default_factory=dict)
    """Litres that pieces have in common, for each group of pieces whose windows meet."""

    @staticmethod
    def of(layout: Layout, cell_m: float = LINES_M) -> Columns:
        """A layout counted from the beginning."""
        return Columns(layout=layout, grid=Grid.over(layout.glass, layout.bed, cell_m))._with(layout, {})

    def followed_by(self, layout: Layout) -> Columns:
        """Another layout in the same glass on the same bed: only placements that stand elsewhere are counted again.

        Raises
        ------
        OutOfRange
            If glass or bed is another, on which nothing of this count holds.
        """
        if not self.is_of(layout):
            raise OutOfRange("glass or bed is another than counted, expected the same; count from the beginning")
        before = {item.number: item for item in self.layout.placements}
        kept = {
            item.number: self.placed[item.number]
            for item in layout.placements
            if item.number in before and stands_as(before[item.number], item)
        }
        return self._with(layout, kept)

    def is_of(self, layout: Layout) -> bool:
        """Whether a layout has this glass and this bed."""
        return self.layout.glass == layout.glass and same_surface(self.layout.bed, layout.bed)

    def moved(self, placement: Placement) -> Columns:
        """The same with one placement moved or added: only that one is counted again."""
        return self.followed_by(self.layout.with_placement(placement))

    def without(self, number: int) -> Columns:
        """The same less one placement."""
        return self.followed_by(self.layout.without(number))

    def _with(self, layout: Layout, kept: Mapping[int, Counted]) -> Columns:
        placed = {
            item.number: kept.get(item.number) or self.grid.counted(layout.pieces[item.piece], item)
            for item in layout.placements
        }
        common = {
            group: self.common[group] if group in self.common else self._common_l(group)
            for group in _meeting(list(placed.values()))
        }
        return Columns(layout=layout, grid=self.grid, placed=placed, common=common)

    def _common_l(self, group: tuple[Counted, ...]) -> Floats:
        stamps = [item.stamp for item in group]
        # Only over the windows of the group: the rest of the tank is empty of it.
        rows = slice(max(0, min(item.row for item in stamps)), max(item.row + item.shape[0] for item in stamps))
        columns = slice(
            max(0, min(item.column for item in stamps)), max(item.column + item.shape[1] for item in stamps)
        )
        ends = np.cumsum([[0, 0], *[[len(item.starts), len(item.z_m)] for item in stamps]], axis=0)
        windows = [[item.row - rows.start, item.column - columns.start, *item.shape] for item in stamps]
        return 1000 * _common(
            np.array(windows, dtype=np.int32),
            ends[:-1].astype(np.int32),
            np.concatenate([item.starts for item in stamps]),
            np.concatenate([item.z_m for item in stamps]),
            np.concatenate([item.into for item in stamps]),
            np.ascontiguousarray(self.grid.bed_m[rows, columns]),
            np.ascontiguousarray(self.grid.areas_m2[rows, columns]),
            self.grid.glass.water_line_m,
        )

    @property
    def volumes(self) -> Volumes4:
        """The four figures as counted."""
        litres = np.zeros(3)
        for item in self.placed.values():
            litres += item.litres
        for shared in self.common.values():
            litres -= shared
        return figures_of(
            self.layout,
            self.grid.bare,
            buried_l=float(litres[0]),
            displaced_l=float(litres[1]),
            above_l=float(litres[2]),
            method="columns",
        )


def stands_as(one: Placement, other: Placement) -> bool:
    """Whether two placements are one piece at one place; their locks do not matter."""
    return one.piece == other.piece and one.position_m == other.position_m and one.turn == other.turn


def same_surface(one: Bed, other: Bed) -> bool:
    """Whether two beds are as high everywhere, on one grid."""
    return one is other or all(
        np.array_equal(getattr(one, name), getattr(other, name)) for name in ("x_m", "y_m", "top_m")
    )


def _meeting(counted: list[Counted]) -> list[tuple[Counted, ...]]:
    """Groups of two and more whose windows meet, each with what meets any of it."""
    if len(counted) < 2:
        return []
    boxes = np.array([[s.row, s.column, s.row + s.shape[0], s.column + s.shape[1]] for s in (c.stamp for c in counted)])
    begins_before: NDArray[np.bool_] = np.all(boxes[:, None, :2] < boxes[None, :, 2:], axis=2)
    of = list(range(len(counted)))
    for one, other in np.argwhere(np.triu(begins_before & begins_before.T, 1)).tolist():
        if of[one] != of[other]:
            of = [of[one] if group == of[other] else group for group in of]
    groups: dict[int, list[Counted]] = {}
    for group, item in zip(of, counted, strict=True):
        groups.setdefault(group, []).append(item)
    return [tuple(group) for group in groups.values() if len(group) > 1]


def fast_volumes(layout: Layout, cell_m: float = LINES_M) -> Volumes4:
    """The four figures of a layout by columns.

    Parameters
    ----------
    layout : Layout
        What stands in the tank.
    cell_m : float
        Distance of the columns [m, more than 0]; cost rises with its inverse square.
    """
    return Columns.of(layout, cell_m).volumes
