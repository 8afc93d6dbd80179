"""Making the water: chances that add up, flow that stops, pumps with a curve, cards that lose nothing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import OutOfRange
from slackwater.water.hydraulics import hose_flow_l_min, pumped_l_min, siphon_holds, with_band
from slackwater.water.production import Unit, boosted_l_day, changes_before, course, outlook, warmed_c
from slackwater.water.refill import shared_out
from slackwater.water.warming import heating_hours

UNIT = Unit(
    middle_l_day=120,
    rated_net_bar=3.7,
    net_bar=2.3,
    feed_temp_c=11,
    condition=(0.5, 0.8, 1.0),
    factor_spread=(0.96, 1.04),
)


def ahead(need, hours, seed=3):
    return outlook(UNIT, need_l=need, hours=hours, rng=np.random.default_rng(seed))


@given(st.floats(10, 300), st.floats(2, 72))
def test_more_hours_are_never_less_likely_to_be_enough(need, hours):
    first, longer = ahead(need, hours), ahead(need, hours + 5)
    assert longer.probability_short <= first.probability_short
    assert first.low_l <= first.middle_l <= first.high_l
    assert ahead(need, hours).probability_short == first.probability_short  # same seed, same draws


def test_the_hours_for_95_of_100_are_just_that():
    found = ahead(100, 10)
    assert ahead(100, found.hours_for_95).probability_short == pytest.approx(0.05, abs=0.002)
    assert ahead(100, found.hours_for_95 - 1).probability_short > 0.05


def test_a_certain_unit_makes_its_rate_less_the_flush():
    sure = Unit(240, 0, 0, None, (1, 1, 1), (1 - 1e-9, 1 + 1e-9))
    found = outlook(sure, need_l=50, hours=10, rng=np.random.default_rng(1))
    # 10 L an hour for ten hours, 5 to 10 minutes of it let go.
    assert 98.3 <= found.low_l <= found.high_l <= 99.2
    assert found.probability_short == 0


def test_a_booster_and_changes_before_are_reckoned():
    # Net 2.3 bar at 2.6; at 5.5 it is 5.2: 120 x 5.2 / 2.3.
    assert boosted_l_day(UNIT, feed_pressure_bar=2.6) == pytest.approx(120 * 5.2 / 2.3)
    assert boosted_l_day(UNIT, feed_pressure_bar=6.0) is None
    # 55 to 30 mg/L with tap of 18: (30-18)/(55-18) = 0.324 = 0.7^3.2: four changes.
    assert changes_before(now_mg_l=55, new_mg_l=18, goal_mg_l=30) == 4
    assert changes_before(now_mg_l=20, new_mg_l=18, goal_mg_l=30) == 0
    assert changes_before(now_mg_l=55, new_mg_l=35, goal_mg_l=30) is None


@given(st.floats(20, 300), st.floats(5, 18), st.floats(20, 28), st.floats(150, 600), st.floats(0.1, 5))
def test_the_warming_curve_ends_where_the_hours_say(litres, cold, warm, power, loss):
    hours = heating_hours(water_kg=litres, from_c=cold, to_c=warm, heater_w=power, loss_w_per_k=loss, room_c=20)
    if hours is None:
        return
    end = warmed_c(hours=hours, litres=litres, from_c=cold, heater_w=power, loss_w_per_k=loss, room_c=20, to_c=warm + 5)
    assert end == pytest.approx(warm, abs=0.1)


def test_the_course_fills_then_warms():
    found = course(
        UNIT,
        permeate_l=60,
        tap_l=20,
        making_h=14,
        warming_h=5,
        from_c=11,
        to_c=24,
        heater_w=300,
        loss_w_per_k=4,
        room_c=20,
        rng=np.random.default_rng(1),
    )
    assert len({len(x) for x in (found.hours, found.low_l, found.middle_l, found.high_l, found.temp_c)}) == 1
    assert found.middle_l[0] == 0 and found.middle_l[-1] == 80
    assert all(
        low <= middle <= high for low, middle, high in zip(found.low_l, found.middle_l, found.high_l, strict=True)
    )
    assert found.temp_c[0] == 11 and found.temp_c[-1] > 20


HOSE = {"inner_diameter_m": 0.016, "length_m": 5.0, "minor_loss": 2.0, "temp_c": 24.0}


@given(st.floats(5, 60), st.floats(0.5, 6), st.floats(0, 3))
def test_a_pump_runs_where_its_curve_meets_the_hose(free, shut, lift):
    flow = pumped_l_min(free_flow_l_min=free, shut_head_m=shut, lift_m=lift, **HOSE)
    if lift >= shut:
        assert flow == 0
        return
    assert 0 < flow <= free
    head = shut * (1 - (flow / free) ** 2) - lift
    assert hose_flow_l_min(head_m=head, **HOSE) == pytest.approx(flow, rel=1e-3)


def test_a_pump_without_hose_loss_gives_its_label():
    wide = {**HOSE, "inner_diameter_m": 0.1, "length_m": 0.1, "minor_loss": 0.0}
    assert pumped_l_min(free_flow_l_min=20, shut_head_m=4, lift_m=0, **wide) == pytest.approx(20, rel=0.01)
    # Half the square root of the head left: 20 x sqrt(1 - 3/4) = 10.
    assert pumped_l_min(free_flow_l_min=20, shut_head_m=4, lift_m=3, **wide) == pytest.approx(10, rel=0.01)
    with pytest.raises(OutOfRange, match="label"):
        pumped_l_min(free_flow_l_min=0, shut_head_m=4, lift_m=1, **HOSE)


def test_siphons_break_high_up_and_minutes_have_a_band():
    assert siphon_holds(summit_m=1.5) and not siphon_holds(summit_m=7.5)
    assert not siphon_holds(summit_m=5.8, pressure_atm=0.8)
    low, high = with_band(10)
    assert low < 10 < high and high == pytest.approx(10 * 0.85 / 0.6)


@given(st.integers(0, 500), st.lists(st.floats(0.01, 300), min_size=1, max_size=6))
def test_grams_are_shared_out_whole_and_none_is_lost(grams, litres):
    shares = [value / sum(litres) for value in litres]
    found = shared_out(grams, shares)
    assert sum(found) == grams
    assert all(abs(item - share * grams) < 1 + 1e-6 for item, share in zip(found, shares, strict=True))
