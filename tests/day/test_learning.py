"""Minutes learned from past jobs: the conjugate update in closed form, by quadrature, and its two limits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2, norm

from slackwater.day.activities import Minutes
from slackwater.day.learning import LogFactor, PastJob, catalog_prior, learned_minutes, updated

PRIOR = LogFactor(mean=0.0, weight=4, freedom=4, variance=0.09)
SPAN = Minutes(20, 30, 80)
logs = st.lists(st.floats(-1, 1), max_size=8)


def test_one_update_worked_by_hand():
    # Two jobs at 0.2 and 0.4: mean 0.3, squares around it 0.02. Weight 4 + 2 = 6, mean 2 x 0.3 / 6 = 0.1,
    # freedom 6, 6 v = 4 x 0.09 + 0.02 + 4 x 2 / 6 x 0.3^2 = 0.36 + 0.02 + 0.12 = 0.5.
    known = updated(PRIOR, [0.2, 0.4])
    assert (known.weight, known.freedom) == (6, 6)
    assert known.mean == pytest.approx(0.1)
    assert known.variance == pytest.approx(0.5 / 6)
    # Student t with 6 degrees: variance 6 / 4 times scale, scale 0.5 / 6 x 7 / 6.
    assert known.predictive_sd**2 == pytest.approx(0.5 / 6 * 7 / 6 * 6 / 4)


def test_the_update_is_what_prior_times_likelihood_gives():
    # The posterior on a grid of mean and log variance, without the conjugate formulas.
    data = [0.25, -0.1, 0.4, 0.3]
    mean = np.linspace(-2, 2, 801)[:, None]
    log_variance = np.linspace(math.log(1e-3), math.log(20), 1201)[None, :]
    variance = np.exp(log_variance)
    # nu s^2 / variance is chi-square; its density in log variance is that of chi-square times the ratio itself.
    ratio = PRIOR.freedom * PRIOR.variance / variance
    density = chi2.pdf(ratio, PRIOR.freedom) * ratio * norm.pdf(mean, PRIOR.mean, np.sqrt(variance / PRIOR.weight))
    for value in data:
        density = density * norm.pdf(value, mean, np.sqrt(variance))
    density = density / density.sum()
    known = updated(PRIOR, data)
    posterior_mean = (density * mean).sum()
    assert known.mean == pytest.approx(posterior_mean, abs=1e-6)
    # Of the next job: its expected variance, and the variance of the mean.
    next_variance = (density * variance).sum() + (density * (mean - posterior_mean) ** 2).sum()
    assert known.predictive_sd**2 == pytest.approx(next_variance, rel=2e-3)


@given(logs, logs)
def test_jobs_count_the_same_one_by_one_and_together(first, second):
    together, by_turns = updated(PRIOR, [*second, *first]), updated(updated(PRIOR, first), second)
    for name in ("mean", "weight", "freedom", "variance"):
        assert getattr(together, name) == pytest.approx(getattr(by_turns, name), abs=1e-12)


def test_without_jobs_the_minutes_are_the_catalogs():
    learned = learned_minutes(SPAN, [])
    assert (learned.jobs, learned.factor) == (0, 1.0)
    assert (learned.low_min, learned.typical_min, learned.high_min) == pytest.approx((20, 30, 80))
    # PERT of 20, 30, 80: mean 220/6, variance (220/6 - 20)(80 - 220/6)/7.
    mean = 220 / 6
    cv2 = (mean - 20) * (80 - mean) / 7 / mean**2
    assert catalog_prior(SPAN).predictive_sd == pytest.approx(math.sqrt(math.log(1 + cv2)))


def test_with_many_jobs_the_minutes_are_theirs():
    # Half of the jobs take e^0.3 and half e^0.5 of the plan: mean log 0.4, spread 0.1.
    jobs = [PastJob(planned_min=50, actual_min=50 * math.exp(log)) for log in (0.3, 0.5)] * 20_000
    learned = learned_minutes(SPAN, jobs)
    assert learned.jobs == 40_000
    assert learned.factor == pytest.approx(math.exp(0.4), rel=1e-3)
    stretch = 0.1 / catalog_prior(SPAN).predictive_sd
    assert learned.high_min / learned.typical_min == pytest.approx((80 / 30) ** stretch, rel=1e-3)
    assert learned.low_min / learned.typical_min == pytest.approx((20 / 30) ** stretch, rel=1e-3)


def test_four_jobs_weigh_as_much_as_the_catalog():
    jobs = [PastJob(planned_min=40, actual_min=40 * math.exp(0.4))] * 4
    assert learned_minutes(SPAN, jobs).factor == pytest.approx(math.exp(0.2))


@given(st.lists(st.tuples(st.floats(1, 200), st.floats(1, 200)), max_size=8))
def test_learned_minutes_run_upwards_and_lie_between_catalog_and_jobs(pairs):
    jobs = [PastJob(planned_min=planned, actual_min=actual) for planned, actual in pairs]
    learned = learned_minutes(SPAN, jobs)
    assert 0 < learned.low_min <= learned.typical_min <= learned.high_min
    factors = [1.0, *(job.actual_min / job.planned_min for job in jobs)]
    assert min(factors) * (1 - 1e-9) <= learned.factor <= max(factors) * (1 + 1e-9)


@pytest.mark.parametrize(
    "span", [Minutes(0, 0, 0), Minutes(30, 30, 30), Minutes(30, 20, 40), Minutes(-5, 20, 40), Minutes(0, 0, 9)]
)
def test_a_catalog_without_spread_teaches_nothing(span):
    with pytest.raises(ValueError, match="must run upwards, with some spread"):
        catalog_prior(span)


@pytest.mark.parametrize("minutes", [(0, 10), (10, 0)])
def test_a_job_of_no_minutes_is_refused(minutes):
    with pytest.raises(ValueError, match="greater than 0"):
        PastJob(planned_min=minutes[0], actual_min=minutes[1])
