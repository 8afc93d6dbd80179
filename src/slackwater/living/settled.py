"""Which members of the ensemble fit the tank as it was: a running filter leaves what the survey's readings found."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from slackwater.living.nitrogen import growth_ratio

FloatArray = NDArray[np.float64]
TAN_ERROR_MG_L, NITRITE_ERROR_MG_L = 0.15, 0.03
"""What a drop test may miss near nothing; common practice, no source."""
DRAWN_FOR_EACH = 8
"""Members drawn for each that is wanted."""


def left_by_filter_mg_l(
    drawn: Mapping[str, FloatArray], *, temp_c: float, oxygen_mg_l: float, alkalinity_meq_l: float, ph_factor: float
) -> tuple[FloatArray, FloatArray]:
    """Ammonium and nitrite at which both kinds of bacteria grow as fast as they decay [mg N/L]; infinite where they never do.

    Notes
    -----
    Monod growth in nitrogen, oxygen and alkalinity equal to decay: S = K b / (mu f - b).
    """
    first = growth_ratio(energy_kj_mol=drawn["activation_first_kj_mol"], temp_c=temp_c)
    second = growth_ratio(energy_kj_mol=drawn["activation_second_kj_mol"], temp_c=temp_c)
    decay_first, decay_second = drawn["decay_per_d"] * first, drawn["decay_per_d"] * second
    best_first = (
        drawn["growth_first_per_d"]
        * first
        * oxygen_mg_l
        / (drawn["half_oxygen_first_mg_l"] + oxygen_mg_l)
        * alkalinity_meq_l
        / (drawn["half_alkalinity_meq_l"] + alkalinity_meq_l)
        * ph_factor
    )
    best_second = drawn["growth_second_per_d"] * second * oxygen_mg_l / (drawn["half_oxygen_second_mg_l"] + oxygen_mg_l)

    def left(half: FloatArray, best: FloatArray, decay: FloatArray) -> FloatArray:
        spare = np.asarray(best - decay)
        return np.asarray(np.where(spare > 0, half * decay / np.where(spare > 0, spare, 1.0), np.inf))

    return (
        left(drawn["half_tan_mg_l"], best_first, decay_first),
        left(drawn["half_nitrite_mg_l"], best_second, decay_second),
    )


def fitting(
    drawn: Mapping[str, FloatArray],
    left_mg_l: tuple[FloatArray, FloatArray],
    *,
    wanted: int,
    tan_mg_l: float | None,
    nitrite_mg_l: float | None,
) -> tuple[dict[str, FloatArray], float]:
    """Members whose filter would leave no more than was found, and the share of all drawn that do.

    Parameters
    ----------
    drawn : mapping
        More members than are wanted.
    left_mg_l : tuple
        See ``left_by_filter_mg_l``.
    tan_mg_l, nitrite_mg_l : float or None
        Readings of the tank before the day; what was not tested tells nothing.

    Notes
    -----
    The priors stay as they are; members that contradict this tank's own readings are left out. If too few fit, those that
    come nearest are taken, so that there are always as many as wanted.
    """
    off = np.zeros(left_mg_l[0].size)
    for left, reading, error in zip(
        left_mg_l, (tan_mg_l, nitrite_mg_l), (TAN_ERROR_MG_L, NITRITE_ERROR_MG_L), strict=True
    ):
        if reading is not None:
            off = np.maximum(off, (np.minimum(left, 1e6) - reading) / error)
    fits = off <= 1.0
    order = np.concatenate([np.flatnonzero(fits), np.flatnonzero(~fits)[np.argsort(off[~fits], kind="stable")]])
    chosen = np.sort(order[:wanted])
    return {name: values[chosen] for name, values in drawn.items()}, float(fits.mean())
