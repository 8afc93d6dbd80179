"""The triangles that light meets, in a tree of boxes: bed, stones and wood of a layout."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slackwater.layout.ground import height_m
from slackwater.layout.scene import Bed, Faces, Floats, Layout, stood
from slackwater.light import tracer

Ints = NDArray[np.int64]
ALBEDO: Mapping[str, float] = {"soil": 0.12, "stone": 0.25, "wood": 0.15}
"""Share of light that wet soil, stone and wood throw back, evenly in all directions; from memory: dark baked soil 0.05 to
0.15, pale sand up to 0.4, dark to pale stone 0.1 to 0.4."""
BED_CELL_M = 0.01
"""The bed is flat enough between nodes this far apart; a finer one only costs time."""
KINDS: Mapping[str, int] = {"soil": tracer.SOIL, "stone": tracer.STONE, "wood": tracer.WOOD}


@dataclass(frozen=True, eq=False)
class Tree:
    """Triangles in the order of the leaves of their tree."""

    boxes: Floats
    """[boxes, 6]: least and greatest x, y, z."""
    links: Ints
    """[boxes, 2]: first child and 0, or first triangle and number of triangles."""
    triangles: Floats
    """[n, 9]: a corner and the two edges from it."""
    kinds: Ints
    albedos: Floats
    highest_m: float
    """Of anything but the bed; -inf where there is none."""

    def nearest(self, start: Floats, direction: Floats) -> tuple[float, int]:
        """Distance to the nearest triangle along a ray, and its number; inf and -1 for none."""
        stack = np.empty(128, dtype=np.int64)
        x, y, z = (float(value) for value in start)
        dx, dy, dz = (float(value) for value in direction)
        return tracer.nearest(x, y, z, dx, dy, dz, np.inf, self.boxes, self.links, self.triangles, stack)

    def above(self, points: Floats) -> Ints:
        """What lies straight above points [n, 3]: 0 nothing, 1 the outside of a face, 2 the inside of one."""
        out = np.zeros(len(points), dtype=np.int64)
        tracer.risen(np.ascontiguousarray(points), self.boxes, self.links, self.triangles, out)
        return out


def bed_corners(bed: Bed, *, cell_m: float = BED_CELL_M) -> Floats:
    """Triangles of a bed by its own rule [n, 3, 3], facing up; with nodes at that distance, or the bed's own where wider."""
    steps = [max(1, round(cell_m / cell)) for cell in bed.cell_m]
    counts = [max(1, (len(axis) - 1) // step) for axis, step in zip((bed.x_m, bed.y_m), steps, strict=True)]
    x, y = np.meshgrid(
        *(np.linspace(axis[0], axis[-1], count + 1) for axis, count in zip((bed.x_m, bed.y_m), counts, strict=True))
    )
    nodes = np.stack([x, y, height_m(bed, x, y)], axis=-1)
    low, right, rear, high = nodes[:-1, :-1], nodes[:-1, 1:], nodes[1:, :-1], nodes[1:, 1:]
    under = np.stack([low, right, high], axis=2)
    over = np.stack([low, high, rear], axis=2)
    return np.concatenate([under.reshape(-1, 3, 3), over.reshape(-1, 3, 3)])


def tree_of(corners: Floats, kinds: Ints, albedos: Floats) -> Tree:
    """A tree over triangles [n, 3, 3]."""
    if not len(corners):
        empty = np.zeros((0, 6))
        return Tree(empty, np.zeros((0, 2), np.int64), np.zeros((0, 9)), kinds, albedos, -np.inf)
    low, high = corners.min(axis=1), corners.max(axis=1)
    order = np.arange(len(corners))
    boxes = np.zeros((2 * len(corners), 6))
    links = np.zeros((2 * len(corners), 2), dtype=np.int64)
    count = tracer.tree(low, high, order, boxes, links)
    # A box must never be missed by the last bit of a ray that grazes it.
    boxes = boxes[:count]
    boxes[:, :3] -= 1e-9
    boxes[:, 3:] += 1e-9
    corners = corners[order]
    triangles = np.hstack([corners[:, 0], corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]])
    others = high[:, 2][kinds != tracer.SOIL]
    return Tree(
        boxes=np.ascontiguousarray(boxes),
        links=np.ascontiguousarray(links[:count]),
        triangles=np.ascontiguousarray(triangles),
        kinds=kinds[order],
        albedos=albedos[order],
        highest_m=float(others.max()) if len(others) else -np.inf,
    )


def faces_of(layout: Layout) -> tuple[Floats, list[str]]:
    """All triangles of a layout [n, 3, 3], and what each is of: soil, stone or wood."""
    corners = [bed_corners(layout.bed)]
    names = ["soil"] * len(corners[0])
    for item in layout.placements:
        piece = layout.pieces[item.piece]
        faces: Faces = piece.closed_faces
        corners.append(stood(piece.closed_vertices_m, item)[faces])
        names += [piece.kind] * len(faces)
    return np.concatenate(corners), names


def tree_of_layout(layout: Layout, *, albedo: Mapping[str, float] = ALBEDO) -> Tree:
    """The tree of a layout: its bed, and the solids of its pieces where they stand."""
    corners, names = faces_of(layout)
    return tree_of(
        corners,
        np.array([KINDS[name] for name in names], dtype=np.int64),
        np.array([albedo[name] for name in names], dtype=np.float64),
    )
