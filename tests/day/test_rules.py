"""What a day may ask for beside order and places: tiny days reasoned out, and many compared with all that is possible."""

from __future__ import annotations

from itertools import combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slackwater.day.check import broken_rules
from slackwater.day.model import (
    Activity,
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
    Resource,
    Schedule,
    Status,
    event,
)
from slackwater.day.solve import Effort, Prices, least_relaxation, replan_near, solve
from slackwater.day.why import smallest_conflict

HORIZON = 400
CHEAP = Effort(exposure=0.0, tidy=0.0)


def person(name="a", windows=((0, HORIZON),), **more):
    return Person(id=name, windows=windows, **more)


def work(name, minutes, *crew, after=(), optional=False, worth=0, **amounts):
    mode = Mode(id="+".join(crew), minutes=minutes, crew=crew, resources=amounts)
    return Activity(id=name, modes=(mode,), after=after, optional=optional, worth=worth)


def day(*activities, people=None, closes=200, horizon=HORIZON, resources=None, **rest):
    return DayProblem(
        activities=activities,
        people=people or (person("a"), person("b")),
        resources=resources or (Resource(id="mouth", capacity=2), Resource(id="barrels", capacity=8)),
        closes_min=closes,
        horizon_min=horizon,
        **rest,
    )


def when(answer):
    return {item.activity: (item.start, item.end) for item in answer.placed}


def solved(problem, **how):
    answer = solve(problem, **how)
    assert answer.doubts == ()
    if answer.finish_min is not None:
        assert broken_rules(problem, answer) == ()
    return answer


# Holds and outages


def test_barrels_are_held_from_draining_to_refill():
    # Draining fills 6 of 8 barrels until the refill has ended at 10 + 30 + 10; mixing needs 4: it waits until 50, + 20.
    # The other way round, mixing first, draining starts at 20 and all ends at 70 as well. Never 60, without the hold.
    jobs = (
        work("drain", 10, "a"),
        work("scape", 30, "a", after=("drain",)),
        work("refill", 10, "a", after=("scape",)),
        work("mix", 20, "b", barrels=4),
    )
    kept = Hold(id="old water", resource="barrels", amount=6, starts=event("drain.start"), ends=event("refill.end"))
    assert solved(day(*jobs)).finish_min == 50
    assert solved(day(*jobs, holds=(kept,))).finish_min == 70


def test_a_hold_to_the_end_of_the_day_lets_work_go_only_before_it():
    # Boxes stand on the floor from the end of catching (10 min) to the end; y needs that floor, so it is done first.
    jobs = (work("catch", 10, "a"), work("y", 25, "b", mouth=1))
    floor = Hold(id="boxes", resource="mouth", amount=2, starts=event("catch.end"))
    answer = solved(day(*jobs, holds=(floor,)))
    assert answer.finish_min == 25
    assert when(answer)["catch"][1] == 25


def test_what_is_left_out_holds_nothing():
    # Only the option that holds the floor is in the way of y: 5 + 40 of hold before y, or y beside everything.
    jobs = (
        work("x", 40, "a"),
        work("hang", 5, "b", optional=True),
        work("y", 30, "b", mouth=2),
    )
    held = Hold(id="h", resource="mouth", amount=1, starts=event("hang.start"), ends=event("x.end"))
    filter_choice = Choice(id="f", options=(Option(id="hung", activities=("hang",)), Option(id="damp")))
    assert solved(day(*jobs, holds=(held,), choices=(filter_choice,))).finish_min == 40
    must = Choice(id="f", options=(Option(id="hung", activities=("hang",)),))
    # y first: 30, then hang at 30, x may run 0-40 beside it: the hold from 30 to 40 is in nobody's way.
    assert solved(day(*jobs, holds=(held,), choices=(must,))).finish_min == 40
    first = (jobs[0], jobs[1], work("y", 30, "b", after=("hang",), mouth=2))
    # y after hang has to wait for the end of x at 40: 70.
    assert solved(day(*first, holds=(held,), choices=(must,))).finish_min == 70


def test_the_lift_is_out_of_order():
    # 30 minutes of carrying do not fit before 20; one at a time from 60 on: 60 + 30 + 30. With one place: from 20 on too.
    jobs = (work("x", 30, "a", mouth=1), work("y", 30, "b", mouth=1))
    out = Outage(resource="mouth", spans=((20, 60),))
    assert solved(day(*jobs)).finish_min == 30
    assert solved(day(*jobs, outages=(out,))).finish_min == 90
    assert solved(day(*jobs, outages=(out.model_copy(update={"capacity": 1}),))).finish_min == 60


def test_a_circuit_carries_so_many_watts():
    # 2000 + 1500 W are within 3680 W, 300 W more are not: heating waits for the pump. 3680 W are carried exactly.
    circuit = (Resource(id="circuit", capacity=3680),)
    jobs = (work("kettle", 20, "a", circuit=2000), work("vacuum", 30, "b", circuit=1500))
    assert solved(day(*jobs, resources=circuit)).finish_min == 30
    heat = work("heat", 25, circuit=300)
    assert solved(day(*jobs, heat, resources=circuit)).finish_min == 45
    full = work("heat", 25, circuit=180)
    assert solved(day(*jobs, full, resources=circuit)).finish_min == 30


def test_waiting_has_no_crew_and_still_takes_its_place():
    # The disinfectant stands in the tank for 60 min while a works elsewhere for 40; what needs the tank waits: 75.
    jobs = (
        work("stand", 60, mouth=2),
        work("sort", 40, "a"),
        work("wipe", 15, "a", mouth=1),
    )
    assert solved(day(*jobs)).finish_min == 75


# Clocks and waits


def test_a_hard_clock_is_kept_at_any_price_and_a_soft_one_is_not():
    # y (80 min) must lie between x and z, 60 are allowed: soft 20 over, hard impossible.
    jobs = (work("x", 10, "a"), work("y", 80, "a", after=("x",)), work("z", 10, "a", after=("y",)))
    soft = Clock(id="c", starts=event("x.end"), ends=event("z.start"), limit_min=60)
    assert solved(day(*jobs, clocks=(soft,))).excess_min == 20
    hard = soft.model_copy(update={"hard": True})
    assert solved(day(*jobs, clocks=(hard,))).status is Status.IMPOSSIBLE
    conflict = smallest_conflict(day(*jobs, clocks=(hard,)), seconds=1, seed=1)
    assert conflict.rules == ("clock:c",)


def test_a_negative_wait_pulls_work_near():
    # b's y would end at 30, but must start at most 5 minutes before x ends, at 50 at the earliest: 45 + 30.
    jobs = (work("w", 40, "a"), work("x", 10, "a", after=("w",)), work("y", 30, "b"))
    near = Lag(a=event("x.end"), b=event("y.start"), minimum=-5)
    assert solved(day(*jobs, lags=(near,))).finish_min == 75


# Breaks


def test_two_breaks_are_taken_in_order():
    # 100 + 100 min of work and breaks of 15 and 30 that must end by 130 and 200: 200 + 15 + 30 in all.
    rests = (Break(minutes=15, earliest=90, latest_end=130), Break(minutes=30, earliest=90, latest_end=200))
    jobs = (work("x", 100, "a"), work("y", 50, "a"), work("z", 50, "a"))
    answer = solved(day(*jobs, people=(person(rests=rests),), closes=300))
    assert answer.finish_min == 245
    assert [rest.end - rest.start for rest in sorted(answer.breaks, key=lambda rest: rest.start)] == [15, 30]


def test_a_break_must_come_before_the_stretch_is_too_long():
    # 50 + 50 + 50 without a break for at most 100: the break of 20 lies after the first or second. 170, never 150.
    rest = Break(minutes=20, earliest=0, latest_end=300)
    jobs = (work("x", 50, "a"), work("y", 50, "a"), work("z", 50, "a"))
    assert solved(day(*jobs, people=(person(rests=(rest,)),))).finish_min == 150
    strict = (person(rests=(rest,), longest_stretch_min=100),)
    assert solved(day(*jobs, people=strict)).finish_min == 170
    too_strict = (person(rests=(rest,), longest_stretch_min=60),)
    # 50, break, 50: the third piece has no break before it.
    assert solved(day(*jobs, people=too_strict)).status is Status.IMPOSSIBLE
    conflict = smallest_conflict(day(*jobs, people=too_strict), seconds=1, seed=1)
    assert conflict.rules == ("break:a",)


@pytest.mark.parametrize(
    ("rests", "says"),
    [
        (((30, 0, 60), (30, 0, 50)), "a's breaks have no room in this order: one would end at 60"),
        (((30, 0, 20),), "a break of 30 min has no room between 0 and 20"),
    ],
)
def test_breaks_without_room_are_refused(rests, says):
    with pytest.raises(ValueError, match=says):
        person(rests=tuple(Break(minutes=m, earliest=e, latest_end=end) for m, e, end in rests))


# Optional work of worth


@pytest.mark.parametrize(("worth", "finish"), [(0, 60), (19, 60), (20, 80), (21, 80)])
def test_optional_work_is_done_when_it_costs_no_more_than_it_is_worth(worth, finish):
    # 60 minutes must be done; the other 20 by the same hands cost 20 minutes of finish.
    jobs = (work("must", 60, "a"), work("may", 20, "a", optional=True, worth=worth))
    assert solved(day(*jobs)).finish_min == finish


def test_optional_work_is_left_out_where_closing_or_a_clock_would_not_hold():
    jobs = (work("must", 60, "a"), work("may", 20, "a", optional=True, worth=100))
    assert set(when(solved(day(*jobs, closes=79)))) == {"must"}
    assert set(when(solved(day(*jobs, closes=80)))) == {"must", "may"}
    between = (
        work("x", 10, "a"),
        work("may", 20, "a", after=("x",), optional=True, worth=100),
        work("z", 10, "a", after=("may",)),
    )
    clock = Clock(id="c", starts=event("x.end"), ends=event("z.start"), limit_min=19)
    assert set(when(solved(day(*between, clocks=(clock,))))) == {"x", "z"}


# Facts


def test_what_has_started_stays_and_the_rest_starts_now():
    # x was planned for 30 min and will take 50, until 60; it is 40. b is free now, a is not: y from 60, z from 40.
    jobs = (work("x", 30, "a"), work("y", 10, "a"), work("z", 15, "b"))
    facts = (Fixed(activity="x", mode="a", start=10, end=60),)
    answer = solved(day(*jobs, fixed=facts, now_min=40))
    times = when(answer)
    assert times["x"] == (10, 60) and times["y"] == (60, 70) and times["z"][0] >= 40
    assert answer.finish_min == 70


def test_another_crew_did_it_than_was_planned():
    # b does x in place of a, so a can do y now, and b's z waits until 60.
    jobs = (work("x", 30, "a"), work("y", 10, "a"), work("z", 15, "b"))
    facts = (Fixed(activity="x", mode="a", start=10, end=60, crew=("b",)),)
    answer = solved(day(*jobs, fixed=facts, now_min=40))
    assert answer.finish_min == 75
    assert next(item.crew for item in answer.placed if item.activity == "x") == ("b",)


def test_facts_that_broke_every_rule_still_leave_a_plan():
    # y began before x had ended, both by a, both alone in the mouth, during quiet hours, after a's hours, past closing.
    jobs = (work("x", 30, "a", mouth=2), work("y", 30, "a", after=("x",), mouth=2), work("z", 10, "b", mouth=1))
    facts = (Fixed(activity="x", mode="a", start=0, end=60), Fixed(activity="y", mode="a", start=20, end=65))
    crew = (person("a", windows=((0, 50),)), person("b"))
    out = Outage(resource="mouth", spans=((30, 62),), capacity=1)
    lag = Lag(a=event("x.end"), b=event("y.start"), minimum=5)
    answer = solved(day(*jobs, people=crew, closes=100, fixed=facts, now_min=40, outages=(out,), lags=(lag,)))
    assert answer.finish_min == 75


def test_a_clock_that_has_run_out_is_no_reason_to_run_over_another():
    # The first clock ran 40 over, as a fact. The second allows 5 between y and z; w (50, by a) can come before both:
    # 50 + 10 + 10 from 100 on, as soon as any other order, and nothing more is over.
    jobs = (work("x", 50, "a"), work("v", 10, "a"), work("y", 10, "a"), work("w", 50, "a"), work("z", 10, "a"))
    facts = (Fixed(activity="x", mode="a", start=0, end=50), Fixed(activity="v", mode="a", start=90, end=100))
    first = Clock(id="first", starts=event("x.start"), ends=event("v.start"), limit_min=50)
    second = Clock(id="second", starts=event("y.end"), ends=event("z.start"), limit_min=5)
    answer = solved(day(*jobs, fixed=facts, now_min=100, clocks=(first, second)))
    assert (answer.finish_min, answer.excess_min) == (170, 40)
    assert answer.status is Status.PROVED


def test_a_running_hold_goes_on_from_now():
    # Six barrels have been full since 10; the refill (20 min) can start now, at 50, and then they are free: 70 + 15.
    jobs = (work("drain", 10, "a"), work("refill", 20, "a", after=("drain",)), work("mix", 15, "b", barrels=4))
    kept = Hold(id="old water", resource="barrels", amount=6, starts=event("drain.end"), ends=event("refill.end"))
    facts = (Fixed(activity="drain", mode="a", start=0, end=10),)
    assert solved(day(*jobs, holds=(kept,), fixed=facts, now_min=50)).finish_min == 85


def test_a_break_that_was_taken_counts_and_is_not_taken_again():
    # The break from 40 to 60 is a fact; a is fresh until 160, so 100 minutes of work fit in from 60 on, and 101 do not.
    taken = Break(minutes=20, earliest=40, latest_end=60)
    crew = (person(rests=(taken,), longest_stretch_min=100),)
    facts = (Fixed(activity="x", mode="a", start=0, end=40),)
    for minutes, status in ((100, Status.PROVED), (101, Status.IMPOSSIBLE)):
        jobs = (work("x", 40, "a"), work("y", minutes, "a"))
        assert solved(day(*jobs, people=crew, fixed=facts, now_min=60)).status is status


def test_a_break_that_is_overdue_comes_at_once():
    # a has worked since 0 and may for 60; it is 80 and x runs until 90. The break comes at 90, not never.
    crew = (person(rests=(Break(minutes=20, earliest=30, latest_end=200),), longest_stretch_min=60),)
    facts = (Fixed(activity="x", mode="a", start=0, end=90),)
    answer = solved(day(work("x", 40, "a"), work("y", 30, "a"), people=crew, fixed=facts, now_min=80))
    assert answer.breaks[0].start == 90
    assert answer.finish_min == 140


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"fixed": (Fixed(activity="x", mode="b", start=0, end=5),)}, "fixed in mode b, which it does not have"),
        ({"fixed": (Fixed(activity="x", mode="a", start=5, end=9),)}, "fixed at 5, but it is only 0"),
        ({"fixed": (Fixed(activity="x", mode="a", start=0, end=9, crew=("c",)),)}, "c is not one of the crew"),
        ({"fixed": (Fixed(activity="x", mode="a", start=0, end=9),) * 2}, "x is fixed twice"),
        (
            {"holds": (Hold(id="h", resource="mouth", amount=3, starts=event("x.end")),)},
            "keeps 3 of mouth; there are 2",
        ),
        ({"holds": (Hold(id="h", resource="sky", amount=1, starts=event("x.end")),)}, "keeps 1 of sky; there are 0"),
        ({"holds": (Hold(id="h", resource="mouth", amount=1, starts=event("q.end")),)}, "hangs on q"),
        ({"outages": (Outage(resource="sky", spans=((0, 5),)),)}, "no resource sky"),
        ({"lags": (Lag(a=event("x.end"), b=event("q.end"), minimum=0),)}, "hangs on q"),
        ({"handed_over_at": "sky"}, "no resource sky"),
    ],
)
def test_nonsense_is_refused(more, says):
    with pytest.raises(ValueError, match=says):
        day(work("x", 10, "a"), **more)


def test_nonsense_is_refused_in_the_small_too():
    with pytest.raises(ValueError, match="out from 5 to 5"):
        Outage(resource="mouth", spans=((5, 5),))
    with pytest.raises(ValueError, match="only optional work has a worth"):
        work("x", 5, "a", worth=3)
    with pytest.raises(ValueError, match="the end comes first"):
        Fixed(activity="x", mode="a", start=5, end=4)
    both = Choice(id="f", options=(Option(id="o", activities=("x",)),))
    with pytest.raises(ValueError, match="cannot have a worth as well"):
        day(work("x", 5, "a", optional=True, worth=3), choices=(both,))
    held = tuple(Hold(id=f"h{n}", resource="mouth", amount=2, starts=event("x.start")) for n in (1, 2))
    with pytest.raises(ValueError, match="4 of mouth are held now; there are only 2"):
        day(work("x", 5, "a"), holds=held, fixed=(Fixed(activity="x", mode="a", start=0, end=5),))


# Stages after the finish


def test_idle_gaps_are_closed_within_the_finish():
    # a works 100; b's two jobs of 10 have no order and no clock: together, with no gap, they take b 20 minutes.
    jobs = (work("x", 100, "a"), work("y", 10, "b"), work("z", 10, "b"))
    answer = solved(day(*jobs))
    assert answer.finish_min == 100
    times = when(answer)
    assert max(times["y"][1], times["z"][1]) - min(times["y"][0], times["z"][0]) == 20


def test_the_same_hands_go_on_at_the_tank():
    # Either can do x and y, as fast. In both hands each is present for 20 or one for 40: as many idle-free minutes,
    # so the hand-over decides. The clock makes the order matter: y follows x.
    either = (
        Mode(id="a", minutes=20, crew=("a",), resources={"mouth": 1}),
        Mode(id="b", minutes=20, crew=("b",), resources={"mouth": 1}),
    )
    jobs = (Activity(id="x", modes=either), Activity(id="y", modes=either, after=("x",)))
    for seed in range(1, 6):
        answer = solved(day(*jobs, handed_over_at="mouth"), effort=Effort(seed=seed))
        assert answer.finish_min == 40
        assert len({item.crew for item in answer.placed}) == 1


def test_a_replan_stays_near_the_day_before():
    # It is 30; x runs until 40. y and z of 20 can follow in either order with the same finish: before, z came first.
    jobs = (work("x", 30, "a"), work("y", 20, "a"), work("z", 20, "a"))
    facts = (Fixed(activity="x", mode="a", start=0, end=40),)
    spans = {"x": (0, 30), "y": (50, 70), "z": (30, 50)}
    before = Schedule(
        status=Status.PROVED,
        placed=tuple(Placed(activity=n, mode="a", start=s, end=e, crew=("a",)) for n, (s, e) in spans.items()),
    )
    for seed in range(1, 6):
        answer = replan_near(day(*jobs, fixed=facts, now_min=30), before, effort=Effort(seed=seed))
        assert when(answer) == {"x": (0, 40), "z": (40, 60), "y": (60, 80)}


def test_a_replan_shifts_work_by_twenty_minutes_rather_than_swap_a_person():
    # y was a's at 0. a is held up by x until 20 or 21; b could do y at once. The finish is w's, at 100, whoever does y.
    either = tuple(Mode(id=who, minutes=10, crew=(who,)) for who in ("a", "b"))
    before = Schedule(status=Status.PROVED, placed=(Placed(activity="y", mode="a", start=1, end=11, crew=("a",)),))
    for held_up, who in ((20, "a"), (22, "b")):
        jobs = (work("x", 5, "a"), Activity(id="y", modes=either), work("w", 99))
        facts = (Fixed(activity="x", mode="a", start=0, end=held_up),)
        answer = replan_near(day(*jobs, fixed=facts, now_min=1), before)
        assert next(item.crew for item in answer.placed if item.activity == "y") == (who,)


def test_the_least_relaxation_says_what_it_would_take():
    # 60 + 80 + 10 by a in a day of 120, with 50 allowed between x and z: 30 late, and 30 over (80 lie between).
    jobs = (work("x", 60, "a"), work("y", 80, "a", after=("x",)), work("z", 10, "a", after=("y",)))
    clock = Clock(id="c", starts=event("x.end"), ends=event("z.start"), limit_min=50, hard=True)
    answer = least_relaxation(day(*jobs, closes=120, clocks=(clock,)))
    assert (answer.status, answer.finish_min, answer.excess_min) == (Status.PROVED, 150, 30)
    assert answer.bound_min is None


@pytest.mark.parametrize(("late", "each", "finish", "over"), [(3, 1, 100, 20), (1, 3, 110, 0)])
def test_prices_decide_between_late_and_over(late, each, finish, over):
    # Between x and z the clock allows nothing. Either u (20) lies between them, 60 + 10 + 20 + 10 = 100, and it is 20
    # over; or y (30) before x does the same, 60 + 30 + 10 + 10 = 110, ten late.
    jobs = (
        work("w", 60, "b"),
        work("x", 10, "a", after=("w",)),
        work("u", 20, "a", after=("x",), optional=True),
        work("y", 30, "a", after=("w",), optional=True),
        work("z", 10, "a", after=("x", "u", "y")),
    )
    way = Choice(id="way", options=(Option(id="after", activities=("u",)), Option(id="before", activities=("y",))))
    first = Lag(a=event("y.end"), b=event("x.start"), minimum=0)
    clock = Clock(id="c", starts=event("x.end"), ends=event("z.start"), limit_min=0)
    problem = day(*jobs, closes=100, choices=(way,), lags=(first,), clocks=(clock,))
    answer = least_relaxation(problem, prices=Prices(late=late, clocks={"c": each}))
    assert (answer.finish_min, answer.excess_min) == (finish, over)


# Calling off


def test_a_search_that_is_called_off_at_once_has_no_day():
    answer = solve(day(work("x", 10, "a")), cancelled=lambda: True)
    assert (answer.status, answer.cancelled, answer.placed) == (Status.UNKNOWN, True, ())


def test_a_search_that_is_called_off_later_answers_with_the_best_day_so_far():
    told = []
    jobs = tuple(work(f"j{n}", 5 + n, "a" if n % 2 else "b", mouth=1) for n in range(8))
    problem = day(*jobs)
    answer = solve(problem, on_progress=told.append, cancelled=lambda: bool(told))
    assert answer.cancelled and answer.status is Status.BEST_FOUND
    assert broken_rules(problem, answer) == ()
    assert not solve(problem).cancelled


def test_progress_tells_finish_bound_and_gap():
    told = []
    solve(day(work("x", 10, "a"), work("y", 20, "a")), on_progress=told.append)
    assert told[-1] == "day of 30 min found, 30 at least, gap 0.0 %"


# All that is possible, enumerated


CLOSES = 9


@st.composite
def tiny_days(draw, *, facts=False):
    """Three short activities, and of everything else sometimes something."""

    def sometimes(one_in=3):
        return draw(st.integers(1, one_in)) == 1

    def crew(name):
        rests = []
        if sometimes(4):
            rests = [Break(minutes=1, earliest=draw(st.integers(0, 2)), latest_end=5)]
            if sometimes(2):
                rests.append(Break(minutes=1, earliest=draw(st.integers(0, 4)), latest_end=draw(st.integers(6, 9))))
        window = (draw(st.sampled_from([0, 0, 1])), CLOSES)
        windows = draw(st.sampled_from([(window,), (window,), ((0, 4), (5, CLOSES))]))
        longest = draw(st.sampled_from([None, 3, 4, 5]))
        return Person(id=name, windows=windows, rests=tuple(rests), longest_stretch_min=longest)

    jobs = []
    for number in range(3):
        modes = []
        for who in draw(st.sampled_from([("a",), ("b",), ("a", "b"), ("",), ("a", "ab")])):
            amount = draw(st.integers(0, 2))
            amounts = {"mouth": amount} if amount else {}
            least = 1 if who else 0
            modes.append(Mode(id=who, minutes=draw(st.integers(least, 3)), crew=tuple(who), resources=amounts))
        after = tuple(f"j{other}" for other in range(number) if sometimes())
        optional = sometimes(4)
        worth = draw(st.integers(0, 3)) if optional else 0
        jobs.append(Activity(id=f"j{number}", modes=tuple(modes), after=after, optional=optional, worth=worth))
    events = st.builds(lambda n, side: event(f"j{n}.{side}"), st.integers(0, 2), st.sampled_from(["start", "end"]))
    more = {"lags": (), "clocks": (), "holds": (), "outages": ()}
    if sometimes():
        more["lags"] = (Lag(a=draw(events), b=draw(events), minimum=draw(st.integers(-4, 4))),)
    if sometimes(2):
        limit, hard = draw(st.integers(0, 4)), not facts and draw(st.booleans())
        more["clocks"] = (Clock(id="c", starts=draw(events), ends=draw(events), limit_min=limit, hard=hard),)
    if sometimes(2):
        ends = draw(st.one_of(st.none(), events))
        hold = Hold(id="h", resource="mouth", amount=draw(st.integers(1, 2)), starts=draw(events), ends=ends)
        more["holds"] = (hold,)
    if sometimes():
        left = draw(st.integers(0, 6))
        span = (left, left + draw(st.integers(1, 3)))
        more["outages"] = (Outage(resource="mouth", capacity=draw(st.integers(0, 1)), spans=(span,)),)
    if facts:
        now = draw(st.integers(1, 3))
        fixed = []
        for job in jobs[: draw(st.integers(1, 2))]:
            start = draw(st.integers(0, now))
            who = draw(st.sampled_from([None, ("a",), ("b",)]))
            mode = draw(st.sampled_from(job.modes)).id
            end = start + draw(st.integers(0, 4))
            fixed.append(Fixed(activity=job.id, mode=mode, start=start, end=end, crew=who))
        more |= {"fixed": tuple(fixed), "now_min": now}
    return day(*jobs, people=(crew("a"), crew("b")), closes=CLOSES, horizon=CLOSES, **more)


def ways_to_do(problem, job):
    """Start, end, crew and mode of every way, None where it may be left out; one way only for a fact."""
    for fact in problem.fixed:
        if fact.activity == job.id:
            mode = next(mode for mode in job.modes if mode.id == fact.mode)
            return [(fact.start, fact.end, mode.crew if fact.crew is None else fact.crew, mode)]
    spots = [
        (start, start + mode.minutes, mode.crew, mode)
        for mode in job.modes
        for start in range(problem.now_min, CLOSES - mode.minutes + 1)
        if all(_here(problem, who, start, start + mode.minutes) for who in mode.crew)
    ]
    return [*spots, None] if job.optional else spots


def best(problem, then=lambda plan: 0):
    """Finish and worth left out, of days that keep all clocks if there are such, else with the minutes over added.

    Every mode, start and break is tried; a day that cannot be better than the best so far is not looked at. Returned
    are whether clocks are kept, that value, and the least of `then` among days as good; None where there is no day.
    """
    facts = {item.activity: item for item in problem.fixed}
    found = None
    for way in product(*(ways_to_do(problem, job) for job in problem.activities)):
        plan = {job.id: spot for job, spot in zip(problem.activities, way, strict=True) if spot is not None}
        over = sum(_over(clock, plan) for clock in problem.clocks if not _is_fact(clock, facts))
        value = over + max((spot[1] for spot in plan.values()), default=0)
        value += sum(job.worth for job in problem.activities if job.id not in plan)
        rank = (over > 0, value, then(plan))
        if found is not None and rank >= found:
            continue
        if _physics(problem, plan, facts) and _breaks_can_be_placed(problem, plan, facts):
            found = rank
    return found


def _breaks_can_be_placed(problem, plan, facts):
    for person in problem.people:
        spots = []
        for rest in person.rests:
            was = rest.earliest + rest.minutes == rest.latest_end and rest.earliest < problem.now_min
            first = rest.earliest if was else max(rest.earliest, problem.now_min)
            spots.append([(at, at + rest.minutes, was) for at in range(first, rest.latest_end - rest.minutes + 1)])
        if not any(_rested(problem, person, plan, breaks, facts) for breaks in product(*spots)):
            return False
    return True


def _here(problem, who, start, end):
    person = next(person for person in problem.people if person.id == who)
    return any(left <= start and end <= right for left, right in person.windows)


def _moment(plan, at):
    return plan[at.activity][0 if at.side == "start" else 1]


def _physics(problem, plan, facts):
    jobs = {job.id: job for job in problem.activities}

    def before(name):
        return {n for other in jobs[name].after for n in ({other} if other in plan else before(other))}

    for name, (start, _, _, _) in plan.items():
        if name not in facts and any(plan[other][1] > start for other in before(name)):
            return False
    for lag in problem.lags:
        if lag.a.activity in plan and lag.b.activity in plan:
            bound = lag.b if lag.minimum >= 0 else lag.a
            free = bound.activity in facts or {lag.a.activity, lag.b.activity} <= facts.keys()
            if not free and _moment(plan, lag.b) < _moment(plan, lag.a) + lag.minimum:
                return False
    for clock in problem.clocks:
        if clock.hard and _over(clock, plan) > 0:
            return False
    use = [(s, e, mode.resources.get("mouth", 0), name in facts) for name, (s, e, _, mode) in plan.items()]
    for hold in problem.holds:
        if all(at.activity in plan for at in hold.events):
            end = 99 if hold.ends is None else _moment(plan, hold.ends)
            if end < _moment(plan, hold.starts) and hold.ends.activity not in facts:
                return False
            use.append((_moment(plan, hold.starts), end, hold.amount, hold.starts.activity in facts))
    for minute in range(problem.now_min, 16):
        now = [(amount, fact) for s, e, amount, fact in use if s <= minute < e and amount]
        outs = [o.capacity for o in problem.outages for left, right in o.spans if left <= minute < right]
        if sum(amount for amount, _ in now) > min([2, *outs]) and not all(fact for _, fact in now):
            return False
    return True


def _rested(problem, person, plan, breaks, facts):
    work = [(s, e, name in facts) for name, (s, e, crew, _) in plan.items() if person.id in crew]
    if any(b[0] < a[1] for a, b in combinations(breaks, 2)):
        return False
    for (s1, e1, was1), (s2, e2, was2) in combinations([*work, *breaks], 2):
        if s1 < e2 and s2 < e1 and not (was1 and was2):
            return False
    if person.longest_stretch_min is None:
        return True
    marks = [left for left, _ in person.windows] + [end for _, end, _ in breaks]
    for start, end, was in work:
        if not was and end - max(mark for mark in marks if mark <= start) > person.longest_stretch_min:
            return False
    at_once = max([problem.now_min, *(end for _, end, was in work if was)])
    for start, _, was in breaks:
        if was or all(end <= start for _, end, _ in work):
            continue
        since = [mark for mark in marks if mark <= start]
        if not since or start > max(max(since) + person.longest_stretch_min, at_once):
            return False
    return True


def _is_fact(clock, facts):
    return clock.starts.activity in facts and clock.ends.activity in facts


def _over(clock, plan):
    if clock.starts.activity not in plan or clock.ends.activity not in plan:
        return 0
    return max(0, _moment(plan, clock.ends) - _moment(plan, clock.starts) - clock.limit_min)


def agrees(problem):
    answer = solve(problem, effort=CHEAP)
    wanted = best(problem)
    if wanted is None:
        assert answer.status is Status.IMPOSSIBLE
        return
    assert answer.status is not Status.UNKNOWN and answer.doubts == ()
    assert answer.finish_min is not None
    done = {item.activity for item in answer.placed}
    left_out = sum(job.worth for job in problem.activities if job.id not in done)
    plan = {item.activity: (item.start, item.end) for item in answer.placed}
    facts = {item.activity for item in problem.fixed}
    run_out = sum(_over(clock, plan) for clock in problem.clocks if _is_fact(clock, facts))
    over = answer.excess_min - run_out
    assert (over > 0, answer.finish_min + left_out + over) == wanted[:2]
    assert broken_rules(problem, answer) == ()


@settings(max_examples=200)
@given(tiny_days())
def test_tiny_days_are_as_good_as_any_possible_day(problem):
    agrees(problem)


@settings(max_examples=200)
@given(tiny_days(facts=True))
def test_the_rest_of_a_tiny_day_is_as_good_as_any_possible_rest(problem):
    agrees(problem)


def changes(problem, before, plan):
    """Minutes shifted, and twenty for each person swapped and each activity added or left out."""
    facts = {item.activity for item in problem.fixed}
    total = 0
    for job in problem.activities:
        if job.id in facts:
            continue
        old, new = before.get(job.id), plan.get(job.id)
        if old and new:
            swapped = max(len(set(old[2]) - set(new[2])), len(set(new[2]) - set(old[2])))
            total += abs(old[0] - new[0]) + 20 * swapped
        elif old or new:
            total += 20
    return total


@settings(max_examples=80)
@given(tiny_days(facts=True), st.data())
def test_of_equally_good_rests_of_a_day_the_nearest_is_taken(problem, data):
    # A day before that kept no rule at all is as good a test as any: the measure asks nothing of it.
    jobs = tuple(job.model_copy(update={"worth": 0}) for job in problem.activities)
    problem = problem.model_copy(update={"activities": jobs, "clocks": ()})
    before = {}
    for job in jobs:
        mode, start = data.draw(st.sampled_from(job.modes)), data.draw(st.integers(0, 6))
        if data.draw(st.integers(0, 4)):
            before[job.id] = (start, start + mode.minutes, mode.crew, mode)
    schedule = Schedule(
        status=Status.PROVED,
        placed=tuple(
            Placed(activity=name, mode=mode.id, start=start, end=end, crew=crew)
            for name, (start, end, crew, mode) in before.items()
        ),
    )
    wanted = best(problem, lambda plan: changes(problem, before, plan))
    answer = replan_near(problem, schedule)
    if wanted is None:
        assert answer.status is Status.IMPOSSIBLE
        return
    assert broken_rules(problem, answer) == ()
    plan = {item.activity: (item.start, item.end, item.crew) for item in answer.placed}
    assert (answer.finish_min, changes(problem, before, plan)) == wanted[1:]
