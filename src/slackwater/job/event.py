"""Things that happened: facts appended with their own id and time, never edited."""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterable, Mapping
from datetime import datetime, tzinfo
from enum import StrEnum
from typing import Annotated
from uuid import UUID

from pydantic import BeforeValidator, Field, JsonValue, ValidationError

from slackwater.errors import BadInput
from slackwater.frozen import Frozen
from slackwater.job.fields import ToldMoment


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
    USED = "used"
    """Goods of the order or boxes: `body.amount` used in the unit of the order, or in `body.unit`; entries of one item add up."""
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


def _number(value: object) -> object:
    """Refuse a text or a truth value where a number is meant, which would otherwise be read as one."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError("expected a whole number, e.g. 3")
    return value


class Event(Frozen):
    """One fact.

    Attributes
    ----------
    id : UUID
        Made where the fact was noted.
    at : datetime
        When it happened, local time of the site; or with an offset, such as 2027-10-31T02:30:00+01:00, which tells the two
        hours of a clock change apart.
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
    at: ToldMoment
    kind: EventKind
    job: str
    subject: str = ""
    body: Mapping[str, JsonValue] = {}
    actor: str = ""
    device: str = ""
    seq: Annotated[int, BeforeValidator(_number), Field(ge=0)] = 0


def at_site(at: datetime, zone: tzinfo | None) -> datetime:
    """A moment as the clocks of the site show it, without offset; where the zone is not known, as it was written."""
    if at.tzinfo is None:
        return at
    return (at if zone is None else at.astimezone(zone)).replace(tzinfo=None)


READABLE: Mapping[str, tuple[float, float]] = {
    "tan_mg_l": (0, 100),
    "nitrite_n_mg_l": (0, 100),
    "nitrate_mg_l": (0, 1000),
    "ph": (3, 11),
    "alkalinity_dkh": (0, 60),
    "hardness_dgh": (0, 100),
    "temp_c": (0, 45),
    "conductivity_us_cm": (0, 60_000),
    "oxygen_mg_l": (0, 25),
    "co2_mg_l": (0, 300),
    "chloride_mg_l": (0, 20_000),
    "phosphate_mg_l": (0, 100),
    "potassium_mg_l": (0, 1000),
    "calcium_mg_l": (0, 2000),
    "magnesium_mg_l": (0, 2000),
    "sodium_mg_l": (0, 20_000),
    "sulfate_mg_l": (0, 10_000),
    "iron_mg_l": (0, 100),
    "copper_ug_l": (0, 10_000),
    "free_chlorine_mg_l": (0, 20),
    "combined_chlorine_mg_l": (0, 20),
    "peroxide_mg_l": (0, 10_000),
}
"""What can be read in the tank, named as in the job file with the unit, and what such a test or meter can show."""
MOST_FAULTS = 5
"""So many bad lines of a file are told at once."""


def reading_fault(event: Event) -> str | None:
    """What is wrong with a reading of the tank, in one sentence; None where it can be used. Texts are remarks."""
    if event.kind is not EventKind.MEASURED or event.subject != "tank":
        return None
    for name, value in event.body.items():
        text = isinstance(value, str)
        if name not in READABLE:
            near = difflib.get_close_matches(name, READABLE, n=1, cutoff=0.6)
            if text and not near and not str(value)[:1].isdigit():
                continue
            hint = f"did you mean {near[0]}? " if near else ""
            return f"{name} is no reading known here; {hint}known are {', '.join(READABLE)}. Rename it in that line"
        low, high = READABLE[name]
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            told = f'"{value}"' if text else f"{value}"
            return (
                f"{name} is {told}, expected a bare number from {low:g} to {high:g}; correct that line, or test again"
            )
    return None


def _line_fault(error: ValidationError) -> str:
    first = error.errors()[0]
    if first["type"] == "json_invalid":
        return f"not a line of JSON; a line looks like {EXAMPLE}"
    where = ".".join(str(part) for part in first["loc"]) or "the line"
    if first["loc"] == ("id",) and first["type"] != "missing":
        given = first["input"]
        return (
            f'id: "{given}" is no id; each event has its own, 32 digits of 0 to 9 and a to f in groups of 8-4-4-4-12, such '
            f"as {EXAMPLE[8:44]}; give the line a new one that no other line has"
        )
    return f"{where}: {first['msg'].lower()}"


def read_events(text: str, *, file_name: str) -> tuple[Event, ...]:
    """Read JSON lines of events, one a line; blank lines are passed over.

    Raises
    ------
    BadInput
        Naming the file, the line and what is wrong with it, for up to five bad lines at once.
    """
    events: list[Event] = []
    faults: list[str] = []
    for number, line in enumerate(text.split("\n"), start=1):
        if not line.strip():
            continue
        try:
            event = Event.model_validate_json(line)
            fault = reading_fault(event)
        except ValidationError as error:
            fault = _line_fault(error)
        else:
            events.append(event)
        if fault is not None:
            faults.append(f"{file_name}, line {number}: {fault}")
    if faults:
        more = len(faults) - MOST_FAULTS
        told = [*faults[:MOST_FAULTS], *([f"{file_name}: {more} more bad lines"] if more > 0 else [])]
        raise BadInput("\n".join(told))
    return tuple(events)


def write_events(events: Iterable[Event]) -> str:
    """Events as JSON lines, the form that `read_events` reads."""
    return "".join(
        json.dumps(event.model_dump(mode="json", exclude_defaults=True), ensure_ascii=False, sort_keys=True) + "\n"
        for event in events
    )
