"""A log tells of times that cannot both be right, and of no others."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.day.told_times import clashes
from slackwater.job.event import Event, EventKind


def log(*said: str) -> list[Event]:
    """Events out of ``10:00 started E4``."""
    found = []
    for number, text in enumerate(said):
        clock, kind, subject = text.split()
        at = datetime.fromisoformat(f"2027-02-10T{clock}:00")
        found.append(Event(id=UUID(int=number), at=at, kind=EventKind(kind), job="J", subject=subject))
    return found


@pytest.mark.parametrize(
    ("said", "found"),
    [
        (("10:00 finished E4", "12:00 started E4"), [("finish_first", 0, 1)]),
        (("12:00 started E4", "10:00 finished E4"), [("finish_first", 1, 0)]),
        # Begun again, never begun on the log, begun and over within one minute, other work: all may be so.
        (("10:00 started E4", "11:00 finished E4", "12:00 started E4"), []),
        (("10:00 finished E4", "12:00 started E3"), []),
        (("10:00 started E4", "10:00 finished E4"), []),
        (("09:00 finished E28", "11:00 started E5"), [("back_first", 0, 1)]),
        (("09:00 started E27", "11:00 counted neocaridina_davidi"), [("back_first", 0, 1)]),
        # A shrimp found in the filter after the others went back was caught after the catch.
        (("09:00 started E5", "11:00 finished E28", "12:00 counted neocaridina_davidi"), []),
        (("11:00 finished E28",), []),
    ],
)
def test_times_that_cannot_both_be_right_are_found(said, found):
    told = [(clash.why.value, clash.earlier.id.int, clash.later.id.int) for clash in clashes(log(*said))]
    assert told == found


@given(st.lists(st.integers(0, 600), min_size=2, max_size=12, unique=True))
def test_work_noted_in_its_order_never_contradicts_itself(minutes):
    opens = datetime(2027, 2, 10, 8)
    names = ["E5", "E6", "E27", "E28"]
    steps = [(kind, name) for name in names for kind in (EventKind.STARTED, EventKind.FINISHED)]
    events = [
        Event(id=UUID(int=n), at=opens + timedelta(minutes=at), kind=kind, job="J", subject=name)
        for n, (at, (kind, name)) in enumerate(zip(sorted(minutes), steps, strict=False))
    ]
    assert clashes(events) == ()
