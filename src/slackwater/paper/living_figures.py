"""The figures of everything alive: boxes over the hours, the weeks as fans, the calendar of water changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from xml.sax.saxutils import escape

import numpy as np

from slackwater.job.catalog import Catalog
from slackwater.living.holding import Limits
from slackwater.living.result import BoxHours, ChangePlan, Fan, Living, Weeks
from slackwater.living.setup import FISH_OXYGEN_MG_L, SHRIMP_OXYGEN_MG_L
from slackwater.paper.figures import FONT, Spec, svg_of
from slackwater.reader import Reader, localised, number_signs
from slackwater.units import convert, digits, show
from slackwater.water.ammonia import acute_2013_mg_l
from slackwater.wording.render import say

BOXES_A_FIGURE = 6
"""More rows than that do not go on one page at a size that can be read."""
LIGHT, DARK = "#dddddd", "#b0b0b0"
PANEL_W, PANEL_H = 100, 60
FAN_W, FAN_H = 222, 88
CALENDAR_DAYS, WEEK = 42, 7
CELL_W, CELL_H, LABEL_W, HEAD_H = 66.0, 46.0, 72.0, 26.0
SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"


@dataclass(frozen=True)
class _Band:
    """What one small chart shows: bands over the hours, and lines that must not be crossed."""

    title: str
    bands: Sequence[Sequence[float]]
    limits: tuple[Sequence[float], ...]
    from_zero: bool = True


def box_groups(boxes: Sequence[BoxHours]) -> tuple[tuple[BoxHours, ...], ...]:
    """Boxes that share a figure."""
    return tuple(tuple(boxes[at : at + BOXES_A_FIGURE]) for at in range(0, len(boxes), BOXES_A_FIGURE))


def box_figure_name(number: int) -> str:
    """File of a group of boxes, counted from 1."""
    return f"living-boxes-{number}.svg"


def living_figures(living: Living, catalog: Catalog, reader: Reader) -> dict[str, str]:
    """All that can be drawn, by file name."""
    drawn = {
        box_figure_name(number): svg_of(boxes_chart(group, catalog, reader))
        for number, group in enumerate(box_groups(living.boxes), start=1)
    }
    if living.weeks is not None:
        if living.weeks.fans:
            drawn["living-weeks.svg"] = svg_of(weeks_chart(living.weeks, reader))
        if living.weeks.plan is not None:
            drawn["living-changes.svg"] = change_calendar_svg(living.weeks.plan, reader)
    return drawn


def _panels(box: BoxHours, catalog: Catalog, reader: Reader, *, carbon_dioxide: bool) -> list[_Band]:
    """Temperature, oxygen, total ammonia; un-ionised ammonia, or carbon dioxide where that decides."""
    course = box.course
    fish = any(catalog.species[name].group == "fish" for name in box.counts if name in catalog.species)
    temps = np.asarray(course.temp_c, dtype=float)
    start = float(temps[0, 1])
    drift = [start - Limits.drift_k, start + Limits.drift_k]
    middle_ph = np.asarray(course.ph, dtype=float)[:, 1]
    acute = np.asarray(acute_2013_mg_l(ph=middle_ph, temp_c=temps[:, 1]), dtype=float).tolist()

    def level(value: float) -> list[float]:
        return [value] * len(course.hours)

    shown = temps.tolist()
    degree = "°C"
    if reader.units == "us":
        shown = [[convert(value, "degC", "degF") for value in row] for row in shown]
        drift, degree = [convert(value, "degC", "degF") for value in drift], "°F"
    last = (
        _Band(say("sheet.figure.carbon_dioxide", {}, reader), course.co2_mg_l, (level(Limits.co2_mg_l),))
        if carbon_dioxide
        else _Band(say("sheet.figure.un_ionised", {}, reader), course.uia_mg_l, ())
    )
    return [
        _Band(
            say("sheet.figure.temperature_in", {"unit": degree}, reader),
            shown,
            tuple(level(value) for value in drift),
            from_zero=False,
        ),
        _Band(
            say("sheet.figure.oxygen", {}, reader),
            course.oxygen_mg_l,
            (level(FISH_OXYGEN_MG_L if fish else SHRIMP_OXYGEN_MG_L),),
        ),
        _Band(say("sheet.figure.tan", {}, reader), course.tan_mg_l, (acute,)),
        last,
    ]


def boxes_chart(boxes: Sequence[BoxHours], catalog: Catalog, reader: Reader) -> Spec:
    """A row for each box: 90 % bands over the hours, the limits dashed; one scale for all boxes of the figure."""
    carbon_dioxide = any(box.binds == "carbon dioxide" for box in boxes)
    rows = [_panels(box, catalog, reader, carbon_dioxide=carbon_dioxide) for box in boxes]
    domains = [_domain([row[column] for row in rows]) for column in range(len(rows[0]))]
    return {
        "$schema": SCHEMA,
        "config": {
            "font": FONT,
            "locale": {"number": number_signs(reader)},
            "axis": {"labelFontSize": 11, "titleFontSize": 11, "gridColor": "#e4e4e4"},
            "title": {"fontSize": 12, "anchor": "start", "frame": "group", "offset": 6},
            "view": {"stroke": "black", "strokeWidth": 0.6},
            "concat": {"spacing": 8},
        },
        "vconcat": [
            {
                "hconcat": [
                    _letter(box.label),
                    *(
                        _panel(box.course.hours, panel, domain, reader, first=place == 0, last=place == len(rows) - 1)
                        for panel, domain in zip(row, domains, strict=True)
                    ),
                ]
            }
            for place, (box, row) in enumerate(zip(boxes, rows, strict=True))
        ],
    }


def _domain(panels: Sequence[_Band]) -> tuple[float, float]:
    values = np.concatenate(
        [np.asarray(panel.bands, dtype=float).ravel() for panel in panels]
        # A limit that falls is drawn only where it comes near: what is far above everything would flatten the bands.
        + [np.asarray([np.min(line)], dtype=float) for panel in panels for line in panel.limits]
    )
    low, high = float(values.min()), float(values.max())
    if panels[0].from_zero:
        low = 0.0
    return low, high + 0.05 * (high - low or 1.0)


def _letter(label: str) -> Spec:
    return {
        "width": 26,
        "height": PANEL_H,
        "view": {"stroke": None},
        "data": {"values": [{"label": label}]},
        "mark": {"type": "text", "fontSize": 24, "fontWeight": "bold"},
        "encoding": {"text": {"field": "label"}},
    }


def _panel(
    hours: Sequence[float], panel: _Band, domain: tuple[float, float], reader: Reader, *, first: bool, last: bool
) -> dict[str, Any]:
    points = [
        {"h": hour, "low": row[0], "middle": row[1], "high": row[2]}
        for hour, row in zip(hours, panel.bands, strict=True)
    ]
    x = {
        "field": "h",
        "type": "quantitative",
        "scale": {"domain": [0, max(hours, default=1)], "nice": False},
        "axis": {
            "title": say("sheet.figure.hours", {}, reader) if last else None,
            "labels": last,
            "values": list(range(0, int(max(hours, default=1)) + 1, 4)),
        },
    }

    def y(field: str) -> dict[str, Any]:
        return {
            "field": field,
            "type": "quantitative",
            "title": None,
            "scale": {"domain": list(domain), "nice": False},
            "axis": {"tickCount": 4},
        }

    layers: list[dict[str, Any]] = [
        {
            "mark": {"type": "area", "color": DARK, "clip": True},
            "encoding": {"x": x, "y": y("low"), "y2": {"field": "high"}},
        },
        {
            "mark": {"type": "line", "color": "black", "strokeWidth": 1.6, "clip": True},
            "encoding": {"x": x, "y": y("middle")},
        },
    ]
    for line in panel.limits:
        layers.append(
            {
                "data": {
                    "values": [{"h": hour, "limit": float(value)} for hour, value in zip(hours, line, strict=True)]
                },
                "mark": {"type": "line", "color": "black", "strokeDash": [5, 3], "strokeWidth": 1.8, "clip": True},
                "encoding": {"x": x, "y": y("limit")},
            }
        )
    found: dict[str, Any] = {"width": PANEL_W, "height": PANEL_H, "data": {"values": points}, "layer": layers}
    return {**found, "title": panel.title} if first else found


FANS: tuple[tuple[str, str], ...] = (
    ("tan_mg_l", "tan"),
    ("uia_mg_l", "uia"),
    ("nitrite_mg_l", "nitrite"),
    ("nitrate_mg_l", "nitrate"),
    ("alkalinity_dkh", "kh"),
    ("ph", "ph"),
)
"""Courses of the weeks, each with the end of the id of its title."""
FANS_BELOW = ("alkalinity_dkh", "ph")
"""The lowest row, under which the days are named."""


def limits_of(weeks: Weeks) -> Mapping[str, float]:
    """What must not be passed, by the name of its fan [mg/L]."""
    return {
        "tan_mg_l": weeks.tan_limit_mg_l,
        "uia_mg_l": weeks.uia_limit_mg_l,
        "nitrite_mg_l": weeks.nitrite_limit_mg_l,
    }


def weeks_chart(weeks: Weeks, reader: Reader) -> Spec:
    """Six fans over the days: 90 of 100 light, half of them dark, the middle a line, the limit dashed with its value."""
    limits = limits_of(weeks)
    days = (*weeks.plan.days, *weeks.plan.gone_on_days) if weeks.plan is not None else ()
    charts = [
        _fan(
            say(f"sheet.figure.{title}", {}, reader),
            weeks.fans[name],
            limits.get(name),
            days,
            reader,
            zero=name != "ph",
            last=name in FANS_BELOW,
        )
        for name, title in FANS
        if name in weeks.fans
    ]
    return {
        "$schema": SCHEMA,
        "config": {
            "font": FONT,
            "locale": {"number": number_signs(reader)},
            "axis": {"labelFontSize": 12, "titleFontSize": 12, "gridColor": "#eeeeee"},
            "title": {"fontSize": 13, "anchor": "start", "frame": "group", "offset": 5},
            "view": {"stroke": "black", "strokeWidth": 0.6},
        },
        "columns": 2,
        "bounds": "flush",
        "spacing": {"row": 47, "column": 46},
        "concat": charts,
    }


def _fan(
    title: str, fan: Fan, limit: float | None, changes: Sequence[int], reader: Reader, *, zero: bool, last: bool
) -> dict[str, Any]:
    end = max(fan.days, default=1.0)
    # Room above a limit for its value.
    top = 1.2 * max([limit or 0.0, *(row[4] for row in fan.bands)])
    x = {
        "field": "d",
        "type": "quantitative",
        "title": say("sheet.figure.days_after", {}, reader) if last else None,
        "scale": {"domain": [0, end], "nice": False},
        "axis": {"values": [day for day in (0, 7, 14, 21, 28, 35, 42, 49, 56) if day <= end]},
    }

    def y(field: str) -> dict[str, Any]:
        return {
            "field": field,
            "type": "quantitative",
            "title": None,
            "scale": {"zero": zero} if limit is None else {"zero": zero, "domainMax": top},
            "axis": {"tickCount": 5},
        }

    rows = [
        {"d": day, "a": a, "b": b, "c": c, "d75": d, "e": e}
        for day, (a, b, c, d, e) in zip(fan.days, fan.bands, strict=True)
    ]
    layers: list[dict[str, Any]] = [
        {"mark": {"type": "area", "color": LIGHT}, "encoding": {"x": x, "y": y("a"), "y2": {"field": "e"}}},
        {"mark": {"type": "area", "color": DARK}, "encoding": {"x": x, "y": y("b"), "y2": {"field": "d75"}}},
        {"mark": {"type": "line", "color": "black", "strokeWidth": 2}, "encoding": {"x": x, "y": y("c")}},
    ]
    if limit is not None:
        told = {
            "data": {
                "values": [
                    {
                        "limit": limit,
                        "d": end,
                        "text": localised(say("sheet.figure.limit", {"value": digits(limit, 2)}, reader), reader),
                    }
                ]
            }
        }
        layers += [
            {
                **told,
                "mark": {"type": "rule", "strokeDash": [6, 3], "strokeWidth": 2},
                "encoding": {"y": y("limit")},
            },
            {
                **told,
                "mark": {"type": "text", "align": "right", "dx": -3, "dy": -8, "fontSize": 12, "fontWeight": "bold"},
                "encoding": {"x": x, "y": y("limit"), "text": {"field": "text"}},
            },
        ]
    if changes:
        layers.append(
            {
                "data": {"values": [{"d": day} for day in changes]},
                "mark": {"type": "rule", "strokeWidth": 2},
                "encoding": {"x": x, "y": {"value": FAN_H}, "y2": {"value": FAN_H - 9}},
            }
        )
    return {"title": title, "width": FAN_W, "height": FAN_H, "data": {"values": rows}, "layer": layers}


def change_calendar_svg(plan: ChangePlan, reader: Reader) -> str:
    """Six weeks as rows of days: litres where water is changed, T where it is tested, a triangle where a limit is nearest."""
    litres = dict(zip(plan.days, plan.litres, strict=True))
    weeks = CALENDAR_DAYS // WEEK
    width = LABEL_W + (WEEK + 1) * CELL_W + 2
    height = HEAD_H + weeks * CELL_H + 2
    parts = [
        _text(LABEL_W + CELL_W / 2, 17, say("sheet.figure.refill", {}, reader), size=13, anchor="middle"),
        _text(
            LABEL_W + CELL_W * (1 + WEEK / 2), 17, say("sheet.figure.days_after", {}, reader), size=13, anchor="middle"
        ),
        _cell(LABEL_W, HEAD_H, 0, litres, plan, reader),
    ]
    for week in range(weeks):
        y = HEAD_H + week * CELL_H
        parts.append(
            _text(2, y + CELL_H / 2 + 5, say("sheet.figure.week", {"number": week + 1}, reader), size=14, weight="bold")
        )
        parts += [
            _cell(LABEL_W + (1 + place) * CELL_W, y, 1 + week * WEEK + place, litres, plan, reader)
            for place in range(WEEK)
        ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}" '
        f'height="{height:g}" font-family="{FONT}"><title>{escape(say("sheet.figure.changes", {}, reader))}</title>'
        f"{''.join(parts)}</svg>\n"
    )


def _cell(x: float, y: float, day: int, litres: Mapping[int, float], plan: ChangePlan, reader: Reader) -> str:
    changed = day in litres
    inset = 1.5 if changed else 0.5
    fill, stroke = ("#d9d9d9", 3.0) if changed else ("white", 0.8)
    parts = [
        f'<rect x="{x + inset:g}" y="{y + inset:g}" width="{CELL_W - 2 * inset:g}" height="{CELL_H - 2 * inset:g}" '
        f'fill="{fill}" stroke="black" stroke-width="{stroke:g}"/>',
        _text(x + 6, y + 17, str(day), size=13),
    ]
    if changed:
        parts.append(
            _text(
                x + CELL_W / 2,
                y + CELL_H - 8,
                localised(show(litres[day], "L", reader, significant=2), reader),
                size=15,
                weight="bold",
                anchor="middle",
            )
        )
    if day in plan.sampling_days:
        parts.append(
            _text(x + CELL_W - 7, y + 18, say("sheet.figure.tested", {}, reader), size=16, weight="bold", anchor="end")
        )
    if day == plan.binding_day:
        left, top = x + CELL_W / 2 - 8, y + 5
        parts.append(f'<path d="M{left:g},{top:g} h16 l-8,13 Z" fill="black"/>')
    return "".join(parts)


def _text(x: float, y: float, text: str, *, size: int, weight: str = "normal", anchor: str = "start") -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size}" font-weight="{weight}" text-anchor="{anchor}">'
        f"{escape(text)}</text>"
    )
