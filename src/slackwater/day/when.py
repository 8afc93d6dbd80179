"""Between local wall time at the site and minutes from the start of access, real across a clock change and midnight."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from slackwater.errors import BadInput


def zone(name: str) -> ZoneInfo:
    """The time zone of a site.

    Raises
    ------
    BadInput
        If there is no zone of that name.
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise BadInput(
            f'site.time_zone: "{name}" is not a time zone; expected a name such as "Europe/Berlin"'
        ) from error


def told_time(text: str) -> time | datetime | None:
    """A time of day (``12:40``) or a moment with its date (``2027-02-10 12:40``), as people write them; None for anything else."""
    said = text.strip()
    try:
        if re.fullmatch(r"\d{1,2}:\d{2}", said):
            return time(int(said.partition(":")[0]), int(said.partition(":")[2]))
        return datetime.fromisoformat(said) if ":" in said else None
    except ValueError:
        return None


def clock_time(moment: datetime, first: date) -> str:
    """Hours and minutes; with the day where it is not `first`, and "(2nd)" in the second of two hours that the clocks show twice.

    >>> clock_time(datetime(2027, 10, 31, 2, 13, fold=1, tzinfo=ZoneInfo("Europe/Berlin")), date(2027, 10, 30))
    'Sun 02:13 (2nd)'
    """
    again = moment.fold == 1 and moment.utcoffset() != moment.replace(fold=0).utcoffset()
    # In a gap the offsets differ too, but no moment that comes from minutes lies in one.
    shown = f"{moment:%H:%M}" if moment.date() == first else f"{moment:%a %H:%M}"
    return f"{shown} (2nd)" if again else shown


class Clockface:
    """Minutes from one local moment, and back.

    Local times that a clock change skips are read as the moment just after the gap; times that occur twice as the
    first of the two, as the standard library does for ``fold=0``.
    """

    def __init__(self, origin: datetime, zone_name: str) -> None:
        self.zone = zone(zone_name)
        self.origin = origin.replace(tzinfo=self.zone)

    def minute(self, local: datetime) -> int:
        """Real minutes from the origin to a local time, rounded to whole minutes."""
        gap = local.replace(tzinfo=self.zone).astimezone(UTC) - self.origin.astimezone(UTC)
        return round(gap.total_seconds() / 60)

    def moment(self, minute: int) -> datetime:
        """The local time, with its offset, so many real minutes after the origin."""
        return (self.origin.astimezone(UTC) + timedelta(minutes=minute)).astimezone(self.zone)

    def shown(self, minute: int) -> str:
        """The local time as `clock_time` writes it, on the date of the origin."""
        return clock_time(self.moment(minute), self.origin.date())

    def times_of_day(self, time_of_day_min: int, *, first_minute: int, last_minute: int) -> list[int]:
        """Each minute from the origin, within a span, at which the wall clock shows a time of day."""
        found: list[int] = []
        day = self.moment(first_minute).date()
        while True:
            local = datetime(day.year, day.month, day.day) + timedelta(minutes=time_of_day_min)
            minute = self.minute(local)
            if minute > last_minute:
                return found
            if minute >= first_minute:
                found.append(minute)
            day += timedelta(days=1)
