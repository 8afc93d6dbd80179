"""From activities, crew and clocks to the day's problem; also its two parts when the work is spread over two days."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from slackwater.day.activities import MOUTH, PUMP, CrewMember, Minutes, modes_of
from slackwater.day.house import NO_HOUSE, House
from slackwater.day.model import (
    Activity,
    Blackout,
    Break,
    Choice,
    Clock,
    DayProblem,
    Event,
    Interval,
    Lag,
    Option,
    Person,
    Resource,
    event,
)
from slackwater.job.catalog import ActivityRow, Catalog, ClockRow

ZONE_PLACES: Mapping[str, int] = {"filter": 2, "boxes": 2, "test": 1, "route": 4, "client": 2}
"""People who can work in a zone at the same time; common practice, no source."""

REFRESHES = ("R1", "R2")
FILTER_ON = "E25"
FILTER_CHOICE = "filter"
ON_BARREL = "running_on_barrel"
WAITING_BY_GROUP: Mapping[str, str] = {"fish": "holding", "snail": "holding", "shrimp": "shrimp_box"}
"""The clock of animals that wait in boxes, by their group in the catalog."""
CLOCK_STATES: Mapping[str, str] = {"holding": "aired_lidded", "shrimp_box": "aired_moss", "old_water": "aired_lidded"}
"""The state in which the plan holds animals and old water; the papers ask for what each state needs."""

SAFE_STATE = frozenset(
    [
        "E1",
        "E2",
        "E3",
        "E4",
        "E5",
        "E6",
        "E7",
        "E8",
        "E8B",
        "E9",
        "E10",
        "E11",
        "E12",
        "E13",
        "E14",
        "E14B",
        "E15",
        "E16",
        "E17",
        "E18",
        "E19",
        "E23",
        "E24",
        "E25",
        "R1",
        "R2",
    ]
)
"""Work up to the safe overnight state: hardscape and soil in, filled, filter running, animals in aired boxes."""
FIRST_DAY = SAFE_STATE | {"E20", "E29"}
"""Of two days: up to the safe overnight state, with the look at stone and wood before the tank is filled, and tidied up."""
SECOND_DAY = frozenset(["E4", "E21", "E22", "E24", "E26", "E27", "E28", "E29", "E30"])
"""Of two days: lowering the water as far as hands need it (about as long as pumping the old water out; common practice, no
source), planting, filling again, and all that comes after."""


@dataclass(frozen=True)
class DayFacts:
    """Everything that sets the day's problem, in minutes from the start of access.

    Attributes
    ----------
    minutes : mapping of str to Minutes
        By activity id; an activity of zero minutes has nothing to do and is left out.
    crew : sequence of CrewMember
        Who is there.
    work_places : int
        People who can work at the tank at the same time.
    quiet : mapping of str to spans
        Reason to spans without noise.
    closes_min, horizon_min : int
        End of access, and the end of all planning.
    house : House
        What the house lends: watts, floor, lift, barrels.
    waits : mapping of str to Minutes
        Minutes after an activity that pass without hands, before what follows it may start.
    shut : mapping of (tag, reason) to spans
        Hours in which no work of a tag may go on, beside the quiet ones.
    worth : mapping of str to int
        Activities that may be left out, with the minutes by which the day may end later for them.
    waiting : frozenset of str or None
        Clocks of animals that wait in boxes; None: all of them.
    filter_on_barrel : bool or None
        Whether the filter runs on a barrel while the tank is empty; None: as the day chooses.
    """

    minutes: Mapping[str, Minutes]
    crew: Sequence[CrewMember]
    work_places: int
    quiet: Mapping[str, tuple[tuple[int, int], ...]]
    closes_min: int
    horizon_min: int
    house: House = NO_HOUSE
    waits: Mapping[str, Minutes] = field(default_factory=dict)
    shut: Mapping[tuple[str, str], tuple[Interval, ...]] = field(default_factory=dict)
    worth: Mapping[str, int] = field(default_factory=dict)
    waiting: frozenset[str] | None = None
    filter_on_barrel: bool | None = None


def _bridged(rows: Mapping[str, ActivityRow], kept: Iterable[str]) -> Mapping[str, tuple[str, ...]]:
    """Predecessors among the activities that are done, straight through those that are not."""
    done = set(kept)

    def before(name: str) -> set[str]:
        found: set[str] = set()
        for other in rows[name].after:
            if other in rows:
                found |= {other} if other in done else before(other)
        return found

    return {name: tuple(sorted(before(name))) for name in done}


def _person(member: CrewMember) -> Person:
    rests: tuple[Break, ...] = ()
    if member.break_min:
        rests = (Break(minutes=member.break_min, earliest=member.break_from, latest_end=member.break_until),)
    return Person(id=member.id, windows=member.windows, rests=rests)


def _clocks(
    catalog: Catalog, done: frozenset[str], *, facts: DayFacts, another_day: frozenset[str]
) -> tuple[list[Clock], list[Choice], list[Lag]]:
    """Clocks, the filter's states to choose from, and minimum waits, for the activities that are done."""
    clocks: list[Clock] = []

    def add(row: ClockRow, clock_id: str, starts: str, ends: str, only_if: str | None = None) -> None:
        if row.restarts_with and ends.partition(".")[0] in another_day and FILTER_ON in done:
            # Animals stay in their boxes: while the crew is there it keeps their water; then whoever looks at night does.
            ends = f"{FILTER_ON}.end"
        if row.low_min is None or {starts.partition(".")[0], ends.partition(".")[0]} - done:
            return
        restarts = tuple(name for name in row.restarts_with if name in done)
        clocks.append(
            Clock(
                id=clock_id,
                starts=event(starts),
                ends=event(ends),
                limit_min=row.low_min,
                restarts=restarts,
                restarted_limits_min=row.restarted_low_min[: len(restarts)],
                only_if=only_if,
            )
        )

    for name, state in CLOCK_STATES.items():
        if name in WAITING_BY_GROUP.values() and facts.waiting is not None and name not in facts.waiting:
            continue
        row = catalog.clocks[f"{name}.{state}"]
        add(row, row.id, row.starts, row.ends)
    tray = catalog.clocks["plants.wet_covered_tray"]
    add(tray, tray.id, tray.starts, tray.ends)

    choices: list[Choice] = []
    if {"E8", FILTER_ON} <= done:
        options = []
        for row in catalog.clocks.values():
            on_barrel = row.state == ON_BARREL
            if row.clock != "media" or (facts.filter_on_barrel is not None and facts.filter_on_barrel != on_barrel):
                continue
            chosen = f"{FILTER_CHOICE}.{row.state}"
            options.append(Option(id=row.state, activities=("E8B",) if on_barrel else ()))
            add(row, row.id, row.starts, row.ends, only_if=chosen)
            if on_barrel:
                # Running does not wear the media; the two spans off the pump do, and there they lie damp.
                damp = catalog.clocks["media.drained_damp"]
                add(damp, "media.before_barrel", "E8.start", "E8B.end", only_if=chosen)
                add(damp, "media.after_barrel", "E23.start", "E25.end", only_if=chosen)
        choices.append(Choice(id=FILTER_CHOICE, options=tuple(options)))

    lags = [
        # Contact and cooling are never cut short, and may take longer: a strip or a hand decides.
        _lag(event(row.starts), event(row.ends), Minutes(row.low_min, row.low_min, row.high_min or row.low_min))
        for row in catalog.clocks.values()
        if row.kind == "minimum"
        and row.low_min is not None
        and row.starts.partition(".")[0] != row.ends.partition(".")[0]
        and {row.starts.partition(".")[0], row.ends.partition(".")[0]} <= done
    ]
    return clocks, choices, lags


def _waits(waits: Mapping[str, Minutes], activities: Sequence[Activity]) -> Iterable[Lag]:
    """Before whatever comes next, what passes without hands has passed."""
    for activity in activities:
        for before in activity.after:
            if before in waits:
                yield _lag(Event(activity=before, side="end"), Event(activity=activity.id, side="start"), waits[before])


def _lag(a: Event, b: Event, minutes: Minutes) -> Lag:
    """A wait planned with its likeliest minutes, whole ones, and between which ends they may lie."""
    planned = round(minutes.typical)
    if planned == 0 or minutes.low == minutes.high:
        return Lag(a=a, b=b, minimum=planned)
    return Lag(a=a, b=b, minimum=planned, spread=(min(minutes.low, planned), max(minutes.high, planned)))


def build_problem(facts: DayFacts, catalog: Catalog, *, only: frozenset[str] | None = None) -> DayProblem:
    """The problem of a whole day, or of the part of it that `only` names.

    Raises
    ------
    pydantic.ValidationError
        If the facts do not hang together; the messages name the activity or person.
    """
    rows = catalog.activities
    crew = list(facts.crew)
    kept = []
    for name, minutes in facts.minutes.items():
        if minutes.typical > 0 and (only is None or name in only):
            kept.append(name)
    done = frozenset(kept)
    after = _bridged(rows, kept)
    another_day = frozenset(name for name, minutes in facts.minutes.items() if minutes.typical > 0) - done
    clocks, choices, lags = _clocks(catalog, done, facts=facts, another_day=another_day)
    chosen = {name for choice in choices for option in choice.options for name in option.activities}
    done -= {"E8B"} - chosen
    if not clocks or not any(clock.restarts for clock in clocks):
        done -= set(REFRESHES)
    activities = []
    for name in kept:
        if name not in done:
            continue
        modes = modes_of(
            rows[name], facts.minutes[name].typical, crew, work_places=facts.work_places, house=facts.house
        )
        activities.append(
            Activity(
                id=name,
                modes=modes,
                after=tuple(other for other in after[name] if other in done),
                optional=name in REFRESHES or name in chosen or name in facts.worth,
                worth=facts.worth.get(name, 0) if name not in chosen else 0,
            )
        )
    zones = {
        resource
        for activity in activities
        for mode in activity.modes
        for resource in mode.resources
        if resource.startswith("zone ")
    }
    return DayProblem(
        activities=tuple(activities),
        people=tuple(_person(member) for member in crew),
        resources=(
            Resource(id=MOUTH, capacity=facts.work_places),
            Resource(id=PUMP, capacity=1),
            *(Resource(id=zone, capacity=ZONE_PLACES[zone.removeprefix("zone ")]) for zone in sorted(zones)),
            *facts.house.resources,
        ),
        lags=(*lags, *_waits(facts.waits, activities)),
        holds=tuple(hold for hold in facts.house.holds if {at.activity for at in hold.events} <= done),
        outages=facts.house.outages,
        clocks=tuple(clocks),
        choices=tuple(choices),
        blackouts=(
            *(Blackout(reason=reason, tag="noisy", spans=spans) for reason, spans in facts.quiet.items()),
            *(Blackout(reason=reason, tag=tag, spans=spans) for (tag, reason), spans in facts.shut.items()),
        ),
        handed_over_at=MOUTH,
        closes_min=facts.closes_min,
        horizon_min=facts.horizon_min,
    )
