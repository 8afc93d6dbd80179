"""Events are lines of JSON that come back as they were written."""

from datetime import datetime
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import BadInput
from slackwater.job.event import EXAMPLE, Event, EventKind, read_events, write_events

EVENTS = st.builds(
    Event,
    id=st.uuids(),
    at=st.datetimes(min_value=datetime(2020, 1, 1), max_value=datetime(2040, 1, 1)),
    kind=st.sampled_from(EventKind),
    job=st.text(max_size=8),
    subject=st.text(max_size=8),
    body=st.dictionaries(st.text(max_size=5), st.integers() | st.text(max_size=5), max_size=3),
    seq=st.integers(min_value=0, max_value=9),
)


@given(st.lists(EVENTS, max_size=5))
def test_what_is_written_comes_back(events):
    assert read_events(write_events(events), file_name="e.jsonl") == tuple(events)


def test_a_bad_line_is_named():
    good = write_events([Event(id=UUID(int=1), at=datetime(2027, 2, 10, 8, 5), kind=EventKind.COUNTED, job="BC")])
    with pytest.raises(BadInput, match=r"e.jsonl, line 2: kind"):
        read_events(good + good.replace("counted", "guessed"), file_name="e.jsonl")


def test_a_line_that_is_no_json_is_answered_with_one_that_is():
    (event,) = read_events(EXAMPLE, file_name="e.jsonl")
    assert event.kind is EventKind.COUNTED and event.body == {"caught": 5, "pass": 1}
    with pytest.raises(BadInput) as raised:
        read_events(f"{EXAMPLE}\nfive shrimp caught\n", file_name="e.jsonl")
    assert str(raised.value) == f"e.jsonl, line 2: not a line of JSON; a line looks like {EXAMPLE}"
