"""Where a repair of the day goes: the facts of the job that it changes, in the words of the survey."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime

from slackwater.day.repairs import HELPER_SPEED, PAIRS
from slackwater.day.result import DayResult, WhatIf
from slackwater.job.model import Job
from slackwater.job.variants import KEPT
from slackwater.paper.fact_names import fact_name
from slackwater.reader import Reader, localised
from slackwater.units import digits
from slackwater.wording.render import named, say

Changed = tuple[tuple[str, bool | float | str], ...]
"""Keys of the job file with their new values; a value that begins with @ is a sentence under ``what_if_lines``."""


def changed_facts(item: WhatIf, job: Job, day: DayResult) -> Changed:
    """What to change in the job so that the next plan has a repair in it.

    Returns
    -------
    tuple of (str, value)
        Empty where the job has no fact for the repair. Entries of lists are counted from 1.
    """
    found: list[tuple[str, bool | float | str]] = []
    for name in PAIRS.get(item.id, (item.id,)):
        if name in _FACTS:
            found += _FACTS[name](item, job, day)
    return tuple(found)


def job_lines(item: WhatIf, job: Job, day: DayResult, reader: Reader) -> tuple[str, ...]:
    """The same as people read it: question, page of the survey, answer."""
    lines = []
    for key, value in changed_facts(item, job, day):
        fact = fact_name(key, reader)
        values = {"fact": key if fact is None else fact.quoted, "value": _value(value, reader)}
        lines.append(localised(say("what_if_lines.answer", values, reader), reader))
    return tuple(lines)


def _value(value: bool | float | str, reader: Reader) -> str:
    if isinstance(value, bool):
        return say("sheet.yes" if value else "sheet.no", {}, reader)
    if isinstance(value, str):
        return say(f"what_if_lines.{value[1:]}", {}, reader) if value[:1] == "@" else named(value, reader)
    return digits(value)


def _at(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M}"


def _person(item: WhatIf, job: Job, day: DayResult) -> Changed:
    people = job.people or ()
    for number, person in enumerate(people, start=1):
        if person.id == str(item.values.get("person", "")):
            return ((f"people[{number}].on_call", False),)
    at = f"people[{len(people) + 1}]"
    return ((f"{at}.id", "@helper"), (f"{at}.speed", HELPER_SPEED), (f"{at}.hourly_rate", "@theirs"))


def _window(job: Job) -> str:
    """The hours of the day itself."""
    windows = job.site.windows or ()
    return f"site.windows[{next((n for n, window in enumerate(windows, start=1) if window.kind == 'day'), 1)}]"


def _earlier(item: WhatIf, job: Job, day: DayResult) -> Changed:
    return ((f"{_window(job)}.start", f"{day.opens:%Y-%m-%d} {item.values.get('opens', '')}"),)


def _later_end(item: WhatIf, job: Job, day: DayResult) -> Changed:
    if item.finish is None:
        return ()
    end: Changed = ((f"{_window(job)}.end", _at(item.finish)),)
    leaves = job.site.key_holder_leaves
    if leaves is None or leaves >= item.finish.replace(tzinfo=None):
        return end
    return (*end, ("site.key_holder_leaves", _at(item.finish)))


def _second_day(item: WhatIf, job: Job, day: DayResult) -> Changed:
    at = f"site.windows[{len(job.site.windows or ()) + 1}]"
    return ((f"{at}.kind", "@reserve"), (f"{at}.start", "@agreed"), (f"{at}.end", "@agreed"))


def _always(*facts: tuple[str, bool | float | str]) -> Callable[[WhatIf, Job, DayResult], Changed]:
    return lambda item, job, day: facts


_FACTS: Mapping[str, Callable[[WhatIf, Job, DayResult], Changed]] = {
    "epiphytes_at_bench": _always(("brief.epiphytes_at_bench", True)),
    "carpet_later": _always(("brief.carpet_later", True)),
    "planting_later": _always(("brief.may_be_left_out", "@planting")),
    "one_more_person": _person,
    "more_places": lambda item, job, day: (("tank.work_places", item.values.get("places", "")),),
    "earlier_start": _earlier,
    "later_end": _later_end,
    "filter_on_barrel": _always(("preparation.filter_on_barrel", True)),
    "board_shrimp": _always(("livestock.boarded", "@shrimp")),
    "boarding": _always(("livestock.boarded", "@each")),
    "reserve_day_boarded": _always(("livestock.boarded", "@each")),
    "part_rebuild": _always(("old.kept_share", float(KEPT))),
    "second_day": _second_day,
}
