"""Write the papers of a plan: all of them or none, and the same bytes for the same plan."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Callable, Mapping, Sequence
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

from slackwater.errors import CannotRun, Conflict
from slackwater.finding import Finding
from slackwater.job.catalog import Catalog
from slackwater.job.model import Job
from slackwater.layout.result import LayoutResult
from slackwater.paper.card_page import card_names
from slackwater.paper.data import (
    layout_sheet_data,
    living_sheet_data,
    paper_data,
    planting_sheet_data,
    step_text,
    water_sheet_data,
)
from slackwater.paper.day_figures import critical_svg, places_chart
from slackwater.paper.day_page import day_steps, second_day_steps
from slackwater.paper.fact_names import all_told
from slackwater.paper.figures import bed_plan, bed_section, gantt, making_chart, svg_of
from slackwater.paper.glyphs import IN_PLACE, all_shown, showable
from slackwater.paper.layout_figures import layout_drawings
from slackwater.paper.layout_page import ScoredPart
from slackwater.paper.light_figures import light_drawing
from slackwater.paper.living_figures import living_figures
from slackwater.paper.living_page import opening_data
from slackwater.paper.picture_page import NO_PICTURES, OfferPictures, pictures_data
from slackwater.paper.planting_figures import PLAN, planting_drawing
from slackwater.paper.sender import NOBODY, Sender, bring_sender
from slackwater.paper.water_flow import water_flow_svg
from slackwater.plan import LivingPlan, Plan, PlantingPlan, WaterPlan
from slackwater.reader import Reader, localised
from slackwater.supply.icalendar import calendar_text
from slackwater.water.result import WaterBudget
from slackwater.wording.render import say

PAPERS = ("day-sheet", "offer", "packing-list", "van-card", "cards", "handover")
SENT = ("offer", "cards", "handover")
"""Of these, those that bear a letterhead or a code: an office sets them with its own."""
MARK = "plan.json"
"""A folder that holds this file is one of ours and may be replaced."""


def figures_of(plan: Plan, catalog: Catalog, reader: Reader) -> Mapping[str, str]:
    """The figures that can be drawn, by file name."""
    drawn: dict[str, str] = {}
    if plan.day is not None:
        drawn["gantt.svg"] = svg_of(gantt(plan.day, reader))
        drawn["places.svg"] = svg_of(places_chart(plan.day, reader))
        drawn["critical.svg"] = critical_svg(plan.day, reader)
    if plan.water is not None:
        drawn |= water_figures(plan.water, reader)
    if plan.living is not None:
        drawn |= living_figures(plan.living, catalog, reader)
    if plan.bed is not None and plan.tank is not None:
        drawn["bed-plan.svg"] = svg_of(bed_plan(plan.bed, plan.tank, reader))
        drawn["bed-section.svg"] = svg_of(bed_section(plan.bed, plan.tank, reader))
    if plan.layout is not None and plan.layout.pieces:
        drawn |= {drawing.file: drawing.svg for drawing in layout_drawings(plan.layout, reader)}
    if plan.light is not None and plan.layout is not None:
        drawing = light_drawing(plan.light, plan.layout, reader)
        drawn[drawing.file] = drawing.svg
    if plan.planting is not None and plan.planting.placed:
        drawn[PLAN] = planting_drawing(plan.planting, plan.layout, reader).svg
    return drawn


def water_figures(water: WaterBudget, reader: Reader) -> dict[str, str]:
    """The figures of the water page, by file name."""
    drawn = {"water-flow.svg": water_flow_svg(water, reader)}
    if water.course is not None:
        drawn["water-making.svg"] = svg_of(making_chart(water.course, reader))
    return drawn


def _typeset(name: str, workshop: Path, fonts: Path) -> bytes:
    import typst

    compiled = typst.compile(
        str(workshop / f"{name}.typ"),
        root=str(workshop),
        font_paths=[str(fonts)],
        ignore_system_fonts=True,
        pdf_standards=["ua-1"],
        timestamp=0,
    )
    if not isinstance(compiled, bytes):
        raise CannotRun(f"{name}.pdf could not be set as one file")
    return compiled


def _calendar(plan: Plan, job: Job, reader: Reader) -> str | None:
    if plan.supply is None or not plan.supply.calendar or job.site.time_zone is None:
        return None
    stamp = job.surveyed or job.price.offer_date
    if stamp is None:
        first = plan.supply.calendar[0]
        stamp = first.on or (first.at.date() if first.at else None)
    if stamp is None:
        return None
    steps = [*plan.supply.calendar]
    if plan.day is not None:
        steps += [*day_steps(plan.day, reader), *second_day_steps(plan, job, plan.day)]
    return calendar_text(
        steps,
        sentence=lambda step: localised(step_text(step, reader), reader),
        zone_name=job.site.time_zone,
        job_hash=plan.job_hash,
        stamp=stamp,
        title=plan.job_name,
        language=reader.language,
    )


def write_papers(
    plan: Plan,
    job: Job,
    catalog: Catalog,
    out: Path,
    *,
    reader: Reader,
    on_progress: Callable[[str], None] = lambda _: None,
    data: Mapping[str, Any] | None = None,
    pictures: OfferPictures = NO_PICTURES,
) -> tuple[Path, ...]:
    """Write plan.json, the PDFs, the figures and the calendar into a folder.

    Everything is made in a folder beside `out` and moved into place at the end; when anything fails, what was there
    before stays as it was.

    Parameters
    ----------
    data : mapping, optional
        As `papers_data` makes it, where it was made already.
    pictures : OfferPictures
        Of the finished tank, for the offer.

    Raises
    ------
    Conflict
        If `out` is there and is not a folder of an earlier plan.
    CannotRun
        If the folder cannot be written to.
    """
    if out.exists() and not (out.is_dir() and ((out / MARK).exists() or not any(out.iterdir()))):
        raise Conflict(f"{out} is there and holds other things; name another folder with --out")
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=f".{out.name}-", dir=out.parent) as room:
            workshop, finished = Path(room) / "workshop", Path(room) / "finished"
            workshop.mkdir()
            finished.mkdir()
            told = papers_data(plan, job, catalog, reader, pictures) if data is None else data
            for file, png in pictures.files.items():
                (workshop / file).write_bytes(png)
                (finished / file).write_bytes(png)
            _make(plan, job, catalog, workshop, finished, reader, on_progress, told)
            if out.exists():
                shutil.move(str(out), str(Path(room) / "before"))
            shutil.move(str(finished), str(out))
    except OSError as error:
        raise CannotRun(f"{out} cannot be written: {error.strerror or error}") from error
    return tuple(sorted(out.iterdir()))


def _make(
    plan: Plan,
    job: Job,
    catalog: Catalog,
    workshop: Path,
    finished: Path,
    reader: Reader,
    on_progress: Callable[[str], None],
    data: Mapping[str, Any],
) -> None:
    on_progress("drawing figures")
    figures = figures_of(plan, catalog, reader)
    for name, svg in figures.items():
        (workshop / name).write_text(showable(svg), encoding="utf-8", newline="\n")
        (finished / name).write_text(svg, encoding="utf-8", newline="\n")
    (finished / MARK).write_text(
        json.dumps(plan.model_dump(mode="json"), indent=1, sort_keys=True, ensure_ascii=False) + "\n",
        encoding="utf-8",
        newline="\n",
    )
    calendar = _calendar(plan, job, reader)
    if calendar is not None:
        (finished / "calendar.ics").write_text(calendar, encoding="utf-8", newline="")
    _bring_data(workshop, data, NOBODY)
    with as_file(files("slackwater.paper")) as here:
        _bring_templates(here, workshop)
        for name in PAPERS:
            on_progress(f"setting the {name.replace('-', ' ')}")
            (finished / f"{name}.pdf").write_bytes(_typeset(name, workshop, here / "fonts"))


def papers_data(
    plan: Plan, job: Job, catalog: Catalog, reader: Reader, pictures: OfferPictures = NO_PICTURES
) -> dict[str, Any]:
    """Everything that the papers of a plan print, in the reader's language."""
    told = {**paper_data(plan, job, catalog, reader), "pictures": pictures_data(pictures, reader)}
    return for_templates(told, reader)


def for_templates(data: Mapping[str, Any], reader: Reader) -> dict[str, Any]:
    """What templates read: as its reader reads it, with a mark in place of each sign that has no shape, and told so."""
    told: dict[str, Any] = {**all_told(data, reader), "signs": ""}
    text = json.dumps(told, ensure_ascii=False)
    if all_shown(text):
        return told
    words = say("sheet.signs", {"mark": IN_PLACE}, reader)
    shown: dict[str, Any] = json.loads(showable(json.dumps({**told, "signs": words}, ensure_ascii=False)))
    return shown


def paper_of(name: str, data: Mapping[str, Any], figures: Mapping[str, str], sender: Sender) -> bytes:
    """One paper of a plan, with whose it is.

    Parameters
    ----------
    data : mapping
        As `papers_data` makes it.
    figures : mapping of str to str
        Those that it shows, by file name.
    """
    return paper_with_pictures(name, data, figures, {}, sender)


def paper_with_pictures(
    name: str, data: Mapping[str, Any], figures: Mapping[str, str], pictures: Mapping[str, bytes], sender: Sender
) -> bytes:
    """The same with photos, by file name."""
    with tempfile.TemporaryDirectory(prefix=f"{name}-") as room, as_file(files("slackwater.paper")) as here:
        workshop = Path(room)
        for file, svg in figures.items():
            (workshop / file).write_text(showable(svg), encoding="utf-8", newline="\n")
        for file, content in pictures.items():
            (workshop / file).write_bytes(content)
        _bring_data(workshop, data, sender)
        _bring_templates(here, workshop)
        return _typeset(name, workshop, here / "fonts")


def _bring_data(workshop: Path, data: Mapping[str, Any], sender: Sender) -> None:
    (workshop / "data.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
    bring_sender(workshop, sender, card_names(data.get("cards", ())), data.get("reference") or data.get("hash", ""))


def _bring_templates(here: Path, workshop: Path) -> None:
    for template in sorted((here / "templates").glob("*.typ")):
        shutil.copy(template, workshop / template.name)


def water_sheet(plan: WaterPlan, job: Job, catalog: Catalog, *, reader: Reader) -> bytes:
    """The water page by itself, as PDF."""
    figures = {} if plan.water is None else water_figures(plan.water, reader)
    return _sheet("water-sheet", figures, water_sheet_data(plan, job, catalog, reader), reader)


def living_sheet(plan: LivingPlan, job: Job, catalog: Catalog, *, reader: Reader) -> bytes:
    """The living page by itself, as PDF."""
    figures = {} if plan.living is None else living_figures(plan.living, catalog, reader)
    data = {**living_sheet_data(plan, job, catalog, reader), **opening_data(plan.findings, reader)}
    return _sheet("living-sheet", figures, data, reader)


def planting_sheet(plan: PlantingPlan, job: Job, catalog: Catalog, *, reader: Reader) -> bytes:
    """The planting sheet by itself, as PDF: zones from above and a bucket for each."""
    figures = {}
    if plan.planting is not None and plan.planting.placed:
        figures[PLAN] = planting_drawing(plan.planting, plan.layout, reader).svg
    return _sheet("planting-sheet", figures, planting_sheet_data(plan, job, catalog, reader), reader)


def layout_sheet(
    job: Job,
    *,
    version: str,
    layouts: Sequence[tuple[LayoutResult, Sequence[ScoredPart]]],
    findings: Sequence[Finding],
    reader: Reader,
) -> bytes:
    """Layouts by themselves, as PDF: drawings to scale, pieces in the order of placing, litres, and what speaks for each."""
    figures = {
        f"{number}-{drawing.file}": drawing.svg
        for number, (layout, _) in enumerate(layouts, start=1)
        for drawing in layout_drawings(layout, reader)
    }
    data = layout_sheet_data(job, version=version, layouts=layouts, findings=findings, reader=reader)
    return _sheet("layout-sheet", figures, data, reader)


def write_drawings(layout: LayoutResult, folder: Path, reader: Reader) -> None:
    """The drawings of a layout as files."""
    for drawing in layout_drawings(layout, reader):
        (folder / drawing.file).write_text(drawing.svg, encoding="utf-8", newline="\n")


def _sheet(name: str, figures: Mapping[str, str], data: Mapping[str, Any], reader: Reader) -> bytes:
    return paper_of(name, for_templates(data, reader), figures, NOBODY)
