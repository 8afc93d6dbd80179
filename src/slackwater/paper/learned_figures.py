"""What past jobs took against their plans, job by job: a drawing with the band of the next job, and the same as a table."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from html import escape

from slackwater.paper.figures import FONT

WIDTH, LEFT, ROOM = 480, 60, 404
HEAD, HIGH, FOOT = 14, 180, 34
"""Of the drawing, its numbers on the left, the room for jobs; above, of, and below the field [px]."""
STEPS = (0.2, 0.25, 0.33, 0.5, 0.67, 0.8, 1.0, 1.25, 1.5, 2.0, 3.0, 4.0, 5.0)
"""Ratios that lines are drawn at: about evenly far apart, since half as long is as far off as twice as long."""
FEW_DATES = 4
"""So many dates have room below."""


@dataclass(frozen=True)
class RatioPoint:
    """One job.

    Attributes
    ----------
    on : date
    ratio : float
        What it took against its plan.
    is_far : bool
        It was pulled in to the others.
    """

    on: date
    ratio: float
    is_far: bool


def ratio_svg(points: Sequence[RatioPoint], *, factor: float, band: tuple[float, float]) -> str:
    """Jobs in their order left to right, on a scale on which twice and half are equally far from 1.

    Grey is where the next job lies in 90 of 100 cases, the line its middle, dashed the plan itself; a job that counts less,
    because it lies far from the others, is an open dot.

    Written here and not by the drawer of the papers' charts: that holds up the whole process for half a second (see
    `tested_figures`), and this is drawn while a page is asked for.
    """
    shown = [*(point.ratio for point in points), *band, 1.0]
    low = max((step for step in STEPS if step <= min(shown)), default=STEPS[0])
    high = min((step for step in STEPS if step >= max(shown)), default=STEPS[-1])
    if low == high:
        low, high = low * 0.8, high * 1.25
    bottom, span = HEAD + HIGH, math.log(high / low)

    def down(ratio: float) -> float:
        inside = min(max(ratio, low), high)
        return bottom - HIGH * math.log(inside / low) / span

    height = bottom + FOOT
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{height}" viewBox="0 0 {WIDTH} {height}" '
        'aria-hidden="true" focusable="false">'
        f'<rect width="{WIDTH}" height="{height}" fill="white"/><g font-family="{FONT}" font-size="18" fill="black">',
        f'<rect x="{LEFT}" y="{down(band[1]):.1f}" width="{ROOM}" height="{down(band[0]) - down(band[1]):.1f}" '
        'fill="#dddddd"/>',
    ]
    free = bottom + 99.0
    for step in STEPS:
        if low <= step <= high:
            y = down(step)
            parts.append(f'<path d="M{LEFT} {y:.1f}H{LEFT + ROOM}" stroke="#bbbbbb" fill="none"/>')
            # Numbers that would touch the one below are left out; that of the plan itself never.
            if free - y >= 20 or step == 1.0:
                parts.append(f'<text x="{LEFT - 8}" y="{y + 6:.1f}" text-anchor="end">{step:g}</text>')
                free = y
    parts.append(
        f'<path d="M{LEFT} {down(1):.1f}H{LEFT + ROOM}" stroke="black" stroke-dasharray="6 4" fill="none"/>'
        f'<path d="M{LEFT} {down(factor):.1f}H{LEFT + ROOM}" stroke="black" stroke-width="2.5" fill="none"/>'
    )
    apart = ROOM / len(points)
    across = [LEFT + apart * (number + 0.5) for number in range(len(points))]
    every = -(-len(points) // FEW_DATES)
    for number, (x, point) in enumerate(zip(across, points, strict=True)):
        fill = "white" if point.is_far else "black"
        parts.append(
            f'<circle cx="{x:.1f}" cy="{down(point.ratio):.1f}" r="5" fill="{fill}" stroke="black" stroke-width="2"/>'
        )
        if number % every == 0:
            told = escape(f"{point.on:%d %b %y}" if len(points) <= 3 else f"{point.on:%b %y}")
            parts.append(f'<text x="{x:.1f}" y="{bottom + 24}" text-anchor="middle">{told}</text>')
    return "".join([*parts, "</g></svg>"])
