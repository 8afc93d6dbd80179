"""Where plants stand in a picture and how large they are: by what they are planted for, kept off glass and stone.

Takes plain records and gives spots; where a planting plan names the spots itself, none of this is needed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import exp

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import check_range
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.layout.ground import height_m
from slackwater.layout.scene import Floats, Glass, Layout, stood
from slackwater.picture.forms import habit_of
from slackwater.picture.scene import AGE_DAYS, Age

CELL_M = 0.01
OFF_GLASS_M = 0.012
"""Of a spot from the pane: a finger's breadth, so that magnet and scraper pass; common practice, no source."""
UNDER_SURFACE_M = 0.006
"""How far below the water line leaves end."""
BACKNESS: Mapping[str, float] = {"carpet": 0.06, "foreground": 0.25, "midground": 0.55, "background": 0.95}
"""Where a plant stands: 0 at a pane that people look through, 1 furthest from all of them; common practice, no source."""
PER_DAY: Mapping[str, float] = {"very slow": 0.005, "slow": 0.008, "medium": 0.020, "fast": 0.035, "very fast": 0.060}
"""How fast what is missing to full size is made up [1/d]; from memory, the growth of a stand without want."""


@dataclass(frozen=True)
class Grown:
    """How large portions of one kind are at one age."""

    height_m: float
    spread_m: float
    fullness: float
    """Leaves as a share of those of a grown portion."""


@dataclass(frozen=True)
class Kind:
    """Plants of one kind as the picture takes them.

    Attributes
    ----------
    plant : str
        Id of the catalog.
    position, attach : str
        As in the catalog.
    portions : int
    spacing_m : float
        0 where it floats or is spread by hand.
    sizes : mapping
        At each age; typical ones of a band.
    spots_m : tuple of points or None
        Where they stand, where a planting plan says so; None: they are placed here.
    """

    plant: str
    position: str
    attach: str
    portions: int
    spacing_m: float
    sizes: Mapping[Age, Grown]
    spots_m: tuple[tuple[float, float], ...] | None = field(default=None)


def usual_sizes(
    *, height_min_m: float, height_max_m: float, growth: str, spacing_m: float, cover_m2: float, form: str
) -> dict[Age, Grown]:
    """Sizes at the three ages of a plant of which only its row in the catalog is known.

    Parameters
    ----------
    height_min_m, height_max_m : float
        Of grown plants [m, above 0, to 2].
    growth : str
        As in the catalog.
    spacing_m : float
        Between portions [m, 0 to 0.5].
    cover_m2 : float
        Ground that a portion covers when planted [m2, above 0].
    form : str
        Of `forms`.
    """
    check_range("height_max_m", height_max_m, 0.001, 2, unit="m")
    check_range("spacing_m", spacing_m, 0, 0.5, unit="m")
    rate = PER_DAY[growth]
    typical = 0.45 * height_min_m + 0.55 * height_max_m
    start = {"stem": 0.45, "rosette": 0.55, "ribbon": 0.5, "feather": 0.55}.get(form, 0.8) * (
        0.5 * height_min_m + 0.5 * min(typical, 2.2 * height_min_m)
    )
    first = max(0.012, 1.13 * cover_m2**0.5)
    closed = max(1.55 * spacing_m, 1.25 * first)
    found: dict[Age, Grown] = {}
    for age, day in AGE_DAYS.items():
        share = 1 - exp(-rate * max(0, day - 5))
        found[age] = Grown(
            height_m=start + (max(typical, start) - start) * share,
            spread_m=first + (closed - first) * share,
            fullness=0.5 + 0.75 * share,
        )
    return found


@dataclass(frozen=True, eq=False)
class Map:
    """The bottom in cells: where the soil is free, and how far from the public."""

    x_m: Floats
    y_m: Floats
    free: NDArray[np.bool_]
    ground_m: Floats
    backness: Floats
    off_glass_m: Floats


@dataclass(frozen=True, eq=False)
class Panes:
    """Where points lie to the nearest pane, each array with one row or entry for each point."""

    inside_m: Floats
    """How far inside it; below 0 outside the tank."""
    foot_m: Floats
    """The nearest place on it."""
    inward: Floats
    """Its direction into the tank."""


def within(points: Floats, outline_m: Sequence[tuple[float, float]]) -> NDArray[np.bool_]:
    """Whether points [n, 2] lie inside an outline: a line from each to the right crosses it an odd number of times."""
    corners = np.array(outline_m)
    crossed = np.zeros(len(points), dtype=bool)
    for one, other in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if one[1] != other[1]:
            spans = (one[1] > points[:, 1]) != (other[1] > points[:, 1])
            crossed ^= spans & (
                points[:, 0] < one[0] + (points[:, 1] - one[1]) / (other[1] - one[1]) * (other[0] - one[0])
            )
    return crossed


def panes_of(glass: Glass, points: Floats) -> Panes:
    """The nearest pane of points [n, 2]; corners of the outline run against the clock, and may turn inward."""
    corners = np.array(glass.corners_m)
    nearest = np.full(len(points), np.inf)
    foot, inward = np.zeros((len(points), 2)), np.zeros((len(points), 2))
    for one, other in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        way = other - one
        share = np.clip((points - one) @ way / (way @ way), 0, 1)
        at = one + share[:, None] * way
        away = np.hypot(*(points - at).T)
        closer = away < nearest
        nearest = np.where(closer, away, nearest)
        foot[closer] = at[closer]
        inward[closer] = np.array([-way[1], way[0]]) / np.hypot(*way)
    return Panes(inside_m=np.where(within(points, glass.corners_m), nearest, -nearest), foot_m=foot, inward=inward)


def inside_m(glass: Glass, points: Floats) -> Floats:
    """How far points [n, 2] lie inside the nearest pane; below 0 outside."""
    return panes_of(glass, points).inside_m


def map_of(layout: Layout) -> Map:
    """Cells of one centimetre over the bottom."""
    glass = layout.glass
    left, front, right, rear = glass.box_m
    x = np.arange(left + CELL_M / 2, right, CELL_M)
    y = np.arange(front + CELL_M / 2, rear, CELL_M)
    over = np.column_stack([part.ravel() for part in np.meshgrid(x, y)])
    ground = height_m(layout.bed, over[:, 0], over[:, 1]).reshape(len(y), len(x))
    off = inside_m(glass, over).reshape(len(y), len(x))
    panes = {
        "front": over[:, 1] - front,
        "rear": rear - over[:, 1],
        "left": over[:, 0] - left,
        "right": right - over[:, 0],
    }
    near = np.min([panes[side] for side in (glass.public_sides or ("front",))], axis=0).reshape(len(y), len(x))
    taken = np.zeros(ground.shape, dtype=bool)
    for placement in layout.placements:
        piece = layout.pieces[placement.piece]
        corners = stood(piece.vertices_m, placement)
        middles = corners[piece.faces].mean(axis=1)
        points = np.concatenate([corners, middles])
        i = ((points[:, 0] - left) / CELL_M).astype(int)
        j = ((points[:, 1] - front) / CELL_M).astype(int)
        inside = (i >= 0) & (i < len(x)) & (j >= 0) & (j < len(y))
        points, i, j = points[inside], i[inside], j[inside]
        low = (points[:, 2] > ground[j, i] - 0.01) & (points[:, 2] < ground[j, i] + 0.05)
        taken[j[low], i[low]] = True
        if piece.kind == "stone":
            # The inside of a stone has no corners; all that lies under its top is taken too.
            high = points[:, 2] > ground[j, i] + 0.004
            taken[j[high], i[high]] = True
    return Map(
        x_m=x,
        y_m=y,
        free=~taken & (off > OFF_GLASS_M),
        ground_m=ground,
        backness=near / max(float(near.max()), 1e-9),
        off_glass_m=off,
    )


Spots = dict[str, Floats]


def spots_of(layout: Layout, kinds: Sequence[Kind], *, seed: int) -> Spots:
    """Where each portion of each kind stands [n, 3]; where there is no room for all, fewer.

    Raises
    ------
    NotFound
        Never: a kind without room has no spots.
    """
    ground = map_of(layout)
    random = np.random.default_rng([seed, 11])
    found: Spots = {kind.plant: np.zeros((0, 3)) for kind in kinds}
    taken: list[tuple[Floats, float]] = []
    order = ["background", "midground", "foreground", "carpet"]
    for kind in sorted(kinds, key=lambda one: (order.index(_ground(one)) if _ground(one) in order else 9, one.plant)):
        if kind.spots_m is not None:
            given = np.array(kind.spots_m, dtype=float).reshape(-1, 2)
            found[kind.plant] = np.column_stack([given, height_m(layout.bed, given[:, 0], given[:, 1])])
        elif _floats(kind):
            found[kind.plant] = _afloat(random, layout, kind)
        elif _ground(kind) in BACKNESS:
            found[kind.plant] = _in_soil(random, ground, kind, taken)
            taken.append((found[kind.plant][:, :2], kind.spacing_m))
        else:
            found[kind.plant] = _on_pieces(random, layout, ground, kind, [found[one.plant] for one in kinds])
    return found


def _ground(kind: Kind) -> str:
    return kind.position.partition(" ")[0]


def _floats(kind: Kind) -> bool:
    return _ground(kind) == "floating" or (kind.spacing_m == 0 and "floating" in kind.attach)


def _in_soil(random: np.random.Generator, ground: Map, kind: Kind, taken: list[tuple[Floats, float]]) -> Floats:
    """Groups: each grows round a middle, as near to its place between pane and back as there is room."""
    aim = BACKNESS[_ground(kind)]
    spacing = max(kind.spacing_m, 0.02)
    j, i = np.nonzero(ground.free & (ground.off_glass_m > min(0.05, 0.012 + 0.25 * spacing)))
    if not len(j):
        return np.zeros((0, 3))
    places = np.column_stack([ground.x_m[i], ground.y_m[j]])
    back = np.abs(ground.backness[j, i] - aim)
    carpet = _ground(kind) == "carpet"
    groups = int(np.clip(round((kind.portions / (60 if carpet else 10)) ** 0.7), 1, 4))
    crowd = np.concatenate([one for one, _ in taken]) if taken else np.zeros((0, 2))
    middles: list[Floats] = []
    for _ in range(groups):
        score = -3.0 * back + 0.25 * random.uniform(0, 1, len(places))
        for others, weight in ((crowd, 0.8), (np.array(middles).reshape(-1, 2), 1.6)):
            if len(others):
                away = np.min(np.hypot(*(places[:, None] - others[None]).transpose(2, 0, 1)), axis=1)
                score += weight * np.minimum(away, 0.35)
        middles.append(places[int(np.argmax(score))])
    away = np.min([np.hypot(*(places - middle).T) for middle in middles], axis=0)
    jitter = random.normal(0, 0.1 * spacing, places.shape)
    rank = away + (0.5 if carpet else 0.3) * back + random.uniform(0, 0.6 * spacing, len(places))
    near = np.full(len(places), np.inf)
    for others, other_spacing in taken:
        if len(others):
            gap = np.min(np.hypot(*(places[:, None] - others[None]).transpose(2, 0, 1)), axis=1)
            near = np.minimum(near, gap / (spacing + other_spacing))
    order = np.argsort(rank, kind="stable")
    chosen: list[int] = []
    # Where there is no room for all at their usual spacing, they are set closer, as a hand would.
    for closer in (1.0, 0.85, 0.7, 0.55):
        apart = np.where(near < 0.42 * closer, 0.0, np.inf)
        chosen = []
        for at in order:
            if len(chosen) == kind.portions:
                break
            if apart[at] >= 0.82 * closer * spacing:
                chosen.append(int(at))
                apart = np.minimum(apart, np.hypot(*(places - places[at]).T))
        if len(chosen) == kind.portions:
            break
    spots = places[chosen] + np.clip(jitter[chosen], -0.004, 0.004)
    return np.column_stack([spots, ground.ground_m[j[chosen], i[chosen]]])


def _on_pieces(
    random: np.random.Generator, layout: Layout, ground: Map, kind: Kind, others: Sequence[Floats]
) -> Floats:
    """On wood first where it may, else on stone: upward faces above the soil, in small groups."""
    places, ups = [], []
    may_wood, may_stone = "wood" in kind.attach, "stone" in kind.attach
    for placement in layout.placements:
        piece = layout.pieces[placement.piece]
        if not (may_wood if piece.kind == "wood" else may_stone):
            continue
        corners = stood(piece.vertices_m, placement)[piece.faces]
        across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        area = np.linalg.norm(across, axis=1)
        up = across[:, 2] / np.maximum(area, 1e-15)
        middle = corners.mean(axis=1)
        good = (up > 0.35) & (middle[:, 2] < layout.glass.water_line_m - 0.05)
        good &= middle[:, 2] > height_m(layout.bed, middle[:, 0], middle[:, 1]) + 0.012
        good &= inside_m(layout.glass, middle[:, :2]) > OFF_GLASS_M + 0.01
        places.append(middle[good])
        ups.append(np.full(int(good.sum()), 1.0 if piece.kind == "wood" else 0.0))
    if not places or not sum(map(len, places)):
        return np.zeros((0, 3))
    spots, wood = np.concatenate(places), np.concatenate(ups)
    spacing = max(0.75 * kind.spacing_m, 0.022)
    crowd = np.concatenate([one for one in others if len(one)] or [np.zeros((0, 3))])
    groups = int(np.clip(round(kind.portions / 5), 1, 6))
    middles: list[Floats] = []
    for _ in range(groups):
        score = 0.15 * wood * may_wood + 0.3 * random.uniform(0, 1, len(spots)) - 0.4 * spots[:, 2]
        for near, weight in ((crowd, 0.6), (np.array(middles).reshape(-1, 3), 1.2)):
            if len(near):
                away = np.min(np.linalg.norm(spots[:, None] - near[None], axis=2), axis=1)
                score += weight * np.minimum(away, 0.25)
        middles.append(spots[int(np.argmax(score))])
    rank = np.min([np.linalg.norm(spots - middle, axis=1) for middle in middles], axis=0)
    rank = rank + random.uniform(0, spacing, len(spots))
    apart = np.full(len(spots), np.inf)
    if len(crowd):
        apart = np.min(np.linalg.norm(spots[:, None] - crowd[None], axis=2), axis=1)
        apart = np.where(apart < 0.02, 0.0, np.inf)
    chosen: list[int] = []
    for at in np.argsort(rank, kind="stable"):
        if len(chosen) == kind.portions:
            break
        if apart[at] >= spacing:
            chosen.append(int(at))
            apart = np.minimum(apart, np.linalg.norm(spots - spots[at], axis=1))
    return np.asarray(spots[chosen])


def _afloat(random: np.random.Generator, layout: Layout, kind: Kind) -> Floats:
    """Spread over part of the surface, a little apart."""
    left, front, right, rear = layout.glass.box_m
    found: list[Floats] = []
    for _ in range(60 * kind.portions):
        if len(found) == kind.portions:
            break
        at = np.array([random.uniform(left, right), random.uniform(front, rear)])
        if inside_m(layout.glass, at[None])[0] < 0.03 or any(np.hypot(*(at - one)) < 0.028 for one in found):
            continue
        found.append(at)
    level = layout.glass.water_line_m - UNDER_SURFACE_M
    return np.array([[*at, level] for at in found]).reshape(-1, 3)


def kinds_of(job: Job, catalog: Catalog) -> tuple[Kind, ...]:
    """The plants that a job names, with sizes as of their rows in the catalog; those not in the catalog are left out."""
    found: dict[str, Kind] = {}
    for planting in job.plants or ():
        row = catalog.plants.get(planting.plant)
        if row is None:
            continue
        portions = planting.units * row.portions_per_unit
        before = found.get(row.id)
        found[row.id] = Kind(
            plant=row.id,
            position=row.position,
            attach=row.attach_to,
            portions=portions + (before.portions if before else 0),
            spacing_m=row.spacing_cm / 100,
            sizes=usual_sizes(
                height_min_m=row.height_min_cm / 100,
                height_max_m=row.height_max_cm / 100,
                growth=row.growth_rate,
                spacing_m=row.spacing_cm / 100,
                cover_m2=row.cover_cm2_per_unit_at_planting / 10_000 / row.portions_per_unit,
                form=habit_of(row.id, row.position).form,
            ),
        )
    return tuple(found.values())
