"""The shapes of plants, by the way they grow: tufts of grass, mats, rosettes, ribbons, stems, ferns, moss, what floats.

Every leaf is a bent strip; a plant is a list of leaves. Same generator, same plant.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import BadInput
from slackwater.picture.scene import Mesh, Rgb, linear

Form = Literal["grass", "mat", "rosette", "ribbon", "stem", "broad", "fern", "feather", "moss", "floating"]
Floats = NDArray[np.float64]
Blade = Literal["oval", "lance", "strap", "needle", "round", "stalked"]
GOLDEN_RAD = np.pi * (3 - 5**0.5)
"""Turn from one leaf of a rosette to the next; Vogel (1979), Mathematical Biosciences 44, 179-189."""
LEAST_WIDTH_M = 0.0007
"""Of a blade: narrower ones vanish between the points of a picture."""


@dataclass(frozen=True)
class Habit:
    """How a kind of plant looks; from memory."""

    form: Form
    leaf_m: float
    """Length of a grown leaf; 0 where leaves are as long as the plant is high."""
    slender: float
    """Width of a leaf over its length."""
    leaves: int
    """On a portion of usual size: of a rosette or a tuft; on a stem, in the upper hand's breadth."""
    colour: Rgb
    tip: Rgb


@lru_cache(maxsize=1)
def _rows() -> Mapping[str, Habit]:
    text = files("slackwater.picture").joinpath("forms.csv").read_text(encoding="utf-8")
    found = {}
    for row in csv.DictReader(text.splitlines()):
        form: Form = next(form for form in get_args(Form) if form == row["form"])
        found[row["plant"]] = Habit(
            form=form,
            leaf_m=float(row["leaf_cm"]) / 100,
            slender=float(row["slender"]),
            leaves=int(row["leaves"]),
            colour=linear(row["colour"]),
            tip=linear(row["tip"]),
        )
    return found


USUAL: Mapping[str, str] = {
    "carpet": "glossostigma",
    "foreground": "staurogyne",
    "midground": "cryptocoryne",
    "background": "hygrophila",
    "epiphyte": "anubias",
    "moss": "taxiphyllum",
    "floating": "limnobium",
}
"""Whose looks stand in for a plant of a position whose kind has no row."""


def habit_of(plant: str, position: str) -> Habit:
    """How a plant looks: by its id, else by its genus, else by where it grows.

    Parameters
    ----------
    plant : str
        Id of the catalog, genus first.
    position : str
        As in the catalog, such as "carpet or floating".

    Raises
    ------
    BadInput
        For a position that is none of the catalog's.
    """
    rows = _rows()
    if plant in rows:
        return rows[plant]
    genus = plant.partition("_")[0]
    if genus in rows:
        return rows[genus]
    like = USUAL.get(position.partition(" ")[0])
    if like is None:
        raise BadInput(f"plant {plant}: position {position} is not known, expected one of {', '.join(USUAL)}")
    return rows[like]


# ---------------------------------------------------------------- leaves


@dataclass(frozen=True, eq=False)
class Leaves:
    """Leaves of one blade: each array has one entry, or row, for each leaf."""

    base_m: Floats
    azimuth_rad: Floats
    lift_rad: Floats
    """Over the horizontal at the base."""
    bend_rad: Floats
    """By how much it has turned down at the tip."""
    length_m: Floats
    width_m: Floats
    colour: Floats
    tip: Floats

    @staticmethod
    def joined(parts: list[Leaves]) -> Leaves:
        """Several as one."""
        names = ("base_m", "azimuth_rad", "lift_rad", "bend_rad", "length_m", "width_m", "colour", "tip")
        return Leaves(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


def _profile(blade: Blade, t: Floats) -> Floats:
    """Half of the width at a share of the length, 1 where widest."""
    if blade == "oval":
        return np.sin(np.pi * np.clip(t, 0, 1) ** 0.8) ** 0.75
    if blade == "round":
        return np.sqrt(np.clip(1 - (2 * np.clip(t, 0.02, 0.99) - 1) ** 2, 0, 1))
    if blade == "lance":
        return np.clip(np.sin(np.pi * np.clip(0.06 + 0.94 * t, 0, 1) ** 0.7), 0, 1) ** 0.8
    if blade == "strap":
        return np.clip(np.minimum(1.0, 9 * (1.02 - t)), 0, 1) * (0.75 + 0.25 * np.minimum(1.0, 5 * t))
    if blade == "needle":
        return np.clip(1.05 - t, 0, 1) ** 0.6
    blade_t = np.clip((t - 0.42) / 0.58, 0, 1)
    return np.maximum(np.where(t < 0.42, 0.09, 0.0), np.sin(np.pi * blade_t**0.75) ** 0.8)


def leaf_mesh(
    random: np.random.Generator,
    leaves: Leaves,
    blade: Blade,
    *,
    segments: int,
    fold: float = 0.25,
    wave: float = 0.0,
) -> Mesh:
    """Leaves as triangles.

    Parameters
    ----------
    segments : int
        Parts along a leaf [2 to 24].
    fold : float
        How far the midrib lies below the edges, as a share of half the width.
    wave : float
        How far edges swing, as a share of half the width.
    """
    n, rows = len(leaves.length_m), segments + 1
    if not n:
        return Mesh.joined([])
    t = np.linspace(0, 1, rows)
    angle = leaves.lift_rad[:, None] - leaves.bend_rad[:, None] * t**1.4
    turn = leaves.azimuth_rad[:, None] + random.normal(0, 0.25, n)[:, None] * t**2
    step = leaves.length_m[:, None] / segments
    along = np.stack([np.cos(angle) * np.cos(turn), np.cos(angle) * np.sin(turn), np.sin(angle)], axis=-1)
    middle = np.zeros((n, rows, 3))
    middle[:, 1:] = np.cumsum((along[:, :-1] + along[:, 1:]) / 2 * step[..., None], axis=1)
    middle += leaves.base_m[:, None]
    roll = random.normal(0, 0.22, n)[:, None]
    flat = np.stack([-np.sin(turn), np.cos(turn), np.zeros_like(turn)], axis=-1)
    up = np.cross(along, flat)
    side = flat * np.cos(roll)[..., None] + up * np.sin(roll)[..., None]
    normal = np.cross(along, side)
    half = np.maximum(leaves.width_m, LEAST_WIDTH_M)[:, None] / 2 * _profile(blade, t)[None]
    swing = wave * np.sin(2 * np.pi * (3.2 * t[None] + random.uniform(0, 1, n)[:, None]))
    edge_up = (fold + swing)[..., None] * half[..., None] * normal
    other_up = (fold - swing)[..., None] * half[..., None] * normal
    corners = np.stack(
        [middle - side * half[..., None] + edge_up, middle, middle + side * half[..., None] + other_up], axis=2
    )
    shade = np.clip(random.normal(1, 0.13, n), 0.6, 1.45)[:, None, None]
    toward = (t**1.5)[None, :, None]
    colour = (leaves.colour[:, None] * (1 - toward) + leaves.tip[:, None] * toward) * shade
    # The midrib is a little lighter than the blade, the base a little darker: what makes a leaf read as one.
    tinted = (
        np.stack([colour, colour * 1.12, colour], axis=2) * (0.72 + 0.28 * np.minimum(1, 2.5 * t))[None, :, None, None]
    )
    first = np.arange(n)[:, None, None] * rows * 3 + np.arange(segments)[None, :, None] * 3 + np.arange(2)
    faces = np.stack(
        [
            np.stack([first, first + 1, first + 4], axis=-1),
            np.stack([first, first + 4, first + 3], axis=-1),
        ],
        axis=-2,
    ).reshape(-1, 3)
    return Mesh(
        corners.reshape(-1, 3).astype(np.float32),
        faces.astype(np.int32),
        np.clip(tinted.reshape(-1, 3), 0, 0.9).astype(np.float32),
    )


# ---------------------------------------------------------------- plants


@dataclass(frozen=True, eq=False)
class Stock:
    """Portions of one kind of plant: where each stands and how large it is.

    Attributes
    ----------
    spots_m : (n, 3) float
        Where each comes out of soil, stone or wood, or lies on the water.
    height_m, spread_m : (n,) float
        How high it reaches, and across how much ground.
    fullness : float
        Leaves as a share of those of a grown portion [above 0, to 2].
    """

    spots_m: Floats
    height_m: Floats
    spread_m: Floats
    fullness: float


def _made(
    random: np.random.Generator,
    habit: Habit,
    base: Floats,
    azimuth: Floats,
    lift: Floats,
    bend: Floats,
    length: Floats,
    width: Floats,
    *,
    young: Floats | float = 0.0,
) -> Leaves:
    """Leaves in the colours of a habit; `young` moves each from the old to the young colour."""
    n = len(base)
    old, tip = np.array(habit.colour), np.array(habit.tip)
    mix = np.broadcast_to(np.asarray(young, dtype=float), (n,))[:, None]
    colour = old * (1 - mix) + tip * mix
    colour = colour * np.clip(random.normal(1, 0.06, (n, 3)), 0.8, 1.25)
    return Leaves(base, azimuth, lift, bend, length, width, colour, 0.55 * colour + 0.45 * tip)


def _count(random: np.random.Generator, usual: float, least: int = 2) -> int:
    return max(least, round(usual * float(random.uniform(0.8, 1.2))))


def _in_disc(random: np.random.Generator, n: int, radius: float) -> Floats:
    r, a = radius * np.sqrt(random.uniform(0, 1, n)), random.uniform(0, 2 * np.pi, n)
    return np.stack([r * np.cos(a), r * np.sin(a), np.zeros(n)], axis=1)


def plant_mesh(random: np.random.Generator, habit: Habit, stock: Stock) -> Mesh:
    """All portions of one kind of plant as triangles."""
    made: list[Mesh] = []
    grown: list[Leaves] = []
    stems: list[Leaves] = []
    # Each has its own generator, so that it has more leaves at a later age and is not another plant.
    own = random.spawn(len(stock.spots_m))
    for luck, spot, height, spread in zip(own, stock.spots_m, stock.height_m, stock.spread_m, strict=True):
        one, stalks = _PORTIONS[habit.form](luck, habit, spot, float(height), float(spread), stock.fullness)
        grown.append(one)
        if stalks is not None:
            stems.append(stalks)
    if not grown:
        return Mesh.joined([])
    blade, segments, fold, wave = _BLADES[habit.form]
    if habit.form == "stem":
        blade = "needle" if habit.slender < 0.07 else "lance" if habit.slender < 0.4 else "oval"
        segments = 2 if habit.slender < 0.07 else 4
    if habit.form == "mat" and habit.slender > 0.6:
        blade = "round"
    made.append(leaf_mesh(random, Leaves.joined(grown), blade, segments=segments, fold=fold, wave=wave))
    if stems:
        made.append(leaf_mesh(random, Leaves.joined(stems), "strap", segments=6, fold=0.5))
    return Mesh.joined(made)


_BLADES: Mapping[Form, tuple[Blade, int, float, float]] = {
    "grass": ("needle", 4, 0.3, 0.0),
    "mat": ("oval", 3, 0.2, 0.0),
    "rosette": ("stalked", 10, 0.25, 0.28),
    "ribbon": ("strap", 14, 0.2, 0.3),
    "stem": ("lance", 4, 0.25, 0.0),
    "broad": ("stalked", 9, 0.2, 0.06),
    "fern": ("lance", 10, 0.15, 0.3),
    "feather": ("lance", 3, 0.1, 0.0),
    "moss": ("needle", 3, 0.2, 0.0),
    "floating": ("round", 5, 0.12, 0.0),
}
_Grown = tuple[Leaves, Leaves | None]


def _grass(
    random: np.random.Generator, habit: Habit, spot: Floats, height: float, spread: float, full: float
) -> _Grown:
    n = _count(random, habit.leaves * full * max(1.0, (spread / 0.03) ** 1.3), 5)
    base = spot + _in_disc(random, n, spread / 2)
    length = height * random.uniform(0.55, 1.15, n)
    return _made(
        random,
        habit,
        base,
        random.uniform(0, 2 * np.pi, n),
        np.radians(random.uniform(58, 92, n)),
        random.uniform(0.0, 0.6, n),
        length,
        np.maximum(length * habit.slender, 0.0009),
        young=random.uniform(0, 0.6, n),
    ), None


def _mat(random: np.random.Generator, habit: Habit, spot: Floats, height: float, spread: float, full: float) -> _Grown:
    area = (spread / 0.03) ** 2
    n = _count(random, habit.leaves * full * max(0.5, area) * min(1.6, max(0.7, height / 0.02)), 8)
    flat = _in_disc(random, n, spread / 2)
    dome = 1 - 0.5 * (np.hypot(flat[:, 0], flat[:, 1]) / (spread / 2 + 1e-9)) ** 2
    up = height * dome * random.uniform(0.15, 1.0, n) ** 0.7
    base = spot + flat + np.stack([np.zeros(n), np.zeros(n), up], axis=1)
    length = habit.leaf_m * random.uniform(0.65, 1.15, n)
    return _made(
        random,
        habit,
        base,
        random.uniform(0, 2 * np.pi, n),
        np.radians(random.uniform(-5, 55, n)),
        random.uniform(0.1, 0.6, n),
        length,
        length * habit.slender,
        young=np.clip(up / height - 0.2, 0, 1),
    ), None


def _rosette(
    random: np.random.Generator, habit: Habit, spot: Floats, height: float, spread: float, full: float
) -> _Grown:
    n = _count(random, habit.leaves * full, 4)
    rank = (np.arange(n) + 0.5) / n
    lift = np.radians(84 - 48 * rank + random.normal(0, 6, n))
    length = height * (1.12 - 0.25 * rank) * random.uniform(0.8, 1.12, n)
    base = spot + _in_disc(random, n, 0.006)
    return _made(
        random,
        habit,
        base,
        np.arange(n) * GOLDEN_RAD + random.normal(0, 0.25, n) + random.uniform(0, 6.28),
        lift,
        random.uniform(0.5, 1.25, n),
        length,
        length * habit.slender,
        young=np.clip(0.8 - rank + random.normal(0, 0.12, n), 0, 1),
    ), None


def _ribbon(
    random: np.random.Generator, habit: Habit, spot: Floats, height: float, spread: float, full: float
) -> _Grown:
    n = _count(random, habit.leaves * full, 4)
    low = habit.slender > 0.04
    length = height * random.uniform(0.65, 1.18, n) * (1.1 if low else 1.0)
    return _made(
        random,
        habit,
        spot + _in_disc(random, n, 0.008),
        np.arange(n) * GOLDEN_RAD + random.normal(0, 0.4, n),
        np.radians(random.uniform(48, 86, n) if low else random.uniform(76, 92, n)),
        random.uniform(0.5, 1.3, n) if low else random.uniform(0.1, 0.7, n),
        length,
        np.clip(length * habit.slender, 0.0022, 0.014),
        young=random.uniform(0, 0.7, n),
    ), None


def _stem(random: np.random.Generator, habit: Habit, spot: Floats, height: float, spread: float, full: float) -> _Grown:
    stems = _count(random, 2.2 * full, 1)
    around = 4 if habit.slender >= 0.2 else 5 if habit.slender >= 0.07 else 9
    parts, stalks = [], []
    for number in range(stems):
        tall = height * float(random.uniform(0.72, 1.06))
        foot = spot + _in_disc(random, 1, 0.35 * spread)[0]
        lean = float(random.uniform(0, 2 * np.pi))
        lift = float(np.radians(random.uniform(78, 90)))
        internode = float(np.clip(0.45 * habit.leaf_m, 0.006, 0.02))
        nodes = max(3, min(26, round(tall / internode)))
        t = (np.arange(nodes) + 0.7) / nodes
        reach = tall * t
        spine = foot + np.stack(
            [reach * np.cos(lift) * np.cos(lean), reach * np.cos(lift) * np.sin(lean), reach * np.sin(lift)], axis=1
        )
        each = 2 if around == 4 else around
        base = np.repeat(spine, each, axis=0)
        share = np.repeat(t, each)
        n = len(base)
        azimuth = np.tile(np.arange(each) * 2 * np.pi / each, nodes) + np.repeat(np.arange(nodes), each) * (
            np.pi / 2 if each == 2 else 0.4
        )
        # The youngest leaves of a shoot are short and stand up; they make its crown.
        crown = np.clip((1 - share) * nodes / 3.0, 0.0, 1.0)
        length = habit.leaf_m * (0.35 + 0.65 * crown) * random.uniform(0.8, 1.12, n)
        parts.append(
            _made(
                random,
                habit,
                base,
                azimuth + lean + random.normal(0, 0.2, n),
                np.radians(70 - 52 * crown + random.normal(0, 8, n)),
                0.25 + 0.6 * crown * random.uniform(0.4, 1.2, n),
                length,
                length * habit.slender,
                young=np.clip(1.35 * share**1.5 - 0.15 + 0.06 * number, 0, 1),
            )
        )
        thin = 0.0016 + 0.00035 * min(4.0, habit.leaf_m * 100)
        for cross in (0.0, np.pi / 2):
            stalks.append(
                _made(
                    random,
                    habit,
                    foot[None] + (0, 0, -0.004),
                    np.array([lean + cross * 0.0]),
                    np.array([lift]),
                    np.array([0.02]),
                    np.array([tall * 1.0 + 0.004]),
                    np.array([thin]),
                    young=0.3,
                )
            )
    return Leaves.joined(parts), Leaves.joined(stalks)


def _broad(
    random: np.random.Generator, habit: Habit, spot: Floats, height: float, spread: float, full: float
) -> _Grown:
    n = _count(random, habit.leaves * full, 3)
    length = np.minimum(1.3 * height, 2.4 * habit.leaf_m) * random.uniform(0.65, 1.1, n)
    return _made(
        random,
        habit,
        spot + _in_disc(random, n, 0.3 * spread) * (1, 1, 0),
        np.arange(n) * GOLDEN_RAD + random.normal(0, 0.5, n),
        np.radians(random.uniform(40, 85, n)),
        random.uniform(0.4, 1.2, n),
        length,
        0.58 * length * habit.slender,
        young=random.uniform(0, 0.8, n) ** 2,
    ), None


def _fern(random: np.random.Generator, habit: Habit, spot: Floats, height: float, spread: float, full: float) -> _Grown:
    n = _count(random, habit.leaves * full, 3)
    length = height * random.uniform(0.6, 1.2, n)
    return _made(
        random,
        habit,
        spot + _in_disc(random, n, 0.25 * spread),
        random.uniform(0, 2 * np.pi, n),
        np.radians(random.uniform(38, 84, n)),
        random.uniform(0.3, 1.1, n),
        length,
        length * habit.slender,
        young=random.uniform(0, 0.9, n) ** 2,
    ), None


def _feather(
    random: np.random.Generator, habit: Habit, spot: Floats, height: float, spread: float, full: float
) -> _Grown:
    """Fronds with leaflets on both sides."""
    fronds = _count(random, habit.leaves * full, 3)
    parts, stalks = [], []
    for number in range(fronds):
        rank = (number + 0.5) / fronds
        long = height * float(random.uniform(0.75, 1.1))
        azimuth = number * GOLDEN_RAD + float(random.normal(0, 0.3))
        lift, bend = float(np.radians(84 - 40 * rank)), float(random.uniform(0.3, 0.9))
        pairs = 9
        t = np.linspace(0.3, 0.97, pairs)
        # The same arc as a leaf's middle line.
        fine = np.linspace(0, 1, 25)
        angle = lift - bend * fine**1.4
        out, rise = np.cumsum(np.cos(angle)) * long / 25, np.cumsum(np.sin(angle)) * long / 25
        o, z = np.interp(t, fine, out), np.interp(t, fine, rise)
        spine = spot + np.stack([o * np.cos(azimuth), o * np.sin(azimuth), z], axis=1)
        base = np.repeat(spine, 2, axis=0)
        n = len(base)
        way = np.tile([1.0, -1.0], pairs)
        size: Floats = long * habit.slender * 0.55 * np.repeat(np.sin(np.pi * (0.15 + 0.8 * (1 - t))) ** 0.7, 2)
        parts.append(
            _made(
                random,
                habit,
                base,
                azimuth + way * random.uniform(0.7, 1.15, n),
                np.repeat(lift - bend * t**1.4, 2) * 0.5 + random.normal(0, 0.15, n),
                random.uniform(0.1, 0.5, n),
                size,
                np.maximum(0.3 * size, 0.0016),
                young=np.clip(1 - rank, 0, 1) * 0.8,
            )
        )
        stalks.append(
            _made(
                random,
                habit,
                spot[None].copy(),
                np.array([azimuth]),
                np.array([lift]),
                np.array([bend]),
                np.array([long]),
                np.array([0.0016]),
            )
        )
    return Leaves.joined(parts), Leaves.joined(stalks)


def _moss(random: np.random.Generator, habit: Habit, spot: Floats, height: float, spread: float, full: float) -> _Grown:
    n = _count(random, 6.5 * habit.leaves * full * max(0.3, (spread / 0.03) ** 2), 12)
    flat = _in_disc(random, n, spread / 2)
    dome = np.sqrt(np.clip(1 - (np.hypot(flat[:, 0], flat[:, 1]) / (spread / 2 + 1e-9)) ** 2, 0.02, 1))
    base = spot + flat + np.stack([np.zeros(n), np.zeros(n), 0.8 * height * dome * random.uniform(0, 1, n)], axis=1)
    length = habit.leaf_m * random.uniform(0.5, 1.2, n)
    outward = np.arctan2(flat[:, 1], flat[:, 0]) + random.normal(0, 0.9, n)
    return _made(
        random,
        habit,
        base,
        outward,
        np.radians(random.uniform(-35, 80, n)),
        random.uniform(0.2, 1.2, n),
        length,
        np.maximum(length * habit.slender, 0.0009),
        young=np.clip((base[:, 2] - spot[2]) / (height + 1e-9), 0, 1),
    ), None


def _floating(
    random: np.random.Generator, habit: Habit, spot: Floats, height: float, spread: float, full: float
) -> _Grown:
    n = _count(random, habit.leaves * full, 3)
    length = habit.leaf_m * random.uniform(0.7, 1.1, n)
    leaves = _made(
        random,
        habit,
        spot + _in_disc(random, n, 0.2 * spread),
        np.asarray(np.arange(n) * GOLDEN_RAD + random.uniform(0, 6.28), dtype=np.float64),
        np.radians(random.uniform(-2, 8, n)),
        random.uniform(0.0, 0.15, n),
        length,
        length * habit.slender,
        young=random.uniform(0, 1, n),
    )
    roots = _count(random, 5, 3)
    hang = 0.035 * random.uniform(0.5, 1.3, roots)
    hairs = _made(
        random,
        habit,
        spot + _in_disc(random, roots, 0.15 * spread),
        random.uniform(0, 6.28, roots),
        np.radians(random.uniform(-95, -75, roots)),
        random.uniform(-0.3, 0.3, roots),
        hang,
        np.full(roots, 0.0009),
    )
    return leaves, hairs


_PORTIONS = {
    "grass": _grass,
    "mat": _mat,
    "rosette": _rosette,
    "ribbon": _ribbon,
    "stem": _stem,
    "broad": _broad,
    "fern": _fern,
    "feather": _feather,
    "moss": _moss,
    "floating": _floating,
}
