"""The records of a layout: the glass, the bed as a grid, the pieces, and where each piece stands.

Metres; x to the right, y to the rear, z up; the origin is the front left bottom corner inside the glass, as in
`tank.result.TankShape`. No side is "the front" in code: what the public sees is a set of sides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import NotFound, OutOfRange
from slackwater.frozen import Frozen
from slackwater.job.model import PublicSide

Floats = NDArray[np.float64]
Faces = NDArray[np.int32]
"""Corner numbers of triangles, counted against the clock seen from outside."""

Kind = Literal["stone", "wood"]
Look = Literal["rounded", "angular", "slab", "pitted", "branching"]

CELL_M = 0.005
"""Distance of the nodes of a bed, about: the nearest that divides the glass evenly."""


class Glass(Frozen):
    """The inside of the tank as far as a layout asks for it."""

    corners_m: tuple[tuple[float, float], ...]
    """Outline of the bottom, against the clock seen from above; at least three corners."""
    height_m: float
    water_line_m: float
    wall_m: float
    """Thickness of the panes."""
    public_sides: tuple[PublicSide, ...]
    openings_m: tuple[tuple[float, float], ...] = ()
    """Length and width of each hole that a piece can be passed through; empty where the whole mouth is open."""

    @property
    def box_m(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y of the outline."""
        xs, ys = zip(*self.corners_m, strict=True)
        return min(xs), min(ys), max(xs), max(ys)


@dataclass(frozen=True)
class Retainer:
    """A strip that stands on the bottom glass and holds the bed back."""

    line_m: tuple[tuple[float, float], ...]
    """Corners of the strip seen from above; at least two."""
    top_m: float


@dataclass(frozen=True)
class Bay:
    """A part of the bottom filled with another material than the soil, over its whole depth."""

    outline_m: tuple[tuple[float, float], ...]
    material: str
    """Id in the catalog."""


@dataclass(frozen=True)
class Cap:
    """A second soil laid over part of the first; which part is not told, only its share."""

    material: str
    """Id in the catalog."""
    depth_m: float
    share: float
    """Of the bottom [0 to 1]."""


@dataclass(frozen=True, eq=False)
class Bed:
    """The bed as a grid of nodes over the box round the glass; the last node lies on the far glass.

    One rule of triangles for all parts of the program: each cell is cut from its node of least x and y to that of
    greatest x and y.
    """

    x_m: Floats
    y_m: Floats
    top_m: Floats
    """Height of the surface above the bottom glass; one row for each y, at least 0."""
    base_m: Floats
    """Height of the base layer under the soil, same grid; nowhere above the surface."""
    soil: str
    """Id of the soil in the catalog."""
    base: str | None = None
    repose_deg: float | None = None
    """Angle of repose of the soil, wet; None where it is not known."""
    bays: tuple[Bay, ...] = ()
    retainers: tuple[Retainer, ...] = ()
    cap: Cap | None = None
    """Within the heights of the surface, not on top of them."""

    @property
    def cell_m(self) -> tuple[float, float]:
        """Distance of the nodes in x and in y."""
        return float(self.x_m[1] - self.x_m[0]), float(self.y_m[1] - self.y_m[0])


@dataclass(frozen=True, eq=False)
class Piece:
    """One stone or one piece of wood, whatever its place: what is slow to find is found once and kept by its key.

    The mesh is the scan's own, scaled to metres and turned z up, its corners never moved; all else is in its frame.
    """

    key: str
    """SHA-256 of everything the piece was made from."""
    name: str
    kind: Kind
    look: Look
    material: str
    """Id in the catalog."""
    density_kg_m3: float
    vertices_m: Floats
    faces: Faces
    closed_vertices_m: Floats
    closed_faces: Faces
    """The solid that volumes are counted with: the mesh itself where it is closed, else the mesh with caps."""
    volume_l: float
    volume_error_l: float
    """Half of what caps added [L]; 0 for a closed mesh."""
    hull_l: float
    centre_m: Floats
    """Centre of mass of the solid."""
    inertia_kg_m2: Floats
    """3 by 3, about the centre of mass."""
    convex_m: tuple[Floats, ...]
    """Corners of convex parts that together stand for the solid where it touches something."""
    stand_in: bool
    """Made up from size and mass, not scanned."""

    @property
    def mass_kg(self) -> float:
        """Density times volume."""
        return self.density_kg_m3 * self.volume_l / 1000


@dataclass(frozen=True)
class Placement:
    """Where a piece stands: a corner p of its mesh lies at ``turn(p) + position``."""

    number: int
    """Order of placing, from 1; also what is written on the piece."""
    piece: str
    """Key of the piece."""
    position_m: tuple[float, float, float]
    turn: tuple[float, float, float, float] = (1.0, 0.0, 0.0, 0.0)
    """Unit quaternion w, x, y, z."""
    locked: bool = False
    """Placed by hand: a proposal leaves it where it is."""


@dataclass(frozen=True)
class Joint:
    """A glued or screwed contact of two placements, or of one with the bottom glass (number 0)."""

    one: int
    other: int
    at_m: tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class Layout:
    """A whole layout. Edits give a new one; nothing in it is changed in place."""

    glass: Glass
    bed: Bed
    pieces: Mapping[str, Piece] = field(default_factory=dict)
    """By key; may hold pieces that are not placed (on hand)."""
    placements: tuple[Placement, ...] = ()
    joints: tuple[Joint, ...] = ()
    ballast_kg: Mapping[int, float] = field(default_factory=dict)
    """Weight tied to a placement, by its number, as weight under water [kg]."""

    def placement(self, number: int) -> Placement:
        """The placement of that number.

        Raises
        ------
        NotFound
            Naming the numbers there are.
        """
        found = next((item for item in self.placements if item.number == number), None)
        if found is None:
            have = ", ".join(str(item.number) for item in self.placements) or "none"
            raise NotFound(f"no piece has the number {number} in this layout; numbers: {have}")
        return found

    def with_placement(self, placement: Placement) -> Layout:
        """The same with this placement in place of the one of its number, or added."""
        others = [item for item in self.placements if item.number != placement.number]
        return replace(self, placements=tuple(sorted((*others, placement), key=lambda item: item.number)))

    def without(self, number: int) -> Layout:
        """The same less one placement; its joints and ballast go with it."""
        return replace(
            self,
            placements=tuple(item for item in self.placements if item.number != number),
            joints=tuple(item for item in self.joints if number not in (item.one, item.other)),
            ballast_kg={key: kg for key, kg in self.ballast_kg.items() if key != number},
        )


@dataclass(frozen=True)
class Measure:
    """A number with the error of its sampling, and how it was found."""

    value: float
    standard_error: float
    """0 where nothing was sampled."""
    method: str


def rotation(turn: tuple[float, float, float, float]) -> Floats:
    """The 3 by 3 matrix of a quaternion w, x, y, z, made unit first.

    Raises
    ------
    OutOfRange
        Where the quaternion is nil or not finite.
    """
    q = np.asarray(turn, dtype=np.float64)
    size = float(np.linalg.norm(q))
    if not np.isfinite(size) or size < 1e-9:
        raise OutOfRange(f"the turn {turn} is no direction, expected a quaternion w, x, y, z that is not all zero")
    w, x, y, z = q / size
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )


def stood(points_m: Floats, placement: Placement) -> Floats:
    """Points of a piece's own frame [n, 3] where its placement puts them in the tank."""
    return np.asarray(points_m @ rotation(placement.turn).T + np.asarray(placement.position_m))
