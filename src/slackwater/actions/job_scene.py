"""The empty layout of a job: its glass, the bed it asks for, and the pieces it has on hand."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from slackwater.actions.layout_work import pieces_folder
from slackwater.actions.own_rows import catalog_folder, catalog_mark
from slackwater.actions.piece_cache import PieceCache
from slackwater.actions.settings import Settings
from slackwater.book import Book, jobs, layouts
from slackwater.errors import BadInput, NotFound, SlackwaterError
from slackwater.job.catalog import load_catalog
from slackwater.job.load import read_job
from slackwater.layout.asked import Beside
from slackwater.layout.compose import empty_layout
from slackwater.layout.gltf import from_glb
from slackwater.layout.scene import Layout, Piece
from slackwater.tank.assess import assess_tank
from slackwater.wording.render import say


def scene_of_text(settings: Settings, text: str) -> Layout:
    """The empty layout of a job text, with the firm's own catalog rows; found once.

    Raises
    ------
    BadInput
        If the text does not tell enough of the tank and the bed.
    """
    folder = catalog_folder(settings)
    return _scene(text, str(folder or ""), catalog_mark(settings), str(pieces_folder(settings)))


@lru_cache(maxsize=16)
def _scene(text: str, catalog: str, mark: str, pieces: str) -> Layout:
    try:
        return _kept(text, catalog, mark, pieces)
    except _NotMadeError:
        return scene_made(text, catalog, Path(pieces))


@lru_cache(maxsize=16)
def _kept(text: str, catalog: str, _mark: str, pieces: str) -> Layout:
    """The same where all its pieces are made: reading forty of them takes a third of a second, and pages ask each time."""
    return _laid(text, catalog, _OnlyKept(Path(pieces)))


def scene_made(text: str, catalog: str, pieces: Path) -> Layout:
    """The same with the pieces kept in a folder, and made where they are not."""
    return _laid(text, catalog, PieceCache(pieces))


def has_pieces(settings: Settings, text: str) -> bool:
    """Whether all pieces of a job are made, so that its layout opens at once; yes where there can be none.

    Whatever is wrong with the text is told when the layout is opened.
    """
    folder = str(catalog_folder(settings) or "")
    try:
        _kept(text, folder, catalog_mark(settings), str(pieces_folder(settings)))
    except _NotMadeError:
        return False
    except SlackwaterError:
        return True
    return True


class _NotMadeError(Exception):
    """A piece is not made yet."""


class _OnlyKept(PieceCache):
    """Finds pieces and makes none."""

    def get(self, key: str) -> Piece:
        """The piece of that key."""
        piece = super().get(key)
        if piece is None:
            raise _NotMadeError
        return piece


def _laid(text: str, catalog_path: str, maker: PieceCache) -> Layout:
    catalog = load_catalog(Path(catalog_path) if catalog_path else None)
    job = read_job(text, file_name="job")
    shape = assess_tank(job, catalog).result
    if shape is None:
        raise BadInput(say("web.layout.no_tank", {}))
    if job.bed.shape is None or job.bed.soil is None:
        raise BadInput(say("web.layout.no_bed", {}))
    layout, _, _ = empty_layout(job, catalog, shape, Beside(), maker)
    return layout


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
