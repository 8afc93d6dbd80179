"""How fast the weeks after a restart are reckoned for a whole ensemble, beside a loop of SciPy's LSODA over the same rate.

Run: python -m bench.living [MEMBERS]. Timed: 60 days with a water change each day, ours with pH and un-ionised ammonia.
LSODA's tolerance is the loosest at which its error is as small as ours, a thousandth of the peak. Nothing is asserted.
"""

from __future__ import annotations

import sys
import time
from functools import partial

import numpy as np
from scipy.integrate import solve_ivp

from slackwater.living.machine import Event, simulate
from slackwater.living.nitrogen import ROW, rate_of, relax_of, water_change
from slackwater.living.restart import (
    STEP_D,
    Changes,
    Option,
    drawn_parameters,
    rates_of,
    run,
    start_of,
)
from tests.living.test_restart import ACIDITY, TANK

DAYS = tuple(float(day) for day in range(1, 60))
NEW = {"alkalinity_meq_l": 1.4, "nitrate_mg_l": 1.0}
LOOP = 40


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


def main(members: int) -> None:
    drawn = drawn_parameters(members, np.random.default_rng(3))
    changes = Changes(DAYS, (0.2,) * len(DAYS), NEW)
    option = Option("today")
    took = []
    for _ in range(3):
        start = time.perf_counter()
        run(TANK, option, changes, acidity=ACIDITY, drawn=drawn, oxygen_use_mg_d=0.0, protein_g_d=0.0)
        took.append(time.perf_counter() - start)
    print(
        f"ensemble              {min(took):.2f} s for {members} members x 60 days with daily changes and pH (bar 2 s)"
    )

    rates = rates_of(TANK, drawn, binder=False)
    events = [Event(day, partial(water_change, share=0.2, new=NEW)) for day in DAYS]
    start_state = start_of(TANK, option, drawn)[:, :LOOP]
    some = {name: values[:LOOP] for name, values in drawn.items()}
    days = np.arange(0, 61, dtype=float)

    def tan(step: float) -> np.ndarray:
        same = rates_of(TANK, some, binder=False)
        course = simulate(
            rate_of(same), start_state, times=days, longest_step=step, events=events, relax=relax_of(same)
        )
        return course.states[:, ROW["tan_mg_l"]]

    exact = tan(STEP_D / 8)
    peak = exact.max(axis=0)
    ours = float(np.max(np.abs(tan(STEP_D) - exact) / peak))
    for tolerance in (1e-3, 1e-4, 1e-5, 1e-6):
        runs = [lsoda_seconds(rates.of(member), start_state[:, [member]], tolerance) for member in range(LOOP)]
        off = max(
            float(np.max(np.abs(run_tan - exact[:, member]) / peak[member])) for member, (_, run_tan) in enumerate(runs)
        )
        loop = float(np.mean([seconds for seconds, _ in runs]))
        if off <= max(ours, 1e-3):
            break
    print(f"error of TAN, share of its peak: ours {ours:.1e}, LSODA at tolerance {tolerance:g} {off:.1e}")
    print(
        f"baseline: LSODA in a loop {1000 * loop:.1f} ms a member, {loop * members / min(took):.0f} times as long (bar 20)"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 2000)
