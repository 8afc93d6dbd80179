"""Salts: molar masses, grams for a step of hardness, and ions per gram."""

from __future__ import annotations

import re
from collections.abc import Mapping

from slackwater.errors import BadInput, check_range

ATOMIC_WEIGHT: Mapping[str, float] = {
    "H": 1.008,
    "C": 12.011,
    "N": 14.007,
    "O": 15.999,
    "Na": 22.990,
    "Mg": 24.305,
    "P": 30.974,
    "S": 32.06,
    "Cl": 35.45,
    "K": 39.098,
    "Ca": 40.078,
}
"""IUPAC standard atomic weights 2021, conventional values."""

MMOL_L_PER_DGH = 10 / (ATOMIC_WEIGHT["Ca"] + ATOMIC_WEIGHT["O"])
"""Calcium and magnesium of one German degree: 10 mg/L CaO (DIN 38409-6) [mmol/L]."""
MEQ_L_PER_DKH = 2 * MMOL_L_PER_DGH
"""Alkalinity of one German degree of carbonate hardness [meq/L]."""
NITROGEN_PER_CHLORINE = ATOMIC_WEIGHT["N"] / (2 * ATOMIC_WEIGHT["Cl"])
"""Ammonia nitrogen set free by breaking chloramine, per chlorine as Cl2 [mg N/mg]: one N for each Cl2 equivalent."""


def _count(formula: str) -> dict[str, int]:
    """Atoms of a formula such as CaSO4.2H2O or Ca(HCO3)2."""
    total: dict[str, int] = {}
    for part in formula.split("."):
        match = re.fullmatch(r"(\d*)((?:[A-Z][a-z]?\d*|\([^()]+\)\d*)+)", part)
        if match is None:
            raise BadInput(f'"{formula}" is not a formula; expected for instance CaSO4.2H2O')
        times = int(match[1] or 1)
        for symbol, number, group, repeat in re.findall(r"([A-Z][a-z]?)(\d*)|\(([^()]+)\)(\d*)", match[2]):
            if symbol:
                total[symbol] = total.get(symbol, 0) + times * int(number or 1)
            else:
                for inner, inner_number in _count(group).items():
                    total[inner] = total.get(inner, 0) + times * int(repeat or 1) * inner_number
    return total


def molar_mass_g_mol(formula: str) -> float:
    """Molar mass [g/mol].

    Raises
    ------
    BadInput
        If the formula cannot be read or holds an element that no salt here has.
    """
    atoms = _count(formula)
    unknown = sorted(set(atoms) - set(ATOMIC_WEIGHT))
    if unknown:
        raise BadInput(f'"{formula}" holds {unknown[0]}, known are {", ".join(ATOMIC_WEIGHT)}')
    return sum(ATOMIC_WEIGHT[symbol] * number for symbol, number in atoms.items())


def alkalinity_eq_per_mol(formula: str) -> int:
    """Acid that a mole of the salt can take up: one for each hydrogen carbonate, two for each carbonate."""
    bicarbonate = len(re.findall(r"HCO3", formula)) * (2 if re.search(r"\(HCO3\)2", formula) else 1)
    carbonate = len(re.findall(r"(?<!H)CO3", formula))
    return bicarbonate + 2 * carbonate


def salt_g(
    *, formula: str, volume_l: float, hardness_dgh: float = 0.0, alkalinity_dkh: float = 0.0, purity: float = 1.0
) -> float:
    """Grams of a salt for a step of hardness or of alkalinity.

    Parameters
    ----------
    formula : str
        Of the salt with its crystal water.
    volume_l : float
        Water to treat [L].
    hardness_dgh, alkalinity_dkh : float
        The step; exactly one of the two is given.
    purity : float
        Share of the salt in what is weighed [more than 0, at most 1].

    Raises
    ------
    BadInput
        If the salt does not raise what is asked for.
    """
    check_range("purity", purity, 1e-3, 1, unit="")
    atoms = _count(formula)
    per_mole: float
    if hardness_dgh:
        per_mole = atoms.get("Ca", 0) + atoms.get("Mg", 0)
        moles_per_l = hardness_dgh * MMOL_L_PER_DGH / 1000
    else:
        per_mole = alkalinity_eq_per_mol(formula)
        moles_per_l = alkalinity_dkh * MEQ_L_PER_DKH / 1000
    if per_mole == 0:
        raise BadInput(f"{formula} does not raise {'hardness' if hardness_dgh else 'alkalinity'}")
    return moles_per_l / per_mole * molar_mass_g_mol(formula) * volume_l / purity


def totals_per_mol(formula: str) -> dict[str, float]:
    """What a mole of a salt adds to a water, in moles: names of ions as reports use them, with ``C`` and ``alkalinity``.

    Raises
    ------
    BadInput
        If the salt sets free anything but the ions of ordinary waters.

    Notes
    -----
    Alkalinity is counted down to carbonic acid, ammonium and H2PO4-, as in ``composition``.
    """
    atoms = _count(formula)
    phosphate = atoms.get("P", 0)
    ammonium = atoms.get("N", 0) if "NH4" in formula else 0
    found = {
        "Ca": atoms.get("Ca", 0),
        "Mg": atoms.get("Mg", 0),
        "Na": atoms.get("Na", 0),
        "K": atoms.get("K", 0),
        "Cl": atoms.get("Cl", 0),
        "SO4": atoms.get("S", 0),
        "NO3": atoms.get("N", 0) - ammonium,
        "PO4": phosphate,
        "TAN": ammonium,
        "C": atoms.get("C", 0),
    }
    charge = 2 * (found["Ca"] + found["Mg"]) + found["Na"] + found["K"] + ammonium
    left = charge - found["Cl"] - 2 * found["SO4"] - found["NO3"] - phosphate
    if left != alkalinity_eq_per_mol(formula) + (2 * phosphate - _hydrogens_on_phosphate(formula) if phosphate else 0):
        raise BadInput(f"{formula} is not a salt of the ions of ordinary waters")
    return {"alkalinity": float(left)} | {name: float(number) for name, number in found.items()}


def _hydrogens_on_phosphate(formula: str) -> int:
    match = re.search(r"H(\d*)PO4", formula)
    return int(match[1] or 1) if match else 0


_IONS: Mapping[str, str] = {
    "Ca": "Ca",
    "Mg": "Mg",
    "Na": "Na",
    "K": "K",
    "Cl": "Cl",
    "SO4": "S",
    "NO3": "N",
    "PO4": "P",
    "HCO3": "C",
}


def ion_mg_l(*, formula: str, ion: str, salt_mg_l: float) -> float:
    """Concentration of one ion from a dissolved salt [mg/L].

    Raises
    ------
    BadInput
        If the ion is not known or not in the salt.
    """
    if ion not in _IONS or _IONS[ion] not in _count(formula):
        raise BadInput(f"{formula} gives no {ion}")
    return salt_mg_l / molar_mass_g_mol(formula) * _count(formula)[_IONS[ion]] * molar_mass_g_mol(ion)
