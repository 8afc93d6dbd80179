"""No plant on a list that holds at the site is ever proposed, wherever the site is."""

from __future__ import annotations

import pytest

from slackwater.planting.lists import HOLDS_IN, UNION, country_at, listed, may_be_proposed
from tests.jobs import job_from
from tests.planting.beds import CATALOG, plant


def test_the_union_has_27_members():
    # Article 52 of the Treaty on European Union, as it stands since 2020.
    assert len(UNION) == 27
    assert {"DE", "AT", "IE", "HR"} <= UNION
    assert not {"GB", "CH", "NO"} & UNION


def test_every_list_of_the_catalog_says_where_it_holds():
    assert {row.list_scope for row in CATALOG.regulated_species.values()} == set(HOLDS_IN)


@pytest.mark.parametrize("country", [*sorted({*set().union(*HOLDS_IN.values()), "CH", "JP"}), None])
def test_what_a_list_names_is_never_proposed_where_it_holds(country):
    for row in CATALOG.regulated_species.values():
        where = HOLDS_IN[row.list_scope]
        known = any(country in other for other in HOLDS_IN.values())
        if known and country not in where:
            continue
        for name in row.names:
            named = plant(scientific_name=name, regulated_note=None)
            assert listed(named, CATALOG, country), name
            assert not may_be_proposed(named, CATALOG, country), name


def test_a_list_of_one_country_does_not_hold_in_another():
    weed = plant("hygrophila_polysperma")
    assert listed(weed, CATALOG, "US")
    assert not listed(weed, CATALOG, "DE")
    assert listed(weed, CATALOG, None), "where the country is not known every list counts"
    assert listed(weed, CATALOG, "JP"), "no list of Japan is in the catalog"


def test_a_plant_whose_row_sends_the_reader_to_a_list_is_not_proposed_either():
    assert not may_be_proposed(plant("limnobium_laevigatum"), CATALOG, "DE")


@pytest.mark.parametrize(
    ("zone", "country"), [("Europe/Berlin", "DE"), ("America/Chicago", "US"), ("Asia/Tokyo", None), (None, None)]
)
def test_the_country_is_that_of_the_time_zone(zone, country):
    assert country_at(job_from(**{"site.time_zone": zone})) == country
