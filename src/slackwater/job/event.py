"""Things that happened: facts appended with their own id and time, never edited."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from enum import StrEnum
from typing import Annotated
from uuid import UUID

from pydantic import Field, JsonValue, ValidationError

from slackwater.errors import BadInput
from slackwater.frozen import Frozen
from slackwater.job.fields import Moment


class EventKind(StrEnum):
    """What kind of fact an event is."""

    STARTED = "started"
    FINISHED = "finished"
    SLIPPED = "slipped"
    """Still running; `body.remaining_min` is the new estimate."""
    DROPPED = "dropped"
    ADDED = "added"
    MEASURED = "measured"
    """`body` holds the reading, units in the names."""
    COUNTED = "counted"
    PHOTOGRAPHED = "photographed"
    NOTED = "noted"
    DECIDED = "decided"
    """A hold point: `body.decision` and `body.reason`."""
    UNAVAILABLE = "unavailable"
    """A person, a lift or a tool is out; `body.until` if known."""
    CORRECTED = "corrected"
    """`body.event` names the event that was wrong; the event itself stays."""


EXAMPLE = (
    '{"id": "6f1d1d0e-3b1a-4d34-9a3e-0b6b6f2c0001", "at": "2027-02-10T08:05:00", "kind": "counted", "job": "BC-2027-02", '
    '"subject": "caridina_multidentata", "body": {"caught": 5, "pass": 1}}'
)
"""What a line of events looks like."""


class Event(Frozen):
    """One fact.

    Attributes
    ----------
    id : UUID
        Made where the fact was noted.
    at : datetime
        When it happened, local time of the site.
    kind : EventKind
        What kind of fact it is.
    job : str
        Reference of the job.
    subject : str
        Activity id, species id, container label, water or person the fact is about.
    body : mapping
        What was seen: numbers with the unit in the name, texts.
    actor, device : str
        Who noted it, and on what.
    seq : int
        Running number on that device.
    """

    id: UUID
    at: Moment
    kind: EventKind
    job: str
    subject: str = ""
    body: Mapping[str, JsonValue] = {}
    actor: str = ""
    device: str = ""
    seq: Annotated[int, Field(ge=0)] = 0


def read_events(text: str, *, file_name: str) -> tuple[Event, ...]:
    """Read JSON lines of events, one a line; blank lines are passed over.

    Raises
    ------
    BadInput
        Naming the file, the line and what is wrong with it.
    """
    events = []
    for number, line in enumerate(text.split("\n"), start=1):
        if not line.strip():
            continue
        try:
            events.append(Event.model_validate_json(line))
        except ValidationError as error:
            first = error.errors()[0]
            if first["type"] == "json_invalid":
                raise BadInput(
                    f"{file_name}, line {number}: not a line of JSON; a line looks like {EXAMPLE}"
                ) from error
            where = ".".join(str(part) for part in first["loc"]) or "the line"
            raise BadInput(f"{file_name}, line {number}: {where}: {first['msg'].lower()}") from error
    return tuple(events)


def write_events(events: Iterable[Event]) -> str:
    """Events as JSON lines, the form that `read_events` reads."""
    return "".join(
        json.dumps(event.model_dump(mode="json", exclude_defaults=True), ensure_ascii=False, sort_keys=True) + "\n"
        for event in events
    )
