"""Outlines and cuts of placed pieces: of boxes, by hand."""

from dataclasses import replace

import numpy as np
import pytest

from slackwater.layout.outlines import cut, outline
from slackwater.layout.scene import Placement
from tests.layout.test_gltf import ONE, scene


def area_m2(rings):
    """By the shoelace formula; a hole counts against."""
    total = 0.0
    for ring in rings:
        x, y = np.array(ring).T
        total += float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2
    return total


def box_of(rings):
    points = np.array([point for ring in rings for point in ring])
    return [*points.min(axis=0), *points.max(axis=0)]


@pytest.mark.parametrize(
    ("view", "box"),
    [
        # The block of 0.2 x 0.1 x 0.15 m stands with its corner at 0.3, 0.2, 0.1.
        ("above", [0.3, 0.2, 0.5, 0.3]),
        ("front", [0.3, 0.1, 0.5, 0.25]),
        ("left", [0.2, 0.1, 0.3, 0.25]),
    ],
)
def test_a_box_is_seen_as_its_sides(view, box):
    rings = outline(scene((ONE,)), ONE, view)
    assert box_of(rings) == pytest.approx(box, abs=1e-4)
    assert area_m2(rings) == pytest.approx((box[2] - box[0]) * (box[3] - box[1]), rel=1e-3)


def test_a_turned_box_is_seen_turned():
    half = 0.5**0.5
    placement = replace(ONE, turn=(half, 0.0, 0.0, half))
    assert box_of(outline(scene((placement,)), placement, "above")) == pytest.approx([0.2, 0.2, 0.3, 0.4], abs=1e-4)


@pytest.mark.parametrize(
    ("view", "at", "area"),
    [("above", 0.2, 0.02), ("front", 0.25, 0.03), ("left", 0.4, 0.015), ("left", 0.29, 0.0), ("above", 0.3, 0.0)],
)
def test_a_cut_through_a_box_has_the_area_of_its_side_or_none(view, at, area):
    layout = scene((ONE,))
    assert area_m2(cut(layout, layout.placement(1), view, at)) == pytest.approx(area, rel=1e-3, abs=1e-9)


def test_a_diagonal_cut_is_as_wide_as_the_diagonal():
    # Turned by 45 degrees about the upright, the plane across its middle meets the shorter sides of the box.
    turn = (float(np.cos(np.pi / 8)), 0.0, 0.0, float(np.sin(np.pi / 8)))
    placement = Placement(number=1, piece="block", position_m=(0.5, 0.2, 0.1), turn=turn)
    layout = scene((placement,))
    middle_y = 0.2 + (0.1 + 0.05) / 2**0.5
    rings = cut(layout, placement, "front", middle_y)
    assert area_m2(rings) == pytest.approx(0.1 * 2**0.5 * 0.15, rel=1e-3)
