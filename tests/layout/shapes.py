"""Pieces and tanks of plain form for the tests of the layout: boxes, balls, and what follows from them in closed form.

Made here and not by `layout/pieces.py`, so that settling and bed are tested on figures that stand in any book.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace

import numpy as np
from scipy.spatial import ConvexHull

from slackwater.layout.ground import flat_bed
from slackwater.layout.scene import Glass, Layout, Piece, Placement


def glass(length=1.0, width=0.4, height=0.4, *, water=0.36, openings=()):
    return Glass(
        corners_m=((0.0, 0.0), (length, 0.0), (length, width), (0.0, width)),
        height_m=height,
        water_line_m=water,
        wall_m=0.01,
        public_sides=("front", "rear"),
        openings_m=openings,
    )


def bed(over, *, depth=0.06, repose=31.0, cell=0.005):
    return flat_bed(over, depth_m=depth, soil="active_soil_normal", repose_deg=repose, cell_m=cell)


def _piece(name, vertices, faces, *, kind, density, volume_m3, inertia_per_kg, convex=None):
    key = hashlib.sha256(vertices.tobytes() + faces.tobytes() + f"{kind} {density}".encode()).hexdigest()
    return Piece(
        key=key,
        name=name,
        kind=kind,
        look="angular" if kind == "stone" else "branching",
        material="stone_granite" if kind == "stone" else "wood_branching_root",
        density_kg_m3=density,
        vertices_m=vertices,
        faces=faces,
        closed_vertices_m=vertices,
        closed_faces=faces,
        volume_l=1000 * volume_m3,
        volume_error_l=0.0,
        hull_l=1000 * volume_m3,
        centre_m=np.zeros(3),
        inertia_kg_m2=np.diag(inertia_per_kg) * density * volume_m3,
        convex_m=(vertices,) if convex is None else convex,
        stand_in=True,
    )


def box(length, width, height, *, kind="stone", density=2650.0, name="box"):
    """About its middle; volume and inertia of a cuboid."""
    signs = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], dtype=float)
    vertices = signs * np.array([length, width, height]) / 2
    faces = np.array(
        [
            [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
            [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
        ],
        dtype=np.int32,
    )  # fmt: skip
    squares = np.array([length, width, height]) ** 2
    return _piece(
        name,
        vertices,
        faces,
        kind=kind,
        density=density,
        volume_m3=length * width * height,
        inertia_per_kg=(squares.sum() - squares) / 12,
    )


def ball(radius, *, kind="stone", density=2650.0, name="ball", points=600):
    """Corners on a sphere; volume as of the mesh, inertia as of the sphere."""
    golden = np.pi * (3 - np.sqrt(5))
    z = 1 - (2 * np.arange(points) + 1) / points
    around = golden * np.arange(points)
    flat = np.sqrt(1 - z * z)
    vertices = radius * np.column_stack([flat * np.cos(around), flat * np.sin(around), z])
    hull = ConvexHull(vertices)
    faces = hull.simplices.astype(np.int32)
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    inward = np.einsum("ij,ij->i", np.cross(b - a, c - a), a) < 0
    faces[inward] = faces[inward][:, ::-1]
    return _piece(
        name,
        vertices,
        faces,
        kind=kind,
        density=density,
        volume_m3=float(hull.volume),
        inertia_per_kg=(0.4 * radius**2,) * 3,
    )


def pebble(seed, length, width, height, *, points=300, density=2650.0):
    """The hull of random points on a dented ellipsoid; mass figures by tetrahedra from the origin, as of a solid."""
    rng = np.random.default_rng(seed)
    rough = rng.normal(size=(points, 3))
    rough /= np.linalg.norm(rough, axis=1)[:, None]
    rough *= rng.uniform(0.85, 1.0, (points, 1))
    vertices = rough * np.array([length, width, height]) / 2
    vertices = vertices[ConvexHull(vertices).vertices]
    hull = ConvexHull(vertices)
    faces = hull.simplices.astype(np.int32)
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    inward = np.einsum("ij,ij->i", np.cross(b - a, c - a), hull.equations[:, :3]) < 0
    faces[inward] = faces[inward][:, ::-1]
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    sixfold = np.einsum("ij,ij->i", a, np.cross(b, c))
    volume = sixfold.sum() / 6
    centre = (sixfold[:, None] * (a + b + c)).sum(axis=0) / (24 * volume)
    spread = sum(np.einsum("i,ij,ik->jk", sixfold, p, q) for p in (a, b, c) for q in (a, b, c))
    spread = (spread + sum(np.einsum("i,ij,ik->jk", sixfold, p, p) for p in (a, b, c))) / 120
    spread -= volume * np.outer(centre, centre)
    made = _piece(
        f"pebble {seed}",
        vertices,
        faces,
        kind="stone",
        density=density,
        volume_m3=float(volume),
        inertia_per_kg=(0.0, 0.0, 0.0),
    )
    return replace(made, centre_m=centre, inertia_kg_m2=density * (np.eye(3) * np.trace(spread) - spread))


def layout(over, ground, *placed, joints=(), ballast=None):
    """Of pairs of a piece and a position, or of a piece, a position and a turn; numbered from 1."""
    pieces = {item[0].key: item[0] for item in placed}
    placements = tuple(
        Placement(
            number=number, piece=item[0].key, position_m=item[1], turn=item[2] if len(item) > 2 else (1.0, 0, 0, 0)
        )
        for number, item in enumerate(placed, 1)
    )
    return Layout(glass=over, bed=ground, pieces=pieces, placements=placements, joints=joints, ballast_kg=ballast or {})
