"""What the tank room hands on: shape, volumes, and loads by state of the day."""

from __future__ import annotations

from slackwater.frozen import Frozen


class TankShape(Frozen):
    """The inside of the tank. Origin: front left bottom corner inside the glass; x right, y to the rear, z up."""

    corners_m: tuple[tuple[float, float], ...]
    length_m: float
    width_m: float
    height_m: float
    water_line_m: float
    footprint_m2: float
    inner_glass_m2: float
    """Inner faces of all walls, from the bottom to the rim."""
    gross_l: float
    """Empty tank filled to the water line."""
    rim_l: float
    """Empty tank filled to the rim."""
    work_places: int
    """People who can work in the tank at the same time."""

    @property
    def drained_glass_m2(self) -> float:
        """What lies bare when the tank is stripped: all walls and the bottom."""
        return self.inner_glass_m2 + self.footprint_m2


class Volumes(Frozen):
    """Litres in the finished tank; solids and water add up to the gross volume."""

    gross_l: float
    soil_solids_l: float
    hardscape_l: float
    pore_water_l: float
    """Water between the grains of the bed."""
    free_water_l: float
    """Water above the bed."""
    net_l: float
    """All the water: free and between the grains."""


class LoadItem(Frozen):
    """One mass that stands on a patch of floor."""

    what: str
    mass_kg: float


class LoadState(Frozen):
    """What the floor carries at one step of the day."""

    state: str
    """Id of the step: before, drained, stripped, built, refilled, barrel:<container>."""
    where: str
    """tank or beside."""
    items: tuple[LoadItem, ...]
    mass_kg: float
    footprint_m2: float
    pressure_kn_m2: float
    limit_kn_m2: float | None
    source: str


class Lift(Frozen):
    """One heavy object against carrying guidance."""

    what: str
    mass_kg: float
    lifting_index: float
    """Mass over what the equation recommends for this lift by one person; above 1 two people."""
    people: int
    """People that the guidance asks for."""
    guidance: str


class Loads(Frozen):
    """All loads of the day."""

    states: tuple[LoadState, ...]
    lifts: tuple[Lift, ...]
    glass_stress_mpa: float | None = None
