"""How long light takes, beside a first prototype's figures, and how quiet its maps are.

Run: python -m bench.light. Tank 1.0 x 0.4 x 0.4 m, bed on a 5 mm grid, eight stones of 5,120 triangles, one lamp of 60 x 20 cm.
Prototype on two cores: 0.63 s for 1e6 photons with 10 % noise of a square centimetre, 6.2 s for 1e7 with 3.2 %.
Bars: preview 0.5 s, below 3 % within 4 s. Both the clock's seconds and the processor's are told: others may use the machine.
"""

from __future__ import annotations

import time

import numpy as np

from slackwater.layout.scene import Layout, Placement
from slackwater.layout.standin import stand_in
from slackwater.light.lamps import Emitter
from slackwater.light.photons import FINAL, PREVIEW, Effort, blurred, ready, traced
from tests.layout.shapes import bed, glass

LAMP = Emitter(x_m=0.5, y_m=0.2, z_m=0.56, length_m=0.6, width_m=0.2, flux_umol_s=150.0)


def scene() -> Layout:
    over = glass(1.0, 0.4, 0.4, water=0.36)
    pieces, placements = {}, []
    for number in range(8):
        side = 0.16 - 0.012 * number
        piece = stand_in(
            name=f"stone {number + 1}",
            kind="stone",
            look="angular",
            material="stone_granite",
            density_kg_m3=2700,
            size_m=(side, 0.8 * side, side),
            mass_kg=None,
            seed=number,
        )
        pieces[piece.key] = piece
        place = (0.1 + 0.115 * number, 0.13 if number % 2 else 0.28, 0.05 + side / 2)
        placements.append(Placement(number=number + 1, piece=piece.key, position_m=place))
    return Layout(glass=over, bed=bed(over, depth=0.06), pieces=pieces, placements=tuple(placements))


def main() -> None:
    layout = scene()
    start = time.perf_counter()
    traced(ready(layout, attenuation_per_m=0.5), [LAMP], effort=Effort(samples=1, photons=16, noise=0))
    print(f"first call, with compiling where nothing is kept: {time.perf_counter() - start:.1f} s")
    for name, effort, samples in (("preview", PREVIEW, 1), ("final", FINAL, 3)):
        clock, own = time.perf_counter(), time.process_time()
        made = ready(layout, attenuation_per_m=0.5, samples=samples)
        prepared = time.perf_counter() - clock
        found = traced(made, [LAMP], effort=effort)
        noise = found.noise
        if name == "preview":
            even = blurred(found.sensed[0], made.areas_m2[0], cells=1.5)
            close = traced(made, [LAMP], effort=Effort(samples=8, photons=6_000_000, noise=0.02), seed=2)
            took, cpu = time.perf_counter() - clock, time.process_time() - own
            known = np.isfinite(even) & (close.sensed[0] > 0.1 * np.nanmean(close.sensed[0]))
            off = np.median(abs(even / close.sensed[0] - 1)[known])
            print(f"preview, evened out: half of the cells are within {100 * off:.1f} % of a close map")
            clock, own = time.perf_counter(), time.process_time()
            found = traced(ready(layout, attenuation_per_m=0.5, samples=samples), [LAMP], effort=effort)
        took, cpu = time.perf_counter() - clock, time.process_time() - own
        print(
            f"{name}: {took:.2f} s by the clock, {cpu:.2f} s of the processor, {prepared:.2f} s of it to prepare; "
            f"{found.photons:,} photons, noise {100 * noise:.1f} %"
        )


if __name__ == "__main__":
    main()
