"""Long work: every end that a task can come to, with real processes and a real book: by the office's own pool, and by workers."""

from __future__ import annotations

import os
import signal
from contextlib import contextmanager

import pytest

from slackwater.book import open_book, tasks
from slackwater.book.tasks import MOST_TRIES, State
from slackwater.work import Workshop
from tests.book.conftest import server as server
from tests.work.crew import TwoWorkers, begun_by, ended, until
from tests.work.kinds import KIND
from tests.work.worker import NOW


@pytest.fixture(scope="module")
def two_workers(request, tmp_path_factory):
    """A book on PostgreSQL with two worker processes, of which every test finds two: one that was killed is replaced."""
    with TwoWorkers(request.getfixturevalue("server"), tmp_path_factory.mktemp("workers")) as made:
        yield made


@pytest.fixture(params=["pool", "workers"])
def elsewhere(request):
    """Who does the work: None for the office's own pool, or two workers."""
    return None if request.param == "pool" else request.getfixturevalue("two_workers").all_there()


@pytest.fixture
def book(elsewhere, tmp_path):
    if elsewhere is not None:
        yield elsewhere.book
        return
    with open_book(tmp_path) as opened:
        yield opened


@contextmanager
def workshop_of(book):
    workshop = Workshop(book, {"test": KIND}, clock=lambda: NOW, workers=1)
    try:
        yield workshop
    finally:
        workshop.close()


@pytest.fixture
def new_workshop(elsewhere, book):
    """Opens an office's workshop, as often as it is asked to."""
    return (lambda: workshop_of(book)) if elsewhere is None else elsewhere.office


@pytest.fixture
def workshop(new_workshop):
    with new_workshop() as made:
        yield made


def enter(book, what, **more):
    return tasks.add(book, kind="test", arguments={"what": what, **more}, at=NOW, by="")


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


def test_a_process_that_dies_is_tried_again_with_a_limit_and_takes_no_later_task_with_it(book, workshop):
    dying = enter(book, "die")
    workshop.submit(dying)
    failed = ended(book, dying.id)
    assert (failed.state, failed.tries) == (State.FAILED, MOST_TRIES)
    assert "ended without an answer" in failed.fault
    after = enter(book, "double", number=4)
    workshop.submit(after)
    assert ended(book, after.id).result == "kept 8"


def test_what_comes_after_a_process_that_died_while_it_told_something_is_heard(book, workshop):
    dying = enter(book, "die telling")
    workshop.submit(dying)
    assert ended(book, dying.id).state is State.FAILED
    after = enter(book, "on and on")
    workshop.submit(after)
    until(book, after.id, lambda now: now.doing == "still going")
    workshop.cancel(after.id)
    assert ended(book, after.id).state is State.CANCELLED


def test_one_that_is_killed_in_the_middle_loses_nothing(elsewhere, book, workshop, tmp_path):
    task = enter(book, "pids", file=str(tmp_path / "pids"), number=9)
    workshop.submit(task)
    whose, which = begun_by(tmp_path / "pids", 1)
    # Of the pool the process that computes, of the workers all of one: what computes for it goes with it.
    os.kill(which if elsewhere is None else whose, signal.SIGKILL)
    done = ended(book, task.id)
    assert (done.state, done.result, done.tries) == (State.DONE, "kept 18", 2)
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
    # As many as can run at once, and one more.
    busy = [enter(book, "on and on") for _ in range(2)]
    second = enter(book, "count", file=str(tmp_path / "count"))
    for task in (*busy, second):
        workshop.submit(task)
    until(book, busy[0].id, lambda now: now.state is State.RUNNING)
    assert workshop.cancel(second.id).state is State.CANCELLED
    for task in busy:
        workshop.cancel(task.id)
        ended(book, task.id)
    third = enter(book, "double", number=1)
    workshop.submit(third)
    ended(book, third.id)
    assert tasks.get(book, second.id).state is State.CANCELLED
    assert not (tmp_path / "count").exists()


def test_work_that_is_cut_off_is_found_broken_and_can_be_begun_again(tmp_path):
    # Of the pool only: what workers do goes on when the office closes (test_workers.py).
    with open_book(tmp_path) as book:
        with workshop_of(book) as first:
            task = enter(book, "silent")
            first.submit(task)
            until(book, task.id, lambda now: now.doing == "began silent")
        with workshop_of(book) as second:
            assert second.found_broken == 1
            assert tasks.get(book, task.id).state is State.BROKEN
            again = tasks.restart(book, task.id, at=NOW, by="")
            assert (again.arguments, again.restarts) == (task.arguments, task.id)


def test_work_that_was_waiting_when_the_office_closed_is_done_when_it_opens(book, new_workshop, tmp_path):
    file = tmp_path / "count"
    task = enter(book, "count", file=str(file))
    with new_workshop():
        assert ended(book, task.id).state is State.DONE
    with new_workshop():
        pass
    assert file.read_text(encoding="utf-8") == "x"
