"""Layouts that an office has open between two touches: what can be undone, and nothing that would be missed."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING

from slackwater.layout.scene import Layout

if TYPE_CHECKING:
    from slackwater.actions.layout_counts import Counted

MOST_JOBS = 8
"""Layouts that stay open in an office at a time."""


@dataclass
class OpenDraft:
    """A draft as this office has it: all steps, and at which it is."""

    revision: int
    based_on: int
    steps: list[Layout]
    at: int = 0
    lost: tuple[str, ...] = ()
    counted: Counted | None = None
    """Of one of the steps, the last that was asked for: the next is counted from there."""


@dataclass(frozen=True)
class Drafts:
    """Drafts that an office has open, each changed by one at a time."""

    _open: OrderedDict[str, OpenDraft] = field(default_factory=OrderedDict)
    _locks: dict[str, Lock] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    @contextmanager
    def of(self, job_id: str) -> Iterator[None]:
        """Nobody else changes the draft of this job meanwhile."""
        with self._lock:
            lock = self._locks.setdefault(job_id, Lock())
        with lock:
            yield

    def get(self, job_id: str, revision: int) -> OpenDraft | None:
        """The draft, if it is still of this revision."""
        with self._lock:
            found = self._open.get(job_id)
            if found is None or found.revision != revision:
                return None
            self._open.move_to_end(job_id)
            return found

    def put(self, job_id: str, found: OpenDraft) -> None:
        """Keep it, and let go of the one that was not asked for longest."""
        with self._lock:
            self._open[job_id] = found
            self._open.move_to_end(job_id)
            while len(self._open) > MOST_JOBS:
                self._open.popitem(last=False)
