"""Simulated days against closed forms: sums, maxima, counts; and what must hold whatever the draws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import beta

from slackwater.day.activities import Minutes
from slackwater.day.model import (
    Activity,
    Blackout,
    Clock,
    DayProblem,
    Lag,
    Mode,
    Person,
    Placed,
    Schedule,
    Status,
    event,
)
from slackwater.day.policy import policy_of
from slackwater.day.replay import critical_shares, latest_starts, replay
from slackwater.day.risk import choose_robust, draw_minutes, draw_waits, pert, simulate
from slackwater.job.catalog import Mishap, load_catalog
from tests.plans import day_of

DAYS = 40_000
MISHAPS = tuple(load_catalog().mishaps.values())


def work(name, minutes, *crew, after=(), tags=()):
    return Activity(id=name, modes=(Mode(id="m", minutes=minutes, crew=crew, tags=tags),), after=after)


def day(*activities, closes=300, windows=((0, 900),), **rest):
    crew = sorted({who for activity in activities for who in activity.modes[0].crew})
    people = tuple(Person(id=who, windows=windows) for who in crew)
    return DayProblem(activities=activities, people=people, closes_min=closes, horizon_min=900, **rest)


def planned(problem, **starts):
    modes = {activity.id: activity.modes[0] for activity in problem.activities}
    placed = tuple(
        Placed(activity=name, mode="m", start=start, end=start + modes[name].minutes, crew=modes[name].crew)
        for name, start in starts.items()
    )
    return Schedule(status=Status.BEST_FOUND, placed=placed)


def series():
    problem = day(work("x", 30, "a"), work("y", 20, "a", after=("x",)), work("z", 40, "a", after=("y",)))
    return problem, planned(problem, x=0, y=30, z=50)


SPANS = {"x": Minutes(20, 30, 70), "y": Minutes(10, 20, 30), "z": Minutes(40, 40, 100)}


def mishap(activity="x", probability=0.25, low=10.0, typical=20.0, high=60.0):
    return Mishap(
        id="m",
        activity=activity,
        what="",
        probability=probability,
        extra_low_min=low,
        extra_typical_min=typical,
        extra_high_min=high,
        source_kind="from memory",
    )


def finishes(problem, schedule, spans, mishaps=(), seed=1, pace_sigma=0.0, days=DAYS):
    minutes = draw_minutes(
        problem, schedule, spans, mishaps, np.random.default_rng(seed), days=days, pace_sigma=pace_sigma
    )
    return replay(policy_of(problem, schedule), minutes).finish


def agrees(sample, mean):
    assert abs(sample.mean() - mean) < 4 * sample.std(ddof=1) / math.sqrt(sample.size)


def pert_variance(span):
    # Of a beta distribution of shape 1 + 4 (m - l)/w, 1 + 4 (h - m)/w: (mean - l)(h - mean) / 7.
    return (span.expected - span.low) * (span.high - span.expected) / 7


def test_a_series_takes_the_sum_of_its_means_with_the_sum_of_its_variances():
    problem, schedule = series()
    sample = finishes(problem, schedule, SPANS)
    agrees(sample, (20 + 4 * 30 + 70) / 6 + (10 + 4 * 20 + 30) / 6 + (40 + 4 * 40 + 100) / 6)
    # The squared deviations are themselves a sample whose mean is the variance.
    mean = sum(span.expected for span in SPANS.values())
    agrees((sample - mean) ** 2, sum(pert_variance(span) for span in SPANS.values()))


def test_two_chains_side_by_side_take_the_mean_of_the_longer():
    problem = day(work("x", 30, "a"), work("y", 35, "b"), work("end", 0, "a", "b", after=("x", "y")))
    spans = {"x": Minutes(20, 30, 70), "y": Minutes(30, 35, 60)}
    sample = finishes(problem, planned(problem, x=0, y=0, end=35), spans)
    # E max = 70 - integral from 0 to 70 of F_x F_y.
    x = beta(1 + 4 * 10 / 50, 1 + 4 * 40 / 50, loc=20, scale=50)
    y = beta(1 + 4 * 5 / 30, 1 + 4 * 25 / 30, loc=30, scale=30)
    lost, _ = quad(lambda t: x.cdf(t) * y.cdf(t), 0, 70, points=[20, 30, 60])
    agrees(sample, 70 - lost)


def test_the_pace_of_a_day_is_shared_by_all_work_and_waits_do_not_follow_it():
    problem = day(work("x", 30, "a"), work("y", 20, "a", after=("x",)), work("wait", 40, after=("y",)))
    fixed = {"x": Minutes(30, 30, 30), "y": Minutes(20, 20, 20), "wait": Minutes(40, 40, 40)}
    sample = finishes(problem, planned(problem, x=0, y=30, wait=50), fixed, pace_sigma=0.2)
    # A lognormal of median 1 has mean exp(s^2 / 2) and variance (exp(s^2) - 1) exp(s^2).
    agrees(sample, 50 * math.exp(0.02) + 40)
    agrees((sample - 50 * math.exp(0.02) - 40) ** 2, 2500 * (math.exp(0.04) - 1) * math.exp(0.04))


def dripping(spread, *, apart=False):
    """Ten minutes of work, a wait of 30, then a release of 10 by somebody else; beside it a second one if asked."""
    works = [work("x", 10, "a"), work("y", 10, "b", after=("x",)), *([work("z", 10, "c", after=("x",))] * apart)]
    lags = tuple(Lag(a=event("x.end"), b=event(f"{item.id}.start"), minimum=30, spread=spread) for item in works[1:])
    problem = day(*works, lags=lags)
    return problem, planned(problem, x=0, y=40, **({"z": 40} if apart else {}))


def test_a_wait_with_a_spread_lengthens_the_day_by_its_mean_and_does_not_follow_the_pace():
    problem, schedule = dripping((20.0, 70.0))
    risk = simulate(problem, schedule, {}, (), np.random.default_rng(3), days=DAYS)
    fixed = simulate(*dripping(None), {}, (), np.random.default_rng(3), days=DAYS)
    # PERT of 20, 30, 70: mean 35, standard deviation sqrt(15 x 35 / 7), nine minutes. The same paces in both.
    longer = risk.as_planned.finish_mean_min - fixed.as_planned.finish_mean_min
    assert abs(longer - 5) < 4 * math.sqrt(15 * 35 / 7 / DAYS)
    waits = draw_waits(problem, np.random.default_rng(3), days=DAYS)
    assert waits.shape == (DAYS, 1) and waits.min() >= 20 and waits.max() <= 70
    assert draw_waits(dripping(None)[0], np.random.default_rng(3), days=5).shape == (5, 0)


def test_what_comes_after_one_wait_sees_the_same_wait():
    problem, schedule = dripping((20.0, 70.0), apart=True)
    waits = draw_waits(problem, np.random.default_rng(4), days=50)
    assert waits.shape == (50, 1)
    start = replay(policy_of(problem, schedule), np.full((50, 3), 10.0), waits).start
    assert start[:, 1] == pytest.approx(10 + waits[:, 0]) and start[:, 2] == pytest.approx(start[:, 1])


def test_a_wait_delays_what_is_critical_and_leaves_less_before_closing():
    problem, schedule = dripping((20.0, 70.0))
    policy, minutes, waits = policy_of(problem, schedule), np.full((2, 2), 10.0), np.array([[25.0], [60.0]])
    replayed = replay(policy, minutes, waits)
    assert replayed.finish.tolist() == [45, 80]
    assert critical_shares(policy, minutes, replayed, waits) == {"x": 1.0, "y": 1.0}
    # Closing at 300: ten minutes of release, the wait, ten minutes of work.
    assert latest_starts(policy, minutes, waits, closes_min=300)[:, 0].tolist() == [255, 220]


@pytest.mark.parametrize("waits", [np.zeros((2, 2)), np.full((2, 1), -1.0), np.full((2, 1), math.nan)])
def test_waits_of_another_shape_or_below_zero_are_refused(waits):
    with pytest.raises(ValueError, match="waits"):
        replay(policy_of(*dripping((20.0, 70.0))), np.full((2, 2), 10.0), waits)


@pytest.mark.parametrize("spread", [(40.0, 70.0), (20.0, 25.0), (-1.0, 70.0)])
def test_a_wait_must_run_upwards(spread):
    with pytest.raises(ValueError, match="upwards"):
        dripping(spread)


def test_a_mishap_strikes_as_often_and_as_long_as_its_row_says():
    problem, schedule = series()
    sample = finishes(problem, schedule, {}, [mishap()])
    late = sample - 90
    agrees((late > 0).astype(float), 0.25)
    agrees(late, 0.25 * (10 + 4 * 20 + 60) / 6)
    assert late[late > 0].min() >= 10 and late.max() <= 60


def test_the_likeliest_minutes_are_the_planned_ones_whatever_the_crew():
    # 30 typical for the catalog's crew, 45 for this one: low and high are half as long again, 30 and 105.
    problem = day(work("x", 45, "a"))
    sample = finishes(problem, planned(problem, x=0), {"x": Minutes(20, 30, 70)})
    agrees(sample, (30 + 4 * 45 + 105) / 6)
    assert sample.min() >= 30 and sample.max() <= 105


def test_without_spread_pace_and_mishaps_every_day_is_the_plan():
    problem, schedule, spans = day_of("blue-corridor")
    flat = {name: Minutes(span.typical, span.typical, span.typical) for name, span in spans.items()}
    minutes = draw_minutes(problem, schedule, flat, (), np.random.default_rng(1), days=3, pace_sigma=0.0)
    assert minutes == pytest.approx(np.array([[item.end - item.start for item in schedule.placed]] * 3), abs=1e-9)
    policy = policy_of(problem, schedule)
    # The likeliest waits are the planned ones: at the peroxide and at the dripping.
    likely = np.array([[planned_min for _, planned_min, _ in policy.waits]] * 3, dtype=float)
    assert {at.activity for at, *_ in policy.waits} == {"E14", "E27"} and len(policy.waiting) >= 2
    ends = replay(policy, minutes, likely).end
    assert ends == pytest.approx(np.array([[item.end for item in schedule.placed]] * 3), abs=1e-9)


def test_the_same_seed_gives_the_same_odds_and_another_seed_others():
    problem, schedule, spans = day_of("blue-corridor")

    def risk(seed):
        return simulate(problem, schedule, spans, MISHAPS, np.random.default_rng(seed), days=500, hold_points=["E20"])

    assert risk(1) == risk(1)
    assert risk(1).as_planned.finish_p50_min != risk(2).as_planned.finish_p50_min


def test_later_closing_is_never_less_likely_to_be_met():
    problem, schedule, spans = day_of("blue-corridor")

    def risk(closes):
        longer = problem.model_copy(update={"closes_min": closes})
        return simulate(longer, schedule, spans, MISHAPS, np.random.default_rng(1), days=2000, hold_points=["E26"])

    risks = [risk(closes) for closes in range(700, 1700, 60)]
    for odds in (
        [each.as_planned.done_by_closing.share for each in risks],
        [each.as_planned.everything_holds.share for each in risks],
        [each.with_gates.everything_holds.share for each in risks],
        [each.latest_start_min["E26"] for each in risks],
    ):
        assert odds == sorted(odds)
    shares = [each.as_planned.done_by_closing.share for each in risks]
    assert shares[0] < 0.1 and shares[-1] > 0.9


def test_odds_are_counted_with_their_standard_error():
    # x is a single span of 0 to 60 with mode 0: P(x <= 20) = 1 - (1 - 1/3)^5 for a beta of shapes 1 and 5.
    problem = day(work("fixed", 1, "a"), work("x", 1, "a", after=("fixed",)), closes=21)
    spans = {"x": Minutes(0, 1e-9, 60e-9)}
    schedule = planned(problem, fixed=0, x=1)
    # Scaled so that the mode is the planned minute, 1e-9 becomes 1: spread 0 to 60, mode 1.
    risk = simulate(problem, schedule, spans, (), np.random.default_rng(5), days=DAYS)
    shapes = beta(1 + 4 / 60, 1 + 4 * 59 / 60, scale=60)
    pace = np.random.default_rng(6).standard_normal(200_000)
    share = shapes.cdf(20 / np.exp(0.08 * pace)).mean()
    chance = risk.as_planned.done_by_closing
    assert chance.standard_error == pytest.approx(math.sqrt(share * (1 - share) / DAYS), rel=0.02)
    assert abs(chance.share - share) < 4 * chance.standard_error


def test_all_of_a_series_is_critical_on_every_day():
    problem, schedule = series()
    risk = simulate(problem, schedule, SPANS, (), np.random.default_rng(1), days=300)
    assert risk.critical_shares == {"x": 1.0, "y": 1.0, "z": 1.0}


def test_the_critical_one_of_two_equal_chains_is_a_coin_toss():
    problem = day(work("x", 30, "a"), work("y", 30, "b"))
    spans = {"x": Minutes(20, 30, 70), "y": Minutes(20, 30, 70)}
    shares = simulate(
        problem, planned(problem, x=0, y=0), spans, (), np.random.default_rng(3), days=DAYS
    ).critical_shares
    assert shares["x"] + shares["y"] == pytest.approx(1)
    assert abs(shares["x"] - 0.5) < 4 * 0.5 / math.sqrt(DAYS)


def test_a_clock_is_over_as_often_as_what_lies_between_lasts_too_long():
    # From the end of x to the start of z lies y only: 20 to 60, mode 20, so P(y <= 30) = 1 - (1 - 1/4)^5.
    problem = day(
        work("x", 30, "a"),
        work("y", 20, "a", after=("x",)),
        work("z", 10, "a", after=("y",)),
        clocks=(Clock(id="c", starts=event("x.end"), ends=event("z.start"), limit_min=30),),
    )
    schedule = planned(problem, x=0, y=30, z=50)
    spans = {"y": Minutes(20, 20, 60)}
    risk = simulate(problem, schedule, spans, (mishap("z", 1.0, 1, 1, 1),), np.random.default_rng(2), days=DAYS)
    (clock,) = risk.as_planned.clocks
    pace = np.exp(0.08 * np.random.default_rng(6).standard_normal(100_000))
    share = beta(1, 5, loc=20, scale=40).cdf(30 / pace).mean()
    assert abs(clock.kept.share - share) < 4 * clock.kept.standard_error + 4 * 0.2 / math.sqrt(100_000)
    assert risk.as_planned.everything_holds == clock.kept
    # 95 of 100 days are not over by more.
    drawn = draw_minutes(problem, schedule, spans, (), np.random.default_rng(2), days=DAYS)[:, 1]
    assert np.mean(drawn - 30 > clock.excess_p95_min) == pytest.approx(0.05, abs=1e-3)


def test_two_pieces_of_a_clock_are_over_together():
    # 10 over before the restart and 20 after it, on every day.
    problem = day(
        work("x", 10, "a"),
        work("y", 30, "a", after=("x",)),
        Activity(id="r", modes=(Mode(id="m", minutes=5, crew=("a",)),), after=("y",), optional=True),
        work("v", 40, "a", after=("y",)),
        work("z", 5, "a", after=("v",)),
        clocks=(Clock(id="c", starts=event("x.end"), ends=event("z.start"), limit_min=20, restarts=("r",)),),
    )
    risk = simulate(problem, planned(problem, x=0, y=10, r=40, v=45, z=85), {}, (), np.random.default_rng(1), days=10)
    (clock,) = risk.as_planned.clocks
    assert (clock.kept.share, clock.excess_p95_min) == (0, 30)


def test_a_late_start_in_hours_that_are_shut_counts():
    problem = day(
        work("x", 10, "a"),
        work("y", 20, "a", after=("x",), tags=("noisy",)),
        blackouts=(Blackout(reason="exam", tag="noisy", spans=((40, 70),)),),
    )
    schedule = planned(problem, x=0, y=10)
    # y strikes 5 minutes more on a quarter of the days, to 35: kept. 15 more, to 45: into the quiet hours.
    for extra, share in ((5.0, 1.0), (15.0, 0.75)):
        risk = simulate(
            problem, schedule, {}, (mishap("y", 0.25, extra, extra, extra),), np.random.default_rng(1), days=DAYS
        )
        kept = risk.as_planned.hours_kept
        assert abs(kept.share - share) <= 4 * kept.standard_error
        assert risk.as_planned.everything_holds == kept
    gone = day(work("x", 10, "a"), work("y", 20, "a", after=("x",)), windows=((0, 32),))
    risk = simulate(gone, planned(gone, x=0, y=10), {}, (mishap("x", 1.0, 5, 5, 5),), np.random.default_rng(1), days=5)
    assert risk.as_planned.hours_kept.share == 0


def test_the_latest_start_of_a_hold_point_leaves_nine_of_ten_days():
    # After the start of y come y and z; their minutes are drawn again here, and 90 % of the sums fit.
    problem, schedule = series()
    risk = simulate(
        problem, schedule, SPANS, (), np.random.default_rng(1), days=DAYS, hold_points=["y", "z", "not there"]
    )
    rng = np.random.default_rng(7)
    pace = np.exp(0.08 * rng.standard_normal(200_000))
    rest = pace * (pert(SPANS["y"], rng, 200_000) + pert(SPANS["z"], rng, 200_000))
    assert set(risk.latest_start_min) == {"y", "z"}
    assert risk.latest_start_min["y"] == pytest.approx(300 - np.quantile(rest, 0.9), abs=1.5)
    never = simulate(
        problem.model_copy(update={"closes_min": 60}), schedule, SPANS, (), np.random.default_rng(1), hold_points=["y"]
    )
    assert never.latest_start_min == {"y": None}


def test_a_gate_keeps_a_filter_from_waiting_for_a_late_rinse():
    # open and close need 10 minutes, but close waits for rinse and refill: only a late rinse exposes the filter.
    problem = day(
        work("strip", 20, "a"),
        work("rinse", 10, "a", after=("strip",)),
        work("refill", 20, "a", after=("rinse",)),
        work("open", 10, "b"),
        work("close", 5, "b", after=("refill", "open")),
        clocks=(Clock(id="media", starts=event("open.start"), ends=event("close.start"), limit_min=25),),
    )
    schedule = planned(problem, strip=0, rinse=20, refill=30, open=30, close=50)
    # The rinse takes 20 minutes more on a quarter of the days: then 40 instead of 20 lie between, unless gated.
    risk = simulate(problem, schedule, {}, (mishap("rinse", 0.25, 20, 20, 20),), np.random.default_rng(1), days=DAYS)
    (before,), (after,) = risk.as_planned.clocks, risk.with_gates.clocks
    assert abs(before.kept.share - 0.75) < 4 * before.kept.standard_error
    assert after.kept.share == 1.0
    assert risk.with_gates.done_by_closing == risk.as_planned.done_by_closing


def test_the_plan_chosen_is_the_one_that_holds_and_is_reported_on_other_days():
    problem = day(
        work("x", 10, "a"),
        work("y", 40, "b"),
        work("z", 10, "a", after=("x", "y")),
        clocks=(Clock(id="c", starts=event("x.start"), ends=event("z.start"), limit_min=30),),
    )
    tight, loose = planned(problem, x=15, y=0, z=40), planned(problem, x=30, y=0, z=40)
    spans = {"y": Minutes(30, 40, 60)}
    choice = choose_robust(problem, [tight, loose], spans, (), rank_seed=1, report_seed=2, days=DAYS)
    assert choice.chosen == 1
    assert choice.ranked[0].share < choice.ranked[1].share
    assert choice.reported != choice.ranked[1]
    spread = math.hypot(choice.reported.standard_error, choice.ranked[1].standard_error)
    assert choice.optimism == choice.ranked[1].share - choice.reported.share
    assert abs(choice.optimism) < 4 * spread


def test_the_best_of_equals_looks_better_than_it_is():
    # Eight plans, equally good: each opens one of eight clocks early, so each hangs on the minutes of another activity.
    # The best of eight equal counts lies 1.42 standard errors above the rest of them, were they independent.
    count, days, rounds = 8, 200, 25
    jobs = [work(f"{kind}{i}", minutes, f"{kind}{i}") for i in range(count) for kind, minutes in (("x", 1), ("y", 40))]
    clocks = tuple(
        Clock(id=f"c{i}", starts=event(f"x{i}.start"), ends=event(f"y{i}.end"), limit_min=42) for i in range(count)
    )
    problem = day(*jobs, clocks=clocks)
    plans = [
        planned(
            problem, **{f"y{i}": 0 for i in range(count)}, **{f"x{i}": 0 if i == early else 40 for i in range(count)}
        )
        for early in range(count)
    ]
    spans = {f"y{i}": Minutes(20, 40, 60) for i in range(count)}
    choices = [
        choose_robust(problem, plans, spans, (), rank_seed=2 * i, report_seed=2 * i + 1, days=days)
        for i in range(rounds)
    ]
    optimism = np.array([choice.optimism for choice in choices])
    spread = 4 * optimism.std(ddof=1) / math.sqrt(rounds)
    assert optimism.mean() > spread
    assert optimism.mean() < 1.42 * 0.5 / math.sqrt(days) + spread


def test_all_candidates_meet_the_same_days():
    jobs = [work(f"x{i}", 10, "a") for i in range(2)]
    problem = day(*jobs, closes=22)
    spans = {"x0": Minutes(5, 10, 15), "x1": Minutes(5, 10, 15)}
    orders = [planned(problem, x0=0, x1=10), planned(problem, x1=0, x0=10)]
    choice = choose_robust(problem, orders, spans, (), rank_seed=1, report_seed=2, days=1000)
    # Either order takes the same minutes in all, so on the same days they tie, and the first is taken.
    assert choice.ranked[0] == choice.ranked[1] and choice.chosen == 0


def test_a_choice_needs_candidates_and_two_seeds():
    problem, schedule = series()
    with pytest.raises(ValueError, match="no candidates"):
        choose_robust(problem, [], SPANS, (), rank_seed=1, report_seed=2)
    with pytest.raises(ValueError, match="rank on one seed"):
        choose_robust(problem, [schedule], SPANS, (), rank_seed=1, report_seed=1)


@pytest.mark.parametrize("span", [Minutes(5, 4, 6), Minutes(5, 7, 6)])
def test_minutes_that_do_not_run_upwards_are_refused(span):
    with pytest.raises(ValueError, match="run upwards"):
        pert(span, np.random.default_rng(1), 3)


@settings(max_examples=30, deadline=None)
@given(st.floats(0, 100), st.floats(0, 100), st.floats(0, 100), st.integers(0, 99))
def test_draws_lie_between_low_and_high(a, b, c, seed):
    low, typical, high = sorted((a, b, c))
    draws = pert(Minutes(low, typical, high), np.random.default_rng(seed), 50)
    assert (draws >= low - 1e-9).all() and (draws <= high + 1e-9).all()


def test_days_in_groups_are_all_the_days_with_their_mean_from_the_earliest_to_the_latest():
    problem, schedule = series()
    risk = simulate(problem, schedule, SPANS, (), np.random.default_rng(3), days=1000)
    groups = risk.groups
    counts = [(one.closed_kept, one.closed_broken, one.late_kept, one.late_broken) for one in groups]
    assert [sum(ways) for ways in counts] == [10] * 100
    finishes = [one.finish_min for one in groups]
    assert finishes == sorted(finishes) and finishes[0] < finishes[-1]
    # Means of equally many days: their mean is that of all of them, but for the tenth of a minute they are told to.
    assert np.mean(finishes) == pytest.approx(risk.as_planned.finish_mean_min, abs=0.05)
    # One person alone is there to the end; no clock runs, and nothing is late.
    assert all(one.ends_min == {"a": one.finish_min} for one in groups)
    assert sum(kept for kept, *_ in counts) == 1000


def test_groups_count_late_days_and_the_end_of_whoever_leaves_before():
    problem = day(work("x", 30, "a"), work("y", 35, "b"), work("end", 10, "b", after=("x", "y")), closes=45)
    risk = simulate(
        problem,
        planned(problem, x=0, y=0, end=35),
        {"end": Minutes(5, 10, 20)},
        (),
        np.random.default_rng(4),
        days=1000,
    )
    late = sum(one.late_kept + one.late_broken for one in risk.groups)
    assert late / 1000 == pytest.approx(1 - risk.as_planned.done_by_closing.share)
    assert 0 < late < 1000
    assert all(one.ends_min["a"] == 30 and one.ends_min["b"] == one.finish_min for one in risk.groups)
