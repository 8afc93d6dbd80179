"""Making and warming the new water as a time course, with the chance that it comes short and what would cure it."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, exp, log

import numpy as np

from slackwater.water.composition import FloatArray
from slackwater.water.osmosis import temperature_factor

DRAWS = 4000
FLUSH_MIN = (5.0, 8.0, 10.0)
"""First permeate after a stop, rich in salt, that is let go; from memory."""
FEED_TEMP_ERROR_C = 1.0
FEED_PRESSURE_ERROR_BAR = 0.2
"""What a mains does from day to day; common practice, no source."""
BOOSTED_BAR = 5.5
"""Feed pressure behind a usual booster pump; common practice, no source."""
LOSS_SPREAD = (0.6, 1.0, 1.6)
"""Heat loss of a barrel against the catalog's figure; from memory."""


@dataclass(frozen=True)
class Unit:
    """A reverse osmosis unit as it runs: either measured, or by its label.

    Attributes
    ----------
    middle_l_day : float
        Permeate at the middle of all it depends on.
    rated_net_bar : float
        Pressure that drives it at the label's pressure, osmotic pressure taken off; 0 where it was measured.
    net_bar : float
        The same as fed.
    feed_temp_c : float or None
    condition : tuple of float
        Low, middle, high factor for age and fouling; ones where it was measured.
    factor_spread : tuple of float
        Low and high of the makers' temperature factors against the one used.
    """

    middle_l_day: float
    rated_net_bar: float
    net_bar: float
    feed_temp_c: float | None
    condition: tuple[float, float, float]
    factor_spread: tuple[float, float]

    def rates_l_day(self, rng: np.random.Generator, number: int = DRAWS) -> FloatArray:
        """Rates drawn from all that is not known of it."""
        low, high = self.factor_spread
        rate = self.middle_l_day * rng.triangular(low, 1.0, high, number)
        worst, typical, best = self.condition
        if best > worst:
            rate = rate * rng.triangular(worst, typical, best, number) / typical
        if self.feed_temp_c is not None:
            temps = np.clip(self.feed_temp_c + rng.uniform(-1, 1, number) * FEED_TEMP_ERROR_C, 1, 44)
            middle = temperature_factor(feed_temp_c=self.feed_temp_c)
            grid = np.linspace(1, 44, 87)
            factors = np.array([temperature_factor(feed_temp_c=float(temp)) for temp in grid])
            rate = rate * np.interp(temps, grid, factors) / middle
        if self.rated_net_bar > 0 and self.net_bar > 0:
            pressure = self.net_bar + rng.uniform(-1, 1, number) * FEED_PRESSURE_ERROR_BAR
            rate = rate * np.maximum(pressure, 0) / self.net_bar
        return np.asarray(rate)


@dataclass(frozen=True)
class Outlook:
    """What a run will bring.

    Attributes
    ----------
    low_l, middle_l, high_l : float
        Permeate in the hours allowed: 5, 50 and 95 %.
    probability_short : float
        Share of draws in which it is less than is needed.
    hours_for_95 : float
        Hours after which it is enough in 95 of 100 draws; infinite when the unit makes nothing.
    """

    low_l: float
    middle_l: float
    high_l: float
    probability_short: float
    hours_for_95: float


def outlook(unit: Unit, *, need_l: float, hours: float, rng: np.random.Generator) -> Outlook:
    """Permeate within the hours, the flush at the start let go.

    Parameters
    ----------
    need_l : float
        Permeate that the recipe asks for [L].
    hours : float
        That the house allows, in one piece [h].
    """
    rates = unit.rates_l_day(rng)
    flush = rng.triangular(*FLUSH_MIN, DRAWS) / 60
    made = rates / 24 * np.maximum(hours - flush, 0)
    low, middle, high = np.percentile(made, (5, 50, 95))
    with np.errstate(divide="ignore"):
        needed = np.where(rates > 0, need_l / np.maximum(rates, 1e-9) * 24 + flush, np.inf)
    return Outlook(
        low_l=float(low),
        middle_l=float(middle),
        high_l=float(high),
        probability_short=float(np.mean(made < need_l - 1e-9)),
        hours_for_95=float(np.percentile(needed, 95, method="higher")),
    )


def boosted_l_day(unit: Unit, *, feed_pressure_bar: float) -> float | None:
    """Middle rate with a booster pump; None where it is not known or would not help."""
    if unit.rated_net_bar <= 0 or unit.net_bar <= 0 or feed_pressure_bar >= BOOSTED_BAR:
        return None
    return unit.middle_l_day * (unit.net_bar + BOOSTED_BAR - feed_pressure_bar) / unit.net_bar


def changes_before(*, now_mg_l: float, new_mg_l: float, goal_mg_l: float, share: float = 0.3) -> int | None:
    """Water changes of that share in the weeks before, after which the old water is at the goal; None if never."""
    if now_mg_l <= goal_mg_l:
        return 0
    if new_mg_l >= goal_mg_l:
        return None
    return ceil(log((goal_mg_l - new_mg_l) / (now_mg_l - new_mg_l)) / log(1 - share) - 1e-9)


@dataclass(frozen=True)
class Course:
    """Litres in the barrel and its temperature over the hours; for the picture."""

    hours: tuple[float, ...]
    low_l: tuple[float, ...]
    middle_l: tuple[float, ...]
    high_l: tuple[float, ...]
    temp_c: tuple[float, ...]


def warmed_c(
    *, hours: float, litres: float, from_c: float, heater_w: float, loss_w_per_k: float, room_c: float, to_c: float
) -> float:
    """Temperature of a barrel after some hours of heating; it stays at `to_c` once there.

    Notes
    -----
    m c dT/dt = P - UA (T - room) with 1.163 Wh/(L K), solved exactly.
    """
    capacity = 1.163 * litres
    if loss_w_per_k <= 0:
        return min(to_c, from_c + heater_w * hours / capacity)
    steady = room_c + heater_w / loss_w_per_k
    return min(to_c, steady + (from_c - steady) * exp(-loss_w_per_k * hours / capacity))


def course(
    unit: Unit | None,
    *,
    permeate_l: float,
    tap_l: float,
    making_h: float,
    warming_h: float,
    from_c: float,
    to_c: float,
    heater_w: float,
    loss_w_per_k: float,
    room_c: float,
    rng: np.random.Generator,
) -> Course:
    """Filling at first, then warming; tap water goes in at the end of the filling."""
    total = permeate_l + tap_l
    rates = unit.rates_l_day(rng) / 24 if unit is not None else np.array([0.0])
    low, middle, high = (float(value) for value in np.percentile(rates, (5, 50, 95)))
    fill = np.linspace(0, making_h, 25) if making_h > 0 else np.array([0.0])
    warm = np.linspace(0, warming_h, 25)[1:] if warming_h > 0 else np.array([])
    hours = np.concatenate([fill, making_h + warm])

    def litres(rate: float) -> tuple[float, ...]:
        made = [min(permeate_l, rate * hour) for hour in fill]
        return tuple(made) + (total,) * warm.size

    temps = [from_c] * fill.size + [
        warmed_c(
            hours=float(hour),
            litres=total,
            from_c=from_c,
            heater_w=heater_w,
            loss_w_per_k=loss_w_per_k,
            room_c=room_c,
            to_c=to_c,
        )
        for hour in warm
    ]
    return Course(
        hours=tuple(float(hour) for hour in hours),
        low_l=litres(low),
        middle_l=litres(middle),
        high_l=litres(high),
        temp_c=tuple(temps),
    )
