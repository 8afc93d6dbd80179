"""Pieces made up from size and mass, where nobody has scanned them: they look like their kind and weigh what they must."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np
from scipy.optimize import brentq

from slackwater.errors import BadInput, Contradiction, check_range
from slackwater.layout import meshes, solids
from slackwater.layout.pieces import assembled, key_of
from slackwater.layout.scene import Faces, Floats, Kind, Look, Piece

_FILL = {"rounded": (0.35, 0.75), "angular": (0.25, 0.75), "slab": (0.35, 0.85), "pitted": (0.2, 0.7)}
"""Least and greatest share of its box that a stone of a look fills; from made-up and scanned stones."""
_WOOD_FILL = (0.01, 0.4)
_USUAL_FILL = {"rounded": 0.5, "angular": 0.42, "slab": 0.6, "pitted": 0.4, "branching": 0.05}
"""Share of the box where only size or only mass is known; common practice, no source."""
_USUAL_BOX = {
    "rounded": (1.3, 1.1, 0.9),
    "angular": (1.3, 1.0, 1.0),
    "slab": (1.6, 1.1, 0.4),
    "pitted": (1.2, 1.0, 1.0),
    "branching": (1.6, 1.0, 0.8),
}
"""Proportions where only the mass is known; common practice, no source."""
_ROUNDS = 4
_AROUND = 10
_Mesh = tuple[Floats, Faces]


def _noise(random: np.random.Generator, points: Floats, *, waves_across: float, count: int = 24) -> Floats:
    """Smooth noise of spread 1: a sum of plane waves in random directions."""
    directions = random.normal(size=(count, 3))
    directions *= (
        np.pi * waves_across * random.uniform(0.6, 1.4, size=(count, 1)) / np.linalg.norm(directions, axis=1)[:, None]
    )
    phases = random.uniform(0, 2 * np.pi, size=count)
    return np.asarray(np.cos(points @ directions.T + phases).sum(axis=1) * np.sqrt(2 / count))


def _skin(random: np.random.Generator, look: Look, directions: Floats) -> Floats:
    """Distance of the surface from the middle, by direction, before the body is made slim or full."""
    if look == "rounded":
        return (
            1 + 0.05 * _noise(random, directions, waves_across=1.2) + 0.006 * _noise(random, directions, waves_across=5)
        )
    if look == "slab":
        layers = 0.01 * np.round(1.5 * _noise(random, directions * (1, 1, 4), waves_across=1.5))
        return 1 + 0.05 * _noise(random, directions, waves_across=1.5) + layers
    normals = random.normal(size=(18, 3))
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    away = random.uniform(0.72, 1.0, size=18)
    facing = np.clip(directions @ normals.T, 1e-3, None) / away
    # A soft least of the distances to 18 planes: facets whose edges are a little worn.
    facets = 1 / np.sum(facing**14, axis=1) ** (1 / 14)
    ridges = np.abs(_noise(random, directions, waves_across=4))
    return np.asarray(facets * (1 - 0.03 * ridges + 0.03 * _noise(random, directions, waves_across=2)))


def _boxed(points: Floats, size_m: tuple[float, float, float]) -> Floats:
    """Points stretched to a box that stands on z = 0, its middle over the origin."""
    low, high = points.min(axis=0), points.max(axis=0)
    return np.asarray((points - (low + high) / 2) / (high - low) * size_m + (0, 0, size_m[2] / 2))


def _met(of: Callable[[float], float], target: float, low: float, high: float) -> float:
    """Where a rising function meets a target that lies between its ends, to a millionth of what is asked."""
    return float(brentq(lambda at: of(at) / target - 1, low, high, xtol=1e-6, rtol=1e-7))


def _stone(random: np.random.Generator, look: Look, size_m: tuple[float, float, float], volume_m3: float) -> _Mesh:
    directions, faces = meshes.icosphere(_ROUNDS)
    skin = _skin(random, look, directions)
    pits: list[tuple[Floats, float]] = []
    if look == "pitted":
        for _ in range(14):
            direction = random.normal(size=3)
            radius = float(random.uniform(0.12, 0.26))
            pits.append((direction / np.linalg.norm(direction) * float(random.uniform(0.75, 1.0)), radius))
    ball, ball_faces = meshes.icosphere(2)
    rough = 1 + 0.12 * _noise(random, ball, waves_across=2)

    def body(power: float, strength: float) -> _Mesh:
        # A ball at 2, a full box as the power grows, slimmer below.
        full = np.sum(np.abs(directions) ** power, axis=1) ** (-1 / power)
        points = _boxed(directions * (full * skin**strength)[:, None], size_m)
        if not pits:
            return points, faces
        middle, half = np.array([0, 0, size_m[2] / 2]), np.array(size_m) / 2
        cutters = [
            (middle + (place + ball * (rough * radius * strength)[:, None]) * half, ball_faces)
            for place, radius in pits
        ]
        cut, cut_faces = solids.carved((points, faces), cutters)
        return _boxed(cut, size_m), cut_faces

    low, high = 0.8, 16.0
    for strength in (1.0, 0.7, 0.4, 0.2, 0.1):
        # A very full or very slim stone has less of a face: the weaker the skin, the wider the range.
        def volume(power: float, strength: float = strength) -> float:
            return meshes.signed_volume_m3(*body(power, strength))

        if volume(low) < volume_m3 < volume(high):
            return body(_met(volume, volume_m3, low, high), strength)
    raise Contradiction(
        f"no {look} stone of that mass fits the box: it would fill {volume_m3 / float(np.prod(size_m)):.0%} of it"
    )


def _tube(spine: Floats, radii: Floats, around: int = _AROUND) -> _Mesh:
    """A closed tube along a line of points."""
    along = np.gradient(spine, axis=0)
    along /= np.linalg.norm(along, axis=1)[:, None]
    side = np.cross(along[0], (0.31, 0.73, 0.61))
    rings = []
    angle = np.arange(around) * 2 * np.pi / around
    for point, axis, radius in zip(spine, along, radii, strict=True):
        side = side - axis * (side @ axis)
        side /= np.linalg.norm(side)
        other = np.cross(axis, side)
        rings.append(point + radius * (np.outer(np.cos(angle), side) + np.outer(np.sin(angle), other)))
    vertices = np.vstack([*rings, spine[:1], spine[-1:]])
    ring = np.arange(around)
    after = np.roll(ring, -1)
    faces = []
    for start in range(0, (len(spine) - 1) * around, around):
        a, b, c, d = start + ring, start + after, start + around + after, start + around + ring
        faces += [np.column_stack([a, b, c]), np.column_stack([a, c, d])]
    first, last = len(vertices) - 2, len(vertices) - 1
    end = (len(spine) - 1) * around
    faces.append(np.column_stack([after, ring, np.full(around, first)]))
    faces.append(np.column_stack([end + ring, end + after, np.full(around, last)]))
    return vertices, np.vstack(faces).astype(np.int32)


def _wood(
    random: np.random.Generator, size_m: tuple[float, float, float], volume_m3: float
) -> tuple[_Mesh, tuple[Floats, ...]]:
    def wander(start: Floats, heading: Floats, length: float, steps: int) -> Floats:
        points = [start]
        for _ in range(steps):
            heading = heading + random.normal(scale=0.22, size=3)
            heading /= np.linalg.norm(heading)
            points.append(points[-1] + heading * length / steps)
        return np.array(points)

    trunk = wander(np.zeros(3), np.array([1.0, 0.1, 0.35]), 1.0, 16)
    spines = [(trunk, 0.07, 0.03)]
    for place in random.choice(np.arange(2, 15), size=6, replace=False):
        heading = random.normal(size=3) + np.array([0.6, 0.0, 0.5])
        branch = wander(trunk[place], heading / np.linalg.norm(heading), float(random.uniform(0.3, 0.6)), 10)
        spines.append((branch, 0.035, 0.012))

    def body(thick: float) -> tuple[_Mesh, tuple[Floats, ...]]:
        tubes = [_tube(spine, thick * np.linspace(root, tip, len(spine))) for spine, root, tip in spines]
        points, faces = solids.united(tubes)
        # Stretched with the whole, so that they stay where the wood is.
        parts = [
            tube[start * _AROUND : (start + 5) * _AROUND]
            for tube, _ in tubes
            for start in range(0, len(tube) // _AROUND - 1, 4)
        ]
        moved = _boxed(np.vstack([points, *parts]), size_m)
        ends = np.cumsum([len(points), *map(len, parts)])
        return (moved[: len(points)], faces), tuple(np.split(moved[len(points) :], ends[1:-1] - len(points)))

    def volume(thick: float) -> float:
        return meshes.signed_volume_m3(*body(thick)[0])

    low, high = 0.25, 3.0
    if not volume(low) < volume_m3 < volume(high):
        raise Contradiction(
            f"no branching wood of that mass fits the box: it would fill {volume_m3 / float(np.prod(size_m)):.0%} of it"
        )
    return body(_met(volume, volume_m3, low, high))


@dataclass(frozen=True)
class Asked:
    """What a made-up piece is to be like, all of it known and found possible."""

    name: str
    kind: Kind
    look: Look
    material: str
    density_kg_m3: float
    size_m: tuple[float, float, float]
    volume_m3: float
    seed: int

    @property
    def key(self) -> str:
        """Of what was asked for, not of the mesh: its last digits may differ from machine to machine."""
        return key_of("stand-in", *(getattr(self, item.name) for item in fields(self)))


def asked(
    *,
    name: str,
    kind: Kind,
    look: Look,
    material: str,
    density_kg_m3: float,
    size_m: tuple[float, float, float] | None,
    mass_kg: float | None,
    seed: int,
) -> Asked:
    """What `stand_in` is to make; fails as it does."""
    if (look == "branching") != (kind == "wood"):
        raise BadInput(f"a piece of {kind} cannot look {look}: branching is of wood, the other looks are of stone")
    check_range("density", density_kg_m3, 100, 10_000, unit="kg/m3")
    if size_m is None:
        if mass_kg is None:
            raise BadInput(f"{name}: neither the size nor the mass is known; one of them is needed")
        check_range("mass", mass_kg, 0.005, 2_000, unit="kg")
        box = _USUAL_BOX[look]
        scale = (mass_kg / density_kg_m3 / _USUAL_FILL[look] / math.prod(box)) ** (1 / 3)
        size_m = (box[0] * scale, box[1] * scale, box[2] * scale)
    length, width, height = (float(side) for side in size_m)
    for side in (length, width, height):
        check_range("size", side, 0.01, 3, unit="m")
    box_m3 = length * width * height
    if mass_kg is None:
        mass_kg = density_kg_m3 * box_m3 * _USUAL_FILL[look]
    check_range("mass", mass_kg, 0.005, 2_000, unit="kg")
    volume_m3 = mass_kg / density_kg_m3
    low, high = _WOOD_FILL if kind == "wood" else _FILL[look]
    if not low <= volume_m3 / box_m3 <= high:
        raise Contradiction(
            f"{name}: {mass_kg:g} kg of {density_kg_m3:g} kg/m3 would fill {volume_m3 / box_m3:.0%} of a box of "
            f"{length:g} x {width:g} x {height:g} m, expected {low:.0%} to {high:.0%}: "
            "measure size and mass again, or is it another material?"
        )
    return Asked(
        name=name,
        kind=kind,
        look=look,
        material=material,
        density_kg_m3=float(density_kg_m3),
        size_m=(length, width, height),
        volume_m3=float(volume_m3),
        seed=seed,
    )


def made(what: Asked) -> Piece:
    """The piece that was asked for."""
    random = np.random.default_rng(what.seed)
    parts: tuple[Floats, ...] | None = None
    if what.kind == "wood":
        mesh, parts = _wood(random, what.size_m, what.volume_m3)
    else:
        mesh = _stone(random, what.look, what.size_m, what.volume_m3)
    return assembled(
        key=what.key,
        name=what.name,
        kind=what.kind,
        look=what.look,
        material=what.material,
        density_kg_m3=what.density_kg_m3,
        vertices_m=mesh[0],
        faces=mesh[1],
        stand_in=True,
        convex_m=parts,
    )


def stand_in(
    *,
    name: str,
    kind: Kind,
    look: Look,
    material: str,
    density_kg_m3: float,
    size_m: tuple[float, float, float] | None,
    mass_kg: float | None,
    seed: int,
) -> Piece:
    """A made-up piece of the size and mass that were measured.

    Parameters
    ----------
    name, kind, look, material, density_kg_m3
        As in `pieces.piece_from_mesh`.
    size_m : (length, width, height) or None
        Box round the piece as it will stand [m, 0.01 to 3]; usual proportions of its look where None.
    mass_kg : float or None
        Mass, dry [kg, 0.005 to 2,000]; a usual fill of the box where None.
    seed : int
        Which of the many pieces of that size and mass.

    Raises
    ------
    Contradiction
        Where box and mass cannot belong to one piece of that density.
    BadInput
        Where neither size nor mass is known, or the look is not one of the kind.
    OutOfRange
        Where a number is outside its range.
    """
    return made(
        asked(
            name=name,
            kind=kind,
            look=look,
            material=material,
            density_kg_m3=density_kg_m3,
            size_m=size_m,
            mass_kg=mass_kg,
            seed=seed,
        )
    )
