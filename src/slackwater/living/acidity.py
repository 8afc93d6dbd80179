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
from slackwater.water.salts import ATOMIC_WEIGHT
from slackwater.water.speciation import speciate_at_co2

FloatArray = NDArray[np.float64]
N_G_MOL = ATOMIC_WEIGHT["N"]
LEAST_MEQ_L, MOST_MEQ_L = 0.0, 8.0
LEAST_CO2_MG_L, MOST_CO2_MG_L = 0.3, 80.0
SOFTENING_MEQ_L = 0.02
"""Alkalinity at which the logarithmic axis turns linear, so that no alkalinity at all can be read."""
POINTS = 80
TABLE_AMMONIA_MMOL_L = 0.05
"""For which the table is made."""
FIRST_ROW, LAST_ROW = np.log(LEAST_MEQ_L + SOFTENING_MEQ_L), np.log(MOST_MEQ_L + SOFTENING_MEQ_L)


def _row(alkalinity_meq_l: FloatArray) -> FloatArray:
    """Where on the table's alkalinity axis, held within it."""
    return np.asarray(np.log(np.clip(alkalinity_meq_l, LEAST_MEQ_L, MOST_MEQ_L) + SOFTENING_MEQ_L))


@dataclass(frozen=True)
class Lines:
    """Straight pieces between values on an even axis, one row for each member or one that serves all.

    Attributes
    ----------
    level, slope : (rows, pieces) array
        A value is level + slope x place.
    first_cell : int or array
        Where each member's row begins; of a shape that goes with that of the places asked for.
    """

    level: FloatArray
    slope: FloatArray
    first_cell: int | NDArray[np.intp]

    def at(self, place: FloatArray) -> FloatArray:
        """Values at places between 0 and the number of pieces; what is not a number stays so."""
        cell = place.astype(np.intp)
        cell += self.first_cell
        found = self.slope.take(cell, mode="clip")
        found *= place
        found += self.level.take(cell, mode="clip")
        return found

    def of(self, members: int | NDArray[np.intp]) -> Lines:
        """Those of one member, or of some."""
        if len(self.level) == 1:
            return self
        return _rows_of(self.level[np.atleast_1d(members)], self.slope[np.atleast_1d(members)])

    def side_by_side(self) -> Lines:
        """The same for places of shape (members, cases)."""
        return self if isinstance(self.first_cell, int) else replace(self, first_cell=self.first_cell[:, np.newaxis])


def _rows_of(level: FloatArray, slope: FloatArray) -> Lines:
    rows, pieces = level.shape
    return Lines(level, slope, 0 if rows == 1 else pieces * np.arange(rows))


def lines(values: FloatArray) -> Lines:
    """Through values of shape (members, points)."""
    # A level piece beyond the last point, so that the end itself belongs to its own row.
    slope = np.diff(np.pad(values, ((0, 0), (0, 1)), mode="edge"), axis=1)
    return _rows_of(values - slope * np.arange(values.shape[1]), slope)


@dataclass(frozen=True)
class Held:
    """pH and un-ionised ammonia of members that each hold their carbon dioxide: they hang on alkalinity only."""

    ph_lines: Lines
    unionised_lines: Lines

    def _place(self, alkalinity_meq_l: FloatArray) -> FloatArray:
        return np.asarray((_row(alkalinity_meq_l) - FIRST_ROW) * ((POINTS - 1) / (LAST_ROW - FIRST_ROW)))

    def ph(self, alkalinity_meq_l: FloatArray) -> FloatArray:
        """The pH; members are the last axis, or the last but one after ``side_by_side``."""
        return self.ph_lines.at(self._place(alkalinity_meq_l))

    def unionised_fraction(self, alkalinity_meq_l: FloatArray) -> FloatArray:
        """Share of TAN that is un-ionised."""
        return self.unionised_lines.at(self._place(alkalinity_meq_l))

    def without_ammonia(self, alkalinity_meq_l: FloatArray, *, tan_mg_l: FloatArray) -> FloatArray:
        """Alkalinity to read the table at, where there is more ammonium than the table was made for.

        Notes
        -----
        Un-ionised ammonia is part of the alkalinity. Both it and what is left for carbonate grow in proportion to one over
        the hydrogen ion, so their ratio at a first guess serves as well as an equation solved.
        """
        surplus = tan_mg_l / N_G_MOL - TABLE_AMMONIA_MMOL_L
        found = alkalinity_meq_l + surplus * self.unionised_fraction(alkalinity_meq_l)
        np.maximum(found, 1e-9, out=found)
        found **= -1
        found *= alkalinity_meq_l
        found *= alkalinity_meq_l
        return found

    def of(self, members: NDArray[np.intp]) -> Held:
        """Of some members."""
        return Held(self.ph_lines.of(members), self.unionised_lines.of(members))

    def side_by_side(self) -> Held:
        """The same for alkalinities of shape (members, cases)."""
        return Held(self.ph_lines.side_by_side(), self.unionised_lines.side_by_side())


@dataclass(frozen=True)
class Acidity:
    """The table of one tank."""

    ph_table: RectBivariateSpline
    alkalinity_axis: FloatArray
    pka: FloatArray
    """-log10 of hydrogen ion activity times ammonia over ammonium, as concentrations, along the alkalinity axis."""

    def ph(self, *, alkalinity_meq_l: FloatArray, co2_mg_l: FloatArray) -> FloatArray:
        """The pH, each argument held within the table."""
        rows = _row(alkalinity_meq_l)
        columns = np.log(np.clip(co2_mg_l, LEAST_CO2_MG_L, MOST_CO2_MG_L))
        rows, columns = np.broadcast_arrays(rows, columns)
        return np.asarray(self.ph_table.ev(rows, columns))

    def unionised_fraction(self, *, ph: FloatArray, alkalinity_meq_l: FloatArray) -> FloatArray:
        """Share of TAN that is un-ionised."""
        pka = np.interp(_row(alkalinity_meq_l), self.alkalinity_axis, self.pka)
        return np.asarray(1 / (1 + 10 ** (pka - ph)))

    def held(self, co2_mg_l: float | FloatArray) -> Held:
        """For members that each hold their carbon dioxide, or all the same [mg/L]."""
        alkalinity = np.exp(self.alkalinity_axis) - SOFTENING_MEQ_L
        ph = self.ph(
            alkalinity_meq_l=alkalinity, co2_mg_l=np.atleast_1d(np.asarray(co2_mg_l, dtype=float))[:, np.newaxis]
        )
        return Held(lines(ph), lines(self.unionised_fraction(ph=ph, alkalinity_meq_l=alkalinity)))


def acidity_of(water: Water) -> Acidity:
    """The table of a tank of that water; its other ions and its temperature stay as they are.

    Parameters
    ----------
    water : Water
        A single water; its alkalinity and carbon are not used.
    """
    rows = np.linspace(FIRST_ROW, LAST_ROW, POINTS)
    columns = np.linspace(np.log(LEAST_CO2_MG_L), np.log(MOST_CO2_MG_L), POINTS)
    alkalinity, co2 = np.meshgrid(np.exp(rows) - SOFTENING_MEQ_L, np.exp(columns), indexing="ij")
    plain = replace(
        water,
        alkalinity_meq_l=alkalinity,
        carbon_mmol_l=0.0,
        ammonia_mmol_l=TABLE_AMMONIA_MMOL_L,
        # The charge that the alkalinity takes or leaves is sodium's, for an ionic strength near the truth.
        sodium_mmol_l=np.maximum(water.sodium_mmol_l + alkalinity - water.alkalinity_meq_l, 0.0),
    )
    found = speciate_at_co2(plain, co2_mg_l=co2)
    ph = np.asarray(found.ph)
    column = POINTS // 2
    pka = ph[:, column] + np.log10(1 / np.asarray(found.ammonia_fraction)[:, column] - 1)
    return Acidity(ph_table=RectBivariateSpline(rows, columns, ph), alkalinity_axis=rows, pka=pka)
