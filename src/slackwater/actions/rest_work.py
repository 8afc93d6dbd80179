"""The rest of a day planned again from a job's log, as long work; and what came of it, for the screen and for paper."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Any

from slackwater.actions.day_job import ClockNow, DayShown, Move, Replanned, clock_time, day_of
from slackwater.actions.experience import experience_before
from slackwater.actions.laid import lay_folder
from slackwater.actions.own_rows import COMPUTED, catalog_folder
from slackwater.actions.plan_work import fetch_catalog, laid_with, lay_catalog, saved_scene
from slackwater.actions.settings import Settings
from slackwater.book import Book, besides, events, jobs, parcels
from slackwater.book.ids import new_id
from slackwater.book.tasks import TaskRow
from slackwater.finding import Finding, Severity
from slackwater.job.event import read_events, write_events
from slackwater.units import UnitSystem
from slackwater.wording.render import finding_sentence, remedy_sentence, say
from slackwater.work import Kind

REST = "rest"
FEW_HANDS = "few hands"
HEAVY = (Severity.REFUSE, Severity.MISFIT, Severity.MISSING)


def rest_kind(settings: Settings, book: Book) -> Kind:
    """Planning the rest of a day for this office."""

    def given(task: TaskRow) -> Mapping[str, Any]:
        asked, job_id = task.arguments, task.job_id or ""
        catalog = catalog_folder(settings)
        return {
            "text": jobs.version(book, job_id, asked["version"]).text,
            "events": write_events(row.event for row in events.all_of(book, job_id)),
            "at": asked["at"],
            "units": asked["units"],
            "catalog": str(catalog) if catalog else "",
            "layouts": str(settings.layouts),
            "scene": saved_scene(book, job_id),
            "experience": experience_before(
                settings, book, on=task.added_at.date(), day=jobs.get(book, job_id).day
            ).model_dump_json(),
            "file": str(rest_file(settings, task.id)),
        }

    return Kind(run=plan_rest, given=given, kept=lambda task, _: task.id, handed=lambda _: lay_catalog(settings, book))


def rest_kind_of_worker(settings: Settings, book: Book, task: TaskRow) -> Kind:
    """Planning the rest of a day for a worker, as `plan_kind_of_worker`.

    Raises
    ------
    NotFound
        If what it needs is no longer laid out.
    """
    fetch_catalog(settings, book, task)
    own = rest_kind(settings, book)

    def kept(task: TaskRow, result: str) -> str:
        file = rest_file(settings, task.id)
        lay_folder(book, f"{REST}/{task.id}", file.parent, only=file.name)
        return own.kept(task, result)

    return Kind(run=own.run, given=own.given, kept=kept)


def plan_rest(given: Mapping[str, Any], report: Callable[[str], None]) -> str:
    """Plan the rest of a day and write what is shown of it; done in a worker process.

    Raises
    ------
    BadInput
        If the text cannot be read as a job, or the time is not one of its day.
    """
    report("reading the job")
    from slackwater.job.catalog import load_catalog
    from slackwater.job.experience import Experience
    from slackwater.job.load import read_job

    job = read_job(given["text"], file_name="job")
    catalog = load_catalog(Path(given["catalog"]) if given["catalog"] else None)
    laid = laid_with(job, catalog, given["scene"], Path(given["layouts"]), report)
    found = day_of(
        job,
        catalog.with_experience(Experience.model_validate_json(given["experience"])),
        laid=laid,
        at=datetime.fromisoformat(given["at"]),
        happened=read_events(given["events"], file_name="log"),
        on_progress=report,
    )
    file = Path(given["file"])
    file.parent.mkdir(parents=True, exist_ok=True)
    part = file.with_suffix(".part")
    part.write_text(json.dumps(rest_page(found, given["units"])), encoding="utf-8")
    part.replace(file)
    return ""


def rest_file(settings: Settings, task_id: str) -> Path:
    """Where what a task has planned is kept."""
    return settings.home / COMPUTED / REST / f"{task_id}.json"


def rest_there(settings: Settings, book: Book, task_id: str) -> Path | None:
    """The file of what a task has planned, brought here where a worker made it; None where it is gone."""
    file = rest_file(settings, task_id)
    if not file.is_file():
        files = parcels.fetch(book, f"{REST}/{task_id}") if besides.is_shared(book) else None
        if files is None or file.name not in files:
            return None
        file.parent.mkdir(parents=True, exist_ok=True)
        part = file.with_suffix(f".{new_id(book.clock())}")
        part.write_bytes(files[file.name])
        part.replace(file)
    return file


def forget_rests(settings: Settings) -> None:
    """Throw away what was shown of rests of days; each can be planned again."""
    shutil.rmtree(settings.home / COMPUTED / REST, ignore_errors=True)


# ---------------------------------------------------------------- what is shown


def rest_page(found: DayShown, units: UnitSystem) -> dict[str, Any]:
    """The rest of a day in sentences and rows: what to do first, its hours, clocks, the other ways."""
    day = found.day
    page: dict[str, Any] = {
        "job": found.job_name,
        "heavy": _findings(found.findings, HEAVY, units),
        "notes": _findings(found.findings, (Severity.CONDITION, Severity.NOTE), units),
        "day": None,
    }
    if day is None:
        return page
    way, first = day.advised, day.opens.date()
    page["day"] = {
        "now": f"{day.now:%a} {clock_time(day.now, day.now.date())}",
        "urgent": [say(f"move.{move.id}", move.values, units) for move in day.urgent],
        "fits": any(move.fits for move in day.moves),
        "advised": say(f"move.{way.id}", way.values, units),
        "done": _done(day, way),
        "hours": _hours(day, way),
        "left_out": [item.label for item in way.hours.moved if item.new is None],
        "clocks": [
            {
                "what": clock.what,
                "latest": clock_time(clock.latest, first),
                "over": clock.excess_min > 0,
                "margin": _margin(clock),
                "runs": _runs(clock, first),
                "left": "" if clock.left_min is None else say("web.rest.left", {"minutes": str(clock.left_min)}),
            }
            for clock in way.hours.clocks
        ],
        "ways": [_way(day, move, units) for move in day.moves if move not in day.urgent and move.finish is not None],
        "none": [say(f"move_name.{move.id}", move.values, units) for move in day.moves if move.finish is None],
        "broken": "; ".join(day.broken_rules),
    }
    return page


def _done(day: Replanned, way: Move) -> str:
    if way.finish is None:
        return ""
    first = day.opens.date()
    ends, margin = clock_time(way.finish, first), way.margin_min or 0
    if way.way == FEW_HANDS:
        return say("web.rest.in_part_until", {"ends": ends})
    values = {"ends": ends, "minutes": str(abs(margin)), "closes": clock_time(day.closes, first)}
    return say("web.rest.done_late" if margin < 0 else "web.rest.done", values)


def _hours(day: Replanned, way: Move) -> list[dict[str, Any]]:
    first = day.opens.date()
    was = {item.activity: item.old for item in way.hours.moved}
    rows = []
    for entry in way.hours.entries:
        if entry.state == "done":
            continue
        old = was.get(entry.activity)
        planned = say("web.rest.not_planned", {}) if entry.activity in was else ""
        rows.append(
            {
                "start": clock_time(entry.start, first),
                "end": clock_time(entry.end, first),
                "from": entry.start.replace(tzinfo=None).isoformat(),
                "until": entry.end.replace(tzinfo=None).isoformat(),
                "who": ", ".join(entry.crew) or say("web.rest.nobody", {}),
                "what": entry.label,
                "id": "" if entry.activity.startswith("break:") else entry.activity,
                "stop": entry.hold_point,
                "runs": entry.state == "running",
                "was": planned if old is None else clock_time(old, first),
            }
        )
    return rows


def _way(day: Replanned, move: Move, units: UnitSystem) -> dict[str, Any]:
    return {
        "name": say(f"move_name.{move.id}", move.values, units),
        "fits": move.fits,
        "done": _done(day, move),
        "clock": move.first_clock,
    }


def _runs(clock: ClockNow, first: date) -> str:
    values = {"start": clock_time(clock.start, first)}
    if clock.end is None:
        return say("web.rest.runs_on", values)
    return say("web.rest.runs_until", {**values, "end": clock_time(clock.end, first)})


def _margin(clock: ClockNow) -> str:
    if clock.margin_min is None:
        return ""
    name, minutes = ("over", clock.excess_min) if clock.excess_min else ("to_spare", clock.margin_min)
    return say(f"web.rest.{name}", {"minutes": str(minutes)})


def _findings(
    findings: tuple[Finding, ...], severities: tuple[Severity, ...], units: UnitSystem
) -> list[dict[str, Any]]:
    return [
        {
            "text": finding_sentence(finding, units),
            "remedies": [remedy_sentence(remedy, units) for remedy in finding.remedies],
        }
        for severity in severities
        for finding in findings
        if finding.severity is severity
    ]
