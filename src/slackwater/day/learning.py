"""What past jobs of this crew say about an activity's minutes, shrunk to the catalog."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from pydantic import Field

from slackwater.day.activities import Minutes
from slackwater.frozen import Frozen
from slackwater.shrinkage import LogFactor as LogFactor
from slackwater.shrinkage import is_absurd as is_absurd
from slackwater.shrinkage import known_after, starting
from slackwater.shrinkage import updated as updated


class PastJob(Frozen):
    """An activity on a past job: minutes by the catalog for that job's quantity and crew, and as they were."""

    planned_min: float = Field(gt=0)
    actual_min: float = Field(gt=0)
    on: date | None = None


class Learned(Frozen):
    """Minutes of an activity for the next job, from the catalog and from past jobs."""

    jobs: int
    factor: float
    """Median of what this crew takes against the catalog; 1 without jobs."""
    low_min: float
    typical_min: float
    high_min: float


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
    return starting(math.sqrt(math.log1p((mean - span.low) * (span.high - mean) / 7 / mean**2)))


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
        that is theirs; the catalog's lopsidedness, log(high / typical) to log(typical / low), stays. A job far from the
        others is pulled in to them (`shrinkage.pulled_in`).

    Raises
    ------
    ValueError
        If the catalog's minutes have no spread.
    """
    prior = catalog_prior(span)
    known = known_after(prior, log_factors(jobs))
    stretch = known.predictive_sd / prior.predictive_sd
    typical = span.typical * known.factor
    return Learned(
        jobs=len(jobs),
        factor=known.factor,
        low_min=typical * (span.low / span.typical) ** stretch,
        typical_min=typical,
        high_min=typical * (span.high / span.typical) ** stretch,
    )


def log_factors(jobs: Sequence[PastJob]) -> list[float]:
    """log(actual / planned) of each job."""
    return [math.log(job.actual_min / job.planned_min) for job in jobs]
