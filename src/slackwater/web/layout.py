"""The layout of a job: a page with numbers for everybody, and the typed API of the editor that lives in it."""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Mapping
from functools import lru_cache
from hashlib import sha256
from typing import TYPE_CHECKING, Annotated, Any, Literal
from uuid import UUID

import numpy as np
from fastapi import APIRouter, Body, Query, Request, Response
from fastapi.responses import RedirectResponse
from pydantic import Field

from slackwater.actions.office import Office
from slackwater.book.tasks import TaskRow
from slackwater.errors import BadInput, SlackwaterError
from slackwater.frozen import Frozen
from slackwater.job.model import Intent
from slackwater.layout.acts import Edit
from slackwater.layout.scene import Layout, Piece
from slackwater.units import UnitSystem
from slackwater.web.api import JobId, Task, Units, task_item
from slackwater.web.forms import Sent, typed_in
from slackwater.web.here import LARGEST_NUMBER, Here
from slackwater.web.pages import asker_of, render, units_of
from slackwater.wording.render import finding_sentence, say, sentences

if TYPE_CHECKING:
    from slackwater.actions.editing_layout import Came, Laid
    from slackwater.actions.layout_counts import Counted

router = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api", tags=["layout"])

MOST_FACES, LEAST_FACES = 1_200, 300
"""Triangles of a piece on screen; it is counted with all of them."""
MOST_FACES_IN_ALL = 24_000
"""Of all pieces together: where many stand, each is small on the screen."""
MOST_NODES = 4_000
"""Nodes of the bed on screen; it is counted with all of them."""
MOST_EDITS = 100
PER_M: Mapping[UnitSystem, float] = {"metric": 100.0, "us": 100 / 2.54}
"""Lengths are typed in centimetres or inches."""
Revision = Annotated[int, Field(ge=0, le=LARGEST_NUMBER)]
VersionNumber = Annotated[int, Field(ge=1, le=LARGEST_NUMBER)]
Numbers = str
"""Numbers as base64, little-endian; 32 bits each unless told otherwise."""


class GlassItem(Frozen):
    """The inside of the tank; metres, x to the right, y to the rear, z up."""

    corners_m: tuple[tuple[float, float], ...]
    height_m: float
    water_line_m: float
    wall_m: float
    public_sides: tuple[Literal["front", "rear", "left", "right"], ...]


class PieceItem(Frozen):
    """A piece on hand, with a mesh for the screen in its own frame.

    Attributes
    ----------
    vertices_m : str
        Three floats a corner, as base64.
    faces : str
        Three whole numbers of 16 bits a triangle, as base64.
    centre_m : tuple of float
        About which it is turned.
    """

    key: str
    name: str
    kind: Literal["stone", "wood"]
    look: str
    material: str
    mass_kg: float
    size_m: tuple[float, float, float]
    centre_m: tuple[float, float, float]
    stand_in: bool
    vertices_m: Numbers
    faces: Numbers


class PlacedItem(Frozen):
    """Where a piece stands: a corner p of its mesh lies at turn(p) + position; angles are turn, lean, tip."""

    number: int
    piece: str
    position_m: tuple[float, float, float]
    turn: tuple[float, float, float, float]
    locked: bool
    centre_m: tuple[float, float, float]
    low_m: float
    high_m: float
    angles_deg: tuple[float, float, float]


class BedItem(Frozen):
    """The surface of the bed for the screen: heights row by row, x first.

    Attributes
    ----------
    mark : str
        The same as long as the bed is.
    """

    mark: str
    x_m: tuple[float, ...]
    y_m: tuple[float, ...]
    top_m: Numbers


class LayoutState(Frozen):
    """What changes from touch to touch; `bed` is null where it is as the caller has it."""

    revision: Revision
    based_on: int
    can_undo: bool
    can_redo: bool
    placements: tuple[PlacedItem, ...]
    bed: BedItem | None
    notes: tuple[str, ...]


class Scene(Frozen):
    """All that a screen needs to show a layout."""

    glass: GlassItem
    pieces: tuple[PieceItem, ...]
    state: LayoutState


class Changes(Frozen):
    """Acts that are one step; `bed` is the mark of the bed that the caller has."""

    revision: Revision
    bed: str = ""
    edits: Annotated[tuple[Edit, ...], Field(min_length=1, max_length=MOST_EDITS)]


class Step(Frozen):
    """The draft that is meant, and the bed that the caller has."""

    revision: Revision
    bed: str = ""


class Saving(Frozen):
    """A version to be saved."""

    revision: Revision
    bed: str = ""
    title: Annotated[str, Field(max_length=500)] = ""


class FigureLine(Frozen):
    """A figure in the reader's units."""

    id: str
    name: str
    value: str


class LayoutFigures(Frozen):
    """What the draft comes to; `revision` says which."""

    revision: Revision
    lines: tuple[FigureLine, ...]
    remarks: tuple[str, ...]


class Pane(Frozen):
    """Glass that a hand cannot clean: middles of squares on the pane, three floats each, as base64."""

    number: int
    unclean_share: float
    at_m: Numbers


class Cleaning(Frozen):
    """What of the glass a hand can clean."""

    revision: Revision
    told: str
    cell_m: float
    panes: tuple[Pane, ...]
    remarks: tuple[str, ...]


class SavedItem(Frozen):
    """A saved version."""

    number: int
    title: str
    saved_at: str


class Wish(Frozen):
    """What proposals are to be like; the same seed, the same answer."""

    revision: Revision
    intent: Intent = "open_middle"
    seed: Annotated[int, Field(ge=0, le=LARGEST_NUMBER)] = 1


class Way(Frozen):
    """A layout to pick from, counted from 1; `percent` of what could be is null where nothing was scored."""

    number: int
    percent: float | None
    reasons: tuple[str, ...]
    placements: tuple[PlacedItem, ...]


class Outcome(Frozen):
    """What came of settling (one way) or of proposing; `revision` is that of the draft it was asked of."""

    revision: Revision
    told: tuple[str, ...]
    ways: tuple[Way, ...]


class Taking(Frozen):
    """Which of them to take, counted from 1."""

    revision: Revision
    bed: str = ""
    number: Annotated[int, Field(ge=1, le=100)] = 1


def _edits() -> Any:
    """What does the work: loaded with the first layout that is asked for, for no other page needs its libraries."""
    from slackwater.actions import editing_layout

    return editing_layout


def numbers(values: Any, kind: str) -> Numbers:
    """Numbers as text."""
    return base64.b64encode(np.ascontiguousarray(values, dtype=kind).tobytes()).decode("ascii")


def bed_mark(layout: Layout) -> str:
    """The same as long as the bed is."""
    return sha256(layout.bed.top_m.tobytes()).hexdigest()[:16]


@lru_cache(maxsize=128)
def _piece(piece: Piece, most_faces: int) -> PieceItem:
    from slackwater.layout.thinning import thinned

    vertices, faces = thinned(piece.vertices_m, piece.faces, most_faces)
    length, width, height = (float(side) for side in np.ptp(piece.vertices_m, axis=0))
    x, y, z = (float(value) for value in piece.centre_m)
    return PieceItem(
        key=piece.key,
        name=piece.name,
        kind=piece.kind,
        look=piece.look,
        material=piece.material,
        mass_kg=piece.mass_kg,
        size_m=(length, width, height),
        centre_m=(x, y, z),
        stand_in=piece.stand_in,
        vertices_m=numbers(vertices, "<f4"),
        faces=numbers(faces, "<u2"),
    )


def _bed(layout: Layout) -> BedItem:
    from slackwater.layout.thinning import shown_bed

    x_m, y_m, top_m = shown_bed(layout.bed, MOST_NODES)
    return BedItem(mark=bed_mark(layout), x_m=tuple(x_m.tolist()), y_m=tuple(y_m.tolist()), top_m=numbers(top_m, "<f4"))


def _placed(layout: Layout) -> tuple[PlacedItem, ...]:
    from slackwater.layout.editing import standing

    return tuple(
        PlacedItem(
            number=item.number,
            piece=item.piece,
            position_m=item.position_m,
            turn=item.turn,
            locked=item.locked,
            **standing(layout, item).model_dump(),
        )
        for item in layout.placements
    )


def _state(laid: Laid, bed: str) -> LayoutState:
    layout = laid.layout
    return LayoutState(
        revision=laid.revision,
        based_on=laid.based_on,
        can_undo=laid.can_undo,
        can_redo=laid.can_redo,
        placements=_placed(layout),
        bed=None if bed == bed_mark(layout) else _bed(layout),
        notes=laid.notes,
    )


# ---------------------------------------------------------------- the API


@api.get("/jobs/{job_id}/layout")
def get_layout(office: Here, job_id: JobId) -> Scene:
    """The draft of a job's layout, or what it would begin from."""
    laid = _edits().see(office, str(job_id))
    glass, pieces = laid.layout.glass, laid.layout.pieces.values()
    each = min(MOST_FACES, max(LEAST_FACES, MOST_FACES_IN_ALL // max(1, len(pieces))))
    return Scene(
        glass=GlassItem(
            corners_m=glass.corners_m,
            height_m=glass.height_m,
            water_line_m=glass.water_line_m,
            wall_m=glass.wall_m,
            public_sides=glass.public_sides,
        ),
        pieces=tuple(_piece(piece, each) for piece in pieces),
        state=_state(laid, ""),
    )


@api.post("/jobs/{job_id}/layout/edits")
def change_layout(request: Request, office: Here, job_id: JobId, changes: Annotated[Changes, Body()]) -> LayoutState:
    """Do some acts as one step, all or none; 409 where somebody else has changed the draft meanwhile."""
    laid = _edits().change(office, str(job_id), changes.edits, revision=changes.revision, by=_by(request))
    return _state(laid, changes.bed)


@api.post("/jobs/{job_id}/layout/undo")
def undo_layout(request: Request, office: Here, job_id: JobId, step: Annotated[Step, Body()]) -> LayoutState:
    """Go one step back."""
    return _state(_edits().undo(office, str(job_id), revision=step.revision, by=_by(request)), step.bed)


@api.post("/jobs/{job_id}/layout/redo")
def redo_layout(request: Request, office: Here, job_id: JobId, step: Annotated[Step, Body()]) -> LayoutState:
    """Go forward by a step that was undone."""
    return _state(_edits().redo(office, str(job_id), revision=step.revision, by=_by(request)), step.bed)


@api.get("/jobs/{job_id}/layout/figures")
def layout_figures(office: Here, job_id: JobId, units: Units = "metric") -> LayoutFigures:
    """Litres, planting area and mass of the draft, and what is wrong with it."""
    laid, found = _edits().counted(office, str(job_id))
    return _figures(laid, found, units)


def _figures(laid: Laid, found: Counted, units: UnitSystem) -> LayoutFigures:
    litres = found.volumes
    values: dict[str, float] = {
        "displaced": litres.displaced_l.value,
        "soil": litres.soil_l.value,
        "water": litres.water_l.value,
        "above": litres.above_water_l.value,
        "planting": found.planting_m2,
        "mass": found.mass_kg,
    }
    lines = tuple(
        FigureLine(
            id=name,
            name=say(f"web.layout.figure.{name}", {}),
            # A screen has the raised figure that a job file has not.
            value=re.sub(r"\b(m|ft)2\b", r"\1²", say(f"web.layout.value.{name}", {"n": value}, units)),
        )
        for name, value in values.items()
    )
    remarks = tuple(finding_sentence(finding, units) for finding in found.findings)
    return LayoutFigures(revision=laid.revision, lines=lines, remarks=remarks)


@api.get("/jobs/{job_id}/layout/cleaning")
def layout_cleaning(office: Here, job_id: JobId, units: Units = "metric") -> Cleaning:
    """The glass that a hand cannot clean, and tips near it."""
    from slackwater.actions.layout_counts import cleaning

    laid = _edits().see(office, str(job_id))
    found = cleaning(laid.layout)
    corners = laid.layout.glass.corners_m
    panes = []
    for pane in found.panes:
        (ax, ay), (bx, by) = corners[pane.pane], corners[(pane.pane + 1) % len(corners)]
        length = float(np.hypot(bx - ax, by - ay))
        rows, columns = np.nonzero(pane.unclean)
        share = pane.along_m[columns] / length
        at = np.stack([ax + share * (bx - ax), ay + share * (by - ay), pane.up_m[rows]], axis=1)
        panes.append(Pane(number=pane.pane, unclean_share=pane.unclean_share, at_m=numbers(at, "<f4")))
    told = say(
        "web.layout.cleaning", {"percent": f"{100 * (1 - found.unclean_share):.0f}", "hand_m": found.hand_m}, units
    )
    return Cleaning(
        revision=laid.revision,
        told=told,
        cell_m=found.cell_m,
        panes=tuple(panes),
        remarks=tuple(finding_sentence(finding, units) for finding in found.findings),
    )


@api.get("/jobs/{job_id}/layout/versions")
def layout_versions(office: Here, job_id: JobId) -> list[SavedItem]:
    """Saved versions, the newest first."""
    return _saved(office, str(job_id))


def _saved(office: Office, job_id: str) -> list[SavedItem]:
    return [
        SavedItem(
            number=saved.n,
            title=saved.row.title,
            saved_at=saved.row.added_at.astimezone().strftime("%d %b %Y %H:%M"),
        )
        for saved in _edits().versions(office, job_id)
    ]


@api.post("/jobs/{job_id}/layout/versions", status_code=201)
def save_layout(request: Request, office: Here, job_id: JobId, saving: Annotated[Saving, Body()]) -> LayoutState:
    """Save the draft as a new version."""
    _, laid = _edits().save(office, str(job_id), title=saving.title, revision=saving.revision, by=_by(request))
    return _state(laid, saving.bed)


@api.post("/jobs/{job_id}/layout/versions/{number}/back")
def take_layout_back(
    request: Request, office: Here, job_id: JobId, number: VersionNumber, step: Annotated[Step, Body()]
) -> LayoutState:
    """Take a saved version into the draft."""
    laid = _edits().take_back(office, str(job_id), number, revision=step.revision, by=_by(request))
    return _state(laid, step.bed)


@api.post("/jobs/{job_id}/layout/settle", status_code=202)
def settle_layout(
    request: Request, office: Here, job_id: JobId, step: Annotated[Step, Body()], units: Units = "metric"
) -> Task:
    """Have the draft settled as long work."""
    return task_item(_edits().ask_settled(office, str(job_id), revision=step.revision, units=units, by=_by(request)))


@api.post("/jobs/{job_id}/layout/proposals", status_code=202)
def propose_layouts(
    request: Request, office: Here, job_id: JobId, wish: Annotated[Wish, Body()], units: Units = "metric"
) -> Task:
    """Have layouts proposed from the pieces on hand as long work; locked ones stay where they are."""
    task = _edits().ask_proposals(
        office, str(job_id), revision=wish.revision, intent=wish.intent, seed=wish.seed, units=units, by=_by(request)
    )
    return task_item(task)


@api.get("/jobs/{job_id}/layout/work/{task_id}")
def layout_outcome(office: Here, job_id: JobId, task_id: UUID, units: Units = "metric") -> Outcome:
    """What came of settling or proposing; 404 until it has ended well."""
    return _outcome(_edits().came(office, str(job_id), str(task_id)), units)


@api.post("/jobs/{job_id}/layout/work/{task_id}/take")
def take_layout(
    request: Request, office: Here, job_id: JobId, task_id: UUID, taking: Annotated[Taking, Body()]
) -> LayoutState:
    """Take one of them into the draft."""
    laid = _edits().take_outcome(
        office, str(job_id), str(task_id), taking.number - 1, revision=taking.revision, by=_by(request)
    )
    return _state(laid, taking.bed)


def _outcome(found: Came, units: UnitSystem) -> Outcome:
    moved = found.told.get("moved", [])
    scores = found.told.get("scores", [{"total": None, "parts": [], "left_out": []}] * len(found.layouts))
    told = []
    if moved or "at_rest" in found.told:
        steady = sum(item["accepted"] for item in moved)
        told.append(say("web.layout.settled", {"steady": str(steady), "count": str(len(moved))}, units))
        told += [
            say(
                "web.layout.settled_moved",
                {
                    "number": str(item["number"]),
                    "turn": f"{item['turn_deg']:.0f}",
                    "shift_m": item["shift_m"],
                },
                units,
            )
            for item in moved
            if not item["accepted"]
        ]
    elif not found.layouts:
        told.append(say("web.layout.none_proposed", {}, units))
    return Outcome(
        revision=found.revision,
        told=tuple(told),
        ways=tuple(
            Way(
                number=n,
                percent=None if score["total"] is None else 100 * score["total"],
                reasons=reasons_of(score, units),
                placements=_placed(layout),
            )
            for n, (layout, score) in enumerate(zip(found.layouts, scores, strict=True), start=1)
        ),
    )


def reasons_of(score: Mapping[str, Any], units: UnitSystem) -> tuple[str, ...]:
    """What speaks for a proposal and against it, and what it leaves out, in sentences."""
    return (
        *(say(f"layout_part.{part['id']}", part["values"], units) for part in score["parts"]),
        *(
            say(f"layout_left.{left['reason']}", {"piece": left["name"], "mass_kg": left["mass_kg"]}, units)
            for left in score["left_out"]
        ),
    )


def _by(request: Request) -> str:
    return asker_of(request).account_id or ""


# ---------------------------------------------------------------- the page

TYPED = ("x", "y", "low", "turn", "lean", "tip", "x2", "y2", "radius", "height", "edge")
ANGLES = ("turn", "lean", "tip")
WORDS = (
    *("none_chosen", "spoken", "number", "counting", "offline", "failed", "no_webgl", "bench", "made_up", "place"),
    *("hand_none", "nothing", "locked", "lock", "unlock", "degrees", "saved", "version", "back", "scene", "proposal"),
    *("proposal_score", "take", "settled", "settled_moved", "settled_take", "older", "stop", "stopped", "no_versions"),
    *("view_turn", "view_front", "view_rear", "view_left", "view_right", "view_above"),
    *("view_long", "view_cross", "drawn", "asked_number", "both_points", "between", "lost_picture", "unfinished"),
)
"""Sentences that the script fills in itself."""


@router.get("/jobs/{job_id}/layout")
def layout_page(request: Request, office: Here, job_id: str, came: Annotated[UUID | None, Query()] = None) -> Response:
    """The layout: with script an editor, without it the pieces as numbers; first of all its pieces are made."""
    task = _edits().ask_pieces(office, job_id, units=units_of(request), by=_by(request))
    if task is not None:
        return RedirectResponse(f"/tasks/{task.id}", 303)
    return _page(request, office, job_id, came="" if came is None else str(came))


@router.post("/jobs/{job_id}/layout")
def layout_act(request: Request, office: Here, job_id: str, form: Sent) -> Response:
    """One act of somebody without script."""
    typed = typed_in(form)
    edits_of = _edits()
    try:
        revision = int(typed.get("revision", "0"))
        laid = edits_of.see(office, job_id)
        task = _act(
            edits_of, office, job_id, laid.layout, typed, revision=revision, units=units_of(request), by=_by(request)
        )
    except ValueError:
        return _page(request, office, job_id, typed=typed, fault=say("web.layout.overtaken", {}), status=422)
    except SlackwaterError as error:
        return _page(request, office, job_id, typed=typed, fault=str(error), status=422)
    return RedirectResponse(f"/tasks/{task.id}" if task is not None else f"/jobs/{job_id}/layout", 303)


def _act(
    edits_of: Any,
    office: Office,
    job_id: str,
    layout: Layout,
    typed: Mapping[str, str],
    *,
    revision: int,
    units: UnitSystem,
    by: str,
) -> TaskRow | None:
    """Do what a button says; the task, where that takes long."""
    act = typed.get("act", "")
    at: dict[str, Any] = {"revision": revision, "by": by}
    match act:
        case "undo" | "redo":
            getattr(edits_of, act)(office, job_id, **at)
        case "save":
            edits_of.save(office, job_id, title=typed.get("title", ""), **at)
        case "back":
            edits_of.take_back(office, job_id, int(typed.get("version", "0")), **at)
        case "settle":
            task: TaskRow = edits_of.ask_settled(office, job_id, units=units, **at)
            return task
        case "propose":
            wish = Wish.model_validate({"revision": revision, "intent": typed.get("intent", "open_middle")})
            task = edits_of.ask_proposals(office, job_id, intent=wish.intent, seed=wish.seed, units=units, **at)
            return task
        case "take":
            edits_of.take_outcome(office, job_id, typed.get("came", ""), int(typed.get("way", "0")) - 1, **at)
        case _:
            edits = _edits_typed(act, layout, typed, units)
            edits_of.change(office, job_id, edits, **at)
    return None


def _edits_typed(act: str, layout: Layout, typed: Mapping[str, str], units: UnitSystem) -> tuple[Edit, ...]:
    """The acts that a form means."""
    from pydantic import TypeAdapter, ValidationError

    from slackwater.layout.editing import put_so

    told = _numbers(typed, units)
    number = int(typed.get("number") or 0)
    edits: list[Any]
    if act == "put" and {"x", "y", "low", *ANGLES} <= told.keys():
        edits = [
            put_so(
                layout,
                number,
                x_m=told["x"],
                y_m=told["y"],
                low_m=told["low"],
                angles_deg=(told["turn"], told["lean"], told["tip"]),
            )
        ]
    elif act in ("place", "swap"):
        where = {"number": number} if act == "swap" else {"x_m": told.get("x"), "y_m": told.get("y")}
        edits = [{"act": act, "piece": typed.get("piece", ""), **where}]
    elif act == "shape":
        line = [(told.get("x"), told.get("y"))]
        if "x2" in told and "y2" in told:
            line.append((told["x2"], told["y2"]))
        kept = {f"{name}_m": told[name] for name in ("radius", "height", "edge") if name in told}
        edits = [{"act": act, "stroke": typed.get("stroke", ""), "line_m": line, **kept}]
    else:
        edits = [{"act": act, **({"number": number} if number else {})}]
    try:
        found: tuple[Edit, ...] = TypeAdapter(tuple[Edit, ...]).validate_python(tuple(edits))
    except ValidationError as error:
        raise BadInput(say("web.error.422", {})) from error
    return found


def _numbers(typed: Mapping[str, str], units: UnitSystem) -> dict[str, float]:
    found: dict[str, float] = {}
    for name in TYPED:
        text = typed.get(name, "").strip().replace(",", ".")
        if not text:
            continue
        try:
            value = float(text)
        except ValueError:
            raise BadInput(say("web.layout.bad_number", {"field": name, "typed": text[:20]})) from None
        found[name] = value if name in ANGLES else value / PER_M[units]
    return found


def _page(
    request: Request,
    office: Office,
    job_id: str,
    *,
    typed: Mapping[str, str] | None = None,
    came: str = "",
    fault: str = "",
    status: int = 200,
) -> Response:
    from slackwater.actions.recording import job_of

    units = units_of(request)
    job = job_of(office, job_id)
    try:
        laid, found = _edits().counted(office, job_id)
    except BadInput as error:
        return render(request, "layout_lacking.html", job=job, fault=str(error))
    state = _state(laid, "")
    pieces = laid.layout.pieces
    placed = {item.piece for item in state.placements}
    return render(
        request,
        "layout.html",
        job=job,
        state=state,
        pieces=pieces,
        hand=[piece for key, piece in pieces.items() if key not in placed],
        figures=_figures(laid, found, units),
        versions=_saved(office, job_id),
        drawings=("plan", *laid.layout.glass.public_sides, "long", "cross"),
        middle=[sum(side) / 2 for side in zip(laid.layout.glass.box_m[:2], laid.layout.glass.box_m[2:], strict=True)],
        per_m=PER_M[units],
        unit={"metric": "cm", "us": "in"}[units],
        typed=typed or {},
        came=came,
        outcome=_outcome(_edits().came(office, job_id, came), units) if came else None,
        fault=fault,
        may_change=asker_of(request).is_owner,
        words=json.dumps({name: sentences()[f"web.layout.{name}"] for name in WORDS}),
        status_code=status,
    )


@router.get("/jobs/{job_id}/layout/drawings/{name}.svg")
def layout_drawing(
    request: Request,
    office: Here,
    job_id: str,
    name: str,
    came: Annotated[UUID | None, Query()] = None,
    way: Annotated[int, Query(ge=1, le=100)] = 1,
) -> Response:
    """A drawing to scale of the draft, or of one of the layouts that came of long work."""
    task_id = "" if came is None else str(came)
    svg = _edits().drawing(office, job_id, name, units=units_of(request), task_id=task_id, n=way - 1)
    return Response(svg, media_type="image/svg+xml")


@router.get("/jobs/{job_id}/layout/scene.glb")
def draft_scene(office: Here, job_id: str) -> Response:
    """The draft as a glTF scene."""
    return _scene_file(office, job_id, 0)


@router.get("/jobs/{job_id}/layout/versions/{n}/scene.glb")
def version_scene(office: Here, job_id: str, n: VersionNumber) -> Response:
    """A saved version as a glTF scene."""
    return _scene_file(office, job_id, n)


def _scene_file(office: Office, job_id: str, n: int) -> Response:
    name = f"layout-{n}.glb" if n else "layout.glb"
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(_edits().scene_file(office, job_id, n), media_type="model/gltf-binary", headers=headers)
