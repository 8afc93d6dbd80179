"""Shapes of plants."""

from __future__ import annotations

import numpy as np
import pytest

from slackwater.errors import BadInput
from slackwater.picture.forms import Leaves, Stock, habit_of, leaf_mesh, plant_mesh
from tests.picture.scenes import catalog


def straight(length, width, lift_deg=90.0, bend=0.0):
    one = np.ones(1)
    return Leaves(
        np.zeros((1, 3)), 0 * one, np.radians(lift_deg) * one, bend * one, length * one, width * one,
        np.full((1, 3), 0.2), np.full((1, 3), 0.2),
    )  # fmt: skip


def grown(plant, height, fullness=1.0, seed=3):
    spots = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0]])
    habit = habit_of(plant, catalog().plants[plant].position)
    stock = Stock(spots, np.full(2, height), np.full(2, 0.04), fullness)
    return plant_mesh(np.random.default_rng(seed), habit, stock)


def test_an_upright_leaf_is_as_long_and_as_wide_as_asked():
    mesh = leaf_mesh(np.random.default_rng(1), straight(0.1, 0.02), "oval", segments=20, fold=0.0)
    assert np.ptp(mesh.vertices_m[:, 2]) == pytest.approx(0.1, rel=0.02)
    rows = mesh.vertices_m.reshape(21, 3, 3)
    assert np.linalg.norm(rows[:, 0] - rows[:, 2], axis=1).max() == pytest.approx(0.02, rel=0.05)
    assert len(mesh.faces) == 80


def test_a_bent_leaf_keeps_its_length_and_ends_lower():
    up, down = (
        leaf_mesh(np.random.default_rng(1), straight(0.1, 0.01, bend=bend), "strap", segments=24) for bend in (0, 1.4)
    )
    middle = down.vertices_m.reshape(25, 3, 3)[:, 1]
    assert np.linalg.norm(np.diff(middle, axis=0), axis=1).sum() == pytest.approx(0.1, rel=0.01)
    assert down.vertices_m[:, 2].max() < 0.95 * up.vertices_m[:, 2].max()


@pytest.mark.parametrize("plant", sorted(catalog().plants))
def test_every_plant_of_the_catalog_has_a_shape_about_as_high_as_asked(plant):
    row = catalog().plants[plant]
    height = row.height_max_cm / 100
    mesh = grown(plant, height)
    assert len(mesh.faces) >= 20
    assert mesh.faces.max() < len(mesh.vertices_m)
    assert np.isfinite(mesh.vertices_m).all()
    assert mesh.colour.min() >= 0 and mesh.colour.max() <= 0.9
    if row.position != "floating" and habit_of(plant, row.position).form != "moss":
        # A tuft of short leaves may end a leaf's length above its stems.
        leaf = habit_of(plant, row.position).leaf_m
        assert 0.45 * height <= mesh.vertices_m[:, 2].max() <= 1.5 * height + 1.2 * leaf


@pytest.mark.parametrize("plant", ["micranthemum_tweediei", "rotala_rotundifolia", "cryptocoryne_wendtii"])
def test_fuller_plants_have_more_leaves_and_each_portion_stands_at_its_spot(plant):
    thin, full = grown(plant, 0.1, 0.6), grown(plant, 0.1, 1.6)
    assert len(full.faces) > 1.3 * len(thin.faces)
    for mesh in (thin, full):
        near = np.hypot(mesh.vertices_m[:, 0] - np.round(mesh.vertices_m[:, 0]), mesh.vertices_m[:, 1])
        assert near.max() < 0.25
        assert set(np.unique(np.round(mesh.vertices_m[:, 0]))) == {0.0, 1.0}


def test_the_same_seed_grows_the_same_plant():
    one, again, other = (grown("ludwigia_palustris", 0.2, seed=seed) for seed in (3, 3, 4))
    assert np.array_equal(one.vertices_m, again.vertices_m)
    assert one.vertices_m.shape != other.vertices_m.shape or not np.array_equal(one.vertices_m, other.vertices_m)


def test_a_plant_without_a_row_looks_like_others_of_its_place_and_an_unknown_place_is_refused():
    assert habit_of("novum_genus", "carpet or floating").form == "mat"
    with pytest.raises(BadInput, match=r"novum_genus.*trellis.*carpet"):
        habit_of("novum_genus", "trellis")
