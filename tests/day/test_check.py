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
    Fixed,
    Hold,
    Lag,
    Mode,
    Option,
    Outage,
    Person,
    Placed,
    PlacedBreak,
    Resource,
    Schedule,
    Status,
    event,
)
from slackwater.day.solve import solve_each


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
        _work("begun", 8, ("b",)),
    ),
    people=(
        Person(
            id="a", windows=((0, 300),), rests=(Break(minutes=10, earliest=0, latest_end=90),), longest_stretch_min=60
        ),
        Person(id="b", windows=((0, 150),)),
    ),
    resources=(Resource(id="mouth", capacity=2), Resource(id="barrels", capacity=3)),
    holds=(Hold(id="kept water", resource="barrels", amount=2, starts=event("second.start"), ends=event("last.end")),),
    outages=(Outage(resource="mouth", capacity=1, spans=((100, 110),)),),
    fixed=(Fixed(activity="begun", mode="m", start=0, end=4),),
    now_min=2,
    lags=(Lag(a=event("first.end"), b=event("last.start"), minimum=25),),
    clocks=(
        Clock(id="c", starts=event("first.end"), ends=event("last.start"), limit_min=40, restarts=("refresh",)),
        Clock(id="glue", starts=event("beside.end"), ends=event("last.end"), limit_min=90, hard=True),
    ),
    choices=(Choice(id="filter", options=(Option(id="running", activities=("hook",)), Option(id="damp"))),),
    blackouts=(Blackout(reason="exam", tag="noisy", spans=((40, 60),)),),
    closes_min=120,
    horizon_min=300,
)
GOOD = solve_each(PROBLEM, [0.0])[0]  # nothing kept in reserve: the clock is not refreshed


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
    "facts_stay": lambda s: shift(s, "begun", 1),
    "nothing_starts_in_the_past": lambda s: shift(s, "first", 1),
    "nobody_goes_on_too_long": lambda s: shift(s, "last", 105).model_copy(update={"breaks": ()}),
    "holds_run_forward": lambda s: shift(s, "second", 119),
    "hard_clocks_are_never_exceeded": lambda s: shift(
        s, "last", next(item.end for item in s.placed if item.activity == "beside") + 81
    ),
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


# Rules whose edge is reasoned out by hand: x from 10 to 20, y from 30 to 40, b beside them.


def _plan(*placed, breaks=(), **more):
    return Schedule(
        status=Status.BEST_FOUND,
        placed=tuple(Placed(activity=n, mode="m", start=s, end=e, crew=(c,) if c else ()) for n, s, e, c in placed),
        breaks=tuple(PlacedBreak(person=p, start=s, end=e) for p, s, e in breaks),
        **more,
    )


def _day(*activities, people=None, **more):
    return DayProblem(
        activities=activities,
        people=people or (Person(id="a", windows=((0, 200),)), Person(id="b", windows=((0, 200),))),
        resources=(Resource(id="mouth", capacity=2),),
        closes_min=200,
        horizon_min=200,
        **more,
    )


def _rules_broken(problem, schedule):
    return [item.rule for item in broken_rules(problem, schedule)]


X, Y, Z = _work("x", 10, ("a",)), _work("y", 10, ("a",)), _work("z", 10, ("b",), places=1)
HOLD = Hold(id="h", resource="mouth", amount=2, starts=event("x.end"), ends=event("y.start"))


@pytest.mark.parametrize(("start", "good"), [(10, True), (11, False), (20, False), (29, False), (30, True)])
def test_a_hold_keeps_what_it_holds_from_its_first_event_to_its_last(start, good):
    # All of the mouth is held from 20 to 30; ten minutes there fit before 20 and from 30 on, to the minute.
    schedule = _plan(("x", 10, 20, "a"), ("y", 30, 40, "a"), ("z", start, start + 10, "b"))
    assert _rules_broken(_day(X, Y, Z, holds=(HOLD,)), schedule) == ([] if good else ["places_and_tools_suffice"])


def test_a_hold_without_an_end_lasts_for_the_day_and_one_of_left_out_work_is_not_held():
    to_the_end = HOLD.model_copy(update={"ends": None})
    late = _plan(("x", 10, 20, "a"), ("y", 30, 40, "a"), ("z", 180, 190, "b"))
    assert _rules_broken(_day(X, Y, Z, holds=(to_the_end,)), late) == ["places_and_tools_suffice"]
    without_x = _plan(("y", 30, 40, "a"), ("z", 180, 190, "b"))
    maybe = _work("x", 10, ("a",), optional=True)
    assert _rules_broken(_day(maybe, Y, Z, holds=(to_the_end,)), without_x) == []


@pytest.mark.parametrize(("start", "good"), [(40, True), (41, False), (59, False), (60, True)])
def test_of_overlapping_outages_the_least_counts(start, good):
    # From 50 to 60 nothing is left, though the longer outage leaves one place.
    out = (
        Outage(resource="mouth", capacity=1, spans=((30, 80),)),
        Outage(resource="mouth", capacity=0, spans=((50, 60),)),
    )
    schedule = _plan(("z", start, start + 10, "b"))
    assert _rules_broken(_day(Z, outages=out), schedule) == ([] if good else ["places_and_tools_suffice"])


@pytest.mark.parametrize(
    ("rest", "work_end", "good"),
    [
        (60, 130, True),  # from 0 to 60, from 70 to 130: sixty each
        (61, 130, False),  # from 0 to 61
        (60, 131, False),  # from 70 to 131
        (50, 120, True),
        (50, 121, False),  # from 60 to 121
    ],
)
def test_waiting_before_a_break_counts_as_much_as_work(rest, work_end, good):
    crew = (Person(id="a", windows=((0, 200),), rests=(_ANY_TIME,), longest_stretch_min=60),)
    schedule = _plan(("x", 0, 10, "a"), ("y", work_end - 10, work_end, "a"), breaks=(("a", rest, rest + 10),))
    assert _rules_broken(_day(X, Y, people=crew), schedule) == ([] if good else ["nobody_goes_on_too_long"])


_ANY_TIME = Break(minutes=10, earliest=0, latest_end=200)


def test_a_break_after_the_last_work_may_come_at_any_time_and_being_away_is_one():
    crew = (Person(id="a", windows=((0, 40), (90, 200)), rests=(_ANY_TIME,), longest_stretch_min=60),)
    schedule = _plan(("x", 0, 10, "a"), ("y", 140, 150, "a"), breaks=(("a", 190, 200),))
    assert _rules_broken(_day(X, Y, people=crew), schedule) == []
    here_all_day = (crew[0].model_copy(update={"windows": ((0, 200),)}),)
    assert _rules_broken(_day(X, Y, people=here_all_day), schedule) == ["nobody_goes_on_too_long"]


def test_breaks_are_held_to_their_spans_in_order():
    crew = (
        Person(
            id="a",
            windows=((0, 200),),
            rests=(Break(minutes=10, earliest=0, latest_end=60), Break(minutes=20, earliest=50, latest_end=200)),
        ),
    )
    good = _plan(breaks=(("a", 50, 60), ("a", 60, 80)))
    assert _rules_broken(_day(people=crew), good) == []
    swapped = _plan(breaks=(("a", 0, 20), ("a", 50, 60)))
    assert set(_rules_broken(_day(people=crew), swapped)) == {"breaks_are_taken"}
    assert _rules_broken(_day(people=crew), _plan(breaks=(("a", 50, 60),))) == ["breaks_are_taken"]


def test_facts_may_break_rules_but_open_work_may_not():
    # a did x and y at once, y before what it comes after, and both were still in the mouth when it was full.
    x = _work("x", 10, ("a",), places=2)
    y = _work("y", 10, ("a",), places=2, after=("x",))
    facts = (Fixed(activity="x", mode="m", start=0, end=30), Fixed(activity="y", mode="m", start=5, end=40))
    problem = _day(x, y, Z, fixed=facts, now_min=20)
    assert _rules_broken(problem, _plan(("x", 0, 30, "a"), ("y", 5, 40, "a"), ("z", 40, 50, "b"))) == []
    early = _plan(("x", 0, 30, "a"), ("y", 5, 40, "a"), ("z", 39, 49, "b"))
    assert _rules_broken(problem, early) == ["places_and_tools_suffice"]
    assert "facts_stay" in _rules_broken(problem, _plan(("x", 0, 30, "b"), ("y", 5, 40, "a"), ("z", 40, 50, "b")))


def test_a_negative_wait_is_a_longest_wait_the_other_way_round():
    # y starts at most 15 minutes after x: the wait from y to x is at least -15.
    problem = _day(X, Y, lags=(Lag(a=event("y.start"), b=event("x.start"), minimum=-15),))
    assert _rules_broken(problem, _plan(("x", 0, 10, "a"), ("y", 15, 25, "a"))) == []
    assert _rules_broken(problem, _plan(("x", 0, 10, "a"), ("y", 16, 26, "a"))) == ["waits_are_long_enough"]


def test_a_declared_excess_does_not_cover_a_hard_clock():
    hard = Clock(id="c", starts=event("x.end"), ends=event("y.start"), limit_min=10, hard=True)
    schedule = _plan(("x", 0, 10, "a"), ("y", 21, 31, "a"), excess_min=100)
    assert _rules_broken(_day(X, Y, clocks=(hard,)), schedule) == ["hard_clocks_are_never_exceeded"]
