"""Measured files of lamps: what is read, and each way in which a file can be broken."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from slackwater.errors import BadInput
from slackwater.light.ies import read_ies
from slackwater.light.lamps import PHOTONS_PER_LUMEN, Emitter, packed
from slackwater.light.photons import Effort, ready, traced
from tests.light.scenes import BLACK, tank

HEAD = "IESNA:LM-63-2002\n[TEST] 1\n[MANUFAC] nobody\n[LUMINAIRE] bar\nTILT=NONE\n"


def made(candela, downs, arounds=(0,), *, head=HEAD, first="1 -1 1", kind=1, unit=2, size="0.1 0.4 0", rest="1 1 50"):
    """A file by the standard's order: lamps, lumens, multiplier, angles, type, unit, size; ballast, future, watts."""
    return (
        f"{head}{first} {len(downs)} {len(arounds)} {kind} {unit} {size}\n{rest}\n"
        f"{' '.join(map(str, downs))}\n{' '.join(map(str, arounds))}\n"
        + "\n".join(" ".join(f"{c:g}" for c in row) for row in candela)
        + "\n"
    )


DOWN = [float(angle) for angle in range(0, 91, 5)]
COSINE = [[1000 * np.cos(np.radians(angle)) for angle in DOWN]]


def test_an_even_face_of_1000_candela_gives_pi_thousand_lumens():
    # Integral of I0 cos over the half sphere: pi I0, Lambert.
    found = read_ies(made(COSINE, DOWN), name="bar.ies")
    assert found.lumens == pytest.approx(1000 * pi, rel=2e-3)
    assert (found.length_m, found.width_m, found.watts, found.name) == (0.4, 0.1, 50, "bar")


def test_multiplier_and_ballast_count_and_feet_are_turned():
    found = read_ies(made(COSINE, DOWN, first="1 -1 2", unit=1, rest="0.5 1 50"), name="bar.ies")
    assert found.lumens == pytest.approx(1000 * pi, rel=2e-3)
    assert found.length_m == pytest.approx(0.4 * 0.3048)


def test_symmetry_of_a_quarter_is_unfolded():
    rows = [[100.0, 50.0, 0.0], [100.0, 70.0, 0.0], [100.0, 90.0, 0.0]]
    found = read_ies(made(rows, [0, 45, 90], (0, 45, 90)), name="q.ies")
    at = found.at(np.full(5, 45.0), np.array([10.0, 170.0, 190.0, 350.0, 90.0]))
    # Straight between 50 at 0 and 70 at 45 degrees; 10 degrees off either end of the long axis is the same.
    assert at[:4] == pytest.approx(50 + 20 * 10 / 45)
    assert at[4] == 90


def test_symmetry_of_a_half_is_unfolded():
    rows = [[100.0, 50.0], [100.0, 10.0], [100.0, 30.0]]
    found = read_ies(made(rows, [0, 90], (0, 90, 180)), name="h.ies")
    assert found.at(np.array([90.0, 90.0, 90.0]), np.array([90.0, 270.0, 180.0])) == pytest.approx([10, 10, 30])


def test_nothing_shines_beyond_what_was_measured():
    found = read_ies(made(COSINE, DOWN), name="bar.ies")
    assert found.at(np.array([91.0, 180.0]), np.array([0.0, 0.0])).tolist() == [0, 0]


def test_tilt_in_the_file_and_old_heads_are_read():
    text = made(COSINE, DOWN, head="[TEST] none\nTILT=INCLUDE\n1\n3\n0 45 90\n1 0.95 0.9\n")
    assert read_ies(text, name="old.ies").lumens == pytest.approx(1000 * pi, rel=2e-3)


def test_a_measured_even_face_lights_as_a_face_does():
    scene = ready(tank(), attenuation_per_m=0, water_index=1.0, albedo=BLACK, levels_m=(0.01,))
    place = {"x_m": 0.3, "y_m": 0.15, "z_m": 0.5, "length_m": 0.3, "width_m": 0.1, "flux_umol_s": 100.0}
    effort = Effort(samples=16, photons=200_000, noise=0)
    face = traced(scene, [Emitter(**place)], effort=effort)
    read = traced(scene, [Emitter(**place, measured=read_ies(made(COSINE, DOWN), name="bar.ies"))], effort=effort)
    assert np.nanmean(read.sensed[0]) == pytest.approx(np.nanmean(face.sensed[0]), rel=0.01)
    # 200,000 photons: a share of a half has a standard error of 0.0011.
    assert read.sinks["soil"] == pytest.approx(face.sinks["soil"], abs=4 * 0.0016)


def test_drawn_directions_follow_the_file():
    # All light between 30 and 40 degrees: none of it lands straight below a point.
    rows = [[0.0, 0.0, 1.0, 1.0, 0.0, 0.0]]
    found = read_ies(made(rows, [0, 29.9, 30, 40, 40.1, 90]), name="ring.ies")
    scene = ready(
        tank(1.0, 1.0, 0.4, water=0.36, depth=0.1), attenuation_per_m=0, water_index=1.0, albedo=BLACK, levels_m=(0.01,)
    )
    lamp = Emitter(x_m=0.5, y_m=0.5, z_m=0.61, length_m=0, width_m=0, flux_umol_s=1.0, measured=found)
    map_ = traced(scene, [lamp], effort=Effort(samples=16, photons=16, noise=0))
    x, y = np.meshgrid(map_.x_m - 0.5, map_.y_m - 0.5)
    angle = np.degrees(np.arctan(np.hypot(x, y) / 0.5))
    assert map_.sensed[0][(angle < 27) | (angle > 43)].max() == 0
    assert map_.sensed[0][(angle > 32) & (angle < 38)].min() > 0


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "TILT"),
        ("a picture of a lamp", "TILT"),
        (made(COSINE, DOWN).replace("TILT=NONE", "TILT=other.tlt"), "second file"),
        (made(COSINE, DOWN)[:120], "cut off"),
        (made(COSINE, DOWN).replace("1000", "bright", 1), '"bright" is not a number'),
        (made(COSINE, DOWN).replace("1000", "nan", 1), "not finite"),
        (made(COSINE, DOWN, kind=2), "type B"),
        (made(COSINE, DOWN, kind=7), "photometric type is 7"),
        (made(COSINE, DOWN, unit=3), "type of unit is 3"),
        (made(COSINE, [*DOWN[:-1], 10.0]), "above the one before"),
        (made([[0.0] * len(DOWN)], DOWN), "switched off"),
        (made([[-c for c in COSINE[0]]], DOWN), "below 0"),
        (made(COSINE, DOWN, first="1 -1 0"), "must be above 0"),
        (made(COSINE, DOWN) + " 7 7", "more than its angles"),
        (made(COSINE * 2, DOWN, (0, 120)), "horizontal angles run from 0 to 120"),
        (made(COSINE, DOWN).replace(f" {len(DOWN)} 1 1 2", " 1999 2000 1 2"), "cut off"),
    ],
)
def test_a_broken_file_is_refused_with_what_is_wrong(text, told):
    with pytest.raises(BadInput, match=told) as error:
        read_ies(text, name="lamp.ies")
    assert str(error.value).startswith("lamp.ies")


def test_the_factor_from_lumens_is_that_of_white_light():
    # 1/683 lm/W at 555 nm and 4.64 umol/J there give 0.0068 umol/s/lm for green alone; white needs about twice as much. From memory.
    assert 2 < PHOTONS_PER_LUMEN / (555 / 119.627 / 683) < 2.5


def test_emitters_are_packed_with_their_shares():
    rows, tables, shares = packed([Emitter(x_m=0, y_m=0, z_m=1, length_m=1, width_m=1, flux_umol_s=5)])
    assert rows.shape == (1, 11) and tables.shape[1:] == (180, 73) and shares[0, -1] == pytest.approx(1)
