"""What the layout room hands on: the bed as a grid, its layers and its slopes."""

from __future__ import annotations

from slackwater.frozen import Frozen


class Layer(Frozen):
    """One material of the bed as laid: litres poured, and the bags that takes."""

    role: str
    """base, soil, top or bay."""
    material: str
    bulk_l: float
    """Litres in place."""
    order_l: float
    """Litres to have: less stone bedding, plus settling."""
    bag_l: float | None
    bags: int | None
    """Whole bags to have, stock on hand included."""
    solids_l: float
    pore_l: float
    dry_mass_kg: float


class BedResult(Frozen):
    """The bed that the job file asks for."""

    x_m: tuple[float, ...]
    y_m: tuple[float, ...]
    depth_m: tuple[tuple[float, ...], ...]
    """Bed height above the bottom glass, one row for each y."""
    base_depth_m: tuple[tuple[float, ...], ...]
    """Height of the base layer under it, same grid."""
    bulk_l: float
    mean_depth_m: float
    highest_m: float
    steepest_deg: float
    repose_deg: float | None
    layers: tuple[Layer, ...]
    solids_l: float
    pore_l: float
