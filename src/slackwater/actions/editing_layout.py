"""What a user does with the layout of a job: look at it, change it, undo, save a version, take one back, count it.

The truth is here: a browser sends acts, gets the places that came of them or a sentence why not. The draft is written into the
book with every change; what can be undone is kept by the office that is open, and goes with it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from slackwater.actions.drafts import OpenDraft
from slackwater.actions.job_scene import base_of, has_pieces
from slackwater.actions.layout_counts import Counted, count
from slackwater.actions.layout_work import PIECES, PROPOSE, SETTLE
from slackwater.actions.office import Desk, Office
from slackwater.actions.recording import job_of
from slackwater.book import jobs, layouts, tasks
from slackwater.book.layouts import Saved
from slackwater.book.tasks import OPEN, State, TaskRow
from slackwater.errors import BadInput, Conflict, NotFound
from slackwater.layout.acts import Edit
from slackwater.layout.editing import edited
from slackwater.layout.gltf import from_glb, to_glb
from slackwater.layout.plain import from_plain, to_plain
from slackwater.layout.scene import Layout
from slackwater.reader import reader_of
from slackwater.units import UnitSystem
from slackwater.wording.render import say

MOST_STEPS = 200
"""Steps that can be undone; a step shares all that it did not change with the one before."""
LONGEST_TITLE = 120


@dataclass(frozen=True)
class Laid:
    """A draft to be shown.

    Attributes
    ----------
    layout : Layout
    revision : int
        0 while nobody has changed anything.
    based_on : int
        Number of the saved version it began from; 0 for none.
    can_undo, can_redo : bool
    notes : tuple of str
        What is to be known of it, in sentences.
    """

    layout: Layout
    revision: int
    based_on: int
    can_undo: bool
    can_redo: bool
    notes: tuple[str, ...]


def _laid(found: OpenDraft) -> Laid:
    return Laid(
        layout=found.steps[found.at],
        revision=found.revision,
        based_on=found.based_on,
        can_undo=found.at > 0,
        can_redo=found.at + 1 < len(found.steps),
        notes=found.lost,
    )


def see(office: Office, job_id: str) -> Laid:
    """The draft of a job's layout, or what it would begin from: the newest saved version, else the bed of the job.

    Raises
    ------
    NotFound, BadInput, Conflict
        If there is no such job; if its survey does not tell enough of the tank and the bed; if its pieces are being made.
    """
    job_of(office, job_id)
    with office.drafts.of(job_id):
        return _laid(_now(office, job_id))


def counted(office: Office, job_id: str) -> tuple[Laid, Counted]:
    """The draft and what it comes to; only what moved since the last time is counted.

    Raises
    ------
    NotFound, BadInput, Conflict
        As `see`.
    """
    job_of(office, job_id)
    with office.drafts.of(job_id):
        found = _now(office, job_id)
        told = count(found.steps[found.at], found.counted)
        # In the draft itself: the same draft, with more known of it.
        found.counted = told
        return _laid(found), told


def _now(office: Office, job_id: str) -> OpenDraft:
    kept = layouts.draft(office.book, job_id)
    revision = kept.revision if kept else 0
    found = office.drafts.get(job_id, revision)
    if found is None or (kept is None and found.based_on != _newest_n(office, job_id)):
        # Making pieces can take half a minute, in which nobody who asks may wait for an answer.
        if ask_pieces(office, job_id, units="metric") is not None:
            raise Conflict(say("web.layout.not_made", {}))
        found = _opened(office, job_id, kept)
        office.drafts.put(job_id, found)
    return found


def _newest_n(office: Desk, job_id: str) -> int:
    return next((saved.n for saved in layouts.versions(office.book, job_id)), 0)


def _opened(office: Office, job_id: str, kept: layouts.Draft | None) -> OpenDraft:
    based_on = kept.based_on if kept else _newest_n(office, job_id)
    base, lost = base_of(office.settings, office.book, job_id, based_on)
    layout = base
    if kept is not None:
        layout, gone = from_plain(json.loads(kept.body), base)
        if gone:
            lost += (say("web.layout.gone", {"count": len(gone)}),)
    return OpenDraft(revision=kept.revision if kept else 0, based_on=based_on, steps=[layout], lost=lost)


# ---------------------------------------------------------------- changing it


def change(office: Office, job_id: str, edits: Sequence[Edit], *, revision: int, by: str = "") -> Laid:
    """Do some acts as one step, all or none.

    Parameters
    ----------
    revision : int
        Of the draft that the acts were made on.

    Raises
    ------
    NotFound, BadInput, Conflict
        If there is no such job; if an act cannot be done; if somebody else has changed the draft meanwhile.
    """
    return _step(office, job_id, lambda layout: edited(layout, edits), revision=revision, by=by)


def take(office: Office, job_id: str, layout: Layout, *, revision: int, by: str = "") -> Laid:
    """Take places and bed of another layout as one step: a proposal, one that was settled, a saved version."""

    def taken(now: Layout) -> Layout:
        return replace(
            now,
            pieces={**layout.pieces, **now.pieces},
            placements=layout.placements,
            joints=layout.joints,
            ballast_kg=layout.ballast_kg,
            bed=layout.bed if layout.glass.box_m == now.glass.box_m else now.bed,
        )

    return _step(office, job_id, taken, revision=revision, by=by)


def take_back(office: Office, job_id: str, n: int, *, revision: int, by: str = "") -> Laid:
    """Take a saved version into the draft; it can be undone.

    Raises
    ------
    NotFound, Conflict
    """
    return take(office, job_id, from_glb(layouts.scene(office.book, job_id, n)), revision=revision, by=by)


def _step(office: Office, job_id: str, act: Callable[[Layout], Layout], *, revision: int, by: str) -> Laid:
    job_of(office, job_id)
    with office.drafts.of(job_id):
        found = _asked(office, job_id, revision)
        layout = act(found.steps[found.at])
        steps = [*found.steps[: found.at + 1], layout][-MOST_STEPS:]
        return _kept(office, job_id, replace(found, steps=steps, at=len(steps) - 1), by=by)


def undo(office: Office, job_id: str, *, revision: int, by: str = "") -> Laid:
    """Go one step back.

    Raises
    ------
    NotFound, BadInput, Conflict
        If there is no such job; if there is nothing to undo; if somebody else has changed the draft meanwhile.
    """
    return _walk(office, job_id, -1, "web.layout.no_undo", revision=revision, by=by)


def redo(office: Office, job_id: str, *, revision: int, by: str = "") -> Laid:
    """Go forward again by one step that was undone.

    Raises
    ------
    NotFound, BadInput, Conflict
    """
    return _walk(office, job_id, 1, "web.layout.no_redo", revision=revision, by=by)


def _walk(office: Office, job_id: str, by_steps: int, refusal: str, *, revision: int, by: str) -> Laid:
    job_of(office, job_id)
    with office.drafts.of(job_id):
        found = _asked(office, job_id, revision)
        at = found.at + by_steps
        if not 0 <= at < len(found.steps):
            raise BadInput(say(refusal, {}))
        return _kept(office, job_id, replace(found, at=at), by=by)


def _asked(office: Office, job_id: str, revision: int) -> OpenDraft:
    found = _now(office, job_id)
    if found.revision != revision:
        raise Conflict(say("web.layout.overtaken", {}))
    return found


def _kept(office: Office, job_id: str, found: OpenDraft, *, by: str) -> Laid:
    body = json.dumps(to_plain(found.steps[found.at]), separators=(",", ":"))
    revision = layouts.put_draft(
        office.book,
        job_id,
        body,
        based_on=found.based_on,
        revision=found.revision,
        at=office.clock(),
        by=by,
    )
    kept = replace(found, revision=revision, lost=())
    office.drafts.put(job_id, kept)
    return _laid(kept)


# ---------------------------------------------------------------- saved versions


def save(office: Office, job_id: str, *, title: str, revision: int, by: str = "") -> tuple[Saved, Laid]:
    """Save the draft as a new version; nothing that was saved before is lost.

    Raises
    ------
    NotFound, BadInput, Conflict
        If there is no such job; if the title is too long; if somebody else has changed or saved it meanwhile.
    """
    job_of(office, job_id)
    title = " ".join(title.split())
    if len(title) > LONGEST_TITLE:
        raise BadInput(say("web.layout.long_title", {"most": LONGEST_TITLE}))
    with office.drafts.of(job_id):
        found = _asked(office, job_id, revision)
        saved = layouts.save(
            office.book,
            job_id,
            to_glb(found.steps[found.at]),
            title=title,
            parent=_newest_n(office, job_id),
            at=office.clock(),
            by=by,
        )
        return saved, _kept(office, job_id, replace(found, based_on=saved.n), by=by)


def versions(office: Desk, job_id: str) -> list[Saved]:
    """Saved versions that were not erased, the newest first.

    Raises
    ------
    NotFound
    """
    job_of(office, job_id)
    return [saved for saved in layouts.versions(office.book, job_id) if saved.row.sha256 is not None]


def scene_file(office: Office, job_id: str, n: int) -> bytes:
    """A saved version, or with 0 the draft, as a glTF scene.

    Raises
    ------
    NotFound, BadInput, CorruptBook
    """
    job_of(office, job_id)
    return layouts.scene(office.book, job_id, n) if n else to_glb(see(office, job_id).layout)


# ---------------------------------------------------------------- drawings


def drawing(office: Office, job_id: str, name: str, *, units: UnitSystem, task_id: str = "", n: int = 0) -> str:
    """One drawing to scale of the draft as SVG, or of what came of long work on it.

    Parameters
    ----------
    name : str
        `plan`, `front`, `rear`, `left`, `right`, `long` or `cross`.
    task_id : str
        Of the long work; empty for the draft.
    n : int
        Which of its layouts, counted from 0.

    Raises
    ------
    NotFound, BadInput, Conflict
        As `see` and `came`; if there is no such drawing.
    """
    if task_id:
        found = came(office, job_id, task_id).layouts
        if not 0 <= n < len(found):
            raise NotFound(say("web.layout.no_outcome", {}))
        drawn = _drawings(found[n], units)
    else:
        # All drawings of a page are asked for at once and are made in one go: the first makes them, the others wait.
        layout = see(office, job_id).layout
        with office.drafts.of(job_id):
            drawn = _drawings(layout, units)
    if name not in drawn:
        raise NotFound(say("web.layout.no_drawing", {"name": name, "there": ", ".join(drawn)}))
    return drawn[name]


@lru_cache(maxsize=16)
def _drawings(layout: Layout, units: UnitSystem) -> Mapping[str, str]:
    from slackwater.layout.compose import laid_of
    from slackwater.paper.layout_figures import drawings_by_name

    laid = laid_of(layout, source="scene", settled=False, intent="", seed=0)
    return drawings_by_name(laid.result, reader_of(units))


# ---------------------------------------------------------------- long work


def ask_pieces(office: Office, job_id: str, *, units: UnitSystem, by: str = "") -> TaskRow | None:
    """Have the pieces of a job made; None where they are there, or where making them has not left them on this machine.

    Raises
    ------
    NotFound
    """
    row = job_of(office, job_id)
    version = jobs.newest(office.book, job_id)
    if has_pieces(office.settings, version.text):
        return None
    asked: dict[str, Any] = {"version": row.newest_n, "units": units, "changes": []}
    for task in tasks.of_job(office.book, job_id):
        if task.kind == PIECES and task.arguments["version"] == row.newest_n:
            if task.state in OPEN:
                return task
            if task.state in (State.DONE, State.FAILED):
                return None
    return _begun(office, job_id, PIECES, asked, by=by)


def ask_settled(office: Office, job_id: str, *, revision: int, units: UnitSystem, by: str = "") -> TaskRow:
    """Have the draft settled; asked twice, it is done once.

    Raises
    ------
    NotFound, BadInput, Conflict
        If there is no such job; if nothing is placed; if somebody else has changed the draft meanwhile.
    """
    with office.drafts.of(job_id):
        found = _asked(office, job_id, revision)
    if not found.steps[found.at].placements:
        raise BadInput(say("web.layout.nothing", {}))
    return _begun(office, job_id, SETTLE, _of_draft(office, job_id, found, units), by=by)


def ask_proposals(
    office: Office, job_id: str, *, revision: int, intent: str, seed: int, units: UnitSystem, by: str = ""
) -> TaskRow:
    """Have layouts proposed from the pieces on hand; those locked in the draft stay.

    Raises
    ------
    NotFound, BadInput, Conflict
        If there is no such job; if there is no piece; if somebody else has changed the draft meanwhile.
    """
    with office.drafts.of(job_id):
        found = _asked(office, job_id, revision)
    if not found.steps[found.at].pieces:
        raise BadInput(say("web.layout.no_piece", {}))
    asked = {**_of_draft(office, job_id, found, units), "intent": intent, "seed": seed}
    return _begun(office, job_id, PROPOSE, asked, by=by)


def _of_draft(office: Office, job_id: str, found: OpenDraft, units: UnitSystem) -> dict[str, Any]:
    return {
        "version": jobs.get(office.book, job_id).newest_n,
        "units": units,
        "changes": [],
        "revision": found.revision,
        "based_on": found.based_on,
        "body": to_plain(found.steps[found.at]),
    }


def _begun(office: Office, job_id: str, kind: str, asked: dict[str, Any], *, by: str) -> TaskRow:
    for task in tasks.of_job(office.book, job_id):
        if task.kind == kind and task.state in OPEN and task.arguments == asked:
            return task
    task = tasks.add(office.book, kind=kind, arguments=asked, at=office.clock(), by=by, job_id=job_id)
    office.workshop.submit(task)
    return task


@dataclass(frozen=True)
class Came:
    """What came of long work on a draft.

    Attributes
    ----------
    task : TaskRow
    revision : int
        Of the draft that it was asked of.
    layouts : tuple of Layout
        One that was settled, or the proposals.
    told : mapping
        What became of each piece, or the scores.
    """

    task: TaskRow
    revision: int
    layouts: tuple[Layout, ...]
    told: Mapping[str, Any]


def came(office: Office, job_id: str, task_id: str) -> Came:
    """What came of a task of this job.

    Raises
    ------
    NotFound
        If there is no such task of this job, or it has not ended well.
    """
    job_of(office, job_id)
    task = tasks.get(office.book, task_id)
    if task.job_id != job_id or task.kind not in (SETTLE, PROPOSE) or task.state is not State.DONE:
        raise NotFound(say("web.layout.no_outcome", {}))
    told = json.loads(task.result or "{}")
    asked = task.arguments
    base, _ = base_of(office.settings, office.book, job_id, asked["based_on"])
    found = tuple(from_plain({"bed": asked["body"]["bed"], **body}, base)[0] for body in told.get("layouts", []))
    return Came(task=task, revision=asked["revision"], layouts=found, told=told)


def take_outcome(office: Office, job_id: str, task_id: str, n: int, *, revision: int, by: str = "") -> Laid:
    """Take one of the layouts that came of long work into the draft, counted from 0; it can be undone.

    Raises
    ------
    NotFound, Conflict
    """
    found = came(office, job_id, task_id).layouts
    if not 0 <= n < len(found):
        raise NotFound(say("web.layout.no_outcome", {}))
    return take(office, job_id, found[n], revision=revision, by=by)
