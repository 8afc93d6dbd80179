"""The living room on whole jobs: each finding by a job that has it and one fact that takes it away; clocks from boxes."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from uuid import UUID

import numpy as np
import pytest

from slackwater.finding import Severity, Verdict, verdict
from slackwater.job.event import Event, EventKind
from slackwater.living.assess import LONGEST_CLOCK_MIN, heater_sold_w, with_clocks
from slackwater.living.result import Fan, OptionOutcome
from slackwater.living.setup import refilled_on
from slackwater.living.weeks import falling_findings, nitrite_limits_mg_l, permeate_short, with_gain
from slackwater.plan import living_plan
from slackwater.wording.render import finding_sentence, remedy_sentence, say
from tests.jobs import job_from
from tests.plans import ROUGH, catalog, once_a_run

KNOWN = {}


def planned(example="blue-corridor", /, events=(), **changes):
    key = repr((example, events, sorted(changes.items(), key=lambda item: item[0])))
    if key not in KNOWN:
        job = job_from(example, **changes)
        KNOWN[key] = once_a_run(
            ("living", key),
            lambda: living_plan(job, catalog(), version="test", events=tuple(events), thoroughness=ROUGH),
        )
    return KNOWN[key]


def found(plan, name):
    return [finding for finding in plan.findings if finding.id == f"living.{name}"]


def event(number, kind, subject, body, at="2027-02-10T09:00:00"):
    return Event(
        id=UUID(int=number), at=datetime.fromisoformat(at), kind=kind, job="BC-2027-02", subject=subject, body=body
    )


BOARDED = [{"species": "corydoras_aeneus", "count": 9, "boarded": True}]
ONE_FISH = [{"species": "corydoras_aeneus", "count": 1}]
# Finding, the job that has it, and the one fact that takes it away again.
CASES = [
    ("wrap_boxes", {}, {"site.room_temperature": "24.5 C"}),
    ("heat_boxes", {"site.room_temperature": "10 C"}, {"site.room_temperature": "24.5 C"}),
    ("second_stone", {}, {"livestock": ONE_FISH}),
    ("air_watch", {}, {"livestock": []}),
    ("no_filter", {"filters": []}, {"filters": [{"media": "4 L"}]}),
    ("filter_shut", {}, {"filters": []}),
    ("peroxide_expired", {"goods": [{"item": "hydrogen_peroxide_3", "expires": "2026-01-01"}]}, {"goods": []}),
    ("peroxide_opened_long_ago", {"goods": [{"item": "hydrogen_peroxide_3", "opened": "2025-01-01"}]}, {"goods": []}),
    ("peroxide_thin", {"goods": [{"item": "hydrogen_peroxide", "strength_percent": 12}]}, {"goods": []}),
    ("boxes_short", {"containers": []}, {"containers": [{"container": "box_65", "count": 9}]}),
    ("not_at_all", {"filters": []}, {"livestock": []}),
    ("not_today", {}, {"livestock": []}),
    ("boarded_wait", {"livestock": BOARDED}, {"livestock": ONE_FISH}),
    ("not_today", {"livestock": ONE_FISH}, {"livestock": BOARDED}),
    ("kh_falls", {"bed.soil.material": "active_soil_fine"}, {"livestock": []}),
    ("cold_room", {"site.room_temperature": "8 C"}, {"site.room_temperature": "16 C"}),
    ("readings_carry", {}, {"water.tank.tan": None, "water.tank.nitrite_n": None}),
]  # fmt: skip


@pytest.mark.parametrize(("name", "changes", "cure"), CASES, ids=[case[0] for case in CASES])
def test_a_finding_is_there_and_one_fact_takes_it_away(name, changes, cure):
    having = found(planned(**changes), name)
    assert having
    for finding in having:
        for units in ("metric", "us"):
            assert "{" not in finding_sentence(finding, units)
            assert all("{" not in remedy_sentence(remedy, units) for remedy in finding.remedies)
    assert not found(planned(**{**changes, **cure}), name)


def test_inert_sand_with_living_sponges_lets_hardy_fish_go_back_today():
    # Common practice: no peak, and no change beyond the contract's routine.
    inert = planned(
        **{
            "bed.soil.material": "quartz_sand_fine",
            "plants": [],
            "livestock": [{"species": "corydoras_aeneus", "count": 9}],
        }
    )
    assert found(inert, "return_today") and not found(inert, "not_today")
    assert inert.living.weeks.soil == "inert"


def test_new_soil_without_old_media_does_not_let_them_go_back_today():
    fresh = planned(filters=[])
    today = next(item for item in fresh.living.weeks.options if item.id == "today")
    assert today.kept < 0.5 and not today.passes
    finding = (found(fresh, "not_today") or found(fresh, "not_at_all"))[0]
    assert finding.severity in (Severity.CONDITION, Severity.MISFIT) and finding.margin < 0


def test_options_that_pass_come_first_cheapest_first():
    for example in ("blue-corridor", "harbour-line", "light-well"):
        options = planned(example).living.weeks.options
        passing = [item.passes for item in options]
        assert passing == sorted(passing, reverse=True)
        costs = [item.cost for item in options if item.passes]
        assert costs == sorted(costs)
        assert {"today", "hold", "binder", "seeded"} <= {item.id for item in options}
        for item in options:
            assert 0 <= item.kept <= 1 and max(item.over_ammonia, item.over_nitrite) <= 1 - item.kept + 1e-9
            assert item.kept >= 1 - item.over_ammonia - item.over_nitrite - 1e-9


TOGETHER = {"lean_soil_and_binder", "inert_soil_and_seeded", "seeded_and_hold", "inert_soil_and_hold"}


def test_two_things_at_once_are_looked_at_only_where_nothing_alone_will_do():
    alone = planned().living.weeks.options
    assert any(item.passes for item in alone) and not TOGETHER & {item.id for item in alone}
    hard = planned(filters=[]).living.weeks
    both = [item for item in hard.options if item.id in TOGETHER]
    assert both and not any(item.passes for item in hard.options if item.id not in TOGETHER)
    # The search ends with the first pair that passes.
    assert sum(item.passes for item in both) <= 1
    single = {item.id: item.kept for item in hard.options}
    for item in both:
        assert finding_sentence(found(planned(filters=[]), "not_today" if item.passes else "not_at_all")[0])
    assert single["seeded_and_hold"] >= single["seeded"]


def test_the_box_that_holds_least_sets_the_clock_of_its_kind():
    living = planned().living
    clocks = {clock.id: clock for clock in living.clocks}
    fish = [box for box in living.boxes if not box.shrimp]
    shrimp = [box for box in living.boxes if box.shrimp]
    for name, boxes in (("holding.aired_lidded", fish), ("shrimp_box.aired_moss", shrimp)):
        least = min(14.0 if box.hours.low is None else box.hours.low for box in boxes)
        assert clocks[name].low_min == min(LONGEST_CLOCK_MIN, int(60 * least))
        assert list(clocks[name].restarted_low_min) == sorted(clocks[name].restarted_low_min, reverse=True)
    rows = with_clocks(catalog(), living.clocks).clocks
    assert rows["holding.aired_lidded"].low_min == clocks["holding.aired_lidded"].low_min
    assert rows["plants.wet_covered_tray"] == catalog().clocks["plants.wet_covered_tray"]


def test_half_changes_stretch_the_hours_as_far_as_is_told():
    # After two thirds of the hours half of the box is changed; it must then hold the other third and as much again.
    for box in planned().living.boxes:
        change = next(way for way in box.ways if way.id == "change")
        if box.hours.low is not None and change.hours.low is not None:
            assert change.hours.low >= 2 * box.refreshed_h[0] - 0.5


def test_without_air_every_box_holds_shorter_and_a_dead_pump_shortens_it():
    for box in planned().living.boxes:
        assert box.still.low <= (14.0 if box.hours.low is None else box.hours.low)
        assert box.after_failure.low <= box.after_failure.middle
    dead = planned(
        events=[event(1, EventKind.UNAVAILABLE, "box D", {"part": "battery air pump", "since": "not known"})]
    )
    before, after = (next(box for box in plan.living.boxes if box.label == "D") for plan in (planned(), dead))
    assert after.hours.low < before.hours.low
    assert found(dead, "air_stopped") and not found(dead, "air_watch")
    unknown = planned(events=[event(1, EventKind.UNAVAILABLE, "box Z", {"part": "air pump"})])
    assert found(unknown, "unknown_box")


def test_a_heated_box_says_how_long_it_lasts_without_its_heater():
    cold = planned(**{"site.room_temperature": "8 C"}).living.boxes
    heated = [box for box in cold if box.keeping == "heated"]
    assert heated and all(0 < box.unheated_h.low < box.unheated_h.middle < box.unheated_h.high for box in heated)
    warm = planned(**{"site.room_temperature": "24.5 C"}).living.boxes
    assert {box.unheated_h for box in warm} == {None}


def test_found_animals_recompute_the_boxes():
    more = planned(events=[event(1, EventKind.COUNTED, "caridina_multidentata", {"found": 60})])
    box = next(box for box in more.living.boxes if "caridina_multidentata" in box.counts)
    before = next(box for box in planned().living.boxes if "caridina_multidentata" in box.counts)
    assert sum(item.counts.get("caridina_multidentata", 0) for item in more.living.boxes) == 76
    assert (box.label, box.water_l) == (before.label, before.water_l)
    assert box.hours.low < (14.0 if before.hours.low is None else before.hours.low)


def test_readings_over_a_limit_are_told_and_others_at_least_named():
    over = [event(1, EventKind.MEASURED, "tank", {"tan_mg_l": 4.5, "ph": 6.9}, "2027-02-13T09:00:00")]
    finding = found(planned(events=over), "reading_over")[0]
    assert finding.severity is Severity.MISFIT and finding.values["day"] == 3 and finding.margin < 0
    assert [remedy.id for remedy in finding.remedies] == [
        "living.change_half_now",
        "living.no_feed",
        "living.test_tomorrow",
    ]
    # Half of the water the tank holds.
    assert finding.remedies[0].values["litres_l"] == pytest.approx(planned().water.net_l / 2)
    assert say(f"option.{planned().living.weeks.chosen}", finding.values) in finding_sentence(finding)
    under = [event(1, EventKind.MEASURED, "tank", {"tan_mg_l": 0.0}, "2027-02-13T09:00:00")]
    assert found(planned(events=under), "readings_not_used") and not found(planned(events=under), "reading_over")


def test_a_reading_above_its_band_is_told_before_it_reaches_a_limit():
    fan, limit = planned().living.weeks.fans["nitrite_mg_l"], planned().living.weeks.nitrite_limit_mg_l
    day = next(day for day, band in enumerate(fan.bands) if day and band[4] < 0.8 * limit)
    high, when = fan.bands[day][4], datetime(2027, 2, 10, 9) + timedelta(days=day)
    body = {"nitrite_n_mg_l": (high + limit) / 2}
    told = planned(events=[event(1, EventKind.MEASURED, "tank", body, when.isoformat())])
    finding = found(told, "reading_high")[0]
    assert finding.severity is Severity.CONDITION and finding.remedies[0].id == "living.change_now"
    assert "higher than expected" in finding_sentence(finding) and not found(told, "reading_over")


def test_day_0_is_the_day_of_the_refill_and_not_of_the_evening_before():
    # Work from 22 August 22:30 to 23 August 11:30.
    assert refilled_on(job_from("harbour-line")) == date(2027, 8, 23)
    assert refilled_on(job_from("blue-corridor")) == date(2027, 2, 10)


def test_events_of_other_jobs_and_unknown_species_are_not_passed_over_in_silence():
    other = [event(1, EventKind.COUNTED, "corydoras_aeneus", {"found": 2}).model_copy(update={"job": "X-1"})]
    assert found(planned(events=other), "events_of_other_jobs")
    assert found(planned(events=other, reference=""), "events_without_reference")


def missing(plan):
    return [finding for finding in plan.findings if finding.severity is Severity.MISSING]


@pytest.mark.parametrize(
    ("animals", "told"),
    [
        ([{"species": "corydoras_aeneos", "count": 4}], "corydoras_aeneus"),
        ([{"species": "corydoras_aeneos", "count": 4}, *ONE_FISH], "corydoras_aeneus"),
        ([{"species": "corydoras_aeneus", "count": "uncounted"}], "the count of corydoras_aeneus"),
    ],
)
def test_animals_that_are_not_all_known_get_no_answer_about_boxes_or_weeks(animals, told):
    plan = planned(livestock=animals)
    assert verdict(plan.findings) is Verdict.CANNOT_SAY
    assert plan.living.weeks is None and not plan.living.boxes
    parts = {finding.values.get("part") for finding in missing(plan) if told in finding_sentence(finding)}
    assert "how long the boxes hold and the weeks after" in parts
    assert not any("return" in finding.id or "today" in finding.id for finding in plan.findings)


def test_a_container_nobody_knows_is_told_with_the_near_one():
    told = [finding for finding in missing(planned(**{"containers.0.container": "box_54"}))]
    assert [(finding.id, finding.about) for finding in told] == [("job.container_unknown", "box_54")]
    assert "box_45" in finding_sentence(told[0])
    assert not missing(planned())


def test_the_counts_of_the_catch_are_told():
    events = [
        event(number, EventKind.COUNTED, "caridina_multidentata", {"caught": caught}, f"2027-02-10T0{number}:00:00")
        for number, caught in ((1, 5), (2, 3), (3, 1))
    ]
    assert found(planned(events=events), "catch_stop") and planned(events=events).living.catches[0].caught == 9
    assert found(planned(events=events[:1]), "catch_not_yet")
    numbered = [
        item.model_copy(update={"body": {**item.body, "pass": number}})
        for item, number in zip(events, (2, 3, 4), strict=True)
    ]
    assert not found(planned(events=events), "pass_numbers")
    assert found(planned(events=numbered), "pass_numbers")[0].values["numbers"] == "2, 3, 4"
    right = [
        item.model_copy(update={"body": {**item.body, "pass": number}}) for number, item in enumerate(events, start=1)
    ]
    assert not found(planned(events=right), "pass_numbers")


def test_peroxide_is_told_with_its_rinses_and_a_strip():
    use = planned().living.peroxide
    # Glass inside 2 x (118 + 42) x 46 cm and the bottom: 1.97 m2, a tenth of a litre on each.
    assert use.area_m2 == pytest.approx(1.97, abs=0.02)
    assert use.litres == pytest.approx(0.197, abs=0.003)
    # 3 % of 1.01 kg/L.
    assert use.grams == pytest.approx(5.97, abs=0.1)
    # Ten minutes at half-lives of 15 (5 to 40): 0.63 (0.25 to 0.84) of the strength.
    assert (use.left_after_wait.low, use.left_after_wait.middle, use.left_after_wait.high) == pytest.approx(
        (0.25, 0.63, 0.84), abs=0.005
    )
    assert use.refill_mg_l <= use.limit_mg_l < use.unrinsed_mg_l
    assert use.unrinsed_h.low < use.unrinsed_h.middle < use.unrinsed_h.high


def test_peroxide_stays_on_as_long_as_the_clocks_table_says():
    row = catalog().clocks["peroxide_wait.wet"].model_copy(update={"low_min": 30})
    mine = catalog().model_copy(update={"clocks": {**catalog().clocks, row.id: row}})
    use = living_plan(job_from("blue-corridor"), mine, version="test", thoroughness=ROUGH).living.peroxide
    # Two half-lives of 15 min.
    assert use.wait_min == 30 and use.left_after_wait.middle == pytest.approx(0.25, abs=0.005)


@pytest.mark.parametrize(
    ("chloride", "hardy", "sensitive"),
    [(0, 0.3, 0.1), (10, 0.3, 0.1), (25, 0.65, 0.2), (40, 1.0, 0.3), (400, 1.0, 0.3)],
)
def test_nitrite_borne_rises_with_chloride(chloride, hardy, sensitive):
    assert nitrite_limits_mg_l(catalog(), chloride_mg_l=chloride) == pytest.approx((hardy, sensitive))


def test_the_table_of_acidity_is_as_good_as_is_told():
    weeks = planned().living.weeks
    assert 0 <= weeks.ph_table_error < 0.01 and 0 <= weeks.uia_table_error < 0.01


def test_the_same_job_gives_the_same_answer():
    job = job_from("light-well")
    one, other = (living_plan(job, catalog(), version="test", thoroughness=ROUGH) for _ in range(2))
    assert one == other


ODD = {
    "no animals": {"livestock": []},
    "one animal": {"livestock": ONE_FISH},
    "five hundred shrimp": {"livestock": [{"species": "neocaridina_davidi", "count": 500}]},
    "no filter": {"filters": []},
    "only sponges": {"filters": [{"name": "sponges", "media": "1 L"}]},
    "no containers": {"containers": []},
    "no soil": {"bed.soil": None, "bed.shape": None},
    "no plants": {"plants": []},
    "KH 0": {"water.tap.kh": "0 dKH", "water.tap.ph": 6.0, "water.tank.kh": "0 dKH", "water.tank.ph": 6.0},
    "high up": {"site.altitude": "2300 m"},
    "cold room": {"site.room_temperature": "8 C"},
    "hot room": {"site.room_temperature": "34 C"},
}


@pytest.mark.parametrize("changes", ODD.values(), ids=ODD)
def test_odd_jobs_give_sensible_results_or_say_what_is_missing(changes):
    plan = planned(**changes)
    for finding in plan.findings:
        assert "{" not in finding_sentence(finding)
    living = plan.living
    if living is None:
        assert any(finding.severity in (Severity.MISSING, Severity.MISFIT) for finding in plan.findings)
        return
    for box in living.boxes:
        numbers = [box.still.low, *(value for row in box.course.oxygen_mg_l for value in row)]
        assert np.all(np.isfinite(numbers))
    if living.weeks is not None:
        for fan in living.weeks.fans.values():
            assert np.all(np.isfinite(fan.bands)) and all(list(row) == sorted(row) for row in fan.bands)


def test_thin_air_and_cold_rooms_leave_less_time():
    def least(**changes):
        return min(14.0 if box.still.low is None else box.still.low for box in planned(**changes).living.boxes)

    assert least(**{"site.altitude": "2300 m"}) < least()


def test_permeate_that_cannot_be_made_between_two_changes_is_told():
    # 40 L a day: day 1 needs 60 of 40 made, day 5 has 160, day 6 again only 40.
    assert permeate_short((1, 5, 6), (60.0, 60.0, 60.0), 40.0) == ((1, 60.0, 40.0), (6, 60.0, 40.0))
    assert permeate_short((2, 5), (60.0, 60.0), 40.0) == ()


def test_kh_and_ph_that_fall_are_told_from_their_first_day():
    rows = tuple((kh, kh, kh, kh, kh) for kh in (3.0, 1.2, 0.9, 0.8))
    fan = Fan(days=(0.0, 1.0, 2.0, 3.0), bands=rows)
    high = Fan(days=fan.days, bands=tuple((7.0,) * 5 for _ in fan.days))
    known = planned().living.weeks
    low_kh = known.model_copy(update={"fans": {**known.fans, "alkalinity_dkh": fan, "ph": high}})
    (finding,) = falling_findings(low_kh)
    assert finding.id == "living.kh_falls" and finding.values["day"] == "2" and finding.margin == pytest.approx(-0.2)
    assert falling_findings(known.model_copy(update={"fans": {"alkalinity_dkh": high, "ph": high}})) == []


def test_one_animal_is_not_halved():
    assert "part_half" not in {item.id for item in planned(livestock=ONE_FISH).living.weeks.options}


def test_rinses_leave_room_below_the_limit():
    for example in ("blue-corridor", "harbour-line", "light-well"):
        use = planned(example).living.peroxide
        assert use.refill_mg_l <= 0.8 * use.limit_mg_l


@pytest.mark.parametrize(("loss", "sold"), [(5.5, 25), (25.0, 50), (24.9, 50), (45.0, 100), (90.0, 150), (400.0, 500)])
def test_heaters_come_in_sizes_one_can_buy(loss, sold):
    # With a fifth to spare, up to the next size sold.
    assert heater_sold_w(loss) == sold


def test_what_adds_nothing_to_a_simpler_way_is_not_listed_as_a_way():
    def way(name, day, kept):
        return OptionOutcome(
            id=name, return_day=day, kept=kept, over_ammonia=0, over_nitrite=0, by_species={}, cost=0, passes=True
        )

    hold, same = way("hold", 7, 0.97), way("binder_and_hold", 7, 0.97)
    sooner, safer = way("seeded_and_hold", 5, 0.96), way("inert_soil_and_hold", 7, 0.99)
    assert with_gain([hold, same, sooner, safer]) == (hold, sooner, safer)
    # Where boarding alone does not pass, both together are a way.
    assert with_gain([same]) == (same,)
