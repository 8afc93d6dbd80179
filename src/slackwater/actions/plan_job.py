"""From a job file to a plan on disk."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from slackwater import __version__
from slackwater.actions.files import read_text
from slackwater.job.catalog import load_catalog
from slackwater.job.load import read_job
from slackwater.paper.write import write_papers
from slackwater.plan import Plan, plan, with_options
from slackwater.units import UnitSystem


@dataclass(frozen=True)
class Written:
    """A plan and where its papers are."""

    plan: Plan
    folder: Path
    papers: tuple[Path, ...]


def plan_job(
    path: Path, out: Path | None, *, units: UnitSystem, catalog_folder: Path | None, on_progress: Callable[[str], None]
) -> Written:
    """Compute the plan of a job file and write its papers, whole or not at all.

    Parameters
    ----------
    path : Path
        The job file.
    out : Path or None
        Folder for the papers; by default ``<name>-plan`` in the working folder.
    """
    job = read_job(read_text(path), file_name=str(path))
    catalog = load_catalog(catalog_folder)
    found = plan(job, catalog, version=__version__, on_progress=on_progress)
    found = with_options(found, job, catalog, on_progress=on_progress)
    folder = out if out is not None else Path(f"{path.stem}-plan")
    papers = write_papers(found, job, catalog, folder, units=units, on_progress=on_progress)
    return Written(plan=found, folder=folder, papers=papers)
