"""Proposals: where the pieces on hand could stand, for an intent, with no hard rule broken.

A search over places on a grid of a centimetre and 16 turns about the upright (`composing`), many runs from different
beginnings; then the best that differ are let go, and what does not come to rest is dropped. Pieces stand on the bed beside
each other, none on another: the way up that each comes to rest alone on level soil, or the way up they were given where
nothing is let go. The same seed gives the same answer, as far as the settling does.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from slackwater.errors import NotFound, check_range
from slackwater.frozen import Frozen
from slackwater.job.model import Intent
from slackwater.layout import composing
from slackwater.layout.place import BURIAL_SHARE, fits_opening, lowered
from slackwater.layout.reach import HAND_M
from slackwater.layout.scene import Bed, Floats, Glass, Layout, Piece, Placement, rotation, stood
from slackwater.layout.score import (
    INTENTS,
    SEARCHED,
    WEIGHTS,
    Score,
    Standing,
    ball_radius_m,
    from_side,
    head_m,
    lanes,
    profile_m,
    score,
    standing,
    start_m,
)
from slackwater.layout.stamps import (
    NEAR_M,
    Grid,
    Mask,
    bed_map,
    grid_of,
    inside,
    laid,
    piece_points,
    skin_points,
    stamp_of,
    stood_points,
    to_panes,
)

TURNS = 16
_FINE_M = 0.0025
"""Cells on which the overlap of two pieces is measured."""
SETTLING_M = 0.003
"""What an accepted piece may still move when it is let go: kept free besides the width of a hand."""
TURNED_OVER = 4
"""So many times a piece is laid on level soil, each time as it came to rest the time before."""
AGAIN = 2
"""So many times a layout is let go, each time from where it came to rest."""
FULL_SHARE = 0.6
"""Of the cells where pieces may stand: more of them under stones is a heap, not a layout; common practice, no source."""
APART = (0.6, 0.4, 0.25, 0.1, 0.02)
"""Distances of height maps that are asked for between two proposals, one after the other until there are enough."""
DEEP_M, WIDE_M2 = 0.005, 0.0002
"""Pieces overlap when they share more than this height over more than this floor: less is contact."""
_SIDES = ("front", "rear", "left", "right")
Turn = tuple[float, float, float, float]
UPRIGHT: Turn = (1.0, 0.0, 0.0, 0.0)
Reason = Literal["opening", "no_place", "no_room", "unsteady"]
Rule = Literal["pane", "overlap", "water", "opening"]


class Effort(Frozen):
    """Budget of a search, in counts and not in time, so that the answer does not hang on the machine."""

    runs: int = 18
    """Beginnings of the search."""
    steps: int = 20_000
    """Of each run."""
    settled: int = 18
    """Layouts that are let go at most."""


class Progress(Frozen):
    """How far a search has come."""

    stage: Literal["search", "settle"]
    done: int
    of: int
    best: float | None
    """Worth of the best layout so far that keeps all rules [0..1]; None while there is none."""


class LeftOut(Frozen):
    """A piece on hand that a proposal does not use; its sentence is ``layout_left.<reason>``."""

    piece: str
    """Key."""
    name: str
    mass_kg: float
    reason: Reason


class Breach(Frozen):
    """A hard rule that a layout breaks."""

    rule: Rule
    numbers: tuple[int, ...]
    by: float
    """How far [m]; of an overlap the floor that is shared [m2]."""


@dataclass(frozen=True, eq=False)
class Proposal:
    """One layout to pick from."""

    layout: Layout
    score: Score
    """Its parts are the reasons for it."""
    left_out: tuple[LeftOut, ...]
    was_settled: bool
    """It was let go where it lies, and nothing moved; False where nobody asked for it."""


class Settling(Protocol):
    """What is known of a layout that was let go; `settle.Settled` is one."""

    @property
    def layout(self) -> Layout:
        """Where everything came to rest."""

    @property
    def accepted(self) -> bool:
        """Whether nothing turned or moved."""


def propose(
    glass: Glass,
    bed: Bed,
    pieces: Sequence[Piece],
    *,
    intent: Intent = "open_middle",
    count: int = 6,
    seed: int = 0,
    effort: Effort | None = None,
    settle: Callable[[Layout], Settling] | None = None,
    on_progress: Callable[[Progress], bool] | None = None,
    start: Layout | None = None,
    emergent: frozenset[str] = frozenset(),
    hand_m: float = HAND_M,
    burial_share: float = BURIAL_SHARE,
    shy_species: int = 0,
) -> tuple[Proposal, ...]:
    """Layouts that differ, best first.

    Parameters
    ----------
    glass, bed : Glass, Bed
    pieces : sequence of Piece
        On hand, besides those locked in `start`; a piece that is there twice is named twice.
    intent : Intent
        What the layout is to be.
    count : int
        How many are wanted [1 to 20]. Fewer come where no more are found that differ, keep the rules and stay up.
    seed : int
        The same seed, the same answer [0 to 2**32 - 1].
    settle : callable or None
        Lets a layout go (`settle.settled` of a layout); None: the proposals are not settled and say so.
    on_progress : callable or None
        Called after each run and each settling; whether to go on. Where it says no, the best so far is the answer.
    start : Layout or None
        Its locked placements stay where they are, with their joints and ballast.
    emergent : frozenset of str
        Keys of pieces that may stand above the water line.
    hand_m : float
        What is kept free before every pane [m, 0.01 to 0.1].
    burial_share : float
        Of a piece's height, in the bed [0 to 0.5].
    shy_species : int
        Kinds of animals that want a hide each [0 to 50].

    Returns
    -------
    tuple of Proposal
        Empty where there is no piece to place, or none can be.

    Raises
    ------
    OutOfRange, NotFound
        Of numbers outside their range, of an intent nobody knows.
    """
    _check(intent, count=count, seed=seed, hand_m=hand_m, burial_share=burial_share, shy_species=shy_species)
    effort = effort or Effort()
    fixed = _locked(glass, bed, start)
    table = _Table(fixed, hand_m=hand_m + SETTLING_M, burial_share=burial_share, emergent=emergent, settle=settle)
    left_out: list[LeftOut] = []
    chosen = _that_fit(table, pieces, left_out, intent)
    if not chosen:
        return ()
    found, going = _searched(table, chosen, tuple(left_out), intent, seed, effort, on_progress)
    made = [
        Proposal(
            layout=item.layout,
            score=score(item.layout, intent=intent, shy_species=shy_species),
            left_out=item.left_out,
            was_settled=False,
        )
        for item in found
    ]
    made.sort(key=lambda item: (len(item.left_out), -round(item.score.total, 9)))
    rules = {"hand_m": hand_m, "emergent": emergent}
    return _picked(made, count, settle, effort, on_progress if going else None, going, rules, shy_species)


def _check(intent: Intent, *, count: int, seed: int, hand_m: float, burial_share: float, shy_species: int) -> None:
    if intent not in INTENTS:
        raise NotFound(f"no intent is called {intent}; intents: {', '.join(INTENTS)}")
    check_range("count", count, 1, 20, unit="")
    check_range("seed", seed, 0, 2**32 - 1, unit="")
    check_range("hand_m", hand_m, 0.01, 0.1, unit="m")
    check_range("burial_share", burial_share, 0, 0.5, unit="")
    check_range("shy_species", shy_species, 0, 50, unit="")


def _locked(glass: Glass, bed: Bed, start: Layout | None) -> Layout:
    if start is None:
        return Layout(glass=glass, bed=bed)
    kept = replace(start, glass=glass, bed=bed)
    for item in start.placements:
        if not item.locked:
            kept = kept.without(item.number)
    return kept


# ---------------------------------------------------------------- rules


def breaches(
    layout: Layout,
    *,
    hand_m: float = HAND_M,
    emergent: frozenset[str] = frozenset(),
    numbers: frozenset[int] | None = None,
) -> tuple[Breach, ...]:
    """Hard rules that a layout breaks, found on its meshes and not on the maps of the search.

    Parameters
    ----------
    numbers : frozenset of int or None
        Placements that are looked at; None for all. A locked piece was placed by somebody who knows why.
    """
    looked = [item for item in layout.placements if numbers is None or item.number in numbers]
    found = []
    for item in looked:
        piece = layout.pieces[item.piece]
        corners = stood(piece.closed_vertices_m, item)
        x, y = corners[:, 0], corners[:, 1]
        gap = float(to_panes(layout.glass.corners_m, x, y).min())
        if not inside(layout.glass.corners_m, x, y).all() or gap < hand_m - 1e-6:
            found.append(Breach(rule="pane", numbers=(item.number,), by=hand_m - gap))
        over = float(corners[:, 2].max()) - layout.glass.water_line_m
        if over > 1e-6 and item.piece not in emergent:
            found.append(Breach(rule="water", numbers=(item.number,), by=over))
    found += _overlaps(layout, {item.number for item in looked})
    return tuple(found)


def _overlaps(layout: Layout, looked: set[int]) -> list[Breach]:
    fine = grid_of(layout.glass, _FINE_M)
    stamps = {number: stamp_of(points, fine, near_m=0.0) for number, points in stood_points(layout, _FINE_M).items()}
    numbers = sorted(stamps)
    found = []
    for k, one in enumerate(numbers):
        for other in numbers[k + 1 :]:
            if one not in looked and other not in looked:
                continue
            a, b = stamps[one], stamps[other]
            low = max(a.row, b.row), max(a.column, b.column)
            high = (
                min(a.row + a.top_m.shape[0], b.row + b.top_m.shape[0]),
                min(a.column + a.top_m.shape[1], b.column + b.top_m.shape[1]),
            )
            if low[0] >= high[0] or low[1] >= high[1]:
                continue
            cut = [
                (slice(low[0] - s.row, high[0] - s.row), slice(low[1] - s.column, high[1] - s.column)) for s in (a, b)
            ]
            shared = np.minimum(a.top_m[cut[0]], b.top_m[cut[1]]) - np.maximum(a.under_m[cut[0]], b.under_m[cut[1]])
            floor = float((shared > DEEP_M).sum()) * fine.cell_m**2
            if floor > WIDE_M2:
                found.append(Breach(rule="overlap", numbers=(one, other), by=floor))
    return found


# ---------------------------------------------------------------- what the search is given


@dataclass(frozen=True, eq=False)
class _Turned:
    """A piece in one of its 16 turns: cells, their undersides, profiles along both axes, its middle in cells."""

    cells: NDArray[np.int64]
    under: Floats
    size: tuple[int, int]
    along_x: Floats
    along_y: Floats
    middle: tuple[float, float]
    offset_m: tuple[float, float]
    """Of the piece's own origin from the corner of its first cell."""


@dataclass(frozen=True, eq=False)
class _Ready:
    """A piece with all that the search asks of it."""

    piece: Piece
    turn: Turn
    """The way up it stands before it is turned about the upright."""
    turned: tuple[_Turned, ...]
    low_m: float
    """Of its lowest point, the way up it stands, from its own origin."""
    tall_m: float


@dataclass(frozen=True, eq=False)
class _Candidate:
    layout: Layout
    left_out: tuple[LeftOut, ...]


class _Table:
    """Glass, bed and locked pieces as maps."""

    def __init__(
        self,
        fixed: Layout,
        *,
        hand_m: float,
        burial_share: float,
        emergent: frozenset[str],
        settle: Callable[[Layout], Settling] | None,
    ) -> None:
        self.fixed, self.burial_share, self.emergent, self.settle = fixed, burial_share, emergent, settle
        glass = fixed.glass
        self.grid: Grid = grid_of(glass)
        grid = self.grid
        self.bed = bed_map(fixed, grid)
        self.ground = float(self.bed.mean())
        self.within: Mask = inside(glass.corners_m, grid.x_m[None, :], grid.y_m[:, None])
        # A cell is allowed where all of it is far enough from the panes: its corners are.
        allowed = self.within.copy()
        for dx in (-0.5, 0.5):
            for dy in (-0.5, 0.5):
                x, y = grid.x_m[None, :] + dx * grid.cell_m, grid.y_m[:, None] + dy * grid.cell_m
                far = np.round(to_panes(glass.corners_m, x, y), 9) >= hand_m
                allowed &= inside(glass.corners_m, x, y) & far
        self.allowed = allowed
        self.lanes = np.stack(lanes(glass, grid, self.within)).astype(np.uint8)
        self.standing: tuple[Standing, ...] = standing(fixed, grid)
        taken = np.zeros(allowed.shape)
        for item in self.standing:
            laid(item.stamp, taken, item.stamp.filled.astype(float))
        self.taken = taken > 0
        self._ready: dict[str, _Ready] = {}

    def ready(self, piece: Piece) -> _Ready:
        """Stamps of a piece, made once."""
        if piece.key not in self._ready:
            turn = (
                UPRIGHT if self.settle is None else resting_turn(piece, self.fixed.bed, self.settle, self.burial_share)
            )
            self._ready[piece.key] = _ready(piece, self.grid.cell_m, turn)
        return self._ready[piece.key]

    def limit_m(self, piece: Piece) -> float:
        """The height that the top of a piece may have."""
        return float("inf") if piece.key in self.emergent else self.fixed.glass.water_line_m


def resting_turn(piece: Piece, bed: Bed, settle: Callable[[Layout], Settling], burial_share: float) -> Turn:
    """The way up that a piece comes to rest on level soil by itself, found by laying it as it rolled the time before."""
    # Wide enough that no pane props it up, whatever the tank.
    half = 2.0 * float(np.linalg.norm(piece.closed_vertices_m, axis=1).max()) + 0.1
    depth = float(bed.top_m.mean())
    axis = np.linspace(-half, half, 3)
    level = replace(bed, x_m=axis, y_m=axis, top_m=np.full((3, 3), depth), base_m=np.zeros((3, 3)))
    box = Glass(
        corners_m=((-half, -half), (half, -half), (half, half), (-half, half)),
        height_m=depth + 2 * half,
        water_line_m=depth + 2 * half,
        wall_m=0.01,
        public_sides=("front",),
    )
    turn = UPRIGHT
    for _ in range(TURNED_OVER):
        alone = Layout(glass=box, bed=level, pieces={piece.key: piece})
        alone = alone.with_placement(Placement(number=1, piece=piece.key, position_m=(0.0, 0.0, depth), turn=turn))
        rested = settle(lowered(alone, 1, burial_share))
        if rested.accepted:
            break
        turn = rested.layout.placement(1).turn
    return turn


def _ready(piece: Piece, cell_m: float, way_up: Turn) -> _Ready:
    points = [piece_points(piece)]
    # What it is settled with counts too: hulls that reach into each other would push the pieces apart.
    points += [
        skin_points(np.asarray(part), ConvexHull(part).simplices)
        for part in piece.convex_m
        if len(part) < len(piece.closed_vertices_m)
    ]
    upright = rotation(way_up)
    skin = np.round(np.concatenate(points) @ upright.T, 7)
    low = float(skin[:, 2].min())
    grid = Grid(left_m=0.0, front_m=0.0, columns=1, rows=1, cell_m=cell_m)
    turned = []
    for turn in range(TURNS):
        c, s = (round(float(value), 12) for value in _cosine_and_sine(turn))
        flat = np.column_stack([c * skin[:, 0] - s * skin[:, 1], s * skin[:, 0] + c * skin[:, 1], skin[:, 2] - low])
        stamp = stamp_of(flat, grid)
        rows, columns = np.nonzero(stamp.filled)
        centre = upright @ piece.centre_m
        middle = c * centre[0] - s * centre[1], s * centre[0] + c * centre[1]
        turned.append(
            _Turned(
                cells=np.column_stack([columns, rows]).astype(np.int64),
                # Cells are drawn larger by this much for their room; what stood so much too high would drop when let go.
                under=stamp.under_m[rows, columns] + NEAR_M,
                size=(stamp.top_m.shape[1], stamp.top_m.shape[0]),
                along_x=np.maximum(stamp.top_m.max(axis=0), 0.0),
                along_y=np.maximum(stamp.top_m.max(axis=1), 0.0),
                middle=(middle[0] / cell_m - stamp.column, middle[1] / cell_m - stamp.row),
                offset_m=(-stamp.column * cell_m, -stamp.row * cell_m),
            )
        )
    return _Ready(piece=piece, turn=way_up, turned=tuple(turned), low_m=low, tall_m=float(np.ptp(skin[:, 2])))


def _cosine_and_sine(turn: int) -> tuple[float, float]:
    angle = 2 * np.pi * turn / TURNS
    return float(np.cos(angle)), float(np.sin(angle))


def _that_fit(table: _Table, pieces: Sequence[Piece], left_out: list[LeftOut], intent: Intent) -> list[_Ready]:
    """Pieces that can be brought in and have room together, largest first; the others are told."""
    chosen: list[_Ready] = []
    room = FULL_SHARE * float((table.allowed & ~table.taken).sum())
    passes: dict[str, bool] = {}
    stands: dict[str, bool] = {}
    for piece in sorted(pieces, key=lambda item: (-item.volume_l, item.key)):
        if piece.key not in passes:
            passes[piece.key] = _goes_in(piece, table.fixed.glass)
        if not passes[piece.key]:
            left_out.append(LeftOut(piece=piece.key, name=piece.name, mass_kg=piece.mass_kg, reason="opening"))
            continue
        ready = table.ready(piece)
        if piece.key not in stands:
            stands[piece.key] = _Problem(table, [ready], intent).run(1, 0)[0] >= 0
        floor = min(len(turned.cells) for turned in ready.turned)
        # What has no place even alone takes no room from others.
        if not stands[piece.key] or floor > room:
            reason: Reason = "no_room" if stands[piece.key] else "no_place"
            left_out.append(LeftOut(piece=piece.key, name=piece.name, mass_kg=piece.mass_kg, reason=reason))
            continue
        room -= floor
        chosen.append(ready)
    return chosen


def _goes_in(piece: Piece, glass: Glass) -> bool:
    """Whether a piece passes an opening; no pose is searched for where it passes as it is or lying along an axis."""
    left, front, right, rear = glass.box_m
    size = np.sort(np.ptp(piece.closed_vertices_m, axis=0))
    openings = glass.openings_m or ((right - left, rear - front),)
    if any(size[0] <= min(pair) and size[1] <= max(pair) for pair in openings):
        return True
    return fits_opening(piece, glass).fits


# ---------------------------------------------------------------- the search


def _searched(
    table: _Table,
    chosen: Sequence[_Ready],
    left_out: tuple[LeftOut, ...],
    intent: Intent,
    seed: int,
    effort: Effort,
    on_progress: Callable[[Progress], bool] | None,
) -> tuple[list[_Candidate], bool]:
    """One candidate for each run; whether to go on."""
    found: list[_Candidate] = []
    best: float | None = None
    pieces, gone = list(chosen), list(left_out)
    for run, begin in enumerate(np.random.SeedSequence(seed).generate_state(effort.runs)):
        while pieces:
            problem = _Problem(table, pieces, intent)
            breach, worth = problem.run(int(begin) or 1, effort.steps)
            if breach >= 0:
                break
            # No place for one of them, whatever the others do: it is out in all runs.
            lost = pieces.pop(-1 - breach)
            gone.append(
                LeftOut(piece=lost.piece.key, name=lost.piece.name, mass_kg=lost.piece.mass_kg, reason="no_place")
            )
        if not pieces:
            return found, True
        kept, dropped = problem.repaired()
        if kept:
            found.append(_Candidate(layout=problem.layout(kept), left_out=(*gone, *dropped)))
            if not dropped:
                best = worth if best is None else max(best, worth)
        if on_progress is not None and not on_progress(
            Progress(stage="search", done=run + 1, of=effort.runs, best=best)
        ):
            return found, False
    return found, True


class _Problem:
    """The arrays of one search, and its answer."""

    def __init__(self, table: _Table, pieces: Sequence[_Ready], intent: Intent) -> None:
        self.table, self.pieces = table, pieces
        fixed = table.fixed
        glass, grid = fixed.glass, table.grid
        count, all_of = len(pieces), len(pieces) + len(table.standing)
        turned = [[item for item in piece.turned] for piece in pieces]
        self.cells = np.concatenate([item.cells for row in turned for item in row])
        self.under = np.concatenate([item.under for row in turned for item in row])
        ends = np.cumsum([0, *(len(item.cells) for row in turned for item in row)])
        self.bounds = np.array([ends[k * TURNS : k * TURNS + TURNS + 1] for k in range(count)], dtype=np.int64)
        self.sizes = np.array([[item.size for item in row] for row in turned], dtype=np.int64)
        sides = glass.public_sides or ("front",)
        profiles = {side: [profile_m(item.stamp, side) - item.base_m for item in table.standing] for side in sides}
        longest = max(int(self.sizes.max()), *(len(profile) for side in sides for profile in profiles[side]), 1)
        self.along_x, self.along_y = np.zeros((2, count, TURNS, longest))
        for one, row in enumerate(turned):
            for turn, item in enumerate(row):
                self.along_x[one, turn, : len(item.along_x)] = item.along_x
                self.along_y[one, turn, : len(item.along_y)] = item.along_y
        self.middles = np.array([[item.middle for item in row] for row in turned])
        self.tall = np.array([piece.tall_m for piece in pieces])
        self.limit = np.array([table.limit_m(piece.piece) for piece in pieces])
        self.sides = np.array([_SIDES.index(side) for side in sides], dtype=np.int64)
        self.start, self.depth, self.across = np.zeros((3, len(sides), all_of))
        self.length = np.zeros((len(sides), all_of), dtype=np.int64)
        self.height = np.zeros((len(sides), all_of, longest))
        self.flat = np.zeros((2, all_of))
        for k, kept in enumerate(table.standing):
            self.flat[:, count + k] = kept.middle_m
            for s, side in enumerate(sides):
                profile = profiles[side][k]
                self.start[s, count + k] = start_m(kept.stamp, grid, glass, side)
                self.across[s, count + k], self.depth[s, count + k] = from_side(kept.middle_m, glass, side)
                self.length[s, count + k] = len(profile)
                self.height[s, count + k, : len(profile)] = np.maximum(profile, 0.0)
        volumes = [piece.piece.volume_l for piece in pieces] + [item.volume_l for item in table.standing]
        self.volume = np.array(volumes)
        self.weights = np.array([float(WEIGHTS[intent].get(name, 0.0)) for name in SEARCHED])
        self.best = np.zeros((count, 3), dtype=np.int64)
        self.best_z = np.zeros(count)

    def run(self, seed: int, steps: int) -> tuple[int, float]:
        """Breaches and worth of the best layout of one run."""
        table = self.table
        grid = table.grid
        lane_cells = np.maximum(1, table.lanes.sum(axis=(1, 2), dtype=np.int64))
        breach, worth = composing.annealed(
            seed,
            steps,
            len(self.pieces),
            self.cells,
            self.under,
            self.bounds,
            self.sizes,
            self.along_x,
            self.along_y,
            self.middles,
            self.tall,
            self.limit,
            float(table.burial_share),
            table.allowed.astype(np.uint8),
            table.bed,
            table.taken.astype(np.int16),
            table.lanes,
            lane_cells,
            self.sides,
            np.array(table.fixed.glass.box_m),
            np.array([grid.left_m, grid.front_m]),
            grid.cell_m,
            table.ground,
            head_m(table.fixed.glass, table.bed),
            self.start,
            self.length,
            self.height,
            self.depth,
            self.across,
            self.flat,
            self.volume,
            ball_radius_m(self.volume),
            self.weights,
            np.asarray(composing.WAITS, dtype=np.float64),
            self.best,
            self.best_z,
        )
        return int(breach), float(worth)

    def _floor(self, one: int) -> NDArray[np.int64]:
        """Numbers of the cells that a piece takes."""
        turn, column, row = self.best[one]
        cells = self.cells[self.bounds[one, turn] : self.bounds[one, turn + 1]]
        return np.asarray((cells[:, 1] + row) * self.table.grid.columns + cells[:, 0] + column)

    def _steady(self, one: int) -> bool:
        turn, column, row = self.best[one]
        out = np.zeros(2)
        found = composing.seated(
            self.cells,
            self.under,
            int(self.bounds[one, turn]),
            int(self.bounds[one, turn + 1]),
            int(column),
            int(row),
            float(self.middles[one, turn, 0]),
            float(self.middles[one, turn, 1]),
            float(self.tall[one]),
            float(self.table.burial_share),
            float(self.limit[one]),
            self.table.allowed.astype(np.uint8),
            self.table.bed,
            out,
        )
        return bool(found and out[1])

    def repaired(self) -> tuple[list[int], tuple[LeftOut, ...]]:
        """Pieces that break no rule together, larger ones first, and those that had to give way."""
        taken = self.table.taken.reshape(-1).copy()
        kept, dropped = [], []
        for one, ready in enumerate(self.pieces):
            floor = self._floor(one)
            reason: Reason | None = "no_room" if taken[floor].any() else None if self._steady(one) else "unsteady"
            if reason is not None:
                dropped.append(
                    LeftOut(piece=ready.piece.key, name=ready.piece.name, mass_kg=ready.piece.mass_kg, reason=reason)
                )
                continue
            taken[floor] = True
            kept.append(one)
        return kept, tuple(dropped)

    def layout(self, kept: Sequence[int]) -> Layout:
        """The locked pieces and these, numbered on in the order of their size."""
        table, grid = self.table, self.table.grid
        used = {item.number for item in table.fixed.placements}
        free = (number for number in range(1, len(used) + len(kept) + 1) if number not in used)
        found = table.fixed
        pieces = dict(found.pieces) | {item.piece.key: item.piece for item in self.pieces}
        found = replace(found, pieces=pieces)
        for one in kept:
            turn, column, row = (int(value) for value in self.best[one])
            ready = self.pieces[one]
            dx, dy = ready.turned[turn].offset_m
            half = np.pi * turn / TURNS
            c, s = float(np.cos(half)), float(np.sin(half))
            qw, qx, qy, qz = ready.turn
            found = found.with_placement(
                Placement(
                    number=next(free),
                    piece=ready.piece.key,
                    position_m=(
                        grid.left_m + column * grid.cell_m + dx,
                        grid.front_m + row * grid.cell_m + dy,
                        float(self.best_z[one]) - ready.low_m,
                    ),
                    turn=(c * qw - s * qz, c * qx - s * qy, c * qy + s * qx, c * qz + s * qw),
                )
            )
        return found


# ---------------------------------------------------------------- which of them


def height_map(layout: Layout) -> Floats:
    """Height of pieces over the bed on the cells of the score; 0 where there is none."""
    grid = grid_of(layout.glass)
    top = np.full((grid.rows, grid.columns), -np.inf)
    for points in stood_points(layout).values():
        stamp = stamp_of(points, grid)
        laid(stamp, top, stamp.top_m)
    return np.maximum(0.0, top - bed_map(layout, grid))


def apart(one: Floats, other: Floats) -> float:
    """How much two height maps differ: 0 the same, 1 nothing in common."""
    total = float(np.maximum(one, other).sum())
    return float(np.abs(one - other).sum()) / total if total > 0 else 0.0


def _picked(
    made: Sequence[Proposal],
    count: int,
    settle: Callable[[Layout], Settling] | None,
    effort: Effort,
    on_progress: Callable[[Progress], bool] | None,
    going: bool,
    rules: dict[str, Any],
    shy_species: int,
) -> tuple[Proposal, ...]:
    """The best that differ; each let go before it counts."""
    found: list[Proposal] = []
    maps: list[Floats] = []
    drawn = [height_map(item.layout) for item in made]
    tried: set[int] = set()
    done = 0
    for least in APART:
        for k, item in enumerate(made):
            if len(found) == count or not going:
                break
            if k in tried or any(apart(drawn[k], other) < least for other in maps):
                continue
            if settle is None:
                tried.add(k)
                found.append(item)
                maps.append(drawn[k])
                continue
            if done == effort.settled:
                break
            tried.add(k)
            done += 1
            rested = _let_go(item, settle, rules, shy_species)
            if rested is not None:
                found.append(rested)
                maps.append(drawn[k])
            best = max((one.score.total for one in found), default=None)
            if on_progress is not None:
                going = on_progress(Progress(stage="settle", done=done, of=effort.settled, best=best))
    if not going and not found and settle is None:
        found = list(made[:count])
    return tuple(sorted(found, key=lambda item: (len(item.left_out), -round(item.score.total, 9))))


def _let_go(
    item: Proposal, settle: Callable[[Layout], Settling], rules: dict[str, Any], shy_species: int
) -> Proposal | None:
    """The proposal at rest, or nothing where it does not come to rest, moves what is locked, or comes to break a rule."""
    laid = item.layout
    for _ in range(AGAIN):
        rested = settle(laid)
        laid = rested.layout
        if rested.accepted:
            break
    else:
        return None
    locked = [one for one in item.layout.placements if one.locked]
    if any(_moved_m(one, laid) > SETTLING_M for one in locked):
        return None
    ours = frozenset(one.number for one in item.layout.placements if not one.locked)
    if breaches(laid, numbers=ours, **rules):
        return None
    return replace(
        item,
        layout=laid,
        score=score(laid, intent=item.score.intent, shy_species=shy_species),
        was_settled=True,
    )


def _moved_m(placement: Placement, laid: Layout) -> float:
    return float(np.linalg.norm(np.subtract(laid.placement(placement.number).position_m, placement.position_m)))
