"""The charts of a plan: the day as bars with clocks below, the making of the water, the bed in plan and section."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from slackwater.day.result import DayResult, Entry
from slackwater.layout.result import BedResult
from slackwater.paper.hour_list import clause
from slackwater.reader import Reader, number_signs
from slackwater.tank.result import TankShape
from slackwater.units import convert
from slackwater.water.result import MakingCourse
from slackwater.wording.render import named, say

FONT = "DejaVu Sans"
DAY_PX = 900
"""Width of the charts of the day."""
Spec = Mapping[str, Any]


def svg_of(spec: Spec) -> str:
    """A Vega-Lite specification drawn as SVG."""
    import vl_convert

    svg = str(vl_convert.vegalite_to_svg(vl_spec=dict(spec), vl_version="6.4"))
    # The drawer numbers its clip paths on through the life of a process; here they start at 1 in each figure.
    numbers = {old: new for new, old in enumerate(dict.fromkeys(re.findall(r"clip(\d+)", svg)), start=1)}
    return re.sub(r"clip(\d+)", lambda match: f"clip{numbers[match[1]]}", svg)


def config(reader: Reader) -> dict[str, Any]:
    """Type, grid and the signs of numbers that all charts share."""
    return {
        "font": FONT,
        "axis": {"labelFontSize": 12, "titleFontSize": 12, "labelLimit": 0, "grid": True, "gridColor": "#dddddd"},
        "view": {"stroke": None},
        "legend": {"disable": True},
        "locale": {"number": number_signs(reader)},
    }


def time_axis() -> dict[str, Any]:
    """The hours of the day, left to right."""
    return {"field": "start", "type": "temporal", "axis": {"format": "%H:%M", "title": None, "tickCount": 12}}


SHADES: Mapping[str, str] = {"work": "#ffffff", "stop": "#9a9a9a", "break": "#ececec"}


LABEL_LETTERS = 40
SHORT_LABEL = f"length(datum.label) > {LABEL_LETTERS} ? slice(datum.label, 0, {LABEL_LETTERS - 1}) + '…' : datum.label"
"""Names of rows are cut by their letters: the drawer finds the place for a width by measuring, which takes it half a second."""


def row_of() -> dict[str, Any]:
    """One row for each name, in the order in which they come."""
    return {"field": "row", "type": "nominal", "title": None, "sort": None, "axis": {"labelExpr": SHORT_LABEL}}


def bars_of(bars: Sequence[Mapping[str, Any]], *, height: int, kinds: Sequence[str]) -> dict[str, Any]:
    """Bars over the day, each in its row, shaded by its kind so that they differ without colour."""
    return {
        "data": {"values": bars},
        "mark": {"type": "bar", "stroke": "black", "strokeWidth": 0.8, "height": height},
        "encoding": {
            "x": time_axis(),
            "x2": {"field": "end"},
            "y": row_of(),
            "color": {
                "field": "kind",
                "type": "nominal",
                "scale": {"domain": list(kinds), "range": [SHADES[kind] for kind in kinds]},
            },
        },
    }


def closing_rule(day: DayResult) -> dict[str, Any]:
    """The dashed line at the end of access."""
    return {
        "data": {"values": [{"t": f"{day.closes:%Y-%m-%dT%H:%M:%S}"}]},
        "mark": {"type": "rule", "strokeWidth": 2.5, "strokeDash": [6, 3]},
        "encoding": {"x": {"field": "t", "type": "temporal"}},
    }


def clock_panel(day: DayResult, reader: Reader, *, label: Callable[[int, int], str]) -> dict[str, Any]:
    """Clocks as bands, dashed to their limit.

    Parameters
    ----------
    day : DayResult
        Whose clocks.
    label : callable
        What stands in a band, from the minutes used and the limit.
    """
    clocks = [
        {
            "row": named(span.what, reader),
            "start": f"{span.start:%Y-%m-%dT%H:%M:%S}",
            "end": f"{span.end:%Y-%m-%dT%H:%M:%S}",
            "latest": f"{span.latest:%Y-%m-%dT%H:%M:%S}",
            "label": label(span.used_min, span.limit_min),
        }
        for span in day.clocks
    ]
    x, row = time_axis(), row_of()
    return {
        "width": DAY_PX,
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
            closing_rule(day),
        ],
    }


def gantt(day: DayResult, reader: Reader) -> Spec:
    """The day by person, breaks hatched light, and clocks as bands with their limit; readable without colour."""
    bars, px_a_min = [], px_a_minute(day)
    for entry in day.entries:
        label = bar_label(entry, px_a_min, reader)
        upright = [] if label else upright_label(entry, px_a_min, reader)
        for person in entry.crew:
            bars.append(
                {
                    "row": person,
                    "start": f"{entry.start:%Y-%m-%dT%H:%M:%S}",
                    "middle": f"{entry.start + (entry.end - entry.start) / 2:%Y-%m-%dT%H:%M:%S}",
                    "end": f"{entry.end:%Y-%m-%dT%H:%M:%S}",
                    "label": label,
                    "upright": upright,
                    "kind": "break" if entry.phase == "break" else "stop" if entry.hold_point else "work",
                }
            )
    x, row, closing = time_axis(), row_of(), closing_rule(day)
    text = {"type": "text", "fontSize": 9, "clip": True}
    wide = {"lineHeight": LINE_PX, "baseline": "top", "align": "left", "dx": 2, "dy": 2 - BAR_PX / 2}
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "config": config(reader),
        "vconcat": [
            {
                "width": DAY_PX,
                "height": {"step": BAR_PX + 8},
                "layer": [
                    bars_of(bars, height=BAR_PX, kinds=("work", "stop", "break")),
                    {
                        "data": {"values": bars},
                        "mark": {**text, **wide},
                        "encoding": {"x": x, "y": row, "text": {"field": "label"}},
                    },
                    {
                        "data": {"values": bars},
                        "mark": {**text, "angle": 270, "align": "center", "baseline": "middle"},
                        "encoding": {"x": {**x, "field": "middle"}, "y": row, "text": {"field": "upright"}},
                    },
                    closing,
                ],
            },
            clock_panel(
                day, reader, label=lambda used, limit: say("sheet.day.used_of", {"used": used, "limit": limit}, reader)
            ),
        ],
        "resolve": {"scale": {"x": "shared"}},
    }


LEAST_LETTERS = 6
"""Fewer letters of a line do not tell which work it is."""
BAR_PX, LINE_PX, LETTER_PX = 64, 10, 4.9
"""Of the bars of people: height, and what a line and a letter take in them."""


def px_a_minute(day: DayResult) -> float:
    """How wide a minute is drawn, by the longest of work and clocks; the hours at both ends are rounded outwards."""
    ends = [*(entry.end for entry in day.entries), *(span.latest for span in day.clocks), day.closes]
    starts = [day.opens, *(entry.start for entry in day.entries)]
    return DAY_PX / (max(60.0, (max(ends) - min(starts)).total_seconds() / 60) + 60)


def fitted(text: str, *, room_px: float, letter_px: float, lines: int) -> list[str]:
    """A text broken at its words into lines that have room, cut where it has more to say; empty where it has none.

    Examples
    --------
    >>> fitted("scrape glass", room_px=42, letter_px=6, lines=2), fitted("scrape glass", room_px=48, letter_px=6, lines=1)
    (['scrape', 'glass'], ['scrape…'])
    """
    letters = int(room_px / letter_px)
    if letters < LEAST_LETTERS:
        return [text] if len(text) <= letters else []
    words = [word if len(word) <= letters else f"{word[: letters - 1]}…" for word in text.split()]
    found = textwrap.wrap(" ".join(words), letters, break_on_hyphens=False)
    if len(found) > lines:
        found = [*found[: lines - 1], f"{found[lines - 1][: letters - 1].rstrip()}…"]
    return found


def _what(entry: Entry, reader: Reader) -> str:
    return say("sheet.day.break", {}, reader) if entry.phase == "break" else clause(named(entry.label, reader))


def bar_label(entry: Entry, px_a_min: float, reader: Reader) -> list[str]:
    """What stands in the bar of an entry, line by line; nothing where it has no room."""
    width_px = px_a_min * (entry.end_min - entry.start_min) - 3
    return fitted(_what(entry, reader), room_px=width_px, letter_px=LETTER_PX, lines=BAR_PX // LINE_PX)


def upright_label(entry: Entry, px_a_min: float, reader: Reader) -> list[str]:
    """What stands upright in a bar that is too narrow for words beside each other."""
    if px_a_min * (entry.end_min - entry.start_min) < LINE_PX:
        return []
    return fitted(_what(entry, reader), room_px=BAR_PX - 2, letter_px=LETTER_PX, lines=1)


def bed_plan(bed: BedResult, shape: TankShape, reader: Reader) -> Spec:
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
        "config": config(reader),
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
                        "title": say("sheet.figure.left_to_right", {}, reader),
                        "scale": {"nice": False},
                    },
                    "x2": {"field": "x1"},
                    "y": {
                        "field": "y0",
                        "type": "quantitative",
                        "title": say("sheet.figure.front_to_rear", {}, reader),
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


def bed_section(bed: BedResult, shape: TankShape, reader: Reader) -> Spec:
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
                        "y": {
                            "field": "soil",
                            "type": "quantitative",
                            "title": say("sheet.figure.height", {}, reader),
                            "scale": scale,
                        },
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
        "config": config(reader),
        "hconcat": [
            cut(
                say("sheet.figure.cut_front", {}, reader),
                bed.y_m,
                [row[middle_x] for row in bed.depth_m],
                [row[middle_x] for row in bed.base_depth_m],
            ),
            cut(
                say("sheet.figure.cut_left", {}, reader),
                bed.x_m,
                list(bed.depth_m[middle_y]),
                list(bed.base_depth_m[middle_y]),
            ),
        ],
    }


def making_chart(course: MakingCourse, reader: Reader) -> Spec:
    """Litres in the barrels with their 90 % band, and temperature below, over the hours of preparation."""
    litre, degree = ("L", "°C") if reader.units == "metric" else ("gal", "°F")
    rows = []
    for hour, low, middle, high, temp in zip(
        course.hours, course.low_l, course.middle_l, course.high_l, course.temp_c, strict=True
    ):
        if reader.units == "us":
            low, middle, high = (convert(value, "L", "gal") for value in (low, middle, high))
            temp = convert(temp, "degC", "degF")
        rows.append({"h": hour, "low": low, "middle": middle, "high": high, "temp": temp})
    x = {
        "field": "h",
        "type": "quantitative",
        "title": say("sheet.figure.hours_from_start", {}, reader),
        "scale": {"nice": False},
    }

    def y(field: str, title: str) -> dict[str, Any]:
        return {"field": field, "type": "quantitative", "title": title, "scale": {"zero": field != "temp"}}

    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "config": config(reader),
        "data": {"values": rows},
        "vconcat": [
            {
                "width": 620,
                "height": 130,
                "layer": [
                    {
                        "mark": {"type": "area", "color": "#cccccc"},
                        "encoding": {
                            "x": x,
                            "y": y("low", say("sheet.figure.new_water_in", {"unit": litre}, reader)),
                            "y2": {"field": "high"},
                        },
                    },
                    {"mark": {"type": "line", "color": "black"}, "encoding": {"x": x, "y": y("middle", "")}},
                ],
            },
            {
                "width": 620,
                "height": 90,
                "mark": {"type": "line", "color": "black", "strokeDash": [6, 3]},
                "encoding": {"x": x, "y": y("temp", say("sheet.figure.temperature_in", {"unit": degree}, reader))},
            },
        ],
    }
