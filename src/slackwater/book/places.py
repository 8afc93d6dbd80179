"""Where free text stands in the book: the only places in which words about people can hide."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, select, update

from slackwater.book import tables
from slackwater.book.blobs import content_hash
from slackwater.book.events import ERASED
from slackwater.book.jobs import line_of
from slackwater.book.rows import storable
from slackwater.errors import BadInput, NotFound

FIELDS: dict[str, tuple[str, ...]] = {
    "site": ("name",),
    "tank": ("name",),
    "version": ("text",),
    "event": ("subject", "body"),
    "water_test": ("note",),
    "photo": ("caption",),
    "document": ("title",),
    "condition": ("place", "seen"),
    "receipt": ("note",),
    "left_out": ("reason",),
    "plan": ("plan_json",),
    "plan_summary": ("summary",),
    "task": ("arguments", "doing", "result", "fault"),
}
"""Tables that belong to a client, and their texts. Prices belong to no client."""
AS_JSON = {("event", "body"), ("task", "arguments"), ("plan", "plan_json"), ("plan_summary", "summary")}


@dataclass(frozen=True, slots=True)
class TextPlace:
    """Where a text stands: table, key of the row (for a version ``<job id>/<n>``) and field."""

    table: str
    key: str
    field: str

    def told(self) -> str:
        """In one text, as the list of erasures keeps it."""
        return f"{self.table} {self.key} {self.field}"

    @classmethod
    def from_told(cls, text: str) -> TextPlace:
        """Read such a text.

        Raises
        ------
        BadInput
            If it names no place of the book.
        """
        parts = text.split(" ")
        if len(parts) != 3 or parts[2] not in FIELDS.get(parts[0], ()):
            raise BadInput(f'"{text[:80]}" is no place of a text in the book')
        return cls(*parts)


def key_of(table: str, row: Any) -> str:
    """The key of a row of a table, as a place tells it."""
    return f"{row.job_id}/{row.n}" if table == "version" else str(row.id)


def text_at(connection: Connection, place: TextPlace) -> str:
    """The text at a place.

    Raises
    ------
    NotFound
    """
    table = tables.metadata.tables[place.table]
    row = connection.execute(select(table.c[place.field]).where(_is_row(place))).one_or_none()
    if row is None:
        raise NotFound(f"There is no {place.table.replace('_', ' ')} {place.key[:80]} in this book")
    return str(row[0] or "")


def check_fits(place: TextPlace, text: str) -> None:
    """Refuse a text that cannot stand at a place.

    Raises
    ------
    BadInput
    """
    storable(place.field, text)
    if (place.table, place.field) in AS_JSON:
        try:
            fits = isinstance(json.loads(text), dict)
        except ValueError:
            fits = False
        if not fits:
            raise BadInput(
                f"The {place.field} of {place.table} is JSON; change the words only, and leave its signs as they are"
            )


def put_text(connection: Connection, place: TextPlace, text: str) -> None:
    """Let a text read otherwise; nothing happens where there is no such row."""
    table = tables.metadata.tables[place.table]
    values: dict[str, Any] = {place.field: text}
    if place.table == "version":
        values["sha256"] = content_hash(text.encode("utf-8"))
    elif place.table == "event":
        values["sha256"] = ERASED
    connection.execute(update(table).where(_is_row(place)).values(**values))
    if place.table == "version":
        _retell(connection, place.key.rpartition("/")[0])


def _retell(connection: Connection, job_id: str) -> None:
    """Let a job's line say what its newest readable version says now."""
    version, job = tables.version, tables.job
    texts = connection.scalars(select(version.c.text).where(version.c.job_id == job_id).order_by(version.c.n.desc()))
    line = next((line for line in map(line_of, texts) if line), {"name": "", "reference": "", "day": None})
    connection.execute(update(job).where(job.c.id == job_id).values(**line))


def _is_row(place: TextPlace) -> ColumnElement[bool]:
    table = tables.metadata.tables[place.table]
    if place.table == "version":
        job_id, _, n = place.key.rpartition("/")
        return (table.c.job_id == job_id) & (table.c.n == (int(n) if n.isdecimal() else 0))
    return table.c.id == place.key
