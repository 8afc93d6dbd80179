"""Workers beyond what they share with the office's own pool: one is killed, leaves, wakes late, is of another version; the queue is lost."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest
from sqlalchemy import text

from slackwater.book import open_book, tasks
from slackwater.book.tasks import MOST_TRIES, State
from slackwater.errors import CannotRun
from slackwater.wording.render import say
from slackwater.work import Workshop
from slackwater.work.outwork import Outwork
from slackwater.work.tending import lost
from tests.book import postgresql
from tests.book.conftest import server as server
from tests.work.crew import TwoWorkers, begun_by, ended, until
from tests.work.kinds import KIND
from tests.work.worker import NOW, PROGRAM


@pytest.fixture(scope="module")
def crew(server, tmp_path_factory):
    with TwoWorkers(server, tmp_path_factory.mktemp("workers")) as made:
        yield made


@pytest.fixture
def workers(crew):
    return crew.all_there()


@pytest.fixture
def book(workers):
    return workers.book


@pytest.fixture
def office(workers):
    with workers.office() as opened:
        yield opened


def enter(book, what, **more):
    return tasks.add(book, kind="test", arguments={"what": what, **more}, at=NOW, by="")


def pid_of(file: Path, n: int) -> int:
    """Which worker began a task for the n-th time."""
    return begun_by(file, n)[0]


def test_a_worker_killed_in_the_middle_is_seen_by_its_heartbeat_and_another_one_ends_its_work_once(
    workers, book, office, tmp_path
):
    file = tmp_path / "pids"
    task = enter(book, "pids", file=str(file), number=4)
    office.submit(task)
    first = pid_of(file, 1)
    workers.of_pid(first).end(signal.SIGKILL)
    done = ended(book, task.id)
    assert (done.state, done.result, done.tries) == (State.DONE, "kept 8", 2)
    assert len(file.read_text(encoding="utf-8").splitlines()) == 2
    assert pid_of(file, 2) != first
    # Whoever does it tells that it was begun before.
    assert any(worker.says("try 2") for worker in workers.workers if worker.process.pid != first)


def test_a_worker_that_is_told_to_leave_gives_back_what_it_is_at(workers, book, office, tmp_path):
    file = tmp_path / "pids"
    task = enter(book, "pids", file=str(file), number=5)
    office.submit(task)
    leaving = workers.of_pid(pid_of(file, 1))
    assert leaving.end(signal.SIGTERM) == 0
    assert leaving.said[-1] == "left\n"
    assert any("Given back" in line for line in leaving.said)
    done = ended(book, task.id)
    # Nothing was wrong with the work: that try does not count.
    assert (done.state, done.result, done.tries) == (State.DONE, "kept 10", 1)


def test_work_goes_on_when_its_office_closes(workers, book, tmp_path):
    with workers.office() as office:
        task = enter(book, "on and on")
        office.submit(task)
        until(book, task.id, lambda now: now.doing == "still going")
    assert tasks.goes_on(book, task.id)
    with workers.office() as office:
        assert office.found_broken == 0
        assert tasks.goes_on(book, task.id)
        office.cancel(task.id)
        assert ended(book, task.id).state is State.CANCELLED


def test_an_office_with_a_pool_of_its_own_leaves_the_work_of_workers_alone_while_they_are_there(workers, book, office):
    running, waits = enter(book, "on and on"), enter(book, "on and on")
    more = enter(book, "double", number=2)
    for task in (running, waits, more):
        office.submit(task)
    until(book, running.id, lambda now: now.doing == "still going")
    workshop = Workshop(book, {"test": KIND}, clock=lambda: NOW, workers=1)
    workshop.close()
    assert workshop.found_broken == 0
    assert tasks.goes_on(book, running.id)
    assert tasks.get(book, more.id).program == PROGRAM
    for task in (running, waits):
        office.cancel(task.id)
    assert ended(book, more.id).result == "kept 4"


def test_a_queue_that_was_emptied_is_filled_again_from_the_book(workers, book, office):
    busy = [enter(book, "on and on") for _ in range(2)]
    waits = enter(book, "double", number=6)
    for task in (*busy, waits):
        office.submit(task)
    for task in busy:
        until(book, task.id, lambda now: now.doing == "still going")
    with book.writing() as connection:
        connection.execute(text("DELETE FROM procrastinate_jobs WHERE status = 'todo'"))
    for task in busy:
        office.cancel(task.id)
    assert ended(book, waits.id).result == "kept 12"


def test_a_worker_of_another_version_says_what_it_leaves_alone_and_for_whom(workers, book, office):
    busy = [enter(book, "on and on") for _ in range(2)]
    waits = enter(book, "double", number=7)
    for task in (*busy, waits):
        office.submit(task)
    for task in busy:
        until(book, task.id, lambda now: now.doing == "still going")
    other = workers.another("test 2")
    try:
        assert other.says("wait for workers of program version test 1. This worker is test 2 and leaves them alone")
        assert (tasks.get(book, waits.id).state, tasks.get(book, waits.id).tries) == (State.WAITING, 0)
    finally:
        assert other.end(signal.SIGTERM) == 0
    for task in busy:
        office.cancel(task.id)
    assert ended(book, waits.id).result == "kept 14"


def test_a_kind_of_work_that_a_worker_does_not_know_is_told(book, office):
    # Entered by an office that knows it.
    task = tasks.add(book, kind="other", arguments={}, at=NOW, by="")
    assert tasks.claim(book, task.id, owner=office._here.id)
    assert tasks.hand_over(book, task.id, owner=office._here.id, program=PROGRAM, handed={})
    assert ended(book, task.id).fault == say("work.unknown_kind", {})


def test_when_the_database_was_away_offices_and_workers_come_back_to_it(workers, book, office):
    running = enter(book, "on and on")
    office.submit(running)
    until(book, running.id, lambda now: now.doing == "still going")
    with book.writing() as connection:
        connection.execute(
            text(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
        )
    after = enter(book, "double", number=8)
    office.submit(after)
    assert ended(book, after.id).result == "kept 16"
    office.cancel(running.id)
    assert ended(book, running.id).state is State.CANCELLED
    assert all(worker.process.poll() is None for worker in workers.workers)


def test_what_a_worker_says_tells_nothing_of_the_database(workers, book, office):
    task = enter(book, "break")
    office.submit(task)
    assert ended(book, task.id).state is State.FAILED
    said = "".join(line for worker in workers.workers for line in worker.said)
    assert "No result: test" in said
    assert [
        word for word in ("procrastinate", "postgresql:", "tester", workers.where.split("/")[2]) if word in said
    ] == []


# ---------------------------------------------------------------- rules, without processes


@pytest.fixture
def quiet_book(server, tmp_path):
    """A book on PostgreSQL without workers."""
    with postgresql.schema(server, "quiet") as where, open_book(where, folder=tmp_path) as opened:
        yield opened


def handed(book, task, program=PROGRAM):
    office = "01a2185d-0000-7000-8000-0000000000aa"
    assert tasks.claim(book, task.id, owner=office)
    assert tasks.hand_over(book, task.id, owner=office, program=program, handed={})
    return task


def test_a_worker_that_was_thought_dead_and_wakes_ends_nothing_of_another_one(quiet_book):
    task = handed(quiet_book, enter(quiet_book, "double"))
    asleep = tasks.take(quiet_book, task.id, owner="first", program=PROGRAM, at=NOW)
    assert tasks.take(quiet_book, task.id, owner="second", program=PROGRAM, at=NOW) is None
    lost(quiet_book, asleep, at=NOW)
    assert tasks.get(quiet_book, task.id).state is State.WAITING
    assert tasks.take(quiet_book, task.id, owner="second", program=PROGRAM, at=NOW) is not None
    assert not tasks.progress(quiet_book, task.id, doing="of the first", owner="first")
    for move in (
        tasks.finish(quiet_book, task.id, result="late", at=NOW, owner="first"),
        tasks.fail(quiet_book, task.id, fault="late", at=NOW, owner="first"),
        tasks.cancelled(quiet_book, task.id, at=NOW, owner="first"),
        tasks.begin_again(quiet_book, task.id, owner="first"),
        tasks.give_back(quiet_book, task.id, owner="first"),
    ):
        assert not move
    lost(quiet_book, asleep, at=NOW)  # seen late by a second office
    now = tasks.get(quiet_book, task.id)
    assert (now.state, now.owner, now.doing, now.tries) == (State.RUNNING, "second", "", 2)
    assert tasks.finish(quiet_book, task.id, result="once", at=NOW, owner="second")
    assert not tasks.finish(quiet_book, task.id, result="twice", at=NOW, owner="second")
    assert tasks.get(quiet_book, task.id).result == "once"


def test_work_whose_workers_are_lost_each_time_has_failed_with_a_sentence(quiet_book):
    task = handed(quiet_book, enter(quiet_book, "double"))
    for n in range(MOST_TRIES):
        taken = tasks.take(quiet_book, task.id, owner=f"worker {n}", program=PROGRAM, at=NOW)
        assert taken.tries == n + 1
        lost(quiet_book, taken, at=NOW)
    failed = tasks.get(quiet_book, task.id)
    assert failed.state is State.FAILED
    assert failed.fault.startswith("The worker that did this was lost, 3 times over")


def test_work_that_was_to_stop_when_its_worker_died_is_stopped(quiet_book):
    task = handed(quiet_book, enter(quiet_book, "double"))
    tasks.take(quiet_book, task.id, owner="worker", program=PROGRAM, at=NOW)
    lost(quiet_book, tasks.ask_cancel(quiet_book, task.id, at=NOW), at=NOW)
    assert tasks.get(quiet_book, task.id).state is State.CANCELLED


def test_an_office_with_a_pool_takes_what_was_left_to_workers_that_are_no_longer_there(quiet_book):
    ran, waits = (handed(quiet_book, enter(quiet_book, "double", number=n)) for n in (1, 2))
    tasks.take(quiet_book, ran.id, owner="a worker that was killed", program=PROGRAM, at=NOW)
    workshop = Workshop(quiet_book, {"test": KIND}, clock=lambda: NOW, workers=1)
    try:
        assert tasks.get(quiet_book, ran.id).state is State.BROKEN
        assert ended(quiet_book, waits.id).result == "kept 4"
    finally:
        workshop.close()


def test_an_office_of_a_new_version_hands_over_anew_what_waits_for_workers_of_an_old_one_that_are_gone(quiet_book):
    task = handed(quiet_book, enter(quiet_book, "double"), program="test 0")
    office = Outwork(quiet_book, {"test": KIND}, program=PROGRAM, clock=lambda: NOW)
    try:
        assert tasks.get(quiet_book, task.id).program == PROGRAM
    finally:
        office.close()


def test_a_queue_of_a_newer_program_is_not_touched(quiet_book):
    Outwork(quiet_book, {}, program=PROGRAM, clock=lambda: NOW).close()
    with quiet_book.writing() as connection:
        connection.execute(text("UPDATE fact SET value = '99.00.00_01_pre_later' WHERE name = 'queue'"))
    with pytest.raises(CannotRun, match="set up by a newer Slackwater"):
        Outwork(quiet_book, {}, program=PROGRAM, clock=lambda: NOW)


def test_a_book_in_a_file_has_no_room_for_workers(tmp_path):
    with open_book(tmp_path) as book, pytest.raises(CannotRun, match="Set SLACKWATER_DATABASE"):
        Outwork(book, {}, program=PROGRAM, clock=lambda: NOW)
