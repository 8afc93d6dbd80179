"""Names of figures and of what went into them: nobody reads a key of the program."""

from __future__ import annotations

import re

import pytest

from slackwater.job.catalog import load_catalog
from slackwater.paper.data import _assumed
from slackwater.paper.fact_names import fact_name
from slackwater.paper.figure_names import NEVER, figure_name, input_label, things_of, why
from slackwater.reader import ENGLISH, Reader
from tests.plans import HARDLY, UNASKED, catalog, plan_of

EXAMPLES = (("blue-corridor", HARDLY), ("harbour-line", UNASKED), ("light-well", HARDLY))
CODE = re.compile(r"\b[A-Z]\d+B?\b|[a-z]_[a-z]")


@pytest.fixture(scope="module", params=EXAMPLES, ids=lambda pair: pair[0])
def plan(request):
    example, effort = request.param
    return plan_of(example, effort=effort)


def test_every_figure_and_every_input_has_a_label(plan):
    things = things_of(plan, catalog(), ENGLISH)
    assert [figure.id for figure in plan.figures if figure_name(figure.id, things, ENGLISH) is None] == []
    named = {(figure.id, name) for figure in plan.figures for name in figure.inputs if name not in NEVER}
    assert len(named) > 100
    assert sorted(pair for pair in named if input_label(*pair, ENGLISH) is None) == []


def test_no_label_shows_a_code(plan):
    things = things_of(plan, catalog(), ENGLISH)
    for figure in plan.figures:
        told = why(figure, things, ENGLISH)
        for text in (told["name"], *(part for pair in told["inputs"] for part in pair)):
            assert not CODE.search(text), (figure.id, text)


def test_labels_tell_figures_apart(plan):
    things = things_of(plan, catalog(), ENGLISH)
    names = [figure_name(figure.id, things, ENGLISH) for figure in plan.figures]
    assert len(names) == len(set(names))


def test_every_activity_of_the_table_is_called_by_its_work():
    things = things_of(plan_of("blue-corridor", effort=HARDLY), catalog(), ENGLISH)
    assert figure_name("day.minutes.E22", things, ENGLISH) == "Time for: plant from back to front in damp soil"
    for name in load_catalog().activities:
        assert figure_name(f"day.minutes.{name}", things, ENGLISH).startswith("Time for: ")
        assert name not in figure_name(f"day.minutes.{name}", things, ENGLISH).split()


@pytest.mark.parametrize("driver", sorted({row.driver for row in load_catalog().activities.values()}))
def test_what_minutes_are_reckoned_from_has_a_label(driver):
    assert input_label("day.minutes.E1", driver, ENGLISH) is not None


def test_an_input_has_its_unit_in_the_readers_system():
    plan = plan_of("blue-corridor", effort=HARDLY)
    (limestone,) = [figure for figure in plan.figures if figure.id == "water.soil_spent_refills"]
    for reader, unit in ((ENGLISH, "L"), (Reader("us"), "gal")):
        told = dict(why(limestone, things_of(plan, catalog(), reader), reader)["inputs"])
        assert told["soil"].endswith(f" {unit}")
        assert told["KH"].endswith(" dKH")


def test_what_has_no_label_is_told_in_words_all_the_same():
    plan = plan_of("blue-corridor", effort=HARDLY)
    figure = plan.figures[0].model_copy(update={"id": "tank.new_thing_l", "inputs": {"odd_name_m": 1.0}})
    told = why(figure, things_of(plan, catalog(), ENGLISH), ENGLISH)
    assert (told["name"], told["inputs"]) == ("new thing", [["odd name", "1"]])


def test_every_default_that_was_used_has_a_name(plan):
    # A name of the survey is marked; what has none there is told by a sentence of its own.
    told = [_assumed(item.field, catalog(), ENGLISH) for item in plan.assumed]
    assert len(told) > 10
    own = ("how long this may wait: ", "prices of goods")
    assert [name for name in told if not name.startswith(("`", *own))] == []
    assert [name for name in told if name.startswith("`") and fact_name(name.strip("`")) is None] == []
