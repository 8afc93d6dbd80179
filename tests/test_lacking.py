"""What each missing fact blocks is told at once, and is what a whole plan says after reckoning."""

import re

import pytest

from slackwater.finding import Severity
from slackwater.job.load import read_as_far
from slackwater.job.text import clear, remove_card
from slackwater.lacking import lacking
from slackwater.plan import plan
from tests.jobs import EXAMPLES
from tests.plans import ROUGH, UNASKED, catalog

TEXT = (EXAMPLES / "light-well.toml").read_text(encoding="utf-8")


def job_without(*keys):
    text = TEXT
    for key in keys:
        text = clear(text, tuple(int(part) if part.isdigit() else part for part in key.split(".")))
    return read_as_far(text).job


def told(findings):
    return {
        part: set(str(finding.values["fields"]).split(", "))
        for finding in findings
        if finding.id == "job.fact_missing"
        for part in re.split(", | and (?=the )", str(finding.values["part"]))
    }


@pytest.mark.parametrize(
    ("keys", "part", "fields"),
    [
        (("tank.height", "tank.water_line"), "the tank", {"tank.height", "tank.water_line"}),
        (("bed.soil",), "the bed", {"bed.soil"}),
        (("bed.shape",), "the bed", {"bed.shape"}),
        (("bed.base_depth",), "the bed", {"bed.base_depth"}),
        (("bed.base",), "the bed", {"bed.base"}),
        (("stones",), "stone and wood", {"stones"}),
        (("livestock",), "the boxes", {"livestock"}),
        (("containers",), "the boxes", {"containers"}),
        (("water.tap",), "the water", {"water.tap"}),
        (("water.tank.gh",), "the water", {"water.tank.gh"}),
        (("target.temperature",), "the water", {"target.temperature"}),
        (("preparation.heater",), "the water", {"preparation.heater"}),
        (("site.windows", "site.time_zone"), "the day", {"site.windows", "site.time_zone"}),
        (("people",), "the day", {"people"}),
        (("old.hardscape", "tank.public_sides"), "the day", {"old.hardscape", "tank.public_sides"}),
        (("old.soil_depth",), "the day", {"old.soil_depth"}),
        (("site.route.distance",), "the day", {"site.route.distance"}),
        (("filters",), "the weeks after", {"filters"}),
        (("price.margin_share",), "the price", {"price.margin_share"}),
        (("people.0.hourly_rate",), "the price", {"people.lead.hourly_rate"}),
    ],
)
def test_a_fact_left_out_is_told_with_the_part_that_waits_for_it(keys, part, fields):
    found = told(lacking(job_without(*keys), catalog()))
    assert fields <= found[part]


def test_a_whole_job_lacks_nothing_that_a_plan_needs():
    assert told(lacking(job_without(), catalog())) == {}


@pytest.mark.parametrize(
    "keys",
    [
        ("tank.length", "stones", "wood", "people"),
        ("water.tap", "water.tank", "bed.soil", "site.windows", "price.overhead_share"),
        ("livestock", "plants", "filters", "site.route.distance"),
    ],
)
def test_a_whole_plan_says_the_same_of_the_same_facts(keys):
    job = job_without(*keys)
    asked, planned = (
        told(lacking(job, catalog())),
        told(plan(job, catalog(), version="test", effort=UNASKED, thoroughness=ROUGH).findings),
    )
    every = set().union(*asked.values())
    for part, fields in planned.items():
        # What waits for a room before it names the facts of that room too, and none that are known.
        assert asked.get(part, set()) <= fields <= every, part
    for part in ("the tank", "the bed", "the boxes"):
        assert part in asked or part not in planned


def test_one_missing_fact_is_all_that_a_plan_asks_for_and_it_names_what_waits_for_it():
    job = job_without("bed.base_depth")
    found = plan(job, catalog(), version="test", effort=UNASKED, thoroughness=ROUGH)
    missing = [item for item in found.findings if item.id == "job.fact_missing"]
    assert [(item.values["part"], item.values["fields"]) for item in missing] == [
        ("the bed, the water, the day and the weeks after", "bed.base_depth")
    ]


def test_an_empty_job_is_told_what_to_begin_with():
    findings = lacking(read_as_far('format = 1\nname = "x"\n').job, catalog())
    assert {"the tank", "the bed", "the boxes", "the water", "the day", "the price"} <= set(told(findings))
    assert {finding.severity for finding in findings if finding.id == "job.fact_missing"} == {
        Severity.MISSING,
        Severity.CONDITION,
    }


def test_species_nobody_knows_are_told_with_those_close_to_it():
    text = remove_card(TEXT, ("livestock",), 0)
    assert read_as_far(text).job.livestock is not None
    wrong = read_as_far(TEXT.replace('species = "', 'species = "x', 1)).job
    found = next(finding for finding in lacking(wrong, catalog()) if finding.id == "job.species_unknown")
    assert found.values["near"] != "none close"
