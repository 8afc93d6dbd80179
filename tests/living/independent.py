"""An independent reference for the living models, typed from the science notes (sections 3, 4, 5, 7) alone."""

from __future__ import annotations

from collections.abc import Callable
from math import exp

import numpy as np
from scipy.integrate import solve_ivp

MASS_N = 14.007  # g/mol
MASS_O2 = 31.998  # g/mol
GAS = 8.314462618  # J/mol/K, that is kPa L/mol/K
ATM = 101.325  # kPa
ROOM_O2 = 0.2095  # mole fraction of oxygen in open room air

TWO_STEP = ("N_soil", "TAN", "NO2", "NO3", "X_A", "X_N", "ALK")
BOX = ("O2", "O2_air", "TAN", "T")


def _advance(slope: Callable[[float, np.ndarray], list[float]], y: np.ndarray, start: float, end: float) -> np.ndarray:
    """The state at `end`; every reported time is a true end of a step, never an interpolation."""
    if end == start:
        return y
    done = solve_ivp(slope, (start, end), y, method="Radau", rtol=1e-10, atol=1e-12)
    if not done.success:
        raise RuntimeError(done.message)
    return np.asarray(done.y[:, -1], dtype=float)


def _lists(names: tuple[str, ...], rows: list[np.ndarray]) -> dict[str, list[float]]:
    return {name: [float(row[i]) for row in rows] for i, name in enumerate(names)}


def f_ph(ph: float) -> float:
    """Share of the first step's rate: 1 above pH 7, linear to 0.3 at 6 and 0.1 at 5.5, level below."""
    if ph >= 7.0:
        return 1.0
    if ph >= 6.0:
        return 0.3 + 0.7 * (ph - 6.0)
    if ph >= 5.5:
        return 0.1 + 0.4 * (ph - 5.5)
    return 0.1


def two_step(
    p: dict[str, float],
    y0: dict[str, float],
    days: list[float],
    changes: list[tuple[float, float, dict[str, float]]],
    ph: Callable[[float], float] | None = None,
) -> dict[str, list[float]]:
    """The restart nitrogen model: soil and animals feed TAN, two steps of growth pass it to NO2 and NO3.

    `ph` gives the pH at an alkalinity; without it the first step does not feel acid.
    """

    def slope(_t: float, y: np.ndarray) -> list[float]:
        soil, tan, no2, _no3, x_a, x_n, alk = y
        grow_a = p["muA"] * tan / (p["KA"] + tan) * p["O2"] / (p["KOA"] + p["O2"]) * alk / (p["KALK"] + alk) * x_a
        if ph is not None:
            grow_a *= f_ph(ph(max(alk, 0.0)))
        grow_n = p["muN"] * no2 / (p["KN"] + no2) * p["O2"] / (p["KON"] + p["O2"]) * x_n
        step_one = grow_a / p["YA"]  # mg N/L/d, TAN to NO2
        step_two = grow_n / p["YN"]  # mg N/L/d, NO2 to NO3
        release = p["k_soil"] * soil  # mg N/d
        return [
            -release,
            release / p["V"] + p["S"] - step_one,
            step_one - step_two,
            step_two,
            grow_a - p["bA"] * x_a,
            grow_n - p["bN"] * x_n,
            -2.0 / MASS_N * step_one + 1.0 / MASS_N * p["S"],
        ]

    y = np.array([y0[name] for name in TWO_STEP], dtype=float)
    now = days[0]
    pending = sorted((c for c in changes if c[0] >= now), key=lambda c: c[0])
    rows = []
    for day in days:
        while pending and pending[0][0] <= day:
            when, fraction, new_water = pending.pop(0)
            y = _advance(slope, y, now, when).copy()
            now = when
            for name in ("TAN", "NO2", "NO3", "ALK"):
                i = TWO_STEP.index(name)
                y[i] = y[i] * (1.0 - fraction) + fraction * new_water[name]
        y = _advance(slope, y, now, day)
        now = day
        rows.append(y)
    return _lists(TWO_STEP, rows)


def saturation(celsius: float) -> float:
    """Oxygen in fresh water under air at 1 atm, mg/L (Benson & Krause 1984)."""
    k = celsius + 273.15
    return exp(-139.34411 + 1.575701e5 / k - 6.642308e7 / k**2 + 1.2438e10 / k**3 - 8.621949e11 / k**4)


def box(p: dict[str, float], y0: dict[str, float], hours: list[float]) -> dict[str, list[float]]:
    """A holding box under a closed lid, or under open room air when `V_head` is 0."""
    closed = p["V_head"] > 0

    def slope(t: float, y: np.ndarray) -> list[float]:
        o2, air, _tan, celsius = y
        used = p["R0"] * (p["routine"] + (p["capture"] - p["routine"]) * exp(-t / p["decay_h"]))  # mg O2/h
        k_la = p["kLa20"] * p["theta"] ** (celsius - 20.0)
        dissolving = k_la * (saturation(celsius) * air / ROOM_O2 - o2)  # mg/L/h
        air_slope = 0.0
        if closed:
            moles = ATM * p["V_head"] / (GAS * (celsius + 273.15))
            air_slope = -dissolving * p["V"] / 1000.0 / MASS_O2 / moles
        return [
            dissolving - used / p["V"],
            air_slope,
            p["AQ"] * used / MASS_O2 * MASS_N / p["V"],
            p["UA"] * 3600.0 * (p["T_room"] - celsius) / (p["V"] * 1000.0 * p["cp"]),
        ]

    y = np.array([y0[name] for name in BOX], dtype=float)
    if not closed:
        y[BOX.index("O2_air")] = ROOM_O2
    now = hours[0]
    rows = []
    for hour in hours:
        y = _advance(slope, y, now, hour)
        now = hour
        rows.append(y)
    return _lists(BOX, rows)
