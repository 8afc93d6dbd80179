"""The boxes through the planned day: its hours, its half changes, its gradual release; and what the sheet then says."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from slackwater import plan as whole
from slackwater.job.model import Job
from slackwater.living.result import Stay
from slackwater.living.setup import water_of
from slackwater.living.waiting import on_the_day
from slackwater.plan import _held_back, day_as_booked
from slackwater.plan import plan as plan_job
from tests.jobs import job_from
from tests.living.test_assess import planned
from tests.plans import HARDLY, QUICK, ROUGH, catalog, plan_of
from tests.replans import booked, now_on

EARLY = Stay(caught_from_min=60, caught_by_min=120, dripped_from_min=360, let_go_from_min=420, let_go_by_min=450)


@cache
def _job() -> Job:
    return job_from("blue-corridor")


def followed(stay):
    plan = planned()
    return on_the_day(
        plan.living.boxes,
        plan.water.boxes,
        {box.label: stay for box in plan.living.boxes},
        _job(),
        catalog(),
        old=water_of(plan.water.old_water),
        temp_c=plan.water.old_water.temp_c,
        rng=np.random.default_rng(_job().seed),
    )


def middle(band):
    return [value for _, value, _ in band]


def test_once_all_are_let_go_nothing_more_is_given_off():
    for box in followed(EARLY):
        # 6.5 h from the first animal in to the last one out; the course goes on for a quarter of an hour.
        tan = np.interp((6.0, 6.5, 6.7), box.course.hours, middle(box.course.tan_mg_l))
        assert tan[1] > tan[0]
        assert tan[2] - tan[1] < 0.25 * (tan[1] - tan[0])


def test_a_half_change_halves_what_has_built_up():
    plain = followed(EARLY)
    changed = followed(EARLY.model_copy(update={"changed_min": (300,)}))
    for one, other in zip(plain, changed, strict=True):
        start = one.course.tan_mg_l[0][1]
        # The change comes at 4 h; just after it half of the gain is left, and what came in since on top of it.
        before, after = (np.interp((4.0, 4.5), box.course.hours, middle(box.course.tan_mg_l)) for box in (one, other))
        grown = before[1] - before[0]
        assert after[1] - start == pytest.approx((before[0] - start) / 2 + grown, rel=0.08)


def test_a_longer_day_keeps_fewer_of_the_draws():
    late = EARLY.model_copy(update={"dripped_from_min": 1000, "let_go_from_min": 1060, "let_go_by_min": 1100})
    for one, other in zip(followed(EARLY), followed(late), strict=True):
        assert one.kept_share >= other.kept_share
    # Seventeen hours are longer than the careful end of any of them, which nineteen draws in twenty reach.
    assert all(box.kept_share < 0.95 for box in followed(late) if box.hours.low is not None)


def test_a_box_that_nobody_lives_in_that_day_stays_as_it_was():
    plan = planned()
    boxes = plan.living.boxes
    same = on_the_day(
        boxes,
        plan.water.boxes,
        {},
        _job(),
        catalog(),
        old=water_of(plan.water.old_water),
        temp_c=24.0,
        rng=np.random.default_rng(1),
    )
    assert same == boxes


def test_the_day_brings_the_boxes_over_at_its_own_hours():
    plan = plan_of("blue-corridor", (), QUICK)
    entries = {entry.activity: entry for entry in plan.day.entries}
    for box, back in zip(plan.living.boxes, plan.water.returns, strict=True):
        assert box.stay.let_go_from_min == entries["E28"].start_min
        assert back.hours_held == pytest.approx((box.stay.dripped_from_min - box.stay.caught_from_min) / 60, abs=0.06)


def test_the_sheet_does_not_tell_to_release_what_may_not_go_back():
    plan = plan_of("blue-corridor", (), QUICK)
    labels = {entry.activity: entry.label for entry in plan.day.entries}
    conditions = [finding.id for finding in plan.findings if finding.severity == "condition"]
    assert conditions[0] == "living.not_today"
    assert "release" not in labels["E28"] and "wait" in labels["E28"]


def test_the_sheet_tells_to_release_what_may_go_back():
    changes = {
        "bed.soil.material": "quartz_sand_fine",
        "plants": [],
        "livestock": [{"species": "corydoras_aeneus", "count": 9}],
    }
    job = job_from("blue-corridor", **changes)
    plan = plan_job(job, catalog(), version="test", effort=HARDLY, thoroughness=ROUGH)
    assert plan.living.weeks.may_return_today
    assert "release" in {entry.activity: entry.label for entry in plan.day.entries}["E28"]


def labels(entries):
    return {entry.activity: entry.label for entry in entries}


def as_planned(answer):
    """Hours of the day as it is, whatever way is advised."""
    return next(move for move in answer.moves if move.id == "keep").hours.entries


def test_one_decision_names_the_work_of_the_sheet_of_both_dates_and_of_the_day_command():
    day = booked("blue-corridor", "as_booked", HARDLY)
    assert day.animals_wait
    said = labels(as_planned(now_on(day, [], "2027-02-10T06:30")))
    later = [{"at": "2027-02-10T06:40:00", "kind": "started", "subject": "E1"}]
    assert labels(as_planned(now_on(day, later, "2027-02-10T07:00")))["E28"] == said["E28"]
    sheet = plan_of("blue-corridor", (), QUICK).day
    for name in ("E26", "E27", "E28"):
        assert said[name] == labels(sheet.entries)[name] == catalog().activities[name].activity_if_held
    two = tuple(entry.model_copy(update={"label": "release"}) for entry in sheet.entries if entry.activity == "E28")
    split = _held_back(sheet.model_copy(update={"first_day": two, "second_day": two}), catalog())
    assert labels(split.first_day)["E28"] == labels(split.second_day)["E28"] == said["E28"]


def test_animals_that_wait_anyhow_are_not_proposed_to_wait():
    day = booked("blue-corridor", "as_booked", HARDLY)
    moves = {move.id for move in now_on(day, [], "2027-02-10T08:00").moves}
    assert "safe_overnight" in moves and "board_the_rest" not in moves


def test_the_day_command_says_why_no_animal_goes_back_and_is_silent_where_they_may(monkeypatch):
    # Solved once: what is asked here is what is made of the odds, and not the hours.
    solved = replace(booked("blue-corridor", "as_booked", HARDLY), animals_wait=False)

    def said(**changes):
        job = job_from("blue-corridor", **changes)
        unnamed = replace(solved, day=replace(solved.day, catalog=catalog()))
        monkeypatch.setattr(whole, "booked_day", lambda *_, **__: unnamed)
        day, findings = day_as_booked(job, catalog())
        return day.animals_wait, day.day.catalog.activities["E28"].activity, [finding.id for finding in findings]

    waits, label, findings = said()
    assert waits and "wait" in label and findings[0] == "day.animals_wait"
    sand = {"bed.soil.material": "quartz_sand_fine", "plants": []}
    fish = {"species": "corydoras_aeneus", "count": 9}
    waits, label, findings = said(**sand, livestock=[fish])
    assert not waits and "release" in label and "day.animals_wait" not in findings
    # Boarded animals do not go back, whatever their odds would be; nothing is left to settle.
    waits, label, findings = said(**sand, livestock=[{**fish, "boarded": True}])
    assert waits and "wait" in label and "day.animals_wait" not in findings


def test_what_the_plan_has_settled_is_no_condition_any_more():
    # The plan runs the filter on a barrel, which is worth knowing and nothing to agree.
    plan = plan_of("blue-corridor", (), QUICK)
    assert plan.day.filter_state == "running_on_barrel" and "E8B" in {entry.activity for entry in plan.day.entries}
    assert [finding.severity for finding in plan.findings if finding.id == "day.filter_on_barrel"] == ["note"]
