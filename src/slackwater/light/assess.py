"""The light's stage: the map of the bed, its figures with their bands, and what speaks against lamps, water or plants."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import exp

import numpy as np

from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Severity
from slackwater.job.catalog import Catalog, Plant
from slackwater.job.model import Job, Light
from slackwater.layout.scene import Floats, Glass, Layout
from slackwater.light.ahead import GROWTH_PER_D, below_canopy, leaf_area_after
from slackwater.light.hung import EFFICACY_UMOL_J, MEMORY, Hung, hung
from slackwater.light.ies import Photometry
from slackwater.light.lamps import Emitter
from slackwater.light.photons import FINAL, Effort, Ready, Traced, blurred, ready, traced
from slackwater.light.ramp import USUAL_HOURS, ramp
from slackwater.light.result import Grid, LightResult, LightWeek, PlantLight
from slackwater.stage import Stage

LOW_M, HIGH_M = 0.01, 0.10
"""Heights of the level sensors over the bed: where a carpet catches light, and where most leaves stand in the first weeks."""
ATTENUATION_PER_M: Mapping[str, tuple[float, float, float]] = {
    "clear": (0.2, 0.5, 1.2),
    "tea": (1.0, 2.0, 4.0),
    "dark": (3.0, 5.0, 9.0),
}
"""Of tank water by its look: low, usual, high [1/m]; from memory."""
DARK_WATER_SHARE = 0.3
"""Of the light that comes through the surface, what straight water must let through to the bed; below it is told."""
SHOWN_CELL_M = 0.02
WEEKS = 12
TRACED = "photons followed one by one through surface, water and panes to soil, stone and wood, with the straight paths by Snell's law"
SOURCE = "Fresnel, Snell, Pope & Fry 1997; tint and dust of the water from memory"


def assess_light(
    job: Job,
    catalog: Catalog,
    layout: Layout,
    *,
    files: Mapping[str, Photometry] | None = None,
    unread: Mapping[str, str] | None = None,
    effort: Effort = FINAL,
    workers: int = 2,
    on_progress: Callable[[float], None] = lambda _: None,
) -> Stage[LightResult]:
    """The light of a job over its layout.

    Parameters
    ----------
    job, catalog, layout
        What is known.
    files : mapping of str to Photometry or None
        Measured files of lamps, by their names.
    unread : mapping of str to str or None
        Those that could not be read, with the reason.
    effort : Effort
        When it is enough.
    workers : int
        Threads; they change nothing of the result.
    on_progress : callable
        Told the share that is done.
    """
    light = job.light or Light()
    if not light.lamps and light.skylight is None:
        return Stage(result=None, findings=(Finding(id="light.no_lamp", severity=Severity.NOTE),))
    told: list[Finding] = [
        Finding(id="light.file_unread", severity=Severity.CONDITION, about=name, values={"file": name, "reason": why})
        for name, why in (unread or {}).items()
    ]
    over = hung(light, layout.glass, files or {})
    low, usual, high = ATTENUATION_PER_M[light.water_colour or "clear"]
    assumed = list(over.assumed)
    if light.water_colour is None:
        assumed.append(Assumption(field="light.water_colour", value=f"clear, {usual:g} 1/m", source=MEMORY))
    sent = sum(lamp.flux_umol_s for lamp in (*over.lamps, *over.sky))
    if sent <= 0:
        told.append(Finding(id="light.lamp_zero", severity=Severity.CONDITION))
        return Stage(result=None, findings=tuple(told), assumed=tuple(assumed))
    scene = ready(layout, attenuation_per_m=usual, levels_m=(LOW_M, HIGH_M))
    lit = _of(scene, over.lamps, effort, job.seed, workers, on_progress)
    sky = _of(scene, over.sky, effort, job.seed, workers, on_progress) if over.sky else None
    # Without a lamp the skylight is what plants live by.
    lead = lit if lit is not None else sky
    assert lead is not None
    if not (np.nanmax(lead.sensed[0]) > 0 if np.isfinite(lead.sensed[0]).any() else False):
        told.append(Finding(id="light.none_arrives", severity=Severity.CONDITION))
        return Stage(result=None, findings=tuple(told), assumed=tuple(assumed))
    depth = _mean_depth_m(layout)
    result = _result(job, catalog, scene, lead, sky if lit is not None else None, usual, over, (low, high), depth)
    told += _findings(job, light, layout.glass, result, lead, depth, usual)
    return Stage(result=result, figures=_figures(result, over, light), findings=tuple(told), assumed=tuple(assumed))


def _of(
    scene: Ready,
    lamps: Sequence[Emitter],
    effort: Effort,
    seed: int,
    workers: int,
    on_progress: Callable[[float], None],
) -> Traced | None:
    if sum(lamp.flux_umol_s for lamp in lamps) <= 0:
        return None
    return traced(scene, lamps, effort=effort, seed=seed, workers=workers, on_progress=on_progress)


def _mean_depth_m(layout: Layout) -> float:
    return float(layout.glass.water_line_m - layout.bed.top_m.mean())


# ---------------------------------------------------------------- the result


def _merged(grid: Floats, areas: Floats, step: tuple[int, int]) -> Floats:
    """Means over blocks of cells, each by its free area."""
    rows, columns = (-(-size // by) for size, by in zip(grid.shape, step, strict=True))
    known = np.isfinite(grid)
    part = np.where(known, areas, 0.0)
    over, under = np.zeros((rows, columns)), np.zeros((rows, columns))
    at = np.arange(grid.shape[0])[:, None] // step[0], np.arange(grid.shape[1])[None, :] // step[1]
    np.add.at(over, at, np.where(known, grid, 0.0) * part)
    np.add.at(under, at, part)
    return np.where(under > 0, over / np.where(under > 0, under, 1.0), np.nan)


def _told(grid: Floats) -> Grid:
    """To three figures: more is noise."""
    return tuple(tuple(None if not np.isfinite(v) else float(f"{v:.3g}") for v in row) for row in grid)


def _result(
    job: Job,
    catalog: Catalog,
    scene: Ready,
    lit: Traced,
    sky: Traced | None,
    attenuation: float,
    over: Hung,
    water: tuple[float, float],
    depth: float,
) -> LightResult:
    step = tuple(max(1, round(SHOWN_CELL_M / float(axis[1] - axis[0]))) for axis in (lit.y_m, lit.x_m))
    low_area, high_area = scene.areas_m2
    smooth = lit.sensed
    if lit.noise > 0.05:
        smooth = np.array(
            [blurred(grid, area, cells=3.0 / 2) for grid, area in zip(lit.sensed, scene.areas_m2, strict=True)]
        )
    both = (step[0], step[1])
    low = _merged(smooth[0], low_area, both)
    counted = _merged(np.where(np.isfinite(lit.sensed_error[0]), lit.sensed_error[0] ** 2, np.nan), low_area, both)
    known = np.isfinite(lit.sensed[0])
    values, areas = smooth[0][known], low_area[known]
    order = np.argsort(values)
    rank = np.cumsum(areas[order]) / areas.sum()
    mean = float((values * areas).sum() / areas.sum())
    plants = _plants(job, catalog, smooth, low_area, high_area)
    # More or less loss on the mean way, which is a little longer than the water is deep.
    clearer, darker = (exp(1.15 * depth * (attenuation - other)) for other in water)
    # Independent causes, combined on the logarithms.
    down = exp(-float(np.hypot(np.log(over.low), np.log(darker))))
    up = exp(float(np.hypot(np.log(over.high), np.log(clearer))))
    return LightResult(
        x_m=tuple(round(float(v), 5) for v in _middles(lit.x_m, step[1])),
        y_m=tuple(round(float(v), 5) for v in _middles(lit.y_m, step[0])),
        leaves_m=HIGH_M,
        on_soil=_told(_merged(lit.landed, scene.soil_m2, both)),
        low=_told(low),
        low_error=_told(np.sqrt(counted / (both[0] * both[1]))),
        high=_told(_merged(smooth[1], high_area, both)),
        skylight=() if sky is None else _told(_merged(sky.sensed[0], low_area, both)),
        mean_umol_m2_s=mean,
        dark_umol_m2_s=float(values[order][np.searchsorted(rank, 0.1)]),
        bright_umol_m2_s=float(values[order][min(np.searchsorted(rank, 0.9), len(order) - 1)]),
        range_low=down,
        range_high=up,
        sent_umol_s=lit.flux_umol_s,
        sinks={name: round(share, 5) for name, share in lit.sinks.items()},
        bands=tuple(round(share, 4) for share in lit.bands),
        noise=lit.noise,
        photons=lit.photons,
        attenuation_per_m=attenuation,
        weeks=_weeks(job, catalog, mean),
        plants=plants,
    )


def _middles(axis: Floats, step: int) -> Floats:
    return np.array([axis[at : at + step].mean() for at in range(0, len(axis), step)])


def _rows_of(job: Job, catalog: Catalog) -> list[tuple[Plant, int]]:
    return [
        (catalog.plants[item.plant], item.units)
        for item in job.plants or ()
        if item.plant in catalog.plants and item.units > 0 and not item.undeliverable
    ]


def _plants(job: Job, catalog: Catalog, smooth: Floats, low_area: Floats, high_area: Floats) -> tuple[PlantLight, ...]:
    found = []
    for row, units in _rows_of(job, catalog):
        if row.position == "floating":
            continue
        level, area = (smooth[0], low_area) if row.position in ("carpet", "foreground") else (smooth[1], high_area)
        known = np.isfinite(level)
        free = float(area[known].sum())
        has = float(area[known & (level >= row.par_min_umol_m2_s)].sum())
        found.append(
            PlantLight(
                plant=row.id,
                name=row.scientific_name,
                needs_umol_m2_s=row.par_min_umol_m2_s,
                has_share=has / free if free > 0 else 0.0,
                needs_m2=units * row.cover_cm2_per_unit_at_planting / 1e4,
                has_m2=has,
            )
        )
    return tuple(found)


def _weeks(job: Job, catalog: Catalog, mean: float) -> tuple[LightWeek, ...]:
    rows = _rows_of(job, catalog)
    rates = [(GROWTH_PER_D.get(row.growth_rate, GROWTH_PER_D["medium"]), units) for row, units in rows]
    growth = sum(rate * units for rate, units in rates) / sum(units for _, units in rates) if rates else 0.0
    areas = [
        leaf_area_after(days=7 * week, growth_per_d=growth, light_umol_m2_s=mean) if rates else 0.0
        for week in range(WEEKS)
    ]
    hours = job.light.timer_hours if job.light is not None and job.light.timer_hours is not None else USUAL_HOURS
    return tuple(
        LightWeek(
            week=step.week,
            hours=step.hours,
            share=step.share,
            leaf_area=round(area, 3),
            below_umol_m2_s=below_canopy(light=step.share * mean, leaf_area=area),
            daily_mol_m2=step.share * mean * step.hours * 3600 / 1e6,
        )
        for step, area in zip(ramp(areas, hours=hours), areas, strict=True)
    )


# ---------------------------------------------------------------- findings


def _at(result: LightResult, x_m: float, y_m: float) -> float | None:
    i = min(range(len(result.x_m)), key=lambda n: abs(result.x_m[n] - x_m))
    j = min(range(len(result.y_m)), key=lambda n: abs(result.y_m[n] - y_m))
    return result.low[j][i]


def _findings(
    job: Job, light: Light, glass: Glass, result: LightResult, lit: Traced, depth: float, attenuation: float
) -> list[Finding]:
    found = []
    straight = exp(-attenuation * max(depth, 0.0))
    if straight < DARK_WATER_SHARE:
        found.append(
            Finding(
                id="light.dark_water",
                severity=Severity.CONDITION,
                values={"share_pct": round(100 * straight), "depth_m": depth},
            )
        )
    for plant in result.plants:
        if plant.has_m2 >= plant.needs_m2:
            continue
        # Where what was not told could bring the light, it is a question; where it could not, a matter to settle.
        values: dict[str, float | str] = {
            "plant": plant.name,
            "needs_umol": plant.needs_umol_m2_s,
            "share_pct": round(100 * plant.has_share),
            "needs_m2": plant.needs_m2,
            "has_m2": plant.has_m2,
        }
        found.append(
            Finding(id="light.too_dark_for", severity=Severity.CONDITION, about=plant.plant, values=values)
            if plant.needs_umol_m2_s > result.bright_umol_m2_s * result.range_high
            else Finding(id="light.dark_for", severity=Severity.NOTE, about=plant.plant, values=values)
        )
    x0, y0, x1, y1 = glass.box_m
    here = _at(result, (x0 + x1) / 2, (y0 + y1) / 2)
    reading = light.reading_umol_m2_s
    if reading is not None and here is not None and lit.flux_umol_s > 0:
        least, most = here * result.range_low, here * result.range_high
        if not least <= reading <= most:
            found.append(
                Finding(
                    id="light.reading_differs",
                    severity=Severity.CONDITION,
                    values={"reading_umol": reading, "least_umol": least, "most_umol": most, "here_umol": here},
                    margin=reading - (most if reading > most else least),
                    margin_unit="umol/m2/s",
                )
            )
    return found


def _figures(result: LightResult, over: Hung, light: Light) -> tuple[Figure, ...]:
    def figure(name: str, value: float, unit: str, formula: str, source: str = SOURCE, **inputs: float | str) -> Figure:
        banded = unit in ("umol/m2/s", "mol/m2")
        return Figure(
            id=f"light.{name}",
            value=value,
            unit=unit,
            low=value * result.range_low if banded else None,
            high=value * result.range_high if banded else None,
            formula=formula,
            source=source,
            inputs=inputs,
        )

    first, last = result.weeks[0], result.weeks[-1]
    return (
        figure(
            "bed_umol",
            result.mean_umol_m2_s,
            "umol/m2/s",
            f"mean over the free bed 1 cm above it; {TRACED}",
            sent_umol_s=round(result.sent_umol_s, 1),
            attenuation_per_m=result.attenuation_per_m,
            photons=float(result.photons),
            noise_percent=round(100 * result.noise, 1),
        ),
        figure("dark_umol", result.dark_umol_m2_s, "umol/m2/s", "a tenth of the free bed has less"),
        figure("bright_umol", result.bright_umol_m2_s, "umol/m2/s", "a tenth of the free bed has more"),
        figure(
            "sent_umol_s",
            result.sent_umol_s,
            "umol/s",
            "power x photons for each joule, or as the maker tells, for all lamps; less dimmer and cover",
            MEMORY if over.low < 0.8 else "the job file",
            usual_umol_j=EFFICACY_UMOL_J[1],
        ),
        figure(
            "first_week_mol",
            first.daily_mol_m2,
            "mol/m2",
            "share of the light x mean over the bed x hours of a day",
            "common practice, no source",
            hours_h=first.hours,
            share_percent=round(100 * first.share),
        ),
        figure(
            "full_mol",
            last.daily_mol_m2,
            "mol/m2",
            "the same in the twelfth week",
            "common practice, no source",
            hours_h=last.hours,
            share_percent=round(100 * last.share),
            leaf_area=round(last.leaf_area, 1),
        ),
    )
