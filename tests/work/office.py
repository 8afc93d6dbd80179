"""An office in a process of its own, for tests: begins silent work, says so, and stays until it is killed."""

from __future__ import annotations

import sys
import time
from datetime import UTC, datetime
from pathlib import Path

from slackwater.book import open_book, tasks
from slackwater.book.tasks import State
from slackwater.work import Kind, Workshop
from tests.work.kinds import work

NOW = datetime(2027, 2, 1, 8, 0, tzinfo=UTC)


def main(where: str, folder: str) -> None:
    """Open the office; two tasks, so that one runs and one waits for it."""
    kind = Kind(run=work, given=lambda task: task.arguments, kept=lambda _, result: result)
    with open_book(where if "://" in where else Path(where), folder=Path(folder)) as book:
        workshop = Workshop(book, {"test": kind}, clock=lambda: NOW, workers=1)
        made = [tasks.add(book, kind="test", arguments={"what": "silent"}, at=NOW, by="")]
        made.append(tasks.add(book, kind="test", arguments={"what": "double", "number": 4}, at=NOW, by=""))
        for task in made:
            workshop.submit(task)
        while tasks.get(book, made[0].id).state is not State.RUNNING:
            time.sleep(0.05)
        print(*(task.id for task in made), flush=True)
        time.sleep(600)


if __name__ == "__main__":
    main(*sys.argv[1:])
