"""The fast tracer against closed forms, against a plain slow one written apart, and against what no tracer may break."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slackwater.errors import BadInput, OutOfRange
from slackwater.light import factors
from slackwater.light.lamps import Emitter
from slackwater.light.photons import Effort, blurred, ready, traced
from slackwater.light.rays import tree_of_layout
from tests.light.scenes import BLACK, QUICK, lamp, tank
from tests.light.slow import followed


@pytest.fixture(scope="module")
def dry():
    return ready(tank(depth=0.05), attenuation_per_m=0, water_index=1.0, albedo=BLACK, levels_m=(0.01,))


def test_a_dry_tank_gives_the_view_factor_of_lamp_and_floor(dry):
    # Howell's catalog C-13; half a million photons have a standard error of 0.0007 of a share of a half.
    found = traced(dry, [lamp()], effort=Effort(samples=1, photons=500_000, noise=0))
    exact = factors.rectangle_to_rectangle((0.15, 0.10, 0.45, 0.20), (0, 0, 0.6, 0.3), distance=0.45)
    assert found.sinks["soil"] == pytest.approx(exact, abs=4 * 0.0007)
    assert found.sinks["surface"] == found.sinks["water"] == found.sinks["out"] == 0


def test_a_dry_tank_gives_the_light_of_a_rectangle_at_each_point(dry):
    found = traced(dry, [lamp()], effort=Effort(samples=64, photons=16, noise=0))
    radiance = 100 / (0.3 * 0.1)
    exact = np.array(
        [
            [
                radiance
                * factors.point_to_rectangle(length=0.3, width=0.1, x=x - 0.15, y=y - 0.10, distance=0.5 - 0.06)
                for x in found.x_m
            ]
            for y in found.y_m
        ]
    )
    # All of it comes straight, so the cells are as good as their paths: 1,024 each, and their middle for the mean of 1 cm.
    assert found.sensed[0] == pytest.approx(exact, rel=0.02)
    assert found.sensed[0].sum() == pytest.approx(exact.sum(), rel=1e-3)


def test_a_narrow_beam_straight_down_meets_surface_and_water_as_fresnel_and_the_exponential_law_say():
    # At 0 degrees the surface mirrors ((n - 1)/(n + 1))^2 = 2.04 %; 0.26 m of water at 1.5 1/m of one band of flat loss.
    deep = tank(1.0, 1.0, 0.4, water=0.36, depth=0.10)
    scene = ready(deep, attenuation_per_m=0.0, albedo=BLACK)
    narrow = lamp(x=0.5, y=0.5, z=0.46, length=0.0, width=0.0, power=2000.0)
    found = traced(scene, [narrow], effort=QUICK)
    assert found.sinks["surface"] == pytest.approx((0.333 / 2.333) ** 2, rel=0.01)
    assert found.sinks["soil"] == pytest.approx(1 - (0.333 / 2.333) ** 2, rel=0.002)
    pure = Emitter(
        x_m=0.5, y_m=0.5, z_m=0.46, length_m=0, width_m=0, flux_umol_s=1, shares=(0, 0, 0, 0, 0, 1), power=2000
    )
    tinted = ready(deep, attenuation_per_m=1.5, albedo=BLACK)
    found = traced(tinted, [pure], effort=QUICK)
    left = np.exp(-tinted.losses[5] * 0.26)
    assert found.sinks["soil"] == pytest.approx((1 - (0.333 / 2.333) ** 2) * left, rel=0.003)


SLOW = {
    "size": (0.6, 0.3),
    "rim": 0.36,
    "line": 0.32,
    "soil": 0.05,
    "lamp": (0.3, 0.15, 0.5, 0.3, 0.1),
    "loss": 0.8,
    "albedo_soil": 0.3,
    "albedo_stone": 0.5,
    "photons": 200_000,
}


def test_two_tracers_written_apart_agree():
    block = (0.10, 0.12, 0.15, 0.22, 0.14, 0.115)  # sunk 1 cm into the bed, 14 cm out of it
    x, y, z = block[3:]
    corner = (x - 0.05, y - 0.06, z - 0.075, x + 0.05, y + 0.06, z + 0.075)
    patch = (0.06, 0.32, 0.08, 0.44, 0.20)
    sinks, counted = followed(**SLOW, blocks=[corner], sensor=patch, seed=7)
    scene = ready(
        tank(stones=[block]),
        attenuation_per_m=0.0,
        albedo={"soil": 0.3, "stone": 0.5, "wood": 0.0},
        levels_m=(0.01,),
    )
    scene.losses[:] = 0.8
    found = traced(scene, [lamp()], effort=Effort(samples=8, photons=400_000, noise=0))
    for name, share in sinks.items():
        error = np.sqrt(max(share, 1e-4) * (1 - share) / SLOW["photons"])
        assert found.sinks[name] == pytest.approx(share, abs=4 * np.sqrt(2) * error), name
    here = np.ix_((found.y_m > 0.08) & (found.y_m < 0.20), (found.x_m > 0.32) & (found.x_m < 0.44))
    light = found.sensed[0][here].mean() * 0.12 * 0.12 / 100
    spread = np.sqrt((found.sensed_error[0][here] ** 2).sum()) / 144 * 0.12 * 0.12 / 100
    assert light == pytest.approx(counted, abs=4 * np.hypot(np.sqrt(counted / SLOW["photons"]), spread))


def test_two_tracers_agree_in_the_shade_behind_a_stone():
    block = (0.08, 0.26, 0.20, 0.20, 0.15, 0.14)
    x, y, z = block[3:]
    corner = (x - 0.04, y - 0.13, z - 0.10, x + 0.04, y + 0.13, z + 0.10)
    far = lamp(x=0.45, length=0.2)
    slow = {**SLOW, "lamp": (0.45, 0.15, 0.5, 0.2, 0.1)}
    _, counted = followed(**slow, blocks=[corner], sensor=(0.06, 0.02, 0.02, 0.14, 0.28), seed=11)
    scene = ready(
        tank(stones=[block]), attenuation_per_m=0.0, albedo={"soil": 0.3, "stone": 0.5, "wood": 0.0}, levels_m=(0.01,)
    )
    scene.losses[:] = 0.8
    found = traced(scene, [far], effort=Effort(samples=8, photons=400_000, noise=0))
    here = np.ix_((found.y_m > 0.02) & (found.y_m < 0.28), (found.x_m > 0.02) & (found.x_m < 0.14))
    light = found.sensed[0][here].mean() * 0.12 * 0.26 / 100
    spread = np.sqrt((found.sensed_error[0][here] ** 2).sum()) / 312 * 0.12 * 0.26 / 100
    assert light == pytest.approx(counted, abs=4 * np.hypot(np.sqrt(counted / SLOW["photons"]), spread))


boxes = st.tuples(
    st.floats(0.04, 0.12),
    st.floats(0.04, 0.12),
    st.floats(0.04, 0.2),
    st.floats(0.08, 0.52),
    st.floats(0.08, 0.22),
    st.floats(0.06, 0.2),
)


@given(
    stones=st.lists(boxes, max_size=2), flux=st.floats(0.1, 1e4), attenuation=st.floats(0, 30), seed=st.integers(0, 99)
)
@settings(max_examples=15, deadline=None)
def test_all_light_goes_somewhere_and_a_map_is_linear_in_the_lamp(stones, flux, attenuation, seed):
    scene = ready(tank(stones=stones), attenuation_per_m=attenuation, samples=1)
    one = traced(scene, [lamp(1.0)], effort=QUICK, seed=seed)
    many = traced(scene, [lamp(flux)], effort=QUICK, seed=seed)
    assert sum(one.sinks.values()) == pytest.approx(1, abs=1e-9)
    # Roulette gives back on average what it takes.
    assert sum(share for name, share in one.sinks.items() if name != "roulette") == pytest.approx(1, abs=0.01)
    assert min(share for name, share in one.sinks.items() if name != "roulette") >= 0
    assert many.sensed == pytest.approx(flux * one.sensed, rel=1e-6, nan_ok=True)


def test_the_tally_of_sinks_sums_to_one():
    # Conservation of energy, to a thousandth, as the tables of the layout's checks ask for.
    scene = ready(tank(stones=[(0.1, 0.1, 0.2, 0.3, 0.15, 0.12)]), attenuation_per_m=0.5)
    found = traced(scene, [lamp()], effort=Effort(samples=1, photons=1_000_000, noise=0))
    assert sum(share for name, share in found.sinks.items() if name != "roulette") == pytest.approx(1, abs=0.001)


@given(place=st.tuples(st.floats(0.1, 0.5), st.floats(0.08, 0.22)), size=st.floats(0.05, 0.12), seed=st.integers(0, 99))
@settings(max_examples=15, deadline=None)
def test_a_black_stone_added_above_never_makes_a_cell_lighter(place, size, seed):
    bare = traced(
        ready(tank(), attenuation_per_m=0.5, albedo=BLACK, levels_m=(0.01,)), [lamp()], effort=QUICK, seed=seed
    )
    hung = tank(stones=[(size, size, 0.05, *place, 0.25)])
    shaded = traced(
        ready(hung, attenuation_per_m=0.5, albedo=BLACK, levels_m=(0.01,)), [lamp()], effort=QUICK, seed=seed
    )
    noise = np.hypot(bare.sensed_error[0], shaded.sensed_error[0])
    assert (shaded.sensed[0] <= bare.sensed[0] + 6 * noise + 1e-9).all()
    assert np.nansum(shaded.sensed[0]) < np.nansum(bare.sensed[0])


def test_a_mirrored_tank_has_the_mirrored_map():
    left = traced(
        ready(tank(stones=[(0.1, 0.1, 0.2, 0.15, 0.15, 0.14)]), attenuation_per_m=0.5), [lamp(x=0.2)], effort=QUICK
    )
    right = traced(
        ready(tank(stones=[(0.1, 0.1, 0.2, 0.45, 0.15, 0.14)]), attenuation_per_m=0.5),
        [lamp(x=0.4)],
        effort=QUICK,
        seed=2,
    )
    noise = np.hypot(left.sensed_error[0], right.sensed_error[0][:, ::-1])
    off = (left.sensed[0] - right.sensed[0][:, ::-1]) / np.where(noise > 0, noise, np.inf)
    # Fifteen degrees of freedom: a few in a thousand cells lie beyond five, none systematically.
    assert abs(np.nanmean(off)) < 0.2
    assert np.nanmedian(abs(off)) < 1


def test_same_seed_same_map_whatever_the_threads():
    scene = ready(tank(), attenuation_per_m=0.5, levels_m=(0.01,))
    one, two = (traced(scene, [lamp()], effort=QUICK, workers=workers) for workers in (1, 3))
    assert (one.sensed == two.sensed).all() and one.sinks == two.sinks


def test_panes_keep_light_in_that_is_lost_without_them():
    # Beyond 61.8 degrees from the vertical nothing is mirrored whole, below it everything in the plane upright to the pane.
    kept = traced(ready(tank(), attenuation_per_m=0.0, albedo=BLACK), [lamp()], effort=QUICK)
    entered = 1 - kept.sinks["missed"] - kept.sinks["surface"]
    assert kept.sinks["glass"] < 0.15 * entered


def test_covered_cells_tell_no_light():
    scene = ready(tank(stones=[(0.1, 0.1, 0.2, 0.3, 0.15, 0.14)]), attenuation_per_m=0.5, levels_m=(0.01,))
    found = traced(scene, [lamp()], effort=QUICK)
    inner = np.ix_(abs(found.y_m - 0.15) < 0.04, abs(found.x_m - 0.3) < 0.04)
    assert np.isnan(found.sensed[0][inner]).all()
    assert np.isfinite(found.sensed[0]).mean() == pytest.approx(1 - 0.01 / 0.18, abs=0.02)


def test_two_lamps_give_what_each_gives():
    scene = ready(tank(), attenuation_per_m=0.5, levels_m=(0.01,))
    lamps = [lamp(60, x=0.15), lamp(30, x=0.45)]
    both = traced(scene, lamps, effort=Effort(samples=8, photons=200_000, noise=0))
    each = [traced(scene, [one], effort=Effort(samples=8, photons=200_000, noise=0), seed=5) for one in lamps]
    total = sum(np.nanmean(one.sensed[0]) for one in each)
    assert np.nanmean(both.sensed[0]) == pytest.approx(total, rel=0.01)


def test_a_lamp_of_nothing_gives_a_map_of_noughts():
    found = traced(ready(tank(), attenuation_per_m=0.5), [lamp(0.0)], effort=QUICK)
    assert (found.sensed == 0).all() and found.photons == 0 and found.noise == 0


def test_no_lamp_is_refused():
    with pytest.raises(BadInput, match=r"light\.lamps"):
        traced(ready(tank(), attenuation_per_m=0.5), [], effort=QUICK)


def test_a_lamp_that_gives_less_than_nothing_is_refused():
    with pytest.raises(OutOfRange, match="flux_umol_s"):
        lamp(-1.0)


def test_stopping_gives_the_best_so_far():
    scene = ready(tank(), attenuation_per_m=0.5, levels_m=(0.01,))
    found = traced(scene, [lamp()], effort=Effort(samples=1, photons=50_000_000, noise=1e-6), going=lambda: False)
    assert 0 < found.photons < 1_000_000 and np.nanmin(found.sensed) > 0


def test_the_nearest_hit_is_the_one_that_trying_all_finds():
    layout = tank(stones=[(0.1, 0.1, 0.2, 0.2, 0.15, 0.14), (0.2, 0.05, 0.1, 0.4, 0.1, 0.12)])
    tree = tree_of_layout(layout)
    random = np.random.default_rng(3)
    corner, edge, other = tree.triangles[:, :3], tree.triangles[:, 3:6], tree.triangles[:, 6:]
    for _ in range(300):
        start = random.random(3) * [0.6, 0.3, 0.5]
        direction = random.normal(size=3)
        direction /= np.linalg.norm(direction)
        # The plane of each triangle, and whether the point in it lies on the inner side of each edge.
        normal = np.cross(edge, other)
        with np.errstate(divide="ignore", invalid="ignore"):
            t = ((corner - start) * normal).sum(axis=1) / (normal @ direction)
        at = start + t[:, None] * direction
        sides = [
            (np.cross(b - a, at - a) * normal).sum(axis=1) >= 0
            for a, b in ((corner, corner + edge), (corner + edge, corner + other), (corner + other, corner))
        ]
        ok = (t > 1e-7) & np.logical_and.reduce(sides)
        expected = t[ok].min() if ok.any() else np.inf
        assert tree.nearest(start, direction)[0] == pytest.approx(expected, abs=1e-7)


def test_evening_out_keeps_an_even_grid_and_tells_nothing_of_covered_cells():
    grid = np.full((20, 30), 7.0)
    grid[5:8, 5:8] = np.nan
    found = blurred(grid, np.ones_like(grid), cells=3)
    assert np.isnan(found[5:8, 5:8]).all()
    assert found[np.isfinite(found)] == pytest.approx(7.0)
