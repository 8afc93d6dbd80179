"""The empty layout of a job: its glass, the bed it asks for, and the pieces it has on hand."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from slackwater.actions.own_rows import catalog_folder, catalog_mark
from slackwater.actions.settings import Settings
from slackwater.book import Book, jobs, layouts
from slackwater.errors import BadInput, NotFound
from slackwater.job.catalog import Catalog, load_catalog
from slackwater.job.load import read_job
from slackwater.job.model import Job
from slackwater.layout.gltf import from_glb
from slackwater.layout.ground import bed_grid
from slackwater.layout.scene import Glass, Layout, Look, Piece
from slackwater.layout.standin import stand_in
from slackwater.tank.assess import assess_tank
from slackwater.wording.render import say


def scene_of_text(settings: Settings, text: str) -> Layout:
    """The empty layout of a job text, with the firm's own catalog rows; found once."""
    folder = catalog_folder(settings)
    return _scene(text, str(folder or ""), catalog_mark(settings))


@lru_cache(maxsize=16)
def _scene(text: str, folder: str, _mark: str) -> Layout:
    catalog = load_catalog(Path(folder) if folder else None)
    return scene_of_job(read_job(text, file_name="job"), catalog)


def scene_of_job(job: Job, catalog: Catalog) -> Layout:
    """The empty layout of a job."""
    shape = assess_tank(job, catalog).result
    if shape is None:
        raise BadInput("The survey does not yet tell the size of the tank and its water line; a layout needs both")
    glass = Glass(
        corners_m=shape.corners_m,
        height_m=shape.height_m,
        water_line_m=shape.water_line_m,
        wall_m=job.tank.wall_m or 0.01,
        public_sides=job.tank.public_sides or ("front",),
        openings_m=tuple((item.length_m, item.width_m) for item in job.tank.free_openings or ()),
    )
    if job.bed is None or job.bed.shape is None or job.bed.soil is None:
        raise BadInput("The survey does not yet tell the form and the soil of the bed; a layout needs both")
    pieces: list[Piece] = []
    for stone in job.stones or ():
        material = catalog.materials[stone.material]
        look: Look = "angular"
        for mass in stone.pieces_kg:
            pieces.append(
                stand_in(
                    name=f"stone {len(pieces) + 1}",
                    kind="stone",
                    look=look,
                    material=stone.material,
                    density_kg_m3=1000 * material.solid_density_kg_per_l,
                    size_m=None,
                    mass_kg=mass,
                    seed=len(pieces),
                )
            )
    for number, wood in enumerate(job.wood or (), start=1):
        material = catalog.materials[wood.material]
        pieces.append(
            stand_in(
                name=f"wood {number}",
                kind="wood",
                look="branching",
                material=wood.material,
                density_kg_m3=1000 * material.solid_density_kg_per_l,
                size_m=None,
                mass_kg=wood.mass_kg,
                seed=100 + number,
            )
        )
    return Layout(glass=glass, bed=bed_grid(job.bed, glass, catalog), pieces={piece.key: piece for piece in pieces})


def base_of(settings: Settings, book: Book, job_id: str, n: int) -> tuple[Layout, tuple[str, ...]]:
    """What a draft begins from: a saved version with the pieces on hand beside it, or with 0 the empty layout of the job.

    Returns
    -------
    layout, notes
        What is to be known of it, in sentences.

    Raises
    ------
    NotFound, BadInput, CorruptBook
        If there is no such job; if its survey does not tell enough of the tank and the bed.
    """
    on_hand = scene_of_text(settings, jobs.newest(book, job_id).text)
    if not n:
        return on_hand, ()
    try:
        saved = from_glb(layouts.scene(book, job_id, n))
    except NotFound:
        return on_hand, (say("web.layout.erased", {}),)
    placed = {item.piece for item in saved.placements}
    kept = {key: piece for key, piece in saved.pieces.items() if key in placed}
    notes = () if saved.glass.box_m == on_hand.glass.box_m else (say("web.layout.other_tank", {}),)
    return replace(saved, pieces={**kept, **on_hand.pieces}), notes
