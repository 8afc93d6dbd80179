"""Wet colours and noise."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import OutOfRange
from slackwater.job.catalog import load_catalog
from slackwater.layout.meshes import icosphere
from slackwater.picture.scene import linear
from slackwater.picture.surfaces import finer, grains, look_of, skin, value_noise, wet_share


def test_a_wet_surface_is_as_dark_as_the_formula_says():
    # Angstrom (1925), a / (n^2 (1 - a) + a) with n = 1.333, reckoned by hand: 0.3 / (1.7769 * 0.7 + 0.3) = 0.1943.
    assert wet_share(np.array([0.3]))[0] == pytest.approx(0.1943, abs=5e-5)


@given(st.floats(0, 1))
def test_nothing_grows_lighter_when_wet_and_black_and_white_stay(share):
    assert 0 <= wet_share(np.array([share]))[0] <= share + 1e-15
    assert wet_share(np.array([0.0, 1.0])).tolist() == [0.0, 1.0]


@pytest.mark.parametrize("share", [-0.01, 1.01])
def test_a_share_beyond_what_light_there_is_is_refused(share):
    with pytest.raises(OutOfRange, match="share"):
        wet_share(np.array([share]))


def test_colours_of_screens_are_turned_to_light_as_the_standard_does():
    # IEC 61966-2-1: 0x80 is 0.2159 of full light, 0x0a is 10/255/12.92 = 0.00304.
    assert linear("#800aff") == pytest.approx((0.2159, 0.00304, 1.0), abs=5e-5)


def test_noise_is_smooth_bounded_and_its_own_for_each_seed():
    points = np.random.default_rng(1).uniform(-50, 50, (4000, 3))
    noise = value_noise(points, seed=3)
    assert np.abs(noise).max() <= 1
    assert abs(float(noise.mean())) < 0.05
    assert np.abs(value_noise(points + 1e-6, seed=3) - noise).max() < 1e-4
    assert np.array_equal(value_noise(points, seed=3), noise)
    assert not np.array_equal(value_noise(points, seed=4), noise)


def test_each_grain_takes_about_its_own_square():
    x, y = np.meshgrid(np.linspace(0, 20, 400, endpoint=False), np.linspace(0, 20, 400, endpoint=False))
    away, own = grains(np.column_stack([x.ravel(), y.ravel()]), seed=2)
    assert away.max() < 2**0.5
    # 400 squares, and cells of those beyond the edge that reach in.
    assert 380 <= len(np.unique(own)) <= 480


def test_cutting_triangles_finer_keeps_the_surface_closed_and_its_volume():
    vertices, faces = icosphere(1)
    more, cut = finer(vertices, faces)
    assert len(cut) == 4 * len(faces)
    assert (
        len(more) - len(cut) / 2 == 2
    )  # Euler: corners less edges plus faces is 2, and each face has one and a half edges

    def volume(points, triangles):
        a, b, c = (points[triangles[:, k]] for k in range(3))
        return float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6

    assert volume(more, cut) == pytest.approx(volume(vertices, faces), rel=1e-12)


@pytest.mark.parametrize(
    "material",
    [row.id for row in load_catalog().materials.values() if row.kind in ("stone", "wood")],
)
def test_every_stone_and_wood_has_a_skin_that_stays_near_its_mesh(material):
    vertices, faces = icosphere(2)
    kind = "wood" if material.startswith("wood") else "stone"
    made = skin(vertices * 0.1, faces, look_of(material, kind), seed=1, most=6000)
    assert len(made.faces) <= 6000
    assert np.abs(np.linalg.norm(made.vertices_m, axis=1) - 0.1).max() < 0.012
    assert made.colour.min() >= 0 and made.colour.max() < 0.9
    assert float(made.colour.std()) > 0.003, "one flat colour is no stone"
