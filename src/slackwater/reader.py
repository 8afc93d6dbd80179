"""Whom a text is for: units and language; numbers and dates in the form of a language, by the locale data of Babel.

Inside, numbers and moments that are told as texts have one form, the English one. `localised` puts them into the reader's
when a text is whole, in one place, so that none can be forgotten; a text that is in their form already stays as it is.
Babel is imported only for a reader of another language than English.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache, lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Literal

from slackwater.errors import BadInput

if TYPE_CHECKING:
    from babel import Locale

UnitSystem = Literal["metric", "us"]
SOURCE_LANGUAGE = "en"


@dataclass(frozen=True)
class Reader:
    """Whom a text is for.

    Attributes
    ----------
    units : {"metric", "us"}
    language : str
        Tag of a language that has a catalog: "en", "de".
    """

    units: UnitSystem = "metric"
    language: str = SOURCE_LANGUAGE


ENGLISH = Reader()
"""Reads English and metric units: who uses the program's own pages."""


def reader_of(reader: Reader | UnitSystem) -> Reader:
    """A reader, also where only the units are named: of English then."""
    return reader if isinstance(reader, Reader) else Reader(reader)


def languages() -> tuple[str, ...]:
    """Tags of all languages that have a catalog, English first."""
    folders = [item.name for item in files("slackwater.wording").iterdir() if item.is_dir() and item.name[:1] != "_"]
    return tuple(sorted(folders, key=lambda name: (name != SOURCE_LANGUAGE, name)))


def known_language(tag: str) -> str:
    """A tag of a language that has a catalog.

    Raises
    ------
    BadInput
        If there is none; it names those that there are.
    """
    if tag not in languages():
        raise BadInput(f'there is no catalog for the language "{tag}"; there are: {", ".join(languages())}')
    return tag


@cache
def locale_of(language: str) -> Locale:
    """The locale data of a language."""
    from babel import Locale

    return Locale.parse(language, sep="-")


def right_to_left(reader: Reader) -> bool:
    """Whether the reader's pages begin at the right."""
    return reader.language != SOURCE_LANGUAGE and locale_of(reader.language).text_direction == "rtl"


@cache
def _signs(language: str) -> tuple[str, str]:
    """What parts whole from decimal, and thousands."""
    signs = locale_of(language).number_symbols["latn"]
    return signs["decimal"], signs["group"]


def number_signs(reader: Reader) -> dict[str, Any]:
    """How charts write numbers: decimal and thousands sign, groups of three, money without a sign."""
    english = reader.language == SOURCE_LANGUAGE
    decimal, group = (".", ",") if english else _signs(reader.language)
    return {"decimal": decimal, "thousands": group, "grouping": [3], "currency": ["", ""]}


# ---------------------------------------------------------------- texts in the one form they have inside

_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)
_DAY = "|".join(_DAYS)
_MONTH = "|".join(_MONTHS)
_SHORT_DAY = "|".join(name[:3] for name in _DAYS)
_SHORT_MONTH = "|".join(name[:3] for name in _MONTHS)
_WHOLE = re.compile(
    rf"\b(?:(?P<long_day>{_DAY}) (?P<d1>\d\d) (?P<long_month>{_MONTH})(?: (?P<y1>\d{{4}})(?!\.?\d))?"
    rf"|(?:(?P<day>{_SHORT_DAY}) )?(?P<d2>\d\d) (?P<month>{_SHORT_MONTH})(?: (?P<y2>\d{{4}})(?!\.?\d))?"
    rf"|(?P<weekday>{_SHORT_DAY})(?= \d\d:\d\d)"
    r"|(?P<iso>\d{4}-\d\d-\d\d)"
    r"|(?<![\d.,])(?P<amount>\d{1,3}(?:\u202f?\d{3})*\.\d\d) (?P<currency>[A-Z]{3}))(?![\w-])"
)
_NUMBER = re.compile(r"(?<![\w.,])([+-]?\d{1,3}(?:\u202f\d{3})+|[+-]?\d+)(\.\d+)?(?![\w.,]*\d)(?!\w)")


_ISO = re.compile(r"(?<![\w-])\d{4}-\d\d-\d\d(?![\w-])")


def _written(match: re.Match[str]) -> str:
    try:
        on = date.fromisoformat(match[0])
    except ValueError:
        return match[0]
    return f"{on.day:02d} {_MONTHS[on.month - 1][:3]} {on.year:04d}"


def localised(text: str, reader: Reader) -> str:
    """A text with its numbers, dates and amounts of money in the form of the reader's language.

    Parameters
    ----------
    text : str
        As rooms and papers write it inside: ``Sat 05 Dec 18:00``, ``2026-12-05``, ``12.5``, ``1 240.00 EUR``.

    Examples
    --------
    >>> localised("Sat 05 Dec 18:00, 12.5", Reader(language="de"))
    'Sa., 5. Dez. 18:00, 12,5'
    >>> localised("Sat 05 Dec 18:00, 12.5", Reader())
    'Sat 05 Dec 18:00, 12.5'
    >>> localised("2026-12-05", Reader())
    '05 Dec 2026'
    """
    if not any(sign.isdecimal() for sign in text):
        return text
    if reader.language == SOURCE_LANGUAGE:
        # Beside dates in words one in figures would be a second form on the same page.
        return _ISO.sub(_written, text)
    return _localised(text, reader.language)


class Typed(str):
    """Somebody's own words, or lines of a file: shown letter by letter as they are, in whatever language."""

    __slots__ = ()


@lru_cache(maxsize=8192)
def _localised(text: str, language: str) -> str:
    decimal, group = _signs(language)

    def number(match: re.Match[str]) -> str:
        # Without decimals the thin space stays: "1.240" would be read as a decimal when the text is looked at again.
        whole, part = match[1], match[2] or ""
        return whole.replace("\u202f", group) + part.replace(".", decimal) if part else whole

    # Dates and money are put in their form as a whole; what stands between are single numbers.
    pieces, at = [], 0
    for match in _WHOLE.finditer(text):
        pieces += [_NUMBER.sub(number, text[at : match.start()]), _whole(match, language)]
        at = match.end()
    return "".join([*pieces, _NUMBER.sub(number, text[at:])])


def _whole(match: re.Match[str], language: str) -> str:
    from babel.dates import format_date, format_skeleton

    locale = locale_of(language)
    if match["currency"]:
        return _money(Decimal(match["amount"].replace("\u202f", "")), match["currency"], language)
    if match["iso"]:
        try:
            return format_skeleton("yMMMd", date.fromisoformat(match["iso"]), fuzzy=True, locale=locale)
        except ValueError:
            return match[0]
    if match["weekday"]:
        number = [name[:3] for name in _DAYS].index(match["weekday"])
        return str(locale.days["format"]["abbreviated"][number])
    long = match["long_day"] is not None
    months: Sequence[str] = _MONTHS if long else [name[:3] for name in _MONTHS]
    month = months.index(match["long_month"] if long else match["month"]) + 1
    day, year = int(match["d1"] or match["d2"]), match["y1"] or match["y2"]
    named = match["long_day"] or match["day"]
    on = _some_date(int(year) if year else None, month, day, named[:3] if named else None)
    if on is None:
        return match[0]
    if long and year:
        return format_date(on, "full", locale=locale)
    skeleton = (
        "MMMMEEEEd" if long else "yMMMEd" if named and year else "MMMEd" if named else "yMMMd" if year else "MMMd"
    )
    return format_skeleton(skeleton, on, fuzzy=True, locale=locale)


def _some_date(year: int | None, month: int, day: int, weekday: str | None) -> date | None:
    """A date with this day and month; where the year is not told, one in which the day of the week is right."""
    for candidate in (year,) if year is not None else range(2000, 2028):
        try:
            on = date(candidate, month, day)
        except ValueError:
            continue
        if year is not None or weekday is None or _DAYS[on.weekday()].startswith(weekday):
            return on
    return None


def _money(amount: Decimal, currency: str, language: str) -> str:
    from babel.numbers import format_currency

    # What is no currency of the locale data is shown as it was written.
    locale = locale_of(language)
    return format_currency(amount, currency, locale=locale, currency_digits=False, format=_two_decimals(language))


@cache
def currencies() -> frozenset[str]:
    """Currencies in which people pay today: ISO 4217 codes that are legal tender somewhere.

    Notes
    -----
    Of the locale data (CLDR): those that some territory has as tender, without an end. Metals, funds, testing codes and money of
    the past are none.
    """
    from babel.core import get_global

    told = get_global("territory_currencies").values()
    return frozenset(code for place in told for code, _, ended, tender in place if tender and ended is None)


def money_sign(currency: str, language: str) -> str:
    """How a language writes a currency: "€", or the code itself where it has no sign."""
    if language == SOURCE_LANGUAGE:
        return currency
    from babel.numbers import get_currency_symbol

    return get_currency_symbol(currency, locale=locale_of(language))


@cache
def _two_decimals(language: str) -> str:
    """The language's pattern of money, with two decimals whatever the currency."""
    return re.sub(r"0\.0+", "0.00", locale_of(language).currency_formats["standard"].pattern)
