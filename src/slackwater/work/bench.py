"""What runs in a worker process: one task at a time, telling what it is at and looking whether it is to stop."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from multiprocessing import connection, parent_process
from pathlib import Path
from typing import Any, Protocol

from slackwater.errors import SlackwaterError

Report = Callable[[str], None]
Run = Callable[[Mapping[str, Any], Report], str]
"""A function of a module, given what the task is about; what it returns is handed back as text."""


class News(Protocol):
    """A queue on which worker processes tell what they are at; None as text means that a task was begun."""

    def put(self, item: tuple[str, str | None]) -> None:
        """Tell the text of a task."""


class Stopped(BaseException):
    """The task was asked to stop; not an Exception, so that no computation takes it for a fault of its own."""


class Ending(StrEnum):
    """How a task ended in its process."""

    DONE = "done"
    FAILED = "failed"
    STOPPED = "stopped"


@dataclass(frozen=True)
class Outcome:
    """What a worker hands back: the result, or a sentence why there is none."""

    ending: Ending
    text: str = ""


_news: News | None = None


def prepare(news: News) -> None:
    """Set a worker process up: the terminal's interrupt is for the office, and nobody works on when the office is gone."""
    global _news
    _news = news
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_leave_with_the_office, daemon=True).start()


def _leave_with_the_office() -> None:
    office = parent_process()
    if office is not None:
        connection.wait([office.sentinel])
        os._exit(1)


def run(task_id: str, work: Run, given: Mapping[str, Any], stop: Path) -> Outcome:
    """Do one task.

    Parameters
    ----------
    task_id : str
        Under which its progress is told.
    work : callable
        What to do.
    given : mapping
        What it is about.
    stop : Path
        A file whose appearance asks the task to stop; looked for whenever progress is told.
    """
    news = _news
    assert news is not None

    def report(what: str) -> None:
        if stop.exists():
            raise Stopped
        news.put((task_id, what))

    try:
        if stop.exists():
            raise Stopped
        news.put((task_id, None))
        return Outcome(Ending.DONE, work(given, report))
    except Stopped:
        return Outcome(Ending.STOPPED)
    except SlackwaterError as error:
        return Outcome(Ending.FAILED, str(error))
