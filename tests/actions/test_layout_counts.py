"""What a touch costs is counted as the whole is: the same figures whatever moved, was added or taken out."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slackwater.actions.layout_counts import count
from slackwater.errors import OutOfRange
from slackwater.layout import meshes
from slackwater.layout.columns import Columns
from slackwater.layout.scene import Bay, Placement
from tests.layout.scenes import bed, body, flat, glass, layout_of, wavy

BALL = body(meshes.ball(0.08, rounds=4), name="ball")
BRICK = body(meshes.block((0.2, 0.1, 0.15)), name="brick")
STAND = layout_of(glass(), bed(wavy), (BALL, (0.3, 0.2, 0.1)), (BRICK, (0.7, 0.2, 0.1)))


def all_of(found):
    return found.volumes, found.planting_m2, found.mass_kg, found.findings


MOVES = st.tuples(
    st.integers(1, 4), st.sampled_from([BALL, BRICK]), st.floats(0.1, 0.9), st.floats(0.08, 0.32), st.floats(0, 0.4)
)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.one_of(MOVES, st.integers(1, 4)), min_size=1, max_size=5))
def test_a_count_after_some_touches_is_the_count_from_the_beginning(touches):
    layout, found = STAND, count(STAND)
    for touch in touches:
        if isinstance(touch, int):
            layout = layout.without(touch)
        else:
            number, piece, *at = touch
            layout = layout.with_placement(Placement(number=number, piece=piece.key, position_m=tuple(at)))
        found = count(layout, found)
    assert all_of(found) == all_of(count(layout))


def test_only_what_moved_is_counted_again_and_a_lock_moves_nothing():
    found = count(STAND)
    locked = count(STAND.with_placement(replace(STAND.placement(1), locked=True)), found)
    assert locked.columns.placed == found.columns.placed and locked.alone == found.alone
    moved = count(STAND.with_placement(replace(STAND.placement(1), position_m=(0.35, 0.2, 0.1))), found)
    assert moved.columns.placed[2] is found.columns.placed[2] and moved.alone[2] is found.alone[2]
    assert moved.columns.placed[1] is not found.columns.placed[1]


def test_another_bed_is_counted_anew():
    lower = replace(STAND, bed=flat(0.05))
    assert all_of(count(lower, count(STAND))) == all_of(count(lower))
    assert count(lower).volumes.soil_l != count(STAND).volumes.soil_l
    bay = Bay(outline_m=((0, 0), (0.2, 0), (0.2, 0.2), (0, 0.2)), material="sand")
    with_bay = replace(STAND, bed=replace(STAND.bed, bays=(bay,)))
    assert all_of(count(with_bay, count(STAND))) == all_of(count(with_bay))
    with pytest.raises(OutOfRange, match="bed is another"):
        Columns.of(STAND).followed_by(lower)


def test_planting_area_is_the_floor_less_the_circle_in_which_a_ball_cuts_the_soil():
    # A ball of 8 cm sunk to its middle cuts a circle of its own radius out of 1.0 x 0.4 m; half a cell of 5 mm round its rim.
    layout = layout_of(glass(), flat(0.1), (BALL, (0.5, 0.2, 0.1)))
    assert count(layout).planting_m2 == pytest.approx(1.0 * 0.4 - pi * 0.08**2, abs=2 * pi * 0.08 * 0.0025)
