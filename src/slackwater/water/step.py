"""From one water into another: the step for the animals, and how slowly to take it while ammonia waits in the box."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from slackwater.water.composition import FloatArray, Water, mix
from slackwater.water.speciation import CO2_G_MOL, N_G_MOL, conductivity_25c_us_cm, speciate, speciate_at_co2

HALF_HOUR_MIN = 30.0
BORNE: Mapping[str, float] = {"temp_c": 2.0, "ph": 0.6, "hardness_dgh": 4.0, "conductivity_share": 0.5}
"""A step that hardy fish bear in half an hour; limits table of the catalog, common practice, no source."""
BORNE_SOFT: Mapping[str, float] = {"temp_c": 1.0, "ph": 0.5, "hardness_dgh": 2.0, "conductivity_share": 0.25}
"""The same of shrimp, snails and sensitive fish; limits table, and 20 to 25 % of conductivity from memory."""
SENSITIVE_FROM = 4
"""Sensitivity of the species table (1 to 5) from which a fish counts as sensitive."""
NETTING_MIN = 5.0
"""What it takes to net a box over; common practice, no source."""
AT_ONCE = 0.5
"""A step that may come at once, as a share of that borne in half an hour; common practice, no source."""
CHOICES_MIN = tuple(range(0, 125, 5))
"""Spans of acclimatisation that are compared."""
UIA_TARGET_MG_L, UIA_STOP_MG_L = 0.02, 0.05
"""Un-ionised ammonia, as nitrogen, for a day in a box: guide and stop; from memory."""


@dataclass(frozen=True)
class Step:
    """The difference of two waters, as animals meet it; signed, new less old."""

    temp_c: float
    ph: float
    hardness_dgh: float
    alkalinity_dkh: float
    conductivity_share: float
    """Of the old conductivity."""

    def half_hours(self, *, soft: bool) -> dict[str, float]:
        """Half hours that each part of the step wants."""
        return {name: abs(getattr(self, name)) / borne for name, borne in (BORNE_SOFT if soft else BORNE).items()}

    def minutes(self, *, soft: bool) -> float:
        """Minutes that the largest part of the step wants [min]."""
        return HALF_HOUR_MIN * max(self.half_hours(soft=soft).values())


def step_between(old: Water, new: Water) -> Step:
    """Step of temperature, pH, hardness and salt content from the animals' water to the new one.

    Parameters
    ----------
    old, new : Water
        Single waters with their carbon, as they are when the animals change.
    """
    before, after = speciate(old), speciate(new)
    salt_before = float(np.asarray(conductivity_25c_us_cm(old)))
    salt_after = float(np.asarray(conductivity_25c_us_cm(new)))
    return Step(
        temp_c=float(np.asarray(new.temp_c)) - float(np.asarray(old.temp_c)),
        ph=float(np.asarray(after.ph)) - float(np.asarray(before.ph)),
        hardness_dgh=float(np.asarray(new.hardness_dgh)) - float(np.asarray(old.hardness_dgh)),
        alkalinity_dkh=float(np.asarray(new.alkalinity_dkh)) - float(np.asarray(old.alkalinity_dkh)),
        conductivity_share=salt_after / max(salt_before, 1.0) - 1,
    )


@dataclass(frozen=True)
class Dripping:
    """One way of bringing a box over: how fast the step is, and what ammonia does meanwhile."""

    minutes: float
    step_load: float
    """The step against what the animals bear in that time; 1 is as much as they bear."""
    highest_uia_mg_l: float
    """Highest un-ionised ammonia on the way [mg N/L]."""
    dose_mg_min_l: float
    """Un-ionised ammonia times minutes [mg N min/L]."""


@dataclass(frozen=True)
class Acclimatising:
    """The choice: the shortest way within the step that ammonia allows, and all that were compared.

    `reason` is ``step`` when the step decides, ``ammonia`` when ammonia cuts it short, ``none`` when neither asks
    for any time.
    """

    minutes: int
    reason: str
    choices: tuple[Dripping, ...]


def dripping(box: Water, new: Water, *, minutes: float, half_hours: float, tan_mg_l_h: float) -> Dripping:
    """Follow a box while new water is dripped in and the same amount taken out.

    Parameters
    ----------
    box, new : Water
        The box as it stands when the dripping begins, and the new water.
    minutes : float
        Length of the dripping; 0 is to net the animals over at once.
    half_hours : float
        The largest part of the step, in half hours that the animals want for it.
    tan_mg_l_h : float
        What the animals in the box go on giving off [mg N/L/h].

    Notes
    -----
    Steady overflow, well mixed: the share of old water falls exponentially, until what is left of the step may come at
    once. Closed to the air: carbon dioxide that has built up leaves with the water; where air drives it off faster, the
    pH and with it the ammonia are higher.
    """
    if minutes <= 0:
        at_once = float(np.asarray(speciate(box).ammonia_n_mg_l))
        return Dripping(0.0, half_hours / AT_ONCE, at_once, NETTING_MIN * at_once)
    fraction = min(0.95, max(0.0, 1 - AT_ONCE / half_hours)) if half_hours > 0 else 0.0
    times = np.linspace(0.0, minutes, 13)
    share = 1 - (1 - fraction) ** (times / minutes)
    waters = [mix(((1 - part, box), (part, new))) for part in share]
    path = Water(
        **{
            name: np.array([float(np.asarray(getattr(water, name))) for water in waters])
            for name in Water.__dataclass_fields__
        }
    )
    grown = tan_mg_l_h * times / 60 * (1 - share / 2) / N_G_MOL
    found = speciate(
        replace(path, ammonia_mmol_l=path.ammonia_mmol_l + grown, alkalinity_meq_l=path.alkalinity_meq_l + grown)
    )
    uia: FloatArray = np.asarray(found.ammonia_n_mg_l)
    load = fraction * half_hours * HALF_HOUR_MIN / minutes
    return Dripping(minutes, load, float(uia.max()), float(np.trapezoid(uia, times)))


def acclimatise(box: Water, new: Water, *, soft: bool, tan_mg_l_h: float = 0.0) -> Acclimatising:
    """How long to drip: long enough for the step, unless the box's ammonia is worse than the step.

    Notes
    -----
    Every choice of ``CHOICES_MIN`` is followed. The shortest that the animals bear is taken; if un-ionised ammonia
    passes the stop on the way, the choice with the least of ammonia and step, each against its limit, is.
    """
    half_hours = max(step_between(box, new).half_hours(soft=soft).values())
    choices = tuple(
        dripping(box, new, minutes=minutes, half_hours=half_hours, tan_mg_l_h=tan_mg_l_h) for minutes in CHOICES_MIN
    )
    bearable = [choice for choice in choices if choice.step_load <= 1.0]
    first = bearable[0] if bearable else choices[-1]
    if first.highest_uia_mg_l <= UIA_STOP_MG_L:
        return Acclimatising(int(first.minutes), "step" if first.minutes else "none", choices)

    def harm(choice: Dripping) -> float:
        # An hour at the guide value weighs as much as a step that is just borne.
        return choice.step_load + choice.dose_mg_min_l / (60 * UIA_TARGET_MG_L)

    best = min(choices, key=harm)
    return Acclimatising(int(best.minutes), "ammonia", choices)


AMMONIA_PER_OXYGEN_MG_MG = 0.044
"""TAN nitrogen per oxygen of unfed animals, ammonia quotient 0.10 (0.05 to 0.20) mol/mol; from memory."""
CO2_PER_OXYGEN_MG_MG = 1.17
"""Respiratory quotient 0.85 (0.75 to 0.95) mol/mol; from memory."""


def box_after(
    start: Water, *, tan_gained_mg_l: float, oxygen_mg_l_h: float, co2_transfer_per_h: float, co2_air_mg_l: float
) -> Water:
    """A holding box with air after a while: what its animals gave off, carbon dioxide in balance with the airing.

    Notes
    -----
    Ammonia is given off as NH3, so alkalinity rises with it; carbon dioxide stands where airing carries off what is
    breathed out.
    """
    nitrogen = tan_gained_mg_l / N_G_MOL
    kept = replace(
        start,
        ammonia_mmol_l=start.ammonia_mmol_l + nitrogen,
        alkalinity_meq_l=start.alkalinity_meq_l + nitrogen,
    )
    co2_mg_l = co2_air_mg_l + CO2_PER_OXYGEN_MG_MG * oxygen_mg_l_h / co2_transfer_per_h
    return speciate_at_co2(kept, co2_mg_l=min(co2_mg_l, 60 * CO2_G_MOL)).water
