"""Tasks move by their rules, whoever pushes."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest

from slackwater.book import tasks
from slackwater.book.ids import new_id
from slackwater.book.tasks import State
from slackwater.errors import BadInput, Conflict, NotFound
from tests.book.places import NOON, one_of_each


def begun(book, **more):
    return tasks.add(book, kind="plan", arguments={"version": 3}, at=NOON, by="me", **more)


def test_a_task_waits_runs_tells_how_far_it_is_and_ends(book):
    job = one_of_each(book).job
    task = begun(book, job_id=job)
    assert (task.state, task.arguments) == (State.WAITING, {"version": 3})
    assert tasks.start(book, task.id, at=NOON)
    assert tasks.progress(book, task.id, doing="scheduling", share=0.5)
    now = tasks.get(book, task.id)
    assert (now.state, now.doing, now.share, now.started_at) == (State.RUNNING, "scheduling", 0.5, NOON)
    assert tasks.open_tasks(book) == [now]
    assert tasks.finish(book, task.id, result="version 3", at=NOON)
    done = tasks.get(book, task.id)
    assert (done.state, done.result, done.ended_at) == (State.DONE, "version 3", NOON)
    assert tasks.open_tasks(book) == []
    assert tasks.of_job(book, job) == tasks.listed(book) == [done]


def test_one_of_many_takes_a_waiting_task(book):
    task = begun(book)
    with ThreadPoolExecutor(6) as pool:
        assert sum(pool.map(lambda _: tasks.start(book, task.id, at=NOON), range(12))) == 1


def test_cancelling_ends_what_waits_and_asks_what_runs_to_stop(book):
    waits, runs = begun(book), begun(book)
    assert tasks.ask_cancel(book, waits.id, at=NOON).state is State.CANCELLED
    assert not tasks.start(book, waits.id, at=NOON)
    tasks.start(book, runs.id, at=NOON)
    assert tasks.ask_cancel(book, runs.id, at=NOON).state is State.RUNNING
    assert not tasks.progress(book, runs.id, doing="more")
    assert tasks.cancelled(book, runs.id, at=NOON)
    # What ends after it was cancelled changes nothing any more.
    assert not tasks.finish(book, runs.id, result="late", at=NOON)
    assert tasks.get(book, runs.id).result is None


def test_what_ran_when_the_program_stopped_is_broken_and_can_be_restarted(book):
    runs, waits = begun(book), begun(book)
    tasks.start(book, runs.id, at=NOON)
    assert tasks.mark_broken(book, at=NOON) == 1
    assert tasks.get(book, runs.id).state is State.BROKEN
    assert tasks.get(book, waits.id).state is State.WAITING
    assert not tasks.finish(book, runs.id, result="of a process that was thought dead", at=NOON)
    again = tasks.restart(book, runs.id, at=NOON, by="me")
    assert (again.state, again.restarts, again.arguments) == (State.WAITING, runs.id, runs.arguments)


def test_only_what_ended_without_a_result_is_restarted(book):
    task = begun(book)
    with pytest.raises(Conflict, match="is waiting"):
        tasks.restart(book, task.id, at=NOON, by="me")
    tasks.start(book, task.id, at=NOON)
    tasks.fail(book, task.id, fault="The job has no tank.", at=NOON)
    assert tasks.get(book, task.id).fault == "The job has no tank."
    assert tasks.restart(book, task.id, at=NOON, by="me").state is State.WAITING


def test_a_task_that_is_not_there_and_words_that_cannot_be_kept_are_refused(book):
    with pytest.raises(NotFound, match="no task"):
        tasks.start(book, new_id(NOON), at=NOON)
    with pytest.raises(NotFound, match="no job"):
        begun(book, job_id=new_id(NOON))
    task = begun(book)
    tasks.start(book, task.id, at=NOON)
    with pytest.raises(BadInput, match="code zero"):
        tasks.progress(book, task.id, doing="\x00")
