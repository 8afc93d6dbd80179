"""From totals to pH, carbon dioxide, un-ionised ammonia, calcite saturation and conductivity; for one water or many.

Two facts about the carbonate system fix the rest; which two are known is the name of the function.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import Contradiction, OutOfRange
from slackwater.water.composition import FloatArray, Values, Water, as_given
from slackwater.water.equilibria import ACTIVE_SPECIES, Constants, constants_at, inverse_activity_coefficients, log_k
from slackwater.water.salts import ATOMIC_WEIGHT, molar_mass_g_mol

CO2_G_MOL = molar_mass_g_mol("CO2")
N_G_MOL = ATOMIC_WEIGHT["N"]
CHUNK = 5120
"""Waters solved at once: their arrays stay in the processor's cache."""
SWEEPS = 6
MOST_SWEEPS = 192
CLOSE_ENOUGH = 1e-5
"""Relative change of hydrogen ions in the last sweep at which a water counts as solved: 4e-6 in pH."""
STRENGTH_CLOSE_ENOUGH = 3e-5
"""Change of the ionic strength after the last sweep over its root, to go with that."""
HIGHEST_IONIC_STRENGTH_MOL_L = 0.1
COLDEST_C, WARMEST_C = 0.0, 50.0


LIMITING_CONDUCTIVITY: Mapping[str, float] = {
    "ca": 119.0,
    "mg": 106.0,
    "na": 50.1,
    "k": 73.5,
    "nh4": 73.5,
    "h": 349.8,
    "oh": 198.0,
    "cl": 76.35,
    "so4": 160.0,
    "no3": 71.4,
    "no2": 71.8,
    "hco3": 44.5,
    "co3": 138.6,
    "h2po4": 33.0,
    "hpo4": 114.0,
    "hso4": 50.0,
    "cahco3": 19.0,
    "mghco3": 18.0,
    "naco3": 22.0,
    "naso4": 23.2,
    "kso4": 28.0,
    "nh4so4": 28.0,
}
"""Molar conductivity at infinite dilution and 25 C [S cm2/mol]: handbook values (CRC Handbook of Chemistry and Physics,
from memory); pairs from the diffusion coefficients of Parkhurst and Appelo (2013)."""
DAMPING = 0.55
"""Exponent that ties conductivity to activity: fitted to reference waters by PHREEQC, within 2 %."""


@dataclass(frozen=True)
class Speciation:
    """One water, or many, with all forms told apart.

    Attributes
    ----------
    water : Water
        The totals, alkalinity and inorganic carbon included, whichever of them was solved for.
    ph : float or array
        -log10 of the hydrogen ion activity, as a meter reads it.
    co2_mmol_l, bicarbonate_mmol_l, carbonate_mmol_l : float or array
        Dissolved carbon dioxide with carbonic acid; free hydrogen carbonate; free carbonate [mmol/L].
    ammonia_mmol_l : float or array
        Un-ionised ammonia, with activities [mmol/L].
    pco2_atm : float or array
        Pressure of carbon dioxide that the water is in balance with [atm].
    si_calcite : float or array
        Saturation index log10(IAP/K) of calcite; -inf without calcium or carbonate.
    ionic_strength_mol_l : float or array
        [mol/L].
    si_gypsum : float or array
        The same for gypsum.
    """

    water: Water
    ph: Values
    co2_mmol_l: Values
    bicarbonate_mmol_l: Values
    carbonate_mmol_l: Values
    ammonia_mmol_l: Values
    pco2_atm: Values
    si_calcite: Values
    si_gypsum: Values
    ionic_strength_mol_l: Values

    @property
    def co2_mg_l(self) -> Values:
        """Dissolved carbon dioxide [mg/L]."""
        return self.co2_mmol_l * CO2_G_MOL

    @property
    def ammonia_n_mg_l(self) -> Values:
        """Un-ionised ammonia [mg N/L]."""
        return self.ammonia_mmol_l * N_G_MOL

    @property
    def ammonia_fraction(self) -> Values:
        """Share of TAN that is un-ionised; not a number without TAN."""
        with np.errstate(invalid="ignore", divide="ignore"):
            return as_given(np.asarray(self.ammonia_mmol_l) / np.asarray(self.water.ammonia_mmol_l))


class _Sums(NamedTuple):
    """What hangs on the ionic strength and the free ions: taken as fixed within one step for the hydrogen ion."""

    bicarbonate: FloatArray
    """Hydrogen carbonate and its pairs per dissolved carbon dioxide, times h."""
    carbonate: FloatArray
    """Carbonate and its pairs per dissolved carbon dioxide, times h squared."""
    hydroxide: FloatArray
    """[OH-] times h."""
    hydrogen: FloatArray
    """[H+] and [HSO4-] per h."""
    nh4: FloatArray
    """Ammonium forms per activity of NH4+."""
    nh3: FloatArray
    """[NH3] per activity of NH4+, times h."""
    h2po4: FloatArray
    hpo4: FloatArray
    neutral: FloatArray
    """Dissolved per activity, of a species without charge."""
    ammonia: FloatArray
    phosphate: FloatArray
    bound: tuple[FloatArray, FloatArray, FloatArray]
    """Calcium and magnesium, their share in pairs with either carbonate, and that share with carbonate counted twice:
    what is bound already keeps the carbonates from moving with h."""


_CATIONS = ACTIVE_SPECIES[:4]
_H, _OH, _HCO3, _CO3, _SO4, _NH4, _CAHCO3, _MGHCO3, _HPO4, _NONE = range(4, 14)
"""Rows of ``equilibria.ACTIVE_SPECIES``."""
_NONE_MOVING = np.zeros(0, dtype=bool)

Given = Mapping[str, FloatArray]
_Step = Callable[[FloatArray, _Sums, Given], tuple[FloatArray, FloatArray]]
"""From the last h, the sums and what is given: the next h and the carbon dioxide [mol/L]."""


def _others(h: FloatArray, sums: _Sums) -> tuple[FloatArray, FloatArray]:
    """Alkalinity that is not carbonate, and minus its slope in ln h."""
    hydroxide = sums.hydroxide / h
    hydrogen = sums.hydrogen * h
    share = sums.nh3 / (sums.nh3 + sums.nh4 * h)
    ammonia = sums.ammonia * share
    alkalinity = hydroxide - hydrogen + ammonia
    slope = hydroxide + hydrogen + ammonia * (1 - share)
    if sums.phosphate.any():
        part = sums.hpo4 / (sums.hpo4 + sums.h2po4 * h)
        phosphate = sums.phosphate * part
        alkalinity += phosphate
        slope += phosphate * (1 - part)
    return alkalinity, slope


def _row_sum(weights: FloatArray, values: FloatArray) -> FloatArray:
    total: FloatArray = np.einsum("ij,ij->j", weights, values)
    return total


def _step_in_ln(excess: FloatArray, slope: FloatArray) -> FloatArray:
    """One Newton step, at most a factor of ten."""
    return np.minimum(np.maximum(excess / slope, -2.3), 2.3)


def _from_co2(h: FloatArray, sums: _Sums, given: Given) -> tuple[FloatArray, FloatArray]:
    co2 = given["co2"] if "co2" in given else given["co2_activity"] * sums.neutral
    ratio = co2 / h
    once = sums.bicarbonate * ratio
    twice = sums.carbonate * ratio / h
    others, slope = _others(h, sums)
    cations, _, share_twice = sums.bound
    slope += once + 4 * twice - _row_sum(cations * share_twice, share_twice)
    return h * np.exp(_step_in_ln(once + 2 * twice + others - given["alkalinity"], slope)), co2


def _ratios(h: FloatArray, sums: _Sums) -> tuple[FloatArray, FloatArray]:
    """Bicarbonate and carbonate forms per carbon dioxide."""
    return sums.bicarbonate / h, sums.carbonate / (h * h)


def _from_carbon(h: FloatArray, sums: _Sums, given: Given) -> tuple[FloatArray, FloatArray]:
    once, twice = _ratios(h, sums)
    co2 = given["carbon"] / (1 + once + twice)
    once, twice = once * co2, twice * co2
    others, slope = _others(h, sums)
    cations, share_once, share_twice = sums.bound
    bound_once, bound_twice = cations * share_once, cations * share_twice
    first_moment = once + 2 * twice - _row_sum(bound_once, share_twice)
    with_carbon = first_moment / (given["carbon"] - _row_sum(bound_once, share_once) + 1e-30)
    slope += once + 4 * twice - _row_sum(bound_twice, share_twice) - first_moment * with_carbon
    step = _step_in_ln(once + 2 * twice + others - given["alkalinity"], slope)
    return h * np.exp(step), co2 * np.exp(with_carbon * step)


def _from_ph(h: FloatArray, sums: _Sums, given: Given) -> tuple[FloatArray, FloatArray]:
    once, twice = _ratios(h, sums)
    others, _ = _others(h, sums)
    return h, np.maximum(0.0, (given["alkalinity"] - others) / (once + 2 * twice))


def _from_ph_and_carbon(h: FloatArray, sums: _Sums, given: Given) -> tuple[FloatArray, FloatArray]:
    once, twice = _ratios(h, sums)
    return h, given["carbon"] / (1 + once + twice)


def _from_ph_and_co2(h: FloatArray, sums: _Sums, given: Given) -> tuple[FloatArray, FloatArray]:
    return h, given["co2"]


def _from_carbon_and_co2(h: FloatArray, sums: _Sums, given: Given) -> tuple[FloatArray, FloatArray]:
    once, twice = _ratios(h, sums)
    first, second = once * h, twice * h * h
    rest = given["carbon"] / given["co2"] - 1
    # first / h + second / h^2 = rest, solved for 1 / h in the form that loses no digits.
    inverse = 2 * rest / (first + np.sqrt(first * first + 4 * second * rest))
    return 1 / inverse, given["co2"]


def _first(first: FloatArray, second: FloatArray, kw: FloatArray, given: Given) -> tuple[FloatArray, FloatArray]:
    """A start near the answer, without pairs, ammonia and phosphate: h and carbon dioxide.

    ``first`` and ``second`` are [HCO3-] h / [CO2] and [CO3--] h^2 / [CO2].
    """
    if "alkalinity" not in given:
        h = given["h"] if "h" in given else first / np.maximum(given["carbon"] / given["co2"] - 1, 1e-9)
        co2 = given["co2"] if "co2" in given else given["carbon"] / (1 + (first + second / h) / h)
        return h, co2
    alkalinity = given["alkalinity"]
    if "h" in given:
        h = given["h"]
        return h, np.maximum(0.0, alkalinity) / (first / h + 2 * second / (h * h))
    if "carbon" in given:
        # r h^2 + (r - 1) K1 h + (r - 2) K1 K2 = 0, r = alkalinity / carbon, kept where hydroxide does not matter yet.
        carbon = given["carbon"] + 1e-12
        share = np.clip(alkalinity / carbon, 1e-4, 1.98)
        slope = (share - 1) * first
        root = np.sqrt(slope * slope + 4 * share * (2 - share) * second)
        h = np.where(slope > 0, 2 * (2 - share) * second / (slope + root), (root - slope) / (2 * share))
        h = np.maximum(h, kw / (np.abs(alkalinity) + 1e-7))
        return h, carbon / (1 + (first + second / h) / h)
    co2 = given["co2"] if "co2" in given else given["co2_activity"]
    half = 0.5 * alkalinity
    root = np.sqrt(half * half + first * co2 + kw)
    h = np.where(half > 0, (first * co2 + kw) / (root + np.abs(half)), root - half)
    return h, co2


class _Settled(NamedTuple):
    """Activities and concentrations per activity at which a water has come to rest."""

    h: FloatArray
    co2: FloatArray
    sums: _Sums
    cations: FloatArray
    """Activities, a row for each of ``_CATIONS``."""
    a_so4: FloatArray
    a_hco3: FloatArray
    a_co3: FloatArray
    a_nh4: FloatArray
    per_activity: FloatArray
    pairs: tuple[FloatArray, FloatArray, FloatArray]
    """Weights of the pairs of each cation with sulfate, hydrogen carbonate, carbonate."""
    nh4so4: FloatArray
    hso4: FloatArray
    ionic: FloatArray
    still_moving: NDArray[np.bool_]


def _ionic_strength(totals: Mapping[str, FloatArray], at: _Settled) -> FloatArray:
    g = dict(zip(ACTIVE_SPECIES, at.per_activity, strict=True))
    with_so4, with_hco3, _with_co3 = at.pairs
    phosphate = totals["po4"] * at.sums.hpo4 / (at.sums.hpo4 + at.sums.h2po4 * at.h)
    double = g["ca"] * at.cations[0] + g["mg"] * at.cations[1] + g["so4"] * at.a_so4 + g["co3"] * at.a_co3 + phosphate
    single = (
        totals["plain"]
        + (with_so4[2] * at.a_so4 + g["na"] + at.pairs[2][2] * at.a_co3) * at.cations[2]
        + (with_so4[3] * at.a_so4 + g["k"]) * at.cations[3]
        + (with_hco3[0] * at.cations[0] + with_hco3[1] * at.cations[1] + g["hco3"]) * at.a_hco3
        + at.sums.hydrogen * at.h
        + at.sums.hydroxide / at.h
        + at.sums.nh4 * at.a_nh4
        + (totals["po4"] - phosphate)
    )
    # The model ends at 0.1 mol/L; the limit keeps a start far off from running away.
    found: FloatArray = np.minimum(2 * double + 0.5 * single, 2 * HIGHEST_IONIC_STRENGTH_MOL_L)
    return found


def _products(*pairs: tuple[FloatArray, FloatArray]) -> FloatArray:
    """One row for each pair of factors."""
    found = np.empty((len(pairs), pairs[0][1].size))
    for row, (first, second) in zip(found, pairs, strict=True):
        np.multiply(first, second, out=row)
    return found


def _settle(totals: Mapping[str, FloatArray], constants: Constants, given: Given, step: _Step, sweeps: int) -> _Settled:
    """Fixed point on ionic strength and free ions, with one Newton step in ln h in each sweep [mol/L]."""
    k = constants.k
    cations, sulfate, ammonia = totals["cations"], totals["so4"], totals["nh4"]
    ionic = totals["strength"] + 0.5 * np.abs(given["alkalinity"] if "alkalinity" in given else given.get("carbon", 0))
    h = co2 = np.zeros_like(ionic)
    a_so4 = a_hco3 = a_co3 = last = h
    at: _Settled | None = None
    for sweep in range(sweeps):
        # The ionic strength settles at once, so it is followed in some sweeps only.
        if at is None or sweep % 2 == 0:
            if at is not None:
                ionic = _ionic_strength(totals, at)
            g = inverse_activity_coefficients(ionic, constants)
            like_hco3, none = g[_HCO3], g[_NONE]
            with_so4 = _products(
                (k["caso4"], none), (k["mgso4"], none), (k["naso4"], like_hco3), (k["kso4"], like_hco3)
            )
            with_hco3 = _products((k["cahco3"], g[_CAHCO3]), (k["mghco3"], g[_MGHCO3]), (k["nahco3"], none))
            with_co3 = _products((k["caco3"], none), (k["mgco3"], none), (k["naco3"], like_hco3))
            nh4so4, hso4 = k["nh4so4"] * like_hco3, k["hso4"] * like_hco3
            first, second = k["k1"] / none, k["k1"] * k["k2"] / none
            hydroxide, nh3, hpo4 = k["kw"] * g[_OH], k["nh4"] * none, g[_HPO4] / k["h2po4"]
        if at is None:
            h, co2 = _first(first * like_hco3, second * g[_CO3], hydroxide, given)
            a_so4 = sulfate / (g[_SO4] + _row_sum(with_so4, cations))
            a_hco3 = first * co2 / h
            a_co3 = k["k2"] * a_hco3 / h
        bound_once, bound_twice = with_hco3 * a_hco3, with_co3 * a_co3
        forms = with_so4 * a_so4
        forms += g[:4]
        forms[:3] += bound_once
        forms[:3] += bound_twice
        active = cations / forms
        # Of sodium too little is bound to matter here.
        share_once = bound_once[:2] / forms[:2]
        share_twice = bound_twice[:2] / forms[:2]
        share_once += share_twice
        share_twice += share_once
        sums = _Sums(
            bicarbonate=first * (like_hco3 + _row_sum(with_hco3, active[:3])),
            carbonate=second * (g[_CO3] + _row_sum(with_co3, active[:3])),
            hydroxide=hydroxide,
            hydrogen=g[_H] + hso4 * a_so4,
            nh4=g[_NH4] + nh4so4 * a_so4,
            nh3=nh3,
            h2po4=like_hco3,
            hpo4=hpo4,
            neutral=none,
            ammonia=ammonia,
            phosphate=totals["po4"],
            bound=(cations[:2], share_once, share_twice),
        )
        last = h
        h, co2 = step(h, sums, given)
        a_nh4 = ammonia * h / (sums.nh4 * h + nh3)
        a_so4 = sulfate / (g[_SO4] + _row_sum(with_so4, active) + nh4so4 * a_nh4 + hso4 * h)
        a_hco3 = first * co2 / h
        a_co3 = k["k2"] * a_hco3 / h
        at = _Settled(
            h=h,
            co2=co2,
            sums=sums,
            cations=active,
            a_so4=a_so4,
            a_hco3=a_hco3,
            a_co3=a_co3,
            a_nh4=a_nh4,
            per_activity=g,
            pairs=(with_so4, with_hco3, with_co3),
            nh4so4=nh4so4,
            hso4=hso4,
            ionic=ionic,
            still_moving=_NONE_MOVING,
        )
    if at is None:
        raise ValueError("sweeps must be 1 or more")
    now = _ionic_strength(totals, at)
    # The coefficients go with the root of the ionic strength.
    drifted = np.abs(now - ionic) > STRENGTH_CLOSE_ENOUGH * np.sqrt(ionic)
    return at._replace(ionic=now, still_moving=drifted | (np.abs(at.h - last) > CLOSE_ENOUGH * at.h))


def _forms(totals: Mapping[str, FloatArray], constants: Constants, at: _Settled) -> dict[str, FloatArray]:
    """What a settled water is made of, in mmol/L, and what an instrument would show."""
    k, h, co2 = constants.k, at.h, at.co2
    g = dict(zip(ACTIVE_SPECIES, at.per_activity, strict=True))
    ratio = co2 / h
    once, twice = at.sums.bicarbonate * ratio, at.sums.carbonate * ratio / h
    others, _slope = _others(h, at.sums)
    with np.errstate(divide="ignore"):
        calcium = np.log10(at.cations[0])
        si_calcite = calcium + np.log10(at.a_co3 / k["calcite"])
        si_gypsum = calcium + np.log10(at.a_so4 / k["gypsum"])
    return {
        "ph": -np.log10(h),
        "co2": 1e3 * co2,
        "hco3": 1e3 * g["hco3"] * at.a_hco3,
        "co3": 1e3 * g["co3"] * at.a_co3,
        "nh3": 1e3 * at.a_nh4 * at.sums.nh3 / h,
        "pco2": co2 / (at.sums.neutral * k["co2_gas"]),
        "si_calcite": si_calcite,
        "si_gypsum": si_gypsum,
        "ionic": at.ionic,
        "alkalinity": 1e3 * (once + 2 * twice + others),
        "carbon": 1e3 * (co2 + once + twice),
    }


def _conductance(totals: Mapping[str, FloatArray], _constants: Constants, at: _Settled) -> dict[str, FloatArray]:
    """Conductivity of the settled ions with the mobilities of 25 C [uS/cm]."""
    g = dict(zip(ACTIVE_SPECIES, at.per_activity, strict=True))
    limit = LIMITING_CONDUCTIVITY
    calcium, magnesium, sodium, potassium = at.cations
    with_so4, with_hco3, with_co3 = at.pairs
    phosphate = totals["po4"] * at.sums.hpo4 / (at.sums.hpo4 + at.sums.h2po4 * at.h)
    single = (
        totals["plain_conductance"]
        + (limit["na"] * g["na"] + limit["naso4"] * with_so4[2] * at.a_so4 + limit["naco3"] * with_co3[2] * at.a_co3)
        * sodium
        + (limit["k"] * g["k"] + limit["kso4"] * with_so4[3] * at.a_so4) * potassium
        + (
            limit["hco3"] * g["hco3"]
            + limit["cahco3"] * with_hco3[0] * calcium
            + limit["mghco3"] * with_hco3[1] * magnesium
        )
        * at.a_hco3
        + (limit["h"] * g["h"] + limit["hso4"] * at.hso4 * at.a_so4) * at.h
        + limit["oh"] * at.sums.hydroxide / at.h
        + (limit["nh4"] * g["nh4"] + limit["nh4so4"] * at.nh4so4 * at.a_so4) * at.a_nh4
        + limit["h2po4"] * (totals["po4"] - phosphate)
    )
    double = (
        limit["ca"] * g["ca"] * calcium
        + limit["mg"] * g["mg"] * magnesium
        + limit["so4"] * g["so4"] * at.a_so4
        + limit["co3"] * g["co3"] * at.a_co3
        + limit["hpo4"] * phosphate
    )
    damping = np.exp(-DAMPING * np.log(g["hco3"]))
    # Carbonate has the size of hydrogen carbonate and four times its exponent.
    return {"conductance": 1e3 * (single * damping + double * damping ** (4 / np.sqrt(2)))}


_Reader = Callable[[Mapping[str, FloatArray], Constants, _Settled], dict[str, FloatArray]]


def _solve(
    totals: Mapping[str, FloatArray], given: Given, step: _Step, read: _Reader, sweeps: int = SWEEPS
) -> dict[str, FloatArray]:
    """What is to be read off each water, in chunks; those that have not come to rest are solved with more sweeps."""
    size = next(iter(given.values())).size
    out: dict[str, FloatArray] = {}
    moving = np.zeros(size, dtype=bool)
    for start in range(0, max(size, 1), CHUNK):
        rows = slice(start, start + CHUNK)
        part = _stacked(_rows_of(totals, rows))
        constants = constants_at(part["temp_c"])
        at = _settle(part, constants, _rows_of(given, rows), step, sweeps)
        moving[rows] = at.still_moving
        for name, value in read(part, constants, at).items():
            if name not in out:
                out[name] = np.empty(size)
            out[name][rows] = value
    again = np.flatnonzero(moving)
    if again.size and sweeps < MOST_SWEEPS:
        for name, value in _solve(_rows_of(totals, again), _rows_of(given, again), step, read, 2 * sweeps).items():
            out[name][again] = value
    return out


def _rows_of(arrays: Mapping[str, FloatArray], rows: slice | NDArray[np.intp]) -> dict[str, FloatArray]:
    """Some waters; what is one for all stays."""
    return {name: value if value.size == 1 else value[rows] for name, value in arrays.items()}


_TOTALS: Mapping[str, str] = {
    "ca": "calcium_mmol_l",
    "mg": "magnesium_mmol_l",
    "na": "sodium_mmol_l",
    "k": "potassium_mmol_l",
    "cl": "chloride_mmol_l",
    "so4": "sulfate_mmol_l",
    "no3": "nitrate_mmol_l",
    "no2": "nitrite_mmol_l",
    "po4": "phosphate_mmol_l",
    "nh4": "ammonia_mmol_l",
}


def _stacked(totals: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
    """Totals as the solver wants them: cations in rows, ions that pair with nothing in sums."""
    limit = LIMITING_CONDUCTIVITY
    plain = totals["cl"] + totals["no3"] + totals["no2"]
    cations = np.stack(np.broadcast_arrays(*(totals[name] for name in _CATIONS)))
    single = cations[2] + cations[3] + plain + totals["nh4"] + totals["po4"]
    return {
        "cations": cations,
        "so4": totals["so4"],
        "nh4": totals["nh4"],
        "po4": totals["po4"],
        "plain": plain,
        "plain_conductance": limit["cl"] * totals["cl"] + limit["no3"] * totals["no3"] + limit["no2"] * totals["no2"],
        # As if all were free ions: a start.
        "strength": 2 * (cations[0] + cations[1] + totals["so4"]) + 0.5 * single + 1e-7,
        "temp_c": totals["temp_c"],
    }


def _read_off(water: Water, given: Mapping[str, Values], step: _Step, read: _Reader) -> dict[str, Values]:
    """Check, spread to one shape, solve, and give back in that shape."""
    totals: dict[str, Values] = {name: getattr(water, field) for name, field in _TOTALS.items()}
    for name, values in totals.items():
        if not np.all(np.isfinite(values)) or np.any(np.asarray(values) < 0):
            raise OutOfRange(f"{_TOTALS[name]} must be 0 or more in every water")
    temps = np.asarray(water.temp_c, dtype=float)
    if not np.all((temps >= COLDEST_C) & (temps <= WARMEST_C)):
        raise OutOfRange(f"temp_c must be {COLDEST_C:g} to {WARMEST_C:g} °C in every water")
    shape = np.broadcast_shapes(
        *(np.shape(value) for value in (*totals.values(), *given.values(), water.temp_c)),
    )

    def spread(value: Values) -> FloatArray:
        return np.ascontiguousarray(np.broadcast_to(np.asarray(value, dtype=float), shape).reshape(-1))

    def as_row(value: Values) -> FloatArray:
        # One number for all waters stays one: constants at one temperature are worked out once.
        array = np.asarray(value, dtype=float)
        return array.reshape(1) if array.ndim == 0 else spread(array)

    flat = {name: as_row(value) / 1000 for name, value in totals.items()} | {"temp_c": as_row(water.temp_c)}
    flat_given = {name: spread(value) for name, value in given.items()}
    out = _solve(flat, flat_given, step, read)
    return {name: as_given(value.reshape(shape)) for name, value in out.items()}


def _speciate(water: Water, given: Mapping[str, Values], step: _Step) -> Speciation:
    found = _read_off(water, given, step, _forms)
    strongest = float(np.max(found["ionic"], initial=0))
    if strongest > HIGHEST_IONIC_STRENGTH_MOL_L:
        raise OutOfRange(
            f"ionic_strength_mol_l is {strongest:.2g} mol/L, expected up to {HIGHEST_IONIC_STRENGTH_MOL_L:g} mol/L: "
            "this is not a fresh water"
        )
    return Speciation(
        water=replace(water, alkalinity_meq_l=found["alkalinity"], carbon_mmol_l=found["carbon"]),
        ph=found["ph"],
        co2_mmol_l=found["co2"],
        bicarbonate_mmol_l=found["hco3"],
        carbonate_mmol_l=found["co3"],
        ammonia_mmol_l=found["nh3"],
        pco2_atm=found["pco2"],
        si_calcite=found["si_calcite"],
        si_gypsum=found["si_gypsum"],
        ionic_strength_mol_l=found["ionic"],
    )


def _molar(values: Values) -> Values:
    return np.asarray(values, dtype=float) / 1000


def _refuse_negative(name: str, values: Values, unit: str) -> None:
    array = np.asarray(values, dtype=float)
    if not np.all(np.isfinite(array)) or np.any(array < 0):
        raise OutOfRange(f"{name} must be 0 {unit} or more")


def speciate(water: Water) -> Speciation:
    """A water from its alkalinity and total inorganic carbon: what a closed barrel or a mixture is.

    Raises
    ------
    OutOfRange
        If a total is negative, the temperature is outside 0 to 50 C, or the water is no fresh water.

    Notes
    -----
    Carbonate, ammonia and phosphate equilibria with 12 ion pairs; extended Debye-Hueckel activities. One Newton step in
    ln h inside a fixed point on ionic strength and free ions. Humic acids, silicate and borate are not counted.

    References
    ----------
    Plummer and Busenberg (1982); Truesdell and Jones (1974); Emerson et al. (1975): see ``equilibria``.
    """
    _refuse_negative("carbon_mmol_l", water.carbon_mmol_l, "mmol/L")
    return _speciate(
        water, {"alkalinity": _molar(water.alkalinity_meq_l), "carbon": _molar(water.carbon_mmol_l)}, _from_carbon
    )


def speciate_at_ph(water: Water, *, ph: Values) -> Speciation:
    """A water from its alkalinity and measured pH; the inorganic carbon is solved for.

    Raises
    ------
    Contradiction
        If no carbonate can make that pH: the alkalinity is less than hydroxide and ammonia alone give.
    """
    found = nearest_at_ph(water, ph=ph)
    low = np.asarray(found.water.alkalinity_meq_l) > np.asarray(water.alkalinity_meq_l) + 1e-6
    if np.any(low):
        raise Contradiction("this pH needs more alkalinity than the water has; measure KH and pH again")
    return found


def nearest_at_ph(water: Water, *, ph: Values) -> Speciation:
    """Like ``speciate_at_ph``, but where no carbonate can make that pH the alkalinity is raised to what it needs."""
    given = {"alkalinity": _molar(water.alkalinity_meq_l), "h": 10.0 ** -np.asarray(ph, dtype=float)}
    return _speciate(water, given, _from_ph)


def speciate_at_co2(water: Water, *, co2_mg_l: Values) -> Speciation:
    """A water from its alkalinity and dissolved carbon dioxide [mg/L, 0 or more]."""
    _refuse_negative("co2_mg_l", co2_mg_l, "mg/L")
    co2 = np.asarray(co2_mg_l, dtype=float) / CO2_G_MOL / 1000
    return _speciate(water, {"alkalinity": _molar(water.alkalinity_meq_l), "co2": co2}, _from_co2)


def speciate_at_pco2(water: Water, *, pco2_atm: Values) -> Speciation:
    """A water from its alkalinity and the pressure of carbon dioxide it is in balance with [atm, 0 or more]."""
    _refuse_negative("pco2_atm", pco2_atm, "atm")
    henry = 10 ** log_k("co2_gas", temp_c=np.asarray(water.temp_c, dtype=float))
    return _speciate(
        water,
        {"alkalinity": _molar(water.alkalinity_meq_l), "co2_activity": henry * np.asarray(pco2_atm, dtype=float)},
        _from_co2,
    )


def alkalinity_from_ph(water: Water, *, ph: Values) -> Speciation:
    """A water from its inorganic carbon and pH; the alkalinity is solved for, and the given one not used."""
    return _speciate(
        water,
        {"carbon": _molar(water.carbon_mmol_l), "h": 10.0 ** -np.asarray(ph, dtype=float)},
        _from_ph_and_carbon,
    )


def alkalinity_from_ph_and_co2(water: Water, *, ph: Values, co2_mg_l: Values) -> Speciation:
    """A water from its pH and dissolved carbon dioxide [mg/L]; alkalinity and carbon are solved for."""
    _refuse_negative("co2_mg_l", co2_mg_l, "mg/L")
    co2 = np.asarray(co2_mg_l, dtype=float) / CO2_G_MOL / 1000
    return _speciate(water, {"h": 10.0 ** -np.asarray(ph, dtype=float), "co2": co2}, _from_ph_and_co2)


def alkalinity_from_co2(water: Water, *, co2_mg_l: Values) -> Speciation:
    """A water from its inorganic carbon and dissolved carbon dioxide [mg/L]; the alkalinity is solved for.

    Raises
    ------
    Contradiction
        If there is not more inorganic carbon than carbon dioxide.
    """
    co2 = np.asarray(co2_mg_l, dtype=float) / CO2_G_MOL / 1000
    carbon = _molar(water.carbon_mmol_l)
    if np.any(co2 <= 0) or np.any(carbon <= co2):
        raise Contradiction("co2_mg_l must be more than 0 and less than the total inorganic carbon")
    return _speciate(water, {"carbon": carbon, "co2": co2}, _from_carbon_and_co2)


def conductivity_25c_us_cm(water: Water) -> Values:
    """Conductivity of a water brought to 25 C without contact to the air, as a compensating meter shows it [uS/cm].

    Notes
    -----
    Sum over the charged species of c lambda g^(0.55/sqrt|z|), g of the mean ion of that charge.
    """
    _refuse_negative("carbon_mmol_l", water.carbon_mmol_l, "mmol/L")
    given = {"alkalinity": _molar(water.alkalinity_meq_l), "carbon": _molar(water.carbon_mmol_l)}
    return _read_off(replace(water, temp_c=25.0), given, _from_carbon, _conductance)["conductance"]
