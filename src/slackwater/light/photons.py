"""Photons to maps: what arrives on the bed and at level sensors over it, with the error of each cell and where the rest went."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from math import ceil

import numpy as np

from slackwater.errors import BadInput, check_range
from slackwater.layout.bed import inside
from slackwater.layout.ground import height_and_slope
from slackwater.layout.scene import Bed, Floats, Glass, Layout
from slackwater.light import surfaces, tracer
from slackwater.light.absorption import attenuation_by_band_per_m
from slackwater.light.lamps import Emitter, packed
from slackwater.light.rays import ALBEDO, Tree, tree_of_layout

CELL_M = 0.01
LEAST_FREE = 0.25
"""Share of a cell that must lie free of stone and within the glass for its light to be told."""
BATCHES = 16
"""The error of a cell is the spread over these, each started by itself."""
SAMPLES = 3
"""Each way in a cell, for the part of it that is free."""


@dataclass(frozen=True)
class Effort:
    """How long to go on.

    Attributes
    ----------
    samples : int
        Paths straight from each lamp to each sensor, sixteen times over.
    photons : int
        Most photons, all lamps together.
    noise : float
        Mean relative standard error of the cells below which it is enough.
    """

    samples: int = 8
    photons: int = 12_000_000
    noise: float = 0.03


PREVIEW = Effort(samples=2, photons=200_000, noise=0.0)
"""While editing; blurred over 3 cm, see `blurred`."""
FINAL = Effort()


@dataclass(frozen=True, eq=False)
class Traced:
    """Light of one set of lamps. Grids have one row for each step of y, and nan where a cell holds no free bed.

    Attributes
    ----------
    x_m, y_m : array
        Middles of the cells.
    levels_m : tuple of float
        Heights over the bed of the level sensors.
    sensed, sensed_error : array
        At the sensors [levels, rows, columns], µmol/m²/s, and its standard error.
    landed, landed_error : array
        On the soil itself, by its own (sloped) surface.
    sinks : mapping
        Shares of what the lamps send out, by `tracer.SINKS`; they sum to 1.
    bands : tuple of float
        Shares of the bands in what arrives at the soil.
    flux_umol_s : float
        Sent out.
    photons : int
        Followed.
    """

    x_m: Floats
    y_m: Floats
    levels_m: tuple[float, ...]
    sensed: Floats
    sensed_error: Floats
    landed: Floats
    landed_error: Floats
    sinks: Mapping[str, float]
    bands: tuple[float, ...]
    flux_umol_s: float
    photons: int

    @property
    def noise(self) -> float:
        """Mean relative standard error of the cells at the lowest sensors; cells in deep shade left out."""
        return _noise(self.sensed[0], self.sensed_error[0])


def _noise(value: Floats, error: Floats) -> float:
    lit = np.isfinite(value) & (value > 0.1 * np.nanmean(value)) if np.isfinite(value).any() else np.zeros(0, bool)
    return float((error[lit] / value[lit]).mean()) if lit.any() else 0.0


@dataclass(frozen=True, eq=False)
class Ready:
    """A layout made ready for light, so that lamps can be tried on it.

    Attributes
    ----------
    areas_m2 : array
        Free area of each sensor [levels, rows, columns].
    soil_m2 : array
        Free surface of the soil of each cell.
    """

    tree: Tree
    tank: Floats
    walls: Floats
    x_m: Floats
    y_m: Floats
    levels_m: tuple[float, ...]
    sensors: Floats
    areas_m2: Floats
    soil_m2: Floats
    losses: Floats
    tables: tuple[Floats, Floats, Floats]


def _walls(glass: Glass) -> Floats:
    corners = np.asarray(glass.corners_m, dtype=np.float64)
    edges = np.roll(corners, -1, axis=0) - corners
    length = np.hypot(edges[:, 0], edges[:, 1])
    if (length <= 0).any():
        raise BadInput("the outline of the tank has two corners in one place; remove one of them")
    # Against the clock, the outside lies to the right of each edge.
    return np.column_stack([corners, edges, edges[:, 1] / length, -edges[:, 0] / length])


def _is_plain_box(glass: Glass) -> bool:
    x0, y0, x1, y1 = glass.box_m
    return len(glass.corners_m) == 4 and all(x in (x0, x1) and y in (y0, y1) for x, y in glass.corners_m)


def ready(
    layout: Layout,
    *,
    attenuation_per_m: float,
    levels_m: Sequence[float] = (0.01, 0.10),
    cell_m: float = CELL_M,
    albedo: Mapping[str, float] = ALBEDO,
    water_index: float = surfaces.WATER,
    samples: int = SAMPLES,
) -> Ready:
    """A layout made ready for light.

    Parameters
    ----------
    layout : Layout
        Bed, stones and wood.
    attenuation_per_m : float
        Of the water, see `absorption.attenuation_by_band_per_m` [1/m]; with 0 it takes nothing.
    levels_m : floats
        Heights of the level sensors over the bed [m]; none is put above the water.
    cell_m : float
        Edge of a cell, about [m, 0.002 to 0.2].
    albedo : mapping
        Share that soil, stone and wood throw back.
    water_index : float
        Refractive index of the water; with 1 the tank is dry.
    samples : int
        Each way in a cell, for the part of it that is free.

    Raises
    ------
    OutOfRange, BadInput
        Where a number or the outline cannot be used.
    """
    check_range("cell_m", cell_m, 0.002, 0.2, unit="m")
    check_range("water_index", water_index, 1, 2, unit="")
    glass, bed = layout.glass, layout.bed
    tree = tree_of_layout(layout, albedo=albedo)
    x0, y0, x1, y1 = glass.box_m
    columns, rows = (max(2, round((high - low) / cell_m)) for low, high in ((x0, x1), (y0, y1)))
    dx, dy = (x1 - x0) / columns, (y1 - y0) / rows
    x: Floats = np.asarray(x0 + (np.arange(columns) + 0.5) * dx, dtype=np.float64)
    y: Floats = np.asarray(y0 + (np.arange(rows) + 0.5) * dy, dtype=np.float64)
    at_x, at_y = np.meshgrid(x, y)
    height, rise_x, rise_y = height_and_slope(bed, at_x, at_y)
    deepest = glass.water_line_m - 0.001
    sensors = np.array([np.minimum(height + level, deepest) for level in levels_m])
    free = _free(tree, glass, bed, x, y, sensors, samples)
    tables = _tables(water_index)
    walls = _walls(glass)
    if len(walls) == 4 and not _is_plain_box(glass):
        # Four panes are taken for a plain box by the tracer; a fifth of no length, never met, tells that they are not.
        walls = np.vstack([walls, [[x0, y0, 1e-9, 0, 0, 0]]])
    return Ready(
        tree=tree,
        tank=np.array(
            [
                *(x0, y0, x1, y1),
                glass.water_line_m,
                max(glass.height_m, glass.water_line_m + 1e-6),
                float(tree.highest_m > glass.water_line_m),
                water_index,
            ]
        ),
        walls=walls,
        x_m=x,
        y_m=y,
        levels_m=tuple(float(level) for level in levels_m),
        sensors=sensors,
        areas_m2=free[1:] * dx * dy,
        soil_m2=free[0] * dx * dy * np.sqrt(1 + rise_x**2 + rise_y**2),
        losses=attenuation_by_band_per_m(attenuation_per_m=attenuation_per_m) if attenuation_per_m > 0 else np.zeros(6),
        tables=tables,
    )


def _tables(water_index: float) -> tuple[Floats, Floats, Floats]:
    """Shares mirrored by the square of the cosine: from air, from water, and by panes wet [0] and dry [1]."""
    cosine = np.sqrt(np.linspace(0, 1, tracer.TABLE))
    dry = water_index == surfaces.AIR
    pane = surfaces.AIR if dry else surfaces.GLASS
    wet = surfaces.pane_reflectance_of(cosine, inside=water_index, pane=pane)
    bare = surfaces.pane_reflectance_of(cosine, inside=surfaces.AIR, pane=pane)
    if dry:
        # A tank of which nothing mirrors, for closed forms: also at a grazing angle.
        wet, bare = np.zeros_like(wet), np.zeros_like(bare)
        return np.zeros_like(wet), np.zeros_like(wet), np.array([wet, bare])
    return (
        surfaces.reflectance_of(cosine, n1=surfaces.AIR, n2=water_index),
        surfaces.reflectance_of(cosine, n1=water_index, n2=surfaces.AIR),
        np.array([wet, bare]),
    )


def _free(tree: Tree, glass: Glass, bed: Bed, x: Floats, y: Floats, sensors: Floats, samples: int) -> Floats:
    """Share of each cell that is within the glass and outside of stones, at the soil and at each level [1 + levels, rows, columns]."""
    dx, dy = x[1] - x[0], y[1] - y[0]
    offsets = (np.arange(samples) + 0.5) / samples - 0.5
    found = np.zeros((1 + len(sensors), len(y), len(x)))
    box = _is_plain_box(glass)
    for across in offsets:
        for along in offsets:
            at_x, at_y = np.meshgrid(x + across * dx, y + along * dy)
            here = np.ones(at_x.shape, bool) if box else inside(glass.corners_m, at_x, at_y)
            soil, _, _ = height_and_slope(bed, at_x, at_y)
            for level, height in enumerate([soil + 1e-4, *sensors]):
                points = np.column_stack([at_x.ravel(), at_y.ravel(), np.maximum(height, soil + 1e-4).ravel()])
                clear = tree.above(points) != 2 if np.isfinite(tree.highest_m) else np.ones(len(points), bool)
                found[level] += here & clear.reshape(at_x.shape)
    return found / samples**2


def traced(
    scene: Ready,
    emitters: Sequence[Emitter],
    *,
    effort: Effort = FINAL,
    seed: int = 1,
    workers: int = 2,
    on_progress: Callable[[float], None] = lambda _: None,
    going: Callable[[], bool] = lambda: True,
) -> Traced:
    """Follow photons until the map is quiet enough.

    Parameters
    ----------
    scene : Ready
        Where they go.
    emitters : sequence
        Where they come from.
    effort : Effort
        When it is enough.
    seed : int
        Same seed, same map; the number of workers does not change it.
    workers : int
        Threads.
    on_progress : callable
        Told the share of the photons that are done, of those expected.
    going : callable
        Asked after each round; with False the best map so far is handed back.

    Raises
    ------
    BadInput
        If there is no lamp.
    """
    if not emitters:
        raise BadInput("light needs a lamp: there is none; tell light.lamps in the job")
    rows, tables, shares = packed(emitters)
    total = float(rows[:, 5].sum())
    shape = (len(scene.levels_m), len(scene.y_m), len(scene.x_m))
    random = np.random.default_rng(seed)
    shifts = random.random((BATCHES, len(rows), 5))
    states = random.integers(0, 2**63, size=(BATCHES, 1)).astype(np.uint64)
    sensed, landed = np.zeros((BATCHES, *shape)), np.zeros((BATCHES, *shape[1:]))
    sinks, bands = np.zeros((BATCHES, len(tracer.SINKS))), np.zeros((BATCHES, 6))
    ranges = np.array([[level.min(), level.max()] for level in scene.sensors])
    lit = [number for number, row in enumerate(rows) if row[5] > 0]
    each = np.maximum(1, np.ceil(rows[:, 5] / max(total, 1e-300) * effort.photons / BATCHES / _rounds(effort))).astype(
        int
    )
    from_air, from_water, panes = scene.tables

    def batch(number: int, done: int) -> None:
        for lamp in lit:
            steps = (1.0 / tracer.ROOT) ** np.arange(1, 6)
            tracer.walk(
                rows[lamp],
                tables,
                int(each[lamp]),
                (shifts[number, lamp] + done * each[lamp] * steps) % 1.0,
                states[number],
                shares[lamp],
                scene.losses,
                scene.tank,
                scene.walls,
                scene.tree.boxes,
                scene.tree.links,
                scene.tree.triangles,
                scene.tree.kinds,
                scene.tree.albedos,
                from_air,
                from_water,
                panes,
                scene.sensors,
                ranges,
                sinks[number],
                sensed[number],
                landed[number],
                bands[number],
            )

    straight, valid = np.zeros((BATCHES, *shape)), np.zeros((BATCHES, *shape))

    def straight_batch(number: int) -> None:
        for lamp in lit:
            tracer.gathered(
                rows[lamp],
                tables,
                effort.samples,
                states[number],
                shares[lamp],
                scene.losses,
                scene.tank,
                scene.walls,
                scene.tree.boxes,
                scene.tree.links,
                scene.tree.triangles,
                from_air,
                scene.sensors,
                straight[number],
                valid[number],
            )

    areas = np.where(scene.areas_m2 >= LEAST_FREE * _cell_m2(scene), scene.areas_m2, np.nan)
    soil = np.where(scene.soil_m2 >= LEAST_FREE * _cell_m2(scene), scene.soil_m2, np.nan)
    rounds = _rounds(effort)
    value = error = np.zeros(shape)
    done = 0
    with ThreadPoolExecutor(max_workers=workers) as pool:
        list(pool.map(straight_batch, range(BATCHES)))
        straight *= max(len(lit), 1) / np.maximum(valid.mean(axis=0), 1)
        while done < rounds and lit:
            list(pool.map(batch, range(BATCHES), [done] * BATCHES))
            done += 1
            both = straight + sensed / done / areas
            value, error = both.mean(axis=0), both.std(axis=0, ddof=1) / np.sqrt(BATCHES)
            noise = _noise(value[0], error[0])
            # Independent photons: the noise falls with the root of their number, so the rest can be told from it.
            need = min(rounds, ceil(done * (noise / effort.noise) ** 2)) if effort.noise > 0 else rounds
            on_progress(min(1.0, done / max(need, 1)))
            if noise < effort.noise or not going():
                break
    passes = max(done, 1)
    if not lit:
        value, error = np.where(np.isnan(areas), np.nan, 0.0), np.where(np.isnan(areas), np.nan, 0.0)
    arrived = bands.sum(axis=0)
    return Traced(
        x_m=scene.x_m,
        y_m=scene.y_m,
        levels_m=scene.levels_m,
        sensed=value,
        sensed_error=error,
        landed=landed.mean(axis=0) / passes / soil,
        landed_error=landed.std(axis=0, ddof=1) / np.sqrt(BATCHES) / passes / soil,
        sinks=dict(zip(tracer.SINKS, (sinks.mean(axis=0) / passes / max(total, 1e-300)).tolist(), strict=True)),
        bands=tuple((arrived / arrived.sum()).tolist()) if arrived.sum() > 0 else (0.0,) * 6,
        flux_umol_s=total,
        photons=int(each[lit].sum()) * BATCHES * done,
    )


def _rounds(effort: Effort) -> int:
    """Rounds of about half a million photons, after each of which it is asked whether that is enough."""
    return max(1, round(effort.photons / 500_000)) if effort.noise > 0 else 1


def _cell_m2(scene: Ready) -> float:
    return float((scene.x_m[1] - scene.x_m[0]) * (scene.y_m[1] - scene.y_m[0]))


def blurred(grid: Floats, weights: Floats, *, cells: float) -> Floats:
    """A grid evened out with a bell curve of that standard deviation [cells]; where nan, nothing is taken and nothing told.

    Each cell counts with its weight, such as its free area.
    """
    radius = max(1, ceil(3 * cells))
    bell = np.exp(-0.5 * (np.arange(-radius, radius + 1) / cells) ** 2)
    known = np.isfinite(grid)
    part = np.where(known, weights, 0.0)

    def both(values: Floats) -> Floats:
        for axis in (0, 1):
            values = np.apply_along_axis(
                lambda line: np.convolve(line, bell, mode="full")[radius:-radius], axis, values
            )
        return values

    over = both(np.where(known, grid, 0.0) * part)
    under = both(part)
    return np.where(known, over / np.where(under > 0, under, 1.0), np.nan)
