"""Where plants stand: in the tank, off the stones, apart, where they belong."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slackwater.picture.forms import habit_of
from slackwater.picture.places import OFF_GLASS_M, inside_m, kinds_of, map_of, panes_of, spots_of, usual_sizes, within
from slackwater.picture.scene import AGES
from tests.jobs import job_from
from tests.layout.scenes import BENT, BOW, BOX, CUT, glass
from tests.picture.scenes import catalog, kind, kinds, tank


@given(st.floats(-0.5, 1.5), st.floats(-0.5, 0.9))
def test_how_far_inside_a_box_is_the_least_of_four_distances(x, y):
    want = min(x, 1 - x, y, 0.4 - y)
    if want < 0:
        want = -float(np.hypot(max(-x, x - 1, 0), max(-y, y - 0.4, 0)))
    assert inside_m(glass(), np.array([[x, y]]))[0] == pytest.approx(want, abs=1e-12)


def test_the_inner_corner_of_a_bent_tank_is_outside():
    assert within(np.array([[0.3, 0.3], [0.3, 0.1], [0.8, 0.3]]), BENT).tolist() == [False, True, True]
    panes = panes_of(glass(BENT), np.array([[0.3, 0.16]]))
    assert panes.inside_m[0] == pytest.approx(0.01)
    assert panes.inward[0] == pytest.approx((0, -1))


@pytest.mark.parametrize("corners", [BOX, BOW, CUT, BENT], ids=["box", "bow", "cut", "bent"])
def test_every_portion_stands_inside_off_glass_and_stone(corners):
    spots = spots_of(tank(corners), kinds(), seed=5)
    ground = map_of(tank(corners))
    for one in kinds():
        found = spots[one.plant]
        assert len(found) <= one.portions, one.plant
        # The one stone stands where a bent tank has no water: what is tied to stone finds none there.
        assert len(found) > 0 or (corners is BENT and "stone" in one.attach), one.plant
        if not len(found):
            continue
        assert inside_m(glass(corners), found[:, :2]).min() > OFF_GLASS_M - 0.006, one.plant
        if one.attach == "soil":
            i = np.clip((found[:, 0] / 0.01).astype(int), 0, len(ground.x_m) - 1)
            j = np.clip((found[:, 1] / 0.01).astype(int), 0, len(ground.y_m) - 1)
            assert found[:, 2] == pytest.approx(0.05), one.plant
            assert ground.free[j, i].mean() > 0.95, one.plant


def test_low_plants_stand_nearer_to_the_public_than_high_ones():
    spots = spots_of(tank(), kinds(), seed=5)

    def back(plant):
        return float(np.minimum(spots[plant][:, 1], 0.4 - spots[plant][:, 1]).mean())

    assert back("micranthemum_tweediei") < back("cryptocoryne_wendtii") < back("vallisneria_nana")


def test_what_is_tied_to_stone_stands_on_it_and_what_floats_lies_on_the_water():
    spots = spots_of(tank(), kinds(), seed=5)
    assert spots["microsorum_pteropus"][:, 2].min() > 0.055
    assert np.unique(spots["limnobium_laevigatum"][:, 2]) == pytest.approx([0.37 - 0.006])


def test_the_same_seed_places_the_same_and_another_one_otherwise():
    one, again, other = (spots_of(tank(), kinds(), seed=seed) for seed in (5, 5, 6))
    assert all(np.array_equal(one[name], again[name]) for name in one)
    assert any(not np.array_equal(one[name], other[name]) for name in one)


def test_a_tank_without_room_takes_fewer():
    spots = spots_of(tank(), [kind("echinodorus_grisebachii", 400)], seed=1)
    assert 0 < len(spots["echinodorus_grisebachii"]) < 400


def test_spots_of_a_planting_plan_are_kept():
    from dataclasses import replace

    asked = ((0.5, 0.1), (0.6, 0.3))
    spots = spots_of(tank(), [replace(kind("vallisneria_nana", 2), spots_m=asked)], seed=1)
    assert spots["vallisneria_nana"][:, :2] == pytest.approx(np.array(asked))
    assert spots["vallisneria_nana"][:, 2] == pytest.approx(0.05)


@settings(max_examples=30)
@given(st.sampled_from(sorted(catalog().plants)))
def test_plants_of_every_row_grow_with_age_and_not_beyond_their_height(plant):
    row = catalog().plants[plant]
    form = habit_of(plant, row.position).form
    sizes = usual_sizes(
        height_min_m=row.height_min_cm / 100,
        height_max_m=row.height_max_cm / 100,
        growth=row.growth_rate,
        spacing_m=row.spacing_cm / 100,
        cover_m2=row.cover_cm2_per_unit_at_planting / 10_000 / row.portions_per_unit,
        form=form,
    )
    for part in ("height_m", "spread_m", "fullness"):
        values = [getattr(sizes[age], part) for age in AGES]
        assert values == sorted(values), part
    assert sizes["planted"].fullness < sizes["week6"].fullness
    assert sizes["month3"].height_m <= row.height_max_cm / 100


def test_a_plant_that_is_named_twice_is_one_kind_with_the_portions_of_both():
    first = {"plant": "anubias_barteri_nana", "units": 2}
    job = job_from(plants=[first, {**first, "units": 3}])
    (found,) = kinds_of(job, catalog())
    assert found.portions == 5 * catalog().plants["anubias_barteri_nana"].portions_per_unit
