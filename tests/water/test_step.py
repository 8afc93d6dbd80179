"""The step for animals, holding boxes, soil with stone and water."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.water.ammonia import unionised_fraction
from slackwater.water.change import best_change, changed, nitrite_borne_mg_l, with_tan
from slackwater.water.combination import (
    Range,
    Ranges,
    changes_until_spent,
    lime_rise_dkh_week,
    saturated_alkalinity_dkh,
    settle,
    triples,
)
from slackwater.water.composition import ion_mg_l
from slackwater.water.speciation import speciate, speciate_at_co2, speciate_at_pco2, speciate_at_ph
from slackwater.water.step import acclimatise, box_after, step_between
from tests.water.test_recipe import plain_water

OLD = plain_water(10, 5, temp_c=24)
SOFTER = plain_water(4, 2, temp_c=24)


def test_a_water_into_itself_is_no_step():
    step = step_between(OLD, OLD)
    assert step.minutes(soft=True) == pytest.approx(0, abs=1e-6)
    assert acclimatise(OLD, OLD, soft=True).minutes == 0
    assert acclimatise(OLD, OLD, soft=True).reason == "none"


def test_steps_are_new_less_old():
    step = step_between(OLD, replace(SOFTER, temp_c=22.5))
    assert step.temp_c == pytest.approx(-1.5)
    assert step.hardness_dgh == pytest.approx(-6)
    assert step.alkalinity_dkh == pytest.approx(-3)
    assert -0.7 < step.conductivity_share < -0.5
    # 6 dGH at 4 dGH per half hour, and as much again for those who bear half of it.
    assert step.half_hours(soft=False)["hardness_dgh"] == pytest.approx(1.5)
    assert step.half_hours(soft=True)["hardness_dgh"] == pytest.approx(3.0)


@given(st.floats(2, 9), st.floats(0.5, 4.5), st.booleans())
def test_a_larger_step_is_never_taken_faster(gh, kh, soft):
    smaller = acclimatise(OLD, plain_water((10 + gh) / 2, (5 + kh) / 2, temp_c=24), soft=soft)
    larger = acclimatise(OLD, plain_water(gh, kh, temp_c=24), soft=soft)
    assert larger.minutes >= smaller.minutes
    assert acclimatise(OLD, plain_water(gh, kh, temp_c=24), soft=True).minutes >= larger.minutes


def test_much_ammonia_with_rising_ph_argues_for_going_fast():
    # Trade notes, decision 26: high TAN in a box whose pH has risen: fast, not slow.
    box = speciate_at_co2(
        replace(OLD, ammonia_mmol_l=6 / 14.007, alkalinity_meq_l=OLD.alkalinity_meq_l + 6 / 14.007), co2_mg_l=2
    ).water
    alkaline = speciate_at_co2(replace(plain_water(2, 8, temp_c=24)), co2_mg_l=1.0).water
    fast = acclimatise(box, alkaline, soft=True)
    slow = acclimatise(replace(box, ammonia_mmol_l=0.0, alkalinity_meq_l=OLD.alkalinity_meq_l), alkaline, soft=True)
    assert fast.reason == "ammonia" and slow.reason == "step"
    assert fast.minutes < slow.minutes


def test_ammonia_in_the_box_follows_the_animals():
    held = box_after(OLD, tan_gained_mg_l=0.26, oxygen_mg_l_h=2.0, co2_transfer_per_h=2.0, co2_air_mg_l=1.1)
    assert ion_mg_l(held, "ammonia_mmol_l") == pytest.approx(0.26)
    assert held.charge_gap_meq_l == pytest.approx(OLD.charge_gap_meq_l, abs=1e-6)
    # Where it stands, airing carries off what is breathed out: 1.17 mg of CO2 for 1 mg of oxygen.
    assert speciate(held).co2_mg_l == pytest.approx(1.1 + 1.17 * 2.0 / 2.0, rel=1e-3)


@given(st.floats(1, 15), st.floats(0.3, 6), st.floats(3, 30))
def test_limestone_stops_at_saturation(gh, kh, co2):
    water = plain_water(gh, kh, temp_c=24)
    end = saturated_alkalinity_dkh(water, co2_mg_l=co2)
    assert end >= kh - 1e-6
    added = (end - kh) * 0.35664
    made = replace(
        water, calcium_mmol_l=water.calcium_mmol_l + added / 2, alkalinity_meq_l=water.alkalinity_meq_l + added
    )
    if end > kh + 1e-3:
        assert speciate_at_co2(made, co2_mg_l=co2).si_calcite == pytest.approx(0, abs=0.01)


def test_more_carbon_dioxide_dissolves_more_lime():
    water = plain_water(4, 2, temp_c=24)
    assert saturated_alkalinity_dkh(water, co2_mg_l=30) > saturated_alkalinity_dkh(water, co2_mg_l=3) + 1
    low, typical, high = lime_rise_dkh_week(limestone_kg=10, water_l=100, co2_mg_l=20)
    assert (low, typical, high) == (0.1, 0.5, 2.0)


def test_soil_is_spent_by_hard_water_and_never_by_soft():
    # 10 to 120 meq per litre (science notes 7): 30 L of soil take 300 to 3600 meq; 170 L at 5 dKH bring 4 dKH x 0.3566.
    spent = changes_until_spent(soil_l=30, lean=False, water_l=170, alkalinity_dkh=5)
    assert spent.low == pytest.approx(300 / (170 * 4 * 0.35664), rel=0.01)
    assert spent.high == pytest.approx(3600 / (170 * 4 * 0.35664), rel=0.01)
    assert np.isinf(changes_until_spent(soil_l=30, lean=False, water_l=170, alkalinity_dkh=1).low)


HARD_SNAIL = Ranges("snail", "snail", Range(6.8, 8.3), Range(5, 20), Range(3, 15))
SOFT_SHRIMP = Ranges("bee", "bee shrimp", Range(5.8, 6.8), Range(3, 6), Range(0, 2))


def test_soil_stone_and_animals_that_go_together():
    found = {
        (item.soil, item.stone): set(item.against)
        for item in triples(
            plain_water(5, 3.5, temp_c=24), (HARD_SNAIL, SOFT_SHRIMP), limestone_kg=30, water_l=150, co2_mg_l=20
        )
    }
    # Trade notes, decision 8: hard-water animals over active soil, bee shrimp over limestone.
    assert "snail" in found["active", "neutral"] and "bee" not in found["active", "neutral"]
    assert "bee" in found["inert", "lime"] and "snail" not in found["inert", "lime"]
    assert set(found) == {("active", "lime"), ("active", "neutral"), ("inert", "lime"), ("inert", "neutral")}


def test_lime_over_active_soil_raises_only_the_general_hardness():
    water = plain_water(4, 1, temp_c=24)
    settled = settle(water, active_soil=True, limestone_kg=20, water_l=150, co2_mg_l=20, weeks=6)
    assert settled.alkalinity_dkh.high <= 1.0
    assert settled.hardness_dgh.high > 5


def test_a_change_that_lifts_the_ph_makes_ammonia_worse():
    # Trade notes 2b, decision 22: from pH 6.6 to 7.4 a half change halves TAN and makes un-ionised ammonia three times as much.
    tank = with_tan(speciate_at_ph(plain_water(4, 1.5, temp_c=25), ph=6.6).water, tan_mg_l=3.0)
    soft = speciate_at_ph(plain_water(2, 0.5, temp_c=25), ph=6.2).water
    hard = speciate_at_pco2(plain_water(12, 9, temp_c=25), pco2_atm=7e-4).water
    found = {item.name: item for item in best_change(tank, {"soft": soft, "hard": hard})}
    assert found["hard"].tan_mg_l == found["soft"].tan_mg_l == pytest.approx(1.5, abs=0.01)
    assert found["hard"].uia_factor > 1 > found["soft"].uia_factor
    expected = 0.5 * unionised_fraction(ph=found["hard"].ph, temp_c=25) / unionised_fraction(ph=6.6, temp_c=25)
    assert found["hard"].uia_factor == pytest.approx(expected, rel=0.03)
    assert [item.name for item in best_change(tank, {"hard": hard, "soft": soft})] == ["soft", "hard"]


@given(st.floats(0, 1))
def test_a_change_with_the_same_water_changes_nothing(share):
    tank = with_tan(OLD, tan_mg_l=1.0)
    same = changed(tank, tank, name="same", share=share)
    assert same.ph_rise == pytest.approx(0, abs=1e-6) and same.uia_factor == pytest.approx(1, abs=1e-5)


def test_chloride_guards_against_nitrite():
    # Science notes 4: allowed NO2-N is chloride over 60, at most 1 mg/L.
    assert nitrite_borne_mg_l(chloride_mg_l=6) == pytest.approx(0.1)
    assert nitrite_borne_mg_l(chloride_mg_l=200) == 1.0
