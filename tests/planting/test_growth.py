"""Growth against the exact solution, hand reckoning, and what must hold of any planting."""

from __future__ import annotations

from itertools import pairwise
from math import exp, log, tanh

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from slackwater.errors import OutOfRange
from slackwater.planting.growth import WEEKS, Stand, co2_share, dry_mass_g_m2, growth_of, light_share


def test_far_below_its_limit_a_stand_doubles_in_ln_2_over_its_rate():
    grown = dry_mass_g_m2(day=20, start_g_m2=1e-6, rate_per_d=log(2) / 20, lag_d=0, most_g_m2=140)
    assert grown == pytest.approx(2e-6, rel=1e-6)


def test_dry_mass_agrees_with_its_equation_integrated_by_another_method():
    solved = solve_ivp(lambda _, b: 0.06 * b * (1 - b / 140), (0, 70), [20.0], rtol=1e-10, atol=1e-10)
    assert dry_mass_g_m2(day=77, start_g_m2=20, rate_per_d=0.06, lag_d=7, most_g_m2=140) == pytest.approx(
        solved.y[0, -1], rel=1e-6
    )


def test_nothing_grows_before_the_lag_is_over():
    assert dry_mass_g_m2(day=6.9, start_g_m2=20, rate_per_d=0.06, lag_d=7, most_g_m2=140) == 20


def test_at_its_own_light_a_plant_grows_at_tanh_1():
    # Jassby and Platt (1976): P = Pmax tanh(I / I_k); I_k of a plant that needs 40 is taken as 60.
    assert light_share(par_umol_m2_s=60, need_umol=40) == pytest.approx(tanh(1)) == pytest.approx(0.7616, abs=5e-5)


def test_half_of_the_growth_at_the_half_concentration():
    assert co2_share(co2_mg_l=4.0) == 0.5


@pytest.mark.parametrize("bad", [-1.0, float("nan"), 2501.0])
def test_light_out_of_range_is_refused(bad):
    with pytest.raises(OutOfRange, match="par_umol_m2_s"):
        light_share(par_umol_m2_s=bad, need_umol=40)


def stand(**changes):
    known = {
        "zone": 1,
        "area_m2": 0.1,
        "cover_m2": 0.1,
        "rate": "fast",
        "floating": False,
        "need_umol": 40.0,
        "par_umol_m2_s": 300.0,
    }
    return Stand(**(known | changes))


def test_the_worked_figure_of_nitrogen_is_met():
    # 30 g/m2 growing at 0.035 1/d with 0.030 g N/g takes up 30 x 0.035 x 0.03 = 31.5 mg N/m2/d: here 18 g/m2 (20 less a
    # tenth) in plenty of light and carbon dioxide, of which K = 5 / 0.035 g/m2 leaves 1 - 18 / 142.9 of the rate.
    found = growth_of([stand(area_m2=1.0, cover_m2=1.0)], co2_mg_l=60.0)
    carbon = 60 / 64
    expected = 18 * 0.035 * carbon * 30 * (1 - 18 / (5 / 0.035))
    assert found.nitrogen_mg_d[1][1] == pytest.approx(expected, rel=1e-3)


def test_leaves_shade_by_beers_law():
    found = growth_of([stand()], co2_mg_l=25.0)
    leaf = found.zones[0].leaf_area[6][1]
    assert found.zones[0].shade[6][1] == pytest.approx(1 - exp(-0.7 * leaf), abs=1e-4)


stands = st.lists(
    st.builds(
        stand,
        zone=st.integers(1, 3),
        cover_m2=st.floats(0.001, 0.2),
        rate=st.sampled_from(["very slow", "slow", "medium", "fast", "very fast"]),
        floating=st.booleans(),
        par_umol_m2_s=st.none() | st.floats(0, 500),
    ),
    min_size=1,
    max_size=5,
)


@given(stands, st.none() | st.floats(0, 40))
def test_bands_are_in_order_and_a_planting_never_shrinks_nor_outgrows_its_ground(made, co2):
    found = growth_of(made, co2_mg_l=co2)
    assert len(found.dry_g) == len(found.nitrogen_mg_d) == len(WEEKS)
    for low, typical, high in (*found.dry_g, *found.nitrogen_mg_d):
        assert 0 <= low <= typical <= high
    typical = [week[1] for week in found.dry_g]
    assert all(after >= before - 1e-3 for before, after in pairwise(typical))
    for cover in found.zones:
        assert all(week[2] <= 5.0 + 1e-3 for week in cover.leaf_area)
        assert all(0 <= value < 1 for week in cover.shade for value in week)


@given(st.floats(5, 400), st.floats(0, 100))
def test_more_light_never_means_less_growth(par, more):
    dim = growth_of([stand(par_umol_m2_s=par)], co2_mg_l=20.0).dry_g[-1]
    bright = growth_of([stand(par_umol_m2_s=par + more)], co2_mg_l=20.0).dry_g[-1]
    assert all(one <= other + 1e-3 for one, other in zip(dim, bright, strict=True))
