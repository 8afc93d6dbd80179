"""What an answer that cannot be used as it was typed would be: readings to take by one touch, none of them taken by itself."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from slackwater.errors import BadInput
from slackwater.job.catalog import Catalog
from slackwater.job.fields import split_reading
from slackwater.job.form import MANY, THOUSAND_OR_DECIMAL, Kind, Question, number_in
from slackwater.job.model import Price
from slackwater.job.text import value_at
from slackwater.job.zones import near_zones
from slackwater.reader import currencies
from slackwater.units import UnitSystem, example_of, read_quantity

_NUMBER = r"[+-]?\d+(?:[.,]\d+)?"
_BARE = re.compile(rf"(?:(?:<|below)\s*)?{_NUMBER}(?:\s*(?:±|\+-|\+/-)\s*{_NUMBER})?")
_AMOUNT = re.compile(r"([^\d+-]*)([+-]?\d(?:[\d.,' \u00a0\u202f]*\d)?)(\D*)")
_SIGNS: Mapping[str, str] = {"€": "eur", "$": "usd", "£": "gbp", "fr": "chf", "sfr": "chf", "zł": "pln", "¥": "jpy"}
"""Signs of currencies and their codes in ISO 4217."""
_ALSO_IN: Mapping[str, tuple[str, ...]] = {"days": ("days", "weeks"), "minutes": ("min", "h")}
"""Kinds of quantity for which a bare number is as often meant in one unit as in another."""


@dataclass(frozen=True)
class Meaning:
    """One reading: what its button says, and the whole answer with it."""

    label: str
    text: str


# ---------------------------------------------------------------- money


def currency_of(plain: Mapping[str, Any]) -> str:
    """The currency in which a job's amounts are told."""
    told = value_at(plain, ("price", "currency"))
    return told if isinstance(told, str) and told else Price().currency


def amount_in(text: str, currency: str) -> str:
    """An amount without the sign of the job's own currency; with another sign the text as it was.

    Examples
    --------
    >>> amount_in("cr 6.20", "cr"), amount_in("6,20 €", "EUR"), amount_in("$ 6.20", "EUR")
    ('6.20', '6,20', '$ 6.20')
    """
    match = _AMOUNT.fullmatch(text.strip())
    if match is None:
        return text
    words = {_currency(word) for word in (match[1], match[3])} - {""}
    return match[2] if words <= {_currency(currency)} else text


def _currency(word: str) -> str:
    plain = word.strip(" .\u00a0\u202f").lower()
    return _SIGNS.get(plain, plain)


# ---------------------------------------------------------------- readings


def meanings(
    question: Question, text: str, *, catalog: Catalog, currency: str, units: UnitSystem
) -> tuple[Meaning, ...]:
    """What an answer that was refused may mean, each within the range of its question.

    Parameters
    ----------
    text : str
        As typed.
    currency : str
        In which the job's amounts are told.
    units : {"metric", "us"}
        In which the reader is shown examples.

    Examples
    --------
    >>> from slackwater.job.catalog import load_catalog
    >>> from slackwater.job.form import question_at
    >>> length = question_at(("tank", "length"))
    >>> [one.text for one in meanings(length, "120", catalog=load_catalog(), currency="cr", units="metric")]
    ['120 cm']
    """
    if question.table:
        return tuple(_near_rows(question, text, catalog))
    if question.key == "site.time_zone":
        return tuple(Meaning(zone, zone) for zone in near_zones(text))
    if question.key == "price.currency":
        code = _currency(text).upper()
        return (Meaning(code, code),) if code in currencies() else ()
    if question.kind is Kind.QUANTITIES:
        return tuple(_each_with_unit(question, text, units))
    if question.kind in MANY:
        return ()
    if question.quantity:
        found = [one for told in _decimals(text) for one in _with_unit(question, told, units)]
        return tuple(Meaning(one, one) for one in dict.fromkeys(found))
    if question.kind in (Kind.NUMBER, Kind.SHARE, Kind.WHOLE, Kind.MONEY):
        return tuple(_numbers(question, text, currency))
    return ()


def _near_rows(question: Question, text: str, catalog: Catalog) -> Iterator[Meaning]:
    if not question.table or question.kind is Kind.NAMED_QUANTITIES:
        return
    lines = text.split("\n")
    names = catalog.names(question.table)
    for at, line in enumerate(lines):
        if line.strip() and catalog.id_of(line, question.table) is None:
            for row in catalog.near(line, question.table):
                name = row if question.table == "activities" else names[row]
                label = ", ".join(part for part in (names[row], catalog.scientific_name(row, question.table)) if part)
                yield Meaning(label, "\n".join([*lines[:at], name, *lines[at + 1 :]]))


def _decimals(text: str) -> tuple[str, ...]:
    """A text, or both of its readings where a comma in it could be a thousand or a decimal."""
    head = re.match(_NUMBER, text.strip())
    if head is None or not THOUSAND_OR_DECIMAL.fullmatch(head[0]):
        return (text.strip(),)
    return tuple(text.strip().replace(",", instead, 1) for instead in ("", "."))


def _with_unit(question: Question, text: str, units: UnitSystem) -> Iterator[str]:
    """A quantity as it stands, or a bare number with the unit of the example, where that lies in the range."""
    unit = example_of(question.quantity, units, question.such_as).partition(" ")[2]
    told = [f"{text} {one}" for one in _ALSO_IN.get(question.quantity, (unit,))] if _BARE.fullmatch(text) else [text]
    return (one for one in told if _can_be(question, one))


def _can_be(question: Question, text: str) -> bool:
    try:
        value = split_reading(text, question.quantity)[0] if question.kind is Kind.READING else text
        return question.bounds.hold(read_quantity(value, question.quantity))
    except (BadInput, ValueError):
        return False


def _each_with_unit(question: Question, text: str, units: UnitSystem) -> Iterator[Meaning]:
    entries = [entry.strip() for entry in re.split(r"[\n;]|,\s+", text) if entry.strip()]
    told = [next(_with_unit(question, entry, units), "") for entry in entries]
    if told and all(told):
        yield Meaning(", ".join(told), "\n".join(told))


def _numbers(question: Question, text: str, currency: str) -> Iterator[Meaning]:
    match = _AMOUNT.fullmatch(text.strip())
    for told in () if match is None else _decimals(match[2]):
        number = number_in(told)
        if number is None or (question.kind is Kind.WHOLE and number != int(number)):
            continue
        if question.kind is Kind.SHARE:
            if question.bounds.hold(float(number) / 100) and number > 1:
                yield Meaning(f"{number:f} %", f"{number:f} %")
        elif question.bounds.hold(float(number)):
            yield Meaning(f"{number:f} {currency}" if question.kind is Kind.MONEY else f"{number:f}", f"{number:f}")
