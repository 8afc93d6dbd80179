"""How long each of the crew goes on without a break, and where the breaks booked do not cover the day."""

from __future__ import annotations

from dataclasses import replace

from slackwater.day.model import DayProblem, Interval, Person, Schedule
from slackwater.day.solve import Effort, solve

LONGEST_STRETCH_MIN = 6 * 60
"""Directive 2003/88/EC, article 4: a rest break where the working day is longer than six hours; national law sets more."""
LONG_DAY_MIN = 9 * 60
USUAL_BREAKS_MIN = 45
"""A day over 9 h has a short break beside the long one, 45 min in all; common practice, no source."""


def longest_stretch(schedule: Schedule, person: Person) -> Interval | None:
    """The longest span from arriving, or from a break, to the end of work before the next break; None without work.

    Waiting on site counts, as in ``Person.longest_stretch_min``.
    """
    breaks = [(rest.start, rest.end) for rest in schedule.breaks if rest.person == person.id]
    fresh = [start for start, _ in person.windows] + [end for _, end in breaks]
    spans = [
        (max((mark for mark in fresh if mark <= item.start), default=item.start), item.end)
        for item in schedule.placed
        if person.id in item.crew
    ]
    return max(spans, key=lambda span: span[1] - span[0], default=None)


def tired(problem: DayProblem, schedule: Schedule, limits: dict[str, int]) -> dict[str, Interval]:
    """Who goes on for too long, and from when to when."""
    spans = {person.id: longest_stretch(schedule, person) for person in problem.people}
    return {name: span for name, span in spans.items() if span and span[1] - span[0] > limits[name]}


def rested(
    problem: DayProblem, schedule: Schedule, limits: dict[str, int], effort: Effort
) -> tuple[DayProblem, Schedule]:
    """The same day with breaks placed so that nobody goes on for too long, where that costs not a minute.

    Where it would, day and problem stay as they are: then a break is lacking that people must agree on.
    """
    over = tired(problem, schedule, limits)
    movable = {person.id for person in problem.people if person.rests}
    if not over or not set(over) <= movable or schedule.finish_min is None:
        return problem, schedule
    people = tuple(
        person.model_copy(update={"longest_stretch_min": limits[person.id]}) if person.id in movable else person
        for person in problem.people
    )
    limited = problem.model_copy(update={"people": people})
    again = solve(
        limited.model_copy(update={"closes_min": schedule.finish_min}),
        effort=replace(effort, excess=min(effort.excess, 0.3), finish=0.0),
        near=schedule,
    )
    if again.finish_min != schedule.finish_min or again.excess_min > schedule.excess_min:
        return problem, schedule
    return limited, again.model_copy(update={"status": schedule.status, "bound_min": schedule.bound_min})
