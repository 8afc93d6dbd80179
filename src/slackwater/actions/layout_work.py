"""Settling a layout and proposing others as long work: what the process is given, what it does, what is kept of it."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from slackwater.actions.settings import Settings
from slackwater.book import Book
from slackwater.book.tasks import TaskRow
from slackwater.work import Kind

SETTLE, PROPOSE = "layout settle", "layout propose"
PROPOSALS = 6
STEPS = 1500
"""Steps of settling, of 2 ms: three seconds in the tank."""
Intent = Literal["one_end", "both_ends", "island", "open_middle", "path"]


@dataclass(frozen=True)
class Moved:
    """What became of one piece while it came to rest."""

    number: int
    turn_deg: float
    shift_m: float
    accepted: bool


def layout_kind(settings: Settings, book: Book, run: Callable[[Mapping[str, Any], Callable[[str], None]], str]) -> Kind:
    """One of the two for this office, or for a worker: the layout is read from the book and from what was asked."""

    def given(task: TaskRow) -> Mapping[str, Any]:
        from slackwater.actions.job_scene import base_of
        from slackwater.layout.plain import from_plain

        asked = task.arguments
        base, _ = base_of(settings, book, task.job_id or "", asked["based_on"])
        layout, _ = from_plain(asked["body"], base)
        return {**asked, "layout": layout}

    return Kind(run=run, given=given, kept=lambda _, result: result)


def settle(given: Mapping[str, Any], report: Callable[[str], None]) -> str:
    """Let go of all pieces and see where they come to rest; done in a worker process.

    Returns
    -------
    str
        Places and bed, and what became of each piece, as JSON.
    """
    report("settling the pieces")
    from slackwater.layout.plain import to_plain
    from slackwater.layout.settle import settled

    found = settled(given["layout"], steps=STEPS)
    moved = [
        {"number": item.number, "turn_deg": item.turn_deg, "shift_m": item.shift_m, "accepted": item.accepted}
        for item in found.pieces
    ]
    return json.dumps({"body": to_plain(found.layout), "moved": moved})


def propose(given: Mapping[str, Any], report: Callable[[str], None]) -> str:
    """Arrange the pieces on hand in some ways; done in a worker process.

    Returns
    -------
    str
        Of each proposal its places, its score and its parts, as JSON.
    """
    report("arranging the pieces")
    raise NotImplementedError
