"""The light that a job is planned with: measured files of lamps read, and what was followed once kept for the next time."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from slackwater import __version__
from slackwater.actions.laying import LaidJob, beside, lay_job
from slackwater.errors import BadInput
from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.layout.asked import Beside, lamp_files
from slackwater.light.ies import Photometry, read_ies
from slackwater.light.result import LightResult
from slackwater.stage import Stage

LARGEST_BYTES = 4 * 1024 * 1024
"""Of a measured file; a maker's has some tens of kilobytes."""
MOST_KEPT = 400
KEPT_AS = 1
"""Raised when what is kept changes its form or its meaning."""
SUFFIX = ".light"


@dataclass(frozen=True)
class Care:
    """How closely light is followed.

    Attributes
    ----------
    samples, photons, noise
        See `light.photons.Effort`.
    """

    samples: int = 8
    photons: int = 2_000_000
    noise: float = 0.05


PLANNED = Care()
"""For a plan, whose cells are four times a square centimetre: there the noise is half of it."""
CLOSE = Care(photons=12_000_000, noise=0.03)
QUICK = Care(samples=2, photons=200_000, noise=0.0)


def measured(job: Job, files: Beside) -> tuple[dict[str, Photometry], dict[str, str]]:
    """Measured files of the lamps that could be read, and why the others could not."""
    found: dict[str, Photometry] = {}
    unread: dict[str, str] = {}
    for name in lamp_files(job):
        data = files.files.get(name)
        try:
            if data is None:
                raise BadInput(f"{name} does not lie beside the job file")
            if len(data) > LARGEST_BYTES:
                raise BadInput(f"{name} is larger than {LARGEST_BYTES // 1024**2} MB; a lamp's file has some kilobytes")
            found[name] = read_ies(data.decode("utf-8", errors="replace"), name=name)
        except BadInput as error:
            unread[name] = str(error).rstrip(".")
    return found, unread


def light_for(
    job: Job,
    catalog: Catalog,
    laid: LaidJob,
    *,
    files: Beside,
    cache: Path,
    care: Care = PLANNED,
    workers: int = 2,
    on_progress: Callable[[str], None] = lambda _: None,
) -> Stage[LightResult] | None:
    """The light over a layout: as it was found before, or followed now; None where nothing was laid.

    Parameters
    ----------
    job, catalog, laid
        What is known.
    files : Beside
        Measured files of the lamps.
    cache : Path
        Folder of what was found before; it may be emptied at any time, and one that cannot be written is no error.
    care : Care
        How closely.
    """
    if laid.scene is None:
        return None
    key = _key(job, catalog, laid.scene, files, care)
    kept = _read(cache, key)
    if kept is not None:
        return kept
    # What follows light takes seconds to load; who has it kept need not wait for it.
    from slackwater.layout.gltf import from_glb
    from slackwater.light.assess import assess_light
    from slackwater.light.photons import Effort

    on_progress("following the light")
    readable, unread = measured(job, files)
    stage = assess_light(
        job,
        catalog,
        from_glb(laid.scene),
        files=readable,
        unread=unread,
        effort=Effort(samples=care.samples, photons=care.photons, noise=care.noise),
        workers=workers,
        on_progress=lambda share: on_progress(f"following the light: {round(100 * share)} %"),
    )
    _keep(cache, key, stage)
    return stage


def laid_and_lit(
    job: Job,
    catalog: Catalog,
    *,
    folder: Path,
    cache: Path,
    on_progress: Callable[[str], None] = lambda _: None,
) -> tuple[LaidJob, Stage[LightResult] | None]:
    """What a plan takes of layout and light of a job whose file lies in a folder."""
    files = beside(job, folder)
    laid = lay_job(job, catalog, files=files, cache=cache, on_progress=on_progress)
    return laid, light_for(job, catalog, laid, files=files, cache=cache, on_progress=on_progress)


# ---------------------------------------------------------------- kept


def _key(job: Job, catalog: Catalog, scene: bytes, files: Beside, care: Care) -> str:
    """Of everything that the light is reckoned from."""
    asked = {
        "kept": KEPT_AS,
        "version": __version__,
        "seed": job.seed,
        "scene": hashlib.sha256(scene).hexdigest(),
        "light": None if job.light is None else job.light.model_dump(mode="json"),
        "plants": [
            [item.plant, item.units, item.undeliverable, repr(catalog.plants.get(item.plant))]
            for item in job.plants or ()
        ],
        "files": {name: hashlib.sha256(files.files.get(name, b"")).hexdigest() for name in lamp_files(job)},
        "care": [care.samples, care.photons, care.noise],
    }
    return hashlib.sha256(json.dumps(asked, sort_keys=True).encode()).hexdigest()


def _read(cache: Path, key: str) -> Stage[LightResult] | None:
    try:
        told: Any = json.loads((cache / f"{key}{SUFFIX}").read_text(encoding="utf-8"))
        return Stage(
            result=None if told["result"] is None else LightResult.model_validate(told["result"]),
            figures=tuple(Figure.model_validate(item) for item in told["figures"]),
            findings=tuple(Finding.model_validate(item) for item in told["findings"]),
            assumed=tuple(Assumption.model_validate(item) for item in told["assumed"]),
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _keep(cache: Path, key: str, stage: Stage[LightResult]) -> None:
    """Whole or not at all, also where two processes keep the same."""
    told = {
        "result": None if stage.result is None else stage.result.model_dump(mode="json"),
        "figures": [item.model_dump(mode="json") for item in stage.figures],
        "findings": [item.model_dump(mode="json") for item in stage.findings],
        "assumed": [item.model_dump(mode="json") for item in stage.assumed],
    }
    with contextlib.suppress(OSError):
        cache.mkdir(parents=True, exist_ok=True)
        handle, part = tempfile.mkstemp(dir=cache, suffix=".part")
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                json.dump(told, file)
            Path(part).replace(cache / f"{key}{SUFFIX}")
        except BaseException:
            Path(part).unlink(missing_ok=True)
            raise
        kept = sorted(cache.glob(f"*{SUFFIX}"), key=lambda path: path.stat().st_mtime)
        for old in kept[: max(0, len(kept) - MOST_KEPT)]:
            old.unlink(missing_ok=True)
