"""A whole scene: nothing through the glass, ages that grow, light as in the plan."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from slackwater.errors import OutOfRange
from slackwater.layout.scene import Layout
from slackwater.picture.compose import irradiance_of_unit_sheet, scene_of
from slackwater.picture.places import inside_m
from slackwater.picture.scene import AGES, SHEET_UNDER_M
from tests.layout.scenes import BENT, BOX, flat, glass
from tests.picture.scenes import kinds, still


def scene(age="month3", corners=BOX, par=60.0, seed=5):
    return scene_of(still(corners), kinds(), age, par_umol_m2_s=par, seed=seed)


@pytest.mark.parametrize("corners", [BOX, BENT], ids=["box", "bent"])
def test_nothing_passes_the_glass_and_no_leaf_the_surface(corners):
    for thing in scene(corners=corners).things:
        points = thing.mesh.vertices_m.astype(float)
        assert inside_m(glass(corners), points[:, :2]).min() > 0, thing.name
        if thing.stuff == "leaf":
            assert points[:, 2].max() <= 0.37 - SHEET_UNDER_M, thing.name


def test_plants_are_fuller_and_higher_at_each_age_and_stones_stay():
    young, mid, old = (scene(age) for age in AGES)
    for one, other in ((young, mid), (mid, old)):
        assert [thing.name for thing in one.things] == [thing.name for thing in other.things]
        for before, after in zip(one.things, other.things, strict=True):
            if before.stuff == "ground":
                assert np.array_equal(before.mesh.vertices_m, after.mesh.vertices_m)
            else:
                assert len(after.mesh.faces) >= len(before.mesh.faces), before.name
    leaves = [sum(len(thing.mesh.faces) for thing in one.things if thing.stuff == "leaf") for one in (young, mid, old)]
    assert leaves[0] < leaves[1] < leaves[2]


def test_the_same_seed_makes_the_same_scene_and_anything_else_another_key():
    keys = [scene().key(), scene(par=61).key(), scene("week6").key(), scene(seed=6).key()]
    assert scene().key() == keys[0]
    assert len(set(keys)) == 4


def test_light_on_the_bed_is_that_of_two_equal_parallel_sheets():
    # View factor of aligned equal parallel rectangles, X = a/c, Y = b/c: Howell, A Catalog of Radiation Heat Transfer
    # Configuration Factors, C-11. Here 1 m by 0.4 m, 0.318 m apart. The sum over points is within a hundredth of it.
    a, b, c = 1.0, 0.4, 0.37 - SHEET_UNDER_M - 0.05
    x, y = a / c, b / c
    u, v = (1 + x * x) ** 0.5, (1 + y * y) ** 0.5
    factor = (
        2 / (pi * x * y)
        * (np.log(u * v / (1 + x * x + y * y) ** 0.5) + x * v * np.arctan(x / v) + y * u * np.arctan(y / u)
           - x * np.arctan(x) - y * np.arctan(y))
    )  # fmt: skip
    got = irradiance_of_unit_sheet(Layout(glass=glass(), bed=flat(0.05)))
    assert got / pi == pytest.approx(float(factor), rel=0.01)
    assert scene(par=90).lamp.radiance == pytest.approx(1.5 * scene(par=60).lamp.radiance)


@pytest.mark.parametrize("par", [0, -3, 1001, float("nan")])
def test_no_light_and_too_much_are_refused(par):
    with pytest.raises(OutOfRange, match="par_umol_m2_s"):
        scene(par=par)
