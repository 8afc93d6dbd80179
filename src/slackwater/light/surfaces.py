"""What happens to light at water, glass and air: turned by Snell's law, mirrored by Fresnel's."""

from __future__ import annotations

from math import asin, cos, degrees, radians, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import OutOfRange, check_range

Floats = NDArray[np.float64]
AIR = 1.0
WATER = 1.333
GLASS = 1.52
"""Refractive indices; float glass 1.52, water at 20 °C and 589 nm 1.333: any textbook of optics."""


def _shares(cosine: Floats, n1: float, n2: float) -> tuple[Floats, Floats, Floats]:
    """Share mirrored of each polarisation, and the cosine behind the face (0 where all is mirrored)."""
    squared = 1 - (n1 / n2) ** 2 * (1 - cosine**2)
    behind = np.sqrt(np.clip(squared, 0, None))
    across = np.asarray(((n1 * cosine - n2 * behind) / np.maximum(n1 * cosine + n2 * behind, 1e-300)) ** 2)
    along = np.asarray(((n1 * behind - n2 * cosine) / np.maximum(n1 * behind + n2 * cosine, 1e-300)) ** 2)
    whole = squared <= 0
    return np.where(whole, 1.0, across), np.where(whole, 1.0, along), np.where(whole, 0.0, behind)


def reflectance_of(cosine: Floats, *, n1: float, n2: float) -> Floats:
    """Share of unpolarised light mirrored where it passes from index `n1` to `n2`, by the cosine of incidence (0 to 1)."""
    across, along, _ = _shares(np.asarray(cosine, dtype=np.float64), n1, n2)
    return np.asarray((across + along) / 2)


def pane_reflectance_of(cosine: Floats, *, inside: float = WATER, pane: float = GLASS, outside: float = AIR) -> Floats:
    """Share mirrored by a flat, clear pane, by the cosine of incidence on it from inside.

    All the light that goes to and fro within the pane is counted, each polarisation by itself; the pane takes nothing.
    """
    cosine = np.asarray(cosine, dtype=np.float64)
    first_across, first_along, behind = _shares(cosine, inside, pane)
    second_across, second_along, _ = _shares(behind, pane, outside)

    def both(first: Floats, second: Floats) -> Floats:
        return first + (1 - first) ** 2 * second / np.maximum(1 - first * second, 1e-12)

    found = (both(first_across, second_across) + both(first_along, second_along)) / 2
    # Beyond the angle at which water and air alone would mirror all, the pane mirrors all.
    return np.where((inside / outside) ** 2 * (1 - cosine**2) >= 1, 1.0, np.minimum(found, 1.0))


def surface_reflectance(*, incidence_deg: float, n1: float, n2: float) -> float:
    """Share of unpolarised light mirrored at a still surface.

    Parameters
    ----------
    incidence_deg : float
        Angle from the normal, on the side that the light comes from [degrees, 0 to 90].
    n1, n2 : float
        Refractive index before and behind the surface [1 to 4].

    Raises
    ------
    OutOfRange
        Outside these ranges.

    References
    ----------
    Fresnel's equations, e.g. Born and Wolf, Principles of Optics, section 1.5.
    """
    check_range("incidence_deg", incidence_deg, 0, 90, unit="degrees")
    check_range("n1", n1, 1, 4, unit="")
    check_range("n2", n2, 1, 4, unit="")
    return float(reflectance_of(np.array(cos(radians(incidence_deg))), n1=n1, n2=n2))


def diffuse_reflectance(*, n1: float, n2: float) -> float:
    """Share of light that comes evenly from a whole half space (Lambert) mirrored at a still surface."""
    # Gauss's rule over the square of the sine, in which such light is spread evenly.
    at, weight = np.polynomial.legendre.leggauss(200)
    squared = (at + 1) / 2
    return float((reflectance_of(np.sqrt(1 - squared), n1=n1, n2=n2) * weight).sum() / 2)


def refracted_deg(*, incidence_deg: float, n1: float, n2: float) -> float:
    """Angle behind a surface [degrees].

    Raises
    ------
    OutOfRange
        Where all the light is mirrored, or outside the ranges of `surface_reflectance`.
    """
    check_range("incidence_deg", incidence_deg, 0, 90, unit="degrees")
    squeezed = n1 / n2 * sin(radians(incidence_deg))
    if squeezed > 1:
        raise OutOfRange(
            f"incidence_deg {incidence_deg:g} is beyond the critical angle {critical_deg(n1=n1, n2=n2):.3g}: nothing goes through"
        )
    return degrees(asin(squeezed))


def critical_deg(*, n1: float, n2: float) -> float:
    """Angle from which on all light is mirrored; 90 where there is none, because `n2` is the denser side [degrees]."""
    return degrees(asin(n2 / n1)) if n2 < n1 else 90.0


def largest_mirrored_deg(*, n_water: float) -> float:
    """Greatest angle from the vertical, in air, of light that an upright pane still mirrors whole [degrees].

    For light in the plane upright to the pane: turned at the surface, it meets the pane at or beyond the angle at which
    water and air alone would mirror it; the pane between does not change that. 90 where every direction is mirrored.
    """
    check_range("n_water", n_water, 1, 4, unit="")
    squared = n_water**2 - 1
    return 90.0 if squared >= 1 else degrees(asin(sqrt(squared)))


def beam_share_at_depth(*, incidence_deg: float, n_water: float, attenuation_per_m: float, depth_m: float) -> float:
    """Share of a beam from the air that arrives at a depth: less what the surface mirrors and what its slanted path loses."""
    turned = refracted_deg(incidence_deg=incidence_deg, n1=AIR, n2=n_water)
    mirrored = surface_reflectance(incidence_deg=incidence_deg, n1=AIR, n2=n_water)
    return float((1 - mirrored) * np.exp(-attenuation_per_m * depth_m / cos(radians(turned))))
