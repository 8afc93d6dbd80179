"""Zones of a tank: parts of the bed that lie alike to the public and in like light, wood and stone, the surface.

A zone is planted in one go. Its place comes from how far it lies from the nearest public pane against the furthest cell: in
a tank seen from two sides the background is the middle, and the order of planting runs from there to both faces.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from scipy import ndimage

from slackwater.layout.result import PlacedPiece
from slackwater.planting.ground import Floats, Ground, LightMap, Mask, Numbers, to_panes_m
from slackwater.planting.result import Place, Ring, Zone

MOST_ZONES = 12
"""More numbers than these nobody keeps apart at the tank; common practice, no source."""
CARPET_TO, FOREGROUND_TO, MIDDLE_TO = 0.30, 0.45, 0.70
"""Where places end, as a share of the way from a public pane to the furthest cell; common practice, no source."""
FOOT_M = 0.04
"""The foot of a stone, where small plants cover its edge; common practice, no source."""
LIGHT_BANDS = (30.0, 60.0)
"""Between low, medium and high light on the bed [umol/(m2 s)]: where the needs of the catalog part."""
LONGEST_M = 0.6
"""A longer strip is cut in parts: a reach to the left and one to the right; common practice, no source."""
LEAST_M2 = 0.008
"""A smaller patch joins its neighbour: three portions find no room in it; common practice, no source."""
STRIP_M = 0.04
"""A narrower strip of foreground is planted with the carpet before it; common practice, no source."""
HOLDS = 1.0
"""Area to which plants can be tied or glued, over that seen from above: not all of it is reached, but flanks bear plants
too. Common practice, no source."""
SHOWS_M = 0.02
"""A piece that stands less high over the bed bears no epiphyte."""
_OF_DEPTH: tuple[tuple[float, Place], ...] = (
    (CARPET_TO, "carpet"),
    (FOREGROUND_TO, "foreground"),
    (MIDDLE_TO, "middle"),
    (1.01, "background"),
)


@dataclass(eq=False)
class _Patch:
    """Cells that may become a zone, while they are joined."""

    place: Place
    face: str
    cells: Mask
    light: float
    """Mean, or NaN."""
    order: int
    joined: list[int] = field(default_factory=list)

    @property
    def size(self) -> int:
        return int(self.cells.sum())


def zones_of(
    ground: Ground,
    light: LightMap | None,
    *,
    most: int = MOST_ZONES,
    seen_m2: Mapping[Literal["wood", "stone"], float] | None = None,
) -> tuple[Zone, ...]:
    """Zones, numbered in the order of planting: wood and stone, the back before the front, the surface last.

    Parameters
    ----------
    ground : Ground
    light : LightMap or None
        None where nothing is known of the light.
    most : int
        So many at most [5 to 40], the surface, wood and stone among them.
    seen_m2 : mapping or None
        Area from above of wood and of stone that has no place yet.

    Returns
    -------
    tuple of Zone
        Those of the bed share no cell and together have all cells that can be planted.
    """
    kinds: tuple[Literal["wood", "stone"], ...] = ("wood", "stone")
    found = (
        _hard(ground, light, kind) or _hard_somewhere(ground, kind, (seen_m2 or {}).get(kind, 0.0)) for kind in kinds
    )
    hard = [zone for zone in found if zone is not None]
    backness, face, furthest_m = _backness(ground)
    par = error = None
    if light is not None:
        across, away = np.meshgrid(ground.x_m, ground.y_m)
        par, error = light.at(across, away)
    patches = _patches(ground, backness, face, par, furthest_m)
    _join(patches, ground, room=max(1, most - len(hard) - 1))
    beds = [_bed_zone(patch, ground, backness, par, error) for patch in patches]
    beds.sort(key=lambda zone: (-round(zone.backness, 6), (zone.middle_m or (0.0, 0.0))[0]))
    return tuple(
        zone.model_copy(update={"number": number})
        for number, zone in enumerate((*hard, *beds, _surface(ground, light)), start=1)
    )


def _backness(ground: Ground) -> tuple[Floats, Numbers, float]:
    """How far each cell lies from the nearest public side, 0 to 1; which one that is; the furthest in metres."""
    xs, ys = zip(*ground.corners_m, strict=True)
    across, away = np.meshgrid(ground.x_m, ground.y_m)
    from_side = {
        "front": away - min(ys),
        "rear": max(ys) - away,
        "left": across - min(xs),
        "right": max(xs) - across,
    }
    far = np.array([from_side[side] for side in ground.public_sides])
    nearest = far.min(axis=0)
    furthest = float(nearest[ground.inside].max()) if ground.inside.any() else 1.0
    return nearest / furthest, np.asarray(far.argmin(axis=0), dtype=np.int64), furthest


def _band(light: float) -> int:
    return -1 if not np.isfinite(light) else int(np.searchsorted(LIGHT_BANDS, light, side="right"))


def _patches(ground: Ground, backness: Floats, face: Numbers, par: Floats | None, furthest_m: float) -> list[_Patch]:
    free = ground.free
    foot = ndimage.distance_transform_edt(ground.piece == 0, sampling=(ground.cell_m[1], ground.cell_m[0])) <= FOOT_M
    bands = np.full(free.shape, -1) if par is None else np.vectorize(_band)(par)
    places = np.searchsorted([limit for limit, _ in _OF_DEPTH], backness, side="right").clip(0, 3)
    if furthest_m * (FOREGROUND_TO - CARPET_TO) < STRIP_M:
        places = np.where(places == 1, 0, places)
    places = np.where((places == 0) & foot, 1, places)
    # What is seen from several sides over its front has one back, in its middle.
    face = np.where(places == 3, 0, face)
    found: list[_Patch] = []
    for place, (_, name) in enumerate(_OF_DEPTH):
        for number, one_side in enumerate(ground.public_sides):
            side = one_side if place < 3 or len(ground.public_sides) == 1 else ""
            for band in sorted(set(bands[free].tolist())):
                mask = free & (places == place) & (face == number) & (bands == band)
                labels, count = ndimage.label(mask)
                for one in range(1, count + 1):
                    for cells in _lengths(labels == one, ground):
                        mean = float(np.nanmean(par[cells])) if par is not None and band >= 0 else float("nan")
                        found.append(_Patch(place=name, face=side, cells=cells, light=mean, order=len(found)))
    return found


def _lengths(cells: Mask, ground: Ground) -> list[Mask]:
    """A patch that is longer than a reach, in equal parts along its length."""
    rows, columns = np.nonzero(cells)
    wide = (columns.max() - columns.min() + 1) * ground.cell_m[0]
    deep = (rows.max() - rows.min() + 1) * ground.cell_m[1]
    along, low, high = (1, columns.min(), columns.max()) if wide >= deep else (0, rows.min(), rows.max())
    parts = int(np.ceil(max(wide, deep) / LONGEST_M - 1e-9))
    if parts < 2:
        return [cells]
    at = np.indices(cells.shape)[along]
    part = (at - low) * parts // (high - low + 1)
    return [cut for number in range(parts) if (cut := cells & (part == number)).any()]


def _join(patches: list[_Patch], ground: Ground, *, room: int) -> None:
    """Join the smallest patch to its likeliest neighbour until all are large enough and few enough."""
    least = LEAST_M2 / ground.cell_m2
    while len(patches) > 1:
        smallest = min(patches, key=lambda patch: (patch.size, patch.order))
        if len(patches) <= room and smallest.size >= least:
            return
        others = [patch for patch in patches if patch is not smallest]
        around = ndimage.binary_dilation(smallest.cells)
        where = ndimage.distance_transform_edt(~smallest.cells, sampling=(ground.cell_m[1], ground.cell_m[0]))

        def likeness(
            other: _Patch, one: _Patch = smallest, around: Mask = around, where: Floats = where
        ) -> tuple[float, ...]:
            border = int((around & other.cells).sum())
            alike = abs(one.light - other.light) if np.isfinite(one.light + other.light) else 0.0
            return (
                border > 0,
                other.place == one.place,
                other.face == one.face,
                -round(float(where[other.cells].min()), 6),
                border,
                -round(alike, 6),
                -other.order,
            )

        best = max(others, key=likeness)
        whole = best.size + smallest.size
        if np.isfinite(best.light) and np.isfinite(smallest.light):
            best.light = (best.light * best.size + smallest.light * smallest.size) / whole
        if smallest.size > best.size:
            best.place, best.face = smallest.place, smallest.face
        best.cells = best.cells | smallest.cells
        patches.remove(smallest)


def _bed_zone(patch: _Patch, ground: Ground, backness: Floats, par: Floats | None, error: Floats | None) -> Zone:
    cells = patch.cells
    across, away = np.meshgrid(ground.x_m, ground.y_m)
    rim = np.hypot(to_panes_m(ground.corners_m, across, away), ground.height_m - ground.top_m)
    mean, spread = _mean(par, error, cells)
    return Zone(
        number=0,
        place=patch.place,
        face=patch.face,
        part=_part(across[cells], ground),
        area_m2=patch.size * ground.cell_m2,
        outline_m=outline_of(cells, ground),
        middle_m=_inmost(cells, ground),
        water_m=float(ground.water_line_m - ground.top_m[cells].min()),
        soil_m=float((ground.top_m - ground.base_m)[cells].mean()),
        par_umol_m2_s=mean,
        par_error_umol_m2_s=spread,
        reach_m=float(rim[cells].max()),
        backness=float(np.clip(backness[cells].mean(), 0, 1)),
    )


def _mean(par: Floats | None, error: Floats | None, cells: Mask) -> tuple[float | None, float | None]:
    """Light of a zone and how unsure it is: errors of cells come from one lamp and one water, so they do not cancel."""
    if par is None or error is None or not np.isfinite(par[cells]).any():
        return None, None
    known = par[cells][np.isfinite(par[cells])]
    unsure = error[cells][np.isfinite(par[cells])]
    return float(known.mean()), float(np.hypot(known.std(), np.nanmean(unsure)))


def _part(x_m: Floats, ground: Ground) -> Literal["left", "middle", "right", ""]:
    xs = [x for x, _ in ground.corners_m]
    low, length = min(xs), max(xs) - min(xs)
    if x_m.max() - x_m.min() > 0.6 * length:
        return ""
    at = (float(x_m.mean()) - low) / length
    return "left" if at < 0.4 else "right" if at > 0.6 else "middle"


def _inmost(cells: Mask, ground: Ground) -> tuple[float, float]:
    """The cell that lies deepest in a zone."""
    padded = np.pad(cells, 1)
    depth = ndimage.distance_transform_edt(padded, sampling=(ground.cell_m[1], ground.cell_m[0]))[1:-1, 1:-1]
    rows, columns = np.nonzero(cells)
    # Of equally deep ones the nearest to the middle of all cells, so that a number stands where one looks for it.
    off = np.hypot(ground.x_m[columns] - ground.x_m[columns].mean(), ground.y_m[rows] - ground.y_m[rows].mean())
    best = int(np.lexsort((columns, rows, np.round(off, 9), -np.round(depth[rows, columns], 9)))[0])
    return round(float(ground.x_m[columns[best]]), 4), round(float(ground.y_m[rows[best]]), 4)


def outline_of(cells: Mask, ground: Ground) -> tuple[Ring, ...]:
    """Outlines of cells: outer ones against the clock, holes with it, corners only [m].

    Each cell has four directed sides with the cell to their left; sides that two cells share cancel, and the rest joins to rings.
    """
    after: dict[tuple[int, int], list[tuple[int, int]]] = {}
    rows, columns = np.nonzero(cells)
    sides = Counter[tuple[tuple[int, int], tuple[int, int]]]()
    for r, c in zip(rows.tolist(), columns.tolist(), strict=True):
        corners = ((c, r), (c + 1, r), (c + 1, r + 1), (c, r + 1))
        for start, end in zip(corners, (*corners[1:], corners[0]), strict=True):
            if sides[end, start]:
                del sides[end, start]
            else:
                sides[start, end] = 1
    for start, end in sorted(sides):
        after.setdefault(start, []).append(end)
    left, front = float(ground.x_m[0] - ground.cell_m[0] / 2), float(ground.y_m[0] - ground.cell_m[1] / 2)
    rings: list[Ring] = []
    while after:
        start = min(after)
        ring, at, way = [start], start, (0, 0)
        while True:
            ends = after[at]
            # At a corner where two cells touch, the sharpest turn to the left keeps each ring simple.
            end = min(ends, key=lambda one, at=at, way=way: -_turn(way, (one[0] - at[0], one[1] - at[1])))  # type: ignore[misc]
            ends.remove(end)
            if not ends:
                del after[at]
            way, at = (end[0] - at[0], end[1] - at[1]), end
            if at == start:
                break
            ring.append(at)
        turns = [
            here
            for before, here, behind in zip((ring[-1], *ring[:-1]), ring, (*ring[1:], ring[0]), strict=True)
            if (here[0] - before[0]) * (behind[1] - here[1]) != (here[1] - before[1]) * (behind[0] - here[0])
        ]
        rings.append(
            tuple((round(left + c * ground.cell_m[0], 4), round(front + r * ground.cell_m[1], 4)) for c, r in turns)
        )
    return tuple(rings)


def _turn(way: tuple[int, int], then: tuple[int, int]) -> int:
    return way[0] * then[1] - way[1] * then[0]


def _hard(ground: Ground, light: LightMap | None, kind: Literal["wood", "stone"]) -> Zone | None:
    """Wood, or stone: what of it shows over the bed and lies under water."""
    shown = [
        (piece, share)
        for piece in ground.pieces
        if piece.kind == kind and piece.low_m < ground.water_line_m and (share := shows_share(piece)) > 0
    ]
    if not shown:
        return None
    area = sum(share * area_of(piece.above) for piece, share in shown)
    par = [light.pieces[piece.number] for piece, _ in shown if light is not None and piece.number in light.pieces]
    largest = max(shown, key=lambda one: area_of(one[0].above))[0]
    return Zone(
        number=0,
        place=kind,
        face="",
        part="",
        area_m2=HOLDS * area,
        outline_m=tuple(ring for piece, _ in shown for ring in piece.above),
        middle_m=largest.middle_m,
        water_m=max(0.0, ground.water_line_m - min(piece.low_m + max(piece.sunk_m, 0.0) for piece, _ in shown)),
        soil_m=None,
        par_umol_m2_s=float(np.mean([mean for mean, _ in par])) if par else None,
        par_error_umol_m2_s=(
            float(np.hypot(np.std([mean for mean, _ in par]), np.mean([error for _, error in par]))) if par else None
        ),
        reach_m=None,
        backness=1.0,
        pieces=tuple(piece.number for piece, _ in shown),
    )


def _hard_somewhere(ground: Ground, kind: Literal["wood", "stone"], seen_m2: float) -> Zone | None:
    """Wood or stone that stands nowhere yet: its area is known, its light and its outline are not."""
    if seen_m2 <= 0 or any(piece.kind == kind for piece in ground.pieces):
        return None
    return Zone(
        number=0,
        place=kind,
        face="",
        part="",
        area_m2=HOLDS * seen_m2,
        outline_m=(),
        middle_m=None,
        water_m=float(ground.water_line_m - ground.top_m[ground.inside].mean()),
        soil_m=None,
        par_umol_m2_s=None,
        par_error_umol_m2_s=None,
        reach_m=None,
        backness=1.0,
    )


def shows_share(piece: PlacedPiece) -> float:
    """Share of a piece's height that stands over the bed [0..1]; 0 where it is less than a plant needs."""
    high = piece.high_m - piece.low_m
    over = high - max(piece.sunk_m, 0.0)
    return 0.0 if over < SHOWS_M or high <= 0 else over / high


def area_of(rings: tuple[Ring, ...]) -> float:
    """Area within an outline, holes taken off [m2]."""
    return abs(
        sum(
            0.5 * (x0 * y1 - x1 * y0)
            for ring in rings
            for (x0, y0), (x1, y1) in zip(ring, (*ring[1:], ring[0]), strict=True)
        )
    )


def _surface(ground: Ground, light: LightMap | None) -> Zone:
    return Zone(
        number=0,
        place="surface",
        face="",
        part="",
        area_m2=area_of((ground.corners_m,)),
        outline_m=(ground.corners_m,),
        middle_m=None,
        water_m=float(ground.water_line_m - ground.top_m[ground.inside].min()),
        soil_m=None,
        par_umol_m2_s=None if light is None or light.surface is None else light.surface[0],
        par_error_umol_m2_s=None if light is None or light.surface is None else light.surface[1],
        reach_m=None,
        backness=0.0,
    )
