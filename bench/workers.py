"""How much faster two workers are than one: 200 queued tasks over a real PostgreSQL, against one worker as the baseline.

A plan takes tens of seconds of one core, and 200 of them more than an hour: a stand-in that computes for a fixed time of the
processor takes the place of planning itself. The queue, the book, the processes, progress and keeping of results are real. The
shorter the stand-in, the more the overhead weighs: with whole plans the share of the queue is a hundredth of what is measured here.

    python -m bench.workers                 # a server of its own in a temporary folder
    python -m bench.workers --tasks 50 --seconds 1 --rounds 3
    python -m bench.workers --waiting       # stand-ins that wait in place of computing

Two workers, the server and the office share the cores of one machine here; what else it does falls on two workers harder than on
one, so run it on a quiet machine. With ``--waiting`` the stand-ins take time and no core, as if each worker had a machine of its own:
that shows what the queue alone costs.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import tempfile
import time
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from slackwater.book import Book, open_book, tasks
from slackwater.book.tasks import OPEN, State
from slackwater.work.outwork import Outwork
from slackwater.work.queue import Pace
from slackwater.work.worker import Worker
from tests.book import postgresql
from tests.work.crew import WorkerProcess
from tests.work.kinds import KIND

BAR = 0.10
"""Two workers may stay so far behind twice the throughput of one."""
PROGRAM = "bench"


def work(where: str, folder: str) -> None:
    """One worker at the pace of the program, one task at a time."""
    from slackwater.book.opening import open_to_work

    with open_to_work(where, Path(folder)) as book:
        worker = Worker(
            book,
            lambda task, _: {"test": KIND}[task.kind],
            program=PROGRAM,
            clock=lambda: datetime.now(UTC),
            at_once=1,
            tell=lambda what: print(what, flush=True),
        )
        signal.signal(signal.SIGTERM, lambda *_: worker.leave())
        worker.run()


class BenchWorker(WorkerProcess):
    """The same in a process of its own."""

    command = ("bench.workers", "--work")


def measured(
    server: str, name: str, workers: int, count: int, what: Mapping[str, Any], seconds: float
) -> tuple[float, float, int]:
    """Seconds from the first to be entered to the last end, those beside the stand-ins themselves, tasks begun more than once."""
    with (
        tempfile.TemporaryDirectory() as room,
        postgresql.schema(server, name) as where,
        open_book(where, folder=Path(room)) as book,
    ):
        office = Outwork(book, {"test": KIND}, program=PROGRAM, clock=lambda: datetime.now(UTC), pace=Pace())
        crew = [BenchWorker(where, Path(room), PROGRAM) for _ in range(workers)]
        try:
            # Warm: each has begun its process once.
            assert all(worker.says("worker is there") for worker in crew)
            warm = [enter(book, office, what) for _ in range(2 * workers)]
            wait_for(book, warm)
            began = time.perf_counter()
            asked = [enter(book, office, what) for _ in range(count)]
            wait_for(book, asked)
            took = time.perf_counter() - began
            done = [tasks.get(book, task_id) for task_id in asked]
            assert all(task.state is State.DONE for task in done), {task.state for task in done}
            return took, took - count * seconds / workers, sum(task.tries > 1 for task in done)
        finally:
            for worker in crew:
                worker.end(signal.SIGTERM)
            office.close()


def enter(book: Book, office: Outwork, what: Mapping[str, Any]) -> str:
    """Have one stand-in done; its id."""
    task = tasks.add(book, kind="test", arguments=what, at=datetime.now(UTC), by="")
    office.submit(task)
    return task.id


def wait_for(book: Book, asked: list[str]) -> None:
    """Until all have ended: of the last to be entered it is asked seldom, so that asking costs the workers nothing."""
    for task_id in reversed(asked):
        while tasks.get(book, task_id).state in OPEN:
            time.sleep(0.25)


def main(asked: argparse.Namespace) -> int:
    """One, two, in turn, as often as asked; tell how near to twice."""
    kind = "of waiting" if asked.waiting else "of one core"
    print(f"{asked.tasks} tasks, each {asked.seconds:g} s {kind} (a stand-in for a plan); {os.cpu_count()} cores")
    waits = {"what": "wait", "wait_s": asked.seconds}
    what = waits if asked.waiting else {"what": "compute", "cpu_s": asked.seconds}
    took: dict[int, list[float]] = {1: [], 2: []}
    with postgresql.server() as server:
        for n in range(asked.rounds):
            for workers in (1, 2):
                seconds, over, again = measured(
                    server, f"round_{n}_{workers}", workers, asked.tasks, what, asked.seconds
                )
                took[workers].append(seconds)
                each = 1000 * over / asked.tasks * workers
                print(
                    f"  {workers} worker{'s' if workers > 1 else ' '}: {seconds:6.1f} s, {asked.tasks / seconds:5.2f} tasks/s, "
                    f"{each:4.0f} ms beside each task, begun again: {again}",
                    flush=True,
                )
    # The best of the rounds: what else goes on in the machine can only make them longer.
    one, two = (min(took[workers]) for workers in (1, 2))
    behind = 1 - (one / two) / 2
    print(
        f"two workers do {one / two:.2f} times what one does: {100 * behind:.1f} % behind twice (bar {100 * BAR:.0f} %)"
    )
    return 0 if behind <= BAR else 1


if __name__ == "__main__":
    if sys.argv[1:2] == ["--work"]:
        work(*sys.argv[2:4])
        raise SystemExit(0)
    given = argparse.ArgumentParser(prog="python -m bench.workers", description=(__doc__ or "").partition("\n")[0])
    given.add_argument("--tasks", type=int, default=200)
    given.add_argument("--seconds", type=float, default=0.5, help="of each")
    given.add_argument("--waiting", action="store_true", help="wait in place of computing")
    given.add_argument("--rounds", type=int, default=1)
    raise SystemExit(main(given.parse_args()))
