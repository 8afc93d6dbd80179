"""What sends light out: where a lamp is, how much it gives, in which directions and colours. A skylight is a lamp too."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import cos, log, pi, radians
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import BadInput, check_range
from slackwater.light.absorption import BANDS_NM
from slackwater.light.ies import Photometry

Floats = NDArray[np.float64]
Spectrum = Literal["white", "warm white", "plant", "daylight"]
RINGS, TURNS = 180, 72
"""Directions of a measured lamp are kept by rings of a degree and turns of five."""

SHARES: Mapping[Spectrum, tuple[float, ...]] = {
    "white": (0.06, 0.18, 0.19, 0.22, 0.21, 0.14),
    "warm white": (0.03, 0.09, 0.15, 0.24, 0.28, 0.21),
    "plant": (0.10, 0.17, 0.10, 0.10, 0.18, 0.35),
    "daylight": (0.13, 0.16, 0.17, 0.175, 0.18, 0.185),
}
"""Shares of the photons in each band: white of about 6500 K and of about 3000 K, white with much blue and red, an overcast
sky. From memory; the maker's sheet tells better."""
PHOTONS_PER_LUMEN = 0.0145
"""µmol/s for a lumen of white light, 0.0135 to 0.0185 by colour; from memory."""


@dataclass(frozen=True, eq=False)
class Emitter:
    """One level rectangle that sends light down, over the tank's own coordinates.

    Attributes
    ----------
    x_m, y_m, z_m : float
        Its middle, and its height above the bottom glass.
    length_m, width_m : float
        Left to right, front to rear; 0 for a point.
    flux_umol_s : float
        All its photons of 400 to 700 nm [µmol/s].
    shares : tuple of float
        Of the bands of `absorption.BANDS_NM`; they sum to 1.
    power : float
        Its intensity falls with this power of the cosine from straight down; 1 is an evenly bright face (Lambert).
    points : int
        Equal points in a row along its length that the light comes from; 0: the whole face.
    measured : Photometry or None
        Intensity by direction, in place of `power`.
    turn_deg : float
        By which the measured directions are turned about the vertical, against the clock seen from above.
    """

    x_m: float
    y_m: float
    z_m: float
    length_m: float
    width_m: float
    flux_umol_s: float
    shares: tuple[float, ...] = SHARES["white"]
    power: float = 1.0
    points: int = 0
    measured: Photometry | None = None
    turn_deg: float = 0.0

    def __post_init__(self) -> None:
        check_range("flux_umol_s", self.flux_umol_s, 0, 1e6, unit="umol/s")
        check_range("power", self.power, 0, 2000, unit="")
        check_range("length_m", self.length_m, 0, 100, unit="m")
        check_range("width_m", self.width_m, 0, 100, unit="m")
        if len(self.shares) != len(BANDS_NM) or min(self.shares) < 0 or abs(sum(self.shares) - 1) > 1e-6:
            raise BadInput(f"shares of the bands must be {len(BANDS_NM)} numbers that sum to 1, not {self.shares}")


def lobe_power(*, beam_deg: float) -> float:
    """Power of the cosine of a lamp whose intensity is half at half its beam angle.

    Parameters
    ----------
    beam_deg : float
        Full beam angle, between the directions of half the greatest intensity [degrees, 4 to 170].

    Raises
    ------
    OutOfRange
        Outside the range.

    Notes
    -----
    m = ln 0.5 / ln cos(half the angle); 120° is the evenly bright face, m = 1.
    """
    check_range("beam_deg", beam_deg, 4, 170, unit="degrees")
    return log(0.5) / log(cos(radians(beam_deg / 2)))


def measured_table(photometry: Photometry) -> Floats:
    """What the tracer draws directions of a measured lamp from [rings, 1 + turns]: shares of light up to each ring, then to each turn."""
    edges = np.linspace(0, 180, RINGS + 1)
    middle = (edges[1:] + edges[:-1]) / 2
    around = (np.arange(TURNS) + 0.5) * 360 / TURNS
    solid = 2 * pi / TURNS * (np.cos(np.radians(edges[:-1])) - np.cos(np.radians(edges[1:])))
    light = photometry.at(middle[:, None], around[None, :]) * solid[:, None]
    rings = light.sum(axis=1)
    if rings.sum() <= 0:
        raise BadInput("the measured lamp gives no light in any direction")
    turns = np.cumsum(np.where(rings[:, None] > 0, light, 1.0), axis=1)
    return np.column_stack([np.cumsum(rings) / rings.sum(), turns / turns[:, -1:]])


def packed(emitters: Sequence[Emitter]) -> tuple[Floats, Floats, Floats]:
    """Emitters as the tracer takes them: rows [n, 11], tables of directions, and sums of the shares of their bands [n, 6]."""
    tables: list[Floats] = []
    rows = np.zeros((len(emitters), 11))
    for row, one in zip(rows, emitters, strict=True):
        row[:6] = (one.x_m, one.y_m, one.z_m, one.length_m / 2, one.width_m / 2, one.flux_umol_s)
        row[7], row[9], row[10] = one.power, one.points, radians(one.turn_deg)
        if one.measured is not None:
            row[6], row[8] = 1, len(tables)
            tables.append(measured_table(one.measured))
    held = np.array(tables) if tables else np.zeros((1, RINGS, TURNS + 1))
    return rows, held, np.cumsum([one.shares for one in emitters], axis=1)
