"""Where a piece comes to stand when a hand lowers it: without turning, onto bed and pieces, then pressed in.

Stone touches stone by the convex parts of both, as they are settled with; the bed is touched by the mesh itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.spatial import ConvexHull, QhullError

from slackwater.errors import check_range
from slackwater.finding import Finding, Severity
from slackwater.layout.bed import inside
from slackwater.layout.compiled import compiled
from slackwater.layout.ground import height_m
from slackwater.layout.scene import Bed, Faces, Floats, Glass, Layout, Piece, Placement, stood

TOUCHES_M = 0.0005
"""Reaching past the glass or out of the water by less than this is touching it."""
BURIAL_SHARE = 0.12
"""Share of its height that a hand presses a stone in; common practice says 10 to 15 %, no source."""
TOUCH_CELLS = 150
"""Cells along the longer side of the common ground of two pieces when the one is lowered onto the other."""
LEAST_TOUCH_CELL_M = 0.001


# ---------------------------------------------------------------- heights of solids over a grid


@compiled
def _spans(
    corners: Floats, faces: Faces, x0: float, y0: float, dx: float, dy: float, under: Floats, over: Floats
) -> None:
    rows, columns = under.shape
    for face in range(faces.shape[0]):
        ax, ay, az = corners[faces[face, 0]]
        bx, by, bz = corners[faces[face, 1]]
        cx, cy, cz = corners[faces[face, 2]]
        turn = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if abs(turn) < 1e-14:
            continue
        # A node on a border belongs to both triangles: one that belonged to neither would be a hole.
        low_i = max(0, int(np.ceil((min(ax, bx, cx) - x0) / dx - 1e-9)))
        high_i = min(columns - 1, int(np.floor((max(ax, bx, cx) - x0) / dx + 1e-9)))
        low_j = max(0, int(np.ceil((min(ay, by, cy) - y0) / dy - 1e-9)))
        high_j = min(rows - 1, int(np.floor((max(ay, by, cy) - y0) / dy + 1e-9)))
        for j in range(low_j, high_j + 1):
            y = y0 + j * dy
            for i in range(low_i, high_i + 1):
                x = x0 + i * dx
                of_b = ((x - ax) * (cy - ay) - (y - ay) * (cx - ax)) / turn
                of_c = ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / turn
                if of_b < -1e-9 or of_c < -1e-9 or of_b + of_c > 1 + 1e-9:
                    continue
                z = az + of_b * (bz - az) + of_c * (cz - az)
                under[j, i] = min(under[j, i], z)
                over[j, i] = max(over[j, i], z)


def spans_m(corners_m: Floats, faces: Faces, x_m: Floats, y_m: Floats) -> tuple[Floats, Floats]:
    """Lowest and highest point of a mesh over each node of a grid [m]; plus and minus infinity where there is none."""
    under = np.full((len(y_m), len(x_m)), np.inf)
    over = np.full_like(under, -np.inf)
    dx, dy = float(x_m[1] - x_m[0]), float(y_m[1] - y_m[0])
    _spans(np.ascontiguousarray(corners_m), faces.astype(np.int32), float(x_m[0]), float(y_m[0]), dx, dy, under, over)
    return under, over


def hull_faces(corners_m: Floats) -> Faces:
    """Triangles of the hull of points, counted against the clock seen from outside."""
    hull = ConvexHull(corners_m)
    faces: Faces = hull.simplices.astype(np.int32)
    a, b, c = (corners_m[faces[:, k]] for k in range(3))
    wrong = np.einsum("ij,ij->i", np.cross(b - a, c - a), hull.equations[:, :3]) < 0
    faces[wrong] = faces[wrong][:, ::-1]
    return faces


def _touching_mesh(piece: Piece) -> tuple[Floats, Faces]:
    """All convex parts as one mesh: each point over a node counts, so parts may overlap."""
    corners, faces, count = [], [], 0
    for part in piece.convex_m:
        corners.append(np.asarray(part, dtype=np.float64))
        faces.append(hull_faces(corners[-1]) + count)
        count += len(part)
    return np.vstack(corners), np.vstack(faces).astype(np.int32)


def _seen_from_above(piece: Piece, placement: Placement) -> tuple[Floats, Floats]:
    """Corners of the box round what may touch."""
    flat = np.vstack([stood(part, placement)[:, :2] for part in piece.convex_m])
    return flat.min(axis=0), flat.max(axis=0)


def held_by(layout: Layout) -> NDArray[np.bool_]:
    """Nodes of the bed at which a piece stands in the surface: there soil neither leaves nor comes."""
    bed = layout.bed
    held = np.zeros(bed.top_m.shape, dtype=bool)
    for placement in layout.placements:
        piece = layout.pieces[placement.piece]
        rows, columns, within = held_window(bed, stood(piece.closed_vertices_m, placement), piece.closed_faces)
        held[rows, columns] |= within
    return held


def held_window(bed: Bed, corners: Floats, faces: Faces) -> tuple[slice, slice, NDArray[np.bool_]]:
    """The same of one solid in the tank: rows and columns of the bed under it, and which of their nodes it holds."""
    low, high = corners.min(axis=0), corners.max(axis=0)
    rows, columns = (
        slice(max(0, int(np.searchsorted(line, start)) - 1), max(2, int(np.searchsorted(line, end)) + 1))
        for line, start, end in ((bed.y_m, low[1], high[1]), (bed.x_m, low[0], high[0]))
    )
    if rows.start > len(bed.y_m) - 2 or columns.start > len(bed.x_m) - 2:
        return slice(0, 0), slice(0, 0), np.zeros((0, 0), dtype=bool)
    top = bed.top_m[rows, columns]
    under, over = spans_m(corners, faces, bed.x_m[columns], bed.y_m[rows])
    return rows, columns, (under <= top) & (over >= top)


# ---------------------------------------------------------------- lowering


def lowered(layout: Layout, number: int, burial_share: float = BURIAL_SHARE) -> Layout:
    """The layout with one piece lowered without turning, and pressed into the bed where it came down on soil.

    Parameters
    ----------
    layout : Layout
        The piece may stand at any height in it; where it stands seen from above is kept.
    number : int
        Of its placement.
    burial_share : float
        Share of the piece's height to press in after it has touched the soil [0 to 1].

    Returns
    -------
    Layout
        With the new height. Another piece or the bottom glass stops it wherever it is; a piece that stands on it now
        does not carry it. The surface of the bed stays as shaped: the soil that gives way is the soil not bought.

    Raises
    ------
    NotFound
        If no piece has that number.
    OutOfRange
        If the share is none.
    """
    check_range("burial_share", burial_share, 0, 1, unit="")
    placement = layout.placement(number)
    piece = layout.pieces[placement.piece]
    corners = stood(piece.closed_vertices_m, placement)
    height = float(np.ptp(corners[:, 2]))
    rise = max(_onto_bed(layout, corners, piece.closed_faces) - burial_share * height, -float(corners[:, 2].min()))
    for other in layout.placements:
        if other.number != number:
            rise = max(rise, _onto_piece(layout, placement, other))
    x, y, z = placement.position_m
    return layout.with_placement(replace(placement, position_m=(x, y, z + rise)))


def bedded(layout: Layout, burial_share: float = BURIAL_SHARE) -> Layout:
    """All pieces lowered in the order of their numbers, each onto those before it."""
    found = replace(layout, placements=())
    for placement in sorted(layout.placements, key=lambda item: item.number):
        found = lowered(found.with_placement(placement), placement.number, burial_share)
    return found


def _onto_bed(layout: Layout, corners: Floats, faces: Faces) -> float:
    """How far the mesh has to rise to touch the bed without going into it; negative where it hangs above."""
    bed = layout.bed
    under, _ = spans_m(corners, faces, bed.x_m, bed.y_m)
    of_corners = float((height_m(bed, corners[:, 0], corners[:, 1]) - corners[:, 2]).max())
    return max(of_corners, float((bed.top_m - under).max()))


def _onto_piece(layout: Layout, placement: Placement, other: Placement) -> float:
    """The same for another piece; minus infinity where the two do not meet seen from above, or the other stands on it."""
    mine, theirs = layout.pieces[placement.piece], layout.pieces[other.piece]
    own_low, own_high = _seen_from_above(mine, placement)
    other_low, other_high = _seen_from_above(theirs, other)
    low, high = np.maximum(own_low, other_low), np.minimum(own_high, other_high)
    if (high - low <= 1e-9).any():
        return -np.inf
    corners, faces = _touching_mesh(mine)
    others, other_faces = _touching_mesh(theirs)
    corners, others = stood(corners, placement), stood(others, other)
    cell = max(LEAST_TOUCH_CELL_M, float((high - low).max()) / TOUCH_CELLS)
    x_m = np.linspace(low[0], high[0], max(3, round(float(high[0] - low[0]) / cell) + 1))
    y_m = np.linspace(low[1], high[1], max(3, round(float(high[1] - low[1]) / cell) + 1))
    under, over = spans_m(corners, faces, x_m, y_m)
    other_under, other_over = spans_m(others, other_faces, x_m, y_m)
    both = np.isfinite(under) & np.isfinite(other_under)
    if not both.any():
        return -np.inf
    if other.number > placement.number and bool((other_under[both] >= over[both] - 0.002).all()):
        return -np.inf
    return float((other_over[both] - under[both]).max())


# ---------------------------------------------------------------- through the opening


@dataclass(frozen=True)
class Passage:
    """Whether a piece goes through the mouth of the tank, and how much it lacks."""

    fits: bool
    needs_m: tuple[float, float]
    """The piece's cross-section: as it lies where it goes through so, else in its best pose; along the opening, and across it."""
    opening_m: tuple[float, float]
    """The opening it goes through best."""
    short_m: float
    """By how much the opening is too small in the worse of its two directions; 0 or less where it fits."""


DIRECTIONS = 200
ANGLES = 36
MOST_CORNERS = 1000
"""Corners of a hull beyond which those farthest along twice as many directions stand for it, to 0.1 % of its size."""


def fits_opening(piece: Piece, glass: Glass) -> Passage:
    """Whether a piece, held in its best pose, can be lowered straight through an opening of the tank.

    Parameters
    ----------
    piece : Piece
        Its hull counts: a branch that could be threaded through by turning it is not told apart.
    glass : Glass
        With its openings; without any the whole mouth (the box round its outline) is open.

    Notes
    -----
    A search over poses (a spiral of directions, the main axes, the larger faces of the hull; then Nelder and Mead from
    the best), so it may miss a pose by a fraction of a millimetre. Hands and gloves take room besides.
    """
    left, front, right, rear = glass.box_m
    openings = glass.openings_m or ((right - left, rear - front),)
    lies = np.ptp(piece.closed_vertices_m[:, :2], axis=0)
    for opening in openings:
        # As it lies is a pose too; the search is for those that do not go through so.
        if bool((lies <= opening).all()):
            return Passage(fits=True, needs_m=(float(lies[0]), float(lies[1])), opening_m=opening, short_m=0.0)
    points = _hull_corners(piece.closed_vertices_m)
    found = [_best_pose(points, (max(pair), min(pair))) for pair in openings]
    best = min(range(len(found)), key=lambda k: found[k][0])
    short, needs = found[best]
    opening = openings[best]
    along, across = needs if opening[0] >= opening[1] else (needs[1], needs[0])
    return Passage(fits=short <= 1e-6, needs_m=(along, across), opening_m=opening, short_m=short)


def _hull_corners(points: Floats) -> Floats:
    try:
        points = points[ConvexHull(points).vertices]
    except QhullError:
        return points
    if len(points) > MOST_CORNERS:
        points = points[np.unique(np.argmax(points @ spiral(2 * MOST_CORNERS).T, axis=0))]
    return points


def spiral(count: int) -> Floats:
    """Directions spread evenly over the sphere."""
    k = np.arange(count) + 0.5
    z = 1 - 2 * k / count
    around = np.pi * (1 + np.sqrt(5)) * k
    flat = np.sqrt(1 - z * z)
    return np.column_stack([flat * np.cos(around), flat * np.sin(around), z])


def _best_pose(points: Floats, opening: tuple[float, float]) -> tuple[float, tuple[float, float]]:
    directions = [direction for direction in spiral(2 * DIRECTIONS) if direction[2] >= 0]
    centred = points - points.mean(axis=0)
    directions += list(np.linalg.svd(centred, full_matrices=False)[2])
    directions += list(np.unique(np.round(ConvexHull(points).equations[:, :3], 6), axis=0)[:DIRECTIONS])
    angles = np.linspace(0, np.pi, ANGLES, endpoint=False)
    tried = sorted(
        ((*_shortfall(points, direction, angles, opening), direction) for direction in directions),
        key=lambda item: item[0],
    )

    def turned(values: Floats) -> float:
        direction = np.array(
            [np.sin(values[0]) * np.cos(values[1]), np.sin(values[0]) * np.sin(values[1]), np.cos(values[0])]
        )
        return _shortfall(points, direction, values[2:3], opening)[0]

    short, angle, direction = tried[0]
    needs = _section(points, direction, np.array([angle]))
    for begin_short, begin_angle, begin in tried[:3]:
        if begin_short <= 0:
            break
        start = np.array([np.arccos(np.clip(begin[2], -1, 1)), np.arctan2(begin[1], begin[0]), begin_angle])
        simplex = np.vstack([start, start + np.diag([0.06, 0.06, 0.06])])
        end = minimize(turned, start, method="Nelder-Mead", options={"initial_simplex": simplex, "maxiter": 200})
        if end.fun < short:
            short = float(end.fun)
            t, p, angle = (float(value) for value in end.x)
            direction = np.array([np.sin(t) * np.cos(p), np.sin(t) * np.sin(p), np.cos(t)])
            needs = _section(points, direction, np.array([angle]))
    return short, (float(needs[0][0]), float(needs[1][0]))


def _section(points: Floats, direction: Floats, angles: Floats) -> tuple[Floats, Floats]:
    """Extents across a direction, along each angle and square to it."""
    aside = np.array([0.0, 0.0, 1.0]) if abs(direction[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    one = np.cross(direction, aside)
    one /= np.linalg.norm(one)
    two = np.cross(direction, one)
    u, v = points @ one, points @ two
    along = np.outer(np.cos(angles), u) + np.outer(np.sin(angles), v)
    across = np.outer(np.cos(angles), v) - np.outer(np.sin(angles), u)
    return np.ptp(along, axis=1), np.ptp(across, axis=1)


def _shortfall(points: Floats, direction: Floats, angles: Floats, opening: tuple[float, float]) -> tuple[float, float]:
    along, across = _section(points, direction, angles)
    short = np.maximum(along - opening[0], across - opening[1])
    best = int(short.argmin())
    return float(short[best]), float(angles[best])


# ---------------------------------------------------------------- what is wrong with it


def placing_findings(layout: Layout) -> tuple[Finding, ...]:
    """What stands where nothing can stand, cannot be brought in, or looks out of the water."""
    if not layout.placements:
        return (Finding(id="layout.nothing_placed", severity=Severity.NOTE),)
    found: list[Finding] = []
    passages: dict[str, Passage] = {}
    for placement in layout.placements:
        piece = layout.pieces[placement.piece]
        if piece.key not in passages:
            passages[piece.key] = fits_opening(piece, layout.glass)
        corners = stood(piece.closed_vertices_m, placement)
        found += findings_of(layout.glass, placement.number, piece.name, corners, passages[piece.key])
    return tuple(found)


def findings_of(glass: Glass, number: int, name: str, corners: Floats, passage: Passage) -> tuple[Finding, ...]:
    """The same of one piece, from its corners in the tank and whether it goes through an opening."""
    values: dict[str, float | str] = {"number": number, "piece": name}
    return (*_passing(passage, values), *_standing(glass, corners, values))


def _passing(passage: Passage, values: dict[str, float | str]) -> Sequence[Finding]:
    if passage.fits:
        return ()
    sizes: dict[str, float | str] = {
        "needs_length_m": passage.needs_m[0],
        "needs_width_m": passage.needs_m[1],
        "opening_length_m": passage.opening_m[0],
        "opening_width_m": passage.opening_m[1],
    }
    return (
        Finding(
            id="layout.too_big_for_opening",
            severity=Severity.MISFIT,
            about=str(values["number"]),
            values=values | sizes,
            margin=-passage.short_m,
            margin_unit="m",
        ),
    )


def outside_m(glass: Glass, corners: Floats) -> float:
    """How far points reach beyond the panes seen from above [m]; 0 within."""
    x, y = corners[:, 0], corners[:, 1]
    out = ~inside(glass.corners_m, x, y)
    if not out.any():
        return 0.0
    x, y = x[out], y[out]
    nearest = np.full(x.shape, np.inf)
    for (ax, ay), (bx, by) in zip(glass.corners_m, [*glass.corners_m[1:], glass.corners_m[0]], strict=True):
        along = (bx - ax) ** 2 + (by - ay) ** 2
        t = np.clip(((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / along, 0, 1)
        nearest = np.minimum(nearest, np.hypot(x - ax - t * (bx - ax), y - ay - t * (by - ay)))
    return float(nearest.max())


def _standing(glass: Glass, corners: Floats, values: dict[str, float | str]) -> list[Finding]:
    found = []
    about = str(values["number"])
    # Below the bottom glass is past the glass too.
    beyond = max(outside_m(glass, corners), -float(corners[:, 2].min()))
    if beyond > TOUCHES_M:
        found.append(
            Finding(
                id="layout.through_the_glass",
                severity=Severity.MISFIT,
                about=about,
                values=values | {"beyond_cm": 100 * beyond},
                margin=-beyond,
                margin_unit="m",
            )
        )
    top = float(corners[:, 2].max())
    if top > glass.height_m:
        found.append(
            Finding(
                id="layout.above_the_rim",
                severity=Severity.CONDITION,
                about=about,
                values=values | {"top_m": top, "rim_m": glass.height_m},
                margin=glass.height_m - top,
                margin_unit="m",
            )
        )
    elif top > glass.water_line_m + TOUCHES_M:
        found.append(
            Finding(
                id="layout.above_the_water",
                severity=Severity.NOTE,
                about=about,
                values=values | {"top_m": top, "line_m": glass.water_line_m},
                margin=glass.water_line_m - top,
                margin_unit="m",
            )
        )
    return found
