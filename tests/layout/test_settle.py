"""Physics with figures from any book: friction, sliding, tipping, overhang, buoyancy; and what a hand would see."""

from __future__ import annotations

from dataclasses import replace
from math import atan, cos, degrees, pi, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import BadInput, OutOfRange
from slackwater.job.catalog import load_catalog
from slackwater.layout import settle
from slackwater.layout.afloat import displaced_l, floating
from slackwater.layout.ground import bed_grid
from slackwater.layout.pads import pad_findings, pane_loads
from slackwater.layout.place import bedded
from slackwater.layout.scene import Joint
from slackwater.layout.settle import settled, steadiness_findings, tilt_report
from slackwater.wording.render import finding_sentence
from tests.layout.shapes import ball, bed, box, glass, layout
from tests.layout.test_ground import asked

REPOSE = degrees(atan(0.6))  # layout.csv 011: 30.963757


def tilted(of, deg, *, seconds, step_s=0.002, towards=0.0):
    """Turn and shift of each piece after that time at that tilt."""
    world = settle._World(of, step_s=step_s)
    world.run(50, least=50)
    before = world.pose()
    world.tilt(deg=deg, towards_deg=towards)
    world.run(round(seconds / step_s), least=10**6)
    return world.moved(before)


def on_soil(*placed, repose=REPOSE, burial=0.0, size=(3.0, 1.0, 2.0), **more):
    over = glass(*size, water=1.9 if size[2] > 1 else 0.36)
    return bedded(layout(over, bed(over, depth=0.05, repose=repose), *placed, **more), burial)


# A block on a slope of friction 0.6 rests below 30.96 degrees, and above slides by half a t squared with
# a = g (sin - 0.6 cos): 67.4 mm in 1.5 s at 0.3 degrees over, 449.2 mm at 2 degrees over (layout.csv 012).
def test_a_block_rests_below_its_angle_of_friction_and_slides_above_as_far_as_it_should():
    block = on_soil((box(0.1, 0.1, 0.05), (0.4, 0.5, 0.5)))
    turn, shift = tilted(block, REPOSE - 0.3, seconds=1.5)
    assert shift[0] < 0.0005 and turn[0] < 0.1
    for over, exact in ((0.3, 0.0674), (2.0, 0.44916939)):
        slope = radians(REPOSE + over)
        assert 0.5 * 9.81 * (sin(slope) - 0.6 * cos(slope)) * 1.5**2 == pytest.approx(exact, rel=1e-3)
        assert tilted(block, REPOSE + over, seconds=1.5)[1][0] == pytest.approx(exact, rel=0.03)


def test_a_slope_of_soil_is_a_slope_and_not_stairs():
    """The same block on a bed that is itself inclined, 29 and 33 degrees, in a level tank: the cup of a hand is not made."""
    for slope, slides in ((29.0, False), (33.0, True)):
        over = glass(0.5, 0.4, 2.0)
        rise = 0.4 * np.tan(radians(slope))
        form = {"form": "edges", "front": "5 cm", "rear": f"{100 * (0.05 + rise):.4f} cm"}
        ground = replace(bed_grid(asked(form), over, load_catalog()), repose_deg=REPOSE)
        lean = radians(slope) / 2
        placed = layout(over, ground, (box(0.1, 0.1, 0.04), (0.25, 0.25, 1.0), (cos(lean), sin(lean), 0.0, 0.0)))
        result = settled(bedded(placed, 0.0), steps=300)
        assert (result.pieces[0].shift_m > 0.01) == slides, (slope, result.pieces)


# layout.csv 013: a block 0.1 wide and 0.3 high tips over its lower edge at 18.43 degrees where it cannot slip.
def test_an_upright_block_tips_where_its_centre_passes_its_edge():
    block = on_soil((box(0.1, 0.1, 0.3), (1.0, 0.5, 0.5)), repose=60.0)
    assert tilted(block, 18.434949 - 0.7, seconds=1.2)[0][0] < 2
    assert tilted(block, 18.434949 + 0.7, seconds=1.2)[0][0] > 20


# layout.csv 014, upper pair: a block on an equal one falls when it reaches out by more than half its length.
@pytest.mark.parametrize("step_s", [0.002, 0.004])
@pytest.mark.parametrize(("share", "stands"), [(0.48, True), (0.51, False)])
def test_a_block_overhangs_by_less_than_half_its_length(share, stands, step_s):
    pair = on_soil((box(0.2, 0.1, 0.06), (1.0, 0.5, 0.5)), (box(0.2, 0.1, 0.06), (1.0 + 0.2 * share, 0.5, 0.5)))
    result = settled(pair, steps=round(1 / step_s), step_s=step_s)
    assert result.accepted == stands
    if not stands:
        assert result.pieces[1].turn_deg > 10


# ---------------------------------------------------------------- letting go


def some_stones():
    return on_soil(
        (box(0.2, 0.1, 0.1), (0.5, 0.2, 0.5)),
        (ball(0.05), (0.25, 0.2, 0.5)),
        (box(0.1, 0.1, 0.05, name="top"), (0.52, 0.2, 0.5)),
        burial=0.12,
        size=(1.0, 0.4, 0.4),
    )


def test_bedded_stones_stay_as_they_are_let_go_and_stay_again():
    first = settled(some_stones())
    assert first.accepted and [piece.number for piece in first.pieces] == [1, 2, 3]
    again = settled(first.layout)
    assert again.accepted
    for one, other in zip(first.layout.placements, again.layout.placements, strict=True):
        assert np.allclose(one.position_m, other.position_m, atol=2e-4)
        assert abs(float(np.dot(one.turn, other.turn))) > cos(radians(0.1) / 2)


def test_the_same_layout_gives_the_same_answer():
    assert settled(some_stones()).pieces == settled(some_stones()).pieces


def test_the_bed_carries_what_stands_on_a_stone_too():
    pieces = settled(some_stones()).pieces
    # 0.2 x 0.1 x 0.1 and 0.1 x 0.1 x 0.05 m at 2650 kg/m3: 5.3 kg and 1.325 kg.
    assert pieces[0].load_n == pytest.approx((5.3 + 1.325) * 9.81, rel=1e-3)
    assert pieces[2].load_n == pytest.approx(0.0, abs=0.01)


def test_a_stone_let_go_on_its_point_is_not_accepted_and_that_is_told():
    lean = radians(35) / 2
    leaning = on_soil(
        (box(0.05, 0.05, 0.3), (0.5, 0.2, 0.3), (cos(lean), 0.0, sin(lean), 0.0)), burial=0.05, size=(1.0, 0.4, 0.4)
    )
    result = settled(leaning)
    assert not result.accepted and result.pieces[0].turn_deg > 20
    told = steadiness_findings(leaning, result, ())
    assert [finding.id for finding in told] == ["layout.moved_when_let_go"]
    assert "Box (number 1) turned by" in finding_sentence(told[0])


def test_a_ball_pressed_into_a_slope_stays_and_one_laid_on_it_rolls():
    over = glass(1.0, 0.4, 0.6)
    ground = bed_grid(asked({"form": "edges", "front": "4 cm", "rear": "14 cm"}), over, load_catalog())
    placed = layout(over, ground, (ball(0.06, points=300), (0.5, 0.2, 0.4)))
    assert settled(bedded(placed, 0.15)).accepted
    assert settled(bedded(placed, 0.0)).pieces[0].shift_m > 0.02


@pytest.mark.parametrize("count", [0, 1, 40])
def test_no_stone_one_and_forty(count):
    over = glass(3.0, 0.6)
    stone = ball(0.05, points=100)
    placed = layout(
        over, bed(over), *((stone, (0.15 + 0.14 * (k % 20), 0.15 + 0.3 * (k // 20), 0.3)) for k in range(count))
    )
    result = settled(bedded(placed), steps=100)
    assert len(result.pieces) == count and result.accepted
    if not count:
        assert tilt_report(placed) == () and result.layout is not None


def test_a_tank_of_20_cm_holds_its_stone_and_the_glass_stops_it():
    over = glass(0.2, 0.2, 0.2, water=0.18)
    stone = layout(over, bed(over, depth=0.03), (box(0.1, 0.1, 0.06), (0.1, 0.1, 0.2)))
    assert settled(bedded(stone)).accepted
    through = layout(over, bed(over, depth=0.03), (box(0.1, 0.1, 0.06), (0.18, 0.1, 0.2)))
    result = settled(bedded(through), steps=300)
    # Its middle is pushed back to at least half its length from the pane.
    assert not result.accepted and result.layout.placements[0].position_m[0] < 0.151


def test_a_weightless_piece_and_a_step_of_nothing_are_refused():
    of = some_stones()
    empty = replace(box(0.1, 0.1, 0.1), volume_l=0.0, key="empty", name="shell")
    with pytest.raises(BadInput, match="shell weighs nothing"):
        settled(layout(of.glass, of.bed, (empty, (0.5, 0.2, 0.2))))
    with pytest.raises(OutOfRange):
        settled(of, steps=0)
    with pytest.raises(OutOfRange):
        settled(of, step_s=0.1)


# ---------------------------------------------------------------- tilting


def test_the_least_tilt_of_each_piece_is_the_first_of_those_tried_that_moves_it():
    """Upright blocks tip at atan(width / height) towards their faces: 8.5 degrees and more than 15."""
    of = on_soil(
        (box(0.03, 0.1, 0.2, name="thin"), (0.3, 0.2, 0.3)),
        (box(0.1, 0.1, 0.1, name="cube"), (0.6, 0.2, 0.3)),
        size=(1.0, 0.4, 0.4),
        repose=40.0,
    )
    heard = []
    thin, cube = tilt_report(of, on_progress=heard.append)
    assert (thin.dry_deg, thin.water_deg, thin.steady) == (10.0, 10.0, False)
    assert (cube.dry_deg, cube.water_deg, cube.steady) == (None, None, True)
    assert thin.steps_agree and cube.steps_agree
    assert heard == sorted(heard) and heard[-1] == 1.0 and len(heard) > 8
    told = steadiness_findings(of, None, (thin, cube))
    assert [(finding.id, finding.about) for finding in told] == [("layout.not_steady", "1")]
    assert "tilted by 10 degrees" in finding_sentence(told[0])


def test_who_listens_to_the_progress_can_stop_it():
    class Enough(Exception):
        pass

    def stop(share):
        raise Enough

    with pytest.raises(Enough):
        tilt_report(some_stones(), on_progress=stop)


# ---------------------------------------------------------------- water


@given(level=st.floats(0.1, 0.5), turn=st.floats(0, 3))
def test_a_turned_ball_displaces_the_cap_formula(level, turn):
    of = layout(glass(), bed(glass()), (ball(0.1, points=800), (0.5, 0.2, 0.3), (cos(turn), sin(turn), 0.0, 0.0)))
    piece, placement = next(iter(of.pieces.values())), of.placements[0]
    high = min(max(level - 0.2, 0.0), 0.2)
    cap = 1000 * pi * high**2 * (0.3 - high) / 3
    assert displaced_l(piece, placement, level_m=level) == pytest.approx(cap, rel=0.02, abs=2e-3)
    assert displaced_l(piece, placement, level_m=1.0) == pytest.approx(piece.volume_l, rel=1e-9)


# layout.csv 025: a cube of 12 cm on its corner, immersed by 6 cm: 0.18706 L.
def test_a_cube_on_its_corner_displaces_its_corner():
    lean, axis = atan(2**0.5) / 2, (2**-0.5, -(2**-0.5))
    turn = (cos(lean), axis[0] * sin(lean), axis[1] * sin(lean), 0.0)
    of = layout(glass(), bed(glass()), (box(0.12, 0.12, 0.12), (0.5, 0.2, 0.0), turn))
    piece, placement = next(iter(of.pieces.values())), of.placements[0]
    bottom = -0.06 * 3**0.5
    assert displaced_l(piece, placement, level_m=bottom + 0.06) == pytest.approx(0.18706149, rel=1e-6)


def wood(*, stone_at=0.2, **more):
    """A root of 10 x 10 x 10 cm and 750 kg/m3, lifted by 998 - 750 g = 0.248 kg; a stone of 1.652 kg under water."""
    return on_soil(
        (box(0.1, 0.1, 0.1, kind="wood", density=750.0, name="root"), (0.5, 0.2, 0.2)),
        (box(0.1, 0.1, 0.1, name="stone"), (stone_at, 0.2, 0.3)),
        size=(1.0, 0.4, 0.4),
        **more,
    )


def test_wood_that_floats_is_told_with_the_weight_that_holds_it():
    free = wood()
    assert [(group.numbers, group.lift_kg) for group in floating(free)] == [((1,), pytest.approx(0.248))]
    assert settled(free).accepted
    wet = settled(free, surroundings="water", steps=300)
    assert not wet.pieces[0].accepted and wet.pieces[1].accepted
    told = steadiness_findings(free, None, ())
    assert [(finding.id, finding.about) for finding in told] == [("layout.floats", "1")]
    tilts = tilt_report(free)
    assert tilts[0].floats and tilts[0].water_deg == 0.0 and not tilts[0].steady and tilts[1].steady


@pytest.mark.parametrize(("ballast_kg", "holds"), [(0.24, False), (0.26, True)])
def test_ballast_holds_wood_when_it_weighs_more_than_the_lift(ballast_kg, holds):
    tied = wood(ballast={1: ballast_kg})
    assert (floating(tied) == ()) == holds
    assert settled(tied, surroundings="water", steps=800).pieces[0].accepted == holds


# Tied side by side the lift acts 15 cm from the stone's far edge, 0.037 kg m, and the stone 5 cm, 0.083 kg m: it holds.
# Over a lever of 45 cm the same lift turns the stone over, 0.112 against 0.083 kg m, though it weighs enough.
@pytest.mark.parametrize(("stone_at", "holds"), [(0.4, True), (0.1, False)])
def test_a_joint_to_a_stone_holds_wood_as_far_as_its_lever_allows(stone_at, holds):
    tied = wood(stone_at=stone_at, joints=(Joint(one=1, other=2, at_m=(0.45, 0.2, 0.1)),))
    assert floating(tied) == ()
    assert settled(tied, surroundings="water", steps=600).accepted == holds
    told = steadiness_findings(tied, None, ())
    assert [finding.id for finding in told] == ["layout.glue_joints"]
    assert "1 glued or screwed joints" in finding_sentence(told[0])


def test_a_joint_to_the_bottom_glass_holds_and_one_between_two_floating_pieces_does_not():
    root = box(0.1, 0.1, 0.1, kind="wood", density=750.0)
    placed = (root, (0.3, 0.2, 0.2)), (root, (0.6, 0.2, 0.2))
    glued = on_soil(*placed, size=(1.0, 0.4, 0.4), joints=(Joint(one=1, other=0, at_m=(0.3, 0.2, 0.0)),))
    assert [group.numbers for group in floating(glued)] == [(2,)]
    raft = on_soil(*placed, size=(1.0, 0.4, 0.4), joints=(Joint(one=1, other=2, at_m=(0.45, 0.2, 0.1)),))
    (group,) = floating(raft)
    assert group.numbers == (1, 2) and group.lift_kg == pytest.approx(0.496) and group.glued == 1


# ---------------------------------------------------------------- the bottom glass


# A box of 20 x 10 x 10 cm, 5.3 kg, flat on the bare glass: 52 N on 200 cm2 are 2.6 kN/m2; water of 36 cm presses
# 0.36 x 998 x 9.81 = 3.52 kN/m2. Under 4 cm of soil the patch of 7.98 cm radius grows to 11.98 cm.
def test_the_pressure_on_the_glass_is_told_beside_that_of_the_water():
    bare = layout(glass(), bed(glass(), depth=0.0), (box(0.2, 0.1, 0.1), (0.5, 0.2, 0.05)))
    (load,) = pane_loads(bare, {1: 52.0})
    assert (load.patch_cm2, load.pressure_kn_m2) == (pytest.approx(200, rel=0.04), pytest.approx(2.6, rel=0.04))
    assert load.water_kn_m2 == pytest.approx(3.5245, abs=1e-3) and load.pad
    assert "Lay a pad" in finding_sentence(pad_findings(bare, (load,))[0])
    soil = layout(glass(), bed(glass(), depth=0.06), (box(0.2, 0.1, 0.1), (0.5, 0.2, 0.09)))
    (deep,) = pane_loads(soil, {1: 52.0})
    assert not deep.pad and deep.patch_cm2 == pytest.approx(pi * 11.98**2, rel=0.03)
    assert pane_loads(bare, {1: 0.0}) == () and not pane_loads(bare, {1: 52.0}, pad_m=0.01)[0].pad
    with pytest.raises(OutOfRange):
        pane_loads(bare, {}, pad_m=-1)
