"""The measure of the office: it leaves out no page, and its figure is the one it says it is."""

from __future__ import annotations

from bench.office import p95, unvisited


def test_every_address_that_the_office_has_is_visited():
    assert unvisited() == []


def test_ninety_five_of_a_hundred_keep_the_time_that_is_told():
    assert p95([float(time) for time in range(100, 0, -1)]) == 95.0
    assert p95([3.0, 1.0, 2.0]) == 3.0
