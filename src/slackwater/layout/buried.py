"""How much of a rounded stone lies in the bed, and how much in the water."""

from __future__ import annotations

from math import pi

from slackwater.errors import check_range


def bedded_l(*, solid_l: float, height_share: float) -> float:
    """Litres of a stone that lie in the bed, the stone taken as a ball of its volume.

    Parameters
    ----------
    solid_l : float
        Volume of the stone [L].
    height_share : float
        Share of its height that is bedded [0 to 1].
    """
    check_range("height_share", height_share, 0, 1, unit="")
    radius_m = (3 * solid_l / 1000 / (4 * pi)) ** (1 / 3)
    return sphere_below_l(radius_m=radius_m, centre_height_m=radius_m, level_m=2 * radius_m * height_share)


def sphere_below_l(*, radius_m: float, centre_height_m: float, level_m: float) -> float:
    """Litres of a sphere below a level: the spherical cap formula.

    Parameters
    ----------
    radius_m, centre_height_m, level_m : float
        Radius, height of the centre and height of the level, from the bottom glass [m].
    """
    height = min(max(level_m - (centre_height_m - radius_m), 0.0), 2 * radius_m)
    return 1000 * pi * height**2 * (3 * radius_m - height) / 3
