"""The light on the bed, drawn to scale from above in few shades, so that it is read at arm's length."""

from __future__ import annotations

from itertools import pairwise
from math import hypot

from slackwater.layout.result import LayoutResult
from slackwater.light.result import LightResult
from slackwater.paper.layout_figures import LEFT_MM, LINE, RIGHT_MM, TOP_MM, Drawing, Point, Sheet, scale_of, tell_sides
from slackwater.reader import Reader
from slackwater.wording.render import say

FILE = "light-bed.svg"
STEPS = (15, 30, 50, 80, 120, 180, 270)
"""Bounds between the shades [µmol/m²/s]."""
SHADES = ("#35305e", "#3f4f85", "#3b7396", "#3f948f", "#68b077", "#a5c75f", "#e2dd67", "#fffbd8")
"""From dark to light, in hue and in lightness, so that a copy without colours still tells them apart."""
NUMBER_EVERY_MM = 13.0
"""Apart enough for numbers of ten points to stand alone."""
NEAR_MM = 3.2
"""A number nearer than this to an outline is lost in it."""
LEGEND_MM = 8.0


def shade_of(light: float) -> int:
    """Which shade."""
    return sum(light >= bound for bound in STEPS)


def light_drawing(light: LightResult, layout: LayoutResult, reader: Reader) -> Drawing:
    """The bed from above in shades of its light, with numbers, stones and wood."""
    xs, ys = zip(*layout.corners_m, strict=True)
    left, front, length, width = min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys)
    sheet = Sheet(length, width, scale_of(layout), reader)

    def move(point: Point) -> Point:
        return point[0] - left, point[1] - front

    outline = [[move(corner) for corner in layout.corners_m]]
    wall = 2 * layout.wall_m * sheet.mm
    sheet.path(outline, f'fill="none" stroke="black" stroke-width="{wall + 2 * LINE:.2f}" stroke-linejoin="miter"')
    sheet.path(outline, f'fill="white" stroke="#f4f4f4" stroke-width="{wall:.2f}" stroke-linejoin="miter"')
    x_edges, y_edges = (_edges(axis, low, high) for axis, low, high in (
        (light.x_m, left, left + length), (light.y_m, front, front + width)
    ))  # fmt: skip
    for j, row in enumerate(light.low):
        i = 0
        while i < len(row):
            value, first = row[i], i
            shade = None if value is None else shade_of(value)
            while i < len(row) and (None if row[i] is None else shade_of(row[i] or 0.0)) == shade:
                i += 1
            if shade is None:
                continue
            x0, y1 = sheet.at(move((x_edges[first], y_edges[j])))
            x1, y0 = sheet.at(move((x_edges[i], y_edges[j + 1])))
            # A hair wider, or white lines show between the cells.
            sheet.parts.append(
                f'<rect x="{x0:.2f}" y="{y0:.2f}" width="{x1 - x0 + 0.05:.2f}" height="{y1 - y0 + 0.05:.2f}" '
                f'fill="{SHADES[shade]}"/>'
            )
    rising = sorted(layout.pieces, key=lambda piece: piece.high_m)
    sheet.outlines([(piece, piece.above, "#e6e6e6") for piece in rising], move)
    sheet.path(outline, f'fill="none" stroke="black" stroke-width="{LINE}"')
    _numbers(sheet, light, layout, (left, front))
    sheet.numbers([(piece, [move(point) for ring in piece.above for point in ring]) for piece in rising])
    sheet.ruler(across=True)
    sheet.ruler(across=False)
    foot = TOP_MM + width * sheet.mm
    sheet.across(0, length, foot + 10.5)
    sheet.up(0, width, LEFT_MM + length * sheet.mm + 9.0)
    tell_sides(sheet, layout.public_sides or ("front",), foot)
    _legend(sheet, foot + 13.0)
    sheet.height_mm += LEGEND_MM
    return sheet.drawn(FILE, say("figure.light_bed.title", {}, reader))


def _edges(middles: tuple[float, ...], low: float, high: float) -> list[float]:
    return [low, *((a + b) / 2 for a, b in pairwise(middles)), high]


def _numbers(sheet: Sheet, light: LightResult, layout: LayoutResult, corner: Point) -> None:
    """The light of single cells in whole figures, evenly spread, where no piece hides them from above."""
    across = max(1, round(sheet.width_m * sheet.mm / NUMBER_EVERY_MM))
    down = max(1, round(sheet.height_m * sheet.mm / (0.7 * NUMBER_EVERY_MM)))
    for b in range(down):
        for a in range(across):
            i = min(int((a + 0.5) / across * len(light.x_m)), len(light.x_m) - 1)
            j = min(int((b + 0.5) / down * len(light.y_m)), len(light.y_m) - 1)
            value = light.low[j][i]
            here = (a + 0.5) / across * sheet.width_m, (b + 0.5) / down * sheet.height_m
            if value is None or _hidden(here[0] + corner[0], here[1] + corner[1], layout, NEAR_MM / sheet.mm):
                continue
            at = sheet.at(here)
            sheet.text((at[0], at[1] + 1.1), f"{float(f'{value:.2g}'):.0f}", size=3.2)


def _hidden(x: float, y: float, layout: LayoutResult, near_m: float) -> bool:
    """Whether a piece covers a place, or its outline passes near it."""
    for piece in layout.pieces:
        within = False
        for ring in piece.above:
            for (x0, y0), (x1, y1) in pairwise((*ring, ring[0])):
                if (y0 > y) != (y1 > y) and x < x0 + (x1 - x0) * (y - y0) / (y1 - y0):
                    within = not within
                size = (x1 - x0) ** 2 + (y1 - y0) ** 2
                t = 0.0 if size == 0 else min(1.0, max(0.0, ((x - x0) * (x1 - x0) + (y - y0) * (y1 - y0)) / size))
                if hypot(x - x0 - t * (x1 - x0), y - y0 - t * (y1 - y0)) < near_m:
                    return True
        if within:
            return True
    return False


def _legend(sheet: Sheet, y_mm: float) -> None:
    room = (sheet.width_mm - LEFT_MM - RIGHT_MM) / len(SHADES)
    for number, shade in enumerate(SHADES):
        x = LEFT_MM + number * room
        sheet.parts.append(
            f'<rect x="{x:.2f}" y="{y_mm:.2f}" width="{room:.2f}" height="3" fill="{shade}" stroke="black" '
            f'stroke-width="0.18"/>'
        )
        # A bound stands between its two shades, so that narrow drawings have room for it.
        if number:
            sheet.text((x, y_mm + 6.4), str(STEPS[number - 1]))
