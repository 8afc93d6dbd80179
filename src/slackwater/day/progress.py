"""From the log of a day to its facts: what is done, what runs, who is gone, what is broken. Nothing here is planned.

A log is written by people with wet hands: what contradicts itself is told, with what to do, and never stops the day.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from difflib import get_close_matches
from itertools import pairwise
from typing import Any, NamedTuple
from uuid import UUID

from pydantic import ValidationError

from slackwater.day.model import DayProblem, Schedule
from slackwater.day.when import Clockface, told_time
from slackwater.finding import Finding, Severity
from slackwater.frozen import Frozen
from slackwater.job.event import Event, EventKind, at_site

LIFT, BOX, FILTER = "lift", "box", "filter"
LIFT_BACK_AFTER_MIN = 60
"""A lift of which nobody knows when it is back is reckoned with again so long from now; common practice, no source."""
LONGEST_SLIP_MIN = 24 * 60
"""More minutes than this in one entry are a slip of the pen."""


class Work(Frozen):
    """An activity that has begun.

    Attributes
    ----------
    end_min : int or None
        When it ended; None while it runs.
    remaining_until_min : int or None
        For running work: when it will end by what was told last; None where nothing was told.
    crew : tuple of str or None
        Who does it, where the log says so.
    """

    start_min: int
    end_min: int | None = None
    remaining_until_min: int | None = None
    crew: tuple[str, ...] | None = None


class Added(Frozen):
    """Work that nobody had planned."""

    id: str
    minutes: int
    people: int
    after: str | None
    what: str


class Away(Frozen):
    """Somebody or something that is not to be had for a while; `until_min` None: not known, or for the rest."""

    what: str
    from_min: int
    until_min: int | None


class Missing(Frozen):
    """Fewer animals of a species caught than were expected."""

    species: str
    caught: int
    expected: int


class Facts(Frozen):
    """The day so far, in minutes from the start of access.

    Attributes
    ----------
    now_min : int
    work : mapping
        What has begun, by activity.
    dropped : tuple of str
        What will not be done.
    added : tuple of Added
        What nobody had planned.
    gone : tuple of Away
        People.
    lift_out : tuple of Away
    without_air : tuple of str
        Labels of boxes.
    broken : mapping
        Thing to its part, such as the left filter's hose clamp.
    passes : mapping
        Animals caught in each pass, by species, in the order of time.
    pass_minutes : mapping
        Minutes of the last pass of a species, where they were told.
    missing : tuple of Missing
    expired : tuple of str
        Goods found past their date.
    seen : mapping
        Activity to the first and last minute at which a count says that it was going on.
    findings : tuple of Finding
        What in the log contradicts itself.
    """

    now_min: int
    work: Mapping[str, Work] = {}
    dropped: tuple[str, ...] = ()
    added: tuple[Added, ...] = ()
    gone: tuple[Away, ...] = ()
    lift_out: tuple[Away, ...] = ()
    without_air: tuple[str, ...] = ()
    broken: Mapping[str, str] = {}
    passes: Mapping[str, tuple[int, ...]] = {}
    pass_minutes: Mapping[str, float] = {}
    missing: tuple[Missing, ...] = ()
    expired: tuple[str, ...] = ()
    seen: Mapping[str, tuple[int, int]] = {}
    findings: tuple[Finding, ...] = ()

    @property
    def news(self) -> bool:
        """Whether anything happened that bears on the order of work."""
        return bool(self.work or self.dropped or self.added or self.gone or self.lift_out)


def minute_of(face: Clockface, at: datetime) -> int:
    """Minutes from the start of access; a time with an offset says itself which side of a clock change it is on."""
    return face.minute(at if at.tzinfo is None else at.astimezone(face.zone))


class Timed(NamedTuple):
    """An event of the log with its minute, its time as the clocks of the site show it."""

    minute: int
    event: Event


def timed(events: Sequence[Event], face: Clockface) -> tuple[tuple[Timed, ...], tuple[Finding, ...]]:
    """When each event was, in the order given; and what was read into times that the clocks showed twice.

    Notes
    -----
    An offset decides. Without one a time of the hour that comes twice is the first, unless the same device had noted a
    later time before: what is noted later cannot have been earlier.
    """
    minutes: dict[int, int] = {}
    latest: dict[str, int] = {}
    read: dict[str, list[tuple[datetime, int]]] = {}
    in_order = sorted(range(len(events)), key=lambda place: (events[place].device, events[place].seq, place))
    for place in in_order:
        event = events[place]
        first, second = (minute_of(face, event.at.replace(fold=fold)) for fold in (0, 1))
        minutes[place] = first
        if event.at.tzinfo is None and second > first:
            is_second = first < latest.get(event.device, first) <= second
            minutes[place], other = (second, first) if is_second else (first, second)
            name = "day.log_read_as_second" if is_second else "day.log_read_as_first"
            read.setdefault(name, []).append((event.at, other))
        latest[event.device] = max(minutes[place], latest.get(event.device, minutes[place]))
    notes = [
        Finding(
            id=name,
            severity=Severity.NOTE,
            values={
                "times": ", ".join(dict.fromkeys(f"{at:%H:%M}" for at, _ in sorted(told))),
                "other": face.moment(told[0][1]).isoformat(timespec="minutes"),
            },
        )
        for name, told in sorted(read.items())
    ]
    found = (
        Timed(minutes[place], event.model_copy(update={"at": at_site(event.at, face.zone)}))
        for place, event in enumerate(events)
    )
    return tuple(found), tuple(notes)


def corrected(events: Sequence[Event]) -> tuple[tuple[Event, ...], tuple[Event, ...]]:
    """The events that stand, each once, and the corrections that name nothing.

    A correction with ``at``, ``subject``, ``kind`` or a new ``body`` in its body replaces that much of the event; one
    without cancels it. The last correction of an event counts; a correction that was itself cancelled does not.
    """
    unique = {event.id: event for event in events}
    corrections = sorted(
        (event for event in unique.values() if event.kind is EventKind.CORRECTED),
        key=lambda event: (event.at.replace(tzinfo=None), event.seq),
        reverse=True,
    )
    standing: dict[UUID, Event | None] = dict(unique)
    settled: set[UUID] = set()
    lost = []
    for correction in corrections:
        if standing[correction.id] is None:
            continue
        try:
            name = UUID(str(correction.body.get("event")))
        except ValueError:
            name = None
        if name is None or name not in unique or name == correction.id:
            lost.append(correction)
        elif name not in settled:
            settled.add(name)
            standing[name] = _replaced(unique[name], correction)
    kept = [event for event in standing.values() if event is not None and event.kind is not EventKind.CORRECTED]
    return tuple(kept), tuple(lost)


def _replaced(event: Event, correction: Event) -> Event | None:
    changes = {name: correction.body[name] for name in ("at", "kind", "subject", "body") if name in correction.body}
    if not changes:
        return None
    try:
        return Event.model_validate(event.model_dump(mode="json") | changes)
    except ValidationError:
        return None


def facts_of(
    events: Sequence[Event],
    problem: DayProblem,
    before: Schedule,
    *,
    face: Clockface,
    now_min: int,
    reference: str = "",
    labels: Mapping[str, str] | None = None,
    caught_in: Mapping[str, str] | None = None,
    on_call: Collection[str] = (),
    boxes: Sequence[str] | None = None,
    filters: Sequence[str] | None = None,
) -> Facts:
    """What the log says.

    Parameters
    ----------
    events : sequence of Event
        In any order; each is taken once.
    problem, before : DayProblem, Schedule
        The day as it was planned.
    face : Clockface
        Minutes from the start of access and back.
    now_min : int
        Events after it are told and left out.
    reference : str
        Of the job; events of other jobs are told and left out. Empty: all are taken.
    labels : mapping
        Activity id to what it is called.
    caught_in : mapping
        Species id to the activity in which it is caught: a count says that this has begun.
    on_call : collection of str
        People who are not of the crew but may be said to be unavailable too.
    boxes, filters : sequence of str or None
        Labels of the boxes and names of the filters; None where they are not known, and any is taken.
    """
    log = _Log(problem, before, face, now_min, labels or {}, caught_in or {}, frozenset(on_call), boxes, filters)
    standing, lost = corrected(events)
    for event in lost:
        log.tell("log_corrects_nothing", event)
    mine = [event for event in standing if not reference or event.job == reference]
    others = sorted({event.job or "no job" for event in standing if event not in mine})
    if others:
        count = len(standing) - len(mine)
        log.tell("log_other_job", None, count=count, jobs=", ".join(others), reference=reference)
    placed, notes = timed(mine, face)
    log.findings += notes
    if any(later.minute < earlier.minute for earlier, later in pairwise(placed)):
        log.tell("log_out_of_order", None, Severity.NOTE)
    for minute, event in sorted(
        placed, key=lambda item: (item.minute, item.event.device, item.event.seq, str(item.event.id))
    ):
        if minute > now_min:
            log.tell("log_future", event, now=log.hm(now_min))
        else:
            log.take(event, max(0, minute))
            if minute < 0 and event.kind in (EventKind.STARTED, EventKind.FINISHED):
                log.tell("log_before_opening", event, opens=log.hm(0))
    return log.facts()


class _Log:
    """What has been read of the log so far."""

    def __init__(
        self,
        problem: DayProblem,
        before: Schedule,
        face: Clockface,
        now_min: int,
        labels: Mapping[str, str],
        caught_in: Mapping[str, str],
        on_call: frozenset[str],
        boxes: Sequence[str] | None,
        filters: Sequence[str] | None,
    ) -> None:
        self.on_call, self.boxes, self.filters = on_call, boxes, filters
        self.face, self.now_min, self.labels, self.caught_in = face, now_min, labels, caught_in
        self.known = {activity.id for activity in problem.activities} | set(labels)
        self.of_the_day = {activity.id for activity in problem.activities}
        self.people = [person.id for person in problem.people]
        self.planned = {item.activity: item for item in before.placed}
        self.shortest = {activity.id: min(mode.minutes for mode in activity.modes) for activity in problem.activities}
        self.work: dict[str, Work] = {}
        self.dropped: list[str] = []
        self.added: list[Added] = []
        self.gone: list[Away] = []
        self.lift_out: list[Away] = []
        self.without_air: list[str] = []
        self.broken: dict[str, str] = {}
        self.passes: dict[str, tuple[int, ...]] = {}
        self.pass_minutes: dict[str, float] = {}
        self.expected: dict[str, int] = {}
        self.expired: list[str] = []
        self.seen: dict[str, tuple[int, int]] = {}
        self.findings: list[Finding] = []

    def hm(self, minute: int) -> str:
        return self.face.shown(minute)

    def tell(
        self, name: str, event: Event | None, severity: Severity = Severity.CONDITION, **values: float | str
    ) -> None:
        about = ""
        if event is not None:
            about = event.subject
            label = self.labels.get(event.subject, "")
            values = {
                "what": f"{event.subject} ({label})" if label else event.subject or "an event",
                "at": event.at.strftime("%H:%M"),
                "kind": str(event.kind),
                **values,
            }
        self.findings.append(Finding(id=f"day.{name}", severity=severity, about=about, values=values))

    def facts(self) -> Facts:
        return Facts(
            now_min=self.now_min,
            work=self.work,
            dropped=tuple(dict.fromkeys(self.dropped)),
            added=tuple(self.added),
            gone=tuple(self.gone),
            lift_out=tuple(self.lift_out),
            without_air=tuple(dict.fromkeys(self.without_air)),
            broken=self.broken,
            passes=self.passes,
            pass_minutes=self.pass_minutes,
            missing=tuple(
                Missing(species=name, caught=sum(self.passes[name]), expected=expected)
                for name, expected in self.expected.items()
                if sum(self.passes[name]) < expected
            ),
            seen=self.seen,
            expired=tuple(dict.fromkeys(self.expired)),
            findings=tuple(self.findings),
        )

    def take(self, event: Event, minute: int) -> None:
        match event.kind:
            case EventKind.STARTED | EventKind.FINISHED | EventKind.SLIPPED | EventKind.DROPPED:
                if self._is_work(event):
                    getattr(self, f"_{event.kind}")(event, minute)
            case EventKind.ADDED:
                self._added(event)
            case EventKind.UNAVAILABLE:
                self._unavailable(event, minute)
            case EventKind.COUNTED:
                self._counted(event, minute)
            case EventKind.NOTED:
                self._noted(event)
            case _:
                pass

    def _is_work(self, event: Event) -> bool:
        if event.subject in self.of_the_day or any(item.id == event.subject for item in self.added):
            return True
        if event.subject.startswith("break:"):
            return False
        if event.subject in self.known:
            self.tell("log_not_today", event)
            return False
        self.tell("log_unknown_activity", event, near=_near(event.subject, sorted(self.of_the_day)))
        return False

    def _crew(self, event: Event) -> tuple[str, ...] | None:
        told = event.body.get("crew")
        if told is None:
            return None
        names = [told] if isinstance(told, str) else [str(name) for name in told] if isinstance(told, list) else []
        for name in names:
            if name not in self.people:
                self.tell("log_unknown_person", event, person=name, near=_near(name, self.people))
        known = tuple(name for name in dict.fromkeys(names) if name in self.people)
        return known or None

    def _started(self, event: Event, minute: int) -> None:
        name, was = event.subject, self.work.get(event.subject)
        crew = self._crew(event)
        if was is None:
            if name in self.dropped:
                self.dropped.remove(name)
                self.tell("log_dropped_but_begun", event)
            self.work[name] = Work(start_min=minute, crew=crew)
        elif was.end_min is not None and name in self._reckoned:
            # Still running is the careful reading: the day then waits for it.
            self.findings = [item for item in self.findings if (item.id, item.about) != ("day.log_no_start", name)]
            self.tell("log_finish_before_start", event, finish=self.hm(was.end_min))
            self.work[name] = Work(start_min=minute, crew=crew)
        else:
            self.tell("log_twice", event, first=self.hm(was.start_min))

    @property
    def _reckoned(self) -> set[str]:
        return {item.about for item in self.findings if item.id == "day.log_no_start"}

    def _begun(self, event: Event, minute: int, *, ended: bool) -> Work:
        """The work as told, or, where no start was told, from when it must have run."""
        was = self.work.get(event.subject)
        if was is not None:
            return was
        planned = self.planned.get(event.subject)
        if planned is None:
            start = minute - self.shortest.get(event.subject, 0)
        elif ended:
            start = minute - (planned.end - planned.start)
        else:
            start = min(planned.start, minute)
        start = max(0, start)
        self.tell("log_no_start", event, start=self.hm(start))
        if event.subject in self.dropped:
            self.dropped.remove(event.subject)
        return Work(start_min=start)

    def _finished(self, event: Event, minute: int) -> None:
        was = self._begun(event, minute, ended=True)
        if was.end_min is not None:
            self.tell("log_twice", event, first=self.hm(was.end_min))
            return
        crew = self._crew(event) or was.crew
        self.work[event.subject] = Work(start_min=was.start_min, end_min=max(was.start_min, minute), crew=crew)

    def _slipped(self, event: Event, minute: int) -> None:
        remaining = _number(event.body.get("remaining_min"), LONGEST_SLIP_MIN)
        if remaining is None:
            self.tell(
                "log_bad_value", event, field="remaining_min", value=str(event.body.get("remaining_min", "nothing"))
            )
            return
        was = self.work.get(event.subject)
        if was is not None and was.end_min is not None:
            self.tell("log_after_its_end", event, finish=self.hm(was.end_min))
            return
        was = self._begun(event, minute, ended=False)
        self.work[event.subject] = was.model_copy(
            update={"remaining_until_min": minute + remaining, "crew": self._crew(event) or was.crew}
        )

    def _dropped(self, event: Event, minute: int) -> None:
        was = self.work.get(event.subject)
        if was is None:
            self.dropped.append(event.subject)
        elif was.end_min is not None:
            self.tell("log_after_its_end", event, finish=self.hm(was.end_min))
        else:
            self.work[event.subject] = was.model_copy(
                update={"end_min": max(was.start_min, minute), "remaining_until_min": None}
            )

    def _added(self, event: Event) -> None:
        minutes = _number(event.body.get("minutes"), LONGEST_SLIP_MIN)
        if not minutes:
            self.tell("log_bad_value", event, field="minutes", value=str(event.body.get("minutes", "nothing")))
            return
        people = _number(event.body.get("people", 1), 99)
        if not people or people > max(1, len(self.people)):
            self.tell("log_bad_value", event, field="people", value=str(event.body.get("people")))
            people = 1
        after = event.body.get("after")
        taken = self.known | {item.id for item in self.added}
        if after is not None and str(after) not in self.of_the_day | {item.id for item in self.added}:
            self.tell(
                "log_added_after_unknown", event, after=str(after), near=_near(str(after), sorted(self.of_the_day))
            )
            after = None
        name = event.subject if event.subject and event.subject not in taken else f"A{len(self.added) + 1}"
        self.added.append(
            Added(
                id=name,
                minutes=minutes,
                people=people,
                after=None if after is None else str(after),
                what=str(event.body.get("what", event.subject or "added work")),
            )
        )

    def _days(self, at: time, minute: int) -> list[int]:
        """Minutes at which a time of day comes, from the date of opening to the day after the event; of two, both."""
        first, last = self.face.moment(0).date(), self.face.moment(minute).date() + timedelta(days=1)
        dates = [first + timedelta(days=number) for number in range((last - first).days + 1)]
        return sorted(
            {minute_of(self.face, datetime.combine(day, at).replace(fold=fold)) for day in dates for fold in (0, 1)}
        )

    def _until(self, event: Event, minute: int) -> int | None:
        told = event.body.get("until")
        if told is None:
            return None
        try:
            at = told_time(str(told))
            if isinstance(at, time):
                return next(item for item in self._days(at, minute) if item >= minute)
            if at is not None:
                first, second = (minute_of(self.face, at.replace(fold=fold)) for fold in (0, 1))
                # Nothing ends before it is told: of an hour that comes twice, the one still to come.
                return max(minute, second if first < minute <= second else first)
        except OverflowError:
            pass
        self.tell("log_until_unreadable", event, value=str(told))
        return None

    def _since(self, event: Event, minute: int) -> int:
        told = event.body.get("since")
        if told is None:
            return minute
        since = None
        try:
            at = told_time(str(told))
            if isinstance(at, time):
                found = self._days(at, minute)
                since = max((item for item in found if item <= minute), default=found[0])
            elif at is not None:
                since = minute_of(self.face, at)
        except OverflowError:
            pass
        if since is None:
            self.tell("log_since_unreadable", event, value=str(told))
        elif since > minute:
            self.tell("log_since_later", event, value=str(told))
        return minute if since is None else max(0, min(minute, since))

    def _thing(self, event: Event, sort: str) -> str | None:
        """The box or filter that is meant, as the job names it; None where there is no such, which is told."""
        named = event.subject.removeprefix(sort).strip()
        known = self.boxes if sort == BOX else self.filters
        if known is None:
            return named
        meant = [name for name in known if name.upper() == named.upper()]
        if not named and len(known) == 1:
            meant = list(known)
        if meant:
            return meant[0]
        near = get_close_matches(named.upper(), [name.upper() for name in known], n=1, cutoff=0.5)
        values = {"sort": sort, "known": ", ".join(known) or "none"}
        if near:
            values["near"] = next(f"{sort} {name}" for name in known if name.upper() == near[0])
        self.tell("log_no_such_thing_near" if near else "log_no_such_thing", event, Severity.CONDITION, **values)
        return None

    def _things(self) -> list[str]:
        """Whatever can be said not to be to be had."""
        boxes = [f"{BOX} {name}" for name in self.boxes] if self.boxes else [BOX]
        filters = [f"{FILTER} {name}".strip() for name in self.filters] if self.filters else [FILTER]
        return [*self.people, *sorted(self.on_call), LIFT, *boxes, *filters]

    def _unavailable(self, event: Event, minute: int) -> None:
        subject, part = event.subject, str(event.body.get("part", ""))
        if subject in self.people or subject in self.on_call:
            self.gone.append(
                Away(what=subject, from_min=self._since(event, minute), until_min=self._until(event, minute))
            )
        elif subject == LIFT:
            until = self._until(event, minute)
            if until is None:
                until = self.now_min + LIFT_BACK_AFTER_MIN
                self.tell("log_no_until", event, back=self.hm(until))
            if until > minute:
                self.lift_out.append(Away(what=LIFT, from_min=self._since(event, minute), until_min=until))
        elif subject.startswith(BOX):
            label = self._thing(event, BOX)
            if label is not None:
                self.without_air.append(label or "?")
        elif subject.startswith(FILTER):
            name = self._thing(event, FILTER)
            if name is not None:
                self.broken[f"{FILTER} {name}".strip()] = part or "a part"
        else:
            self.tell("log_unknown_subject", event, near=_near(subject, self._things()))

    def _counted(self, event: Event, minute: int) -> None:
        if event.subject not in self.caught_in:
            self.tell("log_unknown_species", event, near=_near(event.subject, sorted(self.caught_in)))
            return
        caught = _number(event.body.get("caught"), 10**6)
        expected = _number(event.body.get("expected"), 10**6)
        if caught is None:
            if "caught" in event.body:
                self.tell("log_bad_value", event, field="caught", value=str(event.body["caught"]))
            return
        self.passes[event.subject] = (*self.passes.get(event.subject, ()), caught)
        minutes = _number(event.body.get("minutes"), LONGEST_SLIP_MIN)
        if minutes:
            self.pass_minutes[event.subject] = float(minutes)
        catch, begun = self.caught_in[event.subject], max(0, minute - (minutes or 0))
        first, last = self.seen.get(catch, (begun, minute))
        self.seen[catch] = (min(first, begun), max(last, minute))
        if expected is not None:
            self.expected[event.subject] = expected

    def _noted(self, event: Event) -> None:
        subject = event.subject
        sort = next((sort for sort in (BOX, FILTER) if subject == sort or subject.startswith(f"{sort} ")), None)
        thing = None if sort is None else self._thing(event, sort)
        if sort is not None and thing is None:
            return
        if sort == FILTER and event.body.get("part"):
            # A clamp is a clamp, whatever kind the entry is.
            self.broken[f"{FILTER} {thing}".strip()] = str(event.body["part"])
            return
        dated = {"since", "until"} & set(event.body)
        if subject == LIFT or sort is not None or (subject in self.people and dated):
            self.tell("log_remark_only", event, Severity.NOTE)
        if "expired" not in event.body:
            return
        try:
            expired = date.fromisoformat(str(event.body["expired"]))
        except ValueError:
            self.tell("log_bad_value", event, field="expired", value=str(event.body["expired"]))
            return
        if expired < event.at.date():
            self.expired.append(event.subject)


def _number(value: Any, largest: int) -> int | None:
    """A whole number from 0 to `largest`, or None."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= largest:
        return None
    return round(value)


def _near(name: str, names: Sequence[str]) -> str:
    """The names that look like it, or the first few."""
    found = get_close_matches(name.strip().upper(), [item.upper() for item in names], n=1, cutoff=0.5)
    shown = [item for item in names if item.upper() in found] or list(names[:3])
    return " or ".join(shown)
