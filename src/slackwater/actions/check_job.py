"""List what a job file lacks, what in it contradicts, and what in it has grown old; no day is solved."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from slackwater import __version__
from slackwater.actions.files import read_text
from slackwater.day.solve import Effort
from slackwater.finding import Finding
from slackwater.job.catalog import load_catalog
from slackwater.job.load import read_job
from slackwater.plan import OnProgress, Plan, plan

LITTLE_EFFORT = Effort(excess=0.2, finish=0.2, exposure=0.0, tidy=0.0, why=0.0)
"""Enough to see whether a day can be set up at all; how good it is, `plan` finds out."""
PARTS = ("tank", "bed", "volumes", "loads", "water", "day", "price")
"""Parts of a plan, as ``check`` counts them."""


@dataclass(frozen=True)
class Checked:
    """What `check` tells."""

    job_name: str
    facts_known: int
    facts_asked: int
    parts_missing: tuple[str, ...]
    findings: tuple[Finding, ...]


def _parts(found: Plan) -> tuple[object | None, ...]:
    supply = found.supply
    return (found.tank, found.bed, found.volumes, found.loads, found.water, found.day, supply.price if supply else None)


def check_job(path: Path, *, catalog_folder: Path | None, on_progress: OnProgress = lambda _: None) -> Checked:
    """Read a job file and say what is missing or wrong in it.

    Raises
    ------
    NotFound, BadInput
        If the file cannot be read as a job.
    """
    job = read_job(read_text(path), file_name=str(path))
    found = plan(job, load_catalog(catalog_folder), version=__version__, effort=LITTLE_EFFORT, on_progress=on_progress)
    parts = _parts(found)
    return Checked(
        job_name=job.name,
        facts_known=sum(part is not None for part in parts),
        facts_asked=len(parts),
        parts_missing=tuple(name for name, part in zip(PARTS, parts, strict=True) if part is None),
        # Whether the day is long enough is what `plan` answers, with more effort than is spent here.
        findings=tuple(
            finding
            for finding in found.findings
            if finding.id not in ("day.ends_late", "day.expected_ends_late", "day.odds")
        ),
    )
