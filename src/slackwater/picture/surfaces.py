"""What stone, wood, soil and sand look like under water: colours and grain from noise, darkened by being wet."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import check_range
from slackwater.picture.scene import Mesh, Rgb, linear

Floats = NDArray[np.float64]
Pattern = Literal["veined", "pitted", "layered", "plain", "speckled", "bark", "grains"]
WATER_INDEX = 1.333
"""Refractive index of fresh water, as in `layout.see`."""
MOST_TRIANGLES = 90_000
"""Of one piece: below it, grain of 2 mm on a stone as long as a hand."""


@dataclass(frozen=True)
class Look:
    """How a material looks, dry; from memory."""

    pattern: Pattern
    first: Rgb
    second: Rgb
    vein: Rgb
    grain_m: float
    waves_per_m: float
    rough_m: float
    """How far the grain stands out of the skin."""


@lru_cache(maxsize=1)
def _rows() -> Mapping[str, Look]:
    text = files("slackwater.picture").joinpath("looks.csv").read_text(encoding="utf-8")
    found = {}
    for row in csv.DictReader(text.splitlines()):
        pattern: Pattern = next(one for one in get_args(Pattern) if one == row["kind"])
        found[row["material"]] = Look(
            pattern=pattern,
            first=linear(row["first"]),
            second=linear(row["second"]),
            vein=linear(row["vein"]),
            grain_m=float(row["grain_mm"]) / 1000,
            waves_per_m=float(row["waves_per_m"]),
            rough_m=float(row["rough_mm"]) / 1000,
        )
    return found


USUAL: Mapping[str, str] = {"stone": "stone_basalt", "wood": "wood_bog", "soil": "active_soil_normal"}
"""Whose looks stand in for a material of a kind that has no row."""


def look_of(material: str, kind: Literal["stone", "wood", "soil"]) -> Look:
    """How a material looks; one without a row looks like the plainest of its kind."""
    rows = _rows()
    return rows.get(material, rows[USUAL[kind]])


def wet_share(share: Floats) -> Floats:
    """Light that a rough surface throws back when it is wet, of what it throws back dry.

    Parameters
    ----------
    share : array
        Of light thrown back by the dry surface [0..1].

    Returns
    -------
    array
        [0..1], never more than dry: a / (n^2 (1 - a) + a).

    Notes
    -----
    A film of water sends part of the light back to the surface by total reflection, so that more of it is taken up. Light
    lost at the film's outer face is left out.

    References
    ----------
    Ångström (1925), Geografiska Annaler 7, 323-342; the form from memory.
    """
    check_range("share", float(np.min(share)), 0, 1, unit="")
    check_range("share", float(np.max(share)), 0, 1, unit="")
    square = WATER_INDEX**2
    return np.asarray(share / (square * (1 - share) + share))


# ---------------------------------------------------------------- noise


def _hashed(cells: NDArray[np.int64], seed: int) -> NDArray[np.uint64]:
    """A number for each lattice point that looks random; splitmix64 by Steele, Lea and Flood (2014), OOPSLA 49(10), 453-472."""
    with np.errstate(over="ignore"):
        mixed = np.full(cells.shape[:-1], np.uint64(seed * 2654435761 % 2**63))
        for axis in range(cells.shape[-1]):
            mixed = (mixed ^ cells[..., axis].astype(np.uint64)) * np.uint64(0x9E3779B97F4A7C15)
            mixed ^= mixed >> np.uint64(30)
            mixed *= np.uint64(0xBF58476D1CE4E5B9)
            mixed ^= mixed >> np.uint64(27)
    return mixed


def _share_of(mixed: NDArray[np.uint64]) -> Floats:
    return np.asarray((mixed >> np.uint64(11)).astype(np.float64) / 2**53)


def value_noise(points: Floats, *, seed: int) -> Floats:
    """Smooth noise with one wave a unit, -1 to 1, at points [n, 3]."""
    low = np.floor(points).astype(np.int64)
    part = points - low
    part = part * part * (3 - 2 * part)
    total = np.zeros(len(points))
    for corner in range(8):
        offset = np.array([corner & 1, corner >> 1 & 1, corner >> 2 & 1])
        weight = np.prod(np.where(offset == 1, part, 1 - part), axis=1)
        total += weight * _share_of(_hashed(low + offset, seed))
    return 2 * total - 1


def rough_noise(points: Floats, *, seed: int, octaves: int = 4) -> Floats:
    """Noise on several scales, each half as large and half as strong as the one before, about -1 to 1."""
    total = np.zeros(len(points))
    for octave in range(octaves):
        total += 0.5**octave * value_noise(points * 2.03**octave + 17.3 * octave, seed=seed + octave)
    return total / (2 - 0.5 ** (octaves - 1))


def grains(points: Floats, *, seed: int) -> tuple[Floats, Floats]:
    """Cells round scattered centres, one a unit of area: how far from the own centre, and a number 0..1 of the cell.

    Parameters
    ----------
    points : (n, 2) float

    Returns
    -------
    two arrays
        Distance to the nearest centre, as a share of the unit, and a number that belongs to its cell.

    References
    ----------
    Worley (1996), SIGGRAPH, 291-294.
    """
    low = np.floor(points).astype(np.int64)
    nearest = np.full(len(points), np.inf)
    own = np.zeros(len(points))
    for dx in (-1, 0, 1):
        for dy in (-1, 0, 1):
            cell = low + np.array([dx, dy])
            one, other = _hashed(cell, seed), _hashed(cell, seed + 1)
            centre = cell + np.stack([_share_of(one), _share_of(other)], axis=-1)
            away = np.hypot(*(points - centre).T)
            closer = away < nearest
            nearest = np.where(closer, away, nearest)
            own = np.where(closer, _share_of(_hashed(cell, seed + 2)), own)
    return nearest, own


# ---------------------------------------------------------------- pieces


def corner_normals(vertices: Floats, faces: NDArray[np.int32]) -> Floats:
    """Directions of the surface at its corners, of unit length, weighted by area."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    total = np.zeros_like(vertices)
    for k in range(3):
        np.add.at(total, faces[:, k], across)
    return np.asarray(total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-15))


def finer(vertices: Floats, faces: NDArray[np.int32]) -> tuple[Floats, NDArray[np.int32]]:
    """Each triangle cut into four at the middles of its edges; edges that meet still meet."""
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    once, number = np.unique(edges, axis=0, return_inverse=True)
    middles = (vertices[once[:, 0]] + vertices[once[:, 1]]) / 2
    ab, bc, ca = (part + len(vertices) for part in np.split(number.reshape(-1), 3))
    a, b, c = faces.T
    cut = np.concatenate(
        [np.stack(one, axis=1) for one in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))]
    ).astype(np.int32)
    return np.concatenate([vertices, middles]), cut


def skin(vertices_m: Floats, faces: NDArray[np.int32], look: Look, *, seed: int, most: int = MOST_TRIANGLES) -> Mesh:
    """A stone or a piece of wood with grain and colour, in its own frame.

    Parameters
    ----------
    vertices_m, faces
        As scanned or made up.
    seed : int
        Of its own: two pieces of one material differ.
    most : int
        Triangles; it is cut no finer than that.
    """
    vertices, cut = np.asarray(vertices_m, dtype=np.float64), faces
    # Corners of one place are made one, so that the skin does not tear where a scan repeats them.
    once, number = np.unique(np.round(vertices, 6), axis=0, return_inverse=True)
    vertices, cut = once, number.reshape(-1)[cut].astype(np.int32)
    cut = cut[(cut[:, 0] != cut[:, 1]) & (cut[:, 1] != cut[:, 2]) & (cut[:, 0] != cut[:, 2])]
    while 4 * len(cut) <= most:
        vertices, cut = finer(vertices, cut)
    place = vertices * look.waves_per_m
    along = _along(vertices, look)
    height, first_share, vein_share = _pattern(place, along, look, seed)
    normals = corner_normals(vertices, cut)
    # Twice smoothed directions: the facets of a coarse mesh do not show as facets of the stone.
    vertices = vertices + normals * (look.rough_m * height)[:, None]
    first, second, vein = (np.array(colour) for colour in (look.first, look.second, look.vein))
    colour = first * first_share[:, None] + second * (1 - first_share[:, None])
    colour = colour * (1 - vein_share[:, None]) + vein * vein_share[:, None]
    # Hollows keep dirt and shade.
    colour = colour * (1 + 0.28 * np.clip(height, -1.2, 0.6))[:, None]
    return Mesh(
        vertices.astype(np.float32),
        cut.astype(np.int32),
        wet_share(np.clip(colour, 0.005, 0.95)).astype(np.float32),
    )


def _along(vertices: Floats, look: Look) -> Floats:
    """The direction in which a piece is longest, as fibres and layers run."""
    centred = vertices - vertices.mean(axis=0)
    _, _, axes = np.linalg.svd(centred[:: max(1, len(centred) // 2000)], full_matrices=False)
    return np.asarray(axes[2] if look.pattern == "layered" else axes[0])


def _pattern(place: Floats, along: Floats, look: Look, seed: int) -> tuple[Floats, Floats, Floats]:
    """Height of the grain, share of the first colour, share of the vein's colour."""
    broad = rough_noise(place, seed=seed, octaves=3)
    fine = rough_noise(place * 6, seed=seed + 40, octaves=3)
    mix = np.clip(0.5 + 0.8 * broad + 0.35 * fine, 0, 1)
    if look.pattern == "veined":
        sheet = np.abs(rough_noise(place * 0.9, seed=seed + 7, octaves=3))
        vein = np.clip(1 - sheet / 0.045, 0, 1) ** 1.5
        furrow = np.abs(rough_noise(place * 1.6, seed=seed + 9, octaves=3))
        return 0.8 * fine - 2.0 * np.clip(0.12 - furrow, 0, 1) * 8 * 0.5, mix, 0.75 * vein
    if look.pattern == "pitted":
        hole = np.clip(rough_noise(place * 1.7, seed=seed + 5, octaves=2) - 0.22, 0, 0.4) / 0.4
        pore = np.clip(value_noise(place * 7, seed=seed + 6) - 0.35, 0, 1)
        return 0.7 * fine - 1.6 * hole - 0.9 * pore, mix, np.clip(0.85 * hole + 0.7 * pore, 0, 0.9)
    if look.pattern == "layered":
        level = place @ along
        bands = np.sin(6.5 * level + 1.5 * broad)
        return 0.5 * bands + 0.4 * fine, np.clip(0.5 + 0.4 * bands + 0.3 * fine, 0, 1), 0.25 * np.clip(broad, 0, 1)
    if look.pattern == "speckled":
        dots = value_noise(place * 9, seed=seed + 3)
        return (
            0.6 * fine,
            np.clip(0.5 + 1.4 * value_noise(place * 7, seed=seed + 2), 0, 1),
            np.clip(2.2 * (dots - 0.35), 0, 1),
        )
    if look.pattern == "bark":
        # Noise drawn out along the fibres.
        stretched = place - (place @ along)[:, None] * along * 0.88
        fibre = rough_noise(stretched * 4.5, seed=seed + 4, octaves=3)
        crack = np.clip(1 - np.abs(rough_noise(stretched * 2.6, seed=seed + 8, octaves=2)) / 0.08, 0, 1)
        return 0.8 * fibre - 1.2 * crack, np.clip(0.5 + 0.9 * fibre + 0.4 * broad, 0, 1), 0.7 * crack
    return 0.8 * fine, mix, 0.2 * np.clip(broad, 0, 1)


def grain_colour(plane: Floats, look: Look, *, grain_m: float, seed: int) -> tuple[Floats, Floats]:
    """Colour of each point of a heap of grains, wet, and how far it stands out.

    Parameters
    ----------
    plane : (n, 2) float
        Where on the surface, both ways along it [m].
    grain_m : float
        Size of a grain.

    Returns
    -------
    (n, 3) float, (n,) float
        Colour; height above the mean surface as a share of a grain.
    """
    away, own = grains(plane / grain_m, seed=seed)
    first, second, vein = (np.array(colour) for colour in (look.first, look.second, look.vein))
    mix = own[:, None]
    colour = np.where(mix < 0.8, first + (second - first) * (mix / 0.8), vein + (first - vein) * ((mix - 0.8) / 0.2))
    gap = np.clip((away - 0.42) / 0.4, 0, 1)[:, None]
    colour = colour * (1 - 0.62 * gap) * (0.85 + 0.3 * ((own * 7.3) % 1))[:, None]
    height = 0.45 * np.sqrt(np.clip(1 - (away / 0.75) ** 2, 0, 1)) - 0.25 + 0.12 * (own - 0.5)
    return wet_share(np.clip(colour, 0.004, 0.95)), height
