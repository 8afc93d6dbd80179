"""Wall time and minutes agree with the public rules of the European clock change."""

from datetime import datetime, time

import pytest

from slackwater.day.when import Clockface, told_time
from slackwater.errors import BadInput


def test_a_night_with_the_autumn_change_is_an_hour_longer():
    # Directive 2000/84/EC: summer time ends on the last Sunday of October at 01:00 UTC, 03:00 becomes 02:00.
    face = Clockface(datetime(2027, 10, 30, 22, 0), "Europe/Berlin")
    assert face.minute(datetime(2027, 10, 31, 6, 0)) == 9 * 60


def test_a_night_with_the_spring_change_is_an_hour_shorter():
    face = Clockface(datetime(2027, 3, 27, 22, 0), "Europe/Berlin")
    assert face.minute(datetime(2027, 3, 28, 6, 0)) == 7 * 60


def test_minutes_come_back_as_the_local_time_they_were():
    face = Clockface(datetime(2027, 8, 22, 22, 30), "Europe/Berlin")
    assert face.moment(face.minute(datetime(2027, 8, 23, 11, 30))).strftime("%H:%M %z") == "11:30 +0200"


def test_a_time_of_day_is_found_on_each_day_of_the_span():
    face = Clockface(datetime(2027, 8, 22, 22, 30), "Europe/Berlin")
    assert face.times_of_day(60, first_minute=0, last_minute=30 * 60) == [150, 150 + 24 * 60]


def test_an_unknown_zone_is_named():
    with pytest.raises(BadInput, match="Europe/Atlantis"):
        Clockface(datetime(2027, 1, 1), "Europe/Atlantis")


def test_the_second_of_two_hours_and_another_date_are_marked():
    # Access from Saturday 22:00; the clocks show 02:00 to 03:00 twice: minutes 240 to 300 and 300 to 360.
    face = Clockface(datetime(2027, 10, 30, 22, 0), "Europe/Berlin")
    told = [face.shown(minute) for minute in (30, 253, 313, 360)]
    assert told == ["22:30", "Sun 02:13", "Sun 02:13 (2nd)", "Sun 03:00"]


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("12:40", time(12, 40)),
        (" 7:05 ", time(7, 5)),
        ("2027-02-10 12:40", datetime(2027, 2, 10, 12, 40)),
        ("24:00", None),
        ("noonish", None),
        ("2027-02-10", None),
        ("1330", None),
    ],
)
def test_times_are_read_as_people_write_them(text, meant):
    assert told_time(text) == meant
