"""Water, salts and heat balance; flows behave; worked figures of the trade come out."""

from __future__ import annotations

import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import Contradiction, OutOfRange
from slackwater.water.hydraulics import drain_minutes, friction_factor, hose_flow_l_min
from slackwater.water.mixing import fraction_of_b, mixed
from slackwater.water.osmosis import permeate_l_day
from slackwater.water.salts import NITROGEN_PER_CHLORINE, molar_mass_g_mol
from slackwater.water.warming import heat_kwh, heating_hours
from tests.plans import UNASKED, plan_of

amount = st.floats(0.1, 500)
value = st.floats(0, 100)


@given(st.lists(st.tuples(amount, value), min_size=1, max_size=5))
def test_what_is_in_the_parts_is_in_the_mixture(parts):
    total = sum(litres for litres, _ in parts)
    assert mixed(parts) * total == pytest.approx(sum(litres * content for litres, content in parts), rel=1e-9)


@given(st.floats(0, 10), st.floats(11, 30), st.floats(0.01, 0.99))
def test_the_share_that_meets_a_target_meets_it(a, b, share):
    target = a + (b - a) * share
    found = fraction_of_b(value_a=a, value_b=b, target=target)
    assert mixed(((1 - found, a), (found, b))) == pytest.approx(target, rel=1e-9)


def test_a_target_beyond_both_waters_is_a_contradiction():
    with pytest.raises(Contradiction):
        fraction_of_b(value_a=2, value_b=8, target=9)


def test_molar_masses_are_those_of_the_textbooks():
    for formula, mass in (("CaSO4.2H2O", 172.17), ("MgSO4.7H2O", 246.47), ("Ca(HCO3)2", 162.11), ("KH2PO4", 136.09)):
        assert molar_mass_g_mol(formula) == pytest.approx(mass, abs=0.02)


def test_worked_figure_chloramine():
    # 0.4 mg/L as Cl2, neutralised: about 0.08 mg N/L.
    assert pytest.approx(0.08, abs=0.002) == 0.4 * NITROGEN_PER_CHLORINE


def test_worked_figure_reverse_osmosis_in_february():
    # Label 380 L/day at 25 C and 4 bar; 11 C, 2.6 bar, condition 0.85: about 119 to 130 L/day.
    flow = permeate_l_day(rated_l_day=380, rated_pressure_bar=4, feed_pressure_bar=2.6, feed_temp_c=11, condition=0.85)
    assert 119 <= flow <= 130


@given(st.floats(1, 6), st.floats(2, 30), st.floats(0, 1))
def test_pressure_below_osmotic_makes_nothing_and_more_of_anything_makes_more(pressure, temp, osmotic):
    def flow(p, t):
        return permeate_l_day(
            rated_l_day=100, rated_pressure_bar=4, feed_pressure_bar=p, feed_temp_c=t, osmotic_pressure_bar=osmotic
        )

    assert flow(0.0, temp) == 0
    assert flow(pressure + 1, temp) > flow(pressure, temp)


def test_worked_figure_warming():
    # Trade notes 2b: 130 L from 11 to 24.5 C is 2.04 kWh; 300 W against about 50 W of loss, some 8 h.
    assert heat_kwh(water_kg=130, from_c=11, to_c=24.5) == pytest.approx(2.04, abs=0.01)
    assert heating_hours(water_kg=130, from_c=11, to_c=24.5, heater_w=250) == pytest.approx(8.1, abs=0.2)


@given(st.floats(20, 300), st.floats(5, 18), st.floats(20, 28), st.floats(100, 600), st.floats(0.5, 8))
def test_heat_balances_over_the_warming(kg, cold, warm, power, loss):
    hours = heating_hours(water_kg=kg, from_c=cold, to_c=warm, heater_w=power, loss_w_per_k=loss, room_c=20)
    if hours is None:
        assert power <= loss * (warm - 20) + 1e-9
        return
    # Heat in = heat kept + heat lost; the loss integral has a closed form because the temperature does.
    capacity = kg * 4.18 / 3.6
    lost = power * hours - capacity * (warm - cold)
    mean_excess = lost / loss / hours if hours else 0.0
    assert cold - 20 - 1e-6 <= mean_excess <= warm - 20 + 1e-6


def test_a_heater_that_only_holds_the_loss_never_gets_there():
    assert heating_hours(water_kg=100, from_c=15, to_c=25, heater_w=40, loss_w_per_k=10, room_c=20) is None


@pytest.mark.parametrize("reynolds", [1e3, 5e3, 3e4, 1e5, 1e6])
@pytest.mark.parametrize("rough", [0.0, 1e-5, 1e-3])
def test_friction_agrees_with_an_independent_library(reynolds, rough):
    assert friction_factor(reynolds=reynolds, relative_roughness=rough) == pytest.approx(
        fluids.friction_factor(Re=reynolds, eD=rough), rel=0.01
    )


@given(st.floats(0.3, 2.5), st.floats(0.01, 0.04), st.floats(1, 20))
def test_more_head_more_flow_and_more_hose_less(head, bore, hose):
    def flow(h, length):
        return hose_flow_l_min(head_m=h, inner_diameter_m=bore, length_m=length, minor_loss=1.5, temp_c=20)

    assert flow(head + 0.2, hose) > flow(head, hose) > flow(head, hose + 2)


def test_draining_deeper_takes_longer_and_an_outlet_above_the_water_is_refused():
    def minutes(end):
        return drain_minutes(
            plan_area_m2=0.4,
            depth_start_m=0.4,
            depth_end_m=end,
            outlet_below_bottom_m=0.5,
            inner_diameter_m=0.016,
            length_m=4,
            minor_loss=1,
            temp_c=24,
        )

    assert minutes(0.05) > minutes(0.2) > 0
    with pytest.raises(OutOfRange, match="below the water"):
        hose_flow_l_min(head_m=0, inner_diameter_m=0.016, length_m=2, minor_loss=1, temp_c=20)


def test_clean_water_is_pumped_down_to_the_level_that_leaves_the_rest():
    # 118 x 42 cm, 42 cm deep, 7 cm of old soil: pores 34.692 x 0.45 = 15.6 L, above it 173.5 L; 156.1 L taken leave
    # 33.0 L: 15.6 in the soil and 17.4 over it, 3.5 cm: 10.5 cm. Whole litres go back, so up to one may be left.
    budget = plan_of("blue-corridor", (), UNASKED).water
    assert budget.old_kept_l == pytest.approx(156.1, abs=1.0)
    assert budget.stop_level_m == pytest.approx(0.105, abs=0.001)
