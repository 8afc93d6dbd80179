"""Volumes add up, levels invert, and common practice holds."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import Contradiction, OutOfRange
from slackwater.job.catalog import load_catalog
from slackwater.layout.bed import (
    corners_surface,
    edges_surface,
    mound_surface,
    ridge_surface,
    steepest_deg,
    volume_l,
    whole_bags,
)
from slackwater.tank.assess import assess_tank, volumes_of
from slackwater.tank.floor import gas_share_of_room, pressure_kn_m2
from slackwater.tank.glass import panel_stress_mpa, plate
from slackwater.tank.lifting import recommended_weight_kg
from slackwater.tank.result import TankShape
from slackwater.tank.volume import (
    bow_front,
    bow_front_m2,
    column_l,
    footprint_m2,
    is_rectangle,
    level_m,
    rectangle,
    volume_at_level_l,
    water_volume_l,
)
from slackwater.wording.render import finding_sentence
from tests.jobs import job_from
from tests.plans import UNASKED, plan_of

length = st.floats(0.2, 3.0)
depth = st.floats(0.02, 0.3)


@given(length, length, st.floats(0.1, 0.9), depth, st.floats(0.05, 0.95))
def test_a_level_gives_back_the_volume_that_made_it(a, b, level, bed, porosity):
    area = a * b
    litres = volume_at_level_l(level_m=level, footprint_m2=area, bed_depth_m=bed, bed_porosity=porosity)
    assert level_m(volume_l=litres, footprint_m2=area, bed_depth_m=bed, bed_porosity=porosity) == pytest.approx(
        level, rel=1e-9
    )


@given(length, length, st.floats(0.3, 0.9), st.floats(0, 20), st.floats(0, 20), st.floats(0, 20))
def test_solids_and_water_add_up_to_the_gross_volume(a, b, level, solids, pores, stone):
    shape = _box(a, b, level)
    volumes = volumes_of(shape, soil_solids_l=solids, pore_l=pores, hardscape_l=stone).result
    if volumes is not None:
        total = volumes.soil_solids_l + volumes.hardscape_l + volumes.pore_water_l + volumes.free_water_l
        assert total == pytest.approx(volumes.gross_l, rel=1e-12)
        assert volumes.net_l == pytest.approx(volumes.gross_l - solids - stone, rel=1e-9)


def _box(a, b, level):
    corners = rectangle(length_m=a, width_m=b)
    return TankShape(
        corners_m=corners,
        length_m=a,
        width_m=b,
        height_m=1.0,
        water_line_m=level,
        footprint_m2=a * b,
        inner_glass_m2=2 * (a + b),
        gross_l=column_l(footprint_m2=a * b, height_m=level),
        rim_l=column_l(footprint_m2=a * b, height_m=1.0),
        work_places=2,
    )


def test_more_solids_than_room_is_a_finding_and_not_negative_water():
    stage = volumes_of(_box(0.3, 0.3, 0.3), soil_solids_l=20, pore_l=5, hardscape_l=10)
    assert stage.result is None and stage.findings[0].id == "tank.no_room_for_water"
    with pytest.raises(Contradiction):
        water_volume_l(gross_l=20, soil_bulk_l=30, soil_porosity=0.1, hardscape_l=5)


@given(length, length, depth, depth)
def test_a_wedge_is_its_mean_depth_times_the_base(a, b, front, rear):
    surface = edges_surface(length_m=a, width_m=b, front_m=front, rear_m=rear)
    assert volume_l(surface, rectangle(length_m=a, width_m=b)) == pytest.approx(
        1000 * a * b * (front + rear) / 2, rel=1e-9
    )


@given(length, length, depth, depth)
def test_a_ridge_is_the_mean_of_edge_and_top_times_the_base(a, b, edge, top):
    surface = ridge_surface(width_m=b, edge_m=edge, top_m=top)
    assert volume_l(surface, rectangle(length_m=a, width_m=b)) == pytest.approx(
        1000 * a * b * (edge + top) / 2, rel=1e-9
    )


@given(length, length, depth, depth, depth, depth)
def test_four_corners_give_their_mean_times_the_base(a, b, p, q, r, s):
    surface = corners_surface(length_m=a, width_m=b, front_left_m=p, front_right_m=q, rear_left_m=r, rear_right_m=s)
    assert volume_l(surface, rectangle(length_m=a, width_m=b)) == pytest.approx(
        1000 * a * b * (p + q + r + s) / 4, rel=1e-9
    )


def test_a_mound_is_a_frustum_on_a_slab():
    # Slab 0.04 x 0.36 m2; frustum h/3 (A1 + A2 + sqrt(A1 A2)) with A1 0.36, A2 0.0196, h 0.12: 14.4 + 18.544 L.
    surface = mound_surface(length_m=0.6, width_m=0.6, edge_m=0.04, top_m=0.16, flat_length_m=0.14, flat_width_m=0.14)
    corners = rectangle(length_m=0.6, width_m=0.6)
    assert volume_l(surface, corners) == pytest.approx(32.944, abs=0.02)
    # 12 cm over 23 cm: arctan(12/23) = 27.55 degrees.
    assert steepest_deg(surface, corners) == pytest.approx(27.553, abs=0.01)


@given(st.floats(0.1, 0.9))
def test_a_bed_over_two_parts_of_a_footprint_is_the_sum_of_the_parts(cut):
    surface = edges_surface(length_m=1.0, width_m=0.4, front_m=0.03, rear_m=0.12)
    whole = volume_l(surface, rectangle(length_m=1.0, width_m=0.4))
    left = volume_l(surface, ((0, 0), (cut, 0), (cut, 0.4), (0, 0.4)))
    right = volume_l(surface, ((cut, 0), (1, 0), (1, 0.4), (cut, 0.4)))
    assert left + right == pytest.approx(whole, rel=1e-9)


def test_a_triangular_tank_holds_half_of_the_rectangle_around_it():
    corners = ((0.0, 0.0), (0.9, 0.0), (0.0, 0.6))
    assert footprint_m2(corners) == pytest.approx(0.27)
    flat = edges_surface(length_m=0.9, width_m=0.6, front_m=0.05, rear_m=0.05)
    assert volume_l(flat, corners) == pytest.approx(13.5, rel=1e-9)


def test_common_practice_two_barrels_of_160_hold_more_than_a_box_of_200_litres():
    box = column_l(footprint_m2=1.00 * 0.40, height_m=0.50)
    assert box == pytest.approx(200)
    assert 2 * 160 > box > 160


def test_common_practice_two_bags_over_its_floor_are_four_and_a_half_centimetres_deep():
    assert pytest.approx(0.045) == 2 * 9 / 1000 / (1.00 * 0.40)
    flat = edges_surface(length_m=1.0, width_m=0.4, front_m=0.045, rear_m=0.045)
    assert whole_bags(litres=volume_l(flat, rectangle(length_m=1.0, width_m=0.4)), bag_l=9) == 2


@given(st.floats(0, 500), st.floats(1, 25))
def test_bags_hold_what_is_asked_and_not_a_whole_bag_more(litres, bag):
    bags = whole_bags(litres=litres, bag_l=bag)
    assert bags * bag >= litres - 1e-3 and (bags - 1) * bag < litres + 1e-9


@given(
    st.floats(0, 63),
    st.floats(0, 175),
    st.floats(0, 175),
    st.floats(0, 135),
    st.floats(0, 15),
    st.sampled_from(["<=1h", "1-2h", "2-8h"]),
    st.sampled_from(["good", "fair", "poor"]),
)
def test_nobody_is_told_to_lift_more_than_23_kg(h, v, d, a, f, duration, coupling):
    found = recommended_weight_kg(
        hand_distance_cm=h,
        hand_height_cm=v,
        travel_cm=d,
        asymmetry_deg=a,
        lifts_per_min=f,
        duration=duration,
        coupling=coupling,
    )
    assert 0 <= found <= 23 + 1e-9


def test_beyond_the_method_is_refused():
    with pytest.raises(OutOfRange, match="beyond 63 cm"):
        recommended_weight_kg(
            hand_distance_cm=64,
            hand_height_cm=75,
            travel_cm=25,
            asymmetry_deg=0,
            lifts_per_min=0.2,
            duration="<=1h",
            coupling="good",
        )


def test_worked_figures_of_the_trade_hold():
    # Trade notes 2b: full barrel 210 kg on its round footprint of 58 cm, 7.8 kN/m2.
    assert pressure_kn_m2(mass_kg=210, area_m2=3.14159 * 0.29**2) == pytest.approx(7.8, abs=0.05)
    # 2 kg of carbon dioxide in 40 m3: 2.8 %; 5 kg in 620 m3: 0.45 %.
    assert 100 * gas_share_of_room(gas_kg=2, room_m3=40) == pytest.approx(2.8, abs=0.1)
    assert 100 * gas_share_of_room(gas_kg=5, room_m3=620) == pytest.approx(0.45, abs=0.02)


def test_a_brace_relieves_a_pane_and_more_water_loads_it():
    free = panel_stress_mpa(panel_length_m=1.2, water_height_m=0.5, thickness_m=0.012, braced=False)
    braced = panel_stress_mpa(panel_length_m=1.2, water_height_m=0.5, thickness_m=0.012, braced=True)
    higher = panel_stress_mpa(panel_length_m=1.2, water_height_m=0.6, thickness_m=0.012, braced=False)
    assert braced < free < higher


def test_a_long_plate_on_two_supports_becomes_a_beam():
    # Far from the short sides a plate held at top and bottom is a beam: M = q H^2 / 8 for uniform load.
    assert plate(length_over_height=10, poisson=0.22, top="supported", load="uniform").moment == pytest.approx(
        1 / 8, rel=0.01
    )


@given(st.floats(0.3, 2.5), st.floats(0.2, 1.0), st.floats(0.05, 1.0))
def test_a_bowed_front_adds_its_circle_segment(length, width, share):
    bow = share * length / 2
    corners = bow_front(length_m=length, width_m=width, bow_m=bow)
    exact = bow_front_m2(length_m=length, width_m=width, bow_m=bow)
    # A half circle at the deepest: pi r^2 / 2.
    if share == 1.0:
        assert exact == pytest.approx(length * width + 3.14159265 * (length / 2) ** 2 / 2)
    assert footprint_m2(corners) == pytest.approx(exact, rel=1.5e-3)
    assert min(y for _, y in corners) == pytest.approx(0, abs=1e-9)
    assert max(y for _, y in corners) == pytest.approx(width + bow)


def test_right_angles_make_a_rectangle():
    assert is_rectangle(rectangle(length_m=1.2, width_m=0.5))
    assert not is_rectangle(((0, 0), (1, 0), (1.2, 0.5), (0, 0.5)))
    assert not is_rectangle(((0, 0), (1, 0), (0.5, 1)))


SKEW = [{"x": "0 cm", "y": "0 cm"}, {"x": "100 cm", "y": "0 cm"}, {"x": "120 cm", "y": "50 cm"}, {"x": "0 cm", "y": "50 cm"}]  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"tank.material": "acrylic"}, "creeps"),
        ({"tank.bow": "8 cm"}, "shell"),
        ({"tank.length": None, "tank.width": None, "tank.footprint": SKEW}, "rectangle"),
    ],
)
def test_panes_that_plate_theory_does_not_fit_are_not_judged_and_the_reason_is_given(changes, reason):
    job = job_from("blue-corridor", **{"tank.wall": "10 mm", **changes})
    stage = assess_tank(job, load_catalog())
    told = [finding for finding in stage.findings if finding.id == "tank.glass_not_judged"]
    assert reason in told[0].values["reason"] and "judged" in finding_sentence(told[0])
    assert not [figure for figure in stage.figures if figure.id == "tank.panel_stress_mpa"]
    flat = assess_tank(job_from("blue-corridor", **{"tank.wall": "10 mm"}), load_catalog())
    assert [figure for figure in flat.figures if figure.id == "tank.panel_stress_mpa"]
    assert not [finding for finding in flat.findings if finding.id == "tank.glass_not_judged"]


def test_a_bow_that_cannot_be_is_refused():
    stage = assess_tank(job_from("blue-corridor", **{"tank.bow": "90 cm"}), load_catalog())
    assert stage.result is None and stage.findings[0].id == "tank.bow_too_deep"
    assert "at most half" in finding_sentence(stage.findings[0])


def test_a_bowed_tank_holds_more_and_can_be_planned():
    plain = plan_of("blue-corridor", (), UNASKED)
    bowed = plan_of("blue-corridor", (("tank.bow", "8 cm"),), UNASKED)
    # 118 cm and 8 cm: segment of 0.0636 m2 at 42 cm is 26.7 L more.
    assert bowed.tank.gross_l - plain.tank.gross_l == pytest.approx(26.7, abs=0.5)
    assert bowed.water is not None and bowed.water.net_l > plain.water.net_l


def test_heavy_things_have_their_lifting_index():
    lifts = plan_of("blue-corridor", (), UNASKED).loads.lifts
    assert lifts and all((lift.lifting_index > 1) <= (lift.people == 2) for lift in lifts)
    assert [lift.lifting_index for lift in lifts] == sorted((lift.lifting_index for lift in lifts), reverse=True)


@given(st.floats(0.25, 9.5), st.sampled_from(["free", "supported"]))
def test_plate_factors_run_smoothly_between_the_rows_of_the_table(ratio, top):
    def at(length_over_height):
        return plate(length_over_height=length_over_height, poisson=0.22, top=top, load="triangular").moment

    low, here, high = at(ratio * 0.99), at(ratio), at(min(10, ratio * 1.01))
    # Bending grows with length and bends nowhere sharply.
    assert low <= here * (1 + 1e-3) and here <= high * (1 + 1e-3)
    assert here == pytest.approx((low + high) / 2, rel=0.01)


# The opening of each case in cm, the piece's length and width, and what is said: end first only the two smaller sides
# count; the third side is at most the second.
PIECES = [
    ("78 x 38", "30", "20", None),
    ("78 x 38", "45", "30", None),
    ("78 x 38", "45", None, "piece_if_thin"),
    ("78 x 38", "38", None, None),
    ("78 x 38", "120", "38", "piece_on_the_slant"),
    ("38 x 78", "120", "38", "piece_on_the_slant"),
    ("78 x 38", "60", "39", "piece_if_thin"),
    ("78 x 38", "90", "79", "piece_too_large"),
    ("36 x 36", "37", "36", "piece_on_the_slant"),
    ("36 x 36", "37", "37", "piece_too_large"),
]


@pytest.mark.parametrize(("opening", "long", "wide", "said"), PIECES)
def test_a_piece_passes_when_its_smallest_cross_section_does(opening, long, wide, said):
    a, b = opening.split(" x ")
    wood = {"material": "wood_branching_root", "mass": "1 kg", "length": f"{long} cm"}
    if wide is not None:
        wood["width"] = f"{wide} cm"
    openings = [{"length": "10 cm", "width": "20 cm"}, {"length": f"{a} cm", "width": f"{b} cm"}]
    job = job_from("blue-corridor", **{"wood": [wood], "stones": [], "tank.openings": openings})
    found = [finding for finding in assess_tank(job, load_catalog()).findings if "piece" in finding.id]
    assert [finding.id for finding in found] == ([] if said is None else [f"tank.{said}"])
    for finding in found:
        assert finding_sentence(finding)


# A mouth of 120 by 50 cm under two braces of 15 cm: (120 - 2 x 15) / 3 = 30 cm, three openings of 30 by 50 cm.
BRACED = {
    "tank.length": "120 cm",
    "tank.width": "50 cm",
    "tank.openings": None,
    "tank.braces_across": 2,
    "tank.brace_width": "15 cm",
    "tank.work_places": None,
}


TAKEN = ("tank.openings", "tank.work_places")


def braced(**changes):
    return assess_tank(job_from("blue-corridor", **{**BRACED, **changes}), load_catalog())


def test_braces_leave_openings_which_a_piece_must_pass():
    job = job_from("blue-corridor", **BRACED)
    openings = job.tank.free_openings
    assert [(one.length_m, one.width_m) for one in openings] == [pytest.approx((0.30, 0.50))] * 3
    wood = {"material": "wood_branching_root", "mass": "3 kg", "length": "90 cm", "width": "55 cm"}
    stage = braced(wood=[wood], stones=[])
    assert "tank.piece_too_large" in {finding.id for finding in stage.findings}
    assert ("tank.openings", "3 of 30 by 50 cm") in {(item.field, item.value) for item in stage.assumed}


def test_narrow_openings_take_fewer_hands():
    # One opening of 30 cm takes one person; at one brace of 60 cm two openings of 30 cm take one each.
    one = [{"length": "30 cm", "width": "30 cm"}]
    assert braced(**{"tank.openings": one}).result.work_places == 1
    assert braced(**{"tank.braces_across": 1, "tank.brace_width": "60 cm"}).result.work_places == 2
    assert braced(**{"tank.openings": one, "tank.work_places": 2}).result.work_places == 2


@pytest.mark.parametrize("change", [{"tank.brace_width": None}, {"tank.braces_across": None, "tank.braced": True}])
def test_a_braced_mouth_that_nobody_measured_is_told(change):
    told = {**BRACED, **change}
    # What stands in the example may be taken away; what does not is left out.
    stage = assess_tank(
        job_from("blue-corridor", **{k: v for k, v in told.items() if v is not None or k in TAKEN}), load_catalog()
    )
    assert [item.id for item in stage.findings if item.id == "tank.mouth_unknown"] == ["tank.mouth_unknown"]
    assert all(item.field != "tank.openings" for item in stage.assumed)
