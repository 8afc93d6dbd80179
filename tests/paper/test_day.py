"""The pages of the day: places and tools, what decides, odds and gates, the first night, and what replaces a computer."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from slackwater.finding import Finding, Severity
from slackwater.paper.data import condition_groups, deciding
from slackwater.paper.day_figures import MOST_UNITS, amount_told, critical_svg, grid_of, place_name, uses_of
from slackwater.paper.day_page import (
    day_pages,
    day_steps,
    jobs_behind,
    second_day_steps,
    split_told,
    stop_points,
    too_late,
    two_days_verdict,
)
from slackwater.paper.hour_list import hour_rows, numbered, piece_names, piece_told
from slackwater.paper.write import papers_data, write_papers
from slackwater.reader import ENGLISH
from tests.jobs import job_from
from tests.plans import HARDLY, catalog, plan_of

JOB = job_from("blue-corridor")


@pytest.fixture(scope="module")
def day():
    return plan_of("blue-corridor", (), HARDLY).day


def pages_of(day, *, job=JOB, plan=None):
    return day_pages(plan or plan_of("blue-corridor", (), HARDLY), job, day, ENGLISH)


def test_no_unit_of_a_place_is_used_twice_at_a_time_and_each_use_has_its_units(day):
    uses = uses_of(day.model_copy(update={"held": ()}), ENGLISH)
    for unit in {use.unit for use in uses}:
        mine = sorted((use.start, use.end) for use in uses if use.unit == unit)
        assert all(end <= start for (_, end), (start, _) in pairwise(mine)), unit
    given_out = {}
    for use in uses:
        given_out[use.by] = given_out.get(use.by, 0) + 1
    counted = [place for place, capacity in day.places.items() if capacity <= MOST_UNITS]
    asked = {}
    for entry in day.entries:
        work = re.split("[,;:]", entry.label)[0]
        for place, amount in entry.places.items():
            # Watts and kilograms are told by their amount, once for each use.
            by, units = (work, amount) if place in counted else (f"{work}: {amount_told(place, amount)}", 1)
            asked[by] = asked.get(by, 0) + units
    assert given_out == asked
    # The refill takes one place at the tank and the only pump.
    refill = next(entry.places for entry in day.entries if entry.activity == "E24")
    assert {place: refill[place] for place in counted if place in refill} == {"tank mouth": 1, "transfer pump": 1}


def test_what_is_held_is_drawn_from_its_start_to_its_end(day):
    from slackwater.day.result import Held

    held = Held(id="old water", resource="barrels", amount=2, start=day.opens, end=day.closes)
    added = set(uses_of(day.model_copy(update={"held": (held,)}), ENGLISH)) - set(uses_of(day, ENGLISH))
    assert [(use.unit, use.start, use.end, use.by) for use in added] == [
        ("barrels: old water", day.opens, day.closes, "2")
    ]
    boxes = held.model_copy(update={"resource": "container box_45"})
    assert set(uses_of(day.model_copy(update={"held": (boxes,)}), ENGLISH)) < set(uses_of(day, ENGLISH))


def test_a_place_is_numbered_only_where_there_are_several():
    assert place_name("zone filter", 2, 2, ENGLISH) == "filter 2"
    assert place_name("transfer pump", 1, 1, ENGLISH) == "transfer pump"
    # Two openings may hold four people: what is counted at the tank is people.
    assert place_name("tank mouth", 4, 4, ENGLISH) == "at the tank, person 4"


@given(
    st.integers(1, 12).flatmap(
        lambda n: st.tuples(st.just(n), st.sets(st.tuples(st.integers(0, n), st.integers(0, n))))
    )
)
def test_arrows_run_down_and_pass_no_box(drawn):
    count, pairs = drawn
    names = [f"n{number}" for number in range(count)]
    waits = tuple((f"n{a}", f"n{b}") for a, b in sorted(pairs) if a < b < count)
    nodes = grid_of(names, waits)
    assert len({(node.depth, node.lane) for node in nodes.values()}) == count
    for before, after in waits:
        assert nodes[before].depth < nodes[after].depth
        # An arrow stays in the column of its source down to the row above its target.
        passed = {(row, nodes[before].lane) for row in range(nodes[before].depth + 1, nodes[after].depth)}
        assert not passed & {(node.depth, node.lane) for node in nodes.values()}


def test_the_picture_of_what_decides_names_each_activity_with_its_share(day):
    svg = critical_svg(day, ENGLISH)
    shares = {item.activity: item.share for item in day.risk.critical}
    shown = {name for pair in day.risk.waits for name in pair}
    assert shown and svg.count("<polyline") == len(day.risk.waits)
    for entry in day.entries:
        if entry.activity in shown:
            work = re.split("[,;:]", entry.label)[0]
            assert re.search(f">{re.escape(work[:12])}[^<]*  {100 * shares[entry.activity]:.0f} %<", svg)
    rows = pages_of(day)["critical"]["rows"]
    assert {row[0] for row in rows} == shown


def test_each_stop_point_has_its_planned_and_its_latest_starts(day):
    points = stop_points(day, ENGLISH)
    assert len(points) == sum(entry.hold_point for entry in day.entries) == 5
    none = [item.activity for item in day.risk.latest_starts if item.at is None]
    assert [point["likely"] for point in points].count("none") == len(none)


def test_the_hour_list_holds_all_work_in_clock_order_with_who_does_it(day):
    hours = pages_of(day)["hours"]["rows"]
    assert len(hours) == len(day.entries)
    for row, entry in zip(hours, sorted(day.entries, key=lambda e: (e.start, e.end, e.activity)), strict=True):
        assert row["time"] == f"{entry.start:%H:%M} - {entry.end:%H:%M}"
        assert (row["what"], row["who"], row["stop"]) == (entry.label, ", ".join(entry.crew), entry.hold_point)


def two_stretches(day):
    """A filter that stands still twice, from its removal to a barrel and from there to its start."""
    span = next(span for span in day.clocks if span.clock == "media")
    cut = day.opens.replace(hour=12, minute=0)
    return (
        span.model_copy(update={"starts_with": "E8.start", "ends_with": "E9.end", "end": cut}),
        span.model_copy(update={"starts_with": "E23.start", "ends_with": "E25.end", "start": cut, "excess_min": 7}),
    )


def test_each_clock_stands_at_the_rows_that_start_and_stop_it_and_its_stretches_are_numbered(day):
    first, second = two_stretches(day)
    told = {
        row["id"]: row["clocks"]
        for row in hour_rows(day.entries, (first, second), day.opens.date(), ENGLISH)
        if row["id"]
    }
    what = "filter bacteria without flow"
    assert told["E8"] == [f"starts: {what}, 1st stretch, until {first.latest:%H:%M} at the latest"]
    assert told["E9"] == [f"stops: {what}, 1st stretch"]
    assert told["E23"] == [f"starts: {what}, 2nd stretch, until {second.latest:%H:%M} at the latest"]
    assert told["E25"] == [f"stops: {what}, 2nd stretch, 7 min over its limit"]
    assert [name for name, lines in told.items() if lines] == ["E8", "E9", "E23", "E25"]
    # One alone bears no number.
    assert piece_names((first,), ENGLISH) == (what,)
    # Before and after the barrel a filter stands off the pump under one name.
    assert numbered(["old water", what, what], ENGLISH) == ("old water", f"{what}, 1st stretch", f"{what}, 2nd stretch")


def test_a_stretch_of_a_clock_says_when_it_runs_and_what_starts_and_stops_it(day):
    first, _ = two_stretches(day)
    told = piece_told(first, "filter", day, ENGLISH)
    assert told["runs"] == f"{first.start:%H:%M} - 12:00"
    assert told["opener"] == "close valves (E8) begins" and told["closer"] == "media damp in box (E9) ends"


def test_gates_say_what_to_wait_for(day):
    gates = pages_of(day)["odds"]["gates"]
    labels = {entry.label for entry in day.entries}
    assert len(gates) == len(day.risk.gates) > 0
    assert all({opener, after} <= labels and ":" in time for opener, after, time, _ in gates)


def test_the_first_night_asks_for_what_is_known_and_leaves_lines_for_the_rest(day):
    must = " ".join(pages_of(day)["night"]["must"])
    assert "42 cm" in must and "2 filters" in must and "24.5" in must and "boxes" in must
    bare = job_from("blue-corridor", **{"tank.water_line": None, "filters": [], "target.temperature": None})
    must = " ".join(pages_of(day, job=bare)["night"]["must"])
    assert "42 cm" not in must and "filters run" not in must and "24.5" not in must
    nobody = job_from("blue-corridor", livestock=[])
    assert "No animals tonight" in pages_of(day, job=nobody)["night"]["must"]


def looks_of(day, *, plan=None, job=JOB):
    return pages_of(day, job=job, plan=plan)["night"]["looks"]


def test_the_first_night_looks_for_the_animals_where_they_are_and_asks_who_is_there(day):
    plan = plan_of("blue-corridor", (), HARDLY)
    assert not plan.living.weeks.may_return_today
    staff = [row[2] for row in looks_of(day)][1:3]
    assert all("every box: air bubbling" in text and "surface" not in text for text in staff)
    boarded = job_from("blue-corridor", livestock=[{"species": "corydoras_aeneus", "count": 6, "boarded": True}])
    assert not any("box" in row[2] or "surface" in row[2] for row in looks_of(day, job=boarded)[1:3])
    # Only a house of care has people at night; in another it is somebody with a key, and nobody once that one has left.
    who = {
        care: looks_of(day, job=job_from("blue-corridor", **{"site.care_setting": care}))[1][1]
        for care in (True, False)
    }
    assert who[True] == "staff on site" and "key" in who[False]


def test_the_first_night_has_the_half_changes_of_every_box_that_waits(day):
    plan = plan_of("blue-corridor", (), HARDLY)
    rows = {label: (times, litres) for label, times, litres in pages_of(day)["night"]["changes"]}
    waiting = [box for box in plan.living.boxes if not box.leaves]
    assert set(rows) == {box.label for box in waiting}
    for box in waiting:
        limit_h = box.hours.low
        # Through 24 hours from opening, of which the first pass before anything is caught.
        if limit_h is not None and limit_h < 12:
            times, litres = rows[box.label]
            # The next one is due at the latest time of its card.
            latest = max(
                span.latest for span in day.clocks if span.clock == ("shrimp_box" if box.shrimp else "holding")
            )
            first, *later = times.split(", ")
            assert first == f"{latest:%a %H:%M}"
            assert later and "new water" in litres


def test_what_is_too_late_before_access_opens_is_told_once(day):
    first = next(entry for entry in day.entries if entry.hold_point)
    early = first.model_copy(update={"latest_start": day.opens - timedelta(hours=3, minutes=2)})
    others = tuple(entry.model_copy(update={"latest_start": entry.start}) for entry in day.entries if entry != first)
    late = day.model_copy(update={"entries": (early, *others)})
    assert too_late(late, ENGLISH).startswith(f"Too late by 3 h already when access opens at {day.opens:%H:%M}")
    assert stop_points(late, ENGLISH)[0]["latest"] == "none"
    assert too_late(day.model_copy(update={"entries": others}), ENGLISH) == ""


def test_conditions_stand_by_when_they_are_due_and_settled_ones_are_left_out(day):
    plan = plan_of("blue-corridor", (), HARDLY)

    def condition(name):
        told = dict.fromkeys(("uia_mg_l", "nitrite_mg_l", "no2_mg_l", "damp_h", "limit_h", "stop_h"), 1.0)
        values = {**told, "kept": "50", "ammonia": "40", "nitrite": "40"}
        return Finding(id=name, severity=Severity.CONDITION, values=values)

    def groups_of(*names, job=JOB, entries=day.entries):
        told = plan.model_copy(
            update={
                "findings": tuple(condition(name) for name in names),
                "day": day.model_copy(update={"entries": entries}),
            }
        )
        return {group["title"]: len(group["items"]) for group in condition_groups(told, job, ENGLISH)}

    names = ("job.client_not_informed", "living.not_today", "job.seams_not_looked_at")
    assert groups_of(*names) == {"Before the day": 2, "On the day": 1}
    boarded = job_from("blue-corridor", livestock=[{"species": "corydoras_aeneus", "count": 6, "boarded": True}])
    assert groups_of(*names, job=boarded) == {"Before the day": 2}
    barrel = day.entries[0].model_copy(update={"activity": "E8B"})
    assert groups_of("day.filter_on_barrel", entries=(barrel,)) == {}
    assert groups_of("day.filter_on_barrel", entries=()) == {"On the day": 1}


@pytest.mark.parametrize(
    ("told", "first"),
    [
        # Glass before floor before animals before the hours before money; what is only a condition waits its turn.
        ("supply.over_budget day.odds water.chlorine living.not_today", "living.not_today day.odds supply.over_budget"),
        ("job.drain_unknown tank.extra_near_tank !day.ends_late ?job.fact_missing",
         "!day.ends_late ?job.fact_missing tank.extra_near_tank job.drain_unknown"),
        ("!a !b !c !d !e !f supply.over_budget", "!a !b !c !d !e !f"),
        ("", ""),
    ],
)  # fmt: skip
def test_what_decides_comes_first_and_weighty_conditions_fill_it_up_to_a_handful(told, first):
    weights = {"!": Severity.MISFIT, "?": Severity.MISSING}
    findings = tuple(
        Finding(id=name.lstrip("!?"), severity=weights.get(name[0], Severity.CONDITION)) for name in told.split()
    )
    plan = plan_of("blue-corridor", (), HARDLY).model_copy(update={"findings": findings})
    assert [finding.id for finding in deciding(plan, JOB)] == [name.lstrip("!?") for name in first.split()]


def test_past_jobs_are_counted_in_words():
    assert [jobs_behind(count, ENGLISH) for count in (0, 1, 3)] == ["", "1 past job behind it", "3 past jobs behind it"]
    assert [jobs_behind(3, ENGLISH, factor) for factor in (1.124, 0.8, 1.004)] == [
        "3 past jobs behind it, 12 % longer than the table",
        "3 past jobs behind it, 20 % shorter than the table",
        "3 past jobs behind it",
    ]


def test_the_calendar_holds_the_stop_points_and_the_safe_state_in_universal_time(day, tmp_path):
    steps = day_steps(day, ENGLISH)
    assert [step.id for step in steps].count("stop_point") == 5
    assert [step.at for step in steps if step.id == "safe_state"] == [day.safe_planned]
    sheet = papers_data(plan_of("blue-corridor", (), HARDLY), JOB, catalog(), ENGLISH)["day"]
    assert sheet["safe"] == f"{day.safe_planned:%H:%M}" and sheet["safe"] in sheet["fallback"]["safe"]
    write_papers(plan_of("blue-corridor", (), HARDLY), JOB, catalog(), tmp_path / "p", reader=ENGLISH)
    text = (tmp_path / "p" / "calendar.ics").read_text(encoding="utf-8").replace("\n ", "")
    for step in steps:
        assert f"DTSTART:{step.at.astimezone(UTC):%Y%m%dT%H%M%SZ}" in text
    assert "Stop and decide" in text and "Safe overnight state" in text
    pdf = PdfReader(tmp_path / "p" / "day-sheet.pdf")
    sheet = [page.extract_text() for page in pdf.pages]
    assert sheet[1].strip().startswith("The day by the hour")
    for title in (
        "The day by the hour",
        "Places, tools and clocks",
        "The odds of the day",
        "What decides the end",
        "When there is no computer",
        "The first night",
    ):
        assert sum(page.strip().startswith(title) for page in sheet) == 1, title
    whole = "\n".join(sheet)
    for needed in ("What to leave out first", "Start by progress", "Who looks when", "9 days in 10", "30 mA", "vet"):
        assert needed in whole, needed


def test_the_safe_state_stands_when_the_last_of_its_work_ends(day):
    ends = {entry.activity: entry.end for entry in day.entries}
    # Filled, filter and heater on: E25 comes after the refill and the filter's return.
    assert day.safe_planned == ends["E25"] > datetime.fromisoformat("2027-02-10T06:30+01:00")


def cut_in_two(day, *, safe, rest_end, closes="2027-02-11 12:00", reserve=True):
    """A day and its job: catching from 09:00 to the safe state, next day a refill and a release from 08:00."""
    entry = next(entry for entry in day.entries if entry.activity == "E6")

    def moved(name, phase, start, end):
        times = {"start": datetime.fromisoformat(start), "end": datetime.fromisoformat(end)}
        return entry.model_copy(update={"activity": name, "label": name, "phase": phase, "crew": ("lead",), **times})

    windows = [{"kind": "day", "start": "2027-02-10 06:30", "end": "2027-02-10 18:00"}]
    if reserve:
        windows.append({"kind": "reserve", "start": "2027-02-11 08:00", "end": closes})
    split = {
        "first_day": (moved("E6", "catch", "2027-02-10T09:00+01:00", safe),),
        "second_day": (
            moved("E28", "return", "2027-02-11T10:00+01:00", rest_end),
            moved("E24", "fill", "2027-02-11T08:00+01:00", "2027-02-11T09:00+01:00"),
        ),
    }
    job = job_from("blue-corridor", **{"site.windows": windows})
    return day.model_copy(update=split), job


def two_days_of(day, **told):
    day, job = cut_in_two(day, **told)
    return pages_of(day, job=job)["two_days"]


def test_a_day_over_two_dates_tells_both_and_the_night_between(day):
    split = two_days_of(day, safe="2027-02-10T17:30+01:00", rest_end="2027-02-11T11:15+01:00")
    assert split["first"]["title"] == "First day, Wed 10 Feb 2027"
    # Closing at 18:00 and at 12:00.
    assert split["first"]["hours"] == "09:00 to 17:30, 30 min before access ends at 18:00."
    assert split["second"]["hours"] == "08:00 to 11:15, 45 min before access ends at 12:00."
    assert [(row["time"], row["what"], row["who"]) for row in split["second"]["rows"]] == [
        ("08:00 - 09:00", "fill slowly over a plate: new water at the same temperature", "lead"),
        ("10:00 - 11:15", "E28", "lead"),
    ]
    assert "from Wed 17:30 to Thu 08:00" in split["between"] and "past its hours" in split["water"]
    assert any("Animals wait in aired" in item for item in split["must"])


def plan_whose_boxes_hold(hours):
    plan = plan_of("blue-corridor", (), HARDLY)
    boxes = tuple(
        box.model_copy(update={"hours": box.hours.model_copy(update={"low": hours})}) for box in plan.living.boxes
    )
    return plan.model_copy(update={"living": plan.living.model_copy(update={"boxes": boxes})})


def test_a_split_fits_only_where_every_box_bears_the_hours_with_nobody_there(day):
    cut, job = cut_in_two(day, safe="2027-02-10T17:30+01:00", rest_end="2027-02-11T11:15+01:00")
    # Caught at 09:00, left at 17:30, nobody there for 14 h 30. At 8 h: changed by 17:00 and when leaving, then full
    # again long before 08:00.
    short = day_pages(plan_whose_boxes_hold(8.0), job, cut, ENGLISH)["two_days"]
    assert two_days_verdict(plan_whose_boxes_hold(8.0), job, cut) == "boarded"
    assert "only with the animals boarded" in short["lead"] and "board the animals" in short["boxes"]
    # Full at 8 h, then every 4 h, until 26 h 15 after the first: at 8, 12, 16, 20 and 24 h.
    assert short["changes"][0][1].split(", ") == ["Wed 17:00", "Wed 21:00", "Thu 01:00", "Thu 05:00", "Thu 09:00"]
    assert "5 times" in short["changes"][0][2] and "new water" in short["changes"][0][2]
    assert "only with the animals boarded" in split_told(plan_whose_boxes_hold(8.0), job, cut, ENGLISH)
    boarded = job.model_copy(update={"livestock": tuple(a.model_copy(update={"boarded": True}) for a in job.livestock)})
    assert two_days_verdict(plan_whose_boxes_hold(8.0), boarded, cut) == "fits"
    told = day_pages(plan_whose_boxes_hold(8.0), boarded, cut, ENGLISH)["two_days"]
    assert "it fits into the day and the reserve day" in told["lead"] and told["changes"] == []
    assert split_told(plan_whose_boxes_hold(8.0), boarded, cut, ENGLISH).startswith(
        "Split over two days it fits: second day Thu"
    )


def test_a_second_day_stands_in_the_calendar_where_the_split_is_a_way(day):
    plan = plan_whose_boxes_hold(8.0)
    cut, job = cut_in_two(day, safe="2027-02-10T17:30+01:00", rest_end="2027-02-11T11:15+01:00")
    (step,) = second_day_steps(plan, job, cut)
    assert (f"{step.at:%d %H:%M}", f"{step.ends:%d %H:%M}") == ("11 08:00", "11 11:15")
    late, job = cut_in_two(day, safe="2027-02-10T18:30+01:00", rest_end="2027-02-11T11:15+01:00")
    assert second_day_steps(plan, job, late) == ()


def test_a_split_that_does_not_fit_says_by_how_much(day):
    split = two_days_of(day, safe="2027-02-10T18:20+01:00", rest_end="2027-02-11T11:15+01:00")
    assert "does not fit into the time agreed either" in split["lead"]
    assert split["first"]["hours"].endswith("20 min after access ends at 18:00.")
    split = two_days_of(
        day, safe="2027-02-10T17:30+01:00", rest_end="2027-02-11T11:15+01:00", closes="2027-02-11 11:00"
    )
    assert "does not fit into the time agreed either" in split["lead"]
    assert split["second"]["hours"].endswith("15 min after access ends at 11:00.")


def test_no_second_day_is_told_where_none_is_agreed(day):
    # This example holds no day in reserve, and a day nobody has named has no times.
    assert pages_of(day)["two_days"] is None
    told = {"safe": "2027-02-10T17:30+01:00", "rest_end": "2027-02-11T11:15+01:00", "reserve": False}
    assert two_days_of(day, **told) is None


def test_the_day_sheet_has_a_page_for_two_days(day, tmp_path):
    cut, job = cut_in_two(day, safe="2027-02-10T17:30+01:00", rest_end="2027-02-11T11:15+01:00")
    plan = plan_of("blue-corridor", (), HARDLY).model_copy(update={"day": cut})
    write_papers(plan, job, catalog(), tmp_path / "p", reader=ENGLISH)
    sheet = [page.extract_text() for page in PdfReader(tmp_path / "p" / "day-sheet.pdf").pages]
    (page,) = (text for text in sheet if text.strip().startswith("Over two days"))
    assert "09:00 - 17:30" in page and "10:00 - 11:15" in page and "Thu 11 Feb 2027" in page
