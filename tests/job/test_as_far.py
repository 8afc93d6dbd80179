"""A job text with faults is used as far as it goes: each fault is told at its key, and all else counts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import BadInput
from slackwater.job.load import read_as_far, read_job
from slackwater.job.text import add_card, set_value
from tests.jobs import EXAMPLES

BLUE = (EXAMPLES / "blue-corridor.toml").read_text(encoding="utf-8")


def test_a_text_without_faults_is_the_job_itself():
    found = read_as_far(BLUE)
    assert found.faults == () and found.job == read_job(BLUE, file_name="x")


@pytest.mark.parametrize(
    ("path", "typed", "at", "says"),
    [
        (
            ("tank", "length"),
            "118 elephants",
            ("tank", "length"),
            '"118 elephants" was given; "elephants" is not a unit',
        ),
        (("water", "tap", "gh"), "14 ± one", ("water", "tap", "gh"), "a reading with its error is expected"),
        (("water", "tap", "ph"), "acid", ("water", "tap", "ph"), '"acid" was given'),
        (("water", "tank", "nitrate"), "55 kg", ("water", "tank", "nitrate"), '"kg" does not measure a concentration'),
        (("livestock", 2, "count"), "some", ("livestock", 2, "count"), "a count is expected"),
        (("target", "ph_low"), 7.4, ("target",), "ph_low is above ph_high; swap them"),
        (("site", "windows", 0, "start"), "soon", ("site", "windows", 0, "start"), "a date and time is expected"),
        (("contract", "visits", 0, "days"), ["x"], ("contract", "visits", 0, "days", 0), "a whole number is expected"),
        (("people", 1, "skills"), "all", ("people", 1, "skills"), "a list in square brackets is expected"),
        (("tank", "colour"), "blue", ("tank", "colour"), "is not a key known here"),
    ],
)
def test_a_fault_is_told_at_its_key_and_takes_nothing_else_with_it(path, typed, at, says):
    found = read_as_far(set_value(BLUE, path, typed))
    assert [fault.path for fault in found.faults] == [at]
    assert says in found.faults[0].message
    whole = read_job(BLUE, file_name="x")
    assert found.job.plants == whole.plants and found.job.preparation == whole.preparation


def test_a_card_begun_is_told_as_missing_its_keys_and_does_not_count_yet():
    found = read_as_far(add_card(BLUE, ("livestock",)))
    assert [(fault.path, fault.missing) for fault in found.faults] == [
        (("livestock", 7, "species"), True),
        (("livestock", 7, "count"), True),
    ]
    assert found.job == read_job(BLUE, file_name="x")


def test_cards_that_all_are_only_begun_are_not_known_rather_than_none():
    begun = read_as_far('format = 1\nname = "x"\n[[livestock]]\nspecies = "neon tetra"\n[[livestock]]\ncount = 8\n')
    assert begun.job.livestock is None and len(begun.faults) == 2
    # Said by hand, an empty list still is an answer.
    assert read_as_far('format = 1\nname = "x"\nlivestock = []\n').job.livestock == ()


def test_every_reading_of_a_water_is_told_at_once():
    text = set_value(set_value(BLUE, ("water", "tap", "gh"), "± x dGH"), ("water", "tap", "conductivity"), "9 cats")
    assert {fault.path[-1] for fault in read_as_far(text).faults} == {"gh", "conductivity"}


scalars = st.one_of(st.text(st.characters(exclude_categories=("Cs",)), max_size=8), st.integers(), st.booleans())
nested = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text("ab", max_size=2), inner, max_size=3),
    max_leaves=6,
)


@given(
    st.sampled_from(["format", "name", "site", "tank", "water", "people", "bed", "livestock", "light", "nonsense"]),
    nested,
)
def test_whatever_stands_there_the_rest_is_a_job(key, value):
    text = set_value('format = 1\nname = "x"\nclient_informed = true\n', (key,), value)
    assert read_as_far(text).job.client_informed is True


def test_a_thousand_faults_are_not_told_one_by_one():
    text = 'format = 1\nname = "x"\n' + "".join(f"k{number} = 1\n" for number in range(1000))
    with pytest.raises(BadInput) as caught:
        read_job(text, file_name="x.toml")
    assert len(str(caught.value).splitlines()) == 101
    assert str(caught.value).endswith("and 900 more; correct these first")


def test_what_is_no_toml_is_refused():
    with pytest.raises(BadInput, match="not a readable job file"):
        read_as_far("name = ")
