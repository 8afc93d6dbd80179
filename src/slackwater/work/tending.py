"""What offices and workers do together so that no task is lost: look for work of the dead, and for work that no queue has."""

from __future__ import annotations

from datetime import datetime

from slackwater.book import Book, presence, tasks
from slackwater.book.tasks import MOST_TRIES, State, TaskRow
from slackwater.wording.render import say
from slackwater.work.queue import Keeper


async def tend(book: Book, keeper: Keeper, program: str, *, at: datetime) -> None:
    """Look once; where somebody else is looking at this moment, that is enough.

    A task that was with a worker whose heart beats no more waits again, or has failed if that was its last try. What waits
    in the book and is in no queue is entered: after a restore, or where an office ended between the two.

    Parameters
    ----------
    program : str
        Version of the program whose tasks are looked after.
    at : datetime
        The time now, in UTC.
    """
    with presence.alone(book, f"queue of {program}") as mine:
        if not mine:
            return
        for entry, task_id in await keeper.of_the_dead():
            if await keeper.drop(entry):
                lost(book, tasks.get(book, task_id), at=at)
        # In this order: what ends between the two looks is then taken for open, and no move of it succeeds any more.
        known = [task for task in tasks.of_workers(book) if task.program == program]
        entered = await keeper.entered()
        for task in known:
            if task.id in entered:
                continue
            if task.state is State.RUNNING:
                lost(book, task, at=at)
            if tasks.get(book, task.id).state is State.WAITING:
                await keeper.put(task.id)


def lost(book: Book, task: TaskRow, *, at: datetime) -> None:
    """Let a task whose worker is gone wait again, or end where nothing else is left."""
    if task.state is not State.RUNNING or task.owner is None:
        return
    if task.cancel_asked:
        tasks.cancelled(book, task.id, at=at, owner=task.owner)
    elif task.tries >= MOST_TRIES:
        tasks.fail(book, task.id, fault=say("work.lost", {"tries": task.tries}), at=at, owner=task.owner)
    else:
        tasks.begin_again(book, task.id, owner=task.owner)
