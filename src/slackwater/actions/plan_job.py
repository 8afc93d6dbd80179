"""From a job file to a plan on disk."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from slackwater import __version__
from slackwater.actions.files import read_text
from slackwater.actions.from_book import with_book
from slackwater.actions.lighting import laid_and_lit
from slackwater.actions.picturing import offer_pictures, pictures_folder
from slackwater.actions.readers import reader_of_papers
from slackwater.actions.settings import Settings
from slackwater.job.catalog import load_catalog
from slackwater.job.load import read_job
from slackwater.paper.data import FOR_THE_CLIENT
from slackwater.paper.offer_change import offer_changes
from slackwater.paper.offer_page import offer_facts, option_data, risk_data
from slackwater.paper.write import MARK, write_papers
from slackwater.plan import Plan, plan, with_options
from slackwater.reader import Reader, UnitSystem


@dataclass(frozen=True)
class Written:
    """A plan and where its papers are.

    Attributes
    ----------
    plan : Plan
    folder : Path
    papers : tuple of Path
    carried : mapping or None
        What the price carries; None where there is no price.
    options : list of mapping
        Of the offer.
    changed : mapping or None
        What changed since the offer that was in the folder; None where there was none of this job, or nothing changed.
    """

    plan: Plan
    folder: Path
    papers: tuple[Path, ...]
    carried: Mapping[str, Any] | None = None
    options: Sequence[Mapping[str, Any]] = ()
    changed: Mapping[str, Any] | None = None


def plan_job(
    path: Path,
    out: Path | None,
    *,
    units: UnitSystem,
    catalog_folder: Path | None,
    layouts: Path,
    on_progress: Callable[[str], None],
    language: str | None = None,
    book: Settings | None = None,
    at: datetime | None = None,
) -> Written:
    """Compute the plan of a job file and write its papers, whole or not at all.

    Parameters
    ----------
    path : Path
        The job file.
    out : Path or None
        Folder for the papers; by default ``<name>-plan`` in the working folder.
    layouts : Path
        Folder of layouts that were found before.
    language : str or None
        Of the papers; None as the job says.
    book : Settings or None
        Where the record book lies whose prices and finished jobs are to count; None: the tables alone.
    at : datetime or None
        Now, where there is a book.

    Raises
    ------
    BadInput
        If the job cannot be read, or there is no catalog for the language.
    """
    text = read_text(path)
    job = read_job(text, file_name=str(path))
    reader, here = reader_of_papers(job, units, language), Reader(units)
    catalog = load_catalog(catalog_folder)
    if book is not None and at is not None:
        catalog = with_book(catalog, job, text, book, at=at)
    laid_job, lit = laid_and_lit(job, catalog, folder=path.parent, cache=layouts, on_progress=on_progress)
    laid = laid_job.stage
    found = plan(job, catalog, version=__version__, laid=laid, lit=lit, on_progress=on_progress)
    found = with_options(found, job, catalog, laid=laid, lit=lit, on_progress=on_progress)
    folder = out if out is not None else Path(f"{path.stem}-plan")
    before = _plan_in(folder)
    pictures = offer_pictures(job, catalog, laid_job.scene, cache=pictures_folder(layouts), reader=reader)
    papers = write_papers(found, job, catalog, folder, reader=reader, on_progress=on_progress, pictures=pictures)
    changed = None
    if before is not None and (before.job_name, before.reference) == (found.job_name, found.reference):
        told = offer_changes(*(offer_facts(one, here, FOR_THE_CLIENT) for one in (before, found)))
        changed = told if any(told.values()) else None
    return Written(
        plan=found,
        folder=folder,
        papers=papers,
        carried=risk_data(found, here),
        options=option_data(found, here),
        changed=changed,
    )


def _plan_in(folder: Path) -> Plan | None:
    """The plan whose papers lie in a folder; None where there is none that this program reads."""
    try:
        return Plan.model_validate_json((folder / MARK).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
