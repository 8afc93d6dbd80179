"""The loops of the light: the tree of boxes round the triangles, the nearest hit, and the walk of one photon after another.

One file, because what is compiled is kept by the date of its own file only. Numbers that many loops share lie in arrays,
by the places named here.
"""

from __future__ import annotations

from math import acos, atan2, cos, exp, floor, inf, pi, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from slackwater.layout.compiled import compiled

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Words = NDArray[np.uint64]

SINKS = ("missed", "surface", "out", "water", "glass", "soil", "stone", "wood", "roulette")
"""Where the light ends: past the opening; mirrored at the surface from above; out through the surface from below; in the
water; through the panes; in soil, stone and wood. Roulette is what its ending of weak photons has taken less what it has
given to those it kept: nothing on average."""
MISSED, SURFACE, OUT, WATER, GLASS, SOIL, STONE, WOOD, ROULETTE = range(len(SINKS))
LEAF = 4
"""Triangles in a leaf of the tree, at most."""
STEPS = 400
"""Most bounces of one photon; roulette ends nearly all of them before the twentieth."""
ROOT = 1.1347241384015194
"""Of x^6 = x + 1: what spreads numbers most evenly in five dimensions (Roberts 2018)."""
WEAK, KEPT = 0.3, 0.5
"""A photon below this share of its start is ended or, in proportion, kept with that share."""
TABLE = 4096
"""Entries of the tables of mirrored shares, by the square of the cosine."""
# Kinds of lamp, in column 6 of the lamps: x, y of the middle, height, half length, half width, flux, kind, power, table, points.
LOBE, MEASURED = 0, 1
# Of the tank: least and greatest x and y, water line, rim, whether a stone stands out of the water, ratio of the indices.
X0, Y0, X1, Y1, LINE, RIM, EMERGED, INDEX = range(8)


# ---------------------------------------------------------------- the tree


@compiled
def tree(low: Floats, high: Floats, order: Ints, boxes: Floats, links: Ints) -> int:
    """Build a tree of boxes by halving at the middle of the longest spread of centres; returns the number of boxes.

    `order` is turned into the order of the triangles in the leaves; a box has in `links` its first child and 0, or its
    first triangle and their number.
    """
    count = 1
    stack = np.zeros((64, 3), dtype=np.int64)
    stack[0, 1], stack[0, 2] = 0, order.shape[0]
    deep = 1
    while deep > 0:
        deep -= 1
        box, start, end = stack[deep, 0], stack[deep, 1], stack[deep, 2]
        centre_low, centre_high = np.full(3, inf), np.full(3, -inf)
        for axis in range(3):
            boxes[box, axis], boxes[box, 3 + axis] = inf, -inf
        for at in range(start, end):
            one = order[at]
            for axis in range(3):
                boxes[box, axis] = min(boxes[box, axis], low[one, axis])
                boxes[box, 3 + axis] = max(boxes[box, 3 + axis], high[one, axis])
                middle = low[one, axis] + high[one, axis]
                centre_low[axis] = min(centre_low[axis], middle)
                centre_high[axis] = max(centre_high[axis], middle)
        axis = 0
        for other in range(1, 3):
            if centre_high[other] - centre_low[other] > centre_high[axis] - centre_low[axis]:
                axis = other
        if end - start <= LEAF or deep > 60:
            links[box, 0], links[box, 1] = start, end - start
            continue
        split = (centre_low[axis] + centre_high[axis]) / 2
        left, right = start, end - 1
        while left <= right:
            if low[order[left], axis] + high[order[left], axis] < split:
                left += 1
            else:
                order[left], order[right] = order[right], order[left]
                right -= 1
        if left in (start, end):
            left = (start + end) // 2
        links[box, 0], links[box, 1] = count, 0
        stack[deep, 0], stack[deep, 1], stack[deep, 2] = count, start, left
        stack[deep + 1, 0], stack[deep + 1, 1], stack[deep + 1, 2] = count + 1, left, end
        count += 2
        deep += 2
    return count


@compiled
def nearest(
    ox: float,
    oy: float,
    oz: float,
    dx: float,
    dy: float,
    dz: float,
    farthest: float,
    boxes: Floats,
    links: Ints,
    triangles: Floats,
    stack: Ints,
) -> tuple[float, int]:
    """Distance to the nearest triangle along a ray and its number in the tree's order; -1 where none lies nearer than that.

    Triangles: a corner and the two edges from it, nine numbers each (Möller and Trumbore 1997).
    """
    best, found = farthest, -1
    if boxes.shape[0] == 0:
        return best, found
    ix = 1.0 / dx if abs(dx) > 1e-14 else (1e14 if dx >= 0 else -1e14)
    iy = 1.0 / dy if abs(dy) > 1e-14 else (1e14 if dy >= 0 else -1e14)
    iz = 1.0 / dz if abs(dz) > 1e-14 else (1e14 if dz >= 0 else -1e14)
    stack[0] = 0
    deep = 1
    while deep > 0:
        deep -= 1
        box = stack[deep]
        one, other = (boxes[box, 0] - ox) * ix, (boxes[box, 3] - ox) * ix
        near, far = min(one, other), max(one, other)
        one, other = (boxes[box, 1] - oy) * iy, (boxes[box, 4] - oy) * iy
        near, far = max(near, min(one, other)), min(far, max(one, other))
        one, other = (boxes[box, 2] - oz) * iz, (boxes[box, 5] - oz) * iz
        near, far = max(near, min(one, other)), min(far, max(one, other))
        if far < near or far < 0 or near > best:
            continue
        first, number = links[box, 0], links[box, 1]
        if number == 0:
            # The child on the near side is looked at first, so that the other can often be left out.
            a = boxes[first, 0] * dx + boxes[first, 1] * dy + boxes[first, 2] * dz
            a += boxes[first, 3] * dx + boxes[first, 4] * dy + boxes[first, 5] * dz
            b = boxes[first + 1, 0] * dx + boxes[first + 1, 1] * dy + boxes[first + 1, 2] * dz
            b += boxes[first + 1, 3] * dx + boxes[first + 1, 4] * dy + boxes[first + 1, 5] * dz
            if a < b:
                stack[deep], stack[deep + 1] = first + 1, first
            else:
                stack[deep], stack[deep + 1] = first, first + 1
            deep += 2
            continue
        for at in range(first, first + number):
            ex, ey, ez = triangles[at, 3], triangles[at, 4], triangles[at, 5]
            fx, fy, fz = triangles[at, 6], triangles[at, 7], triangles[at, 8]
            px, py, pz = dy * fz - dz * fy, dz * fx - dx * fz, dx * fy - dy * fx
            turn = ex * px + ey * py + ez * pz
            if turn == 0.0:
                continue
            inverse = 1.0 / turn
            sx, sy, sz = ox - triangles[at, 0], oy - triangles[at, 1], oz - triangles[at, 2]
            u = (sx * px + sy * py + sz * pz) * inverse
            if u < -1e-9 or u > 1 + 1e-9:
                continue
            qx, qy, qz = sy * ez - sz * ey, sz * ex - sx * ez, sx * ey - sy * ex
            v = (dx * qx + dy * qy + dz * qz) * inverse
            if v < -1e-9 or u + v > 1 + 1e-9:
                continue
            t = (fx * qx + fy * qy + fz * qz) * inverse
            if 1e-7 < t < best:
                best, found = t, at
    return best, found


@compiled
def risen(points: Floats, boxes: Floats, links: Ints, triangles: Floats, out: Ints) -> None:
    """What lies straight above points [n, 3]: 0 nothing, 1 the outside of a face, 2 the inside of one (so it is within)."""
    stack = np.empty(128, dtype=np.int64)
    for one in range(points.shape[0]):
        _, hit = nearest(
            points[one, 0], points[one, 1], points[one, 2], 0.0, 0.0, 1.0, inf, boxes, links, triangles, stack
        )
        out[one] = 0
        if hit >= 0:
            up = triangles[hit, 3] * triangles[hit, 7] - triangles[hit, 4] * triangles[hit, 6]
            out[one] = 2 if up > 0 else 1


# ---------------------------------------------------------------- draws and tables


@compiled
def _draw(state: Words) -> float:
    """The next number from 0 to below 1 (splitmix64, Steele, Lea and Flood 2014)."""
    state[0] += np.uint64(0x9E3779B97F4A7C15)
    z = state[0]
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z = z ^ (z >> np.uint64(31))
    return float(z >> np.uint64(11)) / 9007199254740992.0


@compiled
def _mirrored(table: Floats, cosine: float) -> float:
    at = cosine * cosine * (TABLE - 1)
    low = min(int(at), TABLE - 2)
    return float(table[low] + (at - low) * (table[low + 1] - table[low]))


@compiled
def _wall(x: float, y: float, dx: float, dy: float, walls: Floats) -> tuple[float, int]:
    """Distance at which a ray leaves the outline, and the pane: x, y, edge x, y, outward normal x, y of each."""
    best, found = inf, -1
    for one in range(walls.shape[0]):
        outward = dx * walls[one, 4] + dy * walls[one, 5]
        if outward <= 1e-12:
            continue
        t = ((walls[one, 0] - x) * walls[one, 4] + (walls[one, 1] - y) * walls[one, 5]) / outward
        if t >= best:
            continue
        t = max(t, 0.0)
        # Of a plain box each ray leaves where it first crosses a pane's plane; of other outlines the pane must be there.
        if walls.shape[0] > 4:
            px, py = x + t * dx - walls[one, 0], y + t * dy - walls[one, 1]
            size = walls[one, 2] * walls[one, 2] + walls[one, 3] * walls[one, 3]
            along = (px * walls[one, 2] + py * walls[one, 3]) / size
            if along < -1e-9 or along > 1 + 1e-9:
                continue
        best, found = t, one
    return best, found


@compiled
def _within(x: float, y: float, walls: Floats) -> bool:
    inside = False
    for one in range(walls.shape[0]):
        y0, y1 = walls[one, 1], walls[one, 1] + walls[one, 3]
        if (y0 > y) != (y1 > y) and x < walls[one, 0] + walls[one, 2] * (y - y0) / (y1 - y0):
            inside = not inside
    return inside


@compiled
def _sensed(
    x: float,
    y: float,
    z: float,
    dx: float,
    dy: float,
    dz: float,
    length: float,
    weight: float,
    loss: float,
    tank: Floats,
    sensors: Floats,
    ranges: Floats,
    level: int,
    out: Floats,
) -> None:
    """Note where a falling leg passes the level sensors of its cells, each at a height of its own."""
    rows, columns = sensors.shape[1], sensors.shape[2]
    highest, lowest = ranges[level, 1], ranges[level, 0]
    start = max(0.0, (highest - z) / dz)
    end = min(length, (lowest - z) / dz)
    if end < start:
        return
    cell_x, cell_y = (tank[X1] - tank[X0]) / columns, (tank[Y1] - tank[Y0]) / rows
    u, v = (x + start * dx - tank[X0]) / cell_x, (y + start * dy - tank[Y0]) / cell_y
    i, j = min(max(floor(u), 0), columns - 1), min(max(floor(v), 0), rows - 1)
    step_u, step_v = abs(cell_x / dx) if dx != 0.0 else inf, abs(cell_y / dy) if dy != 0.0 else inf
    next_u = start + ((i + 1 - u) if dx > 0 else (u - i)) * step_u if dx != 0.0 else inf
    next_v = start + ((j + 1 - v) if dy > 0 else (v - j)) * step_v if dy != 0.0 else inf
    now = start
    while True:
        leave = min(next_u, next_v, end)
        at = (sensors[level, j, i] - z) / dz
        # The last bit of a leg belongs to it, its first bit does not: no crossing counts twice.
        if now - 1e-12 < at <= leave:
            out[level, j, i] += weight * exp(-loss * at)
        if leave >= end:
            return
        now = leave
        if next_u <= next_v:
            next_u += step_u
            i += 1 if dx > 0 else -1
            if i < 0 or i >= columns:
                return
        else:
            next_v += step_v
            j += 1 if dy > 0 else -1
            if j < 0 or j >= rows:
                return


# ---------------------------------------------------------------- straight from the lamp


@compiled
def _intensity(lamp: Floats, tables: Floats, down: float, around: float) -> float:
    """Share of a lamp's light for each unit of solid angle, by the cosine from straight down and the turn [1/sr]."""
    if lamp[6] == LOBE:
        return float((lamp[7] + 1) / (2 * pi) * down ** lamp[7])
    table = int(lamp[8])
    steep, turns = tables.shape[1], tables.shape[2] - 1
    row = min(int(acos(min(1.0, down)) / pi * steep), steep - 1)
    turned = (around - lamp[10]) / (2 * pi)
    column = min(int((turned - floor(turned)) * turns), turns - 1)
    ring = tables[table, row, 0] - (tables[table, row - 1, 0] if row > 0 else 0.0)
    part = tables[table, row, 1 + column] - (tables[table, row, column] if column > 0 else 0.0)
    return float(ring * part * turns / (2 * pi * (cos(pi * row / steep) - cos(pi * (row + 1) / steep))))


@compiled
def gathered(
    lamp: Floats,
    tables: Floats,
    samples: int,
    state: Words,
    share: Floats,
    losses: Floats,
    tank: Floats,
    walls: Floats,
    boxes: Floats,
    links: Ints,
    triangles: Floats,
    from_air: Floats,
    sensors: Floats,
    sensed: Floats,
    valid: Floats,
) -> None:
    """What comes straight from one lamp through the surface to the level sensors, mirrored by nothing.

    For places drawn on lamp and sensor the one path between them is found that the surface turns by Snell's law, and
    the light that it carries, from the spread of neighbouring paths. Adds up in `sensed` [levels, rows, columns] the
    light of each sample [flux for each m2], in `valid` the samples that lie in free water within the glass.
    """
    stack = np.empty(128, dtype=np.int64)
    levels, rows, columns = sensors.shape
    cell_x, cell_y = (tank[X1] - tank[X0]) / columns, (tank[Y1] - tank[Y0]) / rows
    ratio = tank[INDEX]
    for level in range(levels):
        for j in range(rows):
            for i in range(columns):
                depth = tank[LINE] - sensors[level, j, i]
                a, b, c, d = _draw(state), _draw(state), _draw(state), _draw(state)
                for _ in range(samples):
                    a, b, c, d = (
                        a + 0.8566748838545029,
                        b + 0.7338918566271260,
                        c + 0.6287067210378087,
                        d + 0.5385972572236101,
                    )
                    a, b, c, d = a - floor(a), b - floor(b), c - floor(c), d - floor(d)
                    x, y = tank[X0] + (i + a) * cell_x, tank[Y0] + (j + b) * cell_y
                    if walls.shape[0] != 4 and not _within(x, y, walls):
                        continue
                    if lamp[9] > 0:
                        c, d = (floor(c * lamp[9]) + 0.5) / lamp[9], d
                    lx, ly = lamp[0] + (2 * c - 1) * lamp[3], lamp[1] + (2 * d - 1) * lamp[4]
                    if lamp[9] > 0:
                        ly = lamp[1]
                    over = lamp[2] - tank[LINE]
                    wide = sqrt((lx - x) ** 2 + (ly - y) ** 2)
                    # Tangent in air, by Newton: from nought it rises to the answer and never past it.
                    q, bent = 0.0, ratio
                    for _ in range(40):
                        bent = sqrt(ratio * ratio + q * q * (ratio * ratio - 1))
                        missing = wide - over * q - depth * q / bent
                        q += missing / (over + depth * ratio * ratio / (bent * bent * bent))
                        if missing < 1e-10:
                            break
                    bent = sqrt(ratio * ratio + q * q * (ratio * ratio - 1))
                    level_x, level_y = ((lx - x) / wide, (ly - y) / wide) if wide > 1e-12 else (1.0, 0.0)
                    long_water = sqrt(1 + (q / bent) ** 2)
                    dz = 1 / long_water
                    dx, dy = level_x * q / bent * dz, level_y * q / bent * dz
                    far = depth * long_water
                    t, hit = nearest(x, y, sensors[level, j, i], dx, dy, dz, far, boxes, links, triangles, stack)
                    if hit >= 0:
                        nx = triangles[hit, 4] * triangles[hit, 8] - triangles[hit, 5] * triangles[hit, 7]
                        ny = triangles[hit, 5] * triangles[hit, 6] - triangles[hit, 3] * triangles[hit, 8]
                        nz = triangles[hit, 3] * triangles[hit, 7] - triangles[hit, 4] * triangles[hit, 6]
                        if nx * dx + ny * dy + nz * dz <= 0:
                            valid[level, j, i] += 1
                        continue
                    valid[level, j, i] += 1
                    if over <= 0:
                        continue
                    sx, sy = x + dx * far, y + dy * far
                    # Through the opening: within the glass at the surface, and from there up to the rim.
                    if sx <= tank[X0] or sx >= tank[X1] or sy <= tank[Y0] or sy >= tank[Y1]:
                        continue
                    rise = min(tank[RIM] - tank[LINE], over)
                    rx, ry = sx + level_x * q * rise, sy + level_y * q * rise
                    if rx <= tank[X0] or rx >= tank[X1] or ry <= tank[Y0] or ry >= tank[Y1]:
                        continue
                    long_air = sqrt(1 + q * q)
                    if walls.shape[0] != 4:
                        t, _ = _wall(x, y, dx, dy, walls)
                        if t < far or not _within(rx, ry, walls):
                            continue
                        t, _ = _wall(sx, sy, level_x * q / long_air, level_y * q / long_air, walls)
                        if t < rise * long_air:
                            continue
                    if tank[EMERGED] > 0:
                        ax, ay, az = level_x * q / long_air, level_y * q / long_air, 1 / long_air
                        t, hit = nearest(
                            sx, sy, tank[LINE], ax, ay, az, over * long_air, boxes, links, triangles, stack
                        )
                        if hit >= 0:
                            continue
                    around = atan2(y - ly, x - lx)
                    spread = (over + depth / bent) * (over + depth * ratio * ratio / (bent * bent * bent))
                    light = lamp[5] * _intensity(lamp, tables, 1 / long_air, around) / (spread * long_air**3)
                    light *= 1 - _mirrored(from_air, 1 / long_air)
                    left, before = 0.0, 0.0
                    for band in range(6):
                        left += (share[band] - before) * exp(-losses[band] * far)
                        before = share[band]
                    sensed[level, j, i] += light * left


# ---------------------------------------------------------------- the walk


@compiled
def _sent(lamp: Floats, tables: Floats, u: float, v: float, p: float, q: float, ray: Floats) -> None:
    """Start of one photon: place and direction, from four numbers that are spread evenly."""
    if lamp[9] > 0:
        # A row of points: each in the middle of its share of the length.
        u = (floor(u * lamp[9]) + 0.5) / lamp[9]
        v = 0.5
    ray[0], ray[1], ray[2] = lamp[0] + (2 * u - 1) * lamp[3], lamp[1] + (2 * v - 1) * lamp[4], lamp[2]
    around = 2 * pi * q
    if lamp[6] == LOBE:
        down = (1 - p) ** (1 / (lamp[7] + 1))
    else:
        table = int(lamp[8])
        steep, turns = tables.shape[1], tables.shape[2] - 1
        # Columns: share of the light up to the end of this angle, then shares of it by turn.
        row = np.searchsorted(tables[table, :, 0], p, side="right")
        row = min(row, steep - 1)
        before = tables[table, row - 1, 0] if row > 0 else 0.0
        share = (p - before) / max(tables[table, row, 0] - before, 1e-300)
        # Within a ring of directions the light is even over the solid angle, that is over the cosine.
        top, bottom = cos(pi * row / steep), cos(pi * (row + 1) / steep)
        down = top + share * (bottom - top)
        column = np.searchsorted(tables[table, row, 1:], q, side="right")
        column = min(column, turns - 1)
        before = tables[table, row, column] if column > 0 else 0.0
        share = (q - before) / max(tables[table, row, 1 + column] - before, 1e-300)
        around = 2 * pi * (column + share) / turns + lamp[10]
    level = sqrt(max(0.0, 1 - down * down))
    ray[3], ray[4], ray[5] = level * cos(around), level * sin(around), -down


@compiled
def walk(
    lamp: Floats,
    tables: Floats,
    photons: int,
    shift: Floats,
    state: Words,
    shares: Floats,
    losses: Floats,
    tank: Floats,
    walls: Floats,
    boxes: Floats,
    links: Ints,
    triangles: Floats,
    kinds: Ints,
    albedos: Floats,
    from_air: Floats,
    from_water: Floats,
    panes: Floats,
    sensors: Floats,
    ranges: Floats,
    sinks: Floats,
    sensed: Floats,
    landed: Floats,
    bands: Floats,
) -> None:
    """Follow the photons of one lamp; each starts with an even share of its flux.

    Places and directions of the starts fill their four dimensions evenly (additive recurrence with the powers of the
    root of x^6 = x + 1, Roberts 2018), shifted by `shift`; all else is drawn. `sensed` [levels, rows, columns] gets what
    passes the level sensors after it was mirrored or thrown back at least once (the rest is `gathered`), `landed` [rows, columns] what arrives at the soil, `bands` what arrives there by band.
    """
    start = lamp[5] / photons
    rows, columns = landed.shape
    ray = np.empty(6)
    ratio = tank[INDEX]
    steps = np.empty(5)
    for axis in range(5):
        steps[axis] = (1.0 / ROOT) ** (axis + 1)
    at = shift.copy()
    stack = np.empty(128, dtype=np.int64)
    for _ in range(photons):
        for axis in range(5):
            at[axis] += steps[axis]
            if at[axis] >= 1:
                at[axis] -= 1
        _sent(lamp, tables, at[0], at[1], at[2], at[3], ray)
        x, y, z = ray[0], ray[1], ray[2]
        dx, dy, dz = ray[3], ray[4], ray[5]
        if dz >= -1e-9 or z <= tank[LINE]:
            sinks[MISSED] += start
            continue
        # Over the rim: only what goes through the opening counts, and only that is followed.
        if z > tank[RIM]:
            t = (tank[RIM] - z) / dz
            x, y, z = x + t * dx, y + t * dy, tank[RIM]
        if x <= tank[X0] or x >= tank[X1] or y <= tank[Y0] or y >= tank[Y1]:
            sinks[MISSED] += start
            continue
        if walls.shape[0] != 4 and not _within(x, y, walls):
            sinks[MISSED] += start
            continue
        band = 0
        while band < 5 and at[4] >= shares[band]:
            band += 1
        loss = losses[band]
        weight = start
        below, straight = False, True
        # The way from the lamp to the rim may lead through a stone that stands out of the tank.
        if tank[EMERGED] > 0 and ray[2] > tank[RIM]:
            far = (ray[2] - tank[RIM]) / -dz
            t, hit = nearest(ray[0], ray[1], ray[2], dx, dy, dz, far, boxes, links, triangles, stack)
            if hit >= 0:
                x, y, z = ray[0] + t * dx, ray[1] + t * dy, ray[2] + t * dz
                sinks[kinds[hit]] += weight
                continue
        for _ in range(STEPS):
            t, wall = _wall(x, y, dx, dy, walls)
            face = 0
            if dz != 0.0 and (dz > 0) == below:
                up = (tank[LINE] - z) / dz
                if up < t:
                    t, face = max(up, 0.0), 1
            elif not below and dz > 0:
                up = (tank[RIM] - z) / dz
                if up < t:
                    t, face = max(up, 0.0), 2
            hit = -1
            if below or tank[EMERGED] > 0:
                t, hit = nearest(x, y, z, dx, dy, dz, t, boxes, links, triangles, stack)
            if below:
                if dz < 0 and not straight:
                    for level in range(sensors.shape[0]):
                        _sensed(x, y, z, dx, dy, dz, t, weight, loss, tank, sensors, ranges, level, sensed)
                left = weight * exp(-loss * t)
                sinks[WATER] += weight - left
                weight = left
            x, y, z = x + t * dx, y + t * dy, z + t * dz
            straight = straight and face == 1 and hit < 0 and not below
            if hit >= 0:
                kind = kinds[hit]
                if kind == SOIL:
                    i = min(max(int((x - tank[X0]) / (tank[X1] - tank[X0]) * columns), 0), columns - 1)
                    j = min(max(int((y - tank[Y0]) / (tank[Y1] - tank[Y0]) * rows), 0), rows - 1)
                    landed[j, i] += weight
                    bands[band] += weight
                albedo = albedos[hit]
                sinks[kind] += weight * (1 - albedo)
                weight *= albedo
                if weight <= 0.0:
                    break
                ex, ey, ez = triangles[hit, 3], triangles[hit, 4], triangles[hit, 5]
                fx, fy, fz = triangles[hit, 6], triangles[hit, 7], triangles[hit, 8]
                nx, ny, nz = ey * fz - ez * fy, ez * fx - ex * fz, ex * fy - ey * fx
                size = sqrt(nx * nx + ny * ny + nz * nz)
                if nx * dx + ny * dy + nz * dz > 0:
                    size = -size
                nx, ny, nz = nx / size, ny / size, nz / size
                # Even over the disc below the half sphere: Lambert's law.
                r, around = sqrt(_draw(state)), 2 * pi * _draw(state)
                a, b, c = r * cos(around), r * sin(around), sqrt(max(0.0, 1 - r * r))
                if abs(nx) > 0.7:
                    sx, sy, sz = -ny, nx, 0.0
                else:
                    sx, sy, sz = 0.0, -nz, ny
                size = sqrt(sx * sx + sy * sy + sz * sz)
                sx, sy, sz = sx / size, sy / size, sz / size
                tx, ty, tz = ny * sz - nz * sy, nz * sx - nx * sz, nx * sy - ny * sx
                dx, dy, dz = a * sx + b * tx + c * nx, a * sy + b * ty + c * ny, a * sz + b * tz + c * nz
                x, y, z = x + 1e-7 * nx, y + 1e-7 * ny, z + 1e-7 * nz
            elif face == 2:
                sinks[OUT] += weight
                break
            elif face == 1 and not below:
                mirrored = _mirrored(from_air, -dz)
                sinks[SURFACE] += weight * mirrored
                weight *= 1 - mirrored
                dx, dy = dx / ratio, dy / ratio
                dz = -sqrt(max(0.0, 1 - dx * dx - dy * dy))
                z = tank[LINE]
                below = True
            elif face == 1:
                mirrored = _mirrored(from_water, dz)
                sinks[OUT] += weight * (1 - mirrored)
                weight *= mirrored
                dz = -dz
                z = tank[LINE]
            elif wall >= 0:
                outward = dx * walls[wall, 4] + dy * walls[wall, 5]
                mirrored = _mirrored(panes[0 if below else 1], outward)
                sinks[GLASS] += weight * (1 - mirrored)
                weight *= mirrored
                dx, dy = dx - 2 * outward * walls[wall, 4], dy - 2 * outward * walls[wall, 5]
                x, y = x - 1e-9 * walls[wall, 4], y - 1e-9 * walls[wall, 5]
            else:
                sinks[GLASS] += weight
                weight = 0.0
            if z < -1e-6:
                sinks[SOIL] += weight
                weight = 0.0
            if weight <= 0.0:
                break
            if weight < WEAK * start:
                if _draw(state) * KEPT * start < weight:
                    sinks[ROULETTE] -= KEPT * start - weight
                    weight = KEPT * start
                else:
                    sinks[ROULETTE] += weight
                    weight = 0.0
                    break
        else:
            sinks[ROULETTE] += weight
