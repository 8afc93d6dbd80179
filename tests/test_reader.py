"""Numbers, dates and money in the form of a language; expected forms are those of CLDR 46 for German (DIN 5008)."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import BadInput
from slackwater.reader import Reader, known_language, languages, localised, right_to_left

GERMAN = Reader(language="de")


@pytest.mark.parametrize(
    ("inside", "german"),
    [
        ("12.5", "12,5"),
        ("+0.35 to -7.05", "+0,35 to -7,05"),
        ("709 of 720 min", "709 of 720 min"),
        ("Sat 05 Dec 18:00", "Sa., 5. Dez. 18:00"),
        ("Saturday 05 December 2026, 07:30", "Samstag, 5. Dezember 2026, 07:30"),
        ("Mon 12:40, Tue 00:05", "Mo. 12:40, Di. 00:05"),
        ("2026-12-05", "5. Dez. 2026"),
        ("12 Jan 2027", "12. Jan. 2027"),
        ("05 Dec", "5. Dez."),
        ("of 1\u202f240.00 EUR, paid", "of 1.240,00\xa0€, paid"),
        ("1\u202f240.50 cr", "1.240,50 cr"),
        ("1\u202f240 cr", "1\u202f240 cr"),
        ("plan 0.1.0, E4.start, v2.1, 10.0.0.1", "plan 0.1.0, E4.start, v2.1, 10.0.0.1"),
        ("99 Feb 2027, 2027-13-40", "99 Feb 2027, 2027-13-40"),
    ],
)
def test_what_is_told_inside_gets_the_form_of_the_language(inside, german):
    assert localised(inside, GERMAN) == german
    assert localised(german, GERMAN) == german
    # In English too a date is told in words: one form on a page.
    assert localised(inside, Reader()) == ("05 Dec 2026" if inside == "2026-12-05" else inside)


@given(st.dates(date(2000, 1, 1), date(2099, 12, 31)), st.floats(-1e6, 1e6, allow_nan=False))
def test_a_text_in_its_form_stays_as_it_is(on, number):
    text = f"{on:%a %d %b} {number:.2f}; {on:%A %d %B %Y}; {number:.1f} EUR"
    once = localised(text, GERMAN)
    assert localised(once, GERMAN) == once
    assert f"{abs(number):.2f}".replace(".", ",") in once


@given(st.dates(date(2000, 1, 1), date(2027, 12, 31)))
def test_a_day_without_its_year_keeps_the_day_of_the_week(on):
    names = ("Mo.", "Di.", "Mi.", "Do.", "Fr.", "Sa.", "So.")
    assert localised(f"{on:%a %d %b}", GERMAN).startswith(f"{names[on.weekday()]}, {on.day}. ")
    assert localised(f"{on + timedelta(days=7):%a %H:%M}", GERMAN).startswith(names[on.weekday()])


def test_only_a_language_with_a_catalog_is_taken():
    assert languages()[:2] == ("en", "de")
    assert known_language("de") == "de"
    with pytest.raises(BadInput, match='no catalog for the language "xx"; there are: en, de'):
        known_language("xx")


def test_pages_of_arabic_begin_at_the_right():
    assert right_to_left(Reader(language="ar")) and right_to_left(Reader(language="he"))
    assert not right_to_left(GERMAN) and not right_to_left(Reader())
