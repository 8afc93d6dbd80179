"""The split of a price on screen: lines that add up, and the client's ceiling beside the total."""

from __future__ import annotations

from decimal import Decimal

import pytest

from slackwater.paper.price_page import price_data
from slackwater.reader import ENGLISH
from tests.jobs import job_from
from tests.plans import HARDLY, catalog, plan_of

JOB = job_from("blue-corridor")


@pytest.fixture(scope="module")
def plan():
    return plan_of("blue-corridor", effort=HARDLY)


def number(text):
    return Decimal("".join(sign for sign in text if sign.isdigit() or sign == "."))


def test_the_lines_add_up_to_the_total(plan):
    told = price_data(plan, JOB, catalog(), ENGLISH)
    assert sum(number(line["amount"]) for line in told["lines"]) == number(told["total"]) == plan.supply.price.total
    names = [line["name"] for line in told["lines"]]
    assert names[-3:] == ["Overhead", "Margin", "Tax"]
    assert "Labour on the day: lead" in names and "Materials and plants" in names and "Travel" in names
    assert all(line["formula"] for line in told["lines"])


def test_the_ceiling_stands_beside_the_total_with_the_difference(plan):
    # The clinic's ceiling is 3400; another one lies above any price.
    told = price_data(plan, JOB, catalog(), ENGLISH)
    assert number(told["over"]) == number(told["total"]) - 3400
    assert told["under"] == ""
    rich = price_data(plan, job_from("blue-corridor", **{"price.client_budget": "20000"}), catalog(), ENGLISH)
    assert number(rich["under"]) == 20000 - number(rich["total"])
    assert rich["over"] == ""
    untold = price_data(plan, job_from("blue-corridor", **{"price.client_budget": None}), catalog(), ENGLISH)
    assert (untold["ceiling"], untold["over"], untold["under"]) == ("", "", "")


def test_materials_are_told_by_their_goods(plan):
    (materials,) = [
        line for line in price_data(plan, JOB, catalog(), ENGLISH)["lines"] if line["name"] == "Materials and plants"
    ]
    priced = [number(value) for _, value in materials["inputs"] if any(sign.isdigit() for sign in value)]
    assert sum(priced) == number(materials["amount"])
    assert any("no price known" in value for _, value in materials["inputs"])


def test_without_rates_the_direct_cost_is_split_all_the_same(plan):
    bare = plan.model_copy(update={"supply": plan.supply.model_copy(update={"price": None})})
    told = price_data(bare, JOB, catalog(), ENGLISH)
    assert told["total"] == ""
    assert sum(number(line["amount"]) for line in told["lines"]) == number(told["direct"])
    assert price_data(plan.model_copy(update={"supply": None}), JOB, catalog(), ENGLISH) is None
