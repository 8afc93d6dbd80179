"""The hour list: the work of a day in the order of the clock, who does it, and which clocks start and stop with it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from typing import Any

from slackwater.day.result import ClockSpan, DayResult, Entry
from slackwater.day.when import clock_time
from slackwater.reader import Reader, Typed
from slackwater.wording.render import named, say, sentence_list

_CLAUSE_ENDS = re.compile(r"[,;:]")


def clause(label: str) -> str:
    """The first clause of a label of work: enough to know it by.

    Examples
    --------
    >>> clause("level check, pads, base layer in bags")
    'level check'
    """
    return _CLAUSE_ENDS.split(label)[0]


def piece_names(clocks: Sequence[ClockSpan], reader: Reader) -> tuple[str, ...]:
    """What each clock is called, of clocks in the order in which they start."""
    return numbered([named(span.what, reader) for span in clocks], reader)


def numbered(names: Sequence[str], reader: Reader) -> tuple[str, ...]:
    """Names of clocks, those that come more than once numbered in their order."""
    ordinals = sentence_list("hour_list.ordinals", reader)
    told = []
    for place, what in enumerate(names):
        number = names[:place].count(what)
        several = names.count(what) > 1 and number < len(ordinals)
        told.append(say("hour_list.piece", {"what": what, "nth": ordinals[number]}, reader) if several else what)
    return tuple(told)


def hour_rows(
    entries: Sequence[Entry], clocks: Sequence[ClockSpan], first: date, reader: Reader
) -> list[dict[str, Any]]:
    """Rows of the hour list, each with what starts and stops at it.

    Parameters
    ----------
    entries : sequence of Entry
        Work and breaks of one day, in any order.
    clocks : sequence of ClockSpan
        What runs on that day; none where its clocks are not reckoned.
    first : date
        Times of another date carry their day.
    """
    starts: dict[str, list[str]] = {}
    stops: dict[str, list[str]] = {}
    for span, name in zip(clocks, piece_names(clocks, reader), strict=True):
        opener, closer = (event.partition(".")[0] for event in (span.starts_with, span.ends_with))
        # What opens and closes within one piece of work, such as spraying, is told on its card.
        if opener == closer:
            continue
        latest = clock_time(span.latest, first)
        starts.setdefault(opener, []).append(say("hour_list.starts", {"what": name, "latest": latest}, reader))
        id_ = "hour_list.stops_late" if span.excess_min else "hour_list.stops"
        stops.setdefault(closer, []).append(say(id_, {"what": name, "min": span.excess_min}, reader))
    return [
        {
            "time": f"{clock_time(entry.start, first)} - {clock_time(entry.end, first)}",
            "what": named(entry.label, reader),
            "id": "" if entry.phase == "break" else entry.activity,
            "who": Typed(", ".join(entry.crew)),
            "stop": entry.hold_point,
            "clocks": [*stops.get(entry.activity, ()), *starts.get(entry.activity, ())],
        }
        for entry in sorted(entries, key=lambda entry: (entry.start, entry.end, entry.activity))
    ]


def hour_list(day: DayResult, reader: Reader) -> dict[str, Any]:
    """What the page with the hours of the whole day reads."""
    return {
        "title": say("hour_list.title", {}, reader),
        "lead": say("hour_list.lead", {}, reader),
        "rows": hour_rows(day.entries, day.clocks, day.opens.date(), reader),
    }


def piece_told(span: ClockSpan, name: str, day: DayResult, reader: Reader) -> dict[str, str]:
    """When one piece of a clock runs, what starts it and what stops it."""
    first = day.opens.date()
    labels = {entry.activity: named(entry.label, reader) for entry in day.entries}

    def by(event: str) -> str:
        activity, _, side = event.partition(".")
        work = clause(labels.get(activity, activity))
        return say(f"hour_list.at_{side}", {"id": activity, "work": work}, reader)

    return {
        "what": name,
        "from": clock_time(span.start, first),
        "to": clock_time(span.end, first),
        "runs": f"{clock_time(span.start, first)} - {clock_time(span.end, first)}",
        "opener": by(span.starts_with),
        "closer": by(span.ends_with),
    }
