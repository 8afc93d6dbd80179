"""The planting of whole jobs: what is named is placed, what is not is proposed, and what is wrong is said."""

from __future__ import annotations

from functools import cache

import pytest

from slackwater.job.model import PlantingWish
from slackwater.layout.assess import assess_bed
from slackwater.planting.assess import assess_planting, planted
from slackwater.planting.lists import listed
from slackwater.supply.order import order_lines
from slackwater.supply.result import Quantities
from slackwater.tank.assess import assess_tank
from tests.jobs import job_from
from tests.planting.beds import CATALOG


@cache
def found(example="blue-corridor", changes=(), catalog=CATALOG):
    job = job_from(example, **dict(changes))
    shape = assess_tank(job, catalog).result
    return job, assess_planting(job, catalog, shape, assess_bed(job, catalog, shape).result)


def ids(stage):
    return {finding.id for finding in stage.findings}


NO_NAMES = (("plants", None),)


@pytest.mark.parametrize("example", ["blue-corridor", "harbour-line", "light-well"])
def test_every_unit_of_the_job_stands_in_a_zone_it_fits(example):
    job, stage = found(example)
    counts = {}
    for item in stage.result.placed:
        counts[item.plant] = counts.get(item.plant, 0) + item.units
    assert counts == {item.plant: item.units for item in job.plants if not item.undeliverable}
    assert stage.result.source == "given"
    assert stage.result.unplaced == ()
    assert planted(job, stage.result) == job


@pytest.mark.parametrize("example", ["blue-corridor", "harbour-line", "light-well"])
def test_where_no_plant_is_named_a_proposal_is_made_and_said(example):
    job, stage = found(example, NO_NAMES)
    result = stage.result
    assert result.source == "proposed"
    assert "planting.proposed" in ids(stage)
    assert result.placed
    for item in result.placed:
        row = CATALOG.plants[item.plant]
        assert not listed(row, CATALOG, result.country)
        assert row.temp_min_c <= job.target.temp_c <= row.temp_max_c
        assert item.portions == item.units * (
            1 if result.zone(item.zone).place in ("wood", "stone") else row.portions_per_unit
        )
    assert len({item.plant for item in result.placed}) <= 10
    with_plants = planted(job, result)
    assert sum(item.units for item in with_plants.plants) == sum(item.units for item in result.placed)


def test_the_same_job_has_the_same_proposal_and_another_seed_may_have_another():
    job = job_from(**dict(NO_NAMES))
    shape = assess_tank(job, CATALOG).result
    bed = assess_bed(job, CATALOG, shape).result
    again = assess_planting(job, CATALOG, shape, bed)
    assert again.result == found("blue-corridor", NO_NAMES)[1].result
    others = {
        tuple(
            (item.plant, item.zone, item.units)
            for item in found("blue-corridor", (*NO_NAMES, ("seed", seed)))[1].result.placed
        )
        for seed in (1, 2)
    }
    assert len(others) == 2


def test_the_budget_holds_for_what_is_ordered_spares_included():
    wish = {"budget": 45, "most_species": 4}
    job, stage = found("blue-corridor", (*NO_NAMES, *((f"planting.{name}", value) for name, value in wish.items())))
    assert job.planting == PlantingWish(budget=45, most_species=4)
    lines, _ = order_lines(planted(job, stage.result), CATALOG, Quantities(), None)
    spent = sum(line.price for line in lines if line.kind == "plant")
    assert 0 < spent <= 45
    told = next(finding for finding in stage.findings if finding.id == "planting.proposed")
    assert told.values["price"] == f"{spent:.2f} {job.price.currency}"
    assert len({item.plant for item in stage.result.placed}) <= 4
    assert "planting.budget_short" in ids(stage)


def test_a_budget_of_zero_buys_nothing_and_says_so():
    _, stage = found("blue-corridor", (*NO_NAMES, ("planting.budget", 0)))
    assert stage.result.placed == ()
    assert "planting.budget_short" in ids(stage)
    assert "planting.proposed" not in ids(stage)


def test_ten_thousand_pots_are_placed_and_said_to_be_too_many():
    plants = tuple({"plant": "cryptocoryne_wendtii", "units": 1000} for _ in range(10))
    job = job_from(plants=list(plants))
    shape = assess_tank(job, CATALOG).result
    stage = assess_planting(job, CATALOG, shape, assess_bed(job, CATALOG, shape).result)
    assert sum(item.units for item in stage.result.placed) == 10_000
    assert "planting.too_many" in ids(stage)


def test_a_plant_that_fits_no_zone_is_told_with_the_reason_and_the_nearest():
    job, stage = found("blue-corridor", (("plants.0.plant", "rotala_macrandra"),))
    (item,) = stage.result.unplaced
    assert item.plant == "rotala_macrandra"
    assert item.units == job.plants[0].units
    assert stage.result.zone(item.nearest).place == "background"
    told = next(finding for finding in stage.findings if finding.id == "planting.fits_nowhere")
    assert told.values["reason"] == "@planting.reason.co2"


def test_a_plant_that_is_in_no_table_is_left_to_the_screening():
    _, stage = found("blue-corridor", (("plants.0.plant", "no_such_plant"),))
    assert "no_such_plant" not in {item.plant for item in stage.result.placed}


def test_too_few_plants_bring_a_suggestion_that_is_not_ordered():
    few = [{"plant": "cryptocoryne_wendtii", "units": 2}]
    job = job_from(plants=few)
    shape = assess_tank(job, CATALOG).result
    stage = assess_planting(job, CATALOG, shape, assess_bed(job, CATALOG, shape).result)
    assert stage.result.source == "given"
    assert stage.result.suggested
    assert "planting.suggested" in ids(stage)
    assert planted(job, stage.result).plants == job.plants


def test_no_plants_at_all_as_told_is_not_ordered_against():
    job = job_from(plants=[])
    shape = assess_tank(job, CATALOG).result
    stage = assess_planting(job, CATALOG, shape, assess_bed(job, CATALOG, shape).result)
    assert planted(job, stage.result).plants == ()
    assert "planting.suggested" in ids(stage)


def test_a_substitute_stands_in_for_what_cannot_be_had():
    changes = (("plants.0.undeliverable", True), ("plants.0.substitute_allowed", True))
    job, stage = found("blue-corridor", changes)
    (substitute,) = stage.result.substitutes
    assert substitute.plant == "cryptocoryne_wendtii"
    row = CATALOG.plants[substitute.by]
    assert row.position == "midground" and row.co2_need == "none"
    with_plants = planted(job, stage.result)
    assert with_plants.plants[0].plant == substitute.by
    assert not with_plants.plants[0].undeliverable
    assert with_plants.plants[0].units == substitute.units
    assert "planting.substitute" in ids(stage)


def test_what_cannot_be_had_and_may_not_be_replaced_is_not_planted():
    _, stage = found("blue-corridor", (("plants.0.undeliverable", True),))
    assert "cryptocoryne_wendtii" not in {item.plant for item in stage.result.placed}


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/New_York", "Europe/London", None])
def test_nothing_listed_is_proposed_at_any_site(zone):
    _, stage = found("harbour-line", (*NO_NAMES, ("site.time_zone", zone)))
    assert stage.result.placed
    for item in stage.result.placed:
        assert not listed(CATALOG.plants[item.plant], CATALOG, stage.result.country)


def test_a_plant_named_as_not_to_be_had_is_not_proposed():
    _, stage = found("blue-corridor", NO_NAMES)
    gone = sorted({item.plant for item in stage.result.placed})
    _, without = found("blue-corridor", (*NO_NAMES, ("planting.unavailable", tuple(gone))))
    assert without.result.placed
    assert not {item.plant for item in without.result.placed} & set(gone)


def test_buckets_hold_every_placed_unit_once_in_the_order_of_zones():
    _, stage = found("harbour-line")
    held = [item for bucket in stage.result.buckets for item in bucket.contents]
    assert sorted(held, key=repr) == sorted(stage.result.placed, key=repr)
    numbers = [bucket.zone for bucket in stage.result.buckets]
    assert numbers == sorted(numbers)
    assert all(bucket.portions == sum(item.portions for item in bucket.contents) for bucket in stage.result.buckets)


def test_without_any_light_known_it_is_said():
    _, stage = found("harbour-line")
    assert stage.result.light == "unknown"
    assert "planting.light_unknown" in ids(stage)
