"""The light on paper: its picture, the bed by places, the weeks ahead, and which plant finds its light."""

from __future__ import annotations

from typing import Any

from slackwater.layout.result import LayoutResult
from slackwater.light.result import Grid, LightResult
from slackwater.paper.light_figures import light_drawing
from slackwater.reader import Reader
from slackwater.units import digits, show
from slackwater.wording.render import say

LIGHT = "umol/m2/s"
SHOWN_WEEKS = (1, 2, 3, 4, 6, 8, 10, 12)


def zone_columns(light: LightResult, reader: Reader) -> tuple[str, ...]:
    """Heads of the table of places."""
    return (
        say("sheet.light.zone", {}, reader),
        say("sheet.light.low", {}, reader),
        say("sheet.light.range", {}, reader),
        say("sheet.light.high", {"height": 100 * light.leaves_m}, reader),
    )


def zone_rows(light: LightResult, reader: Reader) -> list[tuple[str, ...]]:
    """Mean light of nine parts of the bed, from the front."""
    found: list[tuple[str, ...]] = []
    for place, low, high in _zones(light):
        name = say(f"sheet.light.place.{place}", {}, reader)
        if not low:
            found.append((name, say("sheet.light.covered", {}, reader), "", ""))
            continue
        ends = f"{_whole(min(low))} – {_whole(max(low))}"
        found.append((name, _whole(sum(low) / len(low)), ends, _whole(sum(high) / len(high)) if high else ""))
    return found


def _zones(light: LightResult) -> list[tuple[str, list[float], list[float]]]:
    found = []
    for b, depth in enumerate(("front", "middle", "rear")):
        for a, side in enumerate(("left", "middle", "right")):
            found.append((f"{depth}_{side}", _part(light.low, a, b), _part(light.high, a, b)))
    return found


def _part(grid: Grid, a: int, b: int) -> list[float]:
    rows, columns = len(grid), len(grid[0])
    return [
        value
        for row in grid[b * rows // 3 : (b + 1) * rows // 3]
        for value in row[a * columns // 3 : (a + 1) * columns // 3]
        if value is not None
    ]


def _whole(value: float) -> str:
    return digits(round(float(f"{value:.2g}")))


def week_columns(reader: Reader) -> tuple[str, ...]:
    """Heads of the table of weeks."""
    return tuple(say(f"sheet.light.{name}", {}, reader) for name in ("week", "hours", "share", "day", "below"))


def week_rows(light: LightResult, reader: Reader) -> list[tuple[str, ...]]:
    """Timer and dimmer by week, and what that comes to."""
    return [
        (
            str(week.week),
            show(week.hours, "h", reader),
            f"{round(100 * week.share)} %",
            show(week.daily_mol_m2, "mol/m2", reader, significant=2),
            show(float(f"{week.below_umol_m2_s:.2g}"), LIGHT, reader),
        )
        for week in light.weeks
        if week.week in SHOWN_WEEKS
    ]


def plant_columns(reader: Reader) -> tuple[str, ...]:
    """Heads of the table of plants."""
    return tuple(say(f"sheet.light.{name}", {}, reader) for name in ("plant", "needs", "has"))


def plant_rows(light: LightResult, reader: Reader) -> list[tuple[str, ...]]:
    """Plants of the job, the neediest first."""
    return [
        (plant.name, show(plant.needs_umol_m2_s, LIGHT, reader), f"{round(100 * plant.has_share)} %")
        for plant in sorted(light.plants, key=lambda one: (-one.needs_umol_m2_s, one.name))
    ]


def light_told(light: LightResult, reader: Reader) -> list[str]:
    """What stands over the picture."""
    told = [
        say(
            "sheet.light.mean",
            {
                "mean": float(f"{light.mean_umol_m2_s:.2g}"),
                "dark": float(f"{light.dark_umol_m2_s:.2g}"),
                "bright": float(f"{light.bright_umol_m2_s:.2g}"),
            },
            reader,
        ),
        say(
            "sheet.light.lead",
            {"low_pct": str(round(100 * light.range_low)), "high_pct": str(round(100 * light.range_high))},
            reader,
        ),
    ]
    sky = [value for row in light.skylight for value in row if value is not None]
    if sky:
        told.append(say("sheet.light.skylight", {"sky": float(f"{sum(sky) / len(sky):.2g}")}, reader))
    return told


def light_data(light: LightResult | None, layout: LayoutResult | None, reader: Reader) -> dict[str, Any] | None:
    """What the day sheet and the page of a plan say of the light; None where it was not reckoned."""
    if light is None or layout is None:
        return None
    drawing = light_drawing(light, layout, reader)
    return {
        "told": light_told(light, reader),
        "columns": list(zone_columns(light, reader)),
        "rows": [list(row) for row in zone_rows(light, reader)],
        "week_columns": list(week_columns(reader)),
        "weeks": [list(row) for row in week_rows(light, reader)],
        "plant_columns": list(plant_columns(reader)),
        "plants": [list(row) for row in plant_rows(light, reader)],
        "drawings": [
            {
                "file": drawing.file,
                "title": say("figure.light_bed.title", {}, reader),
                "alt": say("figure.light_bed.description", {}, reader),
                "width_mm": drawing.width_mm,
            }
        ],
    }
