"""A number that a user sees, with what is needed to ask it "why?"."""

from __future__ import annotations

from collections.abc import Mapping

from slackwater.frozen import Frozen


class Figure(Frozen):
    """A value with its unit, its band, and where it comes from.

    Attributes
    ----------
    id : str
        Dotted name, room first: ``water.new_water_l``.
    value : float
        Best estimate, in `unit`.
    unit : str
        Unit as printed in metric, e.g. ``L``, ``kg``, ``kN/m2``, ``min``; ``""`` for none.
    low, high : float or None
        5 and 95 % ends of the band, where one is known.
    formula : str
        The formula in words or symbols.
    source : str
        Author, year and place, or ``common practice, no source``.
    inputs : mapping of str to float or str
        The inputs with the unit in the name.
    """

    id: str
    value: float
    unit: str
    low: float | None = None
    high: float | None = None
    formula: str
    source: str
    inputs: Mapping[str, float | str] = {}


class Assumption(Frozen):
    """A default that was used because the job file does not say.

    Attributes
    ----------
    field : str
        Key path in the job file that would replace the default.
    value : str
        What was taken, with its unit.
    source : str
        Where the default comes from.
    """

    field: str
    value: str
    source: str
