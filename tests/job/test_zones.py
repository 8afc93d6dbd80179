"""Time zones: a name that no table holds is refused with those it may mean."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from slackwater.errors import BadInput
from slackwater.job.load import read_job
from slackwater.job.zones import _IN_ZONE, near_zones, places, zone_names


@pytest.mark.parametrize(
    ("said", "first"),
    [
        ("Middle Europe", "Europe/Berlin"),
        ("europe/berlin", "Europe/Berlin"),
        ("Berlin", "Europe/Berlin"),
        ("new york", "America/New_York"),
        ("Europe/Berln", "Europe/Berlin"),
        ("Switzerland", "Europe/Zurich"),
        ("Czech Republic", "Europe/Prague"),
        ("UK", "Europe/London"),
        ("Hamburg", "Europe/Berlin"),
        ("Hamburg, Germany", "Europe/Berlin"),
        ("hambrug", "Europe/Berlin"),
        ("München", "Europe/Berlin"),
        ("Deutschland", "Europe/Berlin"),
        ("Lyon", "Europe/Paris"),
        ("Boston", "America/New_York"),
        ("Pacific time", "America/Los_Angeles"),
    ],
)
def test_a_place_or_a_saying_leads_to_its_zone(said, first):
    assert near_zones(said)[0] == first


def test_every_town_from_memory_is_in_a_zone_of_the_tables_and_in_one_only():
    towns = [town for line in _IN_ZONE.values() for town in line.split(", ")]
    assert set(_IN_ZONE) <= zone_names() and len(towns) == len(set(towns))
    assert all(near_zones(town)[0] == zone for zone, line in _IN_ZONE.items() for town in line.split(", "))


def test_every_zone_to_choose_is_one():
    assert {zone for zone, _ in places()} <= zone_names()
    assert all(ZoneInfo(zone) for zone, _ in places()[::40])


def test_a_file_with_no_time_zone_of_the_tables_is_refused_with_its_line_and_what_is_near():
    text = 'format = 1\nname = "Lobby"\n[site]\ntime_zone = "Middle Europe"\n'
    with pytest.raises(BadInput, match=r"line 4: site.time_zone: .*Europe/Berlin or Europe/Vienna"):
        read_job(text, file_name="lobby.toml")
