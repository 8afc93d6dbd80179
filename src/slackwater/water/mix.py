"""Which litres to mix: old water, permeate and tap by linear balance to the agreed limits, then salts in whole grams."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog

from slackwater.water.mixing import mixed
from slackwater.water.salts import MMOL_L_PER_DGH, molar_mass_g_mol

LITRE_STEP = 0.5
MISS_WEIGHT = 1000.0
"""Weight of a unit over a limit against a litre of anything: limits come first."""


@dataclass(frozen=True)
class Source:
    """One of the waters to mix; None where it was not tested."""

    hardness_dgh: float | None
    alkalinity_dkh: float | None
    nitrate_mg_l: float | None
    temp_c: float | None = None
    chloride_mg_l: float | None = None
    conductivity_us_cm: float | None = None


@dataclass(frozen=True)
class Limits:
    """Highest values that the refilled tank should have; None where nothing was agreed."""

    hardness_dgh: float | None
    alkalinity_dkh: float | None
    nitrate_mg_l: float | None


@dataclass(frozen=True)
class Blend:
    """Litres of each, and how far each limit is missed (0 where it is kept)."""

    old_l: float
    ro_l: float
    tap_l: float
    hardness_over_dgh: float
    alkalinity_over_dkh: float
    nitrate_over_mg_l: float


def permeate_of(tap: Source, *, rejection: float) -> Source:
    """Water behind the membrane: what is let through of each ion."""

    def through(value: float | None) -> float | None:
        return None if value is None else value * (1 - rejection)

    return Source(
        hardness_dgh=through(tap.hardness_dgh),
        alkalinity_dkh=through(tap.alkalinity_dkh),
        nitrate_mg_l=through(tap.nitrate_mg_l),
        temp_c=tap.temp_c,
        chloride_mg_l=through(tap.chloride_mg_l),
        conductivity_us_cm=through(tap.conductivity_us_cm),
    )


def blend(
    *,
    total_l: float,
    old: Source,
    permeate: Source,
    tap: Source,
    limits: Limits,
    old_max_l: float,
    ro_max_l: float,
    tap_max_l: float,
) -> Blend | None:
    """Litres that keep the limits, with as much old water as allowed and then as little permeate as possible.

    Parameters
    ----------
    total_l : float
        Water of the finished tank [L].
    old, permeate, tap : Source
        The three waters.
    limits : Limits
        Upper limits; where they cannot all be kept, the smallest weighted excess is taken and reported.
    old_max_l, ro_max_l, tap_max_l : float
        What there is of each [L].

    Returns
    -------
    Blend or None
        None if the three together do not fill the tank.

    Notes
    -----
    Linear programme (HiGHS). An unknown value counts as no constraint; the caller names the missing reading.
    """
    if old_max_l + ro_max_l + tap_max_l < total_l - 1e-9:
        return None
    rows, bounds_of = [], []
    for name in ("hardness_dgh", "alkalinity_dkh", "nitrate_mg_l"):
        values = [getattr(source, name) for source in (old, permeate, tap)]
        limit = getattr(limits, name)
        known = limit is not None and all(value is not None for value in values)
        rows.append([value / total_l for value in values] if known else [0.0, 0.0, 0.0])
        bounds_of.append(limit if known else 1.0)
    scale = np.array([max(limit, 1e-6) for limit in bounds_of])
    cost = np.concatenate([[-1.0, 0.1, 0.0], MISS_WEIGHT * total_l / scale])
    upper = np.hstack([np.array(rows), -np.eye(3)])
    answer = linprog(
        cost,
        A_ub=upper,
        b_ub=np.array(bounds_of),
        A_eq=[[1, 1, 1, 0, 0, 0]],
        b_eq=[total_l],
        bounds=[(0, old_max_l), (0, ro_max_l), (0, tap_max_l), (0, None), (0, None), (0, None)],
        method="highs",
    )
    if answer.x is None:
        return None
    old_l, ro_l, tap_l, over_gh, over_kh, over_n = (float(value) for value in answer.x)
    return Blend(old_l, ro_l, tap_l, over_gh, over_kh, over_n)


def value_of(parts: tuple[tuple[float, Source], ...], name: str) -> float | None:
    """A conserved value of a mixture; None if one of the waters in it was not tested for it."""
    pairs = [(litres, getattr(source, name)) for litres, source in parts if litres > 0]
    if not pairs or any(value is None for _, value in pairs):
        return None
    return mixed(pairs)


CALCIUM_SHARE = 0.75
"""Calcium to magnesium 3:1 by mol; common practice, no source."""


def hardness_salts_g(*, step_dgh: float, volume_l: float, gypsum_purity: float, epsom_purity: float) -> tuple[int, int]:
    """Whole grams of gypsum and Epsom salt for a step of hardness, three parts calcium to one of magnesium."""
    moles = step_dgh * MMOL_L_PER_DGH / 1000 * volume_l
    gypsum = moles * CALCIUM_SHARE * molar_mass_g_mol("CaSO4.2H2O") / gypsum_purity
    epsom = moles * (1 - CALCIUM_SHARE) * molar_mass_g_mol("MgSO4.7H2O") / epsom_purity
    return round(gypsum), round(epsom)


def hardness_of_salts_dgh(
    *, gypsum_g: float, epsom_g: float, volume_l: float, gypsum_purity: float, epsom_purity: float
) -> float:
    """Hardness that whole grams really give; the inverse of the above before rounding [dGH]."""
    moles = gypsum_g * gypsum_purity / molar_mass_g_mol("CaSO4.2H2O") + epsom_g * epsom_purity / molar_mass_g_mol(
        "MgSO4.7H2O"
    )
    return moles * 1000 / volume_l / MMOL_L_PER_DGH
