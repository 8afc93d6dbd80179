"""The order of planting: a bucket for each zone, wood and stone first, back before front, what floats last."""

from __future__ import annotations

from collections.abc import Sequence

from slackwater.planting.result import Bucket, Placed, Zone


def buckets_of(zones: Sequence[Zone], placed: Sequence[Placed]) -> tuple[Bucket, ...]:
    """What is carried to the tank for each zone that is planted, in the order of their numbers; the most portions first.

    Parameters
    ----------
    zones : sequence of Zone
        Numbered in the order of planting.
    placed : sequence of Placed
    """
    found = []
    for zone in sorted(zones, key=lambda zone: zone.number):
        contents = sorted(
            (item for item in placed if item.zone == zone.number), key=lambda item: (-item.portions, item.plant)
        )
        if contents:
            found.append(
                Bucket(zone=zone.number, contents=tuple(contents), portions=sum(item.portions for item in contents))
            )
    return tuple(found)
