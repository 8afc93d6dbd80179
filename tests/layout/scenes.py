"""Tanks, beds and bodies that tests of the layout stand on."""

from __future__ import annotations

import csv
from functools import cache

import numpy as np

from slackwater.actions.examples import example_scan, example_scans
from slackwater.layout.pieces import assembled, piece_from_mesh
from slackwater.layout.reading import read_scan
from slackwater.layout.scene import Bed, Glass, Layout, Placement
from slackwater.layout.solids import thinned
from slackwater.layout.standin import stand_in

BOX = ((0.0, 0.0), (1.0, 0.0), (1.0, 0.4), (0.0, 0.4))
# A bow front: a fifth of a circle, cut into straight pieces.
BOW = (
    *((float(x), float(0.1 * (1 - np.sin(np.pi * x)))) for x in np.linspace(0, 1, 17)),
    (1.0, 0.4),
    (0.0, 0.4),
)
CUT = ((0.0, 0.0), (1.0, 0.0), (1.0, 0.22), (0.83, 0.4), (0.0, 0.4))
BENT = ((0.0, 0.0), (1.0, 0.0), (1.0, 0.4), (0.63, 0.4), (0.63, 0.17), (0.0, 0.17))


def glass(corners=BOX, *, height_m=0.4, water_line_m=0.37):
    return Glass(
        corners_m=corners, height_m=height_m, water_line_m=water_line_m, wall_m=0.01, public_sides=("front", "rear")
    )


def bed(surface, corners=BOX, *, cells=(200, 80)):
    """A bed whose nodes lie on a surface of x and y."""
    xs, ys = zip(*corners, strict=True)
    x, y = np.linspace(min(xs), max(xs), cells[0] + 1), np.linspace(min(ys), max(ys), cells[1] + 1)
    across, along = np.meshgrid(x, y)
    top = np.broadcast_to(np.asarray(surface(across, along), dtype=float), across.shape).copy()
    return Bed(x_m=x, y_m=y, top_m=top, base_m=np.zeros_like(top), soil="active_soil_fine")


def flat(height_m, corners=BOX):
    return bed(lambda x, y: height_m + 0 * x, corners)


def wavy(x, y):
    return 0.04 + 0.25 * y + 0.02 * np.sin(9 * x + 3 * y) ** 2


def body(mesh, *, name="body", density_kg_m3=2700.0):
    vertices, faces = mesh
    return piece_from_mesh(
        name=name,
        kind="stone",
        look="rounded",
        material="stone",
        density_kg_m3=density_kg_m3,
        vertices_m=vertices,
        faces=faces,
    )


def layout_of(tank, soil, *placed):
    """Pieces at places: each a piece, a position and perhaps a turn."""
    return Layout(
        glass=tank,
        bed=soil,
        pieces={piece.key: piece for piece, *_ in placed},
        placements=tuple(
            Placement(number=number, piece=piece.key, position_m=at, **({"turn": turn[0]} if turn else {}))
            for number, (piece, at, *turn) in enumerate(placed, start=1)
        ),
    )


def any_turn(random):
    q = random.normal(size=4)
    return tuple(float(part) for part in q / np.linalg.norm(q))


@cache
def scan_rows():
    return tuple(csv.DictReader(example_scans().splitlines()))


@cache
def scanned():
    """The example scans as pieces; without the slow convex parts of wood, which volumes do not ask for."""
    found = []
    for row in scan_rows():
        read = read_scan(example_scan(row["file"]), file_format="glb")
        found.append(
            assembled(
                key=row["file"],
                name=row["file"],
                kind="stone",
                look="angular",
                material="stone",
                density_kg_m3=float(row["density_kg_m3"]),
                vertices_m=read.vertices_m,
                faces=read.faces,
                stand_in=False,
                convex_m=(read.vertices_m,),
            )
        )
    return tuple(found)


@cache
def made_up():
    """Stand-ins of every look of stone, from a big one to one of 6 cm, and a piece of wood."""
    sizes = ((0.26, 0.17, 0.21), (0.2, 0.14, 0.15), (0.24, 0.16, 0.07), (0.15, 0.11, 0.1), (0.09, 0.08, 0.06))
    looks = ("angular", "rounded", "slab", "pitted", "rounded")
    return (
        *(
            stand_in(
                name=look,
                kind="stone",
                look=look,
                material="stone",
                density_kg_m3=2700,
                size_m=size,
                mass_kg=None,
                seed=number,
            )
            for number, (look, size) in enumerate(zip(looks, sizes, strict=True))
        ),
        stand_in(
            name="root",
            kind="wood",
            look="branching",
            material="wood",
            density_kg_m3=950,
            size_m=(0.38, 0.23, 0.22),
            mass_kg=None,
            seed=4,
        ),
    )


@cache
def coarse():
    """All those pieces of a few hundred triangles: as hard to count, and quick."""
    found = []
    for piece in (*made_up(), *scanned()):
        vertices, faces = thinned(piece.closed_vertices_m, piece.closed_faces, triangles=400)
        found.append(
            assembled(
                key=f"coarse {piece.key}",
                name=piece.name,
                kind=piece.kind,
                look=piece.look,
                material=piece.material,
                density_kg_m3=piece.density_kg_m3,
                vertices_m=vertices,
                faces=faces,
                stand_in=piece.stand_in,
                convex_m=(vertices,),
            )
        )
    return tuple(found)


def tetrahedron():
    """Corner of a cube of 6 cm: 36 mL."""
    vertices = 0.06 * np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], dtype=float)
    return vertices, np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]], dtype=np.int32)
