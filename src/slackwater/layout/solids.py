"""Solids and what is cut from them, by an exact geometry kernel: the one file that knows it."""

from __future__ import annotations

from collections.abc import Sequence

import manifold3d
import numpy as np

from slackwater.layout.litres import Volumes4, bed_litres, figures_of, is_box
from slackwater.layout.scene import Bed, Faces, Floats, Glass, Layout, Piece, stood

_BELOW_M = 0.01
"""How far the solid of the bed reaches below the bottom glass, so that it has thickness where the bed has none."""


def _solid(vertices_m: Floats, faces: Faces) -> manifold3d.Manifold:
    return manifold3d.Manifold(
        manifold3d.Mesh64(
            np.ascontiguousarray(vertices_m, dtype=np.float64), np.ascontiguousarray(faces, dtype=np.uint64)
        )
    )


def _mesh(solid: manifold3d.Manifold) -> tuple[Floats, Faces]:
    mesh = solid.to_mesh64()
    return np.array(mesh.vert_properties[:, :3]), np.array(mesh.tri_verts, dtype=np.int32)


def _usable(solid: manifold3d.Manifold) -> bool:
    return solid.status() == manifold3d.Error.NoError and not solid.is_empty() and solid.volume() > 0


def united_shells(vertices_m: Floats, faces: Faces) -> tuple[Floats, Faces] | None:
    """The solid of a closed mesh, shells that overlap made one; None where the mesh is no solid."""
    solid = _solid(vertices_m, faces)
    if solid.status() != manifold3d.Error.NoError or solid.is_empty():
        return None
    shells = solid.decompose()
    if len(shells) == 1:
        return (vertices_m, faces) if _usable(solid) else None
    whole = manifold3d.Manifold.batch_boolean([shell for shell in shells if shell.volume() > 0], manifold3d.OpType.Add)
    return _mesh(whole) if _usable(whole) else None


def united(parts: Sequence[tuple[Floats, Faces]]) -> tuple[Floats, Faces]:
    """One solid of several closed meshes."""
    return _mesh(manifold3d.Manifold.batch_boolean([_solid(*part) for part in parts], manifold3d.OpType.Add))


def carved(body: tuple[Floats, Faces], cutters: Sequence[tuple[Floats, Faces]]) -> tuple[Floats, Faces]:
    """A solid less others; only its largest part is kept."""
    cut = manifold3d.Manifold.batch_boolean(
        [_solid(*body), *[_solid(*cutter) for cutter in cutters]], manifold3d.OpType.Subtract
    )
    return _mesh(max(cut.decompose(), key=lambda part: float(part.volume())))


def thinned(vertices_m: Floats, faces: Faces, *, triangles: int) -> tuple[Floats, Faces]:
    """The solid with at most about that many triangles, its surface moved as little as that takes."""
    solid = _solid(vertices_m, faces)
    size = float(np.ptp(vertices_m, axis=0).max())
    tolerance = size * 1e-4
    # Doubling ends: at a tenth of the size next to nothing is left of any mesh.
    while solid.num_tri() > triangles and tolerance < size / 10:
        solid = solid.simplify(tolerance)
        tolerance *= 2
    return _mesh(solid)


def outline_of(vertices_m: Floats, faces: Faces, *, within_m: float) -> list[Floats]:
    """The outline of a solid seen along its third axis, holes included; corners in its first two coordinates.

    Parameters
    ----------
    vertices_m, faces
        A closed mesh.
    within_m : float
        How far the outline may be simplified.
    """
    return _polygons(_solid(vertices_m, faces).project(), within_m)


def cut_of(vertices_m: Floats, faces: Faces, *, within_m: float) -> list[Floats]:
    """What the plane through the origin across its third axis cuts of a solid."""
    return _polygons(_solid(vertices_m, faces).slice(0.0), within_m)


def _polygons(section: manifold3d.CrossSection, within_m: float) -> list[Floats]:
    return [np.asarray(polygon, dtype=np.float64) for polygon in section.simplify(within_m).to_polygons()]


def _outline(glass: Glass, low_m: float, high_m: float) -> manifold3d.Manifold:
    section = manifold3d.CrossSection([np.array(glass.corners_m)], manifold3d.FillRule.NonZero)
    return manifold3d.Manifold.extrude(section, high_m - low_m).translate((0.0, 0.0, low_m))


def _bed_solid(bed: Bed) -> manifold3d.Manifold:
    x, y = np.meshgrid(bed.x_m, bed.y_m)
    top = bed.top_m
    ny, nx = top.shape
    node = np.arange(ny * nx).reshape(ny, nx)
    a, b, c, d = node[:-1, :-1].ravel(), node[:-1, 1:].ravel(), node[1:, 1:].ravel(), node[1:, :-1].ravel()
    surface = np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    rim = np.concatenate([node[0, :-1], node[:-1, -1], node[-1, :0:-1], node[:0:-1, 0]])
    after = np.roll(rim, -1)
    # The underside is one fan from a point in the middle: fewer triangles, and flat all the same.
    low = ny * nx + np.arange(len(rim))
    low_after = np.roll(low, -1)
    middle = ny * nx + len(rim)
    faces = np.vstack(
        [
            surface,
            np.column_stack([rim, low, after]),
            np.column_stack([after, low, low_after]),
            np.column_stack([low, np.full(len(rim), middle), low_after]),
        ]
    )
    over = np.column_stack([x.ravel(), y.ravel(), top.ravel()])
    under = np.column_stack([over[rim, :2], np.full(len(rim), -_BELOW_M)])
    vertices = np.vstack([over, under, [float(x.mean()), float(y.mean()), -_BELOW_M]])
    return _solid(vertices, faces)


def _inside(whole: manifold3d.Manifold, glass: Glass) -> manifold3d.Manifold:
    """What of a solid is inside the glass and over its bottom, however high; cut only where it reaches past."""
    x0, y0, z0, x1, y1, z1 = whole.bounding_box()
    if not is_box(glass):
        return whole ^ _outline(glass, 0.0, z1 + 1)
    left, front, right, rear = glass.box_m
    for past, normal, at in (
        (x0 < left, (1.0, 0.0, 0.0), left),
        (x1 > right, (-1.0, 0.0, 0.0), -right),
        (y0 < front, (0.0, 1.0, 0.0), front),
        (y1 > rear, (0.0, -1.0, 0.0), -rear),
        (z0 < 0, (0.0, 0.0, 1.0), 0.0),
    ):
        if past:
            whole = whole.trim_by_plane(normal, at)
    return whole


class Kernel:
    """Exact volumes; the solids of pieces and of the last bed are kept from one question to the next."""

    def __init__(self) -> None:
        self._solids: dict[str, manifold3d.Manifold] = {}
        self._bed: tuple[Bed, manifold3d.Manifold] | None = None

    def _of(self, piece: Piece) -> manifold3d.Manifold:
        if piece.key not in self._solids:
            self._solids[piece.key] = _solid(piece.closed_vertices_m, piece.closed_faces)
        return self._solids[piece.key]

    def _of_bed(self, bed: Bed) -> manifold3d.Manifold:
        if self._bed is None or self._bed[0] is not bed:
            self._bed = bed, _bed_solid(bed)
        return self._bed[1]

    def volumes(self, layout: Layout) -> Volumes4:
        """The four figures of a layout, see `exact_volumes`."""
        placed = []
        for placement in layout.placements:
            frame = stood(np.vstack([np.zeros(3), np.eye(3)]), placement)
            turn = np.column_stack([(frame[1:] - frame[0]).T, frame[0]])
            placed.append(self._of(layout.pieces[placement.piece]).transform(turn))
        whole = _inside(manifold3d.Manifold.batch_boolean(placed, manifold3d.OpType.Add), layout.glass)
        free = whole - self._of_bed(layout.bed)
        line = layout.glass.water_line_m
        out = not free.is_empty() and free.bounding_box()[5] > line
        above = free.trim_by_plane((0.0, 0.0, 1.0), line).volume() if out else 0.0
        return figures_of(
            layout,
            bed_litres(layout.glass, layout.bed),
            buried_l=1000 * (whole.volume() - free.volume()),
            displaced_l=1000 * (free.volume() - above),
            above_l=1000 * above,
            method="exact",
        )


def exact_volumes(layout: Layout) -> Volumes4:
    """The four figures of a layout, exact for its meshes.

    Pieces are united before anything is counted, and cut at the glass: what they share counts once, and what is
    outside not at all.
    """
    return Kernel().volumes(layout)
