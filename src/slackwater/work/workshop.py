"""The office's side of long work: hands tasks to processes, writes into the task table what they say."""

from __future__ import annotations

import logging
import shutil
import tempfile
import threading
from collections.abc import Callable, Mapping
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from datetime import datetime
from multiprocessing import get_context
from pathlib import Path
from queue import Empty
from typing import Any

from slackwater.book import Book, presence, tasks
from slackwater.book.tasks import State, TaskRow
from slackwater.errors import SlackwaterError
from slackwater.wording.render import say
from slackwater.work.bench import Ending, Outcome, Run, prepare, run

log = logging.getLogger(__name__)

ROUND_S = 15.0
"""So often an office that hears nothing looks whether another one has ended and left work behind."""
PATIENCE_S = 2.0
"""So long running work may take to stop by itself when the office closes."""


@dataclass(frozen=True)
class Kind:
    """One kind of work.

    Attributes
    ----------
    run : callable
        What the worker process does; a function at the top of a module.
    given : callable
        What it is given, looked up in the book when the task is handed over.
    kept : callable
        What becomes of its result, in the office's process; returns the task's own result.
    """

    run: Run
    given: Callable[[TaskRow], Mapping[str, Any]]
    kept: Callable[[TaskRow, str], str]


class Workshop:
    """A few worker processes over the task table of a book; close it, and nothing of it stays behind.

    Parameters
    ----------
    book : Book
        Whose tasks are done.
    kinds : mapping
        What can be done, by the task's kind.
    clock : callable
        The time now, in UTC.
    workers : int
        How many tasks run at once.
    """

    def __init__(
        self, book: Book, kinds: Mapping[str, Kind], *, clock: Callable[[], datetime], workers: int = 2
    ) -> None:
        self._book, self._kinds, self._clock = book, kinds, clock
        self._workers = workers
        # Worker processes are begun afresh: a copy of this one would share its database connections.
        self._context = get_context("spawn")
        self._news = self._context.Queue()
        self._room = Path(tempfile.mkdtemp(prefix="slackwater-work-"))
        self._lock = threading.Lock()
        self._pool = self._new_pool()
        self._open: set[str] = set()
        self._closing = False
        self._here = presence.enter(book, at=clock())
        self._listener = threading.Thread(target=self._listen, name="slackwater-work", daemon=True)
        self._listener.start()
        self.found_broken = self._look_around()

    def _look_around(self) -> int:
        """Mark as broken what an office that is gone was doing, and take what waits; how much was broken."""
        broken = tasks.mark_broken(self._book, at=self._clock())
        for task in tasks.open_tasks(self._book):
            if task.state is State.WAITING and task.owner != self._here.id:
                self.submit(task)
        return broken

    def _new_pool(self) -> ProcessPoolExecutor:
        return ProcessPoolExecutor(
            max_workers=self._workers, mp_context=self._context, initializer=prepare, initargs=(self._news,)
        )

    def submit(self, task: TaskRow) -> None:
        """Hand a waiting task over, unless another office that is open has taken it.

        What it is given is looked up now, and a fault in that ends it.
        """
        if not tasks.claim(self._book, task.id, owner=self._here.id):
            return
        try:
            kind = self._kinds[task.kind]
            given = kind.given(task)
        except (KeyError, SlackwaterError) as error:
            self._fail(task.id, str(error) if isinstance(error, SlackwaterError) else say("work.unknown_kind", {}))
            return
        with self._lock:
            if self._closing:
                return
            self._open.add(task.id)
            try:
                future = self._pool.submit(run, task.id, kind.run, given, self._stop_file(task.id))
            except BrokenProcessPool:
                self._pool = self._new_pool()
                future = self._pool.submit(run, task.id, kind.run, given, self._stop_file(task.id))
        future.add_done_callback(lambda done: self._ended(task, done))

    def cancel(self, task_id: str) -> TaskRow:
        """Ask a task to stop; one that waits stops at once, one that runs when it next tells what it is at.

        Raises
        ------
        NotFound
        """
        now = tasks.ask_cancel(self._book, task_id, at=self._clock())
        if now.cancel_asked or now.state is State.CANCELLED:
            self._stop_file(task_id).touch()
        return now

    def close(self) -> None:
        """Stop everything: running tasks are asked to stop, then their processes end."""
        with self._lock:
            self._closing = True
            left = tuple(self._open)
        for task_id in left:
            self._stop_file(task_id).touch()
        # What computes without a word does not look at its stop file: its process is ended, and the task found broken.
        processes = list((self._pool._processes or {}).values())
        closer = threading.Thread(
            target=self._pool.shutdown, kwargs={"wait": True, "cancel_futures": True}, daemon=True
        )
        closer.start()
        closer.join(PATIENCE_S)
        if closer.is_alive():
            for process in processes:
                process.terminate()
        # A process ended while it told something leaves its queue locked for ever: nothing here waits without end.
        closer.join(PATIENCE_S)
        self._news.put(("", None))
        self._listener.join(PATIENCE_S)
        self._here.leave()
        self._news.cancel_join_thread()
        self._news.close()
        shutil.rmtree(self._room, ignore_errors=True)

    def _stop_file(self, task_id: str) -> Path:
        return self._room / task_id

    def _listen(self) -> None:
        """Write what workers say into the task table, until the office closes."""
        while True:
            try:
                task_id, doing = self._news.get(timeout=ROUND_S)
            except Empty:
                self._look_again()
                continue
            if not task_id:
                return
            try:
                if doing is None:
                    going = tasks.start(self._book, task_id, at=self._clock())
                else:
                    going = tasks.progress(self._book, task_id, doing=doing)
                if not going:
                    self._stop_file(task_id).touch()
            except SlackwaterError:
                log.exception("progress of %s", task_id)

    def _look_again(self) -> None:
        """Another office may have ended since."""
        try:
            self._look_around()
        except SlackwaterError:
            log.exception("looking for work of offices that are gone")

    def _ended(self, task: TaskRow, done: Future[Outcome]) -> None:
        with self._lock:
            self._open.discard(task.id)
            if self._closing:
                return
        try:
            outcome = done.result()
        except CancelledError:
            return
        except Exception:
            log.exception("task %s", task.id)
            self._fail(task.id, say("work.broke", {}))
            return
        try:
            self._settle(task, outcome)
        except SlackwaterError as error:
            self._fail(task.id, str(error))

    def _settle(self, task: TaskRow, outcome: Outcome) -> None:
        # The word that it was begun may still wait in the queue; what ended has begun.
        tasks.start(self._book, task.id, at=self._clock())
        if outcome.ending is Ending.STOPPED:
            tasks.cancelled(self._book, task.id, at=self._clock())
        elif outcome.ending is Ending.FAILED:
            self._fail(task.id, outcome.text)
        else:
            result = self._kinds[task.kind].kept(task, outcome.text)
            tasks.finish(self._book, task.id, result=result, at=self._clock())

    def _fail(self, task_id: str, sentence: str) -> None:
        tasks.start(self._book, task_id, at=self._clock())
        tasks.fail(self._book, task_id, fault=sentence, at=self._clock())
