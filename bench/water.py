"""How fast waters are speciated, beside PHREEQC called through phreeqpython on the same waters, one core each.

Run: python -m bench.water [NUMBER]. Timed on both sides: a new water from its totals, alkalinity and carbon dioxide
pressure; its pH and calcite saturation at its own temperature; its conductivity at 25 C, closed to the air. Nothing is
asserted.
"""

from __future__ import annotations

import sys
import time
from typing import Any

import numpy as np

from slackwater.water.composition import Water, draws_of
from slackwater.water.speciation import conductivity_25c_us_cm, speciate_at_pco2
from tests.water.waters import phreeqc, random_waters

SAMPLE = 500


def ours(water: Water, pco2_atm: np.ndarray) -> tuple[float, float, float]:
    found = speciate_at_pco2(water, pco2_atm=pco2_atm)
    conductivity = conductivity_25c_us_cm(found.water)
    return float(np.sum(found.ph)), float(np.sum(found.si_calcite)), float(np.sum(conductivity))


def theirs_of_one(program: Any, totals: dict[str, float], *, temp_c: float, pco2_atm: float) -> None:
    """The same outputs by the cheapest right way: a second solution at 25 C, for warming the first one oxidises it."""
    given = {"units": "mmol/kgw", "temp": temp_c, **totals, "pH": f"7 CO2(g) {np.log10(pco2_atm)}"}
    water = program.add_solution(given)
    _ = water.pH, water.si("Calcite")
    carbon = 1000 * water.elements["C(4)"]
    water.forget()
    warm = program.add_solution(given | {"temp": 25, "pH": "7", "C(4)": carbon})
    _ = warm.sc
    warm.forget()


def main(number: int) -> None:
    rng = np.random.default_rng(20270210)
    sample = random_waters(rng, SAMPLE)
    rows = rng.integers(0, SAMPLE, number)
    many, pco2 = draws_of(sample.water, rows), sample.pco2_atm[rows]
    program = phreeqc()
    theirs, mine = [], []
    for _ in range(3):  # side by side, so that both see the same machine
        start = time.perf_counter()
        for row in range(SAMPLE):
            theirs_of_one(program, sample.totals(row), temp_c=sample.water.temp_c[row], pco2_atm=sample.pco2_atm[row])
        theirs.append((time.perf_counter() - start) / SAMPLE)
        start = time.perf_counter()
        ours(many, pco2)
        mine.append((time.perf_counter() - start) / number)
    baseline, took = min(theirs), min(mine)
    print(f"baseline: PHREEQC through phreeqpython {1e6 * baseline:.0f} us a water ({SAMPLE} waters, best of three)")
    print(f"speciation            {1e6 * took:.2f} us a water ({number} waters): {baseline / took:.0f} times (bar 300)")


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 100_000)
