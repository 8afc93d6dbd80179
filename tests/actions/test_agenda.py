"""What the start page shows of dates that are due."""

from __future__ import annotations

from datetime import date, timedelta

from slackwater.actions.agenda import BACK, Due, Kind, soon

TODAY = date(2026, 11, 1)


def due(days: int) -> Due:
    return Due(on=TODAY + timedelta(days=days), at="", kind=Kind.VISIT, text=str(days), job_id="1", job="J")


def told(*days: int) -> list[str]:
    return [item.text for item in soon([due(day) for day in days], TODAY)]


def test_dates_of_the_next_weeks_are_shown_and_else_those_of_the_next_date():
    far = BACK.days + 200
    assert told(-3, 0, BACK.days, BACK.days + 1) == ["0", str(BACK.days)]
    assert told(-3, far, far, far + 1) == [str(far), str(far)]
    assert told(-3) == told() == []
