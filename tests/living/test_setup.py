"""From a job to the simulations: nothing of the water is lost, every kept animal counts, odd jobs work."""

from __future__ import annotations

import numpy as np
import pytest

from slackwater.living.housing import BOXES_SHARE, holders_of, house, kinds_of
from slackwater.living.packing import may_share, pack
from slackwater.living.setup import (
    live_mass_g,
    planted_m2,
    protein_g_d,
    routine_oxygen_mg_d,
    soil_kind_of,
    tank_of,
    water_of,
)
from slackwater.plan import water_plan
from slackwater.water.speciation import conductivity_25c_us_cm, speciate
from tests.jobs import job_from
from tests.plans import catalog

EXAMPLES = ("blue-corridor", "harbour-line", "light-well")


def budget_of(job):
    return water_plan(job, catalog(), version="test").water


@pytest.mark.parametrize("example", EXAMPLES)
def test_a_water_comes_back_from_its_readings(example):
    reading = budget_of(job_from(example)).refill
    water = water_of(reading)
    assert water.hardness_dgh == pytest.approx(reading.hardness_dgh, rel=1e-9)
    assert speciate(water).ph == pytest.approx(reading.ph, abs=1e-4)
    assert conductivity_25c_us_cm(water) == pytest.approx(reading.conductivity_us_cm, rel=1e-3)


@pytest.mark.parametrize("example", EXAMPLES)
def test_every_kept_animal_is_packed_with_a_box_to_spare(example):
    job = job_from(example)
    kinds = kinds_of(job, catalog())
    packed = pack(kinds, holders_of(job, catalog()))
    assert packed is not None and packed.spare is not None and packed.proven
    placed = {kind.id: sum(content.get(kind.id, 0) for _, content in packed.boxes) for kind in kinds}
    assert placed == {kind.id: kind.count for kind in kinds}


@pytest.mark.parametrize("example", EXAMPLES)
def test_boxes_hold_everyone_and_leave_old_water_for_the_tank(example):
    job, gross_l = job_from(example), 208.0
    boxes = house(job, catalog(), gross_l=gross_l).result
    kinds = {kind.id: kind for kind in kinds_of(job, catalog())}
    assert {name: sum(box.counts.get(name, 0) for box in boxes) for name in kinds} == {
        name: kind.count for name, kind in kinds.items()
    }
    assert [box.label for box in boxes] == [chr(65 + place) for place in range(len(boxes))]
    for box in boxes:
        container = catalog().containers[box.container]
        assert 0.4 * container.usable_l - 0.1 <= box.water_l <= container.usable_l
        for one in box.counts:
            for other in box.counts:
                assert one == other or may_share(kinds[one], kinds[other])
    # Three quarters of what stands above a quarter of the depth, a half of it again for the refresh.
    if sum(box.water_l for box in boxes) > BOXES_SHARE * 0.75 * gross_l / 1.5 + 0.5:
        assert any(box.water_l == pytest.approx(1000 * box.animal_mass_kg / 3, rel=0.05) for box in boxes)


def test_a_wish_of_the_practitioner_comes_first():
    wish = [{"container": "box_65", "species": ["corydoras_aeneus"]}]
    boxes = house(job_from("blue-corridor", holding=wish), catalog(), gross_l=208).result
    assert boxes[0].container == "box_65" and dict(boxes[0].counts) == {"corydoras_aeneus": 9}


@pytest.mark.parametrize(
    ("changes", "finding"),
    [
        ({"containers": []}, "living.boxes_short"),
        ({"containers": [{"container": "shrimp_box_5", "count": 9}]}, "living.boxes_short"),
        (
            {
                "livestock": [{"species": "danio_rerio", "count": 8}],
                "containers": [{"container": "box_30", "count": 1}],
            },
            "living.no_spare_box",
        ),
    ],
)
def test_boxes_that_do_not_do_are_said(changes, finding):
    assert finding in [item.id for item in house(job_from(**changes), catalog(), gross_l=208).findings]


def test_without_animals_no_box_and_without_a_census_no_answer():
    assert house(job_from(livestock=[], containers=None), catalog(), gross_l=208).result == ()
    assert house(job_from(livestock=None), catalog(), gross_l=208).lacks == ("livestock",)


def test_the_tank_that_starts_again_is_that_of_the_job():
    job = job_from("blue-corridor")
    tank = tank_of(job, catalog(), budget_of(job), soil_l=34.7, footprint_m2=0.4956, media_kept=1.0)
    assert tank.soil_kind == "lean" == soil_kind_of(job, catalog())
    assert 0 < tank.planted_m2 <= tank.footprint_m2
    assert tank.volume_l == pytest.approx(171, abs=2)
    # A hundredth of the live mass a day, 45 % protein.
    assert protein_g_d(job, catalog()) == pytest.approx(0.0045 * live_mass_g(job, catalog()))
    assert planted_m2(job_from("blue-corridor", plants=[]), catalog()) == 0


@pytest.mark.parametrize(
    "changes",
    [
        {"livestock": []},
        {"livestock": [{"species": "caridina_multidentata", "count": 500}]},
        {"livestock": [{"species": "trichopodus_leerii", "count": 1}]},
        {"site.altitude": "2300 m"},
        {"site.room_temperature": "12 C"},
        {"plants": []},
    ],
)
def test_odd_jobs_work(changes):
    job = job_from("blue-corridor", **changes)
    oxygen = routine_oxygen_mg_d(job, catalog(), temp_c=24.5)
    assert oxygen >= 0 and (oxygen == 0) == (not job.livestock)
    water = budget_of(job)
    tank = tank_of(job, catalog(), water, soil_l=30, footprint_m2=0.5, media_kept=0.5)
    assert 5 < tank.oxygen_mg_l < 9 and np.all(np.asarray(tank.load_before_mg_d) >= 0)
