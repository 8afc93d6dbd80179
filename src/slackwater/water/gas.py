"""Oxygen and carbon dioxide between water and air: saturation, and exchange over time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from slackwater.errors import check_range
from slackwater.water.composition import FloatArray, Values, as_given
from slackwater.water.equilibria import ZERO_C_K, log_k
from slackwater.water.speciation import CO2_G_MOL, Speciation, speciate_at_co2, speciate_at_pco2

ROOM_CO2_ATM = 700e-6
"""Carbon dioxide of occupied rooms, 450 to 1500 ppm; outdoors 420 ppm. From memory."""
TRANSFER_PER_KELVIN = 1.024
"""Growth of the transfer coefficient per kelvin; ASCE 2-06 (clean water tests), from memory."""
CO2_TO_OXYGEN = 0.90
"""Transfer of carbon dioxide relative to oxygen, 0.75 to 1.0: the root of the diffusivities; from memory."""


@dataclass(frozen=True)
class Surface:
    """How fast oxygen passes a surface at 20 C [1/h]: low, typical, high."""

    low_per_h: float
    typical_per_h: float
    high_per_h: float


SURFACES: Mapping[str, Surface] = {
    "still_box": Surface(0.03, 0.07, 0.15),
    "ripple": Surface(0.2, 0.5, 1.5),
    "airstone": Surface(1.0, 2.5, 6.0),
    "calm_tank": Surface(0.07, 0.15, 0.4),
    "skimmed_tank": Surface(0.3, 0.6, 1.5),
}
"""A still box 0.3 m deep; a small pump's ripple; one airstone of 1 to 2 L/min in 20 to 50 L; a planted tank with a calm
surface; one with its film drawn off. All from memory; measure by the rise of a meter's reading."""


def pressure_at_altitude_atm(*, altitude_m: float) -> float:
    """Air pressure of the standard atmosphere, altitude_m in [-500, 9000] [atm]; ISO 2533, from memory."""
    check_range("altitude_m", altitude_m, -500, 9000, unit="m")
    return float((1 - 2.25577e-5 * altitude_m) ** 5.25588)


def oxygen_saturation_mg_l(*, temp_c: Values, pressure_atm: Values = 1.0) -> Values:
    """Oxygen in fresh water in balance with moist air, temp_c in [0, 40], pressure_atm in [0.5, 1.1] [mg/L].

    References
    ----------
    Benson and Krause (1984), Limnol. Oceanogr. 29:620-632, as in Standard Methods 4500-O and USGS memo 2011.03.
    """
    temp, pressure = np.asarray(temp_c, dtype=float), np.asarray(pressure_atm, dtype=float)
    check_range("temp_c", float(np.min(temp)), 0, 40, unit="°C")
    check_range("temp_c", float(np.max(temp)), 0, 40, unit="°C")
    check_range("pressure_atm", float(np.min(pressure)), 0.5, 1.1, unit="atm")
    check_range("pressure_atm", float(np.max(pressure)), 0.5, 1.1, unit="atm")
    kelvin = temp + ZERO_C_K
    at_sea = np.exp(
        -139.34411 + 1.575701e5 / kelvin - 6.642308e7 / kelvin**2 + 1.243800e10 / kelvin**3 - 8.621949e11 / kelvin**4
    )
    vapour = np.exp(11.8571 - 3840.70 / kelvin - 216961 / kelvin**2)
    theta = 0.000975 - 1.426e-5 * temp + 6.436e-8 * temp**2
    factor = pressure * (1 - vapour / pressure) * (1 - theta * pressure) / ((1 - vapour) * (1 - theta))
    return as_given(np.asarray(at_sea * factor))


def co2_at_balance_mg_l(*, temp_c: Values, pco2_atm: Values) -> Values:
    """Carbon dioxide of a dilute water in balance with air [mg/L]; Plummer and Busenberg (1982)."""
    henry = 10 ** log_k("co2_gas", temp_c=np.asarray(temp_c, dtype=float))
    return as_given(np.asarray(henry * np.asarray(pco2_atm, dtype=float) * CO2_G_MOL * 1000))


def transfer_per_h(*, at_20_c_per_h: float, temp_c: float) -> float:
    """Transfer coefficient at another temperature [1/h]."""
    return float(at_20_c_per_h * TRANSFER_PER_KELVIN ** (temp_c - 20))


NEARLY = 1e-4
"""Share of the first gap in carbon dioxide at which the balance counts as reached."""


@dataclass(frozen=True)
class Exchange:
    """A water on its way to balance with the air: arrays over time, the last row within ``NEARLY`` of the balance."""

    hours: FloatArray
    ph: FloatArray
    co2_mg_l: FloatArray
    balance: Speciation

    def ph_after(self, hours: float) -> float:
        """The pH after some hours; past the end that of the balance."""
        return float(np.interp(hours, self.hours, self.ph, right=float(np.asarray(self.balance.ph))))

    def hours_to_ph(self, ph: float) -> float | None:
        """When the pH is reached; None where it never is."""
        rising = self.ph if self.ph[-1] >= self.ph[0] else -self.ph
        wanted = ph if self.ph[-1] >= self.ph[0] else -ph
        if not rising[0] <= wanted <= rising[-1]:
            return None
        return float(np.interp(wanted, rising, self.hours))


def exchange(now: Speciation, *, oxygen_transfer_20_c_per_h: float, pco2_air_atm: float = ROOM_CO2_ATM) -> Exchange:
    """A single water giving off, or taking up, carbon dioxide through its surface.

    Parameters
    ----------
    now : Speciation
        The water at the start.
    oxygen_transfer_20_c_per_h : float
        See ``SURFACES`` [more than 0].
    pco2_air_atm : float
        Of the room.

    Notes
    -----
    d(carbon)/dt = -k (CO2 - CO2 in balance), alkalinity constant. The carbon is a function of CO2, so time is an
    integral over ln|CO2 - balance|, taken by the trapezoid rule on 400 points.
    """
    check_range("oxygen_transfer_20_c_per_h", oxygen_transfer_20_c_per_h, 1e-6, 1000, unit="1/h")
    temp_c = float(np.asarray(now.water.temp_c))
    k = transfer_per_h(at_20_c_per_h=oxygen_transfer_20_c_per_h, temp_c=temp_c) * CO2_TO_OXYGEN
    balance = speciate_at_pco2(now.water, pco2_atm=pco2_air_atm)
    end = float(np.asarray(balance.co2_mg_l))
    gap = float(np.asarray(now.co2_mg_l)) - end
    log_gap = np.linspace(0.0, np.log(NEARLY), 400)
    path = speciate_at_co2(replace(now.water, carbon_mmol_l=0.0), co2_mg_l=end + gap * np.exp(log_gap))
    co2, carbon = np.asarray(path.co2_mmol_l), np.asarray(path.water.carbon_mmol_l)
    if abs(gap) < 1e-6 * end + 1e-12:
        hours = np.zeros_like(log_gap)
    else:
        per_co2 = np.gradient(carbon, co2)
        hours = np.concatenate(([0.0], np.cumsum(0.5 * (per_co2[1:] + per_co2[:-1]) * -np.diff(log_gap)))) / k
    return Exchange(hours=hours, ph=np.asarray(path.ph), co2_mg_l=np.asarray(path.co2_mg_l), balance=balance)
