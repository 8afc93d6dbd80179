"""What the light room hands on: the bed by cells, each with its light and how sure that is, and the weeks ahead."""

from __future__ import annotations

from slackwater.frozen import Frozen

Grid = tuple[tuple[float | None, ...], ...]
"""One row for each y, from the front; None where a cell holds no free bed."""


class LightWeek(Frozen):
    """One week after the planting."""

    week: int
    hours: float
    """Light a day."""
    share: float
    """Of the lamps' full light."""
    leaf_area: float
    """Square metres of leaf for each of bed."""
    below_umol_m2_s: float
    """Mean on the bed below the leaves, with that share of the light."""
    daily_mol_m2: float
    """Mean at the lowest sensors in a day, with that share and those hours."""


class PlantLight(Frozen):
    """A plant of the job and the light that it finds."""

    plant: str
    name: str
    needs_umol_m2_s: float
    has_share: float
    """Share of the free bed that has it, with all lamps on."""
    needs_m2: float
    """What its pots cover when planted."""
    has_m2: float


class LightResult(Frozen):
    """The light of a tank with all its lamps on."""

    x_m: tuple[float, ...]
    y_m: tuple[float, ...]
    """Middles of the cells."""
    leaves_m: float
    """Height over the bed of the upper level sensors."""
    on_soil: Grid
    """On the soil by its own slope [µmol/m²/s]."""
    low: Grid
    """On a level meter 1 cm over the bed [µmol/m²/s]."""
    low_error: Grid
    """Its standard error."""
    high: Grid
    """On a level meter at the height of leaves."""
    skylight: Grid
    """1 cm over the bed at midday, by a skylight alone; empty where there is none."""
    mean_umol_m2_s: float
    """Of `low`, over the free bed."""
    dark_umol_m2_s: float
    bright_umol_m2_s: float
    """A tenth of the free bed has less, or more."""
    range_low: float
    range_high: float
    """Factors on all figures that what was not told leaves open, 5 and 95 %."""
    sent_umol_s: float
    sinks: dict[str, float]
    bands: tuple[float, ...]
    noise: float
    photons: int
    attenuation_per_m: float
    weeks: tuple[LightWeek, ...]
    plants: tuple[PlantLight, ...]
