"""Water tests over time: a drawing with one strip for each reading, and the same as a table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from slackwater.paper.described import FigureTable
from slackwater.paper.figures import Spec, config
from slackwater.units import UnitSystem, show
from slackwater.wording.render import say


@dataclass(frozen=True)
class Tested:
    """One reading over time.

    Attributes
    ----------
    name : str
        As people call it.
    unit : str
        As printed, of `values`.
    units : {"metric", "us"}
        What the reader asked for.
    at : tuple of datetime
        Local time, rising.
    values : tuple of float
    """

    name: str
    unit: str
    units: UnitSystem
    at: tuple[datetime, ...]
    values: tuple[float, ...]

    def told(self, value: float) -> str:
        """A value with its unit."""
        return show(value, self.unit, self.units)

    @property
    def spread(self) -> str:
        """From the lowest to the highest."""
        return say(
            "records.test.spread",
            {"name": self.name, "low": self.told(min(self.values)), "high": self.told(max(self.values))},
        )


def tests_chart(tested: Sequence[Tested]) -> Spec:
    """One strip below the other with the same dates, a dot for each test; scales do not begin at zero."""
    first = min(reading.at[0] for reading in tested).isoformat()
    last = max(reading.at[-1] for reading in tested).isoformat()
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "config": config(),
        "vconcat": [_strip(reading, first, last) for reading in tested],
    }


def _strip(reading: Tested, first: str, last: str) -> dict[str, Any]:
    # The number in the reader's unit is taken from what is printed, so that drawing and table never differ.
    numbers = [reading.told(value).partition(" ")[0] for value in reading.values]
    unit = reading.told(reading.values[0]).partition(" ")[2]
    axis = {"format": "%d %b %y", "title": None, "labelOverlap": True, "tickCount": 8}
    return {
        "width": 620,
        "height": 90,
        "title": {"text": f"{reading.name}, {unit}" if unit else reading.name, "anchor": "start", "fontSize": 13},
        "data": {
            "values": [
                {"at": at.isoformat(), "value": float(number)} for at, number in zip(reading.at, numbers, strict=True)
            ]
        },
        "mark": {"type": "line", "color": "black", "point": {"color": "black", "size": 40}},
        "encoding": {
            "x": {"field": "at", "type": "temporal", "axis": axis, "scale": {"domain": [first, last]}},
            "y": {"field": "value", "type": "quantitative", "title": None, "scale": {"zero": False}},
        },
    }


def tests_table(tested: Sequence[Tested]) -> FigureTable:
    """The drawing in words, and every value of it: one row for each moment of testing, the newest first."""
    moments = sorted({at for reading in tested for at in reading.at}, reverse=True)
    known = [dict(zip(reading.at, reading.values, strict=True)) for reading in tested]
    return FigureTable(
        file="water-tests.svg",
        title=say("records.test.figure", {}),
        description=say("records.test.figure_help", {"spreads": "; ".join(reading.spread for reading in tested)}),
        columns=(say("records.test.when", {}), *(reading.name for reading in tested)),
        rows=tuple(
            (
                f"{at:%d %b %Y %H:%M}",
                *(
                    reading.told(values[at]) if at in values else ""
                    for reading, values in zip(tested, known, strict=True)
                ),
            )
            for at in moments
        ),
    )
