"""Bending stress and deflection of a tank panel under water, to flag a tank and never to certify one."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import pi
from typing import Literal

import numpy as np

from slackwater.errors import check_range

TopEdge = Literal["free", "supported"]
PlateLoad = Literal["triangular", "uniform"]

GRAVITY_M_S2 = 9.80665
POISSON = 0.22
YOUNGS_MODULUS_GPA = 70.0
"""Float glass, EN 572-1."""
CHARACTERISTIC_STRENGTH_MPA = 45.0
"""Annealed float glass, EN 572-1."""
FLAG_STRESS_MPA = 7.0
"""A panel above this is flagged; design strength for permanent load is 7.25 MPa (EN 16612 form)."""
_TERMS = 31
_POINTS = 61


def design_strength_mpa(*, k_mod: float, k_sp: float, f_gk_mpa: float, gamma_ma: float) -> float:
    """Design strength of glass, ``k_mod k_sp f_gk / gamma_MA`` [MPa].

    References
    ----------
    EN 16612:2019, form of the expression; k_mod 0.29 for permanent load (from memory).
    """
    return k_mod * k_sp * f_gk_mpa / gamma_ma


@dataclass(frozen=True)
class Plate:
    """Coefficients of a rectangular plate, normalised by its height H and the largest pressure q0.

    Attributes
    ----------
    deflection : float
        Largest w D / (q0 H^4).
    centre_deflection : float
        The same in the middle of the plate.
    free_edge_deflection : float
        The same in the middle of the top edge.
    moment : float
        Largest M / (q0 H^2) about either axis.
    free_edge_moment : float
        M / (q0 H^2) that bends the top edge along its length, at its middle.
    """

    deflection: float
    centre_deflection: float
    free_edge_deflection: float
    moment: float
    free_edge_moment: float


@lru_cache(maxsize=64)
def plate(*, length_over_height: float, poisson: float, top: TopEdge, load: PlateLoad) -> Plate:
    """Thin plate on simple supports at the bottom and both sides; the top free or supported too.

    Parameters
    ----------
    length_over_height : float
        [0.2 to 10].
    poisson : float
        [0 to 0.49].
    top : {"free", "supported"}
        A brace all along counts as a support.
    load : {"triangular", "uniform"}
        Water pressure falling from q0 at the bottom to zero at the top, or q0 everywhere.

    Notes
    -----
    Levy series: w = sum Y_m(y) sin(m pi x / L), with four constants for each odd m set by the two horizontal edges.

    References
    ----------
    Timoshenko and Woinowsky-Krieger (1959), Theory of Plates and Shells, chapters 5 and 6.
    """
    check_range("length_over_height", length_over_height, 0.2, 10, unit="")
    check_range("poisson", poisson, 0, 0.49, unit="")
    length = length_over_height
    y = np.linspace(0.0, 1.0, _POINTS)
    x = np.linspace(0.0, length, _POINTS)
    w = np.zeros((_POINTS, _POINTS))
    w_xx = np.zeros_like(w)
    w_yy = np.zeros_like(w)
    for m in range(1, 2 * _TERMS, 2):
        a = m * pi / length
        share = 4 / (m * pi)
        slope = 0.0 if load == "uniform" else -1.0

        # Basis that neither overflows nor cancels: decaying from the bottom and from the top.
        def basis(at: float, a: float = a) -> list[tuple[float, float, float, float]]:
            low, high = np.exp(-a * at), np.exp(a * (at - 1))
            return [
                (low, -a * low, a**2 * low, -(a**3) * low),
                (high, a * high, a**2 * high, a**3 * high),
                (
                    a * at * low,
                    (a - a**2 * at) * low,
                    (-2 * a**2 + a**3 * at) * low,
                    (3 * a**3 - a**4 * at) * low,
                ),
                (
                    a * (at - 1) * high,
                    (a + a**2 * (at - 1)) * high,
                    (2 * a**2 + a**3 * (at - 1)) * high,
                    (3 * a**3 + a**4 * (at - 1)) * high,
                ),
            ]

        bottom, upper = basis(0.0), basis(1.0)
        end_load = 1 + slope
        rows = [[term[0] for term in bottom], [term[2] for term in bottom]]
        right = [-share / a**4, 0.0]
        if top == "free":
            rows.append([term[2] - poisson * a**2 * term[0] for term in upper])
            right.append(poisson * a**2 * share * end_load / a**4)
            rows.append([term[3] - (2 - poisson) * a**2 * term[1] for term in upper])
            right.append((2 - poisson) * a**2 * share * slope / a**4)
        else:
            rows += [[term[0] for term in upper], [term[2] for term in upper]]
            right += [-share * end_load / a**4, 0.0]
        constants = np.linalg.solve(np.array(rows), np.array(right))
        terms = np.array([[[value for value in term] for term in basis(at)] for at in y])
        deflection = terms[:, :, 0] @ constants + share * (1 + slope * y) / a**4
        curvature = terms[:, :, 2] @ constants
        wave = np.sin(a * x)
        w += np.outer(deflection, wave)
        w_yy += np.outer(curvature, wave)
        w_xx += np.outer(-(a**2) * deflection, wave)
    along = np.abs(w_xx + poisson * w_yy)
    up = np.abs(w_yy + poisson * w_xx)
    middle = _POINTS // 2
    return Plate(
        deflection=float(np.abs(w).max()),
        centre_deflection=float(abs(w[middle, middle])),
        free_edge_deflection=float(abs(w[-1, middle])),
        moment=float(max(along.max(), up.max())),
        free_edge_moment=float(along[-1, middle]),
    )


def panel_stress_mpa(
    *,
    panel_length_m: float,
    water_height_m: float,
    thickness_m: float,
    braced: bool,
    density_kg_m3: float = 997.0,
    poisson: float = POISSON,
) -> float:
    """Largest bending stress in a side panel under water [MPa].

    Parameters
    ----------
    panel_length_m, water_height_m, thickness_m : float
        Inside length of the panel, height of the water at it, glass thickness [m].
    braced : bool
        Whether the top edge is held all along.
    density_kg_m3, poisson : float
        Of the water; of the glass.
    """
    shape = _water_plate(panel_length_m, water_height_m, braced, poisson)
    pressure = density_kg_m3 * GRAVITY_M_S2 * water_height_m
    return 6 * shape.moment * pressure * water_height_m**2 / thickness_m**2 / 1e6


def panel_deflection_mm(
    *,
    panel_length_m: float,
    water_height_m: float,
    thickness_m: float,
    braced: bool,
    density_kg_m3: float = 997.0,
    poisson: float = POISSON,
    youngs_modulus_gpa: float = YOUNGS_MODULUS_GPA,
) -> float:
    """Largest deflection of a side panel under water [mm]; parameters as for the stress."""
    shape = _water_plate(panel_length_m, water_height_m, braced, poisson)
    pressure = density_kg_m3 * GRAVITY_M_S2 * water_height_m
    stiffness = youngs_modulus_gpa * 1e9 * thickness_m**3 / (12 * (1 - poisson**2))
    return 1000 * shape.deflection * pressure * water_height_m**4 / stiffness


def _water_plate(panel_length_m: float, water_height_m: float, braced: bool, poisson: float) -> Plate:
    return plate(
        length_over_height=panel_length_m / water_height_m,
        poisson=poisson,
        top="supported" if braced else "free",
        load="triangular",
    )
