"""What a hand does to a layout, each act by itself: place, put, lower, swap, take out, lock, shape the bed, let it rest.

An act gives a new layout or says in a sentence why not; nothing is half done.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import asin, atan2, cos, degrees, isfinite, radians, sin

import numpy as np

from slackwater.errors import BadInput, NotFound, OutOfRange
from slackwater.frozen import Frozen
from slackwater.layout.acts import (
    Clear,
    Edit,
    Lock,
    Lower,
    Place,
    Put,
    Rest,
    Shape,
    Swap,
    TakeOut,
    Turn,
    Unlock,
)
from slackwater.layout.ground import Stroke, relaxed, stroked
from slackwater.layout.place import held_by, lowered, outside_m
from slackwater.layout.scene import Floats, Layout, Piece, Placement, rotation, stood

MOST_PIECES = 40
"""Placed in one layout; more are not laid by hand in a day. Common practice, no source."""
GIVES_M = 0.0005
"""A piece may reach this far into the glass: what a finger on a screen cannot help."""
HIGHEST_RIM = 2.0
"""A piece may be lifted so many times as high as the glass, to look under it."""


def edited(layout: Layout, edits: Sequence[Edit]) -> Layout:
    """The layout after some acts, in their order.

    Raises
    ------
    BadInput, NotFound, OutOfRange
        If one of them cannot be done; then none is.
    """
    for edit in edits:
        layout = _after(layout, edit)
    return layout


def _after(layout: Layout, edit: Edit) -> Layout:
    match edit:
        case Place():
            return _placed(layout, _next_number(layout), edit.piece, (edit.x_m, edit.y_m), edit.burial_share)
        case Put():
            old = layout.placement(edit.number)
            return _checked(layout, replace(old, position_m=edit.position_m, turn=unit(edit.turn)))
        case Lower():
            return lowered(layout, edit.number, edit.burial_share)
        case Swap():
            x, y, _ = standing(layout, layout.placement(edit.number)).centre_m
            return _placed(layout, edit.number, edit.piece, (x, y), edit.burial_share)
        case TakeOut():
            layout.placement(edit.number)
            return layout.without(edit.number)
        case Lock() | Unlock():
            return layout.with_placement(replace(layout.placement(edit.number), locked=isinstance(edit, Lock)))
        case Shape():
            stroke = Stroke(
                act=edit.stroke,
                line_m=edit.line_m,
                radius_m=edit.radius_m,
                height_m=edit.height_m,
                edge_m=edit.edge_m,
            )
            bed = stroked(layout.bed, stroke)
            if float(bed.top_m.max()) > layout.glass.height_m:
                raise OutOfRange(
                    f"the bed would rise to {100 * float(bed.top_m.max()):.0f} cm, "
                    f"over the rim at {100 * layout.glass.height_m:.0f} cm; make the stroke lower"
                )
            return replace(layout, bed=bed)
        case Rest():
            bed = relaxed(layout.bed, held_by(layout), outline_m=layout.glass.corners_m)
            return replace(layout, bed=bed)
        case Clear():
            for item in layout.placements:
                layout = layout if item.locked else layout.without(item.number)
            return layout


def _next_number(layout: Layout) -> int:
    if len(layout.placements) >= MOST_PIECES:
        raise BadInput(f"{MOST_PIECES} pieces stand in the tank, and more are not counted; take one out first")
    return max((item.number for item in layout.placements), default=0) + 1


def _piece(layout: Layout, key: str) -> Piece:
    if key not in layout.pieces:
        raise NotFound("this piece is not on hand any more; look at the list again")
    return layout.pieces[key]


def _placed(layout: Layout, number: int, key: str, at_m: tuple[float, float], burial_share: float) -> Layout:
    piece = _piece(layout, key)
    if any(item.piece == key and item.number != number for item in layout.placements):
        raise BadInput(f"{piece.name} stands in the tank already; there is one of it")
    above = layout.glass.height_m + float(np.ptp(piece.vertices_m[:, 2]))
    position = (at_m[0] - float(piece.centre_m[0]), at_m[1] - float(piece.centre_m[1]), above)
    old = next((item for item in layout.placements if item.number == number), None)
    placement = Placement(number, key, position, locked=old is not None and old.locked)
    _inside(layout, placement)
    return lowered(layout.with_placement(placement), number, burial_share)


def _checked(layout: Layout, placement: Placement) -> Layout:
    _inside(layout, placement)
    corners = stood(_piece(layout, placement.piece).closed_vertices_m, placement)
    lowest = float(corners[:, 2].min())
    if lowest < -GIVES_M:
        raise OutOfRange(
            f"piece {placement.number} would reach {-1000 * lowest:.0f} mm into the bottom glass; raise it"
        )
    if lowest > HIGHEST_RIM * layout.glass.height_m:
        raise OutOfRange(f"piece {placement.number} would hang {100 * lowest:.0f} cm above the bottom; lower it")
    return layout.with_placement(placement)


def _inside(layout: Layout, placement: Placement) -> None:
    beyond = outside_m(layout.glass, stood(_piece(layout, placement.piece).closed_vertices_m, placement))
    if beyond > GIVES_M:
        raise OutOfRange(
            f"piece {placement.number} would reach {1000 * beyond:.0f} mm through the glass; move or turn it"
        )


# ---------------------------------------------------------------- as numbers


class Standing(Frozen):
    """Where a placed piece stands, as somebody says it with a rule in the hand."""

    centre_m: tuple[float, float, float]
    """Its centre of mass."""
    low_m: float
    """Its lowest point over the bottom glass."""
    high_m: float
    """Its highest."""
    angles_deg: tuple[float, float, float]
    """Turn about the vertical, lean to the right, tip to the front; see `turn_of`."""


def standing(layout: Layout, placement: Placement) -> Standing:
    """The same of a placement."""
    piece = _piece(layout, placement.piece)
    corners = stood(piece.vertices_m, placement)
    x, y, z = (float(value) for value in stood(piece.centre_m[None, :], placement)[0])
    return Standing(
        centre_m=(x, y, z),
        low_m=float(corners[:, 2].min()),
        high_m=float(corners[:, 2].max()),
        angles_deg=angles_of(placement.turn),
    )


def put_so(
    layout: Layout, number: int, *, x_m: float, y_m: float, low_m: float, angles_deg: tuple[float, float, float]
) -> Put:
    """The act that puts a piece with its centre over a point, its lowest point at a height, turned by angles.

    Raises
    ------
    NotFound, OutOfRange
        If no piece has that number; if a number is none.
    """
    if not all(isfinite(value) for value in (x_m, y_m, low_m, *angles_deg)):
        raise OutOfRange("a place is told in whole or broken numbers")
    piece = _piece(layout, layout.placement(number).piece)
    turn = turn_of(angles_deg)
    turned: Floats = piece.vertices_m @ rotation(turn).T
    centre: Floats = rotation(turn) @ piece.centre_m
    position = (x_m - float(centre[0]), y_m - float(centre[1]), low_m - float(turned[:, 2].min()))
    if max(abs(value) for value in position) > 20:
        raise OutOfRange("the place is more than 20 m away")
    return Put(act="put", number=number, position_m=position, turn=turn)


def unit(turn: Turn) -> Turn:
    """The same turn as a unit quaternion.

    Raises
    ------
    OutOfRange
        Where it is all zero.
    """
    rotation(turn)
    size = sum(part * part for part in turn) ** 0.5
    w, x, y, z = (part / size for part in turn)
    return w, x, y, z


def turn_of(angles_deg: tuple[float, float, float]) -> Turn:
    """Quaternion w, x, y, z of three turns.

    Parameters
    ----------
    angles_deg : (turn, lean, tip)
        The piece is first tipped about the axis to the right, then leaned about the axis to the rear, then turned about
        the vertical, each against the clock seen from the end of its axis.
    """
    c, b, a = (radians(angle) / 2 for angle in angles_deg)
    return (
        cos(a) * cos(b) * cos(c) + sin(a) * sin(b) * sin(c),
        sin(a) * cos(b) * cos(c) - cos(a) * sin(b) * sin(c),
        cos(a) * sin(b) * cos(c) + sin(a) * cos(b) * sin(c),
        cos(a) * cos(b) * sin(c) - sin(a) * sin(b) * cos(c),
    )


def angles_of(turn: Turn) -> tuple[float, float, float]:
    """Turn, lean and tip of a quaternion, the inverse of `turn_of`."""
    w, x, y, z = unit(turn)
    lean = asin(max(-1.0, min(1.0, 2 * (w * y - z * x))))
    return (
        degrees(atan2(2 * (w * z + x * y), 1 - 2 * (y * y + z * z))),
        degrees(lean),
        degrees(atan2(2 * (w * x + y * z), 1 - 2 * (x * x + y * y))),
    )
