"""Nitrogen after the restart: soil, ammonium, nitrite, nitrate, two kinds of bacteria, alkalinity, plants, in one rate.

A state has one row for each name in ``ROWS`` and one column for each member of an ensemble. Rates are per day.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import check_range
from slackwater.living.acidity import LEAST_MEQ_L, MOST_MEQ_L, Acidity, Lines, lines
from slackwater.living.machine import Relax, RightHandSide
from slackwater.living.respiration import N_G_MOL

FloatArray = NDArray[np.float64]
Values = float | FloatArray
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
FIRST_STEP_PH = (5.5, 6.0, 7.0)
FIRST_STEP_AT_PH = (0.1, 0.3, 1.0)
"""Share of its full rate at which the first step works at those pH, straight between them and level outside: acid leaves it
little un-ionised ammonia; from memory."""
PH_POINTS = 192
PH_7_AT = 0.875
"""Where on the table's axis pH 7 lies: on one of its points, so that the sharpest bend is met exactly."""


def first_step_share(ph: FloatArray) -> FloatArray:
    """Share of its full rate at which the first step works at a pH; see ``FIRST_STEP_PH``."""
    return np.asarray(np.interp(ph, FIRST_STEP_PH, FIRST_STEP_AT_PH))


@dataclass(frozen=True)
class PhFactor:
    """``first_step_share`` of each member over alkalinity, as a table: at a member's carbon dioxide, alkalinity sets the pH.

    Attributes
    ----------
    half_meq_l : float or array
        Alkalinity a at which the table's axis, a / (a + half), is at its middle; at half a member's own pH is near 6.2.
    shares : Lines
        Over that axis.

    Notes
    -----
    With little else than carbonate in the water, pH hangs on alkalinity over carbon dioxide, so this axis spreads pH 5.5 to 7
    evenly for every member; and it takes one division, where a logarithm would cost as much as the rest of the step. That
    ammonia itself takes some of the alkalinity is left out here: below pH 7 it is a hundredth of the ammonium at most.
    """

    half_meq_l: Values
    shares: Lines

    def at(self, alkalinity_meq_l: FloatArray) -> FloatArray:
        """The share for each alkalinity, none of them negative; the last axis is members, or the last but one."""
        place = alkalinity_meq_l / (alkalinity_meq_l + self.half_meq_l)
        place *= PH_POINTS
        return self.shares.at(place)

    def of(self, members: int | NDArray[np.intp]) -> PhFactor:
        """The table of one member, or of some."""
        half = np.asarray(self.half_meq_l)
        half = half if half.ndim == 0 else half[members]
        return PhFactor(float(half) if half.ndim == 0 else half, self.shares.of(members))

    def side_by_side(self) -> PhFactor:
        """The same for alkalinities of shape (members, cases)."""
        half = self.half_meq_l
        return PhFactor(half if np.ndim(half) == 0 else np.asarray(half)[:, np.newaxis], self.shares.side_by_side())


def ph_factor_of(acidity: Acidity, co2_mg_l: Values) -> PhFactor:
    """The table of each member at the carbon dioxide held [mg/L]; a single number makes one that serves all."""
    co2 = np.atleast_1d(np.asarray(co2_mg_l, dtype=float))[:, np.newaxis]
    # Closest where alkalinity is small: there pH changes fastest with it.
    axis = LEAST_MEQ_L + (MOST_MEQ_L - LEAST_MEQ_L) * np.linspace(0, 1, 60) ** 3
    ph = acidity.ph(alkalinity_meq_l=axis, co2_mg_l=co2)
    at_seven = np.array([np.interp(7.0, row, axis) for row in ph])
    half = np.maximum(at_seven, 1e-6) * (1 - PH_7_AT) / PH_7_AT
    share = np.linspace(0, 1, PH_POINTS + 1)[:-1]
    alkalinity = half[:, np.newaxis] * share / (1 - share)
    values = first_step_share(acidity.ph(alkalinity_meq_l=alkalinity, co2_mg_l=co2))
    most = first_step_share(acidity.ph(alkalinity_meq_l=np.full(co2.shape, MOST_MEQ_L), co2_mg_l=co2))
    return PhFactor(float(half[0]) if len(half) == 1 else half, lines(np.hstack([values, most])))


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
    ph_factor : PhFactor or float
        Share of its full rate that acid leaves the first step; a number for the same at any alkalinity.
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
    ph_factor: PhFactor | float = 1.0

    def of(self, members: int | NDArray[np.intp]) -> Rates:
        """The parameters of one member, or of some."""

        def picked(value: FloatArray) -> Values:
            return float(value) if value.ndim == 0 else value

        return self._each(
            lambda value: picked(value if value.ndim == 0 else value[members]),
            self.ph_factor.of(members) if isinstance(self.ph_factor, PhFactor) else self.ph_factor,
        )

    def side_by_side(self) -> Rates:
        """The same for states of shape (rows, members, cases): each member goes several ways at once.

        Numbers that differ by member only are then read once for all cases, not once for each.
        """

        def column(value: Values) -> Values:
            return value if np.ndim(value) == 0 else np.asarray(value)[:, np.newaxis]

        return self._each(
            column, self.ph_factor.side_by_side() if isinstance(self.ph_factor, PhFactor) else self.ph_factor
        )

    def _each(self, changed: Callable[[FloatArray], Values], factor: PhFactor | float) -> Rates:
        names = [item.name for item in fields(self) if item.name != "ph_factor"]
        return Rates(
            **{name: changed(np.asarray(getattr(self, name), dtype=float)) for name in names}, ph_factor=factor
        )


def _fourth(lag_d: Values) -> Values:
    found = np.asarray(lag_d, dtype=float) ** 4
    return float(found) if found.ndim == 0 else found


def _awake(time: float, lag_to_fourth: Values) -> Values:
    """Share of the full rate: half at the lag, nearly all at twice of it; smooth, so that the integrator keeps its order."""
    # The small number makes no lag a full rate from the first moment on.
    passed = time**4 + 1e-12
    return passed / (passed + lag_to_fourth)


def _ph_share(rates: Rates) -> Callable[[FloatArray], Values]:
    factor = rates.ph_factor
    return factor.at if isinstance(factor, PhFactor) else lambda _: factor


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
    ph_share = _ph_share(rates)

    def relax(time: float, state: FloatArray, scaled: float) -> Callable[[FloatArray], FloatArray]:
        tan, nitrite, _, first, second, alkalinity = np.maximum(state[1:7], 0.0)
        drawn_first = scaled * pull_first * _awake(time, lag_first) * first
        drawn_first *= alkalinity
        drawn_first *= ph_share(alkalinity)
        drawn_first /= (rates.half_alkalinity_meq_l + alkalinity) * (rates.half_tan_mg_l + tan) ** 2
        drawn_second = scaled * pull_second * _awake(time, lag_second) * second
        drawn_second /= (rates.half_nitrite_mg_l + nitrite) ** 2
        below_first, below_second = 1 + drawn_first, 1 + drawn_second

        def solve(right: FloatArray) -> FloatArray:
            tan, nitrite = right[tan_row], right[nitrite_row]
            tan /= below_first
            moved = drawn_first * tan
            nitrite += moved
            nitrite /= below_second
            moved *= 2 / N_G_MOL
            right[alkalinity_row] -= moved
            right[nitrate_row] += drawn_second * nitrite
            return right

        return solve

    return relax


def rate_of(rates: Rates) -> RightHandSide:
    """The right-hand side for a set of parameters.

    Notes
    -----
    Two-step nitrification with Monod terms in nitrogen, oxygen and alkalinity (form of the activated sludge models, Henze et
    al. 2000), growth and decay of both kinds; nitrogen taken up is growth over yield and goes on to the next form whole.
    Acid slows the first step (``PhFactor``).
    Oxidising 1 mg N costs 2/14.007 meq of alkalinity in the first step; ammonium from living things brings half of that.
    Plants grow by what nitrogen there is and take ammonium before nitrate.
    """
    oxygen_first = rates.growth_first_per_d * rates.oxygen_mg_l / (rates.half_oxygen_first_mg_l + rates.oxygen_mg_l)
    oxygen_second = rates.growth_second_per_d * rates.oxygen_mg_l / (rates.half_oxygen_second_mg_l + rates.oxygen_mg_l)
    plant_need = np.asarray(rates.plant_growth_per_d * rates.plant_n_share * 1000 / rates.volume_l)
    per_yield_first, per_yield_second = 1 / rates.yield_first, 1 / rates.yield_second
    per_litre, minus_volume = 1 / rates.volume_l, -rates.volume_l
    binding = bool(np.any(rates.binder_per_d))
    lag_first, lag_second, lag_plants = (
        _fourth(lag) for lag in (rates.lag_first_d, rates.lag_second_d, rates.plant_lag_d)
    )

    ph_share = _ph_share(rates)

    def rate(time: float, state: FloatArray) -> FloatArray:
        known = np.maximum(state[:12], 0.0)
        soil_n, tan, nitrite, nitrate, first, second, alkalinity, capacity, plants, melt, binder, animals = known
        # Changed in place where it pays: most of the time goes into making new arrays.
        grown_first = oxygen_first * _awake(time, lag_first) * first
        grown_first *= tan
        grown_first *= alkalinity
        grown_first *= ph_share(alkalinity)
        grown_first /= (rates.half_tan_mg_l + tan) * (rates.half_alkalinity_meq_l + alkalinity)
        grown_second = oxygen_second * _awake(time, lag_second) * second
        grown_second *= nitrite
        grown_second /= rates.half_nitrite_mg_l + nitrite
        oxidised_first, oxidised_second = grown_first * per_yield_first, grown_second * per_yield_second
        released = rates.soil_per_d * soil_n
        melted = rates.melt_per_d * melt
        source = rates.source_mg_l_d + animals
        living = source + melted
        total = tan + nitrate
        growing = plants * _awake(time, lag_plants)
        growing *= total
        growing /= total + HALF_PLANT_N_MG_L
        need = plant_need * growing
        from_tan = need * tan
        from_tan /= tan + 0.1 * nitrate + 1e-9
        denitrified = rates.denitrification_mg_l_d * nitrate
        denitrified /= 1.0 + nitrate
        pulled = alkalinity - rates.soil_holds_meq_l
        np.maximum(pulled, 0.0, out=pulled)
        pulled *= rates.soil_exchange_per_d
        pulled *= capacity
        pulled /= capacity + 1.0
        rates_out = np.zeros_like(state)
        np.negative(released, out=rates_out[0])
        released *= per_litre
        released += living
        released -= from_tan
        np.subtract(released, oxidised_first, out=rates_out[1])
        np.subtract(oxidised_first, oxidised_second, out=rates_out[2])
        rates_out[3] = oxidised_second - (need - from_tan) - denitrified
        np.subtract(grown_first, rates.decay_first_per_d * first, out=rates_out[4])
        np.subtract(grown_second, rates.decay_second_per_d * second, out=rates_out[5])
        oxidised_first += from_tan
        oxidised_first *= 2.0
        living += denitrified
        living += need
        living -= oxidised_first
        living *= 1 / N_G_MOL
        np.subtract(living, pulled, out=rates_out[6])
        np.multiply(pulled, minus_volume, out=rates_out[7])
        np.multiply(rates.plant_growth_per_d, growing, out=rates_out[8])
        np.negative(melted, out=rates_out[9])
        rates_out[12] = need
        rates_out[13] = denitrified
        rates_out[14] = source
        if binding:
            bound = rates.binder_per_d * tan * (binder / (binder + 1.0))
            rates_out[1] -= bound
            np.multiply(bound, minus_volume, out=rates_out[10])
        return rates_out

    return rate


def water_change(state: FloatArray, *, share: Values, new: Mapping[str, Values]) -> FloatArray:
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
