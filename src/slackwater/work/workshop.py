"""The office's own pool for long work: hands tasks to processes of this machine, writes into the task table what they say."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from slackwater.book import Book, presence, tasks
from slackwater.book.tasks import MOST_TRIES, State, TaskRow
from slackwater.errors import SlackwaterError
from slackwater.wording.render import say
from slackwater.work.bench import Ending, Outcome, Run
from slackwater.work.crew import Crew

log = logging.getLogger(__name__)

WORKER, OFFICE = "workers of", "offices with workers of"
"""Who attends to the queue of a version of the program (`presence.attend`)."""


class Doer(Protocol):
    """Whoever gets long work done for an office: its own pool, or workers on other machines."""

    def submit(self, task: TaskRow) -> None:
        """Hand a waiting task over, unless somebody else has it."""

    def cancel(self, task_id: str) -> TaskRow:
        """Ask a task to stop.

        Raises
        ------
        NotFound
        """

    def close(self) -> None:
        """End what belongs to the office."""


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
        What becomes of its result, in the process of office or worker; returns the task's own result.
    handed : callable
        Lays into the book what a worker needs that is on the office's disk only; returns its marks.
    """

    run: Run
    given: Callable[[TaskRow], Mapping[str, Any]]
    kept: Callable[[TaskRow, str], str]
    handed: Callable[[TaskRow], Mapping[str, str]] = lambda _: {}


def take_back(book: Book, *, of_all_but: str, at: datetime) -> None:
    """Make work that was left to workers an office's own again, where none of their version are there and nobody waits for them.

    Parameters
    ----------
    of_all_but : str
        Version of the program whose work stays where it is; empty for none.
    """
    left = [task for task in tasks.of_workers(book) if task.program != of_all_but]
    alone = {
        program
        for program in {task.program for task in left}
        if not any(presence.is_attended(book, f"{who} {program}") for who in (WORKER, OFFICE))
    }
    for task in left:
        if task.program in alone:
            tasks.take_back(book, task.id, at=at)


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
        self._crew = Crew(workers, self._hear, quiet=self._look_again)
        # Some Pythons tell of a broken pool with its lock held, and what ends there may be handed to that pool again.
        self._endings = ThreadPoolExecutor(max_workers=1, thread_name_prefix="slackwater-endings")
        self._here = presence.enter(book, at=clock())
        self._crew.begin()
        take_back(book, of_all_but="", at=clock())
        self.found_broken = self._look_around()

    def _look_around(self) -> int:
        """Mark as broken what an office that is gone was doing, and take what waits; how much was broken."""
        broken = tasks.mark_broken(self._book, at=self._clock())
        for task in tasks.open_tasks(self._book):
            if task.state is State.WAITING and task.owner != self._here.id:
                self.submit(task)
        return broken

    def submit(self, task: TaskRow) -> None:
        """Hand a waiting task over, unless another office that is open has taken it, or it is for workers.

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
        future = self._crew.give(task.id, kind.run, given)
        if future is not None:
            future.add_done_callback(lambda done: self._end_later(task, done))

    def cancel(self, task_id: str) -> TaskRow:
        """Ask a task to stop; one that waits stops at once, one that runs when it next tells what it is at.

        Raises
        ------
        NotFound
        """
        now = tasks.ask_cancel(self._book, task_id, at=self._clock())
        if now.cancel_asked or now.state is State.CANCELLED:
            self._crew.stop(task_id)
        return now

    def close(self) -> None:
        """Stop everything: what computes on without a word is ended, and its task found broken."""
        self._crew.send_home()
        self._endings.shutdown()
        self._here.leave()

    def _hear(self, task_id: str, doing: str | None) -> bool:
        """Write what a process says into the task table."""
        if doing is None:
            # What a process that died had told last may be heard after the next one has begun.
            return tasks.start(self._book, task_id, at=self._clock()) or tasks.goes_on(self._book, task_id)
        return tasks.progress(self._book, task_id, doing=doing)

    def _look_again(self) -> None:
        """Another office may have ended since."""
        try:
            self._look_around()
        except SlackwaterError:
            log.exception("looking for work of offices that are gone")

    def _end_later(self, task: TaskRow, done: Future[Outcome]) -> None:
        with suppress(RuntimeError):  # the office has closed, and what ends now is found broken when it opens again
            self._endings.submit(self._end, task, done)

    def _end(self, task: TaskRow, done: Future[Outcome]) -> None:
        try:
            self._ended(task, done)
        except SlackwaterError:
            log.exception("task %s", task.id)  # the database is away; the office finds its task when it opens again

    def _ended(self, task: TaskRow, done: Future[Outcome]) -> None:
        if self._crew.is_leaving:
            return
        try:
            outcome = done.result()
        except CancelledError:
            return
        except BrokenProcessPool:
            self._try_again(task)
            return
        except Exception:
            log.exception("task %s", task.id)
            self._fail(task.id, say("work.broke", {}))
            return
        try:
            self._settle(task, outcome)
        except SlackwaterError as error:
            self._fail(task.id, str(error))

    def _try_again(self, task: TaskRow) -> None:
        """A process died: of this task, or of one beside it in the same pool."""
        tasks.start(self._book, task.id, at=self._clock())
        now = tasks.get(self._book, task.id)
        if now.cancel_asked:
            tasks.cancelled(self._book, task.id, at=self._clock())
        elif now.tries >= MOST_TRIES:
            self._fail(task.id, say("work.broke", {}))
        elif tasks.begin_again(self._book, task.id, owner=self._here.id):
            self.submit(tasks.get(self._book, task.id))

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
