"""What animals take up and give off: oxygen, ammonia, carbon dioxide, by kind, mass, temperature and stress."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Values = float | FloatArray
O2_G_MOL = 31.998
N_G_MOL = 14.007
FISH_MASS_EXPONENT = 0.80
SHRIMP_OXYGEN_EXPONENT, SHRIMP_AMMONIA_EXPONENT = -0.24, -0.30
SHRIMP_MEAN_MASS_G = 0.6
"""Geometric middle of the shrimp measured, 0.12 to 1.93 g."""


def fish_resting_oxygen_mg_h(*, mass_g: Values, temp_c: Values) -> Values:
    """Oxygen that a resting fish uses, mass_g more than 0, temp_c in [0, 35] [mg/h].

    References
    ----------
    Clarke and Johnston (1999), J. Anim. Ecol. 68:893-905: for 50 g ln R = 15.7 - 5020/T (mmol/h), mass exponent 0.80. Most
    of the data lie above 1 g.
    """
    kelvin = np.asarray(temp_c, dtype=float) + 273.15
    rate = np.exp(15.7 - 5020 / kelvin) * (np.asarray(mass_g, dtype=float) / 50) ** FISH_MASS_EXPONENT * O2_G_MOL
    return float(rate) if rate.ndim == 0 else rate


def fish_oxygen_over_all_mmol_h(*, mass_g: float) -> float:
    """The same source's mean over all species and temperatures [mmol/h]."""
    return float(np.exp(0.80 * np.log(mass_g) - 5.43))


def shrimp_oxygen_mg_g_h(*, temp_c: Values, mass_g: Values = SHRIMP_MEAN_MASS_G) -> Values:
    """Oxygen use of freshwater shrimp per live mass, temp_c in [12, 30], mass_g in [0.1, 2] [mg/(g h)].

    References
    ----------
    Liu et al. (2010), Chin. J. Ecology, doi 10.13292/j.1000-4890.2010.0162; mass exponent -0.24.
    """
    mass = np.asarray(mass_g, dtype=float) / SHRIMP_MEAN_MASS_G
    rate = 0.0711 * np.exp(0.0749 * np.asarray(temp_c, dtype=float)) * mass**SHRIMP_OXYGEN_EXPONENT
    return float(rate) if rate.ndim == 0 else rate


def shrimp_ammonia_mg_g_h(*, temp_c: Values, mass_g: Values = SHRIMP_MEAN_MASS_G) -> Values:
    """Ammonia given off by freshwater shrimp per live mass [mg/(g h)]; as ``shrimp_oxygen_mg_g_h``, exponent -0.30."""
    mass = np.asarray(mass_g, dtype=float) / SHRIMP_MEAN_MASS_G
    rate = 0.0113 * np.exp(0.0530 * np.asarray(temp_c, dtype=float)) * mass**SHRIMP_AMMONIA_EXPONENT
    return float(rate) if rate.ndim == 0 else rate


def excited(*, hours: Values, routine: Values, capture: Values, decay_h: Values) -> Values:
    """Oxygen use against rest, some hours after capture: from the capture factor down to routine."""
    hour = np.maximum(np.asarray(hours, dtype=float), 0.0)
    found = routine + (np.asarray(capture) - routine) * np.exp(-hour / np.asarray(decay_h, dtype=float))
    return float(found) if np.ndim(found) == 0 else np.asarray(found)


def tan_of_feed_g(*, feed_g: float, protein_share: float, per_protein: float = 0.092) -> float:
    """Ammonia nitrogen that comes of feed [g N]; Timmons and Ebeling, from memory: 0.092 x protein x feed."""
    return feed_g * protein_share * per_protein
