"""Holding boxes: an independent model, balances, and what any practitioner knows of boxes."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slackwater.living.acidity import acidity_of
from slackwater.living.holding import (
    ROW,
    Box,
    Limits,
    air_stops,
    box_water,
    hold,
    rate_of,
    resting_use_mg_h,
    start_of,
)
from slackwater.living.machine import Event, simulate
from slackwater.water.speciation import speciate, speciate_at_co2
from tests.living.independent import box as independent_box
from tests.living.test_restart import WATER

FILLED = speciate_at_co2(WATER, co2_mg_l=8).water
TABLE = box_water(FILLED, acidity_of(FILLED))
BOX = Box(
    litres=20.0,
    head_l=0.0,
    resting_mg_h=20.0,
    in_by_h=0.0,
    routine=1.5,
    capture=2.5,
    decay_h=2.0,
    ammonia_quotient=0.1,
    respiratory_quotient=0.85,
    loss_w_per_k=1.6,
    room_c=19.0,
)


def fresh(box=BOX, transfer=2.5, members=1):
    return start_of(
        box,
        water=FILLED,
        carbon_mmol_l=float(FILLED.carbon_mmol_l),
        temp_c=24.5,
        transfer_per_h=transfer,
        members=members,
    )


def held(box=BOX, transfer=2.5, **given):
    return hold(box, TABLE, fresh(box, transfer), limits=Limits(oxygen_mg_l=5.0), **given)


@pytest.mark.parametrize("head_l", [0.0, 12.0])
@pytest.mark.parametrize("transfer", [0.07, 2.5])
def test_an_independent_model_of_the_box_agrees(head_l, transfer):
    box = replace(BOX, head_l=head_l, resting_mg_h=6.0)
    hours = [0.0, 0.5, 1.0, 2.0, 4.0, 6.0]
    ours = simulate(rate_of(box, TABLE), fresh(box, transfer), times=hours, longest_step=1 / 240).states[:, :, 0]
    theirs = independent_box(
        {
            "V": 20.0, "V_head": head_l, "kLa20": transfer, "theta": 1.024, "R0": 6.0, "routine": 1.5, "capture": 2.5,
            "decay_h": 2.0, "AQ": 0.1, "UA": 1.6, "T_room": 19.0, "cp": 4.18,
        },
        {"O2": float(ours[0, 0]), "O2_air": 0.2095, "TAN": 0.0, "T": 24.5},
        hours,
    )  # fmt: skip
    for name, row in (("O2", "oxygen_mg_l"), ("TAN", "tan_mg_l"), ("T", "temp_c")):
        assert ours[:, ROW[row]] == pytest.approx(np.array(theirs[name]), rel=1e-4, abs=1e-4), name
    if head_l > 0:
        assert ours[:, ROW["air_oxygen"]] == pytest.approx(np.array(theirs["O2_air"]), rel=1e-4)


@settings(max_examples=20)
@given(st.floats(0, 30), st.floats(0.03, 4), st.floats(2, 18))
def test_oxygen_and_carbon_close_in_a_shut_box_without_heat(head_l, transfer, use):
    box = replace(BOX, head_l=max(head_l, 0.5), resting_mg_h=use, loss_w_per_k=0.0)
    course = simulate(rate_of(box, TABLE), fresh(box, transfer), times=[0.0, 3.0], longest_step=1 / 120).states[:, :, 0]
    moles = box.head_l / (0.0820574 * (24.5 + 273.15))

    def oxygen_mg(state):
        return state[0] * 20 + state[1] * moles * 31998

    def carbon_mmol(state):
        return state[2] * 20 + state[3] * moles * 1000

    used = np.trapezoid([resting_use_mg_h(box, t) for t in np.linspace(0, 3, 4001)], np.linspace(0, 3, 4001))
    assert oxygen_mg(course[0]) - oxygen_mg(course[1]) == pytest.approx(used, rel=1e-4)
    gained = used / 31.998 * 0.85
    assert carbon_mmol(course[1]) - carbon_mmol(course[0]) == pytest.approx(gained, rel=1e-4)


def test_oxygen_never_falls_below_nothing():
    course = held(replace(BOX, resting_mg_h=200.0, head_l=5.0), transfer=0.03, last_h=6.0)
    assert course.oxygen_mg_l.min() >= -1e-3 and course.oxygen_mg_l.min() < 0.1


@settings(max_examples=20)
@given(st.floats(1, 8), st.floats(0.2, 2), st.floats(0.5, 2))
def test_animals_let_go_gradually_leave_a_box_that_is_used_no_more(waits, over, before):
    box = replace(BOX, out_from_h=waits, out_over_h=over)
    assert resting_use_mg_h(box, waits) == pytest.approx(resting_use_mg_h(BOX, waits))
    # Half of the animals are gone half-way through.
    middle = waits + over / 2
    assert resting_use_mg_h(box, middle) == pytest.approx(resting_use_mg_h(BOX, middle) / 2)
    assert resting_use_mg_h(box, waits + over + before) == 0


def test_the_table_of_a_box_is_the_water_model():
    carbon = np.array([1.5, 1.8, 2.2])
    tabled = TABLE.co2_of(carbon, np.full(3, float(FILLED.alkalinity_meq_l)))
    real = np.array([float(speciate(replace(FILLED, carbon_mmol_l=float(c))).co2_mg_l) for c in carbon])
    assert tabled == pytest.approx(real, rel=5e-3)


def test_air_buys_time_and_a_failed_pump_takes_it():
    aired, still = held(), held(transfer=0.07)
    assert still.hours[0] < aired.hours[0]
    assert still.binds[0] in ("oxygen", "carbon dioxide")
    failing = held(events=[Event(2.0, partial(air_stops, still_per_h=0.07))])
    assert still.hours[0] < failing.hours[0] <= aired.hours[0]
    assert failing.hours[0] > 2.0


def test_a_closed_box_turns_sour_and_that_guards_against_ammonia():
    # Science notes 5: carbon dioxide lowers the pH of a closed box; an air stone raises it and with it the ammonia.
    still, aired = held(transfer=0.07, last_h=3.0), held(last_h=3.0)
    assert still.ph[-1, 0] < aired.ph[-1, 0]
    assert still.tan_mg_l[-1, 0] == pytest.approx(aired.tan_mg_l[-1, 0], rel=1e-6)
    assert still.uia_mg_l[-1, 0] < aired.uia_mg_l[-1, 0]


def test_fewer_animals_a_larger_box_and_a_warmer_room_hold_longer():
    here = held(transfer=0.07).hours[0]
    assert held(replace(BOX, resting_mg_h=10.0), transfer=0.07).hours[0] > here
    assert held(replace(BOX, litres=40.0), transfer=0.07).hours[0] > here
    cold, mild = replace(BOX, room_c=5.0, resting_mg_h=2.0), replace(BOX, room_c=22.0, resting_mg_h=2.0)
    assert held(cold).binds[0] == "temperature" and held(cold).hours[0] < held(mild).hours[0]


def test_thin_air_leaves_less_time():
    high = replace(BOX, pressure_atm=0.75)  # about 2300 m
    assert held(high, transfer=0.07).hours[0] < held(transfer=0.07).hours[0]


@given(st.floats(0.1, 3), st.floats(0, 8))
def test_animals_that_come_in_gradually_use_no_more_than_all_at_once(in_by, hours):
    slow = replace(BOX, in_by_h=in_by)
    most = BOX.resting_mg_h * 2.5
    assert 0 <= resting_use_mg_h(slow, hours) <= most
    if hours >= in_by:
        assert resting_use_mg_h(slow, hours) >= resting_use_mg_h(BOX, hours) - 1e-9


def test_an_empty_box_keeps_every_limit():
    empty = held(replace(BOX, resting_mg_h=0.0, loss_w_per_k=0.0))
    assert np.isinf(empty.hours[0]) and empty.binds[0] == ""
