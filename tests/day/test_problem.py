"""What the job tells of house and people becomes a rule of the day, and the rule is gone with the fact."""

from __future__ import annotations

from typing import Any

import pytest

from slackwater.day import assess
from slackwater.day.activities import CrewMember, minutes_of, modes_of, skills_lacking, wait_of
from slackwater.day.assess import ALL_ROOMS, assess_day, version_of
from slackwater.day.check import broken_rules
from slackwater.day.drivers import Driver, RoomQuantities, Standing, driver_quantities
from slackwater.day.house import FLOOR, LIFT, house_of
from slackwater.day.model import DayProblem, Placed, Schedule, Status
from slackwater.day.problem import DayFacts, build_problem
from slackwater.day.solve import Effort, Relaxed, solve
from slackwater.job.catalog import Catalog, load_catalog
from tests.jobs import job_from
from tests.plans import UNASKED, catalog

CATALOG = load_catalog()
ROOMS = RoomQuantities(
    inner_glass_m2=1.35,
    footprint_m2=0.5,
    net_l=170,
    refill_l=170,
    kept_water_l=120,
    boxes=4,
    acclimatise_steps=2,
    bags=4,
    carried_kg=300,
    waste_kg=60,
    old_soil_l=35,
)


class _Asked(Exception):
    pass


def problem_of(example: str = "blue-corridor", rooms: RoomQuantities = ROOMS, **changes: Any) -> DayProblem:
    """The problem that a job and its quantities come to."""
    held: list[DayProblem] = []

    def hold(problem: DayProblem, *_: object, **__: object) -> None:
        held.append(problem)
        raise _Asked

    with pytest.MonkeyPatch.context() as patch, pytest.raises(_Asked):
        patch.setattr(assess, "solve_each", hold)
        assess_day(job_from(example, **changes), CATALOG, rooms, work_places=2)
    return held[0]


def findings_of(catalog: Catalog = CATALOG, **changes: Any) -> dict[str, Any]:
    """Findings about the day of an example, by id."""
    stage = assess_day(job_from("blue-corridor", **changes), catalog, ROOMS, work_places=3, effort=UNASKED)
    return {finding.id: finding for finding in stage.findings}


def member(name: str, *skills: str) -> CrewMember:
    return CrewMember(name, 1.0, {}, ((0, 2000),), 0, 0, 0, skills)


def modes(problem: DayProblem, name: str):
    return next(activity.modes for activity in problem.activities if activity.id == name)


# ---------------------------------------------------------------- watts

POWER = {
    "wet-vac": 1200.0,
    "transfer pump": 45.0,
    "tank heaters": 300.0,
    "lamps": 100.0,
    "filters": 30.0,
    "barrel heater": 300.0,
}


def circuit(watts: float | None, **devices: float):
    rooms = ROOMS.model_copy(update={"circuit": "c", "circuit_w": watts, "watts": {**POWER, **devices}})
    return house_of(job_from(), rooms, ())


def test_on_a_strong_circuit_everything_may_run_and_tools_draw_what_the_kit_says():
    house = circuit(3680)
    assert house.takes["wet-vac"] == {"circuit c": 1200} and house.takes["pump"] == {"circuit c": 45}
    assert not house.impossible and not house.told
    held = {
        hold.id: (hold.amount, str(hold.starts), str(hold.ends)) for hold in house.holds if "circuit" in hold.resource
    }
    assert held["warming new water"] == (300, "E1.start", "E24.start")
    assert held["heaters and lamps"] == (400, "E1.start", "E3.end")
    assert held["tank running"][0] == 330


def test_without_a_circuit_there_is_no_rule_of_watts():
    assert not any("circuit" in resource.id for resource in circuit(None).resources)


def test_a_wet_vac_above_the_circuit_stays_in_the_van():
    house = circuit(1150)
    assert house.impossible == {"wet-vac"} and [told.id for told in house.told] == ["tool_over_circuit"]
    row = CATALOG.activities["E12"]
    assert {mode.tags[0] for mode in modes_of(row, 30, [member("a")], work_places=2, house=house)} == {"quiet"}
    assert {mode.tags[0] for mode in modes_of(row, 30, [member("a")], work_places=2)} == {"noisy", "quiet"}


def test_where_heater_and_wet_vac_are_too_much_together_the_heater_is_unplugged():
    # 1200 + 300 > 1450 >= 1200: the tool is needed once, the water cools little in half an hour.
    house = circuit(1450)
    assert not house.impossible
    assert [(told.id, told.values["devices"]) for told in house.told] == [("unplug_for_tools", "barrel heater")]
    assert "warming new water" not in {hold.id for hold in house.holds}
    assert not circuit(1500).told


def test_where_the_tank_already_fills_the_circuit_new_water_is_plugged_in_after_its_heaters_are_off():
    # 400 W of heaters and lamps, 30 of filters and 300 of warming against 700: no room before E3.
    house = circuit(700, **{"wet-vac": 350.0})
    held = {hold.id: str(hold.starts) for hold in house.holds}
    assert held["warming new water"] == "E3.end"


def test_two_tools_on_one_weak_circuit_do_not_run_at_once():
    # Pump 45 W and wet-vac 1200 W against 1220 W: the checker sees it whoever laid out the day.
    rooms = ROOMS.model_copy(update={"circuit": "c", "circuit_w": 1220.0, "watts": POWER})
    problem = problem_of(rooms=rooms)
    at = {"E4": ("helper", 100, 130), "E12": ("lead wet-vac", 110, 150)}
    placed = tuple(
        Placed(activity=name, mode=mode, start=start, end=end, crew=(mode.split()[0],))
        for name, (mode, start, end) in at.items()
    )
    answer = Schedule(status=Status.BEST_FOUND, placed=placed, finish_min=150)
    assert any("circuit c" in str(broken.what) for broken in broken_rules(problem, answer))
    strong = problem_of(rooms=rooms.model_copy(update={"circuit_w": 1245.0}))
    assert not any("circuit c" in str(broken.what) for broken in broken_rules(strong, answer))


@pytest.mark.parametrize("watts", [400, 700, 1150, 1220, 1500, 3680])
def test_the_rules_of_watts_alone_never_keep_a_day_from_being_done(watts):
    rooms = ROOMS.model_copy(update={"circuit": "c", "circuit_w": float(watts), "watts": POWER})
    day = solve(
        problem_of(rooms=rooms),
        effort=Effort(excess=0.5, finish=0.01, exposure=0, tidy=0),
        relaxed=Relaxed(closing=True),
    )
    assert day.finish_min is not None


# ---------------------------------------------------------------- floor, barrels, lift

STANDING = (
    Standing(what="tub", container="tub_60", holds="animals", mass_kg=50),
    Standing(what="tub", container="tub_60", holds="animals", mass_kg=50),
    Standing(what="bags of soil", container="", holds="bags", mass_kg=30),
    Standing(what="drum", container="barrel_220", holds="old", mass_kg=200),
    Standing(what="drum", container="barrel_220", holds="new", mass_kg=200),
)


def standing(limit_kg: float | None, **changes: Any):
    rooms = ROOMS.model_copy(update={"near_tank_kg": limit_kg, "standing": STANDING})
    return house_of(job_from("blue-corridor", **changes), rooms, ())


def near(house) -> dict[str, int]:
    return {hold.id.split()[0]: hold.amount for hold in house.holds if hold.resource == FLOOR}


def test_beside_the_tank_stands_what_finds_room_there_boxes_before_bags_before_barrels():
    # 530 kg in all. At 340 kg: 100 of boxes, 30 of bags, 200 of old water leave 10.
    house = standing(340)
    assert near(house) == {"animals": 100, "bags": 30, "old": 200}
    assert house.told[0].values["what"] == "1 x drum" and house.told[0].values["mass_kg"] == 200
    assert near(standing(530)) == {"animals": 100, "bags": 30, "old": 200, "new": 200} and not standing(530).told
    assert near(standing(60)) == {"animals": 50}


def test_without_an_engineers_figure_there_is_no_rule_of_the_floor():
    assert near(standing(None)) == {} and not standing(None).told


def test_barrels_are_taken_from_draining_to_the_refill():
    containers = [{"container": "barrel_220", "count": 2}, {"container": "tub_60", "count": 3}]
    house = standing(None, containers=containers)
    held = {(hold.id, hold.amount, str(hold.starts), str(hold.ends)) for hold in house.holds}
    assert ("old in barrel_220", 1, "E4.start", "E24.end") in held
    assert ("animals in tub_60", 2, "E5.start", "E28.end") in held
    assert {r.id: r.capacity for r in house.resources} == {"container barrel_220": 2, "container tub_60": 3}
    assert not standing(None, containers=[]).holds


LIFT_DATA = {"rated_load": "630 kg"}


def test_the_way_in_takes_the_lift_and_an_outage_shuts_it():
    out = [{"start": "2027-02-10 06:30", "end": "2027-02-10 08:00"}]
    problem = problem_of(**{"site.lift": {**LIFT_DATA, "out_of_order": out}})
    assert all(mode.resources[LIFT] == 1 for name in ("E1", "E29") for mode in modes(problem, name))
    assert [(outage.resource, outage.spans, outage.capacity) for outage in problem.outages] == [(LIFT, ((0, 90),), 0)]
    day = solve(problem, effort=Effort(excess=0.5, finish=0.01, exposure=0, tidy=0), relaxed=Relaxed(closing=True))
    assert next(item.start for item in day.placed if item.activity == "E1") >= 90


def test_without_a_lift_nothing_takes_it():
    problem = problem_of(**{"site.lift": None} if job_from().site.lift else {})
    assert LIFT not in {resource.id for resource in problem.resources}
    assert not any(LIFT in mode.resources for activity in problem.activities for mode in activity.modes)


# ---------------------------------------------------------------- boarded animals, the filter on a barrel


def ids(problem) -> set[str]:
    return {activity.id for activity in problem.activities}


def clocks(problem) -> set[str]:
    return {clock.id.partition(".")[0] for clock in problem.clocks}


def test_the_filter_runs_on_a_barrel_where_the_job_says_so_and_only_where_there_is_one():
    states = {
        wish: {
            option.id
            for choice in problem_of(**{"preparation.filter_on_barrel": wish}).choices
            for option in choice.options
        }
        for wish in (True, False)
    }
    assert states == {True: {"running_on_barrel"}, False: {"closed_filled", "drained_damp"}}
    assert "E8B" in ids(problem_of(**{"preparation.filter_on_barrel": True}))
    assert "E8B" not in ids(problem_of(**{"preparation.filter_on_barrel": False}))
    # Left out, the day decides, as long as any old water stands in a barrel.
    assert "E8B" in ids(problem_of(rooms=ROOMS.model_copy(update={"old_barrel": True})))
    assert "E8B" not in ids(problem_of(rooms=ROOMS.model_copy(update={"old_barrel": False})))


def test_a_filter_on_a_barrel_draws_its_watts_there_and_none_in_the_cabinet():
    rooms = ROOMS.model_copy(update={"circuit": "c", "circuit_w": 3680.0, "watts": POWER})
    held = {
        hold.id: (hold.amount, str(hold.starts), str(hold.ends))
        for hold in problem_of(rooms=rooms).holds
        if hold.id.startswith("filters")
    }
    assert held == {
        "filters": (30, "E1.start", "E8.start"),
        "filters on the barrel": (30, "E8B.end", "E23.start"),
    }
    damp = problem_of(rooms=rooms, **{"preparation.filter_on_barrel": False})
    assert "filters on the barrel" not in {hold.id for hold in damp.holds}


def test_only_animals_that_come_back_have_a_clock():
    assert {"holding", "shrimp_box"} <= clocks(problem_of())
    assert "shrimp_box" not in clocks(problem_of(**{"livestock.5.boarded": True}))
    assert "holding" in clocks(problem_of(**{"livestock.5.boarded": True}))
    fish = {f"livestock.{number}.boarded": True for number in range(5)}
    assert clocks(problem_of(**fish)) & {"holding", "shrimp_box"} == {"shrimp_box"}
    # A species that nobody knows may be one or the other.
    assert {"holding", "shrimp_box"} <= clocks(problem_of(**{"livestock.5.boarded": True, "livestock.0.species": "x"}))


def test_boxes_that_leave_are_made_ready_and_carried_in_but_not_refreshed_or_let_go():
    drivers = driver_quantities(job_from(), CATALOG, ROOMS.model_copy(update={"boxes": 4, "boxes_back": 3}))
    minutes = {
        name: minutes_of(CATALOG.activities[name], drivers[CATALOG.activities[name].driver]).typical
        for name in ("E7", "E28", "R1")
    }
    # 8 + 4 x 3, 12 + 3 x 2, 5 + 3 x 3.
    assert minutes == {"E7": 20, "E28": 18, "R1": 14}


def test_boxes_that_leave_stand_there_until_everybody_is_caught():
    boxes = (
        Standing(what="tub", container="tub_60", holds="animals", mass_kg=50),
        Standing(what="tub", container="tub_60", holds="leaving", mass_kg=40),
    )
    rooms = ROOMS.model_copy(update={"near_tank_kg": 100.0, "standing": boxes})
    house = house_of(job_from("blue-corridor"), rooms, ())
    held = {hold.id: (hold.amount, str(hold.starts), str(hold.ends)) for hold in house.holds if hold.resource == FLOOR}
    assert held == {
        "animals beside the tank": (50, "E5.start", "E28.end"),
        "leaving beside the tank": (40, "E5.start", "E6.end"),
    }


# ---------------------------------------------------------------- waits, people, client


def test_dripping_takes_hands_for_its_beginning_only_and_then_its_time():
    row = CATALOG.activities["E27"]
    driver = Driver(quantity=2)
    # 15 min at the boxes, then 12.5 min for each of 2 steps: 40 min in all, as the table has it.
    assert minutes_of(row, driver).typical == 15
    wait = wait_of(row, driver)
    assert wait is not None and (wait.low, wait.typical, wait.high) == (10, 25, 60)
    lags = {(str(lag.a), str(lag.b)): lag for lag in problem_of().lags}
    dripped = lags["E27.end", "E28.start"]
    assert (dripped.minimum, dripped.spread) == (25, (10, 60))
    assert wait_of(CATALOG.activities["E28"], driver) is None


def test_nobody_waits_at_the_peroxide():
    lags = {(str(lag.a), str(lag.b)): lag for lag in problem_of().lags}
    contact = lags["E14.end", "E14B.start"]
    # Never wiped before the least contact time, and after 20 min at the latest; cooling goes by the watch.
    assert (contact.minimum, contact.spread) == (10, (10, 20))
    assert lags["E3.end", "E4.end"].spread is None
    # Spraying and wiping with the least wait between make the minutes that the table had for all three.
    spray, wipe = (CATALOG.activities[name] for name in ("E14", "E14B"))
    assert spray.fixed_typ + wipe.fixed_typ + 10 == pytest.approx(16.9)
    assert spray.per_unit_typ + wipe.per_unit_typ == pytest.approx(6)


def test_a_go_no_go_is_for_somebody_who_may_lead():
    crew = [member("ann", "lead"), member("bo")]
    row = CATALOG.activities["E2"]
    assert {mode.id for mode in modes_of(row, 10, crew, work_places=2)} == {"ann", "ann+bo"}
    # Of nobody a skill is told: then nobody is kept from anything.
    assert {mode.id for mode in modes_of(row, 10, [member("ann"), member("bo")], work_places=2)} == {
        "ann",
        "bo",
        "ann+bo",
    }


def test_a_skill_that_nobody_has_is_told_with_its_work():
    row = CATALOG.activities["E22"].model_copy(update={"tags": ("plants", "skill:aquascape")})
    assert skills_lacking(row, [member("ann", "lead")]) == {"aquascape"}
    assert not skills_lacking(row, [member("ann", "aquascape")]) and not skills_lacking(row, [member("ann")])
    found = findings_of(**{"people.0.skills": ["hardscape"]})["day.nobody_skilled"]
    assert found.about in ("E2", "E20") and found.values["skill"] == "lead"
    assert "day.nobody_skilled" not in findings_of()


def test_work_for_the_clients_eyes_waits_for_them_and_chemicals_wait_until_they_are_gone():
    here = [{"start": "2027-02-10 12:30", "end": "2027-02-10 18:00"}]
    shut = {b.tag: b.spans for b in problem_of(**{"site.client_here": here}).blackouts if "client" in b.tag}
    assert shut == {"no_client_present": ((360, 690),), "client_present": ((0, 360), (690, 2160))}
    assert not any("client" in blackout.tag for blackout in problem_of().blackouts)
    assert all("client_present" in mode.tags for mode in modes(problem_of(), "E20"))
    assert all("no_client_present" in mode.tags for mode in modes(problem_of(), "E14"))


def test_work_that_may_be_left_out_has_its_worth_and_is_told_when_it_is():
    problem = problem_of(**{"brief.may_be_left_out": {"E21": "20 min"}})
    optional = {activity.id: activity.worth for activity in problem.activities if activity.optional}
    assert optional["E21"] == 20
    assert not next(activity for activity in problem_of().activities if activity.id == "E21").optional


def test_a_day_of_two_activities_leaves_out_holds_whose_events_are_not_there():
    rooms = ROOMS.model_copy(update={"near_tank_kg": 600.0, "standing": STANDING})
    facts = DayFacts(
        minutes={name: minutes_of(CATALOG.activities[name], Driver(quantity=1)) for name in ("E1", "E24")},
        crew=[member("ann"), member("bo")],
        work_places=2,
        quiet={},
        closes_min=500,
        horizon_min=600,
        house=house_of(job_from(), rooms, ()),
    )
    assert [hold.id for hold in build_problem(facts, CATALOG).holds if hold.resource == FLOOR] == [
        "new beside the tank"
    ]


@pytest.mark.parametrize(
    ("window", "told"),
    [
        # Access is from 06:30 to 18:00: a break needs 30 min within it.
        (("19:00", "21:00"), True),
        (("17:45", "19:00"), True),
        (("17:30", "19:00"), False),
        (("11:00", "15:00"), False),
    ],
)
def test_a_break_that_has_no_room_in_the_hours_of_the_day_is_told(window, told):
    windows = [{"kind": "day", "start": "2027-02-10 06:30", "end": "2027-02-10 18:00"}]
    lead = {"id": "lead", "speed": 1.0, "break": "30 min", "break_from": window[0], "break_until": window[1]}
    job = job_from("blue-corridor", **{"site.windows": windows, "people.0": {**lead, "skills": ["lead"]}})
    found = version_of(job, catalog(), ALL_ROOMS, work_places=2)
    assert ("day.break_outside_hours" in [finding.id for finding in found.findings]) == told


def test_only_the_lead_looks_with_the_client_where_skills_are_told():
    # "client or lead looks from every side": a helper may be at hand, and never alone.
    crew = [member("lead", "lead"), member("helper"), member("planter", "planting")]
    modes = modes_of(CATALOG.activities["E20"], 10, crew, work_places=4)
    assert modes and all("lead" in mode.crew for mode in modes)
