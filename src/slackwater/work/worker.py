"""A worker: does long work of a firm's offices on whatever machine it runs, over nothing but the book's database."""

from __future__ import annotations

import asyncio
import logging
import tempfile
import threading
import time
from collections.abc import Callable
from concurrent.futures import CancelledError, Future, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from datetime import datetime
from functools import partial
from pathlib import Path
from queue import SimpleQueue

from slackwater.book import Book, presence, tasks
from slackwater.book.ids import new_id
from slackwater.book.tasks import MOST_TRIES, TaskRow
from slackwater.errors import CannotRun, SlackwaterError
from slackwater.wording.render import say
from slackwater.work.bench import Ending, Outcome
from slackwater.work.crew import Crew
from slackwater.work.queue import LOST, Keeper, Pace, prepare, run_loop
from slackwater.work.tending import tend
from slackwater.work.workshop import WORKER, Kind

log = logging.getLogger(__name__)

GLANCE_S = 0.2
"""So often a worker that waits for its process looks whether it is to leave."""
NOBODY = "nobody"
AWAY_S = 5.0
"""A worker that lost the database tries again after so long."""

Kinds = Callable[[TaskRow, Path], Kind]
"""How a task is done in an empty folder of its own, which is gone when it has ended; KeyError where its kind is unknown."""


class Worker:
    """Takes tasks in turn until it is told to leave; then it gives back what it is at.

    Each taking of a task has an id of its own, and counts only while the book says that it is the one: a worker that was
    thought dead and wakes again can end nothing that another one has taken over.

    Parameters
    ----------
    book : Book
        In PostgreSQL.
    kinds : callable
        How a task is done.
    program : str
        Version of the program.
    clock : callable
        The time now, in UTC.
    at_once : int
        How many tasks run at once.
    tell : callable
        Told in sentences what it does.
    pace : Pace

    Raises
    ------
    CannotRun
        If the book is not in PostgreSQL, or the queue cannot be set up.
    """

    def __init__(
        self,
        book: Book,
        kinds: Kinds,
        *,
        program: str,
        clock: Callable[[], datetime],
        at_once: int,
        tell: Callable[[str], None],
        pace: Pace | None = None,
    ) -> None:
        self._book, self._kinds, self._program, self._clock = book, kinds, program, clock
        self._at_once, self._tell, self._pace = at_once, tell, pace or Pace()
        self._stop = threading.Event()
        self._crews: list[Crew] = []
        self._takings = [NOBODY] * at_once
        self._strangers: set[str] = set()
        self._away = False
        prepare(book)

    def leave(self) -> None:
        """Take nothing new and give back what runs; `run` then returns. May be called from a signal."""
        self._stop.set()

    def run(self) -> None:
        """Work until told to leave."""
        # A process of its own for each: one that dies takes nobody else's work with it.
        self._crews = [Crew(1, partial(self._hear, n)) for n in range(self._at_once)]
        self._free: SimpleQueue[int] = SimpleQueue()
        for n, crew in enumerate(self._crews):
            crew.begin()
            self._free.put(n)
        try:
            run_loop(self._work())
        finally:
            for crew in self._crews:
                crew.send_home()

    async def _work(self) -> None:
        while not self._stop.is_set():
            try:
                await self._work_while_there()
            except (SlackwaterError, *LOST):
                log.debug("the database or the queue", exc_info=True)
            if not self._stop.is_set():
                if not self._away:
                    self._tell(say("work.away", {"seconds": AWAY_S}))
                self._away = True
                await asyncio.to_thread(self._stop.wait, AWAY_S)

    async def _work_while_there(self) -> None:
        keeper = Keeper(self._book, self._program, self._pace, connections=self._at_once + 4)
        attends = presence.attend(self._book, f"{WORKER} {self._program}", at=self._clock())
        try:
            async with keeper.app.open_async():
                self._away = False
                self._tell(say("work.there", {"program": self._program, "at_once": self._at_once}))
                rounds = asyncio.create_task(self._rounds(keeper))
                try:
                    await keeper.serve(self._do, at_once=self._at_once, stop=self._stop)
                finally:
                    rounds.cancel()
                    with suppress(asyncio.CancelledError, SlackwaterError, *LOST):
                        await rounds
        finally:
            attends.leave()

    async def _rounds(self, keeper: Keeper) -> None:
        while True:
            # Of a database that went away the serving itself tells.
            with suppress(SlackwaterError, *LOST):
                await tend(self._book, keeper, self._program, at=self._clock())
                self._look_for_strangers()
            await asyncio.sleep(self._pace.round_s)

    def _look_for_strangers(self) -> None:
        """Tell once of work that waits for workers of another version."""
        waiting = [task.program for task in tasks.of_workers(self._book) if task.program not in (None, self._program)]
        for program in set(waiting) - self._strangers:
            count = waiting.count(program)
            self._tell(say("work.stranger", {"count": count, "theirs": str(program), "mine": self._program}))
        self._strangers = {str(program) for program in waiting}

    # ------------------------------------------------------------ one task

    def _hear(self, n: int, task_id: str, doing: str | None) -> bool:
        """Write what the process of a crew says into the task table."""
        taking = self._takings[n]
        if doing is None:
            return tasks.goes_on(self._book, task_id, owner=taking)
        return tasks.progress(self._book, task_id, doing=doing, owner=taking)

    def _do(self, task_id: str) -> bool:
        """Do a task whose turn it is; True where it should be its turn again."""
        if self._stop.is_set():
            return True
        taking = new_id(self._clock())
        task = tasks.take(self._book, task_id, owner=taking, program=self._program, at=self._clock())
        if task is None:
            return False  # cancelled while it waited, or done by somebody else
        began = time.monotonic()
        what: dict[str, float | str] = {"kind": task.kind, "task": task.id[-6:], "try": task.tries}
        self._tell(say("work.began" if task.tries == 1 else "work.began_again", what))
        try:
            again = self._done_in_a_room(task, taking)
            ended = tasks.get(self._book, task_id).state.value
        except SlackwaterError:
            # The database is away: once it is back, the task is found with nobody, and waits again.
            log.debug("task %s", task_id, exc_info=True)
            return False
        self._tell(say(f"work.ended.{ended}", {**what, "seconds": time.monotonic() - began}))
        return again

    def _done_in_a_room(self, task: TaskRow, taking: str) -> bool:
        with tempfile.TemporaryDirectory(prefix="slackwater-task-") as room:
            try:
                try:
                    kind = self._kinds(task, Path(room))
                except KeyError:
                    return self._fail(task, taking, say("work.unknown_kind", {}))
                outcome = self._outcome(task, taking, kind)
                if outcome is None:
                    return tasks.give_back(self._book, task.id, owner=taking)
                return self._settle(task, taking, kind, outcome)
            except (BrokenProcessPool, CancelledError):
                return self._try_again(task, taking, say("work.broke", {}))
            except CannotRun as error:
                return self._try_again(task, taking, str(error))
            except SlackwaterError as error:
                return self._fail(task, taking, str(error))
            except Exception:
                log.exception("task %s", task.id)
                return self._fail(task, taking, say("work.broke", {}))

    def _outcome(self, task: TaskRow, taking: str, kind: Kind) -> Outcome | None:
        """What came out; None where the worker is leaving and nothing did."""
        n = self._free.get()
        crew, self._takings[n] = self._crews[n], taking
        try:
            future = crew.give(task.id, kind.run, kind.given(task))
            return None if future is None else self._awaited(task, taking, crew, future)
        finally:
            self._takings[n] = NOBODY
            self._free.put(n)

    def _awaited(self, task: TaskRow, taking: str, crew: Crew, future: Future[Outcome]) -> Outcome | None:
        looked = time.monotonic()
        while not wait([future], timeout=GLANCE_S).done:
            if self._stop.is_set():
                crew.send_home()
                wait([future], timeout=GLANCE_S)
                break
            if time.monotonic() - looked > self._pace.look_s:
                looked = time.monotonic()
                # While the database is away nobody can ask; what comes out may still find it there.
                with suppress(SlackwaterError):
                    if not tasks.goes_on(self._book, task.id, owner=taking):
                        crew.stop(task.id)
        if not self._stop.is_set():
            return future.result()
        if not future.done() or future.cancelled() or future.exception() is not None:
            return None
        outcome = future.result()
        leaving = outcome.ending is Ending.STOPPED and not tasks.get(self._book, task.id).cancel_asked
        return None if leaving else outcome

    def _settle(self, task: TaskRow, taking: str, kind: Kind, outcome: Outcome) -> bool:
        if outcome.ending is Ending.STOPPED:
            if not tasks.get(self._book, task.id).cancel_asked:
                return tasks.begin_again(self._book, task.id, owner=taking)
            tasks.cancelled(self._book, task.id, at=self._clock(), owner=taking)
        elif outcome.ending is Ending.FAILED:
            self._fail(task, taking, outcome.text)
        else:
            result = kind.kept(task, outcome.text)
            tasks.finish(self._book, task.id, result=result, at=self._clock(), owner=taking)
        return False

    def _fail(self, task: TaskRow, taking: str, sentence: str) -> bool:
        tasks.fail(self._book, task.id, fault=sentence, at=self._clock(), owner=taking)
        return False

    def _try_again(self, task: TaskRow, taking: str, sentence: str) -> bool:
        if tasks.get(self._book, task.id).cancel_asked:
            tasks.cancelled(self._book, task.id, at=self._clock(), owner=taking)
            return False
        if task.tries >= MOST_TRIES:
            return self._fail(task, taking, sentence)
        return tasks.begin_again(self._book, task.id, owner=taking)
