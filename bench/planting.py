"""How fast plants are chosen and placed: 70 species and 12 zones, and the example jobs.

Run: python -m bench.planting. Nothing is asserted. Seconds of the processor and of the clock: where they differ much, the
machine is at something else too. The target is 2 s for 70 species in 12 zones, on two cores.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TypeVar

import numpy as np

from slackwater.job.catalog import load_catalog
from slackwater.layout.assess import assess_bed
from slackwater.planting.assess import assess_planting
from slackwater.planting.choose import Area, Asked, Pair, Sort, choose
from slackwater.tank.assess import assess_tank
from tests.jobs import job_from

T = TypeVar("T")


def timed(act: Callable[[], T]) -> tuple[T, float, float]:
    cpu, clock = time.process_time(), time.perf_counter()
    made = act()
    return made, time.process_time() - cpu, time.perf_counter() - clock


def question(*, seed: int, species: int = 70, zones: int = 12) -> Asked:
    """Each species fits about a third of the zones, as in the catalog."""
    rng = np.random.default_rng(seed)
    areas = {}
    for zone in range(1, zones + 1):
        room = int(rng.integers(200, 1500))
        areas[zone] = Area(wanted_cm2=round(0.65 * room), most_cm2=room)
    sorts = {
        f"p{number:02}": Sort(
            cover_cm2=int(rng.integers(55, 210)),
            price_cents=int(rng.integers(40, 100)) * 10,
            fast=bool(rng.random() < 0.35),
            spares=bool(rng.random() < 0.2),
        )
        for number in range(species)
    }
    pairs = [
        Pair(plant=name, zone=zone, marks=int(rng.integers(0, 70)), least=int(rng.integers(1, 4)))
        for name in sorts
        for zone in areas
        if rng.random() < 0.33
    ]
    return Asked(
        areas=areas,
        sorts=sorts,
        pairs=pairs,
        budget_cents=40_000,
        fast_percent=30,
        most_species=10,
        most_per_zone=2,
    )


def main() -> None:
    print("choice of 70 species for 12 zones (target 2 s)")
    for seed in range(5):
        asked = question(seed=seed)
        found, cpu, clock = timed(lambda asked=asked: choose(asked))
        state = "proven" if found.proven else f"within {100 * found.gap:.1f} %"
        print(f"  seed {seed}: {len(asked.pairs)} places, {cpu:.2f} s cpu, {clock:.2f} s, {state}")
    catalog = load_catalog()
    for example in ("blue-corridor", "harbour-line", "light-well"):
        for what, changes in (("named", {}), ("proposed", {"plants": None})):
            job = job_from(example, **changes)
            shape = assess_tank(job, catalog).result
            bed = None if shape is None else assess_bed(job, catalog, shape).result
            if shape is None or bed is None:
                continue
            stage, cpu, clock = timed(lambda job=job, shape=shape, bed=bed: assess_planting(job, catalog, shape, bed))
            result = stage.result
            state = "" if result is None else "proven" if result.proven else f"within {100 * result.gap:.1f} %"
            print(f"{example}, {what}: {cpu:.2f} s cpu, {clock:.2f} s, {state}")


if __name__ == "__main__":
    main()
