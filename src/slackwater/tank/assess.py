"""The tank's stage of the pipeline: shape, volumes, what fits through the openings, what a hand reaches."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot
from typing import Literal

from slackwater.errors import Contradiction
from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job, Opening, Tank
from slackwater.stage import Stage
from slackwater.tank.glass import FLAG_STRESS_MPA, panel_stress_mpa
from slackwater.tank.result import TankShape, Volumes
from slackwater.tank.volume import bow_front, column_l, footprint_m2, is_rectangle, perimeter_m, rectangle

PLATFORM_ABOVE_M = 1.30
"""Rim height above which people stand on a platform; common practice, no source."""
PAIR_LENGTH_M = 1.80
"""A tank from this length takes two pairs; common practice, no source."""
PLACES_AT_OPENING = 2
NARROW_M = 0.40
"""An opening with a side shorter than this takes one person; common practice, no source."""
WAYS_IN = ("flat", "end_first", "if_thin", "no")
"""How a piece gets through an opening, easiest first."""


def _finding(name: str, severity: Severity, *, about: str = "", **values: float | str) -> Finding:
    return Finding(id=f"tank.{name}", severity=severity, about=about, values=values)


def _places(tank: Tank, length_m: float) -> tuple[int, Assumption | None]:
    """People who can work in the tank at once: as surveyed, else by the rule of the trade."""
    if tank.work_places is not None:
        return tank.work_places, None
    sides = set(tank.public_sides or ())
    open_from_opposite = {"front", "rear"} <= sides or {"left", "right"} <= sides
    openings = tank.free_openings or ()
    places = 4 if length_m >= PAIR_LENGTH_M or (open_from_opposite and len(openings) >= 2) else 2
    source = "one pair below 1.8 m, two pairs from there or where open from opposite sides; common practice, no source"
    room = sum(1 if min(one.length_m, one.width_m) < NARROW_M else PLACES_AT_OPENING for one in openings)
    if openings and room < places:
        places, source = room, "one person at an opening narrower than 40 cm, two at others; common practice, no source"
    return places, Assumption(field="tank.work_places", value=str(places), source=source)


def _mouth(tank: Tank) -> tuple[list[Finding], tuple[Assumption, ...]]:
    """What is not known of a braced mouth, and what was taken for it."""
    if tank.openings is not None or not (tank.braced or tank.braces_across):
        return [], ()
    found = tank.free_openings
    if found is None:
        return [_finding("mouth_unknown", Severity.CONDITION)], ()
    size = f"{len(found)} of {100 * found[0].length_m:.0f} by {100 * found[0].width_m:.0f} cm"
    source = "braces of one width at equal distances, over the whole width of the tank; not measured"
    return [], (Assumption(field="tank.openings", value=size, source=source),)


def tank_lacks(job: Job) -> tuple[str, ...]:
    """Facts without which the tank has no shape or no water."""
    tank = job.tank
    flat = () if tank.footprint is not None else (("length", tank.length_m), ("width", tank.width_m))
    asked = (*flat, ("height", tank.height_m), ("water_line", tank.water_line_m))
    return tuple(f"tank.{name}" for name, value in asked if value is None)


def assess_tank(job: Job, catalog: Catalog) -> Stage[TankShape]:
    """Shape, volumes and access of the tank; what contradicts itself is a finding."""
    tank = job.tank
    lacks = tank_lacks(job)
    if lacks or tank.height_m is None or tank.water_line_m is None:
        return Stage(result=None, lacks=lacks)
    if tank.footprint is not None:
        corners = tuple((corner.x_m, corner.y_m) for corner in tank.footprint)
    elif tank.bow_m is not None and tank.length_m is not None and tank.bow_m <= tank.length_m / 2:
        corners = bow_front(length_m=tank.length_m, width_m=tank.width_m or 0.0, bow_m=tank.bow_m)
    else:
        corners = rectangle(length_m=tank.length_m or 0.0, width_m=tank.width_m or 0.0)
    length = max(x for x, _ in corners) - min(x for x, _ in corners)
    width = max(y for _, y in corners) - min(y for _, y in corners)
    try:
        area = footprint_m2(corners)
    except Contradiction:
        return Stage(result=None, findings=(_finding("footprint_flat", Severity.MISFIT),))
    findings: list[Finding] = []
    if tank.footprint is None and tank.bow_m is not None and tank.bow_m > length / 2:
        return Stage(
            result=None, findings=(_finding("bow_too_deep", Severity.MISFIT, length_m=length, bow_m=tank.bow_m),)
        )
    if tank.water_line_m > tank.height_m:
        findings.append(
            Finding(
                id="tank.water_line_above_rim",
                severity=Severity.MISFIT,
                values={"water_line_m": tank.water_line_m, "height_m": tank.height_m},
                margin=tank.height_m - tank.water_line_m,
                margin_unit="m",
            )
        )
        return Stage(result=None, findings=tuple(findings))
    if tank.previous_water_line_m is not None and tank.water_line_m > tank.previous_water_line_m + 1e-9:
        findings.append(
            _finding(
                "water_line_raised",
                Severity.CONDITION,
                water_line_m=tank.water_line_m,
                previous_m=tank.previous_water_line_m,
            )
        )
    places, assumed = _places(tank, length)
    shape = TankShape(
        corners_m=corners,
        length_m=length,
        width_m=width,
        height_m=tank.height_m,
        water_line_m=tank.water_line_m,
        footprint_m2=area,
        inner_glass_m2=perimeter_m(corners) * tank.height_m,
        gross_l=column_l(footprint_m2=area, height_m=tank.water_line_m),
        rim_l=column_l(footprint_m2=area, height_m=tank.height_m),
        work_places=places,
    )
    mouth, openings_assumed = _mouth(tank)
    findings += [*mouth, *_openings(job, catalog)]
    findings += _reach(tank, catalog, width)
    figures = [
        Figure(
            id="tank.gross_l",
            value=shape.gross_l,
            unit="L",
            formula="footprint x water line",
            source="geometry",
            inputs={"footprint_m2": area, "water_line_m": tank.water_line_m},
        )
    ]
    reason = _why_no_stress(tank)
    if reason:
        findings.append(_finding("glass_not_judged", Severity.NOTE, reason=reason))
    stress = None if reason else _stress(tank, corners)
    if stress is not None:
        figures.append(stress)
        if stress.value > FLAG_STRESS_MPA:
            findings.append(
                Finding(
                    id="tank.glass_stress",
                    severity=Severity.CONDITION,
                    values={"stress_mpa": stress.value, "flag_mpa": FLAG_STRESS_MPA},
                    margin=FLAG_STRESS_MPA - stress.value,
                    margin_unit="MPa",
                )
            )
    return Stage(
        result=shape,
        figures=tuple(figures),
        findings=tuple(findings),
        assumed=(*openings_assumed, *(() if assumed is None else (assumed,))),
    )


def _why_no_stress(tank: Tank) -> str:
    """Why the panes are not judged: the plate theory here is for flat panes of glass; empty where it holds."""
    if tank.wall_m is None:
        return ""
    if tank.material == "acrylic":
        return "the tank is acrylic, which creeps under load"
    if tank.bow_m is not None:
        return "a bowed pane is a shell and no flat plate"
    if tank.footprint is not None and not is_rectangle([(corner.x_m, corner.y_m) for corner in tank.footprint]):
        return "its panes do not stand on a rectangle"
    return ""


def _stress(tank: Tank, corners: Sequence[tuple[float, float]]) -> Figure | None:
    """Bending stress of the longest panel, where the wall is known."""
    if tank.wall_m is None or tank.water_line_m is None:
        return None
    longest = max(
        hypot(x1 - x0, y1 - y0) for (x0, y0), (x1, y1) in zip(corners, [*corners[1:], corners[0]], strict=True)
    )
    ratio = longest / tank.water_line_m
    if not 0.2 <= ratio <= 10:
        return None
    braced = bool(tank.braced)
    return Figure(
        id="tank.panel_stress_mpa",
        value=panel_stress_mpa(
            panel_length_m=longest, water_height_m=tank.water_line_m, thickness_m=tank.wall_m, braced=braced
        ),
        unit="MPa",
        formula="thin plate under water pressure, bottom and sides on simple supports, top "
        + ("held" if braced else "free"),
        source="Timoshenko and Woinowsky-Krieger 1959, Levy series; flags a tank and never certifies one",
        inputs={"panel_length_m": longest, "water_height_m": tank.water_line_m, "thickness_m": tank.wall_m},
    )


def _way_in(length_m: float, width_m: float | None, opening: Opening) -> Literal["flat", "end_first", "if_thin", "no"]:
    """How a stiff piece gets through an opening; end first only its cross-section counts, however long it is.

    Parameters
    ----------
    length_m, width_m : float, float or None
        Largest and second largest size; the third is not surveyed and at most the second. None: width not known either.

    Notes
    -----
    A cross-section is never turned on the diagonal: no stone or root is that even.
    """
    small, large = sorted((opening.length_m, opening.width_m))
    longest, width = (length_m, width_m) if width_m is None else (max(length_m, width_m), min(length_m, width_m))
    if longest <= small or (width is not None and width <= small and longest <= large):
        return "flat"
    if width is None:
        return "if_thin"
    if width <= small:
        return "end_first"
    return "if_thin" if width <= large else "no"


def _openings(job: Job, catalog: Catalog) -> list[Finding]:
    """Stones and wood against the free openings in the top of the tank: each by the opening that suits it best."""
    openings = job.tank.free_openings
    if not openings:
        return []
    found = []
    pieces: list[tuple[str, float | None, float | None]] = [
        (stone.material, stone.largest_length_m, stone.largest_width_m) for stone in job.stones or ()
    ]
    pieces += [(wood.material, wood.length_m, wood.width_m) for wood in job.wood or ()]
    for material, length_m, width_m in pieces:
        if length_m is None:
            continue
        best = min(
            openings,
            key=lambda opening: (
                WAYS_IN.index(_way_in(length_m, width_m, opening)),
                -min(opening.length_m, opening.width_m),
            ),
        )
        values: dict[str, float | str] = {
            "piece": _name(material, catalog),
            "length_m": length_m,
            "opening_length_m": best.length_m,
            "opening_width_m": best.width_m,
        }
        way = _way_in(length_m, width_m, best)
        if way == "no":
            found.append(_finding("piece_too_large", Severity.MISFIT, about=material, **values))
        elif way == "end_first":
            found.append(_finding("piece_on_the_slant", Severity.CONDITION, about=material, **values))
        elif way == "if_thin":
            thick = min(best.length_m, best.width_m)
            found.append(_finding("piece_if_thin", Severity.CONDITION, about=material, thick_m=thick, **values))
    return found


def _name(material_id: str, catalog: Catalog) -> str:
    material = catalog.materials.get(material_id)
    return material.material if material else material_id


def _reach(tank: Tank, catalog: Catalog, width_m: float) -> list[Finding]:
    """Platform and arm: what people can get at from the rim."""
    found = []
    if tank.rim_height_m is not None and tank.rim_height_m > PLATFORM_ABOVE_M:
        found.append(_finding("platform_needed", Severity.CONDITION, rim_height_m=tank.rim_height_m))
    arm = catalog.parameter("reach_arm")
    deep = tank.height_m or 0.0
    # From the nearest open side the middle is half the width in; a reach to it is the hypotenuse with the depth.
    reach = hypot(deep, width_m / 2)
    if reach > arm.typical:
        found.append(
            Finding(
                id="tank.bottom_out_of_reach",
                severity=Severity.CONDITION,
                values={"reach_m": reach, "arm_m": arm.typical, "long_arm_m": arm.high or arm.typical},
                margin=arm.typical - reach,
                margin_unit="m",
            )
        )
    return found


def hardscape_solid_l(job: Job, catalog: Catalog) -> Stage[float]:
    """Litres of solid stone and wood, from mass over density of the piece.

    An empty list is no stone; a missing list is a missing fact. A material that the catalog does not know is a fact
    missing too.
    """
    lacks = [name for name, pieces in (("stones", job.stones), ("wood", job.wood)) if pieces is None]
    findings = []
    total = 0.0
    groups: list[tuple[str, float]] = [(stone.material, sum(stone.pieces_kg)) for stone in job.stones or ()]
    groups += [(wood.material, wood.mass_kg) for wood in job.wood or ()]
    for material_id, mass in groups:
        material = catalog.materials.get(material_id)
        if material is None:
            near = catalog.near(material_id, "materials")
            findings.append(
                Finding(
                    id="tank.material_unknown",
                    severity=Severity.MISSING,
                    about=material_id,
                    values={"material": material_id, "near": ", ".join(near) or "none close"},
                )
            )
            continue
        total += mass / material.solid_density_kg_per_l
    if lacks:
        return Stage(result=None, lacks=tuple(lacks), findings=tuple(findings))
    if findings:
        return Stage(result=None, findings=tuple(findings))
    return Stage(result=total)


def volumes_of(shape: TankShape, *, soil_solids_l: float, pore_l: float, hardscape_l: float) -> Stage[Volumes]:
    """The litres of the finished tank; solids and water add up to the gross volume."""
    free = shape.gross_l - soil_solids_l - pore_l - hardscape_l
    if free <= 0:
        return Stage(
            result=None,
            findings=(
                Finding(
                    id="tank.no_room_for_water",
                    severity=Severity.MISFIT,
                    values={"needed_l": shape.gross_l - free, "gross_l": shape.gross_l},
                    margin=free,
                    margin_unit="L",
                ),
            ),
        )
    volumes = Volumes(
        gross_l=shape.gross_l,
        soil_solids_l=soil_solids_l,
        hardscape_l=hardscape_l,
        pore_water_l=pore_l,
        free_water_l=free,
        net_l=free + pore_l,
    )
    return Stage(
        result=volumes,
        figures=(
            Figure(
                id="tank.net_l",
                value=volumes.net_l,
                unit="L",
                formula="gross - soil grains - stone and wood; pores of the bed fill with water",
                source="geometry; densities and porosity from the catalog (from memory)",
                inputs={
                    "gross_l": shape.gross_l,
                    "soil_solids_l": soil_solids_l,
                    "pore_water_l": pore_l,
                    "hardscape_l": hardscape_l,
                },
            ),
        ),
    )
