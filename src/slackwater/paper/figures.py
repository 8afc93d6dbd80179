"""The figures of a plan: the day as bars with clocks below, where the water goes, the bed in plan and section."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any
from xml.sax.saxutils import escape

from slackwater.day.result import DayResult, Entry
from slackwater.layout.result import BedResult
from slackwater.tank.result import TankShape
from slackwater.units import UnitSystem, show
from slackwater.water.result import WaterBudget

FONT = "DejaVu Sans"
Spec = Mapping[str, Any]


def svg_of(spec: Spec) -> str:
    """A Vega-Lite specification drawn as SVG."""
    import vl_convert

    svg = str(vl_convert.vegalite_to_svg(vl_spec=dict(spec), vl_version="6.4"))
    # The drawer numbers its clip paths on through the life of a process; here they start at 1 in each figure.
    numbers = {old: new for new, old in enumerate(dict.fromkeys(re.findall(r"clip(\d+)", svg)), start=1)}
    return re.sub(r"clip(\d+)", lambda match: f"clip{numbers[match[1]]}", svg)


def _config() -> dict[str, Any]:
    return {
        "font": FONT,
        "axis": {"labelFontSize": 12, "titleFontSize": 12, "labelLimit": 260, "grid": True, "gridColor": "#dddddd"},
        "view": {"stroke": None},
        "legend": {"disable": True},
    }


def gantt(day: DayResult) -> Spec:
    """The day by person, breaks hatched light, and clocks as bands with their limit; readable without colour."""
    bars, clocks = [], []
    for entry in day.entries:
        for person in entry.crew:
            bars.append(
                {
                    "row": person,
                    "start": f"{entry.start:%Y-%m-%dT%H:%M:%S}",
                    "end": f"{entry.end:%Y-%m-%dT%H:%M:%S}",
                    "label": _bar_label(entry),
                    "kind": "break" if entry.phase == "break" else "stop" if entry.hold_point else "work",
                }
            )
    for span in day.clocks:
        clocks.append(
            {
                "row": span.what,
                "start": f"{span.start:%Y-%m-%dT%H:%M:%S}",
                "end": f"{span.end:%Y-%m-%dT%H:%M:%S}",
                "latest": f"{span.latest:%Y-%m-%dT%H:%M:%S}",
                "label": f"{span.used_min} of {span.limit_min} min",
            }
        )
    time_axis = {"format": "%H:%M", "title": None, "tickCount": 12}
    x = {"field": "start", "type": "temporal", "axis": time_axis}
    closing = {
        "data": {"values": [{"t": f"{day.closes:%Y-%m-%dT%H:%M:%S}"}]},
        "mark": {"type": "rule", "strokeWidth": 2.5, "strokeDash": [6, 3]},
        "encoding": {"x": {"field": "t", "type": "temporal"}},
    }
    row = {"field": "row", "type": "nominal", "title": None, "sort": None}
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "config": _config(),
        "vconcat": [
            {
                "width": 900,
                "height": {"step": 44},
                "layer": [
                    {
                        "data": {"values": bars},
                        "mark": {"type": "bar", "stroke": "black", "strokeWidth": 0.8, "height": 34},
                        "encoding": {
                            "x": x,
                            "x2": {"field": "end"},
                            "y": row,
                            "color": {
                                "field": "kind",
                                "type": "nominal",
                                "scale": {
                                    "domain": ["work", "stop", "break"],
                                    "range": ["#ffffff", "#9a9a9a", "#ececec"],
                                },
                            },
                        },
                    },
                    {
                        "data": {"values": bars},
                        "mark": {"type": "text", "fontSize": 9, "align": "left", "dx": 2, "clip": True},
                        "encoding": {"x": x, "y": row, "text": {"field": "label"}},
                    },
                    closing,
                ],
            },
            {
                "width": 900,
                "height": {"step": 30},
                "layer": [
                    {
                        "data": {"values": clocks},
                        "mark": {"type": "bar", "color": "#bdbdbd", "height": 16},
                        "encoding": {"x": x, "x2": {"field": "end"}, "y": row},
                    },
                    {
                        "data": {"values": clocks},
                        "mark": {
                            "type": "bar",
                            "color": "#ffffff",
                            "stroke": "black",
                            "strokeDash": [3, 2],
                            "height": 16,
                            "fillOpacity": 0,
                        },
                        "encoding": {"x": {"field": "end", "type": "temporal"}, "x2": {"field": "latest"}, "y": row},
                    },
                    {
                        "data": {"values": clocks},
                        "mark": {"type": "text", "fontSize": 10, "align": "left", "dx": 3},
                        "encoding": {"x": x, "y": row, "text": {"field": "label"}},
                    },
                    closing,
                ],
            },
        ],
        "resolve": {"scale": {"x": "shared"}},
    }


NARROWEST_LABELLED_MIN = 13
"""A shorter bar has no room for a letter and two digits."""


def _bar_label(entry: Entry) -> str:
    if entry.end_min - entry.start_min < NARROWEST_LABELLED_MIN:
        return ""
    return "break" if entry.phase == "break" else entry.activity


def bed_plan(bed: BedResult, shape: TankShape) -> Spec:
    """The bed from above: depth in centimetres on each patch, darker where deeper."""
    step_x, step_y = 4, 3
    cells = [
        {
            "x0": bed.x_m[i] * 100,
            "x1": bed.x_m[min(i + step_x, len(bed.x_m) - 1)] * 100,
            "y0": bed.y_m[j] * 100,
            "y1": bed.y_m[min(j + step_y, len(bed.y_m) - 1)] * 100,
            "depth": round(
                100 * bed.depth_m[min(j + step_y // 2, len(bed.y_m) - 1)][min(i + step_x // 2, len(bed.x_m) - 1)], 1
            ),
        }
        for i in range(0, len(bed.x_m) - 1, step_x)
        for j in range(0, len(bed.y_m) - 1, step_y)
    ]
    width = 640.0
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "config": _config(),
        "width": width,
        "height": max(160.0, min(640.0, width * shape.width_m / shape.length_m)),
        "data": {"values": cells},
        "layer": [
            {
                "mark": {"type": "rect", "stroke": "white"},
                "encoding": {
                    "x": {
                        "field": "x0",
                        "type": "quantitative",
                        "title": "left to right, cm",
                        "scale": {"nice": False},
                    },
                    "x2": {"field": "x1"},
                    "y": {
                        "field": "y0",
                        "type": "quantitative",
                        "title": "front to rear, cm",
                        "scale": {"nice": False},
                    },
                    "y2": {"field": "y1"},
                    "color": {"field": "depth", "type": "quantitative", "scale": {"range": ["#f4f4f4", "#8a8a8a"]}},
                },
            },
            {
                "transform": [
                    {"calculate": "(datum.x0 + datum.x1) / 2", "as": "xm"},
                    {"calculate": "(datum.y0 + datum.y1) / 2", "as": "ym"},
                ],
                "mark": {"type": "text", "fontSize": 11},
                "encoding": {
                    "x": {"field": "xm", "type": "quantitative"},
                    "y": {"field": "ym", "type": "quantitative"},
                    "text": {"field": "depth", "type": "quantitative", "format": ".0f"},
                },
            },
        ],
    }


def bed_section(bed: BedResult, shape: TankShape) -> Spec:
    """The bed cut front to rear and left to right through the middle, with base layer and water line."""

    def cut(title: str, along: tuple[float, ...], top: list[float], base: list[float]) -> Spec:
        points = [{"at": 100 * a, "soil": 100 * t, "base": 100 * b} for a, t, b in zip(along, top, base, strict=True)]
        x = {"field": "at", "type": "quantitative", "title": title, "scale": {"nice": False}}
        scale = {"domain": [0, round(100 * shape.height_m, 1)], "nice": False}
        return {
            "width": 300,
            "height": 200,
            "data": {"values": points},
            "layer": [
                {
                    "mark": {"type": "area", "color": "#a8a8a8", "line": {"color": "black"}},
                    "encoding": {
                        "x": x,
                        "y": {"field": "soil", "type": "quantitative", "title": "height, cm", "scale": scale},
                    },
                },
                {
                    "mark": {"type": "area", "color": "#dcdcdc", "line": {"color": "black", "strokeDash": [3, 2]}},
                    "encoding": {"x": x, "y": {"field": "base", "type": "quantitative", "scale": scale}},
                },
                {
                    "mark": {"type": "rule", "strokeDash": [8, 3]},
                    "encoding": {"y": {"datum": round(100 * shape.water_line_m, 1)}},
                },
            ],
        }

    middle_x, middle_y = len(bed.x_m) // 2, len(bed.y_m) // 2
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "config": _config(),
        "hconcat": [
            cut(
                "front to rear through the middle, cm",
                bed.y_m,
                [row[middle_x] for row in bed.depth_m],
                [row[middle_x] for row in bed.base_depth_m],
            ),
            cut(
                "left to right through the middle, cm",
                bed.x_m,
                list(bed.depth_m[middle_y]),
                list(bed.base_depth_m[middle_y]),
            ),
        ],
    }


def water_flow_svg(water: WaterBudget, units: UnitSystem) -> str:
    """Where each litre comes from and goes to, as bands as wide as they are many litres.

    Drawn by hand as SVG: the chart grammar has no flow diagram.
    """
    full = 340.0
    old_total = water.old_kept_l + water.discarded_l
    scale = full / max(old_total, water.net_l, 1.0)

    def litres(value: float) -> str:
        return show(value, "L", units)

    parts: list[str] = []

    def box(x: float, y: float, height: float, text: str, anchor: str) -> None:
        parts.append(f'<rect x="{x:.1f}" y="{y:.1f}" width="14" height="{max(height, 1):.1f}" fill="black"/>')
        at = x - 8 if anchor == "end" else x + 22
        parts.append(
            f'<text x="{at:.1f}" y="{y + max(height, 1) / 2 + 5:.1f}" text-anchor="{anchor}" font-size="15">{escape(text)}</text>'
        )

    def band(x0: float, y0: float, x1: float, y1: float, height: float, shade: str) -> None:
        if height <= 0:
            return
        mid = (x0 + x1) / 2
        parts.append(
            f'<path d="M{x0:.1f},{y0:.1f} C{mid:.1f},{y0:.1f} {mid:.1f},{y1:.1f} {x1:.1f},{y1:.1f} '
            f'L{x1:.1f},{y1 + height:.1f} C{mid:.1f},{y1 + height:.1f} {mid:.1f},{y0 + height:.1f} {x0:.1f},{y0 + height:.1f} Z" '
            f'fill="{shade}" stroke="black" stroke-width="0.6"/>'
        )

    sources = [
        ("old water", old_total, "#d9d9d9"),
        ("permeate", water.ro_l, "#f5f5f5"),
        ("tap", water.tap_l, "#b0b0b0"),
    ]
    uses = [
        ("boxes", water.box_water_l),
        ("refresh of boxes", water.refresh_l),
        ("the new tank", water.net_l),
        ("drain", water.discarded_l),
    ]
    gap, left, right, top = 26.0, 210.0, 640.0, 26.0
    place: dict[str, float] = {}
    y = top
    for name, value, _ in sources:
        place[name] = y
        if value > 0.05:
            box(left - 14, y, value * scale, f"{name} {litres(value)}", "end")
            y += value * scale + gap
    bottom = y
    y = top
    for name, value in uses:
        place[f"to {name}"] = y
        if value > 0.05:
            box(right, y, value * scale, f"{name} {litres(value)}", "start")
            y += value * scale + gap
    bottom = max(bottom, y)
    flows = [
        ("old water", "boxes", water.box_water_l),
        ("old water", "refresh of boxes", water.refresh_l),
        ("old water", "the new tank", water.old_refill_l),
        ("old water", "drain", water.discarded_l),
        ("permeate", "the new tank", water.ro_l),
        ("tap", "the new tank", water.tap_l),
    ]
    shades = {name: shade for name, _, shade in sources}
    for source, use, value in flows:
        band(left, place[source], right, place[f"to {use}"], value * scale, shades[source])
        place[source] += value * scale
        place[f"to {use}"] += value * scale
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 880 {bottom + 10:.0f}" width="880" height="{bottom + 10:.0f}" '
        f'font-family="{FONT}"><title>Where the water comes from and goes to</title>{"".join(parts)}</svg>\n'
    )
