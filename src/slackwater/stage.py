"""What one room of the pipeline hands on: its result, or the facts it lacks; its figures, findings and defaults."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Generic, TypeVar

from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding

T = TypeVar("T")


@dataclass(frozen=True)
class Stage(Generic[T]):
    """A room's outcome.

    Attributes
    ----------
    result : T or None
        None when facts are missing; `lacks` then names them.
    figures, findings, assumed : tuples
        All figures shown to the user, all findings, all defaults used.
    lacks : tuple of str
        Key paths of the job file without which the result cannot be computed.
    """

    result: T | None
    figures: tuple[Figure, ...] = field(default=())
    findings: tuple[Finding, ...] = field(default=())
    assumed: tuple[Assumption, ...] = field(default=())
    lacks: tuple[str, ...] = field(default=())
