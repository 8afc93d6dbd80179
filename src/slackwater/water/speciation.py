"""From totals to pH, carbon dioxide, un-ionised ammonia, calcite saturation and conductivity; for one water or many.

Two facts about the carbonate system fix the rest; which two are known is the name of the function.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from slackwater.errors import Contradiction, OutOfRange
from slackwater.water.composition import CONSERVED, FloatArray, Values, Water, as_given
from slackwater.water.equilibria import Constants, constants_at, inverse_activity_coefficients
from slackwater.water.salts import ATOMIC_WEIGHT, molar_mass_g_mol

CO2_G_MOL = molar_mass_g_mol("CO2")
N_G_MOL = ATOMIC_WEIGHT["N"]
CHUNK = 4096
"""Waters solved at once: their arrays stay in the processor's cache."""
MOST_STEPS = 60
CLOSE_ENOUGH = 1e-7
"""Relative step in hydrogen ions and in ionic strength at which the iteration ends."""
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
    conductance_25c_us_cm : float or array
        Conductivity of these very ions if they moved as at 25 C [uS/cm]: what a meter shows of a water at 25 C; for
        any other see ``conductivity_25c_us_cm``.
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
    conductance_25c_us_cm: Values

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


@dataclass(frozen=True)
class _Sums:
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


Given = Mapping[str, FloatArray]
_Step = Callable[[FloatArray, _Sums, Given], tuple[FloatArray, FloatArray]]
"""From the last h, the sums and what is given: the next h and the carbon dioxide [mol/L]."""


def _others(h: FloatArray, sums: _Sums) -> tuple[FloatArray, FloatArray]:
    """Alkalinity that is not carbonate, and minus its slope in ln h."""
    hydroxide = sums.hydroxide / h
    hydrogen = sums.hydrogen * h
    share = sums.nh3 / (sums.nh3 + sums.nh4 * h)
    ammonia = sums.ammonia * share
    part = sums.hpo4 / (sums.hpo4 + sums.h2po4 * h)
    phosphate = sums.phosphate * part
    alkalinity = hydroxide - hydrogen + ammonia + phosphate
    slope = hydroxide + hydrogen + ammonia * (1 - share) + phosphate * (1 - part)
    return alkalinity, slope


def _moved(h: FloatArray, excess: FloatArray, slope: FloatArray) -> FloatArray:
    """One Newton step in ln h, at most a factor of ten."""
    return h * np.exp(np.clip(excess / slope, -2.3, 2.3))


def _from_co2(h: FloatArray, sums: _Sums, given: Given) -> tuple[FloatArray, FloatArray]:
    co2 = given["co2"] if "co2" in given else given["co2_activity"] * sums.neutral
    ratio = co2 / h
    once = sums.bicarbonate * ratio
    twice = sums.carbonate * ratio / h
    others, slope = _others(h, sums)
    return _moved(h, once + 2 * twice + others - given["alkalinity"], once + 4 * twice + slope), co2


def _ratios(h: FloatArray, sums: _Sums) -> tuple[FloatArray, FloatArray]:
    """Bicarbonate and carbonate forms per carbon dioxide."""
    return sums.bicarbonate / h, sums.carbonate / (h * h)


def _from_carbon(h: FloatArray, sums: _Sums, given: Given) -> tuple[FloatArray, FloatArray]:
    once, twice = _ratios(h, sums)
    co2 = given["carbon"] / (1 + once + twice)
    alkalinity = co2 * (once + 2 * twice)
    others, slope = _others(h, sums)
    slope = slope + co2 * (once + 4 * twice - (once + 2 * twice) ** 2 / (1 + once + twice))
    return _moved(h, alkalinity + others - given["alkalinity"], slope), co2


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


def _first_h(constants: Constants, given: Given) -> FloatArray:
    """A start near the answer: activities 1, no carbonate, no pairs."""
    if "h" in given:
        return given["h"]
    k1, kw = constants.k["k1"], constants.k["kw"]
    if "alkalinity" not in given:
        rest = np.maximum(given["carbon"] / given["co2"] - 1, 1e-9)
        return k1 / rest
    alkalinity = given["alkalinity"]
    if "co2" in given:
        co2 = given["co2"]
    elif "co2_activity" in given:
        co2 = given["co2_activity"]
    else:
        co2 = np.maximum(given["carbon"] - alkalinity, 1e-3 * np.abs(alkalinity) + 1e-9)
    half = alkalinity / 2
    root = np.sqrt(half * half + k1 * co2 + kw)
    return np.where(half > 0, (k1 * co2 + kw) / (root + half), root - half)


def _charged_strength(totals: Mapping[str, FloatArray], given: Given) -> FloatArray:
    """Ionic strength of the totals as free ions, a start for the iteration [mol/L]."""
    single = totals["na"] + totals["k"] + totals["cl"] + totals["no3"] + totals["no2"] + totals["nh4"] + totals["po4"]
    acid = np.abs(given["alkalinity"]) if "alkalinity" in given else given.get("carbon", np.zeros_like(single))
    return 0.5 * (4 * (totals["ca"] + totals["mg"] + totals["so4"]) + single + acid) + 1e-7


def _solve(totals: Mapping[str, FloatArray], given: Given, step: _Step) -> dict[str, FloatArray]:
    """Fixed point on ionic strength and free ions, with one step in h each time; all arrays of one shape [mol/L].

    Names that start with a_ are activities of free ions; a pair's concentration is its weight times two activities.
    """
    constants = constants_at(totals["temp_c"])
    k = constants.k
    calcium, magnesium, sodium, potassium, sulfate = (totals[name] for name in ("ca", "mg", "na", "k", "so4"))
    ammonia, phosphate = totals["nh4"], totals["po4"]
    plain = totals["cl"] + totals["no3"] + totals["no2"]
    h = _first_h(constants, given)
    ionic = _charged_strength(totals, given)
    a_so4 = 0.6 * sulfate
    a_hco3 = np.zeros_like(h)
    a_co3 = a_hco3
    strength_moved = True
    for _ in range(MOST_STEPS):
        if strength_moved:
            g = inverse_activity_coefficients(ionic, constants)
            none, like_hco3 = g["none"], g["hco3"]
            caso4, mgso4, hso4 = k["caso4"] * none, k["mgso4"] * none, k["hso4"] * like_hco3
            naso4, kso4, nh4so4 = k["naso4"] * like_hco3, k["kso4"] * like_hco3, k["nh4so4"] * like_hco3
            cahco3, mghco3, nahco3 = k["cahco3"] * g["cahco3"], k["mghco3"] * g["mghco3"], k["nahco3"] * none
            caco3, mgco3, naco3 = k["caco3"] * none, k["mgco3"] * none, k["naco3"] * like_hco3
            hydroxide, nh3, hpo4 = k["kw"] * g["oh"], k["nh4"] * none, g["hpo4"] / k["h2po4"]
        a_ca = calcium / (g["ca"] + caso4 * a_so4 + cahco3 * a_hco3 + caco3 * a_co3)
        a_mg = magnesium / (g["mg"] + mgso4 * a_so4 + mghco3 * a_hco3 + mgco3 * a_co3)
        a_na = sodium / (g["na"] + naso4 * a_so4 + nahco3 * a_hco3 + naco3 * a_co3)
        a_k = potassium / (g["k"] + kso4 * a_so4)
        sums = _Sums(
            bicarbonate=k["k1"] / none * (like_hco3 + cahco3 * a_ca + mghco3 * a_mg + nahco3 * a_na),
            carbonate=k["k1"] * k["k2"] / none * (g["co3"] + caco3 * a_ca + mgco3 * a_mg + naco3 * a_na),
            hydroxide=hydroxide,
            hydrogen=g["h"] + hso4 * a_so4,
            nh4=g["nh4"] + nh4so4 * a_so4,
            nh3=nh3,
            h2po4=like_hco3,
            hpo4=hpo4,
            neutral=none,
            ammonia=ammonia,
            phosphate=phosphate,
        )
        new_h, co2 = step(h, sums, given)
        a_nh4 = ammonia * new_h / (sums.nh4 * new_h + nh3)
        a_so4 = sulfate / (
            g["so4"] + caso4 * a_ca + mgso4 * a_mg + naso4 * a_na + kso4 * a_k + nh4so4 * a_nh4 + hso4 * new_h
        )
        a_hco3 = k["k1"] / none * co2 / new_h
        a_co3 = k["k2"] * a_hco3 / new_h
        moved = float(np.max(np.abs(new_h - h) / h, initial=0))
        h = new_h
        if strength_moved or moved < CLOSE_ENOUGH:
            share_hpo4 = hpo4 / (hpo4 + like_hco3 * h)
            double = g["ca"] * a_ca + g["mg"] * a_mg + g["so4"] * a_so4 + g["co3"] * a_co3 + phosphate * share_hpo4
            single = (
                plain
                + (g["na"] + naso4 * a_so4 + naco3 * a_co3) * a_na
                + (g["k"] + kso4 * a_so4) * a_k
                + (like_hco3 + cahco3 * a_ca + mghco3 * a_mg) * a_hco3
                + sums.hydrogen * h
                + sums.hydroxide / h
                + sums.nh4 * a_nh4
                + phosphate * (1 - share_hpo4)
            )
            # The model ends at 0.1 mol/L; the limit keeps a start far off from running away.
            new_ionic = np.minimum(2 * double + 0.5 * single, 2 * HIGHEST_IONIC_STRENGTH_MOL_L)
            strength_moved = float(np.max(np.abs(new_ionic - ionic) / ionic, initial=0)) > CLOSE_ENOUGH
            ionic = new_ionic
            if moved < CLOSE_ENOUGH and not strength_moved:
                break
    once, twice = sums.bicarbonate * co2 / h, sums.carbonate * co2 / (h * h)
    others, _slope = _others(h, sums)
    limit = LIMITING_CONDUCTIVITY
    one = (
        limit["cl"] * totals["cl"]
        + limit["no3"] * totals["no3"]
        + limit["no2"] * totals["no2"]
        + (limit["na"] * g["na"] + limit["naso4"] * naso4 * a_so4 + limit["naco3"] * naco3 * a_co3) * a_na
        + (limit["k"] * g["k"] + limit["kso4"] * kso4 * a_so4) * a_k
        + (limit["hco3"] * like_hco3 + limit["cahco3"] * cahco3 * a_ca + limit["mghco3"] * mghco3 * a_mg) * a_hco3
        + limit["h"] * g["h"] * h
        + limit["hso4"] * hso4 * a_so4 * h
        + limit["oh"] * hydroxide / h
        + (limit["nh4"] * g["nh4"] + limit["nh4so4"] * nh4so4 * a_so4) * a_nh4
        + limit["h2po4"] * phosphate * (1 - share_hpo4)
    )
    two = (
        limit["ca"] * g["ca"] * a_ca
        + limit["mg"] * g["mg"] * a_mg
        + limit["so4"] * g["so4"] * a_so4
        + limit["co3"] * g["co3"] * a_co3
        + limit["hpo4"] * phosphate * share_hpo4
    )
    damping = DAMPING * np.log(like_hco3)
    with np.errstate(divide="ignore"):
        saturation = np.log10(a_ca * a_co3 / k["calcite"])
        gypsum = np.log10(a_ca * a_so4 / k["gypsum"])
    return {
        "ph": -np.log10(h),
        "co2": 1e3 * co2,
        "hco3": 1e3 * like_hco3 * a_hco3,
        "co3": 1e3 * g["co3"] * a_co3,
        "nh3": 1e3 * a_nh4 * nh3 / h,
        "pco2": co2 / (none * k["co2_gas"]),
        "si": saturation,
        "si_gypsum": gypsum,
        "ionic": ionic,
        "alkalinity": 1e3 * (once + 2 * twice + others),
        "carbon": 1e3 * (co2 + once + twice),
        # Carbonate has the size of hydrogen carbonate and four times its exponent.
        "conductance": 1e3 * (one * np.exp(-damping) + two * np.exp(-damping * 4 / np.sqrt(2))),
    }


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


def _speciate(water: Water, given: Mapping[str, Values], step: _Step) -> Speciation:
    """Spread to one shape, solve in chunks, gather."""
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

    flat = {name: spread(value) / 1000 for name, value in totals.items()}
    # One temperature for all, as at 25 C, spares the constants of each water.
    flat["temp_c"] = temps if temps.ndim == 0 else spread(water.temp_c)
    flat_given = {name: spread(value) for name, value in given.items()}
    size = flat["ca"].size
    out: dict[str, FloatArray] = {}
    for start in range(0, max(size, 1), CHUNK):
        part = slice(start, start + CHUNK)
        solved = _solve(
            {name: value if value.ndim == 0 else value[part] for name, value in flat.items()},
            {name: value[part] for name, value in flat_given.items()},
            step,
        )
        for name, value in solved.items():
            if name not in out:
                out[name] = np.empty(size)
            out[name][part] = value
    if np.any(out["ionic"] > HIGHEST_IONIC_STRENGTH_MOL_L):
        raise OutOfRange(
            f"ionic_strength_mol_l is {float(np.max(out['ionic'])):.2g} mol/L, expected up to "
            f"{HIGHEST_IONIC_STRENGTH_MOL_L:g} mol/L: this is not a fresh water"
        )
    found = {name: as_given(value.reshape(shape)) for name, value in out.items()}
    return Speciation(
        water=replace(water, alkalinity_meq_l=found["alkalinity"], carbon_mmol_l=found["carbon"]),
        ph=found["ph"],
        co2_mmol_l=found["co2"],
        bicarbonate_mmol_l=found["hco3"],
        carbonate_mmol_l=found["co3"],
        ammonia_mmol_l=found["nh3"],
        pco2_atm=found["pco2"],
        si_calcite=found["si"],
        si_gypsum=found["si_gypsum"],
        ionic_strength_mol_l=found["ionic"],
        conductance_25c_us_cm=found["conductance"],
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
    found = _speciate(
        water, {"alkalinity": _molar(water.alkalinity_meq_l), "h": 10.0 ** -np.asarray(ph, dtype=float)}, _from_ph
    )
    low = np.asarray(found.water.alkalinity_meq_l) > np.asarray(water.alkalinity_meq_l) + 1e-6
    if np.any(low):
        raise Contradiction("this pH needs more alkalinity than the water has; measure KH and pH again")
    return found


def speciate_at_co2(water: Water, *, co2_mg_l: Values) -> Speciation:
    """A water from its alkalinity and dissolved carbon dioxide [mg/L, 0 or more]."""
    _refuse_negative("co2_mg_l", co2_mg_l, "mg/L")
    co2 = np.asarray(co2_mg_l, dtype=float) / CO2_G_MOL / 1000
    return _speciate(water, {"alkalinity": _molar(water.alkalinity_meq_l), "co2": co2}, _from_co2)


def speciate_at_pco2(water: Water, *, pco2_atm: Values) -> Speciation:
    """A water from its alkalinity and the pressure of carbon dioxide it is in balance with [atm, 0 or more]."""
    _refuse_negative("pco2_atm", pco2_atm, "atm")
    henry = constants_at(np.asarray(water.temp_c, dtype=float)).k["co2_gas"]
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
    return speciate(replace(water, temp_c=25.0)).conductance_25c_us_cm


def same_totals(first: Water, second: Water) -> bool:
    """Whether two waters hold the same of everything conserved, to rounding."""
    return all(np.allclose(getattr(first, name), getattr(second, name), rtol=1e-9, atol=1e-12) for name in CONSERVED)
