"""Water tests, prices, goods received: facts that are added to, never changed."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from slackwater.book import prices, receipts, water_tests
from slackwater.book.ids import new_id
from slackwater.errors import BadInput, Conflict, NotFound
from tests.book.places import NOON, one_of_each


def test_a_wrong_test_stays_beside_the_one_that_corrects_it(book):
    known = one_of_each(book)
    wrong = water_tests.add(book, readings={"ph": 9.4}, at=NOON, by="me", tank_id=known.tank)
    right = water_tests.add(
        book, readings={"ph": 6.4, "tan_mg_l": 0.5}, at=NOON, by="me", job_id=known.job, corrects=wrong.id
    )
    earlier = water_tests.add(book, readings={"temp_c": 25}, at=NOON - timedelta(days=1), by="me", job_id=known.job)
    found = water_tests.of_tank(book, known.tank)
    assert found[0] == earlier
    assert {test.id: test.corrects for test in found} == {earlier.id: None, wrong.id: None, right.id: wrong.id}
    assert water_tests.of_job(book, known.job)[1].readings == {"ph": 6.4, "tan_mg_l": 0.5}


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ({}, "without a reading"),
        ({"acidity": 7}, "acidity is no reading known here"),
        ({"ph": 14.5}, "ph is 14.5, expected 3 to 11"),
        ({"ph": float("nan")}, "ph is nan"),
        ({"ph": True}, "expected 3 to 11"),
    ],
)
def test_a_reading_that_no_test_gives_is_refused(book, readings, said):
    known = one_of_each(book)
    with pytest.raises(BadInput, match=said):
        water_tests.add(book, readings=readings, at=NOON, by="me", tank_id=known.tank)
    assert water_tests.of_tank(book, known.tank) == []


def test_a_test_of_nothing_or_of_what_is_not_there_is_refused(book):
    with pytest.raises(BadInput, match="belongs to a tank or to a job"):
        water_tests.add(book, readings={"ph": 7}, at=NOON, by="me")
    with pytest.raises(NotFound, match="no tank"):
        water_tests.add(book, readings={"ph": 7}, at=NOON, by="me", tank_id=new_id(NOON))


def test_the_price_of_a_day_is_the_last_that_held_by_then(book):
    def add(minor: int, day: date, item: str = "soil") -> prices.Price:
        return prices.add(
            book, item=item, amount_minor=minor, currency="EUR", unit="bag", valid_from=day, at=NOON, by="me"
        )

    first, second = add(2490, date(2027, 1, 1)), add(2790, date(2027, 3, 1))
    stone = add(900, date(2027, 1, 1), "stone")
    assert prices.on_day(book, date(2026, 12, 31)) == {}
    assert prices.on_day(book, date(2027, 2, 28)) == {"soil": first, "stone": stone}
    assert prices.on_day(book, date(2027, 3, 1))["soil"] == second
    assert prices.of_item(book, "soil") == [first, second]
    with pytest.raises(BadInput, match="expected 0 or more"):
        add(-1, date(2027, 1, 1))
    with pytest.raises(BadInput, match="too large a whole number"):
        add(10**30, date(2027, 1, 1))


def test_goods_add_up_by_line_and_unit_and_goods_sent_back_count_less(book):
    job = one_of_each(book).job
    for line, received, unit in (("soil", 3, "bag"), ("soil", -1, "bag"), ("soil", 0.5, "L"), ("moss", 2, "pot")):
        receipts.add(book, job, line=line, received=received, unit=unit, ordered=4, at=NOON, by="me")
    assert receipts.totals(book, job) == {("soil", "bag"): 2, ("soil", "L"): 0.5, ("moss", "pot"): 2}
    assert len(receipts.of_job(book, job)) == 4
    with pytest.raises(BadInput, match="expected a number"):
        receipts.add(book, job, line="soil", received=float("inf"), unit="bag", at=NOON, by="me")
    kept = receipts.of_job(book, job)[0]
    with pytest.raises(Conflict):
        receipts.add(book, job, line="x", received=1, unit="bag", at=NOON, by="me", receipt_id=kept.id)
