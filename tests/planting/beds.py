"""Beds and plants for tests: a plain box of glass with soil, and catalog rows changed in single facts."""

from __future__ import annotations

import numpy as np

from slackwater.job.catalog import load_catalog
from slackwater.layout.result import PlacedPiece
from slackwater.planting.ground import Ground, LightMap, within
from slackwater.planting.result import Zone

CATALOG = load_catalog()


def ground(
    *, length_m=1.0, width_m=0.4, sides=("front",), bed_m=0.06, water_m=0.36, pieces=(), corners=None, cell_m=0.02
):
    """A level bed; pieces are outlines from above by number and kind."""
    corners = corners or ((0.0, 0.0), (length_m, 0.0), (length_m, width_m), (0.0, width_m))
    length_m, width_m = max(x for x, _ in corners), max(y for _, y in corners)
    columns, rows = round(length_m / cell_m), round(width_m / cell_m)
    x, y = (np.arange(columns) + 0.5) * length_m / columns, (np.arange(rows) + 0.5) * width_m / rows
    across, away = np.meshgrid(x, y)
    taken = np.zeros((rows, columns), dtype=np.int64)
    for one in pieces:
        for ring in one.above:
            taken[within(ring, across, away)] = one.number
    return Ground(
        x_m=x,
        y_m=y,
        cell_m=(length_m / columns, width_m / rows),
        inside=within(corners, across, away),
        top_m=np.full((rows, columns), bed_m),
        base_m=np.zeros((rows, columns)),
        piece=taken,
        corners_m=corners,
        height_m=water_m + 0.04,
        water_line_m=water_m,
        public_sides=tuple(sides),
        pieces=tuple(pieces),
    )


def piece(number, kind, x0, y0, x1, y1, *, high_m=0.2, low_m=0.04, sunk_m=0.02):
    """A block."""
    ring = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
    return PlacedPiece(
        number=number,
        name=kind,
        kind=kind,
        material=kind,
        mass_kg=1.0,
        volume_l=1.0,
        stand_in=True,
        locked=False,
        middle_m=((x0 + x1) / 2, (y0 + y1) / 2),
        size_m=(x1 - x0, y1 - y0, high_m - low_m),
        low_m=low_m,
        high_m=high_m,
        sunk_m=sunk_m,
        above=(ring,),
        front=(),
        left=(),
    )


def light(bed, par, error=0.0, **more):
    """A light map on the cells of a bed; `par` is a number or a function of x and y."""
    across, away = np.meshgrid(bed.x_m, bed.y_m)
    values = np.broadcast_to(np.asarray(par(across, away) if callable(par) else par, dtype=float), across.shape).copy()
    return LightMap(
        x_m=bed.x_m, y_m=bed.y_m, par_umol_m2_s=values, error_umol_m2_s=np.full(across.shape, error), **more
    )


def zone(**changes):
    """A zone of the middle with soil, water and light enough for anything, but for the facts named."""
    known = {
        "number": 1,
        "place": "middle",
        "face": "front",
        "part": "",
        "area_m2": 0.06,
        "outline_m": (((0.0, 0.0), (0.3, 0.0), (0.3, 0.2), (0.0, 0.2)),),
        "middle_m": (0.15, 0.1),
        "water_m": 0.4,
        "soil_m": 0.06,
        "par_umol_m2_s": 80.0,
        "par_error_umol_m2_s": 5.0,
        "reach_m": 0.4,
        "backness": 0.5,
    }
    return Zone(**(known | changes))


def plant(row="cryptocoryne_wendtii", **changes):
    return CATALOG.plants[row].model_copy(update=changes)
