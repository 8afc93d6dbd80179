"""Sight lines held to Snell's law and to similar triangles."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slackwater.job.fields import FROM_FILE
from slackwater.job.model import LayoutWish
from slackwater.layout.see import WATER_INDEX, Eye, apparent, eyes_of, in_view, refracted, view
from tests.layout.shapes import bed, box, glass, layout

TANK = glass(0.6, 0.3, 0.3, water=0.26)
GROUND = bed(TANK, depth=0.05)
SEATED = Eye(side="front", posture="seated", distance_m=2.0, height_m=0.45)


# sin 60 / 1.333 = 0.649681 is the sine of 40.518 degrees.
def test_a_ray_of_60_degrees_goes_on_at_40_and_a_half():
    ray = np.array([[np.sin(np.radians(60)), 0.0, np.cos(np.radians(60))]])
    (got,) = refracted(ray, ratio=1 / 1.333)
    assert np.degrees(np.arctan2(got[0], got[2])) == pytest.approx(40.518, abs=0.001)


def test_what_lies_straight_ahead_is_seen_straight_ahead_and_what_lies_on_the_pane_where_it_is():
    eye = np.array([0.3, 0.2, 1.0])
    points = np.array([[0.3, 0.2, 0.25], [0.1, 0.05, 0.0], [0.5, 0.25, 0.0]])
    assert apparent(points, eye) == pytest.approx(points[:, :2])


@given(
    u=st.floats(-1, 2),
    v=st.floats(0, 1),
    depth=st.floats(0.001, 3),
    away=st.floats(0.05, 5),
    height=st.floats(-1, 2),
)
def test_an_apparent_place_obeys_snell(u, v, depth, away, height):
    eye = np.array([0.3, height, away])
    (foot,) = apparent(np.array([[u, v, depth]]), eye)
    air = np.array([*(foot - eye[:2]), away])
    water = np.array([*(np.array([u, v]) - foot), depth])
    sines = [np.linalg.norm(ray[:2]) / np.linalg.norm(ray) for ray in (air, water)]
    assert sines[0] == pytest.approx(WATER_INDEX * sines[1], abs=1e-9)
    assert air[:2] @ water[:2] >= -1e-12


# Near the middle of the view depth shrinks by the index: an eye 2 m away sees what is 0.1333 m deep as 0.1 m deep.
def test_near_the_middle_water_looks_shallower_by_its_index():
    eye = np.array([0.0, 0.0, 2.0])
    (foot,) = apparent(np.array([[0.01, 0.0, 0.1333]]), eye)
    assert foot[0] == pytest.approx(0.01 * 2.0 / 2.1, rel=1e-4)


def test_each_public_side_has_a_seated_and_a_standing_eye_over_the_bottom_of_the_tank():
    eyes = eyes_of(TANK, bottom_over_floor_m=0.8)
    assert [(eye.side, eye.posture) for eye in eyes] == [
        ("front", "seated"),
        ("front", "standing"),
        ("rear", "seated"),
        ("rear", "standing"),
    ]
    assert [eye.height_m for eye in eyes[:2]] == pytest.approx([0.4, 0.8])


def test_eyes_are_where_the_job_says():
    wish = LayoutWish.model_validate({"seated_eye": "1.1 m", "viewing_distance": "3 m"}, context=FROM_FILE)
    seated, standing = eyes_of(TANK, bottom_over_floor_m=0.8, wish=wish)[:2]
    assert (seated.distance_m, seated.height_m) == (3.0, pytest.approx(0.3))
    # What is not stated stays as usual: 1.6 m over the floor.
    assert (standing.distance_m, standing.height_m) == (3.0, pytest.approx(0.8))


@pytest.mark.parametrize(
    ("side", "right_up_away"),
    [("front", (0.1, 0.05, 0.2)), ("rear", (0.5, 0.05, 0.1)), ("left", (0.1, 0.05, 0.1)), ("right", (0.2, 0.05, 0.5))],
)
def test_right_and_away_are_those_of_who_looks(side, right_up_away):
    assert in_view(np.array([[0.1, 0.2, 0.05]]), TANK, side)[0] == pytest.approx(right_up_away)


# A slab that touches the near pane hides just its own width and height there.
def test_a_slab_at_the_pane_hides_its_own_width():
    slab = box(0.2, 0.01, 0.10)
    found = view(layout(TANK, GROUND, (slab, (0.3, 0.005, 0.10))), SEATED)
    covered = found.u_m[np.isfinite(found.outline_m)]
    assert (covered.min(), covered.max()) == pytest.approx((0.2, 0.4), abs=0.006)
    # Its front edge stands at the pane, 15 cm up; the eye is higher and sees a little of its roof.
    eye, far = np.array([0.3, 0.45, 2.0]), np.array([[0.3, 0.15, 0.01]])
    assert np.nanmax(found.outline_m) == pytest.approx(apparent(far, eye)[0, 1], abs=0.006)


def test_no_pieces_hide_nothing_and_a_wall_hides_all():
    empty = view(layout(TANK, GROUND), SEATED)
    assert empty.hidden_share == 0 and empty.background.any() and np.isnan(empty.outline_m).all()
    wall = view(layout(TANK, GROUND, (box(0.6, 0.02, 0.26), (0.3, 0.15, 0.13))), SEATED)
    assert wall.hidden_share == pytest.approx(1.0, abs=0.02)


# An eye level with the middle of the water: the far pane is seen between the bed at the far pane and the water line, drawn
# together towards the eye by 2 / (2 + 0.3 / 1.333) = 0.8989, as far as the rays are near the middle (within 0.5 % here).
def test_the_far_pane_is_as_large_as_similar_triangles_say():
    eye = Eye(side="front", posture="seated", distance_m=2.0, height_m=0.155)
    shown = view(layout(TANK, GROUND), eye).background
    assert shown.any(axis=0).sum() * 0.005 == pytest.approx(0.6 * 0.8989, abs=0.011)
    assert shown.any(axis=1).sum() * 0.005 == pytest.approx(0.21 * 0.8989, abs=0.011)


def test_a_stone_behind_a_larger_one_is_not_seen_from_there_and_wholly_from_the_other_side():
    large, small = box(0.2, 0.05, 0.15), box(0.05, 0.05, 0.05)
    scene = layout(TANK, GROUND, (large, (0.3, 0.08, 0.125)), (small, (0.3, 0.20, 0.075)))
    level = Eye(side="front", posture="seated", distance_m=2.0, height_m=0.10)
    assert view(scene, level).seen_share == {1: 1.0, 2: 0.0}
    behind = view(scene, level.model_copy(update={"side": "rear"}))
    assert behind.seen_share[2] == 1.0 and behind.seen_share[1] < 1.0


@settings(max_examples=8, deadline=None)
@given(x=st.integers(15, 45), y=st.integers(8, 22))
def test_swapping_front_and_rear_swaps_the_views(x, y):
    stone = box(0.11, 0.07, 0.12)
    rear = SEATED.model_copy(update={"side": "rear"})
    one = layout(TANK, GROUND, (stone, (x / 100, y / 100, 0.11)))
    half_round = (0.0, 0.0, 0.0, 1.0)
    other = layout(TANK, GROUND, (stone, (0.6 - x / 100, 0.3 - y / 100, 0.11), half_round))
    a, b = view(one, SEATED, cell_m=0.01), view(other, rear, cell_m=0.01)
    assert np.array_equal(a.background, b.background)
    # Points that fall just on a border of cells may go either way.
    assert (a.number != b.number).sum() <= 0.02 * (a.number > 0).sum()


def test_a_tank_above_the_eyes_is_seen_from_below():
    high = replace(layout(TANK, GROUND), glass=TANK)
    eyes = eyes_of(TANK, bottom_over_floor_m=1.5)
    assert eyes[0].height_m == pytest.approx(-0.3)
    assert view(high, eyes[0]).hidden_share == 0
