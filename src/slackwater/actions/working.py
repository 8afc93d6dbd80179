"""What a worker's machine does: long work of the firm's offices, over nothing but the address of their database."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from slackwater import __version__
from slackwater.actions.layout_work import layout_kinds
from slackwater.actions.plan_work import PLAN, plan_kind_of_worker
from slackwater.actions.rest_work import REST, rest_kind_of_worker
from slackwater.actions.settings import Settings
from slackwater.book import Book
from slackwater.book.opening import open_to_work
from slackwater.book.tasks import TaskRow
from slackwater.errors import CannotRun, Conflict, NotFound
from slackwater.wording.render import say
from slackwater.work import Kind


def work(
    settings: Settings,
    *,
    clock: Callable[[], datetime],
    at_once: int,
    tell: Callable[[str], None],
    begun: Callable[[Callable[[], None]], None],
) -> None:
    """Work until told to leave; nothing stays on the disk of the machine.

    Parameters
    ----------
    settings : Settings
        Of which only the database is used: a worker needs no data folder and no key.
    clock : callable
        The time now, in UTC.
    at_once : int
        How many tasks run at once.
    tell : callable
        Told in sentences what it does.
    begun : callable
        Given, before the work begins, what makes it leave.

    Raises
    ------
    BadInput, NotFound, CannotRun
        If no database is set, or it is none of a record book in this program's form.
    """
    if settings.database is None:
        raise CannotRun(say("work.needs_postgresql", {}))
    from slackwater.work.worker import Worker

    with tempfile.TemporaryDirectory(prefix="slackwater-worker-") as room:
        try:
            book = open_to_work(settings.database, Path(room), clock=clock)
        except NotFound:
            raise NotFound(say("work.needs_office", {})) from None
        except Conflict:
            raise CannotRun(say("work.older_book", {})) from None
        with book:
            worker = Worker(
                book, kinds(settings, book, clock), program=__version__, clock=clock, at_once=at_once, tell=tell
            )
            begun(worker.leave)
            worker.run()
    tell(say("work.left", {}))


def kinds(settings: Settings, book: Book, clock: Callable[[], datetime]) -> Callable[[TaskRow, Path], Kind]:
    """How each task is done in a data folder of its own."""

    def kind(task: TaskRow, room: Path) -> Kind:
        own = replace(settings, home=room)
        if task.kind == PLAN:
            return plan_kind_of_worker(own, book, clock, task)
        if task.kind == REST:
            return rest_kind_of_worker(own, book, task)
        return layout_kinds(own, book)[task.kind]

    return kind
