"""A worker in a process of its own, for tests: does the tests' kinds of work at a quick pace, until it is told to leave or killed."""

from __future__ import annotations

import signal
import sys
from datetime import UTC, datetime
from pathlib import Path

from slackwater.book.opening import open_to_work
from slackwater.work.queue import Pace
from slackwater.work.worker import Worker
from tests.work.kinds import KIND

NOW = datetime(2027, 2, 1, 8, 0, tzinfo=UTC)
PROGRAM = "test 1"
QUICK = Pace(beat_s=0.5, dead_s=5.0, round_s=0.5, poll_s=0.5, look_s=0.2)
"""Patient enough for a machine that has much else to do."""


def main(where: str, folder: str, program: str) -> None:
    with open_to_work(where, Path(folder)) as book:
        worker = Worker(
            book,
            lambda task, _: {"test": KIND}[task.kind],
            program=program,
            clock=lambda: NOW,
            at_once=1,
            tell=lambda what: print(what, flush=True),
            pace=QUICK,
        )
        signal.signal(signal.SIGTERM, lambda *_: worker.leave())
        worker.run()
    print("left", flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
