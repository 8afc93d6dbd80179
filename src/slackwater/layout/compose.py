"""The layout that a plan is made with: the one that lies beside the job, else a proposal from the pieces on hand."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import PurePath
from typing import Literal, Protocol, cast

import numpy as np

from slackwater.errors import BadInput, Contradiction, OutOfRange, SlackwaterError
from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.fields import Size
from slackwater.job.model import Intent, Job
from slackwater.layout.arrange import Effort, Progress, Proposal, propose
from slackwater.layout.asked import Beside, Care
from slackwater.layout.bed import Surface
from slackwater.layout.columns import fast_volumes
from slackwater.layout.gltf import from_glb
from slackwater.layout.ground import bed_grid, height_m, material_litres
from slackwater.layout.litres import area_m2, differing
from slackwater.layout.outlines import cut, outline
from slackwater.layout.pieces import piece_findings, piece_from_mesh
from slackwater.layout.place import placing_findings
from slackwater.layout.reading import FileFormat, read_scan
from slackwater.layout.result import CutPiece, LayoutResult, LayoutStage, Litres, PlacedPiece, Ring, Section, Sight
from slackwater.layout.scene import Bed, Faces, Floats, Glass, Kind, Layout, Look, Piece, Placement, stood
from slackwater.layout.see import BOTTOM_OVER_FLOOR_M, EYES_M, eyes_of, view
from slackwater.layout.settle import settled, steadiness_findings
from slackwater.layout.solids import exact_volumes
from slackwater.layout.standin import stand_in
from slackwater.stage import Stage
from slackwater.tank.result import TankShape

OnProgress = Callable[[str], None]

USUAL_WALL_M = 0.01
"""Thickness of the panes where it was not measured; common practice, no source."""
USUAL_INTENT: Intent = "open_middle"
USUAL_WOOD_HEIGHT = 0.8
"""Of the width of a piece of wood where only that and its length were measured; common practice, no source."""
SIGHT_CELL_M = 0.01
"""Of the pictures that tell how much of the background is hidden."""
DRAWN_NODES = (61, 41)
"""Nodes of the bed that a plan keeps for its drawings, at most; it is reckoned with many more."""
SAME_TANK_M = 0.005
"""A scene whose glass differs by more is of another tank."""
SAME_MASS_SHARE = 0.05
"""Pieces of a scene whose whole mass differs by more from the job's are others."""
BY_MATERIAL: Mapping[str, Look] = {
    "stone_clay_pitted": "pitted",
    "stone_lava": "pitted",
    "stone_slate": "slab",
    "stone_petrified_wood": "slab",
    "stone_granite": "rounded",
}
"""How a kind of stone looks where the job does not say; any other is angular. From memory."""


class Maker(Protocol):
    """Makes pieces, or has them kept from an earlier time."""

    def from_mesh(
        self,
        *,
        name: str,
        kind: Kind,
        look: Look,
        material: str,
        density_kg_m3: float,
        vertices_m: Floats,
        faces: Faces,
    ) -> Piece:
        """As `pieces.piece_from_mesh`."""

    def stand_in(
        self,
        *,
        name: str,
        kind: Kind,
        look: Look,
        material: str,
        density_kg_m3: float,
        size_m: tuple[float, float, float] | None,
        mass_kg: float | None,
        seed: int,
    ) -> Piece:
        """As `standin.stand_in`."""


class Anew:
    """Makes every piece anew."""

    from_mesh = staticmethod(piece_from_mesh)
    stand_in = staticmethod(stand_in)


ANEW: Maker = Anew()


@dataclass(frozen=True, eq=False)
class Laid:
    """A layout, and what rooms and papers read of it."""

    layout: Layout
    result: LayoutResult
    counts_differ: bool
    """The two ways of counting its litres do not agree."""


# ---------------------------------------------------------------- from the job


def glass_of(job: Job, shape: TankShape) -> Glass:
    """The inside of the job's tank."""
    corners = shape.corners_m if area_m2(shape.corners_m) > 0 else tuple(reversed(shape.corners_m))
    return Glass(
        corners_m=corners,
        height_m=shape.height_m,
        water_line_m=shape.water_line_m,
        wall_m=job.tank.wall_m or USUAL_WALL_M,
        public_sides=job.tank.public_sides or ("front",),
        openings_m=tuple((item.length_m, item.width_m) for item in job.tank.free_openings or ()),
    )


@dataclass(frozen=True)
class _Wanted:
    """One piece of the job, before it has a shape."""

    name: str
    kind: Literal["stone", "wood"]
    look: Look
    material: str
    density_kg_m3: float
    mass_kg: float
    size: Size | None
    mesh: str | None
    mesh_length_m: float | None


def _wanted(job: Job, catalog: Catalog) -> tuple[_Wanted, ...]:
    found: list[_Wanted] = []
    for stone in job.stones or ():
        material = catalog.materials.get(stone.material)
        if material is None:
            continue
        for place, mass in enumerate(stone.pieces_kg):
            found.append(
                _Wanted(
                    name=material.material,
                    kind="stone",
                    look=stone.look or BY_MATERIAL.get(stone.material, "angular"),
                    material=stone.material,
                    density_kg_m3=1000 * material.solid_density_kg_per_l,
                    mass_kg=mass,
                    size=stone.sizes[place] if place < len(stone.sizes) else None,
                    mesh=stone.mesh if place == 0 else None,
                    mesh_length_m=stone.mesh_length_m,
                )
            )
    for wood in job.wood or ():
        material = catalog.materials.get(wood.material)
        if material is None:
            continue
        found.append(
            _Wanted(
                name=material.material,
                kind="wood",
                look="branching",
                material=wood.material,
                density_kg_m3=1000 * material.solid_density_kg_per_l,
                mass_kg=wood.mass_kg,
                size=wood.size or _usual_size(wood.length_m, wood.width_m),
                mesh=wood.mesh,
                mesh_length_m=wood.mesh_length_m,
            )
        )
    return tuple(found)


def _usual_size(length_m: float | None, width_m: float | None) -> Size | None:
    """The box of wood of which length and width were measured, and the height is what such wood has."""
    if length_m is None or width_m is None:
        return None
    return Size(length_m=length_m, width_m=width_m, height_m=USUAL_WOOD_HEIGHT * width_m)


def _scanned(wanted: _Wanted, data: bytes, maker: Maker) -> tuple[Piece, tuple[Finding, ...]]:
    scan = read_scan(
        data,
        file_format=cast("FileFormat", PurePath(wanted.mesh or "").suffix.lstrip(".").lower()),
        length_m=wanted.mesh_length_m,
        mass_kg=wanted.mass_kg or None,
        density_kg_m3=wanted.density_kg_m3,
    )
    piece = maker.from_mesh(
        name=wanted.name,
        kind=wanted.kind,
        look=wanted.look,
        material=wanted.material,
        density_kg_m3=wanted.density_kg_m3,
        vertices_m=scan.vertices_m,
        faces=scan.faces,
    )
    return piece, (*scan.findings, *piece_findings(piece))


def _made_up(wanted: _Wanted, number: int, maker: Maker) -> tuple[Piece, tuple[Finding, ...]]:
    size = None if wanted.size is None else (wanted.size.length_m, wanted.size.width_m, wanted.size.height_m)

    def made(size_m: tuple[float, float, float] | None) -> Piece:
        return maker.stand_in(
            name=wanted.name,
            kind=wanted.kind,
            look=wanted.look,
            material=wanted.material,
            density_kg_m3=wanted.density_kg_m3,
            size_m=size_m,
            mass_kg=wanted.mass_kg or None,
            seed=number,
        )

    try:
        return made(size), ()
    except Contradiction as error:
        # The scales are trusted more than the tape: the mass makes the order, the price and the litres.
        told = Finding(
            id="layout.size_and_mass",
            severity=Severity.CONDITION,
            about=str(number),
            values={"number": number, "name": wanted.name, "mass_kg": wanted.mass_kg, "reason": str(error)},
        )
        return made(None), (told,)


def pieces_on_hand(
    job: Job, catalog: Catalog, beside: Beside, maker: Maker = ANEW
) -> tuple[tuple[Piece, ...], tuple[Finding, ...]]:
    """A piece for each mass that the job lists, stones first, and what is to be known of them.

    A scan that is not there or cannot be used is told, and a stand-in of size and mass is taken instead.
    """
    pieces: list[Piece] = []
    findings: list[Finding] = []
    for number, wanted in enumerate(_wanted(job, catalog), start=1):
        values: dict[str, float | str] = {
            "number": number,
            "name": wanted.name,
            "mass_kg": wanted.mass_kg,
            "file": wanted.mesh or "",
        }
        try:
            if wanted.mesh is not None and wanted.mesh in beside.files:
                try:
                    piece, told = _scanned(wanted, beside.files[wanted.mesh], maker)
                except SlackwaterError as error:
                    findings.append(
                        Finding(
                            id="layout.scan_unusable",
                            severity=Severity.CONDITION,
                            about=str(number),
                            values={**values, "reason": str(error)},
                        )
                    )
                    piece, told = _made_up(wanted, number, maker)
            else:
                if wanted.mesh is not None:
                    findings.append(
                        Finding(
                            id="layout.scan_not_there", severity=Severity.CONDITION, about=str(number), values=values
                        )
                    )
                piece, told = _made_up(wanted, number, maker)
        except (BadInput, OutOfRange) as error:
            findings.append(
                Finding(
                    id="layout.piece_left_out",
                    severity=Severity.CONDITION,
                    about=str(number),
                    values={**values, "reason": str(error)},
                )
            )
            continue
        pieces.append(piece)
        findings += told
    return tuple(pieces), tuple(findings)


def empty_layout(
    job: Job, catalog: Catalog, shape: TankShape, beside: Beside, maker: Maker = ANEW
) -> tuple[Layout, tuple[Piece, ...], tuple[Finding, ...]]:
    """The glass and the bed of a job with its pieces on hand, none placed; the pieces in the job's order beside it.

    Raises
    ------
    BadInput
        If form or soil of the bed is not known, or the form does not go into the tank.
    """
    glass = glass_of(job, shape)
    bed = bed_grid(job.bed, glass, catalog)
    pieces, findings = pieces_on_hand(job, catalog, beside, maker)
    return Layout(glass=glass, bed=bed, pieces={piece.key: piece for piece in pieces}), pieces, findings


# ---------------------------------------------------------------- the stage


def layout_lacks(job: Job) -> tuple[str, ...]:
    """Facts without which there is no layout; other rooms ask for the same."""
    asked = (("bed.shape", job.bed.shape), ("bed.soil", job.bed.soil), ("stones", job.stones), ("wood", job.wood))
    return tuple(name for name, value in asked if value is None)


def lay(
    job: Job,
    catalog: Catalog,
    shape: TankShape,
    *,
    beside: Beside,
    care: Care,
    maker: Maker = ANEW,
    on_progress: OnProgress = lambda _: None,
) -> Stage[Laid]:
    """The layout of a job: the scene beside it, else one proposal, with a finding that says so.

    Parameters
    ----------
    job, catalog : Job, Catalog
    shape : TankShape
        Of its tank.
    beside : Beside
        Scene and scans, as far as they are there.
    care : Care
        How hard to look for a proposal.
    maker : Maker
        Of pieces.
    on_progress : callable
        Told in a few words what is being done.

    Returns
    -------
    Stage
        Without a result where facts are missing, which other rooms ask for, and where nothing could be laid; litres
        are then estimated from masses, as a condition says.
    """
    if layout_lacks(job):
        return Stage(result=None)
    try:
        on_progress("shaping the pieces")
        empty, pieces, findings = empty_layout(job, catalog, shape, beside, maker)
    except BadInput:
        # The bed's own stage says what is wrong with it.
        return Stage(result=None)
    told: list[Finding] = []
    given = _given(job, catalog, empty, beside, told)
    if given is not None:
        on_progress("counting the litres of the layout")
        laid = laid_of(given, source="given", settled=True, intent="", seed=seed_of(job))
        return _stage(laid, (*told, *placing_findings(given), *steadiness_findings(given, None, ())), job)
    told += findings
    if not pieces:
        return _stage(laid_of(empty, source="given", settled=True, intent="", seed=seed_of(job)), tuple(told), job)
    on_progress("looking for a layout")
    intent = job.layout.intent or USUAL_INTENT
    found = proposals(empty, pieces, intent=intent, count=1, seed=seed_of(job), care=care, on_progress=on_progress)
    if not found:
        told.append(Finding(id="layout.not_laid", severity=Severity.CONDITION, values={"pieces": len(pieces)}))
        return Stage(result=None, findings=tuple(told))
    on_progress("counting the litres of the layout")
    laid = laid_as_proposed(found[0], seed=seed_of(job))
    told = list(numbered_as_placed(told, pieces, laid.layout))
    return _stage(
        laid,
        (
            *told,
            *proposal_findings(found[0]),
            *placing_findings(laid.layout),
            *steadiness_findings(laid.layout, None, ()),
        ),
        job,
    )


def proposals(
    empty: Layout,
    pieces: Sequence[Piece],
    *,
    intent: Intent,
    count: int,
    seed: int,
    care: Care,
    on_progress: OnProgress = lambda _: None,
) -> tuple[Proposal, ...]:
    """Layouts to pick from, best first; where none stays put when it is let go, those that were not let go.

    Parameters
    ----------
    empty : Layout
        Glass and bed.
    pieces : sequence of Piece
        All that are on hand; one that is there twice is named twice.
    intent, count, seed
        As in `arrange.propose`.
    care : Care
        How hard to look.
    on_progress : callable
        Told in a few words how far it is.
    """

    def told(progress: Progress) -> bool:
        what = "looking for a layout" if progress.stage == "search" else "letting the pieces go"
        on_progress(f"{what}, {progress.done} of {progress.of}")
        return True

    asked = partial(
        propose,
        empty.glass,
        empty.bed,
        pieces,
        intent=intent,
        count=count,
        seed=seed % 2**32,
        effort=Effort(runs=care.runs, steps=care.tries, settled=care.runs),
        on_progress=told,
    )
    found = (asked(settle=settled) if care.settle else ()) or asked(settle=None)
    # What it leaves out stays on hand: whoever opens the scene finds it there.
    return tuple(
        replace(item, layout=replace(item.layout, pieces={**empty.pieces, **item.layout.pieces})) for item in found
    )


OF_ONE_PIECE = ("layout.size_and_mass", "layout.scan_unusable", "layout.scan_not_there", "layout.piece_left_out")
"""Findings of `pieces_on_hand` that call a piece by its place in the job's list."""
NOWHERE = "–"


def numbered_as_placed(findings: Sequence[Finding], pieces: Sequence[Piece], layout: Layout) -> tuple[Finding, ...]:
    """Findings of pieces on hand with the numbers of the drawings; a dash where a piece stands nowhere.

    Parameters
    ----------
    findings : sequence of Finding
        Those of `pieces_on_hand`, and others, which stay as they are.
    pieces : sequence of Piece
        As `pieces_on_hand` gives them.
    layout : Layout
        Where they stand.
    """
    lost = {int(item.about) for item in findings if item.id == "layout.piece_left_out"}
    listed = [number for number in range(1, len(pieces) + len(lost) + 1) if number not in lost]
    free: dict[str, list[int]] = {}
    for placement in layout.placements:
        free.setdefault(placement.piece, []).append(placement.number)
    numbers = {
        number: free[piece.key].pop(0) for number, piece in zip(listed, pieces, strict=True) if free.get(piece.key)
    }
    found = []
    for item in findings:
        if item.id in OF_ONE_PIECE:
            number = numbers.get(int(item.about))
            told = {"number": NOWHERE if number is None else float(number)}
            about = NOWHERE if number is None else str(number)
            item = item.model_copy(update={"about": about, "values": {**item.values, **told}})
        found.append(item)
    return tuple(found)


def laid_as_proposed(proposal: Proposal, *, seed: int) -> Laid:
    """A proposal as the plan has it."""
    laid = laid_of(
        proposal.layout, source="proposed", settled=proposal.was_settled, intent=proposal.score.intent, seed=seed
    )
    left_out = sum(proposal.layout.pieces[item.piece].volume_l for item in proposal.left_out)
    return replace(laid, result=laid.result.model_copy(update={"left_out_l": left_out}))


def proposal_findings(proposal: Proposal) -> tuple[Finding, ...]:
    """That it is a proposal, how far it was tried, and what it leaves out."""
    placed = len(proposal.layout.placements)
    values: dict[str, float | str] = {"pieces": placed, "intent": f"@layout_intent.{proposal.score.intent}"}
    if proposal.was_settled:
        found = [Finding(id="layout.proposed", severity=Severity.NOTE, values=values)]
    else:
        found = [Finding(id="layout.proposed_not_settled", severity=Severity.NOTE, values=values)]
    if proposal.left_out:
        found.append(
            Finding(
                id="layout.pieces_left_out",
                severity=Severity.CONDITION,
                values={
                    "count": len(proposal.left_out),
                    "of": placed + len(proposal.left_out),
                    "names": ", ".join(dict.fromkeys(item.name for item in proposal.left_out)),
                },
            )
        )
    for item in proposal.left_out:
        found.append(
            Finding(
                id="layout.left_on_the_shelf",
                severity=Severity.NOTE,
                about=f"{item.mass_kg:.3g} kg",
                values={"name": item.name, "mass_kg": item.mass_kg, "why": f"@layout_why.{item.reason}"},
            )
        )
    return tuple(found)


def seed_of(job: Job) -> int:
    """Of the search for a proposal."""
    return job.seed if job.layout.seed is None else job.layout.seed


def _seen(laid: Laid, job: Job) -> tuple[Laid, tuple[Assumption, ...]]:
    """With what the public sees of it, and the heights and distances that were taken because nobody stated them."""
    wish, tank, glass = job.layout, job.tank, laid.layout.glass
    assumed = []

    def take(field: str, stated: float | None, usual: float) -> None:
        if stated is None:
            source = "for what the public sees; common practice, no source"
            assumed.append(Assumption(field=field, value=f"{usual:g} m", source=source))

    usual = {posture: EYES_M[posture] for posture in ("seated", "standing")}
    take("layout.seated_eye", wish.seated_eye_m, usual["seated"][1])
    take("layout.standing_eye", wish.standing_eye_m, usual["standing"][1])
    if wish.viewing_distance_m is None:
        near, far = sorted(distance for distance, _ in usual.values())
        assumed.append(
            Assumption(
                field="layout.viewing_distance",
                value=f"{far:g} m seated, {near:g} m standing",
                source="for what the public sees; common practice, no source",
            )
        )
    bottom = BOTTOM_OVER_FLOOR_M if tank.rim_height_m is None else max(0.0, tank.rim_height_m - glass.height_m)
    take("tank.rim_height", tank.rim_height_m, BOTTOM_OVER_FLOOR_M + glass.height_m)
    sights = tuple(
        Sight(
            side=eye.side,
            posture=eye.posture,
            distance_m=eye.distance_m,
            eye_m=eye.height_m,
            hidden_share=view(laid.layout, eye, cell_m=SIGHT_CELL_M).hidden_share,
        )
        for eye in eyes_of(glass, bottom_over_floor_m=min(bottom, 2.0), wish=wish)
    )
    return replace(laid, result=laid.result.model_copy(update={"sights": sights})), tuple(assumed)


def _stage(laid: Laid, findings: tuple[Finding, ...], job: Job) -> Stage[Laid]:
    laid, looked = _seen(laid, job)
    assumed = list(looked)
    if job.tank.wall_m is None:
        assumed.append(
            Assumption(
                field="tank.wall",
                value=f"{1000 * USUAL_WALL_M:g} mm",
                source="for drawings; common practice, no source",
            )
        )
    result = laid.result
    if laid.counts_differ:
        findings = (*findings, Finding(id="layout.volumes_differ", severity=Severity.CONDITION))
    return Stage(result=laid, figures=_figures(result), findings=findings, assumed=tuple(assumed))


def _given(job: Job, catalog: Catalog, empty: Layout, beside: Beside, told: list[Finding]) -> Layout | None:
    """The scene that the job names, in the job's own glass; None, and why, where it cannot be used."""
    name = job.layout.scene
    if name is None:
        return None

    def tell(said: Finding) -> None:
        told.append(said.model_copy(update={"about": name, "values": {"file": name, **said.values}}))

    if name not in beside.files:
        tell(Finding(id="layout.scene_not_there", severity=Severity.CONDITION))
        return None
    try:
        scene = from_glb(beside.files[name])
    except BadInput as error:
        tell(Finding(id="layout.scene_unusable", severity=Severity.CONDITION, values={"reason": str(error)}))
        return None
    ours, theirs = empty.glass.box_m, scene.glass.box_m
    if max(abs(a - b) for a, b in zip(ours, theirs, strict=True)) > SAME_TANK_M:
        sizes: dict[str, float | str] = {
            "length_m": theirs[2] - theirs[0],
            "width_m": theirs[3] - theirs[1],
            "tank_length_m": ours[2] - ours[0],
            "tank_width_m": ours[3] - ours[1],
        }
        tell(Finding(id="layout.scene_of_another_tank", severity=Severity.CONDITION, values=sizes))
        return None
    listed = [wanted.mass_kg for wanted in _wanted(job, catalog)]
    stands = [scene.pieces[item.piece].mass_kg for item in scene.placements]
    if len(listed) != len(stands) or abs(sum(stands) - sum(listed)) > SAME_MASS_SHARE * sum(listed):
        counts: dict[str, float | str] = {
            "pieces": len(stands),
            "mass_kg": sum(stands),
            "listed": len(listed),
            "listed_kg": sum(listed),
        }
        tell(Finding(id="layout.scene_other_pieces", severity=Severity.CONDITION, values=counts))
    return replace(scene, glass=empty.glass)


def _figures(result: LayoutResult) -> tuple[Figure, ...]:
    told = (
        ("displaced_l", result.displaced, "stones and wood above the soil and below the water line"),
        ("buried_l", result.buried, "stones and wood in the bed"),
        ("soil_net_l", result.soil, "bed - stones and wood in it"),
        ("free_water_l", result.water, "water line x footprint - bed - stones and wood above it"),
        ("above_water_l", result.above_water, "stones and wood above the water line"),
    )
    return tuple(
        Figure(
            id=f"layout.{name}",
            value=litres.value_l,
            unit="L",
            # 5 and 95 % of a normal error lie 1.645 standard errors from the middle.
            low=max(0.0, litres.value_l - 1.645 * litres.error_l) if litres.error_l else None,
            high=litres.value_l + 1.645 * litres.error_l if litres.error_l else None,
            formula=f"{formula}; solids united, cut by the bed and the water line",
            source="geometry, exact for the meshes; checked by counting in columns",
            inputs={"columns_l": litres.fast_l, "pieces": len(result.pieces)},
        )
        for name, litres, formula in told
    )


# ---------------------------------------------------------------- a layout as the plan has it


def staged(stage: Stage[Laid]) -> LayoutStage:
    """What the pipeline takes of it; the bed of a given scene counts as it lies there."""
    found = stage.result
    surface = None
    if found is not None and found.result.source == "given" and found.layout.placements:
        surface = surface_of_scene(found.layout)
    return LayoutStage(
        stage=Stage(
            result=None if found is None else found.result,
            figures=stage.figures,
            findings=stage.findings,
            assumed=stage.assumed,
            lacks=stage.lacks,
        ),
        surface=surface,
    )


def laid_of(layout: Layout, *, source: str, settled: bool, intent: str, seed: int) -> Laid:
    """A layout with its litres, counted in both ways, and what drawings need of it."""
    exact, fast = exact_volumes(layout), fast_volumes(layout)

    def litres(name: str) -> Litres:
        one, other = getattr(exact, name), getattr(fast, name)
        return Litres(value_l=one.value, error_l=one.standard_error, fast_l=other.value)

    glass, bed = layout.glass, layout.bed
    columns, rows = (_kept(len(axis), most) for axis, most in zip((bed.x_m, bed.y_m), DRAWN_NODES, strict=True))
    return Laid(
        layout=layout,
        counts_differ=bool(differing(exact, fast)),
        result=LayoutResult(
            source=source,
            settled=settled,
            intent=intent,
            seed=seed,
            corners_m=glass.corners_m,
            height_m=glass.height_m,
            water_line_m=glass.water_line_m,
            wall_m=glass.wall_m,
            public_sides=glass.public_sides,
            x_m=tuple(float(bed.x_m[i]) for i in columns),
            y_m=tuple(float(bed.y_m[j]) for j in rows),
            bed_m=tuple(tuple(round(float(bed.top_m[j, i]), 5) for i in columns) for j in rows),
            at_glass_m={
                "front": _line(bed.x_m, bed.top_m[0]),
                "rear": _line(bed.x_m, bed.top_m[-1]),
                "left": _line(bed.y_m, bed.top_m[:, 0]),
                "right": _line(bed.y_m, bed.top_m[:, -1]),
            },
            retainers_m=tuple(strip.line_m for strip in bed.retainers),
            layers_l=dict(material_litres(bed, glass)),
            pieces=tuple(_placed(layout, item) for item in layout.placements),
            sections=(_long(layout), _cross(layout)),
            displaced=litres("displaced_l"),
            buried=litres("buried_l"),
            soil=litres("soil_l"),
            water=litres("water_l"),
            above_water=litres("above_water_l"),
        ),
    )


def surface_of_scene(layout: Layout) -> Surface:
    """The depth of its bed at any place."""
    return partial(height_m, layout.bed)


def _kept(count: int, most: int) -> list[int]:
    return sorted({round(at) for at in np.linspace(0, count - 1, min(count, most))})


def _line(along: Floats, height: Floats) -> Ring:
    """A line of the bed, without corners that lie on the line between others."""
    points = [(round(float(a), 4), round(float(h), 4)) for a, h in zip(along, height, strict=True)]
    kept = [points[0]]
    for place in range(1, len(points) - 1):
        (x0, z0), (x1, z1), (x2, z2) = kept[-1], points[place], points[place + 1]
        if abs((z1 - z0) * (x2 - x0) - (z2 - z0) * (x1 - x0)) > 1e-4 * (x2 - x0):
            kept.append(points[place])
    return (*kept, points[-1])


def _placed(layout: Layout, placement: Placement) -> PlacedPiece:
    piece = layout.pieces[placement.piece]
    points = stood(piece.closed_vertices_m, placement)
    low, high = points.min(axis=0), points.max(axis=0)
    lowest = points[int(points[:, 2].argmin())]
    bed_there = float(height_m(layout.bed, lowest[:1], lowest[1:2])[0])
    return PlacedPiece(
        number=placement.number,
        name=piece.name,
        kind=piece.kind,
        material=piece.material,
        mass_kg=piece.mass_kg,
        volume_l=piece.volume_l,
        stand_in=piece.stand_in,
        locked=placement.locked,
        middle_m=(float(low[0] + high[0]) / 2, float(low[1] + high[1]) / 2),
        size_m=(float(high[0] - low[0]), float(high[1] - low[1]), float(high[2] - low[2])),
        low_m=float(low[2]),
        high_m=float(high[2]),
        sunk_m=bed_there - float(low[2]),
        above=outline(layout, placement, "above"),
        front=outline(layout, placement, "front"),
        left=outline(layout, placement, "left"),
    )


def _profile(bed: Bed, x: Floats, y: Floats, along: Floats) -> tuple[Ring, Ring]:
    base = replace(bed, top_m=bed.base_m)
    return _line(along, height_m(bed, x, y)), _line(along, height_m(base, x, y))


def _long(layout: Layout) -> Section:
    _, y0, _, y1 = layout.glass.box_m
    at = (y0 + y1) / 2
    x = layout.bed.x_m
    top, base = _profile(layout.bed, x, np.full_like(x, at), x)
    pieces = tuple(CutPiece(number=item.number, rings=cut(layout, item, "front", at)) for item in layout.placements)
    return Section(along="long", at_m=at, bed_m=top, base_m=base, pieces=tuple(item for item in pieces if item.rings))


def _cross(layout: Layout) -> Section:
    x0, _, x1, _ = layout.glass.box_m
    at = (x0 + x1) / 2
    y = layout.bed.y_m
    top, base = _profile(layout.bed, np.full_like(y, at), y, y)
    pieces = tuple(CutPiece(number=item.number, rings=cut(layout, item, "left", at)) for item in layout.placements)
    return Section(along="cross", at_m=at, bed_m=top, base_m=base, pieces=tuple(item for item in pieces if item.rings))
