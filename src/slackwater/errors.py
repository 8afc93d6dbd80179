"""The errors a user can meet, each with one shape.

SlackwaterError
├── BadInput            something entered cannot be used
│   ├── OutOfRange      a number outside what the model or the source covers
│   └── Contradiction   two entered facts cannot both be true
├── NotFound            a file, a species or a part that is not there
│   └── NoSuchRecord    an id that the record book does not hold
├── Conflict            something is already there and is not overwritten
├── CorruptBook         the record book, or a backup of it, is damaged
└── CannotRun           this machine lacks something the command needs
"""

from __future__ import annotations

import math


class SlackwaterError(Exception):
    """Base of every error that is shown to a user as one plain line."""


class BadInput(SlackwaterError):
    """Something entered cannot be used as it stands."""


class OutOfRange(BadInput):
    """A number lies outside the range that the model or its source covers."""


class Contradiction(BadInput):
    """Two entered facts cannot both be true."""


class NotFound(SlackwaterError):
    """A file, a species or a part was named that is not there."""


class NoSuchRecord(NotFound):
    """The record book holds nothing of this id; whether it ever did, nobody is told."""


class Conflict(SlackwaterError):
    """Something is already there and would be overwritten."""


class CorruptBook(SlackwaterError):
    """The record book, or a backup of it, is damaged; the text names what is, and the next step."""


class CannotRun(SlackwaterError):
    """This machine lacks something that the command needs; the text names the cure."""


def check_range(name: str, value: float, low: float, high: float, *, unit: str) -> None:
    """Refuse a number outside ``low..high``, or one that is not a number.

    Raises
    ------
    OutOfRange
        Naming the field, the value, its unit and the range.
    """
    if math.isnan(value) or not low <= value <= high:
        raise OutOfRange(f"{name} is {value:g} {unit}, expected {low:g} to {high:g} {unit}")
