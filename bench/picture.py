"""How long a picture takes, beside a first prototype's figures.

Run: python -m bench.picture. A metre of tank with plants of eight forms after three months, from the front. Prototype on two
cores: 640x360 at 64 paths in 10 to 17 s, denoised in 0.4 s more. Bars: 640x360 in 10 s, 1920x1080 in 90 s, on two cores.
Seconds on the clock, and those of processors in all, which other work on the machine moves less: the bar is met on two idle
cores where these are at most twice the bar. Nothing is asserted.
"""

from __future__ import annotations

import resource
import time

from slackwater.picture.apart import draw_apart
from slackwater.picture.camera import camera_of
from slackwater.picture.compose import scene_of
from tests.layout.scenes import glass
from tests.picture.scenes import kinds, still

SIZES = ((640, 360, 10), (1920, 1080, 90))


def spent() -> float:
    """Seconds of processors, this process and those it has ended."""
    return sum(
        use.ru_utime + use.ru_stime for use in map(resource.getrusage, (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    )


def main() -> None:
    start, used = time.perf_counter(), spent()
    ground = still()
    scene = scene_of(ground, kinds(), "month3", par_umol_m2_s=60, seed=5)
    print(
        f"scene of {scene.triangles:,} triangles: {time.perf_counter() - start:.1f} s, {spent() - used:.1f} s of processors"
    )
    for width, height, bar in SIZES:
        camera = camera_of(glass(), "front", width_over_height=width / height)
        start, used = time.perf_counter(), spent()
        (drawn,) = draw_apart(scene, [camera], width=width, height=height, seed=1)
        print(
            f"{width}x{height}: {time.perf_counter() - start:.1f} s in all, {drawn.seconds:.1f} s of it drawing, "
            f"{spent() - used:.1f} s of processors (bar {bar} s on two cores), {drawn.samples} paths, "
            f"{'denoised' if drawn.denoised else 'grainy'}"
        )


if __name__ == "__main__":
    main()
