"""Glass and hands, on boxes before a pane: what is too narrow can be counted by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slackwater.errors import OutOfRange
from slackwater.layout.reach import clearance, pane_names, tips_near_glass
from slackwater.layout.scene import Glass
from tests.layout.shapes import bed, box, glass, layout

# A tank of 60 x 30 x 30 cm, 5 cm of soil, water at 26 cm. Panes from the front left corner: front, right, rear, left.
TANK = glass(0.6, 0.3, 0.3, water=0.26)
GROUND = bed(TANK, depth=0.05)


def before_the_front(gap_m, height_m=0.15):
    """A box of 20 x 10 cm in the middle, so far from the front pane."""
    stone = box(0.2, 0.1, height_m)
    return layout(TANK, GROUND, (stone, (0.3, gap_m + 0.05, 0.05 + height_m / 2)))


def test_glass_before_an_empty_bed_is_all_clean():
    found = clearance(layout(TANK, GROUND))
    assert found.unclean_share == 0 and found.findings == () and found.tips == ()
    assert [pane.to_clean.sum() * found.cell_m**2 for pane in found.panes] == pytest.approx(
        [0.6 * 0.21, 0.3 * 0.21, 0.6 * 0.21, 0.3 * 0.21]
    )
    assert all(pane.widest_m[pane.to_clean].min() == 0.1 for pane in found.panes)


@pytest.mark.parametrize(("gap_m", "widest_m"), [(0.02, 0.02), (0.03, 0.03), (0.04, 0.04), (0.05, 0.05), (0.06, 0.06)])
def test_the_widest_hand_between_stone_and_pane_is_the_gap(gap_m, widest_m):
    front = clearance(before_the_front(gap_m)).panes[0]
    # In the middle of the stone and near its foot, further in than a hand wipes from its ends.
    spot = np.argmin(abs(front.up_m - 0.07)), np.argmin(abs(front.along_m - 0.3))
    assert front.widest_m[spot] == pytest.approx(widest_m)


# The middle of a hand of 4 cm is 2 cm from the pane, level with the face of the stone, so it stays 2 cm off its ends and
# wipes just up to them: what is left is the stone's own shade, 20 cm wide from 5 to 20 cm up.
def test_glass_behind_a_stone_that_is_too_near_is_drawn_as_a_mask():
    found = clearance(before_the_front(0.02))
    front = found.panes[0]
    rows, columns = np.nonzero(front.unclean)
    edge = 2 * found.cell_m
    assert front.along_m[columns.min()] == pytest.approx(0.20, abs=edge)
    assert front.along_m[columns.max()] == pytest.approx(0.40, abs=edge)
    assert front.up_m[rows.max()] == pytest.approx(0.20, abs=edge)
    assert front.unclean.sum() * found.cell_m**2 == pytest.approx(0.20 * 0.15, rel=0.12)  # a step at each edge
    assert [pane.unclean.any() for pane in found.panes] == [True, False, False, False]
    assert next(finding.id for finding in found.findings if finding.about == "1") == "layout.glass_too_narrow"


def test_a_roof_up_to_the_pane_shuts_off_the_glass_below():
    """A slab 20 cm up against the pane: beside it a hand gets down, under its middle it does not get within its width."""
    slab = box(0.6, 0.3, 0.02)
    found = clearance(layout(TANK, GROUND, (slab, (0.3, 0.15, 0.2))))
    for pane in found.panes:
        below = (pane.up_m < 0.18) & (pane.up_m > 0.05)
        assert pane.unclean[below].all() and not pane.unclean[pane.up_m > 0.215].any()


# A tank 90 cm deep, soil 5 cm: 0.85 m down at the pane, and an arm of 0.6 m leaves what is lower than 0.3 m.
def test_an_arm_reaches_so_far_down_a_pane():
    tall = glass(0.4, 0.4, 0.9, water=0.85)
    found = clearance(layout(tall, bed(tall, depth=0.05)), arm_m=0.6)
    for pane in found.panes:
        assert (pane.too_far[pane.up_m < 0.29]).any() and not pane.too_far[pane.up_m > 0.31].any()
    assert {finding.id for finding in found.findings} == {"layout.glass_too_far"}


def test_a_pane_nobody_can_lean_over_is_reached_across_the_tank():
    # From the front rim to the rear pane: 30 cm across and 30 cm less 15 cm down.
    found = clearance(layout(TANK, GROUND), closed_panes=(1, 2, 3))
    rear = found.panes[2]
    row = np.argmin(abs(rear.up_m - 0.1525))
    assert rear.reach_m[row] == pytest.approx(np.hypot(0.3, 0.3 - rear.up_m[row]))


def test_a_corner_of_a_box_towards_the_glass_is_a_tip_and_its_flat_side_is_none():
    flat = layout(TANK, GROUND, (box(0.1, 0.1, 0.1), (0.3, 0.08, 0.15)))
    assert tips_near_glass(flat, near_m=0.035) != () and all(  # its four corners, and nothing between them
        abs(abs(tip.at_m[0] - 0.3) - 0.05) < 0.001 and abs(abs(tip.at_m[2] - 0.15) - 0.05) < 0.001
        for tip in tips_near_glass(flat, near_m=0.035)
    )
    needle = layout(TANK, GROUND, (box(0.006, 0.2, 0.006), (0.3, 0.12, 0.15)))
    (tip,) = tips_near_glass(needle)
    assert tip.pane == 0 and tip.gap_m == pytest.approx(0.02, abs=1e-6) and tip.sharpness > 0.8
    assert tips_near_glass(layout(TANK, GROUND, (box(0.1, 0.1, 0.1), (0.3, 0.15, 0.15)))) == ()


@settings(max_examples=5, deadline=None)
@given(x=st.integers(12, 48), y=st.integers(8, 22), turn=st.floats(0.1, 1.4))
def test_a_mirrored_layout_has_mirrored_panes(x, y, turn):
    stone = box(0.11, 0.07, 0.12)

    def standing(at_x, angle):
        quaternion = (float(np.cos(angle / 2)), 0.0, 0.0, float(np.sin(angle / 2)))
        return layout(TANK, GROUND, (stone, (at_x, y / 100, 0.11), quaternion))

    one, other = clearance(standing(x / 100, turn)), clearance(standing(0.6 - x / 100, -turn))
    for pane, mirrored in ((0, 0), (1, 3), (2, 2), (3, 1)):
        assert np.array_equal(one.panes[pane].widest_m, other.panes[mirrored].widest_m[:, ::-1])


@pytest.mark.parametrize("asked", [{"hand_m": 0.0}, {"hand_m": float("nan")}, {"arm_m": 3.0}])
def test_what_is_no_hand_is_refused(asked):
    with pytest.raises(OutOfRange, match=next(iter(asked))):
        clearance(layout(TANK, GROUND), **asked)


@pytest.mark.parametrize(
    ("corners", "names"),
    [
        (((0, 0), (1, 0), (1, 0.4), (0, 0.4)), ["front 1", "right 1", "rear 1", "left 1"]),
        # A front in two facets, each nearer to the front than to a side.
        (
            ((0, 0.1), (0.5, 0), (1, 0.1), (1, 0.4), (0, 0.4)),
            ["front_part 1", "front_part 2", "right 1", "rear 1", "left 1"],
        ),
    ],
    ids=["box", "bent front"],
)
def test_a_pane_is_called_by_the_side_it_looks_to(corners, names):
    tank = Glass(corners_m=corners, height_m=0.4, water_line_m=0.36, wall_m=0.01, public_sides=("front",))
    found = [f"{str(name['pane']).removeprefix('@layout_pane.')} {name['part']}" for name in pane_names(tank)]
    assert found == names
