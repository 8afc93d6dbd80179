"""The four figures of a layout: stone in the water, soil, water, and what stands above the water line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from slackwater.layout.bed import inside
from slackwater.layout.scene import Bed, Floats, Glass, Layout, Measure

Corners = Sequence[tuple[float, float]]

AGREE = 0.001
"""The two ways of counting may differ by this share of a figure."""


@dataclass(frozen=True)
class Volumes4:
    """Litres inside the glass, and the uncertainty of the scans in each as its error."""

    displaced_l: Measure
    """Pieces above the soil and below the water line: water that is not there."""
    soil_l: Measure
    """Bed less what is buried in it; grains and pores together."""
    water_l: Measure
    """Water above the soil, to the water line; without the water between the grains."""
    above_water_l: Measure
    """Pieces above the soil and the water line."""
    buried_l: Measure
    """Pieces in the bed."""


@dataclass(frozen=True)
class BareBed:
    """The bed before any piece is set in it, and the tank round it."""

    bed_l: float
    above_water_l: float
    """The part of the bed that rises over the water line."""
    tank_l: float
    """The empty tank to the water line."""


def area_m2(corners: Corners) -> float:
    """Area of a polygon, corners against the clock."""
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(corners, [*corners[1:], corners[0]], strict=True)) / 2


def is_box(glass: Glass) -> bool:
    """Whether the outline is the rectangle round it."""
    x0, y0, x1, y1 = glass.box_m
    return abs(area_m2(glass.corners_m) - (x1 - x0) * (y1 - y0)) < 1e-9


def _cut(polygon: list[tuple[float, float]], a: float, b: float, c: float) -> list[tuple[float, float]]:
    """The part of a polygon where a x + b y + c >= 0; of a bent one with doubled edges, which have no area."""
    kept: list[tuple[float, float]] = []
    for (x0, y0), (x1, y1) in zip(polygon, polygon[1:] + polygon[:1], strict=True):
        d0, d1 = a * x0 + b * y0 + c, a * x1 + b * y1 + c
        if d0 >= 0:
            kept.append((x0, y0))
        if (d0 >= 0) != (d1 >= 0):
            t = d0 / (d0 - d1)
            kept.append((x0 + t * (x1 - x0), y0 + t * (y1 - y0)))
    return kept


def _cells(
    glass: Glass, x_m: Floats, y_m: Floats
) -> tuple[NDArray[np.bool_], dict[tuple[int, int], list[tuple[float, float]]]]:
    """Which cells lie wholly inside the outline, and of those that it cuts the part inside, by row and column."""
    middle = np.meshgrid((x_m[1:] + x_m[:-1]) / 2, (y_m[1:] + y_m[:-1]) / 2)
    whole = inside(glass.corners_m, *middle)
    ends = np.array([glass.corners_m, np.roll(glass.corners_m, -1, axis=0)])
    parts: dict[tuple[int, int], list[tuple[float, float]]] = {}
    for row, (y0, y1) in enumerate(pairwise(y_m.tolist())):
        cut = np.zeros(len(x_m) - 1, dtype=bool)
        for (ax, ay), (bx, by) in ends.swapaxes(0, 1):
            if max(ay, by) < y0 or min(ay, by) > y1:
                continue
            reach = [0.0, 1.0] if ay == by else sorted(np.clip([(y0 - ay) / (by - ay), (y1 - ay) / (by - ay)], 0, 1))
            from_x, to_x = sorted(ax + (bx - ax) * share for share in reach)
            cut |= (x_m[:-1] <= to_x) & (x_m[1:] >= from_x)
        if not cut.any():
            continue
        whole[row, cut] = False
        strip = _cut(_cut(list(glass.corners_m), 0, 1, -y0), 0, -1, y1)
        for column in np.flatnonzero(cut).tolist():
            part = _cut(_cut(strip, 1, 0, -float(x_m[column])), -1, 0, float(x_m[column + 1]))
            if len(part) > 2:
                parts[row, column] = part
    return whole, parts


def cell_areas_m2(glass: Glass, x_m: Floats, y_m: Floats) -> Floats:
    """How much of each cell of a grid over the box round the glass lies inside it; one row for each y."""
    found = np.outer(np.diff(y_m), np.diff(x_m))
    if is_box(glass):
        return np.asarray(found)
    whole, parts = _cells(glass, x_m, y_m)
    found = found * whole
    for place, part in parts.items():
        found[place] = area_m2(part)
    return np.asarray(found)


def _over(corner_heights: Floats, area: float | Floats, level: float) -> Floats:
    """Integral of what of a flat triangle lies over a level; heights [n, 3]."""
    low, mid, high = np.sort(corner_heights - level, axis=1).T
    with np.errstate(divide="ignore", invalid="ignore"):
        tip = high**3 / ((high - low) * (high - mid)) / 3
        dip = -(low**3) / ((mid - low) * (high - low)) / 3
    whole = (low + mid + high) / 3
    found = np.where(low >= 0, whole, np.where(high <= 0, 0.0, np.where(mid <= 0, tip, whole + dip)))
    return np.asarray(found * area)


def bed_litres(glass: Glass, bed: Bed) -> BareBed:
    """The bare bed, by its triangles: nothing is sampled.

    Notes
    -----
    Over a flat triangle the part above a level is a tetrahedron or the whole less one. Cells that the outline cuts
    are cut into triangles of what is inside.
    """
    line = glass.water_line_m
    tank = 1000 * area_m2(glass.corners_m) * line
    top = bed.top_m
    a, b, c, d = top[:-1, :-1], top[:-1, 1:], top[1:, 1:], top[1:, :-1]
    # Of a box every cell is whole: its outline lies on the borders of cells.
    whole, parts = (np.ones(a.shape, dtype=bool), {}) if is_box(glass) else _cells(glass, bed.x_m, bed.y_m)
    half = np.outer(np.diff(bed.y_m), np.diff(bed.x_m))[whole] / 2
    lower, upper = (np.stack(nodes, axis=-1)[whole] for nodes in ([a, b, c], [a, c, d]))
    total = float(((lower + upper).sum(axis=1) / 3 * half).sum())
    above = float((_over(lower, half, line) + _over(upper, half, line)).sum()) if top.max() > line else 0.0
    step_x, step_y = bed.cell_m
    for (row, column), part in parts.items():
        x0, y0 = float(bed.x_m[column]), float(bed.y_m[row])
        h00, h10, h11, h01 = (float(h[row, column]) for h in (a, b, c, d))
        for side, along, across in ((1, h10 - h00, h11 - h10), (-1, h11 - h01, h01 - h00)):
            piece = _cut(part, side / step_x, -side / step_y, side * (y0 / step_y - x0 / step_x))
            if len(piece) < 3:
                continue
            heights = [h00 + along * (x - x0) / step_x + across * (y - y0) / step_y for x, y in piece]
            (ox, oy), oh = piece[0], heights[0]
            fan = zip(pairwise(piece[1:]), pairwise(heights[1:]), strict=True)
            for ((px, py), (qx, qy)), (ph, qh) in fan:
                area = ((px - ox) * (qy - oy) - (py - oy) * (qx - ox)) / 2
                total += (oh + ph + qh) / 3 * area
                if max(oh, ph, qh) > line:
                    above += float(_over(np.array([[oh, ph, qh]]), area, line)[0])
    return BareBed(bed_l=1000 * total, above_water_l=1000 * above, tank_l=tank)


def figures_of(
    layout: Layout,
    bare: BareBed,
    *,
    buried_l: float,
    displaced_l: float,
    above_l: float,
    method: str,
) -> Volumes4:
    """The four figures from what was counted of the pieces.

    Parameters
    ----------
    layout : Layout
        For the uncertainty of its scans.
    bare : BareBed
        The bed without pieces.
    buried_l : float
        Pieces in the bed [L].
    displaced_l, above_l : float
        Pieces out of the bed, below and above the water line [L].
    method : str
        Which way they were counted.
    """
    # Nobody knows where in its height a scan is wrong: each figure may be wrong by all of it.
    unsure = float(np.sqrt(sum(layout.pieces[item.piece].volume_error_l ** 2 for item in layout.placements)))

    def measure(value: float, most: float) -> Measure:
        return Measure(value=max(value, 0.0), standard_error=min(unsure, most), method=method)

    return Volumes4(
        displaced_l=measure(displaced_l, displaced_l),
        soil_l=measure(bare.bed_l - buried_l, buried_l),
        water_l=measure(bare.tank_l - (bare.bed_l - bare.above_water_l) - displaced_l, displaced_l),
        above_water_l=measure(above_l, above_l),
        buried_l=measure(buried_l, buried_l),
    )


def differing(one: Volumes4, other: Volumes4) -> tuple[str, ...]:
    """Names of the figures in which two counts differ by more than `AGREE`; a millilitre is no difference."""
    return tuple(
        item.name
        for item in fields(Volumes4)
        if abs(getattr(one, item.name).value - getattr(other, item.name).value)
        > AGREE * max(getattr(one, item.name).value, getattr(other, item.name).value) + 0.001
    )
