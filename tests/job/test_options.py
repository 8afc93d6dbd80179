"""Options of an offer are the job as it would have been written for less or more."""

from __future__ import annotations

import pytest

from slackwater.errors import BadInput
from slackwater.job.load import read_job
from slackwater.job.model import OfferOption
from slackwater.job.options import OPTION_CHANGES, with_option
from tests.jobs import job_from
from tests.plans import catalog


def option_of(job, *changes):
    return with_option(job, catalog(), OfferOption(name="one", changes=changes))


def test_an_option_without_changes_is_the_job_without_its_options():
    job = job_from("light-well", **{"price.options": [{"name": "Better"}]})
    assert option_of(job) == (job_from("light-well"), ())


def test_plants_are_two_thirds_or_half_as_many_again_in_whole_units():
    job = job_from("light-well")
    assert [item.units for item in job.plants] == [14, 8, 5, 7, 6, 5, 8, 5, 2]
    # Rounded up each: 14 x 2/3 = 9.3, 8 x 2/3 = 5.3; 7 x 3/2 = 10.5, 5 x 3/2 = 7.5.
    assert [item.units for item in option_of(job, "fewer_plants")[0].plants] == [10, 6, 4, 5, 4, 4, 6, 4, 2]
    assert [item.units for item in option_of(job, "richer_planting")[0].plants] == [21, 12, 8, 11, 9, 8, 12, 8, 3]


def test_longer_care_is_six_visits_more_a_week_apart_from_those_in_the_price():
    job = job_from("light-well")
    assert job.contract.visit_days(last_day=42) == (1, 3, 6, 9, 13, 20, 27, 34, 41)
    varied, _ = option_of(job, "longer_care")
    assert varied.contract.priced_to_day == 84
    assert varied.contract.visit_days(last_day=84) == (1, 3, 6, 9, 13, 20, 27, 34, 41, 49, 56, 63, 70, 77, 84)
    # Twice as long again begins where the first ends.
    assert option_of(varied, "longer_care")[0].contract.visit_days(last_day=126)[-6:] == (91, 98, 105, 112, 119, 126)


def test_an_option_reads_the_same_job_as_one_written_by_hand():
    by_hand = job_from("light-well", **{"brief.carpet_later": True})
    assert option_of(job_from("light-well"), "carpet_later") == (by_hand, ())


@pytest.mark.parametrize(
    ("change", "facts"),
    [
        ("carpet_later", {"brief.carpet_later": True}),
        ("carpet_later", {"plants": [{"plant": "anubias_barteri_nana", "units": 3}]}),
        ("fewer_plants", {"plants": None}),
        ("richer_planting", {"plants": []}),
        ("longer_care", {"contract": {}}),
    ],
)
def test_what_makes_no_difference_is_named_and_changes_nothing(change, facts):
    job = job_from("light-well", **facts)
    assert option_of(job, change) == (job, (change,))


def test_every_change_of_an_option_is_known_and_an_unknown_one_is_told():
    text = 'format = 1\nname = "x"\n[[price.options]]\nname = "good"\nchanges = ["no_filter"]\n'
    with pytest.raises(BadInput, match=r"price\.options"):
        read_job(text, file_name="x.toml")
    assert set(OPTION_CHANGES) == {"carpet_later", "fewer_plants", "richer_planting", "longer_care"}


@pytest.mark.parametrize("entry", ['name = ""', 'name = "' + "x" * 300 + '"'])
def test_an_option_without_a_name_or_with_a_very_long_one_is_told(entry):
    with pytest.raises(BadInput, match=r"price\.options"):
        read_job(f'format = 1\nname = "x"\n[[price.options]]\n{entry}\n', file_name="x.toml")
