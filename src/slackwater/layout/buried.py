"""How much of a rounded stone lies in the bed, and how much in the water."""

from __future__ import annotations

from math import pi


def sphere_below_l(*, radius_m: float, centre_height_m: float, level_m: float) -> float:
    """Litres of a sphere below a level: the spherical cap formula.

    Parameters
    ----------
    radius_m, centre_height_m, level_m : float
        Radius, height of the centre and height of the level, from the bottom glass [m].
    """
    height = min(max(level_m - (centre_height_m - radius_m), 0.0), 2 * radius_m)
    return 1000 * pi * height**2 * (3 * radius_m - height) / 3
