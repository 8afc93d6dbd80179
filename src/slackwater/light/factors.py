"""View factors in closed form: which share of the light that leaves one flat surface arrives at another, nothing between.

All are printed in Howell, Mengüç, Daun and Siegel, Thermal Radiation Heat Transfer, appendix C, and in Howell's catalog
of configuration factors. Lengths may be in any one unit.
"""

from __future__ import annotations

from itertools import product
from math import atan, hypot, log, pi, sqrt

from slackwater.errors import check_range

Rectangle = tuple[float, float, float, float]
"""Least x, least y, greatest x, greatest y."""


def parallel_rectangles(*, a: float, b: float, c: float) -> float:
    """Between two equal rectangles a by b face to face at distance c (catalog C-11)."""
    x, y = a / c, b / c
    inner = (
        log(sqrt((1 + x * x) * (1 + y * y) / (1 + x * x + y * y)))
        + x * sqrt(1 + y * y) * atan(x / sqrt(1 + y * y))
        + y * sqrt(1 + x * x) * atan(y / sqrt(1 + x * x))
        - x * atan(x)
        - y * atan(y)
    )
    return 2 / (pi * x * y) * inner


def perpendicular_rectangles(*, width: float, height: float, edge: float) -> float:
    """From a rectangle to an upright one that shares its edge (catalog C-14).

    Parameters
    ----------
    width : float
        Of the rectangle that the light leaves, away from the edge.
    height : float
        Of the one where it arrives.
    edge : float
        Length of the shared edge.
    """
    w, h = width / edge, height / edge
    w2, h2 = w * w, h * h
    both = h2 + w2
    ratio = (1 + w2) * (1 + h2) / (1 + both)
    ratio *= (w2 * (1 + both) / ((1 + w2) * both)) ** w2
    ratio *= (h2 * (1 + both) / ((1 + h2) * both)) ** h2
    inner = w * atan(1 / w) + h * atan(1 / h) - sqrt(both) * atan(1 / sqrt(both)) + log(ratio) / 4
    return inner / (pi * w)


def point_to_corner(*, a: float, b: float, c: float) -> float:
    """From a small flat patch to a parallel rectangle a by b at distance c, one corner straight above the patch (B-4).

    With the sign of a times b, so that corners can be added up.
    """
    if a == 0 or b == 0:
        return 0.0
    x, y = a / c, b / c
    root_x, root_y = sqrt(1 + x * x), sqrt(1 + y * y)
    return (x / root_x * atan(y / root_x) + y / root_y * atan(x / root_y)) / (2 * pi)


def point_to_rectangle(*, length: float, width: float, x: float, y: float, distance: float) -> float:
    """From a small level patch to a level rectangle above it, the patch at x, y from one of its corners."""
    check_range("distance", distance, 1e-9, 1e9, unit="")
    return (
        point_to_corner(a=length - x, b=width - y, c=distance)
        - point_to_corner(a=-x, b=width - y, c=distance)
        - point_to_corner(a=length - x, b=-y, c=distance)
        + point_to_corner(a=-x, b=-y, c=distance)
    )


def rectangle_to_rectangle(from_: Rectangle, to: Rectangle, *, distance: float) -> float:
    """Between two parallel rectangles with parallel edges, wherever they lie (catalog C-13).

    Notes
    -----
    The double integral of cos² / (pi r²) has, twice integrated over each of x and y, the function `_twice` of the
    differences of corners; the signs alternate.
    """
    check_range("distance", distance, 1e-9, 1e9, unit="")
    x1, y1, x2, y2 = from_
    u1, v1, u2, v2 = to
    total = 0.0
    for (i, x), (k, u) in product(enumerate((x1, x2)), enumerate((u1, u2))):
        for (j, y), (n, v) in product(enumerate((y1, y2)), enumerate((v1, v2))):
            total += (-1) ** (i + j + k + n) * _twice(x - u, y - v, distance)
    return total / ((x2 - x1) * (y2 - y1))


def _twice(u: float, v: float, c: float) -> float:
    far_u, far_v = hypot(u, c), hypot(v, c)
    return (v * far_u * atan(v / far_u) + u * far_v * atan(u / far_v) - c * c / 2 * log(u * u + v * v + c * c)) / (
        2 * pi
    )


def even_light_in_cavity(*, flux: float, area: float, albedo: float) -> float:
    """Mean irradiance of the walls of a closed diffuse hollow: all that is sent out is taken in, pass after pass.

    Parameters
    ----------
    flux : float
        Sent out within it, such as µmol/s.
    area : float
        Of all its walls.
    albedo : float
        Share that they throw back [0 to below 1].
    """
    check_range("albedo", albedo, 0, 0.999999, unit="")
    return flux / (area * (1 - albedo))
