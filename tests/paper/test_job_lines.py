"""The lines under a repair are what the job file reads."""

from __future__ import annotations

import tomllib
from datetime import datetime

import pytest

from slackwater.day.result import WhatIf
from slackwater.job.model import Job
from slackwater.job.starter import starter_text
from slackwater.paper.job_lines import job_lines
from tests.jobs import job_from
from tests.plans import HARDLY, plan_of

JOB = job_from("blue-corridor")


def lines_of(name, job=JOB, **values):
    finish = datetime.fromisoformat("2027-02-10T19:30+01:00")
    item = WhatIf(id=name, values=values, finish=finish, margin_min=0, fits=True, proved=False)
    return job_lines(item, job, plan_of("blue-corridor", (), HARDLY).day)


@pytest.mark.parametrize(
    ("name", "values", "table", "key", "value"),
    [
        ("epiphytes_at_bench", {}, "[brief]", "epiphytes_at_bench", True),
        ("carpet_later", {}, "[brief]", "carpet_later", True),
        ("planting_later", {}, "[brief]", "may_be_left_out", {"E22": "0 min"}),
        ("more_places", {"places": 4}, "[tank]", "work_places", 4),
        ("filter_on_barrel", {}, "[preparation]", "filter_on_barrel", True),
        ("part_rebuild", {}, "[old]", "kept_share", 0.5),
    ],
)
def test_the_lines_of_a_repair_are_read_as_that_key(name, values, table, key, value):
    place, *lines = lines_of(name, **values)
    assert place == f"# {table}"
    assert tomllib.loads("\n".join(lines)) == {key: value}
    read = job_from("blue-corridor", **{f"{table.strip('[]')}.{key}": value})
    assert isinstance(read, Job)


def test_somebody_on_call_is_booked_and_a_new_helper_is_written_down():
    called = job_from("blue-corridor", people=[{"id": "ann"}, {"id": "cy", "on_call": True}])
    assert lines_of("one_more_person", called, person="cy") == ('# [[people]], id = "cy"', "on_call = false")
    (person,) = tomllib.loads("\n".join(lines_of("one_more_person", person="one more helper")))["people"]
    assert person["id"] == "second helper" and person["speed"] == 0.8


def test_a_pair_has_the_lines_of_both_and_what_has_no_key_none():
    assert lines_of("person_and_carpet", person="x") == (
        *lines_of("one_more_person", person="x"),
        *lines_of("carpet_later"),
    )
    assert lines_of("hardscape_ready") == ()


def test_other_hours_are_written_as_the_window_of_the_day():
    assert lines_of("earlier_start", opens="06:00")[1] == 'start = "2027-02-10 06:00"'
    gone = job_from("blue-corridor", **{"site.key_holder_leaves": "2027-02-10 18:30"})
    assert lines_of("later_end", gone)[1::2] == (
        'end = "2027-02-10 19:30"',
        'key_holder_leaves = "2027-02-10 19:30"',
    )


def test_the_empty_job_shows_how_somebody_is_called_and_until_when_they_are_there():
    shown = {line.removeprefix("# ").partition(" =")[0] for line in starter_text("x").splitlines()}
    assert {"on_call", "from", "until", "minimum_hours"} <= shown
