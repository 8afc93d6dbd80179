"""Time zones: a name that no table holds is refused with those it may mean."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from slackwater.errors import BadInput
from slackwater.job.load import read_job
from slackwater.job.zones import near_zones, places, zone_names


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
        ("Pacific time", "America/Los_Angeles"),
    ],
)
def test_a_place_or_a_saying_leads_to_its_zone(said, first):
    assert near_zones(said)[0] == first


def test_every_zone_to_choose_is_one():
    assert {zone for zone, _ in places()} <= zone_names()
    assert all(ZoneInfo(zone) for zone, _ in places()[::40])


def test_a_file_with_no_time_zone_of_the_tables_is_refused_with_its_line_and_what_is_near():
    text = 'format = 1\nname = "Lobby"\n[site]\ntime_zone = "Middle Europe"\n'
    with pytest.raises(BadInput, match=r"line 4: site.time_zone: .*Europe/Berlin or Europe/Vienna"):
        read_job(text, file_name="lobby.toml")
