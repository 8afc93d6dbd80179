"""Total and un-ionised ammonia, and the public limits that are written in terms of them."""

from __future__ import annotations

import numpy as np

from slackwater.errors import check_range
from slackwater.water.composition import Values, as_given
from slackwater.water.equilibria import log_k
from slackwater.water.salts import ATOMIC_WEIGHT, molar_mass_g_mol

UNIONISED_LIMIT_MG_NH3_L = 0.025
"""Imperative value for waters that support fish; Council Directive 2006/44/EC, annex I."""
NITRITE_GUIDE_CYPRINID_MG_NO2_L = 0.03
"""Guide value, cyprinid waters; Council Directive 78/659/EEC (2006/44/EC), annex I."""


def pka(*, temp_c: Values) -> Values:
    """Acidity constant pKa of ammonium, temp_c in [0, 40]; Emerson et al. (1975), J. Fish. Res. Board Can. 32:2379-2383."""
    return as_given(-log_k("nh4", temp_c=np.asarray(temp_c, dtype=float)))


def unionised_fraction(*, ph: Values, temp_c: Values) -> Values:
    """Share of TAN that is NH3, without activities: as limits are written. For a real water see ``speciation``."""
    return as_given(np.asarray(1 / (1 + 10 ** (np.asarray(pka(temp_c=temp_c)) - np.asarray(ph, dtype=float)))))


def nitrogen_mg_l(*, formula: str, mg_l: float) -> float:
    """Nitrogen in a concentration of NH4, NH3, NO2 or NO3 [mg N/L]."""
    return mg_l * ATOMIC_WEIGHT["N"] / molar_mass_g_mol(formula)


def _s_curve(ph: Values, midpoint: float, low: float, high: float) -> Values:
    ph = np.asarray(ph, dtype=float)
    return low / (1 + 10 ** (midpoint - ph)) + high / (1 + 10 ** (ph - midpoint))


def acute_2013_mg_l(*, ph: Values, temp_c: Values, salmonids: bool = False) -> Values:
    """One-hour limit of TAN, mussels and gill snails counted in [mg N/L]; half of what kills half of the most sensitive.

    Arrays are held within ph [6, 9.5] and temp_c [0, 40]; single values beyond are refused.

    References
    ----------
    US EPA (2013), Aquatic life ambient water quality criteria for ammonia - freshwater, EPA 822-R-13-001.
    """
    if np.ndim(ph) == 0 and np.ndim(temp_c) == 0:
        check_range("ph", float(np.asarray(ph)), 6, 9.5, unit="")
        check_range("temp_c", float(np.asarray(temp_c)), 0, 40, unit="°C")
    ph, temp_c = np.clip(ph, 6, 9.5), np.clip(temp_c, 0, 40)
    warm = 23.12 * 10 ** (0.036 * (20 - temp_c))
    mussels = 0.7249 * _s_curve(ph, 7.204, 0.0114, 1.6181) * (warm if salmonids else np.minimum(51.93, warm))
    return as_given(np.minimum(_s_curve(ph, 7.204, 0.275, 39.0), mussels) if salmonids else mussels)


def chronic_2013_mg_l(*, ph: float, temp_c: float) -> float:
    """30-day mean limit of TAN [mg N/L]; US EPA (2013), 822-R-13-001. No four-day mean above 2.5 times it."""
    check_range("ph", ph, 6, 9.5, unit="")
    check_range("temp_c", temp_c, 0, 40, unit="°C")
    return float(0.8876 * _s_curve(ph, 7.688, 0.0278, 1.1994) * 2.126 * 10 ** (0.028 * (20 - max(temp_c, 7))))


def chronic_1999_mg_l(*, ph: float, temp_c: float) -> float:
    """30-day mean limit set by fish, young fish present [mg N/L]; US EPA (1999), EPA 822-R-99-014."""
    check_range("ph", ph, 6, 9.5, unit="")
    return float(_s_curve(ph, 7.688, 0.0577, 2.487)) * min(2.85, 1.45 * 10 ** (0.028 * (25 - temp_c)))


def acute_1999_mg_l(*, ph: float) -> float:
    """One-hour limit set by fish other than salmonids [mg N/L]; US EPA (1999), EPA 822-R-99-014."""
    check_range("ph", ph, 6, 9.5, unit="")
    return float(_s_curve(ph, 7.204, 0.411, 58.4))
