"""What is in a water: one immutable type that every part of the program shares, and its bookkeeping of mass and charge.

A field may hold one number or an array of them (many waters, or many draws of one uncertain water); all arrays of one
water have the same shape. A litre is counted as a kilogram of water, which is right to 0.6 % up to 35 C.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import OutOfRange
from slackwater.water.salts import ATOMIC_WEIGHT, MEQ_L_PER_DKH, MMOL_L_PER_DGH, molar_mass_g_mol, totals_per_mol

FloatArray = NDArray[np.float64]
Values = float | FloatArray


@dataclass(frozen=True)
class Water:
    """Totals of one water, or of many at once.

    Attributes
    ----------
    calcium_mmol_l, magnesium_mmol_l, sodium_mmol_l, potassium_mmol_l : float or array
        Cations, all forms together [mmol/L].
    chloride_mmol_l, sulfate_mmol_l, nitrate_mmol_l, nitrite_mmol_l, phosphate_mmol_l : float or array
        Anions, all forms together [mmol/L].
    ammonia_mmol_l : float or array
        Ammonium and ammonia together (TAN) [mmol/L].
    alkalinity_meq_l : float or array
        Acid that the water can take up, down to carbonic acid, ammonium and H2PO4-; below 0 in acid water [meq/L].
    carbon_mmol_l : float or array
        Total inorganic carbon: carbon dioxide, hydrogen carbonate, carbonate [mmol/L].
    temp_c : float or array
        Temperature [C].
    free_chlorine_mg_l, combined_chlorine_mg_l : float or array
        Disinfectants, as Cl2 [mg/L].
    copper_ug_l, iron_ug_l : float or array
        Traces, which take no part in the balances [ug/L].
    """

    calcium_mmol_l: Values = 0.0
    magnesium_mmol_l: Values = 0.0
    sodium_mmol_l: Values = 0.0
    potassium_mmol_l: Values = 0.0
    chloride_mmol_l: Values = 0.0
    sulfate_mmol_l: Values = 0.0
    nitrate_mmol_l: Values = 0.0
    nitrite_mmol_l: Values = 0.0
    phosphate_mmol_l: Values = 0.0
    ammonia_mmol_l: Values = 0.0
    alkalinity_meq_l: Values = 0.0
    carbon_mmol_l: Values = 0.0
    temp_c: Values = 25.0
    free_chlorine_mg_l: Values = 0.0
    combined_chlorine_mg_l: Values = 0.0
    copper_ug_l: Values = 0.0
    iron_ug_l: Values = 0.0

    @property
    def hardness_dgh(self) -> Values:
        """General hardness: calcium and magnesium [dGH]."""
        return (self.calcium_mmol_l + self.magnesium_mmol_l) / MMOL_L_PER_DGH

    @property
    def alkalinity_dkh(self) -> Values:
        """Carbonate hardness, as the trade calls alkalinity [dKH]."""
        return self.alkalinity_meq_l / MEQ_L_PER_DKH

    @property
    def charge_gap_meq_l(self) -> Values:
        """Cations less anions, by the same convention as the alkalinity; 0 in a possible water [meq/L]."""
        cations = 2 * (self.calcium_mmol_l + self.magnesium_mmol_l) + self.sodium_mmol_l + self.potassium_mmol_l
        anions = (
            self.chloride_mmol_l
            + 2 * self.sulfate_mmol_l
            + self.nitrate_mmol_l
            + self.nitrite_mmol_l
            + self.phosphate_mmol_l
        )
        return cations + self.ammonia_mmol_l - anions - self.alkalinity_meq_l


IONS: Mapping[str, tuple[str, float]] = {
    "calcium_mmol_l": ("Ca", ATOMIC_WEIGHT["Ca"]),
    "magnesium_mmol_l": ("Mg", ATOMIC_WEIGHT["Mg"]),
    "sodium_mmol_l": ("Na", ATOMIC_WEIGHT["Na"]),
    "potassium_mmol_l": ("K", ATOMIC_WEIGHT["K"]),
    "chloride_mmol_l": ("Cl", ATOMIC_WEIGHT["Cl"]),
    "sulfate_mmol_l": ("SO4", molar_mass_g_mol("SO4")),
    "nitrate_mmol_l": ("NO3", molar_mass_g_mol("NO3")),
    "nitrite_mmol_l": ("N", ATOMIC_WEIGHT["N"]),
    "phosphate_mmol_l": ("PO4", molar_mass_g_mol("PO4")),
    "ammonia_mmol_l": ("N", ATOMIC_WEIGHT["N"]),
}
"""Each ion's name as a report counts it (TAN and nitrite as nitrogen), and the grams of that in a mole."""
CONSERVED = tuple(field.name for field in fields(Water))
"""Fields that mix by mass: all of them, temperature because the heat capacity of dilute waters is one."""


def mmol_l(name: str, mg_l: Values) -> Values:
    """An ion's mmol/L from mg/L as a report counts it; `name` is a field of ``Water`` such as ``sodium_mmol_l``."""
    return mg_l / IONS[name][1]


def ion_mg_l(water: Water, name: str) -> Values:
    """An ion's mg/L as a report counts it; the inverse of ``mmol_l``."""
    value: Values = getattr(water, name)
    return value * IONS[name][1]


def mix(parts: Sequence[tuple[float, Water]]) -> Water:
    """Waters poured together, closed to the air.

    Parameters
    ----------
    parts : sequence of (float, Water)
        Masses [kg] or litres, all 0 or more and not all 0, and their waters.

    Returns
    -------
    Water
        Totals, alkalinity, inorganic carbon and heat mix by mass; pH and carbon dioxide follow from them.

    Raises
    ------
    OutOfRange
        If an amount is negative or all are zero.
    """
    amounts = [amount for amount, _ in parts]
    total = sum(amounts)
    if any(amount < 0 for amount in amounts) or not total > 0:
        raise OutOfRange("the amounts to mix must be 0 or more, and not all 0")
    return Water(**{name: sum(amount * getattr(water, name) for amount, water in parts) / total for name in CONSERVED})


def with_acid(water: Water, *, acid_meq_l: Values) -> Water:
    """The water after a strong acid (its anion counted as chloride); a negative amount is a strong base with sodium.

    Closed to the air: the carbon stays.
    """
    acid = np.asarray(acid_meq_l, dtype=float)
    return replace(
        water,
        alkalinity_meq_l=water.alkalinity_meq_l - acid_meq_l,
        chloride_mmol_l=water.chloride_mmol_l + as_given(np.maximum(acid, 0)),
        sodium_mmol_l=water.sodium_mmol_l + as_given(np.maximum(-acid, 0)),
    )


FIELD_OF_ION: Mapping[str, str] = {
    **{symbol: name for name, (symbol, _mass) in IONS.items() if symbol != "N"},
    "TAN": "ammonia_mmol_l",
    "NO2": "nitrite_mmol_l",
    "C": "carbon_mmol_l",
    "alkalinity": "alkalinity_meq_l",
}
"""Field of each name that ``salts.totals_per_mol`` uses."""


def with_salt(water: Water, *, formula: str, mmol_l: Values) -> Water:
    """The water with a salt dissolved in it, closed to the air; volume and temperature unchanged."""
    changes: dict[str, Values] = {}
    for ion, count in totals_per_mol(formula).items():
        if count:
            name = FIELD_OF_ION[ion]
            changes[name] = getattr(water, name) + count * mmol_l
    return replace(water, **changes)


def as_given(values: FloatArray) -> Values:
    """A plain float where there is one number, the array otherwise."""
    return float(values) if values.ndim == 0 else values


def draws_of(water: Water, rows: NDArray[np.intp] | int) -> Water:
    """Some rows of an array of waters; fields with one number for all stay as they are."""
    picked: dict[str, Values] = {}
    for name in CONSERVED:
        values = np.asarray(getattr(water, name), dtype=float)
        picked[name] = as_given(values) if values.ndim == 0 else as_given(np.asarray(values[rows]))
    return Water(**picked)
