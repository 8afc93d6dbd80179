"""Who may ask for what: one table of all addresses, and nothing is decided anywhere else.

An address without a row is for owners only, and a test fails until it has one.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntEnum

from slackwater.actions.accounts import Asker, Role
from slackwater.job.form import Kind, question_at
from slackwater.job.positions import Path


class May(IntEnum):
    """Who may ask; whoever is further down the list may ask for less."""

    EVERYBODY = 0
    """Nobody needs to be signed in: it tells nothing of the firm or of a client, or asks for a link's token by itself."""
    CREW = 1
    OWNER = 2


E, C, O = May.EVERYBODY, May.CREW, May.OWNER  # noqa: E741

TABLE: Mapping[str, May | Mapping[str, May]] = {
    "/static": E,
    "/static/fonts": E,
    "/health": E,
    "/units": E,
    "/sign-in": E,
    "/look/{token}": E,
    "/look/{token}/offer.pdf": E,
    "/look/{token}/handover.pdf": E,
    # What the day needs.
    "/": C,
    "/calendar.ics": C,
    "/sign-out": C,
    "/password": C,
    "/jobs": C,
    "/jobs/{job_id}": C,
    "/jobs/{job_id}/survey/{part_id}": C,
    "/jobs/{job_id}/photos": C,
    "/jobs/{job_id}/photos/more": C,
    "/jobs/{job_id}/photos/{photo_id}": C,
    "/jobs/{job_id}/photos/{photo_id}/small": C,
    "/jobs/{job_id}/photos/{photo_id}/place": C,
    "/jobs/{job_id}/condition": C,
    "/jobs/{job_id}/condition/{condition_id}/photos": C,
    "/jobs/{job_id}/condition/record.pdf": C,
    "/jobs/{job_id}/report": C,
    "/jobs/{job_id}/report.pdf": C,
    "/jobs/{job_id}/goods": C,
    "/jobs/{job_id}/tests": C,
    "/jobs/{job_id}/tests/over-time.svg": C,
    "/tanks/{tank_id}/tests": C,
    "/tanks/{tank_id}/tests/over-time.svg": C,
    "/jobs/{job_id}/log": C,
    "/jobs/{job_id}/log/{event_id}/wrong": C,
    "/jobs/{job_id}/log/events.jsonl": C,
    "/jobs/{job_id}/rest": C,
    "/jobs/{job_id}/rest/{task_id}": C,
    "/jobs/{job_id}/plan": C,
    "/jobs/{job_id}/plan/figures/{name}": C,
    "/jobs/{job_id}/plan/papers/{name}": C,
    "/jobs/{job_id}/layout": {"GET": C, "POST": O},
    "/jobs/{job_id}/layout/scene.glb": C,
    "/jobs/{job_id}/layout/drawings/{name}.svg": C,
    "/jobs/{job_id}/layout/versions/{n}/scene.glb": C,
    "/api/jobs/{job_id}/layout": C,
    "/api/jobs/{job_id}/layout/edits": O,
    "/api/jobs/{job_id}/layout/undo": O,
    "/api/jobs/{job_id}/layout/redo": O,
    "/api/jobs/{job_id}/layout/settle": O,
    "/api/jobs/{job_id}/layout/proposals": O,
    "/api/jobs/{job_id}/layout/work/{task_id}": C,
    "/api/jobs/{job_id}/layout/work/{task_id}/take": O,
    "/api/jobs/{job_id}/layout/figures": C,
    "/api/jobs/{job_id}/layout/cleaning": C,
    "/api/jobs/{job_id}/layout/versions": {"GET": C, "POST": O},
    "/api/jobs/{job_id}/layout/versions/{number}/back": O,
    "/tasks/{task_id}": C,
    "/tasks/{task_id}/line": C,
    "/tasks/{task_id}/cancel": C,
    "/tasks/{task_id}/restart": C,
    "/api/openapi.json": C,
    "/api/jobs": C,
    "/api/jobs/{job_id}": C,
    "/api/jobs/{job_id}/versions": C,
    "/api/jobs/{job_id}/versions/{number}/drawings/{name}": C,
    "/api/jobs/{job_id}/versions/{number}/plan": {"GET": O, "POST": C},
    "/api/tasks/{task_id}": C,
    "/api/tasks/{task_id}/cancel": C,
    "/api/tasks/{task_id}/restart": C,
    "/api/jobs/{job_id}/events": C,
    # Prices, costs and margin, or a text in which they stand.
    "/learned": O,
    "/learned/{job_id}/out": O,
    "/learned/{job_id}/in": O,
    "/prices": O,
    "/compare": O,
    "/jobs/{job_id}/change": O,
    "/jobs/{job_id}/job.toml": O,
    "/jobs/{job_id}/versions": O,
    "/jobs/{job_id}/versions/{n}": O,
    "/jobs/{job_id}/versions/{n}/job.toml": O,
    "/jobs/{job_id}/versions/{n}/back": O,
    "/jobs/{job_id}/plan/option": O,
    "/jobs/{job_id}/plan/papers.zip": O,
    "/jobs/{job_id}/plan/pictures": O,
    "/jobs/{job_id}/documents": O,
    "/jobs/{job_id}/documents/{document_id}": O,
    "/api/jobs/{job_id}/versions/{number}": O,
    # Money of the firm.
    "/firm": O,
    "/firm/logo.png": O,
    "/invoices": O,
    "/invoices/{year}.csv": O,
    "/jobs/{job_id}/invoices": O,
    "/jobs/{job_id}/invoices/{invoice_id}": O,
    "/jobs/{job_id}/invoices/{invoice_id}/head": O,
    "/jobs/{job_id}/invoices/{invoice_id}/lines": O,
    "/jobs/{job_id}/invoices/{invoice_id}/leave": O,
    "/jobs/{job_id}/invoices/{invoice_id}/taxes": O,
    "/jobs/{job_id}/invoices/{invoice_id}/lines/{number}": O,
    "/jobs/{job_id}/invoices/{invoice_id}/drop": O,
    "/jobs/{job_id}/invoices/{invoice_id}/issue": O,
    "/jobs/{job_id}/invoices/{invoice_id}/credit": O,
    "/jobs/{job_id}/invoices/{invoice_id}/invoice.{form}": O,
    # Clients, and which jobs there are.
    "/jobs/new": O,
    "/jobs/bring-in": O,
    "/jobs/{job_id}/house": O,
    "/jobs/{job_id}/copy": O,
    "/jobs/{job_id}/client": O,
    "/clients": O,
    "/clients/{client_id}": O,
    "/clients/{client_id}/people": O,
    "/clients/{client_id}/people/{person_id}": O,
    "/clients/{client_id}/sites": O,
    "/clients/{client_id}/sites/{site_id}": O,
    "/clients/{client_id}/sites/{site_id}/tanks": O,
    "/clients/{client_id}/sites/{site_id}/tanks/{tank_id}": O,
    "/clients/{client_id}/erase": O,
    "/clients/{client_id}/erase/text": O,
    "/erase/{target}/{record_id}": O,
    # Who may come in.
    "/people": O,
    "/people/{account_id}": O,
    "/people/{account_id}/role": O,
    "/people/{account_id}/password": O,
    "/people/{account_id}/end-sessions": O,
    "/people/{account_id}/close": O,
    "/jobs/{job_id}/links": O,
    "/jobs/{job_id}/links/{link_id}/end": O,
    "/trail": O,
}

PAPERS_OF_CREW = frozenset(
    {"day-sheet.pdf", "packing-list.pdf", "van-card.pdf", "cards.pdf", "handover.pdf", "calendar.ics"}
)
"""Of all papers; the crew hands the handover sheet to the staff. The offer tells a price, and the plan as data every figure behind it."""


def row_of(pattern: str, method: str) -> May:
    """Who may ask for an address, as its pattern is written; owners only where the table has no row."""
    row = TABLE.get(pattern, May.OWNER)
    return row if isinstance(row, May) else row.get("GET" if method == "HEAD" else method, May.OWNER)


def may(asker: Asker, pattern: str, method: str, named: Mapping[str, str]) -> bool:
    """Whether somebody may ask for an address.

    Parameters
    ----------
    named : mapping of str to str
        What stands in the places of its pattern.
    """
    needed = row_of(pattern, method)
    if pattern == "/jobs/{job_id}/plan/papers/{name}" and named.get("name") not in PAPERS_OF_CREW:
        needed = May.OWNER
    has = {None: May.EVERYBODY, Role.CREW: May.CREW, Role.OWNER: May.OWNER}[asker.role]
    return has >= needed


def is_business(path: Path) -> bool:
    """Whether a question of the survey is about prices, costs or margin: seen and answered by owners only."""
    question = question_at(path)
    return path[:1] == ("price",) or (
        question is not None and (question.kind is Kind.MONEY or question.name == "night_surcharge")
    )
