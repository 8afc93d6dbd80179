"""Long pieces of work: what waits, runs, and ended how; the rules of who may move a task stand here, the work elsewhere."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import Row, select, update

from slackwater.book import moments
from slackwater.book.handle import Book
from slackwater.book.ids import checked_id, new_id
from slackwater.book.presence import is_open
from slackwater.book.rows import add as add_row
from slackwater.book.rows import found, storable
from slackwater.book.tables import job, task
from slackwater.errors import Conflict


class State(StrEnum):
    """Where a task stands."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    """It ended with a sentence why."""
    CANCELLED = "cancelled"
    BROKEN = "broken"
    """The program was stopped while it ran; it can be restarted."""


OPEN = (State.WAITING, State.RUNNING)
MOST_TRIES = 3
"""So often a task is begun whose process or machine dies each time; then it has failed."""


@dataclass(frozen=True, slots=True)
class TaskRow:
    """A task.

    Attributes
    ----------
    id, kind : str
    job_id : str or None
    arguments : mapping
        What the work is given.
    state : State
    doing : str
        What it is at, in words.
    share : float or None
        How much is done [0..1], where known.
    cancel_asked : bool
    restarts : str or None
        The task it is another try of.
    owner : str or None
        Who does it: an office (`presence`), or a taking of its own by a worker; None while nobody has taken it.
    program : str or None
        Version of the program for whose workers it waits, or of whom one does it; None for what an office does itself.
    tries : int
        How often it was begun.
    handed : mapping
        What was laid into the book for a worker, by mark (`parcels`).
    result, fault : str or None
        What came out, or a sentence why nothing did.
    """

    id: str
    kind: str
    job_id: str | None
    arguments: Mapping[str, Any]
    state: State
    doing: str
    share: float | None
    cancel_asked: bool
    restarts: str | None
    owner: str | None
    program: str | None
    tries: int
    handed: Mapping[str, str]
    result: str | None
    fault: str | None
    added_at: datetime
    added_by: str
    started_at: datetime | None
    ended_at: datetime | None


def add(
    book: Book,
    *,
    kind: str,
    arguments: Mapping[str, Any],
    at: datetime,
    by: str,
    job_id: str | None = None,
    restarts: str | None = None,
    task_id: str | None = None,
) -> TaskRow:
    """Enter a task; it waits.

    Raises
    ------
    NotFound, Conflict
        If there is no such job, or the id is taken.
    """
    new = new_id(at) if task_id is None else checked_id(task_id)
    with book.writing() as connection:
        if job_id is not None:
            found(connection, job, job_id)
        add_row(
            connection,
            task,
            id=new,
            kind=kind,
            job_id=job_id,
            arguments=json.dumps(dict(arguments), ensure_ascii=True, sort_keys=True),
            state=State.WAITING.value,
            restarts=restarts,
            added_at=moments.stored(at),
            added_by=by,
        )
    return get(book, new)


def claim(book: Book, task_id: str, *, owner: str) -> bool:
    """Take a waiting task for an office; False where another one that is open has it, workers have it, or it waits no more."""
    now = get(book, task_id)
    had = now.owner
    if now.program is not None:
        return False
    if had is not None and is_open(book, had):
        return had == owner
    return _move(book, task_id, State.WAITING, only_of=had, to_owner=owner)


def start(book: Book, task_id: str, *, at: datetime) -> bool:
    """Take a waiting task to run it; False where somebody else took it, or it was cancelled."""
    return _move(
        book, task_id, State.WAITING, state=State.RUNNING.value, tries=task.c.tries + 1, started_at=moments.stored(at)
    )


def progress(book: Book, task_id: str, *, doing: str, share: float | None = None, owner: str = "") -> bool:
    """Note how far a running task is; False where it is to stop: cancelling was asked, or it runs no more.

    Parameters
    ----------
    owner : str
        Who says so, where it counts only from whom has it; likewise of the other moves.
    """
    _move(book, task_id, State.RUNNING, only_of=owner, doing=doing, share=share)
    return goes_on(book, task_id, owner=owner)


def goes_on(book: Book, task_id: str, *, owner: str = "") -> bool:
    """Whether a task runs and is not to stop."""
    now = get(book, task_id)
    return now.state is State.RUNNING and not now.cancel_asked and owner in ("", now.owner)


def finish(book: Book, task_id: str, *, result: str, at: datetime, owner: str = "") -> bool:
    """A running task has ended well; False where it runs no more."""
    ended = moments.stored(at)
    return _move(
        book, task_id, State.RUNNING, only_of=owner, state=State.DONE.value, result=result, share=1.0, ended_at=ended
    )


def fail(book: Book, task_id: str, *, fault: str, at: datetime, owner: str = "") -> bool:
    """A running task has ended without a result; False where it runs no more."""
    ended = moments.stored(at)
    return _move(book, task_id, State.RUNNING, only_of=owner, state=State.FAILED.value, fault=fault, ended_at=ended)


def begin_again(book: Book, task_id: str, *, owner: str = "") -> bool:
    """A running task whose process or machine died waits once more; the try counts, for the task may be what killed it."""
    return _move(
        book, task_id, State.RUNNING, only_of=owner, to_owner=None, state=State.WAITING.value, doing="", share=None
    )


def give_back(book: Book, task_id: str, *, owner: str) -> bool:
    """Whoever runs a task has to leave and gives it back unharmed: it waits once more, and the try does not count."""
    waits = {"state": State.WAITING.value, "doing": "", "share": None, "tries": task.c.tries - 1}
    return _move(book, task_id, State.RUNNING, only_of=owner, to_owner=None, **waits)


def ask_cancel(book: Book, task_id: str, *, at: datetime) -> TaskRow:
    """Cancel a task that waits; one that runs is asked to stop, and `cancelled` says that it has.

    Raises
    ------
    NotFound
    """
    if not _move(book, task_id, State.WAITING, state=State.CANCELLED.value, ended_at=moments.stored(at)):
        _move(book, task_id, State.RUNNING, cancel_asked=True)
    return get(book, task_id)


def cancelled(book: Book, task_id: str, *, at: datetime, owner: str = "") -> bool:
    """A running task has stopped because that was asked; False where it runs no more."""
    ended = moments.stored(at)
    return _move(book, task_id, State.RUNNING, only_of=owner, state=State.CANCELLED.value, ended_at=ended)


# ---------------------------------------------------------------- of workers


def hand_over(book: Book, task_id: str, *, owner: str, program: str, handed: Mapping[str, str]) -> bool:
    """Leave a waiting task that an office has claimed to the workers of a version of the program."""
    told = json.dumps(dict(handed), ensure_ascii=True, sort_keys=True)
    return _move(book, task_id, State.WAITING, only_of=owner, program=program, to_owner=None, handed=told)


def take(book: Book, task_id: str, *, owner: str, program: str, at: datetime) -> TaskRow | None:
    """Begin a task that waits for workers of a version; None where it waits no more, or not for them.

    Parameters
    ----------
    owner : str
        A new id for this taking: whoever took it before, and was thought dead, moves it no more.
    """
    mine = update(task).where(
        task.c.id == task_id,
        task.c.state == State.WAITING.value,
        task.c.program == program,
        task.c.owner.is_(None),
    )
    begun = {"state": State.RUNNING.value, "tries": task.c.tries + 1, "owner": owner, "started_at": moments.stored(at)}
    with book.writing() as connection:
        taken = connection.execute(mine.values(**begun)).rowcount == 1
    return get(book, task_id) if taken else None


def of_workers(book: Book) -> list[TaskRow]:
    """What waits for workers or is with one, in the order of entry."""
    return [one for one in open_tasks(book) if one.program is not None]


def take_back(book: Book, task_id: str, *, at: datetime) -> None:
    """Make a task of workers an office's own again: what waits can be claimed, what ran is broken."""
    ended = {"state": State.BROKEN.value, "ended_at": moments.stored(at)}
    if not _move(book, task_id, State.WAITING, program=None):
        _move(book, task_id, State.RUNNING, program=None, **ended)


def mark_broken(book: Book, *, at: datetime) -> int:
    """Mark what runs for an office that is gone; what others do, offices or workers, is left to them. How many were marked."""
    running = [one for one in open_tasks(book) if one.state is State.RUNNING and one.program is None]
    gone = {owner for owner in {one.owner for one in running} if owner is None or not is_open(book, owner)}
    lost = [one.id for one in running if one.owner in gone]
    if not lost:
        return 0
    asked = update(task).where(task.c.state == State.RUNNING.value, task.c.id.in_(lost))
    with book.writing() as connection:
        return connection.execute(asked.values(state=State.BROKEN.value, ended_at=moments.stored(at))).rowcount


def restart(book: Book, task_id: str, *, at: datetime, by: str) -> TaskRow:
    """Enter a task that ended without a result once more, as a new one.

    Raises
    ------
    NotFound, Conflict
        If it is not there, or is still open, or has a result.
    """
    old = get(book, task_id)
    if old.state in (*OPEN, State.DONE):
        raise Conflict(
            f"This work is {old.state.value}; only work that was cut off, failed or was cancelled is restarted"
        )
    return add(book, kind=old.kind, arguments=old.arguments, at=at, by=by, job_id=old.job_id, restarts=old.id)


def get(book: Book, task_id: str) -> TaskRow:
    """A task.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        return _row(found(connection, task, task_id))


def open_tasks(book: Book) -> list[TaskRow]:
    """What waits or runs, in the order of entry."""
    asked = select(task).where(task.c.state.in_([state.value for state in OPEN])).order_by(task.c.id)
    with book.reading() as connection:
        return [_row(row) for row in connection.execute(asked)]


def of_job(book: Book, job_id: str, *, limit: int = 20) -> list[TaskRow]:
    """The last tasks of a job, newest first."""
    asked = select(task).where(task.c.job_id == job_id).order_by(task.c.id.desc()).limit(limit)
    with book.reading() as connection:
        return [_row(row) for row in connection.execute(asked)]


def listed(book: Book, *, limit: int = 50) -> list[TaskRow]:
    """The last tasks, newest first."""
    with book.reading() as connection:
        return [_row(row) for row in connection.execute(select(task).order_by(task.c.id.desc()).limit(limit))]


def _move(
    book: Book, task_id: str, only_from: State, *, only_of: str | None = "", to_owner: str | None = "", **values: Any
) -> bool:
    """Change a task that is in a certain state, in one step, so that two movers cannot both succeed.

    Parameters
    ----------
    only_of : str or None
        Who must have it; empty for whoever does.
    to_owner : str or None
        Who has it from then on; empty for whoever has.
    """
    for name, value in values.items():
        storable(f"task {name}", value)
    asked = update(task).where(task.c.id == task_id, task.c.state == only_from.value)
    if only_of != "":
        asked = asked.where(task.c.owner.is_(None) if only_of is None else task.c.owner == only_of)
    if to_owner != "":
        values["owner"] = to_owner
    with book.writing() as connection:
        found(connection, task, task_id)
        return connection.execute(asked.values(**values)).rowcount == 1


def _row(row: Row[Any]) -> TaskRow:
    return TaskRow(
        id=row.id,
        kind=row.kind,
        job_id=row.job_id,
        arguments=json.loads(row.arguments),
        state=State(row.state),
        doing=row.doing,
        share=row.share,
        cancel_asked=row.cancel_asked,
        restarts=row.restarts,
        owner=row.owner,
        program=row.program,
        tries=row.tries,
        handed=json.loads(row.handed),
        result=row.result,
        fault=row.fault,
        added_at=moments.read(row.added_at),
        added_by=row.added_by,
        started_at=None if row.started_at is None else moments.read(row.started_at),
        ended_at=None if row.ended_at is None else moments.read(row.ended_at),
    )
