"""The checker: each rule has a schedule that breaks it, and a test fails when a rule is added without one."""

from __future__ import annotations

import pytest

from slackwater.day.check import RULES, broken_rules
from slackwater.day.model import (
    Activity,
    Blackout,
    Break,
    Choice,
    Clock,
    DayProblem,
    Lag,
    Mode,
    Option,
    Person,
    PlacedBreak,
    Resource,
    event,
)
from slackwater.day.solve import solve


def _work(name, minutes, crew, after=(), places=0, tags=(), optional=False):
    mode = Mode(id="m", minutes=minutes, crew=crew, resources={"mouth": places} if places else {}, tags=tags)
    return Activity(id=name, modes=(mode,), after=after, optional=optional)


PROBLEM = DayProblem(
    activities=(
        _work("first", 10, ("a",)),
        _work("second", 20, ("a",), after=("first",), places=2),
        _work("beside", 15, ("b",), places=1, tags=("noisy",)),
        _work("last", 10, ("a",), after=("second",)),
        _work("hook", 5, ("b",), optional=True),
        _work("refresh", 5, ("b",), after=("first",), optional=True),
    ),
    people=(
        Person(id="a", windows=((0, 300),), rest=Break(minutes=10, earliest=0, latest_end=90)),
        Person(id="b", windows=((0, 150),)),
    ),
    resources=(Resource(id="mouth", capacity=2),),
    lags=(Lag(a=event("first.end"), b=event("last.start"), minimum=25),),
    clocks=(Clock(id="c", starts=event("first.end"), ends=event("last.start"), limit_min=40, restarts=("refresh",)),),
    choices=(Choice(id="filter", options=(Option(id="running", activities=("hook",)), Option(id="damp"))),),
    blackouts=(Blackout(reason="exam", tag="noisy", spans=((40, 60),)),),
    closes_min=120,
    horizon_min=300,
)
GOOD = solve(PROBLEM)


def move(schedule, name, **changes):
    placed = tuple(item.model_copy(update=changes) if item.activity == name else item for item in schedule.placed)
    return schedule.model_copy(update={"placed": placed})


def shift(schedule, name, start):
    item = next(item for item in schedule.placed if item.activity == name)
    return move(schedule, name, start=start, end=start + item.end - item.start)


def without(schedule, name):
    return schedule.model_copy(update={"placed": tuple(item for item in schedule.placed if item.activity != name)})


def _restart_outside(schedule):
    first = next(item for item in schedule.placed if item.activity == "first")
    extra = first.model_copy(update={"activity": "refresh", "crew": ("b",), "start": 100, "end": 105})
    return schedule.model_copy(update={"placed": (*schedule.placed, extra)})


MUTANTS = {
    "everything_is_done_once": lambda s: without(s, "last"),
    "modes_are_real": lambda s: move(s, "first", mode="another"),
    "order_is_kept": lambda s: shift(s, "last", 0),
    "waits_are_long_enough": lambda s: shift(
        s, "last", next(item.end for item in s.placed if item.activity == "first") + 24
    ),
    "people_are_here": lambda s: shift(s, "beside", 140),
    "people_do_one_thing_at_a_time": lambda s: shift(
        s, "second", next(item.start for item in s.placed if item.activity == "first")
    ),
    "breaks_are_taken": lambda s: s.model_copy(update={"breaks": ()}),
    "places_and_tools_suffice": lambda s: shift(
        s, "beside", next(item.start for item in s.placed if item.activity == "second")
    ),
    "silence_is_kept": lambda s: shift(s, "beside", 45),
    "one_option_is_taken": lambda s: s.model_copy(
        update={"options": {"filter": "damp" if s.options["filter"] == "running" else "running"}}
    ),
    "clocks_are_kept": lambda s: shift(s, "last", 109),
    "restarts_lie_within_their_clock": _restart_outside,
    "the_day_closes_in_time": lambda s: shift(s, "last", 115),
}


def test_the_good_day_keeps_every_rule():
    assert broken_rules(PROBLEM, GOOD) == ()


def test_every_rule_has_a_mutant():
    assert {rule.__name__ for rule in RULES} == set(MUTANTS)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_a_schedule_that_breaks_a_rule_is_caught_by_that_rule(rule):
    assert list(rule(PROBLEM, MUTANTS[rule.__name__](GOOD))), rule.__doc__


def test_a_break_at_the_wrong_time_is_caught_too():
    late = GOOD.model_copy(update={"breaks": (PlacedBreak(person="a", start=85, end=95),)})
    assert any(item.rule == "breaks_are_taken" for item in broken_rules(PROBLEM, late))


def test_a_declared_excess_is_allowed_and_no_more():
    late = shift(GOOD, "last", 109)
    since = next(item.end for item in late.placed if item.activity == "first")
    over = 109 - since - 40
    assert not [
        b for b in broken_rules(PROBLEM, late.model_copy(update={"excess_min": over})) if b.rule == "clocks_are_kept"
    ]
    assert [
        b
        for b in broken_rules(PROBLEM, late.model_copy(update={"excess_min": over - 1}))
        if b.rule == "clocks_are_kept"
    ]
