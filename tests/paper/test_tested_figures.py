"""Water tests over time: what is drawn lies where it was measured, between round numbers."""

from __future__ import annotations

import math
from datetime import datetime
from xml.etree import ElementTree

from hypothesis import given
from hypothesis import strategies as st

from slackwater.paper import tested_figures as figures

NUMBERS = st.floats(0, 1e5, allow_subnormal=False).map(lambda value: round(value, 3))


@given(NUMBERS, NUMBERS)
def test_round_numbers_hold_what_is_drawn_and_are_few(one, other):
    low, high = min(one, other), max(one, other)
    ticks = figures.ticks_between(low, high)
    step = ticks[1] - ticks[0]
    assert ticks[0] <= low + step * 1e-6
    assert ticks[-1] >= high - step * 1e-6
    assert 3 <= len(ticks) <= 7
    first = step / 10 ** math.floor(math.log10(step * 1.0001))
    assert min(abs(first - round_one) for round_one in (1, 2, 5)) < 0.001


def test_each_test_is_a_dot_at_its_day_and_its_value():
    days = (datetime(2027, 1, 1), datetime(2027, 1, 3), datetime(2027, 1, 9))
    tested = figures.Tested(name="NO3 <i>", unit="mg/L", units="metric", at=days, values=(20.0, 40.0, 30.0))
    drawing = ElementTree.fromstring(figures.tests_svg((tested,)))
    dots = [(float(dot.get("cx")), float(dot.get("cy"))) for dot in drawing.iter("{http://www.w3.org/2000/svg}circle")]
    left, right = figures.LEFT, figures.LEFT + figures.ROOM
    # A quarter of the eight days, the highest on top, the middle one halfway between.
    assert [x for x, _ in dots] == [left, left + figures.ROOM / 4, right]
    assert dots[1][1] < dots[2][1] < dots[0][1]
    assert abs(dots[2][1] - (dots[0][1] + dots[1][1]) / 2) < 0.11
    words = [text.text for text in drawing.iter("{http://www.w3.org/2000/svg}text")]
    assert words[0] == "NO3 <i>, mg/L"
    assert {"01 Jan 2027", "09 Jan 2027", "20", "40"} <= set(words)
