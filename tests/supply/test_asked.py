"""A price carries what a job may cost: closed forms on two-point distributions, and sums reckoned again in fractions."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import floor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import BadInput
from slackwater.job.load import read_job
from slackwater.supply.asked import Terms, carried_price, cases_of, floor_of, price_of, quantile, terms_of
from slackwater.supply.assess import assess_supply
from slackwater.supply.price import direct_cost_of
from slackwater.supply.result import DirectCost, PriceLine, VisitWater, WorkDay
from slackwater.wording.render import finding_sentence
from tests.jobs import job_from
from tests.plans import catalog
from tests.supply.test_supply import QUANTITIES

TERMS = Terms(overhead_share=Decimal("0.2"), margin_share=Decimal("0.25"), tax_share=Decimal("0.1"))
WAYS = QUANTITIES.model_copy(
    update={
        "work_days": (
            WorkDay(crew_minutes={"lead": 600, "helper": 600}, closed_kept=80, closed_broken=20),
            WorkDay(crew_minutes={"lead": 720, "helper": 720}, closed_kept=50, late_kept=40, late_broken=10),
        ),
        "office_min": (780.0, 840.0),
        "second_visit_min": 90.0,
        "visit_water": (VisitWater(day=1, litres=55, permeate_l=30), VisitWater(day=3, litres=55, permeate_l=30)),
    }
)
SHARES = st.decimals(min_value=0, max_value="0.6", places=2)
CASES = st.dictionaries(
    st.decimals(min_value=0, max_value=9999, places=2), st.integers(1, 200), min_size=1, max_size=30
).map(lambda found: dict(sorted(found.items())))


def cents(amount: Fraction) -> Fraction:
    """To the cent, half up, without a decimal of the program."""
    return Fraction(floor(100 * amount + Fraction(1, 2)), 100)


def test_two_costs_are_carried_as_their_probabilities_say():
    # 1000 on nine days of ten and 1500 on one. With overhead of a fifth 1200 and 1800; a margin of a quarter makes
    # 1600 and 2400 of them. Expected: 0.9 x 1200 + 0.1 x 1800 = 1260, the floor.
    cases = {Decimal(1000): 9, Decimal(1500): 1}
    assert floor_of(cases, TERMS) == Decimal("1260.00")
    safe, even, risky = (carried_price(cases, TERMS, risk) for risk in (0.05, 0.1, 0.2))
    assert (safe.cost, safe.price, safe.tax, safe.total) == (1800, 2400, 240, 2640)
    # At exactly the probability of the dear day it need not be carried.
    assert even.price == risky.price == 1600
    # A dear day costs more than the whole price of 1600.
    assert (safe.losing_share, risky.losing_share) == (0.0, 0.1)


def test_without_a_margin_the_floor_makes_the_price_of_a_rare_dear_day():
    # Expected 0.9 x 1200 + 0.1 x 1800 = 1260 lies above the 1200 that nine days of ten cost.
    bare = Terms(overhead_share=Decimal("0.2"), margin_share=Decimal(0), tax_share=Decimal(0))
    found = carried_price({Decimal(1000): 9, Decimal(1500): 1}, bare, 0.5)
    assert found.at_floor and found.price == Decimal("1260.00") and found.cost == 1200


@given(CASES, SHARES, SHARES, SHARES, st.floats(0.01, 0.98), st.floats(0.001, 0.5))
def test_a_price_rises_as_its_risk_falls_and_never_lies_below_the_floor(cases, overhead, margin, tax, risk, less):
    terms = Terms(overhead_share=overhead, margin_share=margin, tax_share=tax)
    dear, cheap = (carried_price(cases, terms, share) for share in (risk * (1 - less), risk))
    assert dear.price >= cheap.price >= floor_of(cases, terms)
    assert dear.losing_share <= cheap.losing_share
    # It keeps its word: what it carries is exceeded no more often than that.
    over = sum(weight for direct, weight in cases.items() if terms.cost(direct) > cheap.cost)
    assert Fraction(over, sum(cases.values())) <= Fraction(str(risk))


@given(CASES, SHARES, SHARES, st.sampled_from([0.5, 0.2, 0.1, 0.05, 0.013]))
def test_floor_and_carried_cost_are_those_reckoned_in_fractions(cases, overhead, margin, risk):
    terms = Terms(overhead_share=overhead, margin_share=margin, tax_share=Decimal(0))
    costs = [(Fraction(direct) + cents(Fraction(direct) * Fraction(overhead)), n) for direct, n in cases.items()]
    days = sum(n for _, n in costs)
    mean = cents(sum((cost * n for cost, n in costs), Fraction(0)) / days)
    assert Fraction(floor_of(cases, terms)) == mean
    # Every day by itself, in a row: the risk counts off days from the dear end.
    row = sorted(cost for cost, n in costs for _ in range(n))
    carried = row[days - 1 - floor(Fraction(str(risk)) * days)]
    found = carried_price(cases, terms, risk)
    assert Fraction(found.cost) == carried
    assert Fraction(found.price) == max(mean, cents(carried / (1 - Fraction(margin))))


def test_the_cases_of_a_job_with_one_rate_are_hours_twice_and_a_second_visit():
    # One person at 60 an hour without a way: 10 h or 12 h, 13 h or 14 h before the day; a second visit is 1.5 h more.
    changes = {"people": [{"id": "lead", "hourly_rate": 60}], "van": {}, "contract": {}, "price.loss_cost": 100}
    job = job_from("blue-corridor", **changes)
    lines = (("labour:lead", 660), ("office", 830))
    direct = DirectCost(
        currency="cr",
        lines=tuple(PriceLine(id=name, hours=None, amount=Decimal(amount), source="") for name, amount in lines),
        total=Decimal(1490),
        lacks=(),
    )
    found = cases_of(job, catalog(), WAYS, direct)
    # 600 + 780, 600 + 840; with the loss 100 more; 720 + 780, 720 + 840; with a visit 90, with both 190 more.
    assert found == {
        1380: 80, 1440: 80, 1480: 20, 1540: 20, 1500: 50, 1560: 50, 1590: 40, 1650: 40, 1690: 10, 1750: 10,
    }  # fmt: skip
    assert list(found) == sorted(found)


@pytest.mark.parametrize("risk", [0.4, 0.2, 0.05])
def test_a_job_sold_at_a_risk_adds_up_from_its_lines(risk):
    job = job_from("blue-corridor", **{"price.risk_share": risk, "price.tax_share": 0.19})
    stage = assess_supply(job, catalog(), WAYS)
    price, direct = stage.result.price, stage.result.direct
    assert sum((line.amount for line in price.lines), Decimal(0)) == price.price
    (more,) = [line.amount for line in price.lines if line.id == "risk"]
    carried = Fraction(direct.total) + Fraction(more)
    cost = carried + cents(carried * Fraction("0.18"))
    assert Fraction(price.cost) == cost and Fraction(price.price) == cents(cost / (1 - Fraction("0.25")))
    assert Fraction(price.tax) == cents(Fraction(price.price) * Fraction("0.19"))
    assert price.odds.asked_risk_share <= risk
    (own,) = [item for item in price.odds.carried if item.risk_share == risk]
    assert (own.price, own.total, own.cost) == (price.price, price.total, price.cost)
    assert not [item for item in stage.assumed if item.field == "price.risk_share"]


def test_without_a_risk_the_price_is_of_the_planned_hours_and_several_stand_beside_it():
    stage = assess_supply(job_from("blue-corridor"), catalog(), WAYS)
    price = stage.result.price
    assert "risk" not in [line.id for line in price.lines]
    assert [item.risk_share for item in price.odds.carried] == [0.5, 0.2, 0.1, 0.05]
    (told,) = [item for item in stage.assumed if item.field == "price.risk_share"]
    assert told.value == "none"
    # 50 of 200 days are late, and on 30 of them a clock is not kept.
    assert (price.odds.second_visit_share, price.odds.loss_share, price.odds.days) == (0.25, 0.15, 200)


def test_a_visit_of_the_contract_is_its_share_of_all_visits_with_their_water():
    job = job_from("blue-corridor", **{"contract.visits": [{"days": [1, 5]}], "contract.visit_time": "80 min"})
    price, _ = price_of(job, catalog(), WAYS, direct_cost_of(job, catalog(), WAYS, (), ())[0])
    visit = price.visit
    rate, km = Fraction(job.people[0].hourly_rate), Fraction(job.price.travel_per_km)
    way_h, way_km = Fraction(job.van.drive_one_way_min) / 60, Fraction(job.van.drive_one_way_km)
    hours = cents(2 * (Fraction(80, 60) + 2 * way_h))
    # Whole litres at 0.02: 30 of them on day 1; day 3 has a change and no visit.
    direct = cents(rate * hours) + cents(km * 4 * way_km) + Fraction("0.60")
    cost = direct + cents(direct * Fraction("0.18"))
    assert Fraction(visit.cost) == cost and visit.days == (1, 5) and visit.unvisited == (3,)
    assert Fraction(visit.each) == cents(cost / 2 / Fraction("0.75"))


def test_no_days_and_no_visits_leave_no_odds_and_no_price_of_a_visit():
    job = job_from("blue-corridor", **{"contract": {}, "price.risk_share": 0.1})
    price, _ = price_of(job, catalog(), QUANTITIES, direct_cost_of(job, catalog(), QUANTITIES, (), ())[0])
    assert price.odds is None and price.visit is None and "risk" not in [line.id for line in price.lines]


def test_rates_of_zero_make_a_price_of_zero_and_no_division_fails():
    free = {f"people.{n}.hourly_rate": 0 for n in range(2)} | {"price.travel_per_km": 0, "price.risk_share": 0.1}
    job = job_from("blue-corridor", **free)
    price, _ = price_of(job, catalog(), WAYS.model_copy(update={"ro_l": None, "visit_water": ()}),
                        direct_cost_of(job, catalog(), WAYS.model_copy(update={"ro_l": None, "visit_water": ()}), (), ())[0])  # fmt: skip
    assert price.total == price.odds.floor == 0 and price.odds.asked_losing_share == 0


@pytest.mark.parametrize("line", ["risk_share = 0", "risk_share = 1", 'risk_share = "-10 %"', "loss_cost = -5"])
def test_a_risk_of_never_or_always_and_a_loss_below_nothing_are_told_by_their_key(line):
    text = f'format = 1\nname = "x"\n[price]\n{line}\n'
    with pytest.raises(BadInput, match=f"price\\.{line.split()[0]}"):
        read_job(text, file_name="x.toml")


def test_terms_need_overhead_and_a_margin_below_the_whole_price():
    assert terms_of(job_from("blue-corridor", **{"price.margin_share": 1.0})) is None
    assert quantile({Decimal(5): 1}, risk_share=Fraction(0)) == 5


def told_of(job):
    found = assess_supply(job, catalog(), WAYS)
    return {finding.id: finding for finding in found.findings}, found


def test_a_ceiling_below_the_floor_and_a_price_below_it_are_each_a_sentence():
    found, stage = told_of(
        job_from("blue-corridor", **{"price.client_budget": 100, "price.margin_share": 0, "price.loss_cost": 900})
    )
    # Without a margin the planned hours lie below a mean that has a loss of 900 on 15 days of 100.
    floor = stage.result.price.odds.floor
    assert stage.result.price.price < floor
    for name in ("supply.below_floor", "supply.budget_below_floor"):
        assert f"{floor:.2f} cr" in finding_sentence(found[name])
    assert f"{stage.result.price.price:.2f} cr" in finding_sentence(found["supply.risk_unchosen"])
    own, _ = told_of(job_from("blue-corridor", **{"price.risk_share": 0.1, "price.client_budget": 100_000}))
    assert not {"supply.below_floor", "supply.budget_below_floor", "supply.risk_unchosen"} & set(own)


def test_every_figure_of_the_price_has_its_name_formula_source_and_inputs():
    _, stage = told_of(job_from("blue-corridor", **{"price.risk_share": 0.15}))
    figures = {figure.id: figure for figure in stage.figures}
    odds = stage.result.price.odds
    assert figures["supply.floor"].value == float(odds.floor)
    assert figures["supply.price_at_risk.15 %"].value == float(stage.result.price.price)
    assert {f"supply.price_at_risk.{n} %" for n in (50, 20, 15, 10, 5)} < set(figures)
    for name, figure in figures.items():
        if name.startswith(("supply.price", "supply.cost", "supply.floor", "supply.visit")):
            assert figure.formula and figure.source and figure.inputs
