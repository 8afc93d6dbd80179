"""One version of the day: who is there, how long each piece of work takes, how long the house is open."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from pydantic import ValidationError

from slackwater.day.activities import CrewMember, Minutes, minutes_of
from slackwater.day.drivers import Driver, RoomQuantities
from slackwater.day.house import House, house_of
from slackwater.day.learning import PastJob, learned_minutes
from slackwater.day.model import DayProblem, Interval, Schedule
from slackwater.day.problem import WAITING_BY_GROUP, DayFacts, build_problem
from slackwater.day.solve import Effort, Relaxed, solve
from slackwater.day.when import Clockface
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job, Person, Span

LONGEST_PLANNED_MIN = 36 * 60
"""No day is planned further than this past the start of access."""


@dataclass(frozen=True)
class Version:
    """One version of the day to solve: who, how long, what is to be done."""

    job: Job
    catalog: Catalog
    face: Clockface
    drivers: Mapping[str, Driver]
    minutes: Mapping[str, Minutes]
    crew: Sequence[CrewMember]
    closes_min: int
    work_places: int
    rooms: RoomQuantities = field(default_factory=RoomQuantities)
    waits: Mapping[str, Minutes] = field(default_factory=dict)
    past: Mapping[str, Sequence[PastJob]] = field(default_factory=dict)
    """Past jobs of this crew behind the minutes of an activity."""

    @cached_property
    def factors(self) -> Mapping[str, float]:
        """How far past jobs moved the typical minutes of an activity from the catalog's; 1 where none did."""
        found = {}
        for name, jobs in self.past.items():
            row = self.catalog.activities[name]
            driver = self.drivers.get(row.driver)
            if driver is None or driver.quantity is None:
                continue
            span = minutes_of(row, driver)
            if span.typical > 0:
                found[name] = learned(span, jobs).typical / span.typical
        return found

    @cached_property
    def house(self) -> House:
        """What the house lends."""
        lift = self.job.site.lift
        return house_of(self.job, self.rooms, self._spans(lift.out_of_order if lift else ()))

    def _spans(self, moments: Iterable[Span]) -> tuple[Interval, ...]:
        spans = (
            (max(0, self.face.minute(m.start)), min(LONGEST_PLANNED_MIN, self.face.minute(m.end))) for m in moments
        )
        return tuple((start, end) for start, end in spans if end > start)

    def _shut(self) -> Mapping[tuple[str, str], tuple[Interval, ...]]:
        """Hours without the client for work that they must see, and with them for work that they must not breathe."""
        if self.job.site.client_here is None:
            return {}
        here = self._spans(self.job.site.client_here)
        away = tuple(gaps(here, LONGEST_PLANNED_MIN))
        shut = {("no_client_present", "client in the room"): here, ("client_present", "client not there"): away}
        return {key: spans for key, spans in shut.items() if spans}

    def _waiting(self) -> frozenset[str] | None:
        """Clocks of the animals that come back on the day; None where nobody knows who lives there."""
        species = self.catalog.species
        back = [animals for animals in self.job.livestock or () if animals.keep and not animals.boarded]
        if self.job.livestock is None or any(animals.species not in species for animals in back):
            return None
        return frozenset(WAITING_BY_GROUP[species[animals.species].group] for animals in back)

    def _filter_on_barrel(self) -> bool | None:
        """As the job says; where it says nothing and no old water stands in a barrel, it cannot."""
        wished = self.job.preparation.filter_on_barrel
        return False if wished is None and self.rooms.old_barrel is False else wished

    def facts(self) -> DayFacts:
        """What sets the problem of this version."""
        quiet: dict[str, tuple[tuple[int, int], ...]] = {}
        for hours in self.job.site.quiet or ():
            reason = hours.reason or "quiet hours"
            span = (max(0, self.face.minute(hours.start)), min(LONGEST_PLANNED_MIN, self.face.minute(hours.end)))
            if span[1] > span[0]:
                quiet[reason] = (*quiet.get(reason, ()), span)
        return DayFacts(
            minutes=self.minutes,
            crew=self.crew,
            work_places=self.work_places,
            quiet=quiet,
            closes_min=self.closes_min,
            horizon_min=LONGEST_PLANNED_MIN,
            house=self.house,
            waits=self.waits,
            shut=self._shut(),
            worth={name: round(minutes) for name, minutes in self.job.brief.may_be_left_out.items()},
            waiting=self._waiting(),
            filter_on_barrel=self._filter_on_barrel(),
        )


def member_of(person: Person, face: Clockface, closes_min: int) -> CrewMember:
    """A person with the spans in which they are here; who stays to the end may also stay longer."""
    start = 0 if person.from_ is None else max(0, face.minute(person.from_))
    end = LONGEST_PLANNED_MIN if person.until is None else face.minute(person.until)
    if person.until is not None and end >= closes_min:
        end = LONGEST_PLANNED_MIN
    rest_from, rest_until = 0, 0
    rest = round(person.break_min or 0)
    if rest:
        earliest = face.times_of_day(person.break_from or 0, first_minute=-24 * 60, last_minute=LONGEST_PLANNED_MIN)
        latest = face.times_of_day(
            person.break_until if person.break_until is not None else 24 * 60 - 1,
            first_minute=0,
            last_minute=LONGEST_PLANNED_MIN,
        )
        pairs = [
            (a, b) for a in earliest for b in latest if 0 < b - a <= 24 * 60 and min(b, end) - max(a, start) >= rest
        ]
        if pairs:
            rest_from, rest_until = pairs[0]
            rest_from, rest_until = max(rest_from, start), min(rest_until, end)
        else:
            rest = 0
    return CrewMember(
        id=person.id,
        speed=person.speed,
        speed_at=person.speed_at,
        windows=((start, end),) if end > start else (),
        break_min=rest,
        break_from=rest_from,
        break_until=rest_until,
        skills=person.skills,
        longest_stretch_min=None if person.longest_stretch_min is None else round(person.longest_stretch_min),
    )


def gaps(spans: Sequence[Interval], last: int) -> Iterable[Interval]:
    """What spans leave out between 0 and a last minute."""
    at = 0
    for start, end in sorted(spans):
        if start > at:
            yield at, start
        at = max(at, end)
    if at < last:
        yield at, last


def scaled(minutes: Minutes, share: float) -> Minutes:
    """A share of some minutes, at all three points."""
    return Minutes(minutes.low * share, minutes.typical * share, minutes.high * share)


def learned(span: Minutes, jobs: Sequence[PastJob]) -> Minutes:
    """What past jobs make of the minutes; without any, or where the table is certain, the table's own."""
    if not jobs or span.typical == 0 or span.low == span.high:
        return span
    known = learned_minutes(span, jobs)
    return Minutes(known.low_min, known.typical_min, known.high_min)


def work_without_people(day: Version, only: frozenset[str] | None = None) -> tuple[str, ...]:
    """Activities that take more people than there are."""
    return tuple(
        name
        for name, minutes in day.minutes.items()
        if minutes.typical > 0
        and (only is None or name in only)
        and day.catalog.activities[name].people_min > len(day.crew)
    )


def problem_of(day: Version, only: frozenset[str] | None = None) -> DayProblem | str:
    """The problem, or in one phrase why there is none."""
    facts = day.facts()
    if work_without_people(day, only):
        return "people"
    narrow = [
        name
        for name, minutes in facts.minutes.items()
        if minutes.typical > 0
        and day.catalog.activities[name].needs_tank_mouth
        and day.catalog.activities[name].people_min > day.work_places
    ]
    if narrow:
        return "places"
    try:
        return build_problem(facts, day.catalog, only=only)
    except ValidationError as error:
        return str(error.errors()[0]["msg"])


def solved(
    day: Version, effort: Effort, only: frozenset[str] | None = None, near: Schedule | None = None
) -> Schedule | None:
    """A version of the day, or of the part of it that `only` names, with closing left open; None when there is none."""
    problem = problem_of(day, only)
    if isinstance(problem, str):
        return None
    found = solve(problem, effort=effort, relaxed=Relaxed(closing=True), near=near)
    return None if found.finish_min is None else found


def hours(minutes: int | None) -> float:
    """Hours to a tenth: no schedule is known better."""
    return round((minutes or 0) / 60, 1)


def hm(face: Clockface, minute: int) -> str:
    """Local time; the day is named when it is not the first one."""
    return face.shown(minute)
