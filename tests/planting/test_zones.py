"""Zones part the bed without gap or overlap, keep to places that a practitioner would name, and are numbered for the hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slackwater.errors import BadInput
from slackwater.planting.ground import LightMap, light_of_reading, to_panes_m, within
from slackwater.planting.zones import MOST_ZONES, area_of, outline_of, zones_of
from tests.planting.beds import ground, light, piece


def bed_zones(zones):
    return [zone for zone in zones if zone.soil_m is not None]


@st.composite
def beds(draw):
    length = draw(st.sampled_from([0.3, 0.6, 1.2, 2.4]))
    width = draw(st.sampled_from([0.2, 0.4, 0.6]))
    sides = draw(st.sampled_from([("front",), ("front", "rear"), ("left",), ("front", "left", "right", "rear")]))
    stones = []
    for number in range(draw(st.integers(0, 3))):
        x, y = draw(st.floats(0, 0.8)) * length, draw(st.floats(0, 0.8)) * width
        kind = draw(st.sampled_from(["stone", "wood"]))
        stones.append(piece(number + 1, kind, x, y, x + 0.2 * length, y + 0.3 * width))
    made = ground(length_m=length, width_m=width, sides=sides, pieces=stones)
    steps = draw(st.lists(st.floats(0, 150), min_size=4, max_size=4))
    par = light(made, lambda x, y: np.select([x < length / 3, x < length / 2, y < width / 2], steps[:3], steps[3]))
    return made, draw(st.none() | st.just(par))


@settings(max_examples=40, deadline=None)
@given(beds())
def test_zones_of_the_bed_have_every_free_cell_once_and_are_few(made):
    bed, par = made
    zones = zones_of(bed, par)
    assert [zone.number for zone in zones] == list(range(1, len(zones) + 1))
    assert len(zones) <= MOST_ZONES
    across, away = np.meshgrid(bed.x_m, bed.y_m)
    times = np.zeros(across.shape, dtype=int)
    for zone in bed_zones(zones):
        held = np.zeros(across.shape, dtype=bool)
        for ring in zone.outline_m:
            held ^= within(ring, across, away)
        times += held
        assert held.sum() * bed.cell_m2 == pytest.approx(zone.area_m2, rel=1e-9)
        assert area_of(zone.outline_m) == pytest.approx(zone.area_m2, rel=0.01)
        row, column = np.abs(bed.y_m - zone.middle_m[1]).argmin(), np.abs(bed.x_m - zone.middle_m[0]).argmin()
        assert held[row, column], "the number stands in its own zone"
    assert (times == bed.free).all()
    assert sum(zone.area_m2 for zone in bed_zones(zones)) == pytest.approx(bed.free.sum() * bed.cell_m2)


def test_seen_from_the_front_the_back_is_planted_first_and_the_front_last():
    zones = zones_of(ground(), None)
    places = [zone.place for zone in zones]
    assert places[-1] == "surface"
    order = ["background", "middle", "foreground", "carpet"]
    known = [order.index(place) for place in places[:-1]]
    assert known == sorted(known)
    assert {place for place in places} == {*order, "surface"}
    assert all(zone.face == "front" for zone in bed_zones(zones))


def test_between_two_public_sides_the_middle_is_the_background_and_both_faces_are_alike():
    zones = zones_of(ground(sides=("front", "rear")), None)
    backs = [zone for zone in zones if zone.place == "background"]
    assert all(0.4 * 0.35 <= zone.middle_m[1] <= 0.4 * 0.65 for zone in backs)
    carpets = [zone for zone in zones if zone.place == "carpet"]
    faces = {face: sum(zone.area_m2 for zone in carpets if zone.face == face) for face in ("front", "rear")}
    assert faces["front"] == pytest.approx(faces["rear"])
    numbers = [zone.number for zone in backs]
    assert max(numbers) < min(zone.number for zone in carpets), "from the middle to both faces"


def test_the_foot_of_a_stone_in_the_front_is_no_carpet():
    bed = ground(pieces=[piece(1, "stone", 0.4, 0.04, 0.6, 0.1)])
    for zone in bed_zones(zones_of(bed, None)):
        if zone.place == "carpet":
            across, away = np.meshgrid(bed.x_m, bed.y_m)
            held = np.zeros(across.shape, dtype=bool)
            for ring in zone.outline_m:
                held ^= within(ring, across, away)
            # Cells whose middle is within 3 cm of the stone's edge, to the left of it.
            assert not (held & (across > 0.37) & (across < 0.4) & (away > 0.05) & (away < 0.09)).any()


def test_wood_and_stone_bear_epiphytes_and_come_first():
    zones = zones_of(
        ground(pieces=[piece(1, "stone", 0.1, 0.1, 0.3, 0.2), piece(2, "wood", 0.6, 0.1, 0.9, 0.2)]),
        None,
    )
    assert [zone.place for zone in zones[:2]] == ["wood", "stone"]
    # The stone is 16 cm high, 2 cm of them in the bed: 14/16 of 200 cm2 show.
    assert zones[1].area_m2 == pytest.approx(0.02 * 14 / 16)
    assert zones[0].pieces == (2,)


def test_a_stone_under_the_soil_bears_nothing():
    zones = zones_of(ground(pieces=[piece(1, "stone", 0.1, 0.1, 0.3, 0.2, high_m=0.07, low_m=0.0, sunk_m=0.06)]), None)
    assert "stone" not in {zone.place for zone in zones}


def test_a_shaded_part_is_a_zone_of_its_own():
    bed = ground(length_m=0.6)
    zones = bed_zones(zones_of(bed, light(bed, lambda x, _: np.where(x < 0.3, 20.0, 90.0), error=2.0)))
    for zone in zones:
        assert zone.par_umol_m2_s in (pytest.approx(20), pytest.approx(90))
    assert {round(zone.par_umol_m2_s) for zone in zones} == {20, 90}


def test_light_that_is_not_known_stays_unknown_and_is_no_darkness():
    bed = ground()
    zones = bed_zones(zones_of(bed, light(bed, np.nan)))
    assert all(zone.par_umol_m2_s is None and zone.par_error_umol_m2_s is None for zone in zones)


def test_one_reading_is_the_light_where_it_was_taken_and_less_where_the_water_is_deeper():
    bed = ground(bed_m=0.06)
    bed.top_m[:, :10] = 0.0
    par = light_of_reading(bed, 50.0).par_umol_m2_s
    assert par[10, 30] == pytest.approx(50)
    # 6 cm more water at 0.5 1/m: exp(-0.03) = 0.9704.
    assert par[10, 3] == pytest.approx(50 * 0.9704, rel=1e-4)


def test_reach_is_straight_from_the_nearest_rim():
    # A bed 6 cm high in a tank 40 cm high and 40 cm wide: the far cell lies 19 cm from the panes and 34 cm under the rim.
    zones = bed_zones(zones_of(ground(), None))
    assert max(zone.reach_m for zone in zones) == pytest.approx(np.hypot(0.19, 0.34), abs=1e-6)


def test_a_long_tank_is_parted_in_reaches():
    zones = bed_zones(zones_of(ground(length_m=2.4, cell_m=0.04), None, most=40))
    for zone in zones:
        xs = [x for ring in zone.outline_m for x, _ in ring]
        assert max(xs) - min(xs) <= 0.6 + 0.04


def test_outlines_go_round_holes_and_keep_corners_only():
    bed = ground(length_m=0.1, width_m=0.1)
    cells = np.ones((5, 5), dtype=bool)
    cells[2, 2] = False
    outer, hole = sorted(outline_of(cells, bed), key=len, reverse=True)[:2]
    assert {tuple(corner) for corner in outer} in (
        {(0.0, 0.0), (0.1, 0.0), (0.1, 0.1), (0.0, 0.1)},
        {(0.04, 0.04), (0.06, 0.04), (0.06, 0.06), (0.04, 0.06)},
    )
    assert area_of((outer, hole)) == pytest.approx(24 * 0.02**2)


def test_distance_to_panes_in_the_middle_of_a_square_is_half_its_side():
    square = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    assert to_panes_m(square, np.array([0.5]), np.array([0.5])) == pytest.approx(0.5)


def test_a_light_map_of_another_shape_is_refused():
    with pytest.raises(BadInput, match="a row for each y"):
        LightMap(x_m=np.arange(3.0), y_m=np.arange(2.0), par_umol_m2_s=np.ones((3, 2)), error_umol_m2_s=np.ones((2, 3)))
