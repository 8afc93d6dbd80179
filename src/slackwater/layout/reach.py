"""Which glass a hand gets at: the widest hand that passes, the reach of an arm, tips that scratch.

A hand is a ball on its way and a block of the same width where it wipes: a ball alone would touch no corner and no line
of soil. It comes from above, over any rim, and stays within the glass. All is found on nodes that lie on the panes; a gap
is found too narrow or too wide by at most one step of `cell_m`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import KDTree

from slackwater.errors import check_range
from slackwater.finding import Finding, Severity
from slackwater.layout.scene import Floats, Glass, Layout
from slackwater.layout.stamps import Mask, between_nodes, inside, stood_points, to_pane, to_panes

HAND_M = 0.04
"""A hand with a cleaning pad; common practice, no source."""
WIDTHS_M = (0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.1)
"""Widths that are tried."""
MOST_NODES = 1_500_000
"""A tank with more nodes of half a centimetre than this is looked at by the centimetre."""
TIP_BALL_M = 0.02
"""How much of a piece round a point tells whether it is a tip."""
TIP_SPACING_M = 0.005
"""Distance of the points among which a tip is sought."""
TIP = 0.6
"""A point is a tip from here on: the corner of a cube has 0.73, its edge 0.45, a flat side 0, a twig near 1."""
_JUST = 1e-6


@dataclass(frozen=True, eq=False)
class PaneClearance:
    """One pane, seen from inside the tank; maps have one row for each height, from the bottom up."""

    pane: int
    """From the corner of this number (from 0) of the outline to the next."""
    along_m: Floats
    """Distance from that corner of the middles of cells."""
    up_m: Floats
    """Height above the bottom glass of the middles of cells."""
    to_clean: Mask
    """Above the bed and below the water line."""
    widest_m: Floats
    """The widest of the hands tried that gets there; 0 where none does."""
    reach_m: Floats
    """From the nearest rim that is open, straight."""
    unclean: Mask
    """Glass that is to be cleaned and that a hand of the width asked for, on an arm of the length asked for, cannot."""
    too_narrow: Mask
    too_far: Mask

    @property
    def unclean_share(self) -> float:
        """Of the glass that is to be cleaned [0..1]."""
        total = int(self.to_clean.sum())
        return int(self.unclean.sum()) / total if total else 0.0


@dataclass(frozen=True)
class Tip:
    """A point of a piece that sticks out towards a pane."""

    number: int
    pane: int
    at_m: tuple[float, float, float]
    gap_m: float
    sharpness: float
    """0 flat, 1 a needle."""


@dataclass(frozen=True, eq=False)
class Clearance:
    """All panes of a layout, and the tips near them."""

    hand_m: float
    arm_m: float
    cell_m: float
    panes: tuple[PaneClearance, ...]
    tips: tuple[Tip, ...]
    findings: tuple[Finding, ...]

    @property
    def unclean_share(self) -> float:
        """Of all glass that is to be cleaned [0..1]."""
        total = sum(int(pane.to_clean.sum()) for pane in self.panes)
        return sum(int(pane.unclean.sum()) for pane in self.panes) / total if total else 0.0


def clearance(
    layout: Layout, *, hand_m: float = HAND_M, arm_m: float = 0.6, closed_panes: tuple[int, ...] = ()
) -> Clearance:
    """What of each pane can be cleaned from above.

    Parameters
    ----------
    layout : Layout
    hand_m : float
        Width of the hand that must pass [m, 0.01 to 0.1].
    arm_m : float
        How far an arm reaches from a rim [m, 0.1 to 2].
    closed_panes : tuple of int
        Panes over whose rim nobody can lean: the tank stands against something there.

    Returns
    -------
    Clearance

    Raises
    ------
    OutOfRange
        If hand_m or arm_m is.
    """
    check_range("hand_m", hand_m, WIDTHS_M[0], WIDTHS_M[-1], unit="m")
    check_range("arm_m", arm_m, 0.1, 2.0, unit="m")
    glass = layout.glass
    space = _space(layout, _cell_m(glass))
    widths = sorted({*WIDTHS_M, hand_m})
    spots = [_spots(glass, pane, space.cell_m) for pane in range(len(glass.corners_m))]
    widest = [np.zeros(spot.along.shape) for spot in spots]
    for width in widths:
        reached = _reached(space, width / 2)
        for spot, found in zip(spots, widest, strict=True):
            found[reached[space.at(spot.x, spot.y, spot.up)]] = width
    panes = tuple(
        _pane(layout, pane, spot, found, hand_m=hand_m, arm_m=arm_m, closed=closed_panes)
        for pane, (spot, found) in enumerate(zip(spots, widest, strict=True))
    )
    tips = tips_near_glass(layout, near_m=hand_m)
    return Clearance(
        hand_m=hand_m,
        arm_m=arm_m,
        cell_m=space.cell_m,
        panes=panes,
        tips=tips,
        findings=_findings(glass, panes, tips, hand_m=hand_m, arm_m=arm_m),
    )


@dataclass(frozen=True, eq=False)
class _Space:
    """How far each node is from whatever is solid; nodes lie on the box of the glass."""

    left_m: float
    front_m: float
    step_m: tuple[float, float, float]
    free_m: NDArray[np.float32]
    """By x, y, z."""

    @property
    def cell_m(self) -> float:
        return max(self.step_m)

    def at(self, x_m: Floats, y_m: Floats, z_m: Floats) -> tuple[NDArray[np.int64], ...]:
        """The node nearest to places."""
        parts = zip((x_m - self.left_m, y_m - self.front_m, z_m), self.step_m, self.free_m.shape, strict=True)
        return tuple(
            np.clip(np.rint(np.round(value / step, 6)).astype(np.int64), 0, count - 1) for value, step, count in parts
        )


def _cell_m(glass: Glass) -> float:
    left, front, right, rear = glass.box_m
    fine = (right - left) * (rear - front) * glass.height_m / 0.005**3
    return 0.005 if fine <= MOST_NODES else 0.01


def _space(layout: Layout, cell_m: float) -> _Space:
    glass = layout.glass
    left, front, right, rear = glass.box_m
    sizes = (right - left, rear - front, glass.height_m)
    # Whole steps between opposite panes: then a gap at one pane is found as exactly as the same gap at the other.
    counts = [max(2, round(size / cell_m)) for size in sizes]
    steps = tuple(size / count for size, count in zip(sizes, counts, strict=True))
    x, y, z = (
        np.asarray(start + np.arange(count + 1) * step, dtype=np.float64)
        for start, count, step in zip((left, front, 0.0), counts, steps, strict=True)
    )
    bed = between_nodes(layout.bed.x_m, layout.bed.y_m, layout.bed.top_m, x[:, None], y[None, :])
    empty = _Space(left, front, (steps[0], steps[1], steps[2]), np.zeros((len(x), len(y), len(z)), dtype=np.float32))
    solid = z[None, None, :] <= bed[:, :, None] - steps[2] / 2
    for points in stood_points(layout, min(steps) / 2).values():
        within = np.all((points > [left, front, 0]) & (points < [right, rear, glass.height_m]), axis=1)
        solid[empty.at(*points[within].T)] = True
    free = ndimage.distance_transform_edt(~solid, sampling=steps) if solid.any() else np.full(solid.shape, np.inf)
    panes = to_panes(glass.corners_m, x[:, None], y[None, :])
    # What lies outside the outline is no place for a hand; on a pane itself the distance is 0 either way.
    panes = np.where(inside(glass.corners_m, x[:, None], y[None, :]), panes, 0.0)
    return _Space(left, front, empty.step_m, np.minimum(free, panes[:, :, None]).astype(np.float32))


def _reached(space: _Space, radius_m: float) -> Mask:
    """Nodes that a ball of that radius, come from above, wipes."""
    room = space.free_m >= radius_m - _JUST
    named, count = ndimage.label(room)
    if not count:
        return np.zeros_like(room)
    from_above = np.zeros(count + 1, dtype=bool)
    from_above[np.unique(named[:, :, -1])] = True
    from_above[0] = False
    wiped = from_above[named]
    for axis, step in enumerate(space.step_m):
        wide = int(radius_m / step + _JUST)
        if wide:
            wiped = ndimage.maximum_filter1d(wiped.view(np.uint8), 2 * wide + 1, axis=axis, mode="constant").view(bool)
    return np.asarray(wiped)


@dataclass(frozen=True, eq=False)
class _Spots:
    """Middles of the cells of a pane: distance along it, height, and where that is."""

    along: Floats
    up: Floats
    x: Floats
    y: Floats


def _spots(glass: Glass, pane: int, cell_m: float) -> _Spots:
    (x0, y0), (x1, y1) = glass.corners_m[pane], glass.corners_m[(pane + 1) % len(glass.corners_m)]
    long = float(np.hypot(x1 - x0, y1 - y0))
    columns, rows = max(1, round(long / cell_m)), max(1, round(glass.height_m / cell_m))
    share = (np.arange(columns) + 0.5) / columns
    up, along = np.meshgrid((np.arange(rows) + 0.5) * glass.height_m / rows, share * long, indexing="ij")
    return _Spots(along=along, up=up, x=x0 + along / long * (x1 - x0), y=y0 + along / long * (y1 - y0))


def _pane(
    layout: Layout,
    pane: int,
    spots: _Spots,
    widest_m: Floats,
    *,
    hand_m: float,
    arm_m: float,
    closed: tuple[int, ...],
) -> PaneClearance:
    glass, bed = layout.glass, layout.bed
    ground = between_nodes(bed.x_m, bed.y_m, bed.top_m, spots.x[0], spots.y[0])
    to_clean = (spots.up > ground[None, :]) & (spots.up < glass.water_line_m)
    rims = [to_pane(glass.corners_m, rim, spots.x, spots.y) for rim in range(len(glass.corners_m)) if rim not in closed]
    flat = np.min(rims, axis=0) if rims else np.full(spots.x.shape, np.inf)
    reach = np.hypot(flat, glass.height_m - spots.up)
    too_narrow, too_far = to_clean & (widest_m < hand_m - _JUST), to_clean & (reach > arm_m + _JUST)
    return PaneClearance(
        pane=pane,
        along_m=spots.along[0],
        up_m=spots.up[:, 0],
        to_clean=to_clean,
        widest_m=widest_m,
        reach_m=reach,
        unclean=too_narrow | too_far,
        too_narrow=too_narrow,
        too_far=too_far,
    )


def tips_near_glass(layout: Layout, *, near_m: float = HAND_M) -> tuple[Tip, ...]:
    """Points of pieces that stick out towards a pane and lie nearer to it than a hand is wide.

    Notes
    -----
    Sharpness is the length of the mean of all directions from the point to the skin within 2 cm of it.
    """
    found = []
    for number, points in stood_points(layout, TIP_SPACING_M).items():
        tree = KDTree(points)
        for pane in range(len(layout.glass.corners_m)):
            gap = to_pane(layout.glass.corners_m, pane, points[:, 0], points[:, 1])
            left = np.flatnonzero(gap < near_m)
            left = left[np.argsort(gap[left], kind="stable")]
            while len(left):
                at = points[left[0]]
                sharp = _sharpness(points[tree.query_ball_point(at, TIP_BALL_M)], at)
                if sharp >= TIP:
                    place = (float(at[0]), float(at[1]), float(at[2]))
                    found.append(Tip(number, pane, place, float(gap[left[0]]), sharp))
                # One tip for each 2 cm: the rest of the same twig says nothing new.
                left = left[np.linalg.norm(points[left] - at, axis=1) > TIP_BALL_M]
    return tuple(found)


def _sharpness(points_m: Floats, at_m: Floats) -> float:
    """Of a point among those of the skin round it."""
    lines = points_m - at_m
    far = np.linalg.norm(lines, axis=1)
    beside = far > 1e-9
    if not beside.any():
        return 0.0
    return float(np.linalg.norm((lines[beside] / far[beside, None]).mean(axis=0)))


def pane_names(glass: Glass) -> tuple[dict[str, float | str], ...]:
    """What people call each pane: front, right, rear or left by where it looks, with a part where a side has several.

    Returns
    -------
    tuple of mapping
        For each pane `pane`, the id of the sentence with its name, and `part`, counted from 1 along the outline.
    """
    sides = []
    for (x0, y0), (x1, y1) in zip(glass.corners_m, [*glass.corners_m[1:], glass.corners_m[0]], strict=True):
        out_x, out_y = y1 - y0, x0 - x1
        across = "right" if out_x > 0 else "left"
        sides.append(across if abs(out_x) > abs(out_y) else "rear" if out_y > 0 else "front")
    return tuple(
        {
            "pane": f"@layout_pane.{side}" if sides.count(side) == 1 else f"@layout_pane.{side}_part",
            "part": sides[: n + 1].count(side),
        }
        for n, side in enumerate(sides)
    )


def _findings(
    glass: Glass, panes: tuple[PaneClearance, ...], tips: tuple[Tip, ...], *, hand_m: float, arm_m: float
) -> tuple[Finding, ...]:
    found = []
    names = pane_names(glass)
    for pane in panes:
        total = int(pane.to_clean.sum())
        about = names[pane.pane]
        if pane.too_narrow.any():
            share = 100 * int(pane.too_narrow.sum()) / total
            found.append(
                Finding(
                    id="layout.glass_too_narrow",
                    severity=Severity.CONDITION,
                    values=about | {"share_pct": round(share, 1), "hand_m": hand_m},
                    about=str(pane.pane + 1),
                )
            )
        if pane.too_far.any():
            far = float(pane.reach_m[pane.too_far].max())
            found.append(
                Finding(
                    id="layout.glass_too_far",
                    severity=Severity.CONDITION,
                    values=about | {"reach_m": far, "arm_m": arm_m},
                    margin=arm_m - far,
                    margin_unit="m",
                    about=str(pane.pane + 1),
                )
            )
    found += [
        Finding(
            id="layout.tip_near_glass",
            severity=Severity.CONDITION,
            values={"number": tip.number, "gap_m": round(tip.gap_m, 3), **names[tip.pane]},
            about=str(tip.number),
        )
        for tip in tips
    ]
    return tuple(found)
