"""The odds as people read them: thresholds, what can strike, what to leave out first, and what past jobs change."""

from __future__ import annotations

import math
from datetime import datetime

import pytest

from slackwater.day.activities import Minutes
from slackwater.day.odds import LIKELY, drops_of, mishaps_of, odds_figures, odds_findings
from slackwater.day.policy import order_among, policy_of
from slackwater.day.result import DayOdds, DayRisk, Odds
from slackwater.day.when import Clockface
from slackwater.finding import Severity
from slackwater.job.catalog import load_catalog
from slackwater.wording.render import finding_sentence, in_ten
from tests.day.test_risk import day, planned, work
from tests.jobs import job_from
from tests.plans import HARDLY, UNASKED, plan_of

FACE = Clockface(datetime(2027, 2, 10, 6, 30), "Europe/Berlin")


def odds_of(*, closing=0.9, days=10_000, mean_min=600, p80_min=633):
    """By hand: shares with their standard error, finishes in minutes from 06:30."""
    share = Odds(share=closing, standard_error=math.sqrt(closing * (1 - closing) / days))
    minutes = {"mean": mean_min, "p50": mean_min, "p80": p80_min, "p95": 690}
    return DayOdds(
        done_by_closing=share,
        hours_kept=share,
        clocks_kept=share,
        everything_holds=share,
        clocks=(),
        **{f"finish_{name}": FACE.moment(minute) for name, minute in minutes.items()},
        **{f"finish_{name}_min": minute for name, minute in minutes.items()},
    )


def risk_of(**values):
    odds = odds_of(**values)
    return DayRisk(
        days=10_000,
        seed=1,
        as_planned=odds,
        with_gates=odds,
        gates=(),
        critical=(),
        waits=(),
        latest_starts=(),
        mishaps=(),
    )


def found_in(risk, closes_min=690):
    return {item.id: item for item in odds_findings(risk, finish_min=580, closes_min=closes_min, face=FACE)}


@pytest.mark.parametrize(
    ("closing", "severity"),
    # Standard error at 0.8 and 10,000 days: 0.004. What the count cannot tell from 0.8 is taken as below it.
    [(0.79, Severity.CONDITION), (0.805, Severity.CONDITION), (0.81, Severity.NOTE), (1.0, Severity.NOTE)],
)
def test_a_day_less_likely_than_eight_in_ten_is_a_condition(closing, severity):
    found = found_in(risk_of(closing=closing))["day.odds"]
    assert found.severity is severity
    assert found.margin == pytest.approx(closing - LIKELY)


def test_the_sentence_tells_no_more_than_is_known():
    # Minute 633 from 06:30 is 17:03, to five minutes 17:05.
    text = finding_sentence(found_in(risk_of(closing=0.3142))["day.odds"])
    assert "about 3 days in 10" in text and "17:05" in text and "18:00" in text
    assert "31" not in text and "%" not in text


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.0, "fewer than 1 day in 20"),
        (0.049, "fewer than 1 day in 20"),
        (0.05, "about 1 days in 10"),
        (0.56, "about 6 days in 10"),
        (0.95, "about 9 days in 10"),
        (0.951, "at least 19 days in 20"),
    ],
)
def test_a_probability_is_told_in_tenths(share, words):
    assert in_ten(share) == words.replace("1 days", "1 day")


def test_a_day_whose_mean_is_late_must_be_expected_to_end_late():
    assert "day.expected_ends_late" not in found_in(risk_of(mean_min=690))
    late = found_in(risk_of(mean_min=704))["day.expected_ends_late"]
    assert late.margin == -14 and late.severity is Severity.CONDITION
    assert late.values["expected"] == "18:15"


def test_the_band_of_a_share_is_that_of_its_count():
    figures = {figure.id: figure for figure in odds_figures(risk_of(closing=0.9))}
    # sqrt(0.9 x 0.1 / 10,000) = 0.003; 1.645 of it 0.0049.
    figure = figures["day.odds.done_by_closing"]
    assert (figure.low, figure.value, figure.high) == (0.8951, 0.9, 0.9049)
    assert figure.inputs["days"] == 10_000 and figure.inputs["seed"] == 1


def test_only_mishaps_that_can_strike_are_drawn():
    catalog = load_catalog()

    def ids(job, people):
        return {row.id for row in mishaps_of(job, catalog, people=people)}

    lift = {"cage_length": "140 cm", "cage_width": "110 cm", "rated_load": "630 kg"}
    ground, upstairs = job_from("blue-corridor"), job_from("blue-corridor", **{"site.lift": lift})
    assert ids(upstairs, 2) - ids(ground, 2) == {"lift_out"}
    assert ids(ground, 2) - ids(ground, 1) == {"helper_late"}
    assert all(catalog.mishaps[name].probability > 0 for name in ids(upstairs, 2))


def test_a_mishap_that_its_activity_names_and_its_range_holds_does_not_come_on_top():
    # E6 goes wrong by a "90 min overrun"; 30 animals take 25 + 30/3 = 35 min as a rule and 40 + 30 x 3 = 130 at most.
    catalog = load_catalog()
    row = catalog.activities["E6"]
    high, typical = row.fixed_high + 30 * row.per_unit_high, row.fixed_typ + 30 * row.per_unit_typ
    assert "90 min overrun" in row.can_go_wrong and high - typical >= 90
    assert catalog.mishaps["shrimp_hide"].probability == 0


def one_after_another():
    problem = day(
        work("E1", 10, "a"),
        work("E17", 20, "a", after=("E1",)),
        work("E22", 40, "a", after=("E17",)),
        work("E29", 5, "a", after=("E22",)),
    )
    return problem, planned(problem, E1=0, E17=10, E22=30, E29=70)


def test_what_is_left_out_saves_its_minutes_each_on_top_of_those_before():
    # One person, one after another. Half of 40 min planting is carpet: 20. Stones at 12 of 20 min: 8. Then the rest of
    # the planting: 20. Clearing away stays.
    problem, schedule = one_after_another()
    spans = {"E17": Minutes(12, 20, 40), "E22": Minutes(30, 40, 90)}
    drops = drops_of(problem, schedule, carpet_share=0.5, spans=spans)
    assert [(item.id, item.saves_min) for item in drops] == [
        ("carpet_later", 20),
        ("simpler_hardscape", 8),
        ("overnight", 20),
    ]


def test_what_runs_beside_longer_work_saves_nothing():
    problem = day(work("E21", 15, "a"), work("E22", 40, "b"), work("E29", 5, "b", after=("E21", "E22")))
    schedule = planned(problem, E21=0, E22=0, E29=40)
    # Without epiphytes nothing is won; with all planting left for another day, 40 min.
    assert [(item.id, item.saves_min) for item in drops_of(problem, schedule, carpet_share=0.0, spans={})] == [
        ("overnight", 40)
    ]


def test_order_among_some_skips_what_is_left_out_and_what_follows_anyhow():
    problem, schedule = one_after_another()
    policy = policy_of(problem, schedule)
    assert order_among(policy, {"E1", "E17", "E22"}) == (("E1", "E17"), ("E17", "E22"))
    assert order_among(policy, {"E1", "E22"}) == (("E1", "E22"),)
    assert order_among(policy, {"E22"}) == ()


def past(activity, planned_min, actual_min, crew):
    return {"activity": activity, "planned": f"{planned_min} min", "actual": f"{actual_min} min", "crew": crew}


def test_four_past_jobs_that_took_double_stretch_the_minutes_by_the_root_of_two():
    # The catalog counts for four jobs: mean log factor 4 ln 2 / (4 + 4), factor sqrt(2). Jobs of somebody else and of
    # an unknown activity change nothing.
    doubled = [past("E22", 60, 120, ["lead"])] * 4
    others = [past("E21", 10, 100, ["a stranger"]), past("E99", 10, 20, ["lead"])]
    before = plan_of("blue-corridor", (), UNASKED)
    job_list = _Hashable([*doubled, *others])
    after = plan_of("blue-corridor", (("past_jobs", job_list),), UNASKED)

    def figure(plan, name):
        return next(item for item in plan.figures if item.id == f"day.minutes.{name}")

    assert figure(after, "E22").value == pytest.approx(figure(before, "E22").value * math.sqrt(2), abs=0.2)
    assert figure(after, "E22").inputs["jobs_behind_it"] == 4
    assert figure(before, "E22").inputs["jobs_behind_it"] == 0
    assert figure(after, "E21") == figure(before, "E21")
    assert [item.about for item in after.findings if item.id == "day.past_job_unknown"] == ["E99"]
    assert not [item for item in before.findings if item.id == "day.past_job_unknown"]
    assert {entry.activity: entry.past_jobs for entry in after.day.entries}["E22"] == 4


class _Hashable(list):
    """A list that may be part of a cache key."""

    def __hash__(self):
        return hash(repr(self))


@pytest.mark.parametrize("change", [{"planned": "0 min"}, {"actual": "0 min"}, {"actual": "soon"}, {"took": "1 min"}])
def test_past_jobs_that_cannot_be_are_refused(change):
    good = past("E22", 60, 70, ["lead"])
    assert job_from("blue-corridor", past_jobs=[good]).past_jobs[0].actual_min == 70
    with pytest.raises(ValueError, match=next(iter(change))):
        job_from("blue-corridor", past_jobs=[good | change])


def test_the_odds_of_an_example_are_in_step_with_each_other():
    plan = plan_of("blue-corridor", (), HARDLY)
    risk, entries = plan.day.risk, {entry.activity: entry for entry in plan.day.entries}
    for odds in (risk.as_planned, risk.with_gates):
        assert odds.finish_p50 <= odds.finish_p80 <= odds.finish_p95
        parts = [odds.done_by_closing, odds.hours_kept, odds.clocks_kept]
        assert odds.everything_holds.share <= min(part.share for part in parts)
        assert odds.clocks_kept.share <= min(item.kept.share for item in odds.clocks)
    assert {item.activity for item in risk.latest_starts} == {e.activity for e in plan.day.entries if e.hold_point}
    assert risk.waits and all(entries[a].end <= entries[b].end for a, b in risk.waits)
    often = {item.activity for item in risk.critical if item.share >= 0.2}
    assert {name for pair in risk.waits for name in pair} <= often
    assert any(figure.id == "day.odds.everything_holds" for figure in plan.figures)
