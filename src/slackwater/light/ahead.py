"""The weeks ahead: leaves grow by the light they get, and take it from the bed below them."""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, tanh

from slackwater.errors import check_range

CANOPY_K = 0.7
"""Of Beer's law with leaf area; 0.6 to 0.8. From memory, after Monsi and Saeki (1953)."""
PLANTED_G_M2 = 20.0
"""Dry mass on the day of planting, 8 to 60 g/m²; from memory."""
LEAF_M2_PER_G = 0.03
"""Leaf area of dry mass of soft water plants; from memory."""
LARGEST_LEAF_AREA = 4.0
"""Where a dense stand is trimmed; from memory."""
LIGHT_IK = 60.0
"""Light at which growth begins to level off, 25 to 150 µmol/m²/s; tanh form of Jassby and Platt (1976); from memory."""
GROWTH_PER_D: Mapping[str, float] = {"slow": 0.008, "medium": 0.02, "fast": 0.035, "very fast": 0.06}
"""Relative growth with enough light and carbon dioxide; from memory."""
LAG_D = 7
"""Days in which moved plants stand still, 3 to 14; from memory."""


def below_canopy(*, light: float, leaf_area: float, k: float = CANOPY_K) -> float:
    """Light below leaves: Beer's law with the leaf area of the stand.

    Parameters
    ----------
    light : float
        Above [any unit].
    leaf_area : float
        Square metres of leaf for each of ground [0 to 20].
    k : float
        Extinction [0.2 to 1].
    """
    check_range("leaf_area", leaf_area, 0, 20, unit="")
    check_range("k", k, 0.2, 1, unit="")
    return light * exp(-k * leaf_area)


def leaf_area_after(*, days: float, growth_per_d: float, light_umol_m2_s: float, start: float | None = None) -> float:
    """Leaf area of a stand some days after planting.

    Parameters
    ----------
    days : float
        [0 to 3650]
    growth_per_d : float
        Relative growth with enough light [1/d, 0 to 0.5].
    light_umol_m2_s : float
        At the leaves, in the hours of light.
    start : float or None
        Leaf area on the day of planting; None: the usual.

    Notes
    -----
    Logistic from the start to where it is trimmed, after the days in which nothing grows; growth falls with the light
    as tanh(I / Ik).
    """
    check_range("days", days, 0, 3650, unit="d")
    check_range("growth_per_d", growth_per_d, 0, 0.5, unit="1/d")
    check_range("light_umol_m2_s", light_umol_m2_s, 0, 1e5, unit="umol/m2/s")
    first = PLANTED_G_M2 * LEAF_M2_PER_G if start is None else start
    check_range("start", first, 1e-6, LARGEST_LEAF_AREA, unit="")
    grown = growth_per_d * tanh(light_umol_m2_s / LIGHT_IK) * max(0.0, days - LAG_D)
    return LARGEST_LEAF_AREA / (1 + (LARGEST_LEAF_AREA / first - 1) * exp(-grown))
