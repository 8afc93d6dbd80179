"""Arithmetic of triangle meshes: volume and mass properties, welding, turning all faces outward, capping holes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from slackwater.layout.scene import Faces, Floats


@dataclass(frozen=True)
class Mass:
    """Volume, centre and moments of a closed mesh of density 1."""

    volume_m3: float
    centre_m: Floats
    inertia_m5: Floats
    """3 by 3, about the centre; times the density it is the inertia in kg m2."""


def corners_of(vertices_m: Floats, faces: Faces) -> Floats:
    """The three corners of each triangle, [n, 3, 3]."""
    return np.asarray(vertices_m[faces])


def signed_volume_m3(vertices_m: Floats, faces: Faces) -> float:
    """Volume inside a closed mesh by its surface integral; below 0 where the faces look inward."""
    if not len(faces):
        return 0.0
    # About a corner of the mesh itself: far from the origin the terms would cancel digits.
    a, b, c = np.moveaxis(corners_of(vertices_m - vertices_m[faces[0, 0]], faces), 1, 0)
    return float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6


def mass_of(vertices_m: Floats, faces: Faces) -> Mass:
    """Volume, centre of mass and inertia of a closed mesh, by sums over the tetrahedra from one corner.

    References
    ----------
    The integral of x x^T over a tetrahedron with one corner at the origin is det/120 of (the sum of corners times
    itself plus the sum of each corner times itself); closed form, standard in mechanics.
    """
    origin = vertices_m[faces[0, 0]]
    corners = corners_of(vertices_m - origin, faces)
    det = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
    volume = float(det.sum()) / 6
    total = corners.sum(axis=1)
    centre = (det[:, None] * total).sum(axis=0) / 24 / volume
    second = np.einsum("i,ij,ik->jk", det, total, total) + np.einsum("i,icj,ick->jk", det, corners, corners)
    about = second / 120 - volume * np.outer(centre, centre)
    return Mass(volume_m3=volume, centre_m=centre + origin, inertia_m5=np.trace(about) * np.eye(3) - about)


def welded(vertices_m: Floats, faces: Faces) -> tuple[Floats, Faces]:
    """Corners at one place made one corner; triangles without area left out, and all but one of equal ones.

    One place is a millionth of the size: scanners repeat a corner for each of its colours.
    """
    size = float(np.ptp(vertices_m, axis=0).max()) if len(vertices_m) else 0.0
    step = max(size, 1e-12) * 1e-6
    _, first, number = np.unique(np.round(vertices_m / step), axis=0, return_index=True, return_inverse=True)
    found = number.reshape(-1)[faces]
    a, b, c = found.T
    found = found[(a != b) & (b != c) & (c != a)]
    _, once = np.unique(np.sort(found, axis=1), axis=0, return_index=True)
    found = found[np.sort(once)]
    used, again = np.unique(found, return_inverse=True)
    return vertices_m[first[used]], again.reshape(-1, 3).astype(np.int32)


def _edges(faces: Faces) -> tuple[Faces, Faces]:
    """Directed edges of all faces, [3n, 2], and the face of each."""
    edges = faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    return edges, np.repeat(np.arange(len(faces), dtype=np.int32), 3)


def facing_out(vertices_m: Floats, faces: Faces) -> Faces:
    """The faces turned so that neighbours agree, and each connected shell so that its volume is not negative.

    Neighbours are two faces that alone share an edge. A shell that lies inside another as a cavity is turned outward
    too: a stone is taken as solid.
    """
    edges, owner = _edges(faces)
    low, high = edges.min(axis=1), edges.max(axis=1)
    order = np.lexsort((high, low))
    key = low[order].astype(np.int64) * (int(faces.max()) + 1) + high[order]
    starts = np.flatnonzero(np.r_[True, key[1:] != key[:-1]])
    counts = np.diff(np.r_[starts, len(key)])
    pair = starts[counts == 2]
    one, other = order[pair], order[pair + 1]
    same_way = edges[one, 0] == edges[other, 0]
    n = len(faces)
    f, g = owner[one], owner[other]
    # Each face twice, as it is and turned: the sheet of the doubled surface on which it lies tells whether to turn it.
    rows = np.r_[f, f + n]
    columns = np.r_[np.where(same_way, g + n, g), np.where(same_way, g, g + n)]
    graph = coo_array((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(2 * n, 2 * n))
    _, sheet = connected_components(graph, directed=False)
    turn = sheet[:n] > sheet[n:]
    found = np.where(turn[:, None], faces[:, ::-1], faces)
    shell = np.minimum(sheet[:n], sheet[n:])
    corners = corners_of(vertices_m - vertices_m.mean(axis=0), found)
    det = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
    inward = np.bincount(shell, weights=det, minlength=2 * n)[shell] < 0
    return np.ascontiguousarray(np.where(inward[:, None], found[:, ::-1], found), dtype=np.int32)


def capped(vertices_m: Floats, faces: Faces) -> tuple[Floats, Faces]:
    """The mesh with a fan from the middle of each hole's rim; the fans are the last faces.

    Expects faces that agree with their neighbours.
    """
    edges, _ = _edges(faces)
    width = int(faces.max()) + 1
    forward = edges[:, 0].astype(np.int64) * width + edges[:, 1]
    backward = edges[:, 1].astype(np.int64) * width + edges[:, 0]
    rim = edges[~np.isin(forward, backward)]
    if not len(rim):
        return vertices_m, faces
    follows: dict[int, list[int]] = {}
    for start, end in rim.tolist():
        follows.setdefault(end, []).append(start)
    caps: list[list[int]] = []
    middles: list[Floats] = []
    for first in list(follows):
        while follows.get(first):
            loop, at = [first], follows[first].pop()
            while at != first and follows.get(at):
                # A rim that touches itself is cut there into two.
                if at in loop:
                    part = loop[loop.index(at) :]
                    del loop[loop.index(at) :]
                    caps.append(part)
                loop.append(at)
                at = follows[at].pop()
            caps.append(loop)
    fans = []
    for loop in caps:
        if len(loop) < 3:
            continue
        if len(loop) == 3:
            fans.append(np.array([loop]))
            continue
        middle = len(vertices_m) + len(middles)
        middles.append(vertices_m[loop].mean(axis=0))
        fans.append(np.column_stack([loop, np.roll(loop, -1), np.full(len(loop), middle)]))
    if not fans:
        return vertices_m, faces
    grown = np.vstack([vertices_m, *[middle[None] for middle in middles]]) if middles else vertices_m
    return grown, np.vstack([faces, *fans]).astype(np.int32)


def open_edges(faces: Faces) -> int:
    """Edges that do not have exactly one face on either side; 0 for a closed mesh."""
    if not len(faces):
        return 0
    edges, _ = _edges(faces)
    width = int(faces.max()) + 1
    forward, times = np.unique(edges[:, 0].astype(np.int64) * width + edges[:, 1], return_counts=True)
    backward = np.unique(edges[:, 1].astype(np.int64) * width + edges[:, 0])
    return int((times > 1).sum()) + len(np.setxor1d(forward, backward))


def block(size_m: tuple[float, float, float]) -> tuple[Floats, Faces]:
    """A box that stands on z = 0, its middle over the origin."""
    x, y, z = size_m
    vertices = np.array(
        [[i * x / 2, j * y / 2, k * z] for k in (0, 1) for j in (-1, 1) for i in (-1, 1)], dtype=np.float64
    )
    quads = np.array(
        [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [1, 3, 7, 5], [3, 2, 6, 7], [2, 0, 4, 6]], dtype=np.int32
    )
    return vertices, np.vstack([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])


def cylinder(radius_m: float, length_m: float, *, around: int) -> tuple[Floats, Faces]:
    """A cylinder along x about the origin, of as many sides, which hold the same volume as the round one."""
    wide = radius_m * np.sqrt(2 * np.pi / around / np.sin(2 * np.pi / around))
    angle = np.arange(around) * 2 * np.pi / around
    ring = wide * np.column_stack([np.cos(angle), np.sin(angle)])
    vertices = np.vstack(
        [np.column_stack([np.full(around, end), ring]) for end in (-length_m / 2, length_m / 2)]
        + [np.array([[-length_m / 2, 0, 0], [length_m / 2, 0, 0]])]
    )
    a = np.arange(around)
    b = np.roll(a, -1)
    faces = [(a, b, a + around), (b, b + around, a + around)]
    faces += [(b, a, np.full(around, 2 * around)), (a + around, b + around, np.full(around, 2 * around + 1))]
    return vertices, np.vstack([np.column_stack(part) for part in faces]).astype(np.int32)


def ball(radius_m: float, *, rounds: int) -> tuple[Floats, Faces]:
    """A ball about the origin, see `icosphere`, whose flat faces hold the same volume as the round one."""
    vertices, faces = icosphere(rounds)
    return vertices * radius_m * (4 / 3 * np.pi / signed_volume_m3(vertices, faces)) ** (1 / 3), faces


def icosphere(rounds: int) -> tuple[Floats, Faces]:
    """A ball of radius 1 of 20 times 4 to the power of `rounds` triangles, from an icosahedron."""
    golden = (1 + 5**0.5) / 2
    vertices = np.array(
        [[s, t * golden, 0] for s in (-1, 1) for t in (-1, 1)]
        + [[0, s, t * golden] for s in (-1, 1) for t in (-1, 1)]
        + [[t * golden, 0, s] for s in (-1, 1) for t in (-1, 1)],
        dtype=np.float64,
    )
    vertices /= np.linalg.norm(vertices[0])
    distance = np.linalg.norm(vertices[:, None] - vertices[None], axis=2)
    near = distance < distance[distance > 1e-9].min() * 1.01
    near &= ~np.eye(12, dtype=bool)
    faces = np.array(
        [
            (i, j, k)
            for i in range(12)
            for j in range(i + 1, 12)
            for k in range(j + 1, 12)
            if near[i, j] and near[j, k] and near[i, k]
        ],
        dtype=np.int32,
    )
    normals = np.cross(vertices[faces[:, 1]] - vertices[faces[:, 0]], vertices[faces[:, 2]] - vertices[faces[:, 0]])
    inward = np.einsum("ij,ij->i", normals, vertices[faces].mean(axis=1)) < 0
    faces[inward] = faces[inward][:, ::-1]
    for _ in range(rounds):
        edges = np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
        unique, number = np.unique(edges, axis=0, return_inverse=True)
        middle = vertices[unique].mean(axis=1)
        middle /= np.linalg.norm(middle, axis=1)[:, None]
        ab, bc, ca = (number.reshape(-1, 3) + len(vertices)).T
        a, b, c = faces.T
        vertices = np.vstack([vertices, middle])
        faces = np.vstack(
            [np.column_stack(part) for part in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))]
        ).astype(np.int32)
    return vertices, faces
