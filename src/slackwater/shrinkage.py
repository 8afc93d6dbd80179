"""What past jobs say about a factor, shrunk to what was believed before: the mean and the spread of its logarithm.

A factor is what was taken against what was planned. One job counts for little and forty for nearly everything; a slip of
the pen among them is pulled in to the edge of what the others allow, so that it cannot decide alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median

from pydantic import Field

from slackwater.frozen import Frozen

PRIOR_JOBS = 4.0
"""How many jobs of its own the starting value counts for, in mean, spread and median; common practice, no source."""
FAR_OUT = 2.5
"""A log factor further than so many spreads from the middle is pulled in to there: Leys et al. (2013), Journal of
Experimental Social Psychology 49(4), 764-766 (from memory), who propose 2.5 for the distance from the median."""
MAD_TO_SD = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation; Leys et al. (2013)."""
ABSURD_FACTOR = 5.0
"""So many times as much as planned, or as little, is a slip of the pen and no job; common practice, no source."""
EVEN_ODDS = 0.5


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

    @property
    def factor(self) -> float:
        """Median of the next job's factor."""
        return math.exp(self.mean)

    def next_band(self, share: float = 0.9) -> tuple[float, float]:
        """The middle `share` of the next job's factor, of a Student t with `freedom`."""
        return self._band(math.sqrt(self.variance * (1 + 1 / self.weight)), share)

    def usual_band(self, share: float = 0.9) -> tuple[float, float]:
        """The middle `share` of what is believed of the factor that such jobs have in the long run."""
        return self._band(math.sqrt(self.variance / self.weight), share)

    def _band(self, scale: float, share: float) -> tuple[float, float]:
        # Loaded here: only what shows a band needs it, and it is large.
        from scipy.special import stdtrit

        reach = float(stdtrit(self.freedom, EVEN_ODDS + share / 2)) * scale
        return math.exp(self.mean - reach), math.exp(self.mean + reach)


def starting(spread: float) -> LogFactor:
    """What is known before any job: no factor, and a standard deviation of the next job's log factor.

    Parameters
    ----------
    spread : float
        [above 0]
    """
    return LogFactor(
        mean=0.0,
        weight=PRIOR_JOBS,
        freedom=PRIOR_JOBS,
        variance=spread**2 / (1 + 1 / PRIOR_JOBS) * (PRIOR_JOBS - 2) / PRIOR_JOBS,
    )


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


def pulled_in(prior: LogFactor, log_factors: Sequence[float]) -> tuple[float, ...]:
    """The log factors with those far out moved to the edge of what the others and the starting value allow.

    The edge lies `FAR_OUT` spreads from the median. In the median the starting value counts as `PRIOR_JOBS` jobs without a
    factor, as it does in the mean; the spread is the larger of its own and of the median absolute deviation. So fewer than
    half of jobs and starting value together, however wild, cannot move the rest without bound.

    References
    ----------
    Leys, Ley, Klein, Bernard and Licata (2013), Journal of Experimental Social Psychology 49(4), 764-766 (from memory).
    """
    if not log_factors:
        return ()
    together = [*log_factors, *[prior.mean] * round(PRIOR_JOBS)]
    middle = median(together)
    spread = max(prior.predictive_sd, MAD_TO_SD * median(abs(value - middle) for value in together))
    low, high = middle - FAR_OUT * spread, middle + FAR_OUT * spread
    return tuple(min(high, max(low, value)) for value in log_factors)


def known_after(prior: LogFactor, log_factors: Sequence[float]) -> LogFactor:
    """What is known after some jobs of which single ones may be slips: `updated` with what `pulled_in` leaves of them."""
    return updated(prior, pulled_in(prior, log_factors))


def is_absurd(actual: float, planned: float) -> bool:
    """Whether an entry is a slip of the pen rather than a job; both above 0, in one unit."""
    return not planned / ABSURD_FACTOR < actual < planned * ABSURD_FACTOR
