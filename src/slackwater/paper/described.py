"""Each figure in words and as a table, for whoever does not see it or wants its numbers; drawn by the papers' functions."""

from __future__ import annotations

from collections.abc import Sequence

from slackwater.day.result import DayResult
from slackwater.day.when import clock_time
from slackwater.frozen import Frozen
from slackwater.job.catalog import Catalog
from slackwater.layout.result import BedResult
from slackwater.living.result import BoxHours, ChangePlan, Weeks
from slackwater.paper.day_figures import uses_of
from slackwater.paper.layout_figures import layout_drawings
from slackwater.paper.layout_page import piece_columns, piece_rows
from slackwater.paper.light_figures import FILE as LIGHT_BED
from slackwater.paper.light_page import zone_columns, zone_rows
from slackwater.paper.living_figures import FANS, box_figure_name, box_groups, limits_of
from slackwater.paper.planting_figures import PLAN
from slackwater.paper.planting_page import planting_columns, planting_rows
from slackwater.paper.water_flow import flows_of
from slackwater.plan import Plan
from slackwater.reader import Reader
from slackwater.units import digits, show
from slackwater.water.result import MakingCourse, WaterBudget
from slackwater.wording.render import say

MOST_ROWS = 13
"""Rows of a table that stands for a curve: enough to follow it, few enough to read."""


class FigureTable(Frozen):
    """What a figure shows, without the figure.

    Attributes
    ----------
    file : str
        Name of its drawing.
    title, description : str
        What it is, and how to read it.
    columns : tuple of str
    rows : tuple of tuples of str
        The first item of each names it.
    """

    file: str
    title: str
    description: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def described(plan: Plan, catalog: Catalog, reader: Reader) -> tuple[FigureTable, ...]:
    """All figures of a plan that can be drawn, in the order of the papers."""
    found: list[FigureTable] = []
    if plan.water is not None:
        found.append(_flow(plan.water, reader))
        if plan.water.course is not None:
            found.append(_making(plan.water.course, reader))
    if plan.living is not None:
        found += [
            _boxes(group, box_figure_name(number), reader)
            for number, group in enumerate(box_groups(plan.living.boxes), start=1)
        ]
        if plan.living.weeks is not None:
            if plan.living.weeks.fans:
                found.append(_weeks(plan.living.weeks, reader))
            if plan.living.weeks.plan is not None:
                found.append(_changes(plan.living.weeks.plan, reader))
    if plan.day is not None:
        found += [_gantt(plan.day, reader), _places(plan.day, reader), _critical(plan.day, reader)]
    if plan.bed is not None and plan.tank is not None:
        found += [_bed_plan(plan.bed, reader), _bed_section(plan.bed, reader)]
    if plan.layout is not None and plan.layout.pieces:
        columns, rows = piece_columns(reader), piece_rows(plan.layout, reader)
        found += [_table(drawing.file, columns, rows, reader) for drawing in layout_drawings(plan.layout, reader)]
    if plan.light is not None and plan.layout is not None:
        found.append(_table(LIGHT_BED, zone_columns(plan.light, reader), zone_rows(plan.light, reader), reader))
    if plan.planting is not None and plan.planting.placed:
        columns, rows = planting_columns(reader), planting_rows(plan.planting, catalog, reader)
        found.append(_table(PLAN, columns, rows, reader))
    return tuple(found)


def _table(file: str, columns: Sequence[str], rows: Sequence[Sequence[str]], reader: Reader) -> FigureTable:
    key = f"figure.{file.partition('.')[0].rstrip('-0123456789').replace('-', '_')}"
    return FigureTable(
        file=file,
        title=say(f"{key}.title", {}, reader),
        description=say(f"{key}.description", {}, reader),
        columns=tuple(columns),
        rows=tuple(tuple(row) for row in rows),
    )


def _some(count: int) -> list[int]:
    """Places of the first, the last and evenly spread ones between."""
    if count <= MOST_ROWS:
        return list(range(count))
    return sorted({round(number * (count - 1) / (MOST_ROWS - 1)) for number in range(MOST_ROWS)})


def _flow(water: WaterBudget, reader: Reader) -> FigureTable:
    first, second = flows_of(water, reader)
    rows = [(flow.source, flow.target, show(flow.litres, "L", reader)) for flow in (*first, *second)]
    return _table("water-flow.svg", ("from", "to", "how much"), rows, reader)


def _making(course: MakingCourse, reader: Reader) -> FigureTable:
    rows = [
        (
            digits(course.hours[at], 2),
            show(course.low_l[at], "L", reader),
            show(course.middle_l[at], "L", reader),
            show(course.high_l[at], "L", reader),
            show(course.temp_c[at], "°C", reader),
        )
        for at in _some(len(course.hours))
    ]
    return _table("water-making.svg", ("hours", "careful end", "middle", "upper end", "temperature"), rows, reader)


def _gantt(day: DayResult, reader: Reader) -> FigureTable:
    first = day.opens.date()
    rows = [
        (clock_time(entry.start, first), clock_time(entry.end, first), ", ".join(entry.crew), entry.label)
        for entry in day.entries
    ]
    return _table("gantt.svg", ("from", "to", "who", "what"), rows, reader)


def _places(day: DayResult, reader: Reader) -> FigureTable:
    first = day.opens.date()
    rows = [
        (use.unit, clock_time(use.start, first), clock_time(use.end, first), use.by) for use in uses_of(day, reader)
    ]
    return _table("places.svg", ("place or tool", "from", "to", "used by"), rows, reader)


def _critical(day: DayResult, reader: Reader) -> FigureTable:
    labels = {entry.activity: entry.label for entry in day.entries}
    rows = [(labels.get(item.activity, item.activity), f"{100 * item.share:.0f} %") for item in day.risk.critical]
    return _table("critical.svg", ("work", "share of the days on which it decides the end"), rows, reader)


def _span(row: tuple[float, float, float], places: int = 2) -> str:
    low, middle, high = (digits(value, places) for value in row)
    return f"{middle} ({low} to {high})"


def _boxes(boxes: Sequence[BoxHours], file: str, reader: Reader) -> FigureTable:
    rows = []
    for box in boxes:
        course = box.course
        for at in _some(len(course.hours))[:: 1 if len(boxes) < 3 else 3]:
            temp = course.temp_c[at][1]
            rows.append(
                (
                    box.label,
                    digits(course.hours[at], 2),
                    _span(course.oxygen_mg_l[at]),
                    _span(course.co2_mg_l[at]),
                    _span(course.ph[at], 3),
                    _span(course.tan_mg_l[at]),
                    _span(course.uia_mg_l[at]),
                    show(temp, "°C", reader),
                )
            )
    columns = ("box", "hours", "oxygen, mg/L", "CO2, mg/L", "pH", "TAN, mg/L", "NH3 as N, mg/L", "temperature")
    return _table(file, columns, rows, reader)


def _weeks(weeks: Weeks, reader: Reader) -> FigureTable:
    limits, rows = limits_of(weeks), []
    for name, title in FANS:
        fan = weeks.fans.get(name)
        if fan is None:
            continue
        limit = digits(limits[name], 2) if name in limits else ""
        for at in _some(len(fan.days))[::3]:
            low, _, middle, _, high = fan.bands[at]
            rows.append(
                (say(f"sheet.figure.{title}", {}, reader), digits(fan.days[at], 2), _span((low, middle, high)), limit)
            )
    return _table("living-weeks.svg", ("what", "day", "middle (90 of 100 cases)", "limit"), rows, reader)


def _changes(plan: ChangePlan, reader: Reader) -> FigureTable:
    litres = dict(zip(plan.days, plan.litres, strict=True))
    litres |= {day: plan.gone_on_l for day in plan.gone_on_days}
    days = sorted({*litres, *plan.sampling_days})
    rows = [
        (str(day), show(litres[day], "L", reader) if day in litres else "", "yes" if day in plan.sampling_days else "")
        for day in days
    ]
    return _table("living-changes.svg", ("day after the refill", "changed", "tested"), rows, reader)


def _bed_plan(bed: BedResult, reader: Reader) -> FigureTable:
    across = [round(part * (len(bed.x_m) - 1) / 4) for part in range(5)]
    deep = [round(part * (len(bed.y_m) - 1) / 4) for part in range(5)]
    rows = [
        (show(bed.y_m[j], "m", reader), *(show(bed.depth_m[j][i], "m", reader, significant=2) for i in across))
        for j in deep
    ]
    return _table(
        "bed-plan.svg", ("from the front", *(f"at {show(bed.x_m[i], 'm', reader)}" for i in across)), rows, reader
    )


def _bed_section(bed: BedResult, reader: Reader) -> FigureTable:
    middle_x, middle_y = len(bed.x_m) // 2, len(bed.y_m) // 2
    rows = [
        ("front to rear", *(show(value, "m", reader, significant=2) for value in (at, row[middle_x], base[middle_x])))
        for at, row, base in ((bed.y_m[j], bed.depth_m[j], bed.base_depth_m[j]) for j in _some(len(bed.y_m))[::2])
    ]
    rows += [
        (
            "left to right",
            *(
                show(value, "m", reader, significant=2)
                for value in (bed.x_m[i], bed.depth_m[middle_y][i], bed.base_depth_m[middle_y][i])
            ),
        )
        for i in _some(len(bed.x_m))[::2]
    ]
    return _table("bed-section.svg", ("cut", "at", "soil up to", "base layer up to"), rows, reader)
