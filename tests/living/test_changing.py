"""Change plans: all calendars where they are few, no more work than needed, the screen agrees with the whole ensemble."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from slackwater.living.changing import WANTED, Limits, calendars_of, least_work, sampling_days, screened, work_of
from slackwater.living.restart import Changes, Option, drawn_parameters
from tests.living.test_restart import ACIDITY, DRAWN, TANK, weeks

FEW = drawn_parameters(200, np.random.default_rng(3))
EASY = replace(TANK, soil_kind="lean", media_kept=1.0)
SOFT = {"alkalinity_meq_l": 1.0, "nitrate_mg_l": 1.0}


def planned(tank=EASY, visits=(2, 5, 9, 14), limits=None, seed=1, **given):
    return least_work(
        tank,
        Option("today"),
        visits,
        (0.5,),
        new=SOFT,
        acidity=ACIDITY,
        drawn=FEW,
        oxygen_use_mg_d=300,
        protein_g_d=0.4,
        limits=limits or Limits(uia_mg_l=0.2, nitrite_mg_l=2.0),
        rng=np.random.default_rng(seed),
        last_day=21,
        **given,
    )


def test_few_visits_give_every_calendar_and_many_a_seeded_choice():
    every = calendars_of([1, 3, 5], (0.3, 0.5), number=100, rng=np.random.default_rng(1))
    assert len(every) == 27 and len(np.unique(every, axis=0)) == 27
    assert np.all(np.diff(work_of(every)) >= 0) and not every[0].any()
    some = calendars_of(range(1, 21), (0.3, 0.5), number=500, rng=np.random.default_rng(1))
    again = calendars_of(range(1, 21), (0.3, 0.5), number=500, rng=np.random.default_rng(1))
    assert np.array_equal(some, again) and 300 < len(some) <= 500
    assert calendars_of([], (0.5,), number=10, rng=np.random.default_rng(1)).shape == (1, 0)


def test_easy_limits_need_no_change_and_tighter_ones_no_less_work():
    idle = planned(limits=Limits(uia_mg_l=50.0, nitrite_mg_l=50.0))
    assert idle.changes.days == () and idle.probability == 1.0

    def work(found):
        return len(found.changes.days)

    assert work(planned(limits=Limits(uia_mg_l=0.3, nitrite_mg_l=3.0))) >= work(idle)


def test_what_cannot_be_kept_says_how_probable_the_best_is():
    hard = planned(tank=replace(TANK, media_kept=0.0), limits=Limits(uia_mg_l=0.001, nitrite_mg_l=0.001))
    assert hard.probability < WANTED
    assert 0 <= hard.binding_day <= 21 and hard.tried == 16


def test_the_same_seed_gives_the_same_plan():
    assert planned(seed=5) == planned(seed=5)


def test_the_coarse_screen_agrees_with_the_whole_reckoning():
    members = np.arange(0, 1000, 50)
    calendar = np.array([[0.5, 0.5, 0.5]])
    quick = screened(
        TANK,
        Option("today"),
        calendar,
        [2, 5, 9],
        new=SOFT,
        acidity=ACIDITY,
        drawn=DRAWN,
        members=members,
        given_off_mg_d=np.zeros(1000),
        limits=Limits(),
        last_day=21,
    )[0]
    fine = weeks(
        changes=Changes((2.0, 5.0, 9.0), (0.5, 0.5, 0.5), SOFT), oxygen_use_mg_d=0.0, protein_g_d=0.0, last_day=21
    )
    worst = np.maximum(fine.uia_mg_l.max(axis=0) / 0.05, fine.nitrite_mg_l.max(axis=0) / 0.3)[members]
    assert quick == pytest.approx(worst, rel=0.05, abs=0.02)


def test_tests_are_asked_for_where_they_tell_most():
    days = sampling_days(weeks(last_day=42))
    assert 1 <= len(days) <= 4 and all(later - earlier >= 3 for earlier, later in itertools.pairwise(days))
