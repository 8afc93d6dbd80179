"""From a job file to its planting: zones and buckets for the terminal, and the sheet for the wall as PDF."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from slackwater import __version__
from slackwater.actions.files import read_text, write_bytes
from slackwater.actions.lighting import laid_and_lit
from slackwater.actions.readers import reader_of_papers
from slackwater.job.catalog import load_catalog
from slackwater.job.load import read_job
from slackwater.paper.planting_page import planting_data
from slackwater.paper.write import planting_sheet
from slackwater.plan import PlantingPlan, planting_plan
from slackwater.reader import Reader, UnitSystem


@dataclass(frozen=True)
class PlantingShown:
    """The planting of a job, its sheet as texts, and the file it was written to."""

    plan: PlantingPlan
    page: Mapping[str, Any] | None
    file: Path | None


def planting_job(
    path: Path,
    pdf: Path | None,
    *,
    units: UnitSystem,
    catalog_folder: Path | None,
    layouts: Path,
    on_progress: Callable[[str], None],
) -> PlantingShown:
    """Place the plants of a job file, or propose some, and write the sheet where a file is named.

    Raises
    ------
    Conflict
        If the file is there and is no PDF.
    CannotRun
        If it cannot be written.
    """
    job = read_job(read_text(path), file_name=str(path))
    catalog = load_catalog(catalog_folder)
    laid, lit = laid_and_lit(job, catalog, folder=path.parent, cache=layouts, on_progress=on_progress)
    found = planting_plan(job, catalog, version=__version__, laid=laid.stage, lit=lit, on_progress=on_progress)
    if pdf is not None:
        on_progress("setting the planting sheet")
        sheet = planting_sheet(found, job, catalog, reader=reader_of_papers(job, units))
        write_bytes(pdf, sheet, replaces=b"%PDF-")
    page = planting_data(found.planting, found.layout, catalog, Reader(units))
    return PlantingShown(plan=found, page=page, file=pdf)
