"""Two pictures of the day: places and tools over the hours with clocks below, and the work that decides its end."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from xml.sax.saxutils import escape

from slackwater.day.activities import MOUTH
from slackwater.day.result import DayResult
from slackwater.paper.figures import (
    DAY_PX,
    FONT,
    Spec,
    bars_of,
    clock_panel,
    closing_rule,
    config,
    fitted,
    px_a_minute,
    row_of,
    time_axis,
)
from slackwater.paper.hour_list import clause
from slackwater.reader import Reader, Typed
from slackwater.wording.render import named, say

BOX_WIDTH, BOX_HEIGHT, LANE_GAP, ROW_GAP = 270.0, 23.0, 26.0, 15.0
LETTER_PX = 7.3
"""How wide a letter of the boxes is, on the average."""
MARGIN = 8.0
MOST_UNITS = 12
"""More than so many units are an amount, not places to be told apart."""


@dataclass(frozen=True)
class Use:
    """One place or tool in use: which unit of it, from when to when, by what."""

    unit: str
    start: datetime
    end: datetime
    by: str
    stop: bool


def place_name(place: str, number: int, of: int, reader: Reader) -> str:
    """What a unit of a place is called: numbered only where there are several."""
    if place == MOUTH:
        return say("place_name.at_tank" if of == 1 else "place_name.at_tank_numbered", {"number": number}, reader)
    name = place_told(place, reader)
    return name if of == 1 else f"{name} {number}"


def place_told(place: str, reader: Reader) -> str:
    """A place in words; circuits, floors and zones have their kind before the name that people gave them."""
    kind, _, own = place.partition(" ")
    if kind == "circuit" and own:
        return say("place_name.circuit", {"name": Typed(own)}, reader)
    return named(place.removeprefix("zone "), reader)


UNITS_OF: Mapping[str, str] = {"circuit ": "W", "floor ": "kg"}
"""What is measured, by how its name begins; anything else is counted."""


def amount_told(place: str, amount: int) -> str:
    """So much of a place, with its unit where it is measured.

    Examples
    --------
    >>> amount_told("circuit lobby", 420), amount_told("barrels", 2)
    ('420 W', '2')
    """
    unit = next((unit for begins, unit in UNITS_OF.items() if place.startswith(begins)), "")
    return f"{amount} {unit}".strip()


def uses_of(day: DayResult, reader: Reader) -> tuple[Use, ...]:
    """Who uses which unit of each place when; units are given out first come, first served, the lowest free one.

    What is measured and not counted, such as watts, has a row for each use that stands beside others, with its amount.

    Returns
    -------
    tuple of Use
        By place, then unit, then time. A place that nothing uses is left out.
    """
    found: list[Use] = []
    for place, capacity in day.places.items():
        counted = capacity <= MOST_UNITS
        free_from: list[int] = [0] * (capacity if counted else 0)
        mine: dict[int, list[Use]] = {}
        for entry in sorted(day.entries, key=lambda item: (item.start_min, item.end_min)):
            amount = entry.places.get(place, 0)
            if not amount:
                continue
            units = [unit for unit, free in enumerate(free_from) if free <= entry.start_min]
            if not counted and not units:
                units = [len(free_from)]
                free_from.append(0)
            for unit in units[: amount if counted else 1]:
                free_from[unit] = entry.end_min
                name = (
                    place_name(place, unit + 1, capacity, reader)
                    if counted
                    else f"{place_told(place, reader)} ({unit + 1})"
                )
                work = clause(named(entry.label, reader))
                by = (
                    work
                    if counted
                    else say("sheet.colon", {"name": Typed(work), "text": amount_told(place, amount)}, reader)
                )
                mine.setdefault(unit, []).append(Use(name, entry.start, entry.end, by, entry.hold_point))
        found += [use for unit in sorted(mine) for use in mine[unit]]
    found += [
        Use(
            say("sheet.colon", {"name": Typed(place_told(held.resource, reader)), "text": held.id}, reader),
            held.start,
            held.end,
            amount_told(held.resource, held.amount),
            stop=False,
        )
        for held in day.held
        # Which barrel or box is full when stands on its card; as rows here they would crowd out the places.
        if not held.resource.startswith("container ")
    ]
    return tuple(found)


def places_chart(day: DayResult, reader: Reader) -> Spec:
    """Places, tools and what is held as bars, clocks as bands with what is left of them; readable without colour."""
    px_a_min = px_a_minute(day)
    bars = [
        {
            "row": use.unit,
            "start": f"{use.start:%Y-%m-%dT%H:%M:%S}",
            "end": f"{use.end:%Y-%m-%dT%H:%M:%S}",
            "label": fitted(
                use.by, room_px=px_a_min * (use.end - use.start).total_seconds() / 60 - 3, letter_px=5.6, lines=1
            ),
            "kind": "stop" if use.stop else "work",
        }
        for use in uses_of(day, reader)
    ]
    x, row = time_axis(), row_of()
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "config": config(reader),
        "vconcat": [
            {
                "width": DAY_PX,
                "height": {"step": 27},
                "layer": [
                    bars_of(bars, height=20, kinds=("work", "stop")),
                    {
                        "data": {"values": bars},
                        "mark": {"type": "text", "fontSize": 11, "align": "left", "dx": 2, "clip": True},
                        "encoding": {"x": x, "y": row, "text": {"field": "label"}},
                    },
                    closing_rule(day),
                ],
            },
            clock_panel(day, reader, label=lambda used, limit: _left(used, limit, reader)),
        ],
        "resolve": {"scale": {"x": "shared"}},
    }


def _left(used_min: int, limit_min: int, reader: Reader) -> str:
    left = limit_min - used_min
    return say("sheet.day.left" if left >= 0 else "sheet.day.over", {"min": abs(left)}, reader)


@dataclass(frozen=True)
class Node:
    """Where a box stands: row from the top, column from the left."""

    depth: int
    lane: int


def grid_of(names: list[str], waits: tuple[tuple[str, str], ...]) -> Mapping[str, Node]:
    """Rows by the longest chain before a node; columns so that an arrow passing a row has its column to itself.

    Parameters
    ----------
    names : list of str
        In an order in which each comes after all that it waits for.
    waits : tuple of (str, str)
        What comes before, and what waits for it.
    """
    depth: dict[str, int] = {}
    for name in names:
        depth[name] = 1 + max((depth[a] for a, b in waits if b == name and a in depth), default=-1)
    taken: set[tuple[int, int]] = set()
    nodes: dict[str, Node] = {}
    for name in sorted(names, key=lambda item: (depth[item], names.index(item))):
        reach = max((depth[b] for a, b in waits if a == name), default=depth[name] + 1)
        rows = range(depth[name], max(reach, depth[name] + 1))
        lane = 0
        while any((row, lane) in taken for row in rows):
            lane += 1
        taken |= {(row, lane) for row in rows}
        nodes[name] = Node(depth[name], lane)
    return nodes


def critical_svg(day: DayResult, reader: Reader) -> str:
    """The work that decides the end of the day, from top to bottom; each box is filled as far as its share."""
    share = {item.activity: item.share for item in day.risk.critical}
    names_in = {name for pair in day.risk.waits for name in pair}
    entries = [entry for entry in day.entries if entry.activity in names_in]
    nodes = grid_of([entry.activity for entry in entries], day.risk.waits)
    lanes = 1 + max((node.lane for node in nodes.values()), default=0)
    rows = 1 + max((node.depth for node in nodes.values()), default=0)
    width = 2 * MARGIN + lanes * BOX_WIDTH + (lanes - 1) * LANE_GAP
    height = 2 * MARGIN + rows * BOX_HEIGHT + (rows - 1) * ROW_GAP

    def at(node: Node) -> tuple[float, float]:
        return MARGIN + node.lane * (BOX_WIDTH + LANE_GAP), MARGIN + node.depth * (BOX_HEIGHT + ROW_GAP)

    parts = []
    for before, after in day.risk.waits:
        x0, y0 = at(nodes[before])
        x1, y1 = at(nodes[after])
        xa, xb = x0 + BOX_WIDTH / 2, x1 + BOX_WIDTH / 2
        points = f"{xa:.1f},{y0 + BOX_HEIGHT:.1f} {xa:.1f},{y1 - ROW_GAP + 1:.1f} {xb:.1f},{y1 - 1:.1f}"
        parts.append(
            f'<polyline points="{points}" fill="none" stroke="black" stroke-width="1.3" marker-end="url(#tip)"/>'
        )
    for entry in entries:
        x, y = at(nodes[entry.activity])
        part = share[entry.activity]
        share_of = f"  {100 * part:.0f} %"
        room_px = BOX_WIDTH - 12 - LETTER_PX * len(share_of)
        (work,) = fitted(clause(named(entry.label, reader)), room_px=room_px, letter_px=LETTER_PX, lines=1)
        text = escape(f"{work}{share_of}")
        parts.append(
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{BOX_WIDTH:g}" height="{BOX_HEIGHT:g}" fill="white"/>'
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{BOX_WIDTH * part:.1f}" height="{BOX_HEIGHT:g}" fill="#d4d4d4"/>'
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{BOX_WIDTH:g}" height="{BOX_HEIGHT:g}" fill="none" stroke="black" '
            f'stroke-width="{2.4 if entry.hold_point else 0.9:g}"/>'
            f'<text x="{x + BOX_WIDTH / 2:.1f}" y="{y + 16:.1f}" text-anchor="middle" font-size="13">{text}</text>'
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" width="{width:.0f}" '
        f'height="{height:.0f}" font-family="{FONT}"><title>{escape(say("sheet.critical.drawing", {}, reader))}</title>'
        '<defs><marker id="tip" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="6" markerHeight="6" orient="auto">'
        f'<path d="M0,0 L8,4 L0,8 Z"/></marker></defs>{"".join(parts)}</svg>\n'
    )
