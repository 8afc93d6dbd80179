"""Water tests over time: a drawing with one strip for each reading, and the same as a table."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from html import escape

from slackwater.paper.described import FigureTable
from slackwater.paper.figures import FONT
from slackwater.units import UnitSystem, show
from slackwater.wording.render import say

WIDTH, LEFT, ROOM = 720, 60, 620
"""Of the drawing, of the numbers on its left, and of the time [px]."""
HEAD, HIGH, STRIP = 26, 90, 152
"""Of a strip: its title, its drawing, all of it [px]."""


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


def tests_svg(tested: Sequence[Tested], *, say: Callable[[str], str] = str) -> str:
    """One strip below the other with the same dates, a dot for each test; scales do not begin at zero.

    Written here and not by the drawer of the papers' charts: that holds up the whole process for half a second, and this
    is drawn while pages are asked for.

    Parameters
    ----------
    say : callable
        Puts dates and numbers into the reader's form.
    """
    first = min(reading.at[0] for reading in tested)
    last = max(reading.at[-1] for reading in tested)
    seconds = max((last - first).total_seconds(), 1.0)
    height = STRIP * len(tested)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{height}" viewBox="0 0 {WIDTH} {height}">'
        f'<rect width="{WIDTH}" height="{height}" fill="white"/><g font-family="{FONT}" font-size="12">'
    ]
    for number, reading in enumerate(tested):
        across = [LEFT + ROOM * (at - first).total_seconds() / seconds for at in reading.at]
        parts += _strip(reading, STRIP * number, across, first, seconds, say)
    return "".join([*parts, "</g></svg>"])


def _strip(
    reading: Tested,
    top: int,
    across: Sequence[float],
    first: datetime,
    seconds: float,
    say: Callable[[str], str],
) -> list[str]:
    # The number in the reader's unit is taken from what is printed, so that drawing and table never differ.
    numbers = [float(reading.told(value).partition(" ")[0]) for value in reading.values]
    unit = reading.told(reading.values[0]).partition(" ")[2]
    ticks = ticks_between(min(numbers), max(numbers))
    bottom, span = top + HEAD + HIGH, ticks[-1] - ticks[0]

    def down(value: float) -> float:
        return bottom - HIGH * (value - ticks[0]) / span

    title = f"{reading.name}, {unit}" if unit else reading.name
    parts = [f'<text x="0" y="{top + 14}" font-size="13" font-weight="bold">{escape(title)}</text>']
    for tick in ticks:
        y = f"{down(tick):.1f}"
        parts.append(f'<path d="M{LEFT} {y}H{LEFT + ROOM}" stroke="#dddddd"/>')
        parts.append(f'<text x="{LEFT - 8}" y="{down(tick) + 4:.1f}" text-anchor="end">{say(f"{tick:g}")}</text>')
    said = ""
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        x, day = f"{LEFT + ROOM * share:.1f}", first + timedelta(seconds=seconds * share)
        parts.append(f'<path d="M{x} {top + HEAD}V{bottom}" stroke="#dddddd"/>')
        said, before = say(f"{day:%d %b %Y}"), said
        if said != before:
            parts.append(f'<text x="{x}" y="{bottom + 16}" text-anchor="middle">{said}</text>')
    dots = [f"{x:.1f},{down(number):.1f}" for x, number in zip(across, numbers, strict=True)]
    parts.append(f'<polyline points="{" ".join(dots)}" fill="none" stroke="black" stroke-width="2"/>')
    for dot in dots:
        x, _, y = dot.partition(",")
        parts.append(f'<circle cx="{x}" cy="{y}" r="3.5"/>')
    return parts


def ticks_between(low: float, high: float) -> list[float]:
    """Round numbers from at most `low` to at least `high`, 1, 2 or 5 times a power of ten apart: three to six of them.

    >>> ticks_between(20, 23), ticks_between(7.05, 7.4), ticks_between(4, 4)
    ([20.0, 21.0, 22.0, 23.0], [7.0, 7.1, 7.2, 7.3, 7.4], [3.0, 3.5, 4.0, 4.5, 5.0])
    """
    if high <= low:
        low, high = low - max(abs(low), 1.0) / 4, low + max(abs(low), 1.0) / 4
    rough = (high - low) / 4
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * times for times in (1, 2, 5, 10) if power * times >= rough * 0.999)
    start, end = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(number * step, 12) for number in range(start, max(end, start + 2) + 1)]


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
