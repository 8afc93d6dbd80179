"""The layout drawn to scale: from above, from each public side, and cut through the middle both ways.

Drawn by hand as SVG in millimetres of paper: a chart grammar knows no scale.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from xml.sax.saxutils import escape

from slackwater.layout.result import LayoutResult, PlacedPiece, Ring, Section
from slackwater.paper.figures import FONT
from slackwater.reader import Reader, localised
from slackwater.units import convert, show
from slackwater.wording.render import say

SCALES = (2, 5, 10, 15, 20, 25, 40, 50, 100)
ROOM_MM = (139.0, 95.0)
"""What a drawing may take of a sheet, dimensions not counted."""
LEFT_MM, RIGHT_MM, TOP_MM, FOOT_MM = 12.5, 16.0, 9.0, 20.0
"""Beside the tank; so narrow that two drawings of 60 mm stand beside each other on a sheet."""
NUMBER_MM, SMALL_MM = 3.6, 2.9
"""Type of numbers and of everything else: 10 and 8 points."""
CIRCLE_MM = 3.1
APART_MM = 7.4
"""Two numbers nearer than this cannot be told apart."""
MASS_FROM_MM = 16.0
"""A piece drawn narrower than this has its mass in the table only."""
STONE, WOOD, CUT, SOIL, FAR_SOIL, BASE = "#e6e6e6", "#ffffff", "#b4b4b4", "#d2d2d2", "#ececec", "#bdbdbd"
LINE, THIN, DASH = 0.35, 0.18, "2.4 1.2"
STRIP = 0.5
"""Width of a strip that holds soil back [mm]."""

Point = tuple[float, float]
Place = Callable[[Point], Point]
"""From metres in the tank, to the right and up, to millimetres of the drawing."""


@dataclass(frozen=True)
class Drawing:
    """One drawing: an SVG whose units are millimetres of paper, and its scale."""

    file: str
    svg: str
    scale: int
    width_mm: float
    height_mm: float


def layout_drawings(layout: LayoutResult, reader: Reader) -> tuple[Drawing, ...]:
    """All drawings of a layout, in the order of the papers, in one scale."""
    scale = scale_of(layout)
    return (
        _plan(layout, scale, reader),
        *(_view(layout, side, scale, reader) for side in ("front", "rear", "left", "right") if side in _seen(layout)),
        *(_section(layout, section, scale, reader) for section in layout.sections),
    )


def drawings_by_name(layout: LayoutResult, reader: Reader) -> Mapping[str, str]:
    """The same for a screen, as SVG: `plan`, each side by its name whether public or not, `long` and `cross`."""
    scale = scale_of(layout)
    return {
        "plan": _plan(layout, scale, reader).svg,
        **{side: _view(layout, side, scale, reader).svg for side in ("front", "rear", "left", "right")},
        **{section.along: _section(layout, section, scale, reader).svg for section in layout.sections},
    }


def _seen(layout: LayoutResult) -> tuple[str, ...]:
    return layout.public_sides or ("front",)


def scale_of(layout: LayoutResult) -> int:
    """How many times smaller than the tank all its drawings are: the largest that goes on a sheet."""
    length, width = _size(layout)
    return scale_for(max(length, width), max(width, _headroom_m(layout)))


def scale_for(across_m: float, up_m: float) -> int:
    """How many times smaller something is drawn that has to go on a sheet: the largest scale that does."""
    for scale in SCALES:
        if 1000 * across_m / scale <= ROOM_MM[0] and 1000 * up_m / scale <= ROOM_MM[1]:
            return scale
    return SCALES[-1]


def _size(layout: LayoutResult) -> tuple[float, float]:
    xs, ys = zip(*layout.corners_m, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


# ---------------------------------------------------------------- a sheet to draw on


class Sheet:
    """Collects the strokes of one drawing of a rectangle of the tank, its lower left corner at 0, 0."""

    def __init__(self, width_m: float, height_m: float, scale: int, reader: Reader) -> None:
        self.width_m, self.height_m, self.scale, self.reader = width_m, height_m, scale, reader
        self.mm = 1000 / scale
        self.width_mm = LEFT_MM + width_m * self.mm + RIGHT_MM
        self.height_mm = TOP_MM + height_m * self.mm + FOOT_MM
        self.parts: list[str] = []

    def at(self, point: Point) -> Point:
        """Where a point in metres lies on the sheet."""
        return LEFT_MM + point[0] * self.mm, TOP_MM + (self.height_m - point[1]) * self.mm

    def path(self, rings: Sequence[Sequence[Point]], style: str, *, closed: str = "Z") -> None:
        """Rings in metres as one shape; `closed` is what ends each."""
        told = []
        for ring in rings:
            points = [self.at(point) for point in ring]
            told.append("M" + " L".join(f"{x:.2f},{y:.2f}" for x, y in points) + closed)
        self.parts.append(f'<path d="{" ".join(told)}" {style}/>')

    def line(self, one: Point, other: Point, style: str = "") -> None:
        """Between two places in millimetres."""
        self.parts.append(
            f'<line x1="{one[0]:.2f}" y1="{one[1]:.2f}" x2="{other[0]:.2f}" y2="{other[1]:.2f}" stroke="black" '
            f'{style or f"""stroke-width="{THIN}" """.strip()}/>'
        )

    def text(
        self, at: Point, told: str, *, anchor: str = "middle", size: float = SMALL_MM, upright: bool = False
    ) -> None:
        """Words at a place on the sheet, with a white rim so that lines behind them do not cross them."""
        turn = f' transform="rotate(-90 {at[0]:.2f} {at[1]:.2f})"' if upright else ""
        self.parts.append(
            f'<text x="{at[0]:.2f}" y="{at[1]:.2f}" font-size="{size}" text-anchor="{anchor}"{turn} '
            f'stroke="white" stroke-width="0.9" stroke-linejoin="round" paint-order="stroke">{escape(told)}</text>'
        )

    def across(self, low_m: float, high_m: float, y_mm: float) -> None:
        """A dimension from left to right, at a height on the sheet."""
        (x0, _), (x1, _) = self.at((low_m, 0)), self.at((high_m, 0))
        self.line((x0, y_mm), (x1, y_mm))
        for x in (x0, x1):
            self.line((x - 0.9, y_mm + 0.9), (x + 0.9, y_mm - 0.9), f'stroke-width="{LINE}"')
        self.text(((x0 + x1) / 2, y_mm - 0.9), self.length(high_m - low_m))

    def up(self, low_m: float, high_m: float, x_mm: float) -> None:
        """A dimension from below to above, at a place across the sheet."""
        (_, y0), (_, y1) = self.at((0, low_m)), self.at((0, high_m))
        self.line((x_mm, y0), (x_mm, y1))
        for y in (y0, y1):
            self.line((x_mm - 0.9, y + 0.9), (x_mm + 0.9, y - 0.9), f'stroke-width="{LINE}"')
        self.text((x_mm - 0.9, (y0 + y1) / 2), self.length(high_m - low_m), upright=True)

    def ruler(self, *, across: bool, from_right: bool = False) -> None:
        """Strokes from the tank's left or front, or from below, 10 cm apart, so that a place can be found with a tape."""
        step, far, unit = (0.1, 2, 100.0) if self.reader.units == "metric" else (convert(6, "in", "m"), 2, 0.0)
        most = self.width_m if across else self.height_m
        count = int(most / step + 1e-6)
        edge = TOP_MM + self.height_m * self.mm
        for number in range(count + 1):
            along = self.width_m - number * step if from_right else number * step
            x, y = self.at((along, 0.0) if across else (0.0, number * step))
            longer = 1.8 if number % far == 0 else 1.0
            told = f"{number * step * unit:.0f}" if unit else f"{6 * number}"
            if across:
                self.line((x, edge + 0.8), (x, edge + 0.8 + longer))
                if number % far == 0:
                    self.text((x, edge + 5.4), told)
            else:
                self.line((LEFT_MM - 0.8, y), (LEFT_MM - 0.8 - longer, y))
                if number % far == 0:
                    self.text((LEFT_MM - 3.2, y + 1.0), told, anchor="end")

    def length(self, metres: float) -> str:
        """A length as it is measured: to the millimetre below 10 cm, else to half a centimetre."""
        return localised(show(metres, "m", self.reader), self.reader)

    def pieces(self, pieces: Sequence[tuple[PlacedPiece, Sequence[Ring], str]], move: Place) -> None:
        """Outlines one over the other in their order, then their numbers."""
        self.outlines(pieces, move)
        self.numbers([(piece, [move(point) for ring in rings for point in ring]) for piece, rings, _ in pieces])

    def outlines(self, pieces: Sequence[tuple[PlacedPiece, Sequence[Ring], str]], move: Place) -> None:
        """Outlines one over the other in their order."""
        for piece, rings, fill in pieces:
            style = f'fill="{fill}" fill-rule="evenodd" stroke="black" stroke-width="{LINE}" stroke-linejoin="round"'
            if piece.kind == "wood" and fill == WOOD:
                style = style.replace(f'fill="{fill}"', 'fill="url(#grain)"', 1)
            self.path([[move(point) for point in ring] for ring in rings], style)

    def circle(self, at: Point, number: int) -> None:
        """A number in a circle, at a place on the sheet."""
        self.parts.append(
            f'<circle cx="{at[0]:.2f}" cy="{at[1]:.2f}" r="{CIRCLE_MM}" fill="white" stroke="black" '
            f'stroke-width="{LINE}"/><text x="{at[0]:.2f}" y="{at[1] + 0.36 * NUMBER_MM:.2f}" '
            f'font-size="{NUMBER_MM}" font-weight="bold" text-anchor="middle">{number}</text>'
        )

    def numbers(self, pieces: Sequence[tuple[PlacedPiece, Sequence[Point]]]) -> None:
        """The number of each piece over its outline, and its mass where there is room."""
        wanted, wide = [], []
        for _, points in pieces:
            xs, ys = zip(*(self.at(point) for point in points), strict=True)
            wanted.append(((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2))
            wide.append(min(max(xs) - min(xs), 1.6 * (max(ys) - min(ys))) >= MASS_FROM_MM)
        low = (LEFT_MM + CIRCLE_MM, TOP_MM + CIRCLE_MM)
        high = (self.width_mm - RIGHT_MM - CIRCLE_MM, self.height_mm - FOOT_MM - CIRCLE_MM)
        places = apart(wanted, low, high)
        taken: list[Point] = []
        for (piece, _), at, want, room in zip(pieces, places, wanted, wide, strict=True):
            below = (at[0], at[1] + CIRCLE_MM + 0.5 * SMALL_MM)
            free = all(
                abs(below[0] - other[0]) > 5.5 + CIRCLE_MM or abs(below[1] - other[1]) > CIRCLE_MM + 0.5 * SMALL_MM
                for other in places
                if other != at
            ) and all(abs(below[0] - x) > 11 or abs(below[1] - y) > SMALL_MM for x, y in taken)
            if (at[0] - want[0]) ** 2 + (at[1] - want[1]) ** 2 > CIRCLE_MM**2:
                self.line(at, want, f'stroke-width="{THIN}"')
                self.parts.append(f'<circle cx="{want[0]:.2f}" cy="{want[1]:.2f}" r="0.5"/>')
            elif room and free:
                taken.append(below)
                mass = localised(show(piece.mass_kg, "kg", self.reader), self.reader)
                self.text((at[0], at[1] + CIRCLE_MM + SMALL_MM), mass)
            self.circle(at, piece.number)

    def svg(self, title: str) -> str:
        """The whole drawing, with its scale and a bar of 10 cm at the foot."""
        y = self.height_mm - 2.6
        step = 0.1 if self.reader.units == "metric" else convert(6, "in", "m")
        told = say("sheet.layout.scale", {"scale": self.scale}, self.reader)
        self.text(
            (LEFT_MM, y),
            f"{told} · {say('sheet.layout.ruler', {'step': self.length(step)}, self.reader)}",
            anchor="start",
        )
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width_mm:.1f} {self.height_mm:.1f}" '
            f'width="{self.width_mm:.1f}mm" height="{self.height_mm:.1f}mm" font-family="{FONT}">'
            f"<title>{escape(title)}</title><defs>"
            f'<pattern id="grain" width="1.2" height="1.2" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate(45)"><rect width="1.2" height="1.2" fill="white"/>'
            f'<line x1="0" y1="0" x2="0" y2="1.2" stroke="#808080" stroke-width="0.3"/></pattern>'
            f"</defs>{''.join(self.parts)}</svg>\n"
        )

    def drawn(self, file: str, title: str) -> Drawing:
        """Finished."""
        return Drawing(file, self.svg(title), self.scale, round(self.width_mm, 1), round(self.height_mm, 1))


def apart(wanted: Sequence[Point], low: Point, high: Point) -> list[Point]:
    """Places near those wanted at which circles do not cover each other, as far as there is room.

    Parameters
    ----------
    wanted : sequence of points
        [mm].
    low, high : points
        Between which they are to lie.
    """
    found = [(min(max(x, low[0]), high[0]), min(max(y, low[1]), high[1])) for x, y in wanted]
    for _ in range(60):
        moved = False
        for one in range(len(found)):
            for other in range(one):
                (x0, y0), (x1, y1) = found[one], found[other]
                gap = ((x0 - x1) ** 2 + (y0 - y1) ** 2) ** 0.5
                if gap >= APART_MM - 1e-9:
                    continue
                moved = True
                # Two at one place part along a direction that differs from pair to pair.
                dx, dy = ((x0 - x1) / gap, (y0 - y1) / gap) if gap > 1e-6 else (0.8, 0.6 if one % 2 else -0.6)
                step = (APART_MM - gap) / 2 + 0.05
                for place, (x, y), sign in ((one, (x0, y0), 1), (other, (x1, y1), -1)):
                    found[place] = (
                        min(max(x + sign * step * dx, low[0]), high[0]),
                        min(max(y + sign * step * dy, low[1]), high[1]),
                    )
        if not moved:
            break
    return found


# ---------------------------------------------------------------- from above


def fill_of(piece: PlacedPiece) -> str:
    """Wood is hatched, stone is grey."""
    return WOOD if piece.kind == "wood" else STONE


def _plan(layout: LayoutResult, scale: int, reader: Reader) -> Drawing:
    length, width = _size(layout)
    left, front = min(x for x, _ in layout.corners_m), min(y for _, y in layout.corners_m)
    sheet = Sheet(length, width, scale, reader)

    def move(point: Point) -> Point:
        return point[0] - left, point[1] - front

    outline = [[move(corner) for corner in layout.corners_m]]
    wall = 2 * layout.wall_m * sheet.mm
    sheet.path(outline, f'fill="none" stroke="black" stroke-width="{wall + 2 * LINE:.2f}" stroke-linejoin="miter"')
    sheet.path(outline, f'fill="none" stroke="#f4f4f4" stroke-width="{wall:.2f}" stroke-linejoin="miter"')
    sheet.path(outline, f'fill="white" stroke="black" stroke-width="{LINE}"')
    _contours(sheet, layout, move)
    for line in layout.retainers_m:
        for one, other in pairwise(line):
            sheet.line(sheet.at(move(one)), sheet.at(move(other)), f'stroke-width="{STRIP}" stroke-dasharray="1.6 0.8"')
    _cut_lines(sheet, layout, left, front)
    rising = sorted(layout.pieces, key=lambda piece: piece.high_m)
    sheet.pieces([(piece, piece.above, fill_of(piece)) for piece in rising], move)
    sheet.ruler(across=True)
    sheet.ruler(across=False)
    foot = TOP_MM + width * sheet.mm
    sheet.across(0, length, foot + 10.5)
    sheet.up(0, width, LEFT_MM + length * sheet.mm + 9.0)
    tell_sides(sheet, _seen(layout), foot)
    return sheet.drawn("layout-plan.svg", say("figure.layout_plan.title", {}, reader))


def tell_sides(sheet: Sheet, public_sides: Sequence[str], foot: float) -> None:
    """Which panes the public looks through; a mark at each."""
    told = say("sheet.layout.public", {}, sheet.reader)
    middle_y = (TOP_MM + foot) / 2
    right = LEFT_MM + sheet.width_m * sheet.mm
    for side, at, upright in (
        ("front", (right - 11.0, foot + 9.6), False),
        ("rear", (right - 14.0, TOP_MM - 3.2), False),
        ("left", (LEFT_MM - 8.8, middle_y), True),
        ("right", (right + 14.0, middle_y), True),
    ):
        if side in public_sides:
            sheet.text(at, f"{say(f'sheet.layout.side_{side}', {}, sheet.reader)}: {told}", upright=upright)


def _cut_lines(sheet: Sheet, layout: LayoutResult, left: float, front: float) -> None:
    for section, letter in zip(layout.sections, "AB", strict=False):
        if section.along == "long":
            y = sheet.at((0, section.at_m - front))[1]
            ends = ((LEFT_MM - 2, y), (LEFT_MM + sheet.width_m * sheet.mm + 2, y))
            marks = ((ends[1][0] + 1.4, y + 1.0),)
        else:
            x = sheet.at((section.at_m - left, 0))[0]
            ends = ((x, TOP_MM - 2), (x, TOP_MM + sheet.height_m * sheet.mm + 2))
            marks = ((x + 2.4, TOP_MM - 2.6),)
        sheet.line(*ends, f'stroke-width="{THIN}" stroke-dasharray="4 1 0.6 1"')
        for mark in marks:
            sheet.text(mark, letter, size=NUMBER_MM)


def _contours(sheet: Sheet, layout: LayoutResult, move: Place) -> None:
    """Lines of equal height of the bed, 2 cm or an inch apart, with their heights."""
    step = 0.02 if sheet.reader.units == "metric" else convert(1, "in", "m")
    highest = max(max(row) for row in layout.bed_m)
    for number in range(1, int(highest / step - 1e-6) + 1):
        segments = contour(layout.x_m, layout.y_m, layout.bed_m, number * step)
        if not segments:
            continue
        told = " ".join(
            "M" + " L".join(f"{x:.2f},{y:.2f}" for x, y in (sheet.at(move(one)), sheet.at(move(other))))
            for one, other in segments
        )
        sheet.parts.append(f'<path d="{told}" fill="none" stroke="#808080" stroke-width="{THIN}"/>')
        # At the left end of the line, where pieces hide it least.
        one, other = min(segments, key=lambda ends: ends[0][0] + ends[1][0])
        x, y = sheet.at(move(((one[0] + other[0]) / 2, (one[1] + other[1]) / 2)))
        sheet.text((x + 5.0, y + 0.9), sheet.length(number * step), size=2.4)


def contour(
    x_m: Sequence[float], y_m: Sequence[float], height_m: Sequence[Sequence[float]], level_m: float
) -> list[tuple[Point, Point]]:
    """The line of one height on a grid, as pieces of it; each cell is cut as the bed's triangles are."""
    found = []
    for j in range(len(y_m) - 1):
        for i in range(len(x_m) - 1):
            low, right = (x_m[i], y_m[j], height_m[j][i]), (x_m[i + 1], y_m[j], height_m[j][i + 1])
            far, rear = (x_m[i + 1], y_m[j + 1], height_m[j + 1][i + 1]), (x_m[i], y_m[j + 1], height_m[j + 1][i])
            for corners in ((low, right, far), (low, far, rear)):
                ends = []
                for (x0, y0, z0), (x1, y1, z1) in zip(corners, (*corners[1:], corners[0]), strict=True):
                    if (z0 < level_m) != (z1 < level_m):
                        part = (level_m - z0) / (z1 - z0)
                        ends.append((x0 + part * (x1 - x0), y0 + part * (y1 - y0)))
                if len(ends) == 2:
                    found.append((ends[0], ends[1]))
    return found


# ---------------------------------------------------------------- from a side, and cut


def _looking(layout: LayoutResult, side: str) -> tuple[float, Callable[[float], float], Callable[[PlacedPiece], float]]:
    """Width as seen, from a place along the pane to the looker's right, and how far behind the pane a piece stands."""
    length, width = _size(layout)
    left, front = min(x for x, _ in layout.corners_m), min(y for _, y in layout.corners_m)
    looks: Mapping[str, tuple[float, Callable[[float], float], Callable[[PlacedPiece], float]]] = {
        "front": (length, lambda x: x - left, lambda piece: piece.middle_m[1] - front),
        "rear": (length, lambda x: left + length - x, lambda piece: front + width - piece.middle_m[1]),
        "left": (width, lambda y: front + width - y, lambda piece: piece.middle_m[0] - left),
        "right": (width, lambda y: y - front, lambda piece: left + length - piece.middle_m[0]),
    }
    return looks[side]


def _view(layout: LayoutResult, side: str, scale: int, reader: Reader) -> Drawing:
    width, along, behind = _looking(layout, side)
    sheet = Sheet(width, _headroom_m(layout), scale, reader)

    def move(point: Point) -> Point:
        return along(point[0]), point[1]

    _glass(sheet, layout)
    axis, rows = (layout.x_m, layout.bed_m) if side in ("front", "rear") else (layout.y_m, _turned(layout.bed_m))
    skyline = tuple(zip(axis, (max(heights) for heights in zip(*rows, strict=True)), strict=True))
    _soil(sheet, skyline, move, FAR_SOIL)
    rings = "front" if side in ("front", "rear") else "left"
    far_first = [(piece, getattr(piece, rings)) for piece in sorted(layout.pieces, key=behind, reverse=True)]
    sheet.outlines([(piece, told, fill_of(piece)) for piece, told in far_first], move)
    _soil(sheet, layout.at_glass_m[side], move, SOIL, over=True)
    sheet.numbers([(piece, [move(point) for ring in told for point in ring]) for piece, told in far_first])
    _water_line(sheet, layout)
    _heights(sheet, layout)
    sheet.ruler(across=True, from_right=side in ("rear", "left"))
    sheet.ruler(across=False)
    sheet.across(0, width, TOP_MM + sheet.height_m * sheet.mm + 10.5)
    return sheet.drawn(f"layout-{side}.svg", say(f"figure.layout_{side}.title", {}, reader))


def _headroom_m(layout: LayoutResult) -> float:
    """To the rim, or to the highest piece where one stands out."""
    return max(layout.height_m, *(piece.high_m for piece in layout.pieces), 0.0)


def _turned(rows: Sequence[Sequence[float]]) -> tuple[tuple[float, ...], ...]:
    return tuple(zip(*rows, strict=True))


def _glass(sheet: Sheet, layout: LayoutResult) -> None:
    wall = layout.wall_m
    for low, high in ((-wall, 0.0), (sheet.width_m, sheet.width_m + wall)):
        sheet.path(
            [[(low, -wall), (high, -wall), (high, layout.height_m), (low, layout.height_m)]],
            f'fill="#f4f4f4" stroke="black" stroke-width="{LINE}"',
        )
    sheet.path(
        [[(0.0, -wall), (sheet.width_m, -wall), (sheet.width_m, 0.0), (0.0, 0.0)]],
        f'fill="#f4f4f4" stroke="black" stroke-width="{LINE}"',
    )


def _soil(sheet: Sheet, top: Sequence[Point], move: Place, fill: str, *, over: bool = False) -> None:
    """The bed below a line; before what stands in it, or over it where it lies at the pane that is looked through."""
    ring = [move(point) for point in top]
    foot = [(ring[-1][0], 0.0), (ring[0][0], 0.0)]
    clear = ' fill-opacity="0.85"' if over else ""
    sheet.path([[*ring, *foot]], f'fill="{fill}"{clear} stroke="black" stroke-width="{THIN}"')


def _water_line(sheet: Sheet, layout: LayoutResult) -> None:
    one, other = sheet.at((0, layout.water_line_m)), sheet.at((sheet.width_m, layout.water_line_m))
    sheet.line(one, other, f'stroke-width="{LINE}" stroke-dasharray="{DASH}"')


def _heights(sheet: Sheet, layout: LayoutResult) -> None:
    """Rim and water line on the right, and how far the highest piece lies below the water."""
    right = LEFT_MM + sheet.width_m * sheet.mm
    sheet.up(0, layout.water_line_m, right + 5.5)
    sheet.up(0, layout.height_m, right + 10.0)
    highest = max((piece.high_m for piece in layout.pieces), default=0.0)
    if highest > 0:
        sheet.up(0, highest, right + 14.5)


def _section(layout: LayoutResult, section: Section, scale: int, reader: Reader) -> Drawing:
    long = section.along == "long"
    # Seen from the front, or from the left with the rear at the looker's left.
    width, along, behind = _looking(layout, "front" if long else "left")
    sheet = Sheet(width, _headroom_m(layout), scale, reader)

    def move(point: Point) -> Point:
        return along(point[0]), point[1]

    _glass(sheet, layout)
    here = {item.number: item.rings for item in section.pieces}
    length, breadth = _size(layout)
    middle = (breadth if long else length) / 2
    for piece in layout.pieces:
        if piece.number not in here and behind(piece) > middle:
            rings = piece.front if long else piece.left
            sheet.path(
                [[move(point) for point in ring] for ring in rings],
                f'fill="none" stroke="#808080" stroke-width="{THIN}"',
            )
    _soil(sheet, section.bed_m, move, SOIL)
    if any(height > 0 for _, height in section.base_m):
        ring = [move(point) for point in section.base_m]
        sheet.path(
            [[*ring, (ring[-1][0], 0.0), (ring[0][0], 0.0)]],
            f'fill="{BASE}" stroke="black" stroke-width="{THIN}" stroke-dasharray="1.6 1"',
        )
    sheet.pieces([(piece, here[piece.number], CUT) for piece in layout.pieces if piece.number in here], move)
    _water_line(sheet, layout)
    _heights(sheet, layout)
    sheet.ruler(across=True, from_right=not long)
    sheet.ruler(across=False)
    sheet.across(0, width, TOP_MM + sheet.height_m * sheet.mm + 10.5)
    letter = "A" if long else "B"
    sheet.text((LEFT_MM + width * sheet.mm / 2, TOP_MM - 3.0), f"{letter} – {letter}", size=NUMBER_MM)
    return sheet.drawn(f"layout-{section.along}.svg", say(f"figure.layout_{section.along}.title", {}, reader))
