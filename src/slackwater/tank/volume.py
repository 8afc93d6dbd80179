"""Volumes of a tank of any polygon footprint, and the level a volume stands at."""

from __future__ import annotations

from collections.abc import Sequence
from math import asin, cos, hypot, sin

from slackwater.errors import Contradiction, OutOfRange, check_range

Corners = Sequence[tuple[float, float]]


def rectangle(*, length_m: float, width_m: float) -> tuple[tuple[float, float], ...]:
    """Corners of a rectangular footprint, counter-clockwise from front left [m]."""
    return ((0.0, 0.0), (length_m, 0.0), (length_m, width_m), (0.0, width_m))


ARC_SEGMENTS = 48
"""Straight pieces that stand for a bowed front; their area is within 0.1 % of the arc's."""


def bow_front(*, length_m: float, width_m: float, bow_m: float) -> tuple[tuple[float, float], ...]:
    """Corners of a tank whose front is an arc of a circle, counter-clockwise from the front left corner [m].

    Parameters
    ----------
    length_m, width_m : float
        Left to right, and front to rear at the sides.
    bow_m : float
        How far the front stands out in its middle [more than 0, at most half the length].

    Notes
    -----
    Circle through both front corners with that sagitta; the front lies at negative y.
    """
    check_range("bow_m", bow_m, 1e-6, length_m / 2, unit="m")
    radius = (length_m**2 / 4 + bow_m**2) / (2 * bow_m)
    half_angle = asin(min(1.0, length_m / (2 * radius)))
    centre_y = radius - bow_m
    points = []
    for piece in range(ARC_SEGMENTS + 1):
        angle = -half_angle + 2 * half_angle * piece / ARC_SEGMENTS
        points.append((length_m / 2 + radius * sin(angle), centre_y - radius * cos(angle)))
    # The foremost point stands at zero, like the front of any other tank.
    return tuple((x, y + bow_m) for x, y in [*points, (length_m, width_m), (0.0, width_m)])


def bow_front_m2(*, length_m: float, width_m: float, bow_m: float) -> float:
    """Area of the same footprint, exact: rectangle and circle segment [m2]."""
    radius = (length_m**2 / 4 + bow_m**2) / (2 * bow_m)
    angle = 2 * asin(min(1.0, length_m / (2 * radius)))
    return length_m * width_m + radius**2 / 2 * (angle - sin(angle))


def footprint_m2(corners_m: Corners) -> float:
    """Area of a polygon footprint.

    Parameters
    ----------
    corners_m : (n, 2) sequence of float
        Corners in order, either way round [m].

    Raises
    ------
    Contradiction
        If the corners enclose nothing.

    Notes
    -----
    Shoelace formula, exact for any polygon that does not cross itself.
    """
    pairs = zip(corners_m, [*corners_m[1:], corners_m[0]], strict=True)
    area = abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairs)) / 2
    if area <= 0:
        raise Contradiction("the corners of the footprint enclose no area; give them in order round the tank")
    return area


def is_rectangle(corners_m: Corners) -> bool:
    """Whether four corners have right angles, to a millimetre in a metre."""
    if len(corners_m) != 4:
        return False
    sides = [(x1 - x0, y1 - y0) for (x0, y0), (x1, y1) in zip(corners_m, [*corners_m[1:], corners_m[0]], strict=True)]
    return all(
        abs(a[0] * b[0] + a[1] * b[1]) <= 1e-3 * hypot(*a) * hypot(*b)
        for a, b in zip(sides, [*sides[1:], sides[0]], strict=True)
    )


def perimeter_m(corners_m: Corners) -> float:
    """Length of the walls along the footprint [m]."""
    return sum(
        hypot(x1 - x0, y1 - y0) for (x0, y0), (x1, y1) in zip(corners_m, [*corners_m[1:], corners_m[0]], strict=True)
    )


def column_l(*, footprint_m2: float, height_m: float) -> float:
    """Litres of an upright column over a footprint [m2, m]."""
    return footprint_m2 * height_m * 1000


def water_volume_l(*, gross_l: float, soil_bulk_l: float, soil_porosity: float, hardscape_l: float) -> float:
    """Water in a planted tank: all that is neither grain nor stone nor wood.

    Parameters
    ----------
    gross_l : float
        Empty tank to the water line [L].
    soil_bulk_l : float
        Bed in place, grains and pores [L].
    soil_porosity : float
        Share of the bed that fills with water [0 to 1].
    hardscape_l : float
        Solid volume of stone and wood under water [L].

    Raises
    ------
    Contradiction
        If grains and hardscape need more room than the tank has.
    """
    check_range("soil_porosity", soil_porosity, 0, 1, unit="")
    water = gross_l - soil_bulk_l * (1 - soil_porosity) - hardscape_l
    if water < 0:
        raise Contradiction(
            f"soil and hardscape need {gross_l - water:.0f} L, the tank holds {gross_l:.0f} L to the water line"
        )
    return water


def level_m(*, volume_l: float, footprint_m2: float, bed_depth_m: float, bed_porosity: float) -> float:
    """Height at which a volume of water stands over a level bed.

    Parameters
    ----------
    volume_l : float
        Water, the pores of the bed filled first [L, 0 or more].
    footprint_m2, bed_depth_m, bed_porosity : float
        Base [m2], mean bed depth [m] and the share of it that fills with water.

    Returns
    -------
    float
        Level above the bottom glass [m].
    """
    if volume_l < 0:
        raise OutOfRange(f"volume_l is {volume_l:g} L, expected 0 or more")
    pores = column_l(footprint_m2=footprint_m2, height_m=bed_depth_m) * bed_porosity
    if volume_l <= pores and bed_porosity > 0:
        return volume_l / 1000 / footprint_m2 / bed_porosity
    return bed_depth_m + (volume_l - pores) / 1000 / footprint_m2


def volume_at_level_l(*, level_m: float, footprint_m2: float, bed_depth_m: float, bed_porosity: float) -> float:
    """Water over and in a level bed when it stands at a level; the inverse of `level_m` [L]."""
    within = min(level_m, bed_depth_m)
    return 1000 * footprint_m2 * (within * bed_porosity + max(0.0, level_m - bed_depth_m))
