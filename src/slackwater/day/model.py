"""The day as a problem and as an answer: activities, people, places, clocks; and where everything was placed.

Times are integer minutes from the start of access. Records refuse nonsense when they are made.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from slackwater.frozen import Frozen

Side = Literal["start", "end"]
Interval = tuple[int, int]


class Event(Frozen):
    """The start or the end of an activity."""

    activity: str
    side: Side

    def __str__(self) -> str:
        return f"{self.activity}.{self.side}"


def event(text: str) -> Event:
    """Read ``E8.start``."""
    activity, _, side = text.rpartition(".")
    return Event.model_validate({"activity": activity, "side": side})


class Break(Frozen):
    """A person's break, to be placed within a window."""

    minutes: int = Field(gt=0)
    earliest: int
    latest_end: int

    @model_validator(mode="after")
    def _has_room(self) -> Self:
        if self.latest_end - self.earliest < self.minutes:
            raise ValueError(f"a break of {self.minutes} min has no room between {self.earliest} and {self.latest_end}")
        return self


class Person(Frozen):
    """One of the crew: when they are here, and their break."""

    id: str
    windows: tuple[Interval, ...]
    rest: Break | None = None

    @model_validator(mode="after")
    def _windows_run_forward(self) -> Self:
        for start, end in self.windows:
            if end <= start:
                raise ValueError(f"{self.id} is here from {start} to {end}; the end must come after the start")
        return self


class Mode(Frozen):
    """One way to do an activity: who, how long, what it takes."""

    id: str
    minutes: int = Field(ge=0)
    crew: tuple[str, ...]
    resources: Mapping[str, int] = {}
    tags: tuple[str, ...] = ()


class Activity(Frozen):
    """Something to do. An optional one is done only where an option or a clock asks for it."""

    id: str
    modes: tuple[Mode, ...] = Field(min_length=1)
    after: tuple[str, ...] = ()
    optional: bool = False


class Resource(Frozen):
    """Places, tools or zones of which so many can be used at a time."""

    id: str
    capacity: int = Field(ge=0)


class Lag(Frozen):
    """A minimum wait from one event to another."""

    a: Event
    b: Event
    minimum: int = Field(ge=0)


class Clock(Frozen):
    """A maximum wait. Restart activities that are present split it into pieces, each with a limit of its own.

    ``only_if`` names the option under which the clock runs at all.
    """

    id: str
    starts: Event
    ends: Event
    limit_min: int = Field(ge=0)
    restarts: tuple[str, ...] = ()
    restarted_limits_min: tuple[Annotated[int, Field(ge=0)], ...] = ()
    """Limit of each piece when one, two … restarts are taken; empty means ``limit_min`` whatever is taken."""
    only_if: str | None = None

    @model_validator(mode="after")
    def _has_a_limit_for_each_restart(self) -> Self:
        limits, restarts = len(self.restarted_limits_min), len(self.restarts)
        if limits and limits != restarts:
            raise ValueError(
                f"clock {self.id} has {limits} restarted limits for {restarts} restarts; give one for each"
            )
        return self

    def piece_limit_min(self, restarts_taken: int) -> int:
        """Limit of each piece when so many restarts are taken [min]."""
        if not self.restarted_limits_min or not restarts_taken:
            return self.limit_min
        return self.restarted_limits_min[restarts_taken - 1]


class Option(Frozen):
    """One way to handle a choice; its activities are done exactly when it is chosen."""

    id: str
    activities: tuple[str, ...] = ()


class Choice(Frozen):
    """Exactly one of the options is taken."""

    id: str
    options: tuple[Option, ...] = Field(min_length=1)


class Blackout(Frozen):
    """Spans in which no work of a mode tag may go on."""

    reason: str
    tag: str
    spans: tuple[Interval, ...]


class DayProblem(Frozen):
    """Everything the solver and the checker need to know."""

    activities: tuple[Activity, ...]
    people: tuple[Person, ...]
    resources: tuple[Resource, ...] = ()
    lags: tuple[Lag, ...] = ()
    clocks: tuple[Clock, ...] = ()
    choices: tuple[Choice, ...] = ()
    blackouts: tuple[Blackout, ...] = ()
    closes_min: int = Field(gt=0)
    horizon_min: int = Field(gt=0)
    """Beyond this nothing is planned, not even when closing is relaxed."""

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        ids = [activity.id for activity in self.activities]
        if len(set(ids)) != len(ids):
            raise ValueError("an activity stands twice")
        known = set(ids)
        people = {person.id for person in self.people}
        capacity = {resource.id: resource.capacity for resource in self.resources}
        for activity in self.activities:
            for before in activity.after:
                if before not in known:
                    raise ValueError(f"{activity.id} comes after {before}, which is not there")
            for mode in activity.modes:
                for name in mode.crew:
                    if name not in people:
                        raise ValueError(f"{activity.id}: {name} is not one of the crew")
                for resource, amount in mode.resources.items():
                    if resource not in capacity:
                        raise ValueError(f"{activity.id}: there is no resource {resource}")
                    if amount > capacity[resource]:
                        raise ValueError(f"{activity.id} takes {amount} of {resource}; there are {capacity[resource]}")
        for clock in self.clocks:
            for name in (clock.starts.activity, clock.ends.activity, *clock.restarts):
                if name not in known:
                    raise ValueError(f"clock {clock.id} hangs on {name}, which is not there")
        _refuse_circles(self.activities)
        return self


def _refuse_circles(activities: tuple[Activity, ...]) -> None:
    after = {activity.id: set(activity.after) for activity in activities}
    while after:
        free = {name for name, before in after.items() if not before & set(after)}
        if not free:
            raise ValueError(f"these activities wait for each other in a circle: {', '.join(sorted(after))}")
        for name in free:
            del after[name]


class Placed(Frozen):
    """An activity with its time and its mode."""

    activity: str
    mode: str
    start: int
    end: int
    crew: tuple[str, ...]


class PlacedBreak(Frozen):
    """A person's break with its time."""

    person: str
    start: int
    end: int


class ClockPiece(Frozen):
    """A span in which a clock runs without restart."""

    clock: str
    starts: Event
    ends: Event
    start: int
    end: int
    limit_min: int
    """Of this piece, by the number of restarts taken on the day."""

    @property
    def excess_min(self) -> int:
        """Minutes over the limit; zero when kept."""
        return max(0, self.end - self.start - self.limit_min)


class Status(StrEnum):
    """How sure the answer is."""

    PROVED = "proved"
    """No better day exists, by the solver's proof."""
    BEST_FOUND = "best found"
    """A day that keeps all rules; a better one may exist."""
    IMPOSSIBLE = "impossible"
    """Proved that no day keeps all rules."""
    UNKNOWN = "unknown"
    """Nothing found and nothing proved within the effort allowed."""


class Schedule(Frozen):
    """An answer."""

    status: Status
    placed: tuple[Placed, ...] = ()
    breaks: tuple[PlacedBreak, ...] = ()
    options: Mapping[str, str] = {}
    """Choice id to the option taken."""
    pieces: tuple[ClockPiece, ...] = ()
    finish_min: int | None = None
    bound_min: int | None = None
    """No day finishes earlier than this."""
    excess_min: int = 0
    """Total minutes over clock limits."""
    doubts: tuple[str, ...] = ()
    """What about the solver's claims does not hang together; anything here is a defect."""
