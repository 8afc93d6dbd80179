"""Lowering by hand: what stops a piece, how deep it is pressed in, and whether it goes through the opening."""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import NotFound, OutOfRange
from slackwater.finding import Severity
from slackwater.job.catalog import load_catalog
from slackwater.layout.ground import bed_grid
from slackwater.layout.place import bedded, fits_opening, lowered, placing_findings, spans_m
from slackwater.layout.scene import Glass, stood
from tests.layout.shapes import ball, bed, box, glass, layout
from tests.layout.test_ground import asked


def bottoms(of):
    return [placement.position_m[2] + of.pieces[placement.piece].vertices_m[:, 2].min() for placement in of.placements]


# A box of 10 cm pressed in by 12 % of its height has its underside 12 mm below a bed of 60 mm.
@pytest.mark.parametrize("start_m", [0.0, 0.3, 2.0])
def test_a_box_is_lowered_onto_the_bed_and_pressed_in(start_m):
    over = glass()
    placed = layout(over, bed(over), (box(0.2, 0.1, 0.1), (0.5, 0.2, start_m)))
    assert bottoms(lowered(placed, 1, 0.12)) == [pytest.approx(0.048)]
    assert bottoms(lowered(placed, 1, 0.0)) == [pytest.approx(0.06)]
    assert lowered(placed, 1, 0.12).placement(1).position_m[:2] == (0.5, 0.2)


def test_the_bottom_glass_stops_it():
    over = glass()
    placed = layout(over, bed(over, depth=0.02), (box(0.2, 0.1, 0.3), (0.5, 0.2, 0.3)))
    assert bottoms(lowered(placed, 1, 0.5)) == [pytest.approx(0.0)]


# On a slope of 10 cm in 40 cm a ball of 5 cm touches where the plane is square to its radius: its centre stands
# r / cos(slope) over the plane.
def test_a_ball_touches_a_slope_beside_its_lowest_point():
    over = glass()
    slope = bed_grid(asked({"form": "edges", "front": "4 cm", "rear": "14 cm"}), over, load_catalog())
    placed = layout(over, slope, (ball(0.05, points=4000), (0.5, 0.2, 0.4)))
    rise = sqrt(1 + 0.25**2)
    assert lowered(placed, 1, 0.0).placement(1).position_m[2] == pytest.approx(0.09 + 0.05 * rise, abs=2e-4)


def test_a_stone_is_stopped_by_a_stone_and_not_pressed_into_it():
    over = glass()
    low, high = box(0.2, 0.2, 0.1, name="low"), box(0.1, 0.1, 0.08, name="high")
    placed = layout(over, bed(over), (low, (0.5, 0.2, 0.5)), (high, (0.55, 0.2, 0.5)))
    assert bottoms(bedded(placed, 0.12)) == [pytest.approx(0.048), pytest.approx(0.148)]


def test_what_stands_on_a_stone_does_not_carry_it():
    over = glass()
    low, high = box(0.2, 0.2, 0.1, name="low"), box(0.1, 0.1, 0.08, name="high")
    stacked = bedded(layout(over, bed(over), (low, (0.5, 0.2, 0.5)), (high, (0.55, 0.2, 0.5))))
    assert bottoms(lowered(stacked, 1)) == pytest.approx(bottoms(stacked))


@given(dx=st.floats(0, 0.09), dy=st.floats(0, 0.09))
def test_one_ball_on_another_touches_it_at_one_point(dx, dy):
    """Centres end two radii apart, wherever the upper one is let down over the lower."""
    over = glass()
    small, large = ball(0.05, name="small", points=1500), ball(0.06, name="large", points=1500)
    placed = layout(over, bed(over, depth=0.0), (large, (0.5, 0.2, 0.3)), (small, (0.5 + dx, 0.2 + dy, 0.6)))
    ended = bedded(placed, 0.0)
    aside = np.hypot(dx, dy)
    one, two = (np.array(ended.placement(number).position_m) for number in (1, 2))
    if aside < 0.08:  # farther out the flank is steep, and a millimetre aside is several in height
        assert np.linalg.norm(one - two) == pytest.approx(0.11, abs=2e-3)
    assert two[2] >= 0.05 - 1e-4


def test_a_number_that_is_not_there_and_a_share_that_is_none_are_refused():
    over = glass()
    placed = layout(over, bed(over), (ball(0.05), (0.5, 0.2, 0.3)))
    with pytest.raises(NotFound, match="numbers: 1"):
        lowered(placed, 2)
    with pytest.raises(OutOfRange):
        lowered(placed, 1, 1.5)


def test_spans_of_a_tilted_box_are_those_of_its_faces():
    """A square prism on its edge: over the middle it spans its diagonal."""
    half = radians(45) / 2
    placed = layout(glass(), bed(glass()), (box(0.1, 0.1, 0.1), (0.5, 0.2, 0.2), (cos(half), sin(half), 0.0, 0.0)))
    piece = next(iter(placed.pieces.values()))
    corners = stood(piece.vertices_m, placed.placements[0])
    under, over = spans_m(corners, piece.faces, np.linspace(0.46, 0.54, 5), np.array([0.17, 0.2, 0.23]))
    assert (over - under)[:, 2] == pytest.approx([0.1 * sqrt(2) - 0.06, 0.1 * sqrt(2), 0.1 * sqrt(2) - 0.06])


# ---------------------------------------------------------------- openings


def test_a_box_goes_through_an_opening_of_its_smallest_face_in_any_pose():
    piece = box(0.30, 0.20, 0.10)
    passes = fits_opening(piece, glass(openings=((0.21, 0.11),)))
    assert passes.fits and passes.opening_m == (0.21, 0.11)
    stuck = fits_opening(piece, glass(openings=((0.21, 0.09), (0.12, 0.12))))
    assert not stuck.fits and stuck.short_m == pytest.approx(0.01, abs=1e-4)


def test_a_long_thin_stone_goes_through_a_square_hole_on_its_diagonal():
    """A slab of 13 x 1 cm: turned by 45 degrees it needs (13 + 1) / sqrt 2 = 9.9 cm both ways."""
    assert fits_opening(box(0.3, 0.13, 0.01), glass(openings=((0.10, 0.10),))).fits
    assert not fits_opening(box(0.3, 0.13, 0.01), glass(openings=((0.098, 0.098),))).fits


def test_a_ball_needs_its_diameter_both_ways():
    passage = fits_opening(ball(0.1, points=2000), glass(openings=((0.15, 0.30),)))
    assert not passage.fits and passage.short_m == pytest.approx(0.05, abs=1e-3)
    assert passage.needs_m == pytest.approx((0.2, 0.2), abs=2e-3)


def ids(of):
    return [(finding.id, finding.severity, finding.about) for finding in placing_findings(of)]


def test_bad_stones_are_told_and_good_ones_are_not():
    over = glass()
    assert ids(layout(over, bed(over))) == [("layout.nothing_placed", Severity.NOTE, "")]
    assert ids(bedded(layout(over, bed(over), (box(0.2, 0.1, 0.1), (0.5, 0.2, 0.2))))) == []
    giant = layout(over, bed(over), (box(1.2, 0.5, 0.45), (0.5, 0.2, 0.2)))
    assert ids(bedded(giant, 0.0)) == [
        ("layout.too_big_for_opening", Severity.MISFIT, "1"),
        ("layout.through_the_glass", Severity.MISFIT, "1"),
        ("layout.above_the_rim", Severity.CONDITION, "1"),
    ]
    tall = layout(over, bed(over), (box(0.1, 0.1, 0.32), (0.5, 0.2, 0.2)))
    assert ids(bedded(tall, 0.0)) == [("layout.above_the_water", Severity.NOTE, "1")]
    aside = layout(over, bed(over), (box(0.1, 0.1, 0.1), (0.03, 0.2, 0.2)))
    told = placing_findings(bedded(aside))
    assert [finding.id for finding in told] == ["layout.through_the_glass"]
    assert told[0].values["beyond_cm"] == pytest.approx(2.0)


def test_a_stone_over_a_cut_corner_is_told_by_how_far():
    # The corner from (1, 0.2) to (0.8, 0.4): a block whose own corner is at (0.95, 0.35) reaches 0.1 / sqrt(2) over it.
    over = glass().model_copy(update={"corners_m": ((0, 0), (1, 0), (1, 0.2), (0.8, 0.4), (0, 0.4))})
    told = placing_findings(layout(over, bed(over), (box(0.2, 0.1, 0.1), (0.85, 0.3, 0.1))))
    assert [finding.id for finding in told] == ["layout.through_the_glass"]
    assert told[0].values["beyond_cm"] == pytest.approx(100 * 0.1 / np.sqrt(2))


def test_what_is_below_the_bottom_glass_is_past_the_glass():
    over = glass()
    told = placing_findings(layout(over, bed(over), (box(0.1, 0.1, 0.1), (0.5, 0.2, 0.02))))
    assert [(finding.id, finding.values["beyond_cm"]) for finding in told] == [
        ("layout.through_the_glass", pytest.approx(3.0))
    ]


def test_in_an_l_shaped_tank_the_missing_corner_is_outside():
    over = Glass(
        corners_m=((0, 0), (1.0, 0), (1.0, 0.4), (0.5, 0.4), (0.5, 0.8), (0, 0.8)),
        height_m=0.4,
        water_line_m=0.36,
        wall_m=0.01,
        public_sides=("front",),
    )
    stone = box(0.1, 0.1, 0.1)
    assert ids(bedded(layout(over, bed(over), (stone, (0.25, 0.6, 0.2))))) == []
    assert ids(bedded(layout(over, bed(over), (stone, (0.8, 0.6, 0.2)))))[0][0] == "layout.through_the_glass"


def test_forty_pieces_are_lowered_each_onto_those_before():
    over = glass(3.0, 0.6)
    stone = ball(0.06, points=200)
    places = [(0.1 + 0.07 * k, 0.2 + 0.05 * (k % 4), 0.3) for k in range(40)]
    ended = bedded(layout(over, bed(over), *((stone, place) for place in places)))
    spots = np.array([placement.position_m for placement in ended.placements])
    apart = np.linalg.norm(spots[:, None] - spots[None], axis=2)[np.triu_indices(40, 1)]
    assert apart.min() > 0.118
    assert (
        replace(ended, placements=ended.placements[:3]).placements
        == bedded(replace(ended, placements=ended.placements[:3])).placements
    )
