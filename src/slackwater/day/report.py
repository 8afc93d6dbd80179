"""From a schedule in minutes to what people read: local times, quantities, latest starts, clock spans."""

from __future__ import annotations

from collections.abc import Mapping

from slackwater.day.activities import PHASE_OF, Minutes, minutes_of
from slackwater.day.drivers import Driver
from slackwater.day.model import DayProblem, Mode, Placed, Schedule
from slackwater.day.result import ClockSpan, Entry, Held
from slackwater.day.when import Clockface
from slackwater.job.catalog import ActivityRow, Catalog

SPRAYED = "clock_plant_dry"


def _modes(problem: DayProblem, schedule: Schedule) -> Mapping[str, Mode]:
    """The way in which each placed activity is done."""
    ways = {(activity.id, mode.id): mode for activity in problem.activities for mode in activity.modes}
    return {item.activity: ways[item.activity, item.mode] for item in schedule.placed}


def held_of(problem: DayProblem, schedule: Schedule, *, face: Clockface) -> tuple[Held, ...]:
    """What is kept from one event to another, such as barrels; what hangs on work left out is not held."""
    when = {
        (item.activity, side): at for item in schedule.placed for side, at in (("start", item.start), ("end", item.end))
    }
    last = max((item.end for item in schedule.placed), default=0)
    held = []
    for hold in problem.holds:
        if all((event.activity, event.side) in when for event in hold.events):
            start = when[hold.starts.activity, hold.starts.side]
            end = last if hold.ends is None else when[hold.ends.activity, hold.ends.side]
            held.append(
                Held(
                    id=hold.id,
                    resource=hold.resource,
                    amount=hold.amount,
                    start=face.moment(start),
                    end=face.moment(end),
                )
            )
    return tuple(held)


def latest_starts(problem: DayProblem, schedule: Schedule, *, closes_min: int) -> Mapping[str, int]:
    """Latest start of each activity that still lets the day close in time, order of people and places kept.

    An activity must end before whatever follows it by order, shares one of its people, or could not stand beside it
    at a place; the last ones must end by closing. Negative slack shows as a latest start before the planned one.
    """
    activities = {activity.id: activity for activity in problem.activities}
    capacity = {resource.id: resource.capacity for resource in problem.resources}
    modes = _modes(problem, schedule)

    def must_follow(first: Placed, second: Placed) -> bool:
        if first.activity in activities[second.activity].after or set(first.crew) & set(second.crew):
            return True
        a, b = modes[first.activity].resources, modes[second.activity].resources
        return any(a[name] + b.get(name, 0) > capacity[name] for name in a if name in b)

    latest: dict[str, int] = {}
    for item in sorted(schedule.placed, key=lambda placed: (placed.start, placed.end), reverse=True):
        ends_by = min(
            (
                latest[other.activity]
                for other in schedule.placed
                if other.start >= item.end and must_follow(item, other)
            ),
            default=closes_min,
        )
        latest[item.activity] = ends_by - (item.end - item.start)
    return latest


def entries_of(
    problem: DayProblem,
    schedule: Schedule,
    *,
    catalog: Catalog,
    face: Clockface,
    drivers: Mapping[str, Driver],
    minutes: Mapping[str, Minutes],
    closes_min: int,
    past_jobs: Mapping[str, int],
    factors: Mapping[str, float],
) -> tuple[Entry, ...]:
    """All activities and breaks in the order of the day."""
    modes = _modes(problem, schedule)
    latest = latest_starts(problem, schedule, closes_min=closes_min)
    uncovered = catalog.clocks["plants.uncovered"].low_min
    # Waits up to a start are work going on by itself; those up to an end are cautions about heaters.
    runs_on = {lag.a.activity: lag.minimum for lag in problem.lags if lag.a.side == "end" and lag.b.side == "start"}
    entries = []
    for item in schedule.placed:
        row: ActivityRow = catalog.activities[item.activity]
        span = minutes[item.activity]
        mode = item.mode.rpartition(" ")[2]
        tags = (*row.tags, *(("quiet mode",) if mode == "quiet" else ("wet-vac",) if mode == "wet-vac" else ()))
        entries.append(
            Entry(
                activity=item.activity,
                label=row.activity,
                phase=PHASE_OF[item.activity],
                start=face.moment(item.start),
                end=face.moment(item.end),
                start_min=item.start,
                end_min=item.end,
                crew=item.crew,
                zone=row.zone,
                quantity=drivers[row.driver].quantity if row.driver != "job" else None,
                quantity_unit=row.unit,
                minutes_low=round(span.low),
                minutes_high=round(span.high),
                hold_point=row.hold_point,
                tags=tags,
                record=row.record,
                can_go_wrong=row.can_go_wrong,
                latest_start=face.moment(latest[item.activity]),
                runs_on_until=None if item.activity not in runs_on else face.moment(item.end + runs_on[item.activity]),
                spray_every_min=uncovered if SPRAYED in row.tags else None,
                places={name: amount for name, amount in modes[item.activity].resources.items() if amount},
                past_jobs=past_jobs.get(item.activity, 0),
                learned_factor=round(factors.get(item.activity, 1.0), 4),
                catalog_min=round((item.end - item.start) / factors.get(item.activity, 1.0), 2),
                catalog_typical_min=round(minutes_of(row, drivers[row.driver]).typical, 2),
            )
        )
    for rest in schedule.breaks:
        entries.append(
            Entry(
                activity=f"break:{rest.person}",
                label="break",
                phase="break",
                start=face.moment(rest.start),
                end=face.moment(rest.end),
                start_min=rest.start,
                end_min=rest.end,
                crew=(rest.person,),
                zone="",
                quantity=None,
                quantity_unit="",
                minutes_low=None,
                minutes_high=None,
                hold_point=False,
                tags=(),
                record="",
                can_go_wrong="",
                latest_start=None,
            )
        )
    return tuple(sorted(entries, key=lambda entry: (entry.start_min, entry.end_min, entry.activity)))


def spans_of(schedule: Schedule, *, catalog: Catalog, face: Clockface) -> tuple[ClockSpan, ...]:
    """All clock spans of the day in the order in which they start."""
    spans = []
    for piece in schedule.pieces:
        row = catalog.clocks.get(piece.clock) or catalog.clocks["media.drained_damp"]
        spans.append(
            ClockSpan(
                clock=row.clock,
                what=row.what,
                state=row.state,
                starts_with=str(piece.starts),
                ends_with=str(piece.ends),
                start=face.moment(piece.start),
                end=face.moment(piece.end),
                start_min=piece.start,
                end_min=piece.end,
                used_min=piece.end - piece.start,
                limit_min=piece.limit_min,
                typical_min=row.typical_min,
                high_min=row.high_min,
                latest=face.moment(piece.start + piece.limit_min),
                excess_min=piece.excess_min,
                needs=row.needs,
                source=f"{row.source} ({row.source_kind})",
            )
        )
    return tuple(sorted(spans, key=lambda span: (span.start_min, span.clock)))
