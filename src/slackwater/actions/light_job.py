"""From a job file to the light on its bed: by place, the weeks ahead, a picture and all figures as JSON."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from slackwater.actions.files import read_text
from slackwater.actions.laying import beside, lay_job
from slackwater.actions.lighting import CLOSE, QUICK, light_for
from slackwater.actions.readers import reader_of_papers
from slackwater.errors import BadInput, CannotRun, Conflict
from slackwater.figure import Assumption
from slackwater.finding import Finding
from slackwater.job.catalog import load_catalog
from slackwater.job.load import read_job
from slackwater.light.result import LightResult
from slackwater.paper.light_figures import FILE, light_drawing
from slackwater.paper.light_page import light_data
from slackwater.reader import Reader, UnitSystem
from slackwater.tank.assess import tank_lacks

FIGURES = "light.json"


@dataclass(frozen=True)
class LightShown:
    """The light of a job.

    Attributes
    ----------
    result : LightResult or None
        None where the findings say why.
    page : mapping or None
        As texts.
    assumed : tuple of Assumption
        What was taken because the job does not say.
    folder : Path or None
        Where its files are.
    """

    job_name: str
    result: LightResult | None
    findings: tuple[Finding, ...]
    assumed: tuple[Assumption, ...] = ()
    page: Mapping[str, Any] | None = None
    folder: Path | None = None


def light_job(
    path: Path,
    *,
    quick: bool,
    out: Path | None,
    units: UnitSystem,
    catalog_folder: Path | None,
    layouts: Path,
    on_progress: Callable[[str], None],
) -> LightShown:
    """The light on the bed of a job, over the layout that its plan takes; written where a folder is named.

    Parameters
    ----------
    path : Path
        The job file.
    quick : bool
        In about a second and evened out over 3 cm, instead of to 3 % for each square centimetre.
    out : Path or None
        Folder for the picture and the figures.
    layouts : Path
        Folder of layouts and lights that were found before.

    Raises
    ------
    BadInput
        If the job cannot be read, or facts are missing without which there is no layout.
    Conflict
        If the folder is there and holds other things.
    CannotRun
        If it cannot be written to.
    """
    job = read_job(read_text(path), file_name=str(path))
    catalog = load_catalog(catalog_folder)
    if out is not None and out.exists() and not _ours(out):
        raise Conflict(f"{out} is there and holds other things; name another folder with --out")
    lacks = [*tank_lacks(job)]
    lacks += [name for name, known in (("bed.shape", job.bed.shape), ("bed.soil", job.bed.soil)) if known is None]
    lacks += [name for name, known in (("stones", job.stones), ("wood", job.wood)) if known is None]
    if lacks:
        raise BadInput(f"{path}: light needs a layout, and a layout needs {', '.join(lacks)}")
    files = beside(job, path.parent)
    laid = lay_job(job, catalog, files=files, cache=layouts, on_progress=on_progress)
    stage = light_for(
        job, catalog, laid, files=files, cache=layouts, care=QUICK if quick else CLOSE, on_progress=on_progress
    )
    if stage is None or laid.stage is None:
        return LightShown(job.name, None, () if laid.stage is None else laid.stage.stage.findings)
    layout = laid.stage.stage.result
    shown = LightShown(
        job.name,
        stage.result,
        stage.findings,
        stage.assumed,
        page=light_data(stage.result, layout, Reader(units)),
        folder=out,
    )
    if out is None or stage.result is None or layout is None:
        return shown
    reader = reader_of_papers(job, units)
    told = {
        "job": job.name,
        "light": stage.result.model_dump(mode="json"),
        "figures": [item.model_dump(mode="json") for item in stage.figures],
        "findings": [item.model_dump(mode="json") for item in stage.findings],
        "assumed": [item.model_dump(mode="json") for item in stage.assumed],
    }
    _write(out, {FILE: light_drawing(stage.result, layout, reader).svg, FIGURES: json.dumps(told, indent=1) + "\n"})
    return shown


def _ours(folder: Path) -> bool:
    return folder.is_dir() and ((folder / FIGURES).exists() or not any(folder.iterdir()))


def _write(out: Path, files: Mapping[str, str]) -> None:
    """All files or none."""
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=f".{out.name}-", dir=out.parent) as room:
            finished = Path(room) / "finished"
            finished.mkdir()
            for name, text in files.items():
                (finished / name).write_text(text, encoding="utf-8", newline="\n")
            if out.exists():
                shutil.move(str(out), str(Path(room) / "before"))
            shutil.move(str(finished), str(out))
    except OSError as error:
        raise CannotRun(f"{out} cannot be written: {error.strerror or error}") from error
