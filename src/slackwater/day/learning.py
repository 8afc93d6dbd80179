"""What past jobs of this crew say about an activity's minutes, shrunk to the catalog."""

from __future__ import annotations

import math
from collections.abc import Sequence

from pydantic import Field

from slackwater.day.activities import Minutes
from slackwater.frozen import Frozen

PRIOR_JOBS = 4.0
"""How many jobs of its own the catalog counts for, in the mean and in the spread; common practice, no source."""


class PastJob(Frozen):
    """An activity on a past job: minutes by the catalog for that job's quantity and crew, and as they were."""

    planned_min: float = Field(gt=0)
    actual_min: float = Field(gt=0)


class LogFactor(Frozen):
    """What is known of log(actual / planned): normal, with mean and variance themselves uncertain.

    The variance is scaled inverse chi-square with `freedom` and scale `variance`, the mean given the variance is
    normal around `mean` with variance / `weight`.
    """

    mean: float
    weight: float = Field(gt=0)
    freedom: float = Field(gt=2)
    variance: float = Field(gt=0)

    @property
    def predictive_sd(self) -> float:
        """Standard deviation of the next job's log factor, of a Student t with `freedom`."""
        return math.sqrt(self.variance * (1 + 1 / self.weight) * self.freedom / (self.freedom - 2))


class Learned(Frozen):
    """Minutes of an activity for the next job, from the catalog and from past jobs."""

    jobs: int
    factor: float
    """Median of what this crew takes against the catalog; 1 without jobs."""
    low_min: float
    typical_min: float
    high_min: float


def updated(prior: LogFactor, log_factors: Sequence[float]) -> LogFactor:
    """What is known after some more jobs.

    Parameters
    ----------
    prior : LogFactor
        What was known before.
    log_factors : sequence of float
        log(actual / planned) of each job; their order does not matter.

    References
    ----------
    Gelman, Carlin, Stern, Dunson, Vehtari and Rubin (2013), Bayesian Data Analysis, 3rd edition, section 3.3.
    """
    count = len(log_factors)
    if not count:
        return prior
    mean = math.fsum(log_factors) / count
    around = math.fsum((value - mean) ** 2 for value in log_factors)
    weight = prior.weight + count
    freedom = prior.freedom + count
    apart = prior.weight * count / weight * (mean - prior.mean) ** 2
    return LogFactor(
        mean=(prior.weight * prior.mean + count * mean) / weight,
        weight=weight,
        freedom=freedom,
        variance=(prior.freedom * prior.variance + around + apart) / freedom,
    )


def catalog_prior(span: Minutes) -> LogFactor:
    """What the catalog says before any job: no factor, and the spread of its three points.

    Parameters
    ----------
    span : Minutes
        Three points [min] with low below high, none below zero, typical above it.

    Raises
    ------
    ValueError
        If the three points have no spread: a catalog that is certain learns nothing.

    Notes
    -----
    The next job's log factor gets the variance of a lognormal with the PERT distribution's mean m and variance v,
    log(1 + v / m^2), where v = (m - low)(high - m) / 7.
    """
    if not 0 <= span.low <= span.typical <= span.high or span.low == span.high or span.typical == 0:
        raise ValueError(f"minutes {span.low}, {span.typical}, {span.high} must run upwards, with some spread")
    mean = span.expected
    spread = math.log1p((mean - span.low) * (span.high - mean) / 7 / mean**2)
    return LogFactor(
        mean=0.0,
        weight=PRIOR_JOBS,
        freedom=PRIOR_JOBS,
        variance=spread / (1 + 1 / PRIOR_JOBS) * (PRIOR_JOBS - 2) / PRIOR_JOBS,
    )


def learned_minutes(span: Minutes, jobs: Sequence[PastJob]) -> Learned:
    """Three-point minutes of the next job.

    Parameters
    ----------
    span : Minutes
        The catalog's, for the next job's quantity [min].
    jobs : sequence of PastJob
        Past jobs of this activity by this crew. Their planned minutes are the catalog's, not those learned before:
        otherwise what was learned counts twice.

    Returns
    -------
    Learned
        Without jobs the catalog's minutes. With many, typical minutes by the mean log factor of the jobs and a spread
        that is theirs; the catalog's lopsidedness, log(high / typical) to log(typical / low), stays.

    Raises
    ------
    ValueError
        If the catalog's minutes have no spread.
    """
    prior = catalog_prior(span)
    known = updated(prior, [math.log(job.actual_min / job.planned_min) for job in jobs])
    factor = math.exp(known.mean)
    stretch = known.predictive_sd / prior.predictive_sd
    typical = span.typical * factor
    return Learned(
        jobs=len(jobs),
        factor=factor,
        low_min=typical * (span.low / span.typical) ** stretch,
        typical_min=typical,
        high_min=typical * (span.high / span.typical) ** stretch,
    )
