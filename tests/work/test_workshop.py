"""Long work: every end that a task can come to, with real processes and a real book."""

from __future__ import annotations

import time
from contextlib import contextmanager
from datetime import UTC, datetime

import pytest

from slackwater.book import open_book, tasks
from slackwater.book.tasks import OPEN, State
from slackwater.errors import BadInput
from slackwater.work import Kind, Workshop
from tests.work.kinds import work

NOW = datetime(2027, 2, 1, 8, 0, tzinfo=UTC)


@pytest.fixture
def book(tmp_path):
    with open_book(tmp_path) as opened:
        yield opened


def given(task):
    if task.arguments.get("what") == "unreadable":
        raise BadInput("There is no such number")
    return task.arguments


def keep(task, result):
    if result == "26":
        raise BadInput("Nobody keeps thirteen doubled")
    return f"kept {result}"


@contextmanager
def workshop_of(book):
    workshop = Workshop(book, {"test": Kind(run=work, given=given, kept=keep)}, clock=lambda: NOW, workers=1)
    try:
        yield workshop
    finally:
        workshop.close()


@pytest.fixture
def workshop(book):
    with workshop_of(book) as made:
        yield made


def enter(book, what, **more):
    return tasks.add(book, kind="test", arguments={"what": what, **more}, at=NOW, by="")


def until(book, task_id, done):
    for _ in range(1200):
        task = tasks.get(book, task_id)
        if done(task):
            return task
        time.sleep(0.05)
    raise AssertionError(f"still {task.state}: {task.doing}")


def ended(book, task_id):
    return until(book, task_id, lambda task: task.state not in OPEN)


def test_a_task_is_done_and_what_came_out_is_kept(book, workshop):
    task = enter(book, "double", number=21)
    workshop.submit(task)
    done = ended(book, task.id)
    assert (done.state, done.result, done.fault) == (State.DONE, "kept 42", None)


@pytest.mark.parametrize(
    ("what", "sentence"),
    [("refuse", "This number is odd"), ("unreadable", "There is no such number"), ("break", "without an answer")],
)
def test_a_task_that_fails_says_why_and_shows_no_inside(book, workshop, what, sentence):
    task = enter(book, what)
    workshop.submit(task)
    done = ended(book, task.id)
    assert done.state is State.FAILED
    assert sentence in (done.fault or "")
    assert "secret" not in (done.fault or "")


def test_a_result_that_cannot_be_kept_is_a_failure(book, workshop):
    task = enter(book, "double", number=13)
    workshop.submit(task)
    assert ended(book, task.id).fault == "Nobody keeps thirteen doubled"


def test_a_kind_that_this_version_does_not_know_is_said(book, workshop):
    task = tasks.add(book, kind="other", arguments={}, at=NOW, by="")
    workshop.submit(task)
    assert ended(book, task.id).state is State.FAILED


def test_a_process_that_dies_takes_no_later_task_with_it(book, workshop):
    dying = enter(book, "die")
    workshop.submit(dying)
    assert ended(book, dying.id).state is State.FAILED
    after = enter(book, "double", number=4)
    workshop.submit(after)
    assert ended(book, after.id).result == "kept 8"


def test_running_work_tells_what_it_is_at_and_stops_when_asked(book, workshop):
    task = enter(book, "on and on")
    workshop.submit(task)
    until(book, task.id, lambda now: now.doing == "still going")
    workshop.cancel(task.id)
    assert ended(book, task.id).state is State.CANCELLED


def test_waiting_work_is_stopped_before_it_begins(book, workshop, tmp_path):
    first, second = enter(book, "on and on"), enter(book, "count", file=str(tmp_path / "count"))
    workshop.submit(first)
    workshop.submit(second)
    until(book, first.id, lambda now: now.state is State.RUNNING)
    assert workshop.cancel(second.id).state is State.CANCELLED
    workshop.cancel(first.id)
    ended(book, first.id)
    third = enter(book, "double", number=1)
    workshop.submit(third)
    ended(book, third.id)
    assert tasks.get(book, second.id).state is State.CANCELLED
    assert not (tmp_path / "count").exists()


def test_work_that_is_cut_off_is_found_broken_and_can_be_begun_again(book):
    with workshop_of(book) as first:
        task = enter(book, "silent")
        first.submit(task)
        until(book, task.id, lambda now: now.doing == "began silent")
    with workshop_of(book) as second:
        assert second.found_broken == 1
        assert tasks.get(book, task.id).state is State.BROKEN
        again = tasks.restart(book, task.id, at=NOW, by="")
        assert (again.arguments, again.restarts) == (task.arguments, task.id)


def test_work_that_was_waiting_when_the_office_closed_is_done_when_it_opens(book, tmp_path):
    file = tmp_path / "count"
    task = enter(book, "count", file=str(file))
    with workshop_of(book):
        assert ended(book, task.id).state is State.DONE
    with workshop_of(book):
        pass
    assert file.read_text(encoding="utf-8") == "x"
