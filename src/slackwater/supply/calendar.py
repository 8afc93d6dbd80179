"""The weeks before and after: what to do by when, from the order dates to the contract visits."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from slackwater.finding import Finding, Remedy, Severity
from slackwater.job.model import Job
from slackwater.supply.order import SOAK_DAYS
from slackwater.supply.result import OrderLine, Quantities, Step

PEAK_FIRST_DAY, PEAK_LAST_DAY = 2, 10
"""Days after the rebuild on which ammonium may peak; trade practice, no source."""
LONGEST_GAP_DAYS = 1
"""Days without a visit inside the peak window that are still usual: changes come every second day; common practice."""
LAST_DAY = 42
LATER_VISIT = "F4"
"""Activity of the table for visits once the tank has settled."""


def priced_visits(job: Job) -> tuple[int, ...]:
    """Days of the visits that are in the price."""
    return job.contract.visit_days(last_day=job.contract.priced_to_day or LAST_DAY)


def peak_gap(job: Job, day: date) -> Finding | None:
    """The longest stretch of the peak window without a visit, the days on which there can be none told."""
    if not job.contract.visits:
        return None
    visits = {
        number
        for number in job.contract.visit_days(last_day=LAST_DAY)
        if day + timedelta(days=number) not in job.days_without_visit
    }
    longest, start, run, first = 0, 0, 0, 0
    for number in range(PEAK_FIRST_DAY, PEAK_LAST_DAY + 1):
        if number in visits:
            run = 0
            continue
        if run == 0:
            first = number
        run += 1
        if run > longest:
            longest, start = run, first
    if longest <= LONGEST_GAP_DAYS:
        return None
    return Finding(
        id="supply.visit_gap_in_peak",
        severity=Severity.CONDITION,
        values={
            "gap_days": longest,
            "from_day": start,
            "to_day": start + longest - 1,
            "from_date": f"{day + timedelta(days=start):%a %d %b}",
            "to_date": f"{day + timedelta(days=start + longest - 1):%a %d %b}",
            "closed": ", ".join(
                f"day {(closed - day).days}"
                for closed in job.days_without_visit
                if PEAK_FIRST_DAY <= (closed - day).days <= PEAK_LAST_DAY
            )
            or "none",
        },
        margin=float(LONGEST_GAP_DAYS - longest),
        margin_unit="days",
    )


def later_visits(job: Job, day: date) -> tuple[Step, ...]:
    """Visits of the contract after the weeks that the plan follows: single days, and spans that go on as one step each."""
    contract, closed, found = job.contract, job.days_without_visit, []
    for group in contract.visits:
        for number in group.days:
            on = day + timedelta(days=number)
            if number > LAST_DAY and (contract.ends is None or on <= contract.ends):
                found.append(
                    Step(
                        id=_visit(job, on),
                        on=on,
                        at=None,
                        values={"day": number},
                        activity=LATER_VISIT,
                        within=_visit_hours(job),
                    )
                )
        if group.from_day is None or group.every_days is None:
            continue
        missed = max(0, LAST_DAY + 1 - group.from_day)
        first = group.from_day + -(-missed // group.every_days) * group.every_days
        ends = [date_ for date_ in (contract.ends, _after(day, group.to_day)) if date_ is not None]
        on, until = day + timedelta(days=first), min(ends, default=None)
        if until is not None and on > until:
            continue
        values: dict[str, float | str] = {"every": group.every_days, "from": f"{on:%d %b %Y}"}
        if until is not None:
            values["until"] = f"{until:%d %b %Y}"
        found.append(
            Step(
                id="visits_open" if until is None else "visits_until",
                on=on,
                at=None,
                values=values,
                activity=LATER_VISIT,
                every_days=group.every_days,
                until=until,
                within=_visit_hours(job),
                except_on=tuple(
                    sorted(
                        off
                        for off in set(closed)
                        if off >= on and (until is None or off <= until) and (off - on).days % group.every_days == 0
                    )
                ),
            )
        )
    return tuple(found)


def _visit(job: Job, on: date) -> str:
    """Id of a visit's step: as agreed, or to be moved."""
    return "visit_closed" if on in job.site.closed_days else "visit_taken" if on in job.contract.taken_days else "visit"


def _visit_hours(job: Job) -> tuple[str, str] | None:
    """From when to when the house lets visits in; None where it has not said both."""
    site = job.site
    if site.visits_from is None or site.visits_until is None:
        return None
    return _clock(site.visits_from), _clock(site.visits_until)


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def visit_over_hours(job: Job) -> Finding | None:
    """A visit that takes longer than the house lets anybody in for it."""
    site, visit_min = job.site, job.contract.visit_min
    if site.visits_from is None or site.visits_until is None or visit_min is None:
        return None
    room_min = max(0, site.visits_until - site.visits_from)
    if visit_min <= room_min:
        return None
    values: dict[str, float | str] = {"visit_min": visit_min, "room_min": room_min}
    values |= {"from": _clock(site.visits_from), "until": _clock(site.visits_until)}
    return Finding(
        id="supply.visit_over_hours",
        severity=Severity.CONDITION,
        values=values,
        margin=float(room_min - visit_min),
        margin_unit="min",
    )


def _after(day: date, number: int | None) -> date | None:
    return None if number is None else day + timedelta(days=number)


def visits_without_end(job: Job, day: date) -> Finding | None:
    """Visits that go on and whose end the contract does not tell."""
    step = next((step for step in later_visits(job, day) if step.id == "visits_open"), None)
    if step is None:
        return None
    return Finding(
        id="supply.contract_end_unknown",
        severity=Severity.NOTE,
        values=step.values,
        remedies=(Remedy(id="job.enter", values={"fields": "contract.ends"}),),
    )


def valid_until(job: Job, order: tuple[OrderLine, ...]) -> date | None:
    """The last day of an offer: as told, and never after the next date by which something has to be ordered.

    Returns
    -------
    date or None
        None where date or days of the offer are not told.
    """
    price = job.price
    if price.offer_date is None or price.offer_valid_days is None:
        return None
    due = [line.order_by for line in order if line.order_by is not None and line.packs > 0]
    ahead = [when for when in due if when >= price.offer_date]
    # With every date gone by, each day that the offer lies about is one more day late.
    last = min(ahead) if ahead else price.offer_date if due else date.max
    return min(price.offer_date + timedelta(days=price.offer_valid_days), last)


def order_findings(job: Job, order: tuple[OrderLine, ...]) -> list[Finding]:
    """What had to be ordered before the date of the offer, and an offer that is told to be valid longer than orders wait."""
    offered, until = job.price.offer_date, valid_until(job, order)
    if offered is None:
        return []
    found = []
    late = [line for line in order if line.order_by is not None and line.packs > 0 and line.order_by < offered]
    if late:
        days = [line.order_by for line in late if line.order_by is not None]
        found.append(
            Finding(
                id="supply.orders_overdue",
                severity=Severity.CONDITION,
                values={
                    "kinds": ", ".join(sorted({line.kind for line in late})),
                    "first": f"{min(days):%a %d %b}",
                    "offered": f"{offered:%a %d %b}",
                },
                margin=float(min((day - offered).days for day in days)),
                margin_unit="days",
            )
        )
    if until is not None and until < offered + timedelta(days=job.price.offer_valid_days or 0):
        told = offered + timedelta(days=job.price.offer_valid_days or 0)
        found.append(
            Finding(
                id="supply.offer_shortened",
                severity=Severity.NOTE,
                values={"told": f"{told:%a %d %b}", "until": f"{until:%a %d %b}"},
            )
        )
    return found


def calendar_steps(job: Job, order: tuple[OrderLine, ...], quantities: Quantities) -> tuple[Step, ...]:
    """All steps in the order of their dates; none without a day to count from."""
    start, day, by = quantities.work_starts, quantities.day, quantities.prepared_by
    if start is None or day is None or by is None:
        return ()
    steps: list[Step] = []

    def on(name: str, when: date, activity: str = "", **values: float | str) -> None:
        steps.append(Step(id=name, on=when, at=None, values=values, activity=activity))

    def at(name: str, when: datetime, activity: str = "", ends: datetime | None = None, **values: float | str) -> None:
        steps.append(
            Step(
                id=name, on=None, at=when.replace(second=0, microsecond=0), ends=ends, values=values, activity=activity
            )
        )

    for due in sorted({line.order_by for line in order if line.order_by is not None and line.packs > 0}):
        lines = [line for line in order if line.order_by == due and line.packs > 0]
        on("order", due, "D2", lines=len(lines), kinds=", ".join(sorted({line.kind for line in lines})))
    if any(not (wood.soaked_days and wood.soaked_days >= SOAK_DAYS) for wood in job.wood or ()):
        on("soak_wood", by - timedelta(days=SOAK_DAYS), "D4")
    if job.stones:
        on("test_stones", by - timedelta(days=7), "D4")
    if job.price.offer_date is not None and job.price.offer_valid_days is not None:
        on("offer_ends", valid_until(job, order) or job.price.offer_date, "C9")
    on("confirm", by - timedelta(days=3), "D1")
    if job.plants:
        on("plants_arrive", by - timedelta(days=2), "D3")
    on("kit" if quantities.salt_grams else "kit_no_salts", by - timedelta(days=1), "D8")
    if job.livestock:
        at("client_fasting", start - timedelta(hours=24), "D7")
        at("client_light_off", datetime.combine(start.date(), time()), "D7")
    if quantities.ro_start_latest is not None and quantities.ro_l:
        at("ro_start", quantities.ro_start_latest, "D5", litres_l=quantities.ro_l)
    if quantities.warming_start_latest is not None and quantities.new_l:
        at("warm_start", quantities.warming_start_latest, "D6", litres_l=quantities.new_l)
        if quantities.salt_grams:
            at("minerals", max(quantities.warming_start_latest, start - timedelta(hours=2)), "D6")
    ends = None
    for window in job.site.windows or ():
        if window.kind == "day" and window.start == start:
            ends = window.end
    at("the_day", start, "E1", ends=ends, place=job.site.name or "on site")
    for number in job.contract.visit_days(last_day=LAST_DAY):
        when = day + timedelta(days=number)
        if job.contract.ends is not None and when > job.contract.ends:
            continue
        steps.append(
            Step(
                id=_visit(job, when),
                on=when,
                at=None,
                values={"day": number},
                activity="F1" if number <= 2 else "F2" if number <= 7 else "F3" if number <= 14 else LATER_VISIT,
                within=_visit_hours(job),
            )
        )
    steps += later_visits(job, day)
    return tuple(sorted(steps, key=lambda step: (_moment(step), step.id)))


def _moment(step: Step) -> datetime:
    if step.at is not None:
        return step.at
    return datetime.combine(step.on, datetime.min.time()) if step.on is not None else datetime.min
