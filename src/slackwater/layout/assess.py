"""The bed's stage of the pipeline: heights, layers, slopes against repose, litres and bags."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from slackwater.errors import OutOfRange
from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Remedy, Severity
from slackwater.job.catalog import Catalog, Material
from slackwater.job.model import BedLayer, BedShape, Job
from slackwater.layout.bed import (
    Surface,
    corners_surface,
    edges_surface,
    gable_surface,
    heap_height_m,
    mound_surface,
    ridge_surface,
    steepest_deg,
    volume_l,
    whole_bags,
)
from slackwater.layout.buried import bedded_l
from slackwater.layout.result import BedResult, Layer
from slackwater.stage import Stage
from slackwater.tank.result import TankShape

NEAR_REPOSE_DEG = 5.0
"""A slope this close to the angle of repose needs a retainer or planting; common practice, no source."""
GRID = (41, 21)
COVER_OVER_BASE_M = 0.02
"""Least soil over the base layer; common practice, no source."""
Depths = NDArray[np.float64]
KEPT_POROSITY = 0.5
"""Voids in an old bed that stays; from memory."""
DEFAULT_BAG_L = 9.0
"""Bag of active soil; common practice, no source."""


def surface_of(form: BedShape, *, length_m: float, width_m: float) -> Surface:
    """The depth of a bed of a named form over a tank of that length and width."""
    if form.form == "edges":
        return edges_surface(
            length_m=length_m,
            width_m=width_m,
            front_m=form.front_m or 0.0,
            rear_m=form.rear_m or 0.0,
            left_m=form.left_m or 0.0,
            right_m=form.right_m or 0.0,
        )
    if form.form == "ridge":
        return ridge_surface(width_m=width_m, edge_m=form.edge_m or 0.0, top_m=form.top_m or 0.0)
    if form.form == "gable":
        return gable_surface(length_m=length_m, edge_m=form.edge_m or 0.0, top_m=form.top_m or 0.0)
    if form.form == "mound":
        return mound_surface(
            length_m=length_m,
            width_m=width_m,
            edge_m=form.edge_m or 0.0,
            top_m=form.top_m or 0.0,
            flat_length_m=form.flat_length_m or 0.0,
            flat_width_m=form.flat_width_m or 0.0,
        )
    return corners_surface(
        length_m=length_m,
        width_m=width_m,
        front_left_m=form.front_left_m or 0.0,
        front_right_m=form.front_right_m or 0.0,
        rear_left_m=form.rear_left_m or 0.0,
        rear_right_m=form.rear_right_m or 0.0,
    )


@dataclass(frozen=True)
class _Part:
    """A layer before its bags are counted."""

    role: str
    layer: BedLayer
    bulk_l: float


def _material(layer: BedLayer, catalog: Catalog) -> Material | None:
    return catalog.materials.get(layer.material)


def _counted(part: _Part, material: Material, *, bedding_l: float) -> tuple[Layer, Assumption | None]:
    # What lies in place has settled: more must be poured, less where stones are bedded.
    order = max(0.0, part.bulk_l - bedding_l) * (1 + material.settling_pct_first_month / 100)
    bag = part.layer.bag_l
    assumed = None
    if bag is None:
        bag = DEFAULT_BAG_L
        assumed = Assumption(
            field=f"bed.{part.role}.bag", value=f"{DEFAULT_BAG_L:g} L", source="usual bag; common practice, no source"
        )
    solids = part.bulk_l * (1 - material.porosity)
    return (
        Layer(
            role=part.role,
            material=part.layer.material,
            bulk_l=part.bulk_l,
            order_l=order,
            bag_l=bag,
            bags=whole_bags(litres=order, bag_l=bag),
            solids_l=solids,
            pore_l=part.bulk_l * material.porosity,
            dry_mass_kg=part.bulk_l * material.bulk_density_kg_per_l,
        ),
        assumed,
    )


def old_soil_l(job: Job, *, footprint_m2: float) -> float | None:
    """Old soil on the whole bottom, kept or not [L]; None where it is not known."""
    if job.old.soil_l is not None:
        return job.old.soil_l
    return None if job.old.soil_depth_m is None else 1000 * job.old.soil_depth_m * footprint_m2


def _part_kept(job: Job, kept_l: float | None) -> list[Finding]:
    """What an old bed that stays beside a new one asks for."""
    share = job.old.kept_share
    if not share:
        return []
    if kept_l is None:
        return [Finding(id="layout.kept_unknown", severity=Severity.CONDITION, values={"share": round(100 * share)})]
    return [
        Finding(
            id="layout.part_kept", severity=Severity.CONDITION, values={"share": round(100 * share), "kept_l": kept_l}
        )
    ]


def bed_lacks(job: Job) -> tuple[str, ...]:
    """Facts without which there is no bed to lay."""
    bed = job.bed
    asked: list[tuple[str, object]] = [("bed.shape", bed.shape), ("bed.soil", bed.soil)]
    if bed.base is not None:
        asked.append(("bed.base_depth", bed.base_depth_m))
    if bed.base_depth_m:
        asked.append(("bed.base", bed.base))
    return tuple(name for name, value in asked if value is None)


def _not_counted(layer: BedLayer, why: str, severity: Severity, catalog: Catalog) -> Finding:
    """A layer that was named and of which nothing is laid."""
    material = _material(layer, catalog)
    return Finding(
        id="layout.layer_not_counted",
        severity=severity,
        about=layer.material,
        values={"layer": layer.material if material is None else material.material, "why": f"@layer.{why}"},
    )


def assess_bed(
    job: Job,
    catalog: Catalog,
    shape: TankShape,
    *,
    buried_l: float | None = None,
    as_laid: Surface | None = None,
) -> Stage[BedResult]:
    """The bed over the tank's footprint; a bed that cannot lie like that is a finding.

    Parameters
    ----------
    job, catalog, shape
        What is asked for, and where.
    buried_l : float or None
        Stones and wood in the bed, by a layout [L]; None: estimated, each stone taken as a ball.
    as_laid : surface or None
        The depth of the bed as a layout has it, in the tank's own coordinates; None: the job's own form.
    """
    bed = job.bed
    lacks = bed_lacks(job)
    if lacks or bed.shape is None or bed.soil is None:
        if bed.base is None or bed.base_depth_m is not None:
            return Stage(result=None, lacks=lacks)
        return Stage(
            result=None, lacks=lacks, findings=(_not_counted(bed.base, "no_depth", Severity.MISSING, catalog),)
        )
    findings: list[Finding] = []
    left, front = min(x for x, _ in shape.corners_m), min(y for _, y in shape.corners_m)
    try:
        plain = surface_of(bed.shape, length_m=shape.length_m, width_m=shape.width_m)
    except OutOfRange as error:
        return Stage(
            result=None,
            findings=(Finding(id="layout.shape_impossible", severity=Severity.MISFIT, values={"reason": str(error)}),),
        )

    def top(x: Depths, y: Depths) -> Depths:
        return plain(x - left, y - front) if as_laid is None else as_laid(x, y)

    base_limit = bed.base_depth_m or 0.0
    lowest = lowest_depth_m(bed.shape)

    def base(x: Depths, y: Depths) -> Depths:
        # The base keeps a cover of soil over it, and fills no more than its own depth.
        return np.asarray(np.clip(top(x, y) - max(COVER_OVER_BASE_M, lowest), 0.0, base_limit))

    bulk = volume_l(top, shape.corners_m)
    base_bulk = volume_l(base, shape.corners_m) if base_limit > 0 and bed.base is not None else 0.0
    parts = [_Part("base", bed.base, base_bulk)] if bed.base is not None and base_bulk > 0 else []
    if bed.base is not None and base_limit > 0 and base_bulk == 0:
        findings.append(_not_counted(bed.base, "no_room", Severity.CONDITION, catalog))
    bay_bulk = 0.0
    for bay in bed.bays:
        litres = 1000 * bay.length_m * bay.width_m * lowest * bay.count
        if litres == 0:
            findings.append(_not_counted(bay.layer, "bay_without_depth", Severity.CONDITION, catalog))
        bay_bulk += litres
        parts.append(_Part("bay", bay.layer, litres))
    cover_bulk = 0.0
    if bed.top_layer is not None:
        cover_bulk = 1000 * shape.footprint_m2 * bed.top_layer.share * bed.top_layer.depth_m
        parts.append(_Part("top", bed.top_layer.layer, cover_bulk))
    soil_bulk = bulk - base_bulk - bay_bulk - cover_bulk
    if soil_bulk < 0:
        findings.append(
            Finding(
                id="layout.layers_too_thick",
                severity=Severity.MISFIT,
                values={"layers_l": bulk - soil_bulk, "bed_l": bulk},
                margin=soil_bulk,
                margin_unit="L",
            )
        )
        return Stage(result=None, findings=tuple(findings))
    parts.append(_Part("soil", bed.soil, soil_bulk))
    renewed = 1 - job.old.kept_share
    parts = [replace(part, bulk_l=renewed * part.bulk_l) for part in parts]
    if buried_l is not None:
        parts[-1] = replace(parts[-1], bulk_l=max(0.0, parts[-1].bulk_l - buried_l))
    old_l = old_soil_l(job, footprint_m2=shape.footprint_m2)
    kept_l = None if old_l is None else job.old.kept_share * old_l
    findings += _part_kept(job, kept_l)
    unknown = [part.layer.material for part in parts if _material(part.layer, catalog) is None]
    if unknown:
        return Stage(
            result=None,
            findings=tuple(
                Finding(
                    id="layout.material_unknown",
                    severity=Severity.MISSING,
                    about=name,
                    values={"material": name, "near": ", ".join(catalog.near(name, "materials")) or "none close"},
                )
                for name in unknown
            ),
        )
    # A layout has taken what is buried from the litres in place already; an estimate only lessens the order.
    bedding = _bedded_stones_l(job, catalog) if buried_l is None else 0.0
    layers, assumed = [], []
    for part in parts:
        material = catalog.materials[part.layer.material]
        layer, default = _counted(part, material, bedding_l=bedding if part.role == "soil" else 0.0)
        layers.append(layer)
        if default is not None:
            assumed.append(default)

    soil = catalog.materials[bed.soil.material]
    slope = steepest_deg(top, shape.corners_m)
    xs = np.linspace(left, left + shape.length_m, GRID[0])
    ys = np.linspace(front, front + shape.width_m, GRID[1])
    x, y = np.meshgrid(xs, ys)
    heights = top(x, y)
    highest = float(heights.max())
    findings += _slope_findings(soil, slope, retainers=bed.retainers)
    heap = _free_heap(bed.shape, soil, bulk, shape)
    if highest > shape.water_line_m:
        findings.append(
            Finding(
                id="layout.soil_above_water",
                severity=Severity.MISFIT,
                values={"highest_m": highest, "water_line_m": shape.water_line_m},
                margin=shape.water_line_m - highest,
                margin_unit="m",
            )
        )
    result = BedResult(
        x_m=tuple(float(value) for value in xs),
        y_m=tuple(float(value) for value in ys),
        depth_m=tuple(tuple(round(float(value), 5) for value in row) for row in heights),
        base_depth_m=tuple(
            tuple(round(float(value), 5) for value in row)
            for row in (base(x, y) if base_bulk > 0 else np.zeros_like(heights))
        ),
        bulk_l=bulk,
        mean_depth_m=bulk / 1000 / shape.footprint_m2,
        highest_m=highest,
        steepest_deg=slope,
        repose_deg=soil.repose_angle_deg_wet or None,
        layers=tuple(layers),
        solids_l=sum(layer.solids_l for layer in layers) + (1 - KEPT_POROSITY) * (kept_l or 0.0),
        pore_l=sum(layer.pore_l for layer in layers) + KEPT_POROSITY * (kept_l or 0.0),
    )
    return Stage(
        result=result,
        figures=(*_figures(result, soil, bedding_l=bedding, buried_l=buried_l or 0.0), *heap),
        findings=tuple(findings),
        assumed=tuple(assumed),
    )


def _bedded_stones_l(job: Job, catalog: Catalog) -> float:
    """Litres of stone that stand in the bed instead of soil; stones of unknown kind count with the tank's findings."""
    share = catalog.parameter("stone_bedded_height").typical
    return sum(
        bedded_l(solid_l=mass / catalog.materials[stone.material].solid_density_kg_per_l, height_share=share)
        for stone in job.stones or ()
        if stone.material in catalog.materials
        for mass in stone.pieces_kg
    )


def lowest_depth_m(form: BedShape) -> float:
    """Depth at the lowest glass: what the base leaves free, and what a sand bay is filled to."""
    candidates = {
        "edges": (form.front_m, form.rear_m),
        "corners": (form.front_left_m, form.front_right_m, form.rear_left_m, form.rear_right_m),
    }.get(form.form, (form.edge_m,))
    return min(value or 0.0 for value in candidates)


def _free_heap(form: BedShape, soil: Material, bulk_l: float, shape: TankShape) -> tuple[Figure, ...]:
    """How high the soil of a mound would stand as a free heap, for comparison with what is asked of it."""
    above_l = bulk_l - 1000 * shape.footprint_m2 * (form.edge_m or 0.0)
    if form.form != "mound" or not soil.repose_angle_deg_wet or above_l <= 0:
        return ()
    height = heap_height_m(volume_l=above_l, repose_deg=soil.repose_angle_deg_wet)
    return (
        Figure(
            id="layout.free_heap_m",
            value=height,
            unit="m",
            formula="cone of the same litres at the angle of repose; the mound asked for rises less or more than it",
            source="geometry; repose angle from the catalog (from memory)",
            inputs={"litres": round(above_l, 1), "asked_m": (form.top_m or 0.0) - (form.edge_m or 0.0)},
        ),
    )


def _slope_findings(soil: Material, slope_deg: float, *, retainers: bool | None) -> list[Finding]:
    repose = soil.repose_angle_deg_wet
    if not repose:
        return []
    values: dict[str, float | str] = {"soil": soil.material, "slope_deg": slope_deg, "repose_deg": repose}
    if slope_deg > repose and not retainers:
        return [
            Finding(
                id="layout.slope_over_repose",
                severity=Severity.MISFIT,
                about=soil.id,
                values=values,
                margin=repose - slope_deg,
                margin_unit="degrees",
                remedies=(Remedy(id="layout.retainers"),),
            )
        ]
    if slope_deg > repose - NEAR_REPOSE_DEG and not retainers:
        return [
            Finding(
                id="layout.slope_near_repose",
                severity=Severity.CONDITION,
                about=soil.id,
                values=values,
                margin=repose - slope_deg,
                margin_unit="degrees",
                remedies=(Remedy(id="layout.retainers"),),
            )
        ]
    return []


def _figures(result: BedResult, soil: Material, *, bedding_l: float, buried_l: float) -> Sequence[Figure]:
    inputs: dict[str, float | str] = {"mean_depth_m": result.mean_depth_m, "highest_m": result.highest_m}
    soil_layer = next(layer for layer in result.layers if layer.role == "soil")
    return (
        Figure(
            id="layout.soil_l",
            value=result.bulk_l,
            unit="L",
            formula="depth integrated over the footprint, all layers",
            source="geometry",
            inputs=inputs,
        ),
        Figure(
            id="layout.slope_deg",
            value=result.steepest_deg,
            unit="degrees",
            formula="steepest slope of the surface",
            source="geometry; repose angle from the catalog (from memory)",
            inputs={"repose_deg": soil.repose_angle_deg_wet},
        ),
        Figure(
            id="layout.order_l",
            value=soil_layer.order_l,
            unit="L",
            formula="(litres in place - stone bedding) x (1 + settling in the first month)",
            source=f"geometry; settling and bedding share from the catalog ({soil.source_kind})",
            inputs={
                "in_place_l": soil_layer.bulk_l + buried_l,
                "bedding_l": bedding_l + buried_l,
                "settling_percent": soil.settling_pct_first_month,
            },
        ),
    )
