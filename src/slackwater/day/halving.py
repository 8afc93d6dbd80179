"""When half of a box's water has to be changed, at the latest, for what builds up in it to stay within its limit."""

from __future__ import annotations

from collections.abc import Sequence

MOST_CHANGES = 12
"""More than so many in one wait is no way of keeping animals; common practice, no source."""


def latest_half_changes(limit: float, *, until: float, done: Sequence[float] = ()) -> tuple[float, ...]:
    """The latest times at which half of the water must be changed, counted from the first animal in.

    What builds up evenly is at its limit after `limit`; a change of half takes half of it away. Exact for a steady
    rise, on the careful side for one that slows down.

    Parameters
    ----------
    limit : float
        How long the box holds without any change; times are in its unit.
    until : float
        When the last animal leaves.
    done : sequence of float
        Changes that are made anyhow, in order of time.

    Returns
    -------
    tuple of float
        After the last one that is made anyhow; at most `MOST_CHANGES`.
    """
    load, at = 0.0, 0.0
    for change in done:
        load, at = (load + change - at) / 2, change
    found: list[float] = []
    while limit > 0 and at + (limit - load) < until and len(found) < MOST_CHANGES:
        at = max(at, at + (limit - load))
        load = limit / 2
        found.append(at)
    return tuple(found)
