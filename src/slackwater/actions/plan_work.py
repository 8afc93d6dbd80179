"""Planning as long work: what a plan is of, where what was computed lies, and what a worker process does for it."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from slackwater import __version__
from slackwater.actions.book_prices import prices_mark, told_prices
from slackwater.actions.experience import experience_before, experience_mark
from slackwater.actions.laid import fetch_folder, lay_folder
from slackwater.actions.own_rows import CATALOG, COMPUTED, catalog_folder, catalog_mark
from slackwater.actions.readers import reader_of_papers
from slackwater.actions.settings import Settings
from slackwater.book import Book, documents, jobs, layouts, plans
from slackwater.book.tasks import TaskRow
from slackwater.errors import BadInput, NotFound
from slackwater.job.form import question_at, stored
from slackwater.job.text import set_value
from slackwater.paper.shown import FORMAT, PAGE
from slackwater.units import UnitSystem
from slackwater.wording.render import say
from slackwater.work import Kind

if TYPE_CHECKING:
    from slackwater.actions.laying import LaidJob
    from slackwater.job.catalog import Catalog
    from slackwater.job.model import Job
    from slackwater.layout.result import LayoutStage
    from slackwater.light.result import LightResult
    from slackwater.stage import Stage

PLAN = "plan"
SAVED_SCENE = "saved.glb"
"""What a layout saved in the office is called where it is laid."""
PLAN_FILE = "plan.json"

Key = tuple[str | int, ...]


@dataclass(frozen=True)
class Change:
    """One key of a job with another value, as typed.

    Attributes
    ----------
    key : tuple of str and int
        As in the job text; a number counts the entries of a list from 0.
    typed : str
    """

    key: Key
    typed: str


@dataclass(frozen=True)
class Wanted:
    """What a plan is of: a version of a job, perhaps with keys changed, shown in the reader's units."""

    job_id: str
    version: int
    units: UnitSystem
    changes: tuple[Change, ...] = ()

    def arguments(self) -> dict[str, Any]:
        """As kept in the task table."""
        return {
            "version": self.version,
            "units": self.units,
            "changes": [[list(change.key), change.typed] for change in self.changes],
        }


def wanted_of(task: TaskRow) -> Wanted:
    """What a task of the table is to plan."""
    asked = task.arguments
    changes = tuple(Change(tuple(key), typed) for key, typed in asked["changes"])
    return Wanted(job_id=task.job_id or "", version=asked["version"], units=asked["units"], changes=changes)


_IN_FILE = re.compile(r"^job(?:, line \d+)?: ")
"""Where an error stands in a file that whoever uses a form never sees."""


@lru_cache(maxsize=64)
def changed_text(text: str, changes: tuple[Change, ...]) -> str:
    """A job text with keys changed, each value read as the survey would read it.

    Raises
    ------
    BadInput, NotFound
        If a key is none of a job's, or cannot be changed so.
    """
    for change in changes:
        question = question_at(change.key)
        value = None if question is None else stored(question, change.typed)
        if value is None:
            raise BadInput(f"{'.'.join(map(str, change.key))} cannot be given this value")
        text = set_value(text, change.key, value)
    return text


def text_mark(text: str) -> str:
    """SHA-256 of a job text."""
    return hashlib.sha256(text.encode()).hexdigest()


def rows_mark(settings: Settings, book: Book, on: date, day: date | None) -> str:
    """The mark of the firm's own catalog rows, of the prices of its book that hold on a day, and of what it has learned.

    Parameters
    ----------
    on : date
        The day on which the plan is asked for.
    day : date or None
        The day of the job: only jobs before it are learned from.
    """
    return catalog_mark(settings) + prices_mark(book, on) + experience_mark(settings, book, on=on, day=day)


def inputs_hash(text: str, catalog: str, layout: str = "") -> str:
    """SHA-256 of everything that decides a plan: the program's version, the marks of text, own rows and saved layout."""
    return hashlib.sha256(f"{__version__} {catalog} {text} {layout}".encode()).hexdigest()


@dataclass(frozen=True)
class Place:
    """The text to plan, and where the outcome lies."""

    text: str
    hash: str
    folder: Path
    """Papers and page in the wanted units."""
    units: UnitSystem

    def of_inputs(self, inputs: str) -> Place:
        """Where the outcome of other inputs lies."""
        return replace(self, hash=inputs, folder=self.folder.parents[1] / inputs / self.units)

    @property
    def plan_file(self) -> Path:
        """The plan, in the order in which it is found whole."""
        return self.folder / PLAN_FILE


def place_of(settings: Settings, book: Book, wanted: Wanted, *, on: date) -> Place:
    """The text of what is wanted, and where its outcome lies or will lie, with the prices that hold on a day.

    Raises
    ------
    NotFound, BadInput
        If there is no such job or version, or a key cannot be changed so.
    """
    text = changed_text(jobs.version(book, wanted.job_id, wanted.version).text, wanted.changes)
    day = jobs.get(book, wanted.job_id).day
    layout = layouts.newest(book, wanted.job_id)
    mark = "" if layout is None else layout.row.sha256 or ""
    found = inputs_hash(text_mark(text), rows_mark(settings, book, on, day), mark)
    return Place(text=text, hash=found, folder=settings.home / COMPUTED / found / wanted.units, units=wanted.units)


def saved_scene(book: Book, job_id: str) -> bytes:
    """The newest saved layout of a job; empty where there is none."""
    saved = layouts.newest(book, job_id)
    return b"" if saved is None else documents.content(book, saved.row.id)


def laid_with(
    job: Job, catalog: Catalog, scene: bytes, cache: Path, report: Callable[[str], None]
) -> LayoutStage | None:
    """What a plan of the office takes of the layout: the one saved in the office, else a proposal."""
    return _laid(job, catalog, scene, cache, report).stage


def laid_and_lit_with(
    job: Job, catalog: Catalog, scene: bytes, cache: Path, report: Callable[[str], None]
) -> tuple[LayoutStage | None, Stage[LightResult] | None]:
    """The same with the light over it."""
    from slackwater.actions.lighting import light_for
    from slackwater.layout.asked import Beside

    laid = _laid(job, catalog, scene, cache, report)
    return laid.stage, light_for(job, catalog, laid, files=Beside(), cache=cache, on_progress=report)


def laid_scene(job: Job, catalog: Catalog, scene: bytes, cache: Path, report: Callable[[str], None]) -> bytes | None:
    """The scene file of the same layout; None where facts are missing for one."""
    return _laid(job, catalog, scene, cache, report).scene


def _laid(job: Job, catalog: Catalog, scene: bytes, cache: Path, report: Callable[[str], None]) -> LaidJob:
    from slackwater.actions.laying import lay_job
    from slackwater.layout.asked import Beside

    if not scene:
        return lay_job(job, catalog, files=Beside(), cache=cache, on_progress=report)
    named = job.model_copy(update={"layout": job.layout.model_copy(update={"scene": SAVED_SCENE})})
    return lay_job(named, catalog, files=Beside(files={SAVED_SCENE: scene}), cache=cache, on_progress=report)


def parcel_of(inputs: str, units: UnitSystem) -> str:
    """Under which mark machines that share no disk find what was made of inputs."""
    return f"{PLAN}/{inputs}/{units}"


def plan_kind(settings: Settings, book: Book, clock: Callable[[], datetime]) -> Kind:
    """Planning for this office."""

    def given(task: TaskRow) -> Mapping[str, Any]:
        wanted = wanted_of(task)
        # A task that runs past midnight still is of the day on which it was asked for.
        on = task.added_at.date()
        place = place_of(settings, book, wanted, on=on)
        # The same plan in other units, or one whose papers were thrown away, is not computed again.
        kept = plans.of_inputs(book, wanted.job_id, wanted.version, place.hash)
        other = next(place.folder.parent.glob(f"*/{PLAN_FILE}"), None)
        catalog = catalog_folder(settings)
        return {
            "text": place.text,
            "folder": str(place.folder),
            "units": wanted.units,
            "catalog": str(catalog) if catalog else "",
            "layouts": str(settings.layouts),
            "scene": saved_scene(book, wanted.job_id),
            "prices": [price.model_dump(mode="json") for price in told_prices(book, on)],
            "experience": experience_before(
                settings, book, on=on, day=jobs.get(book, wanted.job_id).day
            ).model_dump_json(),
            "hash": place.hash,
            # One that was erased for the words in it is empty: it is made anew.
            "plan_json": kept.plan_json
            if kept and kept.plan_json != "{}"
            else other.read_text(encoding="utf-8")
            if other
            else "",
        }

    def kept(task: TaskRow, result: str) -> str:
        # By the inputs that it was made from: what the firm has learned may have grown meanwhile.
        wanted = wanted_of(task)
        if not wanted.changes:
            plan_json = (settings.home / COMPUTED / result / wanted.units / PLAN_FILE).read_text(encoding="utf-8")
            plans.keep(book, wanted.job_id, wanted.version, plan_json=plan_json, inputs_hash=result, at=clock())
        return result

    return Kind(run=make_plan, given=given, kept=kept, handed=lambda _: lay_catalog(settings, book))


def lay_catalog(settings: Settings, book: Book) -> dict[str, str]:
    """Lay the firm's own catalog rows out for workers, where it has any; under which mark."""
    folder = catalog_folder(settings)
    if folder is None:
        return {}
    mark = f"{CATALOG}/{catalog_mark(settings)}"
    lay_folder(book, mark, folder, only="*.csv")
    return {CATALOG: mark}


def made_plan(book: Book, place: Place) -> Mapping[str, Any] | None:
    """What the screen reads of a plan, brought here where a worker made it; None where nobody did."""
    page = read_page(place)
    if page is None and fetch_folder(book, parcel_of(place.hash, place.units), place.folder):
        page = read_page(place)
    return page


def plan_kind_of_worker(settings: Settings, book: Book, clock: Callable[[], datetime], task: TaskRow) -> Kind:
    """Planning for a worker, in whose data folder nothing lies: what it needs comes from the book, what it makes goes there.

    Raises
    ------
    NotFound
        If what it needs is no longer laid out.
    """
    fetch_catalog(settings, book, task)
    own = plan_kind(settings, book, clock)
    place = place_of(settings, book, wanted_of(task), on=task.added_at.date())
    # Done by another worker before it could say so, it is not done twice.
    fetch_folder(book, parcel_of(place.hash, place.units), place.folder)

    def kept(task: TaskRow, result: str) -> str:
        lay_folder(book, parcel_of(result, place.units), settings.home / COMPUTED / result / place.units)
        return own.kept(task, result)

    return Kind(run=own.run, given=own.given, kept=kept)


def fetch_catalog(settings: Settings, book: Book, task: TaskRow) -> None:
    """Bring the own catalog rows of the office that asks into a worker's data folder.

    Raises
    ------
    NotFound
        If they are no longer laid out.
    """
    mark = task.handed.get(CATALOG)
    if mark is not None and not fetch_folder(book, mark, settings.home / CATALOG):
        raise NotFound(say("work.no_catalog", {}))


def make_plan(given: Mapping[str, Any], report: Callable[[str], None]) -> str:
    """Plan a job text and write its papers and its page; done in a worker process.

    Returns
    -------
    str
        Hash of its inputs.

    Raises
    ------
    BadInput
        If the text cannot be read as a job.
    """
    report("reading the job")
    from slackwater.job.catalog import ToldPrice, load_catalog
    from slackwater.job.experience import Experience
    from slackwater.paper.shown import write_shown
    from slackwater.plan import Plan, plan, with_options

    folder = Path(given["folder"])
    if _is_current(folder / PAGE):
        return str(given["hash"])
    shutil.rmtree(folder, ignore_errors=True)
    job = job_in(given["text"])
    told = [ToldPrice.model_validate(price) for price in given["prices"]]
    catalog = load_catalog(Path(given["catalog"]) if given["catalog"] else None)
    catalog = catalog.with_prices(told, currency=job.price.currency)
    catalog = catalog.with_experience(Experience.model_validate_json(given["experience"]))
    if given["plan_json"]:
        found = Plan.model_validate_json(given["plan_json"])
    else:
        laid, lit = laid_and_lit_with(job, catalog, given["scene"], Path(given["layouts"]), report)
        found = plan(job, catalog, version=__version__, laid=laid, lit=lit, on_progress=report)
        found = with_options(found, job, catalog, laid=laid, lit=lit, on_progress=report)
    folder.parent.mkdir(parents=True, exist_ok=True)
    reader = reader_of_papers(job, given["units"])
    write_shown(found, job, catalog, folder, reader=reader, on_progress=report)
    return str(given["hash"])


def job_in(text: str) -> Job:
    """A job of the office, whose text nobody sees: what cannot be used is told fact by fact, each on a line of its own.

    Raises
    ------
    BadInput
    """
    from slackwater.job.load import read_job

    try:
        return read_job(text, file_name="job")
    except BadInput as error:
        told = (_IN_FILE.sub("", line) for line in str(error).splitlines())
        raise BadInput("\n".join(line if line.endswith((".", "?")) else f"{line}." for line in told)) from error


def forget_computed(settings: Settings) -> None:
    """Throw away everything that can be computed again."""
    shutil.rmtree(settings.home / COMPUTED, ignore_errors=True)


def read_page(place: Place) -> Mapping[str, Any] | None:
    """What the screen reads of a plan; None where it was not made yet."""
    from_file = place.folder / PAGE
    try:
        page = _page(str(from_file), from_file.stat().st_mtime_ns)
    except FileNotFoundError:
        return None
    return page if page.get("format") == FORMAT else None


def _is_current(file: Path) -> bool:
    """Whether a page is there and holds what this version of the program shows."""
    return file.is_file() and json.loads(file.read_text(encoding="utf-8")).get("format") == FORMAT


@lru_cache(maxsize=64)
def _page(file: str, _changed: int) -> Mapping[str, Any]:
    """A page of some hundred kilobytes, asked for several times in one visit; it is only ever replaced as a whole."""
    page: dict[str, Any] = json.loads(Path(file).read_text(encoding="utf-8"))
    return page
