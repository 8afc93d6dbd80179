"""The weeks after the restart: an ensemble over the priors, and how likely each option keeps the animals' limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from slackwater.living.acidity import Acidity, Held
from slackwater.living.machine import Event, simulate
from slackwater.living.nitrogen import (
    DISSOLVED,
    ROW,
    ROWS,
    Rates,
    Values,
    growth_ratio,
    ph_factor_of,
    rate_of,
    relax_of,
    water_change,
)
from slackwater.living.priors import ensemble
from slackwater.living.respiration import N_G_MOL, O2_G_MOL

FloatArray = NDArray[np.float64]
MEMBERS = 1000
STEP_D = 1 / 32
"""Three quarters of an hour: the error stays below a thousandth of the peak."""
LAST_DAY = 60
NAMES = (
    "growth_first_per_d",
    "growth_second_per_d",
    "activation_first_kj_mol",
    "activation_second_kj_mol",
    "half_tan_mg_l",
    "half_nitrite_mg_l",
    "half_oxygen_first_mg_l",
    "half_oxygen_second_mg_l",
    "half_alkalinity_meq_l",
    "yield_first",
    "yield_second",
    "decay_per_d",
    "surviving_share",
    "fresh_biomass_mg_l",
    "lag_first_h",
    "lag_second_h",
    "soil_nitrogen_mg_l",
    "soil_rate_per_d",
    "soil_rate_q10",
    "soil_capacity_meq_l",
    "soil_exchange_per_d",
    "melt_nitrogen_mg_l",
    "melt_rate_per_d",
    "plant_mass_g_m2",
    "plant_growth_per_d",
    "plant_lag_d",
    "plant_leaf_loss",
    "plant_nitrogen_share",
    "denitrification_mg_m2_d",
    "ammonia_quotient",
    "feed_excretion",
    "co2_room_share",
    "soil_holds_meq_l",
)
SOIL_SHARE: Mapping[str, float] = {"active": 1.0, "lean": 0.35, "inert": 0.0}
"""Nitrogen and exchange of a kind of soil against normal active soil; lean from memory."""
SECOND_TO_FIRST = 0.4
"""Biomass of the second step against the first in a settled filter: ratio of the yields; theory."""
BINDER_PER_D = 2.0
"""Uptake of a fresh zeolite in the filter's flow; from memory."""
FEEDING = ((0.0, 0.0), (2.0, 0.25), (7.0, 0.5), (14.0, 1.0))
"""Days since the animals are back and the share of usual feed from then on; common practice, no source."""
BALANCE_CO2_MG_L = 0.6
"""Carbon dioxide in balance with a room at 24 C and 420 ppm; it is scaled by ``co2_room_share``."""


@dataclass(frozen=True)
class Tank:
    """What the restart depends on that is known.

    Attributes
    ----------
    volume_l, temp_c, oxygen_mg_l : float
        Of the refilled tank.
    soil_l, soil_kind : float, str
        Litres of new soil; active, lean or inert.
    footprint_m2, planted_m2 : float
    load_before_mg_d : float or array
        Nitrogen that the filter dealt with each day before the rebuild.
    media_kept : float
        Share of the media that was kept alive; 0 for a new filter.
    co2_mg_l : float or None
        Held by injection; None without.
    alkalinity_meq_l, nitrate_mg_l : float
        Of the refill; nitrate as nitrogen.
    """

    volume_l: float
    temp_c: float
    oxygen_mg_l: float
    soil_l: float
    soil_kind: str
    footprint_m2: float
    planted_m2: float
    load_before_mg_d: Values
    media_kept: float
    co2_mg_l: float | None
    alkalinity_meq_l: float
    nitrate_mg_l: float


@dataclass(frozen=True)
class Option:
    """One way of going on.

    Attributes
    ----------
    id : str
    return_day : float
        Day on which the animals come back.
    stock_share : float
        Of the animals that come back then; the rest a week after the last test is good, which is not reckoned here.
    binder_mg : float
        Ammonium nitrogen that a binder can hold.
    seeded_share : float
        Media from another running filter, as a share of this filter's own.
    """

    id: str
    return_day: float = 0.0
    stock_share: float = 1.0
    binder_mg: float = 0.0
    seeded_share: float = 0.0


@dataclass(frozen=True)
class Changes:
    """Water changes: days, the share of each, and the new water, one for all or one for each.

    `new` counts dissolved things by the names of ``nitrogen.DISSOLVED``.
    """

    days: tuple[float, ...]
    shares: tuple[float, ...]
    new: Mapping[str, float] | tuple[Mapping[str, float], ...]

    def visits(self) -> tuple[Visit, ...]:
        """One for each change."""
        waters = (self.new,) * len(self.days) if isinstance(self.new, Mapping) else self.new
        return tuple(Visit(*each) for each in zip(self.days, self.shares, waters, strict=True))


@dataclass(frozen=True)
class Visit:
    """One water change; share and water may be arrays with one for each case."""

    day: float
    share: Values
    new: Mapping[str, Values]


@dataclass(frozen=True)
class Levers:
    """What can be turned without carrying water.

    Attributes
    ----------
    feed_share : float
        Feed against usual, on top of the return to it by steps; what animals give off unfed is the floor.
    light_share : float
        Growth of plants against usual light.
    """

    feed_share: float = 1.0
    light_share: float = 1.0


USUAL_LEVERS = Levers()


@dataclass(frozen=True)
class Outcome:
    """Courses of all members: arrays (days, members), and the parameters that made them.

    Ammonium, its un-ionised part and nitrite are the higher of before and after where water is changed that day, for that is
    what animals go through; nitrate, alkalinity and pH are those after.
    """

    days: FloatArray
    tan_mg_l: FloatArray
    uia_mg_l: FloatArray
    nitrite_mg_l: FloatArray
    nitrate_mg_l: FloatArray
    alkalinity_meq_l: FloatArray
    free_alkalinity_meq_l: FloatArray
    """What of it is not un-ionised ammonia."""
    held: Held
    drawn: Mapping[str, FloatArray]

    @property
    def ph(self) -> FloatArray:
        """The pH at each member's carbon dioxide."""
        return self.held.ph(self.free_alkalinity_meq_l)

    def to_day(self, last_day: int) -> Outcome:
        """The same courses, up to a day."""
        early = self.days <= last_day
        return replace(
            self,
            days=self.days[early],
            tan_mg_l=self.tan_mg_l[early],
            uia_mg_l=self.uia_mg_l[early],
            nitrite_mg_l=self.nitrite_mg_l[early],
            nitrate_mg_l=self.nitrate_mg_l[early],
            alkalinity_meq_l=self.alkalinity_meq_l[early],
            free_alkalinity_meq_l=self.free_alkalinity_meq_l[early],
        )


def drawn_parameters(members: int, rng: np.random.Generator) -> dict[str, FloatArray]:
    """Draws of all priors of the restart."""
    return ensemble(NAMES, members=members, rng=rng)


def rates_of(tank: Tank, drawn: Mapping[str, FloatArray], *, binder: bool) -> Rates:
    """Parameters of each member at the tank's temperature."""
    kind = SOIL_SHARE[tank.soil_kind]
    first = growth_ratio(energy_kj_mol=drawn["activation_first_kj_mol"], temp_c=tank.temp_c)
    second = growth_ratio(energy_kj_mol=drawn["activation_second_kj_mol"], temp_c=tank.temp_c)
    return Rates(
        growth_first_per_d=drawn["growth_first_per_d"] * first,
        growth_second_per_d=drawn["growth_second_per_d"] * second,
        decay_first_per_d=drawn["decay_per_d"] * first,
        decay_second_per_d=drawn["decay_per_d"] * second,
        half_tan_mg_l=drawn["half_tan_mg_l"],
        half_nitrite_mg_l=drawn["half_nitrite_mg_l"],
        half_oxygen_first_mg_l=drawn["half_oxygen_first_mg_l"],
        half_oxygen_second_mg_l=drawn["half_oxygen_second_mg_l"],
        half_alkalinity_meq_l=drawn["half_alkalinity_meq_l"],
        yield_first=drawn["yield_first"],
        yield_second=drawn["yield_second"],
        oxygen_mg_l=tank.oxygen_mg_l,
        soil_per_d=drawn["soil_rate_per_d"] * drawn["soil_rate_q10"] ** ((tank.temp_c - 24) / 10),
        soil_exchange_per_d=drawn["soil_exchange_per_d"] * (kind > 0),
        soil_holds_meq_l=drawn["soil_holds_meq_l"],
        melt_per_d=drawn["melt_rate_per_d"],
        plant_growth_per_d=drawn["plant_growth_per_d"],
        plant_n_share=drawn["plant_nitrogen_share"],
        plant_lag_d=drawn["plant_lag_d"],
        lag_first_d=drawn["lag_first_h"] / 24,
        lag_second_d=(drawn["lag_first_h"] + drawn["lag_second_h"]) / 24,
        denitrification_mg_l_d=drawn["denitrification_mg_m2_d"] * tank.footprint_m2 / tank.volume_l,
        volume_l=tank.volume_l,
        binder_per_d=BINDER_PER_D if binder else 0.0,
    )


def start_of(tank: Tank, option: Option, drawn: Mapping[str, FloatArray]) -> FloatArray:
    """The state of each member when the filter runs again."""
    members = drawn["yield_first"].size
    kind = SOIL_SHARE[tank.soil_kind]
    first = growth_ratio(energy_kj_mol=drawn["activation_first_kj_mol"], temp_c=tank.temp_c)
    # A settled filter grows as fast as it decays: biomass is yield x load over decay.
    settled = drawn["yield_first"] * tank.load_before_mg_d / (drawn["decay_per_d"] * first * tank.volume_l)
    kept = settled * (tank.media_kept * drawn["surviving_share"] + option.seeded_share)
    state = np.zeros((len(ROWS), members))
    state[ROW["soil_n_mg"]] = kind * drawn["soil_nitrogen_mg_l"] * tank.soil_l
    state[ROW["nitrate_mg_l"]] = tank.nitrate_mg_l
    state[ROW["first_mg_l"]] = np.maximum(kept, drawn["fresh_biomass_mg_l"])
    state[ROW["second_mg_l"]] = SECOND_TO_FIRST * state[ROW["first_mg_l"]]
    state[ROW["alkalinity_meq_l"]] = tank.alkalinity_meq_l
    state[ROW["soil_capacity_meq"]] = kind * drawn["soil_capacity_meq_l"] * tank.soil_l
    state[ROW["plants_g"]] = drawn["plant_mass_g_m2"] * tank.planted_m2 * (1 - drawn["plant_leaf_loss"])
    state[ROW["melt_mg_l"]] = drawn["melt_nitrogen_mg_l"] * min(1.0, tank.planted_m2 / max(tank.footprint_m2, 1e-6))
    state[ROW["binder_mg"]] = option.binder_mg
    return state


def carbon_dioxide_mg_l(tank: Tank, drawn: Mapping[str, FloatArray]) -> float | FloatArray:
    """Carbon dioxide that each member holds: as injected, or somewhat over balance with the room."""
    return BALANCE_CO2_MG_L * drawn["co2_room_share"] if tank.co2_mg_l is None else tank.co2_mg_l


@dataclass(frozen=True)
class Ready:
    """Members made ready to run: arrays have one column for each.

    Attributes
    ----------
    rates : Rates
    state : (rows, members) array
        When the filter runs again.
    given_off : tuple
        Days from which animals and feed give off so much [mg N/(L d)].
    held : Held
        Their pH and un-ionised ammonia.
    drawn : mapping
        What made them.
    """

    rates: Rates
    state: FloatArray
    given_off: tuple[tuple[float, FloatArray], ...]
    held: Held
    drawn: Mapping[str, FloatArray]

    def of(self, members: NDArray[np.intp]) -> Ready:
        """Some of the members."""
        return Ready(
            rates=self.rates.of(members),
            state=self.state[:, members],
            given_off=tuple((day, values[members]) for day, values in self.given_off),
            held=self.held.of(members),
            drawn={name: values[members] for name, values in self.drawn.items()},
        )

    def repeated(self, cases: int) -> Ready:
        """All members in so many cases: arrays (cases, members)."""
        return replace(self, state=np.repeat(self.state[:, np.newaxis], cases, axis=1))

    def side_by_side(self, cases: int) -> Ready:
        """The same as arrays (members, cases), which is faster for few members; see ``Rates.side_by_side``."""
        return replace(
            self,
            rates=self.rates.side_by_side(),
            state=np.repeat(self.state[:, :, np.newaxis], cases, axis=2),
            given_off=tuple((day, values[:, np.newaxis]) for day, values in self.given_off),
            held=self.held.side_by_side(),
        )


def made_ready(
    tank: Tank,
    option: Option,
    *,
    acidity: Acidity,
    drawn: Mapping[str, FloatArray],
    oxygen_use_mg_d: float,
    protein_g_d: float,
    levers: Levers,
) -> Ready:
    """All members of an option; parameters as for ``run``."""
    co2 = carbon_dioxide_mg_l(tank, drawn)
    rates = rates_of(tank, drawn, binder=option.binder_mg > 0)
    excreted = drawn["ammonia_quotient"] * N_G_MOL / O2_G_MOL * oxygen_use_mg_d
    fed = levers.feed_share * drawn["feed_excretion"] * protein_g_d * 1000
    scale = option.stock_share / tank.volume_l
    return Ready(
        rates=replace(
            rates,
            plant_growth_per_d=levers.light_share * rates.plant_growth_per_d,
            ph_factor=ph_factor_of(acidity, co2),
        ),
        state=start_of(tank, option, drawn),
        given_off=tuple(
            (option.return_day + after, scale * np.maximum(excreted, share * fed)) for after, share in FEEDING
        ),
        held=acidity.held(co2),
        drawn=drawn,
    )


def _animals(state: FloatArray, *, given_off: FloatArray) -> FloatArray:
    after = state.copy()
    after[ROW["animals_mg_l_d"]] = given_off
    return after


def followed(ready: Ready, visits: Sequence[Visit], *, last_day: int, longest_step_d: float = STEP_D) -> Outcome:
    """The course of members made ready, day by day.

    Parameters
    ----------
    visits : sequence of Visit
        In any order.
    """
    changed: list[tuple[int, FloatArray]] = []

    def change(state: FloatArray, *, visit: Visit) -> FloatArray:
        changed.append((int(visit.day), state))
        return water_change(state, share=visit.share, new=visit.new)

    course = simulate(
        rate_of(ready.rates),
        ready.state,
        times=np.arange(0, last_day + 1, dtype=float),
        longest_step=longest_step_d,
        events=[
            *(Event(day, partial(_animals, given_off=given_off)) for day, given_off in ready.given_off),
            *(Event(visit.day, partial(change, visit=visit)) for visit in visits),
        ],
        relax=relax_of(ready.rates),
    )

    tan, nitrite, nitrate, alkalinity = (np.maximum(course.states[:, ROW[name]], 0.0) for name in DISSOLVED)
    free = ready.held.without_ammonia(alkalinity, tan_mg_l=tan)
    outcome = Outcome(
        days=course.times,
        tan_mg_l=tan,
        uia_mg_l=tan * ready.held.unionised_fraction(free),
        nitrite_mg_l=nitrite,
        nitrate_mg_l=nitrate,
        alkalinity_meq_l=alkalinity,
        free_alkalinity_meq_l=free,
        held=ready.held,
        drawn=ready.drawn,
    )
    for day, state in changed:
        before, alkalinity = (np.maximum(state[ROW[name]], 0.0) for name in ("tan_mg_l", "alkalinity_meq_l"))
        free = ready.held.without_ammonia(alkalinity, tan_mg_l=before)
        for values, seen in (
            (outcome.tan_mg_l, before),
            (outcome.uia_mg_l, before * ready.held.unionised_fraction(free)),
            (outcome.nitrite_mg_l, state[ROW["nitrite_mg_l"]]),
        ):
            np.maximum(values[day], seen, out=values[day])
    return outcome


def run(
    tank: Tank,
    option: Option,
    changes: Changes,
    *,
    acidity: Acidity,
    drawn: Mapping[str, FloatArray],
    oxygen_use_mg_d: float,
    protein_g_d: float,
    levers: Levers = USUAL_LEVERS,
    last_day: int = LAST_DAY,
) -> Outcome:
    """All members from the restart to the last day.

    Parameters
    ----------
    oxygen_use_mg_d : float
        Oxygen that all animals use in a day at routine activity.
    protein_g_d : float
        Protein fed to all of them in a day once feeding is back to usual, by the steps of ``FEEDING``.
    """
    ready = made_ready(
        tank,
        option,
        acidity=acidity,
        drawn=drawn,
        oxygen_use_mg_d=oxygen_use_mg_d,
        protein_g_d=protein_g_d,
        levers=levers,
    )
    return followed(ready, changes.visits(), last_day=last_day)


def band(values: FloatArray, points: Sequence[float] = (5, 25, 50, 75, 95)) -> FloatArray:
    """Percentiles over the members, one row for each day."""
    return np.asarray(np.percentile(values, points, axis=1).T)


def drivers(outcome: Outcome, values: FloatArray) -> tuple[tuple[str, float], ...]:
    """Which priors explain the spread of a peak: rank correlations (Spearman), strongest first."""
    peak = values.max(axis=0)
    ranks = np.argsort(np.argsort(peak))
    found = [
        (name, float(np.corrcoef(np.argsort(np.argsort(drawn)), ranks)[0, 1])) for name, drawn in outcome.drawn.items()
    ]
    return tuple(sorted(found, key=lambda item: -abs(item[1])))
