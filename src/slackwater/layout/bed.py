"""The bed as a surface over the footprint: its heights, its volume, its slopes, and the bags it takes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from math import atan, ceil, degrees

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import OutOfRange, check_range

Surface = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]
"""Depths [m] at points x, y [m]; arrays of one shape in, the same shape out."""


def edges_surface(
    *, length_m: float, width_m: float, front_m: float, rear_m: float, left_m: float = 0.0, right_m: float = 0.0
) -> Surface:
    """A plane from front to rear depth, with what left and right add at their glass."""
    return lambda x, y: front_m + (rear_m - front_m) * y / width_m + left_m + (right_m - left_m) * x / length_m


def ridge_surface(*, width_m: float, edge_m: float, top_m: float) -> Surface:
    """`edge_m` at front and rear glass, `top_m` along the middle, straight between."""
    return lambda x, y: edge_m + (top_m - edge_m) * (1 - np.abs(2 * y / width_m - 1))


def gable_surface(*, length_m: float, edge_m: float, top_m: float) -> Surface:
    """`edge_m` at left and right glass, `top_m` across the middle, straight between."""
    return lambda x, y: edge_m + (top_m - edge_m) * (1 - np.abs(2 * x / length_m - 1))


def mound_surface(
    *,
    length_m: float,
    width_m: float,
    edge_m: float,
    top_m: float,
    flat_length_m: float = 0.0,
    flat_width_m: float = 0.0,
) -> Surface:
    """`edge_m` at all glass, `top_m` over a flat in the middle, plane faces between.

    Raises
    ------
    OutOfRange
        If the flat is larger than the tank.
    """
    run_x, run_y = (length_m - flat_length_m) / 2, (width_m - flat_width_m) / 2
    if run_x <= 0 or run_y <= 0:
        raise OutOfRange(
            f"the flat top of {flat_length_m:g} by {flat_width_m:g} m leaves no room for a slope in the tank"
        )

    def depth(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
        share_x = np.minimum(x, length_m - x) / run_x
        share_y = np.minimum(y, width_m - y) / run_y
        return np.asarray(edge_m + (top_m - edge_m) * np.clip(np.minimum(share_x, share_y), 0, 1))

    return depth


def corners_surface(
    *,
    length_m: float,
    width_m: float,
    front_left_m: float,
    front_right_m: float,
    rear_left_m: float,
    rear_right_m: float,
) -> Surface:
    """Four depths at the corners, bilinear between."""

    def depth(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
        u, v = x / length_m, y / width_m
        front = front_left_m * (1 - u) + front_right_m * u
        rear = rear_left_m * (1 - u) + rear_right_m * u
        return np.asarray(front * (1 - v) + rear * v)

    return depth


def inside(
    corners_m: Sequence[tuple[float, float]], x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Whether points lie in a polygon (even-odd rule)."""
    found = np.zeros(np.broadcast(x, y).shape, dtype=bool)
    for (x0, y0), (x1, y1) in zip(corners_m, [*corners_m[1:], corners_m[0]], strict=True):
        crosses = (y0 > y) != (y1 > y)
        with np.errstate(divide="ignore", invalid="ignore"):
            found ^= crosses & (x < (x1 - x0) * (y - y0) / (y1 - y0) + x0)
    return found


def volume_l(surface: Surface, corners_m: Sequence[tuple[float, float]], *, cells: int = 200) -> float:
    """Litres under a surface over a polygon footprint.

    Parameters
    ----------
    surface : Surface
        Depths [m].
    corners_m : sequence of (x, y)
        Footprint, corners in order [m].
    cells : int
        Cells along each side; an even number puts the ridges of the named forms on cell borders.

    Notes
    -----
    Each trapezoid between the footprint's corners is mapped to cells, and the depth taken at 2 x 2 Gauss points in
    each: exact for planes and, with even `cells`, for ridge, gable and bilinear forms over a rectangle. The polygon is
    cut at the heights of its corners, so that no cell straddles its border.
    """
    # Even-odd spans between the walls on each strip: works for concave footprints too.
    levels = sorted({y for _, y in corners_m})
    gauss = np.array([-1, 1]) / np.sqrt(3)
    total = 0.0
    walls = [
        (a, b) if a[1] < b[1] else (b, a)
        for a, b in zip(corners_m, [*corners_m[1:], corners_m[0]], strict=True)
        if a[1] != b[1]
    ]
    whole = levels[-1] - levels[0]
    for low, high in pairwise(levels):
        rows = max(2, 2 * round(cells * (high - low) / whole / 2))
        borders = np.linspace(low, high, rows + 1)
        half = (borders[1:] - borders[:-1])[:, None] / 2
        at_y = ((borders[1:] + borders[:-1])[:, None] / 2 + half * gauss).ravel()
        weight_y = np.repeat(half.ravel(), 2)
        crossing = np.array(
            sorted(
                (
                    a[0] + (b[0] - a[0]) * (at_y - a[1]) / (b[1] - a[1])
                    for a, b in walls
                    if a[1] <= low and b[1] >= high
                ),
                key=lambda x: float(x.mean()),
            )
        )
        for left, right in zip(crossing[::2], crossing[1::2], strict=True):
            edges = left[:, None] + (right - left)[:, None] * np.linspace(0, 1, cells + 1)
            half_x = (edges[:, 1:] - edges[:, :-1]) / 2
            middle = (edges[:, 1:] + edges[:, :-1]) / 2
            at_x = middle[:, :, None] + half_x[:, :, None] * gauss
            depth = surface(at_x, np.broadcast_to(at_y[:, None, None], at_x.shape))
            total += float((depth * half_x[:, :, None] * weight_y[:, None, None]).sum())
    return total * 1000


def steepest_deg(surface: Surface, corners_m: Sequence[tuple[float, float]], *, nodes: int = 241) -> float:
    """Steepest slope of a surface inside a footprint [degrees], from differences at one point of each cell."""
    xs = np.linspace(min(x for x, _ in corners_m), max(x for x, _ in corners_m), nodes)
    ys = np.linspace(min(y for _, y in corners_m), max(y for _, y in corners_m), nodes)
    # Off the middle of the cells, so that no point lies on the crease of a symmetric form, where there is no slope.
    x, y = np.meshgrid(xs[:-1] + 0.37 * (xs[1] - xs[0]), ys[:-1] + 0.23 * (ys[1] - ys[0]))
    step = 1e-6
    along = (surface(x + step, y) - surface(x - step, y)) / (2 * step)
    across = (surface(x, y + step) - surface(x, y - step)) / (2 * step)
    slope = np.hypot(along, across)[inside(corners_m, x, y)]
    return degrees(atan(float(slope.max()))) if slope.size else 0.0


def whole_bags(*, litres: float, bag_l: float, on_hand_bags: int = 0) -> int:
    """Bags to buy: whole ones, less what is on hand.

    Parameters
    ----------
    litres : float
        Litres to have [0 or more].
    bag_l : float
        Litres in a bag [more than 0].
    """
    check_range("bag_l", bag_l, 0.01, 10_000, unit="L")
    # A hair under a whole bag is a whole bag: 36.000000001 L is four bags of 9 L.
    return max(0, ceil(litres / bag_l - 1e-6) - on_hand_bags)


def heap_height_m(*, volume_l: float, repose_deg: float) -> float:
    """Height of a free heap at its angle of repose: a cone of that volume and slope [m]."""
    check_range("repose_deg", repose_deg, 1, 89, unit="degrees")
    slope = np.tan(np.radians(repose_deg))
    return float((3 * volume_l / 1000 * slope**2 / np.pi) ** (1 / 3))
