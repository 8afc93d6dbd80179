"""The filter on the day: oxygen in a shut canister, activity that is left, how long until it works again."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import OutOfRange, check_range
from slackwater.living.nitrogen import OXYGEN_BOTH_STEPS

Values = float | NDArray[np.float64]


def hours_to_oxygen(*, start_mg_l: Values, end_mg_l: Values, uptake_mg_l_h: Values, half_mg_l: Values) -> Values:
    """Hours until the oxygen of a shut canister has fallen from start to end.

    Parameters
    ----------
    start_mg_l, end_mg_l : float or array
        Oxygen in its pore water; end above 0 and below start.
    uptake_mg_l_h : float or array
        Largest uptake per litre of pore water [mg/(L h)].
    half_mg_l : float or array
        Oxygen at which uptake is half of that.

    Notes
    -----
    dC/dt = -R C/(K + C), closed form t = ((C0 - C1) + K ln(C0/C1))/R.
    """
    start, end = np.asarray(start_mg_l, dtype=float), np.asarray(end_mg_l, dtype=float)
    if np.any(end <= 0) or np.any(end > start):
        raise OutOfRange("end_mg_l must be more than 0 and at most start_mg_l")
    found = ((start - end) + half_mg_l * np.log(start / end)) / np.asarray(uptake_mg_l_h, dtype=float)
    return float(found) if found.ndim == 0 else found


def largest_uptake_mg_l_h(*, nitrification_mg_n_h: float, heterotroph_mg_h: float, pore_l: float) -> float:
    """Upper bound of the oxygen uptake of media per litre of pore water [mg/(L h)]."""
    check_range("pore_l", pore_l, 1e-3, 1e4, unit="L")
    return (OXYGEN_BOTH_STEPS * nitrification_mg_n_h + heterotroph_mg_h) / pore_l


def remaining_share(*, decay_per_d: Values, days: Values) -> Values:
    """Activity left after some days of one decay rate [1/d]; exponential, Siegrist et al. (1999)."""
    found = np.exp(-np.asarray(decay_per_d, dtype=float) * np.asarray(days, dtype=float))
    return float(found) if found.ndim == 0 else found
