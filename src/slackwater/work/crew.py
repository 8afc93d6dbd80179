"""A few processes of this machine that do long work: begun, listened to, asked to stop, ended."""

from __future__ import annotations

import logging
import shutil
import tempfile
import threading
from collections.abc import Callable, Mapping
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from multiprocessing.queues import Queue
from pathlib import Path
from queue import Empty
from typing import Any

from slackwater.errors import SlackwaterError
from slackwater.work.bench import Outcome, Run, prepare, run

log = logging.getLogger(__name__)

PATIENCE_S = 2.0
"""So long running work may take to stop by itself when its crew is sent home."""


class Crew:
    """Processes over a queue of news; send it home, and nothing of it stays behind.

    A process that dies while it tells something leaves its queue locked for ever, and its pool is broken: those that come
    after it have both anew.

    Parameters
    ----------
    size : int
        How many tasks run at once.
    hear : callable
        Told the task and what it is at, None when it was begun; False lets it stop.
    quiet : callable
        Called when nothing was heard for a while.
    round_s : float
        How long that while is [s].
    """

    def __init__(
        self,
        size: int,
        hear: Callable[[str, str | None], bool],
        *,
        quiet: Callable[[], None] = lambda: None,
        round_s: float = 15.0,
    ) -> None:
        self._size, self._hear, self._quiet, self._round_s = size, hear, quiet, round_s
        # Processes are begun afresh: a copy of this one would share its database connections.
        self._context = get_context("spawn")
        self._room = Path(tempfile.mkdtemp(prefix="slackwater-work-"))
        self._lock = threading.Lock()
        self._set_up()
        self._open: set[str] = set()
        self._leaving = False

    def begin(self) -> None:
        """Listen to what processes tell."""
        self._listener.start()

    def _set_up(self) -> None:
        self._news = self._context.Queue()
        self._pool = ProcessPoolExecutor(
            max_workers=self._size, mp_context=self._context, initializer=prepare, initargs=(self._news,)
        )
        self._listener = threading.Thread(target=self._listen, args=(self._news,), name="slackwater-work", daemon=True)

    def give(self, task_id: str, work: Run, given: Mapping[str, Any]) -> Future[Outcome] | None:
        """Have a task done; None once the crew is being sent home."""
        stop = self._stop_file(task_id)
        with self._lock:
            if self._leaving:
                return None
            # Left from an earlier try, it would stop this one.
            stop.unlink(missing_ok=True)
            self._open.add(task_id)
            try:
                future = self._pool.submit(run, task_id, work, given, stop)
            except BrokenProcessPool:
                self._set_up()
                self._listener.start()
                future = self._pool.submit(run, task_id, work, given, stop)
        future.add_done_callback(lambda _: self._open.discard(task_id))
        return future

    @property
    def is_leaving(self) -> bool:
        """Whether it is being sent home, and nothing that ends now counts."""
        return self._leaving

    def stop(self, task_id: str) -> None:
        """Ask a task to stop when it next tells what it is at."""
        if not self._leaving:
            self._stop_file(task_id).touch()

    def send_home(self, patience_s: float = PATIENCE_S) -> None:
        """Stop everything, once: running tasks are asked to stop, then their processes end."""
        with self._lock:
            if self._leaving:
                return
            self._leaving = True
            left = tuple(self._open)
        for task_id in left:
            self._stop_file(task_id).touch()
        # What computes without a word does not look at its stop file: its process is ended.
        processes = list((self._pool._processes or {}).values())
        closer = threading.Thread(
            target=self._pool.shutdown, kwargs={"wait": True, "cancel_futures": True}, daemon=True
        )
        closer.start()
        closer.join(patience_s)
        if closer.is_alive():
            for process in processes:
                process.terminate()
        # The queue may be locked for ever: nothing here waits without end.
        closer.join(PATIENCE_S)
        self._news.put(("", None))
        self._listener.join(PATIENCE_S)
        self._news.cancel_join_thread()
        self._news.close()
        shutil.rmtree(self._room, ignore_errors=True)

    def _stop_file(self, task_id: str) -> Path:
        return self._room / task_id

    def _listen(self, news: Queue[tuple[str, str | None]]) -> None:
        """Pass on what processes say, until the crew is sent home or has a new queue."""
        while True:
            try:
                task_id, doing = news.get(timeout=self._round_s)
            except Empty:
                if self._news is not news:
                    return
                self._quiet()
                continue
            except (ValueError, OSError):
                return  # closed beneath a listener that was slow to hear of it
            if not task_id:
                return
            try:
                if not self._hear(task_id, doing):
                    self._stop_file(task_id).touch()
            except SlackwaterError:
                # What it is at goes untold; a database that is away is told of elsewhere, without its address.
                log.debug("progress of %s", task_id, exc_info=True)
