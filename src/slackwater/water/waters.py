"""The waters of a job: each composed from its readings, the permeate from the tap; what contradicts itself is said."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from slackwater.finding import Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job, WaterReading
from slackwater.water.chlorine import without_chlorine
from slackwater.water.composition import FloatArray, Water, as_given
from slackwater.water.notes import Notes
from slackwater.water.reading import DRAWS, Composition, compose
from slackwater.water.speciation import speciate

DRINKING_PH = (6.5, 9.5)
"""Of drinking water; Directive (EU) 2020/2184, annex I, part C."""
PASSES_FREELY = ("temp_c", "carbon_mmol_l", "free_chlorine_mg_l", "combined_chlorine_mg_l")
"""What a membrane does not hold back by its rejection: carbon dioxide passes whole, chlorine stays in the prefilter."""


@dataclass(frozen=True)
class Waters:
    """Central waters and their draws, by name: old, tap, permeate, and each other water by its own name."""

    central: Mapping[str, Water]
    draws: Mapping[str, Water]


def permeate_of(feed: Water, *, rejection: float | np.ndarray) -> Water:
    """Water behind the membrane: each ion passes in the same share, carbon dioxide whole, chlorine not at all.

    Notes
    -----
    In truth sodium, potassium and nitrate pass somewhat more than the rest; one share for all keeps the charge.
    """
    passed = 1 - np.asarray(rejection, dtype=float)
    co2 = np.asarray(speciate(feed).co2_mmol_l)
    through = {
        name: as_given(np.asarray(getattr(feed, name)) * passed)
        for name in Water.__dataclass_fields__
        if name not in PASSES_FREELY
    }
    carbon = as_given(co2 + (np.asarray(feed.carbon_mmol_l) - co2) * passed)
    return replace(feed, **through, carbon_mmol_l=carbon, free_chlorine_mg_l=0.0, combined_chlorine_mg_l=0.0)


def _composed(reading: WaterReading, name: str, key: str, notes: Notes, rng: np.random.Generator) -> Composition | None:
    found = compose(reading, name=key, rng=rng)
    if found is None:
        notes.lacks.append(f"water.{key}.gh")
        return None
    for item in found.assumed:
        notes.assume(item.field, item.value, item.source)
    for doubt in found.doubts:
        notes.say(doubt.id, Severity.MISSING, about=key, water=name, **dict(doubt.values))
    if name == "tap" and reading.ph is not None and not DRINKING_PH[0] <= reading.ph <= DRINKING_PH[1]:
        notes.say("ph_unusual", Severity.CONDITION, ph=reading.ph, low=DRINKING_PH[0], high=DRINKING_PH[1])
    if reading.alkalinity_dkh is None:
        notes.say("kh_untested", Severity.CONDITION, about=key, water=name)
    return found


def waters_of(
    job: Job, catalog: Catalog, tap: WaterReading, tank: WaterReading, notes: Notes, rng: np.random.Generator
) -> Waters | None:
    """All waters of the job; None where hardness of tap or tank was not tested."""
    pairs: list[tuple[str, str, WaterReading]] = [("tap", "tap", tap), ("old", "tank", tank)]
    pairs += [(other.name, f"other.{number}", other) for number, other in enumerate(job.water.other)]
    central: dict[str, Water] = {}
    draws: dict[str, Water] = {}
    for name, key, reading in pairs:
        found = _composed(reading, name, key, notes, rng)
        if found is not None:
            central[name], draws[name] = without_chlorine(found.water), without_chlorine(found.draws)
    if "tap" not in central or "old" not in central:
        return None
    held = catalog.parameter("ro_rejection")
    spread: FloatArray = rng.triangular(held.low or held.typical, held.typical, held.high or held.typical, DRAWS)
    typical, ro = held.typical, job.preparation.ro
    if ro is not None and ro.rejection is not None:
        typical, spread = ro.rejection, np.full(DRAWS, ro.rejection)
    elif ro is not None:
        notes.assume("preparation.ro.rejection", f"{100 * typical:g} %", held.source_kind)
    # The prefilter holds chlorine; the ammonia of broken chloramine passes like other small ions.
    central["permeate"] = permeate_of(central["tap"], rejection=typical)
    draws["permeate"] = permeate_of(draws["tap"], rejection=spread)
    return Waters(central=central, draws=draws)
