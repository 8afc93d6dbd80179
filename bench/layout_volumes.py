"""How fast the volumes of a layout are counted, exactly and while a stone is dragged, and how that grows.

Run: python -m bench.layout_volumes. Beside it what a prototype took for the same scene: a tank of 1.0 x 0.4 x 0.4 m with
a bed on a grid of 5 mm and eight stones of 5,120 triangles. Nothing is asserted. Times are medians in milliseconds, of
the processor and of the clock: where they differ much, the machine is at something else too.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from statistics import median

import numpy as np

from slackwater.layout.columns import Columns, fast_volumes
from slackwater.layout.scene import Layout, Piece, Placement
from slackwater.layout.solids import Kernel, exact_volumes
from slackwater.layout.standin import stand_in
from tests.layout.scenes import any_turn, bed, glass, scan_rows, wavy

PROTOTYPE_MS = {"dragging": 4, "exact": 120}
TARGET_MS = {"dragging": 5, "exact": 100}
LOOKS = ("angular", "rounded", "slab", "angular")


def timed(act: Callable[[], object], times: int) -> tuple[float, float]:
    found = []
    for _ in range(times):
        cpu, clock = time.process_time(), time.perf_counter()
        act()
        found.append((time.process_time() - cpu, time.perf_counter() - clock))
    cpu, clock = zip(*found, strict=True)
    return 1000 * median(cpu), 1000 * median(clock)


def stones(number: int) -> list[Piece]:
    return [
        stand_in(
            name=str(one),
            kind="stone",
            look=LOOKS[one % 4],
            material="stone",
            density_kg_m3=2700,
            size_m=(0.11, 0.075, 0.08),
            mass_kg=None,
            seed=one,
        )
        for one in range(number)
    ]


def beside_each_other(pieces: list[Piece]) -> Layout:
    """Stones in rows, each sunk a little."""
    placements = []
    for number, piece in enumerate(pieces):
        x, y = 0.08 + 0.12 * (number % 8), 0.04 + 0.08 * (number // 8)
        at = (x, y, float(wavy(x, y)) - 0.015)
        placements.append(Placement(number=number + 1, piece=piece.key, position_m=at))
    return Layout(
        glass=glass(), bed=bed(wavy), pieces={piece.key: piece for piece in pieces}, placements=tuple(placements)
    )


def dragging(columns: Columns) -> Callable[[], object]:
    placement = columns.layout.placements[0]
    random = np.random.default_rng(1)

    def act() -> object:
        x, y = random.uniform(0.1, 0.9), random.uniform(0.08, 0.32)
        moved = replace(placement, position_m=(float(x), float(y), 0.1), turn=any_turn(random))
        return columns.moved(moved).volumes

    return act


def moving(kernel: Kernel, layout: Layout) -> Callable[[], object]:
    placement = layout.placements[0]
    random = np.random.default_rng(2)

    def act() -> object:
        x, y = random.uniform(0.1, 0.9), random.uniform(0.2, 0.32)
        return kernel.volumes(layout.with_placement(replace(placement, position_m=(float(x), float(y), 0.1))))

    return act


def main() -> None:
    begun = time.perf_counter()
    pieces = stones(40)
    print(f"40 stones made up in {time.perf_counter() - begun:.1f} s; {len(scan_rows())} example scans")
    layout = beside_each_other(pieces[:8])
    begun = time.perf_counter()
    fast_volumes(layout)
    print(f"first count by lines of this process, compiled or loaded: {time.perf_counter() - begun:.1f} s")
    kernel = Kernel()
    kernel.volumes(layout)
    shown = {
        "dragging": timed(dragging(Columns.of(layout)), 40),
        "exact": timed(lambda: exact_volumes(layout), 10),
    }
    print(f"{'eight stones':28}{'processor':>12}{'clock':>10}{'prototype':>12}{'target':>9}")
    for name, (cpu, clock) in shown.items():
        print(f"{name:28}{cpu:>12.1f}{clock:>10.1f}{PROTOTYPE_MS[name]:>12}{'< ' + str(TARGET_MS[name]):>9}")
    more = {
        "exact, one stone moved": timed(moving(kernel, layout), 20),
        "all by lines": timed(lambda: fast_volumes(layout), 5),
    }
    for name, (cpu, clock) in more.items():
        print(f"{name:28}{cpu:>12.1f}{clock:>10.1f}")
    print(f"\n{'stones':>8}{'dragging':>12}{'by lines':>12}{'exact':>12}   milliseconds of the processor")
    for number in (5, 10, 20, 40):
        many = beside_each_other(pieces[:number])
        columns = Columns.of(many)
        row = (
            timed(dragging(columns), 15)[0],
            timed(lambda many=many: fast_volumes(many), 3)[0],
            timed(lambda many=many: exact_volumes(many), 3)[0],
        )
        print(f"{number:>8}" + "".join(f"{value:>12.1f}" for value in row))
    print(f"\n{'lines':>8}{'dragging':>12}{'by lines':>12}   eight stones, milliseconds of the processor")
    for cell_m in (0.005, 0.0025, 0.00125):
        columns = Columns.of(layout, cell_m)
        lines = columns.grid.areas_m2.size
        row = (timed(dragging(columns), 15)[0], timed(lambda cell_m=cell_m: fast_volumes(layout, cell_m), 3)[0])
        print(f"{lines:>8}" + "".join(f"{value:>12.1f}" for value in row))


if __name__ == "__main__":
    main()
