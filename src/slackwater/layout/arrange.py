"""Proposals: where the pieces on hand could stand, for an intent, with no hard rule broken.

A search over places on a grid of a centimetre and 16 turns about the upright (`composing`), many runs from different
beginnings. In it pieces stand on the bed, the way up that each comes to rest alone on level soil (or was given, where
nothing is let go), and share no height with another: a branch may pass over a stone. Then, as a builder does, each is
pushed up to a larger one near by, and what found no room is set on top and in gaps, wood on stone but no stone on wood. The
best that differ are let go, and what does not come to rest is dropped. The same seed gives the same answer, as far as the
settling does.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from copy import copy
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any, Literal, Protocol, TypeVar

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
    CELL_M,
    NEAR_M,
    SPACING_M,
    Grid,
    Mask,
    Stamp,
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
_FINE = 4
"""So many cells that pieces are pushed together on make one of the search."""
_FINE_M = CELL_M / _FINE
"""Cells on which pieces are pushed together, and the overlap of two is measured."""
_FINE_SPACING_M = 0.003
"""Distance of points on a skin that is drawn on those cells."""
PUSHED_M = 0.04
"""How far a piece is pushed at most to come up to a larger one."""
ADDED_TRIES = 6000
"""Places that are tried for a piece that found no room on the bed."""
LOW_M = 0.05
"""What of a piece hangs higher than this over its lowest point takes no floor from others."""
SETTLING_M = 0.003
"""What an accepted piece may still move when it is let go: kept free besides the width of a hand."""
ROLLED_M, ROLLED_DEG = 0.03, 30.0
"""A stone that moves or turns by more than this when it is let go is not where it was set."""
TURNED_OVER = 4
"""So many times a piece is laid on level soil, each time as it came to rest the time before."""
LET_GO = 5
"""So many times a layout is let go at most: from where it came to rest, or anew without what rolled off."""
FULL_SHARE = 0.6
"""Of the cells where pieces may stand: pieces beyond it wait until the others stand; common practice, no source."""
APART = (0.6, 0.4, 0.25, 0.1, 0.02)
"""Distances of height maps that are asked for between two proposals, one after the other until there are enough."""
DEEP_M, WIDE_M2 = 0.005, 0.0002
"""Pieces overlap when they share more than this height over more than this floor: less is contact."""
HAIR_M = 0.0005
"""Left between a piece and what it was let down on."""
AT_ONCE = 2
"""Runs and settlings that are done beside each other."""
_SIDES = ("front", "rear", "left", "right")
A = TypeVar("A")
B = TypeVar("B")
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
    chosen, waiting = _that_fit(table, pieces, left_out, intent)
    if not chosen:
        return ()
    found, going = _searched(table, chosen, waiting, tuple(left_out), intent, seed, effort, on_progress)
    made = [
        (
            Proposal(
                layout=item.layout,
                score=score(item.layout, intent=intent, shy_species=shy_species),
                left_out=item.left_out,
                was_settled=False,
            ),
            item.perched,
        )
        for item in found
    ]
    made.sort(key=lambda item: _rank(item[0]))
    rules = {"hand_m": hand_m, "emergent": emergent}
    return _picked(made, count, settle, effort, on_progress if going else None, going, rules, shy_species)


def _rank(item: Proposal) -> tuple[int, float]:
    """Those that leave out less come first, then the better ones."""
    return len(item.left_out), -round(item.score.total, 9)


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

    stamp: Stamp
    """Row and column are those of its first cell from the piece's own origin; heights count from its lowest point."""
    cells: NDArray[np.int64]
    under: Floats
    size: tuple[int, int]
    along_x: Floats
    along_y: Floats
    middle: tuple[float, float]


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


@dataclass(frozen=True)
class _Spot:
    """Where a piece of a search stands: its turn, and its origin in fine cells from the corner of the grid."""

    ready: _Ready
    turn: int
    column: int
    row: int
    low_m: float
    """Height of its lowest point."""


@dataclass(frozen=True, eq=False)
class _Candidate:
    layout: Layout
    left_out: tuple[LeftOut, ...]
    perched: frozenset[int]
    """Numbers of what was set on when the others stood."""


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
        fine = replace(grid, columns=_FINE * grid.columns, rows=_FINE * grid.rows, cell_m=_FINE_M)
        self.fine: Grid = fine
        self.fine_bed = bed_map(fixed, fine)
        self.fine_allowed = np.repeat(np.repeat(self.allowed, _FINE, axis=0), _FINE, axis=1)
        self._ready: dict[str, _Ready] = {}
        self._turned: dict[tuple[str, int], _Turned] = {}

    def ready(self, piece: Piece) -> _Ready:
        """Stamps of a piece, made once."""
        if piece.key not in self._ready:
            turn = (
                UPRIGHT if self.settle is None else resting_turn(piece, self.fixed.bed, self.settle, self.burial_share)
            )
            self._ready[piece.key] = _ready(piece, self.grid.cell_m, turn)
        return self._ready[piece.key]

    def fine_turned(self, ready: _Ready, turn: int) -> _Turned:
        """A piece in one turn on fine cells, made once."""
        if (ready.piece.key, turn) not in self._turned:
            skin, _, _ = _skin(ready.piece, ready.turn, _FINE_SPACING_M)
            near = _FINE_SPACING_M / float(np.sqrt(3))
            self._turned[ready.piece.key, turn] = _turned(ready.piece, skin, ready.turn, turn, _FINE_M, near)
        return self._turned[ready.piece.key, turn]

    def over(self, layout: Layout) -> _Table:
        """The same table with more pieces standing."""
        found = copy(self)
        found.fixed = layout
        found.standing = standing(layout, self.grid)
        taken = np.zeros(self.allowed.shape)
        for item in found.standing:
            laid(item.stamp, taken, item.stamp.filled.astype(float))
        found.taken = taken > 0
        return found

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


def _skin(piece: Piece, way_up: Turn, spacing_m: float) -> tuple[Floats, float, float]:
    """Points of a piece the way up it stands, over its lowest point; the height of that from its origin, and its own."""
    points = [piece_points(piece, spacing_m)]
    # What it is settled with counts too: hulls that reach into each other would push the pieces apart.
    points += [
        skin_points(np.asarray(part), ConvexHull(part).simplices, spacing_m)
        for part in piece.convex_m
        if len(part) < len(piece.closed_vertices_m)
    ]
    skin = np.round(np.concatenate(points) @ rotation(way_up).T, 7)
    low = float(skin[:, 2].min())
    skin[:, 2] -= low
    return skin, low, float(skin[:, 2].max())


def _turned(piece: Piece, skin: Floats, way_up: Turn, turn: int, cell_m: float, near_m: float) -> _Turned:
    c, s = (round(float(value), 12) for value in _cosine_and_sine(turn))
    flat = np.column_stack([c * skin[:, 0] - s * skin[:, 1], s * skin[:, 0] + c * skin[:, 1], skin[:, 2]])
    stamp = stamp_of(flat, Grid(left_m=0.0, front_m=0.0, columns=1, rows=1, cell_m=cell_m), near_m)
    rows, columns = np.nonzero(stamp.filled)
    centre = rotation(way_up) @ piece.centre_m
    middle = c * centre[0] - s * centre[1], s * centre[0] + c * centre[1]
    return _Turned(
        stamp=stamp,
        cells=np.column_stack([columns, rows]).astype(np.int64),
        # Cells are drawn larger by this much for their room; what stood so much too high would drop when let go.
        under=stamp.under_m[rows, columns] + near_m,
        size=(stamp.top_m.shape[1], stamp.top_m.shape[0]),
        along_x=np.maximum(stamp.top_m.max(axis=0), 0.0),
        along_y=np.maximum(stamp.top_m.max(axis=1), 0.0),
        middle=(middle[0] / cell_m - stamp.column, middle[1] / cell_m - stamp.row),
    )


def _ready(piece: Piece, cell_m: float, way_up: Turn) -> _Ready:
    skin, low, tall = _skin(piece, way_up, SPACING_M)
    turned = tuple(_turned(piece, skin, way_up, turn, cell_m, NEAR_M) for turn in range(TURNS))
    return _Ready(piece=piece, turn=way_up, turned=turned, low_m=low, tall_m=tall)


def _cosine_and_sine(turn: int) -> tuple[float, float]:
    angle = 2 * np.pi * turn / TURNS
    return float(np.cos(angle)), float(np.sin(angle))


def _that_fit(
    table: _Table, pieces: Sequence[Piece], left_out: list[LeftOut], intent: Intent
) -> tuple[list[_Ready], list[_Ready]]:
    """Pieces that can be brought in and have room on the bed together, and those that wait; largest first, the rest is told."""
    chosen: list[_Ready] = []
    waiting: list[_Ready] = []
    room = FULL_SHARE * float((table.allowed & ~table.taken).sum())
    passes: dict[str, bool] = {}
    stands: dict[str, bool] = {}
    for piece in sorted(pieces, key=lambda item: (-item.volume_l, item.key)):
        if piece.key not in passes:
            passes[piece.key] = _goes_in(piece, table.fixed.glass)
        if not passes[piece.key]:
            left_out.append(_left(piece, "opening"))
            continue
        ready = table.ready(piece)
        if piece.key not in stands:
            stands[piece.key] = _Problem(table, [ready], intent).run(1, 0)[0] >= 0
        # What has no place even alone takes no room from others.
        if not stands[piece.key]:
            left_out.append(_left(piece, "no_place"))
            continue
        floor = min(int((turned.under < LOW_M).sum()) for turned in ready.turned)
        if floor > room and chosen:
            waiting.append(ready)
            continue
        room -= floor
        chosen.append(ready)
    return chosen, waiting


def _left(piece: Piece, reason: Reason) -> LeftOut:
    return LeftOut(piece=piece.key, name=piece.name, mass_kg=piece.mass_kg, reason=reason)


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
    waiting: Sequence[_Ready],
    left_out: tuple[LeftOut, ...],
    intent: Intent,
    seed: int,
    effort: Effort,
    on_progress: Callable[[Progress], bool] | None,
) -> tuple[list[_Candidate], bool]:
    """One candidate for each run; whether to go on."""
    found: list[_Candidate] = []
    best: float | None = None

    def one_run(begin: int) -> tuple[_Candidate | None, float | None]:
        return _one_run(table, chosen, waiting, left_out, intent, begin, effort.steps)

    begins = [int(begin) or 1 for begin in np.random.SeedSequence(seed).generate_state(effort.runs)]
    for run, (candidate, worth) in enumerate(in_order(one_run, begins)):
        if candidate is not None:
            found.append(candidate)
        if worth is not None:
            best = worth if best is None else max(best, worth)
        if on_progress is not None and not on_progress(
            Progress(stage="search", done=run + 1, of=effort.runs, best=best)
        ):
            return found, False
    return found, True


def in_order(work: Callable[[A], B], of: Sequence[A]) -> Iterator[B]:
    """What a work makes of each, in their order, with two at a time: the loops of both search and settling run beside each other."""
    with ThreadPoolExecutor(max_workers=AT_ONCE) as pool:
        ahead: deque[Future[B]] = deque()
        try:
            for item in of:
                ahead.append(pool.submit(work, item))
                if len(ahead) > AT_ONCE:
                    yield ahead.popleft().result()
            while ahead:
                yield ahead.popleft().result()
        finally:
            for future in ahead:
                future.cancel()


def _one_run(
    table: _Table,
    chosen: Sequence[_Ready],
    waiting: Sequence[_Ready],
    left_out: tuple[LeftOut, ...],
    intent: Intent,
    begin: int,
    steps: int,
) -> tuple[_Candidate | None, float | None]:
    """A candidate, and its worth where it uses all that were searched for."""
    problem = _Problem(table, chosen, intent)
    breach, worth = problem.run(begin, steps)
    if breach < 0:
        return None, None
    spots, dropped = problem.repaired()
    spots = _pushed(table, spots)
    found = _laid_out(table, spots)
    missing = sorted((*dropped, *((ready, "no_room") for ready in waiting)), key=lambda item: -item[0].piece.volume_l)
    gone = list(left_out)
    first = {item.number for item in found.placements}
    for place, (ready, reason) in enumerate(missing):
        # The sum only keeps the beginnings apart.
        more = _set_on(table, found, ready, intent, (begin + place) % 2**32 or 1)
        if more is None:
            gone.append(_left(ready.piece, reason))
        else:
            found = more
    if not found.placements:
        return None, None
    perched = frozenset(item.number for item in found.placements) - first
    return _Candidate(layout=found, left_out=tuple(gone), perched=perched), None if dropped else worth


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
        stamps = [item.stamp for row in turned for item in row]
        stamps += [item.stamp for item in table.standing for _ in range(TURNS)]
        self.tops = np.concatenate([item.top_m.ravel() for item in stamps])
        self.unders = np.concatenate([item.under_m.ravel() for item in stamps])
        ends = np.cumsum([0, *(item.top_m.size for item in stamps)])
        self.firsts = ends[:-1].reshape(all_of, TURNS).astype(np.int64)
        of_fixed = [[item.stamp.top_m.shape[::-1]] * TURNS for item in table.standing]
        self.all_sizes = np.array([*self.sizes.tolist(), *of_fixed], dtype=np.int64)
        # Of what is fixed tops and undersides are heights in the tank already.
        self.at = np.array(
            [*[(0, 0, 0)] * count, *((0, item.stamp.column, item.stamp.row) for item in table.standing)], dtype=np.int64
        )
        self.z = np.zeros(all_of)
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
            self.all_sizes,
            self.firsts,
            self.tops,
            self.unders,
            self.along_x,
            self.along_y,
            self.middles,
            self.tall,
            self.limit,
            float(table.burial_share),
            table.allowed.astype(np.uint8),
            table.bed,
            np.full(table.bed.shape, -np.inf),
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
            self.at,
            self.z,
            self.best,
            self.best_z,
        )
        return int(breach), float(worth)

    def added(self, deck: Floats, seed: int, tries: int) -> tuple[_Spot, float] | None:
        """The best place found for the first piece, on bed and deck, and its worth; nothing where none is steady."""
        table = self.table
        grid = table.grid
        worth = composing.added(
            seed,
            tries,
            self.cells,
            self.under,
            self.bounds,
            self.all_sizes,
            self.firsts,
            self.tops,
            self.unders,
            self.at,
            self.z,
            self.along_x,
            self.along_y,
            self.middles,
            self.tall,
            self.limit,
            float(table.burial_share),
            table.allowed.astype(np.uint8),
            table.bed,
            deck,
            table.taken.astype(np.int16),
            table.lanes,
            np.maximum(1, table.lanes.sum(axis=(1, 2), dtype=np.int64)),
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
            self.best,
            self.best_z,
        )
        return (self._spot(0), float(worth)) if worth >= 0 else None

    def _spot(self, one: int) -> _Spot:
        turn, column, row = (int(value) for value in self.best[one])
        ready = self.pieces[one]
        stamp = ready.turned[turn].stamp
        return _Spot(
            ready=ready,
            turn=turn,
            column=_FINE * (column - stamp.column),
            row=_FINE * (row - stamp.row),
            low_m=float(self.best_z[one]),
        )

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
            np.full(self.table.bed.shape, -np.inf),
            out,
        )
        return bool(found and out[1])

    def repaired(self) -> tuple[list[_Spot], list[tuple[_Ready, Reason]]]:
        """Pieces that break no rule together, larger ones first, and those that had to give way."""
        count = len(self.pieces)
        at, z = self.at.copy(), self.z.copy()
        at[:count], z[:count] = self.best, self.best_z
        standing = list(range(count, len(at)))
        kept: list[_Spot] = []
        dropped: list[tuple[_Ready, Reason]] = []
        for one, ready in enumerate(self.pieces):
            turn, column, row = (int(value) for value in self.best[one])
            shares = any(
                composing.pair_shared(
                    one,
                    turn,
                    column,
                    row,
                    float(z[one]),
                    other,
                    at,
                    z,
                    self.all_sizes,
                    self.firsts,
                    self.tops,
                    self.unders,
                )
                for other in standing
            )
            if shares or not self._steady(one):
                dropped.append((ready, "no_room" if shares else "unsteady"))
                continue
            standing.append(one)
            kept.append(self._spot(one))
        return kept, dropped


# ---------------------------------------------------------------- as a builder does


def _pushed(table: _Table, spots: Sequence[_Spot]) -> list[_Spot]:
    """Each smaller piece pushed up to the nearest larger one, as far as that is near and nothing is in the way."""
    found = list(spots)
    fixed = [stamp_of(points, table.fine) for points in stood_points(table.fixed).values()]
    for one in range(1, len(found)):
        radius = ball_radius_m(np.array([spot.ready.piece.volume_l for spot in found]))
        middles = np.array([_middle(table, spot) for spot in found])
        larger = [
            other
            for other in range(len(found))
            if found[other].ready.piece.volume_l > found[one].ready.piece.volume_l
            and found[other].ready.piece.kind == "stone"
        ]
        if not larger or found[one].ready.piece.kind != "stone":
            continue
        ways = middles[larger] - middles[one]
        gaps = np.hypot(ways[:, 0], ways[:, 1]) - radius[larger]
        nearest = int(np.argmin(np.round(gaps, 9)))
        way = ways[nearest] / max(float(np.abs(ways[nearest]).max()), 1e-9)
        others = [*fixed, *(_fine_stamp(table, spot) for k, spot in enumerate(found) if k != one)]
        begin = found[one]
        for step in range(1, round(PUSHED_M / _FINE_M) + 1):
            column, row = (int(value) for value in np.rint(np.round(step * way, 6)))
            moved = _reseated(table, replace(begin, column=begin.column + column, row=begin.row + row))
            if moved is None or any(_share_height(_fine_stamp(table, moved), other).any() for other in others):
                break
            found[one] = moved
    return found


def _middle(table: _Table, spot: _Spot) -> tuple[float, float]:
    """Centre of mass from above, in metres from the corner of the grid."""
    turned = table.fine_turned(spot.ready, spot.turn)
    x, y = turned.middle
    return (
        (spot.column + turned.stamp.column + x) * _FINE_M,
        (spot.row + turned.stamp.row + y) * _FINE_M,
    )


def _fine_stamp(table: _Table, spot: _Spot) -> Stamp:
    stamp = table.fine_turned(spot.ready, spot.turn).stamp
    return Stamp(
        row=spot.row + stamp.row,
        column=spot.column + stamp.column,
        top_m=stamp.top_m + spot.low_m,
        under_m=stamp.under_m + spot.low_m,
    )


def _reseated(table: _Table, spot: _Spot) -> _Spot | None:
    """The same at the height that the bed gives it there; nothing where it is not steady or must not stand."""
    turned = table.fine_turned(spot.ready, spot.turn)
    out = np.zeros(2)
    found = composing.seated(
        turned.cells,
        turned.under,
        0,
        len(turned.cells),
        spot.column + turned.stamp.column,
        spot.row + turned.stamp.row,
        turned.middle[0],
        turned.middle[1],
        spot.ready.tall_m,
        float(table.burial_share),
        table.limit_m(spot.ready.piece),
        table.fine_allowed.astype(np.uint8),
        table.fine_bed,
        np.full(table.fine_bed.shape, -np.inf),
        out,
    )
    return replace(spot, low_m=float(out[0])) if found and out[1] else None


def _share_height(one: Stamp, other: Stamp) -> Mask:
    """Cells common to two stamps in which they share some height."""
    low_row, low_column = max(one.row, other.row), max(one.column, other.column)
    high_row = max(low_row, min(one.row + one.top_m.shape[0], other.row + other.top_m.shape[0]))
    high_column = max(low_column, min(one.column + one.top_m.shape[1], other.column + other.top_m.shape[1]))
    a, b = (
        (slice(low_row - item.row, high_row - item.row), slice(low_column - item.column, high_column - item.column))
        for item in (one, other)
    )
    return np.asarray((one.top_m[a] > other.under_m[b]) & (other.top_m[b] > one.under_m[a]))


def _laid_out(table: _Table, spots: Sequence[_Spot]) -> Layout:
    """The locked pieces and these, numbered on in the order of placing: stones by size, then wood, which passes over them."""
    found = table.fixed
    for spot in sorted(spots, key=lambda item: item.ready.piece.kind == "wood"):
        found = _with(table, found, spot)
    return found


def _with(table: _Table, layout: Layout, spot: _Spot) -> Layout:
    ready, grid = spot.ready, table.grid
    used = {item.number for item in layout.placements}
    half = np.pi * spot.turn / TURNS
    c, s = float(np.cos(half)), float(np.sin(half))
    qw, qx, qy, qz = ready.turn
    layout = replace(layout, pieces={**layout.pieces, ready.piece.key: ready.piece})
    return layout.with_placement(
        Placement(
            number=next(number for number in range(1, len(used) + 2) if number not in used),
            piece=ready.piece.key,
            position_m=(
                grid.left_m + spot.column * _FINE_M,
                grid.front_m + spot.row * _FINE_M,
                spot.low_m - ready.low_m,
            ),
            turn=(c * qw - s * qz, c * qx - s * qy, c * qy + s * qx, c * qz + s * qw),
        )
    )


def _set_on(table: _Table, layout: Layout, ready: _Ready, intent: Intent, seed: int) -> Layout | None:
    """The layout with one more piece, on the bed or on others, let down from above; nothing where it has no steady place."""
    full = table.over(layout)
    problem = _Problem(full, [ready], intent)
    bare = np.full(table.bed.shape, -np.inf)
    found = problem.added(bare, seed, ADDED_TRIES)
    deck = bare.copy()
    for item in full.standing:
        # Wood carries no stone: it gives, and nobody builds so. A stone under a branch is another matter.
        if ready.piece.kind == "wood" or layout.pieces[layout.placement(item.number).piece].kind == "stone":
            laid(item.stamp, deck, item.stamp.top_m + NEAR_M)
    found = found or problem.added(deck, seed, ADDED_TRIES)
    if found is None:
        return None
    more = _with(table, layout, found[0])
    number = next(item.number for item in more.placements if item not in layout.placements)
    placed = more.placement(number)
    # Cells know tops to some millimetres: let down until it touches, no deeper than it would stand in the bed.
    down = lowered(more, number, 0.0).placement(number)
    x, y, z = placed.position_m
    return more.with_placement(replace(placed, position_m=(x, y, min(z, down.position_m[2] + HAIR_M))))


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
    made: Sequence[tuple[Proposal, frozenset[int]]],
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
    drawn = [height_map(item.layout) for item, _ in made]
    tried: set[int] = set()
    asked: dict[int, Future[Proposal | None]] = {}

    def differs(k: int, least: float, others: Sequence[Floats]) -> bool:
        return k not in tried and all(apart(drawn[k], other) >= least for other in others)

    if not going:
        # Nobody waits for what would still have to be let go.
        return tuple(item for item, _ in made[:count])
    with ThreadPoolExecutor(max_workers=AT_ONCE) as pool:

        def rested(k: int, least: float) -> Proposal | None:
            if settle is None:
                return made[k][0]
            after = (n for n in range(k + 1, len(made)) if differs(n, least, (*maps, drawn[k])))
            # The next one, should this one do, is let go beside it; what comes of it does not hang on that.
            for one in (k, *islice(after, AT_ONCE - 1)):
                if one not in asked:
                    asked[one] = pool.submit(_let_go, *made[one], settle, rules, shy_species)
            return asked[k].result()

        for least in APART:
            for k in range(len(made)):
                full = len(found) == count or (settle is not None and len(tried) == effort.settled)
                if full or not going:
                    break
                if not differs(k, least, maps):
                    continue
                item = rested(k, least)
                tried.add(k)
                if item is not None:
                    found.append(item)
                    maps.append(drawn[k])
                if settle is not None and on_progress is not None:
                    best = max((one.score.total for one in found), default=None)
                    going = on_progress(Progress(stage="settle", done=len(tried), of=effort.settled, best=best))
        for future in asked.values():
            future.cancel()
    return tuple(sorted(found, key=_rank))


def _let_go(
    item: Proposal,
    perched: frozenset[int],
    settle: Callable[[Layout], Settling],
    rules: dict[str, Any],
    shy_species: int,
) -> Proposal | None:
    """The proposal at rest; nothing where it does not come to rest, moves what is locked, or comes to break a rule.

    A stone that rolls off, or what comes to break a rule, is taken out, first of what was set on others, and all are let go
    anew; what merely finds its seat is let go once more from there.
    """
    placed, left_out = item.layout, item.left_out
    locked = {one.number for one in placed.placements if one.locked}
    laid = placed
    for _ in range(LET_GO):
        rested = settle(laid)
        ended = rested.layout
        ours = frozenset(one.number for one in ended.placements) - locked
        broken = {number for breach in breaches(ended, numbers=ours, **rules) for number in breach.numbers} - locked
        rolled = {number for number in ours if _rolled(placed, ended, number)}
        bad = (broken | rolled) & perched or broken | rolled
        if not bad and rested.accepted:
            break
        if not bad:
            laid = ended
            continue
        if bad >= ours:
            return None
        for number in sorted(bad):
            left_out = (*left_out, _left(placed.pieces[placed.placement(number).piece], "unsteady"))
            placed = placed.without(number)
        laid = placed
    else:
        return None
    if any(_moved_m(item.layout.placement(number), ended) > SETTLING_M for number in locked):
        return None
    return replace(
        item,
        layout=_numbered_on(ended, locked),
        left_out=left_out,
        score=score(ended, intent=item.score.intent, shy_species=shy_species),
        was_settled=True,
    )


def _rolled(placed: Layout, ended: Layout, number: int) -> bool:
    """Whether a stone did not stay near where it was set; wood may turn until it lies well."""
    before, after = placed.placement(number), ended.placement(number)
    if placed.pieces[before.piece].kind == "wood":
        return False
    same = min(1.0, abs(float(np.dot(before.turn, after.turn))))
    far = float(np.linalg.norm(np.subtract(before.position_m, after.position_m)))
    return far > ROLLED_M or float(np.degrees(2 * np.arccos(same))) > ROLLED_DEG


def _numbered_on(layout: Layout, kept: set[int]) -> Layout:
    """The same without gaps in its numbers; those that are kept stay."""
    free = (number for number in range(1, len(layout.placements) + 1) if number not in kept)
    placements = [
        one if one.number in kept else replace(one, number=next(free))
        for one in sorted(layout.placements, key=lambda one: one.number)
    ]
    return replace(layout, placements=tuple(sorted(placements, key=lambda one: one.number)))


def _moved_m(placement: Placement, laid: Layout) -> float:
    return float(np.linalg.norm(np.subtract(laid.placement(placement.number).position_m, placement.position_m)))
