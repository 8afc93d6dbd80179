"""Constants of the carbonate and ammonia systems and of the ion pairs, and activity coefficients.

Association constants are for the free ions; T is in kelvin, log to base 10. The functions take arrays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from slackwater.water.composition import FloatArray

LN10 = float(np.log(10.0))
ZERO_C_K = 273.15
GAS_CONSTANT_KCAL_MOL_K = 0.00198720

Coefficients = tuple[float, float, float, float, float]
"""a + b T + c/T + d log T + e/T^2."""

ANALYTIC: Mapping[str, Coefficients] = {
    "co2_gas": (108.3865, 0.01985076, -6919.53, -40.45154, 669365.0),
    "k1": (-356.3094, -0.06091964, 21834.37, 126.8339, -1684915.0),
    "k2": (-107.8871, -0.03252849, 5151.79, 38.92561, -563713.9),
    "calcite": (-171.9065, -0.077993, 2839.319, 71.595, 0.0),
    "kw": (-283.971, -0.05069842, 13323.0, 102.24447, -1119669.0),
    "cahco3": (1209.120, 0.31294, -34765.05, -478.782, 0.0),
    "caco3": (-1228.732, -0.299444, 35512.75, 485.818, 0.0),
    "mghco3": (-59.2150, 0.0, 2537.455, 20.92298, 0.0),
    "mgco3": (0.9910, 0.00667, 0.0, 0.0, 0.0),
    "gypsum": (68.2401, 0.0, -3221.51, -25.0627, 0.0),
    "kso4": (3.106, 0.0, -673.6, 0.0, 0.0),
    "nh4": (-0.09018, 0.0, -2729.92, 0.0, 0.0),
}
"""Plummer and Busenberg (1982), Geochim. Cosmochim. Acta 46:1011-1040, for carbonates and calcium; Siebert and Hostetler
(1977), as carried in WATEQ4F (Ball and Nordstrom 1991, USGS OFR 91-183), for magnesium; Emerson et al. (1975), J. Fish.
Res. Board Can. 32:2379-2383, for ammonium."""

AT_25_C: Mapping[str, tuple[float, float]] = {
    "caso4": (2.25, 1.325),
    "mgso4": (2.37, 4.55),
    "naso4": (0.70, 1.12),
    "nahco3": (-0.25, -1.0),
    "naco3": (1.27, 8.91),
    "nh4so4": (1.11, 0.0),
    "hso4": (1.988, 3.85),
    "h2po4": (7.207, -0.99),
}
"""log K at 25 C and enthalpy [kcal/mol], as carried in the public data base of Parkhurst and Appelo (2013), USGS TM
6-A43."""

SIZE: Mapping[str, tuple[int, float, float]] = {
    "ca": (2, 5.0, 0.165),
    "mg": (2, 5.5, 0.20),
    "na": (1, 4.08, 0.082),
    "k": (1, 3.5, 0.015),
    "h": (1, 9.0, 0.0),
    "oh": (1, 3.5, 0.0),
    "hco3": (1, 5.4, 0.0),
    "co3": (2, 5.4, 0.0),
    "so4": (2, 5.0, -0.04),
    "nh4": (1, 2.5, 0.0),
    "cahco3": (1, 6.0, 0.0),
    "mghco3": (1, 4.0, 0.0),
    "hpo4": (2, 5.0, 0.0),
    "none": (0, 0.0, 0.1),
}
"""Charge, ion size [angstrom] and linear term of the extended Debye-Hueckel equation: Truesdell and Jones (1974), J. Res.
USGS 2:233-248, as carried by Parkhurst and Appelo (2013). H2PO4- and the charged pairs with sulfate and carbonate count
like hydrogen carbonate; ``none`` is any species without charge."""

REACTIONS = (*ANALYTIC, *AT_25_C)
ACTIVE_SPECIES = tuple(SIZE)
_ANALYTIC = np.array(list(ANALYTIC.values()))
_AT_25_C = np.array(list(AT_25_C.values()))
_SLOPE = _AT_25_C[:, 1] / (GAS_CONSTANT_KCAL_MOL_K * LN10)
_COEFFICIENTS = LN10 * np.vstack(
    [_ANALYTIC, np.column_stack([_AT_25_C[:, 0] + _SLOPE / 298.15, 0 * _SLOPE, -_SLOPE, 0 * _SLOPE, 0 * _SLOPE])]
)


@dataclass(frozen=True)
class Constants:
    """Equilibrium constants at one or many temperatures, on the activity scale: each an array of the temperatures."""

    k: Mapping[str, FloatArray]
    debye_a: FloatArray
    debye_b: FloatArray


def log_k(name: str, *, temp_c: FloatArray | float) -> FloatArray:
    """Log K of one reaction of ``REACTIONS``, temp_c in [0, 90]."""
    kelvin = np.atleast_1d(np.asarray(temp_c, dtype=float)) + ZERO_C_K
    found = _COEFFICIENTS[REACTIONS.index(name)] @ _powers(kelvin) / LN10
    return np.asarray(found.reshape(np.shape(temp_c)))


def _powers(kelvin: FloatArray) -> FloatArray:
    inverse = 1 / kelvin
    return np.stack([np.ones_like(kelvin), kelvin, inverse, np.log10(kelvin), inverse * inverse])


def dielectric_constant(temp_c: FloatArray) -> FloatArray:
    """Of water, 0 to 100 C; Malmberg and Maryott (1956), J. Res. NBS 56:1-8."""
    return 87.740 - 0.40008 * temp_c + 9.398e-4 * temp_c**2 - 1.410e-6 * (temp_c * temp_c * temp_c)


def constants_at(temp_c: FloatArray) -> Constants:
    """All constants for a row of temperatures [C]."""
    kelvin = temp_c + ZERO_C_K
    k = np.exp(_COEFFICIENTS @ _powers(kelvin))
    # Density by the short form of Kell; 0.1 % is far below what matters here.
    density = 1 - (temp_c - 3.98) ** 2 * (temp_c + 283) / (503570 * (temp_c + 67.26))
    reach = dielectric_constant(temp_c) * kelvin
    root = np.sqrt(density / reach)
    return Constants(k=dict(zip(REACTIONS, k, strict=True)), debye_a=1.82483e6 * root / reach, debye_b=50.2916 * root)


def inverse_activity_coefficients(ionic_strength_mol_l: FloatArray, constants: Constants) -> FloatArray:
    """Concentration per activity: a row for each of ``ACTIVE_SPECIES``, a column for each water [ionic strength to 0.1 mol/L].

    Notes
    -----
    log g = -A z^2 sqrt(I) / (1 + B a sqrt(I)) + b I; log g = 0.1 I for a species without charge.
    """
    root = np.sqrt(ionic_strength_mol_l)
    pull = LN10 * constants.debye_a * root
    strong_pull = 4 * pull
    spread = constants.debye_b * root
    found = np.empty((len(SIZE), *root.shape))
    for row, (charge, size, linear) in zip(found, SIZE.values(), strict=True):
        # A row at a time: a small array stays in the processor's cache.
        if charge:
            np.multiply(spread, size, out=row)
            row += 1
            np.divide(pull if charge == 1 else strong_pull, row, out=row)
            if linear:
                row -= LN10 * linear * ionic_strength_mol_l
        else:
            np.multiply(ionic_strength_mol_l, -LN10 * linear, out=row)
        np.exp(row, out=row)
    return found
