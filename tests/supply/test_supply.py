"""Orders cover the need, prices add up to the cent, the calendar is one that any program reads."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.job.catalog import ToldPrice
from slackwater.paper.data import step_text
from slackwater.reader import ENGLISH
from slackwater.supply.asked import further_visit_price, price_of
from slackwater.supply.assess import assess_supply
from slackwater.supply.calendar import calendar_steps, order_findings, peak_gap, valid_until, visit_over_hours
from slackwater.supply.icalendar import calendar_text, escaped, folded
from slackwater.supply.order import merged, order_lines
from slackwater.supply.packing import packed_mass_kg, packing_items
from slackwater.supply.price import direct_cost_of, office_hours
from slackwater.supply.result import BagNeed, Quantities, Step
from slackwater.wording.render import finding_sentence
from tests.jobs import job_from
from tests.plans import UNASKED, catalog, plan_of

QUANTITIES = Quantities(
    bags=(BagNeed(material="active_soil_lean", bags=4, bag_l=9, on_hand_bags=0, price_per_bag=Decimal(26)),),
    salt_grams={"gypsum": 12},
    conditioner_g=0.07,
    old_soil_l=34.7,
    peroxide_l=0.2,
    tank_length_m=1.18,
    filters=2,
    boxes=5,
    crew_minutes={"lead": 690, "helper": 690},
    work_starts=datetime(2027, 2, 10, 6, 30),
)
JOB = job_from("blue-corridor")


def test_packs_cover_need_and_spare_and_nothing_negative_is_ordered():
    lines, _ = order_lines(JOB, catalog(), QUANTITIES, date(2027, 2, 10))
    assert {line.kind for line in lines} >= {"soil", "stone", "wood", "plant", "salt", "consumable"}
    for line in lines:
        assert line.packs >= 0
        assert line.packs * line.pack_size + line.on_hand >= line.need + line.spare - 1e-6, line.item


def test_the_same_thing_by_the_same_date_is_one_line_with_its_packs_added_up():
    lines, _ = order_lines(JOB, catalog(), QUANTITIES, date(2027, 2, 10))
    # The two branching roots of the job, each priced by its own mass.
    (wood,) = [line for line in lines if line.kind == "wood"]
    assert (wood.need, wood.packs, wood.unit_price) == (2, 2, None)
    stone = next(line for line in lines if line.kind == "stone")
    later = stone.model_copy(update={"order_by": date(2027, 2, 5)})
    dearer = stone.model_copy(update={"price_source": "another quarry"})
    found = merged([stone, later, stone, dearer])
    assert [line.packs for line in found] == [2 * stone.packs, stone.packs, stone.packs]
    assert sum(line.price for line in found) == 4 * stone.price
    assert found[0].unit_price == stone.unit_price
    assert found[0].spare_reason == stone.spare_reason


def test_bags_on_hand_are_not_bought_again():
    stocked = QUANTITIES.model_copy(update={"bags": (QUANTITIES.bags[0].model_copy(update={"on_hand_bags": 3}),)})
    before = next(line for line in order_lines(JOB, catalog(), QUANTITIES, None)[0] if line.kind == "soil")
    after = next(line for line in order_lines(JOB, catalog(), stocked, None)[0] if line.kind == "soil")
    assert (before.packs, after.packs) == (5, 2)


def test_what_the_plan_uses_up_and_what_keeps_its_boxes_warm_is_packed_with_its_mass():
    quantities = QUANTITIES.model_copy(
        update={"air_stones": 7, "boxes_wrapped": 2, "box_heaters_w": (25, 25, 50), "peroxide_l": 0.2}
    )
    items = packing_items(JOB, catalog(), quantities)
    packed = {(item.item, item.unit): item for item in items}

    def of(name, unit="piece"):
        return packed[name, unit].quantity, packed[name, unit].mass_kg

    # Two people: two pairs and one, four each and two. 34.7 L at 1.35 kg/L are four bags of 15 kg, doubled, and four more.
    # Floor of (1.18 + 2) x 3 m. A stone for each that the boxes hold, and one to spare.
    assert of("arm-length waterproof gloves", "pair") == (3, pytest.approx(0.9))
    assert of("nitrile gloves", "pair") == (10, pytest.approx(0.1))
    assert of("strong waste sacks, 15 kg limit") == (12, pytest.approx(0.96))
    assert of("non-slip floor protection", "m2") == (10, pytest.approx(4.0))
    assert of("airstone and check valve", "set") == (8, pytest.approx(0.4))
    assert of("hydrogen peroxide 3 %", "ml") == (300, pytest.approx(0.3))
    assert of("sodium thiosulfate pentahydrate", "g") == (10, pytest.approx(0.01))
    assert of("blanket or foam wrap for a box") == (2, pytest.approx(1.0))
    heater = "small heater with thermostat for a box"
    assert (of(heater, "piece of 25 W")[0], of(heater, "piece of 50 W")[0]) == (2, 1)

    bare = packing_items(JOB, catalog(), quantities.model_copy(update={"boxes_wrapped": 0, "box_heaters_w": ()}))
    assert not [item for item in bare if "for a box" in item.item]
    # Two wraps of 0.5 kg and three heaters of 0.3 kg.
    assert packed_mass_kg(items) - packed_mass_kg(bare) == pytest.approx(1.9)
    unsprayed = packing_items(JOB, catalog(), quantities.model_copy(update={"peroxide_l": None}))
    assert not [item for item in unsprayed if "peroxide" in item.item]


@pytest.mark.parametrize(
    ("place", "prepared_until", "clock"),
    [
        ("site", "2027-02-09 20:00", "06:30"),
        ("site", "2027-02-10 06:30", "04:30"),
        ("workshop", "2027-02-09 20:00", "04:30"),
    ],
)
def test_minerals_go_in_once_somebody_may_be_where_the_water_is(place, prepared_until, clock):
    job = job_from("blue-corridor", **{"preparation.ro.place": place, "site.windows.0.end": prepared_until})
    quantities = QUANTITIES.model_copy(
        update={"warming_start_latest": datetime(2027, 2, 9, 22), "new_l": 100.0, "salt_grams": {"gypsum": 12}}
    )
    step = next(step for step in calendar_steps(job, (), quantities) if step.id == "minerals")
    assert f"{step.at:%H:%M}" == clock


def test_a_visit_beside_the_contract_costs_the_leads_time_and_way():
    rates = {"price.overhead_share": 0.2, "price.margin_share": 0.2, "price.tax_share": 0.1, "price.travel_per_km": 0.5}
    drive = {"van.drive_one_way": "30 min", "van.distance_one_way": "10 km", "contract.visit_time": "60 min"}
    job = job_from("blue-corridor", **{"people.0.hourly_rate": 50, **rates, **drive})
    # An hour there and one on the way at 50, 20 km at 0.50: 110; overhead a fifth: 132; margin a fifth of the price: 165; tax.
    assert further_visit_price(job, catalog(), QUANTITIES) == Decimal("181.50")
    unrated = job_from("blue-corridor", **{**rates, **drive, "people.0.hourly_rate": None})
    assert further_visit_price(unrated, catalog(), QUANTITIES) is None


def test_peroxide_is_ordered_for_the_glass_that_is_sprayed():
    # Glass inside 2 x (118 + 42) x 46 cm and the bottom: 1.97 m2, a tenth of a litre on each.
    plan = plan_of("blue-corridor")
    ordered = next(line for line in plan.supply.order if line.item == "peroxide_3pct")
    assert ordered.need == pytest.approx(197, abs=3)
    assert ordered.need == pytest.approx(1000 * plan.living.peroxide.litres)


@given(
    st.decimals(min_value=10, max_value=90, places=2),
    st.floats(0.05, 0.6),
    st.floats(0.0, 0.4),
    st.floats(0.0, 0.3),
    st.integers(60, 900),
)
def test_a_price_adds_up_to_the_cent_and_keeps_its_margin(rate, margin, overhead, tax, minutes):
    job = job_from(
        "blue-corridor",
        **{
            "people.0.hourly_rate": str(rate),
            "price.margin_share": margin,
            "price.overhead_share": overhead,
            "price.tax_share": tax,
        },
    )
    quantities = QUANTITIES.model_copy(update={"crew_minutes": {"lead": minutes, "helper": 300}})
    order, _ = order_lines(job, catalog(), quantities, None)
    direct, lacks, _ = direct_cost_of(job, catalog(), quantities, order, ())
    assert lacks == () and sum((line.amount for line in direct.lines), Decimal(0)) == direct.total
    price, _ = price_of(job, catalog(), quantities, direct)
    assert sum((line.amount for line in price.lines), Decimal(0)) == price.price
    assert price.total == price.price + price.tax
    assert abs((price.price - price.cost) - price.price * Decimal(str(margin))) <= Decimal("0.01")


def test_without_rates_there_is_no_price_and_the_missing_rate_is_named():
    job = job_from("blue-corridor", **{"people.1.hourly_rate": None})
    direct, lacks, _ = direct_cost_of(job, catalog(), QUANTITIES, (), ())
    assert direct is None and lacks == ("people.helper.hourly_rate",)


@pytest.mark.parametrize(
    ("changes", "lacks"),
    [
        ({"price.overhead_share": None}, ("price.overhead_share",)),
        ({"price.margin_share": None}, ("price.margin_share",)),
        ({"price.margin_share": 1.0}, ("price.margin_share",)),
        (
            {"price.margin_share": None, "price.overhead_share": None},
            ("price.overhead_share", "price.margin_share"),
        ),
    ],
)
def test_without_overhead_or_margin_the_direct_cost_is_told_and_no_price_made_up(changes, lacks):
    # What the work costs does not hang on what is asked for it.
    whole = assess_supply(JOB, catalog(), QUANTITIES).result
    stage = assess_supply(job_from("blue-corridor", **changes), catalog(), QUANTITIES)
    assert stage.lacks == lacks and stage.result.price is None
    assert stage.result.direct.total == whole.direct.total > 0
    (told,) = [finding for finding in stage.findings if finding.id == "supply.direct_cost"]
    sentence = finding_sentence(told)
    assert f"{whole.direct.total:.2f} cr" in sentence and all(name in sentence for name in lacks)


def test_what_is_priced_at_nothing_is_in_the_price_at_nothing_and_told():
    given = job_from("blue-corridor", **{"stones.0.price_per_kg": 0, "people.1.hourly_rate": 0})
    assert "supply.priced_at_nothing" not in {
        finding.id for finding in assess_supply(JOB, catalog(), QUANTITIES).findings
    }
    stage = assess_supply(given, catalog(), QUANTITIES)
    (note,) = [finding for finding in stage.findings if finding.id == "supply.priced_at_nothing"]
    stone = next(line for line in stage.result.order if line.kind == "stone")
    assert note.values["items"] == f"{stone.item}, {given.people[1].id}" and stone.price == 0
    assert stage.result.price.total < assess_supply(JOB, catalog(), QUANTITIES).result.price.total


def told(item, amount, currency, unit):
    return ToldPrice(
        item=item, amount=Decimal(amount), currency=currency, unit=unit, supplier="Quarry", valid_from=date(2027, 1, 4)
    )


def test_a_price_that_was_told_stands_in_place_of_the_example_and_names_its_source():
    job = job_from("blue-corridor", **{"price.currency": "EUR", "stones.0.price_per_kg": None})
    rows = [told("stone_kg", "7.35", "EUR", "kg"), told("travel_km", "0.61", "EUR", "km")]
    stage = assess_supply(job, catalog().with_prices(rows, currency="EUR"), QUANTITIES)
    stone = next(line for line in stage.result.order if line.kind == "stone")
    assert stone.unit_price == Decimal("7.35")
    assert "Quarry" in stone.price_source and "04 Jan 2027" in stone.price_source
    # What the job itself says is nearer than what the book says of all jobs.
    own = job_from("blue-corridor", **{"price.currency": "EUR", "stones.0.price_per_kg": 5})
    lines, _ = order_lines(own, catalog().with_prices(rows, currency="EUR"), QUANTITIES, None)
    assert next(line for line in lines if line.kind == "stone").unit_price == Decimal(5)


@pytest.mark.parametrize(
    "row",
    [told("stone_kg", "7", "USD", "kg"), told("stone_kg", "7", "EUR", "piece"), told("nothing", "7", "EUR", "kg")],
)
def test_a_price_in_other_money_or_for_another_unit_is_not_converted_and_told(row):
    tables = catalog().with_prices([row], currency="eur")
    assert tables.prices == catalog().prices
    stage = assess_supply(JOB, tables, QUANTITIES)
    (told_of,) = [item for item in stage.assumed if "record book left out" in item.value]
    assert row.item in told_of.source and row.currency in told_of.source


def test_a_job_with_all_rates_has_a_price_and_no_word_of_its_cost():
    stage = assess_supply(JOB, catalog(), QUANTITIES)
    assert stage.result.price is not None
    assert "supply.direct_cost" not in {finding.id for finding in stage.findings}


def test_hours_before_the_day_are_counted():
    # Typical minutes of A1-A3, B1-B10, C1-C9, D1-D8 in the trade's table: 45 + 165 + 375 + 185... summed by hand: 830.
    minutes = (20 + 10 + 15) + (20 + 25 + 20 + 15 + 15 + 15 + 30 + 25 + 15 + 15)
    minutes += (40 + 90 + 20 + 30 + 40 + 60 + 20 + 40 + 40) + (20 + 30 + 30 + 40 + 20 + 15 + 10 + 45)
    assert office_hours(catalog()) == pytest.approx(minutes / 60)


def test_visits_of_a_contract_fall_on_its_days():
    assert JOB.contract.visit_days(last_day=42) == (1, 2, 5, 9, 12, 19, 26, 33, 40)


def test_a_gap_in_the_peak_window_is_found_and_filled_visits_have_none():
    assert peak_gap(JOB, date(2027, 2, 10)).values["gap_days"] == 3
    filled = job_from("blue-corridor", **{"contract.visits": [{"days": [2, 4, 6, 8, 10]}], "site.closed_days": []})
    assert peak_gap(filled, date(2027, 2, 10)) is None


def test_the_calendar_runs_forward_and_nothing_is_late_for_what_follows():
    plan = plan_of("blue-corridor")
    steps = plan.supply.calendar
    moments = [step.at or datetime.combine(step.on, datetime.min.time()) for step in steps]
    assert moments == sorted(moments)
    when = {step.id: moment for step, moment in zip(steps, moments, strict=True)}
    assert when["ro_start"] < when["warm_start"] < when["the_day"]
    assert when["plants_arrive"] < when["the_day"]


def unfolded(text):
    """Content lines by RFC 5545, section 3.1: CRLF ends a line, CRLF and a space go on with it."""
    assert text.endswith("\r\n") and "\n" not in text.replace("\r\n", "")
    return text.replace("\r\n ", "").split("\r\n")[:-1]


@given(st.text(min_size=0, max_size=200))
def test_lines_are_short_enough_and_say_the_same_after_unfolding(text):
    line = "SUMMARY:" + escaped(text.replace("\r", " "))
    for part in folded(line).split("\r\n"):
        assert len(part.encode()) <= 75
    assert folded(line).replace("\r\n ", "") == line


def test_the_calendar_follows_the_standard():
    steps = (
        Step(id="kit", on=date(2027, 2, 9), at=None),
        Step(id="the_day", on=None, at=datetime(2027, 2, 10, 6, 30), ends=datetime(2027, 2, 10, 18, 0)),
    )
    text = calendar_text(
        steps,
        sentence=lambda step: f"say; {step.id}, now",
        zone_name="Europe/Berlin",
        job_hash="h",
        stamp=date(2027, 2, 1),
        title="T",
    )
    lines = unfolded(text)
    assert lines[0] == "BEGIN:VCALENDAR" and lines[-1] == "END:VCALENDAR" and "VERSION:2.0" in lines
    assert lines.count("BEGIN:VEVENT") == lines.count("END:VEVENT") == 2
    # 06:30 in Berlin in February is 05:30 in universal time.
    assert "DTSTART:20270210T053000Z" in lines and "DTEND:20270210T170000Z" in lines
    assert "DTSTART;VALUE=DATE:20270209" in lines and "DTEND;VALUE=DATE:20270210" in lines
    assert "SUMMARY:T: say\\; kit\\, now" in lines
    uids = [line for line in lines if line.startswith("UID:")]
    assert len(set(uids)) == 2 and all(re.fullmatch(r"UID:[0-9a-f]{32}@slackwater", uid) for uid in uids)


def test_an_hour_that_comes_twice_is_two_moments_in_the_calendar():
    # Clocks in Berlin go back from 03:00 to 02:00 on 31 October 2027: 02:40 comes at 00:40 and at 01:40 universal time,
    # and half an hour after the first of them the clock shows 02:10 once more.
    zone = ZoneInfo("Europe/Berlin")
    first = datetime(2027, 10, 31, 2, 40, tzinfo=zone)
    steps = (
        Step(id="a", on=None, at=first),
        Step(id="b", on=None, at=first.replace(fold=1)),
        Step(id="c", on=None, at=datetime(2027, 10, 31, 1, 50), ends=datetime(2027, 10, 31, 3, 10)),
    )
    text = calendar_text(
        steps,
        sentence=lambda step: step.id,
        zone_name="Europe/Berlin",
        job_hash="h",
        stamp=date(2027, 10, 1),
        title="T",
    )
    times = [line for line in unfolded(text) if line.startswith(("DTSTART", "DTEND"))]
    assert times == [
        "DTSTART:20271031T004000Z",
        "DTEND:20271031T011000Z",
        "DTSTART:20271031T014000Z",
        "DTEND:20271031T021000Z",
        "DTSTART:20271030T235000Z",
        "DTEND:20271031T021000Z",
    ]


def steps_of(job, starts, refilled):
    told = QUANTITIES.model_copy(update={"work_starts": datetime.fromisoformat(starts), "refilled_on": refilled})
    steps = calendar_steps(job, (), told)
    return {f"visit {step.values['day']:.0f}" if "day" in step.values else step.id: step for step in steps}


def test_work_by_night_is_work_of_the_date_on_which_it_ends():
    # From 22:30 on 22 August to 11:30 on the 23rd, which is day 0: the first visit is on the 24th.
    steps = steps_of(job_from("harbour-line"), "2027-08-22T22:30", date(2027, 8, 23))
    before = {"confirm": 20, "plants_arrive": 21, "kit": 22}
    assert {name: steps[name].on for name in before} == {name: date(2027, 8, day) for name, day in before.items()}
    assert steps["visit 1"].on == date(2027, 8, 24) and steps["visit 7"].on == date(2027, 8, 30)
    # What the client does comes before the work all the same.
    assert steps["client_light_off"].at == datetime(2027, 8, 22)
    assert steps["client_fasting"].at == datetime(2027, 8, 21, 22, 30)
    assert plan_of("harbour-line", (), UNASKED).supply.calendar[-1].on == date(2027, 8, 23) + timedelta(days=40)


def test_a_long_day_that_ends_after_midnight_is_prepared_before_its_morning():
    steps = steps_of(JOB, "2027-02-10T08:00", date(2027, 2, 11))
    assert steps["kit"].on == date(2027, 2, 9) and steps["visit 1"].on == date(2027, 2, 12)


# Day 0 is 10 February 2027. Weekly from day 14: 14, 21, 28, 35, 42 lie in the six weeks, the next is day 49, 31 March.
WEEKLY = [{"days": [1, 60]}, {"from_day": 14, "every_days": 7}]


def later(**changes):
    job = job_from("blue-corridor", **{"contract.visits": WEEKLY, "site.closed_days": [], **changes})
    steps = calendar_steps(job, (), QUANTITIES)
    return job, [step for step in steps if step.id.startswith("visit") and step.on > date(2027, 3, 24)]


def test_weekly_visits_go_on_after_the_weeks_of_the_plan_until_the_contract_ends():
    job, steps = later(**{"contract.ends": date(2027, 4, 30), "site.closed_days": [date(2027, 4, 7)]})
    series, single = steps
    assert (series.id, series.on, series.every_days) == ("visits_until", date(2027, 3, 31), 7)
    assert (series.until, series.except_on) == (date(2027, 4, 30), (date(2027, 4, 7),))
    assert (single.id, single.on) == ("visit", date(2027, 4, 11))
    lines = unfolded(
        calendar_text(
            (series,), sentence=lambda step: step.id, zone_name="Europe/Berlin", job_hash="h", stamp=date(2027, 2, 1),
            title="T",
        )
    )  # fmt: skip
    # RFC 5545, 3.3.10: an event of dates ends its rule with a date.
    assert "DTSTART;VALUE=DATE:20270331" in lines and "RRULE:FREQ=DAILY;INTERVAL=7;UNTIL=20270430" in lines
    assert "EXDATE;VALUE=DATE:20270407" in lines
    assert "supply.contract_end_unknown" not in {item.id for item in assess_supply(job, catalog(), QUANTITIES).findings}


def test_a_contract_whose_end_is_not_told_goes_on_and_says_so():
    job, steps = later()
    assert (steps[0].id, steps[0].on, steps[0].until) == ("visits_open", date(2027, 3, 31), None)
    (told,) = [
        item for item in assess_supply(job, catalog(), QUANTITIES).findings if item.id == "supply.contract_end_unknown"
    ]
    assert "31 Mar 2027" in finding_sentence(told)


def test_a_contract_that_ends_within_the_weeks_of_the_plan_has_nothing_after_them():
    assert later(**{"contract.ends": date(2027, 3, 30)})[1] == []
    job, _ = later(**{"contract.ends": date(2027, 3, 10)})
    # Day 28 is 10 March; day 35 is after the end.
    assert max(step.on for step in calendar_steps(job, (), QUANTITIES) if step.id == "visit") == date(2027, 3, 10)
    assert later(**{"contract.visits": [{"from_day": 14, "to_day": 48, "every_days": 7}]})[1] == []


def test_the_gap_in_the_visits_is_counted_from_the_same_day_as_the_visits():
    night = QUANTITIES.model_copy(
        update={"work_starts": datetime(2027, 2, 9, 22, 30), "refilled_on": date(2027, 2, 10)}
    )
    by_day, by_night = (
        next(item for item in assess_supply(JOB, catalog(), told).findings if item.id == "supply.visit_gap_in_peak")
        for told in (QUANTITIES, night)
    )
    assert by_day.values == by_night.values


def test_steps_need_a_day_to_count_from():
    assert calendar_steps(JOB, (), Quantities()) == ()


@pytest.mark.parametrize(
    ("change", "finding"),
    [
        ({"van.payload": "200 kg"}, "supply.van_overloaded"),
        ({"goods.0.strength_percent": 6}, "supply.peroxide_strong"),
        ({"goods.0.strength_percent": 30}, "supply.peroxide_restricted"),
        ({"goods.0.opened": "2026-01-01"}, "supply.goods_open_long"),
        ({"plants.0.undeliverable": True}, "supply.plant_undeliverable"),
        ({"old.plants": ["pistia_stratiotes"]}, "supply.regulated_in_tank"),
        ({"plants.0.plant": "pistia_stratiotes"}, "supply.regulated_plant"),
    ],
)
def test_a_change_of_one_fact_brings_the_finding(change, finding):
    with_it = assess_supply(job_from("blue-corridor", **change), catalog(), QUANTITIES).findings
    without = assess_supply(JOB, catalog(), QUANTITIES).findings
    assert finding in {item.id for item in with_it} - {item.id for item in without}


def test_visits_are_told_with_the_hours_of_the_house_and_moved_off_the_days_of_others():
    # Day 0 is 10 February 2027: day 1 is 11 February, taken; day 2 is 12 February.
    hours = {"site.visits_from": "09:00", "site.visits_until": "11:30"}
    job = job_from(
        "blue-corridor",
        **{
            "contract.visits": [{"days": [1, 2, 60]}],
            "contract.taken_days": [date(2027, 2, 11)],
            "site.closed_days": [],
            **hours,
        },
    )
    steps = [step for step in calendar_steps(job, (), QUANTITIES) if step.id.startswith("visit")]
    assert [(step.id, step.on, step.within) for step in steps] == [
        ("visit_taken", date(2027, 2, 11), ("09:00", "11:30")),
        ("visit", date(2027, 2, 12), ("09:00", "11:30")),
        ("visit", date(2027, 4, 11), ("09:00", "11:30")),
    ]
    assert step_text(steps[1], ENGLISH).endswith(", between 09:00 and 11:30")


@pytest.mark.parametrize(("takes", "short"), [("2 h 30 min", None), ("180 min", 30)])
def test_a_visit_longer_than_the_hours_of_the_house_is_told(takes, short):
    # 09:00 to 11:30 are 150 minutes.
    hours = {"site.visits_from": "09:00", "site.visits_until": "11:30", "contract.visit_time": takes}
    found = visit_over_hours(job_from("blue-corridor", **hours))
    assert (None if found is None else -found.margin) == short
    assert found is None or "from 09:00 to 11:30, 150 min" in finding_sentence(found)


def test_days_of_other_clients_count_as_days_without_a_visit_in_the_peak():
    # Visits on days 2, 4, 6, 8 and 10 leave no gap over a day; without that of day 6, days 5 to 7 are one.
    visits = {"contract.visits": [{"days": [2, 4, 6, 8, 10]}], "site.closed_days": []}
    job = job_from("blue-corridor", **visits, **{"contract.taken_days": [date(2027, 2, 16)]})
    assert peak_gap(job_from("blue-corridor", **visits), date(2027, 2, 10)) is None
    assert peak_gap(job, date(2027, 2, 10)).values["gap_days"] == 3


def test_wood_comes_before_it_soaks_and_an_offer_ends_before_its_orders():
    # Light well: work on 26 Oct, offer of 16 Oct for 30 days; dry goods are due on 12 Oct, plants on 19 Oct.
    job = job_from("light-well")
    quantities = QUANTITIES.model_copy(update={"work_starts": datetime(2027, 10, 26, 8), "salt_grams": {}})
    order, _ = order_lines(job, catalog(), quantities, date(2027, 10, 26))
    steps = {step.id: step for step in calendar_steps(job, order, quantities)}
    (wood,) = [line for line in order if line.kind == "wood"]
    assert wood.order_by < steps["soak_wood"].on == date(2027, 9, 28)
    assert valid_until(job, order) == steps["offer_ends"].on == date(2027, 10, 19)
    assert {finding.id for finding in order_findings(job, order)} == {
        "supply.orders_overdue",
        "supply.offer_shortened",
    }
    assert "kit_no_salts" in steps and not {"minerals", "kit"} & set(steps)
    early = job_from("light-well", **{"price.offer_date": date(2027, 8, 1)})
    assert order_findings(early, order) == [] and valid_until(early, order) == date(2027, 8, 31)
