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


def line(number, body, kind="measured", subject="tank"):
    moment = datetime(2027, 2, 13, 9)
    return write_events([Event(id=UUID(int=number), at=moment, kind=kind, job="BC", subject=subject, body=body)])


@pytest.mark.parametrize(
    ("body", "told"),
    [
        ({"tan_mg_l": -2}, "tan_mg_l is -2, expected a bare number from 0 to 100"),
        ({"ph": 65}, "ph is 65, expected a bare number from 3 to 11"),
        ({"tan_mg_l": "0.5 mg/L"}, 'tan_mg_l is "0.5 mg/L"'),
        ({"ammonia": 0.5}, "ammonia is no reading known here; known are tan_mg_l, nitrite_n_mg_l"),
        ({"nitrite_mg_l": 0.5}, "did you mean nitrite_n_mg_l?"),
        ({"ammonia": "0.5"}, "ammonia is no reading known here"),
    ],
)
def test_a_reading_that_cannot_be_or_is_not_known_is_refused_with_its_line(body, told):
    with pytest.raises(BadInput) as raised:
        read_events(line(1, {"ph": 6.9}) + line(2, body), file_name="e.jsonl")
    assert str(raised.value).startswith("e.jsonl, line 2: ") and told in str(raised.value)


def test_remarks_beside_a_reading_and_readings_of_other_things_stay():
    good = line(1, {"tan_mg_l": 0.4, "told_by_staff": "fed twice a day"}) + line(2, {"what": 1}, subject="barrel 1")
    assert len(read_events(good, file_name="e.jsonl")) == 2


def test_an_id_that_is_none_is_told_in_plain_words():
    with pytest.raises(BadInput) as raised:
        read_events(EXAMPLE.replace("6f1d1d0e-3b1a-4d34-9a3e-0b6b6f2c0001", "17"), file_name="e.jsonl")
    text = str(raised.value)
    assert '"17" is no id' in text and "6f1d1d0e-3b1a-4d34-9a3e-0b6b6f2c0001" in text and "uuid" not in text.lower()


@pytest.mark.parametrize(("bad", "lines"), [(3, 3), (5, 5), (8, 6)])
def test_all_bad_lines_are_told_at_once_up_to_five(bad, lines):
    with pytest.raises(BadInput) as raised:
        read_events("".join(line(number, {"ph": -1}) for number in range(bad)), file_name="e.jsonl")
    told = str(raised.value).split("\n")
    assert len(told) == lines and (told[-1] == "e.jsonl: 3 more bad lines") == (bad == 8)


@pytest.mark.parametrize("number", ["false", '"3"', "null"])
def test_a_running_number_is_a_number(number):
    with pytest.raises(BadInput, match="line 1: seq"):
        read_events(EXAMPLE.replace('"body"', f'"seq": {number}, "body"'), file_name="e.jsonl")
