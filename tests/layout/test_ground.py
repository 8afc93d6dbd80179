"""The bed as a grid: litres by its triangles, rest at the angle of repose, retainers, stones, weeks."""

from __future__ import annotations

from dataclasses import replace
from math import pi, radians, tan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import BadInput, OutOfRange
from slackwater.job.catalog import load_catalog
from slackwater.job.model import Bed as AskedBed
from slackwater.layout.ground import (
    Stroke,
    bed_grid,
    height_m,
    material_litres,
    node_areas_m2,
    relaxed,
    settled_weeks,
    stroked,
)
from slackwater.layout.place import held_by
from slackwater.layout.scene import Bay, Glass, Retainer
from tests.layout.shapes import ball, bed, box, glass, layout

SOIL = {"material": "active_soil_normal", "bag": "9 L"}


def asked(shape, **more):
    return AskedBed.model_validate({"shape": shape, "soil": SOIL, **more})


# layout.csv 006 and 026: a wedge of 4 to 14 cm over 1.0 x 0.4 m is 36 L, a gable of 3 to 15 cm over 1.2 x 0.5 m is 54 L.
@pytest.mark.parametrize(
    ("shape", "size", "litres"),
    [
        ({"form": "edges", "front": "4 cm", "rear": "14 cm"}, (1.0, 0.4), 36.0),
        ({"form": "gable", "edge": "3 cm", "top": "15 cm"}, (1.2, 0.5), 54.0),
        ({"form": "ridge", "edge": "3 cm", "top": "15 cm"}, (1.2, 0.5), 54.0),
    ],
)
def test_a_grid_holds_the_litres_of_its_form(shape, size, litres):
    over = glass(*size)
    ground = bed_grid(asked(shape), over, load_catalog())
    assert material_litres(ground, over) == {"active_soil_normal": pytest.approx(litres, rel=1e-9)}
    assert ground.repose_deg == load_catalog().materials["active_soil_normal"].repose_angle_deg_wet


def test_the_last_node_lies_on_the_far_glass():
    ground = bed_grid(asked({"form": "edges", "front": "4 cm", "rear": "4 cm"}), glass(0.997, 0.402), load_catalog())
    assert (ground.x_m[0], ground.x_m[-1], ground.y_m[-1]) == (0.0, 0.997, 0.402)
    assert ground.cell_m == pytest.approx((0.005, 0.005), rel=0.01)


# A plane from 4 cm to 14 cm over 0.4 m has risen by 4 cm at 0.16 m and by 8 cm at 0.32 m.
def test_retainers_of_a_job_stand_where_the_bed_has_risen_by_another_4_cm():
    over = glass(1.0, 0.4)
    sloped = {"form": "edges", "front": "4 cm", "rear": "14 cm"}
    assert bed_grid(asked(sloped), over, load_catalog()).retainers == ()
    strips = bed_grid(asked(sloped, retainers=True), over, load_catalog()).retainers
    assert [strip.top_m for strip in strips] == pytest.approx([0.08, 0.12])
    for strip, away in zip(strips, (0.16, 0.32), strict=True):
        assert sorted(x for x, _ in strip.line_m) == pytest.approx([0.0, 1.0])
        assert [y for _, y in strip.line_m] == pytest.approx([away, away], abs=1e-6)


# A mound from 4 cm at the glass to 12 cm over a flat of 20 x 20 cm: the ring at 8 cm lies half way, 40 x 40 cm.
def test_a_retainer_round_a_mound_is_closed():
    over = glass(0.6, 0.6)
    mound = {"form": "mound", "edge": "4 cm", "top": "12 cm", "flat_length": "20 cm", "flat_width": "20 cm"}
    (strip,) = bed_grid(asked(mound, retainers=True), over, load_catalog()).retainers
    assert strip.line_m[0] == strip.line_m[-1] and strip.top_m == pytest.approx(0.08)
    around = sum(np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in zip(strip.line_m, strip.line_m[1:], strict=False))
    assert around == pytest.approx(1.6, rel=0.01)


# 60 % of 1.0 x 0.4 m to 2 cm are 4.8 L, of 8 cm over the whole, 32 L.
def test_a_cap_takes_its_part_of_the_soil():
    over = glass(1.0, 0.4)
    layer = {"layer": {"material": "active_soil_fine", "bag": "9 L"}, "depth": "2 cm", "share": 0.6}
    level = {"form": "edges", "front": "8 cm", "rear": "8 cm"}
    ground = bed_grid(asked(level, top_layer=layer), over, load_catalog())
    assert material_litres(ground, over) == {
        "active_soil_fine": pytest.approx(4.8),
        "active_soil_normal": pytest.approx(27.2),
    }


def test_base_layer_and_bays_take_their_part_of_the_bed():
    over = glass(1.0, 0.4)
    layers = {
        "base": {"material": "base_lava", "bag": "10 L"},
        "base_depth": "3 cm",
        "bays": [
            {"layer": {"material": "quartz_sand_fine", "bag": "5 L"}, "length": "10 cm", "width": "10 cm", "count": 2}
        ],
    }
    ground = bed_grid(asked({"form": "edges", "front": "8 cm", "rear": "8 cm"}, **layers), over, load_catalog())
    # Nothing of a level bed is deeper than its lowest glass, which the base keeps free.
    assert material_litres(ground, over) == {
        "quartz_sand_fine": pytest.approx(1.6),
        "active_soil_normal": pytest.approx(32 - 1.6),
    }
    # One bay at each public pane, in its middle.
    assert [bay.outline_m[0] for bay in ground.bays] == [pytest.approx((0.45, 0.0)), pytest.approx((0.45, 0.3))]
    # 3 to 13 cm: the base grows from 0 to 3 cm over the first 0.3 of the width, and is 3 cm thick over the other 0.7:
    # 0.4 m2 x (0.3 x 1.5 + 0.7 x 3) cm = 10.2 L.
    slope = bed_grid(
        asked({"form": "edges", "front": "3 cm", "rear": "13 cm"}, **(layers | {"bays": []})), over, load_catalog()
    )
    assert material_litres(slope, over)["base_lava"] == pytest.approx(10.2, rel=1e-3)
    assert (slope.base_m <= slope.top_m).all()


def test_a_bed_without_form_or_soil_is_refused():
    with pytest.raises(BadInput, match=r"bed\.shape"):
        bed_grid(AskedBed(), glass(), load_catalog())


# A triangle of 0.3 by 0.4 m and an L of 0.5 m less a square of 0.2 m, under a plane through known heights: the volume
# is area times the height at the centroid.
@pytest.mark.parametrize(
    ("outline", "area", "centroid"),
    [
        (((0.1, 0.05), (0.4, 0.05), (0.1, 0.45)), 0.06, (0.2, 0.05 + 0.4 / 3)),
        (
            ((0.0, 0.0), (0.5, 0.0), (0.5, 0.3), (0.3, 0.3), (0.3, 0.5), (0.0, 0.5)),
            0.21,
            ((0.25 * 0.25 - 0.4 * 0.04) / 0.21, (0.25 * 0.25 - 0.4 * 0.04) / 0.21),
        ),
    ],
)
def test_litres_within_an_outline_are_exact_for_a_plane(outline, area, centroid):
    ground = bed(glass(0.503, 0.507), cell=0.013)
    x, y = np.meshgrid(ground.x_m, ground.y_m)
    plane = 0.02 + 0.11 * x + 0.07 * y
    areas = node_areas_m2(ground, outline)
    assert areas.sum() == pytest.approx(area, rel=1e-12)
    height = 0.02 + 0.11 * centroid[0] + 0.07 * centroid[1]
    assert (areas * plane).sum() == pytest.approx(area * height, rel=1e-12)


def test_heights_between_nodes_follow_the_rule_of_triangles():
    ground = bed(glass(0.1, 0.1), cell=0.05)
    top = np.zeros((3, 3))
    top[1, 1] = 1.0  # node of greatest x and y of the first cell: both its triangles rise to it
    ground = replace(ground, top_m=top)
    assert height_m(ground, np.array([0.04, 0.01]), np.array([0.01, 0.04])) == pytest.approx([0.2, 0.2])
    # The next cell is cut from (0.05, 0) to (0.1, 0.05): its lower right half stays level.
    assert height_m(ground, np.array([0.09, 0.06]), np.array([0.01, 0.04])) == pytest.approx([0.0, 0.6])


# ---------------------------------------------------------------- repose


def heap(ground, litres, radius):
    """A cylinder of soil in the middle of an empty bottom, of as many litres by the bed's own triangles."""
    x, y = np.meshgrid(ground.x_m, ground.y_m)
    within = np.hypot(x - ground.x_m.mean(), y - ground.y_m.mean()) <= radius
    top = np.where(within, litres / 1000 / node_areas_m2(ground)[within].sum(), 0.0)
    return replace(ground, top_m=top)


# layout.csv 010: 2 L at 33 degrees stand 93.04 mm high as a cone. Eight neighbours err by some per cent.
def test_a_heap_comes_to_rest_as_the_cone_of_its_slope():
    ground = heap(bed(glass(0.6, 0.6), depth=0.0, repose=33.0), 2.0, 0.05)
    rest = relaxed(ground)
    assert 1000 * rest.top_m.max() == pytest.approx(93.041928, rel=0.03)
    areas = node_areas_m2(ground)
    assert (areas * rest.top_m).sum() == pytest.approx(0.002, rel=1e-12)
    radius = (3 * 0.002 / (pi * tan(radians(33)))) ** (1 / 3)
    x, y = np.meshgrid(ground.x_m, ground.y_m)
    assert rest.top_m[np.hypot(x - 0.3, y - 0.3) > 1.1 * radius].max() == 0.0
    assert (relaxed(rest).top_m == rest.top_m).all()


@given(seed=st.integers(0, 2**32 - 1), repose=st.floats(20, 45))
def test_relaxing_keeps_the_volume_and_leaves_nothing_too_steep(seed, repose):
    rng = np.random.default_rng(seed)
    ground = bed(glass(0.3, 0.2), repose=repose, cell=0.02)
    top = rng.uniform(0, 0.15, ground.top_m.shape)
    ground = replace(ground, top_m=top, base_m=np.minimum(top, 0.02))
    held = rng.uniform(size=top.shape) < 0.1
    rest = relaxed(ground, held)
    areas = node_areas_m2(ground)
    assert (areas * rest.top_m).sum() == pytest.approx((areas * top).sum(), rel=1e-12)
    assert (rest.top_m >= rest.base_m - 1e-12).all()
    assert (rest.top_m[held] == top[held]).all()
    slope = tan(radians(repose))
    free = ~(held[:, 1:] | held[:, :-1])
    soil = rest.top_m - rest.base_m > 1e-6
    higher_has_soil = np.where(np.diff(rest.top_m, axis=1) > 0, soil[:, 1:], soil[:, :-1])
    rise = np.abs(np.diff(rest.top_m, axis=1)) - slope * ground.cell_m[0]
    assert rise[free & higher_has_soil].max(initial=0.0) <= 1e-6


def step_bed(*retainers):
    ground = bed(glass(0.4, 0.2), repose=30.0, cell=0.01)
    x, _ = np.meshgrid(ground.x_m, ground.y_m)
    return replace(ground, top_m=np.where(x < 0.2 - 1e-9, 0.10, 0.02), retainers=retainers)


def test_a_retainer_holds_what_is_below_its_top():
    strip = ((0.195, -0.01), (0.195, 0.21))
    held = relaxed(step_bed(Retainer(line_m=strip, top_m=0.10)))
    assert (held.top_m == step_bed().top_m).all()
    low = relaxed(step_bed(Retainer(line_m=strip, top_m=0.06)))
    x, _ = np.meshgrid(low.x_m, low.y_m)
    # Behind the strip the soil stands at its top and rises from there at 30 degrees; nothing lower has passed.
    assert low.top_m[x < 0.195].min() == pytest.approx(0.06 + 0.01 * tan(radians(30)), abs=2e-4)
    assert (low.top_m[x < 0.195] <= 0.10 + 1e-12).all()
    free = relaxed(step_bed())
    assert free.top_m[x < 0.195].min() < 0.06


def test_a_row_of_stones_holds_the_slope_behind_it():
    over = glass(0.4, 0.2)
    ground = step_bed()
    wall = box(0.03, 0.2, 0.2)
    standing = layout(over, ground, (wall, (0.2, 0.1, 0.1)))
    held = held_by(standing)
    assert held[:, 19:22].all() and not held[:, :18].any()
    assert (relaxed(ground, held).top_m[:, :19] == 0.10).all()


# ---------------------------------------------------------------- strokes, weeks


def test_strokes_shape_the_bed_where_they_are_made():
    ground = bed(glass(1.0, 0.4), depth=0.05)
    mound = stroked(ground, Stroke(act="mound", line_m=((0.5, 0.2),), radius_m=0.1, height_m=0.12))
    assert height_m(mound, np.array([0.5, 0.55, 0.7]), np.array([0.2, 0.2, 0.2])) == pytest.approx([0.12, 0.06, 0.05])
    ridge = stroked(ground, Stroke(act="ridge", line_m=((0.2, 0.2), (0.8, 0.2)), radius_m=0.2, height_m=0.1))
    assert height_m(ridge, np.array([0.3, 0.7]), np.array([0.2, 0.25])) == pytest.approx([0.1, 0.075])
    gable = stroked(ground, Stroke(act="gable", line_m=((0.5, 0.0), (0.5, 0.4)), height_m=0.15, edge_m=0.03))
    assert material_litres(gable, glass(1.0, 0.4))["active_soil_normal"] == pytest.approx(36.0)  # mean of 3 and 15 cm
    raised = stroked(ground, Stroke(act="raise", line_m=((0.5, 0.2),), radius_m=0.1, height_m=0.02))
    lowered = stroked(raised, Stroke(act="lower", line_m=((0.5, 0.2),), radius_m=0.1, height_m=0.02))
    assert raised.top_m.max() == pytest.approx(0.07) and lowered.top_m == pytest.approx(ground.top_m)
    smooth = stroked(mound, Stroke(act="smooth", line_m=((0.5, 0.2),), radius_m=0.1))
    assert 0.1 < smooth.top_m.max() < 0.12 and (smooth.top_m[:, :60] == mound.top_m[:, :60]).all()


def test_a_stroke_never_digs_into_the_base_or_through_the_glass():
    ground = bed(glass(), depth=0.05)
    ground = replace(ground, base_m=np.full_like(ground.top_m, 0.03))
    dug = stroked(ground, Stroke(act="lower", line_m=((0.5, 0.2),), radius_m=0.1, height_m=1.0))
    assert dug.top_m.min() == pytest.approx(0.03)


@pytest.mark.parametrize(
    ("stroke", "error"),
    [
        (Stroke(act="raise", line_m=()), BadInput),
        (Stroke(act="gable", line_m=((0.5, 0.2),)), BadInput),
        (Stroke(act="raise", line_m=((0.5, 0.2),), radius_m=0.0), OutOfRange),
        (Stroke(act="raise", line_m=((0.5, 0.2),), height_m=4.0), OutOfRange),
    ],
)
def test_a_stroke_of_nothing_is_refused(stroke, error):
    with pytest.raises(error):
        stroked(bed(glass()), stroke)


# The catalog lets the soil sink by 8 % and fine sand by 2 % in the first month: 10 cm become 9.2 and 9.8 cm.
def test_the_bed_settles_over_the_first_month_and_then_stays():
    ground = bed(glass(), depth=0.10)
    bay = ((0.0, 0.0), (0.1, 0.0), (0.1, 0.1), (0.0, 0.1))
    ground = replace(ground, bays=(Bay(outline_m=bay, material="quartz_sand_fine"),))
    later = [settled_weeks(ground, load_catalog(), weeks=weeks) for weeks in (0, 365.25 / 84 / 2, 5, 50)]
    points = np.array([0.5, 0.05]), np.array([0.2, 0.05])
    assert [tuple(np.round(height_m(each, *points), 9)) for each in later] == [
        (0.1, 0.1), (0.096, 0.099), (0.092, 0.098), (0.092, 0.098)
    ]  # fmt: skip
    with pytest.raises(OutOfRange):
        settled_weeks(ground, load_catalog(), weeks=-1)


@pytest.mark.parametrize("length", [0.2, 3.0])
def test_tanks_of_20_cm_and_of_3_m_have_a_bed_that_rests(length):
    over = Glass(
        corners_m=((0, 0), (length, 0), (length, 0.2), (0, 0.2)),
        height_m=0.25,
        water_line_m=0.22,
        wall_m=0.005,
        public_sides=("front",),
    )
    ground = bed_grid(asked({"form": "gable", "edge": "2 cm", "top": "12 cm"}), over, load_catalog())
    rest = relaxed(ground, outline_m=over.corners_m)
    assert material_litres(rest, over)["active_soil_normal"] == pytest.approx(length * 0.2 * 70, rel=1e-9)


def test_a_stone_above_the_bed_holds_nothing():
    over = glass()
    assert not held_by(layout(over, bed(over), (ball(0.05), (0.5, 0.2, 0.2)))).any()
