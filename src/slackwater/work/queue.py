"""The queue on which offices leave long work for workers: procrastinate on the book's own PostgreSQL, and nothing else of it.

The queue says only which task is whose turn. Where a task stands, what it is of and what came out is in the book: a queue that
is lost is filled again from there.
"""

from __future__ import annotations

import asyncio
import logging
import sys
import threading
from collections.abc import Callable, Coroutine, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import procrastinate
import psycopg
from procrastinate import exceptions
from procrastinate.jobs import Job, JobDeferrer, Status
from procrastinate.schema import SchemaManager

from slackwater.book import Book, besides
from slackwater.errors import CannotRun
from slackwater.wording.render import say

log = logging.getLogger(__name__)

WORK = "work"
"""What every entry of the queue asks for; the task's own kind stands in the book."""
NOTED_AS = "queue"
"""Under which the book notes the form of the queue's tables."""
LOST = (exceptions.ProcrastinateException, psycopg.Error, OSError)
"""What the way to the database can come to."""


@dataclass(frozen=True)
class Pace:
    """How often is looked, and for how long is waited.

    Attributes
    ----------
    beat_s : float
        A worker shows so often that it is there [s].
    dead_s : float
        One that has not shown itself for so long is taken for dead [s]; the database's clock alone decides.
    round_s : float
        Offices and workers look so often for work of the dead [s].
    poll_s : float
        A worker looks so often for work that it was not told of [s].
    look_s : float
        A worker looks so often whether what it does is to stop [s].
    """

    beat_s: float = 5.0
    dead_s: float = 30.0
    round_s: float = 10.0
    poll_s: float = 5.0
    look_s: float = 1.0


def prepare(book: Book) -> None:
    """Bring the queue's tables beside the book's, or to the form of this program.

    Raises
    ------
    BadInput, CannotRun
        If the book is not in PostgreSQL; if the tables are those of a newer program, or cannot be made.
    """
    if not besides.is_shared(book):
        raise CannotRun(say("work.needs_postgresql", {}))
    _quiet()
    files = sorted(Path(SchemaManager.get_migrations_path()).glob("*.sql"), key=lambda file: file.name)
    steps = [(file.stem, file.read_text(encoding="utf-8")) for file in files]
    besides.bring(book, NOTED_AS, SchemaManager.get_schema(), steps)


def _quiet() -> None:
    """Keep what the libraries tell of addresses, tables and arguments out of terminals; what matters is told by us."""
    for name in ("procrastinate", "psycopg.pool"):
        logging.getLogger(name).setLevel(logging.CRITICAL + 1)


def name_of(program: str) -> str:
    """The queue of the workers of a version: what another version computes would be laid under a wrong hash."""
    return f"slackwater {program}"


@contextmanager
def told() -> Iterator[None]:
    """Turn what the way to the database comes to into a sentence.

    Raises
    ------
    CannotRun
    """
    try:
        yield
    except LOST as error:
        raise CannotRun(say("work.queue_lost", {})) from error


class Counter:
    """Where an office lays work for the workers of its version.

    Parameters
    ----------
    book : Book
        Prepared.
    program : str
        Version of the program.
    """

    def __init__(self, book: Book, program: str) -> None:
        self._queue = name_of(program)
        connector = procrastinate.SyncPsycopgConnector(
            conninfo=besides.address(book), min_size=1, max_size=4, timeout=10.0
        )
        self._app = procrastinate.App(connector=connector)
        with told():
            self._app.open()

    def put(self, task_id: str) -> None:
        """Let it be a task's turn; one that is in the queue is not entered again.

        Raises
        ------
        CannotRun
        """
        with told(), suppress(exceptions.AlreadyEnqueued):
            _entry(self._app, self._queue, task_id).defer(task_id=task_id)

    def close(self) -> None:
        """Let go of the database."""
        self._app.close()


def _entry(app: procrastinate.App, queue: str, task_id: str) -> JobDeferrer:
    return app.configure_task(WORK, allow_unknown=True, queue=queue, queueing_lock=task_id)


class Keeper:
    """Looks after the queue within an event loop: what is in it, what is with a worker that is dead.

    Parameters
    ----------
    book : Book
        Prepared.
    program : str
        Version of the program.
    pace : Pace
    """

    def __init__(self, book: Book, program: str, pace: Pace, *, connections: int = 1) -> None:
        self._queue, self._pace = name_of(program), pace
        connector = procrastinate.PsycopgConnector(
            conninfo=besides.address(book), min_size=1, max_size=connections, timeout=10.0
        )
        self.app = procrastinate.App(connector=connector)

    async def entered(self) -> set[str]:
        """Tasks that wait in the queue or are with a worker."""
        found: set[str] = set()
        for status in (Status.TODO, Status.DOING):
            rows = await self.app.job_manager.list_jobs_async(queue=self._queue, status=status.value)
            found |= {_task_of(row) for row in rows}
        return found

    async def of_the_dead(self) -> list[tuple[int, str]]:
        """Entries that are with workers whose heart beats no more, each with its task."""
        rows = await self.app.job_manager.get_stalled_jobs(queue=self._queue, seconds_since_heartbeat=self._pace.dead_s)
        return [(row.id, _task_of(row)) for row in rows if row.id is not None]

    async def drop(self, entry: int) -> bool:
        """Take an entry out; False where it has gone. Its worker, should it wake again, can end nobody else's."""
        try:
            await self.app.job_manager.finish_job_by_id_async(entry, Status.FAILED, delete_job=True)
        except exceptions.ConnectorException:
            return False
        return True

    async def put(self, task_id: str) -> None:
        """Let it be a task's turn; one that waits in the queue is not entered again."""
        with suppress(exceptions.AlreadyEnqueued):
            await _entry(self.app, self._queue, task_id).defer_async(task_id=task_id)

    async def serve(self, do: Callable[[str], bool], *, at_once: int, stop: threading.Event) -> None:
        """Take tasks in turn and do them, each in a thread, until asked to stop; what runs then has to see to it itself.

        Parameters
        ----------
        do : callable
            Given the task's id; True where it should be the task's turn again.
        at_once : int
            How many at once.
        stop : Event
            Looked at several times a second.
        """

        async def work(task_id: str) -> None:
            # A new entry, of which others are told at once, before this one goes.
            if await asyncio.to_thread(do, task_id):
                await self.put(task_id)

        self.app.task(name=WORK, queue=self._queue)(work)
        serving = asyncio.create_task(
            self.app.run_worker_async(
                queues=[self._queue],
                concurrency=at_once,
                fetch_job_polling_interval=self._pace.poll_s,
                update_heartbeat_interval=self._pace.beat_s,
                stalled_worker_timeout=self._pace.dead_s,
                delete_jobs="always",
                install_signal_handlers=False,
            )
        )
        while not stop.is_set() and not serving.done():
            await asyncio.wait([serving], timeout=0.2)
        if not serving.done():
            serving.cancel()
        try:
            await serving
        except asyncio.CancelledError:
            if not stop.is_set():
                raise


def _task_of(row: Job) -> str:
    return str(row.task_kwargs.get("task_id", ""))


def run_loop(what: Coroutine[Any, Any, None]) -> None:
    """Run a coroutine to its end in a loop of its own; of the loops of Windows the driver can use only one."""
    factory = asyncio.SelectorEventLoop if sys.platform == "win32" else None
    with asyncio.Runner(loop_factory=factory) as runner:
        # What the library could not write down for want of a database is found again in the book.
        runner.get_loop().set_exception_handler(lambda _, told: log.debug("%s", told))
        runner.run(what)
