"""What the log of a finished day says about minutes: work that can be held against the plan that was followed, and the rest.

A log is written with wet hands. What is not an observation of how long a piece of work takes is passed over and told, never
mended: a guess that goes into the next plan is worse than one job less.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import combinations

from slackwater.day.activities import PASSES_BY_ITSELF, CrewMember, minutes_of, team_factor
from slackwater.day.drivers import Driver
from slackwater.day.progress import Timed, corrected, minute_of, timed
from slackwater.day.result import Entry
from slackwater.day.when import Clockface, told_time
from slackwater.frozen import Frozen
from slackwater.job.catalog import Catalog
from slackwater.job.event import Event, EventKind
from slackwater.job.experience import DoneWork
from slackwater.shrinkage import is_absurd

BREAK = "break:"
OVERLAP_MIN = 5
"""So long two pieces of work of one person may overlap: one is tapped a little late. Common practice, no source."""
SAME_TAP_MIN = 2
"""Two phones that note the same start or end do so within this; common practice, no source."""
DAY_MIN, FOR_GOOD = 24 * 60, 10**6
WORK_KINDS = (EventKind.STARTED, EventKind.FINISHED, EventKind.SLIPPED, EventKind.DROPPED)


class Skipped(Frozen):
    """Something of a day that is not learned from, and why; the sentence is ``learned.skipped.<reason>`` of the wording."""

    what: str
    """Catalog id of the work, or the goods; empty for the whole day."""
    label: str = ""
    reason: str
    values: Mapping[str, float | str] = {}


class SeenWork(Frozen):
    """A piece of work as planned and as it was; fields as of `DoneWork`."""

    activity: str
    planned_min: float
    actual_min: float
    quantity: float | None
    catalog_min: float | None


class Observed(Frozen):
    """What a log says about minutes.

    Attributes
    ----------
    work : tuple of SeenWork
    skipped : tuple of Skipped
    spans : mapping
        From when to when each work went on, where the log says both and they can be [min from the start of access].
    crews : mapping
        Who did it: as the log says, else as planned.
    left_out : tuple of str
        Work that was left out.
    """

    work: tuple[SeenWork, ...]
    skipped: tuple[Skipped, ...]
    spans: Mapping[str, tuple[int, int]] = {}
    crews: Mapping[str, tuple[str, ...]] = {}
    left_out: tuple[str, ...] = ()


def planned_today(done: DoneWork, catalog: Catalog) -> float | None:
    """Planned minutes of past work by the table as it reads now; None where the table has no such work any more.

    Without this a row that was put right after its first jobs would be put right twice.
    """
    row = catalog.activities.get(done.activity)
    if row is None:
        return None
    if done.catalog_min is None:
        return done.planned_min
    now = minutes_of(row, Driver(quantity=1.0 if done.quantity is None else done.quantity)).typical
    return done.planned_min * now / done.catalog_min if now > 0 else None


@dataclass
class _Noted:
    """Minutes at which something was noted of one piece of work."""

    starts: list[int] = field(default_factory=list)
    ends: list[int] = field(default_factory=list)
    dropped: bool = False
    crew: tuple[str, ...] | None = None


def observed(
    events: Sequence[Event],
    entries: Sequence[Entry],
    *,
    face: Clockface,
    catalog: Catalog,
    people: Sequence[CrewMember],
) -> Observed:
    """Hold the log of a day against the plan that was followed.

    Parameters
    ----------
    events : sequence of Event
        The whole log, in any order.
    entries : sequence of Entry
        Of the plan, breaks included.
    face : Clockface
        Minutes from the start of access of that plan.
    catalog : Catalog
        Rows of the work, for another crew than planned.
    people : sequence of CrewMember
        With their pace.
    """
    standing, _ = corrected(events)
    placed, _ = timed(standing, face)
    noted = _noted(placed)
    away = [_absence(item, face) for item in placed if item.event.kind is EventKind.UNAVAILABLE]
    spans = {name: (work.starts[0], work.ends[0]) for name, work in noted.items() if _is_span(work)}
    plan = {entry.activity: entry for entry in entries if not entry.activity.startswith(BREAK)}
    crews = {name: (noted[name].crew if name in noted else None) or entry.crew for name, entry in plan.items()}
    rests = _rests(noted, entries)
    known = {person.id: person for person in people}
    planned = {name: _planned(entry, crews[name], known, catalog) for name, entry in plan.items()}
    absurd: dict[str, Mapping[str, float | str]] = {
        name: {"actual": end - start, "planned": round(minutes)}
        for name, (start, end) in spans.items()
        if isinstance(minutes := planned.get(name), float)
        and is_absurd(end - start, minutes)
        and not _goes_on_alone(name, catalog)
    }
    # A slip of the pen is no reason to doubt what others did meanwhile.
    spans = {name: span for name, span in spans.items() if name not in absurd}
    work: list[SeenWork] = []
    skipped: list[Skipped] = []
    crossed = _crossed({name: span for name, span in spans.items() if name in plan}, crews)
    for name, entry in plan.items():
        slip = ("absurd", absurd[name]) if name in absurd else None
        found = slip or _fault(name, entry, noted.get(name), spans, crossed, rests, away, crews[name], catalog)
        if found is None:
            (start, end), minutes = spans[name], planned[name]
            if isinstance(minutes, str):
                found = minutes, {}
            else:
                seen = SeenWork(
                    activity=name,
                    planned_min=round(minutes, 2),
                    actual_min=float(end - start),
                    quantity=entry.quantity,
                    catalog_min=entry.catalog_typical_min or None,
                )
                work.append(seen)
                continue
        skipped.append(Skipped(what=name, label=entry.label, reason=found[0], values=found[1]))
    skipped += [
        Skipped(what=name, label=name, reason="not_planned")
        for name in noted
        if name not in plan and not name.startswith(BREAK)
    ]
    return Observed(
        work=tuple(work),
        skipped=tuple(skipped),
        spans=spans,
        crews=crews,
        left_out=tuple(name for name, item in noted.items() if item.dropped and not item.ends),
    )


def _noted(placed: Iterable[Timed]) -> dict[str, _Noted]:
    found: dict[str, _Noted] = {}
    for minute, event in placed:
        if event.kind not in WORK_KINDS:
            continue
        work = found.setdefault(event.subject, _Noted())
        if event.kind is EventKind.STARTED:
            work.starts.append(minute)
        elif event.kind is EventKind.FINISHED:
            work.ends.append(minute)
        elif event.kind is EventKind.DROPPED:
            work.dropped = True
        told = event.body.get("crew")
        names = [told] if isinstance(told, str) else told if isinstance(told, list) else []
        if names:
            work.crew = tuple(dict.fromkeys(str(name) for name in names))
    return found


def _is_span(work: _Noted) -> bool:
    """Whether start and end are told, without contradiction."""
    return (
        bool(work.starts and work.ends)
        and not work.dropped
        and max(work.starts) - min(work.starts) <= SAME_TAP_MIN
        and max(work.ends) - min(work.ends) <= SAME_TAP_MIN
        and work.ends[0] > work.starts[0]
    )


def _absence(item: Timed, face: Clockface) -> tuple[str, int, int]:
    """Who or what was not to be had, from when to when; without a told end for the rest of the day."""
    body = item.event.body
    since, until = (_moment(item, body[name], face) if name in body else None for name in ("since", "until"))
    if until is not None and until < item.minute:
        until += DAY_MIN
    return item.event.subject, item.minute if since is None else min(since, item.minute), until or FOR_GOOD


def _moment(item: Timed, told: object, face: Clockface) -> int | None:
    """A told time as minutes; a bare time of day is of the date of its entry."""
    at = told_time(str(told))
    if at is None:
        return None
    try:
        return minute_of(face, at if isinstance(at, datetime) else datetime.combine(item.event.at.date(), at))
    except OverflowError:
        return None


def _rests(noted: Mapping[str, _Noted], entries: Sequence[Entry]) -> Mapping[str, tuple[int, int, bool]]:
    """By person their break: from, until, and whether it was noted or only planned."""
    found = {
        entry.crew[0]: (entry.start_min, entry.end_min, False)
        for entry in entries
        if entry.activity.startswith(BREAK) and entry.crew
    }
    for name, rest in noted.items():
        if name.startswith(BREAK) and _is_span(rest):
            found[name.removeprefix(BREAK)] = (rest.starts[0], rest.ends[0], True)
    return found


def _crossed(spans: Mapping[str, tuple[int, int]], crews: Mapping[str, tuple[str, ...]]) -> Mapping[str, str]:
    """Work that one person did at the same time as other work, with that other."""
    found: dict[str, str] = {}
    for one, other in combinations(spans, 2):
        (start, end), (first, last) = spans[one], spans[other]
        if min(end, last) - max(start, first) > OVERLAP_MIN and set(crews[one]) & set(crews[other]):
            found.setdefault(one, other)
            found.setdefault(other, one)
    return found


def _fault(
    name: str,
    entry: Entry,
    noted: _Noted | None,
    spans: Mapping[str, tuple[int, int]],
    crossed: Mapping[str, str],
    rests: Mapping[str, tuple[int, int, bool]],
    away: Sequence[tuple[str, int, int]],
    crew: tuple[str, ...],
    catalog: Catalog,
) -> tuple[str, Mapping[str, float | str]] | None:
    """Why a piece of work is no observation, with what its sentence needs; None where it is one."""
    if noted is None:
        return "not_noted", {}
    if name not in spans:
        return _no_span(noted), {}
    if _goes_on_alone(name, catalog):
        return "goes_on_alone", {}
    if name in crossed:
        return "overlap", {"other": crossed[name]}
    start, end = spans[name]
    for person in crew:
        if person not in rests:
            continue
        first, last, told = rests[person]
        if told and min(end, last) > max(start, first):
            return "split", {}
        if not told and start <= first and last <= end:
            return "perhaps_split", {}
    if any(who in crew and first < end and last > start for who, first, last in away):
        return "away", {}
    if entry.catalog_min is None and entry.past_jobs:
        return "older_plan", {}
    return None


def _goes_on_alone(name: str, catalog: Catalog) -> bool:
    row = catalog.activities.get(name)
    return row is not None and PASSES_BY_ITSELF in row.tags


def _no_span(noted: _Noted) -> str:
    if noted.dropped:
        return "left_out"
    if not noted.starts or not noted.ends:
        return "no_start" if noted.ends else "no_end"
    if any(max(told) - min(told) > SAME_TAP_MIN for told in (noted.starts, noted.ends)):
        return "twice"
    return "at_once" if noted.ends[0] == noted.starts[0] else "backwards"


def _planned(entry: Entry, crew: tuple[str, ...], known: Mapping[str, CrewMember], catalog: Catalog) -> float | str:
    """Minutes by the catalog for this quantity and the crew that did it; or why they cannot be told."""
    # A plan without past jobs has the catalog's minutes in its hours.
    planned = float(entry.end_min - entry.start_min) if entry.catalog_min is None else entry.catalog_min
    if planned <= 0:
        return "no_minutes"
    if set(crew) == set(entry.crew):
        return planned
    row = catalog.activities.get(entry.activity)
    if row is None or any(name not in known for name in (*crew, *entry.crew)):
        return "crew_unknown"
    theirs, ours = ([known[name] for name in names] for names in (crew, entry.crew))
    return planned * team_factor(row, theirs) / team_factor(row, ours)
