"""The flow picture: every litre from its source through its barrel to where it is used, as bands of its width.

Drawn by hand as SVG: the chart grammar has no flow diagram.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from xml.sax.saxutils import escape

from slackwater.paper.figures import FONT
from slackwater.reader import Reader, localised
from slackwater.units import show
from slackwater.water.result import WaterBudget
from slackwater.wording.render import named, say

HEIGHT, GAP, TOP = 330.0, 24.0, 34.0
LEFT, MIDDLE, RIGHT, WIDTH = 190.0, 500.0, 790.0, 980.0
BAR = 14.0
SHADES = ("#d9d9d9", "#f5f5f5", "#b0b0b0", "#c8c8c8", "#e8e8e8")
LEAST_SHOWN_L = 0.05
NODES = ("old", "permeate", "tap", "boxes", "wait", "drain", "no_barrel", "refresh", "tank", "filter")
"""What water comes from, stands in and is used for, by the ends of the ids of their names."""


@dataclass(frozen=True)
class Flow:
    """Litres from one node to another, with the shade of their source."""

    source: str
    target: str
    litres: float
    shade: str


def barrel_names(water: WaterBudget, reader: Reader) -> Mapping[int, str]:
    """A name for each barrel, by its place in the budget: new 1, new 2, old 1 …"""
    counts: dict[str, int] = {}
    names: dict[int, str] = {}
    for place, fill in enumerate(water.barrels):
        counts[fill.holds] = counts.get(fill.holds, 0) + 1
        names[place] = say(f"sheet.barrel.{fill.holds}", {"number": counts[fill.holds]}, reader)
    return names


def flows_of(water: WaterBudget, reader: Reader) -> tuple[tuple[Flow, ...], tuple[Flow, ...]]:
    """Flows from sources to what holds the water, and from there to its use; litres in equal litres out."""
    told = {name: say(f"sheet.flow.{name}", {}, reader) for name in NODES}
    old, boxes = told["old"], told["boxes"]
    shade = dict(zip((old, told["permeate"], told["tap"]), SHADES, strict=False))
    other = [(named(name, reader), litres) for name, litres in water.other_l]
    made = [(told["permeate"], water.ro_l), (told["tap"], water.tap_l), *other]
    for number, (name, _) in enumerate(other):
        shade[name] = SHADES[3 + number % 2]
    names = barrel_names(water, reader)
    first = [Flow(old, boxes, water.box_water_l, shade[old])]
    second: list[Flow] = [Flow(boxes, told["wait"], water.box_water_l, shade[old])]
    old_needed = water.old_refill_l + water.refresh_l + water.filter_l
    # Old water first and the drain after it, so that no band crosses without need.
    for holds, needed in (("old", old_needed), ("new", water.new_l)):
        left = needed
        for place, fill in enumerate(water.barrels):
            if fill.holds == holds:
                amount = min(fill.litres, left)
                left -= amount
                _through(first, second, names[place], holds, amount, water, made, shade, told)
        if left > LEAST_SHOWN_L:
            _through(first, second, told["no_barrel"], holds, left, water, made, shade, told)
        if holds == "old":
            first.append(Flow(old, told["drain"], water.discarded_l, shade[old]))
    return _shown(first), _shown(second)


def _through(
    first: list[Flow],
    second: list[Flow],
    barrel: str,
    holds: str,
    amount: float,
    water: WaterBudget,
    made: list[tuple[str, float]],
    shade: Mapping[str, str],
    told: Mapping[str, str],
) -> None:
    """One barrel's share of what flows in and out."""
    old = told["old"]
    if holds == "old":
        uses = (
            (told["refresh"], water.refresh_l),
            (told["tank"], water.old_refill_l),
            (told["filter"], water.filter_l),
        )
        needed = sum(litres for _, litres in uses)
        first.append(Flow(old, barrel, amount, shade[old]))
        for use, litres in uses:
            if needed > 0:
                second.append(Flow(barrel, use, amount * litres / needed, shade[old]))
        return
    for name, litres in made:
        if water.new_l > 0:
            first.append(Flow(name, barrel, amount * litres / water.new_l, shade[name]))
            second.append(Flow(barrel, told["tank"], amount * litres / water.new_l, shade[name]))


def _shown(flows: list[Flow]) -> tuple[Flow, ...]:
    return tuple(flow for flow in flows if flow.litres > LEAST_SHOWN_L)


def water_flow_svg(water: WaterBudget, reader: Reader) -> str:
    """The picture, readable without colour."""
    first, second = flows_of(water, reader)
    sums: dict[str, float] = {}
    for flow in first:
        sums[flow.source] = sums.get(flow.source, 0.0) + flow.litres
        sums[flow.target] = sums.get(flow.target, 0.0) + flow.litres
    for flow in second:
        sums[flow.target] = sums.get(flow.target, 0.0) + flow.litres
    columns = [
        list(dict.fromkeys(flow.source for flow in first)),
        list(dict.fromkeys(flow.target for flow in first)),
        list(dict.fromkeys(flow.target for flow in second)),
    ]
    most = max(sum(sums[name] for name in column) for column in columns)
    scale = HEIGHT / max(most, 1.0)
    parts: list[str] = []
    top: dict[str, float] = {}
    bottom = TOP
    for column, x, anchor in zip(columns, (LEFT, MIDDLE, RIGHT), ("end", "middle", "start"), strict=True):
        y = TOP
        for name in column:
            height = max(1.0, sums[name] * scale)
            top[name] = y
            parts.append(f'<rect x="{x:.1f}" y="{y:.1f}" width="{BAR:g}" height="{height:.1f}" fill="black"/>')
            parts.append(_label(name, localised(show(sums[name], "L", reader), reader), x, y, height, anchor))
            y += height + GAP
        bottom = max(bottom, y)
    bands = []
    leaves, arrives = dict(top), dict(top)
    for flows, x0, x1 in ((first, LEFT + BAR, MIDDLE), (second, MIDDLE + BAR, RIGHT)):
        for flow in flows:
            height = flow.litres * scale
            bands.append(_band(x0, leaves[flow.source], x1, arrives[flow.target], height, flow.shade))
            leaves[flow.source] += height
            arrives[flow.target] += height
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {bottom:.0f}" width="{WIDTH:g}" '
        f'height="{bottom:.0f}" font-family="{FONT}"><title>{escape(say("sheet.flow.title", {}, reader))}</title>'
        f"{''.join(bands)}{''.join(parts)}</svg>\n"
    )


def _label(name: str, litres: str, x: float, y: float, height: float, anchor: str) -> str:
    text = escape(f"{name} {litres}")
    if anchor == "middle":
        return (
            f'<text x="{x + BAR / 2:.1f}" y="{y - 6:.1f}" text-anchor="middle" font-size="15" '
            f'stroke="white" stroke-width="4" paint-order="stroke">{text}</text>'
        )
    at = x - 8 if anchor == "end" else x + BAR + 8
    first, second = escape(name), escape(litres)
    middle = y + height / 2
    return (
        f'<text x="{at:.1f}" y="{middle - 2:.1f}" text-anchor="{anchor}" font-size="15">{first}</text>'
        f'<text x="{at:.1f}" y="{middle + 15:.1f}" text-anchor="{anchor}" font-size="15">{second}</text>'
    )


def _band(x0: float, y0: float, x1: float, y1: float, height: float, shade: str) -> str:
    mid = (x0 + x1) / 2
    return (
        f'<path d="M{x0:.1f},{y0:.1f} C{mid:.1f},{y0:.1f} {mid:.1f},{y1:.1f} {x1:.1f},{y1:.1f} '
        f"L{x1:.1f},{y1 + height:.1f} C{mid:.1f},{y1 + height:.1f} {mid:.1f},{y0 + height:.1f} "
        f'{x0:.1f},{y0 + height:.1f} Z" fill="{shade}" stroke="black" stroke-width="0.6"/>'
    )
