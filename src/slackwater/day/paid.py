"""Hours that are paid for a day: from when to when each person is on site, and what of it has a surcharge."""

from __future__ import annotations

from collections.abc import Mapping

from slackwater.day.result import DayResult
from slackwater.job.model import Job, Person


def paid_minutes(job: Job, day: DayResult | None) -> tuple[Mapping[str, int], Mapping[str, int]]:
    """Minutes on site for each person, and those within the surcharge hours; people are paid until the day ends."""
    if day is None or day.finish is None:
        return {}, {}
    people = {person.id: person for person in job.people or ()}
    on_site: dict[str, int] = {}
    night: dict[str, int] = {}
    for name in day.person_minutes:
        person = people.get(name)
        mine = [entry for entry in day.entries if name in entry.crew]
        if person is None or not mine:
            continue
        start = 0 if person.from_ is None else min(entry.start_min for entry in mine)
        end = (
            max(entry.end_min for entry in day.entries)
            if person.until is None
            else max(entry.end_min for entry in mine)
        )
        on_site[name] = end - start
        night[name] = night_minutes(person, day, end)
    return on_site, night


def night_minutes(person: Person, day: DayResult, end_min: int) -> int:
    """Minutes of a person within the surcharge hours, from the start of access to the end of their day."""
    if not person.night_surcharge or person.night_until is None:
        return 0
    opens = day.opens
    until = opens.replace(hour=person.night_until // 60, minute=person.night_until % 60)
    span = (until - opens).total_seconds() / 60
    return round(min(end_min, span if span > 0 else span + 24 * 60))
