"""Times of a log that cannot all be right: finished before it was begun, animals back before they were caught."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from uuid import UUID

from slackwater.job.event import Event, EventKind

CATCHING = frozenset({"E5", "E6"})
"""Activities of the table in which animals are caught."""
BACK = frozenset({"E27", "E28"})
"""Activities of the table in which they go back."""
TIMED = frozenset({EventKind.STARTED, EventKind.FINISHED})


class Why(StrEnum):
    """Why two times cannot both be right; its sentence is ``records.log.clash_<why>`` of the wording."""

    FINISH_FIRST = "finish_first"
    """Work was finished before it was begun."""
    BACK_FIRST = "back_first"
    """Animals went back before they were caught."""


@dataclass(frozen=True)
class Clash:
    """Two entries whose times cannot both be right; nobody can tell which is wrong.

    Attributes
    ----------
    why : Why
    earlier, later : Event
        As they were noted: what was noted for the earlier time ought to come after the other.
    """

    why: Why
    earlier: Event
    later: Event

    @property
    def ids(self) -> frozenset[UUID]:
        """Of both entries."""
        return frozenset({self.earlier.id, self.later.id})


def clashes(events: Sequence[Event]) -> tuple[Clash, ...]:
    """Entries that contradict each other.

    Parameters
    ----------
    events : sequence of Event
        What counts of a log, in any order.

    Returns
    -------
    tuple of Clash
        Work that was begun again after it was finished is none, nor work that nobody began on the log.
    """
    return (*_finished_first(events), *_back_first(events))


def _at(event: Event) -> datetime:
    return event.at.replace(tzinfo=None)


def _finished_first(events: Sequence[Event]) -> list[Clash]:
    found = []
    for subject in dict.fromkeys(event.subject for event in events if event.kind in TIMED):
        begun = [event for event in events if event.kind is EventKind.STARTED and event.subject == subject]
        over = [event for event in events if event.kind is EventKind.FINISHED and event.subject == subject]
        if not begun:
            continue
        first = min(begun, key=_at)
        found += [Clash(Why.FINISH_FIRST, event, first) for event in over if _at(event) < _at(first)]
    return found


def _back_first(events: Sequence[Event]) -> list[Clash]:
    begun = [event for event in events if event.kind is EventKind.STARTED and event.subject in CATCHING]
    seen = [
        event
        for event in events
        if event.kind is EventKind.COUNTED or (event.kind is EventKind.FINISHED and event.subject in CATCHING)
    ]
    # Without a beginning the first sign of the catch counts: a late pass still finds single animals.
    caught = max(begun, key=_at) if begun else min(seen, key=_at, default=None)
    if caught is None:
        return []
    return [
        Clash(Why.BACK_FIRST, event, caught)
        for event in events
        if event.kind in TIMED and event.subject in BACK and _at(event) < _at(caught)
    ]
