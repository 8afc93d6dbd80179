"""The first thing to do when a day slips is what was written down beforehand, and another once one fact is changed."""

from __future__ import annotations

import json
from functools import cache

import pytest

from slackwater.day.moves import ORDER
from slackwater.wording.render import say, sentences
from tests.replans import booked, now_on
from tests.test_expected import rows

ROWS = rows("repairs.csv")


@cache
def shown(number, altered=False):
    """The day of a row planned again, as it stands there or with its one fact changed."""
    row = ROWS[number]
    change = json.loads(row["altered_by"]) if altered else {}
    events = json.loads(row["events"])
    if "event" in change:
        replaced = {name: change[name] for name in ("at", "body") if name in change}
        events[change["event"]] = events[change["event"]] | replaced
    if "corrected" in change:
        named = f"00000000-0000-0000-0000-{change['corrected'] + 1:012x}"
        events.append({"at": row["now"], "kind": "corrected", "body": {"event": named}})
    return now_on(booked(row["example"], row["booked"], **change.get("job", {})), events, row["now"])


NUMBERS = range(len(ROWS))
NAMES = [f"{row['example']}:{row['first']}" for row in ROWS]


@pytest.mark.parametrize("number", NUMBERS, ids=NAMES)
def test_the_first_thing_to_do_is_the_one_expected(number):
    found = shown(number)
    assert found.first == ROWS[number]["first"], ROWS[number]["reason"]
    assert found.broken_rules == ()
    for move in found.moves:
        assert say(f"move.{move.id}", move.values) and say(f"move_name.{move.id}", move.values)


@pytest.mark.parametrize("number", NUMBERS, ids=NAMES)
def test_with_one_fact_changed_it_is_another(number):
    assert shown(number, altered=True).first != ROWS[number]["first"]


def test_every_move_has_its_two_sentences_and_none_is_left_over():
    urgent = {"air_back", "mend_filter", "look_in_old_soil", "fresh_peroxide", "catch_on", "stop_catching"}
    for table, more in (("move", {"none_fits"}), ("move_name", set())):
        known = {name.partition(".")[2] for name in sentences() if name.startswith(f"{table}.")}
        assert known == {*ORDER, *urgent, *more}


def test_moves_that_fit_come_before_those_that_do_not_and_these_by_the_minutes_over():
    day = shown(1)
    fits = [move.fits for move in day.moves]
    assert fits == sorted(fits, reverse=True)
    over = [move.over_min for move in day.moves if not move.fits and move.over_min is not None]
    assert over == sorted(over)
