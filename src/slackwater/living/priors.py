"""The frozen priors: every uncertain number of life, from one table with its source, and draws from them."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from math import log

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import ndtri
from scipy.stats import beta

FloatArray = NDArray[np.float64]
NINETY = 1.6448536269514722
"""Standard deviations from the middle to the 5 and 95 % ends of a normal."""


@dataclass(frozen=True)
class Prior:
    """One uncertain number: median with its 5 and 95 % ends.

    Attributes
    ----------
    form : str
        ``lognormal`` (spread from the ratio of the ends, about the median), ``normal`` (spread from their difference)
        or ``beta`` (a share, fitted to the three).
    """

    id: str
    quantity: str
    unit: str
    low: float
    median: float
    high: float
    form: str
    source: str
    source_kind: str

    def draws(self, uniform: FloatArray) -> FloatArray:
        """Values for evenly drawn numbers between 0 and 1, so that one stream serves every form."""
        if self.form == "beta":
            a, b = _beta_shape(self.low, self.median, self.high)
            return np.asarray(beta.ppf(uniform, a, b))
        z = ndtri(uniform)
        if self.form == "normal":
            return np.asarray(self.median + z * (self.high - self.low) / (2 * NINETY))
        return np.asarray(self.median * np.exp(z * log(self.high / self.low) / (2 * NINETY)))


@cache
def _beta_shape(low: float, median: float, high: float) -> tuple[float, float]:
    """Shape of a beta distribution whose 5, 50 and 95 % points lie nearest to the three."""

    def off(shape: FloatArray) -> FloatArray:
        a, b = np.exp(shape)
        off_by: FloatArray = np.asarray(beta.ppf(np.array([0.05, 0.5, 0.95]), a, b), dtype=float)
        off_by = off_by - np.array([low, median, high])
        return off_by

    a, b = np.exp(least_squares(off, np.log([2.0, 2.0])).x)
    return float(a), float(b)


@cache
def priors() -> Mapping[str, Prior]:
    """All priors by id."""
    text = files("slackwater.living").joinpath("priors.csv").read_text(encoding="utf-8")
    found: dict[str, Prior] = {}
    for row in csv.DictReader(text.splitlines()):
        found[row["id"]] = Prior(
            id=row["id"],
            quantity=row["quantity"],
            unit=row["unit"],
            low=float(row["low"]),
            median=float(row["median"]),
            high=float(row["high"]),
            form=row["form"],
            source=row["source"],
            source_kind=row["source_kind"],
        )
    return found


def median(name: str) -> float:
    """The median of one prior."""
    return priors()[name].median


def ensemble(names: tuple[str, ...], *, members: int, rng: np.random.Generator) -> dict[str, FloatArray]:
    """Independent draws of some priors, member by member, evenly spread over each (Latin hypercube).

    Notes
    -----
    Each prior's range is cut into as many parts of equal weight as there are members, one draw in each, in random order:
    fewer members then tell as much as many more plain ones.
    """
    found: dict[str, FloatArray] = {}
    for name in names:
        strata = (rng.permutation(members) + rng.uniform(0, 1, members)) / members
        found[name] = priors()[name].draws(np.clip(strata, 1e-9, 1 - 1e-9))
    return found
