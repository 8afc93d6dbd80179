"""The records of a picture: meshes with a colour at each corner, the water, the light, the cameras. Nothing here knows what draws them.

Metres and axes as in `layout.scene`. Colours are shares of light thrown back, linear, red green blue.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, fields
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Coordinates = NDArray[np.float32]
"""(n, 3)."""
Triangles = NDArray[np.int32]
"""(m, 3) corner numbers."""
Rgb = tuple[float, float, float]

Side = Literal["front", "rear", "left", "right", "oblique"]
Age = Literal["planted", "week6", "month3"]
SIDES: tuple[Side, ...] = ("front", "rear", "left", "right", "oblique")
AGES: tuple[Age, ...] = ("planted", "week6", "month3")
AGE_DAYS: dict[Age, int] = {"planted": 0, "week6": 42, "month3": 91}
SHEET_UNDER_M = 0.002
"""Depth of the sheet of light under the surface."""
Stuff = Literal["ground", "leaf"]
"""How light meets a surface: thrown back only, or let through in part as leaves do."""


@dataclass(frozen=True, eq=False)
class Mesh:
    """Triangles with a colour at each corner."""

    vertices_m: Coordinates
    faces: Triangles
    colour: Coordinates
    """Of each corner, shares of light thrown back [0..1]."""

    @staticmethod
    def joined(parts: list[Mesh]) -> Mesh:
        """Several as one; an empty list gives an empty mesh."""
        if not parts:
            return Mesh(np.zeros((0, 3), np.float32), np.zeros((0, 3), np.int32), np.zeros((0, 3), np.float32))
        starts = np.cumsum([0, *(len(part.vertices_m) for part in parts[:-1])])
        return Mesh(
            np.concatenate([part.vertices_m for part in parts]).astype(np.float32),
            np.concatenate([part.faces + start for part, start in zip(parts, starts, strict=True)]).astype(np.int32),
            np.concatenate([part.colour for part in parts]).astype(np.float32),
        )


@dataclass(frozen=True, eq=False)
class Thing:
    """One thing in the water: bed, a piece, the plants of one kind."""

    name: str
    stuff: Stuff
    mesh: Mesh


@dataclass(frozen=True)
class Water:
    """The body of water: its outline seen from above, against the clock, and its surface."""

    corners_m: tuple[tuple[float, float], ...]
    line_m: float
    tint_per_m: Rgb
    """What the water takes from light, by band."""


@dataclass(frozen=True)
class Lamp:
    """The light as a sheet that shines down, just under the surface over the whole mouth."""

    par_umol_m2_s: float
    """Mean light on the bed that it stands for."""
    radiance: float
    """That gives this light on the bed [umol/(m2 s sr)]."""
    colour: Rgb = (1.0, 1.0, 1.0)


@dataclass(frozen=True)
class Camera:
    """An eye before one side."""

    side: Side
    origin_m: tuple[float, float, float]
    target_m: tuple[float, float, float]
    across_deg: float
    """Angle of view from left to right."""
    rise: float = 0.0
    """By how much the middle of the picture lies above the line of sight, as a share of its height: a lens that is shifted
    and not tilted keeps uprights upright."""


@dataclass(frozen=True, eq=False)
class PictureScene:
    """Everything in one picture but the camera."""

    age: Age
    things: tuple[Thing, ...]
    water: Water
    lamp: Lamp
    backdrop: tuple[Side, ...]
    """Sides that nobody looks through: a plain sheet stands behind them."""
    height_m: float
    """Of the glass."""
    wall_m: float
    """Thickness of the panes."""

    @property
    def triangles(self) -> int:
        """How many there are."""
        return sum(len(thing.mesh.faces) for thing in self.things)

    def key(self) -> str:
        """SHA-256 of everything in it."""
        digest = hashlib.sha256()
        for part in fields(self):
            if part.name != "things":
                digest.update(repr(getattr(self, part.name)).encode())
        for thing in self.things:
            digest.update(f"{thing.name} {thing.stuff}".encode())
            for array in (thing.mesh.vertices_m, thing.mesh.faces, thing.mesh.colour):
                digest.update(np.ascontiguousarray(array).tobytes())
        return digest.hexdigest()


def linear(hex_colour: str) -> Rgb:
    """Shares of light of a colour as it is written for screens, such as "#4a7a2c".

    References
    ----------
    IEC 61966-2-1 (1999), the transfer function of sRGB.
    """
    parts = [int(hex_colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return red, green, blue
