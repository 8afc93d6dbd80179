"""Change plans: trying every calendar finds the same, no batch or pool changes it, levers come after water."""

from __future__ import annotations

import itertools
import pickle
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from slackwater.errors import OutOfRange
from slackwater.living.changing import (
    WANTED,
    Asked,
    Choice,
    Limits,
    Problem,
    Workers,
    binding,
    calendars_of,
    least_work,
    least_work_with_levers,
    probability_kept,
    sampling_days,
    work_of,
    worst_of,
)
from slackwater.living.restart import (
    STEP_D,
    USUAL_LEVERS,
    Changes,
    Levers,
    Option,
    drawn_parameters,
    made_ready,
    run,
)
from tests.living.test_restart import ACIDITY, DRAWN, TANK, weeks

FEW = drawn_parameters(150, np.random.default_rng(3))
EASY = replace(TANK, soil_kind="lean", media_kept=1.0)
HARD_WATER = {"alkalinity_meq_l": 3.0, "nitrate_mg_l": 5.0}
SOFT_WATER = {"alkalinity_meq_l": 0.5}
HALF_HARD = Choice(0.5, "tap", HARD_WATER)
HALF_SOFT = Choice(0.5, "soft", SOFT_WATER, work=1.5)
THIRD_SOFT = Choice(0.3, "soft", SOFT_WATER)
BOTH = (HALF_HARD, HALF_SOFT)


def asked(**given):
    known = {
        "tank": EASY,
        "option": Option("today"),
        "visit_days": (2, 5, 9),
        "choices": BOTH,
        "acidity": ACIDITY,
        "drawn": FEW,
        "oxygen_use_mg_d": 300.0,
        "protein_g_d": 0.4,
        "limits": Limits(uia_mg_l=0.2, nitrite_mg_l=2.0),
        "last_day": 14,
    }
    return Asked(**{**known, **given})


def planned(question, seed=1, **given):
    return least_work(question, rng=np.random.default_rng(seed), **given)


def by_trying_all(question, levers=USUAL_LEVERS):
    """Every calendar on the whole ensemble by full steps: least work that keeps the limits, highest probability, all."""
    days, choices = question.visit_days, question.choices
    calendars = np.array(list(itertools.product(range(len(choices) + 1), repeat=len(days))), dtype=np.int8)
    known = {"acidity": ACIDITY, "drawn": question.drawn, "oxygen_use_mg_d": question.oxygen_use_mg_d}
    ready = made_ready(question.tank, question.option, protein_g_d=question.protein_g_d, levers=levers, **known)
    problem = Problem(ready, days, choices, question.limits, question.option.return_day, question.last_day)
    chances = np.mean(
        np.hstack(
            [problem.worst(calendars[at : at + 25], longest_step_d=STEP_D) for at in range(0, len(calendars), 25)]
        )
        <= 1,
        axis=0,
    )
    work = [round(sum(choices[what - 1].effort for what in calendar if what), 9) for calendar in calendars]
    passing = [each for each, chance in zip(work, chances, strict=True) if chance >= WANTED]
    return min(passing, default=None), max(chances), list(zip(work, chances, strict=True))


THREE = (HALF_HARD, HALF_SOFT, THIRD_SOFT)
SMALL = {
    "some changes keep the limits": asked(limits=Limits(uia_mg_l=0.07, nitrite_mg_l=1.4), choices=THREE),
    "few do": asked(
        limits=Limits(uia_mg_l=0.045, nitrite_mg_l=1.35), choices=(HALF_SOFT, THIRD_SOFT), visit_days=(1, 2, 4, 7)
    ),
    "none do": asked(limits=Limits(uia_mg_l=0.03, nitrite_mg_l=0.25), choices=THREE),
    "new filter on active soil": asked(
        tank=replace(TANK, media_kept=0.0), limits=Limits(uia_mg_l=0.25, nitrite_mg_l=5.0), visit_days=(1, 3, 6)
    ),
    "animals later": asked(
        tank=replace(TANK, media_kept=0.6),
        option=Option("later", return_day=7.0),
        limits=Limits(uia_mg_l=0.12, nitrite_mg_l=1.5),
        visit_days=(3, 6, 10),
    ),
    "four visits": asked(
        tank=replace(TANK, media_kept=1.0),
        limits=Limits(uia_mg_l=0.15, nitrite_mg_l=2.0),
        visit_days=(1, 3, 5, 8),
    ),
    "five visits, none does": asked(
        tank=replace(TANK, media_kept=1.0),
        limits=Limits(uia_mg_l=0.1, nitrite_mg_l=1.0),
        visit_days=(1, 2, 3, 5, 8),
        choices=(HALF_SOFT,),
    ),
    "carbon dioxide": asked(
        tank=replace(TANK, co2_mg_l=25.0), limits=Limits(uia_mg_l=0.05, nitrite_mg_l=2.5, tan_mg_l=5.0)
    ),
}


@pytest.mark.parametrize("case", SMALL)
def test_the_search_finds_what_trying_every_calendar_finds(case):
    question = SMALL[case]
    least, highest, tried = by_trying_all(question)
    found = planned(question)
    if least is None:
        assert found.probability == highest < WANTED and not found.kept
    else:
        assert found.work == least and found.probability >= WANTED and found.kept
    assert (found.work, found.probability) in tried


def test_few_visits_give_every_calendar_and_many_a_seeded_choice():
    choices = (HALF_HARD, THIRD_SOFT)
    every = calendars_of([1, 3, 5], choices, number=100, rng=np.random.default_rng(1))
    assert len(every) == 27 and len(np.unique(every, axis=0)) == 27
    assert np.all(np.diff(work_of(every, choices)) >= 0) and not every[0].any()
    some = calendars_of(range(1, 21), choices, number=500, rng=np.random.default_rng(1))
    again = calendars_of(range(1, 21), choices, number=500, rng=np.random.default_rng(1))
    assert np.array_equal(some, again) and 480 < len(some) <= 500
    assert np.all(np.diff(work_of(some, choices)) >= 0)
    # Nothing, every single change, and the most of each choice are among them.
    changes = (some > 0).sum(axis=1)
    assert (changes == 0).sum() == 1 and (changes == 1).sum() == 40
    assert all(np.any(np.all(some == number, axis=1)) for number in (1, 2))
    assert np.all(np.bincount(changes, minlength=21)[2:] >= 15)
    assert calendars_of([], choices, number=10, rng=np.random.default_rng(1)).shape == (1, 0)


def test_work_is_that_of_the_choices():
    assert HALF_HARD.effort == pytest.approx(1.2) and HALF_SOFT.effort == 1.5
    found = work_of(np.array([[0, 0], [1, 0], [1, 2]], dtype=np.int8), BOTH)
    assert found == pytest.approx([0, 1.2, 2.7])


@pytest.mark.parametrize("share", [0.0, -0.1, 1.1, float("nan")])
def test_a_share_must_be_one(share):
    with pytest.raises(OutOfRange, match="share"):
        Choice(share, "tap", HARD_WATER)


@pytest.mark.parametrize("days", [(3, 2), (0, 3), (3, 3), (5, 15)])
def test_visit_days_must_rise_and_matter(days):
    with pytest.raises(OutOfRange, match="visit_days"):
        asked(visit_days=days)


def test_easy_limits_need_no_change_and_no_visit_can_be_planned_where_none_is_possible():
    idle = planned(asked(limits=Limits(uia_mg_l=50.0, nitrite_mg_l=50.0)))
    assert idle.visits == () and idle.changes.days == () and idle.probability == 1.0 and idle.work == 0
    alone = planned(asked(visit_days=()))
    assert alone.visits == () and alone.tried == 1
    assert planned(asked(choices=())).visits == ()


def test_the_answer_says_what_binds_and_when():
    question = asked(limits=Limits(uia_mg_l=0.001, nitrite_mg_l=0.3))
    found = planned(question)
    assert found.probability < WANTED and found.tried == 27 and found.levers == USUAL_LEVERS
    assert found.binding_limit == "ammonia" and 0 <= found.binding_day <= 14
    assert planned(asked(limits=Limits(uia_mg_l=9.0, nitrite_mg_l=0.01))).binding_limit == "nitrite"
    assert planned(asked(limits=Limits(uia_mg_l=9.0, nitrite_mg_l=9.0, tan_mg_l=0.1))).binding_limit == "total ammonia"
    outcome = run(
        question.tank,
        question.option,
        found.changes,
        acidity=ACIDITY,
        drawn=FEW,
        oxygen_use_mg_d=300.0,
        protein_g_d=0.4,
        last_day=14,
    )
    assert probability_kept(outcome, question.limits, from_day=0) == found.probability
    assert binding(outcome, question.limits, from_day=0) == (found.binding_limit, found.binding_day)
    assert (
        sampling_days(outcome, binding_day=found.binding_day, active_soil=question.tank.soil_kind == "active")
        == found.sampling_days
    )


def test_waters_compete():
    # At one work the soft water, which keeps ammonia harmless and brings no nitrate, does better against ammonia.
    same = (Choice(0.5, "tap", HARD_WATER), Choice(0.5, "soft", SOFT_WATER))
    found = planned(asked(choices=same, limits=Limits(uia_mg_l=0.03, nitrite_mg_l=9.0)))
    assert found.visits and {choice.water for _, choice in found.visits} == {"soft"}


def through_pickle(function, tasks):
    return [function(pickle.loads(pickle.dumps(task))) for task in reversed(tasks)][::-1]


def test_batches_and_pools_do_not_change_the_answer():
    question = asked(visit_days=(1, 2, 3, 4, 5, 7, 9, 11), limits=Limits(uia_mg_l=0.06, nitrite_mg_l=1.0))
    alone = planned(question, number=200)
    assert planned(question, number=200, workers=Workers(columns_at_once=53)) == alone
    assert planned(question, number=200, workers=Workers(columns_at_once=100_000)) == alone
    assert planned(question, number=200, workers=Workers(map_batches=through_pickle)) == alone
    with ThreadPoolExecutor(3) as pool:
        assert planned(question, number=200, workers=Workers(pool.map, columns_at_once=211)) == alone
    assert planned(question, number=200) == alone


def test_a_calendar_scores_the_same_in_any_company():
    calendars = calendars_of((2, 5, 9), BOTH, number=100, rng=np.random.default_rng(1))
    ready = made_ready(
        TANK, Option("t"), acidity=ACIDITY, drawn=FEW, oxygen_use_mg_d=300.0, protein_g_d=0.4, levers=USUAL_LEVERS
    )
    problem = Problem(ready, (2, 5, 9), BOTH, Limits(), 0.0, 14)
    few = np.arange(0, 150, 29)
    together = problem.of(few).worst(calendars, longest_step_d=1 / 4)
    alone = problem.worst(calendars[11:12], longest_step_d=1 / 4)
    assert np.array_equal(together[:, 11], alone[few, 0])


def test_progress_is_told():
    told = []
    planned(asked(), on_progress=told.append)
    assert told == ["change plans: 27 of 27"]


def test_sparing_feeding_is_tried_only_when_water_does_not_do():
    fed = {
        "tank": replace(TANK, soil_kind="inert", media_kept=1.0),
        "protein_g_d": 4.0,
        "oxygen_use_mg_d": 100.0,
        "visit_days": (5, 10, 15),
        "last_day": 28,
    }
    easy = asked(limits=Limits(uia_mg_l=9.0, nitrite_mg_l=9.0), **fed)
    assert least_work_with_levers(easy, rng=np.random.default_rng(1)).levers == USUAL_LEVERS
    tight = asked(limits=Limits(uia_mg_l=0.15, nitrite_mg_l=3.2), **fed)
    usual, spared = planned(tight), least_work_with_levers(tight, rng=np.random.default_rng(1))
    assert not usual.kept and spared.kept and spared.levers == Levers(feed_share=0.25)
    assert spared.tried > usual.tried == 27
    least, _, _ = by_trying_all(tight, levers=spared.levers)
    assert spared.work == least
    hopeless = asked(limits=Limits(uia_mg_l=1e-4, nitrite_mg_l=1e-4), **fed)
    assert least_work_with_levers(hopeless, rng=np.random.default_rng(1)).tried == 54


def test_the_coarse_screen_agrees_with_the_whole_reckoning():
    members = np.arange(0, 1000, 50)
    ready = made_ready(
        TANK, Option("t"), acidity=ACIDITY, drawn=DRAWN, oxygen_use_mg_d=0.0, protein_g_d=0.0, levers=USUAL_LEVERS
    )
    problem = Problem(ready, (2, 5, 9), (Choice(0.5, "soft", SOFT_WATER),), Limits(), 0.0, 21)
    quick = problem.of(members).worst(np.array([[1, 1, 1]], dtype=np.int8), longest_step_d=1 / 8)[:, 0]
    fine = weeks(
        changes=Changes((2.0, 5.0, 9.0), (0.5, 0.5, 0.5), SOFT_WATER),
        oxygen_use_mg_d=0.0,
        protein_g_d=0.0,
        last_day=21,
    )
    assert quick == pytest.approx(worst_of(fine, Limits(), from_day=0)[members], rel=0.05, abs=0.02)


def test_tests_are_asked_for_where_they_tell_most():
    days = sampling_days(weeks(last_day=42))
    assert 1 <= len(days) <= 4 and all(later - earlier >= 3 for earlier, later in itertools.pairwise(days))


@pytest.mark.parametrize(("binding_day", "tested"), [(9, {8, 9}), (1, {1}), (0, {1}), (3, {2, 3})])
def test_an_early_limit_is_tested_on_its_day_and_the_day_before(binding_day, tested):
    days = sampling_days(weeks(last_day=42), binding_day=binding_day)
    assert tested <= set(days) and 0 not in days
    late = sampling_days(weeks(last_day=42), binding_day=30)
    assert late == sampling_days(weeks(last_day=42))


def test_on_active_soil_one_of_the_first_three_days_is_tested():
    for binding_day in (None, 9, 30):
        days = sampling_days(weeks(last_day=42), binding_day=binding_day, active_soil=True)
        assert {1, 2, 3} & set(days)


def test_where_a_limit_is_passed_the_day_is_the_first_one_over_it():
    outcome = weeks(last_day=42)
    high = np.percentile(outcome.tan_mg_l, 95, axis=1)
    limit = 0.5 * float(high.max())
    never = Limits(uia_mg_l=1e9, nitrite_mg_l=1e9, tan_mg_l=limit)
    name, day = binding(outcome, never, from_day=0)
    assert name == "total ammonia" and high[day] > limit and (high[:day] <= limit).all()
