"""Drawing the pictures of an offer as long work: what it is given, what it leaves beside the plan."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from slackwater.actions.own_rows import catalog_folder
from slackwater.actions.plan_work import job_in, laid_scene, place_of, saved_scene, wanted_of
from slackwater.actions.readers import reader_of_papers
from slackwater.actions.settings import Settings
from slackwater.book import Book
from slackwater.book.tasks import TaskRow
from slackwater.errors import BadInput
from slackwater.paper.picture_page import OfferPictures, Shot
from slackwater.work import Kind

PICTURES = "pictures"
FOLDER, TOLD = "pictures", "pictures.json"
SET = "set"
"""Where papers that were set for a sender lie beside a plan: without pictures so far, so they are set anew."""


def picture_kind(settings: Settings, book: Book) -> Kind:
    """Pictures for the plans of this office."""

    def given(task: TaskRow) -> Mapping[str, Any]:
        wanted = wanted_of(task)
        place = place_of(settings, book, wanted, on=task.added_at.date())
        catalog = catalog_folder(settings)
        return {
            "text": place.text,
            "folder": str(place.folder),
            "units": wanted.units,
            "catalog": str(catalog) if catalog else "",
            "layouts": str(settings.layouts),
            "scene": saved_scene(book, wanted.job_id),
        }

    def kept(_: TaskRow, result: str) -> str:
        return result

    return Kind(run=draw, given=given, kept=kept)


def draw(given: Mapping[str, Any], report: Callable[[str], None]) -> str:
    """Draw what the offer shows and lay it beside the plan; done in a worker process.

    Raises
    ------
    BadInput
        If the job has no layout.
    CannotRun
        Where what draws is not installed.
    """
    from slackwater.actions.picturing import Wish, offer_pictures, pictures_folder, pictures_of, refuse_without_renderer
    from slackwater.job.catalog import load_catalog

    refuse_without_renderer()
    job = job_in(given["text"])
    catalog = load_catalog(Path(given["catalog"]) if given["catalog"] else None)
    layouts, reader = Path(given["layouts"]), reader_of_papers(job, given["units"])
    scene = laid_scene(job, catalog, given["scene"], layouts, report)
    if scene is None:
        raise BadInput("A picture needs a layout, and this job has none yet: lay it out in the editor.")
    cache = pictures_folder(layouts)
    pictures_of(job, catalog, scene, Wish(), cache=cache, reader=reader, on_progress=report)
    found = offer_pictures(job, catalog, scene, cache=cache, reader=reader)
    _lay(found, Path(given["folder"]))
    return "{}"


def _lay(found: OfferPictures, folder: Path) -> None:
    """All pictures or none, in place of those that were there; papers without them are thrown away."""
    folder.mkdir(parents=True, exist_ok=True)
    told = {
        "caption": list(found.caption),
        "items": [{"file": shot.file, "title": shot.title, "alt": shot.alt} for shot in found.shots],
    }
    with tempfile.TemporaryDirectory(prefix=".pictures-", dir=folder) as room:
        whole = Path(room) / "whole"
        whole.mkdir()
        for shot in found.shots:
            (whole / shot.file).write_bytes(shot.png)
        (whole / TOLD).write_text(json.dumps(told, ensure_ascii=False), encoding="utf-8")
        shutil.rmtree(folder / FOLDER, ignore_errors=True)
        whole.rename(folder / FOLDER)
    shutil.rmtree(folder / SET, ignore_errors=True)


def laid_beside(folder: Path) -> OfferPictures | None:
    """The pictures beside a plan; None where none were drawn for it."""
    try:
        told = json.loads((folder / FOLDER / TOLD).read_text(encoding="utf-8"))
        shots = tuple(Shot(**item, png=(folder / FOLDER / item["file"]).read_bytes()) for item in told["items"])
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return OfferPictures(shots=shots, caption=tuple(told["caption"]))
