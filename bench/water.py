"""How fast waters are speciated, beside PHREEQC called through phreeqpython on the same waters, one core each; and how
long a recipe of six sources and eight salts takes, beside the same without salts.

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
from slackwater.water.recipe import Limit, Salt, Source, best_recipe
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


SALTS = {
    "gypsum": "CaSO4.2H2O",
    "calcium chloride": "CaCl2.2H2O",
    "Epsom salt": "MgSO4.7H2O",
    "magnesium chloride": "MgCl2.6H2O",
    "potassium hydrogen carbonate": "KHCO3",
    "sodium hydrogen carbonate": "NaHCO3",
    "potassium carbonate": "K2CO3",
    "potassium sulfate": "K2SO4",
}


def recipes() -> None:
    """Random sixes of waters, all eight salts, limits on hardness, alkalinity, nitrate, ions and conductivity."""
    rng = np.random.default_rng(7)
    salts = [Salt(name, formula, 1000, 0.98, 0.002) for name, formula in SALTS.items()]
    took, bare, proven = [], [], 0
    for number in range(20):
        sample = random_waters(rng, 6)
        waters = speciate_at_pco2(sample.water, pco2_atm=sample.pco2_atm).water
        sources = [
            Source(f"water {row}", draws_of(waters, row), float(rng.integers(20, 200)), bool(row % 2), 0.01 * row)
            for row in range(6)
        ]
        soft = float(rng.uniform(3, 9))
        limits = [
            Limit("hardness_dgh", soft, soft + 2),
            Limit("alkalinity_dkh", 2, 4),
            Limit("nitrate_mg_l", None, 25),
            Limit("potassium_mg_l", 3, 15),
            Limit("sodium_mg_l", None, 40),
            Limit("conductivity_us_cm", None, 450),
            Limit("calcium_per_magnesium", 2, 5),
        ]
        animals = draws_of(waters, number % 6)
        start = time.perf_counter()
        best_recipe(sources, [], total_l=170, limits=limits, animals_from=animals)
        bare.append(time.perf_counter() - start)
        start = time.perf_counter()
        found = best_recipe(sources, salts, total_l=170, limits=limits, animals_from=animals)
        took.append(time.perf_counter() - start)
        proven += found is None or found.proven
    print(f"baseline: the same recipes without salts, median {np.median(bare):.2f} s")
    print(
        f"recipe, 6 sources and 8 salts: median {np.median(took):.2f} s, slowest {max(took):.2f} s of {len(took)}, "
        f"{proven} proven (bar 1 s)"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 100_000)
    recipes()
