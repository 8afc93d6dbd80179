"""Chlorine and chloramine: what binds them, and the ammonium that broken chloramine sets free."""

from __future__ import annotations

from dataclasses import replace

from slackwater.errors import check_range
from slackwater.water.composition import Water
from slackwater.water.salts import ATOMIC_WEIGHT

CL2_G_MOL = 2 * ATOMIC_WEIGHT["Cl"]
STOCK_G_L = 10.0
"""A thiosulfate solution that can be measured by syringe; common practice, no source."""


def thiosulfate_g(*, chlorine_mg_l: float, litres: float, mg_per_mg: float) -> float:
    """Sodium thiosulfate pentahydrate for the chlorine of a water, free and combined together [g].

    Parameters
    ----------
    chlorine_mg_l : float
        As Cl2 [mg/L].
    mg_per_mg : float
        Working dose; 0.9 to 3.5 by stoichiometry (sulfur to tetrathionate or to sulfate), 7 in practice.
    """
    check_range("chlorine_mg_l", chlorine_mg_l, 0, 50, unit="mg/L")
    return chlorine_mg_l * litres * mg_per_mg / 1000


def without_chlorine(water: Water) -> Water:
    """The water once its chlorine is bound: chloride for each chlorine, an ammonium for each chloramine.

    Notes
    -----
    One N for each Cl2 equivalent of chloramine (14.007/70.9). Free chlorine leaves two chlorides, their charge closed by
    the acid that binding sets free; it is far below what a drop test shows.
    """
    freed = water.combined_chlorine_mg_l / CL2_G_MOL
    bound = 2 * water.free_chlorine_mg_l / CL2_G_MOL
    return replace(
        water,
        ammonia_mmol_l=water.ammonia_mmol_l + freed,
        chloride_mmol_l=water.chloride_mmol_l + freed + bound,
        alkalinity_meq_l=water.alkalinity_meq_l - bound,
        free_chlorine_mg_l=0.0,
        combined_chlorine_mg_l=0.0,
    )


def stock_ml(*, mass_g: float) -> float:
    """Millilitres of the stock solution that hold so much thiosulfate [mL]."""
    return 1000 * mass_g / STOCK_G_L
