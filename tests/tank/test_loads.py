"""What the stand and the floor carry against what is stated for them; all expected values reckoned by hand."""

from __future__ import annotations

import pytest

from slackwater.finding import Severity
from slackwater.job.catalog import load_catalog
from slackwater.tank.assess import assess_tank
from slackwater.tank.loads import assess_loads
from slackwater.tank.result import Volumes
from slackwater.wording.render import finding_sentence
from tests.jobs import job_from

VOLUMES = Volumes(
    gross_l=250, soil_solids_l=30, hardscape_l=20, pore_water_l=30, free_water_l=170, net_l=200
)  # 200 L of water
FLOOR = {
    "site.floor.stated_load": None,
    "site.floor.stated_by": "letter",
    "stones": [],
    "wood": [],
    "target.temperature": "25 C",
    "tank.glass_and_stand": "100 kg",
}


def judged(**changes):
    job = job_from("harbour-line", **{**FLOOR, "site.floor.stand_plate_length": None, **changes})
    shape = assess_tank(job, load_catalog()).result
    return assess_loads(job, load_catalog(), shape, VOLUMES, bed_dry_kg=50, barrels=(), boxes=())


# 200 L at 25 C weigh 199.4 kg (0.99705 kg/L); with 100 kg of glass and stand and 50 kg of soil 349.4 kg, 3.427 kN.
# Errors of 10 % of 100 kg, 15 % of 50 kg and 3 % of 199.4 kg: root of 100 + 56.25 + 35.8, 13.9 kg, 0.136 kN.
# Without glass and stand 249.4 kg, 2.446 kN.
@pytest.mark.parametrize(
    ("limit", "glass", "said", "severity"),
    [
        ("3.2 kN", "100 kg", "stand_over_limit", Severity.CONDITION),
        ("3.35 kN", "100 kg", "stand_near_limit", Severity.CONDITION),
        ("3.5 kN", "100 kg", "stand_near_limit", Severity.CONDITION),
        ("3.6 kN", "100 kg", "stand_within_limit", Severity.NOTE),
        ("3.6 kN", None, "stand_unjudged", Severity.CONDITION),
        ("2.3 kN", None, "stand_over_limit", Severity.CONDITION),
    ],
)
def test_the_filled_tank_is_held_against_the_limit_of_its_stand(limit, glass, said, severity):
    stage = judged(**{"site.floor.stand_limit": limit, "tank.glass_and_stand": glass})
    (told,) = [finding for finding in stage.findings if finding.id.startswith("tank.stand_")]
    assert (told.id, told.severity) == (f"tank.{said}", severity)
    sentence = finding_sentence(told)
    assert (
        limit in sentence
        and "letter" in sentence
        and "Only a structural engineer clears" in sentence.replace("only", "Only")
    )
    (figure,) = [figure for figure in stage.figures if figure.id == "tank.stand_load_kn"]
    if glass is not None:
        assert (figure.low, figure.value, figure.high) == pytest.approx((3.291, 3.427, 3.563), abs=0.001)
    else:
        assert figure.value == pytest.approx(2.446, abs=0.001)


def test_without_a_limit_of_the_stand_nothing_is_said_of_it():
    stage = judged(**{"site.floor.stand_limit": None})
    assert not [finding for finding in stage.findings if finding.id.startswith("tank.stand_")]


# On the stand's 210 x 60 cm the 3.427 kN press 2.72 kN/m2; on a plate of 100 x 60 cm 5.71 kN/m2.
@pytest.mark.parametrize(
    ("changes", "over_floor"),
    [
        # A limit with its plate is the floor's there, and stands in place of the one for each square metre.
        ({"site.floor.stand_limit": "9 kN", "site.floor.stand_plate_length": "100 cm"}, False),
        # One without a plate is the stand's own: the floor is held to its own figure.
        ({"site.floor.stand_limit": "9 kN"}, True),
        # A plate without a limit spreads the load, or gathers it.
        ({"site.floor.stand_limit": None, "site.floor.stand_plate_length": "210 cm"}, True),
        ({"site.floor.stand_limit": None, "site.floor.stand_plate_length": "600 cm"}, False),
    ],
)
def test_a_limit_with_an_area_is_used_on_that_area(changes, over_floor):
    stage = judged(**{"site.floor.stated_load": "2.5 kN/m2", **changes})
    assert ("tank.stand_over_floor" in {finding.id for finding in stage.findings}) is over_floor


def test_a_limit_is_judged_though_the_size_of_the_stand_is_not_known():
    stage = judged(**{"site.floor.stand_limit": "3.2 kN", "tank.stand_length": None})
    assert "tank.stand_over_limit" in {finding.id for finding in stage.findings}


# 2.0 kN are 203.9 kg; the four people of the job at 80 kg each are more than that alone.
@pytest.mark.parametrize(
    ("counted", "allowed_kg", "said"),
    [
        (None, 203.9, "whether people count in it is not told"),
        (False, 203.9, "people do not count in it"),
        (True, 0.0, "the 4 of the crew take 320 kg of it"),
    ],
)
def test_the_limit_near_the_tank_says_what_it_counts(counted, allowed_kg, said):
    job = job_from(
        "harbour-line", **{**FLOOR, "site.floor.extra_near_tank_with_people": counted} if counted is not None else FLOOR
    )
    shape = assess_tank(job, load_catalog()).result
    stage = assess_loads(job, load_catalog(), shape, VOLUMES, bed_dry_kg=50, barrels=(("barrel_220", 196),), boxes=())
    (told,) = [finding for finding in stage.findings if finding.id == "tank.extra_near_tank"]
    # Barrel of 10 kg with 196 L and two bags of 15 kg.
    assert told.values["mass_kg"] == pytest.approx(236)
    assert told.values["allowed_kg"] == pytest.approx(allowed_kg, abs=0.1)
    sentence = finding_sentence(told)
    assert said in sentence and "Barrels, boxes and bags" in sentence and "within 250 cm" in sentence
