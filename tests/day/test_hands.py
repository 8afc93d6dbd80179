"""Work for two with one person left: what that person can do, what waits, and what must not be begun. Argued by hand."""

from __future__ import annotations

from slackwater.day.check import broken_rules
from slackwater.day.edits import remade
from slackwater.day.hands import few_hands
from slackwater.day.model import Choice, Clock, Option, event
from slackwater.day.progress import Away, Facts, Work
from slackwater.day.replan import OPEN_ENDED, replan, stand
from tests.day.test_replan import SMALL, TINY, planned, where, work

A, B, BOTH = ("a",), ("b",), ("a", "b")
GONE = Away(what="b", from_min=60, until_min=None)
CAUGHT = {"in": Work(start_min=0, end_min=20), "catch": Work(start_min=20, end_min=50)}


def with_heavy_build(*more, clocks=(), choices=None):
    """The small day, but building takes two; with more work or clocks."""
    activities = tuple(
        work("build", 30, BOTH, after=("strip",), mouth=1) if activity.id == "build" else activity
        for activity in SMALL.activities
    )
    changes = {} if choices is None else {"choices": choices}
    return remade(SMALL, activities=(*activities, *more), clocks=(*SMALL.clocks, *clocks), **changes)


def left_with(problem, now=60, gone=(GONE,), **done):
    facts = Facts(now_min=now, work={**CAUGHT, **done}, gone=gone)
    return few_hands(stand(problem, planned(problem), facts).problem)


def test_work_for_two_is_named_with_what_waits_for_it():
    found = left_with(with_heavy_build(), strip=Work(start_min=50, crew=A))
    assert (found.lacking, found.waiting, found.opening) == (("build",), ("plant", "out"), ())
    assert {activity.id for activity in found.problem.activities} == {"in", "catch", "strip", "refresh", "hook"}


def test_the_rest_of_interrupted_work_for_two_is_named_too():
    facts = Facts(now_min=10, work={"in": Work(start_min=0)}, gone=(Away(what="b", from_min=10, until_min=None),))
    found = few_hands(stand(SMALL, planned(SMALL), facts).problem)
    assert found.lacking == ("in+", "catch")
    assert set(found.waiting) == {"strip", "build", "plant", "out"}


def test_a_clock_that_runs_on_is_told_with_the_minute_of_its_limit():
    # The box has been shut since the catch began at 20, and the limit is 200.
    found = left_with(with_heavy_build(), strip=Work(start_min=50, crew=A))
    assert [(item.clock.id, item.start, item.latest) for item in found.running] == [("box", 20, 220)]


def test_nothing_is_begun_that_starts_a_clock_which_nobody_could_stop():
    strip_dries = Clock(id="dry", starts=event("strip.start"), ends=event("plant.end"), limit_min=300)
    found = left_with(
        with_heavy_build(clocks=(strip_dries,)), now=50, gone=(Away(what="b", from_min=50, until_min=None),)
    )
    assert found.opening == ("strip",) and found.lacking == ("build",)
    begun = left_with(with_heavy_build(clocks=(strip_dries,)), strip=Work(start_min=50, crew=A))
    assert begun.opening == () and {item.clock.id for item in begun.running} == {"box", "dry"}


def test_of_two_ways_the_one_is_taken_under_which_no_clock_runs_on():
    damp = Clock(id="damp", starts=event("catch.start"), ends=event("out.start"), limit_min=100, only_if="filter.damp")
    found = left_with(with_heavy_build(clocks=(damp,)), strip=Work(start_min=50, crew=A))
    assert [option.id for option in found.problem.choices[0].options] == ["running"]
    # Where there is only the one way, its clock is told.
    only = (Choice(id="filter", options=(Option(id="damp"),)),)
    told = left_with(with_heavy_build(clocks=(damp,), choices=only), strip=Work(start_min=50, crew=A))
    assert {item.clock.id: item.latest for item in told.running} == {"box": 220, "damp": 120}


def test_with_hands_enough_nothing_is_left_out():
    assert left_with(with_heavy_build(), gone=(), strip=Work(start_min=50, crew=A)) is None
    back = Away(what="b", from_min=60, until_min=90)
    assert left_with(with_heavy_build(), gone=(back,), strip=Work(start_min=50, crew=A)) is None


def test_the_rest_of_the_day_is_what_one_person_can_do():
    # By hand: a strips to 90; labels take a 25 more minutes and wait for nothing else; a's break is beside it.
    problem = with_heavy_build(work("label", 25, A, B, after=("catch",)))
    facts = Facts(now_min=60, work={**CAUGHT, "strip": Work(start_min=50, crew=A)}, gone=(GONE,))
    rest = replan(problem, planned(problem), facts, effort=TINY)
    assert rest.way == "few hands" and rest.hands is not None and rest.hands.lacking == ("build",)
    label = where(rest, "label")
    assert label.crew == A and label.end - label.start == 25 and label.start >= 90
    assert {item.activity for item in rest.schedule.placed if item.start >= 60} <= {"label", "hook"}
    assert broken_rules(rest.standing.problem, rest.schedule, rules=OPEN_ENDED) == ()


def test_with_nobody_left_at_all_everything_open_waits():
    everybody = (GONE, Away(what="a", from_min=60, until_min=None))
    facts = Facts(now_min=70, work=CAUGHT | {"strip": Work(start_min=50, end_min=60)}, gone=everybody)
    problem = with_heavy_build()
    rest = replan(problem, planned(problem), facts, effort=TINY)
    assert rest.way == "few hands" and rest.schedule.finish_min == 60
    assert rest.hands.lacking == ("build", "plant", "out")
