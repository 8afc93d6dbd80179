"""A stone or a piece of wood from its mesh: closed, turned outward, weighed, with convex parts for contact."""

from __future__ import annotations

from hashlib import sha256

import coacd
import numpy as np
from scipy.spatial import ConvexHull, QhullError

from slackwater.errors import BadInput, OutOfRange, check_range
from slackwater.finding import Finding, Severity
from slackwater.layout import meshes, solids
from slackwater.layout.scene import Faces, Floats, Kind, Look, Piece

RECIPE = "1"
"""Part of every key: raise it when what is made here changes."""
MOST_TRIANGLES = 2_000_000
WORKING_TRIANGLES = 50_000
"""A finer solid is thinned to this for counting; what that changes of its volume is part of its error."""
_HULL_IS_ENOUGH = 1.25
"""Hull over solid, up to which the hull alone stands for a stone where it touches."""
_PARTS_TRIANGLES = 1_000
_PARTS_THRESHOLD = {"stone": 0.2, "wood": 0.05}
_LEAKY_SHARE = 0.01
"""Above this share of its volume the error of a scan is told; common practice, no source."""


def key_of(*made_from: object) -> str:
    """SHA-256 of what a piece is made from: texts, numbers and arrays."""
    digest = sha256(RECIPE.encode())
    for part in made_from:
        if isinstance(part, np.ndarray):
            digest.update(f"{part.dtype.str}{part.shape}".encode())
            digest.update(np.ascontiguousarray(part).tobytes())
        else:
            digest.update(repr(part).encode())
        digest.update(b"\0")
    return digest.hexdigest()


def mesh_key(
    *,
    name: str,
    kind: Kind,
    look: Look,
    material: str,
    density_kg_m3: float,
    vertices_m: Floats,
    faces: Faces,
) -> str:
    """The key that `piece_from_mesh` gives: cheap to find, so that what is slow need not be done twice."""
    return key_of(
        "mesh",
        name,
        kind,
        look,
        material,
        float(density_kg_m3),
        np.asarray(vertices_m, dtype=np.float64),
        np.asarray(faces, dtype=np.int32),
    )


def checked(vertices_m: Floats, faces: Faces) -> tuple[Floats, Faces]:
    """The arrays of a mesh as the program keeps them.

    Raises
    ------
    OutOfRange
        Where a triangle names a corner that is not there, a place is not a number, or there are too many triangles.
    BadInput
        Where there is no triangle.
    """
    vertices = np.ascontiguousarray(vertices_m, dtype=np.float64)
    triangles = np.ascontiguousarray(faces)
    if not triangles.size or not vertices.size:
        raise BadInput("the mesh is empty: it has no triangle")
    if vertices.ndim != 2 or vertices.shape[1] != 3 or triangles.ndim != 2 or triangles.shape[1] != 3:
        raise BadInput("the mesh is not made of triangles in space")
    if len(triangles) > MOST_TRIANGLES:
        raise OutOfRange(
            f"the mesh has {len(triangles):,} triangles, expected at most {MOST_TRIANGLES:,}: thin it where it was made"
        )
    if not np.isfinite(vertices).all():
        raise OutOfRange("the mesh has corners whose place is not a number")
    if triangles.min() < 0 or triangles.max() >= len(vertices):
        raise OutOfRange("the mesh has triangles with a corner that is not there")
    return vertices, triangles.astype(np.int32)


def _hull(points_m: Floats) -> tuple[Floats, float]:
    """Corners of the convex hull and its volume [m3]."""
    try:
        hull = ConvexHull(points_m)
    except QhullError as error:
        raise BadInput("the mesh is flat: it has no volume") from error
    return np.asarray(points_m[np.sort(hull.vertices)]), float(hull.volume)


def _hull_mesh(points_m: Floats) -> tuple[Floats, Faces]:
    corners, _ = _hull(points_m)
    faces = ConvexHull(corners).simplices.astype(np.int32)
    return corners, meshes.facing_out(corners, faces)


def closed(vertices_m: Floats, faces: Faces) -> tuple[Floats, Faces, float]:
    """The solid of a mesh, and by how much its volume may be wrong [L].

    Holes are closed with a fan from the middle of their rim. The error is half of the pyramids from the middle of
    the solid to those fans, which is what the fans add to the volume. A mesh that is no solid even so is taken as its
    convex hull, and the error is half of what the hull holds.

    Raises
    ------
    BadInput
        Where the mesh has no volume.
    """
    vertices, triangles = meshes.welded(vertices_m, faces)
    if not len(triangles):
        raise BadInput("the mesh is flat: it has no volume")
    triangles = meshes.facing_out(vertices, triangles)
    grown, whole = meshes.capped(vertices, triangles)
    patched = len(whole) > len(triangles)
    if patched:
        whole = np.vstack([triangles, whole[len(triangles) :]])
    solid = solids.united_shells(grown, whole) if meshes.open_edges(whole) == 0 else None
    if solid is None:
        corners, hull = _hull_mesh(vertices)
        return corners, hull, 1000 * meshes.signed_volume_m3(corners, hull) / 2
    error_l = 0.0
    if patched:
        middle = meshes.mass_of(*solid).centre_m
        fans = meshes.corners_of(grown - middle, whole[len(triangles) :])
        pyramids = np.einsum("ij,ij->i", fans[:, 0], np.cross(fans[:, 1], fans[:, 2])) / 6
        error_l = 1000 * float(np.abs(pyramids).sum()) / 2
    if len(solid[1]) > WORKING_TRIANGLES:
        before = meshes.signed_volume_m3(*solid)
        solid = solids.thinned(*solid, triangles=WORKING_TRIANGLES)
        error_l += 1000 * abs(meshes.signed_volume_m3(*solid) - before)
    return *solid, error_l


def _convex_parts(kind: Kind, vertices_m: Floats, faces: Faces, hull_m: Floats, hull_over: float) -> tuple[Floats, ...]:
    if kind == "stone" and hull_over <= _HULL_IS_ENOUGH:
        return (hull_m,)
    few = solids.thinned(vertices_m, faces, triangles=_PARTS_TRIANGLES)
    coacd.set_log_level("off")
    parts = coacd.run_coacd(
        coacd.Mesh(*few),
        threshold=_PARTS_THRESHOLD[kind],
        preprocess_mode="off",
        mcts_iterations=60,
        resolution=1000,
        seed=1,
    )
    return tuple(_hull(np.asarray(corners, dtype=np.float64))[0] for corners, _ in parts)


def piece_from_mesh(
    *,
    name: str,
    kind: Kind,
    look: Look,
    material: str,
    density_kg_m3: float,
    vertices_m: Floats,
    faces: Faces,
) -> Piece:
    """A piece from a mesh in metres, z up.

    Parameters
    ----------
    name : str
        What it is called; may be what is written on it.
    kind, look : str
        See `scene`.
    material : str
        Id in the catalog.
    density_kg_m3 : float
        Density of the solid piece, pits not counted [100 to 10,000].
    vertices_m, faces : array
        The mesh; it may have holes, look inward, or be made of shells that overlap.

    Raises
    ------
    OutOfRange, BadInput
        Where the mesh cannot be used, see `checked` and `closed`.
    """
    vertices, triangles = checked(vertices_m, faces)
    key = mesh_key(
        name=name,
        kind=kind,
        look=look,
        material=material,
        density_kg_m3=density_kg_m3,
        vertices_m=vertices,
        faces=triangles,
    )
    return assembled(
        key=key,
        name=name,
        kind=kind,
        look=look,
        material=material,
        density_kg_m3=density_kg_m3,
        vertices_m=vertices,
        faces=triangles,
        stand_in=False,
    )


def assembled(
    *,
    key: str,
    name: str,
    kind: Kind,
    look: Look,
    material: str,
    density_kg_m3: float,
    vertices_m: Floats,
    faces: Faces,
    stand_in: bool,
    convex_m: tuple[Floats, ...] | None = None,
) -> Piece:
    """A piece of a checked mesh under a key that its maker chose; the convex parts where he knows them."""
    check_range("density", density_kg_m3, 100, 10_000, unit="kg/m3")
    closed_vertices, closed_faces, error_l = closed(vertices_m, faces)
    mass = meshes.mass_of(closed_vertices, closed_faces)
    hull, hull_m3 = _hull(closed_vertices)
    return Piece(
        key=key,
        name=name,
        kind=kind,
        look=look,
        material=material,
        density_kg_m3=density_kg_m3,
        vertices_m=vertices_m,
        faces=faces,
        closed_vertices_m=closed_vertices,
        closed_faces=closed_faces,
        volume_l=1000 * mass.volume_m3,
        volume_error_l=error_l,
        hull_l=1000 * hull_m3,
        centre_m=mass.centre_m,
        inertia_kg_m2=density_kg_m3 * mass.inertia_m5,
        convex_m=convex_m or _convex_parts(kind, closed_vertices, closed_faces, hull, hull_m3 / mass.volume_m3),
        stand_in=stand_in,
    )


def piece_findings(piece: Piece) -> tuple[Finding, ...]:
    """What is to be known of a piece before its figures are trusted."""
    if piece.volume_error_l <= _LEAKY_SHARE * piece.volume_l:
        return ()
    return (
        Finding(
            id="layout.scan_leaky",
            severity=Severity.CONDITION,
            about=piece.key,
            values={"name": piece.name, "volume_l": piece.volume_l, "error_l": piece.volume_error_l},
        ),
    )
