"""What would make a day fit: each repair on a day small enough to reason out, with what it costs."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest

from slackwater.day.activities import Minutes
from slackwater.day.check import RULES, broken_rules, the_day_closes_in_time
from slackwater.day.drivers import driver_quantities
from slackwater.day.problem import SAFE_STATE, SECOND_DAY
from slackwater.day.repairs import HELPS_ONLY, ORDER, PAIRS, Apply, Change, Repairs, repairs_of, second_day, singles
from slackwater.day.solve import Effort
from slackwater.day.version import Version, member_of, problem_of, solved
from slackwater.day.when import Clockface
from slackwater.finding import Finding, Severity
from slackwater.wording.render import say, sentences
from tests.day.test_problem import CATALOG, ROOMS
from tests.jobs import job_from

EFFORT = Effort(excess=0.2, finish=0.2, exposure=0.0, tidy=0.0)
OPENS = datetime(2027, 2, 10, 6, 30)
DAY = {"kind": "day", "start": "2027-02-10 06:30", "end": "2027-02-10 18:00"}
RESERVE = {"kind": "reserve", "start": "2027-02-11 07:00", "end": "2027-02-11 11:00"}


def same(minutes: float) -> Minutes:
    return Minutes(minutes, minutes, minutes)


def version(minutes: dict[str, float], closes: int, **changes: Any) -> Version:
    """A day of a few pieces of work for two people who are there all day and take no break."""
    people = [{"id": name, "hourly_rate": rate, "skills": ["lead"]} for name, rate in (("ann", 48), ("bo", 30))]
    job = job_from("blue-corridor", **{"people": people, "site.windows": [DAY], **changes})
    face = Clockface(OPENS, "Europe/Berlin")
    return Version(
        job=job,
        catalog=CATALOG,
        face=face,
        drivers=driver_quantities(job, CATALOG, ROOMS),
        minutes={name: same(length) for name, length in minutes.items()},
        crew=[member_of(person, face, closes) for person in job.people or ()],
        closes_min=closes,
        work_places=2,
        rooms=ROOMS,
    )


def boarding(day: Version) -> Change:
    """What a variant of the job does to such a day: nothing is dripped or let go."""
    minutes = {name: span for name, span in day.minutes.items() if name not in ("E27", "E28", "R1", "R2")}
    return Change(replace(day, minutes=minutes), {"boxes": 4}, price=lambda _: 100.0)


def repaired(day: Version, **variants: Apply) -> Repairs:
    schedule = solved(day, EFFORT)
    problem = problem_of(day)
    assert schedule is not None and not isinstance(problem, str)
    with ThreadPoolExecutor(max_workers=1) as pool:
        return repairs_of(day, problem, schedule, EFFORT, pool, variants)


def test_each_repair_of_a_day_of_stones_ends_when_reasoning_says():
    # 100 min of stones for two, 60 min of access: 40 too long.
    found = {item.id: item for item in repaired(version({"E17": 100}, 60)).what_ifs}
    ready = found["hardscape_ready"]
    assert (ready.margin_min, ready.fits, ready.work_min) == (20, True, 60)
    # The least usual earlier start of at least 40 min is an hour; 48 and 30 an hour for both.
    early = found["earlier_start"]
    assert (early.values["early_min"], early.margin_min, early.fits, early.price) == (60, 20, True, 78)
    assert early.values["opens"] == "05:30" and early.finish == datetime.fromisoformat("2027-02-10T07:10+01:00")
    later = found["later_end"]
    assert (later.values["late_min"], later.fits, later.price) == (40, True, pytest.approx(52))
    # A third pair of hands does not help two with their stones.
    assert found["one_more_person"].margin_min == -40 and not found["one_more_person"].fits
    assert not {"boarding", "planting_later", "part_rebuild", "epiphytes_at_bench"} & set(found)


def test_a_pair_is_asked_for_only_where_no_single_change_does():
    # 40 min of stones, 100 of planting, then a release of 100 min for one or 77 for two: 217 in all. Planting later
    # leaves 117, boarding 140, both leave the stones.
    minutes = {"E17": 40, "E22": 100, "E28": 100}
    # With access to 150 an hour and a half earlier is enough: no pair, and nothing that the client would miss.
    roomy = {item.id: item for item in repaired(version(minutes, 150), boarding=boarding).what_ifs}
    assert (roomy["earlier_start"].margin_min, roomy["earlier_start"].fits) == (23, True)
    assert not {"planting_and_boarding", "planting_later", "boarding", "part_rebuild"} & set(roomy)
    tight = {item.id: item for item in repaired(version(minutes, 100), boarding=boarding).what_ifs}
    assert (tight["planting_later"].margin_min, tight["boarding"].margin_min) == (-17, -40)
    assert not any(tight[name].fits for name in singles(117) if name in tight)
    assert (tight["planting_and_boarding"].margin_min, tight["planting_and_boarding"].fits) == (60, True)
    assert tight["planting_and_boarding"].work_min == 100 and tight["planting_and_boarding"].price == 100
    # In the order in which they disturb what was agreed, singles before pairs.
    order = [item.id for item in tight.values()]
    assert order.index("planting_later") < order.index("boarding") < order.index("planting_and_boarding")


def test_a_variant_is_run_only_where_nothing_smaller_does_and_never_for_a_clock_that_is_kept():
    asked = []

    def asking(name: str) -> Apply:
        return lambda day: asked.append(name)

    variants = {name: asking(name) for name in ("filter_on_barrel", "board_shrimp", "boarding", "part_rebuild")}
    # Stones built beforehand do.
    repaired(version({"E17": 100}, 60), **variants)
    assert asked == []
    # Planting later does not: both large ones are asked for, and those for single clocks are not.
    repaired(version({"E17": 40, "E22": 100, "E28": 100}, 100), **variants)
    assert asked == ["boarding", "part_rebuild"]


def test_filter_and_shrimp_are_asked_for_where_their_clock_is_over():
    row = CATALOG.clocks["shrimp_box.aired_moss"].model_copy(update={"low_min": 30, "restarts_with": ()})
    catalog = CATALOG.model_copy(update={"clocks": {**CATALOG.clocks, row.id: row}})
    day = replace(version({"E6": 20, "E28": 20}, 60), catalog=catalog)
    asked = []
    variants: dict[str, Apply] = {name: lambda _, name=name: asked.append(name) for name in HELPS_ONLY}
    repaired(day, **variants)
    # Twenty minutes of catching and the release after them: more than thirty only if something lies between.
    assert asked == []
    chain = {**catalog.activities, "E28": catalog.activities["E28"].model_copy(update={"after": ("E17",)})}
    chain["E17"] = chain["E17"].model_copy(update={"after": ("E6",)})
    longer = replace(
        version({"E6": 20, "E17": 40, "E28": 20}, 200), catalog=catalog.model_copy(update={"activities": chain})
    )
    repaired(longer, **variants)
    assert asked == ["board_shrimp"]


def test_what_a_variant_brings_with_it_can_keep_it_from_fitting():
    # 40 min of stones, then a release of 300 for one or 231 for two: with access to 60 only boarding ends in time.
    def with_finding(severity: Severity) -> Apply:
        return lambda day: replace(boarding(day), adds=(Finding(id="living.boxes_short", severity=severity),))

    for severity, fits in ((Severity.MISFIT, False), (Severity.CONDITION, True)):
        answers = repaired(version({"E17": 40, "E28": 300}, 60), boarding=with_finding(severity)).what_ifs
        answer = next(item for item in answers if item.id == "boarding")
        assert (answer.margin_min, answer.over_min, answer.fits) == (20, 0, fits)
        assert [finding.id for finding in answer.adds] == ["living.boxes_short"]


def test_a_repair_that_keeps_the_hour_but_not_the_clocks_does_not_fit():
    # Shrimp may wait 30 min from the start of catching, and catching takes 10, the stones after it 40 at best: 20 over.
    row = CATALOG.clocks["shrimp_box.aired_moss"].model_copy(update={"low_min": 30, "restarts_with": ()})
    catalog = CATALOG.model_copy(update={"clocks": {**CATALOG.clocks, row.id: row}})
    activities = {
        **CATALOG.activities,
        "E17": CATALOG.activities["E17"].model_copy(update={"after": ("E6",)}),
        "E28": CATALOG.activities["E28"].model_copy(update={"after": ("E17",)}),
    }
    catalog = catalog.model_copy(update={"activities": activities})
    day = version({"E6": 10, "E17": 100, "E28": 10}, 60)
    day = Version(**{**day.__dict__, "catalog": catalog})
    found = {item.id: item for item in repaired(day).what_ifs}
    assert found["hardscape_ready"].margin_min is not None and found["hardscape_ready"].margin_min >= 0
    assert found["hardscape_ready"].over_min == 20
    assert not found["hardscape_ready"].fits


def test_the_least_that_must_give_is_told_in_minutes():
    least = repaired(version({"E17": 100}, 60)).least
    assert least is not None and (least.late_min, dict(least.over_min)) == (40, {})
    assert "40 min after closing" in say("finding.day.least_late", {"late_min": 40, "over": ""})


def test_both_parts_of_a_spread_day_have_their_times_in_their_own_windows():
    minutes = {"E17": 100, "E22": 45, "E29": 10}
    answers = repaired(version(minutes, 125, **{"site.windows": [DAY, RESERVE]}))
    build, tidy = answers.first_day
    assert (build.activity, build.start_min, build.end_min) == ("E17", 0, 100)
    # Tidied up on the first day too, after the safe state, which stands before it.
    assert tidy.activity == "E29" and tidy.start_min >= 100 and answers.safe_min == 100
    planting, waste = answers.second_day
    assert (planting.activity, waste.activity) == ("E22", "E29")
    assert planting.start == datetime.fromisoformat("2027-02-11T07:00+01:00")
    assert next(item for item in answers.what_ifs if item.id == "reserve_day_fits").fits
    # Without a day held in reserve nobody knows its times.
    assert repaired(version(minutes, 125)).second_day == ()


def test_stone_and_wood_are_looked_at_before_the_first_filling_and_water_is_lowered_before_planting():
    minutes = {"E4": 10, "E17": 60, "E20": 10, "E22": 60, "E24": 10}
    answers = repaired(version(minutes, 120, **{"site.windows": [DAY, RESERVE]}))
    first = [entry.activity for entry in answers.first_day]
    assert first.index("E17") < first.index("E20") < first.index("E24")
    assert [entry.activity for entry in answers.second_day] == ["E4", "E22", "E24"]


def test_a_night_that_the_boxes_do_not_bear_is_none_that_fits():
    # Fish are caught from the first minute on. 30 minutes later everybody leaves until 07:00 next day, 1470 minutes
    # from the start: halved when leaving, a box bears the limit less 15 minutes alone.
    windows = {"site.windows": [DAY, RESERVE]}

    def bears(limit_min: int) -> str:
        day = version({"E5": 30, "E22": 60}, 40, **windows)
        name = "holding.aired_lidded"
        row = CATALOG.clocks[name].model_copy(update={"low_min": limit_min})
        shrimp = CATALOG.clocks["shrimp_box.aired_moss"].model_copy(update={"low_min": 5000})
        clocks = {**CATALOG.clocks, name: row, "shrimp_box.aired_moss": shrimp}
        day = replace(day, catalog=CATALOG.model_copy(update={"clocks": clocks}))
        return next(item.id for item in repaired(day).what_ifs if item.id.startswith("reserve_day"))

    gap = 1470 - 30
    assert bears(gap + 16) == "reserve_day_fits"
    assert bears(gap + 14) == "reserve_day_boarded"


WAITING_DAY = {"E5": 10, "R1": 5, "R2": 5, "E17": 50, "E18": 50, "E25": 5, "E28": 5}


def test_on_the_way_to_the_safe_overnight_state_boxes_are_watched_until_the_filter_runs():
    # Whole: until animals are let go (E28). In part nobody is let go, and the crew leaves after the filter runs (E25).
    def holding(only: frozenset[str] | None) -> Any:
        problem = problem_of(version(WAITING_DAY, 600), only)
        assert not isinstance(problem, str)
        return next((clock for clock in problem.clocks if clock.id == "holding.aired_lidded"), None)

    whole, part = holding(None), holding(SAFE_STATE)
    assert (str(whole.ends), str(part.ends)) == ("E28.start", "E25.end")
    assert part.restarts == whole.restarts == ("R1", "R2")
    # Nobody is caught on the second day: the night's card and the times of half changes are about those who wait.
    assert holding(SECOND_DAY) is None


def test_the_first_of_two_days_changes_the_water_of_boxes_that_would_not_last_it():
    # Caught from the first minute, filter running after 10 + 50 + 50 + 5 at the earliest: past a limit of 100, within
    # two pieces of 80 with the change between the long ones.
    day = version(WAITING_DAY, 600, **{"site.windows": [DAY, RESERVE]})
    row = CATALOG.clocks["holding.aired_lidded"]
    clocks = {**CATALOG.clocks, row.id: row.model_copy(update={"low_min": 100, "restarted_low_min": (80, 70)})}
    first = solved(replace(day, catalog=CATALOG.model_copy(update={"clocks": clocks})), EFFORT, SAFE_STATE)
    assert first is not None and first.excess_min == 0
    assert "R1" in [item.activity for item in first.placed]


def test_on_the_reserve_day_its_own_quiet_hours_hold_and_on_an_unnamed_day_none():
    quiet = [{"start": "2027-02-11 07:00", "end": "2027-02-11 08:00", "reason": "rounds"}]
    named = second_day(version({"E17": 1}, 60, **{"site.windows": [DAY, RESERVE], "site.quiet": quiet}))
    assert named.facts().quiet == {"rounds": ((0, 60),)}
    unnamed = second_day(version({"E17": 1}, 60, **{"site.quiet": quiet}))
    assert unnamed.facts().quiet == {}


def test_somebody_on_call_costs_at_least_the_hours_agreed():
    people = [
        {"id": "ann", "hourly_rate": 48, "skills": ["lead"]},
        {"id": "bo", "hourly_rate": 30},
        {"id": "cy", "hourly_rate": 20, "on_call": True, "minimum_hours": 3},
    ]
    day = version({"E17": 100}, 60, people=people)
    day = Version(**{**day.__dict__, "crew": [member for member in day.crew if member.id != "cy"]})
    change = singles(40)["one_more_person"](day)
    assert change is not None and change.values["person"] == "cy"
    schedule = solved(change.day, EFFORT)
    assert schedule is not None and schedule.finish_min == 100 and change.price(schedule) == 60


def test_another_opening_is_offered_only_where_there_is_one_and_hands_for_it():
    two = [{"length": "36 cm", "width": "36 cm"}, {"length": "36 cm", "width": "36 cm"}]
    people = [{"id": name, "skills": ["lead"]} for name in "abc"]
    assert singles(40)["more_places"](version({"E17": 9}, 5, people=people, **{"tank.openings": two})) is not None
    assert singles(40)["more_places"](version({"E17": 9}, 5, people=people, **{"tank.openings": two[:1]})) is None
    assert singles(40)["more_places"](version({"E17": 9}, 5, **{"tank.openings": two})) is None


def test_a_later_end_past_the_hour_at_which_the_key_holder_leaves_does_not_fit():
    # Access from 06:30 to 07:30; 100 min of stones end at 08:10.
    leaves = {"site.key_holder_leaves": "2027-02-10 08:05"}
    found = {item.id: item for item in repaired(version({"E17": 100}, 60, **leaves)).what_ifs}
    assert "later_end" not in found and not found["later_end_key"].fits
    assert found["later_end_key"].values["leaves"] == "08:05"
    stays = {"site.key_holder_leaves": "2027-02-10 08:10"}
    found = {item.id: item for item in repaired(version({"E17": 100}, 60, **stays)).what_ifs}
    assert found["later_end"].fits


def test_every_repair_and_every_pair_has_its_words():
    known = sentences()
    for name in (*ORDER, *PAIRS, "later_end", "second_day", "reserve_day_fits"):
        assert f"what_if.{name}" in known and f"remedy.day.{name}" in known, name


def test_repaired_days_pass_the_independent_check():
    day = version({"E5": 20, "E10": 30, "E17": 60, "E22": 50, "E27": 15, "E28": 12}, 60)
    for name in ("hardscape_ready", "planting_later", "one_more_person", "earlier_start"):
        change = singles(60)[name](day)
        assert change is not None, name
        problem, schedule = problem_of(change.day), solved(change.day, EFFORT)
        assert schedule is not None and not isinstance(problem, str)
        rules = tuple(rule for rule in RULES if rule is not the_day_closes_in_time)
        assert broken_rules(problem, schedule, rules=rules) == (), name
