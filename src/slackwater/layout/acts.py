"""The acts of a hand on a layout, as they are told: what each one says and within what bounds. `editing` does them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from slackwater.frozen import Frozen

BURIAL_SHARE = 0.12
"""Share of its height by which a piece is pressed into the soil; common practice, no source."""

Coordinate = Annotated[float, Field(ge=-20, le=20, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Number = Annotated[int, Field(ge=1, le=9999)]
Unit = Annotated[float, Field(ge=-2, le=2, allow_inf_nan=False)]
Turn = tuple[Unit, Unit, Unit, Unit]


class Place(Frozen):
    """A piece on hand set into the tank with its centre over a point, and lowered; it gets the next free number."""

    act: Literal["place"]
    piece: str
    x_m: Coordinate
    y_m: Coordinate
    burial_share: Share = BURIAL_SHARE


class Put(Frozen):
    """A placed piece put exactly so."""

    act: Literal["put"]
    number: Number
    position_m: tuple[Coordinate, Coordinate, Coordinate]
    turn: Turn


class Lower(Frozen):
    """A placed piece lowered onto what is below it, without turning, and pressed into the soil."""

    act: Literal["lower"]
    number: Number
    burial_share: Share = BURIAL_SHARE


class Swap(Frozen):
    """Another piece on hand in the place of a placed one, centre over centre, and lowered."""

    act: Literal["swap"]
    number: Number
    piece: str
    burial_share: Share = BURIAL_SHARE


class TakeOut(Frozen):
    """A placed piece back to those on hand."""

    act: Literal["take_out"]
    number: Number


class Lock(Frozen):
    """A placed piece that proposals leave where it is."""

    act: Literal["lock"]
    number: Number


class Unlock(Frozen):
    """A placed piece that proposals may move again."""

    act: Literal["unlock"]
    number: Number


class Shape(Frozen):
    """One stroke over the bed."""

    act: Literal["shape"]
    stroke: Literal["raise", "lower", "smooth", "ridge", "mound", "gable"]
    """As in `ground.Stroke`."""
    line_m: Annotated[tuple[tuple[Coordinate, Coordinate], ...], Field(min_length=1, max_length=500)]
    radius_m: Annotated[float, Field(ge=0.005, le=5, allow_inf_nan=False)] = 0.1
    height_m: Annotated[float, Field(ge=0, le=2, allow_inf_nan=False)] = 0.01
    edge_m: Annotated[float, Field(ge=0, le=2, allow_inf_nan=False)] = 0.0


class Rest(Frozen):
    """The soil slides until no slope is steeper than its angle of repose; what stands in it holds it."""

    act: Literal["rest"]


class Clear(Frozen):
    """All pieces but locked ones back to those on hand."""

    act: Literal["clear"]


Edit = Annotated[
    Place | Put | Lower | Swap | TakeOut | Lock | Unlock | Shape | Rest | Clear, Field(discriminator="act")
]
