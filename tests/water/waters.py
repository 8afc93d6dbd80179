"""Random waters of the range the program is for, and PHREEQC's answer to each; also what the speed bench measures."""

from __future__ import annotations

import platform
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from slackwater.water.composition import Water

SUPPORTED = platform.machine().lower() in ("x86_64", "amd64")
"""Where the reference library comes ready built: there its absence is an error, elsewhere the comparison is left out."""


@dataclass(frozen=True)
class Waters:
    """Arrays of waters, and the carbon dioxide pressure of each."""

    water: Water
    pco2_atm: np.ndarray

    def totals(self, row: int) -> dict[str, float]:
        """One water as the reference library reads it, mmol/kg water."""
        names = {
            "Ca": "calcium_mmol_l",
            "Mg": "magnesium_mmol_l",
            "Na": "sodium_mmol_l",
            "K": "potassium_mmol_l",
            "Cl": "chloride_mmol_l",
            "S(6)": "sulfate_mmol_l",
            "N(5)": "nitrate_mmol_l",
            "N(-3)": "ammonia_mmol_l",
            "Alkalinity": "alkalinity_meq_l",
        }
        return {name: float(np.asarray(getattr(self.water, field))[row]) for name, field in names.items()}


def random_waters(rng: np.random.Generator, number: int) -> Waters:
    """5 to 35 C, alkalinity 0 to 8 meq/L and a fifth below 0.3, ionic strength to 0.02, pCO2 1e-4 to 3e-2 atm."""
    rows: list[tuple[float, ...]] = []
    while len(rows) < number:
        alkalinity = rng.uniform(0, 0.3) if len(rows) % 5 == 0 else rng.uniform(0, 8)
        strength = rng.uniform(0.05, 1)
        calcium, magnesium, potassium, nitrate, sulfate = strength * rng.uniform(0, 1, 5) * (4, 2, 1, 1, 3)
        ammonia = rng.uniform(0, 5) / 14.007
        gap = 2 * calcium + 2 * magnesium + potassium + ammonia - nitrate - 2 * sulfate - alkalinity
        salt = strength * rng.uniform(0, 2)
        sodium, chloride = salt + max(0.0, -gap), salt + max(0.0, gap)
        single = sodium + potassium + chloride + nitrate + ammonia + alkalinity
        if 0.5 * (4 * (calcium + magnesium + sulfate) + single) > 20:
            continue
        rows.append(
            (
                *(calcium, magnesium, sodium, potassium, chloride, sulfate, nitrate, ammonia, alkalinity),
                rng.uniform(5, 35),
                10 ** rng.uniform(-4, np.log10(0.03)),
            )
        )
    columns = np.array(rows).T
    return Waters(
        water=Water(
            calcium_mmol_l=columns[0],
            magnesium_mmol_l=columns[1],
            sodium_mmol_l=columns[2],
            potassium_mmol_l=columns[3],
            chloride_mmol_l=columns[4],
            sulfate_mmol_l=columns[5],
            nitrate_mmol_l=columns[6],
            ammonia_mmol_l=columns[7],
            alkalinity_meq_l=columns[8],
            temp_c=columns[9],
        ),
        pco2_atm=columns[10],
    )


def phreeqc() -> Any:
    """The reference program, or the test skipped where it is not made for the machine."""
    try:
        import phreeqpython
    except ImportError:
        if SUPPORTED:
            raise
        pytest.skip(f"phreeqpython has no build for {platform.machine()}: the comparison with PHREEQC is left out")
    return phreeqpython.PhreeqPython(database="phreeqc.dat")


def reference(program: Any, totals: dict[str, float], *, temp_c: float, pco2_atm: float) -> dict[str, float]:
    """A new water at its temperature, then the same closed water at 25 C for its conductivity."""
    given = {"units": "mmol/kgw", "temp": temp_c, **totals, "pH": f"7 CO2(g) {np.log10(pco2_atm)}"}
    water = program.add_solution(given)
    found = {"ph": water.pH, "si": water.si("Calcite"), "ionic": water.I}
    found["co2"] = 1000 * water.species["CO2"]
    carbon = 1000 * water.elements["C(4)"]
    water.forget()
    # Warming the first solution would oxidise its ammonium with its nitrate.
    warm = program.add_solution(given | {"temp": 25, "pH": "7", "C(4)": carbon})
    found["conductivity"] = warm.sc
    warm.forget()
    return found
