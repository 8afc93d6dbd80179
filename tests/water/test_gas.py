"""Gases against published values, exchange that ends in balance, ammonia limits, salts going into solution."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from slackwater.errors import OutOfRange
from slackwater.water.ammonia import unionised_fraction
from slackwater.water.chlorine import stock_ml, thiosulfate_g, without_chlorine
from slackwater.water.composition import Water
from slackwater.water.dissolving import gypsum_minutes
from slackwater.water.gas import (
    ROOM_CO2_ATM,
    SURFACES,
    co2_at_balance_mg_l,
    exchange,
    oxygen_saturation_mg_l,
    pressure_at_altitude_atm,
)
from slackwater.water.speciation import speciate, speciate_at_co2, speciate_at_pco2

SOFT = Water(calcium_mmol_l=0.5, sodium_mmol_l=0.5, alkalinity_meq_l=1.0, chloride_mmol_l=0.5, temp_c=24)


def test_air_pressure_of_the_standard_atmosphere():
    # ISO 2533: 1013.25 hPa at 0 m, 898.75 hPa at 1000 m, 794.95 hPa at 2000 m.
    assert pressure_at_altitude_atm(altitude_m=0) == 1
    assert pressure_at_altitude_atm(altitude_m=1000) == pytest.approx(898.75 / 1013.25, abs=5e-4)
    assert pressure_at_altitude_atm(altitude_m=2000) == pytest.approx(794.95 / 1013.25, abs=5e-4)


@given(st.floats(0, 39), st.floats(0.6, 1.05))
def test_colder_and_denser_air_brings_more_oxygen(temp, pressure):
    here = oxygen_saturation_mg_l(temp_c=temp, pressure_atm=pressure)
    assert oxygen_saturation_mg_l(temp_c=temp + 1, pressure_atm=pressure) < here
    assert oxygen_saturation_mg_l(temp_c=temp, pressure_atm=pressure + 0.01) > here


def test_indoor_air_holds_more_carbon_dioxide_than_the_open():
    # Science notes 3: indoors (700 ppm) saturates at about 1.1 mg/L.
    assert co2_at_balance_mg_l(temp_c=22, pco2_atm=ROOM_CO2_ATM) == pytest.approx(1.1, abs=0.06)


def test_degassing_follows_its_rate_equation():
    start = speciate_at_co2(SOFT, co2_mg_l=25)
    course = exchange(start, oxygen_transfer_20_c_per_h=2.5)
    rate = 2.5 * 1.024**4 * 0.90  # science notes 3: theta 1.024, CO2 0.90 of oxygen
    end = float(course.balance.co2_mmol_l)

    def slope(_t, carbon):
        now = float(speciate(replace(start.water, carbon_mmol_l=float(carbon[0]))).co2_mmol_l)
        return [-rate * (now - end)]

    times = [0.3, 1.0, 2.0]
    solved = solve_ivp(slope, (0, 2.0), [float(start.water.carbon_mmol_l)], t_eval=times, rtol=1e-7, atol=1e-9)
    for time, carbon in zip(times, solved.y[0], strict=True):
        ph = float(speciate(replace(start.water, carbon_mmol_l=float(carbon))).ph)
        assert course.ph_after(time) == pytest.approx(ph, abs=0.005)


@given(st.floats(0.5, 40), st.floats(0.05, 6))
def test_exchange_ends_in_balance_and_never_passes_it(co2, transfer):
    course = exchange(speciate_at_co2(SOFT, co2_mg_l=co2), oxygen_transfer_20_c_per_h=transfer)
    assert np.all(np.diff(course.hours) >= 0)
    balance = float(course.balance.co2_mg_l)
    assert np.all((course.co2_mg_l - balance) * (co2 - balance) >= -1e-9)
    assert course.co2_mg_l[-1] == pytest.approx(balance, rel=0.01)
    assert course.ph_after(1e6) == pytest.approx(float(course.balance.ph))


def test_time_to_a_ph_is_where_the_course_passes_it():
    course = exchange(speciate_at_co2(SOFT, co2_mg_l=25), oxygen_transfer_20_c_per_h=SURFACES["ripple"].typical_per_h)
    hours = course.hours_to_ph(7.0)
    assert course.ph_after(hours) == pytest.approx(7.0, abs=0.01)
    assert course.hours_to_ph(9.5) is None
    with pytest.raises(OutOfRange, match="oxygen_transfer"):
        exchange(speciate_at_co2(SOFT, co2_mg_l=25), oxygen_transfer_20_c_per_h=0)


# Trade notes 2b: TAN 3.0 mg N/L at 25 C.
@pytest.mark.parametrize(("ph", "uia"), [(6.6, 0.0068), (7.4, 0.042)])
def test_worked_figure_unionised_ammonia(ph, uia):
    assert 3.0 * unionised_fraction(ph=ph, temp_c=25) == pytest.approx(uia, rel=0.02)


def test_a_half_change_that_raises_ph_makes_ammonia_worse():
    # Trade notes 2b: from pH 6.6 to 7.4 halves TAN to 1.5, yet UIA becomes 0.021, three times as much.
    before = 3.0 * unionised_fraction(ph=6.6, temp_c=25)
    after = 1.5 * unionised_fraction(ph=7.4, temp_c=25)
    assert after == pytest.approx(0.021, rel=0.02) and after > 3 * before


def test_bound_chloramine_leaves_its_nitrogen_and_no_charge():
    water = speciate_at_pco2(replace(SOFT, combined_chlorine_mg_l=0.4, free_chlorine_mg_l=0.3), pco2_atm=7e-4).water
    free = without_chlorine(water)
    assert free.combined_chlorine_mg_l == free.free_chlorine_mg_l == 0
    # 0.4 mg/L as Cl2 frees about 0.08 mg N/L; trade notes 2b.
    assert (free.ammonia_mmol_l - water.ammonia_mmol_l) * 14.007 == pytest.approx(0.08, abs=0.002)
    assert free.charge_gap_meq_l == pytest.approx(water.charge_gap_meq_l, abs=1e-12)
    # 7 mg thiosulfate per mg, 20 L at 0.5 mg/L: 70 mg, 7 mL of a 10 g/L solution.
    assert thiosulfate_g(chlorine_mg_l=0.5, litres=20, mg_per_mg=7) == pytest.approx(0.070)
    assert stock_ml(mass_g=0.070) == pytest.approx(7.0)


@given(st.floats(0, 39), st.floats(0.001, 2.2))
def test_gypsum_takes_longer_in_cold_and_in_crowded_water(temp, dose):
    low, typical, high = gypsum_minutes(temp_c=temp, dose_g_l=dose)
    assert low <= typical <= high
    assert gypsum_minutes(temp_c=temp + 1, dose_g_l=dose)[1] < typical
    assert gypsum_minutes(temp_c=temp, dose_g_l=dose + 0.1)[1] > typical


def test_gypsum_at_the_bench():
    # Science notes 2: 10 to 60 min stirred at tank doses; more than 2.4 g/L never dissolves.
    assert gypsum_minutes(temp_c=25, dose_g_l=0.0) == (10, 30, 60)
    assert gypsum_minutes(temp_c=20, dose_g_l=2.5) is None


def test_gypsum_saturates_where_handbooks_say():
    # Solubility 2.4 g/L at 20 to 25 C: 14 to 15 mmol/L of each ion, saturation index 0 within 0.05.
    water = Water(calcium_mmol_l=14.5, sulfate_mmol_l=14.5, temp_c=25)
    assert speciate_at_pco2(water, pco2_atm=4e-4).si_gypsum == pytest.approx(0, abs=0.06)
