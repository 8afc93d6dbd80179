"""The office's side of work that is done elsewhere: leaves tasks to workers on other machines, and sees that none is lost."""

from __future__ import annotations

import asyncio
import logging
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import datetime

from slackwater.book import Book, presence, tasks
from slackwater.book.tasks import State, TaskRow
from slackwater.errors import CannotRun, SlackwaterError
from slackwater.wording.render import say
from slackwater.work.queue import LOST, Counter, Keeper, Pace, prepare, run_loop
from slackwater.work.tending import tend
from slackwater.work.workshop import OFFICE, Kind, take_back

log = logging.getLogger(__name__)


class Outwork:
    """Long work left to workers of the same version of the program, over a queue on the book's own database.

    Parameters
    ----------
    book : Book
        In PostgreSQL.
    kinds : mapping
        What can be done, by the task's kind.
    program : str
        Version of the program.
    clock : callable
        The time now, in UTC.
    pace : Pace

    Raises
    ------
    CannotRun
        If the book is not in PostgreSQL, or the queue cannot be set up.
    """

    def __init__(
        self,
        book: Book,
        kinds: Mapping[str, Kind],
        *,
        program: str,
        clock: Callable[[], datetime],
        pace: Pace | None = None,
    ) -> None:
        self._book, self._kinds, self._program, self._clock = book, kinds, program, clock
        self._pace = pace or Pace()
        prepare(book)
        self._counter = Counter(book, program)
        self._here = presence.enter(book, at=clock())
        self._stop = threading.Event()
        self._keeper = threading.Thread(target=lambda: run_loop(self._keep()), name="slackwater-queue", daemon=True)
        self.found_broken = self._look_around()
        self._keeper.start()

    def _look_around(self) -> int:
        """Take up what nobody has: of offices that are gone, of a version whose workers are; how much was broken."""
        broken = tasks.mark_broken(self._book, at=self._clock())
        take_back(self._book, of_all_but=self._program, at=self._clock())
        for task in tasks.open_tasks(self._book):
            if task.state is State.WAITING and task.program is None:
                self.submit(task)
        return broken

    def submit(self, task: TaskRow) -> None:
        """Leave a waiting task to the workers, unless another office that is open has it.

        What it needs of this machine's disk is laid into the book now, and a fault in that ends it.
        """
        if not tasks.claim(self._book, task.id, owner=self._here.id):
            return
        try:
            handed = self._kinds[task.kind].handed(task)
        except (KeyError, SlackwaterError) as error:
            fault = str(error) if isinstance(error, SlackwaterError) else say("work.unknown_kind", {})
            tasks.start(self._book, task.id, at=self._clock())
            tasks.fail(self._book, task.id, fault=fault, at=self._clock())
            return
        if tasks.hand_over(self._book, task.id, owner=self._here.id, program=self._program, handed=handed):
            with suppress(CannotRun):  # it waits in the book, and is entered with the next look around
                self._counter.put(task.id)

    def cancel(self, task_id: str) -> TaskRow:
        """Ask a task to stop; one that waits stops at once, one that runs when its worker hears of it.

        Raises
        ------
        NotFound
        """
        return tasks.ask_cancel(self._book, task_id, at=self._clock())

    def close(self) -> None:
        """Let go of the queue; what is in it, and what workers are at, goes on."""
        self._stop.set()
        self._keeper.join()
        self._counter.close()
        self._here.leave()

    async def _keep(self) -> None:
        while not self._stop.is_set():
            # A database that was away comes back: the office stays open meanwhile, and its pages tell.
            try:
                await self._keep_while_there()
            except (SlackwaterError, *LOST):
                log.debug("looking after the queue", exc_info=True)
            await asyncio.to_thread(self._stop.wait, self._pace.round_s)

    async def _keep_while_there(self) -> None:
        keeper = Keeper(self._book, self._program, self._pace)
        attends = presence.attend(self._book, f"{OFFICE} {self._program}", at=self._clock())
        try:
            async with keeper.app.open_async():
                while not self._stop.is_set():
                    await tend(self._book, keeper, self._program, at=self._clock())
                    self._look_around()
                    await asyncio.to_thread(self._stop.wait, self._pace.round_s)
        finally:
            attends.leave()
