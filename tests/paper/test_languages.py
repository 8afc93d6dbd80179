"""Papers in other languages: the page's tag and direction, names that no line has room for, both sizes of paper."""

from __future__ import annotations

import io
import json
import re
from importlib.resources import files

import pytest
from pypdf import PdfReader

from slackwater.paper.data import paper_data, words_of
from slackwater.paper.fact_names import all_told
from slackwater.paper.write import living_sheet, write_papers
from slackwater.reader import ENGLISH, Reader, Typed
from slackwater.wording import catalogs
from tests.jobs import job_from
from tests.paper import by_hand
from tests.paper.by_hand import living_plan_of
from tests.plans import catalog, plan_of
from tools.catalog import messages

GERMAN = Reader(language="de")
GERMAN_JOB = job_from("blue-corridor", **{"papers.language": "de", "papers.size": "letter"})
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


def test_a_name_in_letters_that_no_font_has_is_marked_and_told_and_one_in_hebrew_is_set():
    marked = living(ENGLISH, **{"site.name": "水族馆 lobby"})
    text = "".join(page.extract_text() for page in marked.pages)
    assert "\ufffd\ufffd\ufffd lobby" in text and "have no shape" in text.replace("\n", " ")
    text = "".join(page.extract_text() for page in living(ENGLISH, **{"site.name": "אקווריום"}).pages)
    assert "have no shape" not in text.replace("\n", " ") and set("אקווריום") <= set(text)


def test_nothing_typed_is_translated():
    told = all_told({"a": ["bag of 7.5 L"], "b": Typed("7.5, 2026-12-05"), "c": "7.5 on 2026-12-05", "d": 3}, GERMAN)
    assert told["b"] == "7.5, 2026-12-05" and told["c"] == "7,5 on 5. Dez. 2026" and told["d"] == 3


@pytest.fixture(scope="module")
def german(tmp_path_factory):
    folder = tmp_path_factory.mktemp("german") / "one"
    write_papers(plan_of("blue-corridor"), GERMAN_JOB, catalog(), folder, reader=GERMAN)
    return folder


def text_of(path):
    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


def test_german_papers_say_so_and_have_their_numbers_dates_and_paper(german):
    for path in german.glob("*.pdf"):
        found = PdfReader(path)
        assert found.trailer["/Root"]["/Lang"] == "de"
        assert {tuple(sorted(map(round, page.mediabox[2:]))) for page in found.pages} == {tuple(sorted(LETTER))}
    assert PdfReader(german / "offer.pdf").metadata.title == "Angebot: Blue corridor"
    sheet = text_of(german / "day-sheet.pdf").replace("\n", "").replace("\xad", "-")
    for needed in (
        "Passt nicht",
        "Anhalten und entscheiden",
        "34,7 L",
        "Keilfleckbärbling",
        "Umsetzen der Tiere",
        "30-mA-Schutz",
    ):
        assert needed in sheet, needed
    assert "Mi., 10. Feb. 2027" in text_of(german / "offer.pdf")
    assert "SUMMARY;LANGUAGE=de:" in (german / "calendar.ics").read_text(encoding="utf-8")


def test_the_same_german_papers_have_the_same_bytes(german, tmp_path):
    write_papers(plan_of("blue-corridor"), GERMAN_JOB, catalog(), tmp_path / "two", reader=GERMAN)
    for path in german.iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes(), path.name


def test_no_sentence_and_no_word_of_the_catalogs_stays_english_on_a_german_paper(german):
    """Of those that are whole as they stand in the catalog; what is filled in is looked at where it is said."""
    data = all_told(paper_data(plan_of("blue-corridor"), GERMAN_JOB, catalog(), GERMAN), GERMAN)
    drawn = " ".join(path.read_text(encoding="utf-8") for path in german.glob("*.svg"))
    said = f"{json.dumps(data, ensure_ascii=False)} {drawn} {(german / 'calendar.ics').read_text(encoding='utf-8')}"
    # One word alone may well be a word of both languages, and so may a unit.
    english = {message.text for group in messages().values() for message in group if " " in message.text.strip()}
    english -= {"CO2, mg/L", "TAN, mg/L"}
    assert len(english) > 1000
    # Names of people, places and rules of the example are English words of its own.
    own = json.dumps(GERMAN_JOB.model_dump(mode="json"), ensure_ascii=False)
    stayed = {text for text in english if "{" not in text and len(text) > 8 and text in said and text not in own}
    assert stayed == set()


def test_a_letter_sheet_in_german_tells_us_units(german):
    pdf = living_sheet(living_plan_of(by_hand.living()), GERMAN_JOB, catalog(), reader=Reader("us", "de"))
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    assert "gal" in text and "°F" in text and "in der Regel" in text


def test_where_nothing_is_chosen_the_papers_tell_what_was_taken():
    def taken(reader, **changes):
        job = job_from("blue-corridor", **changes)
        rows = paper_data(plan_of("blue-corridor"), job, catalog(), reader)["assumed"]
        return {row["field"]: row["value"] for row in rows if "aper" in row["field"]}

    assert taken(ENGLISH) == {"Language of the papers": "English", "Paper size": "A4"}
    assert taken(ENGLISH, **{"papers.language": "en", "papers.size": "letter"}) == {}


def test_every_word_that_a_template_asks_for_is_there():
    asked = set()
    for file in files("slackwater.paper").joinpath("templates").iterdir():
        asked |= set(re.findall(r"\bw((?:\.[a-z_0-9]+)+)", file.read_text(encoding="utf-8")))
    words = words_of(ENGLISH)
    assert len(asked) > 150
    for way in asked:
        found = words
        for part in way[1:].split("."):
            found = found[part]
        assert isinstance(found, str), way


FEWEST = 400
"""Letters on a page; what has fewer was pushed over the end of the page before."""


def test_no_page_holds_only_what_the_page_before_had_no_room_for(german):
    sheet = [page.extract_text() for page in PdfReader(german / "day-sheet.pdf").pages]
    # The longest phase may hand its cautions on to a page of their own.
    assert len([text for text in sheet[:-1] if len(text) < FEWEST]) <= 1
    offer = [page.extract_text() for page in PdfReader(german / "offer.pdf").pages]
    assert len(offer) <= 3
    plants = [catalog().plants[planting.plant].scientific_name for planting in GERMAN_JOB.plants]
    # One page has the whole list, and price and signature stand together.
    assert any(all(plant in page for plant in plants) for page in offer)
    assert any("Preis" in page and "Unterschrift" in page for page in offer)


def test_nothing_on_a_paper_is_told_by_its_key_or_by_a_date_in_figures(german):
    for path in german.glob("*.pdf"):
        text = text_of(path)
        assert not re.search(r"\[\[?[a-z]+\]|\b[a-z]+_[a-z_]+ = |\b\d{4}-\d\d-\d\d\b", text), path.name
