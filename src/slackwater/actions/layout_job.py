"""From a job file to its layout, or to proposals to pick from: litres, drawings, a sheet and a scene file for each."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from slackwater import __version__
from slackwater.actions.files import read_text
from slackwater.actions.laying import beside, lay_job
from slackwater.actions.readers import reader_of_papers
from slackwater.errors import BadInput, CannotRun, Conflict
from slackwater.finding import Finding
from slackwater.job.catalog import Catalog, load_catalog
from slackwater.job.load import read_job
from slackwater.job.model import Job
from slackwater.layout.asked import Care
from slackwater.layout.result import LayoutResult
from slackwater.paper.layout_page import ScoredPart, proposals_data
from slackwater.paper.write import layout_sheet, write_drawings
from slackwater.reader import Reader, UnitSystem
from slackwater.tank.assess import assess_tank, tank_lacks

SCENE = "scene.glb"
SHEET = "layout.pdf"
MOST_PROPOSALS = 12


@dataclass(frozen=True)
class LaidOut:
    """One layout: what is known of it, and its scene file.

    Attributes
    ----------
    result : LayoutResult
    findings : tuple of Finding
    parts : tuple of ScoredPart
        What a proposal was picked for; empty where it was given.
    scene : bytes
    page : mapping or None
        As texts; None where nothing stands in it.
    folder : Path or None
        Where its files are; None where none were asked for.
    """

    result: LayoutResult
    findings: tuple[Finding, ...]
    scene: bytes
    parts: tuple[ScoredPart, ...] = ()
    page: Mapping[str, Any] | None = None
    folder: Path | None = None


@dataclass(frozen=True)
class LayoutsShown:
    """The layouts of a job, best first; with none the findings say why."""

    job_name: str
    layouts: tuple[LaidOut, ...]
    findings: tuple[Finding, ...] = ()


def layout_job(
    path: Path,
    *,
    count: int | None,
    out: Path | None,
    units: UnitSystem,
    catalog_folder: Path | None,
    layouts: Path,
    on_progress: Callable[[str], None],
) -> LayoutsShown:
    """The layout that a plan of this job takes, or proposals in its place; written where a folder is named.

    Parameters
    ----------
    path : Path
        The job file.
    count : int or None
        How many proposals; None: the layout of the plan.
    out : Path or None
        Folder for drawings, sheet and scene, one folder in it for each proposal.
    layouts : Path
        Folder of layouts that were found before.

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
        raise BadInput(f"{path}: a layout needs {', '.join(lacks)}")
    files = beside(job, path.parent)
    if count is None:
        laid = lay_job(job, catalog, files=files, cache=layouts, on_progress=on_progress)
        if laid.stage is None or laid.stage.stage.result is None or laid.scene is None:
            return LayoutsShown(job.name, (), () if laid.stage is None else laid.stage.stage.findings)
        found = LayoutsShown(
            job.name, (LaidOut(result=laid.stage.stage.result, findings=laid.stage.stage.findings, scene=laid.scene),)
        )
    else:
        found = _proposals(job, catalog, path, count, layouts, on_progress)
    told = proposals_data([(one.result, one.parts) for one in found.layouts], Reader(units))
    if len(told) == len(found.layouts):
        found = replace(
            found, layouts=tuple(replace(one, page=page) for one, page in zip(found.layouts, told, strict=True))
        )
    if out is None or not found.layouts:
        return found
    on_progress("drawing the layouts")
    return _written(found, job, catalog, out, units)


def _proposals(
    job: Job, catalog: Catalog, path: Path, count: int, cache: Path, on_progress: Callable[[str], None]
) -> LayoutsShown:
    from slackwater.actions.piece_cache import PieceCache
    from slackwater.layout import compose
    from slackwater.layout.gltf import to_glb

    shape = assess_tank(job, catalog).result
    if shape is None:
        return LayoutsShown(job.name, (), assess_tank(job, catalog).findings)
    on_progress("shaping the pieces")
    empty, pieces, findings = compose.empty_layout(
        job, catalog, shape, beside(job, path.parent), PieceCache(cache / "pieces")
    )
    seed = compose.seed_of(job)
    found = compose.proposals(
        empty,
        pieces,
        intent=job.layout.intent or compose.USUAL_INTENT,
        count=count,
        seed=seed,
        care=Care(runs=3 * max(count, 2)),
        on_progress=on_progress,
    )
    made = []
    for number, proposal in enumerate(found, start=1):
        on_progress(f"counting the litres of proposal {number} of {len(found)}")
        laid = compose.laid_as_proposed(proposal, seed=seed)
        made.append(
            LaidOut(
                result=laid.result,
                findings=(*findings, *compose.proposal_findings(proposal)),
                scene=to_glb(laid.layout),
                parts=tuple(ScoredPart(part.id, part.value, dict(part.values)) for part in proposal.score.parts),
            )
        )
    return LayoutsShown(job.name, tuple(made), findings)


def _ours(folder: Path) -> bool:
    return folder.is_dir() and ((folder / SHEET).exists() or not any(folder.iterdir()))


def _written(found: LayoutsShown, job: Job, catalog: Catalog, out: Path, units: UnitSystem) -> LayoutsShown:
    """All files or none."""
    reader = reader_of_papers(job, units)
    single = len(found.layouts) == 1
    made = []
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=f".{out.name}-", dir=out.parent) as room:
            finished = Path(room) / "finished"
            finished.mkdir()
            for number, one in enumerate(found.layouts, start=1):
                name = "" if single else f"proposal-{number}"
                folder = finished / name
                folder.mkdir(exist_ok=True)
                (folder / SCENE).write_bytes(one.scene)
                write_drawings(one.result, folder, reader)
                made.append(replace(one, folder=out / name))
            sheet = layout_sheet(
                job,
                version=__version__,
                layouts=[(one.result, one.parts) for one in found.layouts],
                findings=found.layouts[0].findings,
                reader=reader,
            )
            (finished / SHEET).write_bytes(sheet)
            if out.exists():
                shutil.move(str(out), str(Path(room) / "before"))
            shutil.move(str(finished), str(out))
    except OSError as error:
        raise CannotRun(f"{out} cannot be written: {error.strerror or error}") from error
    return LayoutsShown(found.job_name, tuple(made), found.findings)
