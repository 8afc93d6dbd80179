"""What the water lifts: litres below a level, weight under water, pieces that rise and what holds them."""

from __future__ import annotations

import numpy as np

from slackwater.frozen import Frozen
from slackwater.layout.scene import Floats, Layout, Piece, Placement, stood

WATER_KG_M3 = 998.0
"""At 22 °C; from memory."""


def displaced_l(piece: Piece, placement: Placement, *, level_m: float) -> float:
    """Litres of the solid below a level [L], exact for its mesh.

    By the divergence theorem the volume below a level is the flux of min(z, level) upwards through the mesh.
    """
    corners = stood(piece.closed_vertices_m, placement)[piece.closed_faces]
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    flat = ((b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])) / 2
    over = np.sort(corners[:, :, 2] - level_m, axis=1)
    return 1000 * float((flat * (over.mean(axis=1) - _mean_positive(over))).sum())


def _mean_positive(sorted_z: Floats) -> Floats:
    """Mean over a triangle of what a linear function has above 0, from its three values in rising order."""
    low, mid, high = sorted_z.T
    with np.errstate(divide="ignore", invalid="ignore"):
        tip = high**3 / (3 * (high - low) * (high - mid))
        hole = -(low**3) / (3 * (mid - low) * (high - low))
    mean = (low + mid + high) / 3
    found = np.where(low >= 0, mean, np.where(mid >= 0, mean + hole, np.where(high > 0, tip, 0.0)))
    return np.asarray(np.nan_to_num(found))


def weight_under_water_kg(layout: Layout, number: int) -> float:
    """Mass less displaced water plus ballast [kg]; below 0 the piece rises unless something holds it."""
    placement = layout.placement(number)
    piece = layout.pieces[placement.piece]
    wet_l = displaced_l(piece, placement, level_m=layout.glass.water_line_m)
    return piece.mass_kg - WATER_KG_M3 * wet_l / 1000 + layout.ballast_kg.get(number, 0.0)


class Floating(Frozen):
    """Pieces tied together that rise when the tank is filled, and what would keep them down."""

    numbers: tuple[int, ...]
    lift_kg: float
    """By how much the water lifts more than they weigh [kg]."""
    glued: int
    """Joints among them."""


def floating(layout: Layout) -> tuple[Floating, ...]:
    """Groups of pieces, tied by joints, that the water lifts off; a group glued to the bottom glass stays.

    Soil on top of a buried foot is not counted as a weight: it washes off.
    """
    group = {placement.number: placement.number for placement in layout.placements} | {0: 0}

    def head(number: int) -> int:
        while group[number] != number:
            number = group[number]
        return number

    for joint in layout.joints:
        if joint.one in group and joint.other in group:
            one, other = sorted((head(joint.one), head(joint.other)))
            group[other] = one
    found = []
    for first in sorted({head(number) for number in group} - {0}):
        members = tuple(sorted(number for number in group if head(number) == first))
        weight = sum(weight_under_water_kg(layout, number) for number in members)
        if weight < 0:
            glued = sum(joint.one in members for joint in layout.joints)
            found.append(Floating(numbers=members, lift_kg=-weight, glued=glued))
    return tuple(found)
