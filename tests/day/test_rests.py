"""Breaks: how long people go on, breaks moved where that costs nothing, and what is lacking told."""

from __future__ import annotations

import pytest

from slackwater.day.model import Activity, Break, DayProblem, Mode, Person, Placed, PlacedBreak, Schedule, Status
from slackwater.day.rests import longest_stretch, rested, tired
from slackwater.day.solve import Effort, Relaxed, solve

EFFORT = Effort(excess=0.2, finish=0.2, exposure=0.05, tidy=0.0)


def work(name: str, minutes: int, *after: str) -> Activity:
    return Activity(id=name, modes=(Mode(id="ann", minutes=minutes, crew=("ann",)),), after=after)


def day(*rests: Break, minutes: tuple[int, ...] = (200, 200, 200)) -> DayProblem:
    names = [f"w{number}" for number in range(len(minutes))]
    return DayProblem(
        activities=tuple(
            work(name, length, *names[max(0, at - 1) : at])
            for at, (name, length) in enumerate(zip(names, minutes, strict=True))
        ),
        people=(Person(id="ann", windows=((0, 1000),), rests=rests),),
        closes_min=1000,
        horizon_min=1000,
    )


def at(*spans: tuple[int, int], breaks: tuple[tuple[int, int], ...] = ()) -> Schedule:
    return Schedule(
        status=Status.PROVED,
        placed=tuple(
            Placed(activity=f"w{number}", mode="ann", start=start, end=end, crew=("ann",))
            for number, (start, end) in enumerate(spans)
        ),
        breaks=tuple(PlacedBreak(person="ann", start=start, end=end) for start, end in breaks),
        finish_min=max(end for _, end in spans),
    )


@pytest.mark.parametrize(
    ("breaks", "longest"),
    [
        ((), (0, 630)),
        (((400, 430),), (0, 400)),
        (((200, 230),), (230, 630)),
        # Waiting is no break: the first stretch runs from arriving.
        (((0, 30),), (30, 630)),
    ],
)
def test_a_stretch_runs_from_arriving_or_a_break_to_the_end_of_work_before_the_next(breaks, longest):
    spans = ((0, 200), (230, 400), (430, 630)) if breaks != ((0, 30),) else ((30, 200), (230, 400), (430, 630))
    person = Person(id="ann", windows=((0, 1000),))
    assert longest_stretch(at(*spans, breaks=breaks), person) == longest


def test_a_break_is_moved_to_where_it_is_due_when_the_day_ends_no_later():
    # Ten hours of work and half an hour of break end at 630 wherever it lies. Taken at once it leaves 600 min without
    # one; between two of the three pieces it leaves 400 at most.
    problem = day(Break(minutes=30, earliest=0, latest_end=600))
    early = at((30, 230), (230, 430), (430, 630), breaks=((0, 30),))
    limits = {"ann": 405}
    assert tired(problem, early, limits) == {"ann": (30, 630)}
    limited, better = rested(problem, early, limits, EFFORT)
    assert better.finish_min == 630 and not tired(limited, better, limits)
    assert better.breaks[0].start in (200, 400)
    assert better.status is Status.PROVED


def test_where_a_break_cannot_be_moved_in_time_the_day_stays_and_is_told():
    # It may be taken only in the first hour: then 600 min follow without one.
    problem = day(Break(minutes=30, earliest=0, latest_end=60))
    found = solve(problem, effort=EFFORT, relaxed=Relaxed())
    same, still = rested(problem, found, {"ann": 360}, EFFORT)
    assert still is found and same is problem
    assert set(tired(problem, still, {"ann": 360})) == {"ann"}


def test_nobody_is_told_to_rest_who_rests_in_time():
    problem = day(Break(minutes=30, earliest=0, latest_end=600), minutes=(100, 100))
    found = solve(problem, effort=EFFORT)
    assert tired(problem, found, {"ann": 360}) == {}
    assert rested(problem, found, {"ann": 360}, EFFORT) == (problem, found)
