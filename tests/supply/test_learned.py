"""Goods that past jobs used, what the next order makes of it, and what a day cost afterwards."""

from __future__ import annotations

import math
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

import pytest

from slackwater.job.event import Event
from slackwater.job.experience import Experience, UsedGoods, in_order
from slackwater.supply.afterwards import cost_afterwards, packs_taken
from slackwater.supply.assess import assess_supply
from slackwater.supply.learned import goods_factor, learned_count, learned_line
from slackwater.supply.order import order_lines
from slackwater.supply.price import direct_cost_of
from slackwater.supply.used import beyond_order, goods_seen, in_unit_of
from slackwater.wording.render import say
from tests.jobs import job_from
from tests.plans import catalog
from tests.supply.test_supply import JOB, QUANTITIES


def used(sort, planned, amount, job="a"):
    return UsedGoods(sort=sort, planned=planned, used=amount, on=date(2027, 1, 5), job=job)


def known(sort, *ratios):
    return in_order([], [used(sort, 10, 10 * ratio, job=str(number)) for number, ratio in enumerate(ratios)])


LINES = order_lines(JOB, catalog(), QUANTITIES, date(2027, 2, 10))[0]
SOIL = next(line for line in LINES if line.kind == "soil")
GYPSUM = next(line for line in LINES if line.item == "gypsum")


def test_from_three_jobs_on_the_factor_is_the_shrunk_mean():
    # Three jobs at 1.3 against four of no factor: exp(3 ln 1.3 / 7).
    assert goods_factor(known("soil", 1.3, 1.3), "soil") == (1.0, 0)
    assert goods_factor(known("soil", 1.3, 1.3, 1.3), "soil") == (pytest.approx(1.3 ** (3 / 7)), 3)
    # Two at 1.2 and one slip of the pen are two.
    assert goods_factor(known("soil", 1.2, 1.2, 40.0), "soil") == (1.0, 0)
    assert goods_factor(known("soil", 1.3, 1.3, 1.3), None) == (1.0, 0)


def test_whole_pieces_are_ordered_to_the_nearest_and_weights_as_they_are():
    # Four bags times 1.3^(5/9) = 1.157 are 4.63, so five; one spare as before makes six packs at 26.
    five = known("soil", *[1.3] * 5)
    line = learned_line(SOIL, five)
    assert SOIL.packs == 5
    assert (line.need, line.plan_need, line.packs, line.price) == (5, 4, 6, Decimal("156.00"))
    assert (line.past_jobs, line.learned_factor) == (5, pytest.approx(1.3 ** (5 / 9), abs=1e-4))
    assert learned_line(SOIL, known("soil", *[1.05] * 5)).packs == 5
    grams = learned_line(GYPSUM, known("salt", *[1.3] * 5))
    assert grams.need == pytest.approx(12 * 1.3 ** (5 / 9), abs=1e-3)
    assert learned_line(SOIL, Experience()) == SOIL


def test_boxes_are_never_fewer_than_the_plan_needs():
    assert learned_count(5, known("box", *[1.6] * 5)) == round(5 * 1.6 ** (5 / 9)) == 6
    assert learned_count(5, known("box", *[0.5] * 5)) == 5


def test_an_order_with_past_jobs_tells_the_factor_and_the_jobs_behind_it():
    tables = catalog().with_experience(known("soil", *[1.3] * 5))
    stage = assess_supply(JOB, tables, QUANTITIES)
    figure = next(item for item in stage.figures if item.id == "supply.goods.soil")
    assert figure.value == pytest.approx(1.3 ** (5 / 9), abs=1e-3)
    assert figure.low < figure.value < figure.high
    assert figure.inputs["jobs_behind_it"] == 5
    assert not [
        item for item in assess_supply(JOB, catalog(), QUANTITIES).figures if item.id.startswith("supply.goods")
    ]


def events(*said):
    return [
        Event(
            id=UUID(int=number + 1),
            at=datetime(2027, 2, 10, 20),
            kind="used",
            job="x",
            subject=item,
            body={"amount": amount, **({"unit": unit} if unit else {})},
        )
        for number, (item, amount, unit) in enumerate(said)
    ]


def test_amounts_of_one_item_add_up_and_units_are_turned_into_those_of_the_order():
    seen = goods_seen(events((SOIL.item, 3, ""), (SOIL.item, 18, "L"), ("gypsum", 0.015, "kg")), LINES, {})
    # 3 bags and 18 L of bags of 9 L are 5 bags of 4 planned; 15 g of 12.
    assert seen.amounts == {SOIL.item: pytest.approx(5), "gypsum": pytest.approx(15)}
    assert {row.sort: (row.planned, row.used) for row in seen.sorts} == {"soil": (4, 5), "salt": (12, 15)}
    assert in_unit_of(SOIL, 2, "pots") is None


def test_plants_in_different_units_are_shares_of_their_plans():
    plants = [line for line in LINES if line.kind == "plant"]
    one, other = next((a, b) for a in plants for b in plants if a.unit != b.unit)
    seen = goods_seen(events((one.item, one.need, ""), (other.item, 1.5 * other.need, "")), LINES, {})
    assert [(row.sort, row.planned, row.used) for row in seen.sorts] == [("plant", 2, 2.5)]


def test_what_was_learned_before_is_taken_out_again():
    moved = learned_line(SOIL, known("soil", *[1.3] * 5))
    assert [row.planned for row in goods_seen(events((SOIL.item, 5, "")), [moved], {}).sorts] == [4]


@pytest.mark.parametrize(
    ("item", "amount", "unit", "reason"),
    [
        ("unobtainium", 2, "", "goods_unplanned"),
        ("gypsum", "much", "", "goods_amount"),
        ("gypsum", -1, "", "goods_amount"),
        ("gypsum", True, "", "goods_amount"),
        ("gypsum", 2, "pots", "goods_unit"),
        ("gypsum", 0, "", "goods_none"),
        ("gypsum", 1000, "", "goods_absurd"),
        ("box_20", 90, "", "goods_absurd"),
    ],
)
def test_amounts_that_cannot_be_learned_from_are_told(item, amount, unit, reason):
    seen = goods_seen(events((item, amount, unit)), LINES, {"box_20": 4})
    assert [row.reason for row in seen.skipped] == [reason] and not seen.sorts
    assert say(f"learned.skipped.{reason}", {"what": item, **seen.skipped[0].values})


def test_boxes_are_held_against_those_of_the_plan():
    assert [(row.sort, row.used) for row in goods_seen(events(("box_20", 5, "")), LINES, {"box_20": 4}).sorts] == [
        ("box", 5)
    ]


@pytest.mark.parametrize(
    ("said", "received", "expected"),
    [
        # Five bags are ordered, spare and all: the sixth is one more, and so are 9 L of it.
        ([(SOIL.item, 5, "")], {}, []),
        ([(SOIL.item, 5, ""), (SOIL.item, 9, "L")], {}, [(SOIL.item, 1, SOIL.unit)]),
        # Of seven that came the list of goods tells two; an eighth used is one more than that.
        ([(SOIL.item, 7, "")], {(SOIL.item, SOIL.unit): 7}, []),
        ([(SOIL.item, 8, "")], {(SOIL.item, SOIL.unit): 7}, [(SOIL.item, 1, SOIL.unit)]),
        # Two that came of five ordered: the rest came from the firm's own shelf, and is in the offer.
        ([(SOIL.item, 5, "")], {(SOIL.item, SOIL.unit): 2}, []),
        # In no order; the boxes go home again; what is no amount charges nothing.
        ([("bag_carbon", 2, "bag"), ("bag_carbon", 1, "bag")], {}, [("bag_carbon", 3, "bag")]),
        ([("bag_carbon", 2, "bag")], {("bag_carbon", "bag"): 2}, []),
        ([("box_20", 9, "piece"), ("bag_carbon", -2, "bag"), ("bag_carbon", True, "bag"), ("", 2, "")], {}, []),
        ([(SOIL.item, 40, "pots")], {}, []),
    ],
)
def test_what_was_used_beyond_the_order_is_told_once(said, received, expected):
    assert SOIL.packs == 5 and SOIL.unit == "bag of 9 L"
    found = beyond_order(events(*said), LINES, {"box_20": 4}, received)
    assert [(row.item, row.amount, row.unit) for row in found] == [(a, pytest.approx(b), c) for a, b, c in expected]


def test_what_was_on_hand_is_not_beyond_the_order():
    line = SOIL.model_copy(update={"on_hand": 2.0, "packs": 3})
    assert not beyond_order(events((SOIL.item, 5, "")), [line], {}, {})
    assert [row.amount for row in beyond_order(events((SOIL.item, 6, "")), [line], {}, {})] == [pytest.approx(1)]


# ---------------------------------------------------------------- what a day cost


DIRECT = direct_cost_of(JOB, catalog(), QUANTITIES, LINES, ())[0]


def afterwards(*, minutes=None, received=None, amounts=None, job=JOB):
    return cost_afterwards(
        job,
        DIRECT,
        LINES,
        offered=Decimal(5000),
        crew_minutes=minutes or dict(QUANTITIES.crew_minutes),
        crew_night_minutes={},
        received=received or {},
        used=amounts or {},
    )


def test_a_day_as_planned_cost_what_was_planned():
    found = afterwards()
    assert found.actual == found.planned == DIRECT.total
    overhead = (found.actual * Decimal(str(JOB.price.overhead_share))).quantize(Decimal("0.01"))
    assert found.left == 5000 - found.actual - overhead


def test_two_hours_more_of_the_lead_cost_two_hours_more():
    found = afterwards(minutes={**QUANTITIES.crew_minutes, "lead": QUANTITIES.crew_minutes["lead"] + 120})
    lead = next(person for person in JOB.people if person.id == "lead")
    assert found.actual - found.planned == 2 * lead.hourly_rate
    assert {line.id for line in found.lines if line.from_log} == {"labour:lead", "labour:helper"}


def test_bags_that_came_or_were_used_are_paid_and_what_nobody_noted_is_as_planned():
    # Five ordered at 26; seven came; or eight were used, of which none stood ready.
    assert afterwards(received={SOIL.item: 7}).actual - DIRECT.total == 52
    assert afterwards(amounts={SOIL.item: 8}).actual - DIRECT.total == 78
    assert afterwards(received={SOIL.item: 3}).actual - DIRECT.total == -52
    assert packs_taken(SOIL, received=None, used=2) == 5


def test_whoever_worked_without_a_rate_leaves_no_cost():
    assert afterwards(job=job_from("blue-corridor", **{"people.0.hourly_rate": None})) is None
    assert afterwards(minutes={"stranger": 60}) is None
    assert math.isfinite(float(afterwards().actual))
