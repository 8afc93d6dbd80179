"""Nitrogen after the restart: nothing is lost or made, order of convergence, an independent model, common practice."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slackwater.living.machine import Event, simulate
from slackwater.living.nitrogen import (
    ROW,
    ROWS,
    Rates,
    first_step_share,
    ph_factor_of,
    rate_of,
    relax_of,
    water_change,
)
from slackwater.living.respiration import N_G_MOL
from tests.living.independent import two_step
from tests.living.test_restart import ACIDITY

RATES = Rates(
    growth_first_per_d=0.95,
    growth_second_per_d=0.85,
    decay_first_per_d=0.12,
    decay_second_per_d=0.12,
    half_tan_mg_l=0.6,
    half_nitrite_mg_l=0.5,
    half_oxygen_first_mg_l=0.5,
    half_oxygen_second_mg_l=0.7,
    half_alkalinity_meq_l=0.1,
    yield_first=0.15,
    yield_second=0.06,
    oxygen_mg_l=7.5,
    source_mg_l_d=0.1,
    soil_per_d=0.1,
    soil_exchange_per_d=0.2,
    melt_per_d=0.1,
    plant_growth_per_d=0.02,
    plant_lag_d=7.0,
    lag_first_d=0.25,
    lag_second_d=0.08,
    denitrification_mg_l_d=0.02,
    volume_l=170.0,
)


def nitrogen_mg(state, volume_l):
    """All nitrogen that the state accounts for, less what was fed [mg]: constant over any course."""
    inside = sum(
        state[ROW[name]]
        for name in (
            "tan_mg_l",
            "nitrite_mg_l",
            "nitrate_mg_l",
            "melt_mg_l",
            "taken_by_plants_mg_l",
            "denitrified_mg_l",
        )
    )
    bound = -state[ROW["binder_mg"]]
    moved = state[ROW["changed_mg_l"]] - state[ROW["fed_mg_l"]]
    return np.asarray(state[ROW["soil_n_mg"]] + bound + volume_l * (inside + moved))


def weeks(rates, state, **given):
    return simulate(rate_of(rates), state, relax=relax_of(rates), **given)


def test_a_binder_takes_no_more_than_it_holds():
    bound = replace(RATES, binder_per_d=2.0)
    state = start(binder_mg=300.0)
    course = weeks(bound, state, times=[0.0, 30.0], longest_step=1 / 48)
    left = course.states[-1, ROW["binder_mg"], 0]
    assert -1e-6 <= left < 300
    assert nitrogen_mg(course.states[-1], 170.0) == pytest.approx(nitrogen_mg(state, 170.0), rel=1e-6)


def test_animals_count_from_the_day_they_are_put_in():
    def put_in(state):
        after = state.copy()
        after[ROW["animals_mg_l_d"]] = 0.4
        return after

    quiet = replace(RATES, source_mg_l_d=0.0)
    course = weeks(quiet, start(), times=[0.0, 5.0, 8.0], longest_step=1 / 24, events=[Event(5.0, put_in)])
    assert course.states[1, ROW["fed_mg_l"], 0] == 0
    assert course.states[2, ROW["fed_mg_l"], 0] == pytest.approx(1.2)


def start(**given):
    state = np.zeros((len(ROWS), 1))
    usual = {
        "soil_n_mg": 750,
        "first_mg_l": 0.05,
        "second_mg_l": 0.02,
        "alkalinity_meq_l": 1.4,
        "soil_capacity_meq": 1200,
        "plants_g": 6,
        "melt_mg_l": 2,
    }
    for name, value in {**usual, **given}.items():
        state[ROW[name]] = value
    return state


CHANGES = [Event(float(day), partial(water_change, share=0.5, new={"nitrate_mg_l": 4.0, "alkalinity_meq_l": 1.4})) for day in (1, 2, 3, 5, 7, 9, 12, 15, 19, 23, 28, 35, 42, 49, 56)]  # fmt: skip


@settings(max_examples=15)
@given(
    st.floats(0, 3000),
    st.floats(0.001, 0.5),
    st.floats(0, 1),
    st.floats(0, 0.3),
    st.floats(0, 0.08),
    st.floats(0.5, 60),
)
def test_nitrogen_closes_over_sixty_days_with_changes(soil, biomass, source, exchange, growth, co2):
    rates = replace(
        RATES,
        source_mg_l_d=source,
        soil_exchange_per_d=exchange,
        plant_growth_per_d=growth,
        ph_factor=ph_factor_of(ACIDITY, co2),
    )
    first = start(soil_n_mg=soil, first_mg_l=biomass)
    course = weeks(rates, first, times=[0.0, 20.0, 60.0], longest_step=1 / 24, events=CHANGES)
    before = nitrogen_mg(first, 170.0)
    for state in course.states:
        assert nitrogen_mg(state, 170.0) == pytest.approx(before, rel=1e-6, abs=1e-6)
    assert np.all(course.states[:, :12] >= -1e-6)


@pytest.mark.parametrize("factor", [1.0, ph_factor_of(ACIDITY, 40.0)])
def test_alkalinity_closes_without_soil_and_plants(factor):
    rates = replace(
        RATES, soil_exchange_per_d=0.0, plant_growth_per_d=0.0, denitrification_mg_l_d=0.0, ph_factor=factor
    )
    course = weeks(rates, start(), times=[0.0, 30.0], longest_step=1 / 48)
    end = course.states[-1]
    # Ammonium of living things brings a milliequivalent per millimole; its oxidation takes two.
    living = 0.1 * 30 + (2 - end[ROW["melt_mg_l"], 0])
    oxidised = end[ROW["nitrite_mg_l"], 0] + end[ROW["nitrate_mg_l"], 0]
    expected = 1.4 + (living - 2 * oxidised) / N_G_MOL
    assert end[ROW["alkalinity_meq_l"], 0] == pytest.approx(expected, abs=1e-6)


def test_the_order_of_convergence_is_that_of_the_method():
    smooth = replace(RATES, plant_growth_per_d=0.0, lag_first_d=0.0, lag_second_d=0.0)

    def tan(step):
        return weeks(smooth, start(), times=[0.0, 8.0], longest_step=step).states[-1, 1, 0]

    exact = tan(1 / 512)
    orders = [np.log2(abs(tan(step) - exact) / abs(tan(step / 2) - exact)) for step in (1 / 32, 1 / 64)]
    assert 1.8 < min(orders) <= max(orders) < 2.2


def test_members_that_are_equal_go_the_way_of_one():
    many = weeks(RATES, np.tile(start(), (1, 5)), times=[0.0, 30.0], longest_step=1 / 24, events=CHANGES)
    one = weeks(RATES, start(), times=[0.0, 30.0], longest_step=1 / 24, events=CHANGES)
    assert np.allclose(many.states, one.states, rtol=1e-12, atol=0)


def test_a_full_change_resets_only_what_is_dissolved():
    state = start(tan_mg_l=3, nitrite_mg_l=1, nitrate_mg_l=20)
    after = water_change(state, share=1.0, new={"nitrate_mg_l": 5.0, "alkalinity_meq_l": 0.8})
    for name, value in (("tan_mg_l", 0), ("nitrite_mg_l", 0), ("nitrate_mg_l", 5), ("alkalinity_meq_l", 0.8)):
        assert after[ROW[name], 0] == value
    for name in ("soil_n_mg", "first_mg_l", "second_mg_l", "soil_capacity_meq", "plants_g", "melt_mg_l"):
        assert after[ROW[name], 0] == state[ROW[name], 0]
    assert nitrogen_mg(after, 170.0) == pytest.approx(nitrogen_mg(state, 170.0))


def test_members_may_differ_in_every_parameter():
    mixed = replace(RATES, soil_per_d=np.array([0.04, 0.1, 0.25]), volume_l=np.array([100.0, 170.0, 300.0]))
    course = weeks(mixed, np.tile(start(), (1, 3)), times=[0.0, 5.0], longest_step=1 / 24)
    for member in range(3):
        alone = weeks(mixed.of(member), start(), times=[0.0, 5.0], longest_step=1 / 24)
        assert np.allclose(course.states[:, :, member], alone.states[:, :, 0], rtol=1e-12)


def test_the_first_step_slows_in_acid_as_the_notes_say():
    ph = np.array([8.5, 7.0, 6.5, 6.0, 5.75, 5.5, 4.0])
    assert first_step_share(ph) == pytest.approx([1, 1, 0.65, 0.3, 0.2, 0.1, 0.1])


def test_the_table_over_alkalinity_follows_the_formula():
    rng = np.random.default_rng(4)
    co2 = np.exp(rng.uniform(np.log(0.6), np.log(60), 50))
    alkalinity = np.exp(rng.uniform(np.log(1e-4), np.log(8), (400, 50)))
    table = ph_factor_of(ACIDITY, co2)
    straight = first_step_share(ACIDITY.ph(alkalinity_meq_l=alkalinity, co2_mg_l=co2))
    assert np.abs(table.at(alkalinity) - straight).max() < 0.003
    # At both ends, too, each member reads its own row.
    ends = np.array([[0.0], [1e9]]) * np.ones(50)
    outer = first_step_share(ACIDITY.ph(alkalinity_meq_l=ends, co2_mg_l=co2))
    assert np.abs(table.at(ends) - outer).max() < 1e-9


def test_one_table_serves_all_with_one_carbon_dioxide_and_some_members_keep_theirs():
    alkalinity = np.geomspace(0.01, 6, 30)
    each = ph_factor_of(ACIDITY, np.array([5.0, 20.0, 60.0]))
    for member, co2 in enumerate((5.0, 20.0, 60.0)):
        alone = ph_factor_of(ACIDITY, co2).at(alkalinity)
        assert np.array_equal(each.at(np.repeat(alkalinity[:, np.newaxis], 3, axis=1))[:, member], alone)
        assert np.array_equal(each.of(member).at(alkalinity), alone)
        beside = each.of(np.array([member, 0])).side_by_side().at(np.tile(alkalinity, (2, 1)))
        assert np.array_equal(beside[0], alone)


def test_acid_leaves_ammonium_longer():
    acid = replace(RATES, ph_factor=ph_factor_of(ACIDITY, 60.0))
    times = [0.0, 14.0]
    sour, plain = (weeks(rates, start(), times=times, longest_step=1 / 24).states[-1] for rates in (acid, RATES))
    tan, grown = ROW["tan_mg_l"], ROW["first_mg_l"]
    assert sour[tan, 0] > 2 * plain[tan, 0] and sour[grown, 0] < plain[grown, 0]


def test_members_side_by_side_in_several_cases_go_the_way_of_one():
    mixed = replace(RATES, soil_per_d=np.array([0.04, 0.25]), ph_factor=ph_factor_of(ACIDITY, np.array([2.0, 50.0])))
    cases = np.stack([start(soil_n_mg=amount) for amount in (0, 400, 900)], axis=2) * np.ones((1, 2, 1))
    course = weeks(mixed.side_by_side(), cases, times=[0.0, 6.0], longest_step=1 / 8)
    for member in range(2):
        for case, amount in enumerate((0, 400, 900)):
            alone = weeks(mixed.of(member), start(soil_n_mg=amount), times=[0.0, 6.0], longest_step=1 / 8)
            assert np.array_equal(course.states[:, :, member, case], alone.states[:, :, 0])


def test_without_bacteria_and_plants_soil_fills_the_water():
    # Closed form: N (1 - exp(-k t)) / V.
    still = replace(RATES, growth_first_per_d=0.0, plant_growth_per_d=0.0, source_mg_l_d=0.0)
    course = weeks(still, start(melt_mg_l=0), times=[0.0, 6.0], longest_step=1 / 24)
    assert course.states[-1, ROW["tan_mg_l"], 0] == pytest.approx(750 * (1 - np.exp(-0.6)) / 170, rel=1e-5)


# Three tanks: new and weakly seeded, mature and loaded, cold with little alkalinity.
CASES = [
    ({"soil_n_mg": 750, "first_mg_l": 0.02, "second_mg_l": 0.01, "alkalinity_meq_l": 1.5}, 0.1, 0.1),
    ({"soil_n_mg": 0, "first_mg_l": 0.5, "second_mg_l": 0.2, "alkalinity_meq_l": 3.0, "tan_mg_l": 2.0}, 0.6, 0.1),
    ({"soil_n_mg": 2000, "first_mg_l": 0.01, "second_mg_l": 0.002, "alkalinity_meq_l": 0.3, "nitrate_mg_l": 5.0}, 0.05, 0.2),
]  # fmt: skip


@pytest.mark.parametrize("co2", [None, 50.0])
@pytest.mark.parametrize(("given_state", "source", "soil_rate"), CASES)
def test_an_independent_model_with_a_stiff_solver_agrees(given_state, source, soil_rate, co2):
    days = [0.0, 1.0, 3.0, 7.0, 10.0, 14.0, 28.0, 42.0]
    changes = [(3.0, 0.5), (7.0, 0.5), (14.0, 0.3), (20.0, 0.5)]
    new = {"nitrate_mg_l": 2.0, "alkalinity_meq_l": 1.2}
    rates = replace(
        RATES, source_mg_l_d=source, soil_per_d=soil_rate, soil_exchange_per_d=0.0, melt_per_d=0.0,
        plant_growth_per_d=0.0, lag_first_d=0.0, lag_second_d=0.0, denitrification_mg_l_d=0.0,
        ph_factor=1.0 if co2 is None else ph_factor_of(ACIDITY, co2),
    )  # fmt: skip
    state = start(**{"melt_mg_l": 0, "plants_g": 0, "soil_capacity_meq": 0, **given_state})
    events = [Event(day, partial(water_change, share=share, new=new)) for day, share in changes]
    ours = weeks(rates, state, times=days, longest_step=1 / 200, events=events).states[:, :, 0]
    names = {"N_soil": "soil_n_mg", "TAN": "tan_mg_l", "NO2": "nitrite_mg_l", "NO3": "nitrate_mg_l"}
    names |= {"X_A": "first_mg_l", "X_N": "second_mg_l", "ALK": "alkalinity_meq_l"}

    def ph(alkalinity):
        return float(ACIDITY.ph(alkalinity_meq_l=np.array(alkalinity), co2_mg_l=np.array(co2)))

    theirs = two_step(
        {
            "muA": 0.95, "muN": 0.85, "bA": 0.12, "bN": 0.12, "KA": 0.6, "KN": 0.5, "KOA": 0.5, "KON": 0.7, "KALK": 0.1,
            "YA": 0.15, "YN": 0.06, "O2": 7.5, "S": source, "k_soil": soil_rate, "V": 170.0,
        },
        {name: float(state[ROW[field], 0]) for name, field in names.items()},
        days,
        [(day, share, {"TAN": 0.0, "NO2": 0.0, "NO3": 2.0, "ALK": 1.2}) for day, share in changes],
        ph=None if co2 is None else ph,
    )  # fmt: skip
    for name, field in names.items():
        peak = max(theirs[name])
        assert ours[:, ROW[field]] == pytest.approx(np.array(theirs[name]), rel=0, abs=1e-4 * peak + 1e-12), name
