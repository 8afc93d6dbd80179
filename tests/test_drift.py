"""The rank test for a trend against worked examples, and what holds for any values."""

from __future__ import annotations

import math
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.drift import LEAST_JOBS, kendall_s, trend_of, z_of

# J. Little, College of the Holy Cross: "A Mann-Kendall Example ('By Hand')".
BY_HAND = (12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11.0, 17.3, 15.9, 19.0, 18.3, 20.1, 21.7)
# Hollander and Wolfe, Nonparametric Statistical Methods, table of canned tuna: lightness and panel score. With the scores in the
# order of the lightness, the number of concordant pairs is 26 and the chance one-sided 0.05972 (from memory of the manual of R).
LIGHTNESS = (44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1)
SCORE = (2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8)
SERIES = st.lists(st.floats(-5, 5), min_size=LEAST_JOBS, max_size=12)


def test_the_example_worked_by_hand():
    found = trend_of(BY_HAND)
    assert found.s == 54
    # 18 V = 14 x 13 x 33 - 2 x 1 x 9, Z = 53 / sqrt(V) = 2.9058; one-sided .0018.
    assert z_of(54, 14, [2]) == pytest.approx(2.9058, abs=5e-5)
    assert found.chance == pytest.approx(2 * 0.0018, abs=1e-4)
    assert found.moves


def test_the_exact_chance_without_ties():
    scores = [score for _, score in sorted(zip(LIGHTNESS, SCORE, strict=True))]
    # 26 pairs rise, 10 fall.
    assert kendall_s(scores) == 16
    assert trend_of(scores).chance == pytest.approx(2 * 0.05972, abs=2e-5)
    assert not trend_of(scores).moves


def test_every_order_of_five_values_is_counted():
    for order in permutations(range(5)):
        found = trend_of(order)
        as_large = sum(abs(kendall_s(other)) >= abs(found.s) for other in permutations(range(5)))
        assert found.chance == pytest.approx(as_large / 120)


def test_four_jobs_say_nothing_and_five_that_rise_steadily_do():
    assert trend_of([1.0, 2.0, 3.0, 4.0]).chance is None and not trend_of([1.0, 2.0, 3.0, 4.0]).moves
    found = trend_of([0.1, 0.3, 0.5, 0.7, 0.9])
    assert found.chance == pytest.approx(2 / math.factorial(5))
    assert found.slope == pytest.approx(0.2) and found.moves
    assert trend_of([]).s == 0 and trend_of([1.0]).slope is None


def test_one_wild_job_does_not_turn_the_slope():
    assert trend_of([0.0, 0.1, 0.2, 0.3, 9.0, 0.5, 0.6, 0.7]).slope == pytest.approx(0.1, abs=1e-9)


def test_equal_values_have_no_trend():
    found = trend_of([1.0] * 8)
    assert (found.s, found.chance, found.slope) == (0, 1.0, 0.0)


@given(SERIES)
def test_backwards_the_trend_is_the_other_way_and_as_likely(values):
    one, other = trend_of(values), trend_of(values[::-1])
    assert one.s == -other.s
    assert one.chance == pytest.approx(other.chance) and 0 < one.chance <= 1
    assert one.slope == pytest.approx(-other.slope, abs=1e-12)
