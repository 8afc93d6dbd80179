"""Light followed once more: plain NumPy, photon for photon, on a plain box with a flat bed and blocks for stones.

Shares no code with the program: a photon is taken whole or not at all at every surface and in the water, so nothing is
weighed, aimed or evened out, and each polarisation goes its own way through the panes.
"""

from __future__ import annotations

import numpy as np

AIR, WATER, GLASS = 1.0, 1.333, 1.52


def _fresnel(cosine, n1, n2):
    """Power mirrored, s and p, by Fresnel; cosine of the other side."""
    sine2 = (n1 / n2) * np.sqrt(np.clip(1 - cosine**2, 0, None))
    total = sine2 >= 1
    other = np.sqrt(np.clip(1 - sine2**2, 0, None))
    s = np.abs((n1 * cosine - n2 * other) / (n1 * cosine + n2 * other + 1e-30)) ** 2
    p = np.abs((n2 * cosine - n1 * other) / (n2 * cosine + n1 * other + 1e-30)) ** 2
    return np.where(total, 1.0, s), np.where(total, 1.0, p), other


def _slab(cosine):
    found = np.zeros_like(cosine)
    rs, rp, within = _fresnel(cosine, WATER, GLASS)
    qs, qp, _ = _fresnel(within, GLASS, AIR)
    for first, second in ((rs, qs), (rp, qp)):
        # Sum of the series of all passes to and fro.
        through, total = (1 - first), first.copy()
        for _ in range(60):
            through = through * second
            total = total + through * (1 - first)
            through = through * first
        found += total / 2
    return np.where(cosine**2 <= 1 - (AIR / WATER) ** 2, 1.0, np.clip(found, 0, 1))


def followed(*, size, rim, line, soil, lamp, blocks, loss, albedo_soil, albedo_stone, sensor, photons, seed):
    """Shares of sinks, and counts on a level sensor.

    size: length and width; lamp: (x, y, z, length, width); blocks: (x0, y0, z0, x1, y1, z1) each; loss 1/m of all colours;
    sensor: (z, x0, y0, x1, y1).
    """
    random = np.random.default_rng(seed)
    sinks = dict.fromkeys(("missed", "surface", "out", "water", "glass", "soil", "stone"), 0)
    length, width = size
    n = photons
    p = np.empty((n, 3))
    p[:, 0] = lamp[0] + (random.random(n) - 0.5) * lamp[3]
    p[:, 1] = lamp[1] + (random.random(n) - 0.5) * lamp[4]
    p[:, 2] = lamp[2]
    down, around = np.sqrt(random.random(n)), 2 * np.pi * random.random(n)
    level = np.sqrt(1 - down**2)
    d = np.column_stack([level * np.cos(around), level * np.sin(around), -down])
    at_rim = p + d * ((rim - p[:, 2]) / d[:, 2])[:, None]
    ok = (at_rim[:, 0] > 0) & (at_rim[:, 0] < length) & (at_rim[:, 1] > 0) & (at_rim[:, 1] < width)
    sinks["missed"] += int((~ok).sum())
    p, d = at_rim[ok], d[ok]
    wet = np.zeros(len(p), bool)
    counted = 0
    for _ in range(1000):
        if not len(p):
            break
        far = np.full((len(p), 7), np.inf)
        with np.errstate(divide="ignore", invalid="ignore"):
            far[:, 0] = np.where(d[:, 0] < 0, -p[:, 0] / d[:, 0], np.inf)
            far[:, 1] = np.where(d[:, 0] > 0, (length - p[:, 0]) / d[:, 0], np.inf)
            far[:, 2] = np.where(d[:, 1] < 0, -p[:, 1] / d[:, 1], np.inf)
            far[:, 3] = np.where(d[:, 1] > 0, (width - p[:, 1]) / d[:, 1], np.inf)
            far[:, 4] = np.where((d[:, 2] < 0) & wet, (soil - p[:, 2]) / d[:, 2], np.inf)
            far[:, 5] = np.where((d[:, 2] > 0) == wet, (line - p[:, 2]) / d[:, 2], np.inf)
        block_axis = np.zeros(len(p), int)
        for x0, y0, z0, x1, y1, z1 in blocks:
            with np.errstate(divide="ignore", invalid="ignore"):
                a = (np.array([x0, y0, z0]) - p) / d
                b = (np.array([x1, y1, z1]) - p) / d
            near, end = np.minimum(a, b), np.maximum(a, b)
            axis = near.argmax(axis=1)
            enter, leave = near.max(axis=1), end.min(axis=1)
            hit = (enter < leave) & (enter > 1e-9) & (enter < far[:, 6])
            far[hit, 6] = enter[hit]
            block_axis[hit] = axis[hit]
        what = far.argmin(axis=1)
        t = far.min(axis=1)
        free = np.where(wet, random.exponential(1 / loss, len(p)), np.inf)
        lost = free < t
        t = np.minimum(t, free)
        after = p + d * t[:, None]
        z, x0, y0, x1, y1 = sensor
        passing = wet & (d[:, 2] < 0) & (p[:, 2] > z) & (after[:, 2] <= z)
        cross = p + d * np.where(passing, (z - p[:, 2]) / np.where(passing, d[:, 2], 1), 0)[:, None]
        counted += int(
            (passing & (cross[:, 0] > x0) & (cross[:, 0] < x1) & (cross[:, 1] > y0) & (cross[:, 1] < y1)).sum()
        )
        p = after
        alive = ~lost
        sinks["water"] += int(lost.sum())
        dice = random.random(len(p))
        # Panes; above the water, where they are dry, all passes through but what glass in air mirrors.
        pane = alive & (what < 4)
        axis = np.where(what < 2, 0, 1)
        cosine = np.abs(d[np.arange(len(p)), axis])
        rs, rp, inner = _fresnel(cosine, AIR, GLASS)
        dry = ((2 * rs / (1 + rs)) + (2 * rp / (1 + rp))) / 2
        gone = pane & (dice >= np.where(wet, _slab(cosine), dry))
        sinks["glass"] += int(gone.sum())
        back = pane & ~gone
        d[np.flatnonzero(back), axis[back]] *= -1
        alive &= ~gone
        # Surface, from above and from below.
        face = alive & (what == 5)
        above = face & ~wet
        rs, rp, inner = _fresnel(np.abs(d[:, 2]), AIR, WATER)
        off = above & (dice < (rs + rp) / 2)
        sinks["surface"] += int(off.sum())
        alive &= ~off
        into = above & ~off
        d[into, :2] /= WATER
        d[into, 2] = -inner[into]
        rs, rp, inner = _fresnel(np.abs(d[:, 2]), WATER, AIR)
        below = face & wet
        out = below & (dice >= (rs + rp) / 2)
        sinks["out"] += int(out.sum())
        alive &= ~out
        d[below & ~out, 2] *= -1
        wet = wet | into
        # Soil and stone.
        for name, here, albedo in (("soil", what == 4, albedo_soil), ("stone", what == 6, albedo_stone)):
            struck = alive & here
            taken = struck & (dice >= albedo)
            sinks[name] += int(taken.sum())
            alive &= ~taken
            thrown = np.flatnonzero(struck & ~taken)
            if len(thrown):
                normal = np.zeros((len(thrown), 3))
                if name == "soil":
                    normal[:, 2] = 1
                else:
                    normal[np.arange(len(thrown)), block_axis[thrown]] = -np.sign(d[thrown, block_axis[thrown]])
                # Lambert: a point on the unit sphere about the tip of the normal.
                ball = random.normal(size=(len(thrown), 3))
                new = normal + ball / np.linalg.norm(ball, axis=1)[:, None]
                d[thrown] = new / np.linalg.norm(new, axis=1)[:, None]
                p[thrown] += 1e-8 * normal
        p, d, wet = p[alive], d[alive], wet[alive]
    return {name: count / photons for name, count in sinks.items()}, counted / photons
