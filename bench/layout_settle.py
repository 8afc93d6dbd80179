"""How long a layout takes to be bedded, let go and tilted, beside a first prototype's figures; and how that grows.

Run: python -m bench.layout_settle. Rounded stones of 9 to 26 cm, as many as a metre holds of them, on a bed from 4 to
12 cm; the second half of the larger counts stands in a longer tank, so that the stones keep their distance. Prototype
on two cores: eight stones at rest in 0.7 to 1.2 s, a tilt of 10 degrees in eight directions in 2 to 4 s, a bed relaxed
in 4 ms. Bars: ten stones let go 2 s, the full tilt report 20 s. Seconds are those of the processor, one core, so that
other work on the machine does not count. Nothing is asserted.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from slackwater.job.catalog import load_catalog
from slackwater.job.model import Bed as AskedBed
from slackwater.layout.ground import bed_grid, relaxed
from slackwater.layout.place import bedded, held_by
from slackwater.layout.scene import Layout
from slackwater.layout.settle import settled, tilt_report
from tests.layout.shapes import glass, layout, pebble


def scene(stones: int) -> Layout:
    rng = np.random.default_rng(stones)
    length = max(1.0, stones / 10)
    over = glass(length, 0.4)
    shape = {"form": "edges", "front": "4 cm", "rear": "12 cm"}
    asked = AskedBed.model_validate({"shape": shape, "soil": {"material": "active_soil_normal"}})
    placed = []
    for k in range(stones):
        size = rng.uniform(0.09, 0.16 if k % 5 else 0.24)
        x, y = length * (k // 2 + 0.5) / ((stones + 1) // 2), 0.11 + 0.18 * (k % 2)
        placed.append((pebble(k, size, 0.75 * size, 0.6 * size), (x, y, 0.3)))
    return layout(over, bed_grid(asked, over, load_catalog()), *placed)


def timed(work: Callable[[], Any]) -> tuple[Any, float]:
    start = time.process_time()
    found = work()
    return found, time.process_time() - start


def main() -> None:
    warm = scene(2)
    _, first = timed(lambda: settled(bedded(warm)))
    held_by(warm)
    _, compiling = timed(lambda: relaxed(warm.bed))
    print(f"first use: {first:.2f} s, and {compiling:.2f} s for the bed (compiled once, then kept on disk)")
    for length, cell in ((1.0, 0.005), (1.2, 0.005), (3.0, 0.005)):
        over = glass(length, 0.6 if length > 1 else 0.4)
        steep = AskedBed.model_validate(
            {"shape": {"form": "gable", "edge": "2 cm", "top": "30 cm"}, "soil": {"material": "active_soil_normal"}}
        )
        ground = bed_grid(steep, over, load_catalog(), cell_m=cell)
        jagged = np.random.default_rng(1).uniform(0, 0.004, ground.top_m.shape)
        ground = replace(ground, top_m=ground.top_m + jagged)
        _, took = timed(lambda ground=ground: relaxed(ground))
        print(f"relax a bed of {length:g} m ({ground.top_m.size} nodes): {1000 * took:.0f} ms")
    for stones in (5, 10, 20, 40):
        of = scene(stones)
        lying, lowering = timed(lambda of=of: bedded(of))
        result, letting_go = timed(lambda lying=lying: settled(lying))
        heard: list[float] = []
        tilts, tilting = timed(lambda result=result, heard=heard: tilt_report(result.layout, on_progress=heard.append))
        moved = sum(not piece.accepted for piece in result.pieces)
        unsteady = sum(not tilt.steady for tilt in tilts)
        print(
            f"{stones:3} stones: lowered in {lowering:.2f} s, let go in {letting_go:.2f} s ({result.steps} steps, "
            f"{moved} moved), tilted in {tilting:.1f} s ({unsteady} not steady, told {len(heard)} times)"
        )
        print(f"    a stone: {lowering / stones:.3f} s, {letting_go / stones:.3f} s, {tilting / stones:.2f} s")


if __name__ == "__main__":
    main()
