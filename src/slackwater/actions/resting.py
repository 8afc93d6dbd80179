"""What a user does on the day itself: have the rest of it planned again from the log and the time, and look at what came of it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from slackwater.actions.entering import Entered
from slackwater.actions.happening import present_of
from slackwater.actions.office import Desk, Office
from slackwater.actions.present import entered_time
from slackwater.actions.recording import job_of
from slackwater.actions.rest_work import REST, rest_there
from slackwater.book import tasks
from slackwater.book.tasks import OPEN, State, TaskRow
from slackwater.errors import NotFound
from slackwater.units import UnitSystem
from slackwater.wording.render import say

SHOWN = 5
"""Plans of the rest of the day that the log names."""


def ask_rest(office: Office, job_id: str, typed: Mapping[str, str], units: UnitSystem, *, by: str = "") -> TaskRow:
    """Have the rest of a day planned from the log as it stands and the time ``rest_at``; asked twice, it is planned once.

    Raises
    ------
    NotFound, Unusable
        If there is no such job; if the time cannot be read.
    """
    row = job_of(office, job_id)
    entered = Entered(typed)
    at = entered_time(entered, "rest_at", present_of(office, job_id))
    entered.done()
    asked: dict[str, Any] = {
        "version": row.newest_n,
        "units": units,
        "changes": [],
        "at": at.isoformat(),
        "events": row.events_n,
    }
    for task in tasks.of_job(office.book, job_id):
        if task.kind == REST and task.state in OPEN and task.arguments == asked:
            return task
    task = tasks.add(office.book, kind=REST, arguments=asked, at=office.clock(), by=by, job_id=job_id)
    office.workshop.submit(task)
    return task


def rests_of(office: Desk, job_id: str) -> list[tuple[TaskRow, datetime]]:
    """The last plans of the rest of a day that are there to be seen, the newest first, each with the time it is from."""
    return [
        (task, datetime.fromisoformat(task.arguments["at"]))
        for task in tasks.of_job(office.book, job_id)
        if task.kind == REST and task.state is State.DONE and rest_there(office.settings, office.book, task.id)
    ][:SHOWN]


def see_rest(office: Desk, job_id: str, task_id: str) -> tuple[Mapping[str, Any], bool]:
    """What came of planning the rest of a day; and whether the log or the job has moved on since.

    Raises
    ------
    NotFound
        If it was not planned, is not ready, or was thrown away.
    """
    row, task = job_of(office, job_id), tasks.get(office.book, task_id)
    mine = task.kind == REST and task.job_id == job_id
    file = rest_there(office.settings, office.book, task.id) if mine else None
    if file is None:
        raise NotFound(say("web.rest.gone", {}))
    page: Mapping[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return page, (row.newest_n, row.events_n) != (task.arguments["version"], task.arguments["events"])
