"""Volumes: closed forms, two ways of counting that share no code, sums that must come out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from slackwater.layout import meshes
from slackwater.layout.bed import ridge_surface, volume_l
from slackwater.layout.columns import Columns, fast_volumes
from slackwater.layout.litres import bed_litres, differing
from slackwater.layout.scene import Placement
from slackwater.layout.solids import Kernel, exact_volumes
from tests.layout.scenes import (
    BENT,
    BOW,
    BOX,
    CUT,
    any_turn,
    bed,
    body,
    coarse,
    flat,
    glass,
    layout_of,
    scanned,
    wavy,
)

BALL = body(meshes.ball(0.08, rounds=4), name="ball")
BRICK = body(meshes.block((0.2, 0.1, 0.15)), name="brick")


def area(corners):
    x, y = np.array(corners).T
    return abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


# --- the bare bed: no piece, nothing sampled


@pytest.mark.parametrize("corners", [BOX, BOW, CUT, BENT], ids=["box", "bow", "cut", "bent"])
def test_a_plane_bed_holds_the_prism_over_any_outline(corners):
    # A plane over a polygon: area times height over its centroid.
    x, y = np.array(corners).T
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    size = cross.sum() / 2
    middle_x = ((x + np.roll(x, -1)) * cross).sum() / 6 / size
    middle_y = ((y + np.roll(y, -1)) * cross).sum() / 6 / size
    soil = bed(lambda x, y: 0.03 + 0.04 * x + 0.1 * y, corners, cells=(57, 31))
    found = bed_litres(glass(corners), soil)
    assert found.bed_l == pytest.approx(1000 * size * (0.03 + 0.04 * middle_x + 0.1 * middle_y), rel=1e-12)
    assert found.tank_l == pytest.approx(1000 * area(corners) * 0.37, rel=1e-12)
    assert found.above_water_l == 0


@pytest.mark.parametrize("corners", [BOX, CUT, BENT], ids=["box", "cut", "bent"])
def test_a_ridge_on_the_nodes_agrees_with_the_integral_of_the_form(corners):
    surface = ridge_surface(width_m=0.4, edge_m=0.04, top_m=0.13)
    assert bed_litres(glass(corners), bed(surface, corners)).bed_l == pytest.approx(
        volume_l(surface, corners, cells=800), rel=1e-4
    )


@pytest.mark.parametrize("corners", [BOX, ((0, 0), (1, 0), (1, 0.4), (0.2, 0.4), (0, 0.2))], ids=["box", "cut"])
def test_the_part_of_a_bed_over_the_water_is_the_prism_over_the_line(corners):
    # Height 0.5 y over the line of 0.1 m from y = 0.2 on: over the box a prism of 0.2 m by 0.1 m / 2; of the cut corner
    # the tetrahedron over the triangle (0, 0.2), (0.2, 0.4), (0, 0.4) with heights 0, 0.1, 0.1 is missing.
    found = bed_litres(glass(corners, water_line_m=0.1), bed(lambda x, y: 0.5 * y, corners, cells=(50, 20)))
    missing = 0 if len(corners) == 4 else 1000 * 0.02 * (0.1 + 0.1) / 3
    assert found.above_water_l == pytest.approx(10 - missing, rel=1e-9)


# --- closed forms, each by both ways


@pytest.fixture(params=["exact", "fast"])
def count(request):
    return {"exact": exact_volumes, "fast": fast_volumes}[request.param]


def test_a_ball_half_in_the_bed(count):
    half = 2 / 3 * np.pi * 0.08**3 * 1000
    found = count(layout_of(glass(), flat(0.1), (BALL, (0.43, 0.21, 0.1))))
    assert found.buried_l.value == pytest.approx(half, rel=1e-3)
    assert found.displaced_l.value == pytest.approx(half, rel=1e-3)
    assert found.soil_l.value == pytest.approx(40 - half, rel=1e-5)
    assert found.water_l.value == pytest.approx(108 - half, rel=1e-5)
    assert found.above_water_l.value == 0


def test_a_block_through_bed_water_and_air(count):
    # 0.2 x 0.1 m in a bed of 0.1 m and water to 0.2 m, from 0.07 m to 0.22 m: 0.03, 0.1 and 0.02 m of it.
    found = count(layout_of(glass(water_line_m=0.2), flat(0.1), (BRICK, (0.5, 0.2, 0.07))))
    for name, litres in {
        "buried_l": 0.6,
        "displaced_l": 2.0,
        "above_water_l": 0.4,
        "soil_l": 39.4,
        "water_l": 38.0,
    }.items():
        assert getattr(found, name).value == pytest.approx(litres, rel=1e-9), name


def test_two_balls_that_share_a_lens_count_it_once(count):
    # Radius 0.08 m, 0.1 m apart: two balls less the lens, pi (4 r + d) (2 r - d)^2 / 12.
    lens = np.pi * (4 * 0.08 + 0.1) * (2 * 0.08 - 0.1) ** 2 / 12
    both = 1000 * (2 * 4 / 3 * np.pi * 0.08**3 - lens)
    found = count(layout_of(glass(), flat(0.02), (BALL, (0.4, 0.2, 0.2)), (BALL, (0.5, 0.2, 0.2))))
    assert found.displaced_l.value == pytest.approx(both, rel=1e-3)


def test_the_same_block_three_times_in_one_place_is_one_block(count):
    found = count(layout_of(glass(), flat(0.05), *[(BRICK, (0.5, 0.2, 0.05))] * 3))
    assert found.displaced_l.value == pytest.approx(3.0, rel=1e-9)


def test_what_is_outside_the_glass_is_not_counted(count):
    # A quarter of the block's length is left of the glass, and a third of its height under the bottom.
    found = count(layout_of(glass(), flat(0.0), (BRICK, (0.05, 0.2, -0.05))))
    assert found.displaced_l.value == pytest.approx(3.0 * 0.75 * 2 / 3, rel=1e-9)


@pytest.mark.parametrize("corners", [BOW, CUT, BENT], ids=["bow", "cut", "bent"])
def test_an_outline_that_is_no_box_cuts_pieces_too(corners, count):
    # A slab over the whole box, 0.1 m thick: what is inside is the outline's area.
    slab = body(meshes.block((1.4, 0.8, 0.1)), name="slab")
    found = count(layout_of(glass(corners), flat(0.05, corners), (slab, (0.5, 0.2, 0.05))))
    assert found.displaced_l.value == pytest.approx(100 * area(corners), rel=1e-6)
    assert found.water_l.value == pytest.approx(1000 * area(corners) * (0.37 - 0.05 - 0.1), rel=1e-6)


def test_a_piece_in_a_bed_over_the_water_displaces_none(count):
    found = count(layout_of(glass(water_line_m=0.08), flat(0.1), (BALL, (0.5, 0.2, 0.1))))
    half = 2 / 3 * np.pi * 0.08**3 * 1000
    assert found.displaced_l.value == pytest.approx(0, abs=1e-9)
    assert found.water_l.value == pytest.approx(0, abs=1e-9)
    assert found.above_water_l.value == pytest.approx(half, rel=1e-3)
    assert found.buried_l.value == pytest.approx(half, rel=1e-3)


def test_an_empty_tank_is_all_bed_and_water(count):
    found = count(layout_of(glass(), flat(0.1)))
    assert (found.soil_l.value, found.water_l.value) == (pytest.approx(40), pytest.approx(108))
    assert found.displaced_l.value == found.above_water_l.value == found.buried_l.value == 0


# --- the two ways beside each other


def scattered(random, pieces, corners=BOX):
    placed = []
    for piece in pieces:
        x, y = random.uniform(0.08, 0.92), random.uniform(0.06, 0.34)
        placed.append((piece, (float(x), float(y), float(wavy(x, y) + random.uniform(-0.02, 0.1))), any_turn(random)))
    return layout_of(glass(corners), bed(wavy, corners, cells=(40, 16)), *placed)


def test_both_ways_agree_on_200_random_layouts():
    """To 0.1 % in every figure, pieces through each other, through glass and bottom and out of the water."""
    random = np.random.default_rng(20271127)
    stock = coarse()
    kernel = Kernel()
    for number in range(200):
        chosen = random.choice(len(stock), size=int(random.integers(1, 9)), replace=False)
        layout = scattered(random, [stock[one] for one in chosen], (BOX, BOW, CUT)[number % 3])
        exact, fast = kernel.volumes(layout), fast_volumes(layout)
        assert differing(exact, fast) == (), (number, exact, fast)


@pytest.mark.parametrize("piece", scanned(), ids=lambda piece: piece.name)
def test_both_ways_agree_on_each_scan_alone(piece):
    layout = layout_of(glass(), bed(wavy), (piece, (0.52, 0.19, 0.1), (0.8, 0.36, 0.48, 0.0)))
    exact, fast = exact_volumes(layout), fast_volumes(layout)
    assert exact.displaced_l.value > 0.05
    assert differing(exact, fast) == ()


def test_a_difference_is_told_by_the_name_of_its_figure():
    found = exact_volumes(layout_of(glass(), flat(0.1), (BALL, (0.43, 0.21, 0.1))))
    off = replace(found, displaced_l=replace(found.displaced_l, value=1.01 * found.displaced_l.value))
    assert differing(found, off) == ("displaced_l",)


def test_an_edit_counts_as_the_whole_does():
    random = np.random.default_rng(4)
    layout = scattered(random, coarse())
    columns = Columns.of(layout)
    moved = replace(layout.placement(2), position_m=(0.41, 0.22, 0.1))
    added = Placement(number=99, piece=layout.placements[0].piece, position_m=(0.7, 0.2, 0.1))
    edited = columns.moved(moved).moved(added).without(3)
    assert edited.volumes == fast_volumes(layout.with_placement(moved).with_placement(added).without(3))
    # Nothing in the first count has changed.
    assert columns.volumes == fast_volumes(layout)
    assert edited.placed[1] is columns.placed[1]


def test_height_maps_give_top_and_underside():
    columns = Columns.of(layout_of(glass(), flat(0.0), (BALL, (0.5, 0.2, 0.3))))
    stamp = columns.placed[1].stamp
    x = columns.grid.x_m[stamp.column + np.arange(stamp.shape[1])] - 0.5
    y = columns.grid.y_m[stamp.row + np.arange(stamp.shape[0])] - 0.2
    away = np.hypot(x[None, :], y[:, None])
    well_in = away < 0.07
    rise = np.sqrt(0.08**2 - away[well_in] ** 2)
    assert np.abs(stamp.top_m[well_in] - 0.3 - rise).max() < 5e-4
    assert np.abs(stamp.underside_m[well_in] - 0.3 + rise).max() < 5e-4
    assert np.isnan(stamp.top_m[away > 0.081]).all()


# --- what must hold whatever stands in the tank

TURNS = st.tuples(*[st.floats(-1, 1)] * 4).filter(lambda q: np.linalg.norm(q) > 0.1)


@settings(max_examples=25, deadline=None)
@given(turn=TURNS, which=st.integers(0, 13))
def test_turning_a_piece_changes_no_volume(turn, which):
    piece = coarse()[which]
    tank = glass(((0, 0), (2, 0), (2, 2), (0, 2)), height_m=2, water_line_m=2)
    for count in (exact_volumes, fast_volumes):
        found = count(layout_of(tank, flat(0.0, tank.corners_m), (piece, (1.0, 1.0, 1.0), turn)))
        assert found.displaced_l.value == pytest.approx(piece.volume_l, rel=1e-9)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), line=st.floats(0.05, 0.4), corners=st.sampled_from([BOX, BOW, CUT, BENT]))
def test_water_stone_and_soil_fill_the_tank(seed, line, corners):
    """Below the highest of rim and pieces: what is in the bed, in the water and over it is all there is inside."""
    random = np.random.default_rng(seed)
    layout = replace(scattered(random, coarse()[:4], corners), glass=glass(corners, water_line_m=line))
    bare = bed_litres(layout.glass, layout.bed)
    for count in (exact_volumes, fast_volumes):
        found = count(layout)
        inside = found.soil_l.value + found.buried_l.value - bare.above_water_l + found.displaced_l.value
        assert inside + found.water_l.value == pytest.approx(bare.tank_l, rel=1e-9)
    # And the pieces are united whole: the same however high the water stands.
    deep = exact_volumes(replace(layout, glass=glass(corners, water_line_m=0.39)))
    now = exact_volumes(layout)
    assert now.displaced_l.value + now.above_water_l.value == pytest.approx(
        deep.displaced_l.value + deep.above_water_l.value, rel=1e-6
    )
    assert now.buried_l.value == pytest.approx(deep.buried_l.value, rel=1e-6)


def test_mirroring_a_layout_changes_no_volume():
    turn = Rotation.from_quat((0.3, 0.1, 0.5, 0.8))
    vertices, faces = meshes.block((0.2, 0.1, 0.15))
    skewed = turn.apply(vertices)
    one = body((skewed, faces), name="one")
    other = body((skewed * (-1, 1, 1), faces[:, ::-1]), name="other")
    here = exact_volumes(layout_of(glass(), bed(lambda x, y: 0.03 + 0.1 * x), (one, (0.3, 0.2, 0.1))))
    there = exact_volumes(layout_of(glass(), bed(lambda x, y: 0.13 - 0.1 * x), (other, (0.7, 0.2, 0.1))))
    for name in ("displaced_l", "soil_l", "water_l", "buried_l"):
        assert getattr(here, name).value == pytest.approx(getattr(there, name).value, rel=1e-9)


def test_the_doubt_of_a_scan_is_in_every_figure_it_touches():
    leaky = replace(BALL, volume_error_l=0.2)
    found = exact_volumes(layout_of(glass(), flat(0.0), (leaky, (0.4, 0.2, 0.2)), (leaky, (0.7, 0.2, 0.2))))
    assert found.displaced_l.standard_error == pytest.approx(0.2 * np.sqrt(2))
    assert found.water_l.standard_error == pytest.approx(0.2 * np.sqrt(2))
    assert found.buried_l.standard_error == found.above_water_l.standard_error == 0
