"""Which water to change with when ammonia or nitrite is found: what each would do, before any is poured in."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from slackwater.errors import check_range
from slackwater.water.composition import Water, ion_mg_l, mix
from slackwater.water.speciation import N_G_MOL, speciate

CHLORIDE_PER_NITRITE = 60.0
"""Chloride that goes with a nitrite nitrogen which fish bear [mg/mg]; after Lewis and Morris (1986), from memory."""
MOST_NITRITE_N_MG_L = 1.0
"""Never more than this, however much chloride; from memory."""
LARGEST_PH_RISE = 0.3
"""A rise that a change may bring while ammonium is in the tank; limits table, common practice, no source."""


@dataclass(frozen=True)
class Change:
    """What one change with one water does.

    Attributes
    ----------
    name : str
        Of the water.
    share : float
        Of the tank that is changed.
    ph : float
        After it.
    ph_rise : float
    tan_mg_l, uia_mg_l : float
        Total and un-ionised ammonia after it [mg N/L].
    uia_factor : float
        Un-ionised ammonia after against before; above 1 the change makes it worse.
    nitrite_borne_mg_l : float
        Nitrite nitrogen that fish bear with the chloride that is then there [mg N/L].
    """

    name: str
    share: float
    ph: float
    ph_rise: float
    tan_mg_l: float
    uia_mg_l: float
    uia_factor: float
    nitrite_borne_mg_l: float


def nitrite_borne_mg_l(*, chloride_mg_l: float) -> float:
    """Nitrite nitrogen that fish bear at a chloride [mg N/L]; uptake of the two competes at the gill."""
    check_range("chloride_mg_l", chloride_mg_l, 0, 20_000, unit="mg/L")
    return min(MOST_NITRITE_N_MG_L, chloride_mg_l / CHLORIDE_PER_NITRITE)


def changed(tank: Water, new: Water, *, name: str, share: float) -> Change:
    """The tank after a change, mixed closed to the air.

    Parameters
    ----------
    tank, new : Water
        Single waters with their carbon; the tank with the ammonia that was found.
    share : float
        Of the tank that is changed [0 to 1].
    """
    check_range("share", share, 0, 1, unit="")
    before, after = speciate(tank), speciate(mix(((1 - share, tank), (share, new))))
    uia_before = float(np.asarray(before.ammonia_n_mg_l))
    uia = float(np.asarray(after.ammonia_n_mg_l))
    return Change(
        name=name,
        share=share,
        ph=float(np.asarray(after.ph)),
        ph_rise=float(np.asarray(after.ph)) - float(np.asarray(before.ph)),
        tan_mg_l=float(np.asarray(ion_mg_l(after.water, "ammonia_mmol_l"))),
        uia_mg_l=uia,
        uia_factor=uia / uia_before if uia_before > 0 else 1.0,
        nitrite_borne_mg_l=nitrite_borne_mg_l(
            chloride_mg_l=float(np.asarray(ion_mg_l(after.water, "chloride_mmol_l")))
        ),
    )


def best_change(tank: Water, waters: dict[str, Water], *, share: float = 0.5) -> tuple[Change, ...]:
    """Every water tried, the least un-ionised ammonia first; those that lift the pH too far come last."""
    found = [changed(tank, water, name=name, share=share) for name, water in waters.items()]
    return tuple(sorted(found, key=lambda item: (item.ph_rise > LARGEST_PH_RISE, item.uia_mg_l, item.name)))


def with_tan(water: Water, *, tan_mg_l: float) -> Water:
    """The water with ammonium added, as soil sets it free: alkalinity unchanged, its charge closed by chloride."""
    added = tan_mg_l / N_G_MOL
    return replace(water, ammonia_mmol_l=water.ammonia_mmol_l + added, chloride_mmol_l=water.chloride_mmol_l + added)
