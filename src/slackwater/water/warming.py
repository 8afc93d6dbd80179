"""Warming a barrel of water with a heater against the loss to the room."""

from __future__ import annotations

from math import log

from slackwater.errors import check_range
from slackwater.tank.fluid import specific_heat_kj_kg_k as specific_heat


def heating_hours(
    *,
    water_kg: float,
    from_c: float,
    to_c: float,
    heater_w: float,
    loss_w_per_k: float = 0.0,
    room_c: float = 20.0,
    specific_heat_kj_kg_k: float | None = None,
) -> float | None:
    """Hours until a barrel is at temperature; None if the heater never gets there.

    Parameters
    ----------
    water_kg, from_c, to_c : float
        Mass of water [kg] and its temperatures [0 to 45 C].
    heater_w : float
        Power [W].
    loss_w_per_k, room_c : float
        Heat loss per degree over the room [W/K], room temperature [C].
    specific_heat_kj_kg_k : float or None
        Of the water; by default that of its mean temperature.

    Notes
    -----
    m c dT/dt = P - UA (T - room), solved exactly; without loss m c (to - from) / P.
    """
    for name, temp in (("from_c", from_c), ("to_c", to_c)):
        check_range(name, temp, 0, 45, unit="°C")
    if to_c <= from_c:
        return 0.0
    if specific_heat_kj_kg_k is None:
        specific_heat_kj_kg_k = specific_heat(temp_c=min(40.0, (from_c + to_c) / 2))
    capacity_wh_k = water_kg * specific_heat_kj_kg_k / 3.6
    if loss_w_per_k == 0:
        return capacity_wh_k * (to_c - from_c) / heater_w if heater_w > 0 else None
    steady_c = room_c + heater_w / loss_w_per_k
    if steady_c <= to_c:
        return None
    return capacity_wh_k / loss_w_per_k * log((steady_c - from_c) / (steady_c - to_c))


def heat_kwh(*, water_kg: float, from_c: float, to_c: float) -> float:
    """Heat that goes into the water itself [kWh]."""
    return water_kg * specific_heat(temp_c=min(40.0, (from_c + to_c) / 2)) * max(0.0, to_c - from_c) / 3600
