"""Long work on a layout: making its pieces, letting them settle, proposing other layouts. What each is given, does and hands on."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from slackwater.actions.own_rows import catalog_folder
from slackwater.actions.settings import Settings
from slackwater.book import Book, jobs
from slackwater.book.tasks import TaskRow
from slackwater.work import Kind

PIECES, SETTLE, PROPOSE = "layout pieces", "layout settle", "layout propose"
PROPOSALS = 6


def layout_kinds(settings: Settings, book: Book) -> dict[str, Kind]:
    """The three for an office, or for a worker: what they need is read from the book and from what was asked."""

    def of_job(task: TaskRow) -> Mapping[str, Any]:
        text = jobs.version(book, task.job_id or "", task.arguments["version"]).text
        return {"text": text, "catalog": str(catalog_folder(settings) or ""), "pieces": str(pieces_folder(settings))}

    def of_draft(task: TaskRow) -> Mapping[str, Any]:
        from slackwater.actions.job_scene import base_of
        from slackwater.layout.plain import from_plain

        asked = task.arguments
        base, _ = base_of(settings, book, task.job_id or "", asked["based_on"])
        layout, _ = from_plain(asked["body"], base)
        return {**asked, "layout": layout}

    def kept(_: TaskRow, result: str) -> str:
        return result

    return {
        PIECES: Kind(run=make_pieces, given=of_job, kept=kept),
        SETTLE: Kind(run=settle, given=of_draft, kept=kept),
        PROPOSE: Kind(run=propose, given=of_draft, kept=kept),
    }


def pieces_folder(settings: Settings) -> Path:
    """Where finished pieces are kept."""
    return settings.layouts / "pieces"


def make_pieces(given: Mapping[str, Any], report: Callable[[str], None]) -> str:
    """Make the pieces of a job, so that they are there when its layout is opened; done in a worker process.

    Raises
    ------
    BadInput
        If the text cannot be read as a job, or does not tell enough of tank and bed.
    """
    report("making the stones and the wood")
    from slackwater.actions.job_scene import scene_made

    scene_made(given["text"], given["catalog"], Path(given["pieces"]))
    return "{}"


def settle(given: Mapping[str, Any], report: Callable[[str], None]) -> str:
    """Let go of all pieces and see where they come to rest; done in a worker process.

    Returns
    -------
    str
        Places and what became of each piece, as JSON.
    """
    report("settling the pieces")
    from slackwater.layout.settle import settled

    found = settled(given["layout"])
    moved = [
        {"number": item.number, "turn_deg": item.turn_deg, "shift_m": item.shift_m, "accepted": item.accepted}
        for item in found.pieces
    ]
    return json.dumps({"layouts": [_body(given, found.layout)], "moved": moved, "at_rest": found.at_rest})


def propose(given: Mapping[str, Any], report: Callable[[str], None]) -> str:
    """Arrange the pieces on hand in some ways; done in a worker process.

    Returns
    -------
    str
        Of each proposal its places, its score and its parts, as JSON.
    """
    report("arranging the pieces")
    from slackwater.layout.arrange import Progress
    from slackwater.layout.arrange import propose as proposed
    from slackwater.layout.scene import Layout
    from slackwater.layout.settle import settled

    layout: Layout = given["layout"]
    locked = {item.piece for item in layout.placements if item.locked}

    def heard(progress: Progress) -> bool:
        report(f"{'arranging' if progress.stage == 'search' else 'settling'}: {progress.done} of {progress.of}")
        return True

    found = proposed(
        layout.glass,
        layout.bed,
        [piece for key, piece in layout.pieces.items() if key not in locked],
        intent=given["intent"],
        count=PROPOSALS,
        seed=given["seed"],
        settle=settled,
        on_progress=heard,
        start=layout,
    )
    return json.dumps(
        {
            "layouts": [_body(given, item.layout) for item in found],
            "scores": [
                {
                    "total": item.score.total,
                    "parts": [
                        {"id": part.id, "value": part.value, "values": dict(part.values)} for part in item.score.parts
                    ],
                    "left_out": [
                        {"name": left.name, "mass_kg": left.mass_kg, "reason": left.reason} for left in item.left_out
                    ],
                    "settled": item.was_settled,
                }
                for item in found
            ],
        }
    )


def _body(given: Mapping[str, Any], layout: Any) -> dict[str, Any]:
    """Places of a layout; its bed only where it is another than that of the draft."""
    from slackwater.layout.plain import to_plain

    told = to_plain(layout)
    if told["bed"] == given["body"]["bed"]:
        del told["bed"]
    return told
