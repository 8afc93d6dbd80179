"""The integrator, the priors, and what can be said in closed form about filter, peroxide, catching and boxes."""

from __future__ import annotations

from math import exp, inf, log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from slackwater.errors import BadInput, OutOfRange
from slackwater.living.box import cooled_c, hours_to_drift, oxygen_mg_l
from slackwater.living.canister import hours_to_oxygen, remaining_share
from slackwater.living.catching import minutes_to_share, removal, two_passes
from slackwater.living.machine import Event, simulate
from slackwater.living.peroxide import half_life_h, hours_to_mg_l, residual_mg_l
from slackwater.living.priors import ensemble, median, priors
from slackwater.living.respiration import excited, fish_resting_oxygen_mg_h


def swing(_time, state):
    return np.stack([state[1], -state[0]])


def error_of(step):
    course = simulate(swing, np.array([[1.0], [0.0]]), times=[0.0, 2.0], longest_step=step)
    return abs(course.states[-1, 0, 0] - np.cos(2.0))


def test_the_error_falls_with_the_square_of_the_step():
    orders = [np.log2(error_of(step) / error_of(step / 2)) for step in (0.1, 0.05, 0.025)]
    assert min(orders) > 1.9 and max(orders) < 2.1


def test_a_stiff_decay_stays_stable_at_a_step_far_beyond_its_time():
    # 1000 per hour at steps of a tenth: an explicit method would blow up.
    def rate(_time, state):
        return -1000 * (state - 2.0)

    def relax(_time, _state, scaled):
        def solve(right):
            right /= 1 + 1000 * scaled
            return right

        return solve

    course = simulate(rate, np.array([[9.0]]), times=[0.0, 1.0, 5.0], longest_step=0.1, relax=relax)
    assert abs(course.states[1, 0, 0] - 2.0) < 0.1 and course.states[2, 0, 0] == pytest.approx(2.0, abs=1e-9)


def test_many_equal_members_go_the_way_of_one():
    one = simulate(swing, np.array([[1.0], [0.0]]), times=[0.0, 1.0, 2.0], longest_step=0.1)
    many = simulate(swing, np.tile([[1.0], [0.0]], (1, 7)), times=[0.0, 1.0, 2.0], longest_step=0.1)
    assert np.array_equal(many.states, np.repeat(one.states, 7, axis=2))


@given(st.floats(0.1, 0.9), st.floats(0.2, 1.8))
def test_an_event_happens_at_its_time_whatever_the_step(share, when):
    def decay(_time, state):
        return -0.5 * state

    course = simulate(
        decay,
        np.array([[8.0]]),
        times=[0.0, when, 2.0],
        longest_step=0.01,
        events=[Event(when, lambda state: state * (1 - share))],
    )
    assert course.states[1, 0, 0] == pytest.approx(8 * exp(-0.5 * when) * (1 - share), rel=1e-5)
    assert course.states[2, 0, 0] == pytest.approx(8 * exp(-0.5 * 2) * (1 - share), rel=1e-5)


def test_events_at_one_time_keep_their_order_and_the_start_is_left_alone():
    start = np.array([[1.0]])
    course = simulate(
        lambda _t, s: 0 * s,
        start,
        times=[0.0, 1.0],
        longest_step=0.5,
        events=[Event(1.0, lambda s: s + 1), Event(1.0, lambda s: s * 10), Event(0.0, lambda s: s * 3)],
    )
    assert course.states[:, 0, 0].tolist() == [3.0, 40.0] and start[0, 0] == 1.0


def test_times_that_do_not_rise_are_refused():
    with pytest.raises(OutOfRange, match="rise"):
        simulate(swing, np.ones((2, 1)), times=[0.0, 0.0], longest_step=0.1)
    with pytest.raises(OutOfRange, match="longest_step"):
        simulate(swing, np.ones((2, 1)), times=[0.0, 1.0], longest_step=0)


@pytest.mark.parametrize("name", sorted(priors()))
def test_draws_of_a_prior_have_its_three_points(name):
    prior = priors()[name]
    assert prior.low < prior.median < prior.high and prior.source and prior.source_kind in ("published", "from memory")
    drawn = prior.draws(np.array([0.05, 0.5, 0.95]))
    assert drawn[1] == pytest.approx(prior.median, rel=0.12 if prior.form == "beta" else 1e-9)
    if prior.form == "lognormal":
        # The spread is that of the two ends; a median that is not their mean leaves them a little off.
        assert drawn[2] / drawn[0] == pytest.approx(prior.high / prior.low, rel=1e-6)
    assert np.all(np.diff(drawn) > 0)


def test_an_ensemble_is_spread_evenly_and_the_same_for_a_seed():
    first = ensemble(("soil_rate_per_d", "surviving_share"), members=1000, rng=np.random.default_rng(4))
    again = ensemble(("soil_rate_per_d", "surviving_share"), members=1000, rng=np.random.default_rng(4))
    assert np.array_equal(first["soil_rate_per_d"], again["soil_rate_per_d"])
    assert np.median(first["soil_rate_per_d"]) == pytest.approx(median("soil_rate_per_d"), rel=0.01)
    assert np.all((first["surviving_share"] > 0) & (first["surviving_share"] < 1))
    assert abs(np.corrcoef(first["soil_rate_per_d"], first["surviving_share"])[0, 1]) < 0.1


@given(st.floats(1, 9), st.floats(0.05, 0.9), st.floats(1, 60), st.floats(0.05, 1))
def test_oxygen_in_a_shut_canister_follows_its_rate_equation(start, share, uptake, half):
    end = share * start
    hours = hours_to_oxygen(start_mg_l=start, end_mg_l=end, uptake_mg_l_h=uptake, half_mg_l=half)
    solved = solve_ivp(lambda _t, c: -uptake * c / (half + c), (0, hours), [start], rtol=1e-9, atol=1e-12)
    assert solved.y[0, -1] == pytest.approx(end, rel=1e-5)


def test_a_mature_canister_is_out_of_oxygen_in_about_half_an_hour():
    # Common practice; with the medians of the frozen priors, from 7.5 to 0.5 mg/L.
    hours = hours_to_oxygen(
        start_mg_l=7.5,
        end_mg_l=0.5,
        uptake_mg_l_h=median("canister_uptake_mature_mg_l_h"),
        half_mg_l=median("canister_half_mg_l"),
    )
    assert 20 <= 60 * hours <= 45
    with pytest.raises(OutOfRange, match="end_mg_l"):
        hours_to_oxygen(start_mg_l=5, end_mg_l=0, uptake_mg_l_h=1, half_mg_l=0.3)


def test_hours_without_oxygen_do_not_kill_a_filter():
    # Manser et al. (2006): decay without oxygen is negligible over a day.
    assert remaining_share(decay_per_d=median("activity_loss_anaerobic_per_d"), days=0.5) > 0.98


@given(st.floats(1, 300), st.floats(0.01, 3), st.floats(0.1, 20))
def test_peroxide_falls_to_its_goal_in_the_time_told(start, decay, goal):
    hours = hours_to_mg_l(start_mg_l=start, goal_mg_l=goal, decay_per_h=decay)
    left = residual_mg_l(start_mg_l=start, decay_per_h=decay, hours=hours)
    assert left == pytest.approx(min(start, goal), rel=1e-9)
    assert residual_mg_l(start_mg_l=start, decay_per_h=decay, hours=half_life_h(decay_per_h=decay)) == pytest.approx(
        start / 2
    )


def test_about_twenty_minutes_halve_peroxide_on_dirty_wet_surfaces():
    assert 10 <= median("peroxide_half_life_wet_min") <= 25  # common practice


# Worked figures of the trade (notes 2b), by Zippin's likelihood.
def test_worked_figures_of_removal_passes():
    shrimp = removal([46, 29, 20])
    assert shrimp.total == pytest.approx(128, abs=1)
    assert shrimp.low == pytest.approx(106, abs=3) and shrimp.high == pytest.approx(217, abs=12)
    assert two_passes(46, 29) == pytest.approx(124.5, abs=0.5)
    few = removal([5, 3, 1])
    assert few.total == pytest.approx(9, abs=1) and few.low == pytest.approx(9, abs=0.5)
    assert few.high == pytest.approx(22, abs=3)


@given(st.lists(st.integers(0, 200), min_size=2, max_size=6))
def test_never_fewer_than_were_caught(counts):
    found = removal(counts)
    assert found.caught == sum(counts) <= found.total
    assert found.low <= found.total <= found.high


def test_counts_that_do_not_fall_tell_no_upper_end():
    assert removal([10, 12, 15]).high == inf
    assert two_passes(5, 7) == inf
    with pytest.raises(BadInput, match="two passes"):
        removal([5])


def test_minutes_until_nine_tenths_of_the_rest_are_caught():
    estimate = removal([46, 29, 20])
    minutes = minutes_to_share(estimate, share=0.9, minutes_per_pass=12)
    assert minutes == pytest.approx(12 * log(0.1) / log(1 - estimate.chance))
    assert minutes_to_share(removal([0, 0]), share=0.9, minutes_per_pass=12) is None


@given(st.floats(2, 9), st.floats(0, 5), st.floats(1, 60), st.floats(5, 100), st.floats(0.1, 6))
def test_a_box_of_constant_respiration_has_its_closed_form(start, transfer, use, litres, hours):
    def rate(_time, state):
        return transfer * (8.3 - state) - use / litres

    course = simulate(rate, np.array([[start]]), times=[0.0, hours], longest_step=0.002)
    closed = oxygen_mg_l(
        start_mg_l=start, saturation_mg_l=8.3, transfer_per_h=transfer, use_mg_h=use, volume_l=litres, hours=hours
    )
    assert course.states[-1, 0, 0] == pytest.approx(closed, abs=1e-4)


def test_worked_figures_of_cooling_boxes():
    # Trade notes 2b: 22 L with lid, 1.6 W/K, 25 C in a room of 19 C: 23.1 C after 6 h; 30 L insulated, 0.5 W/K: 24.5 C.
    assert cooled_c(start_c=25, room_c=19, loss_w_per_k=1.6, water_kg=22, hours=6) == pytest.approx(23.1, abs=0.1)
    assert cooled_c(start_c=25, room_c=19, loss_w_per_k=0.5, water_kg=30, hours=6) == pytest.approx(24.5, abs=0.1)


@given(st.floats(0.1, 200), st.floats(15, 30))
def test_warmer_and_larger_fish_use_more_oxygen(mass, temp):
    here = fish_resting_oxygen_mg_h(mass_g=mass, temp_c=temp)
    assert fish_resting_oxygen_mg_h(mass_g=mass, temp_c=temp + 1) > here
    assert here < fish_resting_oxygen_mg_h(mass_g=2 * mass, temp_c=temp) < 2 * here


def test_stress_falls_from_capture_to_routine():
    assert excited(hours=0, routine=1.5, capture=2.5, decay_h=2) == 2.5
    assert excited(hours=2, routine=1.5, capture=2.5, decay_h=2) == pytest.approx(1.5 + exp(-1))
    assert excited(hours=100, routine=1.5, capture=2.5, decay_h=2) == pytest.approx(1.5)


def test_a_box_without_heater_drifts_as_newton_says():
    # 24 C in a room of 8 C: 2 of 16 K are gone after ln(16/14) time constants, here of 22 x 4.18 / (3.6 x 1.6) = 15.97 h.
    hours = hours_to_drift(start_c=24, room_c=8, loss_w_per_k=1.6, water_kg=22, drift_k=2)
    assert hours == pytest.approx(2.13, abs=0.005)
    assert hours_to_drift(start_c=24, room_c=40, loss_w_per_k=1.6, water_kg=22, drift_k=2) == pytest.approx(hours)
    assert hours_to_drift(start_c=24, room_c=22.5, loss_w_per_k=1.6, water_kg=22, drift_k=2) == np.inf


@given(st.floats(5, 35), st.floats(5, 35), st.floats(0.1, 5), st.floats(2, 100))
def test_drifting_is_cooling_turned_round(start, room, loss, litres):
    hours = hours_to_drift(start_c=start, room_c=room, loss_w_per_k=loss, water_kg=litres, drift_k=2)
    if hours < np.inf:
        then = cooled_c(start_c=start, room_c=room, loss_w_per_k=loss, water_kg=litres, hours=hours)
        assert abs(then - start) == pytest.approx(2, abs=1e-6)
