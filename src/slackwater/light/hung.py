"""The lamps of a job as emitters over its tank: what is told, and what is taken where it is not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp, hypot, log

from slackwater.figure import Assumption
from slackwater.job.model import Lamp, Light, Skylight
from slackwater.layout.scene import Glass
from slackwater.light.ies import Photometry
from slackwater.light.lamps import PHOTONS_PER_LUMEN, SHARES, Emitter, lobe_power

EFFICACY_UMOL_J = (1.0, 1.8, 2.8)
"""Photons of 400 to 700 nm for each joule of a lamp whose maker says nothing: low, usual, high. From memory: fluorescent
tubes 0.7 to 1, older white diodes 1.3, today's 1.8 to 2.8."""
TOLD_RANGE = (0.9, 1.1)
"""Of a flux or efficacy by the maker; from memory."""
ABOVE_WATER_M = 0.15
WIDTH_M = 0.08
LENGTH_SHARE = 0.8
"""Of the tank: how long a lamp is that lies along it."""
LONG_FROM_M = 0.45
"""A tank shorter than this has one compact lamp over its middle."""
BEAM_DEG = 120.0
PLACE_RANGE = (0.75, 1.2)
"""Factors that a lamp's height and beam leave open where they are not told; from memory."""
PRACTICE = "common practice, no source"
MEMORY = "from memory"
SKY_UMOL_M2_S = 120.0
"""Right under a clean roof window at midday, overcast: about 10 klx outside, 0.0185 µmol/s for a lumen, two thirds let
through; from memory."""


@dataclass(frozen=True)
class Hung:
    """Lamps over a tank.

    Attributes
    ----------
    lamps, sky : tuple of Emitter
        By switch, and by the sun.
    assumed : tuple of Assumption
        What was taken because the job does not say.
    low, high : float
        Factors on the lamps' light that this leaves open.
    """

    lamps: tuple[Emitter, ...]
    sky: tuple[Emitter, ...]
    assumed: tuple[Assumption, ...]
    low: float
    high: float


def hung(light: Light, glass: Glass, files: Mapping[str, Photometry]) -> Hung:
    """All lamps of a job.

    Parameters
    ----------
    light : Light
        As told.
    glass : Glass
        What they hang over.
    files : mapping of str to Photometry
        Measured files that were read, by their names.
    """
    assumed: list[Assumption] = []
    emitters: list[Emitter] = []
    passed = light.cover_lets_through or 1.0
    low = high = total = 0.0
    rows = sum(lamp.count for lamp in light.lamps if lamp.from_front_m is None)
    row = 0
    for number, lamp in enumerate(light.lamps, start=1):
        where = f"light.lamps[{number}]"
        measured = files.get(lamp.file) if lamp.file else None
        flux, factors = _flux(lamp, measured, where, assumed)
        if lamp.above_water_m is None or (lamp.beam_angle_deg is None and measured is None):
            # Independent of the flux: combined on the logarithms.
            factors = (
                exp(-hypot(log(factors[0]), log(PLACE_RANGE[0]))),
                exp(hypot(log(factors[1]), log(PLACE_RANGE[1]))),
            )
        flux *= (1.0 if lamp.dimmed_to is None else lamp.dimmed_to) * passed
        low, high, total = (
            low + factors[0] * flux * lamp.count,
            high + factors[1] * flux * lamp.count,
            total + flux * lamp.count,
        )
        emitters += _placed(lamp, measured, flux, glass, where, assumed, row, max(rows, 1))
        row += lamp.count if lamp.from_front_m is None else 0
    return Hung(
        lamps=tuple(emitters),
        sky=() if light.skylight is None else (_sky(light.skylight, glass, passed, assumed),),
        assumed=tuple(assumed),
        low=low / total if total > 0 else 1.0,
        high=high / total if total > 0 else 1.0,
    )


def _flux(
    lamp: Lamp, measured: Photometry | None, where: str, assumed: list[Assumption]
) -> tuple[float, tuple[float, float]]:
    """Photons of one lamp [µmol/s], and the factors that are left open."""
    if lamp.photon_flux_umol_s is not None:
        return lamp.photon_flux_umol_s, TOLD_RANGE
    if measured is not None and lamp.efficacy_umol_j is None:
        assumed.append(
            Assumption(field=f"{where}.photon_flux", value=f"{PHOTONS_PER_LUMEN:g} umol/s per lm", source=MEMORY)
        )
        return measured.lumens * PHOTONS_PER_LUMEN, (0.85, 1.2)
    if lamp.efficacy_umol_j is not None:
        return lamp.power_w * lamp.efficacy_umol_j, TOLD_RANGE
    low, usual, high = EFFICACY_UMOL_J
    assumed.append(Assumption(field=f"{where}.efficacy", value=f"{usual:g} umol/J", source=MEMORY))
    return lamp.power_w * usual, (low / usual, high / usual)


def _placed(
    lamp: Lamp,
    measured: Photometry | None,
    flux: float,
    glass: Glass,
    where: str,
    assumed: list[Assumption],
    row: int,
    rows: int,
) -> list[Emitter]:
    x0, y0, x1, y1 = glass.box_m
    span = x1 - x0

    def usual(name: str, told: float | None, value: float) -> float:
        if told is None:
            assumed.append(Assumption(field=f"{where}.{name}", value=f"{100 * value:.0f} cm", source=PRACTICE))
            return value
        return told

    face = (measured.length_m, measured.width_m) if measured is not None else (0.0, 0.0)
    length = (
        lamp.length_m or face[0] or usual("length", None, span * LENGTH_SHARE if span >= LONG_FROM_M else 0.2 * span)
    )
    width = lamp.width_m or face[1] or usual("width", None, min(WIDTH_M, y1 - y0))
    above = usual("above_water", lamp.above_water_m, ABOVE_WATER_M)
    if lamp.spectrum is None:
        assumed.append(Assumption(field=f"{where}.spectrum", value="white", source=PRACTICE))
    if lamp.beam_angle_deg is None and measured is None:
        assumed.append(Assumption(field=f"{where}.beam_angle", value=f"{BEAM_DEG:g} degrees", source=PRACTICE))
    x = x0 + lamp.from_left_m if lamp.from_left_m is not None else (x0 + x1) / 2
    found = []
    for one in range(lamp.count):
        # Several lamps of no told place hang side by side, evenly from front to rear.
        y = y0 + (row + one + 0.5) * (y1 - y0) / rows if lamp.from_front_m is None else y0 + lamp.from_front_m
        found.append(
            Emitter(
                x_m=x,
                y_m=y,
                z_m=glass.water_line_m + above,
                length_m=length,
                width_m=width,
                flux_umol_s=flux,
                shares=SHARES[lamp.spectrum or "white"],
                power=lobe_power(beam_deg=lamp.beam_angle_deg or BEAM_DEG),
                points=lamp.points or 0,
                measured=measured,
            )
        )
    return found


def _sky(skylight: Skylight, glass: Glass, passed: float, assumed: list[Assumption]) -> Emitter:
    x0, y0, x1, y1 = glass.box_m
    if skylight.daylight_umol_m2_s is None:
        assumed.append(Assumption(field="light.skylight.daylight", value=f"{SKY_UMOL_M2_S:g} umol/m2/s", source=MEMORY))
    under = SKY_UMOL_M2_S if skylight.daylight_umol_m2_s is None else skylight.daylight_umol_m2_s
    return Emitter(
        x_m=(x0 + x1) / 2 if skylight.from_left_m is None else x0 + skylight.from_left_m,
        y_m=(y0 + y1) / 2 if skylight.from_front_m is None else y0 + skylight.from_front_m,
        z_m=glass.water_line_m + skylight.above_water_m,
        length_m=skylight.length_m,
        width_m=skylight.width_m,
        flux_umol_s=under * skylight.length_m * skylight.width_m * passed,
        shares=SHARES["daylight"],
    )
