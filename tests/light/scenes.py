"""Small scenes for the tests of light."""

from __future__ import annotations

from slackwater.layout.scene import Layout, Placement
from slackwater.light.lamps import Emitter
from slackwater.light.photons import Effort
from tests.layout.shapes import bed, box, glass

QUICK = Effort(samples=4, photons=60_000, noise=0.0)
BLACK = {"soil": 0.0, "stone": 0.0, "wood": 0.0}


def tank(length=0.6, width=0.3, height=0.36, *, water=0.32, depth=0.05, stones=()):
    """A tank with a flat bed; stones are (length, width, height, x, y, z of the middle)."""
    over = glass(length, width, height, water=water)
    layout = Layout(glass=over, bed=bed(over, depth=depth, cell=0.02))
    for number, (a, b, c, x, y, z) in enumerate(stones, start=1):
        piece = box(a, b, c, name=f"block {number}")
        layout = Layout(
            glass=layout.glass,
            bed=layout.bed,
            pieces={**layout.pieces, piece.key: piece},
            placements=(*layout.placements, Placement(number=number, piece=piece.key, position_m=(x, y, z))),
        )
    return layout


def lamp(flux=100.0, *, x=0.3, y=0.15, z=0.5, length=0.3, width=0.1, **more):
    return Emitter(x_m=x, y_m=y, z_m=z, length_m=length, width_m=width, flux_umol_s=flux, **more)
