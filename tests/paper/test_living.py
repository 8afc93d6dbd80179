"""The living page: what a crew must find on it, whatever is not known, in both systems of units."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ElementTree
from datetime import datetime, timedelta

import pytest
from pypdf import PdfReader

from slackwater.day.result import ClockSpan, DayResult
from slackwater.finding import Finding, Severity
from slackwater.living.restart import NAMES
from slackwater.living.result import Hours
from slackwater.paper.living_figures import BOXES_A_FIGURE, change_calendar_svg, living_figures
from slackwater.paper.living_page import duration, living_data
from slackwater.paper.living_weeks import percent, show_small
from slackwater.paper.write import living_sheet
from slackwater.plan import living_plan, water_plan
from slackwater.reader import ENGLISH, Reader
from slackwater.wording.render import say, sentences
from tests.jobs import job_from
from tests.paper.by_hand import (
    OPTIONS,
    box,
    catch,
    change_plan,
    course,
    endless_box,
    living,
    living_plan_of,
    nothing_known,
    option,
    peroxide,
    weeks,
)
from tests.plans import ROUGH, catalog

JOB = job_from("blue-corridor")


def page(found=None, reader=ENGLISH, water=None, day=None):
    return living_data(living() if found is None else found, water, catalog(), reader, day=day)


def sheet(found, reader=ENGLISH):
    return living_sheet(living_plan_of(found), JOB, catalog(), reader=reader)


def text_of(pdf):
    """Text with line breaks as spaces: where a line ends does not matter."""
    text = " ".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(pdf)).pages)
    return re.sub(r"\s+", " ", text)


@pytest.fixture(scope="module")
def pdf():
    return sheet(living())


def test_each_box_has_its_letter_its_animals_and_its_hours(pdf):
    text = text_of(pdf)
    for needed in (
        "A planned in out 4 pearl gourami",
        "holds 9 h 20 min careful end · 12 h 30 min as a rule",
        "holds 12 h careful end · longer than 14 h as a rule",
        "C planned in out 16 Japanese swamp shrimp",
        "holds 50 min careful end · 2 h as a rule",
        "First to reach its limit: ammonia.",
        "Without air from the start: 1 h (careful end)",
        "If air stops at hour 3: 30 min from then",
        "Buys time: half changed against kept old water after 6 h 15 min, then 13 h 30 min.",
        "Buys nothing: half of the animals in a second box.",
        "stretches of at most 6 h 10 min; with two: 5 h 15 min",
        "time temp. air TAN",
    ):
        assert needed in text, needed


def test_the_page_says_what_to_do_with_filter_glass_catch_and_weeks(pdf):
    text = text_of(pdf)
    for needed in (
        "40 min (10 min to 2 h 5 min)",
        "weak: from memory",
        "rinse canister and hoses with tank water",
        "Never peroxide and never tap water on media",
        "200 mL of 3 %",
        "Rinse and drain 3 times",
        "the strip decides",
        "Regulation 2019/1148",
        "from 8 % it damages eyes",
        "Stop when less than one is left",
        "1.5 kg of zeolite in the filter's flow",
        "Cheapest of those that keep the limits",
        "97 %",
        "94.8 %",
        "Nearest to its limit: nitrite, day 9",
        "day date amount of the tank water TAN nitrite pH done",
        "80 L",
        "how much nitrogen the new soil gives off higher strongly",
        "Thu 11 Feb 80 L",
        "Reckoned as 1000 courses",
        "31 % of all courses drawn",
        "up to 0.01 pH",
    ):
        assert needed in text, needed
    assert "how many bacteria grow" not in text  # a cause too weak to name


def test_the_same_plan_gives_the_same_bytes_and_a_tagged_page(pdf):
    assert sheet(living()) == pdf
    root = PdfReader(io.BytesIO(pdf)).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] and "/StructTreeRoot" in root


def test_what_is_not_known_is_said_in_a_plain_sentence():
    text = text_of(sheet(nothing_known()))
    for needed in (
        "No animals wait in boxes.",
        "No filter is told of",
        "The peroxide is not reckoned",
        "The weeks after the restart are not reckoned",
    ):
        assert needed in text, needed
    assert "Everything alive" in PdfReader(io.BytesIO(sheet(None))).metadata.title
    assert living_figures(nothing_known(), catalog(), ENGLISH) == {}


WHOLE_JOBS = {
    "no table of animals": {"livestock": None},
    "no animals": {"livestock": []},
    "one fish": {"livestock": [{"species": "corydoras_aeneus", "count": 1}]},
    "no filter": {"filters": []},
    "no boxes": {"containers": []},
    "everything": {},
}


@pytest.mark.parametrize("changes", WHOLE_JOBS.values(), ids=WHOLE_JOBS)
def test_the_page_of_a_whole_job_is_set_whatever_it_lacks(changes):
    job = job_from("blue-corridor", **changes)
    plan = living_plan(job, catalog(), version="test", thoroughness=ROUGH)
    first, *_ = PdfReader(io.BytesIO(living_sheet(plan, job, catalog(), reader=ENGLISH))).pages
    assert "Everything alive" in first.extract_text()


@pytest.mark.parametrize(
    "changes",
    [
        {"plan": None},
        {"fans": {}},
        {"options": (), "drivers": (), "sensitive": ()},
        {"chosen": "today", "options": (option("today", 0.11, cost=0.0, by_species={}),)},
        {"plan": change_plan(days=(), litres=(), waters=(), sampling_days=())},
        {"plan": change_plan(keeps=False, probability=0.38, feed_share=0.25, by_contract=False, binding_day=0)},
        {"fit_share": None},
    ],
)
def test_weeks_with_parts_missing_can_be_printed(changes):
    assert text_of(sheet(living(weeks=weeks(**changes))))


def test_a_plan_that_falls_short_never_says_that_visits_are_enough():
    short = page(living(weeks=weeks(plan=change_plan(keeps=False, probability=0.38))))["weeks"]["plan"]["words"]
    assert any("38 of 100 cases only" in text for text in short) and any("First over" in text for text in short)
    assert not any("enough" in text for text in short)
    kept = page()["weeks"]["plan"]["words"]
    assert any("visits are enough" in text for text in kept)


def test_where_nothing_passes_the_nearest_is_named():
    found = page(
        living(weeks=weeks(options=(option("part", 0.44, values={"days": 28}), option("today", 0.11)), chosen="today"))
    )
    assert "Nothing tried" in found["weeks"]["lead"] and "44 %" in found["weeks"]["lead"]
    assert [item["chosen"] for item in found["weeks"]["options"]] == [False, True]


def test_what_is_not_enough_is_never_shown_as_a_plan_to_tick_off():
    short = change_plan(keeps=False, probability=0.38)
    nothing = weeks(options=(option("part", 0.44, values={"days": 28}), option("today", 0.11)), chosen="today")
    text = text_of(sheet(living(weeks=nothing.model_copy(update={"plan": short}))))
    assert "What would be tried, with animals back today; not enough: kept in 38 of 100" in text
    assert "hown below" not in text and "pH done" not in text
    assert "pH done" in text_of(sheet(living())) and "shown below" in text_of(sheet(living()))


def test_the_first_page_opens_with_what_decides_and_cannot_wait():
    def told(name, severity, **values):
        return Finding(id=f"living.{name}", severity=severity, values=values)

    limits = {"kept": "11", "ammonia": "8", "nitrite": "22", "uia_mg_l": 0.02, "nitrite_mg_l": 0.19, "no2_mg_l": 0.62}
    plan = living_plan_of(
        living(),
        findings=(
            told("not_today", Severity.CONDITION, **limits),
            told("no_spare_box", Severity.CONDITION),
            told("unknown_box", Severity.CONDITION, box="Z", known="A, B, C"),
        ),
    )
    pages = PdfReader(io.BytesIO(living_sheet(plan, JOB, catalog(), reader=ENGLISH))).pages
    first, last = (re.sub(r"\s+", " ", page.extract_text()) for page in (pages[0], pages[-1]))
    assert -1 < first.index("Do not put the animals back today") < first.index("box Z") < first.index("4 pearl gourami")
    assert "What to settle" in last and "Every box is in use" in last and "box Z" not in last


def test_without_animals_nothing_is_chosen():
    alone = page(living(weeks=weeks(options=(option("today", 1.0, by_species={}),), chosen="today", plan=None)))[
        "weeks"
    ]
    assert (alone["options"], alone["lead"], alone["title"]) == ([], "", "Water changes and tests")


def test_us_units():
    text = text_of(sheet(living(), Reader("us")))
    for needed in ("5.73 gal", "6.7 fl oz (200 mL)", "3.3 lb of zeolite", "21 gal", "3.6 °F"):
        assert needed in text, needed
    assert not re.search(r"\d L\b", text) and "°C" not in text
    figures = living_figures(living(), catalog(), Reader("us"))
    assert "temperature, °F" in figures["living-boxes-1.svg"] and "21 gal" in figures["living-changes.svg"]


def test_hours_are_told_as_people_say_them_and_never_rounded_up():
    assert [duration(hours, ENGLISH) for hours in (None, 0.0, 0.33333333, 0.99, 1.0, 9.33, 12.5)] == [
        "longer than 14 h",
        "0 min",
        "20 min",
        "55 min",
        "1 h",
        "9 h 15 min",
        "12 h 30 min",
    ]


def test_a_share_near_what_is_asked_is_not_rounded_to_it():
    assert [percent(share) for share in (0.949, 0.95, 0.953, 0.998, 1.0, 0.002, 0.0, 0.44)] == [
        "94.9 %",
        "95 %",
        "95 %",
        "99.8 %",
        "100 %",
        "0.2 %",
        "0 %",
        "44 %",
    ]


def test_every_way_of_going_on_and_every_cause_has_its_words():
    for item in OPTIONS:
        assert say(f"option.{item.id}", item.values) and say(f"option_note.{item.id}", item.values)
    assert {name.removeprefix("driver.") for name in sentences() if name.startswith("driver.")} == set(NAMES)


def test_a_box_whose_air_has_stopped_says_so():
    since = page(living(boxes=(box(air_failed=True, failure_at_h=1.5),)))["boxes"][0]
    assert since["without_air"][0].startswith("Air stopped at hour 1.5: 30 min")
    unknown = page(living(boxes=(box(air_failed=True, failure_at_h=0.0),)))["boxes"][0]
    assert "nobody knows since when" in unknown["without_air"][0]
    assert all(text.startswith("With air again") for text in unknown["ways"])


@pytest.mark.parametrize(
    ("limit", "told"), [("ammonia", "un-ionised ammonia"), ("nitrite", "nitrite"), ("total ammonia", "TAN")]
)
def test_each_limit_of_the_weeks_has_its_name_and_its_line(limit, told):
    found = weeks(plan=change_plan(binding_limit=limit))
    words = page(living(weeks=found))["weeks"]["plan"]["words"]
    assert f"Nearest to its limit: {told}, day 9." in words
    chart = living_figures(living(weeks=found), catalog(), ENGLISH)["living-weeks.svg"]
    assert all(f"limit {value}" in chart for value in ("0.02", "0.19", "1.5"))


@pytest.mark.parametrize("binds", ["oxygen", "carbon dioxide", "ammonia", "temperature", ""])
def test_each_limit_has_its_name_and_what_to_watch(binds):
    found = page(living(boxes=(box(binds=binds),)))["boxes"][0]
    assert found["watch"] and bool(found["first"]) == bool(binds)
    assert bool(
        "CO2" in living_figures(living(boxes=(box(binds=binds),)), catalog(), ENGLISH)["living-boxes-1.svg"]
    ) == (binds == "carbon dioxide")


def test_the_stop_rule_is_printed_only_while_no_species_has_passes():
    rule = page()["stop_rule"]
    first = rule["rows"][0]
    # Seber and Le Cren: 40 then 10 leaves 1600 / 30 - 50 = 3.3.
    assert first["first"] == "40" and first["left"][rule["second"].index("10")] == {"text": "3.3", "stop": False}
    assert rule["rows"][-1]["left"][0]["text"] == "?"
    one = catch(
        passes=(4,), caught=4, left=None, left_high=None, minutes_to_90=None, advice="not_yet", from_passes=False
    )
    assert page(living(catches=(one,)))["stop_rule"] is not None
    assert page(living(catches=(one, catch())))["stop_rule"] is None


def test_what_catching_says():
    endless = catch(left=None, left_high=None, minutes_to_90=None)
    open_ended = catch(left_high=None, minutes_to_90=None)
    done = catch(left=0.4, left_low=0.0, left_high=3.0, minutes_to_90=0.0, advice="stop")
    told = page(living(catches=(catch(), endless, open_ended, done)))["catches"]
    assert told[0]["left"] == "about 33 (10 to 122)" and told[0]["minutes"] == "77 min"
    assert "nobody can say" in told[1]["left"] and "no upper end" in told[2]["left"]
    assert "may stop" in told[3]["advice"] and told[3]["minutes"] == ""
    assert "cherry shrimp" in text_of(sheet(living(catches=(catch(), endless, open_ended, done))))


def test_a_strong_bottle_is_thinned_and_a_doubtful_one_named():
    found = page(living(peroxide=peroxide(dilute_from_percent=12.0, stock_l=0.05, doubtful="expired")))["peroxide"]
    assert any("12 %" in step and "50 mL" in step and "150 mL" in step for step in found["steps"])
    assert "past its date" in found["doubt"]


def test_the_census_stands_at_the_box_where_it_is_open():
    water = water_plan(JOB, catalog(), version="test").water
    label = next(use.label for use in water.boxes if use.animals_low != use.animals_high)
    told = page(living(boxes=(box(label), endless_box("Z"))), water=water)
    assert "by the census" in told["boxes"][0]["census"] and told["boxes"][1]["census"] == ""
    assert told["weeks"]["plan"]["rows"][0]["share"].endswith("%")


def test_many_boxes_share_figures_that_fit_a_page():
    many = living(boxes=tuple(box(chr(ord("A") + number)) for number in range(BOXES_A_FIGURE + 1)))
    names = [figure["file"] for figure in page(many)["box_figures"]]
    assert names == ["living-boxes-1.svg", "living-boxes-2.svg"]
    assert set(names) < set(living_figures(many, catalog(), ENGLISH))
    assert text_of(sheet(many))


def test_every_figure_is_told_in_words_and_is_well_formed():
    found = page()
    alts = [found["box_figures"][0]["alt"], found["weeks"]["alt"], found["weeks"]["plan"]["alt"]]
    assert "A 9 h 20 min" in alts[0] and "un-ionised ammonia, highest 0.008 mg/L in the middle" in alts[1]
    assert "day 1 80 L" in alts[2] and "limit on day 9" in alts[2]
    for svg in living_figures(living(), catalog(), ENGLISH).values():
        ElementTree.fromstring(svg)


def test_the_calendar_can_be_read_without_colour():
    svg = change_calendar_svg(change_plan(), ENGLISH)
    texts = [item.text for item in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]
    assert texts.count("80 L") == 2 and texts.count("40 L") == 2 and texts.count("T") == 3
    assert [text for text in texts if text.isdigit()] == [str(day) for day in range(43)]
    assert svg.count("<path") == 1


def test_hours_that_are_alike_are_told_once():
    alike = Hours(low=7.0, middle=7.02, high=8.0)
    assert page(living(boxes=(box(hours=alike),)))["boxes"][0]["holds"] == "holds 7 h"


def test_each_box_has_one_latest_time_and_the_reason_for_it():
    night = datetime(2027, 2, 10, 20, 30)

    def span(clock, start, limit_min):
        begins = night + timedelta(minutes=start)
        latest = begins + timedelta(minutes=limit_min)
        return ClockSpan.model_construct(clock=clock, start=begins, latest=latest, limit_min=limit_min)

    # Fish in at 20:35 with one half change at 01:30; the shrimp box is not changed.
    spans = (span("holding", 5, 320), span("holding", 300, 315), span("shrimp_box", 35, 50))
    day = DayResult.model_construct(opens=night, clocks=spans)
    fish, endless, shrimp = page(day=day)["boxes"]
    assert fish["latest"] == endless["latest"] == "Half changed by Thu 01:55, out by Thu 06:45 at the latest"
    assert fish["times"] == ["Why then: ammonia reaches its limit 5 h 15 min after the last half change."]
    assert "in box A" in endless["times"][0]
    assert shrimp["latest"] == "Out by 21:55 at the latest"
    assert "50 min after the first animal is in" in shrimp["times"][0]
    for item in (fish, endless, shrimp):
        words = " ".join([item["latest"], *item["times"], *item["without_air"], *item["ways"], item["refresh"]])
        assert len(re.findall("out by|Out by", words)) == 1
        assert "half changed" not in words and "stretches" not in words
    assert [item["latest"] for item in page()["boxes"]] == ["", "", ""]


def test_hours_without_heater_stand_on_the_card():
    cold = box(keeping="heated", unheated_h=Hours(low=1.34, middle=2.13, high=3.5))
    told = page(living(boxes=(cold,)), Reader("us"))["boxes"][0]["without_air"]
    assert told[-1] == "If the heater fails: 3.6 °F off after 1 h 20 min (careful end), 2 h 5 min as a rule."


def test_the_card_says_at_which_reading_to_act_and_with_how_much():
    # US EPA 822-R-13-001: the acute criterion is 17 mg TAN-N/L at pH 7 and 20 C; half of 21.7 L.
    flat = course().model_copy(update={"ph": ((6.5, 6.8, 7.0),) * 29, "temp_c": ((19.0, 20.0, 21.0),) * 29})
    told = page(living(boxes=(box(course=flat),)))["boxes"][0]["act"]
    assert told.startswith("TAN over about 17 mg/L (shown as 22 by a test for ammonium, NH4)") and "11 L" in told


def test_why_air_that_stops_later_leaves_less_is_said_where_it_does():
    shorter, longer = Hours(low=0.5, middle=1.8, high=5.8), Hours(low=2.0, middle=3.0, high=5.8)
    told = [page(living(boxes=(box(after_failure=left),)))["boxes"][0]["without_air"][1] for left in (shorter, longer)]
    assert "less than from the start" in told[0] and "less than from the start" not in told[1]


def test_limits_stand_as_tests_show_them_too():
    # 1.5 and 0.19 mg N/L times 18.039/14.007 and 46.005/14.007.
    found = page()["weeks"]
    assert "(NH4) 1.9 mg/L" in found["limits"] and "(NO2) 0.62 mg/L" in found["limits"]
    limits = {row["what"]: row["limit"] for row in found["peaks"]}
    assert limits["TAN, highest"] == "1.5 mg/L (NH4 1.9)"
    assert limits["nitrite as nitrogen, highest"] == "0.19 mg/L (NO2 0.62)"
    assert (limits["KH, lowest"], limits["pH, lowest"]) == ("not below 1 dKH", "not below 6")


def test_changes_that_go_on_and_what_binds_chlorine_are_told():
    plan = change_plan(gone_on_days=(47, 54), gone_on_l=40.0, thiosulfate_mg=(0.0, 0.0, 112.0, None))
    found = page(living(weeks=weeks(plan=plan)))["weeks"]["plan"]
    assert any("half changes of 40 L on day 47, 54" in text for text in found["words"])
    assert any("Nobody has tested the tap water" in text for text in found["words"])
    assert [row["water"] for row in found["rows"]] == ["permeate", "permeate", "tap, 112 mg thiosulfate", "tap"]
    chart = living_figures(living(weeks=weeks(plan=plan)), catalog(), ENGLISH)["living-weeks.svg"]
    assert chart != living_figures(living(), catalog(), ENGLISH)["living-weeks.svg"]


def test_small_concentrations_have_no_false_digits():
    assert [show_small(value, ENGLISH) for value in (0.00042, 0.001, 0.0183, 0.0456, 1.27, 12.6, 0.0)] == [
        "below 0.001",
        "0.001",
        "0.018",
        "0.046",
        "1.3",
        "13",
        "0",
    ]


def test_boxes_of_several_kinds_share_a_page_and_name_every_kind():
    kinds = list(catalog().species)[:8]
    air = {"air_failed": False, "after_failure": Hours(low=1.0, middle=2.2, high=5.3)}
    boxes = tuple(
        box(label, counts=dict.fromkeys(kinds[:many], 7), **air) for label, many in (("Q", 8), ("W", 4), ("X", 4))
    )
    pages = PdfReader(io.BytesIO(sheet(living(boxes=boxes)))).pages
    texts = [re.sub(r"\s+", " ", page.extract_text()) for page in pages]
    first, second = (text for text in texts if "planned in out" in text)
    # The first page begins with what holds for all boxes.
    assert (first.count("TAN over about"), second.count("TAN over about")) == (1, 2)
    for name in kinds:
        assert f"7 {catalog().species[name].common_name}" in first.replace("- ", "-"), name
