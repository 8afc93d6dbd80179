"""What people see from each public side: apparent places, silhouettes, and how much of the far background is hidden.

An eye looks through the pane of its side, taken as flat and without thickness: a flat pane shifts a ray by a few
millimetres and does not turn it. In a picture, `u` runs to the right of who looks and `v` up, on the near pane.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import OutOfRange, check_range
from slackwater.frozen import Frozen
from slackwater.job.model import LayoutWish, PublicSide
from slackwater.layout.scene import Floats, Glass, Layout
from slackwater.layout.stamps import Mask, between_nodes, stood_points

WATER_INDEX = 1.333
"""Refractive index of fresh water in yellow light at 20 °C; Hale and Querry (1973), Applied Optics 12(3), 555-563."""
Posture = Literal["seated", "standing"]
EYES_M: Mapping[Posture, tuple[float, float]] = {"seated": (2.0, 1.2), "standing": (1.0, 1.6)}
"""Distance of an eye from the pane and its height over the floor; common practice, no source."""
BOTTOM_OVER_FLOOR_M = 0.75
"""Height of the bottom glass over the floor where it is not known; common practice, no source."""
PICTURE_CELL_M = 0.005


class Eye(Frozen):
    """An eye before the middle of one public side."""

    side: PublicSide
    posture: Posture
    distance_m: float
    """From the pane."""
    height_m: float
    """Over the bottom glass; may be negative."""


@dataclass(frozen=True, eq=False)
class View:
    """What one eye sees, as a picture on the near pane; one row for each height, from the bottom up."""

    eye: Eye
    u_m: Floats
    v_m: Floats
    number: NDArray[np.int64]
    """Number of the piece that is seen there; 0 for none."""
    background: Mask
    """Where the far pane would be seen if no piece stood in the tank."""
    outline_m: Floats
    """Top of the silhouette of all pieces over each `u`; NaN where there is none."""
    seen_share: Mapping[int, float]
    """Of the silhouette of each piece, what no nearer piece hides [0..1]."""

    @property
    def hidden_share(self) -> float:
        """Of the far background, what pieces hide [0..1]."""
        total = int(self.background.sum())
        return int((self.background & (self.number > 0)).sum()) / total if total else 0.0


def eyes_of(
    glass: Glass, *, bottom_over_floor_m: float = BOTTOM_OVER_FLOOR_M, wish: LayoutWish | None = None
) -> tuple[Eye, ...]:
    """A seated and a standing eye before each public side.

    Parameters
    ----------
    glass : Glass
    bottom_over_floor_m : float
        Height of the bottom glass over the floor [m, 0 to 2].
    wish : LayoutWish or None
        Heights of eyes and the distance of those who look, as far as the job states them; else the usual ones.
    """
    wish = wish or LayoutWish()
    stated: Mapping[Posture, float | None] = {"seated": wish.seated_eye_m, "standing": wish.standing_eye_m}
    check_range("bottom_over_floor_m", bottom_over_floor_m, 0, 2, unit="m")
    return tuple(
        Eye(
            side=side,
            posture=posture,
            distance_m=wish.viewing_distance_m or distance,
            height_m=(stated[posture] or height) - bottom_over_floor_m,
        )
        for side in glass.public_sides
        for posture, (distance, height) in EYES_M.items()
    )


def breadth_and_depth_m(glass: Glass, side: PublicSide) -> tuple[float, float]:
    """Of the box round the glass as seen from a side: along the near pane, and to the far one."""
    left, front, right, rear = glass.box_m
    return (right - left, rear - front) if side in ("front", "rear") else (rear - front, right - left)


def in_view(points_m: Floats, glass: Glass, side: PublicSide) -> Floats:
    """Points [n, 3] as who stands before that side has them: to the right, up, and away from the near pane."""
    left, front, right, rear = glass.box_m
    x, y, z = points_m.T
    across, away = {
        "front": (x - left, y - front),
        "rear": (right - x, rear - y),
        "left": (rear - y, x - left),
        "right": (y - front, right - x),
    }[side]
    return np.column_stack([across, z, away])


def refracted(direction: Floats, *, ratio: float) -> Floats:
    """Directions past a flat surface with the normal (0, 0, 1), which they cross away from the eye.

    Parameters
    ----------
    direction : (n, 3) float
        Of unit length, its third part positive.
    ratio : float
        Index before the surface over index behind it [0.5 to 1]: from the thinner into the denser, so that every ray passes.

    Returns
    -------
    (n, 3) float
        Of unit length.

    References
    ----------
    Snell's law; the part along the surface shrinks by the ratio.
    """
    check_range("ratio", ratio, 0.5, 1.0, unit="")
    along = ratio * direction[:, :2]
    return np.column_stack([along, np.sqrt(1 - (along**2).sum(axis=1))])


def apparent(points: Floats, eye: Floats, *, index: float = WATER_INDEX) -> Floats:
    """Where on the near pane points in the water are seen.

    Parameters
    ----------
    points : (n, 3) float
        To the right, up, and behind the near pane [m, depth at least 0].
    eye : (3,) float
        To the right, up, and before the near pane [m, above 0].

    Returns
    -------
    (n, 2) float
        To the right and up on the pane.

    Notes
    -----
    The ray bends in the plane through eye and point that stands upright on the pane. With the foot of the ray at r of the
    whole way R along it, r / hypot(r, eye) = index (R - r) / hypot(R - r, depth), by Newton's method from the flat-ray
    answer; left minus right rises with r, so what leaves 0..R is brought back.
    """
    if not eye[2] > 0:
        raise OutOfRange(f"the eye is {eye[2]:g} m before the pane, expected more than 0 m")
    depth = np.maximum(points[:, 2], 0.0)
    way = points[:, :2] - eye[:2]
    whole = np.hypot(way[:, 0], way[:, 1])
    foot = whole * eye[2] / (eye[2] + depth / index)
    for _ in range(8):
        rest = whole - foot
        air, water = np.hypot(foot, eye[2]), np.maximum(np.hypot(rest, depth), 1e-12)
        off = foot / air - index * rest / water
        slope = eye[2] ** 2 / air**3 + index * depth**2 / water**3
        foot = np.clip(foot - off / np.maximum(slope, 1e-12), 0.0, whole)
    # On the pane itself nothing bends.
    foot = np.where(depth < 1e-12, whole, foot)
    share = np.divide(foot, whole, out=np.zeros_like(foot), where=whole > 0)
    return np.asarray(eye[:2] + share[:, None] * way)


def place_of(eye: Eye, glass: Glass) -> Floats:
    """An eye as (to the right, up, before the pane)."""
    return np.array([breadth_and_depth_m(glass, eye.side)[0] / 2, eye.height_m, eye.distance_m])


def view(layout: Layout, eye: Eye, *, cell_m: float = PICTURE_CELL_M) -> View:
    """The picture that one eye has of a layout.

    Parameters
    ----------
    layout : Layout
    eye : Eye
    cell_m : float
        Size of a cell of the picture [m, 0.003 to 0.05].
    """
    check_range("cell_m", cell_m, 0.003, 0.05, unit="m")
    glass = layout.glass
    breadth, _ = breadth_and_depth_m(glass, eye.side)
    columns, rows = max(1, round(breadth / cell_m)), max(1, round(glass.water_line_m / cell_m))
    wide, high = breadth / columns, glass.water_line_m / rows
    u: Floats = np.asarray((np.arange(columns) + 0.5) * wide, dtype=np.float64)
    v: Floats = np.asarray((np.arange(rows) + 0.5) * high, dtype=np.float64)
    at = place_of(eye, glass)
    number = np.zeros((rows, columns), dtype=np.int64)
    nearest = np.full((rows, columns), np.inf)
    masks = {}
    for one, points in stood_points(layout).items():
        seen = in_view(points, glass, eye.side)
        seen = seen[(seen[:, 1] < glass.water_line_m) & (seen[:, 2] >= 0)]
        if not len(seen):
            masks[one] = np.zeros((rows, columns), dtype=bool)
            continue
        on_pane = apparent(seen, at)
        column = np.floor(np.round(on_pane[:, 0] / wide, 9)).astype(np.int64)
        row = np.floor(np.round(on_pane[:, 1] / high, 9)).astype(np.int64)
        kept = (column >= 0) & (column < columns) & (row >= 0) & (row < rows)
        depth = np.full((rows, columns), np.inf)
        np.minimum.at(depth, (row[kept], column[kept]), seen[kept, 2])
        masks[one] = np.isfinite(depth)
        number[depth < nearest] = one
        nearest = np.minimum(nearest, depth)
    covered = number > 0
    top = np.where(covered.any(axis=0), v[rows - 1 - np.argmax(covered[::-1], axis=0)] + high / 2, np.nan)
    return View(
        eye=eye,
        u_m=u,
        v_m=v,
        number=number,
        background=_background(layout, eye, at, u, v),
        outline_m=top,
        seen_share={
            one: float((number == one).sum() / mask.sum()) if mask.any() else 0.0 for one, mask in masks.items()
        },
    )


def _background(layout: Layout, eye: Eye, at: Floats, u: Floats, v: Floats) -> Mask:
    """Cells through which a ray comes to the far pane below the water line, over the bed all the way."""
    glass, bed = layout.glass, layout.bed
    breadth, deep = breadth_and_depth_m(glass, eye.side)
    across, up = np.meshgrid(u, v)
    start = np.column_stack([across.ravel(), up.ravel(), np.zeros(across.size)])
    way = start - np.array([at[0], at[1], -at[2]])
    inward = refracted(way / np.linalg.norm(way, axis=1)[:, None], ratio=1 / WATER_INDEX)
    inward /= inward[:, 2:]
    end = start + deep * inward
    free = (end[:, 0] > 0) & (end[:, 0] < breadth) & (end[:, 1] < glass.water_line_m)
    left, front, right, rear = glass.box_m
    for depth in np.linspace(0, deep, max(2, int(np.ceil(deep / 0.01)) + 1)):
        here = start + depth * inward
        x, y = {
            "front": (left + here[:, 0], np.full(len(here), front + depth)),
            "rear": (right - here[:, 0], np.full(len(here), rear - depth)),
            "left": (np.full(len(here), left + depth), rear - here[:, 0]),
            "right": (np.full(len(here), right - depth), front + here[:, 0]),
        }[eye.side]
        free &= here[:, 1] > between_nodes(bed.x_m, bed.y_m, bed.top_m, x, y)
    return free.reshape(across.shape)
