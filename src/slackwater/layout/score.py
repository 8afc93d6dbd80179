"""How a layout looks from each public side, in named parts of 0 to 1; of several sides the worst one counts.

An average over sides would hide a bad one, and a divider has no back. All parts are taken from height maps on cells of one
centimetre, and from each side as apparent on the near pane, with water shallower by its index (near-ray form; exact rays
are in `see`). Rules of composition are the trade's; where no source is named they are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from slackwater.errors import NotFound
from slackwater.frozen import Frozen
from slackwater.job.model import Intent, PublicSide
from slackwater.layout.composing import LARGER_BY, SMALL_SHARE, nearness, side_parts
from slackwater.layout.scene import Floats, Glass, Layout, stood
from slackwater.layout.see import breadth_and_depth_m
from slackwater.layout.stamps import (
    Grid,
    Mask,
    Stamp,
    bed_map,
    grid_of,
    inside,
    stamp_of,
    stood_points,
)

INTENTS: tuple[Intent, ...] = get_args(Intent)
SIDE_PARTS = ("open_middle", "thirds", "unequal", "offset", "outline", "seen", "one_end", "island")
"""Parts that each public side has its own value of, in the order of `side_parts`."""
WHOLE_PARTS = ("near", "path", "hides", "swim_lane", "planting")
"""Parts of the layout as a whole."""
SEARCHED = (*SIDE_PARTS, "near", "path")
"""Parts that a search can count anew at every step."""
WEIGHTS: Mapping[Intent, Mapping[str, float]] = {
    "one_end": {"one_end": 3, "outline": 1, "seen": 1, "near": 2},
    "diagonal": {
        "offset": 2, "unequal": 1.5, "thirds": 1, "open_middle": 1.5, "outline": 0.5, "seen": 1, "near": 2
    },
    "island": {"island": 3, "outline": 1, "seen": 1, "near": 2},
    "open_middle": {"open_middle": 3, "unequal": 1, "thirds": 1, "offset": 0.5, "outline": 0.5, "seen": 1, "near": 2},
    "path": {"path": 3, "unequal": 1, "offset": 0.5, "open_middle": 0.5, "outline": 0.5, "seen": 1, "near": 2},
}  # fmt: skip
"""What an intent asks for, and how much; common practice, no source."""
ALWAYS: Mapping[str, float] = {"hides": 0.5, "swim_lane": 0.5, "planting": 0.5}
"""What every layout is asked for besides."""
LANE_M = 0.08
"""Width of a path."""
PATH_FROM, PATH_TO = 0.38, 0.62
"""Where a path begins at one long pane and ends at the other, as shares of the length."""
SWIM_M = 0.1
"""Height and width of a free lane."""
ENOUGH_PLANTING = 0.6
"""Share of the bottom that is enough to plant."""
HIDE_M2 = 0.005
"""Hidden floor for one shy species."""
HIDE_GAP_M = 0.06
"""A place is a hide when pieces stand this near on three of its four sides, or over it."""


class Mark(Frozen):
    """A line or a band to draw with a part."""

    view: Literal["plan", "front", "rear", "left", "right"]
    kind: Literal["line", "band", "points"]
    points_m: tuple[tuple[float, float], ...]
    """In plan x and y; seen from a side to the right and up."""


class Part(Frozen):
    """One named part of a score.

    Attributes
    ----------
    id : str
        Its sentence is ``layout_part.<id>``.
    value : float
        0 bad, 1 good: of the worst side.
    worst_side : str or None
        None for a part of the whole layout.
    by_side : mapping
        Value from each public side.
    values : mapping
        What the sentence needs.
    """

    id: str
    value: float
    worst_side: PublicSide | None = None
    by_side: Mapping[PublicSide, float] = {}
    values: Mapping[str, float | str] = {}
    marks: tuple[Mark, ...] = ()


class Score(Frozen):
    """All parts, and their weighted mean for an intent."""

    intent: Intent
    total: float
    parts: tuple[Part, ...]

    def part(self, part_id: str) -> Part:
        """The part of that id.

        Raises
        ------
        NotFound
            Naming those there are.
        """
        found = next((part for part in self.parts if part.id == part_id), None)
        if found is None:
            raise NotFound(f"a score has no part {part_id}; parts: {', '.join(part.id for part in self.parts)}")
        return found


@dataclass(frozen=True, eq=False)
class Standing:
    """One piece as the score has it."""

    number: int
    stamp: Stamp
    base_m: float
    """Height of the bed round about, from which its profile is counted."""
    volume_l: float
    middle_m: tuple[float, float]
    """Centre of mass from above."""


def standing(layout: Layout, grid: Grid) -> tuple[Standing, ...]:
    """All placements of a layout on a grid."""
    ground = float(bed_map(layout, grid).mean())
    points = stood_points(layout)
    found = []
    for item in layout.placements:
        piece = layout.pieces[item.piece]
        x, y, _ = stood(np.asarray(piece.centre_m)[None, :], item)[0]
        found.append(
            Standing(
                number=item.number,
                stamp=stamp_of(points[item.number], grid),
                base_m=ground,
                volume_l=piece.volume_l,
                middle_m=(float(x), float(y)),
            )
        )
    return tuple(found)


def profile_m(stamp: Stamp, side: PublicSide) -> Floats:
    """Top of a piece over the bottom, from the looker's left to his right."""
    top = stamp.top_m.max(axis=0 if side in ("front", "rear") else 1)
    return np.asarray(top[::-1] if side in ("rear", "left") else top)


def start_m(stamp: Stamp, grid: Grid, glass: Glass, side: PublicSide) -> float:
    """Left end of a profile, from the left end of the pane, as who looks has it."""
    left, front, right, rear = glass.box_m
    rows, columns = stamp.top_m.shape
    x, y = grid.left_m + stamp.column * grid.cell_m, grid.front_m + stamp.row * grid.cell_m
    found: dict[PublicSide, float] = {
        "front": x - left,
        "rear": right - (x + columns * grid.cell_m),
        "left": rear - (y + rows * grid.cell_m),
        "right": y - front,
    }
    return found[side]


def from_side(middle_m: tuple[float, float], glass: Glass, side: PublicSide) -> tuple[float, float]:
    """How far right of the pane's left end, and how far behind it, a place is."""
    left, front, right, rear = glass.box_m
    x, y = middle_m
    return {
        "front": (x - left, y - front),
        "rear": (right - x, rear - y),
        "left": (rear - y, x - left),
        "right": (y - front, right - x),
    }[side]


def score(layout: Layout, *, intent: Intent = "open_middle", shy_species: int = 0) -> Score:
    """Look at a layout from all its public sides.

    Parameters
    ----------
    layout : Layout
    intent : Intent
        What it is meant to be: gives the weights.
    shy_species : int
        How many kinds of animals need a hide of their own [0 and more].

    Returns
    -------
    Score
    """
    if intent not in INTENTS:
        raise NotFound(f"no intent is called {intent}; intents: {', '.join(INTENTS)}")
    grid = grid_of(layout.glass)
    pieces = standing(layout, grid)
    ground = bed_map(layout, grid)
    sides = layout.glass.public_sides or ("front",)
    found = {side: _from_one_side(layout.glass, pieces, grid, ground, side) for side in sides}
    parts = [
        _worst(name, {side: float(found[side][k]) for side in sides}, layout.glass, pieces, grid)
        for k, name in enumerate(SIDE_PARTS)
    ]
    top, under = _maps(pieces, grid)
    within = inside(layout.glass.corners_m, grid.x_m[None, :], grid.y_m[:, None])
    parts += [
        _near_part(pieces),
        _path_part(layout.glass, grid, top, within),
        _hides_part(grid, ground, top, under, within, shy_species),
        _swim_part(layout.glass, grid, ground, top, within),
        _planting_part(grid, ground, top, within),
    ]
    values = {part.id: part.value for part in parts}
    return Score(intent=intent, total=weighed(values, {**WEIGHTS[intent], **ALWAYS}), parts=tuple(parts))


def weighed(values: Mapping[str, float], weights: Mapping[str, float]) -> float:
    """Weighted mean of parts."""
    return float(sum(weight * values[name] for name, weight in weights.items()) / sum(weights.values()))


def _from_one_side(glass: Glass, pieces: Sequence[Standing], grid: Grid, ground: Floats, side: PublicSide) -> Floats:
    breadth, deep = breadth_and_depth_m(glass, side)
    profiles = [profile_m(piece.stamp, side) - piece.base_m for piece in pieces]
    longest = max((len(profile) for profile in profiles), default=1)
    height = np.zeros((len(pieces), longest))
    for row, profile in zip(height, profiles, strict=True):
        row[: len(profile)] = profile
    seen = np.array([from_side(piece.middle_m, glass, side) for piece in pieces]).reshape(-1, 2)
    out = np.zeros(len(SIDE_PARTS))
    side_parts(
        np.array([start_m(piece.stamp, grid, glass, side) for piece in pieces]),
        np.array([len(profile) for profile in profiles], dtype=np.int64),
        height,
        seen[:, 1],
        seen[:, 0],
        np.array([piece.volume_l for piece in pieces]),
        breadth,
        deep,
        head_m(glass, ground),
        grid.cell_m,
        out,
    )
    return out


def head_m(glass: Glass, ground: Floats) -> float:
    """Height of open water over the mean bed, at least a centimetre."""
    return max(0.01, glass.water_line_m - float(ground.mean()))


def _worst(
    name: str, by_side: Mapping[PublicSide, float], glass: Glass, pieces: Sequence[Standing], grid: Grid
) -> Part:
    side = min(by_side, key=lambda item: (round(by_side[item], 9), item))
    value = by_side[side]
    breadth, _ = breadth_and_depth_m(glass, side)
    marks: dict[str, Callable[[], tuple[Mark, ...]]] = {
        "open_middle": lambda: (_band(side, breadth / 3, 2 * breadth / 3, glass.water_line_m),),
        "thirds": lambda: tuple(_upright(side, share * breadth, glass.water_line_m) for share in (1 / 3, 2 / 3)),
        "offset": lambda: _halves(pieces, glass, side),
        "outline": lambda: _skyline(pieces, grid, glass, side),
        "seen": lambda: tuple(_profile_line(piece, grid, glass, side) for piece in pieces),
        "unequal": lambda: (_upright(side, breadth / 2, glass.water_line_m),),
        "one_end": lambda: (_upright(side, breadth / 2, glass.water_line_m),),
        "island": lambda: (_band(side, breadth / 4, 3 * breadth / 4, glass.water_line_m),),
    }
    return Part(
        id=name,
        value=value,
        worst_side=side,
        by_side=by_side,
        values={"side": side, "share_pct": round(100 * value)},
        marks=marks[name]() if name in marks else (),
    )


def _halves(pieces: Sequence[Standing], glass: Glass, side: PublicSide) -> tuple[Mark, ...]:
    """From above, the line between the middles of the two halves as that side has them."""
    breadth, _ = breadth_and_depth_m(glass, side)
    found = []
    for right in (False, True):
        shares = [
            min(1.0, max(0.0, 0.5 + (from_side(piece.middle_m, glass, side)[0] / breadth - 0.5) / 0.1))
            for piece in pieces
        ]
        weights = [
            piece.volume_l * (share if right else 1 - share) for piece, share in zip(pieces, shares, strict=True)
        ]
        if sum(weights) <= 0:
            return ()
        found.append(
            tuple(
                sum(weight * piece.middle_m[axis] for weight, piece in zip(weights, pieces, strict=True)) / sum(weights)
                for axis in (0, 1)
            )
        )
    (ax, ay), (bx, by) = found
    return (Mark(view="plan", kind="line", points_m=((ax, ay), (bx, by))),)


def _profile_line(piece: Standing, grid: Grid, glass: Glass, side: PublicSide) -> Mark:
    """The top of one piece from a side, without perspective."""
    top, start = profile_m(piece.stamp, side), start_m(piece.stamp, grid, glass, side)
    points = tuple((start + (k + 0.5) * grid.cell_m, float(high)) for k, high in enumerate(top))
    return Mark(view=side, kind="line", points_m=points)


def _skyline(pieces: Sequence[Standing], grid: Grid, glass: Glass, side: PublicSide) -> tuple[Mark, ...]:
    """The top of all pieces from a side, without perspective; one line for each group that stands apart."""
    breadth, _ = breadth_and_depth_m(glass, side)
    bins = max(1, round(breadth / grid.cell_m))
    top = np.full(bins, -np.inf)
    for piece in pieces:
        for x, high in _profile_line(piece, grid, glass, side).points_m:
            at = int(np.floor(x / breadth * bins + 1e-9))
            if 0 <= at < bins:
                top[at] = max(top[at], high)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], np.isfinite(top), [False])).astype(int)))
    return tuple(
        Mark(
            view=side,
            kind="line",
            points_m=tuple(((k + 0.5) * breadth / bins, float(top[k])) for k in range(begin, end)),
        )
        for begin, end in zip(edges[::2], edges[1::2], strict=True)
    )


def _band(view: PublicSide, a: float, b: float, top: float) -> Mark:
    return Mark(view=view, kind="band", points_m=((a, 0.0), (b, 0.0), (b, top), (a, top)))


def _upright(view: PublicSide, at: float, top: float) -> Mark:
    return Mark(view=view, kind="line", points_m=((at, 0.0), (at, top)))


def _maps(pieces: Sequence[Standing], grid: Grid) -> tuple[Floats, Floats]:
    """Highest top and lowest underside over all pieces; infinite where none stands."""
    top = np.full((grid.rows, grid.columns), -np.inf)
    under = np.full((grid.rows, grid.columns), -np.inf)
    for piece in pieces:
        rows, columns = piece.stamp.top_m.shape
        a, b = max(0, piece.stamp.row), min(grid.rows, piece.stamp.row + rows)
        c, d = max(0, piece.stamp.column), min(grid.columns, piece.stamp.column + columns)
        if a >= b or c >= d:
            continue
        part = (slice(a - piece.stamp.row, b - piece.stamp.row), slice(c - piece.stamp.column, d - piece.stamp.column))
        top[a:b, c:d] = np.maximum(top[a:b, c:d], piece.stamp.top_m[part])
        under[a:b, c:d] = np.maximum(under[a:b, c:d], -piece.stamp.under_m[part])
    return top, -under


def ball_radius_m(volume_l: Floats) -> Floats:
    """Radius of a ball of that volume, to the micrometre: a root differs in its last bit from machine to machine."""
    return np.asarray(np.round((3 * np.asarray(volume_l) / (4000 * np.pi)) ** (1 / 3), 6))


def _near_part(pieces: Sequence[Standing]) -> Part:
    middles = np.array([piece.middle_m for piece in pieces]).reshape(-1, 2)
    volume = np.array([piece.volume_l for piece in pieces])
    value = nearness(middles[:, 0], middles[:, 1], volume, ball_radius_m(volume))
    return Part(id="near", value=float(value), values={"share_pct": round(100 * float(value))}, marks=_ties(pieces))


def _ties(pieces: Sequence[Standing]) -> tuple[Mark, ...]:
    """From above, a line from each small piece to the larger one that it belongs to."""
    largest = max((piece.volume_l for piece in pieces), default=0.0)
    found = []
    for piece in pieces:
        larger = [other for other in pieces if other.volume_l > LARGER_BY * piece.volume_l]
        if piece.volume_l > SMALL_SHARE * largest or not larger:
            continue
        radius = ball_radius_m(np.array([other.volume_l for other in larger]))
        gaps = [float(np.hypot(*np.subtract(other.middle_m, piece.middle_m))) for other in larger]
        nearest = larger[int(np.argmin(np.round(np.array(gaps) - radius, 9)))]
        found.append(Mark(view="plan", kind="line", points_m=(piece.middle_m, nearest.middle_m)))
    return tuple(found)


def lanes(glass: Glass, grid: Grid, within: Mask) -> tuple[Mask, Mask]:
    """Cells of the two paths that cross the tank on a slant, from one long pane to the other, and mirrored."""
    left, front, right, rear = glass.box_m
    along_x = right - left >= rear - front
    long, short = (right - left, rear - front) if along_x else (rear - front, right - left)
    x, y = np.meshgrid(grid.x_m - left, grid.y_m - front)
    u, w = (x, y) if along_x else (y, x)
    found = []
    for a, b in ((PATH_FROM, PATH_TO), (PATH_TO, PATH_FROM)):
        middle = long * (a + (b - a) * w / short)
        found.append((np.abs(u - middle) <= LANE_M / 2 + 1e-9) & within)
    return found[0], found[1]


def _path_part(glass: Glass, grid: Grid, top: Floats, within: Mask) -> Part:
    both = lanes(glass, grid, within)
    free = [1 - float((lane & np.isfinite(top)).sum()) / max(1, int(lane.sum())) for lane in both]
    best = int(free[1] > free[0])
    left, front, right, rear = glass.box_m
    shares = (PATH_FROM, PATH_TO) if best == 0 else (PATH_TO, PATH_FROM)
    if right - left >= rear - front:
        line = tuple((left + share * (right - left), y) for share, y in zip(shares, (front, rear), strict=True))
    else:
        line = tuple((x, front + share * (rear - front)) for share, x in zip(shares, (left, right), strict=True))
    return Part(
        id="path",
        value=max(free),
        values={"share_pct": round(100 * max(free))},
        marks=(Mark(view="plan", kind="line", points_m=line),),
    )


def _hides_part(grid: Grid, ground: Floats, top: Floats, under: Floats, within: Mask, shy_species: int) -> Part:
    """Floor under an overhang, or with pieces close by on three of four sides."""
    piece = np.isfinite(top)
    roofed = piece & (under > ground + 0.02) & within
    walls = piece & (top > ground + 0.03) & (under <= ground + 0.02)
    reach = round(HIDE_GAP_M / grid.cell_m)
    close = np.zeros(piece.shape, dtype=np.int64)
    for shift in ((0, 1), (0, -1), (1, 0), (-1, 0)):
        near = np.zeros_like(piece)
        for step in range(1, reach + 1):
            near |= _shifted(walls, shift[0] * step, shift[1] * step)
        close += near
    hide = roofed | (within & ~piece & (close >= 3))
    area = float(hide.sum()) * grid.cell_m**2
    value = min(1.0, area / (HIDE_M2 * shy_species)) if shy_species else 1.0
    rows, columns = np.nonzero(hide)
    points = tuple((float(x), float(y)) for x, y in zip(grid.x_m[columns], grid.y_m[rows], strict=True))
    return Part(
        id="hides",
        value=value,
        values={"area_cm2": round(1e4 * area), "species": shy_species},
        marks=(Mark(view="plan", kind="points", points_m=points),) if points else (),
    )


def _shifted(mask: Mask, down: int, right: int) -> Mask:
    """A mask moved by whole cells; what comes in is False."""
    found = np.zeros_like(mask)
    rows, columns = mask.shape
    if abs(down) < rows and abs(right) < columns:
        found[max(0, down) : rows + min(0, down), max(0, right) : columns + min(0, right)] = mask[
            max(0, -down) : rows + min(0, -down), max(0, -right) : columns + min(0, -right)
        ]
    return found


def _swim_part(glass: Glass, grid: Grid, ground: Floats, top: Floats, within: Mask) -> Part:
    """The longest free lane along the tank, 10 cm wide, above the lower half of the open water."""
    high = ground + (glass.water_line_m - ground) / 2
    blocked = (top > high) | ~within
    left, front, right, rear = glass.box_m
    along_x = right - left >= rear - front
    if not along_x:
        blocked = blocked.T
    wide = min(blocked.shape[0], max(1, round(SWIM_M / grid.cell_m)))
    best, best_row, best_run = 0, 0, (0, 0)
    for row in range(blocked.shape[0] - wide + 1):
        shut = blocked[row : row + wide].any(axis=0)
        edges = np.flatnonzero(np.concatenate(([True], shut, [True])))
        runs = np.diff(edges) - 1
        longest = int(runs.argmax())
        if runs[longest] > best:
            best, best_row = int(runs[longest]), row
            best_run = int(edges[longest]), int(edges[longest] + runs[longest])
    value = best / blocked.shape[1]
    a, b = (edge * grid.cell_m for edge in best_run)
    c, d = best_row * grid.cell_m, (best_row + wide) * grid.cell_m
    corners = ((a, c), (b, c), (b, d), (a, d))
    points = tuple(
        (grid.left_m + p, grid.front_m + q) if along_x else (grid.left_m + q, grid.front_m + p) for p, q in corners
    )
    return Part(
        id="swim_lane",
        value=value,
        values={"lane_m": round(b - a, 2)},
        marks=(Mark(view="plan", kind="band", points_m=points),) if best else (),
    )


def _planting_part(grid: Grid, ground: Floats, top: Floats, within: Mask) -> Part:
    free = within & ~(top > ground)
    share = float(free.sum()) / max(1, int(within.sum()))
    rows, columns = np.nonzero(free)
    points = tuple((float(x), float(y)) for x, y in zip(grid.x_m[columns], grid.y_m[rows], strict=True))
    return Part(
        id="planting",
        value=min(1.0, share / ENOUGH_PLANTING),
        values={"share_pct": round(100 * share)},
        marks=(Mark(view="plan", kind="points", points_m=points),) if points else (),
    )
