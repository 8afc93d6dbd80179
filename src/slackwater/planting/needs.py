"""What a plant asks of its place, and whether a zone gives it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from slackwater.job.catalog import Plant
from slackwater.planting.result import Place, Reason, Zone

HARD: frozenset[Place] = frozenset({"wood", "stone"})
_WELL: Mapping[str, tuple[Place, ...]] = {
    "carpet": ("carpet",),
    "foreground": ("foreground",),
    "midground": ("middle",),
    "background": ("background",),
    "epiphyte": ("wood", "stone"),
    "moss": ("wood", "stone"),
    "floating": ("surface",),
}
"""Where a position of the catalog belongs."""
_ALSO: Mapping[str, tuple[Place, ...]] = {
    "carpet": ("foreground", "stone"),
    "foreground": ("carpet", "middle"),
    "midground": ("background", "foreground"),
    "background": ("middle",),
    "epiphyte": ("middle", "foreground"),
}
"""Where it can stand too, if it roots there; common practice, no source."""
LEAST_SOIL_M, USUAL_SOIL_M = 0.015, 0.03
"""Depth in which a portion holds at all, and one in which it roots well; common practice, no source."""
BRIGHT_UMOL = 90.0
"""Plants of low light gather algae above this; common practice, no source."""
LOW_NEED_UMOL = 25.0
SURE = 2.0
"""So many standard errors above the mean of a zone a need is certainly not met."""
NEIGHBOUR, UNSURE, SLOW, THIN, BRIGHT, TALL, TALL_BEFORE = 40, 30, 15, 20, 10, 15, 25
"""Marks against a place, of 100: see `fit`; common practice, no source."""
MOST_MARKS = 100
_LOW_PLACES: Mapping[Place, float] = {"carpet": 15.0, "foreground": 25.0}
"""Height that hides what stands behind [cm]; common practice, no source."""


@dataclass(frozen=True)
class Tank:
    """What all zones share: None where it is not known.

    Attributes
    ----------
    temp_c : float or None
    co2 : bool
        Whether carbon dioxide is given.
    """

    temp_c: float | None
    co2: bool


@dataclass(frozen=True)
class Fit:
    """Whether a plant can stand in a zone, with what speaks against it.

    Attributes
    ----------
    stands : bool
    marks : int
        0 it belongs there, 100 it hardly can.
    reasons : tuple of Reason
        Where it stands: what is doubtful. Where it does not: what keeps it out.
    """

    stands: bool
    marks: int
    reasons: tuple[Reason, ...]


def positions(plant: Plant) -> tuple[str, ...]:
    """Of a plant that may have several, each."""
    return tuple(part.strip() for part in plant.position.split(" or "))


def attaches(plant: Plant) -> frozenset[str]:
    """soil, wood, stone, net, floating."""
    return frozenset(part.strip() for part in plant.attach_to.replace(",", " or ").split(" or ") if part.strip())


def roots_in(place: Place) -> str:
    """What a plant of that place is to hold on to."""
    return place if place in HARD else "floating" if place == "surface" else "soil"


def fit(plant: Plant, zone: Zone, tank: Tank) -> Fit:
    """Whether a plant finds in a zone what it needs.

    Parameters
    ----------
    plant : Plant
    zone : Zone
    tank : Tank

    Returns
    -------
    Fit
        What is not known keeps no plant out.

    Notes
    -----
    Kept out: another place, nothing to hold on to, light below the need by more than two standard errors, no carbon dioxide
    where it is needed, another temperature, water or soil too shallow. Marks against: a neighbouring place 40, light within
    its error of the need 30, taller than its place 25, thin soil 20, no carbon dioxide where it helps 15, grows
    out of the water 15, much light for a plant of low need 10.
    """
    against: list[Reason] = []
    doubts: list[Reason] = []
    marks = 0
    names = positions(plant)
    holds = roots_in(zone.place)
    well = any(zone.place in _WELL.get(name, ()) for name in names)
    also = any(zone.place in _ALSO.get(name, ()) for name in names)
    if holds not in attaches(plant):
        against.append(Reason(id="holds_on", values={"attach": plant.attach_to}))
    elif not well and not also:
        against.append(Reason(id="place", values={"position": plant.position}))
    if not well:
        marks += NEIGHBOUR
        doubts.append(Reason(id="neighbour", values={"position": plant.position}))
    need, have = plant.par_min_umol_m2_s, zone.par_umol_m2_s
    if have is not None:
        error = zone.par_error_umol_m2_s or 0.0
        told = {"need_umol": need, "have_umol": have, "error_umol": error}
        if have + SURE * error < need:
            against.append(Reason(id="light", values=told))
        elif have < need:
            marks += UNSURE
            doubts.append(Reason(id="light_unsure", values=told))
        elif need <= LOW_NEED_UMOL and have > BRIGHT_UMOL:
            marks += BRIGHT
            doubts.append(Reason(id="bright", values={"have_umol": have}))
    if not tank.co2 and plant.co2_need != "none":
        if plant.co2_need == "needed":
            against.append(Reason(id="co2"))
        else:
            marks += SLOW
            doubts.append(Reason(id="co2_helps"))
    if tank.temp_c is not None and not plant.temp_min_c <= tank.temp_c <= plant.temp_max_c:
        told = {"low_c": plant.temp_min_c, "high_c": plant.temp_max_c, "have_c": tank.temp_c}
        against.append(Reason(id="temperature", values=told))
    if holds == "soil":
        if plant.height_min_cm > 100 * zone.water_m:
            told = {"height_cm": plant.height_min_cm, "water_cm": 100 * zone.water_m}
            against.append(Reason(id="water_shallow", values=told))
        elif plant.height_max_cm > 100 * zone.water_m:
            marks += TALL
            doubts.append(
                Reason(id="grows_out", values={"height_cm": plant.height_max_cm, "water_cm": 100 * zone.water_m})
            )
        low = _LOW_PLACES.get(zone.place)
        if low is not None and plant.height_max_cm > low:
            marks += TALL_BEFORE
            doubts.append(Reason(id="hides", values={"height_cm": plant.height_max_cm}))
        soil = zone.soil_m or 0.0
        if soil < LEAST_SOIL_M:
            against.append(Reason(id="soil_thin", values={"soil_cm": 100 * soil, "need_cm": 100 * LEAST_SOIL_M}))
        elif soil < USUAL_SOIL_M:
            marks += THIN
            doubts.append(Reason(id="soil_shallow", values={"soil_cm": 100 * soil}))
    if against:
        return Fit(stands=False, marks=MOST_MARKS, reasons=tuple(against))
    return Fit(stands=True, marks=min(MOST_MARKS, marks), reasons=tuple(doubts))


def shortfall(found: Fit) -> tuple[int, int]:
    """How far a zone is from what a plant needs: the fewer needs unmet the nearer; the wrong place weighs most."""
    hard = sum(reason.id in ("holds_on", "place") for reason in found.reasons)
    return hard, len(found.reasons)
