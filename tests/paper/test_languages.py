"""Papers in other languages: the page's tag and direction, names that no line has room for, both sizes of paper."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from slackwater.paper.fact_names import all_told
from slackwater.paper.write import living_sheet
from slackwater.reader import ENGLISH, Reader, Typed
from slackwater.wording import catalogs
from tests.jobs import job_from
from tests.paper import by_hand
from tests.paper.by_hand import living_plan_of
from tests.plans import catalog

GERMAN = Reader(language="de")
A4, LETTER = (595, 842), (612, 792)
NAME = "Aquarium" * 38
"""304 letters without a space."""


@pytest.fixture
def arabic(tmp_path, monkeypatch):
    """A made-up catalog of two sentences: enough to see which way a page runs."""
    (tmp_path / "sheet.po").write_text(
        'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=utf-8\\n"\n\n'
        'msgctxt "sheet.living.title"\nmsgid "Everything alive"\nmsgstr "كل ما هو حي"\n\n'
        'msgctxt "sheet.living.boxes"\nmsgid "Boxes"\nmsgstr "الصناديق"\n',
        encoding="utf-8",
    )
    monkeypatch.setattr(catalogs, "home", lambda language: tmp_path)
    catalogs.translations.cache_clear()
    yield Reader(language="ar")
    catalogs.translations.cache_clear()


def spots(page):
    """Each piece of text of a page with where it begins, from the left [pt]."""
    found = []

    def seen(text, page_matrix, at, font, size):
        if text.strip():
            found.append((at[4] * page_matrix[0] + at[5] * page_matrix[2] + page_matrix[4], text.strip()))

    page.extract_text(visitor_text=seen)
    return found


def living(reader, **changes):
    return PdfReader(
        io.BytesIO(
            living_sheet(
                living_plan_of(by_hand.living()), job_from("blue-corridor", **changes), catalog(), reader=reader
            )
        )
    )


def test_a_page_of_a_right_to_left_language_begins_at_the_right_and_says_so(arabic):
    there, here = living(arabic), living(ENGLISH)
    assert there.trailer["/Root"]["/Lang"] == "ar" and here.trailer["/Root"]["/Lang"] == "en"
    # The job's name stands alone in its line: at the left margin of 15 mm in English, ending at the right one in Arabic.
    (left,) = {x for x, text in spots(here.pages[0]) if text.startswith("Blue corridor") and x < 60}
    assert left < 60
    assert min(x for x, text in spots(there.pages[0]) if text.startswith("Blue corridor")) > 200
    assert "Filter" in "".join(page.extract_text() for page in there.pages)  # not translated: English, no id


@pytest.mark.parametrize("size", ["a4", "letter"])
def test_a_name_that_no_line_has_room_for_stays_on_the_page(size):
    found = living(ENGLISH, **{"papers.size": size, "site.name": NAME})
    width, height = A4 if size == "a4" else LETTER
    for page in found.pages:
        assert (round(page.mediabox.width), round(page.mediabox.height)) == (width, height)
        assert all(0 < x < width - 40 for x, _ in spots(page))
    text = "".join(page.extract_text() for page in found.pages).replace("\n", "").replace("\xad", "")
    assert NAME in text


def test_nothing_typed_is_translated():
    told = all_told({"a": ["bag of 7.5 L"], "b": Typed("7.5, 2026-12-05"), "c": "7.5 on 2026-12-05", "d": 3}, GERMAN)
    assert told["b"] == "7.5, 2026-12-05" and told["c"] == "7,5 on 05.12.2026" and told["d"] == 3
