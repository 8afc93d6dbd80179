"""Keys of the job file in the words of the survey; the words expected are those of the survey's own pages."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.job.form import all_groups, all_questions, whole
from slackwater.job.screen import fact_missing
from slackwater.paper.fact_names import FactName, as_said, fact_name, finding_told, in_pieces, with_keys
from slackwater.reader import ENGLISH


@pytest.mark.parametrize(
    ("key", "quoted", "path"),
    [
        ("site.floor.stand_limit", '"Limit of the stand" (Floor and power)', ("site", "floor", "stand_limit")),
        ("people[1].until", '"Until" of person 1 (Crew)', ("people", 0, "until")),
        ("people.2.until", '"Until" of person 2 (Crew)', ("people", 1, "until")),
        ("people.lead.hourly_rate", '"Hourly rate" of lead (Crew)', ("people", "hourly_rate")),
        ("livestock.amano_shrimp.count", '"How many" of amano shrimp (Animals)', ("livestock", "count")),
        ("water.tap.calcium", '"Calcium" of tap water (Water readings)', ("water", "tap", "calcium")),
        ("water.tank.calcium", '"Calcium" of tank water (Water readings)', ("water", "tank", "calcium")),
        ("site.windows", '"Hours of access" (Hours)', ("site", "windows")),
        ("livestock", '"Animals"', ("livestock",)),
        ("tank", '"Tank"', ("tank",)),
    ],
)
def test_a_key_is_called_as_the_survey_calls_it(key, quoted, path):
    named = fact_name(key)
    assert (named.quoted, named.path) == (quoted, path)


@pytest.mark.parametrize("key", ["", "tank.colour", "clocks.plants", "e.g", "people[1].until.more", "1.5", "format"])
def test_what_the_survey_does_not_ask_has_no_name(key):
    assert fact_name(key) is None


def test_every_question_and_table_of_the_survey_has_a_name():
    # The house is asked for on several pages: by itself it is no table of any of them.
    keys = [one.key for one in (*all_questions(whole()), *all_groups(whole())) if one.key not in ("", "site")]
    assert [key for key in keys if fact_name(key) is None] == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("people[1].until: 19:00 is after 18:00.", '"Until" of person 1 (Crew): 19:00 is after 18:00.'),
        ("Measure tank.length.", 'Measure "Inside length" (Tank).'),
        ("Write it under [[site.windows]].", "Write it under [[site.windows]]."),
        ("Take 1.5 L from the tank.", "Take 1.5 L from the tank."),
        ("Ask for `people` first.", 'Ask for "Crew" first.'),
    ],
)
def test_keys_in_a_sentence_are_said_in_words_and_the_rest_stays(text, said):
    assert as_said(text) == said


def test_who_writes_the_file_by_hand_sees_the_key_too():
    assert with_keys("Enter tank.length.") == 'Enter "Inside length" (Tank) [tank.length].'


def test_facts_of_one_word_are_found_in_a_finding_too():
    text = finding_told(fact_missing("the price", ("people", "price.margin_share")), ENGLISH)
    named = [piece.key for piece in in_pieces(text) if isinstance(piece, FactName)]
    assert named == ["people", "price.margin_share"]


@given(st.text(alphabet="abc tank.length[1]`people_", max_size=60))
def test_nothing_of_a_sentence_is_lost(text):
    pieces = in_pieces(text)
    whole_text = "".join(piece.key if isinstance(piece, FactName) else piece for piece in pieces)
    assert whole_text.replace("`", "") == text.replace("`", "")
