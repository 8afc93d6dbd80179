"""What presses on the bottom glass: a comparison that tells where a pad belongs, never a clearance of the pane."""

from __future__ import annotations

from collections.abc import Mapping
from math import pi, sqrt

import numpy as np

from slackwater.errors import check_range
from slackwater.finding import Finding, Severity
from slackwater.frozen import Frozen
from slackwater.layout.afloat import WATER_KG_M3
from slackwater.layout.place import spans_m
from slackwater.layout.scene import Layout, stood

GRAVITY_M_S2 = 9.81
NEAR_M = 0.003
"""What is that near to the lowest point of a piece carries with it; an assumption."""
THIN_SOIL_M = 0.02
"""With less soil than this under a stone a pad belongs under it; common practice, no source."""
CELL_M = 0.002


class PaneLoad(Frozen):
    """How one piece presses on the bottom glass."""

    number: int
    load_n: float
    soil_under_m: float
    """Between its lowest point and the glass."""
    patch_cm2: float
    """Part of the glass that carries it."""
    pressure_kn_m2: float
    water_kn_m2: float
    """What the water of the full tank presses everywhere: the pane carries that by design."""
    pad: bool
    """A pad belongs under it."""


def pane_loads(layout: Layout, loads_n: Mapping[int, float], *, pad_m: float = 0.0) -> tuple[PaneLoad, ...]:
    """What each piece presses on the bottom glass with.

    Parameters
    ----------
    layout : Layout
        Settled.
    loads_n : mapping
        What each piece presses on the bed with in the empty tank [N], by number (`settle.Moved.load_n`); one without
        a number in it, or that rests on others alone, is left out.
    pad_m : float
        Thickness of a pad of foam or plastic grid under all of them [m, 0 to 0.05].

    Returns
    -------
    tuple of PaneLoad
        In placing order.

    Notes
    -----
    What lies within 3 mm of a piece's lowest point is taken to touch, and the load to spread by 45 degrees through
    soil and pad: both common practice, no source. A grain or a point under a stone can press many times harder.
    """
    check_range("pad_m", pad_m, 0, 0.05, unit="m")
    found = []
    for placement in layout.placements:
        load = loads_n.get(placement.number, 0.0)
        if load <= 0:
            continue
        piece = layout.pieces[placement.piece]
        corners = stood(piece.closed_vertices_m, placement)
        x_m = np.arange(corners[:, 0].min(), corners[:, 0].max() + 2 * CELL_M, CELL_M)
        y_m = np.arange(corners[:, 1].min(), corners[:, 1].max() + 2 * CELL_M, CELL_M)
        under, _ = spans_m(corners, piece.closed_faces, x_m, y_m)
        lowest = max(0.0, float(corners[:, 2].min()))
        touching = max(1, int((under < lowest + NEAR_M).sum())) * CELL_M**2
        patch = pi * (sqrt(touching / pi) + lowest + pad_m) ** 2
        found.append(
            PaneLoad(
                number=placement.number,
                load_n=load,
                soil_under_m=lowest,
                patch_cm2=1e4 * patch,
                pressure_kn_m2=load / patch / 1000,
                water_kn_m2=WATER_KG_M3 * GRAVITY_M_S2 * layout.glass.water_line_m / 1000,
                pad=piece.kind == "stone" and lowest + pad_m < THIN_SOIL_M and pad_m == 0,
            )
        )
    return tuple(found)


def pad_findings(layout: Layout, loads: tuple[PaneLoad, ...]) -> tuple[Finding, ...]:
    """Where a pad belongs under a stone."""
    return tuple(
        Finding(
            id="layout.pad_needed",
            severity=Severity.CONDITION,
            about=str(load.number),
            values={
                "number": load.number,
                "piece": layout.pieces[layout.placement(load.number).piece].name,
                "soil_cm": 100 * load.soil_under_m,
                "pressure_kn_m2": load.pressure_kn_m2,
                "water_kn_m2": load.water_kn_m2,
            },
        )
        for load in loads
        if load.pad
    )
