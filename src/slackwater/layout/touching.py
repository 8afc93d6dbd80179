"""How a piece touches: its convex parts about its centre of mass, and the points at which it may meet the bed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull

from slackwater.errors import BadInput
from slackwater.layout.place import hull_faces, spiral
from slackwater.layout.scene import Floats, Layout, Piece, Placement, rotation

POINTS = 60
"""Points of a convex part, about, at which it may touch the bed."""
MOST_CORNERS = 64
POINT_M = 0.0002
"""Radius of the ball that stands for a point."""
INSET_M = 0.0005
"""How far points amid a face lie within it: on level ground a face stands on its corners. With many points of one face
in touch at once a sliding block chatters and hops, and slides twice as far as it should."""


@dataclass(frozen=True, eq=False)
class Body:
    """One piece as the engine gets it: about its centre of mass."""

    number: int
    placement: Placement
    piece: Piece
    parts: tuple[Floats, ...]
    points: Floats
    """Where it may touch the bed."""
    normals: Floats
    """Outward, of the most downward face at each point."""
    depths: Floats
    """Of the centre of the point's ball below the surface."""


def body_of(layout: Layout, placement: Placement) -> Body:
    """A placed piece as bodies touch; points that lie within another of its parts are left out.

    Raises
    ------
    BadInput
        If it weighs nothing.
    """
    piece = layout.pieces[placement.piece]
    if not piece.mass_kg > 0:
        raise BadInput(f"{piece.name} weighs nothing; give it a density and a closed mesh")
    down = rotation(placement.turn)[2]
    parts = tuple(thinned(np.asarray(part) - piece.centre_m) for part in piece.convex_m)
    points, normals, depths = [], [], []
    share = max(8, POINTS // len(parts))
    hulls = [ConvexHull(part).equations for part in parts]
    for k, part in enumerate(parts):
        at, out, depth = touching_points(part, down, share)
        free = np.ones(len(at), dtype=bool)
        for other, planes in enumerate(hulls):
            if other != k:
                free &= (at @ planes[:, :3].T + planes[:, 3] > -1e-6).any(axis=1)
        points.append(at[free])
        normals.append(out[free])
        depths.append(depth[free])
    return Body(
        number=placement.number,
        placement=placement,
        piece=piece,
        parts=parts,
        points=np.vstack(points),
        normals=np.vstack(normals),
        depths=np.concatenate(depths),
    )


def thinned(part: Floats) -> Floats:
    """Corners of a hull; of one with many those that lie farthest out."""
    corners = part[ConvexHull(part).vertices]
    if len(corners) <= MOST_CORNERS:
        return np.asarray(corners)
    directions = spiral(4 * MOST_CORNERS)
    return np.asarray(corners[np.unique(np.argmax(corners @ directions.T, axis=0))])


def touching_points(part: Floats, down: Floats, count: int) -> tuple[Floats, Floats, Floats]:
    """Corners of a hull and points spread over its larger faces, those that look up left out, with outward normals."""
    faces = hull_faces(part)
    a, b, c = (part[faces[:, k]] for k in range(3))
    out = np.cross(b - a, c - a)
    area = np.linalg.norm(out, axis=1)
    kept = area > 1e-12
    faces, a, b, c, out, area = faces[kept], a[kept], b[kept], c[kept], out[kept], area[kept]
    out = out / area[:, None]
    lowest = np.full(len(part), np.inf)
    normal = np.zeros((len(part), 3))
    for face, facing, n in zip(faces, out @ down, out, strict=True):
        for corner in face:
            if facing < lowest[corner]:
                lowest[corner], normal[corner] = facing, n
    points, normals = [part[np.isfinite(lowest)]], [normal[np.isfinite(lowest)]]
    corners = len(points[0])
    side = (float(area.sum()) / 2 / count) ** 0.5
    for face in range(len(faces)):
        cuts = int((area[face] ** 0.5) / side)
        for p in range(1, cuts):
            for q in range(1, cuts - p + 1):
                u, v = p / (cuts + 1), q / (cuts + 1)
                points.append((a[face] + u * (b[face] - a[face]) + v * (c[face] - a[face]))[None])
                normals.append(out[face][None])
    at, outward = np.vstack(points), np.vstack(normals)
    depth = np.where(np.arange(len(at)) < corners, POINT_M, POINT_M + INSET_M)
    looks = outward @ down < 0.7
    return at[looks], outward[looks], depth[looks]
