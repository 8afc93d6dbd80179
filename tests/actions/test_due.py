"""The time that a log proposes, times as they are typed, and the work that is due: values worked out by hand."""

from __future__ import annotations

from datetime import UTC, datetime, time
from uuid import UUID

import pytest

from slackwater.actions.due import PlannedWork, due_now
from slackwater.actions.entering import Entered
from slackwater.actions.present import Basis, entered_time, present_at, read_clock
from slackwater.job.event import Event, EventKind

SITE = {
    "site": {
        "time_zone": "America/New_York",
        "windows": [
            {"start": "2027-02-09 18:00", "end": "2027-02-09 20:00", "kind": "survey"},
            {"start": "2027-02-10 08:00", "end": "2027-02-10 18:00"},
        ],
    }
}


def event(kind, subject, at, **body):
    return Event(id=UUID(int=1), at=at, kind=kind, job="J", subject=subject, body=body)


def at(hour, minute, day=10):
    return datetime(2027, 2, day, hour, minute)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1240", time(12, 40)), ("12.40", time(12, 40)), ("12:40", time(12, 40)), (" 12 40 ", time(12, 40)),
        ("12,40", time(12, 40)), ("8h05", time(8, 5)), ("805", time(8, 5)), ("0805", time(8, 5)), ("1:15 pm", time(13, 15)),
        ("12:10am", time(0, 10)), ("2400", None), ("1260", None), ("13:15 pm", None), ("12", None), ("soon", None), ("-1240", None),
    ],
)  # fmt: skip
def test_times_are_read_as_they_are_typed(text, expected):
    assert read_clock(text) == expected


@pytest.mark.parametrize(
    ("moment", "events", "basis", "expected"),
    [
        # New York is five hours behind UTC in February.
        (datetime(2027, 2, 10, 17, 40, tzinfo=UTC), [], Basis.NOW, at(12, 40)),
        (datetime(2027, 2, 11, 4, 30, tzinfo=UTC), [], Basis.NOW, at(23, 30)),
        (datetime(2027, 2, 10, 4, 30, tzinfo=UTC), [], Basis.OPENS, at(8, 0)),
        (datetime(2027, 2, 11, 6, 0, tzinfo=UTC), [at(17, 50)], Basis.NOW, at(1, 0, day=11)),
        (datetime(2027, 2, 14, 6, 0, tzinfo=UTC), [at(17, 50), at(9, 0)], Basis.LAST, at(17, 50)),
    ],
)
def test_the_time_proposed_is_now_on_the_day_then_the_last_entry_then_the_start(moment, events, basis, expected):
    noted = [event(EventKind.NOTED, "", when) for when in events]
    found = present_at(SITE, noted, moment)
    assert (found.basis, found.at, found.zone) == (basis, expected, "America/New_York")


def test_a_job_that_tells_no_access_goes_by_the_clock():
    moment = datetime(2027, 2, 10, 17, 40, tzinfo=UTC)
    for told in (
        {},
        {"site": "?"},
        {"site": {"windows": "?", "time_zone": "Mars"}},
        {"site": {"windows": [{"start": "?"}]}},
    ):
        found = present_at(told, [], moment)
        assert (found.basis, found.zone) == (Basis.NOW, "")
        assert found.at == moment.astimezone().replace(tzinfo=None)


@pytest.mark.parametrize(
    ("utc", "typed", "expected"),
    [
        ((10, 17, 40), "1205", at(12, 5)),
        ((10, 17, 40), "1248", at(12, 48)),
        ((10, 17, 40), "", at(12, 40)),
        # An hour past midnight 23:50 is of the evening before.
        ((11, 6, 0), "2350", at(23, 50)),
        ((14, 6, 0), "1205", at(12, 5)),
        ((14, 6, 0), "2027-02-11 00:10", at(0, 10, day=11)),
    ],
)
def test_a_time_of_day_is_of_the_day_of_the_work(utc, typed, expected):
    present = present_at(SITE, [event(EventKind.NOTED, "", at(17, 50))], datetime(2027, 2, *utc, tzinfo=UTC))
    entered = Entered({"at": typed})
    assert entered_time(entered, "at", present) == expected
    assert not entered.faults


def test_on_another_day_nothing_typed_means_no_time():
    entered = Entered({"at": ""})
    entered_time(entered, "at", present_at(SITE, [], datetime(2027, 2, 14, 6, 0, tzinfo=UTC)))
    assert set(entered.faults) == {"at"}


WORK = tuple(PlannedWork(id=f"E{n}", name=f"work {n}", start=at(8 + n, 0), end=at(8 + n, 45)) for n in range(1, 9))


def test_what_runs_stands_before_what_is_late_and_what_comes_next():
    happened = [
        event(EventKind.STARTED, "E1", at(9, 0)),
        event(EventKind.FINISHED, "E1", at(9, 30)),
        event(EventKind.DROPPED, "E2", at(9, 31)),
        event(EventKind.STARTED, "E4", at(11, 0)),
        event(EventKind.SLIPPED, "E4", at(11, 30), remaining_min=40),
        event(EventKind.STARTED, "E5", at(11, 10)),
        event(EventKind.NOTED, "E6", at(11, 11), text="x"),
    ]
    found = [(due.work.id, due.stand.value, due.since, due.until) for due in due_now(WORK, happened, at(12, 0))]
    assert found == [
        ("E5", "running", at(11, 10), at(11, 55)),
        ("E4", "running", at(11, 0), at(12, 10)),
        ("E3", "due", None, at(11, 45)),
        ("E6", "next", None, at(14, 45)),
        ("E7", "next", None, at(15, 45)),
    ]


def test_no_more_is_offered_than_a_phone_shows_and_nothing_when_all_is_over():
    assert [due.work.id for due in due_now(WORK, [], at(14, 0))] == ["E1", "E2", "E3", "E4", "E7", "E8"]
    over = [event(EventKind.FINISHED, one.id, at(17, 0)) for one in WORK]
    assert due_now(WORK, over, at(17, 0)) == ()
