"""How fast and how true the weeks after a restart are reckoned: ensemble, table of acidity, search for water changes.

Run: python -m bench.living [MEMBERS]. Printed beside each figure is the bar it is held to; nothing is asserted.
Timed: 60 days with a water change each day, with pH and un-ionised ammonia. Beside it a loop of SciPy's LSODA over the same
rate, at the loosest tolerance with an error as small as ours, at most a thousandth of the peak. The search goes through
10,000 calendars of 16 visits with two waters, once in limits that none keeps and once in limits that some keep.
"""

from __future__ import annotations

import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial

import numpy as np
from scipy.integrate import solve_ivp

from slackwater.living.changing import Asked, Choice, Found, Limits, Workers, least_work
from slackwater.living.machine import Event, simulate
from slackwater.living.nitrogen import N_G_MOL, ROW, rate_of, relax_of, water_change
from slackwater.living.restart import (
    MEMBERS,
    STEP_D,
    USUAL_LEVERS,
    Changes,
    Option,
    carbon_dioxide_mg_l,
    drawn_parameters,
    made_ready,
    run,
)
from slackwater.water.speciation import speciate_at_co2
from tests.living.test_restart import ACIDITY, TANK, WATER

DAYS = tuple(float(day) for day in range(1, 60))
NEW = {"alkalinity_meq_l": 1.4, "nitrate_mg_l": 1.0}
DAILY = Changes(DAYS, (0.2,) * len(DAYS), NEW)
TODAY = Option("today")
LOOP = 40
VISIT_DAYS = (1, 2, 3, 4, 6, 8, 10, 12, 14, 17, 21, 24, 28, 31, 35, 38)
SOFT = {"alkalinity_meq_l": 0.3}
CHOICES = (Choice(0.3, "tap", NEW), Choice(0.5, "tap", NEW), Choice(0.3, "soft", SOFT), Choice(0.5, "soft", SOFT))


def lsoda_seconds(rates, state, tolerance: float) -> tuple[float, np.ndarray]:
    """One member, stopped at each change: the same right-hand side, called with one column."""
    rate = rate_of(rates)
    start = time.perf_counter()
    now, column, tan = 0.0, state[:, 0].copy(), [state[ROW["tan_mg_l"], 0]]
    for stop in (*DAYS, 60.0):
        solved = solve_ivp(
            lambda t, y: rate(t, y[:, np.newaxis])[:, 0],
            (now, stop),
            column,
            method="LSODA",
            rtol=tolerance,
            atol=tolerance,
        )
        column = solved.y[:, -1]
        if stop in DAYS:
            column = water_change(column[:, np.newaxis], share=0.2, new=NEW)[:, 0]
        now = stop
        tan.append(column[ROW["tan_mg_l"]])
    return time.perf_counter() - start, np.array(tan)


def ensemble_seconds(members: int) -> float:
    drawn = drawn_parameters(members, np.random.default_rng(3))
    took = []
    for _ in range(3):
        start = time.perf_counter()
        run(TANK, TODAY, DAILY, acidity=ACIDITY, drawn=drawn, oxygen_use_mg_d=0.0, protein_g_d=0.0)
        took.append(time.perf_counter() - start)
    print(f"ensemble              {min(took):.2f} s for {members} members x 60 days, daily changes, pH (bar 2 s)")
    return min(took)


def beside_lsoda(members: int, seconds: float) -> None:
    drawn = drawn_parameters(members, np.random.default_rng(3))
    known = {"acidity": ACIDITY, "oxygen_use_mg_d": 0.0, "protein_g_d": 0.0, "levers": USUAL_LEVERS}
    some = made_ready(TANK, TODAY, drawn={name: values[:LOOP] for name, values in drawn.items()}, **known)
    events = [Event(day, partial(water_change, share=0.2, new=NEW)) for day in DAYS]
    days = np.arange(0, 61, dtype=float)

    def tan(step: float) -> np.ndarray:
        rate, relax = rate_of(some.rates), relax_of(some.rates)
        course = simulate(rate, some.state, times=days, longest_step=step, events=events, relax=relax)
        return course.states[:, ROW["tan_mg_l"]]

    exact = tan(STEP_D / 8)
    peak = exact.max(axis=0)
    ours = float(np.max(np.abs(tan(STEP_D) - exact) / peak))
    for tolerance in (1e-3, 1e-4, 1e-5, 1e-6):
        runs = [lsoda_seconds(some.rates.of(member), some.state[:, [member]], tolerance) for member in range(LOOP)]
        off = max(
            float(np.max(np.abs(run_tan - exact[:, member]) / peak[member])) for member, (_, run_tan) in enumerate(runs)
        )
        loop = float(np.mean([seconds for seconds, _ in runs]))
        if off <= max(ours, 1e-3):
            break
    print(f"error of TAN          share of its peak: ours {ours:.1e}, LSODA at tolerance {tolerance:g} {off:.1e}")
    print(f"LSODA in a loop       {1000 * loop:.1f} ms a member, {loop * members / seconds:.0f} times as long (bar 20)")


def table_errors() -> None:
    """Along whole courses, against full speciation of every day of every member: the middle one and the worst."""
    for name, tank, changes in (
        ("usual, daily changes", TANK, DAILY),
        ("injected CO2, daily changes", replace(TANK, co2_mg_l=25.0), DAILY),
        ("very soft, no change", replace(TANK, alkalinity_meq_l=0.3), Changes((), (), NEW)),
    ):
        drawn = drawn_parameters(200, np.random.default_rng(5))
        known = {"oxygen_use_mg_d": 500.0, "protein_g_d": 0.65, "levers": USUAL_LEVERS}
        ready = made_ready(tank, TODAY, acidity=ACIDITY, drawn=drawn, **known)
        states = simulate(
            rate_of(ready.rates),
            ready.state,
            times=np.arange(0, 61, dtype=float),
            longest_step=STEP_D,
            events=[
                Event(visit.day, partial(water_change, share=visit.share, new=visit.new)) for visit in changes.visits()
            ],
            relax=relax_of(ready.rates),
        ).states
        alkalinity, tan = (np.maximum(states[:, ROW[row]], 0.0) for row in ("alkalinity_meq_l", "tan_mg_l"))
        full = speciate_at_co2(
            replace(
                WATER,
                alkalinity_meq_l=alkalinity.ravel(),
                sodium_mmol_l=np.maximum(WATER.sodium_mmol_l + alkalinity.ravel() - WATER.alkalinity_meq_l, 0.0),
                ammonia_mmol_l=np.maximum(tan.ravel() / N_G_MOL, 1e-6),
            ),
            co2_mg_l=np.broadcast_to(carbon_dioxide_mg_l(tank, drawn), alkalinity.shape).ravel(),
        )
        free = ready.held.without_ammonia(alkalinity, tan_mg_l=tan)
        uia = tan * np.asarray(full.ammonia_fraction).reshape(tan.shape)
        off_ph = np.abs(ready.held.ph(free) - np.asarray(full.ph).reshape(tan.shape)).max(axis=0)
        off_uia = 100 * np.abs(tan * ready.held.unionised_fraction(free) - uia).max(axis=0) / uia.max(axis=0)
        print(
            f"table of acidity      {np.median(off_ph):.4f} in pH (bar 0.01), {np.median(off_uia):.2f} % of the un-ionised "
            f"peak (bar 1 %); within both {np.mean((off_ph < 0.01) & (off_uia < 1)):.1%} of members, worst "
            f"{off_ph.max():.4f}, {off_uia.max():.2f} %, TAN to {tan.max():.0f} mg/L: {name}"
        )


def told(found: Found) -> str:
    when = " ".join(f"{day}{choice.water[0]}{100 * choice.share:.0f}" for day, choice in found.visits)
    return (
        f"work {found.work:g} kept with {found.probability:.3f}, {found.binding_limit} on day {found.binding_day}, "
        f"{found.tried} tried: {when or 'no change'}"
    )


def searches() -> None:
    drawn = drawn_parameters(MEMBERS, np.random.default_rng(11))
    for name, limits in (("none keeps", Limits()), ("some keep", Limits(uia_mg_l=0.2, nitrite_mg_l=2.5))):
        asked = Asked(
            tank=replace(TANK, media_kept=0.7),
            option=TODAY,
            visit_days=VISIT_DAYS,
            choices=CHOICES,
            acidity=ACIDITY,
            drawn=drawn,
            oxygen_use_mg_d=500.0,
            protein_g_d=0.65,
            limits=limits,
        )
        start, start_cpu = time.perf_counter(), time.process_time()
        alone = least_work(asked, rng=np.random.default_rng(1))
        took, cpu = time.perf_counter() - start, time.process_time() - start_cpu
        with ProcessPoolExecutor(2) as pool:
            start = time.perf_counter()
            shared = least_work(
                asked, rng=np.random.default_rng(1), workers=Workers(map_batches=pool.map, columns_at_once=1500)
            )
            took_two = time.perf_counter() - start
        print(
            f"change search         {took:.1f} s on one core, {cpu:.1f} s of it reckoning (bar 10 s), {took_two:.1f} s on two, "
            f"limits that {name}"
        )
        print(f"                      {told(alone)}")
        print(f"                      other batches and workers, same answer: {shared == alone}")


def main(members: int) -> None:
    beside_lsoda(members, ensemble_seconds(members))
    table_errors()
    searches()


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 2000)
