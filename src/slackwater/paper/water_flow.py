"""The flow picture: every litre from its source through its barrel to where it is used, as bands of its width.

Drawn by hand as SVG: the chart grammar has no flow diagram.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from xml.sax.saxutils import escape

from slackwater.paper.figures import FONT
from slackwater.units import UnitSystem, show
from slackwater.water.result import WaterBudget

HEIGHT, GAP, TOP = 330.0, 24.0, 34.0
LEFT, MIDDLE, RIGHT, WIDTH = 190.0, 500.0, 790.0, 980.0
BAR = 14.0
SHADES = ("#d9d9d9", "#f5f5f5", "#b0b0b0", "#c8c8c8", "#e8e8e8")
LEAST_SHOWN_L = 0.05


@dataclass(frozen=True)
class Flow:
    """Litres from one node to another, with the shade of their source."""

    source: str
    target: str
    litres: float
    shade: str


def barrel_names(water: WaterBudget) -> Mapping[int, str]:
    """A name for each barrel, by its place in the budget: new 1, new 2, old 1 …"""
    counts: dict[str, int] = {}
    names: dict[int, str] = {}
    for place, fill in enumerate(water.barrels):
        counts[fill.holds] = counts.get(fill.holds, 0) + 1
        names[place] = f"{fill.holds}-water barrel {counts[fill.holds]}"
    return names


def flows_of(water: WaterBudget) -> tuple[tuple[Flow, ...], tuple[Flow, ...]]:
    """Flows from sources to what holds the water, and from there to its use; litres in equal litres out."""
    shade = dict(zip(("old water", "permeate", "tap"), SHADES, strict=False))
    made = [("permeate", water.ro_l), ("tap", water.tap_l), *water.other_l]
    for number, (name, _) in enumerate(water.other_l):
        shade[name] = SHADES[3 + number % 2]
    names = barrel_names(water)
    first = [
        Flow("old water", "boxes", water.box_water_l, shade["old water"]),
    ]
    second: list[Flow] = [Flow("boxes", "animals wait", water.box_water_l, shade["old water"])]
    old_needed = water.old_refill_l + water.refresh_l + water.filter_l
    # Old water first and the drain after it, so that no band crosses without need.
    for holds, needed in (("old", old_needed), ("new", water.new_l)):
        left = needed
        for place, fill in enumerate(water.barrels):
            if fill.holds == holds:
                amount = min(fill.litres, left)
                left -= amount
                _through(first, second, names[place], holds, amount, water, made, shade)
        if left > LEAST_SHOWN_L:
            _through(first, second, "no barrel yet", holds, left, water, made, shade)
        if holds == "old":
            first.append(Flow("old water", "drain", water.discarded_l, shade["old water"]))
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
) -> None:
    """One barrel's share of what flows in and out."""
    if holds == "old":
        uses = (
            ("refresh of boxes", water.refresh_l),
            ("the new tank", water.old_refill_l),
            ("the filter runs on it", water.filter_l),
        )
        needed = sum(litres for _, litres in uses)
        first.append(Flow("old water", barrel, amount, shade["old water"]))
        for use, litres in uses:
            if needed > 0:
                second.append(Flow(barrel, use, amount * litres / needed, shade["old water"]))
        return
    for name, litres in made:
        if water.new_l > 0:
            first.append(Flow(name, barrel, amount * litres / water.new_l, shade[name]))
            second.append(Flow(barrel, "the new tank", amount * litres / water.new_l, shade[name]))


def _shown(flows: list[Flow]) -> tuple[Flow, ...]:
    return tuple(flow for flow in flows if flow.litres > LEAST_SHOWN_L)


def water_flow_svg(water: WaterBudget, units: UnitSystem) -> str:
    """The picture, readable without colour."""
    first, second = flows_of(water)
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
            parts.append(_label(name, show(sums[name], "L", units), x, y, height, anchor))
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
        f'height="{bottom:.0f}" font-family="{FONT}"><title>Where the water comes from and goes to</title>'
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
