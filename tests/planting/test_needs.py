"""What a plant needs against what a zone has: one case at each side of each rule."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.planting.needs import Tank, attaches, fit, positions
from tests.planting.beds import CATALOG, plant, zone

WARM = Tank(temp_c=24.0, co2=True)


def ids(found):
    return {reason.id for reason in found.reasons}


def test_a_plant_in_its_own_place_has_no_marks():
    assert fit(plant(), zone(), WARM).marks == 0
    assert fit(plant(), zone(), WARM).reasons == ()


@pytest.mark.parametrize(
    ("row", "changes", "tank", "reason"),
    [
        ("cryptocoryne_wendtii", {"place": "wood", "soil_m": None}, WARM, "holds_on"),
        ("anubias_barteri_nana", {"place": "middle"}, WARM, "holds_on"),
        ("cryptocoryne_wendtii", {"place": "carpet"}, WARM, "place"),
        ("cryptocoryne_wendtii", {"par_umol_m2_s": 10.0, "par_error_umol_m2_s": 2.0}, WARM, "light"),
        ("blyxa_japonica", {}, Tank(temp_c=24.0, co2=False), "co2"),
        ("cryptocoryne_wendtii", {}, Tank(temp_c=19.0, co2=True), "temperature"),
        ("vallisneria_australis", {"place": "background", "water_m": 0.5}, WARM, "water_shallow"),
        ("cryptocoryne_wendtii", {"soil_m": 0.01}, WARM, "soil_thin"),
    ],
)
def test_what_keeps_a_plant_out_is_named(row, changes, tank, reason):
    found = fit(plant(row), zone(**changes), tank)
    assert not found.stands
    assert reason in ids(found)


@pytest.mark.parametrize(
    ("row", "changes", "tank", "reason"),
    [
        ("staurogyne_repens", {}, WARM, "neighbour"),
        ("blyxa_japonica", {"par_umol_m2_s": 55.0, "par_error_umol_m2_s": 5.0}, WARM, "light_unsure"),
        ("cryptocoryne_wendtii", {"par_umol_m2_s": 120.0}, WARM, "bright"),
        ("alternanthera_reineckii", {}, Tank(temp_c=24.0, co2=False), "co2_helps"),
        ("cryptocoryne_wendtii", {"water_m": 0.2}, WARM, "grows_out"),
        ("sagittaria_subulata", {"place": "carpet"}, WARM, "hides"),
        ("cryptocoryne_wendtii", {"soil_m": 0.02}, WARM, "soil_shallow"),
    ],
)
def test_what_is_doubtful_is_told_and_marked(row, changes, tank, reason):
    found = fit(plant(row), zone(**changes), tank)
    assert found.stands
    assert reason in ids(found)
    assert 0 < found.marks <= 100


def test_light_that_is_not_known_keeps_no_plant_out():
    found = fit(plant("rotala_macrandra"), zone(place="background", par_umol_m2_s=None, par_error_umol_m2_s=None), WARM)
    assert found.stands and "light" not in ids(found)


@given(st.sampled_from(sorted(CATALOG.plants)), st.floats(0, 200), st.floats(0, 60), st.floats(0, 60))
def test_more_light_never_takes_a_place_away(row, par, error, more):
    here = zone(place="background", par_umol_m2_s=par, par_error_umol_m2_s=error)
    brighter = zone(place="background", par_umol_m2_s=par + more, par_error_umol_m2_s=error)
    if fit(plant(row), here, WARM).stands:
        assert fit(plant(row), brighter, WARM).stands


def test_every_plant_of_the_catalog_has_a_place_in_a_tank_that_has_them_all():
    places = [
        *(
            zone(place=place, water_m=1.0, par_umol_m2_s=None)
            for place in ("background", "middle", "foreground", "carpet")
        ),
        *(zone(place=place, soil_m=None, par_umol_m2_s=None) for place in ("wood", "stone", "surface")),
    ]
    for row in CATALOG.plants.values():
        tank = Tank(temp_c=(row.temp_min_c + row.temp_max_c) / 2, co2=True)
        assert any(fit(row, one, tank).stands for one in places), row.id


def test_positions_and_attachments_of_the_catalog_are_all_known():
    for row in CATALOG.plants.values():
        assert set(positions(row)) <= {
            "carpet",
            "foreground",
            "midground",
            "background",
            "epiphyte",
            "moss",
            "floating",
        }
        assert attaches(row) <= {"soil", "wood", "stone", "net", "floating"}
        assert attaches(row), row.id
