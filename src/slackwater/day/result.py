"""What the day room hands on: the day in local time, its clocks, and what would make it fit."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from slackwater.frozen import Frozen


class Entry(Frozen):
    """One activity of the day, or a person's break."""

    activity: str
    """Catalog id, E1 …; ``break:<person>`` for a break."""
    label: str
    phase: str
    """arrive, water out, catch, filter, strip, clean, build, plant, fill, return, close, break."""
    start: datetime
    end: datetime
    """Local time of the site, with its offset."""
    start_min: int
    end_min: int
    """Minutes from the start of access."""
    crew: tuple[str, ...]
    zone: str
    quantity: float | None
    """The driver quantity that the minutes were computed from."""
    quantity_unit: str
    minutes_low: int | None
    minutes_high: int | None
    hold_point: bool
    tags: tuple[str, ...]
    record: str
    """Evidence to keep."""
    can_go_wrong: str
    latest_start: datetime | None
    """After this the closing time cannot be met any more, everything after it going as planned."""
    runs_on_until: datetime | None = None
    """After its end it goes on without hands until then: dripping, peroxide at work."""
    spray_every_min: int | None = None
    """Plants are uncovered: spray at least this often."""


class ClockSpan(Frozen):
    """One clock running on the day, from the event that starts it to the one that stops or restarts it."""

    clock: str
    what: str
    state: str
    starts_with: str
    ends_with: str
    start: datetime
    end: datetime
    start_min: int
    end_min: int
    used_min: int
    limit_min: int
    """The low (5 %) value, which the plan obeys: of this span, by the number of restarts taken on the day."""
    typical_min: int | None
    high_min: int | None
    """Middle and high (95 %) value of a wait without restart."""
    latest: datetime
    """When the limit is reached."""
    excess_min: int
    needs: str
    source: str


class Conflict(Frozen):
    """One rule of the minimal set that cannot be kept together; see ``conflict.<id>`` in the wording."""

    id: str
    values: Mapping[str, float | str] = {}


class WhatIf(Frozen):
    """One change to the day, solved again."""

    id: str
    """Id of its sentence: ``what_if.<id>``."""
    values: Mapping[str, float | str]
    finish: datetime | None
    margin_min: int | None
    """Minutes between its finish and the closing time it has."""
    over_min: int = 0
    """Minutes over the clocks that are left."""
    work_min: int = 0
    """Minutes of work that it moves to the bench, the workshop or another visit."""
    price: float | None = None
    """What it costs by the job's rates and the catalog's prices; None where none is known."""
    fits: bool
    proved: bool


class LeastOver(Frozen):
    """The least total of minutes after closing and over clocks with which the work can be done at all."""

    late_min: int
    over_min: Mapping[str, int]
    """By what the clock is about."""
    proved: bool


class DayResult(Frozen):
    """The day as booked, and the questions asked of it."""

    opens: datetime
    closes: datetime
    entries: tuple[Entry, ...]
    clocks: tuple[ClockSpan, ...]
    finish: datetime | None
    margin_min: int | None
    """Closing time less finish: negative when the day as booked is too short."""
    expected_finish: datetime | None
    """The same day with expected (skewed) minutes instead of typical ones."""
    status: str
    """proved, best found, impossible or unknown, from the solver."""
    bound_min: int | None
    """No day can finish before this many minutes from opening."""
    filter_state: str | None
    media_off_min: int | None
    safe_state: datetime | None
    """Earliest end of the safe overnight state: built, filled, filter running, animals housed."""
    shown: str
    """``as booked``, or ``open-ended`` when the booked day cannot be done and the earliest finish is shown."""
    conflict: tuple[Conflict, ...]
    what_ifs: tuple[WhatIf, ...]
    least_over: LeastOver | None = None
    """None where the day fits."""
    first_day: tuple[Entry, ...] = ()
    second_day: tuple[Entry, ...] = ()
    """Where the day does not fit: the work to the safe overnight state, and the rest on the reserve day that is agreed."""
    person_minutes: Mapping[str, int]
    """Minutes of work of each person, breaks not counted."""
    broken_rules: tuple[str, ...] = ()
    """What the independent checker found wrong with the schedule shown; anything here is a defect of the tool."""
