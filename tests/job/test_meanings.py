"""What a refused answer may mean: offered, never taken by itself, and usable once it is taken."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.job.form import all_questions, question_at, stored, whole
from slackwater.job.load import read_as_far
from slackwater.job.meanings import meanings
from slackwater.job.text import set_value
from tests.plans import catalog

QUANTITIES = [question for question in all_questions(whole()) if question.quantity]


def offered(key, text, units="metric"):
    path = tuple(int(part) if part.isdigit() else part for part in key.split("."))
    found = meanings(question_at(path), text, catalog=catalog(), currency="cr", units=units)
    return [one.text for one in found]


@pytest.mark.parametrize(
    ("key", "typed", "expected"),
    [
        ("tank.length", "120", ["120 cm"]),
        ("tank.length", "46,5", ["46,5 cm"]),
        ("tank.length", "1,200", ["1200 cm", "1.200 cm"]),
        ("tank.length", "1,200 mm", ["1200 mm", "1.200 mm"]),
        ("tank.length", "118 elephants", []),
        ("tank.length", "99999", []),
        ("tank.wall", "12", ["12 mm"]),
        ("site.route.distance", "60", ["60 m"]),
        ("target.temperature", "25.5", ["25.5 C"]),
        ("water.tap.gh", "18", ["18 dGH"]),
        ("water.tap.gh", "14 ± 1", ["14 ± 1 dGH"]),
        ("water.tap.tan", "< 0.02", ["< 0.02 mg/L"]),
        ("water.tank.temperature", "26.2", ["26.2 C"]),
        ("wood.0.soaked", "14", ["14 days", "14 weeks"]),
        ("stones.0.pieces", "11, 9.5, 8", ["11 kg\n9.5 kg\n8 kg"]),
        ("stones.0.pieces", "11\n9,5\n8 kg", ["11 kg\n9,5 kg\n8 kg"]),
        ("price.margin_share", "25", ["25 %"]),
        ("price.margin_share", "250", []),
        ("old.kept_share", "100", []),
        ("price.client_budget", "€ 7 200", ["7200"]),
        ("price.client_budget", "1,200", ["1200", "1.200"]),
        ("light.timer_hours", "8 h", ["8"]),
        ("plants.0.units", "12 pots", ["12"]),
        ("plants.0.units", "1 or 2", []),
        ("site.time_zone", "Middle Europe", ["Europe/Berlin", "Europe/Vienna", "Europe/Zurich"]),
        ("site.time_zone", "germany", ["Europe/Berlin", "Europe/Busingen"]),
        ("site.time_zone", "somewhere", []),
        ("livestock.0.species", "panda", ["panda armoured catfish"]),
    ],
)
def test_what_was_typed_is_offered_with_what_it_lacks(key, typed, expected):
    assert offered(key, typed) == expected


def test_a_reader_of_us_units_is_offered_them():
    assert offered("tank.length", "46.5", "us") == ["46.5 in"]
    assert offered("target.temperature", "78", "us") == ["78 °F"]


def test_only_the_line_that_is_not_known_is_replaced():
    assert offered("holding.0.species", "neon tetra\npanda\nguppy") == ["neon tetra\npanda armoured catfish\nguppy"]


@given(question=st.sampled_from(QUANTITIES), number=st.decimals(min_value="0.01", max_value="99999", places=2))
def test_whatever_is_offered_can_be_used_where_it_is_asked_for(question, number):
    for one in meanings(question, f"{number}", catalog=catalog(), currency="cr", units="metric"):
        assert meanings(question, one.text, catalog=catalog(), currency="cr", units="metric")[0].text == one.text


@pytest.mark.parametrize(
    ("key", "typed", "value"),
    [("price.margin_share", "25 %", 0.25), ("old.kept_share", "12,5 %", 0.125), ("price.tax_share", "0,19", 0.19)],
)
def test_a_share_is_told_in_per_cent_or_as_a_part(key, typed, value):
    path = tuple(key.split("."))
    text = set_value('format = 1\nname = "Lobby"\n', path, stored(question_at(path), typed))
    found = read_as_far(text)
    assert found.faults == ()
    assert getattr(getattr(found.job, path[0]), path[1]) == value
