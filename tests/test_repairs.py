"""The first thing to do when a day slips is what was written down beforehand, and another once one fact is changed."""

from __future__ import annotations

import json
from functools import cache

import pytest

from slackwater.day.moves import ORDER, URGENT
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
    urgent = {*URGENT, "catch_on", "stop_catching"}
    for table, more in (("move", {"none_fits"}), ("move_name", set())):
        known = {name.partition(".")[2] for name in sentences() if name.startswith(f"{table}.")}
        assert known == {*ORDER, *urgent, *more}


def test_moves_that_fit_come_before_those_that_do_not_and_these_by_the_minutes_over():
    day = shown(1)
    fits = [move.fits for move in day.moves]
    assert fits == sorted(fits, reverse=True)
    over = [move.over_min for move in day.moves if not move.fits and move.over_min is not None]
    assert over == sorted(over)


def test_no_day_is_left_without_hours_or_with_an_empty_time_in_its_words():
    row = len(ROWS) - 1
    assert ROWS[row]["first"] == "call_hands"
    day = shown(row)
    told = {finding.id: finding.values for finding in day.findings}
    # Stones and wood are for two in the table of activities, and the lead is alone.
    assert "E17" in str(told["day.few_hands"]["work"]) and told["day.few_hands"]["people"] == "lead"
    assert day.advised.id == "few_hands" and not day.advised.fits
    still = [entry for entry in day.advised.hours.entries if entry.state != "done"]
    assert still and all(entry.crew == ("lead",) for entry in still if entry.start >= day.now)
    for move in (*day.urgent, day.advised):
        words = say(f"move.{move.id}", move.values)
        assert "about ," not in words and "about ." not in words and "by ," not in words


def test_the_hours_shown_are_those_of_the_way_that_is_advised():
    day = shown(1)
    assert day.advised.id == "person_and_carpet"
    crew = {name for entry in day.advised.hours.entries for name in entry.crew}
    assert "third" in crew
    keep = next(move for move in day.moves if move.id == "keep")
    assert max(entry.end for entry in keep.hours.entries) > max(entry.end for entry in day.advised.hours.entries)


@pytest.mark.parametrize("number", NUMBERS, ids=NAMES)
def test_behind_what_is_urgent_stands_a_way_for_the_day_with_its_own_hours(number):
    day = shown(number)
    assert day.advised.id not in URGENT and day.moves[: len(day.urgent)] == day.urgent
    last = max(entry.end for entry in day.advised.hours.entries if not entry.activity.startswith("break:"))
    assert day.advised.finish == last


def test_with_one_of_two_filters_broken_the_other_is_named():
    # The harbour line's left hose clamp; its other filter is the right one.
    row = next(number for number, row in enumerate(ROWS) if row["first"] == "mend_filter")
    told = {finding.id: finding.values for finding in shown(row).findings}
    assert told["day.other_filters"]["filters"] == "right"
    assert "day.other_filters" not in {finding.id for finding in shown(row, altered=True).findings}


def test_a_later_end_waits_for_whoever_holds_the_key():
    # Booked as it is the day ends about an hour after closing at 18:00; the key holder leaves at 18:10.
    day = shown(1)
    later = next(move for move in day.moves if move.id.startswith("later_end"))
    assert later.id == "later_end_key" and not later.fits and later.values["leaves"] == "18:10"
    # Until the first work beyond the safe overnight state begins, stopping there is still open.
    keep = next(move for move in day.moves if move.id == "keep")
    beyond = min(entry.start for entry in keep.hours.entries if entry.activity in ("E20", "E21", "E22"))
    assert later.values["by"] == f"{beyond:%H:%M}"


def test_boxes_that_stay_shut_overnight_keep_their_clocks():
    # Nobody is let go on the way to the safe overnight state, so no box is opened for good.
    safe = next(move for move in shown(1).moves if move.id == "safe_overnight")
    assert {clock.clock.partition(".")[0] for clock in safe.hours.clocks if clock.end is None} >= {"holding"}
    keep = next(move for move in shown(1).moves if move.id == "keep")
    assert all(clock.end is not None for clock in keep.hours.clocks)


def test_boxes_are_half_changed_before_they_run_out_where_the_crew_stops_at_the_safe_overnight_state():
    # Fish are in boxes from 07:37 and hold for 520 minutes, to 16:17; filled and running is not done by then.
    rows = [{"at": "2027-02-10T10:10", "kind": "slipped", "subject": "E6", "body": {"remaining_min": 90}}]
    found = now_on(booked("blue-corridor"), rows, "2027-02-10T10:15")
    safe = next(move for move in found.moves if move.id == "safe_overnight")
    assert "R1" in [entry.activity for entry in safe.hours.entries]
    assert safe.fits and safe.first_clock == "" and safe.over_min == 0
    # They wait on when the crew has left, and that is told with the hour by which somebody has to come.
    assert found.advised.id == "safe_overnight"
    told = next(finding for finding in found.findings if finding.id == "day.boxes_run_on")
    held = [
        clock.latest
        for clock in safe.hours.clocks
        if clock.end is None and clock.clock.startswith(("holding", "shrimp"))
    ]
    assert told.values["due"] == f"{min(held):%H:%M}" and safe.finish < min(held)
    for move in found.moves:
        out = [clock for clock in move.hours.clocks if clock.end is None and move.finish and clock.latest < move.finish]
        assert not (out and move.fits)
