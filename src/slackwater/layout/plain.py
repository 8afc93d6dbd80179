"""What changes from touch to touch of a layout, as plain text: where pieces stand, and the heights of the bed.

Glass and pieces are not in it: they come from the job or a saved scene, and a place names its piece by key.
"""

from __future__ import annotations

import base64
import zlib
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from slackwater.errors import BadInput
from slackwater.layout.scene import Bay, Bed, Cap, Floats, Joint, Layout, Placement, Retainer

FORMAT = 1


def packed(heights_m: Floats) -> str:
    """Heights as text, bit by bit."""
    return base64.b64encode(zlib.compress(np.ascontiguousarray(heights_m, dtype="<f8").tobytes(), 6)).decode("ascii")


def unpacked(text: str, shape: tuple[int, int]) -> Floats:
    """Heights from their text.

    Raises
    ------
    BadInput
        If they are not as many as the shape says.
    """
    try:
        found = np.frombuffer(zlib.decompress(base64.b64decode(text)), dtype="<f8")
        return found.reshape(shape).astype(np.float64)
    except (ValueError, zlib.error) as error:
        raise BadInput(f"the heights of the bed cannot be read: {error}") from error


def to_plain(layout: Layout) -> dict[str, Any]:
    """Places and bed of a layout."""
    bed = layout.bed
    return {
        "format": FORMAT,
        "placements": [
            [item.number, item.piece, list(item.position_m), list(item.turn), item.locked] for item in layout.placements
        ],
        "joints": [[joint.one, joint.other, list(joint.at_m)] for joint in layout.joints],
        "ballast_kg": {str(number): kg for number, kg in layout.ballast_kg.items()},
        "bed": {
            "x_m": [float(bed.x_m[0]), float(bed.x_m[-1]), len(bed.x_m)],
            "y_m": [float(bed.y_m[0]), float(bed.y_m[-1]), len(bed.y_m)],
            "top_m": packed(bed.top_m),
            "base_m": packed(bed.base_m),
            "soil": bed.soil,
            "base": bed.base,
            "repose_deg": bed.repose_deg,
            "bays": [[[list(point) for point in bay.outline_m], bay.material] for bay in bed.bays],
            "retainers": [[[list(point) for point in strip.line_m], strip.top_m] for strip in bed.retainers],
            "cap": None if bed.cap is None else [bed.cap.material, bed.cap.depth_m, bed.cap.share],
        },
    }


def from_plain(told: Mapping[str, Any], base: Layout) -> tuple[Layout, tuple[str, ...]]:
    """A layout from its places and bed.

    Parameters
    ----------
    told : mapping
        As `to_plain` writes it.
    base : Layout
        Gives glass and pieces.

    Returns
    -------
    layout, gone
        `gone` are keys of pieces that the base no longer has; they are left out.

    Raises
    ------
    BadInput
        If it is of a later format or cannot be read.
    """
    if told.get("format") != FORMAT:
        raise BadInput("this layout was written by a later version of the program")
    try:
        bed = _bed(told["bed"])
        placements = tuple(
            Placement(number, piece, _three(position), _four(turn), locked)
            for number, piece, position, turn, locked in told["placements"]
        )
        joints = tuple(Joint(one, other, _three(at)) for one, other, at in told["joints"])
        ballast = {int(number): float(kg) for number, kg in told["ballast_kg"].items()}
    except (KeyError, TypeError, ValueError) as error:
        raise BadInput(f"this layout cannot be read: {error}") from error
    layout = replace(base, bed=bed, placements=placements, joints=joints, ballast_kg=ballast)
    lost = [item for item in placements if item.piece not in base.pieces]
    for item in lost:
        layout = layout.without(item.number)
    return layout, tuple(dict.fromkeys(item.piece for item in lost))


def _three(values: Any) -> tuple[float, float, float]:
    x, y, z = (float(value) for value in values)
    return x, y, z


def _four(values: Any) -> tuple[float, float, float, float]:
    w, x, y, z = (float(value) for value in values)
    return w, x, y, z


def _points(values: Any) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in values)


def _bed(told: Mapping[str, Any]) -> Bed:
    x_m, y_m = np.linspace(*told["x_m"]), np.linspace(*told["y_m"])
    shape = len(y_m), len(x_m)
    return Bed(
        x_m=x_m,
        y_m=y_m,
        top_m=unpacked(told["top_m"], shape),
        base_m=unpacked(told["base_m"], shape),
        soil=told["soil"],
        base=told["base"],
        repose_deg=told["repose_deg"],
        bays=tuple(Bay(_points(outline), material) for outline, material in told["bays"]),
        retainers=tuple(Retainer(_points(line), float(top)) for line, top in told["retainers"]),
        cap=None if told.get("cap") is None else _cap(*told["cap"]),
    )


def _cap(material: str, depth_m: float, share: float) -> Cap:
    return Cap(material=str(material), depth_m=float(depth_m), share=float(share))
