"""From what was tested to what is in the water: missing ions by charge balance and conductivity, with their spread."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from slackwater.figure import Assumption
from slackwater.job.model import WaterReading
from slackwater.water.composition import CONSERVED, FloatArray, Water, draws_of, mmol_l
from slackwater.water.salts import MEQ_L_PER_DKH, MMOL_L_PER_DGH
from slackwater.water.speciation import Speciation, conductivity_25c_us_cm, nearest_at_ph, speciate_at_co2

Mask = NDArray[np.bool_]
DRAWS = 400
"""Waters drawn within the reading errors; enough for a 90 % band to two digits."""
MOST_CO2_MG_L = 100.0
"""More than any tap or tank holds; common practice, no source."""
CONDUCTIVITY_AGREES = 0.10
"""Conductivity computed from the ions against that measured; Standard Methods 1030 E, from memory."""


@dataclass(frozen=True)
class _Error:
    """A reading's error: the larger of the two parts counts."""

    absolute: float
    relative: float

    def of(self, value: float) -> float:
        return max(self.absolute, self.relative * value)


_DROP_TEST: Mapping[str, _Error] = {
    "ph": _Error(0.2, 0.0),
    "hardness_dgh": _Error(0.5, 0.04),
    "alkalinity_dkh": _Error(0.42, 0.04),
    "conductivity_us_cm": _Error(2.0, 0.03),
    "calcium_mg_l": _Error(5.0, 0.10),
    "magnesium_mg_l": _Error(3.0, 0.20),
    "sodium_mg_l": _Error(2.0, 0.10),
    "potassium_mg_l": _Error(1.0, 0.20),
    "sulfate_mg_l": _Error(10.0, 0.20),
    "chloride_mg_l": _Error(5.0, 0.15),
    "tan_mg_l": _Error(0.03, 0.30),
    "nitrite_n_mg_l": _Error(0.01, 0.30),
    "nitrate_mg_l": _Error(2.0, 0.25),
    "phosphate_mg_l": _Error(0.1, 0.30),
}
"""One drop of a titration kit is one degree and is read to half of it; half a step on a colour card. Common practice, no
source; the 0.42 dKH are 0.15 meq/L."""
_STRIP = {name: _Error(3 * error.absolute, max(0.3, error.relative)) for name, error in _DROP_TEST.items()} | {
    "ph": _Error(0.5, 0.0),
    "conductivity_us_cm": _DROP_TEST["conductivity_us_cm"],
}
_LABORATORY = {name: _Error(0.0, 0.05) for name in _DROP_TEST} | {
    "ph": _Error(0.1, 0.0),
    "hardness_dgh": _Error(0.0, 0.03),
    "alkalinity_dkh": _Error(0.0, 0.03),
    "conductivity_us_cm": _Error(1.0, 0.02),
}
"""Usual uncertainty of a drinking-water analysis, 5 %, of titrations 3 %; from memory."""
_PHOTOMETER = {name: _Error(error.absolute / 2, 0.10) for name, error in _DROP_TEST.items()} | {
    "ph": _Error(0.1, 0.0),
    "conductivity_us_cm": _DROP_TEST["conductivity_us_cm"],
}
_METHODS: Mapping[str, Mapping[str, _Error]] = {
    "strip": _STRIP,
    "photometer": _PHOTOMETER,
    "laborator": _LABORATORY,
    "report": _LABORATORY,
    "drop": _DROP_TEST,
}
"""Word in the method as written, and the errors that go with it."""

CALCIUM_SHARE = (0.60, 0.80, 0.92)
"""Of hardness, by mol, in tap waters: low, typical, high; from memory."""
POTASSIUM_MMOL_L = (0.02, 0.05, 0.15)
CHLORIDE_SHARE = (0.3, 0.6, 0.9)
"""Of the charge that chloride and sulfate carry together; from memory."""
SALT_MMOL_L = (0.0, 0.3, 1.0)
"""Sodium salts over what the charge balance asks for, where no conductivity tells; from memory."""
ALKALINITY_SHARE = (0.2, 0.7, 1.0)
"""Alkalinity per hardness where nobody tested it; from memory."""
TAP_CO2_MG_L = (2.0, 8.0, 25.0)
"""Carbon dioxide of a water whose pH nobody tested; from memory."""


@dataclass(frozen=True)
class Doubt:
    """Readings that contradict each other beyond their errors: an id as findings use it, and the numbers."""

    id: str
    values: Mapping[str, float]


@dataclass(frozen=True)
class Composition:
    """What a tested water is made of.

    Attributes
    ----------
    water : Water
        From the readings as they stand.
    draws : Water
        Arrays of ``DRAWS`` waters, each as true as the other within the reading errors.
    assumed : tuple of Assumption
        What was not tested.
    doubts : tuple of Doubt
        Contradictions; empty when all readings can be true together.
    """

    water: Water
    draws: Water
    assumed: tuple[Assumption, ...]
    doubts: tuple[Doubt, ...]


class _Draws:
    """One reading after another, the first of each array as written and the others within its error."""

    def __init__(self, reading: WaterReading, name: str, rng: np.random.Generator) -> None:
        self.reading = reading
        self.name = name
        self.rng = rng
        self.assumed: list[Assumption] = []
        method = reading.method.lower()
        self.errors = next((errors for word, errors in _METHODS.items() if word in method), _DROP_TEST)

    def read(self, field: str) -> FloatArray | None:
        """Uniform within the error, as a drop or a colour step leaves it; never below 0."""
        value: float | None = getattr(self.reading, field)
        if value is None:
            return None
        error = self.reading.stated_error.get(field, self.errors[field].of(value))
        found = value + error * self.rng.uniform(-1, 1, DRAWS + 1)
        found[0] = value
        return np.maximum(found, 0.0)

    def assume(self, field: str, low_typical_high: tuple[float, float, float], shown: str) -> FloatArray:
        low, typical, high = low_typical_high
        found = self.rng.triangular(low, typical, high, DRAWS + 1)
        found[0] = typical
        self.assumed.append(
            Assumption(field=f"water.{self.name}.{field}", value=shown, source="not tested; usual range, from memory")
        )
        return found


def ion_balance_limit_meq_l(anions_meq_l: FloatArray) -> FloatArray:
    """Largest difference of cations and anions that a sound analysis shows [meq/L].

    References
    ----------
    Standard Methods 1030 E, checking correctness of analyses: 0.2 meq/L up to 3 meq/L of anions, 2 % to 10, 5 % above;
    from memory.
    """
    found = np.where(anions_meq_l <= 10, 0.02 * anions_meq_l, 0.05 * anions_meq_l)
    return np.where(anions_meq_l <= 3, 0.2, found)


def compose(reading: WaterReading, *, name: str, rng: np.random.Generator) -> Composition | None:
    """The composition of a tested water.

    Parameters
    ----------
    reading : WaterReading
        As in the job file.
    name : str
        tap, tank or the name of another water; for what is said about it.
    rng : Generator
        Source of the draws.

    Returns
    -------
    Composition or None
        None when neither hardness nor calcium was tested: then nothing can be said about the ions.

    Notes
    -----
    Calcium and magnesium follow from hardness and what is known of them, alkalinity from KH. Potassium is small and
    assumed. What is still missing of sodium, chloride and sulfate balances the charge; more of them until the measured
    conductivity is met. Draws that cannot be true together are left out; if hardly any can, that is a doubt.
    """
    draws = _Draws(reading, name, rng)
    doubts: list[Doubt] = []
    hard = _hardness(draws, doubts)
    if hard is None:
        return None
    calcium, magnesium, told = hard
    kh = draws.read("alkalinity_dkh")
    if kh is None:
        share = draws.assume("kh", ALKALINITY_SHARE, "20 to 100 % of the hardness")
        alkalinity = 2 * share * (calcium + magnesium)
    else:
        alkalinity = kh * MEQ_L_PER_DKH
    water = Water(
        calcium_mmol_l=calcium,
        magnesium_mmol_l=magnesium,
        alkalinity_meq_l=alkalinity,
        **{
            field: _or_none(draws, key, field)
            for field, key in (
                ("nitrate_mmol_l", "nitrate_mg_l"),
                ("nitrite_mmol_l", "nitrite_n_mg_l"),
                ("phosphate_mmol_l", "phosphate_mg_l"),
                ("ammonia_mmol_l", "tan_mg_l"),
            )
        },
        temp_c=15.0 if reading.temp_c is None else reading.temp_c,
        free_chlorine_mg_l=reading.free_chlorine_mg_l or 0.0,
        combined_chlorine_mg_l=reading.combined_chlorine_mg_l or 0.0,
        copper_ug_l=reading.copper_ug_l or 0.0,
        iron_ug_l=1000 * (reading.iron_mg_l or 0.0),
    )
    if reading.temp_c is None:
        draws.assumed.append(
            Assumption(
                field=f"water.{name}.temperature", value="15 °C", source="not tested; common practice, no source"
            )
        )
    water, possible = _salts(water, draws, doubts)
    settled, sound = _carbon(water, draws, doubts)
    good = np.flatnonzero((possible & sound & told)[1:]) + 1
    # Too few are left only where a doubt is raised: then all are kept, so that a band can still be shown.
    rows = rng.choice(good, DRAWS) if good.size >= DRAWS // 20 else np.arange(1, DRAWS + 1)
    return Composition(
        water=draws_of(settled.water, 0),
        draws=_spread(draws_of(settled.water, rows)),
        assumed=tuple(draws.assumed),
        doubts=tuple(doubts),
    )


def _or_none(draws: _Draws, key: str, field: str) -> FloatArray | float:
    found = draws.read(key)
    return 0.0 if found is None else np.asarray(mmol_l(field, found))


def _spread(water: Water) -> Water:
    return Water(
        **{name: np.broadcast_to(np.asarray(getattr(water, name), dtype=float), (DRAWS,)) for name in CONSERVED}
    )


def _hardness(draws: _Draws, doubts: list[Doubt]) -> tuple[FloatArray, FloatArray, Mask] | None:
    """Calcium and magnesium [mmol/L], and in which draws all that was told of them can be true."""
    total = draws.read("hardness_dgh")
    hardness = None if total is None else total * MMOL_L_PER_DGH
    calcium, magnesium = draws.read("calcium_mg_l"), draws.read("magnesium_mg_l")
    if calcium is not None:
        calcium = np.asarray(mmol_l("calcium_mmol_l", calcium))
    if magnesium is not None:
        magnesium = np.asarray(mmol_l("magnesium_mmol_l", magnesium))
    if hardness is None and (calcium is None or magnesium is None):
        if calcium is None:
            return None
        share = draws.assume("magnesium", CALCIUM_SHARE, "8 to 40 % of the hardness")
        return calcium, calcium * (1 / share - 1), np.ones(DRAWS + 1, dtype=bool)
    if hardness is None or (calcium is not None and magnesium is not None):
        if calcium is None or magnesium is None:
            return None
        fits = np.ones(DRAWS + 1, dtype=bool)
        if hardness is not None:
            error = _half_width(hardness)
            fits = np.abs(calcium + magnesium - hardness) <= error
            if not fits.any():
                doubts.append(
                    Doubt(
                        "hardness_of_parts",
                        {
                            "parts_dgh": float(calcium[0] + magnesium[0]) / MMOL_L_PER_DGH,
                            "gh_dgh": float(hardness[0]) / MMOL_L_PER_DGH,
                        },
                    )
                )
        return calcium, magnesium, fits
    if calcium is None and magnesium is None:
        share = draws.assume("calcium", CALCIUM_SHARE, "60 to 92 % of the hardness")
        return share * hardness, (1 - share) * hardness, np.ones(DRAWS + 1, dtype=bool)
    known = calcium if calcium is not None else magnesium
    if known is None:
        return None
    other = hardness - known
    fits = other >= 0
    if not fits.any():
        doubts.append(
            Doubt(
                "hardness_of_parts",
                {"parts_dgh": float(known[0]) / MMOL_L_PER_DGH, "gh_dgh": float(hardness[0]) / MMOL_L_PER_DGH},
            )
        )
    other = np.maximum(other, 0.0)
    return (known, other, fits) if calcium is not None else (other, known, fits)


def _half_width(values: FloatArray) -> float:
    return float(np.max(values) - np.min(values)) / 2


def _salts(water: Water, draws: _Draws, doubts: list[Doubt]) -> tuple[Water, Mask]:
    """Sodium, potassium, chloride and sulfate; and in which draws the ions can be what was measured."""
    known: dict[str, FloatArray] = {}
    for field, key in (
        ("sodium_mmol_l", "sodium_mg_l"),
        ("chloride_mmol_l", "chloride_mg_l"),
        ("sulfate_mmol_l", "sulfate_mg_l"),
    ):
        found = draws.read(key)
        if found is not None:
            known[field] = np.asarray(mmol_l(field, found))
    potassium = draws.read("potassium_mg_l")
    if potassium is None:
        potassium_mmol_l = draws.assume("potassium", POTASSIUM_MMOL_L, "1 to 6 mg/L")
        # A water with next to no ions holds next to no potassium.
        potassium_mmol_l = np.minimum(potassium_mmol_l, 0.1 * (np.asarray(water.hardness_dgh) * MMOL_L_PER_DGH + 1e-3))
    else:
        potassium_mmol_l = np.asarray(mmol_l("potassium_mmol_l", potassium))
    water = replace(water, potassium_mmol_l=potassium_mmol_l, **known)
    gap = np.asarray(water.charge_gap_meq_l) + np.zeros(DRAWS + 1)
    free_anions = [name for name in ("chloride_mmol_l", "sulfate_mmol_l") if name not in known]
    free_sodium = "sodium_mmol_l" not in known
    share = _chloride_share(draws, free_anions)
    cations = (
        np.asarray(water.calcium_mmol_l) * 2 + np.asarray(water.magnesium_mmol_l) * 2 + np.asarray(water.sodium_mmol_l)
    )
    allowed = ion_balance_limit_meq_l(cations + gap * 0)
    closed = np.ones(DRAWS + 1, dtype=bool)
    if not free_anions:
        closed &= gap <= allowed
    if not free_sodium:
        closed &= gap >= -allowed
    if not closed.any():
        doubts.append(Doubt("charge_gap", {"gap_meq_l": float(gap[0]), "allowed_meq_l": float(allowed[0])}))

    def filled(extra: FloatArray) -> Water:
        """Charge closed, with so much sodium salt more [meq/L]."""
        anions = np.maximum(gap, 0.0) + extra
        return replace(
            water,
            sodium_mmol_l=water.sodium_mmol_l + np.maximum(-gap, 0.0) + extra,
            chloride_mmol_l=water.chloride_mmol_l + share * anions,
            sulfate_mmol_l=water.sulfate_mmol_l + (1 - share) * anions / 2,
        )

    measured = draws.read("conductivity_us_cm")
    room = free_sodium and bool(free_anions)
    if measured is None:
        if not room:
            return filled(np.zeros(DRAWS + 1)), closed
        extra = draws.assume("conductivity", SALT_MMOL_L, "0 to 1 mmol/L of sodium salts over what is known")
        return filled(np.minimum(extra, 0.3 * np.asarray(water.hardness_dgh))), closed
    least = _conductivity(filled(np.zeros(DRAWS + 1)))
    over = least / np.maximum(measured, 1.0)
    fits = over <= 1 + CONDUCTIVITY_AGREES
    if not room:
        fits &= over >= 1 - CONDUCTIVITY_AGREES
    if not fits.any():
        doubts.append(
            Doubt(
                "conductivity_too_low" if over[0] > 1 else "conductivity_too_high",
                {"measured_us_cm": float(measured[0]), "computed_us_cm": float(least[0])},
            )
        )
    if not room:
        return filled(np.zeros(DRAWS + 1)), closed & fits
    return filled(_extra_salt(filled, least, measured)), closed & fits


def _chloride_share(draws: _Draws, free_anions: list[str]) -> FloatArray:
    """How much of the missing anion charge is chloride."""
    if len(free_anions) == 2:
        return draws.assume("chloride", CHLORIDE_SHARE, "30 to 90 % of chloride and sulfate together")
    if free_anions == ["sulfate_mmol_l"]:
        return np.zeros(DRAWS + 1)
    return np.ones(DRAWS + 1)


def _extra_salt(filled: Callable[[FloatArray], Water], least: FloatArray, measured: FloatArray) -> FloatArray:
    """Sodium salt until the conductivity is met, by secants [meq/L, 0 or more]."""
    extra, reached = np.zeros(DRAWS + 1), least
    slope = np.full(DRAWS + 1, 110.0)
    for _ in range(4):
        step = (measured - reached) / slope
        new = np.maximum(extra + step, 0.0)
        moved = new - extra
        now = _conductivity(filled(new))
        with np.errstate(invalid="ignore", divide="ignore"):
            slope = np.where(np.abs(moved) > 1e-9, (now - reached) / moved, slope)
        extra, reached = new, now
    return extra


def _conductivity(water: Water) -> FloatArray:
    # The carbon hardly matters to the conductivity; air balance is near enough to find the salts.
    opened = speciate_at_co2(water, co2_mg_l=5.0).water
    return np.asarray(conductivity_25c_us_cm(opened))


def _carbon(water: Water, draws: _Draws, doubts: list[Doubt]) -> tuple[Speciation, Mask]:
    """The inorganic carbon from pH and alkalinity, and in which draws the two can be true together."""
    ph, values = draws.reading.ph, draws.read("ph")
    if ph is None or values is None:
        co2 = draws.assume("ph", TAP_CO2_MG_L, "that of 2 to 25 mg/L carbon dioxide")
        return speciate_at_co2(water, co2_mg_l=co2), np.ones(DRAWS + 1, dtype=bool)
    found = nearest_at_ph(water, ph=np.minimum(values, 14.0))
    raised = np.asarray(found.water.alkalinity_meq_l) - np.asarray(water.alkalinity_meq_l)
    reachable = raised <= 0.5 * draws.errors["alkalinity_dkh"].absolute * MEQ_L_PER_DKH + 1e-6
    believable = np.asarray(found.co2_mg_l) <= MOST_CO2_MG_L
    if not (reachable & believable).any():
        kh = float(np.asarray(water.alkalinity_meq_l).flat[0]) / MEQ_L_PER_DKH
        what = "ph_too_low" if not believable.any() else "ph_too_high"
        doubts.append(
            Doubt(what, {"ph": ph, "kh_dkh": kh, "co2_mg_l": float(f"{np.asarray(found.co2_mg_l).flat[0]:.2g}")})
        )
        if what == "ph_too_low":
            found = speciate_at_co2(water, co2_mg_l=MOST_CO2_MG_L)
    return found, reachable & believable


def band(values: FloatArray) -> tuple[float, float]:
    """The 90 % band of draws: the 5th and the 95th percentile."""
    low, high = np.percentile(values, (5, 95))
    return float(low), float(high)
