"""Parts of a score on boxes, whose silhouettes can be reckoned by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slackwater.errors import NotFound
from slackwater.layout.score import ALWAYS, INTENTS, SEARCHED, SIDE_PARTS, WEIGHTS, WHOLE_PARTS, score
from slackwater.wording.render import say, sentences
from tests.layout.shapes import bed, box, glass, layout

# 60 x 30 x 30 cm, soil 5 cm, water at 25 cm: 20 cm of open water.
TANK = glass(0.6, 0.3, 0.3, water=0.25)
GROUND = bed(TANK, depth=0.05)
FRONT = TANK.model_copy(update={"public_sides": ("front",)})


def seen(*placed, sides=("front",)):
    scene = layout(TANK.model_copy(update={"public_sides": sides}), GROUND, *placed)
    return {part.id: part for part in score(scene, shy_species=1).parts}


def upright(length, height, x, y=0.015, width=0.01):
    """A box on the soil, near the front pane unless told otherwise: there it looks as large as it is."""
    return box(length, width, height, name=f"{x} {y}"), (x, y, 0.05 + height / 2)


# A wall over the whole length, half as high as the open water: every third is half blocked; its halves have their middles at a
# quarter of the length, 1/12 from the third, half of the 1/6 that is too far; halves are equal; half of it lies in the middle half.
def test_a_wall_of_half_height():
    got = {name: part.value for name, part in seen(upright(0.6, 0.1, 0.3)).items()}
    assert got["open_middle"] == pytest.approx(0.5, abs=0.02)
    assert got["thirds"] == pytest.approx(0.5, abs=0.02)
    assert got["unequal"] == pytest.approx(0, abs=1e-6) and got["one_end"] == pytest.approx(0, abs=1e-6)
    assert got["island"] == pytest.approx(0.5, abs=0.01)
    assert got["outline"] == pytest.approx(0, abs=0.02)
    assert got["seen"] == 1 and got["offset"] <= 1e-6 and got["near"] == 1


# 6.2 and 3.8 parts of silhouette about the thirds of the length. The boxes just fill ten cells.
def test_two_groups_as_the_trade_teaches_them():
    got = {name: part.value for name, part in seen(upright(0.094, 0.124, 0.2), upright(0.094, 0.076, 0.4)).items()}
    assert got["unequal"] == pytest.approx(1, abs=0.03)
    assert got["thirds"] == pytest.approx(1, abs=0.03)
    # 5 of the 20 cm of the middle third under 12.4 of 20 cm, 5 under 7.6: a quarter each.
    assert got["open_middle"] == pytest.approx(1 - 0.25 * 0.62 - 0.25 * 0.38, abs=0.02)
    assert got["one_end"] == pytest.approx(0.24, abs=0.02)


# 2 over 2 + 0.2 / 1.333 is 0.930; the near group stands 20 cm before the far one, and a third of 30 cm is enough.
def test_groups_set_apart_front_to_back():
    assert seen(upright(0.1, 0.1, 0.15, 0.05), upright(0.1, 0.1, 0.45, 0.25))["offset"].value == 1
    half = seen(upright(0.1, 0.1, 0.15, 0.10), upright(0.1, 0.1, 0.45, 0.15))["offset"].value
    assert half == pytest.approx(0.5, abs=0.01)


def test_what_stands_behind_a_larger_one_is_not_seen_and_the_worst_side_counts():
    parts = seen(upright(0.2, 0.15, 0.3, 0.10), upright(0.05, 0.05, 0.3, 0.20), sides=("front", "rear"))
    assert parts["seen"].by_side["front"] == pytest.approx(0.5, abs=0.01)
    assert parts["seen"].by_side["rear"] > 0.9
    assert parts["seen"].value == parts["seen"].by_side["front"] and parts["seen"].worst_side == "front"


# Eight steps from 2 to 16 cm: the spread of 1..8 is 2.29, over 8 it is 0.286, more than the 0.25 that is enough.
def test_a_stair_has_a_layered_outline():
    stair = [upright(0.05, 0.02 * step, 0.07 * step) for step in range(1, 9)]
    assert seen(*stair)["outline"].value == pytest.approx(1, abs=0.05)


def test_a_path_is_free_until_something_stands_in_it():
    assert seen(upright(0.05, 0.05, 0.05))["path"].value == 1
    # A wall across both paths takes its own width of 2 of 30 cells, or of 3 where it lies on a border of cells.
    assert seen(upright(0.6, 0.05, 0.3, 0.15))["path"].value == pytest.approx(1 - 2.5 / 30, abs=0.04)


def test_a_hide_is_the_floor_under_an_arch():
    slab, left, right = box(0.12, 0.08, 0.02), box(0.02, 0.08, 0.05), box(0.02, 0.08, 0.05, name="b")
    parts = seen((slab, (0.3, 0.15, 0.11)), (left, (0.25, 0.15, 0.075)), (right, (0.35, 0.15, 0.075)))
    # 8 x 8 cm between the posts, give or take a border of cells.
    assert parts["hides"].values["area_cm2"] == pytest.approx(64, abs=20) and parts["hides"].value == 1
    assert seen(upright(0.1, 0.1, 0.3))["hides"].value == 0


def test_a_swim_lane_ends_where_something_high_stands_across_and_runs_over_low_stones():
    assert seen((box(0.02, 0.3, 0.18), (0.2, 0.15, 0.14)))["swim_lane"].values["lane_m"] == pytest.approx(
        0.39, abs=0.011
    )
    assert seen((box(0.02, 0.3, 0.08), (0.2, 0.15, 0.09)))["swim_lane"].value == 1
    assert seen(upright(0.02, 0.18, 0.2))["swim_lane"].value == 1  # there is water behind it


def test_planting_is_the_floor_that_is_left():
    assert seen((box(0.30, 0.30, 0.1), (0.15, 0.15, 0.10)))["planting"].values["share_pct"] == pytest.approx(50, abs=2)


def test_nothing_at_all_is_no_composition():
    parts = seen()
    assert parts["open_middle"].value == 1 and parts["unequal"].value == 0 and parts["planting"].value == 1


ORIENTED = st.tuples(st.integers(12, 48), st.integers(9, 21), st.floats(0.05, 1.5))


def standing(which, *, sides, move):
    placed = []
    for at, (x, y, turn) in enumerate(which):
        x, y, turn = move(x / 100, y / 100, turn)
        shape = box(0.05 + 0.03 * at, 0.04 + 0.02 * at, 0.06 + 0.03 * at, name=str(at))
        placed.append((shape, (x, y, 0.1), (float(np.cos(turn / 2)), 0.0, 0.0, float(np.sin(turn / 2)))))
    return score(layout(TANK.model_copy(update={"public_sides": sides}), GROUND, *placed), shy_species=1)


@settings(max_examples=15, deadline=None)
@given(which=st.lists(ORIENTED, min_size=1, max_size=3))
def test_a_mirrored_layout_has_the_mirrored_score(which):
    sides = ("front", "rear", "left", "right")
    one = standing(which, sides=sides, move=lambda x, y, turn: (x, y, turn))
    other = standing(which, sides=sides, move=lambda x, y, turn: (0.6 - x, y, -turn))
    swapped = {"front": "front", "rear": "rear", "left": "right", "right": "left"}
    for part in one.parts:
        mirrored = other.part(part.id)
        assert mirrored.value == pytest.approx(part.value, abs=1e-9), part.id
        for side, value in part.by_side.items():
            assert mirrored.by_side[swapped[side]] == pytest.approx(value, abs=1e-9), part.id
    assert other.total == pytest.approx(one.total, abs=1e-9)


@settings(max_examples=10, deadline=None)
@given(which=st.lists(ORIENTED, min_size=1, max_size=3))
def test_swapping_front_and_rear_swaps_what_is_seen(which):
    one = standing(which, sides=("front", "rear"), move=lambda x, y, turn: (x, y, turn))
    other = standing(which, sides=("front", "rear"), move=lambda x, y, turn: (0.6 - x, 0.3 - y, turn + np.pi))
    for name in SIDE_PARTS:
        a, b = one.part(name).by_side, other.part(name).by_side
        assert (a["front"], a["rear"]) == pytest.approx((b["rear"], b["front"]), abs=1e-9), name


def test_every_part_has_a_sentence_and_every_intent_a_name():
    scene = replace(layout(FRONT, GROUND, upright(0.1, 0.1, 0.3)))
    for part in score(scene).parts:
        assert "{" not in say(f"layout_part.{part.id}", part.values)
    assert {part.id for part in score(scene).parts} == {*SIDE_PARTS, *WHOLE_PARTS}
    for intent in INTENTS:
        assert f"layout_intent.{intent}" in sentences()
        assert set(WEIGHTS[intent]) <= set(SEARCHED)
        assert 0 <= score(scene, intent=intent).total <= 1
    assert set(ALWAYS) <= set(WHOLE_PARTS)


def test_an_intent_nobody_knows_is_refused():
    with pytest.raises(NotFound, match="maze"):
        score(layout(FRONT, GROUND), intent="maze")


# Two blocks 12 cm apart: the small one (1/8 of the litres) is tied to the large one, middle to middle.
def test_every_part_has_marks_to_draw_where_there_is_something_to_see():
    large, small = box(0.16, 0.16, 0.16, name="large"), box(0.08, 0.08, 0.08, name="small")
    scene = layout(TANK, GROUND, (large, (0.15, 0.15, 0.1)), (small, (0.4, 0.2, 0.08)))
    parts = {part.id: part for part in score(scene, shy_species=1).parts}
    assert {name for name, part in parts.items() if not part.marks} <= {"hides"}
    (tie,) = parts["near"].marks
    assert [pytest.approx(point, abs=1e-6) for point in tie.points_m] == [(0.4, 0.2), (0.15, 0.15)]
    (between,) = parts["offset"].marks
    assert [pytest.approx(point, abs=1e-6) for point in between.points_m] in (
        [(0.15, 0.15), (0.4, 0.2)],
        [(0.4, 0.2), (0.15, 0.15)],
    )
    assert len(parts["seen"].marks) == 2 and len(parts["outline"].marks) == 2
    tops = sorted(max(high for _, high in mark.points_m) for mark in parts["outline"].marks)
    assert tops == pytest.approx([0.12, 0.18], abs=0.005)
    # A cell of 1 cm that a block only touches counts as taken.
    free = len(parts["planting"].marks[0].points_m) * 0.01**2
    assert 0.18 - 0.18**2 - 0.1**2 <= free <= 0.18 - 0.16**2 - 0.08**2
