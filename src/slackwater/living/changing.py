"""Which water changes keep the limits: calendars tried on the hardest members, the least work proven on all of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import partial

import numpy as np
from numpy.typing import NDArray

from slackwater.living.acidity import Acidity
from slackwater.living.machine import Event, simulate
from slackwater.living.nitrogen import ROW, Rates, rate_of, relax_of, water_change
from slackwater.living.restart import BALANCE_CO2_MG_L, Changes, Option, Outcome, Tank, rates_of, run, start_of

FloatArray = NDArray[np.float64]
WANTED = 0.95
SCREEN_MEMBERS = 10
SCREEN_STEP_D = 1 / 8
"""Three hours: good to a few hundredths of a peak, which is enough to choose whom to look at closely."""
COLUMNS_AT_ONCE = 6000
MOST_CALENDARS = 10_000
LOOKED_AT = 12
"""Calendars that are tried on the whole ensemble."""
HARDEST_SHARE = 0.9
"""Members are screened from this quantile of trouble up: whether 95 of 100 keep the limits is decided there."""
VISIT_WORK = 1.0
SHARE_WORK = 0.4
"""Carrying half of a tank's water against coming at all; common practice, no source."""


@dataclass(frozen=True)
class Limits:
    """What the animals bear after the restart."""

    uia_mg_l: float = 0.05
    nitrite_mg_l: float = 0.3


@dataclass(frozen=True)
class Found:
    """The least work that keeps the limits, or how near the best comes.

    Attributes
    ----------
    changes : Changes
    probability : float
        That all limits are kept while animals are in the tank, by the whole ensemble.
    binding_day : int
        Day on which most of those that fail do so first, or come nearest.
    sampling_days : tuple of int
        Days on which the band of ammonium or nitrite is widest.
    tried : int
        Calendars screened.
    """

    changes: Changes
    probability: float
    binding_day: int
    sampling_days: tuple[int, ...]
    tried: int


def calendars_of(
    visit_days: Sequence[int], shares: Sequence[float], *, number: int, rng: np.random.Generator
) -> FloatArray:
    """Calendars as shares for each visit day, least work first; all of them where there are not too many.

    Parameters
    ----------
    visit_days : sequence of int
        Days on which somebody can come.
    shares : sequence of float
        What may be changed, each more than 0 and at most 1.

    Returns
    -------
    (calendars, visit days) array
    """
    days = len(visit_days)
    choices = np.array([0.0, *shares])
    if len(choices) ** days <= number:
        grids = np.meshgrid(*[choices] * days, indexing="ij") if days else []
        found = np.stack([grid.ravel() for grid in grids], axis=1) if days else np.zeros((1, 0))
    else:
        busy = rng.uniform(0.05, 1.0, (number - len(choices), 1))
        # Early visits more often than late ones: that is when soil gives off most.
        early = np.exp(-np.arange(days) / max(1.0, days / 2))
        chance = np.clip(busy * early / early.mean(), 0, 1)
        drawn = np.where(rng.uniform(size=(number - len(choices), days)) < chance, 1, 0)
        picked = drawn * rng.choice(choices[1:], size=drawn.shape)
        found = np.vstack([np.repeat(choices[:, np.newaxis], days, axis=1), picked])
        found = np.unique(found, axis=0)
    order = np.lexsort((*found.T, work_of(found)))
    return np.asarray(found[order])


def work_of(calendars: FloatArray) -> FloatArray:
    """Work of each calendar: visits with a change, and what is carried."""
    return np.asarray(VISIT_WORK * (calendars > 0).sum(axis=1) + SHARE_WORK * calendars.sum(axis=1))


def _member_rows(rates: Rates, members: NDArray[np.intp], repeats: int) -> Rates:
    """Parameters of some members, each repeated for every calendar."""
    picked: dict[str, float | FloatArray] = {}
    for item in fields(Rates):
        value = np.asarray(getattr(rates, item.name), dtype=float)
        picked[item.name] = float(value) if value.ndim == 0 else np.tile(value[members], repeats)
    return Rates(**picked)


def _worst(outcome: Outcome, limits: Limits, *, from_day: float) -> FloatArray:
    """Largest share of a limit that each member reaches while animals are in."""
    late = outcome.days >= from_day
    found: FloatArray = np.maximum(
        outcome.uia_mg_l[late].max(axis=0) / limits.uia_mg_l,
        outcome.nitrite_mg_l[late].max(axis=0) / limits.nitrite_mg_l,
    )
    return found


def screened(
    tank: Tank,
    option: Option,
    calendars: FloatArray,
    visit_days: Sequence[int],
    *,
    new: Mapping[str, float],
    acidity: Acidity,
    drawn: Mapping[str, FloatArray],
    members: NDArray[np.intp],
    given_off_mg_d: FloatArray,
    limits: Limits,
    last_day: int,
    on_progress: Callable[[str], None] = lambda _: None,
) -> FloatArray:
    """Largest share of a limit for each calendar and each of some members, by coarse steps.

    Every calendar and member is a column of one batch, so that the answer does not hang on how many are reckoned at once.
    """
    rates = rates_of(tank, drawn, binder=option.binder_mg > 0)
    start = start_of(tank, option, drawn)[:, members]
    count = members.size
    found = np.empty((len(calendars), count))
    at_once = max(1, COLUMNS_AT_ONCE // count)
    days = np.arange(0, last_day + 1, dtype=float)
    held = BALANCE_CO2_MG_L * drawn["co2_room_share"][members] if tank.co2_mg_l is None else tank.co2_mg_l
    for first in range(0, len(calendars), at_once):
        some = calendars[first : first + at_once]
        repeats = len(some)
        source = np.tile(given_off_mg_d[members] * option.stock_share / tank.volume_l, repeats)

        def put_in(state: FloatArray, source: FloatArray = source) -> FloatArray:
            after = state.copy()
            after[ROW["animals_mg_l_d"]] = source
            return after

        events = [Event(option.return_day, put_in)]
        events += [
            Event(float(day), partial(water_change, share=np.repeat(some[:, place], count), new=new))
            for place, day in enumerate(visit_days)
            if day <= last_day and some[:, place].any()
        ]
        batch = _member_rows(rates, members, repeats)
        course = simulate(
            rate_of(batch),
            np.tile(start, (1, repeats)),
            times=days,
            longest_step=SCREEN_STEP_D,
            events=events,
            relax=relax_of(batch),
        )
        states = np.maximum(course.states[days >= option.return_day], 0.0)
        alkalinity = states[:, ROW["alkalinity_meq_l"]]
        co2 = np.broadcast_to(np.tile(np.broadcast_to(held, (count,)), repeats), alkalinity.shape)
        ph = acidity.ph(alkalinity_meq_l=alkalinity, co2_mg_l=co2)
        uia = states[:, ROW["tan_mg_l"]] * acidity.unionised_fraction(ph=ph, alkalinity_meq_l=alkalinity)
        worst = np.maximum(
            uia.max(axis=0) / limits.uia_mg_l, states[:, ROW["nitrite_mg_l"]].max(axis=0) / limits.nitrite_mg_l
        )
        found[first : first + repeats] = worst.reshape(repeats, count)
        on_progress(f"change plans: {min(first + repeats, len(calendars))} of {len(calendars)}")
    return found


def least_work(
    tank: Tank,
    option: Option,
    visit_days: Sequence[int],
    shares: Sequence[float],
    *,
    new: Mapping[str, float],
    acidity: Acidity,
    drawn: Mapping[str, FloatArray],
    oxygen_use_mg_d: float,
    protein_g_d: float,
    limits: Limits,
    rng: np.random.Generator,
    number: int = MOST_CALENDARS,
    last_day: int = 42,
    on_progress: Callable[[str], None] = lambda _: None,
) -> Found:
    """The calendar with the least work that keeps every limit with 95 % probability.

    Notes
    -----
    Calendars are screened on members from the hard end of the ensemble, then tried on all members in the order of their
    work, those first that hold on the screen. If none of the first dozen keeps the limits, the most probable is returned.
    """
    calendars = calendars_of(visit_days, shares, number=number, rng=rng)

    def whole(calendar: FloatArray) -> Outcome:
        on = [place for place, share in enumerate(calendar) if share > 0]
        changes = Changes(
            tuple(float(visit_days[place]) for place in on), tuple(float(calendar[place]) for place in on), new
        )
        return run(
            tank,
            option,
            changes,
            acidity=acidity,
            drawn=drawn,
            oxygen_use_mg_d=oxygen_use_mg_d,
            protein_g_d=protein_g_d,
            last_day=last_day,
        )

    def probability(outcome: Outcome) -> float:
        return float(np.mean(_worst(outcome, limits, from_day=option.return_day) <= 1.0))

    middle = calendars[len(calendars) // 2]
    trouble = _worst(whole(middle), limits, from_day=option.return_day)
    order = np.argsort(trouble)
    hard = order[int(HARDEST_SHARE * order.size) :]
    members = hard[np.linspace(0, hard.size - 1, min(SCREEN_MEMBERS, hard.size)).astype(int)]
    excreted = drawn["ammonia_quotient"] * 14.007 / 31.998 * oxygen_use_mg_d
    worst = screened(
        tank,
        option,
        calendars,
        visit_days,
        new=new,
        acidity=acidity,
        drawn=drawn,
        members=members,
        given_off_mg_d=np.maximum(excreted, drawn["feed_excretion"] * protein_g_d * 1000),
        limits=limits,
        last_day=last_day,
        on_progress=on_progress,
    )
    # Of the tenth that is hardest, half must hold for 95 of 100.
    score = np.quantile(worst, 0.5, axis=1)
    promising = np.flatnonzero(score <= 1.1)
    chosen, best, at = whole(calendars[-1]), -1.0, len(calendars) - 1
    for place in (promising if promising.size else np.argsort(score))[:LOOKED_AT]:
        outcome = whole(calendars[place])
        chance = probability(outcome)
        if chance > best:
            chosen, best, at = outcome, chance, int(place)
        if chance >= WANTED:
            break
    on = [visit for visit, share in enumerate(calendars[at]) if share > 0]
    return Found(
        changes=Changes(
            tuple(float(visit_days[visit]) for visit in on),
            tuple(float(calendars[at][visit]) for visit in on),
            new,
        ),
        probability=best,
        binding_day=_binding_day(chosen, limits, from_day=option.return_day),
        sampling_days=sampling_days(chosen),
        tried=len(calendars),
    )


def _binding_day(outcome: Outcome, limits: Limits, *, from_day: float) -> int:
    """Day on which the upper ends of the bands come nearest to their limits."""
    late = outcome.days >= from_day
    high = np.maximum(
        np.percentile(outcome.uia_mg_l[late], 95, axis=1) / limits.uia_mg_l,
        np.percentile(outcome.nitrite_mg_l[late], 95, axis=1) / limits.nitrite_mg_l,
    )
    return int(outcome.days[late][int(np.argmax(high))])


def sampling_days(outcome: Outcome, *, number: int = 4, apart: int = 3) -> tuple[int, ...]:
    """Days on which a test tells most: the bands of ammonium or nitrite are widest there, some days apart."""
    width = np.maximum(
        np.subtract(*np.percentile(outcome.tan_mg_l, (95, 5), axis=1)) / max(float(outcome.tan_mg_l.max()), 1e-9),
        np.subtract(*np.percentile(outcome.nitrite_mg_l, (95, 5), axis=1))
        / max(float(outcome.nitrite_mg_l.max()), 1e-9),
    )
    chosen: list[int] = []
    for day in np.argsort(-width, kind="stable"):
        if all(abs(int(day) - other) >= apart for other in chosen):
            chosen.append(int(day))
        if len(chosen) == number:
            break
    return tuple(sorted(chosen))
