"""The loops of composition: parts of a score from profiles, and the search that counts them at every step.

One file, because what is compiled is kept by the date of its own file only. The search is the same on every machine: it
draws whole numbers from a generator of its own and takes logarithms from a table of rounded ones.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from slackwater.layout.compiled import compiled
from slackwater.layout.scene import Floats

Ints = NDArray[np.int64]

DISTANCE_M = 2.0
"""From which the two halves of a layout are weighed: a seated eye's distance, as in `see`."""
WATER_INDEX = 1.333
LARGER_SHARE = 0.62
"""Share of the larger of two groups; the golden section, as the trade teaches it."""
OUTLINE_SPREAD = 0.25
"""An outline whose standard deviation is this share of its greatest height is as lively as can be; a ramp has 0.29."""
NEAR_M = 0.2
"""A small stone this far from the next larger one stands alone."""
SMALL_SHARE = 0.6
"""Of the largest piece by litres: smaller ones belong to a larger one; common practice, no source."""
LARGER_BY = 1.2
"""So many times a small one's litres a piece has that it belongs to."""


def side_parts(
    start: Floats,
    length: Floats,
    height: Floats,
    depth: Floats,
    across: Floats,
    volume: Floats,
    breadth: float,
    deep: float,
    head: float,
    cell: float,
    out: Floats,
) -> None:
    """Parts from one side, written into `out` in the order of `SIDE_PARTS`.

    Plain loops over arrays, compiled for the search as they stand: a search and a report count alike.

    Parameters
    ----------
    start, depth, across, volume : (n,) float
        Left end of each piece's profile and its middle, as who looks has them; its distance behind the near pane; litres.
    length : (n,) int
        Cells of each profile.
    height : (n, k) float
        Profile of each piece over the bed, from the looker's left.
    breadth, deep, head, cell : float
        Of the box along and away from the pane; height of open water over the bed; size of a cell.
    """
    count = len(start)
    bins = int(np.ceil(breadth / cell - 1e-9))
    wide = breadth / bins
    outline = np.zeros(bins)
    order = np.argsort(depth, kind="mergesort")
    middle = breadth / 2
    shown = 0.0
    for at in range(count):
        one = order[at]
        shrink = DISTANCE_M / (DISTANCE_M + depth[one] / WATER_INDEX)
        whole, visible = 0.0, 0.0
        left = middle + (start[one] - middle) * shrink
        right = middle + (start[one] + length[one] * cell - middle) * shrink
        first, last = int(np.floor(left / wide + 1e-9)), int(np.ceil(right / wide - 1e-9)) - 1
        for bin_at in range(max(0, first), min(bins - 1, last) + 1):
            # The cell of the profile that lies in the middle of this part of the bin.
            a, b = max(left, bin_at * wide), min(right, (bin_at + 1) * wide)
            k = min(max(int(np.floor(((a + b) / 2 - left) / (shrink * cell))), 0), length[one] - 1)
            # A bin that the piece fills in part counts for that part.
            h = max(0.0, height[one, k]) * shrink * (b - a) / wide
            whole += h
            if h > outline[bin_at]:
                visible += h - outline[bin_at]
                outline[bin_at] = h
        if whole > 0:
            shown += visible / whole
    area, left_area, left_moment, right_moment, island = 0.0, 0.0, 0.0, 0.0, 0.0
    blocked, squares, covered, top, third = 0.0, 0.0, 0, 0.0, 0.0
    for bin_at in range(bins):
        a, b = bin_at * wide, (bin_at + 1) * wide
        h = outline[bin_at]
        third_part = max(0.0, min(b, 2 * breadth / 3) - max(a, breadth / 3))
        third += third_part
        blocked += third_part * min(1.0, h / head)
        if h <= 0:
            continue
        area += h * (b - a)
        l_end, r_start = min(b, middle), max(a, middle)
        if l_end > a:
            left_area += h * (l_end - a)
            left_moment += h * (l_end - a) * (a + l_end) / 2
        if b > r_start:
            right_moment += h * (b - r_start) * (b + r_start) / 2
        island += h * max(0.0, min(b, 0.75 * breadth) - max(a, 0.25 * breadth))
        covered += 1
        top = max(top, h)
        squares += h * h
    out[:] = 0.0
    out[0] = 1.0 - blocked / third
    if count == 0 or area <= 0:
        return
    right_area = area - left_area
    reach = breadth / 6
    if left_area > 1e-12:
        out[1] += left_area * max(0.0, 1 - abs(left_moment / left_area - breadth / 3) / reach)
    if right_area > 1e-12:
        out[1] += right_area * max(0.0, 1 - abs(right_moment / right_area - 2 * breadth / 3) / reach)
    out[1] /= area
    larger = max(left_area, right_area) / area
    out[2] = max(
        0.0, (larger - 0.5) / (LARGER_SHARE - 0.5) if larger < LARGER_SHARE else (1 - larger) / (1 - LARGER_SHARE)
    )
    weights = np.zeros(2)
    depths = np.zeros(2)
    for one in range(count):
        # A piece in the middle belongs to both halves: no jump when it passes from one to the other.
        to_right = min(1.0, max(0.0, 0.5 + (across[one] - middle) / (0.1 * breadth)))
        weights[0] += (1 - to_right) * volume[one]
        weights[1] += to_right * volume[one]
        depths[0] += (1 - to_right) * volume[one] * depth[one]
        depths[1] += to_right * volume[one] * depth[one]
    if weights[0] > 0 and weights[1] > 0:
        out[3] = min(1.0, abs(depths[0] / weights[0] - depths[1] / weights[1]) / (deep / 3))
    mean = 0.0
    for bin_at in range(bins):
        mean += outline[bin_at]
    mean /= covered
    spread = np.sqrt(max(0.0, squares / covered - mean * mean))
    out[4] = min(1.0, spread / (OUTLINE_SPREAD * top))
    out[5] = shown / count
    out[6] = 2 * larger - 1
    out[7] = island / area


def nearness(middle_x: Floats, middle_y: Floats, volume: Floats, radius: Floats) -> float:
    """How near each small stone stands to the next larger one, ball to ball [0..1]; 1 where none is small."""
    count = len(volume)
    largest = 0.0
    for one in range(count):
        largest = max(largest, volume[one])
    total, small = 0.0, 0
    for one in range(count):
        if volume[one] > SMALL_SHARE * largest:
            continue
        small += 1
        near = np.inf
        for other in range(count):
            if volume[other] > LARGER_BY * volume[one]:
                away = (middle_x[one] - middle_x[other]) ** 2 + (middle_y[one] - middle_y[other]) ** 2
                near = min(near, max(0.0, np.sqrt(away) - radius[one] - radius[other]))
        total += max(0.0, 1 - near / NEAR_M)
    return float(total / small) if small else 1.0


_side_parts = compiled(side_parts)
_nearness = compiled(nearness)

# A table of -ln(u) at evenly spread u, rounded: the logarithms of two machines may differ in their last bit.
WAITS = np.round(-np.log((np.arange(1024) + 0.5) / 1024), 6)
HOT, COLD = 0.04, 0.0005
"""How much worse a step may be, typically, at the beginning and at the end."""
SOFT, STIFF = 0.05, 1.0
"""What a breach of rules costs at the beginning and at the end, for each tenth of the moved piece's own cells."""
LAST = 0.9
"""From this share of the steps on, no step may break the rules more than the one before."""
TOUCH_M = 0.002
"""A gap this small is closed when a hand turns the piece to and fro."""
LEAN_M = 0.005
"""Another piece bears what comes this near to it: cells know tops no better. Letting it go tells whether it does."""
BEARING = 1 / 6
"""Of a piece's length and width, how far beyond its centre of mass soil must bear it: the middle third of masonry."""
DEEPER = 4
"""So many times the usual share of a piece is buried at most where the bed slopes, and no more than half of it."""
DEEPEST = 0.5


@compiled
def _draw(state: Ints, below: int) -> int:
    """A whole number from 0 up to and without `below`; xorshift of 32 bits, Marsaglia (2003), J. Stat. Softw. 8(14)."""
    x = state[0]
    x ^= (x << 13) & 0xFFFFFFFF
    x ^= x >> 17
    x ^= (x << 5) & 0xFFFFFFFF
    state[0] = x
    return int(x % below)


@compiled
def seated(
    cells: Ints,
    under: Floats,
    first: int,
    last: int,
    column: int,
    row: int,
    middle_x: float,
    middle_y: float,
    tall: float,
    burial: float,
    limit: float,
    allowed: NDArray[np.uint8],
    bed: Floats,
    deck: Floats,
    out: Floats,
) -> bool:
    """Height and footing of a piece at a place: out = (height of its lowest point, 1 if it is steady there).

    `deck` is the top of what it may stand on besides the bed: minus infinity where there is
    nothing. False where it must not stand: beside the cells that are allowed, or above
    its limit.
    """
    rows, columns = allowed.shape
    touch, rest = 0.0, 0.0
    wide, deep = 0, 0
    for k in range(first, last):
        wide, deep = max(wide, cells[k, 0] + 1), max(deep, cells[k, 1] + 1)
        j, i = row + cells[k, 1], column + cells[k, 0]
        if j < 0 or i < 0 or j >= rows or i >= columns or allowed[j, i] == 0:
            return False
        touch = max(touch, bed[j, i] - under[k])
        rest = max(rest, deck[j, i] - under[k])
    if rest + tall > limit:
        return False
    # Steady where soil bears it on all sides of its centre of mass. On a slope that takes a deeper bed, dug on its upper side.
    for times in range(1, DEEPER + 1):
        z = max(rest, touch - min(times * burial, DEEPEST) * tall)
        west, east, south, north = 0.0, 0.0, 0.0, 0.0
        for k in range(first, last):
            j, i = row + cells[k, 1], column + cells[k, 0]
            if z + under[k] <= bed[j, i] + TOUCH_M or z + under[k] <= deck[j, i] + LEAN_M:
                x, y = cells[k, 0] + 0.5, cells[k, 1] + 0.5
                west, east = max(west, middle_x - x), max(east, x - middle_x)
                south, north = max(south, middle_y - y), max(north, y - middle_y)
        out[0] = z
        steady = min(west, east) >= max(0.5, BEARING * wide) and min(south, north) >= max(0.5, BEARING * deep)
        out[1] = 1.0 if steady else 0.0
        if out[1] == 1.0 or burial == 0.0:
            break
    return bool(out[0] + tall <= limit)


@compiled
def _laid(
    cells: Ints,
    first: int,
    last: int,
    column: int,
    row: int,
    change: int,
    stood: NDArray[np.int16],
    lanes: NDArray[np.uint8],
    covered: Ints,
) -> None:
    """Put a piece onto the map (change 1) or take it off (-1), and count the cells of both lanes that are covered."""
    for k in range(first, last):
        j, i = row + cells[k, 1], column + cells[k, 0]
        before = stood[j, i]
        stood[j, i] = before + change
        if (change > 0 and before == 0) or (change < 0 and before == 1):
            covered[0] += change * lanes[0, j, i]
            covered[1] += change * lanes[1, j, i]


@compiled
def pair_shared(
    one: int,
    turn: int,
    column: int,
    row: int,
    z: float,
    other: int,
    at: Ints,
    heights: Floats,
    sizes: Ints,
    firsts: Ints,
    tops: Floats,
    unders: Floats,
) -> int:
    """Cells in which a piece at a place shares height with another where that stands: passing over or under shares none."""
    their = at[other, 0]
    low_i, low_j = max(column, at[other, 1]), max(row, at[other, 2])
    high_i = min(column + sizes[one, turn, 0], at[other, 1] + sizes[other, their, 0])
    high_j = min(row + sizes[one, turn, 1], at[other, 2] + sizes[other, their, 1])
    rise = heights[other] - z
    found = 0
    for j in range(low_j, high_j):
        mine = firsts[one, turn] + (j - row) * sizes[one, turn, 0] - column
        others = firsts[other, their] + (j - at[other, 2]) * sizes[other, their, 0] - at[other, 1]
        for i in range(low_i, high_i):
            # Beside a piece its top is minus infinity and its underside plus infinity.
            if tops[mine + i] > unders[others + i] + rise and tops[others + i] + rise > unders[mine + i]:
                found += 1
    return found


@compiled
def _shared(
    one: int,
    turn: int,
    column: int,
    row: int,
    z: float,
    at: Ints,
    heights: Floats,
    sizes: Ints,
    firsts: Ints,
    tops: Floats,
    unders: Floats,
) -> int:
    found = 0
    for other in range(len(at)):
        if other != one:
            found += pair_shared(one, turn, column, row, z, other, at, heights, sizes, firsts, tops, unders)
    return found


@compiled
def _shown(
    one: int,
    turn: int,
    column: int,
    row: int,
    z: float,
    sides: Ints,
    box: Floats,
    origin: Floats,
    cell: float,
    ground: float,
    sizes: Ints,
    along_x: Floats,
    along_y: Floats,
    middles: Floats,
    start: Floats,
    length: Ints,
    height: Floats,
    depth: Floats,
    across: Floats,
    flat: Floats,
) -> None:
    """Write one piece into the profiles of all sides."""
    wide, deep = sizes[one, turn, 0], sizes[one, turn, 1]
    x = origin[0] + (column + middles[one, turn, 0]) * cell
    y = origin[1] + (row + middles[one, turn, 1]) * cell
    flat[0, one], flat[1, one] = x, y
    for s in range(len(sides)):
        side = sides[s]
        if side == 0:
            start[s, one] = origin[0] + column * cell - box[0]
            across[s, one], depth[s, one] = x - box[0], y - box[1]
        elif side == 1:
            start[s, one] = box[2] - (origin[0] + (column + wide) * cell)
            across[s, one], depth[s, one] = box[2] - x, box[3] - y
        elif side == 2:
            start[s, one] = box[3] - (origin[1] + (row + deep) * cell)
            across[s, one], depth[s, one] = box[3] - y, x - box[0]
        else:
            start[s, one] = origin[1] + row * cell - box[1]
            across[s, one], depth[s, one] = y - box[1], box[2] - x
        count = wide if side < 2 else deep
        length[s, one] = count
        for k in range(count):
            at = count - 1 - k if side == 1 or side == 2 else k
            high = along_x[one, turn, at] if side < 2 else along_y[one, turn, at]
            height[s, one, k] = z + high - ground


@compiled
def _worth(
    sides: Ints,
    box: Floats,
    cell: float,
    head: float,
    start: Floats,
    length: Ints,
    height: Floats,
    depth: Floats,
    across: Floats,
    flat: Floats,
    volume: Floats,
    radius: Floats,
    covered: Ints,
    lane_cells: Ints,
    weights: Floats,
    worst: Floats,
    out: Floats,
) -> float:
    """Weighted mean of the parts, each of its worst side."""
    parts = len(worst)
    worst[:] = 1.0
    for s in range(len(sides)):
        if sides[s] < 2:
            breadth, deep = box[2] - box[0], box[3] - box[1]
        else:
            breadth, deep = box[3] - box[1], box[2] - box[0]
        _side_parts(start[s], length[s], height[s], depth[s], across[s], volume, breadth, deep, head, cell, out)
        for k in range(parts):
            worst[k] = min(worst[k], out[k])
    total, value = 0.0, 0.0
    for k in range(parts):
        value += weights[k] * worst[k]
        total += weights[k]
    value += weights[parts] * _nearness(flat[0], flat[1], volume, radius)
    free = max(1.0 - covered[0] / lane_cells[0], 1.0 - covered[1] / lane_cells[1])
    value += weights[parts + 1] * free
    return float(value / (total + weights[parts] + weights[parts + 1]))


@compiled
def annealed(
    seed: int,
    steps: int,
    count: int,
    cells: Ints,
    under: Floats,
    bounds: Ints,
    sizes: Ints,
    firsts: Ints,
    tops: Floats,
    unders: Floats,
    along_x: Floats,
    along_y: Floats,
    middles: Floats,
    tall: Floats,
    limit: Floats,
    burial: float,
    allowed: NDArray[np.uint8],
    bed: Floats,
    deck: Floats,
    fixed: NDArray[np.int16],
    lanes: NDArray[np.uint8],
    lane_cells: Ints,
    sides: Ints,
    box: Floats,
    origin: Floats,
    cell: float,
    ground: float,
    head: float,
    start: Floats,
    length: Ints,
    height: Floats,
    depth: Floats,
    across: Floats,
    flat: Floats,
    volume: Floats,
    radius: Floats,
    weights: Floats,
    waits: Floats,
    at: Ints,
    z: Floats,
    best: Ints,
    best_z: Floats,
) -> tuple[int, float]:
    """One run of annealing over `count` pieces; what stands fixed comes after them in the arrays of profiles and of places.

    Returns
    -------
    int
        Breaches left in `best`: 0 unless no step kept all rules; minus 1 minus a piece's number if it has no place at all.
    float
        Worth of `best`, which holds turn, column and row of each piece.
    """
    rows, columns = allowed.shape
    turns = sizes.shape[1]
    state = np.zeros(1, np.int64)
    state[0] = seed
    stood = fixed.copy()
    covered = np.zeros(2, np.int64)
    for j in range(rows):
        for i in range(columns):
            if stood[j, i] > 0:
                covered[0] += lanes[0, j, i]
                covered[1] += lanes[1, j, i]
    steady = np.zeros(count)
    seat = np.zeros(2)
    worst = np.zeros(len(weights) - 2)
    out = np.zeros(len(weights) - 2)
    twice, shaky = 0, 0
    for one in range(count):
        found = False
        tries = 200
        every = turns * columns * rows
        skip = _draw(state, every)
        for attempt in range(tries + every):
            if attempt < tries:
                t, i, j = _draw(state, turns), _draw(state, columns), _draw(state, rows)
            else:
                place = (skip + attempt) % every
                t, i, j = place % turns, (place // turns) % columns, place // turns // columns
            if seated(
                cells,
                under,
                bounds[one, t],
                bounds[one, t + 1],
                i,
                j,
                middles[one, t, 0],
                middles[one, t, 1],
                tall[one],
                burial,
                limit[one],
                allowed,
                bed,
                deck,
                seat,
            ):
                found = True
                at[one, 0], at[one, 1], at[one, 2] = t, i, j
                z[one], steady[one] = seat[0], seat[1]
                break
        if not found:
            return -1 - one, 0.0
        _laid(
            cells,
            bounds[one, at[one, 0]],
            bounds[one, at[one, 0] + 1],
            at[one, 1],
            at[one, 2],
            1,
            stood,
            lanes,
            covered,
        )
        shaky += 1 if steady[one] == 0.0 else 0
        _shown(
            one,
            at[one, 0],
            at[one, 1],
            at[one, 2],
            z[one],
            sides,
            box,
            origin,
            cell,
            ground,
            sizes,
            along_x,
            along_y,
            middles,
            start,
            length,
            height,
            depth,
            across,
            flat,
        )
    for one in range(count):
        for other in range(len(at)):
            if other > one:
                t, i, j = at[one, 0], at[one, 1], at[one, 2]
                twice += pair_shared(one, t, i, j, z[one], other, at, z, sizes, firsts, tops, unders)
    value = _worth(
        sides,
        box,
        cell,
        head,
        start,
        length,
        height,
        depth,
        across,
        flat,
        volume,
        radius,
        covered,
        lane_cells,
        weights,
        worst,
        out,
    )
    best_value, best_breach = value, twice + 20 * shaky
    best[:] = at[:count]
    best_z[:] = z[:count]
    last = int(LAST * steps)
    for step in range(steps):
        share = step / steps
        heat = HOT + (COLD - HOT) * min(1.0, share / LAST)
        cost = (SOFT + (STIFF - SOFT) * share) / 20
        one = _draw(state, count)
        t, i, j = at[one, 0], at[one, 1], at[one, 2]
        old = bounds[one, t], bounds[one, t + 1]
        kind = _draw(state, 9)
        new_t, new_i, new_j = t, i, j
        if kind == 0 and len(at) > 1:
            # Beside another piece, as a builder sets the small stones to the large ones.
            new_t = _draw(state, turns)
            other = (one + 1 + _draw(state, len(at) - 1)) % len(at)
            wide, deep = sizes[other, at[other, 0], 0], sizes[other, at[other, 0], 1]
            own_wide, own_deep = sizes[one, new_t, 0], sizes[one, new_t, 1]
            along = _draw(state, 2)
            into = _draw(state, 5)
            if along == 0:
                new_i = at[other, 1] + (wide - into if _draw(state, 2) == 0 else into - own_wide)
                new_j = at[other, 2] - own_deep // 2 + _draw(state, deep)
            else:
                new_i = at[other, 1] - own_wide // 2 + _draw(state, wide)
                new_j = at[other, 2] + (deep - into if _draw(state, 2) == 0 else into - own_deep)
        elif kind == 1:
            new_t = _draw(state, turns)
            new_i = _draw(state, max(1, columns - sizes[one, new_t, 0] + 1))
            new_j = _draw(state, max(1, rows - sizes[one, new_t, 1] + 1))
        elif kind < 4:
            new_t = _draw(state, turns)
            new_i += (sizes[one, t, 0] - sizes[one, new_t, 0]) // 2 + _draw(state, 3) - 1
            new_j += (sizes[one, t, 1] - sizes[one, new_t, 1]) // 2 + _draw(state, 3) - 1
        else:
            far = 1 + int((1 - share) * 10) if kind < 7 else 1
            new_i += _draw(state, 2 * far + 1) - far
            new_j += _draw(state, 2 * far + 1) - far
        first, end = bounds[one, new_t], bounds[one, new_t + 1]
        if not seated(
            cells,
            under,
            first,
            end,
            new_i,
            new_j,
            middles[one, new_t, 0],
            middles[one, new_t, 1],
            tall[one],
            burial,
            limit[one],
            allowed,
            bed,
            deck,
            seat,
        ):
            continue
        breach = twice + 20 * shaky
        new_twice = twice - _shared(one, t, i, j, z[one], at, z, sizes, firsts, tops, unders)
        new_twice += _shared(one, new_t, new_i, new_j, seat[0], at, z, sizes, firsts, tops, unders)
        new_shaky = shaky + (1 if seat[1] == 0.0 else 0) - (1 if steady[one] == 0.0 else 0)
        new_breach = new_twice + 20 * new_shaky
        if step >= last and new_breach > breach:
            continue
        worse = cost * (new_breach - breach)
        threshold = heat * waits[_draw(state, len(waits))]
        # No gain can outweigh so much: a whole look at the layout is saved.
        if worse - (1.0 - value) > threshold:
            continue
        _laid(cells, old[0], old[1], i, j, -1, stood, lanes, covered)
        _laid(cells, first, end, new_i, new_j, 1, stood, lanes, covered)
        _shown(
            one,
            new_t,
            new_i,
            new_j,
            seat[0],
            sides,
            box,
            origin,
            cell,
            ground,
            sizes,
            along_x,
            along_y,
            middles,
            start,
            length,
            height,
            depth,
            across,
            flat,
        )
        new_value = _worth(
            sides,
            box,
            cell,
            head,
            start,
            length,
            height,
            depth,
            across,
            flat,
            volume,
            radius,
            covered,
            lane_cells,
            weights,
            worst,
            out,
        )
        kept = value - new_value + worse <= threshold
        if not kept:
            _shown(
                one,
                t,
                i,
                j,
                z[one],
                sides,
                box,
                origin,
                cell,
                ground,
                sizes,
                along_x,
                along_y,
                middles,
                start,
                length,
                height,
                depth,
                across,
                flat,
            )
        if not kept:
            _laid(cells, first, end, new_i, new_j, -1, stood, lanes, covered)
            _laid(cells, old[0], old[1], i, j, 1, stood, lanes, covered)
            continue
        at[one, 0], at[one, 1], at[one, 2] = new_t, new_i, new_j
        z[one], steady[one] = seat[0], seat[1]
        twice, shaky, value = new_twice, new_shaky, new_value
        if new_breach < best_breach or (new_breach == best_breach and value > best_value):
            best_breach, best_value = new_breach, value
            best[:] = at[:count]
            best_z[:] = z[:count]
    return best_breach, best_value


@compiled
def added(
    seed: int,
    tries: int,
    cells: Ints,
    under: Floats,
    bounds: Ints,
    sizes: Ints,
    firsts: Ints,
    tops: Floats,
    unders: Floats,
    at: Ints,
    heights: Floats,
    along_x: Floats,
    along_y: Floats,
    middles: Floats,
    tall: Floats,
    limit: Floats,
    burial: float,
    allowed: NDArray[np.uint8],
    bed: Floats,
    deck: Floats,
    fixed: NDArray[np.int16],
    lanes: NDArray[np.uint8],
    lane_cells: Ints,
    sides: Ints,
    box: Floats,
    origin: Floats,
    cell: float,
    ground: float,
    head: float,
    start: Floats,
    length: Ints,
    height: Floats,
    depth: Floats,
    across: Floats,
    flat: Floats,
    volume: Floats,
    radius: Floats,
    weights: Floats,
    best: Ints,
    best_z: Floats,
) -> float:
    """The best of some places of the first piece, let down onto bed and deck from above; minus 1 where none is steady."""
    rows, columns = allowed.shape
    turns = sizes.shape[1]
    state = np.zeros(1, np.int64)
    state[0] = seed
    stood = fixed.copy()
    covered = np.zeros(2, np.int64)
    for j in range(rows):
        for i in range(columns):
            if stood[j, i] > 0:
                covered[0] += lanes[0, j, i]
                covered[1] += lanes[1, j, i]
    seat = np.zeros(2)
    worst = np.zeros(len(weights) - 2)
    out = np.zeros(len(weights) - 2)
    best_value = -1.0
    for _ in range(tries):
        t = _draw(state, turns)
        i = _draw(state, max(1, columns - sizes[0, t, 0] + 1))
        j = _draw(state, max(1, rows - sizes[0, t, 1] + 1))
        first, end = bounds[0, t], bounds[0, t + 1]
        if not seated(
            cells,
            under,
            first,
            end,
            i,
            j,
            middles[0, t, 0],
            middles[0, t, 1],
            tall[0],
            burial,
            limit[0],
            allowed,
            bed,
            deck,
            seat,
        ):
            continue
        if seat[1] == 0.0 or _shared(0, t, i, j, seat[0], at, heights, sizes, firsts, tops, unders):
            continue
        _laid(cells, first, end, i, j, 1, stood, lanes, covered)
        _shown(
            0,
            t,
            i,
            j,
            seat[0],
            sides,
            box,
            origin,
            cell,
            ground,
            sizes,
            along_x,
            along_y,
            middles,
            start,
            length,
            height,
            depth,
            across,
            flat,
        )
        value = _worth(
            sides,
            box,
            cell,
            head,
            start,
            length,
            height,
            depth,
            across,
            flat,
            volume,
            radius,
            covered,
            lane_cells,
            weights,
            worst,
            out,
        )
        _laid(cells, first, end, i, j, -1, stood, lanes, covered)
        if value > best_value:
            best_value = value
            best[0, 0], best[0, 1], best[0, 2] = t, i, j
            best_z[0] = seat[0]
    return best_value
