"""What the plan has to say: findings by id, their severity, and the verdict derived from them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum

from slackwater.frozen import Frozen


class Severity(StrEnum):
    """How much a finding weighs, from light to heavy."""

    NOTE = "note"
    """Worth knowing; changes nothing."""
    CONDITION = "condition"
    """The plan holds only if this is done or agreed."""
    MISSING = "missing"
    """A fact is missing, so a part of the plan cannot be computed."""
    MISFIT = "misfit"
    """The plan as booked does not fit; there may be a repair."""
    REFUSE = "refuse"
    """The job must not be taken as it stands."""


class Remedy(Frozen):
    """One thing that would make a finding go away.

    Attributes
    ----------
    id : str
        Id of its sentence in the wording catalog.
    values : mapping
        Numbers and names that the sentence needs.
    """

    id: str
    values: Mapping[str, float | str] = {}


class Finding(Frozen):
    """One statement about the job; its sentence is rendered at the edge from the wording catalog.

    Attributes
    ----------
    id : str
        Dotted name, room first: ``day.ends_late``. One sentence per id in the catalog.
    severity : Severity
        Weight in the verdict.
    values : mapping
        Numbers (unit in the name) and names that the sentence needs.
    margin : float or None
        How far from the limit: positive is room left, negative is the shortfall.
    margin_unit : str
        Unit of `margin`.
    remedies : tuple of Remedy
        What would fix it, smallest first.
    about : str
        The thing it is about when several of one kind are possible (a species id, a barrel, a fact's key path).
    """

    id: str
    severity: Severity
    values: Mapping[str, float | str] = {}
    margin: float | None = None
    margin_unit: str = ""
    remedies: tuple[Remedy, ...] = ()
    about: str = ""


class Verdict(StrEnum):
    """Exactly one of these is the answer of a plan."""

    FITS = "fits"
    FITS_IF = "fits with conditions"
    DOES_NOT_FIT = "does not fit"
    CANNOT_SAY = "cannot say"
    DO_NOT_TAKE = "do not take"


def verdict(findings: Iterable[Finding]) -> Verdict:
    """Derive the verdict: the heaviest finding decides.

    A refusal outweighs everything. A misfit outweighs a missing fact, because it stays true whatever the
    fact turns out to be; a missing fact outweighs a condition.
    """
    seen = {finding.severity for finding in findings}
    if Severity.REFUSE in seen:
        return Verdict.DO_NOT_TAKE
    if Severity.MISFIT in seen:
        return Verdict.DOES_NOT_FIT
    if Severity.MISSING in seen:
        return Verdict.CANNOT_SAY
    if Severity.CONDITION in seen:
        return Verdict.FITS_IF
    return Verdict.FITS
