"""The rest of a day: nothing new keeps the plan, facts stay facts, and any log at all is answered."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from slackwater.day.check import broken_rules
from slackwater.day.edits import remade
from slackwater.day.model import (
    Activity,
    Break,
    Choice,
    Clock,
    DayProblem,
    Hold,
    Lag,
    Mode,
    Option,
    Person,
    Resource,
    event,
)
from slackwater.day.moves import missing_findings
from slackwater.day.progress import Added, Away, Facts, Missing, Work, facts_of
from slackwater.day.replan import OPEN_ENDED, replan, shifted
from slackwater.day.solve import Effort, Relaxed, solve
from slackwater.job.event import Event, EventKind
from slackwater.wording.render import finding_sentence
from tests.day.test_progress import FACE, OPENS
from tests.plans import catalog
from tests.replans import booked, log_of

HORIZON = 600
TINY = Effort(excess=0.05, finish=0.05, exposure=0.02, tidy=0.0)
NAMES = ("in", "catch", "strip", "refresh", "build", "plant", "out")


def work(name, minutes, *crews, after=(), mouth=0, optional=False):
    modes = tuple(
        Mode(id="+".join(crew), minutes=minutes, crew=crew, resources={"mouth": mouth} if mouth else {})
        for crew in crews
    )
    return Activity(id=name, modes=modes, after=after, optional=optional)


def small(minutes=(20, 30, 40, 10, 30, 50, 20), limit=200, closes=260) -> DayProblem:
    """A day in small: two people, a mouth for two, work for two, a refresh that restarts a clock, a choice, breaks."""
    a, b, both = ("a",), ("b",), ("a", "b")
    return DayProblem(
        activities=(
            work("in", minutes[0], both),
            work("catch", minutes[1], both, after=("in",), mouth=2),
            work("strip", minutes[2], a, b, after=("catch",), mouth=1),
            work("refresh", minutes[3], a, b, after=("catch",), optional=True),
            work("build", minutes[4], a, b, after=("strip",), mouth=1),
            work("plant", minutes[5], a, b, both, after=("build",), mouth=1),
            work("hook", 5, a, b, after=("catch",), optional=True),
            work("out", minutes[6], a, b, after=("plant",)),
        ),
        people=(
            Person(id="a", windows=((0, HORIZON),), rests=(Break(minutes=15, earliest=60, latest_end=200),)),
            Person(id="b", windows=((0, HORIZON),)),
        ),
        resources=(Resource(id="mouth", capacity=2), Resource(id="barrels", capacity=1)),
        lags=(Lag(a=event("strip.end"), b=event("build.start"), minimum=10),),
        clocks=(
            Clock(
                id="box",
                starts=event("catch.start"),
                ends=event("out.start"),
                limit_min=limit,
                restarts=("refresh",),
                restarted_limits_min=(limit,),
            ),
        ),
        choices=(Choice(id="filter", options=(Option(id="damp"), Option(id="running", activities=("hook",)))),),
        holds=(Hold(id="water", resource="barrels", amount=1, starts=event("catch.start"), ends=event("plant.end")),),
        handed_over_at="mouth",
        closes_min=closes,
        horizon_min=HORIZON,
    )


def planned(problem):
    return solve(problem, effort=TINY, relaxed=Relaxed(closing=True))


SMALL = small()
PLAN = planned(SMALL)


def same(one, other):
    return (one.placed, one.breaks, one.pieces, one.options, one.finish_min) == (
        other.placed,
        other.breaks,
        other.pieces,
        other.options,
        other.finish_min,
    )


def where(rest, name):
    return next(item for item in rest.schedule.placed if item.activity == name)


@settings(max_examples=25, deadline=None)
@given(
    minutes=st.tuples(*[st.integers(5, 60)] * 7),
    limit=st.integers(60, 300),
    now=st.integers(0, 400),
)
def test_with_no_news_the_day_goes_on_as_planned(minutes, limit, now):
    problem = small(minutes, limit)
    plan = planned(problem)
    rest = replan(problem, plan, Facts(now_min=now), effort=TINY)
    assert rest.way == "as planned" and same(rest.schedule, plan) and not rest.findings


@pytest.mark.parametrize("example", ["blue-corridor", "harbour-line", "light-well"])
def test_with_no_news_the_examples_go_on_as_planned(example):
    day = booked(example)
    for now in (0, 1, 45, 130, 333, 600, 1100):
        rest = replan(day.problem, day.schedule, Facts(now_min=now))
        assert same(rest.schedule, day.schedule) and not rest.findings


def test_news_that_agrees_with_the_plan_changes_nothing():
    catch = next(item for item in PLAN.placed if item.activity == "catch")
    facts = Facts(now_min=catch.end, work={"catch": Work(start_min=catch.start, end_min=catch.end)})
    assert same(replan(SMALL, PLAN, facts, effort=TINY).schedule, PLAN)


@pytest.mark.parametrize(
    ("soil", "name", "before"),
    [
        (None, "missing_in_tank", "E12"),
        (Work(start_min=400), "missing_soil_leaving", "E12"),
        (Work(start_min=400, end_min=420), "missing_in_waste", "E29"),
    ],
)
def test_missing_animals_are_told_with_where_to_look_and_before_what(soil, name, before):
    problem = remade(SMALL, activities=(*SMALL.activities, work("E12", 60, ("a",)), work("E29", 10, ("a",))))
    plan = planned(problem)
    missing = (Missing(species="corydoras_aeneus", caught=4, expected=6),)
    facts = Facts(now_min=430 if soil else 0, missing=missing, work={"E12": soil} if soil else {})
    rest = replan(problem, plan, facts, effort=TINY)
    (told,) = missing_findings(facts, rest, catalog(), FACE)
    assert told.id == f"day.{name}" and told.about == "corydoras_aeneus"
    assert (told.values["count"], told.values["hides"]) == (2, "bottom")
    assert str(told.values["before"]).endswith(f"({before})")
    assert "2 of 6" in finding_sentence(told)


def test_nothing_is_told_of_animals_that_are_all_there():
    assert missing_findings(Facts(now_min=0), replan(SMALL, PLAN, Facts(now_min=0)), catalog(), FACE) == []


def test_running_work_takes_what_has_passed_and_what_is_left():
    rest = replan(
        SMALL, PLAN, Facts(now_min=45, work={"catch": Work(start_min=20, remaining_until_min=90)}), effort=TINY
    )
    assert (where(rest, "catch").start, where(rest, "catch").end) == (20, 90)
    # After it: strip 40, wait 10, build 30, plant 50, out 20, and a's break beside them.
    assert rest.schedule.finish_min == 90 + 40 + 10 + 30 + 50 + 20
    assert shifted(PLAN, rest.schedule, now_min=45)["out"][1] == where(rest, "out").start


def test_added_work_stands_between_what_it_comes_after_and_what_waited_for_that():
    added = Added(id="A1", minutes=20, people=1, after="build", what="retainer")
    rest = replan(SMALL, PLAN, Facts(now_min=0, added=(added,)), effort=TINY)
    extra = where(rest, "A1")
    assert extra.end - extra.start == 20
    assert where(rest, "build").end <= extra.start and extra.end <= where(rest, "plant").start


def test_dropped_work_is_gone_and_what_came_after_it_comes_after_what_it_waited_for():
    rest = replan(SMALL, PLAN, Facts(now_min=0, dropped=("build",)), effort=TINY)
    assert "build" not in {item.activity for item in rest.schedule.placed}
    assert where(rest, "plant").start >= where(rest, "strip").end
    assert rest.schedule.finish_min < PLAN.finish_min


def test_who_is_gone_does_nothing_more_and_work_in_hand_is_left_to_the_other():
    # By hand: strip is done by whoever; at 60 it has run 10 of 40 minutes and its hands are gone, so 30 are left.
    facts = Facts(
        now_min=60,
        work={
            "in": Work(start_min=0, end_min=20),
            "catch": Work(start_min=20, end_min=50),
            "strip": Work(start_min=50, crew=("b",)),
        },
        gone=(Away(what="b", from_min=60, until_min=None),),
    )
    rest = replan(SMALL, PLAN, facts, effort=TINY)
    assert (where(rest, "strip").start, where(rest, "strip").end) == (50, 60)
    left = where(rest, "strip+")
    assert left.crew == ("a",) and left.end - left.start == 30
    assert where(rest, "build").start >= left.end + 10
    assert all("b" not in item.crew for item in rest.schedule.placed if item.start >= 60)


def test_with_nobody_left_for_work_of_two_it_is_said_what_takes_two():
    facts = Facts(now_min=10, work={"in": Work(start_min=0)}, gone=(Away(what="b", from_min=10, until_min=None),))
    rest = replan(SMALL, PLAN, facts, effort=TINY)
    assert rest.way == "few hands" and rest.hands.lacking == ("in+", "catch")
    # Nothing can be begun: the work in hand ended when its hands were gone.
    assert rest.schedule.finish_min == 10


def test_where_the_whole_rest_has_no_day_a_smaller_one_is_taken():
    from slackwater.day.edits import without

    facts = Facts(now_min=0, gone=(Away(what="b", from_min=0, until_min=None),))
    rest = replan(SMALL, PLAN, facts, less=[without(SMALL, ["in", "catch"])], effort=TINY)
    assert rest.way == "less work 1" and rest.schedule.finish_min is not None


def test_a_lift_that_is_out_holds_back_what_needs_it():
    facts = Facts(now_min=100, lift_out=(Away(what="lift", from_min=100, until_min=400),))
    rest = replan(SMALL, PLAN, facts, lift_users={"in", "out"}, effort=TINY)
    assert where(rest, "out").start == 400
    back_before = Facts(now_min=100, lift_out=(Away(what="lift", from_min=100, until_min=105),))
    assert same(replan(SMALL, PLAN, back_before, lift_users={"in", "out"}, effort=TINY).schedule, PLAN)


def test_a_break_that_was_worked_through_comes_right_after():
    taken = PLAN.breaks[0]
    until = 260
    facts = Facts(
        now_min=255,
        work={
            "in": Work(start_min=0, end_min=20),
            "catch": Work(start_min=20, end_min=50),
            "strip": Work(start_min=taken.start - 1, remaining_until_min=until, crew=("a",)),
        },
    )
    rest = replan(SMALL, PLAN, facts, effort=TINY)
    assert "day.break_moved" in {finding.id for finding in rest.findings}
    assert until <= rest.schedule.breaks[0].start <= until + 60


def test_a_clock_that_is_spent_is_over_by_what_cannot_be_helped():
    # catch began at 20 and 200 is the limit; refreshing is no help once it has run to 400.
    facts = Facts(
        now_min=400, work={"in": Work(start_min=0, end_min=20), "catch": Work(start_min=20, remaining_until_min=410)}
    )
    rest = replan(SMALL, PLAN, facts, effort=TINY)
    assert rest.schedule.finish_min is not None and rest.schedule.excess_min > 0


def test_what_waits_for_begun_work_is_taken_as_done_before():
    rest = replan(SMALL, PLAN, Facts(now_min=30, work={"strip": Work(start_min=25)}), effort=TINY)
    facts = {item.activity: item for item in rest.standing.problem.fixed}
    assert facts["catch"].end <= 25 and facts["in"].end <= facts["catch"].start
    assert "day.log_implied" in {finding.id for finding in rest.findings}


@pytest.mark.parametrize("wrong", [{"at": "2027-02-10T06:50:00"}, {"at": "2027-02-10T13:00:00"}, {}])
def test_of_work_whose_entries_contradict_each_other_one_sentence_is_told(wrong):
    # Access from 06:30. Catching began at 06:55 and its end is noted before that, or later than now, or not at all;
    # stripping waits for it and began at 07:30, minute 60: whatever the entries were taken as, it was over by then.
    rows = [
        {"at": "2027-02-10T06:55:00", "kind": "started", "subject": "catch"},
        {"at": "2027-02-10T07:30:00", "kind": "started", "subject": "strip"},
    ]
    rows += [{"kind": "finished", "subject": "catch", **wrong}] if wrong else []
    facts = facts_of(log_of(rows, ""), SMALL, PLAN, face=FACE, now_min=65)
    rest = replan(SMALL, PLAN, facts, effort=TINY)
    assert [item.id for item in rest.findings if item.about == "catch"] == ["day.log_ended_by_then"]
    assert [item.end for item in rest.standing.problem.fixed if item.activity == "catch"] == [60]


def test_work_that_is_over_by_what_waits_for_it_is_not_interrupted_as_well():
    # Stripping waits for catching and began at minute 60; the second of the two who catch left at minute 58.
    rows = [
        {"at": "2027-02-10T06:55:00", "kind": "started", "subject": "catch"},
        {"at": "2027-02-10T07:28:00", "kind": "unavailable", "subject": "b"},
        {"at": "2027-02-10T07:30:00", "kind": "started", "subject": "strip"},
    ]
    facts = facts_of(log_of(rows, ""), SMALL, PLAN, face=FACE, now_min=65)
    rest = replan(SMALL, PLAN, facts, effort=TINY)
    assert [item.id for item in rest.findings if item.about == "catch"] == ["day.log_ended_by_then"]
    assert "catch+" not in {activity.id for activity in rest.standing.problem.activities}


def test_work_whose_only_entry_lies_in_the_future_is_told_once():
    # Catching should have begun at 06:50; its start is noted for 13:00, and the helper is gone from the start.
    rows = [
        {"at": "2027-02-10T06:30:00", "kind": "unavailable", "subject": "b"},
        {"at": "2027-02-10T13:00:00", "kind": "started", "subject": "catch"},
    ]
    facts = facts_of(log_of(rows, ""), SMALL, PLAN, face=FACE, now_min=65)
    rest = replan(SMALL, PLAN, facts, effort=TINY)
    names = [item.id for item in rest.findings if "catch" in (item.about, *str(item.values.get("what")).split(", "))]
    assert names == ["day.log_future"]


def test_work_begun_before_its_predecessor_ended_stays_and_is_told():
    facts = Facts(
        now_min=60,
        work={
            "in": Work(start_min=0, end_min=20),
            "catch": Work(start_min=20, remaining_until_min=70),
            "strip": Work(start_min=40, end_min=55),
        },
    )
    rest = replan(SMALL, PLAN, facts, effort=TINY)
    assert (where(rest, "strip").start, where(rest, "strip").end) == (40, 55)
    assert "day.log_before_predecessor" in {finding.id for finding in rest.findings}


SUBJECTS = (*NAMES, "hook", "a", "b", "c", "lift", "box B", "filter", "shrimp", "A1", "", "catchh", "break:a")
BODIES = st.dictionaries(
    st.sampled_from(
        ("remaining_min", "minutes", "after", "people", "until", "since", "crew", "caught", "expected", "event")
    ),
    st.one_of(
        st.integers(-10, 500),
        st.sampled_from(
            ("a", "b", "catch", "soon", "2027-02-10T08:30:00", "2027-02-10T23:30:00", "", str(UUID(int=3)))
        ),
        st.none(),
        st.lists(st.sampled_from(("a", "b", "c")), max_size=2),
    ),
    max_size=4,
)


@st.composite
def logs(draw):
    found = []
    for number in range(draw(st.integers(0, 7))):
        found.append(
            Event(
                id=UUID(int=number + 1),
                at=OPENS + timedelta(minutes=draw(st.integers(-30, 420))),
                kind=draw(st.sampled_from(tuple(EventKind))),
                job=draw(st.sampled_from(("J", "J", "J", "K"))),
                subject=draw(st.sampled_from(SUBJECTS)),
                body=draw(BODIES),
            )
        )
    return found


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(log=logs(), now=st.integers(0, 450))
def test_any_log_gives_a_day_that_keeps_the_rules_or_a_plain_word(log, now):
    facts = facts_of(
        log, SMALL, PLAN, face=FACE, now_min=now, reference="J", caught_in={"shrimp": "catch"}, on_call=["c"]
    )
    rest = replan(SMALL, PLAN, facts, lift_users={"in", "out"}, effort=TINY)
    for finding in rest.findings:
        assert finding_sentence(finding)
    if rest.schedule.finish_min is None:
        # Only somebody gone, or work that takes until the others have left, can leave no day at all.
        late = max([now, *(work.remaining_until_min or 0 for work in facts.work.values())])
        late = max([late, *(away.until_min or 0 for away in facts.lift_out)])
        needed = sum(mode.minutes for item in SMALL.activities for mode in item.modes[:1]) + 15
        assert rest.way == "none" and (facts.gone or facts.added or late + needed > HORIZON)
        return
    if rest.way != "without breaks":
        assert broken_rules(rest.standing.problem, rest.schedule, rules=OPEN_ENDED) == ()
    for name, fact in facts.work.items():
        if fact.end_min is not None and name in {item.activity for item in rest.schedule.placed}:
            assert where(rest, name).start == fact.start_min and where(rest, name).end == fact.end_min
