"""What the planting room hands on: numbered zones, what is planted in each, what grows there, buckets in order."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from slackwater.frozen import Frozen

Place = Literal["wood", "stone", "background", "middle", "foreground", "carpet", "surface"]
"""What a zone is for; wood and stone bear epiphytes, the surface of the water what floats."""
Ring = tuple[tuple[float, float], ...]
LightSource = Literal["map", "reading", "unknown"]


class Zone(Frozen):
    """A part of the tank that is planted in one go, numbered in the order of planting."""

    number: int
    place: Place
    face: str
    """The public side that it is nearest to; empty for the surface, wood, stone and a back that several sides share."""
    part: Literal["left", "middle", "right", ""]
    """Where it lies, seen from the front; empty where it goes over the whole length."""
    area_m2: float
    """From above; of wood and stone, what roots can be tied or glued to."""
    outline_m: tuple[Ring, ...]
    """Corners of its outline from above, without the last one repeated; empty where nothing has a place yet."""
    middle_m: tuple[float, float] | None
    """A place in it for its number."""
    water_m: float
    """Water over its lowest point, to the water line."""
    soil_m: float | None
    """Mean depth of the bed; None where there is none."""
    par_umol_m2_s: float | None
    """Mean light; None where it is not known."""
    par_error_umol_m2_s: float | None
    """Standard error of that mean, what varies inside the zone included."""
    reach_m: float | None
    """From the nearest rim to its farthest point, straight."""
    backness: float
    """0 at a public pane, 1 furthest from all of them."""
    pieces: tuple[int, ...] = ()
    """Numbers of the pieces that bear it."""


class Reason(Frozen):
    """Why a plant does not fit a zone, or only just: what it needs and what there is."""

    id: str
    values: Mapping[str, float | str] = {}


class Placed(Frozen):
    """Units of one plant in one zone."""

    plant: str
    zone: int
    units: int
    portions: int
    """Single pieces that go into the bed or onto hardscape."""
    spacing_cm: float
    """0 where it floats or is spread by hand."""
    cover_m2: float
    """What they take up on the first day."""
    reasons: tuple[Reason, ...] = ()
    """What speaks against this place without forbidding it."""


class Unplaced(Frozen):
    """A plant of the job that fits no zone, and the zone that comes nearest."""

    plant: str
    units: int
    nearest: int | None
    reasons: tuple[Reason, ...]


class Substitute(Frozen):
    """What stands in for a plant that cannot be had."""

    plant: str
    by: str
    units: int


class Bucket(Frozen):
    """What is carried to the tank for one zone."""

    zone: int
    contents: tuple[Placed, ...]
    portions: int


class Cover(Frozen):
    """Leaf area of one zone over the weeks, each as (low, typical, high), from week 0 on."""

    zone: int
    leaf_area: tuple[tuple[float, float, float], ...]
    """Leaf area over ground area."""
    shade: tuple[tuple[float, float, float], ...]
    """Share of the light that the leaves keep from the bed."""


class Growth(Frozen):
    """The planting in weeks 0 to 12, each as (low, typical, high)."""

    weeks: tuple[int, ...]
    zones: tuple[Cover, ...]
    dry_g: tuple[tuple[float, float, float], ...]
    """Dry mass of all plants."""
    nitrogen_mg_d: tuple[tuple[float, float, float], ...]
    """Nitrogen that they take up."""


class PlantingResult(Frozen):
    """Zones and what is planted in them."""

    source: Literal["given", "proposed"]
    """Whether the job names the plants, or they were proposed for want of names."""
    corners_m: Ring
    """Outline of the bottom, inside the glass."""
    public_sides: tuple[str, ...]
    zones: tuple[Zone, ...]
    placed: tuple[Placed, ...]
    unplaced: tuple[Unplaced, ...] = ()
    suggested: tuple[Placed, ...] = ()
    """What would fill zones that the job's own plants leave bare; not ordered."""
    suggested_price: str = ""
    substitutes: tuple[Substitute, ...] = ()
    buckets: tuple[Bucket, ...]
    """In the order of planting."""
    growth: Growth
    light: LightSource
    country: str | None
    """Whose lists of regulated species were kept to (ISO 3166-1); None: all of them."""
    proven: bool
    """Whether no better choice exists by what was asked; else it is the best found so far."""
    gap: float
    """How much better a choice could still be, at most, as a share of what this one costs [0..1]."""
    fast_share: float
    """Fast growers, as a share of the planted area."""

    def zone(self, number: int) -> Zone:
        """The zone of that number."""
        return next(zone for zone in self.zones if zone.number == number)
