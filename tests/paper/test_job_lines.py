"""The lines under a repair are questions of the survey with an answer that the job takes."""

from __future__ import annotations

from datetime import datetime

import pytest

from slackwater.day.result import WhatIf
from slackwater.job.model import Job
from slackwater.job.starter import starter_text
from slackwater.paper.fact_names import fact_name
from slackwater.paper.job_lines import changed_facts, job_lines
from slackwater.reader import ENGLISH, Reader
from tests.jobs import job_from
from tests.plans import HARDLY, plan_of

JOB = job_from("blue-corridor")
REPAIRS = (
    *("epiphytes_at_bench", "carpet_later", "planting_later", "one_more_person", "more_places", "earlier_start"),
    *("later_end", "filter_on_barrel", "board_shrimp", "boarding", "reserve_day_boarded", "part_rebuild", "second_day"),
)


def repair(name, **values):
    finish = datetime.fromisoformat("2027-02-10T19:30+01:00")
    return WhatIf(id=name, values=values, finish=finish, margin_min=0, fits=True, proved=False)


def day():
    return plan_of("blue-corridor", (), HARDLY).day


def facts_of(name, job=JOB, **values):
    return changed_facts(repair(name, **values), job, day())


@pytest.mark.parametrize(
    ("name", "values", "key", "value"),
    [
        ("epiphytes_at_bench", {}, "brief.epiphytes_at_bench", True),
        ("carpet_later", {}, "brief.carpet_later", True),
        ("more_places", {"places": 4}, "tank.work_places", 4),
        ("filter_on_barrel", {}, "preparation.filter_on_barrel", True),
        ("part_rebuild", {}, "old.kept_share", 0.5),
    ],
)
def test_the_fact_of_a_repair_takes_its_value(name, values, key, value):
    assert facts_of(name, **values) == ((key, value),)
    assert isinstance(job_from("blue-corridor", **{key: value}), Job)


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("name", REPAIRS)
def test_each_line_names_a_question_and_no_key_and_no_date_in_figures(name, language):
    item = repair(name, person="one more helper", places=4, opens="06:00")
    lines = job_lines(item, JOB, day(), Reader(language=language))
    assert lines
    for line in lines:
        assert not set("_[]=#@") & set(line) and "2027-" not in line, line
    assert all(fact_name(key) is not None for key, _ in facts_of(name, person="x", places=4, opens="06:00"))


def test_somebody_on_call_is_booked_and_a_new_helper_is_entered():
    called = job_from("blue-corridor", people=[{"id": "ann"}, {"id": "cy", "on_call": True}])
    assert facts_of("one_more_person", called, person="cy") == (("people[2].on_call", False),)
    name, speed, _ = facts_of("one_more_person", called, person="one more helper")
    assert name == ("people[3].id", "@helper") and speed == ("people[3].speed", 0.8)
    item = repair("one_more_person", person="cy")
    assert job_lines(item, called, day(), ENGLISH) == ('"On call" of person 2 (Crew): no',)


def test_a_pair_has_the_facts_of_both_and_what_has_none_none():
    assert facts_of("person_and_carpet", person="x") == (
        *facts_of("one_more_person", person="x"),
        *facts_of("carpet_later"),
    )
    assert facts_of("hardscape_ready") == ()


def test_other_hours_are_those_of_the_day():
    assert facts_of("earlier_start", opens="06:00")[0][1] == "2027-02-10 06:00"
    gone = job_from("blue-corridor", **{"site.key_holder_leaves": "2027-02-10 18:30"})
    assert [value for _, value in facts_of("later_end", gone)] == ["2027-02-10 19:30", "2027-02-10 19:30"]
    assert facts_of("later_end", gone)[1][0] == "site.key_holder_leaves"


def test_the_empty_job_shows_how_somebody_is_called_and_until_when_they_are_there():
    shown = {line.removeprefix("# ").partition(" =")[0] for line in starter_text("x").splitlines()}
    assert {"on_call", "from", "until", "minimum_hours"} <= shown
