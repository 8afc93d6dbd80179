"""Where pictures are taken from: a seated eye before each public side, and one obliquely from above; the whole glass in view."""

from __future__ import annotations

from math import atan, degrees

import numpy as np

from slackwater.errors import BadInput, check_range
from slackwater.layout.scene import Floats, Glass
from slackwater.layout.see import BOTTOM_OVER_FLOOR_M, EYES_M, Posture
from slackwater.picture.scene import Camera, Side

MARGIN = 0.06
"""Of the picture, left free on each side of the glass."""
WIDEST_DEG = 62.0
"""An eye that would have to see wider steps back: wider pictures stretch their corners."""
OBLIQUE_TURN_DEG, OBLIQUE_RISE_DEG = 24.0, 17.0
OBLIQUE_AWAY = 4.2
"""Distance of the oblique eye, in halves of the diagonal of the bottom."""
OVER_WATER_M = 0.03


def sides_of(glass: Glass) -> tuple[Side, ...]:
    """The sides that are pictured: what the public sees, the front where nobody said, and the oblique one."""
    return (
        *(side for side in ("front", "rear", "left", "right") if side in (glass.public_sides or ("front",))),
        "oblique",
    )


_LOOKS: dict[str, tuple[float, float]] = {"front": (0, 1), "rear": (0, -1), "left": (1, 0), "right": (-1, 0)}
"""The way an eye before a side looks, seen from above."""


def camera_of(
    glass: Glass,
    side: Side,
    *,
    width_over_height: float,
    posture: Posture = "seated",
    bottom_over_floor_m: float = BOTTOM_OVER_FLOOR_M,
) -> Camera:
    """The eye before a side, so that the whole glass is in the picture.

    Parameters
    ----------
    side : Side
        One that `sides_of` names.
    width_over_height : float
        Of the picture [0.2 to 5].
    posture : Posture
    bottom_over_floor_m : float
        Height of the bottom glass over the floor [m, 0 to 2].

    Raises
    ------
    BadInput
        For a side that nobody looks through.
    """
    check_range("width_over_height", width_over_height, 0.2, 5, unit="")
    check_range("bottom_over_floor_m", bottom_over_floor_m, 0, 2, unit="m")
    if side not in sides_of(glass):
        raise BadInput(f"side {side} is not seen by the public, expected one of {', '.join(sides_of(glass))}")
    left, front, right, rear = glass.box_m
    middle = np.array([(left + right) / 2, (front + rear) / 2, 0.5 * glass.height_m])
    half = np.array([(right - left) / 2, (rear - front) / 2])
    if side == "oblique":
        turn, rise = np.radians(OBLIQUE_TURN_DEG), np.radians(OBLIQUE_RISE_DEG)
        x, y = _LOOKS[sides_of(glass)[0]]
        level = (x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn))
        way = np.array([level[0] * np.cos(rise), level[1] * np.cos(rise), -np.sin(rise)])
        origin = middle - way * OBLIQUE_AWAY * float(np.hypot(*half))
    else:
        distance, eye = EYES_M[posture]
        way = np.array([*_LOOKS[side], 0.0])
        origin = middle - way * (float(abs(way[:2]) @ half) + distance)
        # From below, the surface is a mirror with the lamps in it; who sits lower than that stands up for the picture.
        origin[2] = max(eye - bottom_over_floor_m, glass.water_line_m + OVER_WATER_M)
    while True:
        seen = seen_at(corners_m(glass), origin, origin + way)
        low, high = seen.min(axis=0), seen.max(axis=0)
        most = max((high[0] - low[0]) / 2, abs(high[0]), abs(low[0]))
        up = (high[1] - low[1]) / 2
        across = max(float(most), float(up) * width_over_height) / (1 - 2 * MARGIN)
        if 2 * degrees(atan(across)) <= WIDEST_DEG:
            break
        origin = origin - 0.1 * way
    return Camera(
        side=side,
        origin_m=_three(origin),
        target_m=_three(origin + way),
        across_deg=2 * degrees(atan(across)),
        rise=float((high[1] + low[1]) / 2 / (2 * across / width_over_height)),
    )


def _three(point: Floats) -> tuple[float, float, float]:
    return float(point[0]), float(point[1]), float(point[2])


def corners_m(glass: Glass) -> Floats:
    """The eight corners of the box round the glass, panes included."""
    left, front, right, rear = glass.box_m
    wall = glass.wall_m
    return np.array(
        [
            (x, y, z)
            for x in (left - wall, right + wall)
            for y in (front - wall, rear + wall)
            for z in (-wall, glass.height_m)
        ]
    )


def seen_at(points_m: Floats, origin_m: Floats, target_m: Floats) -> Floats:
    """Tangents right and up of where points lie for an eye; dry, for they are of the glass.

    Returns
    -------
    (n, 2) float
    """
    way = np.asarray(target_m, dtype=float) - np.asarray(origin_m, dtype=float)
    way = way / np.linalg.norm(way)
    right = np.cross(way, (0, 0, 1))
    right = right / np.linalg.norm(right)
    up = np.cross(right, way)
    apart = points_m - np.asarray(origin_m)
    depth = apart @ way
    return np.column_stack([apart @ right / depth, apart @ up / depth])
