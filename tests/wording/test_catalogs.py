"""Catalogs of other languages say all that papers say, with the same places to fill in, of the English as it is today."""

from __future__ import annotations

import io
import re
import string
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from slackwater.reader import Reader, languages
from slackwater.wording import catalogs
from slackwater.wording.render import named, say, say_count, sentence_list, sentences
from tools.catalog import Message, messages, updated

WORDING = Path(__file__).parents[2] / "src" / "slackwater" / "wording"
OTHERS = [language for language in languages() if language != "en"]
FILES = [(language, name) for language in OTHERS for name in messages()]


def catalog_of(language, name):
    return read_po(io.StringIO((WORDING / language / f"{name}.po").read_text(encoding="utf-8")))


def places(text):
    """What is filled in, and how: names with the form in which they are shown."""
    return sorted((name, form) for _, name, form, _ in string.Formatter().parse(text) if name is not None)


@pytest.mark.parametrize(("language", "name"), FILES)
def test_a_catalog_has_just_what_the_papers_say(language, name):
    text = (WORDING / language / f"{name}.po").read_text(encoding="utf-8")
    assert updated(name, language, catalog_of(language, name), messages()[name]) == text, "run tools/catalog.py"


@pytest.mark.parametrize("name", list(messages()))
def test_german_is_complete_and_made_from_the_english_of_today(name):
    for message in catalog_of("de", name):
        if message.id:
            told = message.string if isinstance(message.string, tuple) else (message.string,)
            assert all(told) and not message.fuzzy, message.context


@pytest.mark.parametrize(("language", "name"), FILES)
def test_what_is_filled_in_is_the_same_in_each_language(language, name):
    for message in catalog_of(language, name):
        if not message.id or not any(message.string):
            continue
        english = message.id[-1] if isinstance(message.id, tuple) else message.id
        told = message.string if isinstance(message.string, tuple) else (message.string,)
        assert places(told[-1]) == places(english), message.context
        for form in told:
            # "1 trip" may leave the count out; "1.000" would be read as a decimal.
            assert set(places(form)) <= set(places(english)), message.context
            assert not re.search(r"\d\.\d{3}\b", form), message.context


@pytest.fixture
def esperanto(tmp_path, monkeypatch):
    """A made-up catalog: one sentence, one that was made from other English, one fuzzy, a plural, two words."""
    sentence = say("paper.not_an_offer", {})
    (tmp_path / "paper.po").write_text(
        'msgid ""\nmsgstr ""\n"Language: eo\\n"\n"Content-Type: text/plain; charset=utf-8\\n"\n\n'
        f'msgctxt "paper.not_an_offer"\nmsgid "{sentence}"\nmsgstr "Ankoraŭ ne oferto"\n\n'
        'msgctxt "paper.put_back[1]"\nmsgid "Lamps as they were"\nmsgstr "Lampoj"\n\n'
        f'#, fuzzy\nmsgctxt "paper.put_back[2]"\nmsgid "{sentences()["paper.put_back"][2]}"\nmsgstr "Puraj"\n\n'
        'msgctxt "count.trip"\nmsgid "1 trip"\nmsgid_plural "{count} trips"\n'
        'msgstr[0] "1 vojo"\nmsgstr[1] "{count} vojoj"\n',
        encoding="utf-8",
    )
    (tmp_path / "terms.po").write_text(
        'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=utf-8\\n"\n\n'
        'msgctxt "species.a.common_name"\nmsgid "neon tetra"\nmsgstr "neona tetro"\n\n'
        'msgctxt "term.and"\nmsgid " and "\nmsgstr " kaj "\n\n'
        'msgctxt "term.bag"\nmsgid "bag of {0} L"\nmsgstr "sako de {0} L"\n',
        encoding="utf-8",
    )
    monkeypatch.setattr(catalogs, "home", lambda language: tmp_path)
    catalogs.translations.cache_clear()
    yield Reader(language="eo")
    catalogs.translations.cache_clear()


def test_a_translated_sentence_is_said_and_a_missing_one_is_english(esperanto):
    assert say("paper.not_an_offer", {}, esperanto) == "Ankoraŭ ne oferto"
    assert say("chance.rare", {}, esperanto) == say("chance.rare", {})


def test_a_translation_of_other_english_is_not_said(esperanto):
    assert sentence_list("paper.put_back", esperanto) == sentence_list("paper.put_back")


@pytest.mark.parametrize(("count", "told"), [(1, "1 vojo"), (2, "2 vojoj"), (0, "0 vojoj"), (1.5, "1.5 vojoj")])
def test_a_count_has_the_form_of_its_language(esperanto, count, told):
    assert say_count("trip", count, esperanto) == told


def test_words_of_the_trade_are_found_alone_in_a_list_and_with_their_number(esperanto):
    assert named("neon tetra and my own fish", esperanto) == "neona tetro kaj my own fish"
    assert named("bag of 7.5 L", esperanto) == "sako de 7.5 L"
    assert named("my own fish", esperanto) == "my own fish"


def test_an_update_keeps_what_is_translated_and_marks_what_changed():
    old = read_po(
        io.StringIO(
            'msgid ""\nmsgstr ""\n\n'
            'msgctxt "a.kept"\nmsgid "same"\nmsgstr "gleich"\n\n'
            'msgctxt "a.changed"\nmsgid "before"\nmsgstr "vorher"\n\n'
            'msgctxt "a.gone"\nmsgid "gone"\nmsgstr "weg"\n'
        )
    )
    wanted = [
        Message("a.kept", "same"),
        Message("a.changed", "after"),
        Message("a.new", "new"),
        Message("a.n", "one", "many"),
    ]
    fresh = read_po(io.StringIO(updated("a", "de", old, wanted)))
    assert fresh.get("same", "a.kept").string == "gleich"
    changed = fresh.get("after", "a.changed")
    assert changed.string == "vorher" and changed.fuzzy
    assert fresh.get("new", "a.new").string == ""
    assert fresh.get("gone", "a.gone") is None
    assert updated("a", "de", fresh, wanted) == updated("a", "de", old, wanted)
