"""Restarts that leave some of what built up: each piece of a clock then has a limit of its own."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from itertools import combinations, pairwise, product

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from slackwater.day.activities import CrewMember, Minutes
from slackwater.day.assess import assess_day, clock_conflict
from slackwater.day.check import broken_rules
from slackwater.day.drivers import RoomQuantities
from slackwater.day.model import Activity, Clock, DayProblem, Mode, Person, Placed, Schedule, Status, event
from slackwater.day.pieces import clock_pieces
from slackwater.day.problem import DayFacts, build_problem
from slackwater.day.report import spans_of
from slackwater.day.solve import Relaxed, can_fit, solve, solve_each
from slackwater.day.when import Clockface
from slackwater.job.catalog import ClockRow, load_catalog, read_table, shipped_table
from slackwater.wording.render import say
from tests.jobs import job_from
from tests.plans import QUICK

CATALOG = load_catalog()
HOLDING = CATALOG.clocks["holding.aired_lidded"]


def work(name, minutes, who="a", after=(), optional=False):
    return Activity(id=name, modes=(Mode(id=who, minutes=minutes, crew=(who,)),), after=after, optional=optional)


def clock(limit, restarted, name="c"):
    return Clock(
        id=name,
        starts=event("x.end"),
        ends=event("z.start"),
        limit_min=limit,
        restarts=("r1", "r2"),
        restarted_limits_min=restarted,
    )


def waiting_day(*clocks, closes=200):
    """Eighty minutes between the end of x and the start of z; b can restart the clock twice, 5 min each."""
    return DayProblem(
        activities=(
            work("x", 10),
            work("y", 80, after=("x",)),
            work("z", 10, after=("y",)),
            work("r1", 5, "b", after=("x",), optional=True),
            work("r2", 5, "b", after=("r1",), optional=True),
        ),
        people=(Person(id="a", windows=((0, 300),)), Person(id="b", windows=((0, 300),))),
        clocks=clocks,
        closes_min=closes,
        horizon_min=300,
    )


SPANS = {"x": (0, 10), "y": (10, 90), "z": (90, 100), "r1": (40, 45), "r2": (65, 70)}


def placed(*names):
    """By hand: the pieces are 30 and 45 min with r1 alone, 30, 20 and 20 min with both, 80 min with neither."""
    return tuple(
        Placed(
            activity=name,
            mode="b" if name.startswith("r") else "a",
            start=SPANS[name][0],
            end=SPANS[name][1],
            crew=("b",) if name.startswith("r") else ("a",),
        )
        for name in ("x", "y", "z", *names)
    )


def done(answer):
    return {item.activity for item in answer.placed} & {"r1", "r2"}


# Pieces


@pytest.mark.parametrize(
    ("restarts", "pieces"),
    [
        ((), [(80, 70, 10)]),
        (("r1",), [(30, 40, 0), (45, 40, 5)]),
        (("r1", "r2"), [(30, 25, 5), (20, 25, 0), (20, 25, 0)]),
    ],
)
def test_each_piece_has_the_limit_for_the_restarts_taken(restarts, pieces):
    found = clock_pieces(waiting_day(clock(70, (40, 25))), placed(*restarts), {})
    assert [(piece.end - piece.start, piece.limit_min, piece.excess_min) for piece in found] == pieces


@pytest.mark.parametrize("restarts", [(), ("r1",), ("r1", "r2")])
def test_without_restarted_limits_every_piece_has_the_whole_limit(restarts):
    found = clock_pieces(waiting_day(clock(70, ())), placed(*restarts), {})
    assert [piece.limit_min for piece in found] == [70] * (len(restarts) + 1)


@pytest.mark.parametrize(
    ("limits", "says"),
    [
        ((40,), "clock c has 1 restarted limits for 2 restarts; give one for each"),
        ((40, 30, 20), "clock c has 3 restarted limits for 2 restarts; give one for each"),
        ((40, -1), "greater than or equal to 0"),
    ],
)
def test_limits_that_do_not_go_with_the_restarts_are_refused(limits, says):
    with pytest.raises(ValueError, match=says):
        clock(70, limits)


# The checker


def day_with(*names, excess=0):
    return Schedule(status=Status.BEST_FOUND, placed=placed(*names), finish_min=100, excess_min=excess)


def test_a_piece_over_its_own_limit_breaks_this_rule_and_no_other():
    late = day_with("r1")
    # 30 and 45 min keep a limit of 70; with one restart taken only 40 are left.
    assert broken_rules(waiting_day(clock(70, ())), late) == ()
    broken = broken_rules(waiting_day(clock(70, (40, 60))), late)
    assert [item.rule for item in broken] == ["clocks_are_kept"]
    assert broken[0].what == "5 min over, declared 0: c before z.start"
    assert broken_rules(waiting_day(clock(70, (45, 0))), late) == ()


def test_a_piece_before_a_restart_is_held_to_the_limit_of_all_restarts_taken():
    both = day_with("r1", "r2")
    assert broken_rules(waiting_day(clock(70, (0, 30))), both) == ()
    broken = broken_rules(waiting_day(clock(70, (70, 29))), both)
    assert [item.what for item in broken] == ["1 min over, declared 0: c before r1"]


def test_a_wait_without_restart_keeps_the_unrestarted_limit():
    assert broken_rules(waiting_day(clock(80, (1, 1))), day_with()) == ()
    assert [item.rule for item in broken_rules(waiting_day(clock(79, (90, 90))), day_with())] == ["clocks_are_kept"]


def test_the_excess_declared_is_that_over_the_pieces_own_limits():
    # Both taken, limit 18: 12 + 2 + 2 over.
    problem = waiting_day(clock(70, (40, 18)))
    assert broken_rules(problem, day_with("r1", "r2", excess=16)) == ()
    assert [b.rule for b in broken_rules(problem, day_with("r1", "r2", excess=15))] == ["clocks_are_kept"]


# The solver


@pytest.mark.parametrize(
    ("restarted", "restarts", "excess"),
    [
        # One restart leaves 75 min of clock in two pieces, two leave 70 in three; none leaves 80, over a limit of 50.
        ((), {"r1"}, 0),
        ((40, 30), {"r1"}, 0),
        ((37, 30), {"r1", "r2"}, 0),
        ((20, 20), {"r1", "r2"}, 10),
        ((25, 10), {"r1"}, 25),
        ((20, 10), set(), 30),
    ],
)
def test_as_many_restarts_are_taken_as_the_limits_ask_for(restarted, restarts, excess):
    problem = waiting_day(clock(50, restarted))
    answer = solve_each(problem, [0.0])[0]  # nothing kept in reserve
    assert (done(answer), answer.excess_min, answer.finish_min) == (restarts, excess, 100)
    assert sum(piece.excess_min for piece in answer.pieces) == excess
    assert broken_rules(problem, answer) == ()


def test_a_restart_for_one_clock_shortens_the_other():
    # d alone would bear the 80 min; the restart that c needs leaves it 30 for each piece: 75 - 60 = 15 over.
    c, d = clock(50, (40, 0)), clock(80, (30, 0), name="d")
    assert solve(waiting_day(d)).excess_min == 0
    answer = solve(waiting_day(c, d))
    assert (done(answer), answer.excess_min) == ({"r1"}, 15)


def test_whether_a_day_fits_depends_on_the_restarted_limits():
    def fits(restarted):
        return can_fit(waiting_day(clock(50, restarted)), seconds=1, seed=1, relaxed=Relaxed())

    # 75 = 37 + 38 and 70 = 23 + 23 + 24.
    assert fits((38, 0)) is fits((0, 24)) is Status.BEST_FOUND
    assert fits((37, 23)) is Status.IMPOSSIBLE


CLOSES = 13


@st.composite
def restarted_days(draw):
    """x opens the clock that z closes; y lies between, z also waits for p; one of the two does the restarts."""
    few = st.integers(1, 2)
    who = draw(st.sampled_from("ab"))
    limits = draw(st.one_of(st.just(()), st.tuples(st.integers(0, 3), st.integers(0, 3))))
    return DayProblem(
        activities=(
            work("x", draw(few)),
            work("y", draw(st.integers(2, 6)), after=("x",)),
            work("p", draw(st.integers(1, 6)), "b"),
            work("z", draw(few), after=("y", "p")),
            work("r1", draw(few), who, after=("x",), optional=True),
            work("r2", draw(few), who, after=("r1",), optional=True),
        ),
        people=(Person(id="a", windows=((0, CLOSES),)), Person(id="b", windows=((0, CLOSES),))),
        clocks=(clock(draw(st.integers(0, 5)), limits),),
        closes_min=CLOSES,
        horizon_min=CLOSES,
    )


def finish_and_excess_of_all_days(problem):
    """(finish, minutes over) of every placement of the tasks on whole minutes; z is the last task of each."""
    minutes = {task.id: task.modes[0].minutes for task in problem.activities}
    by = {task.id: task.modes[0].crew[0] for task in problem.activities}
    (watched,) = problem.clocks
    limits = (watched.limit_min, *(watched.restarted_limits_min or (watched.limit_min,) * 2))

    def clash(start):
        return any(
            by[one] == by[other]
            and start[one] < start[other] + minutes[other]
            and start[other] < start[one] + minutes[one]
            for one, other in combinations(start, 2)
        )

    for taken, limit in enumerate(limits):
        marks = ("x", *("r1", "r2")[:taken], "z")
        for times in combinations(range(CLOSES - minutes["z"] + 1), len(marks)):
            start = dict(zip(marks, times, strict=True))
            waits = [start[after] - start[before] - minutes[before] for before, after in pairwise(marks)]
            if min(waits) < 0 or clash(start):
                continue
            ys = range(start["x"] + minutes["x"], start["z"] - minutes["y"] + 1)
            ps = range(start["z"] - minutes["p"] + 1)
            if any(not clash({**start, "y": y, "p": p}) for y, p in product(ys, ps)):
                yield start["z"] + minutes["z"], sum(max(0, wait - limit) for wait in waits)


@settings(max_examples=120)
@given(restarted_days())
def test_small_days_with_restarts_are_as_good_as_brute_force_finds(problem):
    days = set(finish_and_excess_of_all_days(problem))
    assume(days)
    kept = [finish for finish, over in days if over == 0]
    answer = solve(problem)
    if kept:
        assert (answer.finish_min, answer.excess_min) == (min(kept), 0)
    else:
        assert answer.finish_min + answer.excess_min == min(map(sum, days))
    assert broken_rules(problem, answer) == ()


# From the catalog to what people read


def built(*restarts, restarted):
    """The holding clock of a day on which only these restarts have something to do."""
    row = HOLDING.model_copy(update={"restarted_low_min": restarted})
    catalog = CATALOG.model_copy(update={"clocks": {**CATALOG.clocks, row.id: row}})
    facts = DayFacts(
        minutes={name: Minutes(10, 10, 10) for name in ("E5", "E28", *restarts)},
        crew=[CrewMember(name, 1.0, {}, ((0, 600),), 0, 0, 0) for name in ("a", "b")],
        work_places=2,
        quiet={},
        closes_min=600,
        horizon_min=600,
    )
    (found,) = (item for item in build_problem(facts, catalog).clocks if item.id == row.id)
    return found


@pytest.mark.parametrize(
    ("restarts", "limits"), [(("R1", "R2"), (300, 200)), (("R1",), (300,)), (("R2",), (300,)), ((), ())]
)
def test_limits_are_cut_to_the_restarts_that_are_done(restarts, limits):
    found = built(*restarts, restarted=(300, 200))
    assert (found.restarts, found.limit_min, found.restarted_limits_min) == (restarts, 480, limits)
    assert built(*restarts, restarted=()).restarted_limits_min == ()


def test_a_row_with_too_few_limits_is_refused_by_its_clock():
    with pytest.raises(ValueError, match="has 1 restarted limits for 2 restarts"):
        built("R1", "R2", restarted=(300,))


def test_clock_rows_are_read_without_a_column_of_restarted_limits():
    assert {row.restarted_low_min for row in CATALOG.clocks.values()} == {()}
    head, *lines = shipped_table("clocks").splitlines()
    own = next(line for line in lines if line.startswith("holding,") and "aired_lidded,E5" in line)
    own = own.replace("480,600,720", "400,600,720")
    (row,) = read_table(f"{head}\n{own}\n", ClockRow, file_name="clocks.csv").values()
    assert (row.low_min, row.restarted_low_min) == (400, ())


def test_a_span_shows_the_limit_of_its_piece_and_when_that_is_reached():
    pieces = clock_pieces(waiting_day(clock(70, (40, 25), name=HOLDING.id)), placed("r1"), {})
    face = Clockface(datetime(2027, 3, 3, 8, 0), "Europe/Berlin")
    first, second = spans_of(Schedule(status=Status.PROVED, pieces=pieces), catalog=CATALOG, face=face)
    # From 8:10 and from 8:45, 40 min each; the second runs to 9:30.
    assert (first.limit_min, first.excess_min, f"{first.latest:%H:%M}") == (40, 0, "08:50")
    assert (second.limit_min, second.excess_min, f"{second.latest:%H:%M}") == (40, 5, "09:25")


def test_the_conflict_names_the_limits_with_and_without_restarts():
    row = HOLDING.model_copy(update={"low_min": 300, "restarted_low_min": (240, 180)})
    conflict = clock_conflict(row)
    assert say(f"conflict.{conflict.id}", conflict.values) == (
        "fish in holding boxes: at most 5 h; each stretch with one change of half at most 4 h, with two at most 3 h."
    )
    plain = clock_conflict(HOLDING)
    assert say(f"conflict.{plain.id}", plain.values) == "fish in holding boxes: at most 8 h."


def test_the_finding_names_the_limit_of_the_piece_that_is_over():
    row = HOLDING.model_copy(update={"low_min": 200, "restarted_low_min": (150, 120)})
    catalog = CATALOG.model_copy(update={"clocks": {**CATALOG.clocks, row.id: row}})
    rooms = RoomQuantities(
        inner_glass_m2=2.0,
        footprint_m2=0.6,
        net_l=200.0,
        refill_l=180.0,
        kept_water_l=100.0,
        boxes=4,
        acclimatise_steps=4,
        bags=3,
        carried_kg=400.0,
        waste_kg=80.0,
        old_soil_l=40.0,
    )
    stage = assess_day(
        job_from(**{"people.2.on_call": False}), catalog, rooms, work_places=2, effort=replace(QUICK, why=0.0)
    )
    assert stage.result is not None and stage.result.broken_rules == ()
    assert {"R1", "R2"} <= {entry.activity for entry in stage.result.entries}
    over = [item for item in stage.findings if item.id == "day.clock_over" and item.about == "holding"]
    assert over and {item.values["limit_h"] for item in over} == {2.0}
    taken = {item.field: item.value for item in stage.assumed}
    assert taken["clocks.holding.aired_lidded"] == (
        "at most 200 min; each stretch with 1 half change at most 150 min; each stretch with 2 half changes at most 120 min"
    )
