"""Salts going into solution: how long gypsum takes, and when lime comes out again."""

from __future__ import annotations

from math import log

from slackwater.errors import check_range
from slackwater.tank.fluid import viscosity_mpa_s
from slackwater.water.equilibria import ZERO_C_K

GYPSUM_MINUTES = (10.0, 30.0, 60.0)
"""Low, typical, high until the last grain is gone, stirred, 25 C, tank doses; from memory."""
GYPSUM_SOLUBILITY_G_L = 2.4
"""At 20 C, nearly the same from 10 to 40 C; handbook value, from memory."""
SCALE_WARNING_SI = 0.5
"""Saturation index of calcite at which a water clouds or scales heaters; common practice, no source."""


def gypsum_minutes(*, temp_c: float, dose_g_l: float) -> tuple[float, float, float] | None:
    """Low, typical and high minutes until gypsum has dissolved; None above its solubility.

    Parameters
    ----------
    temp_c : float
        Of the water [0 to 40 C].
    dose_g_l : float
        Gypsum counted with that already dissolved [g/L].

    Notes
    -----
    Diffusion decides: times scale with viscosity over absolute temperature (Stokes and Einstein) and with the mean
    under-saturation, the log mean of that at the start and at the end.
    """
    check_range("temp_c", temp_c, 0, 40, unit="°C")
    left = 1 - dose_g_l / GYPSUM_SOLUBILITY_G_L
    if left <= 0:
        return None
    slower = viscosity_mpa_s(temp_c=temp_c) / viscosity_mpa_s(temp_c=25) * (25 + ZERO_C_K) / (temp_c + ZERO_C_K)
    crowded = 1.0 if dose_g_l < 1e-9 else -log(left) / (1 - left)
    low, typical, high = (minutes * slower * crowded for minutes in GYPSUM_MINUTES)
    return low, typical, high
