"""Two workers in processes of their own over one book on PostgreSQL, and offices that leave work to them."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import ExitStack, contextmanager
from pathlib import Path

from slackwater.book import open_book, tasks
from slackwater.book.tasks import OPEN
from slackwater.work.outwork import Outwork
from tests.book import postgresql
from tests.work.kinds import KIND
from tests.work.worker import NOW, PROGRAM, QUICK


class WorkerProcess:
    """A worker, and what it has said."""

    command: tuple[str, ...] = ("tests.work.worker",)

    def __init__(self, where: str, folder: Path, program: str = PROGRAM) -> None:
        command = [sys.executable, "-m", *self.command, where, str(folder), program]
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=os.environ
        )
        self.said: list[str] = []
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        self.said.extend(self.process.stdout)

    def says(self, words: str) -> bool:
        """Wait until it has said something with these words."""
        for _ in range(600):
            if any(words in line for line in self.said):
                return True
            if self.process.poll() is not None:
                self._reader.join(5)
                return any(words in line for line in self.said)
            time.sleep(0.05)
        return False

    def end(self, how: signal.Signals) -> int:
        """End it, and wait for it."""
        self.process.send_signal(how)
        code = self.process.wait(30)
        self._reader.join(5)
        self.process.stdout.close()
        return code


class TwoWorkers:
    """A book with two workers; leave it, and they are gone."""

    def __init__(self, address: str, folder: Path) -> None:
        self._stack, self._folder = ExitStack(), folder
        self.where = self._stack.enter_context(postgresql.schema(address, "workers"))
        self.book = self._stack.enter_context(open_book(self.where, folder=folder))
        self.workers: list[WorkerProcess] = []

    def __enter__(self) -> TwoWorkers:
        return self

    def __exit__(self, *_: object) -> None:
        for worker in self.workers:
            worker.end(signal.SIGKILL)
        self._stack.close()

    def all_there(self) -> TwoWorkers:
        """Two that live, with nothing to do; what a test left open is stopped."""
        for task in tasks.open_tasks(self.book):
            tasks.ask_cancel(self.book, task.id, at=NOW)
        living = [worker for worker in self.workers if worker.process.poll() is None]
        for worker in self.workers:
            if worker not in living:
                worker.end(signal.SIGKILL)
        self.workers = living + [self.another() for _ in range(2 - len(living))]
        for worker in self.workers:
            assert worker.says("worker is there"), worker.said
        return self

    def another(self, program: str = PROGRAM) -> WorkerProcess:
        """One more process."""
        return WorkerProcess(self.where, self._folder, program)

    @contextmanager
    def office(self):
        """An office that leaves its work to them."""
        office = Outwork(self.book, {"test": KIND}, program=PROGRAM, clock=lambda: NOW, pace=QUICK)
        try:
            yield office
        finally:
            office.close()

    def of_pid(self, pid: int) -> WorkerProcess:
        """The worker with a process id."""
        return next(worker for worker in self.workers if worker.process.pid == pid)


def until(book, task_id, done):
    """Wait for a task to be as it should."""
    for _ in range(1200):
        task = tasks.get(book, task_id)
        if done(task):
            return task
        time.sleep(0.05)
    raise AssertionError(f"still {task.state}: {task.doing}")


def ended(book, task_id):
    """Wait for a task's end."""
    return until(book, task_id, lambda task: task.state not in OPEN)


def begun_by(file: Path, n: int) -> tuple[int, int]:
    """Whose process, and which, began a task for the n-th time that tells of it in a file."""
    for _ in range(1200):
        lines = file.read_text(encoding="utf-8").split("\n")[:-1] if file.exists() else []
        if len(lines) >= n:
            whose, which = lines[n - 1].split()
            return int(whose), int(which)
        time.sleep(0.05)
    raise AssertionError("nobody began it")
