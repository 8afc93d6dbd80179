"""How much two hands should lift: the revised NIOSH equation with its tables of multipliers."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from typing import Literal

from slackwater.errors import OutOfRange, check_range

Coupling = Literal["good", "fair", "poor"]
Duration = Literal["<=1h", "1-2h", "2-8h"]

LOAD_CONSTANT_KG = 23.0
_RATES = (0.2, 0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 14.0, 15.0)
# Frequency multiplier by duration, for the hands below and at or above 75 cm; zero: no lifting at this rate.
# Waters, Putz-Anderson and Garg (1994), Applications Manual, NIOSH 94-110, table 5.
_FREQUENCY: Mapping[tuple[Duration, bool], tuple[float, ...]] = {
    ("<=1h", False): (1.0, 0.97, 0.94, 0.91, 0.88, 0.84, 0.80, 0.75, 0.70, 0.60, 0.52, 0.45, 0.41, 0.37, 0, 0, 0),
    ("<=1h", True): (
        1.0,
        0.97,
        0.94,
        0.91,
        0.88,
        0.84,
        0.80,
        0.75,
        0.70,
        0.60,
        0.52,
        0.45,
        0.41,
        0.37,
        0.34,
        0.31,
        0.28,
    ),
    ("1-2h", False): (0.95, 0.92, 0.88, 0.84, 0.79, 0.72, 0.60, 0.50, 0.42, 0.35, 0.30, 0.26, 0, 0, 0, 0, 0),
    ("1-2h", True): (0.95, 0.92, 0.88, 0.84, 0.79, 0.72, 0.60, 0.50, 0.42, 0.35, 0.30, 0.26, 0.23, 0.21, 0, 0, 0),
    ("2-8h", False): (0.85, 0.81, 0.75, 0.65, 0.55, 0.45, 0.35, 0.27, 0.22, 0.18, 0, 0, 0, 0, 0, 0, 0),
    ("2-8h", True): (0.85, 0.81, 0.75, 0.65, 0.55, 0.45, 0.35, 0.27, 0.22, 0.18, 0.15, 0.13, 0, 0, 0, 0, 0),
}
_COUPLING: Mapping[tuple[Coupling, bool], float] = {
    ("good", False): 1.0,
    ("good", True): 1.0,
    ("fair", False): 0.95,
    ("fair", True): 1.0,
    ("poor", False): 0.90,
    ("poor", True): 0.90,
}


def frequency_multiplier(*, lifts_per_min: float, duration: Duration, at_or_above_75_cm: bool) -> float:
    """Multiplier for how often and how long; between table rates linear.

    Raises
    ------
    OutOfRange
        Above 15 lifts a minute; at or below 0.2 the first row holds.
    """
    check_range("lifts_per_min", lifts_per_min, 0, 15, unit="1/min")
    table = _FREQUENCY[duration, at_or_above_75_cm]
    if lifts_per_min <= _RATES[0]:
        return table[0]
    right = min(bisect_right(_RATES, lifts_per_min), len(_RATES) - 1)
    share = (lifts_per_min - _RATES[right - 1]) / (_RATES[right] - _RATES[right - 1])
    return table[right - 1] * (1 - share) + table[right] * share


def recommended_weight_kg(
    *,
    hand_distance_cm: float,
    hand_height_cm: float,
    travel_cm: float,
    asymmetry_deg: float,
    lifts_per_min: float,
    duration: Duration,
    coupling: Coupling,
) -> float:
    """Recommended weight limit for a smooth lift with two hands.

    Parameters
    ----------
    hand_distance_cm : float
        From the ankles' mid-point to the hands [up to 63; nearer than 25 counts as 25].
    hand_height_cm : float
        Hands at the start of the lift, above the floor [0 to 175].
    travel_cm : float
        Up or down [up to 175; less than 25 counts as 25].
    asymmetry_deg : float
        Turn of the body [0 to 135].
    lifts_per_min, duration, coupling
        How often, for how long, how good the grip.

    Returns
    -------
    float
        [kg, at most 23]. Not for wet hands, one hand, carrying, stairs or moving water.

    References
    ----------
    Waters, Putz-Anderson and Garg (1994, revised 2021), NIOSH publication 94-110.
    """
    if hand_distance_cm > 63:
        raise OutOfRange(f"hand_distance_cm is {hand_distance_cm:g} cm; beyond 63 cm the method allows no load")
    check_range("hand_height_cm", hand_height_cm, 0, 175, unit="cm")
    check_range("travel_cm", travel_cm, 0, 175, unit="cm")
    check_range("asymmetry_deg", asymmetry_deg, 0, 135, unit="degrees")
    high = hand_height_cm >= 75
    return (
        LOAD_CONSTANT_KG
        * (25 / max(25.0, hand_distance_cm))
        * (1 - 0.003 * abs(hand_height_cm - 75))
        * (0.82 + 4.5 / max(25.0, travel_cm))
        * (1 - 0.0032 * asymmetry_deg)
        * frequency_multiplier(lifts_per_min=lifts_per_min, duration=duration, at_or_above_75_cm=high)
        * _COUPLING[coupling, high]
    )


def lifting_index(*, load_kg: float, recommended_kg: float) -> float:
    """Load over recommended weight: look again above 1, do not lift above 2."""
    return load_kg / recommended_kg
