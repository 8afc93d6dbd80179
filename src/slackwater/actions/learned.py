"""What a user does with what was learned: see it by activity, goods and price; leave a finished job out, take it back."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from slackwater.actions.entering import LONGEST_TEXT, Entered
from slackwater.actions.experience import Finished, finished_days
from slackwater.actions.office import Desk
from slackwater.actions.own_rows import catalog_folder
from slackwater.book import jobs, left_out
from slackwater.day.activities import minutes_of
from slackwater.day.drivers import Driver
from slackwater.day.learning import catalog_prior
from slackwater.day.observed import planned_today
from slackwater.drift import LEAST_JOBS, Trend, trend_of
from slackwater.job.catalog import Catalog, load_catalog
from slackwater.job.experience import MOST_JOBS, DoneWork, UsedGoods
from slackwater.paper.data import item_name
from slackwater.paper.learned_figures import RatioPoint, ratio_svg
from slackwater.paper.money import money
from slackwater.reader import ENGLISH
from slackwater.shrinkage import LogFactor, known_after, pulled_in, starting
from slackwater.supply.learned import LEAST_JOBS as LEAST_GOODS_JOBS
from slackwater.supply.learned import SPREAD
from slackwater.wording.render import say, sentences

LEAST_BIAS_JOBS = 3
"""With fewer jobs nothing is said of a bias; common practice, no source."""
SOME_MORE = 1e-9


@dataclass(frozen=True)
class JobRow:
    """One job behind a line: texts."""

    job_id: str
    job: str
    on: str
    planned: str
    took: str
    ratio: str
    note: str


@dataclass(frozen=True)
class Line:
    """One activity, one sort of goods, or the price: what past jobs say of it, as texts.

    Attributes
    ----------
    key : str
        Catalog id, sort of goods, or ``cost``.
    name : str
    jobs : int
    planned : str
        Of the last job, by the catalog or its plan.
    ratio, band : str
        Median of the next job against the plan, and its middle 90 of 100 cases.
    used : str
        What the next plan does with it.
    bias, drift : str
        Sentences.
    rows : tuple of JobRow
        The newest first.
    out_of_line : str
        Bias and drift that are more than chance, in a few words; empty where there are none.
    svg : str
        The drawing.
    described : str
        The drawing in words.
    """

    key: str
    name: str
    jobs: int
    planned: str
    ratio: str
    band: str
    used: str
    bias: str
    drift: str
    rows: tuple[JobRow, ...]
    out_of_line: str
    svg: str
    described: str


@dataclass(frozen=True)
class DayLine:
    """A finished job: what came of it, what was passed over and why, and whether it is left out."""

    job_id: str
    name: str
    on: str
    learned: str
    fault: str
    skipped: tuple[str, ...]
    out: str
    """Why it is left out; empty where it counts."""
    is_old: bool
    """Beyond the last jobs that count."""


@dataclass(frozen=True)
class Learned:
    """Everything that was learned, for a screen, for paper and for the terminal."""

    work: tuple[Line, ...]
    goods: tuple[Line, ...]
    price: Line | None
    days: tuple[DayLine, ...]
    jobs: int
    """Jobs that count."""
    most: int = MOST_JOBS
    """So many count at most."""


def learned_of(desk: Desk) -> Learned:
    """What the finished jobs say, as the next plan uses it."""
    catalog = load_catalog(catalog_folder(desk.settings))
    found = finished_days(desk.settings, desk.book, on=desk.clock().date())
    counting = [one for one in found if one.counts][-MOST_JOBS:]
    names = {one.job.job_id: one.job.name or one.job.job_id for one in found}
    work: dict[str, list[DoneWork]] = {}
    goods: dict[str, list[UsedGoods]] = {}
    for one in counting:
        for done in one.told.work:
            work.setdefault(done.activity, []).append(done)
        for used in one.told.goods:
            goods.setdefault(used.sort, []).append(used)
    counted = {one.job.job_id for one in counting}
    priced = [one for one in found if one.out is None and one.told.price is not None][-MOST_JOBS:]
    order = list(catalog.activities)
    lines = [
        _work_line(name, rows, catalog, names)
        for name, rows in sorted(work.items(), key=lambda item: _place(order, item[0]))
    ]
    return Learned(
        work=tuple(line for line in lines if line is not None),
        goods=tuple(_goods_line(sort, rows, catalog, names) for sort, rows in sorted(goods.items())),
        price=_price_line(priced),
        days=tuple(
            _day_line(one, catalog, is_old=one.counts and one.job.job_id not in counted) for one in reversed(found)
        ),
        jobs=len(counting),
    )


def _place(order: Sequence[str], name: str) -> int:
    return order.index(name) if name in order else len(order)


# ---------------------------------------------------------------- lines


@dataclass(frozen=True)
class _Taken:
    """One job of a line: what was planned and taken, as numbers and as texts."""

    job_id: str
    on: date
    planned: float
    took: float
    planned_text: str
    took_text: str


def _line(
    key: str, name: str, prior: LogFactor, taken: Sequence[_Taken], names: Mapping[str, str], *, used: str
) -> Line:
    """`used` is the id of the sentence that says what the next plan does."""
    logs = [math.log(one.took / one.planned) for one in taken]
    known, near, drift = known_after(prior, logs), pulled_in(prior, logs), trend_of(logs)
    far = [abs(log - inside) > SOME_MORE for log, inside in zip(logs, near, strict=True)]
    low, high = known.next_band()
    rows = tuple(
        JobRow(
            job_id=one.job_id,
            job=names.get(one.job_id, one.job_id),
            on=f"{one.on:%d %b %Y}",
            planned=one.planned_text,
            took=one.took_text,
            ratio=_times(one.took / one.planned),
            note=say("learned.far", {}) if is_far else "",
        )
        for one, is_far in zip(taken, far, strict=True)
    )
    points = [RatioPoint(one.on, one.took / one.planned, is_far) for one, is_far in zip(taken, far, strict=True)]
    count = "one" if len(taken) == 1 else "some"
    return Line(
        key=key,
        name=name,
        jobs=len(taken),
        planned=taken[-1].planned_text,
        ratio=_times(known.factor),
        band=say("learned.band", {"low": _times(low), "high": _times(high)}),
        used=say(used, {"factor": _times(known.factor), "least": str(LEAST_GOODS_JOBS)}),
        bias=_bias(prior, known, logs),
        drift=_drift(drift),
        rows=rows[::-1],
        out_of_line="; ".join(
            [
                *(
                    [say("learned.stands_out_bias", {"bias": _bias(prior, known, logs)})]
                    if _is_biased(known, logs)
                    else []
                ),
                *([say("learned.stands_out_drift", {"drift": _drift(drift)})] if drift.moves else []),
            ]
        ),
        svg=ratio_svg(points, factor=known.factor, band=(low, high)),
        described=say(
            f"learned.figure_{count}",
            {
                "name": name,
                "jobs": str(len(taken)),
                "ratios": ", ".join(_times(point.ratio) for point in points),
                "factor": _times(known.factor),
                "low": _times(low),
                "high": _times(high),
            },
        ),
    )


def _times(ratio: float) -> str:
    """A ratio to two digits behind the point, three where it is small."""
    return f"{ratio:.2f}" if ratio >= 0.1 else f"{ratio:.3f}"


def _bias(prior: LogFactor, known: LogFactor, logs: Sequence[float]) -> str:
    """How far the jobs lie from the plan on the whole, and whether that is more than chance."""
    if len(logs) < LEAST_BIAS_JOBS:
        return say("learned.bias_few", {"least": str(LEAST_BIAS_JOBS)})
    mean = math.fsum(pulled_in(prior, logs)) / len(logs)
    low, high = known.usual_band()
    side = "more" if low > 1 else "less" if high < 1 else "none"
    percent = round(100 * math.expm1(mean))
    return say(f"learned.bias_{side}", {"percent": f"{percent:+d}" if percent else "0"})


def _is_biased(known: LogFactor, logs: Sequence[float]) -> bool:
    low, high = known.usual_band()
    return len(logs) >= LEAST_BIAS_JOBS and not low <= 1 <= high


def _drift(drift: Trend) -> str:
    if drift.chance is None or drift.slope is None:
        return say("learned.drift_few", {"least": str(LEAST_JOBS)})
    values = {
        "percent": f"{100 * abs(math.expm1(drift.slope)):.1f}",
        "chance": "< 1" if drift.chance < 0.01 else f"{100 * drift.chance:.0f}",
    }
    if not drift.moves:
        return say("learned.drift_none", values)
    return say("learned.drift_up" if drift.s > 0 else "learned.drift_down", values)


def _work_line(name: str, rows: Sequence[DoneWork], catalog: Catalog, names: Mapping[str, str]) -> Line | None:
    """None where the table has no such work any more, or says that its minutes are certain."""
    row = catalog.activities.get(name)
    last = rows[-1]
    if row is None:
        return None
    span = minutes_of(row, Driver(quantity=1.0 if last.quantity is None else last.quantity))
    try:
        prior = catalog_prior(span)
    except ValueError:
        return None
    taken = [
        _Taken(
            done.job, done.on, planned, done.actual_min, f"{planned:.0f}\u00a0min", f"{done.actual_min:.0f}\u00a0min"
        )
        for done in rows
        if (planned := planned_today(done, catalog)) is not None
    ]
    return _line(name, row.activity, prior, taken, names, used="learned.used_minutes")


def sort_name(sort: str, catalog: Catalog) -> str:
    """What a sort of goods is called."""
    key = f"learned.sort_{sort}"
    return say(key, {}) if key in sentences() else item_name(sort, catalog, ENGLISH)


def _goods_line(sort: str, rows: Sequence[UsedGoods], catalog: Catalog, names: Mapping[str, str]) -> Line:
    taken = [
        _Taken(
            row.job,
            row.on,
            row.planned,
            row.used,
            f"{row.planned:g} {row.unit}".strip(),
            f"{row.used:g} {row.unit}".strip(),
        )
        for row in rows
    ]
    used = "learned.used_goods" if len(rows) >= LEAST_GOODS_JOBS else "learned.used_goods_few"
    return _line(sort, sort_name(sort, catalog), starting(SPREAD), taken, names, used=used)


def _price_line(priced: Sequence[Finished]) -> Line | None:
    """None where no job cost anything."""
    taken = []
    for one in priced:
        price = one.told.price
        assert price is not None
        if price.planned > 0 and price.actual > 0:
            told = money(price.actual, price.currency)
            if price.offered is not None and price.left is not None:
                told = say(
                    "learned.cost_left",
                    {
                        "cost": told,
                        "offered": money(price.offered, price.currency),
                        "left": money(price.left, price.currency),
                    },
                )
            if price.unpriced:
                told = say("learned.cost_unpriced", {"cost": told, "count": str(len(price.unpriced))})
            planned = money(price.planned, price.currency)
            taken.append(_Taken(one.job.job_id, one.day, float(price.planned), float(price.actual), planned, told))
    names = {one.job.job_id: one.job.name or one.job.job_id for one in priced}
    if not taken:
        return None
    return _line("cost", say("learned.cost", {}), starting(SPREAD), taken, names, used="learned.used_cost")


# ---------------------------------------------------------------- finished jobs


def _day_line(one: Finished, catalog: Catalog, *, is_old: bool) -> DayLine:
    told = one.told
    labels = {skipped.what: skipped.label for skipped in told.skipped}
    by_reason: dict[str, list[str]] = {}
    for skipped in told.skipped:
        row = catalog.activities.get(skipped.what)
        what = row.activity if row is not None else skipped.label or skipped.what
        values = {**skipped.values}
        if "other" in values:
            other = str(values["other"])
            values["other"] = catalog.activities[other].activity if other in catalog.activities else other
        sentence = say(f"learned.skipped.{skipped.reason}", {"what": "{what}", **values})
        by_reason.setdefault(sentence, []).append(
            what if skipped.what in catalog.activities else item_name(labels[skipped.what], catalog, ENGLISH)
        )
    lines = [sentence.replace("{what}", "; ".join(whats)) for sentence, whats in by_reason.items()]
    if told.price_fault and not told.fault:
        lines.append(say(f"learned.fault.{told.price_fault}", {}))
    if one.day != one.job.day:
        lines.append(say("learned.moved", {"day": f"{one.job.day:%d %b %Y}"}))
    if told.planned_after:
        lines.append(say("learned.planned_after", {}))
    return DayLine(
        job_id=one.job.job_id,
        name=one.job.name or one.job.job_id,
        on=f"{one.day:%d %b %Y}",
        learned=say("learned.from_day", {"work": str(len(told.work)), "goods": str(len(told.goods))}),
        fault=say(f"learned.fault.{told.fault}", {}) if told.fault else "",
        skipped=tuple(lines),
        out="" if one.out is None else one.out.reason,
        is_old=is_old,
    )


def leave_out(desk: Desk, job_id: str, typed: Mapping[str, str], *, by: str = "") -> None:
    """Leave a job out of what is learned: field ``reason``.

    Raises
    ------
    NotFound, Unusable
        If there is no such job; if no reason is told.
    """
    jobs.get(desk.book, job_id)
    entered = Entered(typed)
    reason = entered.needed("reason", most=LONGEST_TEXT)
    entered.done()
    left_out.leave_out(desk.book, job_id, reason=reason, at=desk.clock(), by=by, decision_id=entered.own_id())


def take_in(desk: Desk, job_id: str, *, by: str = "") -> None:
    """Learn from a job again; nothing happens where it is not left out.

    Raises
    ------
    NotFound
    """
    jobs.get(desk.book, job_id)
    if job_id in left_out.now_out(desk.book):
        left_out.take_in(desk.book, job_id, at=desk.clock(), by=by)


def lines_of(found: Learned) -> Iterable[tuple[str, tuple[Line, ...]]]:
    """The parts of what was learned with their lines; the id of a part is that of its heading."""
    yield "work", found.work
    yield "goods", found.goods
    yield "price", () if found.price is None else (found.price,)
