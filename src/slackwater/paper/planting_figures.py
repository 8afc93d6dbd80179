"""The planting drawn to scale: zones from above with their numbers, greys by place, the stones and wood between them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from slackwater.layout.result import LayoutResult
from slackwater.paper.layout_figures import (
    CIRCLE_MM,
    LEFT_MM,
    LINE,
    TOP_MM,
    Drawing,
    Point,
    Sheet,
    apart,
    fill_of,
    scale_for,
    tell_sides,
)
from slackwater.planting.result import Place, PlantingResult
from slackwater.reader import Reader
from slackwater.wording.render import say

PLAN = "planting-plan.svg"
GREYS: Mapping[Place, str] = {
    "background": "#b8b8b8",
    "middle": "#d2d2d2",
    "foreground": "#e8e8e8",
    "carpet": "#ffffff",
}
"""The further back the darker: told apart on any printer, and with a pencil on any of them."""


STEP_M = 0.045
"""Sides of an outline up to this length are steps of cells; they are drawn through their middles."""


def smooth(ring: Sequence[Point]) -> list[Point]:
    """An outline of cells without its steps; long sides stay where they are, so that neighbours still meet."""
    found: list[Point] = []
    for before, here in zip((ring[-1], *ring[:-1]), ring, strict=True):
        if max(abs(here[0] - before[0]), abs(here[1] - before[1])) <= STEP_M:
            found.append(((before[0] + here[0]) / 2, (before[1] + here[1]) / 2))
        else:
            found += [before, here]
    return [point for point, last in zip(found, (found[-1], *found[:-1]), strict=True) if point != last]


def planting_drawing(planting: PlantingResult, layout: LayoutResult | None, reader: Reader) -> Drawing:
    """Zones from above, the front at the foot."""
    xs, ys = zip(*planting.corners_m, strict=True)
    left, front, length, width = min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys)
    sheet = Sheet(length, width, scale_for(max(length, width), width), reader)

    def move(point: Point) -> Point:
        return point[0] - left, point[1] - front

    glass = [[move(corner) for corner in planting.corners_m]]
    sheet.path(glass, f'fill="white" stroke="black" stroke-width="{3 * LINE}" stroke-linejoin="miter"')
    for zone in planting.zones:
        if zone.place in GREYS:
            sheet.path(
                [[move(corner) for corner in smooth(ring)] for ring in zone.outline_m],
                f'fill="{GREYS[zone.place]}" fill-rule="evenodd" stroke="black" stroke-width="{LINE}" '
                'stroke-linejoin="round"',
            )
    if layout is not None:
        rising = sorted(layout.pieces, key=lambda piece: piece.high_m)
        sheet.outlines([(piece, piece.above, fill_of(piece)) for piece in rising], move)
    shown = [zone for zone in planting.zones if zone.middle_m is not None]
    wanted = [sheet.at(move(zone.middle_m)) for zone in shown if zone.middle_m is not None]
    low = LEFT_MM + CIRCLE_MM, TOP_MM + CIRCLE_MM
    high = LEFT_MM + length * sheet.mm - CIRCLE_MM, TOP_MM + width * sheet.mm - CIRCLE_MM
    for zone, at, want in zip(shown, apart(wanted, low, high), wanted, strict=True):
        if (at[0] - want[0]) ** 2 + (at[1] - want[1]) ** 2 > CIRCLE_MM**2:
            sheet.line(at, want)
        sheet.circle(at, zone.number)
    sheet.ruler(across=True)
    sheet.ruler(across=False)
    foot = TOP_MM + width * sheet.mm
    sheet.across(0, length, foot + 10.5)
    sheet.up(0, width, LEFT_MM + length * sheet.mm + 9.0)
    tell_sides(sheet, planting.public_sides, foot)
    return sheet.drawn(PLAN, say("figure.planting_plan.title", {}, reader))
