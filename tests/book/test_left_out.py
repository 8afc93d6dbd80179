"""Which finished jobs are left out of what is learned, and what tells that they have changed."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from slackwater.book import events, finished, jobs, left_out, plans, receipts
from slackwater.book.ids import new_id
from slackwater.errors import BadInput, NotFound
from tests.book.places import NOON, event, one_of_each

DAY = '[[site.windows]]\nkind = "day"\nstart = "2027-02-10 06:30"\nend = "2027-02-10 18:30"\n'
LATER = date(2027, 2, 11)


def test_a_job_is_left_out_and_taken_back_and_both_stay_in_the_book(book):
    job = one_of_each(book).job
    left_out.leave_out(book, job, reason="half the crew ill", at=NOON, by="ada")
    assert {name: row.reason for name, row in left_out.now_out(book).items()} == {job: "half the crew ill"}
    left_out.take_in(book, job, at=NOON + timedelta(minutes=1), by="bo")
    assert left_out.now_out(book) == {}
    assert [(row.is_out, row.reason, row.added_by) for row in left_out.of_job(book, job)] == [
        (True, "half the crew ill", "ada"),
        (False, "", "bo"),
    ]


def test_a_decision_that_is_sent_twice_is_one(book):
    job, own = one_of_each(book).job, new_id(NOON)
    for _ in range(2):
        left_out.leave_out(book, job, reason="flood", at=NOON, by="", decision_id=own)
    assert len(left_out.of_job(book, job)) == 1


def test_no_reason_and_no_job_are_refused(book):
    job = one_of_each(book).job
    with pytest.raises(BadInput, match="needs a reason"):
        left_out.leave_out(book, job, reason="  ", at=NOON, by="")
    with pytest.raises(NotFound):
        left_out.take_in(book, new_id(NOON), at=NOON, by="")
    assert left_out.of_job(book, job) == []


def test_a_job_is_finished_once_its_day_is_over_and_something_was_noted(book):
    job = one_of_each(book, text=f'name = "Lobby"\n{DAY}').job
    assert finished.finished_jobs(book, before=LATER) == []
    events.append(book, job, [event()])
    assert finished.finished_jobs(book, before=date(2027, 2, 10)) == []
    assert [(row.job_id, row.name, row.day) for row in finished.finished_jobs(book, before=LATER)] == [
        (job, "Lobby", date(2027, 2, 10))
    ]


def test_its_state_changes_with_its_log_its_text_its_plans_and_with_what_is_left_out(book):
    job = one_of_each(book, text=f'name = "Lobby"\n{DAY}').job
    events.append(book, job, [event()])
    states, stamps = [], []

    def look():
        states.append(finished.finished_jobs(book, before=LATER)[0].state)
        stamps.append(finished.stamp(book, before=LATER))

    look()
    events.append(book, job, [event()])
    look()
    jobs.save_version(book, job, f'name = "Lobby 2"\n{DAY}', parent=1, at=NOON, by="")
    look()
    plans.keep(book, job, 1, plan_json="{}", inputs_hash="h", at=NOON)
    look()
    receipts.add(book, job, line="soil", received=2, unit="bag", at=NOON, by="")
    look()
    assert len(set(states)) == len(states) and len(set(stamps)) == len(stamps)
    left_out.leave_out(book, job, reason="flood", at=NOON, by="")
    look()
    assert states[-1] == states[-2] and stamps[-1] != stamps[-2]
    assert plans.made(book, job) == [(NOON, 1, "h")]
