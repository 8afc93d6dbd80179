"""Half changes of a box: against the sum done by hand, and by what must hold always."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.day.halving import MOST_CHANGES, latest_half_changes


def test_after_the_first_one_a_change_is_due_every_half_of_the_limit():
    # Full at 10; halved it is at 5, and full again 5 later.
    assert latest_half_changes(10, until=26) == (10, 15, 20, 25)
    assert latest_half_changes(10, until=10) == ()
    # Halved at 8 it stands at 4: full at 8 + 6.
    assert latest_half_changes(10, until=20, done=(8,)) == (14, 19)


@given(st.floats(1, 20), st.floats(1, 60), st.lists(st.floats(0.1, 0.9), max_size=3).map(sorted))
def test_what_builds_up_never_passes_the_limit(limit, until, shares):
    done = [limit * share for share in shares]
    changes = latest_half_changes(limit, until=until, done=done)
    load, at = 0.0, 0.0
    for change in (*done, *changes):
        load += change - at
        assert load <= limit * (1 + 1e-9)
        load, at = load / 2, change
    assert len(changes) == MOST_CHANGES or load + max(0.0, until - at) <= limit * (1 + 1e-9)


@pytest.mark.parametrize("limit", [0, -1])
def test_a_box_that_holds_nothing_asks_for_no_change_because_none_would_do(limit):
    assert latest_half_changes(limit, until=10) == ()
