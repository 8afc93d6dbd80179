"""From a job file to its water: the budget for the terminal, and the water page as PDF."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from slackwater import __version__
from slackwater.actions.files import read_text, write_bytes
from slackwater.actions.laying import laid_for
from slackwater.actions.readers import reader_of_papers
from slackwater.job.catalog import load_catalog
from slackwater.job.load import read_job
from slackwater.paper.water_page import water_data
from slackwater.paper.write import water_sheet
from slackwater.plan import WaterPlan, water_plan
from slackwater.reader import Reader, UnitSystem


@dataclass(frozen=True)
class WaterShown:
    """The water of a job, its page as texts, and the file it was written to."""

    plan: WaterPlan
    page: Mapping[str, Any] | None
    file: Path | None


def water_job(
    path: Path,
    pdf: Path | None,
    *,
    units: UnitSystem,
    catalog_folder: Path | None,
    layouts: Path,
    on_progress: Callable[[str], None],
) -> WaterShown:
    """Compute the water of a job file, and write its page where a file is named.

    Raises
    ------
    Conflict
        If the file is there and is no PDF.
    CannotRun
        If it cannot be written.
    """
    job = read_job(read_text(path), file_name=str(path))
    catalog = load_catalog(catalog_folder)
    laid = laid_for(job, catalog, folder=path.parent, cache=layouts, on_progress=on_progress)
    found = water_plan(job, catalog, version=__version__, laid=laid, on_progress=on_progress)
    if pdf is not None:
        on_progress("setting the water page")
        write_bytes(pdf, water_sheet(found, job, catalog, reader=reader_of_papers(job, units)), replaces=b"%PDF-")
    page = None if found.water is None else water_data(found.water, catalog, Reader(units))
    return WaterShown(plan=found, page=page, file=pdf)
