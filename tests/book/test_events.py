"""Events: appended once, in the order of commits, whoever sends them and however often."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from slackwater.book import events, jobs
from slackwater.book.events import Reason
from slackwater.book.ids import new_id
from slackwater.errors import BadInput, NotFound
from slackwater.wording.render import say
from tests.book.places import NOON, event, one_of_each


def test_what_is_sent_again_is_accepted_again_and_stands_once(book):
    job = one_of_each(book).job
    batch = [event(device="phone", seq=n, count=n) for n in range(3)]
    first = events.append(book, job, batch)
    assert [done.n for done in first.accepted] == [1, 2, 3]
    assert events.append(book, job, batch) == first
    assert [row.event for row in events.after(book, job)] == batch
    assert jobs.get(book, job).events_n == 3


def test_what_is_refused_is_told_with_its_reason_and_hinders_no_other(book):
    job, other = one_of_each(book).job, one_of_each(book).job
    kept = event(device="phone", seq=1, count=1)
    events.append(book, job, [kept])
    changed = kept.model_copy(update={"body": {"count": 2}})
    reused = event(device="phone", seq=1, count=3)
    fresh = event(device="phone", seq=2, count=4)
    unfit = event(note="x").model_copy(update={"subject": "a\x00b"})
    huge = event(note="x").model_copy(update={"seq": 2**70})
    found = events.append(book, job, [changed, reused, unfit, huge, fresh])
    assert [(told.id, told.reason) for told in found.refused] == [
        (str(changed.id), Reason.OTHER_BODY),
        (str(reused.id), Reason.NUMBER_USED),
        (str(unfit.id), Reason.NOT_STORABLE),
        (str(huge.id), Reason.NOT_STORABLE),
    ]
    assert [(done.id, done.n) for done in found.accepted] == [(str(fresh.id), 2)]
    (elsewhere,) = events.append(book, other, [kept]).refused
    assert elsewhere.reason is Reason.OTHER_JOB
    assert events.after(book, other) == []


def test_the_same_event_twice_in_one_batch_stands_once(book):
    job = one_of_each(book).job
    fact = event(count=1)
    assert [done.n for done in events.append(book, job, [fact, fact]).accepted] == [1, 1]


def test_a_body_is_the_same_whatever_the_order_of_its_keys(book):
    job = one_of_each(book).job
    one = event(a=1, b=2.5, c="ü")
    other = one.model_copy(update={"body": {"c": "ü", "b": 2.5, "a": 1}})
    events.append(book, job, [one])
    assert events.append(book, job, [other]).refused == ()


def test_devices_without_a_name_share_no_numbers(book):
    job = one_of_each(book).job
    assert events.append(book, job, [event(count=1), event(count=2)]).refused == ()


def test_too_many_at_once_and_an_unknown_job_are_refused(book):
    job = one_of_each(book).job
    with pytest.raises(BadInput, match="101 events at once, expected at most 100"):
        events.append(book, job, [event() for _ in range(101)])
    with pytest.raises(NotFound, match="no job with the id"):
        events.append(book, new_id(NOON), [event()])
    assert events.after(book, job) == []


def test_numbers_have_no_gap_when_many_append_at_once_and_a_follower_misses_none(book):
    job = one_of_each(book).job
    seen: list[int] = []

    def append(sender: int) -> None:
        for n in range(10):
            events.append(
                book, job, [event(device=f"phone {sender}", seq=n), event(device=f"phone {sender}", seq=100 + n)]
            )

    with ThreadPoolExecutor(5) as pool:
        running = [pool.submit(append, sender) for sender in range(4)]
        while not all(task.done() for task in running):
            # Each look asks for what comes after the last number seen: a number that showed late would be missing below.
            seen += [row.n for row in events.after(book, job, seen[-1] if seen else 0)]
        for task in running:
            task.result()
    seen += [row.n for row in events.after(book, job, seen[-1] if seen else 0)]
    assert seen == list(range(1, 81))


def test_two_phones_racing_with_one_event_leave_it_once(book):
    jobs_of = [one_of_each(book).job for _ in range(2)]
    for _ in range(5):
        fact = event(device="phone", seq=int(new_id(NOON)[-6:], 16), count=1)
        with ThreadPoolExecutor(2) as pool:
            found = list(pool.map(lambda job, fact=fact: events.append(book, job, [fact]), jobs_of))
        assert sorted(len(done.accepted) for done in found) == [0, 1]


sent = st.tuples(st.integers(0, 5), st.integers(0, 5), st.integers(0, 2))
"""Of few: which id, which running number, which content."""


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(batches=st.lists(st.lists(sent, max_size=6), max_size=6))
def test_whatever_is_sent_in_whatever_order_each_event_is_answered_once_and_rules_hold(book, batches):
    job = one_of_each(book).job
    ids, device = [new_id(NOON) for _ in range(6)], new_id(NOON)
    # The rules in plain words: an id keeps its first content, and a number its first id.
    kept, numbers = {}, {}
    for batch in batches:
        facts = [event(event_id=ids[i], device=device, seq=seq, told=told) for i, seq, told in batch]
        found = events.append(book, job, facts)
        expected = []
        for (i, seq, told), fact in zip(batch, facts, strict=True):
            if i not in kept and seq not in numbers:
                kept[i], numbers[seq] = (seq, told, len(kept) + 1), i
            if i not in kept:
                expected.append((str(fact.id), Reason.NUMBER_USED))
            elif kept[i][:2] != (seq, told):
                expected.append((str(fact.id), Reason.OTHER_BODY))
            else:
                expected.append((str(fact.id), kept[i][2]))
        answers = [(one.id, one.n) for one in found.accepted] + [(one.id, one.reason) for one in found.refused]
        assert sorted(answers, key=str) == sorted(expected, key=str)
    rows = events.after(book, job)
    assert [row.n for row in rows] == list(range(1, len(kept) + 1))
    assert {str(row.event.id): row.event.body["told"] for row in rows} == {
        ids[i]: told for i, (_, told, _) in kept.items()
    }


@pytest.mark.parametrize("reason", list(Reason))
def test_every_refusal_has_a_sentence(reason):
    assert say(f"book.refused.{reason.value}", {}).endswith(".")
