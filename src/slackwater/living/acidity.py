"""pH and un-ionised ammonia of one tank along a course, read from a table that the water model has made once.

A course of thousands of members asks for the pH millions of times; within one tank it hangs on alkalinity and carbon
dioxide only, so a table over the two holds it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RectBivariateSpline

from slackwater.water.composition import Water
from slackwater.water.speciation import speciate_at_co2

FloatArray = NDArray[np.float64]
LEAST_MEQ_L, MOST_MEQ_L = 0.0, 8.0
LEAST_CO2_MG_L, MOST_CO2_MG_L = 0.3, 80.0
SOFTENING_MEQ_L = 0.02
"""Alkalinity at which the logarithmic axis turns linear, so that no alkalinity at all can be read."""
POINTS = 80


@dataclass(frozen=True)
class Acidity:
    """The table of one tank."""

    ph_table: RectBivariateSpline
    alkalinity_axis: FloatArray
    pka: FloatArray
    """-log10 of hydrogen ion activity times ammonia over ammonium, as concentrations, along the alkalinity axis."""

    def ph(self, *, alkalinity_meq_l: FloatArray, co2_mg_l: FloatArray) -> FloatArray:
        """The pH, each argument held within the table."""
        rows = np.log(np.clip(alkalinity_meq_l, LEAST_MEQ_L, MOST_MEQ_L) + SOFTENING_MEQ_L)
        columns = np.log(np.clip(co2_mg_l, LEAST_CO2_MG_L, MOST_CO2_MG_L))
        rows, columns = np.broadcast_arrays(rows, columns)
        return np.asarray(self.ph_table.ev(rows, columns))

    def unionised_fraction(self, *, ph: FloatArray, alkalinity_meq_l: FloatArray) -> FloatArray:
        """Share of TAN that is un-ionised."""
        rows = np.log(np.clip(alkalinity_meq_l, LEAST_MEQ_L, MOST_MEQ_L) + SOFTENING_MEQ_L)
        return np.asarray(1 / (1 + 10 ** (np.interp(rows, self.alkalinity_axis, self.pka) - ph)))


def acidity_of(water: Water) -> Acidity:
    """The table of a tank of that water; its other ions and its temperature stay as they are.

    Parameters
    ----------
    water : Water
        A single water; its alkalinity and carbon are not used.
    """
    rows = np.linspace(np.log(LEAST_MEQ_L + SOFTENING_MEQ_L), np.log(MOST_MEQ_L + SOFTENING_MEQ_L), POINTS)
    columns = np.linspace(np.log(LEAST_CO2_MG_L), np.log(MOST_CO2_MG_L), POINTS)
    alkalinity, co2 = np.meshgrid(np.exp(rows) - SOFTENING_MEQ_L, np.exp(columns), indexing="ij")
    plain = replace(
        water,
        alkalinity_meq_l=alkalinity,
        carbon_mmol_l=0.0,
        ammonia_mmol_l=0.05,
        # The charge that the alkalinity takes or leaves is sodium's, for an ionic strength near the truth.
        sodium_mmol_l=np.maximum(water.sodium_mmol_l + alkalinity - water.alkalinity_meq_l, 0.0),
    )
    found = speciate_at_co2(plain, co2_mg_l=co2)
    ph = np.asarray(found.ph)
    column = POINTS // 2
    pka = ph[:, column] + np.log10(1 / np.asarray(found.ammonia_fraction)[:, column] - 1)
    return Acidity(ph_table=RectBivariateSpline(rows, columns, ph), alkalinity_axis=rows, pka=pka)
