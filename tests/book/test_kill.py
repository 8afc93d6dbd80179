"""A process killed for real in the middle of its writes: nothing acknowledged is lost, nothing stands half."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections import Counter

import numpy as np

from slackwater.book import checking, events, jobs, open_book, photos
from tests.book.writer import TOGETHER, WRITES


def run_and_kill(place, begun, first, after):
    """Let the writer go on from a write, kill it once it has told of so many, and give all it told of."""
    words = [sys.executable, "-m", "tests.book.writer", str(place.where), str(place.folder), begun, str(first)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as child:
        told = []
        for line in child.stdout:
            told.append(line)
            if len(told) == after:
                child.send_signal(signal.SIGKILL)
                break
        told += child.stdout.readlines()
        assert child.wait(timeout=60) == (-signal.SIGKILL if len(told) < WRITES - first else 0), child.stderr.read()
    # A line that was cut off in the pipe was not told.
    return [line.split() for line in told if line.endswith("\n")]


def test_a_kill_in_the_middle_of_200_writes_loses_nothing_acknowledged_and_leaves_nothing_half(place):
    told, first = [], 0
    for run, after in enumerate((*np.random.default_rng(6).integers(15, 60, 4), WRITES)):
        told += run_and_kill(place, f"run{run}", first, int(after))
        first = int(told[-1][0]) + 1
    assert first == WRITES and len(told) == WRITES
    with open_book(place.where, folder=place.folder) as book:
        for _, kind, which, *what in told:
            if kind == "job":
                assert jobs.version(book, which, 1).text == f'name = "{what[0]}"'
            elif kind == "version":
                assert jobs.version(book, which, int(what[0])).sha256 == what[1]
            elif kind == "events":
                marks = [row.event.body["mark"] for row in events.after(book, which)]
                assert marks.count(what[0]) == TOGETHER
            else:
                assert photos.get(book, which).sha256 == what[0]
                assert photos.original(book, which)
        assert {kind for _, kind, *_ in told} == {"job", "version", "events", "photo"}
        # Neither what was told of nor what was not stands half: a job with its version, a batch with all its events.
        assert checking.check(book).faults == ()
        for job in jobs.listed(book, limit=1000):
            marks = Counter(row.event.body["mark"] for row in events.after(book, job.id))
            assert set(marks.values()) <= {TOGETHER}
            assert [line.n for line in jobs.history(book, job.id)] == list(range(job.newest_n, 0, -1))
