"""The layout that a job is planned with: files beside it read, and what was found once kept for the next time."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any

from slackwater import __version__
from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.layout.asked import Beside, Care, files_named, lamp_files
from slackwater.layout.result import LayoutResult, LayoutStage
from slackwater.stage import Stage
from slackwater.tank.assess import assess_tank

if TYPE_CHECKING:
    from slackwater.layout.compose import Laid

LARGEST_BYTES = 512 * 1024 * 1024
"""Of a file beside a job."""
MOST_KEPT = 400
"""Layouts; those made longest ago go first."""
KEPT_AS = 2
"""Raised when what is kept changes its form or its meaning."""


@dataclass(frozen=True)
class LaidJob:
    """A layout as the pipeline takes it, and its scene file; both None where facts are missing."""

    stage: LayoutStage | None
    scene: bytes | None = None


def beside(job: Job, folder: Path) -> Beside:
    """The files beside a job that its layout names; one that is not there, or reaches out of the folder, is left out."""
    found: dict[str, bytes] = {}
    for name in files_named(job):
        path = folder / name
        if PurePath(name).is_absolute() or ".." in PurePath(name).parts:
            continue
        with contextlib.suppress(OSError, ValueError):
            if path.is_file() and path.stat().st_size <= LARGEST_BYTES:
                found[name] = path.read_bytes()
    return Beside(files=found)


def lay_job(
    job: Job,
    catalog: Catalog,
    *,
    files: Beside,
    cache: Path,
    care: Care | None = None,
    on_progress: Callable[[str], None] = lambda _: None,
) -> LaidJob:
    """The layout of a job: as it was found before, or laid now.

    Parameters
    ----------
    job, catalog
        What is known.
    files : Beside
        Scene and scans.
    cache : Path
        Folder of what was found before; it may be emptied at any time, and one that cannot be written is no error.
    care : Care or None
        How hard to look for a proposal; None: as usual.
    on_progress : callable
        Told in a few words what is being done.
    """
    care = care or Care()
    shape = assess_tank(job, catalog).result
    if shape is None or any(part is None for part in (job.bed.shape, job.bed.soil, job.stones, job.wood)):
        return LaidJob(stage=None)
    key = _key(job, catalog, files, care)
    kept = _read(cache, key)
    if kept is not None:
        return kept
    # What lays a layout takes seconds to load; who has it kept need not wait for it.
    from slackwater.actions.piece_cache import PieceCache
    from slackwater.layout.compose import lay, staged
    from slackwater.layout.gltf import to_glb

    stage = lay(
        job,
        catalog,
        shape,
        beside=files,
        care=care,
        maker=PieceCache(cache / "pieces"),
        on_progress=on_progress,
    )
    laid = stage.result
    if laid is None:
        return LaidJob(stage=staged(stage))
    scene = to_glb(laid.layout)
    _keep(cache, key, stage, scene)
    return LaidJob(stage=staged(stage), scene=scene)


def laid_for(
    job: Job,
    catalog: Catalog,
    *,
    folder: Path,
    cache: Path,
    on_progress: Callable[[str], None] = lambda _: None,
) -> LayoutStage | None:
    """What a plan takes of the layout of a job whose file lies in a folder."""
    return lay_job(job, catalog, files=beside(job, folder), cache=cache, on_progress=on_progress).stage


# ---------------------------------------------------------------- kept


def _key(job: Job, catalog: Catalog, files: Beside, care: Care) -> str:
    """Of everything that a layout is laid from."""
    named = [layer.material for layer in (job.bed.soil, job.bed.base) if layer is not None]
    named += [stone.material for stone in job.stones or ()] + [wood.material for wood in job.wood or ()]
    asked = {
        "kept": KEPT_AS,
        "version": __version__,
        "seed": job.seed,
        **{name: getattr(job, name).model_dump(mode="json") for name in ("tank", "bed", "layout")},
        "pieces": [item.model_dump(mode="json") for item in (*(job.stones or ()), *(job.wood or ()))],
        "materials": [repr(catalog.materials.get(name)) for name in sorted(set(named))],
        "files": {
            name: hashlib.sha256(data).hexdigest()
            for name, data in sorted(files.files.items())
            if name not in lamp_files(job)
        },
        "care": [care.runs, care.tries, care.settle],
    }
    return hashlib.sha256(json.dumps(asked, sort_keys=True).encode()).hexdigest()


def _read(cache: Path, key: str) -> LaidJob | None:
    try:
        told: Any = json.loads((cache / f"{key}.json").read_text(encoding="utf-8"))
        scene = (cache / f"{key}.glb").read_bytes()
        result = LayoutResult.model_validate(told["result"])
        stage = Stage(
            result=result,
            figures=tuple(Figure.model_validate(item) for item in told["figures"]),
            findings=tuple(Finding.model_validate(item) for item in told["findings"]),
            assumed=tuple(Assumption.model_validate(item) for item in told["assumed"]),
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None
    surface = None
    if result.source == "given" and result.pieces:
        from slackwater.layout.compose import surface_of_scene
        from slackwater.layout.gltf import from_glb

        surface = surface_of_scene(from_glb(scene))
    return LaidJob(stage=LayoutStage(stage=stage, surface=surface), scene=scene)


def _keep(cache: Path, key: str, stage: Stage[Laid], scene: bytes) -> None:
    """Both files or none, also where two processes keep the same; the text, which is read first, comes last."""
    assert stage.result is not None
    told = {
        "result": stage.result.result.model_dump(mode="json"),
        "figures": [item.model_dump(mode="json") for item in stage.figures],
        "findings": [item.model_dump(mode="json") for item in stage.findings],
        "assumed": [item.model_dump(mode="json") for item in stage.assumed],
    }
    with contextlib.suppress(OSError):
        cache.mkdir(parents=True, exist_ok=True)
        for name, data in ((f"{key}.glb", scene), (f"{key}.json", json.dumps(told).encode())):
            handle, part = tempfile.mkstemp(dir=cache, suffix=".part")
            try:
                with os.fdopen(handle, "wb") as file:
                    file.write(data)
                Path(part).replace(cache / name)
            except BaseException:
                Path(part).unlink(missing_ok=True)
                raise
        kept = sorted(cache.glob("*.json"), key=lambda path: path.stat().st_mtime)
        for old in kept[: max(0, len(kept) - MOST_KEPT)]:
            old.unlink(missing_ok=True)
            old.with_suffix(".glb").unlink(missing_ok=True)
