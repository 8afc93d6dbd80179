"""From a job to the simulations: nothing of the water is lost, every kept animal counts, odd jobs work."""

from __future__ import annotations

import numpy as np
import pytest

from slackwater.living.acidity import acidity_of
from slackwater.living.holding import box_water, drawn_parameters, hold, start_of
from slackwater.living.packing import pack
from slackwater.living.setup import (
    box_of,
    holders_of,
    kinds_of,
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
DRAWN = drawn_parameters(100, np.random.default_rng(2))


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


def test_boxes_hold_longer_with_air():
    job = job_from("blue-corridor")
    water = budget_of(job)
    old = water_of(water.old_water)
    table = box_water(old, acidity_of(old))
    for use in water.boxes:
        box, limits = box_of(use, job, catalog(), temp_c=water.old_water.temp_c, drawn=DRAWN)

        def middle(transfer, box=box, limits=limits):
            state = start_of(
                box,
                water=old,
                carbon_mmol_l=float(old.carbon_mmol_l),
                temp_c=water.old_water.temp_c,
                transfer_per_h=transfer,
                members=100,
            )
            return float(np.median(hold(box, table, state, limits=limits, last_h=10.0).hours))

        assert middle(DRAWN["transfer_aired_per_h"]) > middle(DRAWN["transfer_still_per_h"])


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
    assert 5 < tank.oxygen_mg_l < 9 and tank.load_before_mg_d >= 0
    pack(kinds_of(job, catalog()), holders_of(job, catalog()))
