"""Two offices on one book: each leaves the other's work alone, until the other is gone; on both databases."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from slackwater.book import open_book, presence, tasks
from slackwater.book.tasks import OPEN, State
from tests.book.conftest import new_place as new_place
from tests.book.conftest import place as place
from tests.book.conftest import server as server
from tests.work.test_workshop import NOW, ended, workshop_of


@pytest.fixture
def other(place):
    """An office in another process that runs one task while a second one waits; and the ids of these."""
    with open_book(place.where, folder=place.folder):
        pass  # begun, so that the two do not begin it at once
    where = [str(place.where), str(place.folder)]
    command = [sys.executable, "-m", "tests.work.office", *where]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=os.environ) as process:
        try:
            yield process, process.stdout.readline().split()
        finally:
            process.kill()


def test_work_of_an_office_that_is_open_is_left_alone_and_that_of_one_that_was_killed_is_not(place, other):
    process, (runs, waits) = other
    with open_book(place.where, folder=place.folder) as book:
        with workshop_of(book) as second:
            assert second.found_broken == 0
            assert tasks.get(book, runs).state is State.RUNNING
            assert tasks.get(book, waits).state is State.WAITING
            mine = tasks.add(book, kind="test", arguments={"what": "double", "number": 3}, at=NOW, by="")
            second.submit(mine)
            assert ended(book, mine.id).result == "kept 6"
            assert tasks.get(book, waits).state is State.WAITING
        process.kill()
        process.wait()
        with workshop_of(book) as third:
            assert third.found_broken == 1
            assert tasks.get(book, runs).state is State.BROKEN
            # What waited for the office that is gone is done by the one that is there.
            assert ended(book, waits).result == "kept 8"
        assert [task for task in tasks.listed(book) if task.state in OPEN] == []


def test_an_office_is_there_from_its_opening_to_its_end(place):
    with open_book(place.where, folder=place.folder) as book:
        one, two = presence.enter(book, at=NOW), presence.enter(book, at=NOW)
        assert presence.is_open(book, one.id)
        one.leave()
        assert (presence.is_open(book, one.id), presence.is_open(book, two.id)) == (False, True)
        task = tasks.add(book, kind="test", arguments={}, at=NOW, by="")
        assert tasks.claim(book, task.id, owner=two.id)
        three = presence.enter(book, at=NOW)
        assert not tasks.claim(book, task.id, owner=three.id)
        two.leave()
        assert tasks.claim(book, task.id, owner=three.id)
        three.leave()
