"""From a layout and its plants to a scene: everything under water as meshes, the light scaled to that of the plan."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import check_range
from slackwater.job.catalog import Catalog
from slackwater.layout.ground import height_m
from slackwater.layout.scene import Bed, Floats, Glass, Layout, stood
from slackwater.picture.forms import Stock, habit_of, plant_mesh
from slackwater.picture.places import UNDER_SURFACE_M, Kind, Spots, inside_m, panes_of, spots_of, within
from slackwater.picture.scene import SHEET_UNDER_M, Age, Lamp, Mesh, PictureScene, Rgb, Side, Thing, Water
from slackwater.picture.surfaces import Look, grain_colour, look_of, skin

OFF_PANE_M = 0.0006
"""Between what stands at a pane and the pane: both at one place flicker."""
LEAF_OFF_PANE_M = 0.002
FINEST_M = 0.0018
STEMS_CUT_AT = 0.68
"""Of the water over the soil: at what height stems are kept; common practice, no source."""
MOST_NODES = 170_000
"""Of the soil's surface."""
PURE_TINT_PER_M: Rgb = (0.34, 0.06, 0.012)
"""What pure water takes of red, green and blue light at 650, 550 and 450 nm; Pope and Fry (1997), Applied Optics 36(33), 8710-8723."""


@dataclass(frozen=True, eq=False)
class Still:
    """What is the same at all ages: made once, shared by the scenes of a job."""

    layout: Layout
    spots: Spots
    things: tuple[Thing, ...]


def still_of(layout: Layout, kinds: Sequence[Kind], catalog: Catalog, *, seed: int) -> Still:
    """Bed, stones and wood as they look, and where the plants stand.

    Parameters
    ----------
    seed : int
        Same seed, same picture.
    """
    things = [Thing("bed", "ground", bed_mesh(layout.bed, layout.glass, catalog, seed=seed))]
    for placement in layout.placements:
        piece = layout.pieces[placement.piece]
        look = look_of(piece.material, piece.kind)
        made = skin(piece.vertices_m, piece.faces, look, seed=_of(piece.key, seed))
        vertices = stood(made.vertices_m.astype(np.float64), placement)
        mesh = Mesh(kept_in(layout.glass, vertices, off_m=OFF_PANE_M, top=False), made.faces, made.colour)
        things.append(Thing(f"{piece.name} {placement.number}", "ground", mesh))
    return Still(layout=layout, spots=spots_of(layout, kinds, seed=seed), things=tuple(things))


def scene_of(
    still: Still,
    kinds: Sequence[Kind],
    age: Age,
    *,
    par_umol_m2_s: float,
    tint_per_m: Rgb = PURE_TINT_PER_M,
    seed: int,
) -> PictureScene:
    """Everything in the pictures of one age.

    Parameters
    ----------
    par_umol_m2_s : float
        Mean light on the bed [umol/(m2 s), above 0, to 1000].
    tint_per_m : three floats
        What the water takes of red, green and blue.

    Raises
    ------
    OutOfRange
    """
    check_range("par_umol_m2_s", par_umol_m2_s, 0.01, 1000, unit="umol/(m2 s)")
    glass = still.layout.glass
    plants = []
    for kind in kinds:
        spots = still.spots[kind.plant]
        if not len(spots):
            continue
        # Of its own for each kind, and the same at each age, so that a plant grows and is not another one.
        random = np.random.default_rng([seed, _of(kind.plant, 0)])
        size = kind.sizes[age]
        vary = np.clip(np.random.default_rng([seed, _of(kind.plant, 1)]).normal(1, 0.12, len(spots)), 0.7, 1.35)
        room = np.maximum(glass.water_line_m - UNDER_SURFACE_M - spots[:, 2], 0.01)
        habit = habit_of(kind.plant, kind.position)
        # Stems are cut before they reach the surface; ribbons may lie along it.
        height = np.minimum(size.height_m * vary, (STEMS_CUT_AT if habit.form == "stem" else 1.2) * vary * room)
        stock = Stock(spots, height, np.full(len(spots), size.spread_m) * vary, size.fullness)
        mesh = plant_mesh(random, habit, stock)
        vertices = kept_in(glass, mesh.vertices_m.astype(np.float64), off_m=LEAF_OFF_PANE_M, top=True)
        plants.append(Thing(kind.plant, "leaf", Mesh(vertices, mesh.faces, mesh.colour)))
    unseen: tuple[Side, ...] = tuple(
        side for side in ("front", "rear", "left", "right") if side not in (glass.public_sides or ("front",))
    )
    return PictureScene(
        age=age,
        things=(*still.things, *plants),
        water=Water(corners_m=glass.corners_m, line_m=glass.water_line_m, tint_per_m=tint_per_m),
        lamp=Lamp(
            par_umol_m2_s=par_umol_m2_s,
            radiance=par_umol_m2_s / irradiance_of_unit_sheet(still.layout),
        ),
        backdrop=unseen,
        height_m=glass.height_m,
        wall_m=glass.wall_m,
    )


def _of(name: str, seed: int) -> int:
    return zlib.crc32(f"{name} {seed}".encode())


def kept_in(glass: Glass, vertices: Floats, *, off_m: float, top: bool) -> NDArray[np.float32]:
    """Points pressed inside the panes, and under the surface of the water: leaves lean on glass, none passes it."""
    kept = np.array(vertices, dtype=np.float64)
    for _ in range(3):
        # Again: at a corner the second pane pushes back over the first.
        panes = panes_of(glass, kept[:, :2])
        near = panes.inside_m < off_m - 1e-9
        if not near.any():
            break
        kept[near, :2] = panes.foot_m[near] + off_m * panes.inward[near]
    if top:
        kept[:, 2] = np.minimum(kept[:, 2], glass.water_line_m - UNDER_SURFACE_M)
    return kept.astype(np.float32)


def irradiance_of_unit_sheet(layout: Layout, *, across: int = 40, below: int = 9) -> float:
    """Mean light on the bed under a sheet of radiance 1 over the whole mouth, nothing in between.

    Notes
    -----
    The sum over both of cos cos dA / r^2, the bed taken as level at its mean height. Panes throw nothing back here.
    """
    glass = layout.glass
    left, front, right, rear = glass.box_m
    height = glass.water_line_m - SHEET_UNDER_M - float(layout.bed.top_m.mean())

    def points(count: int) -> Floats:
        x = left + (np.arange(count) + 0.5) / count * (right - left)
        y = front + (np.arange(count) + 0.5) / count * (rear - front)
        over = np.column_stack([part.ravel() for part in np.meshgrid(x, y)])
        return np.asarray(over[inside_m(glass, over) > 0])

    sheet, bed = points(across), points(below)
    patch = (right - left) * (rear - front) / across**2
    square = ((bed[:, None] - sheet[None]) ** 2).sum(axis=2) + height**2
    return float((height**2 / square**2 * patch).sum(axis=1).mean())


# ---------------------------------------------------------------- the bed


def bed_mesh(bed: Bed, glass: Glass, catalog: Catalog, *, seed: int) -> Mesh:
    """The soil with its grains: its surface, and its cut at the panes."""
    left, front, right, rear = glass.box_m
    step = max(FINEST_M, ((right - left) * (rear - front) / MOST_NODES) ** 0.5)
    whole = Mesh.joined([_surface(bed, glass, catalog, step, seed), *_cuts(bed, glass, catalog, step, seed)])
    vertices = kept_in(glass, whole.vertices_m.astype(np.float64), off_m=OFF_PANE_M, top=False)
    return Mesh(vertices, whole.faces, whole.colour)


def _layers(bed: Bed, catalog: Catalog) -> list[tuple[Look, float]]:
    """Soil, base, then each bay: how it looks and how large its grains are drawn."""
    found = []
    for material in (bed.soil, bed.base or bed.soil, *(bay.material for bay in bed.bays)):
        row = catalog.materials.get(material)
        grain = 0.003 if row is None else (row.grain_min_mm + row.grain_max_mm) / 2000
        found.append((look_of(material, "soil"), max(grain, 0.0016)))
    return found


def _which(bed: Bed, over: Floats, depth: Floats) -> NDArray[np.int64]:
    """Number of the layer at points [n, 2] at a depth below the surface."""
    base = _base_m(bed, over)
    which = np.where(depth > height_m(bed, over[:, 0], over[:, 1]) - base, 1, 0)
    for number, bay in enumerate(bed.bays, start=2):
        which = np.where(within(over, bay.outline_m), number, which)
    return np.asarray(which)


def _base_m(bed: Bed, over: Floats) -> Floats:
    return height_m(replace(bed, top_m=bed.base_m), over[:, 0], over[:, 1])


def _coloured(
    plane: Floats, which: NDArray[np.int64], layers: list[tuple[Look, float]], seed: int
) -> tuple[Floats, Floats]:
    colour, height = np.zeros((len(plane), 3)), np.zeros(len(plane))
    for number, (look, grain) in enumerate(layers):
        here = which == number
        if here.any():
            colour[here], up = grain_colour(plane[here], look, grain_m=grain, seed=seed + number)
            height[here] = up * grain
    return colour, height


def _surface(bed: Bed, glass: Glass, catalog: Catalog, step: float, seed: int) -> Mesh:
    left, front, right, rear = glass.box_m
    off = OFF_PANE_M
    x = np.linspace(left + off, right - off, max(2, round((right - left) / step)))
    y = np.linspace(front + off, rear - off, max(2, round((rear - front) / step)))
    over = np.column_stack([part.ravel() for part in np.meshgrid(x, y)])
    colour, height = _coloured(over, _which(bed, over, np.zeros(len(over))), _layers(bed, catalog), seed)
    # Grains lie flat at the panes, so that the surface meets its cut there and no light comes through between.
    height = height * np.clip((inside_m(glass, over) - off) / 0.003, 0, 1)
    level = np.maximum(height_m(bed, over[:, 0], over[:, 1]) + height, 0.0003)
    corner = np.arange(len(over)).reshape(len(y), len(x))
    a, b, c, d = corner[:-1, :-1], corner[:-1, 1:], corner[1:, 1:], corner[1:, :-1]
    faces = np.concatenate([np.stack(one, axis=-1).reshape(-1, 3) for one in ((a, b, c), (a, c, d))])
    if inside_m(glass, over).min() < 0:
        faces = faces[(inside_m(glass, over) > 0)[faces].all(axis=1)]
    return Mesh(np.column_stack([over, level]).astype(np.float32), faces.astype(np.int32), colour.astype(np.float32))


def _cuts(bed: Bed, glass: Glass, catalog: Catalog, step: float, seed: int) -> list[Mesh]:
    """The bed as it is seen through each pane: soil over base, from the bottom to its edge."""
    made = []
    corners = np.array(glass.corners_m)
    layers = _layers(bed, catalog)
    for number, (one, other) in enumerate(zip(corners, np.roll(corners, -1, axis=0), strict=True)):
        long = float(np.linalg.norm(other - one))
        along = (other - one) / long
        inward = np.array([-along[1], along[0]])
        across = max(2, round(long / step))
        s = np.linspace(0, long, across)
        line = one + np.outer(s, along) + OFF_PANE_M * inward
        top = height_m(bed, line[:, 0], line[:, 1])
        rows = max(3, round(float(top.max()) / step))
        share = np.linspace(0, 1, rows)
        up = (share[:, None] * top[None]).ravel()
        ground = np.tile(line, (rows, 1))
        which = _which(bed, ground, np.tile(top, rows) - up - 1e-6)
        plane = np.column_stack([np.tile(s, rows), up])
        colour, height = _coloured(plane, which, layers, seed + 31 * number)
        # Grains at a pane lie flat on it; only the gaps between them fall back, but for the edge that meets the surface.
        back = np.where(up < np.tile(top, rows) - 1e-6, np.maximum(-height, 0), 0.0)
        ground = ground + 1.2 * back[:, None] * inward
        corner = np.arange(rows * across).reshape(rows, across)
        a, b, c, d = corner[:-1, :-1], corner[:-1, 1:], corner[1:, 1:], corner[1:, :-1]
        faces = np.concatenate([np.stack(tri, axis=-1).reshape(-1, 3) for tri in ((a, b, c), (a, c, d))])
        made.append(
            Mesh(np.column_stack([ground, up]).astype(np.float32), faces.astype(np.int32), colour.astype(np.float32))
        )
    return made
