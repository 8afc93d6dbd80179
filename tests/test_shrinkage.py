"""What past jobs say about a factor: published intervals, limits by hand, and what no single job can do."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.shrinkage import FAR_OUT, LogFactor, is_absurd, known_after, pulled_in, starting

PRIOR = starting(0.2)
LOGS = st.lists(st.floats(-1, 1), max_size=12)


def test_the_mean_of_newcombs_measurements_lies_where_the_book_says():
    # Gelman et al. 2013, section 3.2: 66 measurements, mean 26.2, standard deviation 10.8; with a prior that says nothing the
    # 95 % interval of the mean is 26.2 +- 1.997 x 10.8 / sqrt(66) = [23.6, 28.8].
    known = LogFactor(mean=26.2, weight=66, freedom=65, variance=10.8**2)
    low, high = (math.log(end) for end in known.usual_band(0.95))
    # Half of the last digit printed, of the ends and of what goes into them.
    assert (low, high) == (pytest.approx(23.6, abs=0.1), pytest.approx(28.8, abs=0.1))


def test_the_band_of_the_next_job_is_that_of_students_t():
    # Printed table of Student's t: 2.132 at 4 degrees and 95 %. Scale sqrt(0.09 x (1 + 1/4)).
    known = LogFactor(mean=0.1, weight=4, freedom=4, variance=0.09)
    reach = 2.132 * math.sqrt(0.09 * 1.25)
    low, high = known.next_band()
    assert math.log(low) == pytest.approx(0.1 - reach, abs=5e-4)
    assert math.log(high) == pytest.approx(0.1 + reach, abs=5e-4)
    assert known.factor == pytest.approx(math.exp(0.1))


def test_what_is_known_before_any_job_has_the_spread_that_was_asked_for():
    assert PRIOR.predictive_sd == pytest.approx(0.2)
    assert known_after(PRIOR, []) == PRIOR
    assert pulled_in(PRIOR, []) == ()


def test_one_wild_job_is_pulled_in_to_two_and_a_half_spreads():
    # With four times no factor for the start the median of the five is 0, and so is their median distance from it: the edge is
    # 2.5 x 0.2. The mean is then a fifth of it.
    assert pulled_in(PRIOR, [9.0]) == (pytest.approx(FAR_OUT * 0.2),)
    assert known_after(PRIOR, [9.0]).mean == pytest.approx(0.5 / 5)


def test_jobs_that_agree_are_left_as_they_are_however_far_from_the_plan():
    # Six at 0.8 and four at 0: median 0.8, distances six times 0 and four times 0.8, their median 0: edge 0.8 +- 0.5.
    assert pulled_in(PRIOR, [0.8] * 6) == (0.8,) * 6
    # Two at 0.8: the median is 0, so these two are far out.
    assert pulled_in(PRIOR, [0.8] * 2) == (pytest.approx(0.5),) * 2


@given(LOGS, st.floats(-50, 50))
def test_one_absurd_job_moves_the_next_plan_no_further_than_a_far_one(logs, absurd):
    # Among jobs whose factors lie within e and 1/e, whatever one more job says: the edge is at most 2.5 x 1.4826 x 2 from them.
    before, after = known_after(PRIOR, logs), known_after(PRIOR, [*logs, absurd])
    edge = 1 + FAR_OUT * max(0.2, 1.4826 * 2)
    assert abs(after.mean - before.mean) <= (edge + 1) * (1 + len(logs)) / (5 + len(logs))
    calm = known_after(PRIOR, [0.0] * 8 + [absurd])
    assert abs(calm.mean) <= FAR_OUT * 0.2 / 13 + 1e-12


@given(LOGS.filter(len), st.randoms(use_true_random=False))
def test_the_order_of_jobs_does_not_matter(logs, random):
    mixed = list(logs)
    random.shuffle(mixed)
    one, other = known_after(PRIOR, logs), known_after(PRIOR, mixed)
    assert (one.mean, one.variance) == (pytest.approx(other.mean, abs=1e-12), pytest.approx(other.variance, abs=1e-12))


def test_many_jobs_are_believed():
    known = known_after(PRIOR, [0.25, 0.35] * 5000)
    assert known.mean == pytest.approx(0.3, abs=1e-3)
    assert known.predictive_sd == pytest.approx(0.05, rel=0.01)


@pytest.mark.parametrize(
    ("actual", "planned", "slip"),
    [(1, 180, True), (1200, 180, True), (36, 180, True), (37, 180, False), (899, 180, False), (900, 180, True)],
)
def test_a_minute_for_three_hours_and_twenty_hours_for_three_are_slips(actual, planned, slip):
    assert is_absurd(actual, planned) is slip
