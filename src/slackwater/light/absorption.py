"""How water takes light away: what pure water absorbs by wavelength, and what colour and dust add to it."""

from __future__ import annotations

from math import exp

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import check_range

Floats = NDArray[np.float64]

STEP_NM = 10
WAVELENGTHS_NM: Floats = np.arange(400.0, 701.0, STEP_NM)
PURE_WATER_PER_M: Floats = np.array(
    [
        *(0.00663, 0.00473, 0.00454, 0.00495, 0.00635, 0.00922, 0.00979, 0.0106, 0.0127, 0.0150),
        *(0.0204, 0.0325, 0.0409, 0.0434, 0.0474, 0.0565, 0.0619, 0.0695, 0.0896, 0.1351),
        *(0.2224, 0.2644, 0.2755, 0.2916, 0.3108, 0.340, 0.410, 0.439, 0.465, 0.516, 0.624),
    ]
)
"""Pope and Fry (1997), Applied Optics 36(33), 8710-8723. The rows of `references/light.csv` are printed values; those
between them are from memory."""
BANDS_NM: tuple[tuple[int, int], ...] = ((400, 450), (450, 500), (500, 550), (550, 600), (600, 650), (650, 700))
"""The bands that light is followed in; together they are what plants use (photosynthetically active radiation)."""
TINT_SLOPE_PER_NM = 0.014
"""Fall of the colour of dissolved plant matter with wavelength: Bricaud, Morel and Prieur (1981), Limnology and Oceanography
26(1), 43-53; from memory."""
WAY_M = 0.3
"""Over which the attenuation of a whole spectrum counts: the usual depth."""
GREY_PER_M = 0.2
"""The part of what a tank's water adds to pure water that is dust and takes all colours alike; the rest is tint. From memory."""


def pure_water_absorption_per_m(*, wavelength_nm: float) -> float:
    """Absorption of pure water, straight between the printed values.

    Parameters
    ----------
    wavelength_nm : float
        Wavelength in air [nm, 400 to 700].

    Returns
    -------
    float
        Absorption coefficient [1/m].

    Raises
    ------
    OutOfRange
        Beyond the table.

    References
    ----------
    Pope and Fry (1997), Applied Optics 36(33), 8710-8723, table 3.
    """
    check_range("wavelength_nm", wavelength_nm, 400, 700, unit="nm")
    return float(np.interp(wavelength_nm, WAVELENGTHS_NM, PURE_WATER_PER_M))


def transmission(*, depth_m: float, attenuation_per_m: float) -> float:
    """Share of light left after a path through water (Bouguer, Lambert and Beer).

    Raises
    ------
    OutOfRange
        For a depth outside 0 to 10 m, or an attenuation outside 0 to 1000 1/m.
    """
    check_range("depth_m", depth_m, 0, 10, unit="m")
    check_range("attenuation_per_m", attenuation_per_m, 0, 1000, unit="1/m")
    return exp(-attenuation_per_m * depth_m)


def pure_water_transmission(*, path_m: float) -> float:
    """Share of a flat photon spectrum from 400 to 700 nm left after a path through pure water, by trapezoids of 10 nm.

    Raises
    ------
    OutOfRange
        For a path outside 0 to 10 m.
    """
    check_range("path_m", path_m, 0, 10, unit="m")
    return float(np.trapezoid(np.exp(-PURE_WATER_PER_M * path_m), WAVELENGTHS_NM)) / 300


def _mean_by_band(values: Floats) -> Floats:
    """Mean over each band of what is known at the wavelengths of the table, by trapezoids."""
    found = []
    for low, high in BANDS_NM:
        first, last = (low - 400) // STEP_NM, (high - 400) // STEP_NM
        found.append(float(np.trapezoid(values[first : last + 1], WAVELENGTHS_NM[first : last + 1])) / (high - low))
    return np.array(found)


def attenuation_by_band_per_m(*, attenuation_per_m: float) -> Floats:
    """What a tank's water takes from each band.

    Parameters
    ----------
    attenuation_per_m : float
        Of a flat spectrum of 400 to 700 nm over its first 0.3 m [1/m, 0 to 100]; below that of pure water, it is pure water.

    Returns
    -------
    array
        Attenuation of each band of `BANDS_NM` [1/m].

    Raises
    ------
    OutOfRange
        For an attenuation outside the range.

    Notes
    -----
    Pure water, plus dust that takes all colours alike, plus as much tint, which takes most of the blue, as brings the
    whole to what was asked for. The whole counts over a way, because the colours that are left are lost more slowly.
    """
    check_range("attenuation_per_m", attenuation_per_m, 0, 100, unit="1/m")
    pure = _mean_by_band(PURE_WATER_PER_M)
    grey = pure + min(GREY_PER_M, max(0.0, attenuation_per_m - _over_the_way(pure)))
    shape = _mean_by_band(np.exp(-TINT_SLOPE_PER_NM * (WAVELENGTHS_NM - 440)))
    low, high = 0.0, 1e5
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if _over_the_way(grey + middle * shape) < attenuation_per_m else (low, middle)
    return np.asarray(grey + low * shape)


def _over_the_way(bands: Floats) -> float:
    """Attenuation of a flat spectrum over the first 0.3 m [1/m]."""
    return float(-np.log(np.exp(-bands * WAY_M).mean()) / WAY_M)
