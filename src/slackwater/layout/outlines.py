"""Outlines of placed pieces seen along an axis, and what a plane cuts of them: what drawings are made of."""

from __future__ import annotations

from typing import Literal

import numpy as np

from slackwater.layout.result import Ring
from slackwater.layout.scene import Faces, Floats, Layout, Placement, stood
from slackwater.layout.solids import cut_of, outline_of

View = Literal["above", "front", "left"]
"""From where it is seen: the two coordinates of an outline are x, y; x, z; y, z."""

_AXES: dict[View, list[int]] = {"above": [0, 1, 2], "front": [0, 2, 1], "left": [1, 2, 0]}
DRAWN_M = 0.0005
"""Corners nearer than this to the line between their neighbours are left out: less than a line's width on paper."""


def _turned(layout: Layout, placement: Placement, view: View) -> tuple[Floats, Faces]:
    """The solid of a placement with what is seen in the plane of its first two coordinates."""
    piece = layout.pieces[placement.piece]
    points = stood(piece.closed_vertices_m, placement)[:, _AXES[view]]
    # Swapping two axes turns a solid inside out; so its triangles are turned round.
    return points, piece.closed_faces[:, ::-1] if view == "front" else piece.closed_faces


def _rings(polygons: list[Floats]) -> tuple[Ring, ...]:
    return tuple(tuple((round(float(a), 4), round(float(b), 4)) for a, b in polygon) for polygon in polygons)


def outline(layout: Layout, placement: Placement, view: View) -> tuple[Ring, ...]:
    """The outline of a placement as seen, holes included [m, to a tenth of a millimetre]."""
    return _rings(outline_of(*_turned(layout, placement, view), within_m=DRAWN_M))


def cut(layout: Layout, placement: Placement, view: View, at_m: float) -> tuple[Ring, ...]:
    """What a plane across the view cuts of a placement; empty where it passes it by.

    Parameters
    ----------
    layout, placement
    view : View
        The plane is that of its first two coordinates.
    at_m : float
        Where on the third coordinate.
    """
    points, faces = _turned(layout, placement, view)
    low, high = float(points[:, 2].min()), float(points[:, 2].max())
    if not low < at_m < high:
        return ()
    return _rings(cut_of(points - np.array([0.0, 0.0, at_m]), faces, within_m=DRAWN_M))
