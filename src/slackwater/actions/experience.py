"""From the book's finished days to what a plan learns from: each log held against the plan that was followed that day."""

from __future__ import annotations

import json
from bisect import bisect_left
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, tzinfo
from decimal import Decimal
from functools import lru_cache
from typing import Any

from pydantic import TypeAdapter, ValidationError

from slackwater import __version__
from slackwater.actions.own_rows import COMPUTED, catalog_folder, catalog_mark
from slackwater.actions.settings import Settings
from slackwater.book import Book, events, finished, jobs, left_out, plans, receipts
from slackwater.book.finished import FinishedJob
from slackwater.book.left_out import Decision
from slackwater.day.observed import BREAK, Observed, Skipped, observed
from slackwater.day.paid import paid_minutes
from slackwater.day.progress import corrected
from slackwater.day.result import DayResult, Entry
from slackwater.day.version import member_of
from slackwater.day.when import Clockface, zone
from slackwater.errors import BadInput, NotFound
from slackwater.frozen import Frozen
from slackwater.job.catalog import Catalog, load_catalog
from slackwater.job.event import Event, EventKind
from slackwater.job.experience import MOST_JOBS, DoneWork, Experience, UsedGoods, in_order
from slackwater.job.load import read_job
from slackwater.job.model import Job
from slackwater.job.text import read_once
from slackwater.supply.afterwards import Afterwards, cost_afterwards
from slackwater.supply.result import DirectCost, OrderLine
from slackwater.supply.used import GoodsSeen, goods_seen

LEARNED = "learned"
FORMAT = 2
"""Raised when a day that is kept holds other things than before."""
_ORDER = TypeAdapter(tuple[OrderLine, ...])


class FinishedDay(Frozen):
    """What one finished job says: kept beside what else can be computed again.

    Attributes
    ----------
    state : str
        Of what it was read from; see `FinishedJob`.
    done_on : date or None
        The day on which the work was done; None where the log tells none.
    fault : str
        Why nothing can be read of it, ``learned.fault.<fault>`` of the wording; empty where it can.
    planned_after : bool
        The plan was made after the work had begun: there was none before.
    work, goods : tuple
    skipped : tuple of Skipped
    price : Afterwards or None
    price_fault : str
        Why there is no price, ``learned.fault.<fault>``; empty where there is one.
    """

    state: str
    done_on: date | None = None
    fault: str = ""
    planned_after: bool = False
    work: tuple[DoneWork, ...] = ()
    goods: tuple[UsedGoods, ...] = ()
    skipped: tuple[Skipped, ...] = ()
    price: Afterwards | None = None
    price_fault: str = ""


@dataclass(frozen=True)
class Finished:
    """A finished job: the job, what its day says, and who left it out, if somebody did."""

    job: FinishedJob
    told: FinishedDay
    out: Decision | None

    @property
    def day(self) -> date:
        """The day on which the work was done; where the log does not tell it, the day that the job names."""
        return self.told.done_on or self.job.day

    @property
    def counts(self) -> bool:
        """Whether anything is learned from it."""
        return self.out is None and bool(self.told.work or self.told.goods)


def finished_days(settings: Settings, book: Book, *, on: date) -> tuple[Finished, ...]:
    """Every job whose day was before a date and of which something was noted, the earliest first.

    The day is that on which the work was done: a job that was put off without a word in its text is not over before.
    """
    return _known(settings, book, on, finished.stamp(book, before=on), catalog_mark(settings)).days


def experience_before(settings: Settings, book: Book, *, on: date, day: date | None) -> Experience:
    """What a plan learns from: the last finished jobs with a day before both, those that are left out excepted.

    Parameters
    ----------
    on : date
        The day on which the plan is asked for.
    day : date or None
        The day of the job that is planned; None where it has none.

    Notes
    -----
    A plan of the past is made again from the same jobs as on its day, and the log of a day that goes on changes no plan.
    """
    known = _known(settings, book, on, finished.stamp(book, before=on), catalog_mark(settings))
    return known.before(on if day is None else min(on, day))[0]


def experience_mark(settings: Settings, book: Book, *, on: date, day: date | None) -> str:
    """SHA-256 of `experience_before`; empty where there is nothing."""
    known = _known(settings, book, on, finished.stamp(book, before=on), catalog_mark(settings))
    return known.before(on if day is None else min(on, day))[1]


class _Known:
    """All finished days, and the experience before each day that was asked for."""

    def __init__(self, days: tuple[Finished, ...]) -> None:
        self.days = days
        self._counting = [one for one in days if one.counts]
        self._dates = [one.day for one in self._counting]
        self._found: dict[int, tuple[Experience, str]] = {}

    def before(self, day: date) -> tuple[Experience, str]:
        """The experience of the last jobs before a day, and its mark."""
        end = bisect_left(self._dates, day)
        if end not in self._found:
            last = self._counting[max(0, end - MOST_JOBS) : end]
            made = in_order(
                [row for one in last for row in one.told.work], [row for one in last for row in one.told.goods]
            )
            self._found[end] = made, made.mark
        return self._found[end]


@lru_cache(maxsize=4)
def _known(settings: Settings, book: Book, on: date, _stamp: tuple[int, ...], own_rows: str) -> _Known:
    """Asked for by every page that shows a plan or its dates."""
    out = left_out.now_out(book)
    days = (
        Finished(job=one, told=_kept(settings, book, one, own_rows), out=out.get(one.job_id))
        for one in finished.finished_jobs(book, before=on)
    )
    over = (one for one in days if one.day < on)
    return _Known(tuple(sorted(over, key=lambda one: (one.day, one.job.job_id))))


def _kept(settings: Settings, book: Book, one: FinishedJob, own_rows: str) -> FinishedDay:
    """What a day says, read anew only where its log, its text, its plans or the tables have changed."""
    state = f"{FORMAT} {__version__} {own_rows} {one.state} {one.day}"
    file = settings.home / COMPUTED / LEARNED / f"{one.job_id}.json"
    try:
        kept = FinishedDay.model_validate_json(file.read_text(encoding="utf-8"))
        if kept.state == state:
            return kept
    except (OSError, ValueError):
        pass
    made = read_day(book, one, _catalog(settings, own_rows)).model_copy(update={"state": state})
    file.parent.mkdir(parents=True, exist_ok=True)
    part = file.with_suffix(".part")
    part.write_text(made.model_dump_json(), encoding="utf-8")
    part.replace(file)
    return made


@lru_cache(maxsize=2)
def _catalog(settings: Settings, _own_rows: str) -> Catalog:
    return load_catalog(catalog_folder(settings))


# ---------------------------------------------------------------- one day


def read_day(book: Book, one: FinishedJob, catalog: Catalog) -> FinishedDay:
    """Hold the log of a job against the plan that was followed."""
    log = [row.event for row in events.all_of(book, one.job_id)]
    done_on = worked_on(log, _zone(jobs.newest(book, one.job_id).text))
    told = _read(book, one, log, catalog, done_on or one.day)
    return told.model_copy(update={"done_on": done_on})


def worked_on(log: Sequence[Event], there: tzinfo) -> date | None:
    """The day on which most of the work was begun or finished, the earlier of two alike; None where nothing was noted.

    Most, so that what was made ready days before, and a visit weeks later, do not move the day of the job.
    """
    standing, _ = corrected(log)
    days = Counter(at.date() for at in _marks(standing, there))
    return min(days, key=lambda day: (-days[day], day), default=None)


def worked_on_in(book: Book, job_id: str) -> date | None:
    """The day on which the work of a job was done, by its log."""
    log = [row.event for row in events.all_of(book, job_id)]
    return worked_on(log, _zone(jobs.newest(book, job_id).text))


def _read(book: Book, one: FinishedJob, log: Sequence[Event], catalog: Catalog, on: date) -> FinishedDay:
    try:
        version_n, plan_json, planned_after = _followed(book, one.job_id, log)
        job = read_job(jobs.version(book, one.job_id, version_n).text, file_name="job")
        told = json.loads(plan_json)
        if not told:
            return FinishedDay(state="", fault="plan_erased")
        if not told.get("day") or job.site.time_zone is None:
            return FinishedDay(state="", fault="no_day")
        day = DayResult.model_validate_json(json.dumps(told["day"]))
        order = order_in(told)
    except NotFound:
        return FinishedDay(state="", fault="no_plan")
    except ValidationError:
        return FinishedDay(state="", fault="plan_unreadable")
    except BadInput:
        return FinishedDay(state="", fault="job_unreadable")
    seen = _observed(log, job, day, catalog)
    standing, _ = corrected(log)
    used = goods_seen(standing, order, containers_in(told))
    price, price_fault = _price(book, one.job_id, job, day, seen, order, used, told)
    if _begun(log, UTC) is None and not used.amounts:
        return FinishedDay(state="", fault="nothing_noted", planned_after=planned_after)
    return FinishedDay(
        state="",
        planned_after=planned_after,
        work=tuple(DoneWork(**row.model_dump(), on=on, job=one.job_id) for row in seen.work),
        goods=tuple(UsedGoods(**row.model_dump(), on=on, job=one.job_id) for row in used.sorts),
        skipped=(
            *seen.skipped,
            *(Skipped(what=row.what, label=row.what, reason=row.reason, values=row.values) for row in used.skipped),
        ),
        price=price,
        price_fault=price_fault,
    )


def _followed(book: Book, job_id: str, log: Sequence[Event]) -> tuple[int, str, bool]:
    """Version and text of the plan that was there last when the work began; else the first that was made after it.

    Raises
    ------
    NotFound
        If no plan was ever made.
    """
    made = plans.made(book, job_id)
    if not made:
        raise NotFound("no plan")
    begun = _begun(log, _zone(jobs.newest(book, job_id).text))
    before = [row for row in made if begun is None or row[0] <= begun]
    _, version_n, inputs = before[-1] if before else made[0]
    found = plans.of_inputs(book, job_id, version_n, inputs)
    if found is None:
        raise NotFound("no plan")
    return version_n, found.plan_json, not before


def _begun(log: Sequence[Event], there: tzinfo) -> datetime | None:
    """When the first work was begun or over."""
    return min(_marks(log, there), default=None)


def _marks(log: Sequence[Event], there: tzinfo) -> list[datetime]:
    """When work was begun or over, by the clocks of the site."""
    marks = [
        event.at
        for event in log
        if event.kind in (EventKind.STARTED, EventKind.FINISHED) and not event.subject.startswith(BREAK)
    ]
    return [at.astimezone(there) if at.tzinfo else at.replace(tzinfo=there) for at in marks]


def _zone(text: str) -> tzinfo:
    site = read_once(text).get("site")
    try:
        return zone(str(site["time_zone"])) if isinstance(site, Mapping) and site.get("time_zone") else UTC
    except BadInput:
        return UTC


def _face(job: Job, day: DayResult) -> Clockface:
    return Clockface(day.opens.replace(tzinfo=None), job.site.time_zone or "UTC")


def _observed(log: Sequence[Event], job: Job, day: DayResult, catalog: Catalog) -> Observed:
    face = _face(job, day)
    closes = face.minute(day.closes)
    people = [member_of(person, face, closes) for person in job.people or ()]
    return observed(log, day.entries, face=face, catalog=catalog, people=people)


def order_in(told: Mapping[str, Any]) -> tuple[OrderLine, ...]:
    """The order of a kept plan.

    Raises
    ------
    pydantic.ValidationError
        If another program wrote it.
    """
    return _ORDER.validate_json(json.dumps((told.get("supply") or {}).get("order") or []))


def containers_in(told: Mapping[str, Any]) -> Mapping[str, int]:
    """Boxes and barrels of a kept plan by catalog id."""
    water = told.get("water") or {}
    return Counter(str(row["container"]) for name in ("boxes", "barrels") for row in water.get(name) or ())


def _price(
    book: Book,
    job_id: str,
    job: Job,
    day: DayResult,
    seen: Observed,
    order: Sequence[OrderLine],
    used: GoodsSeen,
    told: Mapping[str, Any],
) -> tuple[Afterwards | None, str]:
    """What the day cost by the rules that priced it, or why that cannot be told."""
    supply = told.get("supply") or {}
    if not supply.get("direct"):
        return None, "no_cost"
    work = [entry for entry in day.entries if entry.activity and not entry.activity.startswith(BREAK)]
    last = max(work, key=lambda entry: entry.end_min, default=None)
    if last is None or not (last.activity in seen.spans or last.activity in seen.left_out) or not seen.spans:
        return None, "end_not_noted"
    was = day.model_copy(
        update={
            "entries": _as_it_was(work, seen),
            "person_minutes": {
                name: 0 for name in (*day.person_minutes, *(who for crew in seen.crews.values() for who in crew))
            },
        }
    )
    minutes, night = paid_minutes(job, was)
    totals, items = receipts.totals(book, job_id), Counter(line.item for line in order)
    units = {
        line.item: line.unit if line.pack_size == 1 else f"pack of {line.pack_size:g} {line.unit}" for line in order
    }
    single = {item for item, count in items.items() if count == 1}
    offered = (supply.get("price") or {}).get("price")
    found = cost_afterwards(
        job,
        DirectCost.model_validate_json(json.dumps(supply["direct"])),
        order,
        offered=None if offered is None else Decimal(str(offered)),
        crew_minutes=minutes,
        crew_night_minutes=night,
        received={item: totals[item, units[item]] for item in single if (item, units[item]) in totals},
        used={item: amount for item, amount in used.amounts.items() if item in single},
        unpriced=sorted({key for key, _ in totals if key.rpartition(" ")[0] not in items and key not in items}),
    )
    return (None, "no_rate") if found is None else (found, "")


def _as_it_was(work: Sequence[Entry], seen: Observed) -> tuple[Entry, ...]:
    """The work with the hours of the log; what was not noted as planned, but not beyond the end of the day."""
    over = max(end for _, end in seen.spans.values())
    found = [
        entry.model_copy(
            update={
                "crew": seen.crews[entry.activity],
                "start_min": seen.spans[entry.activity][0],
                "end_min": seen.spans[entry.activity][1],
            }
            if entry.activity in seen.spans
            else {"start_min": min(entry.start_min, over), "end_min": min(entry.end_min, over)}
        )
        for entry in work
        if entry.activity not in seen.left_out
    ]
    planned = {entry.activity for entry in work}
    extra = [
        work[0].model_copy(update={"activity": name, "crew": (), "start_min": start, "end_min": end})
        for name, (start, end) in seen.spans.items()
        if name not in planned and not name.startswith(BREAK)
    ]
    return (*found, *extra)
