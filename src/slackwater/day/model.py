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
    """One of the crew: when they are here, their breaks, and how long they may go on without one.

    Attributes
    ----------
    windows : tuple of spans
        When they are on site [min].
    rests : tuple of Break
        Breaks, taken in this order.
    longest_stretch_min : int or None
        Longest time from arriving, or from the end of a break, to the start of the next break or the end of this
        person's last work; waiting on site counts. Being away between two windows counts as a break. None: no limit.

    References
    ----------
    Directive 2003/88/EC, article 4: a rest break where the working day is longer than six hours; national law sets
    its details.
    """

    id: str
    windows: tuple[Interval, ...]
    rests: tuple[Break, ...] = ()
    longest_stretch_min: int | None = Field(default=None, gt=0)

    @model_validator(mode="after")
    def _windows_run_forward(self) -> Self:
        for start, end in self.windows:
            if end <= start:
                raise ValueError(f"{self.id} is here from {start} to {end}; the end must come after the start")
        return self

    @model_validator(mode="after")
    def _breaks_have_room_in_order(self) -> Self:
        free = None
        for rest in self.rests:
            free = rest.minutes + (rest.earliest if free is None else max(free, rest.earliest))
            if free > rest.latest_end:
                raise ValueError(f"{self.id}'s breaks have no room in this order: one would end at {free}")
        return self


class Mode(Frozen):
    """One way to do an activity: who, how long, what it takes."""

    id: str
    minutes: int = Field(ge=0)
    crew: tuple[str, ...]
    resources: Mapping[str, int] = {}
    tags: tuple[str, ...] = ()


class Activity(Frozen):
    """Something to do. An optional one is done where an option or a clock asks for it, or where it is worth its time.

    Attributes
    ----------
    worth : int
        Minutes by which the day may finish later for an optional activity to be done; 0: only when asked for. Clocks
        and closing come first: it is left out wherever it would cost a minute over a clock that can be kept.
    """

    id: str
    modes: tuple[Mode, ...] = Field(min_length=1)
    after: tuple[str, ...] = ()
    optional: bool = False
    worth: int = Field(default=0, ge=0)

    @model_validator(mode="after")
    def _only_optional_work_has_a_worth(self) -> Self:
        if self.worth and not self.optional:
            raise ValueError(f"{self.id} is always done; only optional work has a worth")
        return self


class Resource(Frozen):
    """Places, tools, zones or watts of a circuit, of which so many can be used at a time."""

    id: str
    capacity: int = Field(ge=0)


class Outage(Frozen):
    """Spans in which less of a resource can be used, such as a lift out of order or a circuit switched off.

    Where outages of one resource overlap, the least of their capacities counts.
    """

    resource: str
    spans: tuple[Interval, ...]
    capacity: int = Field(default=0, ge=0)
    """What is left in these spans."""

    @model_validator(mode="after")
    def _spans_run_forward(self) -> Self:
        for start, end in self.spans:
            if end <= start:
                raise ValueError(f"{self.resource} is out from {start} to {end}; the end must come after the start")
        return self


class Hold(Frozen):
    """An amount of a resource kept from one event to another, such as barrels from draining to the refill.

    It is not held where one of its activities is left out. Where it is held, it ends no earlier than it starts.
    """

    id: str
    resource: str
    amount: int = Field(gt=0)
    starts: Event
    ends: Event | None = None
    """None: to the end of the day."""

    @property
    def events(self) -> tuple[Event, ...]:
        """The events it hangs on."""
        return (self.starts,) if self.ends is None else (self.starts, self.ends)


class Lag(Frozen):
    """A minimum wait from one event to another; a negative one is a maximum wait the other way round.

    ``b`` comes no earlier than ``minimum`` minutes after ``a``: with -20, ``a`` is at most 20 minutes after ``b``.
    """

    a: Event
    b: Event
    minimum: int
    spread: tuple[float, float] | None = None
    """The least and the most minutes that the wait may take on the day, ``minimum`` being the likeliest; None: it is
    kept by the watch. Waits from one event with the same minutes are one wait."""

    @model_validator(mode="after")
    def _runs_upwards(self) -> Lag:
        if self.spread is not None:
            least, most = self.spread
            if not 0 <= least <= self.minimum <= most or self.minimum == 0:
                raise ValueError(
                    f"the wait from {self.a} to {self.b} must run upwards: {least:g}, {self.minimum}, {most:g}"
                )
        return self


class Clock(Frozen):
    """A maximum wait. Restart activities that are present split it into pieces, each with a limit of its own.

    ``only_if`` names the option under which the clock runs at all. A hard clock is never exceeded; of a soft one the
    minutes over are counted.
    """

    id: str
    starts: Event
    ends: Event
    limit_min: int = Field(ge=0)
    restarts: tuple[str, ...] = ()
    restarted_limits_min: tuple[Annotated[int, Field(ge=0)], ...] = ()
    """Limit of each piece when one, two … restarts are taken; empty means ``limit_min`` whatever is taken."""
    only_if: str | None = None
    hard: bool = False

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


class Fixed(Frozen):
    """Work that is done or has been started: a fact for planning the rest of the day.

    Its minutes need not be those of the mode. Facts may break rules (the log is right, the rule was not kept); rules
    then bind only what is still open.
    """

    activity: str
    mode: str
    start: int = Field(ge=0)
    end: int
    """For started work: when it is expected to end."""
    crew: tuple[str, ...] | None = None
    """None: the crew of the mode."""

    @model_validator(mode="after")
    def _ends_after_its_start(self) -> Self:
        if self.end < self.start:
            raise ValueError(f"{self.activity} is fixed from {self.start} to {self.end}; the end comes first")
        return self


class DayProblem(Frozen):
    """Everything the solver and the checker need to know.

    Attributes
    ----------
    handed_over_at : str or None
        The resource at which work is better carried on by the same hands: the mouth of the tank.
    fixed : tuple of Fixed
        Work done or started.
    now_min : int
        Nothing else starts before it. A break that has room in one place only and starts before it has been taken.
    """

    activities: tuple[Activity, ...]
    people: tuple[Person, ...]
    resources: tuple[Resource, ...] = ()
    lags: tuple[Lag, ...] = ()
    clocks: tuple[Clock, ...] = ()
    choices: tuple[Choice, ...] = ()
    blackouts: tuple[Blackout, ...] = ()
    holds: tuple[Hold, ...] = ()
    outages: tuple[Outage, ...] = ()
    handed_over_at: str | None = None
    fixed: tuple[Fixed, ...] = ()
    now_min: int = Field(default=0, ge=0)
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
        for lag in self.lags:
            for at in (lag.a, lag.b):
                if at.activity not in known:
                    raise ValueError(f"the wait from {lag.a} to {lag.b} hangs on {at.activity}, which is not there")
        for hold in self.holds:
            for at in hold.events:
                if at.activity not in known:
                    raise ValueError(f"hold {hold.id} hangs on {at.activity}, which is not there")
            if hold.amount > capacity.get(hold.resource, 0):
                raise ValueError(
                    f"hold {hold.id} keeps {hold.amount} of {hold.resource}; there are {capacity.get(hold.resource, 0)}"
                )
        for outage in self.outages:
            if outage.resource not in capacity:
                raise ValueError(f"there is no resource {outage.resource} that could be out")
        if self.handed_over_at is not None and self.handed_over_at not in capacity:
            raise ValueError(f"there is no resource {self.handed_over_at} to be handed over at")
        chosen = {name for choice in self.choices for option in choice.options for name in option.activities}
        for activity in self.activities:
            if activity.worth and activity.id in chosen:
                raise ValueError(f"{activity.id} is done by choice; it cannot have a worth as well")
        return self

    @model_validator(mode="after")
    def _goes_forward(self) -> Self:
        _refuse_circles(self.activities)
        return self

    @model_validator(mode="after")
    def _facts_are_of_this_day(self) -> Self:
        modes = {(activity.id, mode.id): mode for activity in self.activities for mode in activity.modes}
        people = {person.id for person in self.people}
        names = [item.activity for item in self.fixed]
        for item in self.fixed:
            if names.count(item.activity) > 1:
                raise ValueError(f"{item.activity} is fixed twice")
            if (item.activity, item.mode) not in modes:
                raise ValueError(f"{item.activity} is fixed in mode {item.mode}, which it does not have")
            for name in item.crew or ():
                if name not in people:
                    raise ValueError(f"{item.activity}: {name} is not one of the crew")
            if item.start > self.now_min:
                raise ValueError(f"{item.activity} is fixed at {item.start}, but it is only {self.now_min}")
        running: dict[str, int] = {}
        for hold in self.holds:
            begun = next((f for f in self.fixed if f.activity == hold.starts.activity), None)
            over = hold.ends is not None and hold.ends.activity in names
            if begun is not None and not over:
                running[hold.resource] = running.get(hold.resource, 0) + hold.amount
        for resource in self.resources:
            if running.get(resource.id, 0) > resource.capacity:
                raise ValueError(
                    f"{running[resource.id]} of {resource.id} are held now; there are only {resource.capacity}"
                )
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
    """No day finishes earlier than this; a minute over a clock, or of worth left out, counts as a minute of finish."""
    excess_min: int = 0
    """Total minutes over the limits of soft clocks."""
    cancelled: bool = False
    """Whether the search was called off; this is then the best day found until that moment."""
    doubts: tuple[str, ...] = ()
    """What about the solver's claims does not hang together; anything here is a defect."""
