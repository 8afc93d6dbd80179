"""From ids and values to sentences, in the reader's language and units.

The English texts are TOML tables under ``wording/en/``, one file a room; other languages have a gettext catalog for each
of them (`slackwater.wording.catalogs`). Inside a sentence ``{need_l:L}`` shows the
value ``need_l``, which is in litres, with its unit in the reader's system, ``{need_l:about L}`` to no more digits than a reckoned figure bears; ``{closing:in ten}`` a probability as "about 3 days in 10"; ``{name}`` shows a text or a bare number.
"""

from __future__ import annotations

import re
import string
import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from slackwater.finding import Finding, Remedy, Verdict
from slackwater.reader import ENGLISH, SOURCE_LANGUAGE, Reader, Typed, UnitSystem, reader_of
from slackwater.units import digits, show, show_about
from slackwater.wording.catalogs import counted, term, translated

Sentences = Mapping[str, str | list[str]]


@cache
def sentences() -> Sentences:
    """All English sentences by dotted id."""
    return {name: text for group in sentence_files().values() for name, text in group.items()}


@cache
def sentence_files() -> Mapping[str, Sentences]:
    """The same by the file in which they stand, without its ending."""
    found: dict[str, Sentences] = {}
    for file in sorted(files("slackwater.wording").joinpath("en").iterdir(), key=lambda item: item.name):
        if file.name.endswith(".toml"):
            group: dict[str, str | list[str]] = {}
            _flatten(tomllib.loads(file.read_text(encoding="utf-8")), "", group)
            found[file.name.removesuffix(".toml")] = group
    return found


def _flatten(table: Mapping[str, Any], prefix: str, into: dict[str, str | list[str]]) -> None:
    for key, value in table.items():
        if isinstance(value, dict):
            _flatten(value, f"{prefix}{key}.", into)
        else:
            into[f"{prefix}{key}"] = value


class _Filler(string.Formatter):
    def __init__(self, reader: Reader) -> None:
        super().__init__()
        self.reader = reader

    def format_field(self, value: Any, format_spec: str) -> str:
        if isinstance(value, str):
            return named(value, self.reader)
        if isinstance(value, bool) or not isinstance(value, int | float):
            return str(value)
        if not format_spec:
            return digits(value)
        if format_spec == "whole":
            return f"{value:.0f}"
        if format_spec == "in ten":
            return in_ten(value, self.reader)
        if format_spec.startswith("about "):
            return show_about(value, format_spec.removeprefix("about "), self.reader)
        return show(value, format_spec, self.reader)


_JOINTS = (re.compile(r"(; |: | \(|\))"), re.compile(r"(, )"), re.compile(r"( and | or | to | against | of )"))
"""What parts pieces, from the strongest; a piece that is known whole is not parted further."""
_AMOUNT = re.compile(
    r"(?P<name>[^,;]+?)(?: (?P<over>\d+) min over|(?P<amount> \d[\d.]* (?:W|kg|g|L|cm)))|(?P<times>\d+ x )(?P<what>.+)"
)
_WORD = re.compile(r"[^\W\d_]{3}(?! \d\d:\d\d)")
"""Letters enough to be a word, and not the day before a time."""


def named(text: str, reader: Reader) -> str:
    """Words of the trade, alone, with an amount, or several of them in a row, in the reader's language; else as it is.

    A row may be a list, a range or words in brackets. What joins two pieces is a word too, and is translated only beside
    a piece that is: a name that somebody typed stays whole.

    Examples
    --------
    >>> named("oak, moss and my own thing", ENGLISH)
    'oak, moss and my own thing'
    """
    if reader.language == SOURCE_LANGUAGE or isinstance(text, Typed):
        return text
    return _named(text, reader, _JOINTS)


def _named(text: str, reader: Reader, joints: Sequence[re.Pattern[str]]) -> str:
    found = _piece(text, reader)
    pieces = joints[0].split(text) if joints else [text]
    if found != text or not joints:
        return found
    told = [_named(piece, reader, joints[1:]) for piece in pieces[::2]]
    ours = [one != piece or not _WORD.search(piece) for one, piece in zip(told, pieces[::2], strict=True)]
    joined = told[:1]
    for number, joint in enumerate(pieces[1::2]):
        joined += [term(joint, reader) if ours[number] or ours[number + 1] else joint, told[number + 1]]
    return "".join(joined)


def _piece(text: str, reader: Reader) -> str:
    found = term(text, reader)
    amount = None if found != text else _AMOUNT.fullmatch(text)
    if amount is None:
        return found
    if amount["times"]:
        return f"{amount['times']}{term(amount['what'], reader)}"
    if amount["over"]:
        return f"{term(amount['name'], reader)} {say('sheet.day.over', {'min': amount['over']}, reader)}"
    return f"{term(amount['name'], reader)}{amount['amount']}"


def say(sentence_id: str, values: Mapping[str, float | str], system: Reader | UnitSystem = ENGLISH) -> str:
    """One sentence of the catalog, filled in.

    Raises
    ------
    KeyError
        If the id or one of its values is missing: a defect that the tests look for.
    """
    reader = reader_of(system)
    text = translated(sentence_id, str(sentences()[sentence_id]), reader)
    # Most have nothing to fill in, and a page has hundreds.
    return _Filler(reader).vformat(text, (), dict(values)) if "{" in text or "}" in text else text


def between(low: str, high: str, reader: Reader) -> str:
    """From one end to the other."""
    return say("sheet.range", {"low": low, "high": high}, reader)


def say_count(what: str, count: float, reader: Reader) -> str:
    """So many of something, in the form that the reader's language has for this number.

    Parameters
    ----------
    what : str
        Part of two ids, ``count.<what>_one`` and ``count.<what>_many``; together they are one message of the catalogs.
    """
    one, many = (str(sentences()[f"count.{what}_{form}"]) for form in ("one", "many"))
    text = counted(f"count.{what}", one, many, count, reader)
    return _Filler(reader).vformat(text, (), {"count": digits(count)})


def in_ten(share: float, reader: Reader = ENGLISH) -> str:
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
        return say("chance.rare", {}, reader)
    if share > 0.95:
        return say("chance.sure", {}, reader)
    tenths = min(9, round(10 * share))
    return say("chance.tenths" if tenths > 1 else "chance.tenth", {"tenths": tenths}, reader)


def verdict_sentence(verdict: Verdict, findings: Sequence[Finding], reader: Reader = ENGLISH) -> str:
    """What the plan answers; of a day that fits, beside it that on most days it would not, where that is so."""
    text = say(f"verdict.{verdict}", {}, reader)
    odds = next((finding for finding in findings if finding.id == "day.odds"), None)
    closing = 1.0 if odds is None else float(odds.values["closing"])
    if verdict in (Verdict.FITS, Verdict.FITS_IF) and closing < 0.5:
        text = f"{text} {say('verdict.rarely', {'closing': closing}, reader)}"
    return text


def sentence_list(list_id: str, reader: Reader = ENGLISH) -> list[str]:
    """A list of fixed sentences, such as the cautions of a phase; empty where there is none."""
    found = sentences().get(list_id, [])
    if not isinstance(found, list):
        return [translated(list_id, found, reader)]
    return [translated(f"{list_id}[{number}]", text, reader) for number, text in enumerate(found)]


def finding_sentence(finding: Finding, system: Reader | UnitSystem = ENGLISH) -> str:
    """What a finding says. Sentence id: ``finding.<finding id>``."""
    known = sentences()
    # A value may name another sentence, filled with the same values: the way of going on that a reading is compared with.
    values = {
        name: say(value[1:], finding.values, system)
        if isinstance(value, str) and value.startswith("@") and value[1:] in known
        else value
        for name, value in finding.values.items()
    }
    text = say(f"finding.{finding.id}", values, system)
    return text[:1].upper() + text[1:]


def remedy_sentence(remedy: Remedy, system: Reader | UnitSystem = ENGLISH) -> str:
    """What a remedy asks for. Sentence id: ``remedy.<remedy id>``."""
    return say(f"remedy.{remedy.id}", remedy.values, system)
