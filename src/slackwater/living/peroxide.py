"""Peroxide: how much for a surface, how fast it goes, what is left; a strip always decides, not these numbers."""

from __future__ import annotations

from math import exp, log

from slackwater.errors import OutOfRange, check_range

OXYGEN_RELEASED = 15.999 / 34.014
"""Oxygen set free per peroxide, 2 H2O2 -> 2 H2O + O2 [g/g]."""
BATH_LOW_MG_L, BATH_HIGH_MG_L = 50.0, 100.0
"""Baths against bacterial gill disease in salmonids, 30 to 60 min; Mitchell (1998), USDA-ARS review."""
EGG_BATH_HIGH_MG_L = 250.0
"""On eggs, 50 to 250 mg/L up to 60 min; Mitchell (1998)."""
LC50_WALLEYE_MG_L, LC50_CATFISH_MG_L = 178.0, 2010.0
"""Most and least sensitive cultured fish; Mitchell (1998)."""


SPRAY_L_PER_M2 = 0.1
"""Wets glass; order list, 100 to 250 mL for a tank of 200 L, common practice."""


def spray_l(*, area_m2: float) -> float:
    """Working strength that wets drained glass [L, m2]."""
    return SPRAY_L_PER_M2 * area_m2


def residual_mg_l(*, start_mg_l: float, decay_per_h: float, hours: float) -> float:
    """What is left after some hours of first-order decay [mg/L]."""
    return start_mg_l * exp(-decay_per_h * hours)


def half_life_h(*, decay_per_h: float) -> float:
    """Hours in which half of it goes [1/h more than 0]."""
    check_range("decay_per_h", decay_per_h, 1e-9, 1e3, unit="1/h")
    return log(2) / decay_per_h


def hours_to_mg_l(*, start_mg_l: float, goal_mg_l: float, decay_per_h: float) -> float:
    """Hours until a concentration has fallen to the goal; 0 if it is there already."""
    if not goal_mg_l > 0:
        raise OutOfRange(f"goal_mg_l is {goal_mg_l:g} mg/L, expected more than 0")
    return max(0.0, log(max(start_mg_l, 1e-30) / goal_mg_l)) / decay_per_h


def stock_ml(*, goal_mg_l: float, volume_l: float, percent_by_weight: float, density_kg_l: float = 1.01) -> float:
    """Stock solution for a bath of that strength [mL]; volumes taken as adding up."""
    check_range("percent_by_weight", percent_by_weight, 0.1, 70, unit="%")
    return goal_mg_l * volume_l / (percent_by_weight / 100 * density_kg_l * 1000)


def oxygen_released_mg_l(*, peroxide_mg_l: float) -> float:
    """Oxygen that a strength of peroxide sets free [mg/L]: far over saturation in any bath, so vent it."""
    return peroxide_mg_l * OXYGEN_RELEASED
