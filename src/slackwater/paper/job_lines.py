"""The lines that put a repair of the day into the job file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime

from slackwater.day.repairs import HELPER_SPEED, PAIRS
from slackwater.day.result import DayResult, WhatIf
from slackwater.job.model import Job
from slackwater.job.variants import KEPT

Lines = tuple[str, ...]


def job_lines(item: WhatIf, job: Job, day: DayResult) -> Lines:
    """What to write into the job file so that the next plan has a repair in it.

    A line that begins with # says where the next one goes; where a key is there already, its value is replaced.

    Returns
    -------
    tuple of str
        In the form of the job file; empty where it has no key for the repair.
    """
    found: list[str] = []
    for name in PAIRS.get(item.id, (item.id,)):
        if name in _LINES:
            found += _LINES[name](item, job, day)
    return tuple(found)


def _at(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M}"


def _person(item: WhatIf, job: Job, day: DayResult) -> Lines:
    name = str(item.values.get("person", ""))
    if any(person.id == name for person in job.people or ()):
        return (f'# [[people]], id = "{name}"', "on_call = false")
    return ("[[people]]", 'id = "second helper"', f"speed = {HELPER_SPEED}", "hourly_rate = 0  # theirs")


def _earlier(item: WhatIf, job: Job, day: DayResult) -> Lines:
    opens = f"{day.opens:%Y-%m-%d} {item.values.get('opens', '')}"
    return ('# [[site.windows]], kind = "day"', f'start = "{opens}"')


def _later_end(item: WhatIf, job: Job, day: DayResult) -> Lines:
    lines = [] if item.finish is None else ['# [[site.windows]], kind = "day"', f'end = "{_at(item.finish)}"']
    leaves = job.site.key_holder_leaves
    if item.finish is not None and leaves is not None and leaves < item.finish.replace(tzinfo=None):
        lines += ["# [site]", f'key_holder_leaves = "{_at(item.finish)}"']
    return tuple(lines)


def _boarded(item: WhatIf, job: Job, day: DayResult) -> Lines:
    names = ", ".join(animals.species for animals in job.livestock or () if animals.keep and not animals.boarded)
    return (f"# each [[livestock]] that leaves ({names})", "boarded = true")


def _always(*lines: str) -> Callable[[WhatIf, Job, DayResult], Lines]:
    return lambda item, job, day: lines


_LINES: Mapping[str, Callable[[WhatIf, Job, DayResult], Lines]] = {
    "epiphytes_at_bench": _always("# [brief]", "epiphytes_at_bench = true"),
    "carpet_later": _always("# [brief]", "carpet_later = true"),
    "planting_later": _always("# [brief]", 'may_be_left_out = { E22 = "0 min" }  # E22: planting in soil'),
    "one_more_person": _person,
    "more_places": lambda item, job, day: ("# [tank]", f"work_places = {item.values.get('places', '')}"),
    "earlier_start": _earlier,
    "later_end": _later_end,
    "filter_on_barrel": _always("# [preparation]", "filter_on_barrel = true"),
    "board_shrimp": _always("# each [[livestock]] of shrimp and snails", "boarded = true"),
    "boarding": _boarded,
    "reserve_day_boarded": _boarded,
    "part_rebuild": _always("# [old]", f"kept_share = {float(KEPT)}"),
    "second_day": _always(
        "[[site.windows]]", 'kind = "reserve"', 'start = ""  # the second day, as agreed', 'end = ""'
    ),
}
