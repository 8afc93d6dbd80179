"""Members that fit the tank as it was: the closed form of a settled filter, and who is left out."""

from __future__ import annotations

import numpy as np
import pytest

from slackwater.living.nitrogen import ROW, Rates, rate_of
from slackwater.living.restart import drawn_parameters
from slackwater.living.settled import fitting, left_by_filter_mg_l

ONE = {
    "activation_first_kj_mol": 68.0,
    "activation_second_kj_mol": 44.0,
    "decay_per_d": 0.1,
    "growth_first_per_d": 0.9,
    "growth_second_per_d": 0.6,
    "half_tan_mg_l": 0.6,
    "half_nitrite_mg_l": 0.5,
    "half_oxygen_first_mg_l": 1e-9,
    "half_oxygen_second_mg_l": 1e-9,
    "half_alkalinity_meq_l": 1e-9,
}


def test_a_settled_filter_leaves_what_the_closed_form_says():
    # At 20 C and with everything else plenty: 0.6 x 0.1 / (0.9 - 0.1) = 0.075, 0.5 x 0.1 / (0.6 - 0.1) = 0.1.
    one = {name: np.array([value]) for name, value in ONE.items()}
    tan, nitrite = left_by_filter_mg_l(one, temp_c=20, oxygen_mg_l=8, alkalinity_meq_l=2, ph_factor=1.0)
    assert (tan[0], nitrite[0]) == pytest.approx((0.075, 0.1))
    halved, _ = left_by_filter_mg_l(one, temp_c=20, oxygen_mg_l=8, alkalinity_meq_l=2, ph_factor=0.5)
    assert halved[0] == pytest.approx(0.6 * 0.1 / (0.45 - 0.1))


def test_bacteria_neither_grow_nor_shrink_there():
    one = {name: np.array([value]) for name, value in ONE.items()}
    tan, nitrite = left_by_filter_mg_l(one, temp_c=20, oxygen_mg_l=8, alkalinity_meq_l=2, ph_factor=1.0)
    rates = Rates(
        growth_first_per_d=0.9, growth_second_per_d=0.6, decay_first_per_d=0.1, decay_second_per_d=0.1,
        half_tan_mg_l=0.6, half_nitrite_mg_l=0.5, half_oxygen_first_mg_l=1e-9, half_oxygen_second_mg_l=1e-9,
        half_alkalinity_meq_l=1e-9, yield_first=0.15, yield_second=0.06, oxygen_mg_l=8.0,
    )  # fmt: skip
    state = np.zeros((len(ROW), 1))
    for name, value in {
        "tan_mg_l": tan[0],
        "nitrite_mg_l": nitrite[0],
        "first_mg_l": 1.0,
        "second_mg_l": 0.4,
        "alkalinity_meq_l": 2.0,
    }.items():
        state[ROW[name]] = value
    change = rate_of(rates)(5.0, state)
    assert change[ROW["first_mg_l"], 0] == pytest.approx(0, abs=1e-7)
    assert change[ROW["second_mg_l"], 0] == pytest.approx(0, abs=1e-7)


def test_bacteria_that_never_outgrow_their_decay_leave_no_end():
    one = {name: np.array([value]) for name, value in (ONE | {"growth_first_per_d": 0.05}).items()}
    tan, _ = left_by_filter_mg_l(one, temp_c=20, oxygen_mg_l=8, alkalinity_meq_l=2, ph_factor=1.0)
    assert tan[0] == np.inf


def test_members_that_contradict_the_readings_are_left_out_and_no_others():
    drawn = {"a": np.arange(6.0)}
    left = (np.array([0.01, 0.5, 0.02, 0.03, np.inf, 0.04]), np.array([0.01, 0.01, 0.5, 0.02, 0.01, 0.03]))
    chosen, share = fitting(drawn, left, wanted=3, tan_mg_l=0.0, nitrite_mg_l=0.0)
    # By 0.15 and 0.03 that a test may miss: the second, third and fifth contradict.
    assert list(chosen["a"]) == [0, 3, 5] and share == pytest.approx(0.5)
    untested, share = fitting(drawn, left, wanted=3, tan_mg_l=None, nitrite_mg_l=None)
    assert list(untested["a"]) == [0, 1, 2] and share == 1.0


def test_where_too_few_fit_the_nearest_make_up_the_number():
    drawn = {"a": np.arange(3.0)}
    left = (np.array([0.9, 0.01, 0.2]), np.zeros(3))
    chosen, _ = fitting(drawn, left, wanted=2, tan_mg_l=0.0, nitrite_mg_l=0.0)
    assert list(chosen["a"]) == [1, 2]


def test_the_priors_themselves_hold_members_that_fit_a_clean_tank():
    many = drawn_parameters(4000, np.random.default_rng(1))
    left = left_by_filter_mg_l(many, temp_c=25, oxygen_mg_l=7.5, alkalinity_meq_l=2, ph_factor=1.0)
    _, share = fitting(many, left, wanted=500, tan_mg_l=0.05, nitrite_mg_l=0.01)
    assert share > 0.125  # enough to fill the ensemble from eight draws for each member
