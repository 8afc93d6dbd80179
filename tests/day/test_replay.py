"""A plan replayed: with its own minutes it comes out as planned, with others by the order that it keeps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from slackwater.day.model import (
    Activity,
    Blackout,
    Break,
    Clock,
    DayProblem,
    Hold,
    Lag,
    Mode,
    Person,
    Placed,
    PlacedBreak,
    Resource,
    Schedule,
    Status,
    event,
)
from slackwater.day.policy import Gate, gated, policy_of, progress_gates
from slackwater.day.replay import critical_shares, latest_starts, replay
from slackwater.day.solve import Effort, Relaxed, solve
from tests.plans import day_of

HORIZON = 600


def person(name="a", windows=((0, HORIZON),), rest=None):
    return Person(id=name, windows=windows, rests=() if rest is None else (rest,))


def work(name, minutes, *crew, after=(), places=0, tags=(), optional=False):
    mode = Mode(id="m", minutes=minutes, crew=crew, resources={"mouth": places} if places else {}, tags=tags)
    return Activity(id=name, modes=(mode,), after=after, optional=optional)


def day(*activities, people=("a", "b"), capacity=2, **rest):
    return DayProblem(
        activities=activities,
        people=tuple(person(who) if isinstance(who, str) else who for who in people),
        resources=(Resource(id="mouth", capacity=capacity),),
        closes_min=300,
        horizon_min=HORIZON,
        **rest,
    )


def planned(problem, starts, breaks=()):
    """A schedule that puts activities where the test says."""
    modes = {activity.id: activity.modes[0] for activity in problem.activities}
    placed = tuple(
        Placed(activity=name, mode="m", start=start, end=start + modes[name].minutes, crew=modes[name].crew)
        for name, start in starts.items()
    )
    return Schedule(status=Status.BEST_FOUND, placed=placed, breaks=breaks)


def starts_when(problem, schedule, **minutes):
    """Starts of one day on which some activities take other minutes."""
    policy = policy_of(problem, schedule)
    taken = [minutes.get(item.activity, item.end - item.start) for item in schedule.placed]
    return dict(zip(policy.activities, replay(policy, np.array(taken)).start[0].tolist(), strict=True))


def comes_out_as_planned(problem, schedule):
    policy = policy_of(problem, schedule)
    minutes = np.array([item.end - item.start for item in schedule.placed])
    replayed = replay(policy, np.stack([minutes, minutes]))
    for times in (replayed.start, replayed.end):
        assert times.shape == (2, len(schedule.placed))
    assert replayed.start.tolist() == [[item.start for item in schedule.placed]] * 2
    assert replayed.end.tolist() == [[item.end for item in schedule.placed]] * 2
    assert replayed.at[2 * len(schedule.placed) :: 2, 0].tolist() == [rest.start for rest in schedule.breaks]


@pytest.mark.parametrize("example", ["blue-corridor", "harbour-line", "light-well"])
def test_an_example_day_comes_out_as_planned(example):
    problem, schedule, _ = day_of(example)
    comes_out_as_planned(problem, schedule)


@st.composite
def small_days(draw):
    names = [f"j{i}" for i in range(draw(st.integers(1, 5)))]
    jobs = []
    for i, name in enumerate(names):
        after = tuple(earlier for earlier in names[:i] if draw(st.integers(0, 3)) == 0)
        crew = draw(st.sampled_from([("a",), ("b",), ("a", "b"), ()]))
        tags = draw(st.sampled_from([(), ("noisy",)]))
        jobs.append(
            work(name, draw(st.integers(0, 6)) * 5, *crew, after=after, places=draw(st.integers(0, 2)), tags=tags)
        )
    event_text = st.sampled_from([f"{name}.{side}" for name in names for side in ("start", "end")])
    lags = []
    if len(names) > 1 and draw(st.booleans()):
        lags = [
            Lag(
                a=event(f"{names[0]}.{draw(st.sampled_from(['start', 'end']))}"),
                b=event(f"{names[-1]}.end"),
                minimum=40,
            )
        ]
    clocks = [
        Clock(
            id=f"c{i}", starts=event(draw(event_text)), ends=event(draw(event_text)), limit_min=draw(st.integers(0, 60))
        )
        for i in range(draw(st.integers(0, 2)))
    ]
    people = (
        person(
            "a",
            windows=((draw(st.integers(0, 2)) * 10, 120), (150, HORIZON)),
            rest=Break(minutes=15, earliest=20, latest_end=200),
        ),
        person("b"),
    )
    blackouts = (Blackout(reason="exam", tag="noisy", spans=((30, 55), (55, 70))),)
    return day(*jobs, people=people, lags=tuple(lags), clocks=tuple(clocks), blackouts=blackouts)


@settings(max_examples=40, deadline=None)
@given(small_days(), st.integers(1, 3))
def test_any_solved_day_comes_out_as_planned(problem, seed):
    schedule = solve(
        problem, effort=Effort(excess=0.05, finish=0.05, exposure=0.02, seed=seed), relaxed=Relaxed(closing=True)
    )
    assume(schedule.finish_min is not None)
    comes_out_as_planned(problem, schedule)


@settings(max_examples=25, deadline=None)
@given(small_days(), st.lists(st.integers(0, 60), min_size=5, max_size=5))
def test_whatever_the_minutes_order_people_and_places_are_kept(problem, other):
    schedule = solve(problem, effort=Effort(excess=0.05, finish=0.02, exposure=0.0), relaxed=Relaxed(closing=True))
    assume(schedule.finish_min is not None)
    replayed = replay(policy_of(problem, schedule), np.array(other[: len(schedule.placed)]))
    at = {
        item.activity: (start, end)
        for item, start, end in zip(schedule.placed, replayed.start[0], replayed.end[0], strict=True)
    }
    activities = {activity.id: activity for activity in problem.activities}
    for name, activity in activities.items():
        assert all(at[before][1] <= at[name][0] for before in activity.after)
    for lag in problem.lags:
        assert at[lag.b.activity][1] - at[lag.a.activity][lag.a.side == "end"] >= lag.minimum
    spans = [(*at[name], activity.modes[0]) for name, activity in activities.items()]
    breaks = {
        rest.person: replayed.at[2 * (len(at) + i) : 2 * (len(at) + i) + 2, 0] for i, rest in enumerate(schedule.breaks)
    }
    for moment in sorted({start for start, _, _ in spans}):
        now = [mode for start, end, mode in spans if start <= moment < end]
        assert sum(mode.resources.get("mouth", 0) for mode in now) <= 2
        for who in ("a", "b"):
            resting = who in breaks and breaks[who][0] <= moment < breaks[who][1]
            assert sum(who in mode.crew for mode in now) + resting <= 1


def test_people_and_full_places_hand_on_in_the_planned_order():
    # y waits for x's hands, z for y's places; all by the plan's order, although z could go first.
    problem = day(work("x", 10, "a"), work("y", 20, "a", places=2), work("z", 30, "b", places=1))
    schedule = planned(problem, {"x": 0, "y": 10, "z": 30})
    assert starts_when(problem, schedule, x=25) == {"x": 0, "y": 25, "z": 45}
    assert starts_when(problem, schedule, y=5) == {"x": 0, "y": 10, "z": 15}


def test_a_free_place_is_taken_before_one_that_could_be_late():
    # Three places, one each: u and v hand on nothing to w, because the third place is free.
    problem = day(
        work("u", 10, "a", places=1),
        work("v", 20, "b", places=1),
        work("w", 5, "c", places=1),
        people=("a", "b", "c"),
        capacity=3,
    )
    schedule = planned(problem, {"u": 0, "v": 0, "w": 20})
    # Planned at 20 for a reason of its own, so it stays there.
    assert starts_when(problem, schedule, u=90, v=90) == {"u": 0, "v": 0, "w": 20}


def test_a_place_is_taken_over_from_what_comes_before_anyhow():
    # Two places: w comes after u, so it takes u's place although v's is free longer, and a late v does not hold it.
    problem = day(work("u", 10, "a", places=1), work("v", 5, "b", places=1), work("w", 5, "a", places=1, after=("u",)))
    schedule = planned(problem, {"u": 0, "v": 0, "w": 10})
    assert starts_when(problem, schedule, v=100)["w"] == 10
    assert starts_when(problem, schedule, u=100)["w"] == 100


@pytest.mark.parametrize("who", ["a", "b"])
def test_a_minimum_wait_goes_with_what_it_hangs_on(who):
    # Whether the same hands do it or others.
    problem = day(work("x", 10, "a"), work("y", 10, who), lags=(Lag(a=event("x.end"), b=event("y.start"), minimum=30),))
    schedule = planned(problem, {"x": 0, "y": 40})
    assert starts_when(problem, schedule, x=15)["y"] == 45
    assert starts_when(problem, schedule, x=5)["y"] == 35


def test_a_wait_for_an_end_keeps_the_crew_until_then():
    # y may end 30 after x ends; if x is 20 late, y ends 20 later and its hands come to z only then.
    problem = day(
        work("x", 10, "a"),
        work("y", 35, "b"),
        work("z", 5, "b"),
        lags=(Lag(a=event("x.end"), b=event("y.end"), minimum=30),),
    )
    schedule = planned(problem, {"x": 0, "y": 5, "z": 40})
    assert starts_when(problem, schedule, x=30) == {"x": 0, "y": 5, "z": 60}


def test_what_is_kept_from_an_end_holds_that_end_until_it_is_free():
    # One barrel: full from x's end until y ends; then w's end needs it. A late y makes w last, and v wait for w's hands.
    activities = (
        work("x", 10, "a"),
        work("y", 20, "a", after=("x",)),
        work("w", 30, "b"),
        work("v", 5, "b", after=("w",)),
    )
    held = (
        Hold(id="first", resource="mouth", amount=1, starts=event("x.end"), ends=event("y.end")),
        Hold(id="second", resource="mouth", amount=1, starts=event("w.end"), ends=event("v.end")),
    )
    problem = day(*activities, capacity=1, holds=held)
    schedule = planned(problem, {"x": 0, "y": 10, "w": 0, "v": 30})
    policy = policy_of(problem, schedule)
    replayed = replay(policy, np.array([10.0, 50.0, 30.0, 5.0]))
    assert replayed.end[0].tolist() == [10, 60, 60, 65]
    assert replayed.start[0].tolist() == [0, 10, 0, 60]
    # Without the barrel nothing of this, nor with another that is not short.
    assert starts_when(day(*activities, capacity=1), schedule, y=50)["v"] == 30
    assert starts_when(day(*activities, capacity=2, holds=held), schedule, y=50)["v"] == 30


def test_a_break_keeps_its_place_in_the_work_and_is_not_early():
    rest = Break(minutes=15, earliest=30, latest_end=90)
    problem = day(work("x", 30, "a"), work("y", 20, "a"), people=(person(rest=rest),))
    schedule = planned(problem, {"x": 0, "y": 45}, breaks=(PlacedBreak(person="a", start=30, end=45),))
    assert starts_when(problem, schedule, x=50)["y"] == 65
    assert starts_when(problem, schedule, x=10)["y"] == 45


def test_work_that_would_reach_into_quiet_hours_waits_for_their_end():
    problem = day(
        work("x", 10, "a"),
        work("y", 20, "a", tags=("noisy",)),
        blackouts=(Blackout(reason="exam", tag="noisy", spans=((40, 70),)),),
    )
    schedule = planned(problem, {"x": 0, "y": 10})
    assert starts_when(problem, schedule, x=20)["y"] == 20
    assert starts_when(problem, schedule, x=21)["y"] == 70
    # Its real minutes are not known when it starts: 25 instead of 20 reach into the quiet hours.
    assert starts_when(problem, schedule, x=20, y=25)["y"] == 20


def test_who_does_not_come_back_stays():
    problem = day(work("x", 10, "a"), work("y", 20, "a"), people=(person(windows=((0, 40),)),))
    assert starts_when(problem, planned(problem, {"x": 0, "y": 10}), x=35)["y"] == 35


def test_a_clock_opener_waits_for_its_planned_time_and_other_work_does_not():
    problem = day(
        work("x", 20, "a"),
        work("y", 10, "a", after=("x",)),
        work("z", 10, "a", after=("y",)),
        clocks=(Clock(id="c", starts=event("y.start"), ends=event("z.end"), limit_min=60),),
    )
    schedule = planned(problem, {"x": 0, "y": 20, "z": 30})
    assert starts_when(problem, schedule, x=5) == {"x": 0, "y": 20, "z": 30}
    without = problem.model_copy(update={"clocks": ()})
    assert starts_when(without, schedule, x=5) == {"x": 0, "y": 5, "z": 15}


def test_a_restart_stays_within_its_clock():
    problem = day(
        work("x", 10, "a"),
        work("r", 5, "b", optional=True),
        work("z", 10, "a"),
        clocks=(Clock(id="c", starts=event("x.start"), ends=event("z.start"), limit_min=30, restarts=("r",)),),
    )
    schedule = planned(problem, {"x": 0, "r": 25, "z": 50})
    assert starts_when(problem, schedule, r=40)["z"] == 65


def test_order_reaches_across_optional_work_that_is_left_out():
    problem = day(work("x", 10, "a"), work("o", 5, "a", after=("x",), optional=True), work("z", 10, "b", after=("o",)))
    assert starts_when(problem, planned(problem, {"x": 0, "z": 10}), x=30)["z"] == 30


def test_a_schedule_against_its_own_order_is_refused():
    problem = day(work("x", 10, "a"), work("y", 10, "b", after=("x",)))
    with pytest.raises(ValueError, match="the start of y comes too soon after the end of x"):
        policy_of(problem, planned(problem, {"x": 0, "y": 9}))


@pytest.mark.parametrize("minutes", [[1.0], [[1.0, 2.0, 3.0]], [1.0, -1.0], [1.0, float("nan")]])
def test_minutes_that_do_not_fit_the_policy_are_refused(minutes):
    problem = day(work("x", 10, "a"), work("y", 10, "a"))
    with pytest.raises(ValueError, match="minutes"):
        replay(policy_of(problem, planned(problem, {"x": 0, "y": 10})), np.array(minutes))


def test_the_longer_of_two_paths_is_critical_and_both_when_they_are_equal():
    problem = day(work("x", 10, "a"), work("y", 20, "b"), work("z", 5, "a", after=("x", "y")))
    policy = policy_of(problem, planned(problem, {"x": 0, "y": 0, "z": 20}))
    minutes = np.array([[10.0, 20, 5], [30, 20, 5], [20, 20, 5], [1, 2, 5]])
    shares = critical_shares(policy, minutes, replay(policy, minutes))
    # y, x, both, y.
    assert shares == {"x": 0.5, "y": 0.75, "z": 1.0}


def test_work_before_a_planned_time_that_holds_is_not_critical():
    problem = day(work("x", 10, "a"), work("y", 10, "a", after=("x",)))
    policy = policy_of(problem, planned(problem, {"x": 0, "y": 40}))
    minutes = np.array([[10.0, 10], [50, 10]])
    assert critical_shares(policy, minutes, replay(policy, minutes)) == {"x": 0.5, "y": 1.0}


@settings(max_examples=25, deadline=None)
@given(small_days(), st.lists(st.integers(0, 60), min_size=5, max_size=5), st.integers(0, 4))
def test_a_minute_more_of_critical_work_and_of_no_other_delays_the_finish(problem, other, which):
    schedule = solve(problem, effort=Effort(excess=0.05, finish=0.02, exposure=0.0), relaxed=Relaxed(closing=True))
    assume(schedule.finish_min is not None)
    policy = policy_of(problem, schedule)
    minutes = np.array(other[: len(schedule.placed)], dtype=float)
    before = replay(policy, minutes)
    shares = critical_shares(policy, minutes, before)
    which %= len(minutes)
    longer = minutes.copy()
    # A thousandth of a minute: more could reach into shut hours, which no path shows.
    longer[which] += 1e-3
    delay = replay(policy, longer).finish[0] - before.finish[0]
    if shares[policy.activities[which]]:
        assert delay > 5e-4
    elif not any(policy.shut_starts):
        assert delay < 1e-9


def test_the_latest_start_leaves_room_for_what_follows_and_for_quiet_hours():
    problem = day(
        work("x", 10, "a"),
        work("y", 20, "a", after=("x",), tags=("noisy",)),
        blackouts=(Blackout(reason="exam", tag="noisy", spans=((250, 299),)),),
    )
    policy = policy_of(problem, planned(problem, {"x": 0, "y": 10}))
    # Closing 300: y of 20 must start by 280, but from 230 on it waits until 299; x ends by 230. With y of 1 minute
    # 299 would do for y.
    assert latest_starts(policy, np.array([[10.0, 20], [10, 1]]), closes_min=300).tolist() == [[220, 230], [289, 299]]
    # y is planned at 10; closing at 25 cannot be met by any start of x.
    late = policy_of(problem, planned(problem, {"x": 0, "y": 50}))
    assert latest_starts(late, np.array([10.0, 20]), closes_min=60).tolist() == [[-np.inf, 40]]


@settings(max_examples=25, deadline=None)
@given(small_days(), st.lists(st.integers(0, 40), min_size=5, max_size=5), st.integers(60, 250))
def test_all_closes_in_time_exactly_when_everything_starts_by_its_latest(problem, other, closes):
    schedule = solve(problem, effort=Effort(excess=0.05, finish=0.02, exposure=0.0), relaxed=Relaxed(closing=True))
    assume(schedule.finish_min is not None)
    policy = policy_of(problem, schedule)
    minutes = np.array(other[: len(schedule.placed)], dtype=float)
    replayed = replay(policy, minutes)
    in_time = (replayed.start <= latest_starts(policy, minutes, closes_min=closes) + 1e-9).all()
    assert in_time == (replayed.finish[0] <= closes + 1e-9)


def _rinse_day():
    """b opens the filter at 30, after packing; a's rinse, done at 28, and refill come before its closing."""
    problem = day(
        work("strip", 18, "a"),
        work("rinse", 10, "a", after=("strip",)),
        work("refill", 20, "a", after=("rinse",)),
        work("pack", 15, "b"),
        work("open", 10, "b"),
        work("close", 5, "b", after=("refill", "open")),
        clocks=(Clock(id="media", starts=event("open.start"), ends=event("close.start"), limit_min=25),),
    )
    return problem, planned(problem, {"strip": 0, "rinse": 18, "refill": 28, "pack": 15, "open": 30, "close": 48})


def test_the_gate_is_the_last_step_towards_the_closing_that_adds_a_wait():
    # Packing ends last before the opening, but b packs and opens: that wait is there anyhow.
    problem, schedule = _rinse_day()
    gates = progress_gates(policy_of(problem, schedule), problem)
    assert gates == (Gate(clock="media", opener="open", after="rinse", adds_a_wait=True),)


def test_a_gate_that_the_order_keeps_anyhow_says_so():
    problem = day(
        work("x", 20, "a"),
        work("y", 10, "a", after=("x",)),
        work("z", 10, "a", after=("y",)),
        clocks=(Clock(id="c", starts=event("y.start"), ends=event("z.end"), limit_min=60),),
    )
    policy = policy_of(problem, planned(problem, {"x": 0, "y": 20, "z": 30}))
    assert progress_gates(policy, problem) == (Gate(clock="c", opener="y", after="x", adds_a_wait=False),)


def test_behind_a_gate_a_late_rinse_opens_the_filter_late_and_an_early_one_not_early():
    problem, schedule = _rinse_day()
    policy = policy_of(problem, schedule)
    waiting = gated(policy, progress_gates(policy, problem))
    at = policy.activities.index("open")
    late = np.array([20.0, 40, 20, 15, 10, 5])
    assert replay(policy, late).start[0, at] == 30
    assert replay(waiting, late).start[0, at] == 60
    early = np.array([5.0, 5, 20, 15, 10, 5])
    assert replay(waiting, early).start[0, at] == 30


@settings(max_examples=25, deadline=None)
@given(small_days(), st.lists(st.integers(0, 60), min_size=5, max_size=5))
def test_no_clock_opens_before_its_planned_time_with_or_without_gates(problem, other):
    schedule = solve(problem, effort=Effort(excess=0.05, finish=0.02, exposure=0.0), relaxed=Relaxed(closing=True))
    assume(schedule.finish_min is not None)
    policy = policy_of(problem, schedule)
    waiting = gated(policy, progress_gates(policy, problem))
    minutes = np.array(other[: len(schedule.placed)])
    for each in (policy, waiting):
        starts = replay(each, minutes).start[0]
        for clock in problem.clocks:
            opener = policy.activities.index(clock.starts.activity)
            assert starts[opener] >= schedule.placed[opener].start
    assert (replay(waiting, minutes).start >= replay(policy, minutes).start).all()
