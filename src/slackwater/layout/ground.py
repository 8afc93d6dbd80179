"""The ground a layout stands on: the bed as a grid, shaped by strokes, resting at its angle of repose, settling."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import pairwise
from math import radians, tan
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import BadInput, check_range
from slackwater.frozen import Frozen
from slackwater.job.catalog import Catalog
from slackwater.job.model import Bed as AskedBed
from slackwater.job.model import PublicSide
from slackwater.layout.assess import COVER_OVER_BASE_M, lowest_depth_m, surface_of
from slackwater.layout.bed import inside
from slackwater.layout.compiled import compiled
from slackwater.layout.scene import CELL_M, Bay, Bed, Cap, Floats, Glass, Retainer

AT_REST_M = 1e-7
"""Excess of height between two nodes that no longer moves a grain."""
SWEEPS = 20_000
"""Most sweeps of a relaxation; a heap of 2 L takes some hundreds."""
RETAINER_RISE_M = 0.04
"""Rise of the bed from one strip to the next; common practice, no source."""
MONTH_WEEKS = 365.25 / 12 / 7

Point = tuple[float, float]


# ---------------------------------------------------------------- the grid


def _nodes(low: float, high: float, cell_m: float) -> Floats:
    return np.linspace(low, high, max(3, round((high - low) / cell_m) + 1))


def bed_grid(asked: AskedBed, glass: Glass, catalog: Catalog, *, cell_m: float = CELL_M) -> Bed:
    """The bed that a job asks for, as a grid.

    Parameters
    ----------
    asked : job.model.Bed
        With its form and its soil.
    glass : Glass
        The forms span the box round its outline.
    catalog : Catalog
        For the soil's angle of repose.
    cell_m : float
        Distance of the nodes, about [m].

    Returns
    -------
    Bed
        As asked for, not relaxed: what is steeper than the soil rests is the job's finding. A base layer keeps its
        cover of soil, by the rule of the bed's stage. Sand bays, of which a job tells size and number but no place,
        lie in turn at the public panes, spread evenly along each. Where the job has retainers, a strip stands along each
        line on which the bed has risen by another 4 cm over its lowest glass, its top level with the surface there.

    Raises
    ------
    BadInput
        If form or soil is not known.
    OutOfRange
        If the form does not go into the tank.
    """
    if asked.shape is None or asked.soil is None:
        raise BadInput("a bed needs its form and its soil; tell bed.shape and bed.soil in the job")
    left, front, right, rear = glass.box_m
    x_m, y_m = _nodes(left, right, cell_m), _nodes(front, rear, cell_m)
    surface = surface_of(asked.shape, length_m=right - left, width_m=rear - front)
    x, y = np.meshgrid(x_m - left, y_m - front)
    top = np.maximum(np.asarray(surface(x, y), dtype=np.float64), 0.0)
    depth = asked.base_depth_m or 0.0 if asked.base is not None else 0.0
    base = np.clip(top - max(COVER_OVER_BASE_M, lowest_depth_m(asked.shape)), 0.0, depth)
    soil = catalog.materials.get(asked.soil.material)
    wanted = [(bay.layer.material, bay.length_m, bay.width_m) for bay in asked.bays for _ in range(bay.count)]
    return Bed(
        x_m=x_m,
        y_m=y_m,
        top_m=top,
        base_m=base,
        soil=asked.soil.material,
        base=asked.base.material if asked.base is not None and depth > 0 else None,
        repose_deg=(soil.repose_angle_deg_wet or None) if soil is not None else None,
        bays=_spread(wanted, glass),
        retainers=_strips(x_m, y_m, top, lowest_depth_m(asked.shape)) if asked.retainers else (),
        cap=None
        if asked.top_layer is None
        else Cap(material=asked.top_layer.layer.material, depth_m=asked.top_layer.depth_m, share=asked.top_layer.share),
    )


def flat_bed(glass: Glass, *, depth_m: float, soil: str, repose_deg: float | None, cell_m: float = CELL_M) -> Bed:
    """A bed of one depth, without base layer."""
    left, front, right, rear = glass.box_m
    x_m, y_m = _nodes(left, right, cell_m), _nodes(front, rear, cell_m)
    top = np.full((len(y_m), len(x_m)), float(depth_m))
    return Bed(x_m=x_m, y_m=y_m, top_m=top, base_m=np.zeros_like(top), soil=soil, repose_deg=repose_deg)


def _strips(x_m: Floats, y_m: Floats, top_m: Floats, lowest_m: float) -> tuple[Retainer, ...]:
    highest = float(top_m.max())
    count = int((highest - lowest_m) / RETAINER_RISE_M - 1e-6)
    levels = [lowest_m + (step + 1) * RETAINER_RISE_M for step in range(count)]
    return tuple(
        Retainer(line_m=line, top_m=level) for level in levels for line in contour_lines(x_m, y_m, top_m, level)
    )


def contour_lines(x_m: Floats, y_m: Floats, height_m: Floats, level_m: float) -> tuple[tuple[Point, ...], ...]:
    """The lines of one height on a grid, cut as the bed's triangles are; corners within a tenth of a millimetre of straight left out.

    A closed line ends where it begins.
    """
    low = np.minimum(np.minimum(height_m[:-1, :-1], height_m[1:, 1:]), np.minimum(height_m[:-1, 1:], height_m[1:, :-1]))
    high = np.maximum(
        np.maximum(height_m[:-1, :-1], height_m[1:, 1:]), np.maximum(height_m[:-1, 1:], height_m[1:, :-1])
    )
    beside: dict[Point, list[Point]] = {}
    for j, i in np.argwhere((low < level_m) & (high >= level_m)).tolist():
        first, right, far, rear = (
            (float(x_m[i + over]), float(y_m[j + up]), float(height_m[j + up, i + over]))
            for over, up in ((0, 0), (1, 0), (1, 1), (0, 1))
        )
        for corners in ((first, right, far), (first, far, rear)):
            ends: list[Point] = []
            for (x0, y0, z0), (x1, y1, z1) in zip(corners, (*corners[1:], corners[0]), strict=True):
                if (z0 < level_m) != (z1 < level_m):
                    part = (level_m - z0) / (z1 - z0)
                    ends.append((round(x0 + part * (x1 - x0), 7), round(y0 + part * (y1 - y0), 7)))
            if len(ends) == 2 and ends[0] != ends[1]:
                beside.setdefault(ends[0], []).append(ends[1])
                beside.setdefault(ends[1], []).append(ends[0])
    lines = []
    # Open lines from one of their ends first; what is left then is closed.
    for start in sorted(beside, key=lambda point: (len(beside[point]) != 1, point)):
        while beside[start]:
            line = [start]
            while beside[line[-1]]:
                after = beside[line[-1]].pop()
                beside[after].remove(line[-1])
                line.append(after)
            lines.append(tuple(_straightened(line)))
    return tuple(lines)


def _straightened(line: list[Point]) -> list[Point]:
    kept = [line[0]]
    for at, after in pairwise(line[1:]):
        (x0, y0), (x1, y1), (x2, y2) = kept[-1], at, after
        across = abs((x1 - x0) * (y2 - y0) - (y1 - y0) * (x2 - x0))
        if across > 1e-4 * float(np.hypot(x2 - x0, y2 - y0)):
            kept.append(at)
    return [*kept, line[-1]]


def _spread(wanted: list[tuple[str, float, float]], glass: Glass) -> tuple[Bay, ...]:
    sides = glass.public_sides or ("front",)
    left, front, right, rear = glass.box_m
    on_side: dict[PublicSide, list[tuple[str, float, float]]] = {side: [] for side in sides}
    for turn, bay in enumerate(wanted):
        on_side[sides[turn % len(sides)]].append(bay)
    found = []
    for side, bays in on_side.items():
        along = (left, right) if side in ("front", "rear") else (front, rear)
        across = (front, rear) if side in ("front", "rear") else (left, right)
        for place, (material, length, width) in enumerate(bays):
            length, width = min(length, along[1] - along[0]), min(width, across[1] - across[0])
            middle = along[0] + (along[1] - along[0]) * (place + 0.5) / len(bays)
            start = min(max(middle - length / 2, along[0]), along[1] - length)
            low = across[0] if side in ("front", "left") else across[1] - width
            box = (start, low, start + length, low + width)
            if side in ("left", "right"):
                box = (low, start, low + width, start + length)
            x0, y0, x1, y1 = box
            found.append(Bay(outline_m=((x0, y0), (x1, y0), (x1, y1), (x0, y1)), material=material))
    return tuple(found)


def height_m(bed: Bed, x: Floats, y: Floats) -> Floats:
    """Height of the surface at points, by the bed's rule of triangles; beyond the grid its border."""
    return height_and_slope(bed, x, y)[0]


def height_and_slope(bed: Bed, x: Floats, y: Floats) -> tuple[Floats, Floats, Floats]:
    """Height of the surface at points [m], and how it rises there towards x and towards y."""
    dx, dy = bed.cell_m
    u = np.clip((np.asarray(x) - bed.x_m[0]) / dx, 0, len(bed.x_m) - 1)
    v = np.clip((np.asarray(y) - bed.y_m[0]) / dy, 0, len(bed.y_m) - 1)
    i = np.minimum(u.astype(int), len(bed.x_m) - 2)
    j = np.minimum(v.astype(int), len(bed.y_m) - 2)
    u, v = u - i, v - j
    z = bed.top_m
    low, high = z[j, i], z[j + 1, i + 1]
    right, rear = z[j, i + 1], z[j + 1, i]
    over = u >= v
    rise_x = np.where(over, right - low, high - rear)
    rise_y = np.where(over, high - right, rear - low)
    return low + u * rise_x + v * rise_y, rise_x / dx, rise_y / dy


# ---------------------------------------------------------------- litres


def node_areas_m2(bed: Bed, outline_m: Iterable[Point] | None = None) -> Floats:
    """What each node's height counts for: the volume over an outline is the sum of areas times heights.

    Exact for the bed's triangles, cut at the outline where they straddle it.

    Parameters
    ----------
    bed : Bed
        Its grid.
    outline_m : points or None
        Outline against the clock, concave or not; None is the whole grid.

    Returns
    -------
    array
        One area for each node [m²].
    """
    dx, dy = bed.cell_m
    rows, columns = bed.top_m.shape
    whole = np.ones((rows - 1, columns - 1), dtype=bool)
    cut = np.zeros_like(whole)
    corners = [] if outline_m is None else [(float(x), float(y)) for x, y in outline_m]
    x0, y0 = float(bed.x_m[0]), float(bed.y_m[0])
    if corners and not _is_box(corners, (x0, y0, float(bed.x_m[-1]), float(bed.y_m[-1]))):
        middle_x, middle_y = np.meshgrid((bed.x_m[1:] + bed.x_m[:-1]) / 2, (bed.y_m[1:] + bed.y_m[:-1]) / 2)
        cut = _straddled(corners, x0, y0, dx, dy, whole.shape)
        whole = inside(corners, middle_x, middle_y) & ~cut
    areas = np.zeros((rows, columns))
    sixth: float = dx * dy / 6
    for at, share in (((0, 0), 2), ((0, 1), 1), ((1, 0), 1), ((1, 1), 2)):
        areas[at[0] : rows - 1 + at[0], at[1] : columns - 1 + at[1]] += sixth * share * whole
    for j, i in np.argwhere(cut):
        low = (x0 + i * dx, y0 + j * dy)
        high = (low[0] + dx, low[1] + dy)
        for third, node in (((high[0], low[1]), (j, i + 1)), ((low[0], high[1]), (j + 1, i))):
            for where, part in zip(((j, i), node, (j + 1, i + 1)), _shares(corners, low, third, high), strict=True):
                areas[where] += part
    return areas


def _is_box(corners: list[Point], box: tuple[float, float, float, float]) -> bool:
    x0, y0, x1, y1 = box
    sides = {(x0, y0), (x1, y0), (x1, y1), (x0, y1)}
    return len(corners) == 4 and all(any(abs(x - a) < 1e-9 and abs(y - b) < 1e-9 for a, b in sides) for x, y in corners)


def _straddled(
    corners: list[Point], x0: float, y0: float, dx: float, dy: float, shape: tuple[int, ...]
) -> NDArray[np.bool_]:
    """Cells that the outline passes through, and those beside them."""
    found = np.zeros(shape, dtype=bool)
    for (ax, ay), (bx, by) in zip(corners, [*corners[1:], corners[0]], strict=True):
        steps = int(4 * max(abs(bx - ax) / dx, abs(by - ay) / dy)) + 2
        i = np.floor((np.linspace(ax, bx, steps) - x0) / dx).astype(int)
        j = np.floor((np.linspace(ay, by, steps) - y0) / dy).astype(int)
        for down in (-1, 0, 1):
            for over in (-1, 0, 1):
                jj, ii = j + down, i + over
                kept = (jj >= 0) & (jj < shape[0]) & (ii >= 0) & (ii < shape[1])
                found[jj[kept], ii[kept]] = True
    return found


def _shares(outline: list[Point], a: Point, b: Point, c: Point) -> tuple[float, float, float]:
    """Integral over the outline within a triangle of the weight of each of its corners [m²].

    The outline is cut by the triangle's three sides (Sutherland and Hodgman 1974), which holds for concave outlines
    too: the seams that this leaves enclose nothing.
    """
    turn = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])

    def weights(p: Point) -> tuple[float, float, float]:
        of_b = ((p[0] - a[0]) * (c[1] - a[1]) - (p[1] - a[1]) * (c[0] - a[0])) / turn
        of_c = ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])) / turn
        return 1 - of_b - of_c, of_b, of_c

    kept = [weights(point) for point in outline]
    for side in range(3):
        given, kept = kept, []
        for p, q in zip(given, [*given[1:], *given[:1]], strict=True):
            if p[side] >= 0:
                kept.append(p)
            if (p[side] >= 0) != (q[side] >= 0):
                t = p[side] / (p[side] - q[side])
                kept.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1]), p[2] + t * (q[2] - p[2])))
    sums = [0.0, 0.0, 0.0]
    for p, q in pairwise(kept[1:]):
        first = kept[0]
        doubled = (p[1] - first[1]) * (q[2] - first[2]) - (p[2] - first[2]) * (q[1] - first[1])
        for corner in range(3):
            sums[corner] += doubled * (first[corner] + p[corner] + q[corner]) / 6
    size = turn if _signed_area(outline) > 0 else -turn
    return sums[0] * size, sums[1] * size, sums[2] * size


def _signed_area(outline: list[Point]) -> float:
    return sum(a[0] * b[1] - a[1] * b[0] for a, b in zip(outline, [*outline[1:], outline[0]], strict=True))


def material_litres(bed: Bed, glass: Glass) -> Mapping[str, float]:
    """Litres in place of each material of the bed, stones not taken out [L].

    A bay holds its own material over its whole depth, so no base layer and no soil lies in it. A cap covers its share of
    the whole bottom to its depth, and takes no more room than the soil has.
    """
    areas = node_areas_m2(bed, glass.corners_m)
    found: dict[str, float] = {}
    for bay in bed.bays:
        within = node_areas_m2(bed, bay.outline_m)
        found[bay.material] = found.get(bay.material, 0.0) + 1000 * float((within * bed.top_m).sum())
        areas = areas - within
    base_l = 1000 * float((areas * bed.base_m).sum())
    if bed.base is not None and base_l > 0:
        found[bed.base] = found.get(bed.base, 0.0) + base_l
    soil_l = 1000 * float((areas * bed.top_m).sum()) - base_l
    if bed.cap is not None:
        bottom_m2 = float(node_areas_m2(bed, glass.corners_m).sum())
        cap_l = min(soil_l, 1000 * bottom_m2 * bed.cap.share * bed.cap.depth_m)
        found[bed.cap.material] = found.get(bed.cap.material, 0.0) + cap_l
        soil_l -= cap_l
    found[bed.soil] = found.get(bed.soil, 0.0) + soil_l
    return found


# ---------------------------------------------------------------- strokes


class Stroke(Frozen):
    """One act of shaping the bed by hand.

    ``raise`` and ``lower`` add or take `height_m` within `radius_m` of the line, fading to its edge; ``smooth`` evens out
    what is within; ``ridge`` fills up to a crest of height `height_m` above the glass along the line, falling straight to
    nothing at `radius_m`; ``mound`` is a ridge of one point; ``gable`` shapes the whole bed: `height_m` along the line and
    its continuation, falling straight to `edge_m` at the farthest glass on each side.
    """

    act: Literal["raise", "lower", "smooth", "ridge", "mound", "gable"]
    line_m: tuple[Point, ...]
    radius_m: float = 0.1
    height_m: float = 0.01
    edge_m: float = 0.0


def stroked(bed: Bed, stroke: Stroke) -> Bed:
    """The bed after one stroke; not relaxed. Soil is never dug below the base layer.

    Raises
    ------
    BadInput
        If the stroke has no point, or a gable no line.
    OutOfRange
        If radius or height is not of this world.
    """
    check_range("radius_m", stroke.radius_m, 0.001, 10, unit="m")
    check_range("height_m", stroke.height_m, 0, 3, unit="m")
    check_range("edge_m", stroke.edge_m, 0, 3, unit="m")
    if not stroke.line_m or (stroke.act == "gable" and stroke.line_m[0] == stroke.line_m[-1]):
        raise BadInput(f"the stroke '{stroke.act}' needs {'two points' if stroke.act == 'gable' else 'a point'}")
    x, y = np.meshgrid(bed.x_m, bed.y_m)
    near = np.clip(1 - _distance_m(x, y, stroke.line_m) / stroke.radius_m, 0, 1)
    # A smooth fade leaves no crease at the rim of the brush.
    brush = near * near * (3 - 2 * near)
    top = bed.top_m
    if stroke.act == "raise":
        top = top + stroke.height_m * brush
    elif stroke.act == "lower":
        top = top - stroke.height_m * brush
    elif stroke.act == "smooth":
        top = top + brush * (_evened(top) - top)
    elif stroke.act in ("ridge", "mound"):
        top = np.maximum(top, stroke.height_m * near)
    else:
        top = _gabled(x, y, stroke)
    return replace(bed, top_m=np.maximum(top, bed.base_m))


def _distance_m(x: Floats, y: Floats, line: tuple[Point, ...]) -> Floats:
    found = np.full(x.shape, np.inf)
    for (ax, ay), (bx, by) in zip(line, line[1:] or line, strict=False):
        along = (bx - ax) ** 2 + (by - ay) ** 2
        t = np.clip(((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / along, 0, 1) if along > 0 else np.zeros_like(x)
        found = np.minimum(found, np.hypot(x - ax - t * (bx - ax), y - ay - t * (by - ay)))
    return found


def _evened(top: Floats) -> Floats:
    wide = np.pad(top, 2, mode="edge")
    rows = np.mean([wide[k : k + top.shape[0], :] for k in range(5)], axis=0)
    return np.asarray(np.mean([rows[:, k : k + top.shape[1]] for k in range(5)], axis=0))


def _gabled(x: Floats, y: Floats, stroke: Stroke) -> Floats:
    (ax, ay), (bx, by) = stroke.line_m[0], stroke.line_m[-1]
    size = np.hypot(bx - ax, by - ay)
    off = ((x - ax) * (by - ay) - (y - ay) * (bx - ax)) / size
    far = np.where(off >= 0, max(float(off.max()), 1e-9), max(float(-off.min()), 1e-9))
    return np.asarray(stroke.edge_m + (stroke.height_m - stroke.edge_m) * (1 - np.abs(off) / far))


# ---------------------------------------------------------------- repose


def relaxed(
    bed: Bed,
    held: NDArray[np.bool_] | None = None,
    *,
    outline_m: Iterable[Point] | None = None,
    sweeps: int = SWEEPS,
) -> Bed:
    """The bed when every grain has come to rest at the angle of repose.

    Parameters
    ----------
    bed : Bed
        With its angle of repose; without one the bed comes back as it is.
    held : array of bool or None
        Nodes under stones: no soil leaves them and none comes to them (`place.held_by`).
    outline_m : points or None
        Outline of the bottom where it is not the box.
    sweeps : int
        Most passes over the bed.

    Notes
    -----
    Each pair of the eight neighbours is moved by half of what its difference of height exceeds the slope, in place,
    until no pair exceeds it. Volume, as the bed's triangles count it, is kept to rounding. A retainer lets pass only
    what lies above its top; the base layer does not move. Eight neighbours make a heap slightly eight-sided.
    """
    if not bed.repose_deg:
        return bed
    top = bed.top_m.copy()
    area = node_areas_m2(bed, outline_m)
    still = np.zeros(top.shape, dtype=bool) if held is None else held
    dx, dy = bed.cell_m
    _relax(top, bed.base_m, area, still, _barriers(bed), dx, dy, tan(radians(bed.repose_deg)), AT_REST_M, sweeps)
    return replace(bed, top_m=top)


NEIGHBOURS = ((0, 1), (1, 0), (1, 1), (1, -1))
"""Rows and columns to the second node of each pair."""


def _barriers(bed: Bed) -> Floats:
    """Height of the highest retainer between the nodes of each pair, for the four directions; 0 without one."""
    rows, columns = bed.top_m.shape
    found = np.zeros((4, rows, columns))
    x, y = np.meshgrid(bed.x_m, bed.y_m)
    for strip in bed.retainers:
        for (ax, ay), (bx, by) in zip(strip.line_m, strip.line_m[1:], strict=False):
            # A hair off the nodes: a strip along a line of nodes belongs to one side of it.
            side = (x - ax - 1e-9) * (by - ay) - (y - ay - 1.3e-9) * (bx - ax)
            for direction, (down, over) in enumerate(NEIGHBOURS):
                here, there = _pairs(down, over, rows, columns)
                px, py, qx, qy = x[here], y[here], x[there], y[there]
                crosses = (side[here] > 0) != (side[there] > 0)
                of_a = (ax - px) * (qy - py) - (ay - py) * (qx - px)
                of_b = (bx - px) * (qy - py) - (by - py) * (qx - px)
                walled = crosses & (of_a * of_b <= 0)
                found[direction][here] = np.where(
                    walled, np.maximum(found[direction][here], strip.top_m), found[direction][here]
                )
    return found


def _pairs(down: int, over: int, rows: int, columns: int) -> tuple[Any, Any]:
    left = max(0, -over)
    right = columns - max(0, over)
    return (
        (slice(0, rows - down), slice(left, right)),
        (slice(down, rows), slice(left + over, right + over)),
    )


@compiled
def _relax(
    top: Floats,
    floor: Floats,
    area: Floats,
    held: NDArray[np.bool_],
    barrier: Floats,
    dx: float,
    dy: float,
    slope: float,
    at_rest: float,
    sweeps: int,
) -> int:
    rows, columns = top.shape
    runs = (slope * dx, slope * dy, slope * np.hypot(dx, dy), slope * np.hypot(dx, dy))
    downs = (0, 1, 1, 1)
    overs = (1, 0, 1, -1)
    row0, row1, col0, col1 = 0, rows, 0, columns
    for sweep in range(sweeps):
        low_row, high_row, low_col, high_col = rows, -1, columns, -1
        for step_j in range(row1 - row0):
            # To and fro in turn, so that no corner of the tank is favoured.
            j = row0 + step_j if sweep & 1 else row1 - 1 - step_j
            for step_i in range(col1 - col0):
                i = col0 + step_i if sweep & 2 else col1 - 1 - step_i
                if held[j, i] or area[j, i] <= 0.0:
                    continue
                for k in range(4):
                    jj, ii = j + downs[k], i + overs[k]
                    if jj >= rows or ii < 0 or ii >= columns or held[jj, ii] or area[jj, ii] <= 0.0:
                        continue
                    wall = barrier[k, j, i]
                    if top[j, i] >= top[jj, ii]:
                        aj, ai, bj, bi = j, i, jj, ii
                    else:
                        aj, ai, bj, bi = jj, ii, j, i
                    excess = top[aj, ai] - max(top[bj, bi], wall) - runs[k]
                    if excess <= at_rest:
                        continue
                    a, b = area[aj, ai], area[bj, bi]
                    litres = min(excess * a * b / (a + b), (top[aj, ai] - floor[aj, ai]) * a)
                    if litres <= at_rest * 1e-3 * a:
                        continue
                    top[aj, ai] -= litres / a
                    top[bj, bi] += litres / b
                    low_row, high_row = min(low_row, j), max(high_row, jj)
                    low_col, high_col = min(low_col, i, ii), max(high_col, i, ii)
        if high_row < 0:
            return sweep
        row0, row1 = max(0, low_row - 1), min(rows, high_row + 2)
        col0, col1 = max(0, low_col - 1), min(columns, high_col + 2)
    return sweeps


# ---------------------------------------------------------------- weeks


def settled_weeks(bed: Bed, catalog: Catalog, *, weeks: float) -> Bed:
    """The bed after some weeks under water: soil, base and bays each lower by their own percent.

    Parameters
    ----------
    bed : Bed
        As laid.
    catalog : Catalog
        `settling_pct_first_month` of each material; a material that is not in it does not settle.
    weeks : float
        Since laying [0 or more].

    Notes
    -----
    The percent of the first month is reached evenly over that month and then stays: nothing is known of later months.
    Common practice, no source. Where every layer sinks by a share of its height no slope grows steeper.
    """
    check_range("weeks", weeks, 0, 1000, unit="weeks")
    part = min(1.0, weeks / MONTH_WEEKS)

    def kept(material: str | None) -> float:
        row = catalog.materials.get(material or "")
        return 1.0 if row is None else 1 - part * row.settling_pct_first_month / 100

    base = bed.base_m * kept(bed.base)
    top = base + (bed.top_m - bed.base_m) * kept(bed.soil)
    x, y = np.meshgrid(bed.x_m, bed.y_m)
    for bay in bed.bays:
        within = inside(bay.outline_m, x, y)
        top = np.where(within, bed.top_m * kept(bay.material), top)
        base = np.where(within, np.minimum(base, top), base)
    return replace(bed, top_m=top, base_m=base)
