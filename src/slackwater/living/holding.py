"""A holding box over the hours: oxygen, carbon dioxide, ammonia and temperature, to the first limit; for all members at once.

Animals come in gradually and breathe harder after capture. Air above the water counts: a shut lid closes it in.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slackwater.living.acidity import Acidity
from slackwater.living.machine import Event, RightHandSide, simulate
from slackwater.living.priors import ensemble
from slackwater.living.respiration import N_G_MOL, O2_G_MOL
from slackwater.water.ammonia import acute_2013_mg_l
from slackwater.water.composition import Water
from slackwater.water.gas import CO2_TO_OXYGEN, TRANSFER_PER_KELVIN, co2_at_balance_mg_l, oxygen_saturation_mg_l
from slackwater.water.speciation import CO2_G_MOL, speciate_at_co2

FloatArray = NDArray[np.float64]
Values = float | FloatArray
ROWS = (
    "oxygen_mg_l",
    "air_oxygen",
    "carbon_mmol_l",
    "air_co2",
    "alkalinity_meq_l",
    "tan_mg_l",
    "temp_c",
    "transfer_per_h",
)
"""Air as mole fractions of the headspace; the transfer at 20 C, which only events change."""
ROW = {name: number for number, name in enumerate(ROWS)}
AIR_OXYGEN = 0.2095
GAS_L_ATM_MOL_K = 0.0820574
SPECIFIC_HEAT_KJ_KG_K = 4.18
STEP_H = 1 / 24
"""Two and a half minutes: stable at the strongest airing, and far below any reading's error."""
DRIFT_K = 2.0
NOTHING_LEFT_MG_L = 0.5
"""Below this animals cannot breathe as they would; long before it they are past every limit."""
WATCHED_EVERY_H = 1 / 6
COLDEST_C, HOTTEST_C = 0.5, 39.5
GRID = 4000
"""Points of the even tables that the rate reads: a millionth off at most, and many times faster than the formulas."""
NAMES = (
    "fish_oxygen_spread",
    "shrimp_spread",
    "routine_factor",
    "capture_factor",
    "capture_decay_h",
    "ammonia_quotient",
    "respiratory_quotient",
    "transfer_still_per_h",
    "transfer_aired_per_h",
    "heat_loss_share",
    "debris_oxygen_mg_h",
    "snail_oxygen_mg_g_h",
)


@dataclass(frozen=True)
class Box:
    """One box and what is in it, or many at once: arrays have one value for each column.

    Attributes
    ----------
    litres : float or array
    head_l : float or array
        Air that a shut lid closes in [L]; 0 for a lid ajar or drilled, over which the room's air passes.
    resting_mg_h : float or array
        Oxygen that all animals in it use at rest, debris included [mg/h].
    in_by_h : float or array
        Hours over which they are caught, evenly.
    out_from_h, out_over_h : float or array
        Hour from which they are let go, and the hours that takes, evenly; endless for boxes that only wait.
    routine, capture, decay_h : float or array
        See ``respiration.excited``.
    ammonia_quotient, respiratory_quotient : float or array
        mol/mol.
    loss_w_per_k, room_c : float or array
    pressure_atm, room_co2 : float
        Of the room's air; carbon dioxide as a mole fraction.
    """

    litres: Values
    head_l: Values
    resting_mg_h: Values
    in_by_h: Values
    routine: Values
    capture: Values
    decay_h: Values
    ammonia_quotient: Values
    respiratory_quotient: Values
    loss_w_per_k: Values
    room_c: Values
    pressure_atm: float = 1.0
    room_co2: float = 700e-6
    out_from_h: Values = np.inf
    out_over_h: Values = 0.5


@dataclass(frozen=True)
class Even:
    """A table over evenly spaced points, read by straight lines between them; held at its ends."""

    first: float
    step: float
    values: FloatArray

    def __call__(self, at: FloatArray) -> FloatArray:
        """The value at each point asked for."""
        place = np.clip((at - self.first) / self.step, 0.0, self.values.size - 1.000001)
        whole = place.astype(np.intp)
        low = self.values[whole]
        return np.asarray(low + (place - whole) * (self.values[whole + 1] - low))


@dataclass(frozen=True)
class BoxWater:
    """What the water model has to say of the box's water: carbon dioxide along its carbon, and acidity."""

    acidity: Acidity
    co2_of_excess: Even

    def co2_of(self, carbon_mmol_l: FloatArray, alkalinity_meq_l: FloatArray) -> FloatArray:
        """Carbon dioxide of the carbon over the alkalinity [mg/L]."""
        return self.co2_of_excess(carbon_mmol_l - alkalinity_meq_l)


def box_water(water: Water, acidity: Acidity) -> BoxWater:
    """The table of a box filled with that single water."""
    co2 = np.concatenate([np.geomspace(0.05, 1, 60), np.geomspace(1.02, 200, 200)])
    found = speciate_at_co2(water, co2_mg_l=co2)
    excess = np.asarray(found.water.carbon_mmol_l) - float(np.asarray(water.alkalinity_meq_l))
    even = np.linspace(excess[0], excess[-1], GRID)
    return BoxWater(
        acidity=acidity,
        co2_of_excess=Even(float(even[0]), float(even[1] - even[0]), np.interp(even, excess, co2)),
    )


def resting_use_mg_h(box: Box, hours: float) -> Values:
    """Oxygen used at an hour: those who are in already and not let go yet, each excited since it came."""
    in_by_h = np.asarray(box.in_by_h, dtype=float)
    span_h = np.maximum(in_by_h, 1e-6)
    share = np.where(in_by_h > 0, np.clip(hours / span_h, 0.0, 1.0), 1.0)
    # Those in by now came evenly over the span: the mean of the falling excitement over it, in closed form.
    newest = np.maximum(0.0, hours - span_h)
    since = np.maximum(hours - newest, 1e-6)
    decay = np.asarray(box.decay_h, dtype=float)
    falling = decay * np.exp(-newest / decay) * -np.expm1(-since / decay) / since
    factor = box.routine + (np.asarray(box.capture) - box.routine) * falling
    gone = np.clip((hours - np.asarray(box.out_from_h)) / np.asarray(box.out_over_h), 0.0, 1.0)
    found = np.asarray(box.resting_mg_h * share * (1 - gone) * factor)
    return float(found) if found.ndim == 0 else found


def rate_of(box: Box, water: BoxWater) -> RightHandSide:
    """The right-hand side of a box; hours.

    Notes
    -----
    Oxygen and carbon dioxide pass the surface by their transfer coefficients; what passes is taken from, or given to, the
    headspace. Ammonia is given off as NH3, so alkalinity rises with it. Heat by Newton's law.
    """
    heat_per_k_h = 3.6 * np.asarray(box.loss_w_per_k) / (box.litres * SPECIFIC_HEAT_KJ_KG_K)
    head_l = np.asarray(box.head_l, dtype=float)
    shut = head_l > 0
    # Moles of air over the litres of water, at 1 K; 1 where there is no shut air, which is then not looked at.
    temps = np.linspace(COLDEST_C, HOTTEST_C, GRID)
    degree = float(temps[1] - temps[0])
    full = np.asarray(oxygen_saturation_mg_l(temp_c=temps, pressure_atm=box.pressure_atm))
    saturated = Even(COLDEST_C, degree, full / AIR_OXYGEN)
    balanced = Even(COLDEST_C, degree, np.asarray(co2_at_balance_mg_l(temp_c=temps, pco2_atm=box.pressure_atm)))
    warmth = np.log(TRANSFER_PER_KELVIN)
    air_per_l = np.where(shut, box.pressure_atm * head_l / GAS_L_ATM_MOL_K, 1.0) / box.litres

    def rate(time: float, state: FloatArray) -> FloatArray:
        oxygen, air_oxygen, carbon, air_co2, alkalinity, _tan, temp, transfer = state
        held = np.clip(temp, COLDEST_C, HOTTEST_C)
        warm = transfer * np.exp(warmth * (held - 20))
        gained = warm * (saturated(held) * air_oxygen - oxygen)
        co2 = water.co2_of(carbon, alkalinity)
        lost = CO2_TO_OXYGEN * warm * (co2 - balanced(held) * air_co2)
        use = resting_use_mg_h(box, time) / box.litres * np.clip(oxygen / NOTHING_LEFT_MG_L, 0.0, 1.0)
        change = np.zeros_like(state)
        change[0] = gained - use
        change[2] = (use / O2_G_MOL * box.respiratory_quotient) - lost / CO2_G_MOL
        given_off = use / O2_G_MOL * box.ammonia_quotient
        change[4] = given_off
        change[5] = given_off * N_G_MOL
        change[6] = heat_per_k_h * (box.room_c - temp)
        if shut.any():
            per_mole = shut * (held + 273.15) / (1000 * air_per_l)
            change[1] = -gained / O2_G_MOL * per_mole
            change[3] = lost / CO2_G_MOL * per_mole
        return change

    return rate


def start_of(
    box: Box, *, water: Water, carbon_mmol_l: float, temp_c: float, transfer_per_h: Values, members: int
) -> FloatArray:
    """A freshly filled box: water from the tank, saturated with air, the room's air above it."""
    state = np.zeros((len(ROWS), members))
    state[ROW["oxygen_mg_l"]] = oxygen_saturation_mg_l(temp_c=temp_c, pressure_atm=box.pressure_atm)
    state[ROW["air_oxygen"]] = AIR_OXYGEN
    state[ROW["carbon_mmol_l"]] = carbon_mmol_l
    state[ROW["air_co2"]] = box.room_co2
    state[ROW["alkalinity_meq_l"]] = water.alkalinity_meq_l
    state[ROW["tan_mg_l"]] = water.ammonia_mmol_l * N_G_MOL
    state[ROW["temp_c"]] = temp_c
    state[ROW["transfer_per_h"]] = transfer_per_h
    return state


ALL = slice(None)


def air_stops(state: FloatArray, *, still_per_h: Values, columns: slice = ALL) -> FloatArray:
    """The state after the pump of some columns has failed."""
    after = state.copy()
    after[ROW["transfer_per_h"], columns] = still_per_h
    return after


def half_changed(state: FloatArray, *, share: float, fresh: Mapping[str, float], columns: slice = ALL) -> FloatArray:
    """The state after a share of some columns is replaced by kept old water; rows of `fresh` by name."""
    after = state.copy()
    for name, value in fresh.items():
        after[ROW[name], columns] = (1 - share) * state[ROW[name], columns] + share * value
    return after


@dataclass(frozen=True)
class Limits:
    """What the animals of a box bear; oxygen may differ from column to column.

    References
    ----------
    Oxygen: Berka (1986), FAO EIFAC Technical Paper 48. Ammonia: the acute criterion of US EPA 822-R-13-001, for a day in a
    box is hours, not weeks. Carbon dioxide and temperature from memory.
    """

    oxygen_mg_l: Values
    co2_mg_l: float = 20.0
    drift_k: float = DRIFT_K


@dataclass(frozen=True)
class Held:
    """Courses of all members of one box: arrays (times, members), and when each first passes a limit.

    `hours` is infinite for a member that keeps all limits; `binds` names the limit, or is empty.
    """

    times_h: FloatArray
    oxygen_mg_l: FloatArray
    co2_mg_l: FloatArray
    ph: FloatArray
    tan_mg_l: FloatArray
    uia_mg_l: FloatArray
    temp_c: FloatArray
    hours: FloatArray
    binds: tuple[str, ...]


def hold(
    box: Box,
    water: BoxWater,
    start: FloatArray,
    *,
    limits: Limits,
    last_h: float = 14.0,
    events: Sequence[Event] = (),
) -> Held:
    """Follow a box to the last hour, and find for each member the first limit it passes."""
    times = np.arange(0.0, last_h + 1e-9, WATCHED_EVERY_H)
    course = simulate(rate_of(box, water), start, times=times, longest_step=STEP_H, events=events)
    states = course.states
    alkalinity, carbon = states[:, ROW["alkalinity_meq_l"]], states[:, ROW["carbon_mmol_l"]]
    co2 = water.co2_of(carbon, alkalinity)
    ph = water.acidity.ph(alkalinity_meq_l=alkalinity, co2_mg_l=co2)
    tan, temp, oxygen = states[:, ROW["tan_mg_l"]], states[:, ROW["temp_c"]], states[:, ROW["oxygen_mg_l"]]
    uia = tan * water.acidity.unionised_fraction(ph=ph, alkalinity_meq_l=alkalinity)
    passed = {
        "oxygen": oxygen < limits.oxygen_mg_l,
        "carbon dioxide": co2 > limits.co2_mg_l,
        "ammonia": tan > np.asarray(acute_2013_mg_l(ph=ph, temp_c=temp)),
        "temperature": np.abs(temp - temp[0]) > limits.drift_k,
    }
    first = {name: np.where(over.any(axis=0), over.argmax(axis=0), times.size) for name, over in passed.items()}
    stacked = np.array(list(first.values()))
    which, when = stacked.argmin(axis=0), stacked.min(axis=0)
    names = list(first)
    return Held(
        times_h=times,
        oxygen_mg_l=oxygen,
        co2_mg_l=co2,
        ph=ph,
        tan_mg_l=tan,
        uia_mg_l=uia,
        temp_c=temp,
        hours=np.where(when < times.size, times[np.minimum(when, times.size - 1)], np.inf),
        binds=tuple(names[row] if at < times.size else "" for row, at in zip(which, when, strict=True)),
    )


def drawn_parameters(members: int, rng: np.random.Generator) -> dict[str, FloatArray]:
    """Draws of all priors of a box."""
    return ensemble(NAMES, members=members, rng=rng)
