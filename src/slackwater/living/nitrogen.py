"""Nitrogen after the restart: soil, ammonium, nitrite, nitrate, two kinds of bacteria, alkalinity, plants, in one rate.

A state has one row for each name in ``ROWS`` and one column for each member of an ensemble. Rates are per day.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import check_range
from slackwater.living.machine import Relax, RightHandSide

FloatArray = NDArray[np.float64]
Values = float | FloatArray
N_G_MOL = 14.007
GAS_CONSTANT_KJ_MOL_K = 8.314462e-3
ROWS = (
    "soil_n_mg",
    "tan_mg_l",
    "nitrite_mg_l",
    "nitrate_mg_l",
    "first_mg_l",
    "second_mg_l",
    "alkalinity_meq_l",
    "soil_capacity_meq",
    "plants_g",
    "melt_mg_l",
    "binder_mg",
    "animals_mg_l_d",
    "taken_by_plants_mg_l",
    "denitrified_mg_l",
    "fed_mg_l",
    "changed_mg_l",
)
"""Releasable nitrogen of the soil; dissolved nitrogen; biomass of both steps as COD; alkalinity; what the soil can still take
of it; dry plants; nitrogen of leaves still to melt; room left on an ammonium binder; what animals and feed give off in a
day, which only events change. The last four add up what has left or come, so that mass balances
can be closed."""
DISSOLVED = ("tan_mg_l", "nitrite_mg_l", "nitrate_mg_l", "alkalinity_meq_l")
HALF_PLANT_N_MG_L = 0.05
"""Dissolved nitrogen at which plants grow at half their rate; from memory."""
ROW = {name: number for number, name in enumerate(ROWS)}


@dataclass(frozen=True)
class Rates:
    """Parameters of one member, or arrays with one for each; rates at the tank's temperature.

    Attributes
    ----------
    growth_first_per_d, growth_second_per_d, decay_first_per_d, decay_second_per_d : float or array
        Of the two kinds of nitrifiers [1/d].
    half_tan_mg_l, half_nitrite_mg_l, half_oxygen_first_mg_l, half_oxygen_second_mg_l, half_alkalinity_meq_l
        Half-saturations.
    yield_first, yield_second : float or array
        Biomass per nitrogen [g COD/g N].
    oxygen_mg_l : float or array
    source_mg_l_d : float or array
        Ammonium from animals and feed [mg N/(L d)].
    soil_per_d, soil_exchange_per_d, melt_per_d : float or array
    plant_growth_per_d, plant_n_share : float or array
    plant_lag_d, lag_first_d, lag_second_d : float or array
        Until plants grow, until each step works.
    denitrification_mg_l_d : float or array
        At nitrate well above 1 mg/L.
    volume_l : float or array
    binder_per_d : float or array
        Rate at which a fresh binder takes ammonium up [1/d].
    soil_holds_meq_l : float or array
        Alkalinity down to which active soil pulls.
    """

    growth_first_per_d: Values
    growth_second_per_d: Values
    decay_first_per_d: Values
    decay_second_per_d: Values
    half_tan_mg_l: Values
    half_nitrite_mg_l: Values
    half_oxygen_first_mg_l: Values
    half_oxygen_second_mg_l: Values
    half_alkalinity_meq_l: Values
    yield_first: Values
    yield_second: Values
    oxygen_mg_l: Values
    source_mg_l_d: Values = 0.0
    soil_per_d: Values = 0.0
    soil_exchange_per_d: Values = 0.0
    melt_per_d: Values = 0.0
    plant_growth_per_d: Values = 0.0
    plant_n_share: Values = 0.03
    plant_lag_d: Values = 0.0
    lag_first_d: Values = 0.0
    lag_second_d: Values = 0.0
    denitrification_mg_l_d: Values = 0.0
    volume_l: Values = 1.0
    soil_holds_meq_l: Values = 0.0
    binder_per_d: Values = 0.0

    def of(self, member: int) -> Rates:
        """The parameters of one member."""
        picked = {}
        for item in fields(self):
            value = np.asarray(getattr(self, item.name), dtype=float)
            picked[item.name] = float(value) if value.ndim == 0 else float(value[member])
        return Rates(**picked)


def _fourth(lag_d: Values) -> Values:
    found = np.asarray(lag_d, dtype=float) ** 4
    return float(found) if found.ndim == 0 else found


def _awake(time: float, lag_to_fourth: Values) -> Values:
    """Share of the full rate: half at the lag, nearly all at twice of it; smooth, so that the integrator keeps its order."""
    # The small number makes no lag a full rate from the first moment on.
    passed = time**4 + 1e-12
    return passed / (passed + lag_to_fourth)


def relax_of(rates: Rates) -> Relax:
    """The fast part of the rate: uptake of ammonium and nitrite, which bacteria draw down within minutes.

    Notes
    -----
    What leaves one form in it arrives in the next, and alkalinity goes with it, so nitrogen and alkalinity stay closed.
    """
    pull_first = (
        rates.growth_first_per_d
        * rates.oxygen_mg_l
        / (rates.half_oxygen_first_mg_l + rates.oxygen_mg_l)
        / rates.yield_first
        * rates.half_tan_mg_l
    )
    pull_second = (
        rates.growth_second_per_d
        * rates.oxygen_mg_l
        / (rates.half_oxygen_second_mg_l + rates.oxygen_mg_l)
        / rates.yield_second
        * rates.half_nitrite_mg_l
    )
    lag_first, lag_second = _fourth(rates.lag_first_d), _fourth(rates.lag_second_d)
    tan_row, nitrite_row, nitrate_row, alkalinity_row = (ROW[name] for name in DISSOLVED)
    first_row, second_row = ROW["first_mg_l"], ROW["second_mg_l"]

    def relax(time: float, state: FloatArray, scaled: float) -> Callable[[FloatArray], FloatArray]:
        tan, nitrite = np.maximum(state[tan_row], 0.0), np.maximum(state[nitrite_row], 0.0)
        alkalinity = np.maximum(state[alkalinity_row], 0.0)
        first, second = np.maximum(state[first_row], 0.0), np.maximum(state[second_row], 0.0)
        limited = alkalinity / (rates.half_alkalinity_meq_l + alkalinity)
        drawn_first = scaled * pull_first * _awake(time, lag_first) * first * limited / (rates.half_tan_mg_l + tan) ** 2
        drawn_second = (
            scaled * pull_second * _awake(time, lag_second) * second / (rates.half_nitrite_mg_l + nitrite) ** 2
        )

        def solve(right: FloatArray) -> FloatArray:
            right[tan_row] /= 1 + drawn_first
            moved = drawn_first * right[tan_row]
            right[alkalinity_row] -= 2 / N_G_MOL * moved
            right[nitrite_row] = (right[nitrite_row] + moved) / (1 + drawn_second)
            right[nitrate_row] += drawn_second * right[nitrite_row]
            return right

        return solve

    return relax


def rate_of(rates: Rates) -> RightHandSide:
    """The right-hand side for a set of parameters.

    Notes
    -----
    Two-step nitrification with Monod terms in nitrogen, oxygen and alkalinity (form of the activated sludge models, Henze et
    al. 2000), growth and decay of both kinds; nitrogen taken up is growth over yield and goes on to the next form whole.
    Oxidising 1 mg N costs 2/14.007 meq of alkalinity in the first step; ammonium from living things brings half of that.
    Plants grow by what nitrogen there is and take ammonium before nitrate.
    """
    oxygen_first = rates.growth_first_per_d * rates.oxygen_mg_l / (rates.half_oxygen_first_mg_l + rates.oxygen_mg_l)
    oxygen_second = rates.growth_second_per_d * rates.oxygen_mg_l / (rates.half_oxygen_second_mg_l + rates.oxygen_mg_l)
    plant_need = np.asarray(rates.plant_growth_per_d * rates.plant_n_share * 1000 / rates.volume_l)
    meq_per_mg = 1 / N_G_MOL
    lag_first, lag_second, lag_plants = (
        _fourth(lag) for lag in (rates.lag_first_d, rates.lag_second_d, rates.plant_lag_d)
    )

    def rate(time: float, state: FloatArray) -> FloatArray:
        known = np.maximum(state[:12], 0.0)
        soil_n, tan, nitrite, nitrate, first, second, alkalinity, capacity, plants, melt, binder, animals = known
        source = rates.source_mg_l_d + animals
        bound = rates.binder_per_d * tan * (binder / (binder + 1.0))
        working_first = oxygen_first * _awake(time, lag_first)
        working_second = oxygen_second * _awake(time, lag_second)
        grown_first = (
            working_first
            * tan
            / (rates.half_tan_mg_l + tan)
            * (alkalinity / (rates.half_alkalinity_meq_l + alkalinity))
            * first
        )
        grown_second = working_second * nitrite / (rates.half_nitrite_mg_l + nitrite) * second
        oxidised_first, oxidised_second = grown_first / rates.yield_first, grown_second / rates.yield_second
        released = rates.soil_per_d * soil_n
        melted = rates.melt_per_d * melt
        total = tan + nitrate
        growing = plants * _awake(time, lag_plants) * (total / (total + HALF_PLANT_N_MG_L))
        need = plant_need * growing
        from_tan = need * tan / (tan + 0.1 * nitrate + 1e-9)
        denitrified = rates.denitrification_mg_l_d * nitrate / (1.0 + nitrate)
        pulled = (
            rates.soil_exchange_per_d
            * np.maximum(alkalinity - rates.soil_holds_meq_l, 0.0)
            * (capacity / (capacity + 1.0))
        )
        rates_out = np.zeros_like(state)
        rates_out[0] = -released
        rates_out[1] = released / rates.volume_l + source + melted - oxidised_first - from_tan - bound
        rates_out[2] = oxidised_first - oxidised_second
        rates_out[3] = oxidised_second - (need - from_tan) - denitrified
        rates_out[4] = grown_first - rates.decay_first_per_d * first
        rates_out[5] = grown_second - rates.decay_second_per_d * second
        living = source + melted
        rates_out[6] = meq_per_mg * (living - 2 * oxidised_first + denitrified + (need - 2 * from_tan)) - pulled
        rates_out[7] = -pulled * rates.volume_l
        rates_out[8] = rates.plant_growth_per_d * growing
        rates_out[9] = -melted
        rates_out[10] = -bound * rates.volume_l
        rates_out[12] = need
        rates_out[13] = denitrified
        rates_out[14] = source
        return rates_out

    return rate


def nitrogen_mg(state: FloatArray, volume_l: Values) -> FloatArray:
    """All nitrogen that the state accounts for, less what was fed [mg]: constant over any course."""
    inside = sum(
        state[ROW[name]]
        for name in (
            "tan_mg_l",
            "nitrite_mg_l",
            "nitrate_mg_l",
            "melt_mg_l",
            "taken_by_plants_mg_l",
            "denitrified_mg_l",
        )
    )
    bound = -state[ROW["binder_mg"]]
    moved = state[ROW["changed_mg_l"]] - state[ROW["fed_mg_l"]]
    return np.asarray(state[ROW["soil_n_mg"]] + bound + volume_l * (inside + moved))


def water_change(state: FloatArray, *, share: Values, new: Mapping[str, float]) -> FloatArray:
    """The state after that share of the water is replaced; only what is dissolved changes.

    Parameters
    ----------
    share : float or array
        [0 to 1].
    new : mapping
        Of the new water, by the names in ``DISSOLVED``; what is not named is 0.
    """
    after = state.copy()
    for name in DISSOLVED:
        row = ROW[name]
        after[row] = state[row] * (1 - share) + share * new.get(name, 0.0)
    gone = sum(state[ROW[name]] - after[ROW[name]] for name in ("tan_mg_l", "nitrite_mg_l", "nitrate_mg_l"))
    after[ROW["changed_mg_l"]] = state[ROW["changed_mg_l"]] + gone
    return after


def growth_ratio(*, energy_kj_mol: Values, temp_c: Values, reference_c: float = 20.0) -> Values:
    """Rate at a temperature against that at the reference; Arrhenius, Vannecke and Volcke (2015)."""
    kelvin, base = np.asarray(temp_c, dtype=float) + 273.15, reference_c + 273.15
    found = np.exp(np.asarray(energy_kj_mol, dtype=float) / GAS_CONSTANT_KJ_MOL_K * (1 / base - 1 / kelvin))
    return float(found) if found.ndim == 0 else found


FILM_TEMP_C = 27.2
"""Of the experiment."""


def film_removal_mg_m2_d(*, tan_mg_l: float, temp_c: float = FILM_TEMP_C) -> float:
    """Ammonium that a clean nitrifying film takes up, temp_c in [26.2, 28.2] [mg N/(m2 d)].

    References
    ----------
    Zhu and Chen (1999), Aquacult. Eng. 20:245-259: R = 1859 (S - 0.07)/(S + 1.93), at 27.2 C only.
    """
    check_range("temp_c", temp_c, FILM_TEMP_C - 1, FILM_TEMP_C + 1, unit="°C")
    return 1859 * (tan_mg_l - 0.07) / (tan_mg_l + 1.93)


OXYGEN_FIRST_STEP = 1.5 * 31.998 / N_G_MOL
"""Oxygen of the first step without growth [g/g N]."""
OXYGEN_SECOND_STEP = 0.5 * 31.998 / N_G_MOL
OXYGEN_BOTH_STEPS = OXYGEN_FIRST_STEP + OXYGEN_SECOND_STEP
ALKALINITY_MEQ_PER_G = 2000 / N_G_MOL
ALKALINITY_G_CACO3_PER_G = 2 * 50.0435 / N_G_MOL
"""Alkalinity used up by both steps [g CaCO3/g N]."""


def oxygen_with_growth(*, yield_both: float) -> float:
    """Oxygen of both steps when some nitrogen's energy goes into growth, ASM form [g O2/g N]."""
    return 4.57 - yield_both if yield_both > 0 else OXYGEN_BOTH_STEPS


def theta(*, low_rate: float, high_rate: float, degrees: float = 10.0) -> float:
    """Exponent of exp(theta (T - 20)) from two rates that many degrees apart [1/K]; ASM3 convention."""
    return float(np.log(high_rate / low_rate) / degrees)
