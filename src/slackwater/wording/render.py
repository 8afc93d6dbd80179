"""From ids and values to sentences, in the reader's language and units.

The texts are TOML tables under ``wording/<language>/``, one file a room. Inside a sentence ``{need_l:L}`` shows the
value ``need_l``, which is in litres, with its unit in the reader's system, ``{need_l:about L}`` to no more digits than a reckoned figure bears; ``{closing:in ten}`` a probability as "about 3 days in 10"; ``{name}`` shows a text or a bare number.
"""

from __future__ import annotations

import string
import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from slackwater.finding import Finding, Remedy, Verdict
from slackwater.units import UnitSystem, digits, show, show_about


@cache
def sentences(language: str = "en") -> Mapping[str, str | list[str]]:
    """All sentences of a language by dotted id.

    Raises
    ------
    FileNotFoundError
        If there is no such language.
    """
    found: dict[str, str | list[str]] = {}
    for file in sorted(files("slackwater.wording").joinpath(language).iterdir(), key=lambda item: item.name):
        if file.name.endswith(".toml"):
            _flatten(tomllib.loads(file.read_text(encoding="utf-8")), "", found)
    return found


def _flatten(table: Mapping[str, Any], prefix: str, into: dict[str, str | list[str]]) -> None:
    for key, value in table.items():
        if isinstance(value, dict):
            _flatten(value, f"{prefix}{key}.", into)
        else:
            into[f"{prefix}{key}"] = value


class _Filler(string.Formatter):
    def __init__(self, system: UnitSystem) -> None:
        super().__init__()
        self.system = system

    def format_field(self, value: Any, format_spec: str) -> str:
        if isinstance(value, bool) or not isinstance(value, int | float):
            return str(value)
        if not format_spec:
            return digits(value)
        if format_spec == "whole":
            return f"{value:.0f}"
        if format_spec == "in ten":
            return in_ten(value)
        if format_spec.startswith("about "):
            return show_about(value, format_spec.removeprefix("about "), self.system)
        return show(value, format_spec, self.system)


def say(
    sentence_id: str, values: Mapping[str, float | str], system: UnitSystem = "metric", language: str = "en"
) -> str:
    """One sentence of the catalog, filled in.

    Raises
    ------
    KeyError
        If the id or one of its values is missing: a defect that the tests look for.
    """
    text = str(sentences(language)[sentence_id])
    # Most have nothing to fill in, and a page has hundreds.
    return _Filler(system).vformat(text, (), dict(values)) if "{" in text or "}" in text else text


def in_ten(share: float, language: str = "en") -> str:
    """A probability as people say it: so many days in ten, and no finer than that between its two ends.

    Parameters
    ----------
    share : float
        [0..1]

    Examples
    --------
    >>> in_ten(0.31), in_ten(0.97)
    ('about 3 days in 10', 'at least 19 days in 20')
    """
    if share < 0.05:
        return str(sentences(language)["chance.rare"])
    if share > 0.95:
        return str(sentences(language)["chance.sure"])
    tenths = min(9, round(10 * share))
    return say("chance.tenths" if tenths > 1 else "chance.tenth", {"tenths": tenths}, language=language)


def verdict_sentence(verdict: Verdict, findings: Sequence[Finding], language: str = "en") -> str:
    """What the plan answers; of a day that fits, beside it that on most days it would not, where that is so."""
    text = say(f"verdict.{verdict}", {}, language=language)
    odds = next((finding for finding in findings if finding.id == "day.odds"), None)
    closing = 1.0 if odds is None else float(odds.values["closing"])
    if verdict in (Verdict.FITS, Verdict.FITS_IF) and closing < 0.5:
        text = f"{text} {say('verdict.rarely', {'closing': closing}, language=language)}"
    return text


def sentence_list(list_id: str, language: str = "en") -> list[str]:
    """A list of fixed sentences, such as the cautions of a phase; empty where there is none."""
    found = sentences(language).get(list_id, [])
    return list(found) if isinstance(found, list) else [found]


def finding_sentence(finding: Finding, system: UnitSystem = "metric", language: str = "en") -> str:
    """What a finding says. Sentence id: ``finding.<finding id>``."""
    known = sentences(language)
    # A value may name another sentence, filled with the same values: the way of going on that a reading is compared with.
    values = {
        name: say(value[1:], finding.values, system, language)
        if isinstance(value, str) and value.startswith("@") and value[1:] in known
        else value
        for name, value in finding.values.items()
    }
    text = say(f"finding.{finding.id}", values, system, language)
    return text[:1].upper() + text[1:]


def remedy_sentence(remedy: Remedy, system: UnitSystem = "metric", language: str = "en") -> str:
    """What a remedy asks for. Sentence id: ``remedy.<remedy id>``."""
    return say(f"remedy.{remedy.id}", remedy.values, system, language)
