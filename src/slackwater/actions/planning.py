"""What a user does with plans: ask for one, follow it, stop it, see it, change a fact and see what moves, compare two."""

from __future__ import annotations

import io
import json
import os
import threading
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from slackwater.actions.letterhead import sender_of
from slackwater.actions.office import Desk, Office
from slackwater.actions.own_rows import catalog_folder
from slackwater.actions.picture_work import PICTURES, laid_beside
from slackwater.actions.plan_work import PLAN, Change, Key, Place, Wanted, job_in, made_plan, place_of, wanted_of
from slackwater.actions.settings import LongWork
from slackwater.book import jobs, plans, presence, tasks
from slackwater.book.tasks import OPEN, State, TaskRow
from slackwater.errors import CannotRun, Conflict, NotFound
from slackwater.job.form import Answer, Part, answers_in, filled, parts
from slackwater.job.taken import taken_text
from slackwater.job.text import read_text
from slackwater.paper.offer_change import offer_changes
from slackwater.paper.picture_page import pictures_data
from slackwater.paper.sender import NOBODY, Sender
from slackwater.paper.shown import SHEETS, without_amounts
from slackwater.paper.write import SENT, for_templates, paper_with_pictures
from slackwater.reader import Reader
from slackwater.units import UnitSystem
from slackwater.wording.render import say
from slackwater.work import WORKER

PAPER_KINDS = {
    ".pdf": "application/pdf",
    ".ics": "text/calendar; charset=utf-8",
    ".json": "application/json",
    ".svg": "image/svg+xml",
}
PAPERS = (
    *("day-sheet.pdf", "offer.pdf", "packing-list.pdf", "van-card.pdf", "cards.pdf", "handover.pdf"),
    *("calendar.ics", "plan.json"),
)


@dataclass(frozen=True)
class Shown:
    """A plan for the screen.

    Attributes
    ----------
    wanted : Wanted
    page : mapping
        Texts, tables, figures (`slackwater.paper.shown`).
    folder : Path
        Where its papers and drawings lie.
    is_outdated : bool
        Whether what the version is planned with has changed since: prices of the book, the saved layout, what was learned.
    """

    wanted: Wanted
    page: Mapping[str, Any]
    folder: Path
    is_outdated: bool = False

    @property
    def made(self) -> tuple[str, int]:
        """Where it lies and when it was written: the same as long as it shows the same."""
        return str(self.folder), (self.folder / "page.json").stat().st_mtime_ns

    def drawing(self, file: str) -> str:
        """A figure as SVG."""
        return (self.folder / file).read_text(encoding="utf-8")

    def papers(self) -> tuple[str, ...]:
        """Papers that are there to be taken."""
        return tuple(name for name in PAPERS if (self.folder / name).is_file())


def see_plan(office: Office, wanted: Wanted) -> Shown | None:
    """The last plan that was made of a version, for an offer that was sent stays what it was; None where there is none.

    Raises
    ------
    NotFound
        If there is no such job or version.
    """
    current = current_plan(office, wanted)
    if current is not None or wanted.changes:
        return current
    place = _place(office, wanted)
    for inputs in plans.inputs_of(office.book, wanted.job_id, wanted.version):
        if inputs == place.hash:
            return None  # made, but not in these units or not for this version of the program
        older = place.of_inputs(inputs)
        page = made_plan(office.book, older)
        if page is not None:
            return Shown(wanted=wanted, page=page, folder=older.folder, is_outdated=True)
    return None


def current_plan(office: Office, wanted: Wanted) -> Shown | None:
    """The plan with the prices, the layout and the experience of today; None where it was not made.

    Raises
    ------
    NotFound
        If there is no such job or version.
    """
    place = _place(office, wanted)
    page = made_plan(office.book, place)
    return None if page is None else Shown(wanted=wanted, page=page, folder=place.folder)


def _place(office: Office, wanted: Wanted) -> Place:
    return place_of(office.settings, office.book, wanted, on=office.clock().date())


def plans_of(office: Office, job_id: str, units: UnitSystem) -> Iterator[Shown]:
    """The plans of a job that are there, of the newest version first, in these units where they were made in them.

    Whoever looks at them has no way to have a plan made in other units.
    """
    systems: tuple[UnitSystem, ...] = tuple(dict.fromkeys((units, "metric", "us")))
    for version in plans.planned_versions(office.book, job_id):
        seen = (see_plan(office, Wanted(job_id, version, system)) for system in systems)
        shown = next((found for found in seen if found is not None), None)
        if shown is not None:
            yield shown


def ask_plan(office: Office, wanted: Wanted, *, by: str = "") -> TaskRow:
    """Have a plan made; asked twice, it is made once.

    Raises
    ------
    NotFound, BadInput
        If there is no such job or version, or a key cannot be changed so.
    """
    place_of(office.settings, office.book, wanted, on=office.clock().date())
    running = open_task(office, wanted)
    if running is not None:
        return running
    task = tasks.add(
        office.book, kind=PLAN, arguments=wanted.arguments(), at=office.clock(), by=by, job_id=wanted.job_id
    )
    office.workshop.submit(task)
    return task


def ask_pictures(office: Office, wanted: Wanted, *, by: str = "") -> TaskRow:
    """Have the pictures of an offer drawn; asked twice, they are drawn once.

    Raises
    ------
    CannotRun
        Where they cannot be drawn: the renderer is not installed here, or long work is done by workers.
    NotFound, BadInput
        As `ask_plan`.
    """
    from slackwater.actions.picturing import refuse_without_renderer

    if office.settings.long_work is LongWork.WORKERS:
        raise CannotRun(say("picture.by_workers", {}))
    refuse_without_renderer()
    place_of(office.settings, office.book, wanted, on=office.clock().date())
    asked = wanted.arguments()
    for task in tasks.of_job(office.book, wanted.job_id):
        if task.kind == PICTURES and task.state in OPEN and task.arguments == asked:
            return task
    task = tasks.add(office.book, kind=PICTURES, arguments=asked, at=office.clock(), by=by, job_id=wanted.job_id)
    office.workshop.submit(task)
    return task


def take_option(office: Office, wanted: Wanted, place: int, *, by: str = "") -> int:
    """Write an option that the client chose into the job, as its next version; the number of that version.

    Parameters
    ----------
    place : int
        Of the option on the offer, from 1.

    Raises
    ------
    NotFound
        If there is no such job, version or option.
    Conflict
        If the job was changed since that version.
    """
    from slackwater.job.catalog import load_catalog

    if wanted.version != newest_version(office, wanted.job_id):
        raise Conflict(say("web.plan.option_old", {}))
    text = jobs.version(office.book, wanted.job_id, wanted.version).text
    job = job_in(text)
    if not 1 <= place <= len(job.price.options):
        raise NotFound(f"There is no option {place} on this offer")
    taken = taken_text(text, job, load_catalog(catalog_folder(office.settings)), job.price.options[place - 1])
    return jobs.save_version(office.book, wanted.job_id, taken, parent=wanted.version, at=office.clock(), by=by).n


def open_task(office: Office, wanted: Wanted) -> TaskRow | None:
    """The task that is making this plan now, if one is."""
    return next(
        (task for task in tasks.of_job(office.book, wanted.job_id) if task.state in OPEN and _same(task, wanted)), None
    )


def last_task(office: Office, wanted: Wanted) -> TaskRow | None:
    """The last task that was to make this plan."""
    return next((task for task in tasks.of_job(office.book, wanted.job_id) if _same(task, wanted)), None)


def _same(task: TaskRow, wanted: Wanted) -> bool:
    return task.kind == PLAN and wanted_of(task) == wanted


def follow(office: Office, task_id: str) -> TaskRow:
    """How far a task is.

    Raises
    ------
    NotFound
    """
    return tasks.get(office.book, task_id)


def has_no_worker(office: Office, task: TaskRow) -> bool:
    """Whether a task waits for workers of a version of the program of which none is there."""
    waits = task.state is State.WAITING and task.program is not None
    return waits and not presence.is_attended(office.book, f"{WORKER} {task.program}")


def stop(office: Office, task_id: str) -> TaskRow:
    """Ask a task to stop.

    Raises
    ------
    NotFound
    """
    return office.workshop.cancel(task_id)


def again(office: Office, task_id: str, *, by: str = "") -> TaskRow:
    """Begin a task that ended without a result once more.

    Raises
    ------
    NotFound, Conflict
    """
    task = tasks.restart(office.book, task_id, at=office.clock(), by=by)
    office.workshop.submit(task)
    return task


def unfinished(task: TaskRow) -> bool:
    """Whether a task ended without a result and can be restarted."""
    return task.state in (State.BROKEN, State.FAILED, State.CANCELLED)


def newest_version(office: Office, job_id: str) -> int:
    """Number of the newest version of a job.

    Raises
    ------
    NotFound
    """
    return jobs.get(office.book, job_id).newest_n


def version_numbers(office: Office, job_id: str) -> list[int]:
    """Numbers of all versions, newest first."""
    return [line.n for line in jobs.history(office.book, job_id)]


def paper(office: Desk, shown: Shown, name: str) -> tuple[bytes, str]:
    """One paper and its media type; what goes to a client has the firm's letterhead, a card the way to the page.

    Raises
    ------
    NotFound
        If it is not one of the papers that are there.
    """
    if name not in shown.papers():
        raise NotFound(f"There is no paper called {name[:60]} in this plan")
    return _set(shown, name, sender_of(office, shown.wanted.job_id)), PAPER_KINDS[Path(name).suffix]


def paper_of_crew(office: Desk, shown: Shown, name: str) -> tuple[bytes, str]:
    """The same with every amount of money masked, for whoever is to see no prices.

    Raises
    ------
    NotFound
        If it is not one of the papers that are there.
    """
    stem, _, kind = name.rpartition(".")
    if name not in shown.papers() or kind != "pdf":
        return paper(office, shown, name)
    sender = sender_of(office, shown.wanted.job_id) if stem in SENT else NOBODY
    return _kept(shown, f"crew-{sender.mark}", name, sender, hidden=str(shown.page.get("currency", ""))), PAPER_KINDS[
        ".pdf"
    ]


def _set(shown: Shown, name: str, sender: Sender) -> bytes:
    """A paper as this office hands it out; what was set once for the same sender is kept beside the plan."""
    stem = name.rpartition(".")[0]
    if stem not in SENT:
        return (shown.folder / name).read_bytes()
    return _kept(shown, sender.mark, name, sender)


def _kept(shown: Shown, under: str, name: str, sender: Sender, *, hidden: str | None = None) -> bytes:
    """A paper with a sender, set once; amounts of a currency to be hidden are masked on it ("": of whatever currency)."""
    kept = shown.folder / "set" / under / name
    if kept.is_file():
        return kept.read_bytes()
    data = sheets(shown)
    told = data if hidden is None else without_amounts(data, hidden, data["language"])
    figures = {file.name: file.read_text(encoding="utf-8") for file in shown.folder.glob("*.svg")}
    pictures = laid_beside(shown.folder)
    if pictures is not None:
        reader = Reader(shown.wanted.units, data["language"])
        told = {**told, "pictures": for_templates(pictures_data(pictures, reader), reader)}
    files = {} if pictures is None else pictures.files
    made = paper_with_pictures(name.rpartition(".")[0], told, figures, files, sender)
    kept.parent.mkdir(parents=True, exist_ok=True)
    part = kept.with_name(f"{name}.{os.getpid()}.{threading.get_ident()}.part")
    part.write_bytes(made)
    part.replace(kept)
    return made


def sheets(shown: Shown) -> Mapping[str, Any]:
    """Everything that the papers of a plan print, in the language of the job."""
    found: Mapping[str, Any] = json.loads((shown.folder / SHEETS).read_text(encoding="utf-8"))
    return found


def papers_zip(office: Desk, shown: Shown) -> bytes:
    """All papers and figures in one file; the same plan gives the same bytes."""
    packed, sender = io.BytesIO(), sender_of(office, shown.wanted.job_id)
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as bundle:
        names = (*shown.papers(), *sorted(file.name for file in shown.folder.glob("*.svg")))
        for name in names:
            # The earliest moment that the format knows: when it was packed is nobody's business.
            entry = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            bundle.writestr(entry, _set(shown, name, sender))
    return packed.getvalue()


def dotted(key: Key) -> str:
    """A key as one text; entries of lists are counted from 1."""
    return ".".join(str(part + 1) if isinstance(part, int) else part for part in key)


def facts(office: Office, job_id: str, version: int) -> list[tuple[Part, Answer]]:
    """Every question that the survey asks of a version, answered or not, in the order of the survey.

    Raises
    ------
    NotFound, BadInput
        If there is no such version, or its text cannot be read.
    """
    plain = read_text(jobs.version(office.book, job_id, version).text)
    return [(part, answer) for part in parts() for answer in answers_in(filled(part, plain))]


def fact_of(known: list[tuple[Part, Answer]], key: str) -> Answer:
    """The question of a key, as `dotted` writes it.

    Raises
    ------
    NotFound
    """
    for _, answer in known:
        if dotted(answer.path) == key:
            return answer
    raise NotFound(f"There is no value called {key[:80]} in this version of the job")


@dataclass(frozen=True)
class Moved:
    """A figure in two plans."""

    name: str
    before: str
    after: str
    difference: str
    moved: bool


@dataclass(frozen=True)
class Comparison:
    """Two plans side by side.

    Attributes
    ----------
    rooms : tuple of (str, tuple of Moved)
        Figures by the part of the plan.
    only_before, only_after : tuple of str
        Findings that only one of them has.
    reworded : tuple of (str, str)
        Findings that both have, with other numbers.
    offer : mapping or None
        What changed between the two offers; None where neither has a price.
    """

    before: Shown
    after: Shown
    rooms: tuple[tuple[str, tuple[Moved, ...]], ...]
    only_before: tuple[str, ...]
    only_after: tuple[str, ...]
    reworded: tuple[tuple[str, str], ...]
    offer: Mapping[str, Any] | None = None

    @property
    def moved(self) -> int:
        """How many figures differ."""
        return sum(row.moved for _, rows in self.rooms for row in rows)


def compare(before: Shown, after: Shown) -> Comparison:
    """Put two plans side by side."""
    rooms = []
    for room, whys in before.page["whys"].items():
        first = {why["id"]: why for why in whys}
        second = {why["id"]: why for why in after.page["whys"].get(room, [])}
        rows = tuple(_moved(first.get(name), second.get(name)) for name in {**first, **second})
        if rows:
            rooms.append((room, rows))
    told, retold = (dict(side.page["told"]) for side in (before, after))
    return Comparison(
        before=before,
        after=after,
        rooms=tuple(rooms),
        only_before=tuple(text for key, text in told.items() if key not in retold),
        only_after=tuple(text for key, text in retold.items() if key not in told),
        reworded=tuple((text, retold[key]) for key, text in told.items() if retold.get(key, text) != text),
        offer=_offers(before.page, after.page),
    )


def _offers(before: Mapping[str, Any], after: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """What changed between two offers; None where none has a price, or one page was made before this was kept."""
    first, second = before.get("offered"), after.get("offered")
    if not first or not second or not (first["amounts"] or second["amounts"]):
        return None
    return offer_changes(first, second)


def _moved(first: Mapping[str, Any] | None, second: Mapping[str, Any] | None) -> Moved:
    one = first or second
    assert one is not None
    before, after = (side["value"] if side else "" for side in (first, second))
    difference = ""
    if first and second and before != after and first["number"]:
        difference = f"{100 * (second['number'] / first['number'] - 1):+.0f} %"
    return Moved(name=one["name"], before=before, after=after, difference=difference, moved=before != after)


def try_change(office: Office, wanted: Wanted, key: Key, value: str) -> Wanted:
    """What is wanted with one key changed.

    Raises
    ------
    NotFound, BadInput
        If the key cannot hold this.
    """
    changed = Wanted(wanted.job_id, wanted.version, wanted.units, (*wanted.changes, Change(key, value)))
    place: Place = place_of(office.settings, office.book, changed, on=office.clock().date())
    # Read now what a worker would read later, so that a typing error is told at once.
    from slackwater.job.load import read_job

    read_job(place.text, file_name="job")
    return changed


@dataclass(frozen=True)
class Planned:
    """A version of a job that has a plan, for lists."""

    job_id: str
    version: int
    name: str

    @property
    def both(self) -> str:
        """Job and version in one text."""
        return f"{self.job_id}:{self.version}"


def planned(office: Office, limit: int = 200) -> list[Planned]:
    """Versions that were planned last, the newest first, each once."""
    made = [
        wanted_of(task)
        for task in tasks.listed(office.book, limit=limit)
        if task.kind == PLAN and task.state is State.DONE and task.job_id is not None
    ]
    keys = dict.fromkeys((wanted.job_id, wanted.version) for wanted in made if not wanted.changes)
    rows = jobs.several(office.book, [job_id for job_id, _ in keys])
    return [Planned(job_id, version, rows[job_id].name) for job_id, version in keys]
