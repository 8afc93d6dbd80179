"""How a planting grows in weeks 0 to 12: dry mass, leaf area, shade and nitrogen, as bands.

Dry mass follows a logistic curve from a lag after planting; leaf area is dry mass by the area of a gram of leaves.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, tanh

from slackwater.errors import check_range
from slackwater.planting.result import Cover, Growth

Band = tuple[float, float, float]

WEEKS = tuple(range(13))
RATE_PER_D: Mapping[str, Band] = {
    "very slow": (0.002, 0.005, 0.010),
    "slow": (0.003, 0.008, 0.015),
    "medium": (0.008, 0.020, 0.040),
    "fast": (0.015, 0.035, 0.060),
    "very fast": (0.030, 0.060, 0.120),
}
"""Relative growth without want [1/d]; slow rosettes and stems with carbon dioxide from texts, the rest between; from memory."""
FLOATING_PER_D: Band = (0.05, 0.10, 0.20)
"""Floating plants, which have the air's carbon dioxide; from memory."""
START_G_M2: Band = (8.0, 20.0, 60.0)
"""Dry mass on planted ground on the first day; from memory."""
LAG_D: Band = (14.0, 7.0, 3.0)
"""Days until planted stock grows: long where little grows; from memory."""
LOSS: Band = (0.40, 0.10, 0.0)
"""Leaves that stock grown in air loses meanwhile: much where little grows; from memory."""
LEAF_M2_G = 0.035
"""Leaf area of a gram of dry mass of submerged plants [m2/g, 0.02 to 0.08]; from memory."""
MOST_LEAF = 5.0
"""Leaf area over ground at which a stand shades itself as much as it grows; from memory."""
SHADES: Band = (0.6, 0.7, 0.8)
"""Extinction by leaves, per leaf area over ground; Monsi and Saeki (1953) form, values from memory."""
NITROGEN: Band = (0.020, 0.030, 0.045)
"""Nitrogen of dry mass [g/g]; from memory."""
HALF_LIGHT_UMOL: Band = (25.0, 60.0, 150.0)
"""Light at which growth bends, I_k of Jassby and Platt (1976), Limnology and Oceanography 21, 540-547; values from memory."""
HALF_CO2_MG_L = 4.0
"""Carbon dioxide for half of the growth [mg/L, 1 to 12]; from memory."""
ROOM_CO2_MG_L = 3.0
"""In a tank to which none is given; from memory."""


@dataclass(frozen=True)
class Stand:
    """One plant in one zone.

    Attributes
    ----------
    zone : int
    area_m2 : float
        Of the zone, above 0.
    cover_m2 : float
        What the plant takes up of it on the first day.
    rate : str
        Its growth, as in the catalog.
    floating : bool
    need_umol : float
        Least light of the catalog.
    par_umol_m2_s : float or None
    """

    zone: int
    area_m2: float
    cover_m2: float
    rate: str
    floating: bool
    need_umol: float
    par_umol_m2_s: float | None


def light_share(*, par_umol_m2_s: float, need_umol: float) -> float:
    """Share of the growth without want that the light allows, tanh(I / I_k) [0..1].

    Parameters
    ----------
    par_umol_m2_s : float
        Light at the plant [umol/(m2 s), 0 to 2500].
    need_umol : float
        Its least light, which stands for its I_k: 1.5 times, within those published [umol/(m2 s), 0 to 500].

    References
    ----------
    Jassby and Platt (1976), Limnology and Oceanography 21, 540-547.
    """
    check_range("par_umol_m2_s", par_umol_m2_s, 0, 2500, unit="umol/(m2 s)")
    check_range("need_umol", need_umol, 0, 500, unit="umol/(m2 s)")
    bend = min(max(1.5 * need_umol, HALF_LIGHT_UMOL[0]), HALF_LIGHT_UMOL[2])
    return tanh(par_umol_m2_s / bend)


def co2_share(*, co2_mg_l: float) -> float:
    """Share of the growth without want that the carbon dioxide allows, C / (C + half) [0..1].

    Parameters
    ----------
    co2_mg_l : float
        [mg/L, 0 to 60]
    """
    check_range("co2_mg_l", co2_mg_l, 0, 60, unit="mg/L")
    return co2_mg_l / (co2_mg_l + HALF_CO2_MG_L)


def dry_mass_g_m2(*, day: float, start_g_m2: float, rate_per_d: float, lag_d: float, most_g_m2: float) -> float:
    """Dry mass of a stand after planting: as it was until the lag is over, then logistic.

    Parameters
    ----------
    day : float
        After planting [d, 0 to 365].
    start_g_m2, most_g_m2 : float
        On the first day, and where growth ends [g/m2, above 0].
    rate_per_d : float
        Relative growth while there is room [1/d, 0 to 0.5].
    lag_d : float
        [d, 0 to 60]

    Notes
    -----
    dB/dt = r B (1 - B / K) from the end of the lag; B(t) = K / (1 + (K / B0 - 1) exp(-r t)). A stand that starts above K stays.
    """
    check_range("day", day, 0, 365, unit="d")
    check_range("rate_per_d", rate_per_d, 0, 0.5, unit="1/d")
    check_range("lag_d", lag_d, 0, 60, unit="d")
    if start_g_m2 <= 0 or start_g_m2 >= most_g_m2:
        return max(0.0, start_g_m2)
    grown = max(0.0, day - lag_d)
    return most_g_m2 / (1 + (most_g_m2 / start_g_m2 - 1) * exp(-rate_per_d * grown))


def growth_of(stands: Sequence[Stand], *, co2_mg_l: float | None) -> Growth:
    """Weeks 0 to 12 of a planting: low, typical and high, each with all its causes on that side.

    Parameters
    ----------
    stands : sequence of Stand
    co2_mg_l : float or None
        None where none is given.
    """
    carbon = co2_share(co2_mg_l=ROOM_CO2_MG_L if co2_mg_l is None else co2_mg_l)
    shares = []
    for stand in stands:
        light = (
            1.0
            if stand.par_umol_m2_s is None
            else light_share(par_umol_m2_s=min(stand.par_umol_m2_s, 2500.0), need_umol=stand.need_umol)
        )
        shares.append(light if stand.floating else min(light, carbon))
    zones = dict.fromkeys(stand.zone for stand in stands)
    area = {stand.zone: stand.area_m2 for stand in stands}
    mass: dict[int, list[list[float]]] = {zone: [] for zone in zones}
    dry, nitrogen = [], []
    for week in WEEKS:
        of_zone = {zone: [0.0, 0.0, 0.0] for zone in zones}
        taken = [0.0, 0.0, 0.0]
        for stand, share in zip(stands, shares, strict=True):
            rates = FLOATING_PER_D if stand.floating else RATE_PER_D[stand.rate]
            # Stands of one zone share its room by what they start with, and what finds no room in it does not count.
            together = sum(one.cover_m2 for one in stands if one.zone == stand.zone)
            part = stand.cover_m2 / max(together, stand.area_m2)
            most = MOST_LEAF / LEAF_M2_G * stand.cover_m2 / together if together else 0.0
            for side in range(3):
                start = START_G_M2[side] * part * (1 - LOSS[side])
                rate = min(0.5, rates[side] * share)
                if start <= 0:
                    continue
                here = dry_mass_g_m2(day=7 * week, start_g_m2=start, rate_per_d=rate, lag_d=LAG_D[side], most_g_m2=most)
                of_zone[stand.zone][side] += here
                if 7 * week >= LAG_D[side]:
                    gain = rate * here * max(0.0, 1 - here / most)
                    taken[side] += 1000 * NITROGEN[side] * gain * stand.area_m2
        for zone in zones:
            mass[zone].append(of_zone[zone])
        dry.append(_band([sum(of_zone[zone][side] * area[zone] for zone in zones) for side in range(3)]))
        nitrogen.append(_band(sorted(taken)))
    covers = tuple(
        Cover(
            zone=zone,
            leaf_area=tuple(_band([LEAF_M2_G * value for value in week]) for week in mass[zone]),
            shade=tuple(
                _band([1 - exp(-SHADES[side] * LEAF_M2_G * week[side]) for side in range(3)]) for week in mass[zone]
            ),
        )
        for zone in zones
    )
    return Growth(weeks=WEEKS, zones=covers, dry_g=tuple(dry), nitrogen_mg_d=tuple(nitrogen))


def _band(values: Sequence[float]) -> Band:
    low, typical, high = (round(value, 4) for value in values)
    return low, typical, high
