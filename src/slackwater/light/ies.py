"""Reads a lamp's measured intensity by direction from the open text format of ANSI/IES LM-63 (1986 to 2019)."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import BadInput

Floats = NDArray[np.float64]
MOST_NUMBERS = 500_000
FEET_M = 0.3048


@dataclass(frozen=True, eq=False)
class Photometry:
    """Intensity by direction, as the file tells it (type C: angles from straight down, and around the vertical).

    Attributes
    ----------
    down_deg : array
        Rising angles from straight down.
    around_deg : array
        Rising angles about the vertical; which part of the circle they span tells the symmetry.
    candela : array
        [around, down].
    length_m, width_m : float
        Of the face that shines: along the direction of 0° and across it.
    watts : float
        As measured; 0 where not told.
    name : str
        Of the lamp, where told.
    """

    down_deg: Floats
    around_deg: Floats
    candela: Floats
    length_m: float = 0.0
    width_m: float = 0.0
    watts: float = 0.0
    name: str = ""

    def at(self, down_deg: Floats, around_deg: Floats) -> Floats:
        """Intensity in directions [cd], straight between the measured ones, by the file's symmetry; 0 beyond what was measured."""
        down, around = np.broadcast_arrays(np.asarray(down_deg, dtype=float), np.asarray(around_deg, dtype=float) % 360)
        last, first = float(self.around_deg[-1]), float(self.around_deg[0])
        if len(self.around_deg) == 1:
            turn = np.full(around.shape, first)
        elif last == 90:
            turn = np.abs((around + 90) % 180 - 90)
        elif first == 90:
            # Symmetric about the plane of 90 and 270 degrees.
            turn = np.where(around < 90, 180 - around, around)
            turn = np.where(turn > 270, 540 - turn, turn)
        elif last == 180:
            turn = np.minimum(around, 360 - around)
        else:
            turn = around
        rows, columns = len(self.around_deg), len(self.down_deg)
        i = np.clip(np.searchsorted(self.around_deg, turn, side="right") - 1, 0, max(rows - 2, 0))
        j = np.clip(np.searchsorted(self.down_deg, down, side="right") - 1, 0, columns - 2)
        k = np.minimum(i + 1, rows - 1)
        wide = np.maximum(self.around_deg[k] - self.around_deg[i], 1e-9)
        a = np.clip((turn - self.around_deg[i]) / wide, 0, 1)
        b = np.clip((down - self.down_deg[j]) / (self.down_deg[j + 1] - self.down_deg[j]), 0, 1)
        c = self.candela
        found = (1 - a) * ((1 - b) * c[i, j] + b * c[i, j + 1]) + a * ((1 - b) * c[k, j] + b * c[k, j + 1])
        beyond = (down > self.down_deg[-1] + 1e-9) | (down < self.down_deg[0] - 1e-9)
        return np.asarray(np.where(beyond, 0.0, found))

    @property
    def lumens(self) -> float:
        """All the light it gives [lm]: intensity over the whole sphere, in rings of half a degree."""
        edges = np.radians(np.linspace(0, 180, 361))
        middle: Floats = np.asarray(np.degrees((edges[1:] + edges[:-1]) / 2), dtype=np.float64)
        around: Floats = np.asarray((np.arange(144) + 0.5) * 2.5, dtype=np.float64)
        rings = self.at(middle[:, None], around[None, :]).mean(axis=1)
        return float((rings * 2 * pi * (np.cos(edges[:-1]) - np.cos(edges[1:]))).sum())


def read_ies(text: str, *, name: str) -> Photometry:
    """Read a file.

    Parameters
    ----------
    text : str
        Its content.
    name : str
        What the file is called, for messages.

    Raises
    ------
    BadInput
        Naming the line, what stands there, what was expected and what to do.

    References
    ----------
    ANSI/IES LM-63-19, Approved method: IES standard file format for the electronic transfer of photometric data.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    start = next((n for n, line in enumerate(lines) if re.match(r"\s*TILT\s*=", line, re.IGNORECASE)), None)
    if start is None:
        raise BadInput(
            f"{name}: no line begins with TILT=, so this is no IES file; ask the maker of the lamp for one (LM-63)"
        )
    tilt = lines[start].partition("=")[2].strip().upper()
    if tilt not in ("NONE", "INCLUDE"):
        raise BadInput(
            f"{name}, line {start + 1}: TILT={tilt or '(nothing)'} points to a second file; ask for a file with TILT=NONE"
        )
    numbers = _Numbers(lines, start + 1, name)
    if tilt == "INCLUDE":
        # How a discharge lamp dims when turned; ours hangs as it was measured.
        numbers.take(1, "position of the lamp")
        pairs = numbers.count("number of tilt angles", 1, 1000)
        numbers.take(2 * pairs, "tilt angles and factors")
    lamps, _lumens, multiplier = numbers.take(3, "number of lamps, lumens, multiplier")
    downs = numbers.count("number of vertical angles", 2, 2000)
    arounds = numbers.count("number of horizontal angles", 1, 2000)
    kind, unit = numbers.count("photometric type", 1, 3), numbers.count("type of unit", 1, 2)
    width, length, _height = numbers.take(3, "width, length and height of the face")
    ballast, _future, watts = numbers.take(3, "ballast factor, future use, input watts")
    if kind != 1:
        raise BadInput(
            f"{name}: the lamp was measured as type {'ABC'[3 - kind]}, expected type C; ask for a file of type C"
        )
    if lamps < 1 or multiplier <= 0 or ballast <= 0:
        raise BadInput(f"{name}: number of lamps, multiplier and ballast factor must be above 0; ask for another file")
    down = numbers.rising(downs, "vertical angle", 0, 180)
    around = numbers.rising(arounds, "horizontal angle", 0, 360)
    candela = numbers.take(downs * arounds, "intensity").reshape(arounds, downs)
    numbers.end()
    if around[0] not in (0, 90) or (arounds > 1 and around[-1] not in (90, 180, 270, 360)):
        raise BadInput(
            f"{name}: horizontal angles run from {around[0]:g} to {around[-1]:g}, expected 0 to 0, 90, 180 or 360; "
            "part of the circle was not measured, ask for another file"
        )
    if candela.min() < 0:
        raise BadInput(f"{name}: an intensity is below 0; the file is damaged, ask for another")
    if candela.max() <= 0:
        raise BadInput(f"{name}: all intensities are 0; the lamp was measured switched off, ask for another file")
    metres = FEET_M if unit == 1 else 1.0
    found = Photometry(
        down_deg=down,
        around_deg=around,
        candela=candela * multiplier * ballast,
        length_m=abs(length) * metres,
        width_m=abs(width) * metres,
        watts=float(watts),
        name=_keyword(lines[:start], "LUMINAIRE") or _keyword(lines[:start], "LUMCAT"),
    )
    if found.lumens <= 0:
        raise BadInput(f"{name}: the intensities give no light in any direction; ask for another file")
    return found


def _keyword(lines: list[str], key: str) -> str:
    found = next((line for line in lines if line.strip().upper().startswith(f"[{key}]")), "")
    return found.partition("]")[2].strip()


class _Numbers:
    """The numbers of a file one after another, each with the line it stands on."""

    def __init__(self, lines: list[str], first: int, name: str) -> None:
        self._name, self._at = name, 0
        self._words: list[tuple[str, int]] = []
        for number, line in enumerate(lines[first:], start=first + 1):
            self._words += [(word, number) for word in re.split(r"[\s,]+", line.strip()) if word]
            if len(self._words) > MOST_NUMBERS:
                raise BadInput(f"{name}: more than {MOST_NUMBERS:,} numbers; a lamp's file has some thousands")

    def take(self, count: int, what: str) -> Floats:
        """The next numbers."""
        found = np.empty(count)
        if self._at + count > len(self._words):
            raise BadInput(
                f"{self._name}: the file ends within '{what}': {len(self._words) - self._at} numbers where {count} "
                "were expected; it is cut off, copy it again"
            )
        for n in range(count):
            word, line = self._words[self._at + n]
            try:
                found[n] = float(word)
            except ValueError as error:
                raise BadInput(
                    f'{self._name}, line {line}: "{word[:30]}" is not a number, expected {what}; ask for another file'
                ) from error
            if not np.isfinite(found[n]):
                raise BadInput(f"{self._name}, line {line}: {what} is not finite; ask for another file")
        self._at += count
        return found

    def count(self, what: str, low: int, high: int) -> int:
        """The next number as a whole one in a range."""
        found = float(self.take(1, what)[0])
        if found != int(found) or not low <= found <= high:
            line = self._words[self._at - 1][1]
            raise BadInput(
                f"{self._name}, line {line}: {what} is {found:g}, expected {low} to {high}; ask for another file"
            )
        return int(found)

    def rising(self, count: int, what: str, low: float, high: float) -> Floats:
        """The next angles."""
        found = self.take(count, what)
        if found[0] < low or found[-1] > high or (np.diff(found) <= 0).any():
            raise BadInput(
                f"{self._name}: each {what} must be above the one before it, from {low:g} to {high:g}; "
                "the file is damaged, copy it again"
            )
        return found

    def end(self) -> None:
        """Nothing may follow but what is no number of ours."""
        if self._at < len(self._words):
            line = self._words[self._at][1]
            raise BadInput(
                f"{self._name}, line {line}: {len(self._words) - self._at} numbers more than its angles ask for; "
                "the file is damaged, copy it again"
            )
