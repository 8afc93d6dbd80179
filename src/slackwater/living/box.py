"""A holding box in closed form: what constant respiration, airing and heat loss make of it."""

from __future__ import annotations

from math import exp, expm1, inf, log

from slackwater.errors import check_range


def oxygen_mg_l(
    *, start_mg_l: float, saturation_mg_l: float, transfer_per_h: float, use_mg_h: float, volume_l: float, hours: float
) -> float:
    """Oxygen of a well-mixed box after some hours of constant use [mg/L]; may fall below 0, which means it ran out before.

    Notes
    -----
    dC/dt = k (Cs - C) - R/V: C = C0 exp(-k t) + (k Cs - R/V) (1 - exp(-k t))/k; without airing a straight line.
    """
    check_range("volume_l", volume_l, 1e-3, 1e5, unit="L")
    # Below that airing is none; dividing by it would lose all digits.
    span = hours if transfer_per_h * hours < 1e-12 else -expm1(-transfer_per_h * hours) / transfer_per_h
    gain = transfer_per_h * saturation_mg_l - use_mg_h / volume_l
    return start_mg_l * exp(-transfer_per_h * hours) + gain * span


def cooled_c(
    *,
    start_c: float,
    room_c: float,
    loss_w_per_k: float,
    water_kg: float,
    hours: float,
    specific_heat_kj_kg_k: float = 4.18,
) -> float:
    """Temperature of a box that cools towards the room [C]; Newton's law, exact."""
    check_range("water_kg", water_kg, 1e-3, 1e5, unit="kg")
    per_h = 3.6 * loss_w_per_k / (water_kg * specific_heat_kj_kg_k)
    return room_c + (start_c - room_c) * exp(-per_h * hours)


def hours_to_drift(
    *,
    start_c: float,
    room_c: float,
    loss_w_per_k: float,
    water_kg: float,
    drift_k: float,
    specific_heat_kj_kg_k: float = 4.18,
) -> float:
    """Hours until a box has drifted so far towards the room; infinite where the room is no further away.

    Notes
    -----
    Newton's law turned round: t = ln(D / (D - drift)) / k, with D the distance to the room and k as in ``cooled_c``.
    """
    check_range("water_kg", water_kg, 1e-3, 1e5, unit="kg")
    away_k = abs(start_c - room_c)
    if away_k <= drift_k or loss_w_per_k <= 0:
        return inf
    return log(away_k / (away_k - drift_k)) * water_kg * specific_heat_kj_kg_k / (3.6 * loss_w_per_k)
