"""From a job file, and what has happened since, to everything alive: hours, catching, weeks; and its page as PDF."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from slackwater import __version__
from slackwater.actions.events_file import read_events_file
from slackwater.actions.files import read_text, write_bytes
from slackwater.actions.laying import laid_for
from slackwater.actions.readers import reader_of_papers
from slackwater.job.catalog import load_catalog
from slackwater.job.load import read_job
from slackwater.paper.living_page import living_data
from slackwater.paper.write import living_sheet
from slackwater.plan import LivingPlan, living_plan
from slackwater.reader import Reader, UnitSystem


@dataclass(frozen=True)
class LivingShown:
    """Everything alive in a job, its page as texts, and the file it was written to."""

    plan: LivingPlan
    page: Mapping[str, Any] | None
    file: Path | None


def living_job(
    path: Path,
    pdf: Path | None,
    *,
    events: Path | None,
    units: UnitSystem,
    catalog_folder: Path | None,
    layouts: Path,
    on_progress: Callable[[str], None],
) -> LivingShown:
    """Compute what lives in a job and for how long, and write its page where a file is named.

    Parameters
    ----------
    path : Path
        The job file.
    pdf : Path or None
        Where the page goes.
    events : Path or None
        What has happened since, one event a line.

    Raises
    ------
    NotFound, BadInput
        If the job or the events are not there or cannot be understood.
    Conflict
        If the PDF's file is there and is no PDF.
    CannotRun
        If it cannot be written.
    """
    job = read_job(read_text(path), file_name=str(path))
    happened = read_events_file(events)
    catalog = load_catalog(catalog_folder)
    laid = laid_for(job, catalog, folder=path.parent, cache=layouts, on_progress=on_progress)
    found = living_plan(job, catalog, version=__version__, laid=laid, events=happened, on_progress=on_progress)
    if pdf is not None:
        on_progress("setting the living page")
        write_bytes(pdf, living_sheet(found, job, catalog, reader=reader_of_papers(job, units)), replaces=b"%PDF-")
    page = None
    if found.living is not None:
        page = living_data(found.living, found.water, catalog, Reader(units), currency=job.price.currency)
    return LivingShown(plan=found, page=page, file=pdf)
