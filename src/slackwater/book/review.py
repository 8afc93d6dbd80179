"""What to look through by eye after an erasure: free texts, photos and documents of a client."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, Table, select

from slackwater.book import tables
from slackwater.book.handle import Book
from slackwater.book.places import FIELDS, TextPlace, key_of
from slackwater.book.rows import found

AT_TANKS = ("water_test", "photo")


@dataclass(frozen=True, slots=True)
class FreeText:
    """A text, and where it stands (for `erasing.replace_text`)."""

    place: TextPlace
    text: str


@dataclass(frozen=True, slots=True)
class Review:
    """What may still tell of a client's people: ids of photos and documents, and texts."""

    photo_ids: tuple[str, ...]
    document_ids: tuple[str, ...]
    texts: tuple[FreeText, ...]


def of_client(book: Book, client_id: str) -> Review:
    """Everything of a client that only a reader can judge.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        found(connection, tables.client, client_id)
        return Review(
            photo_ids=tuple(row.id for row in _rows(connection, tables.photo, client_id) if row.sha256 is not None),
            document_ids=tuple(
                row.id for row in _rows(connection, tables.document, client_id) if row.sha256 is not None
            ),
            texts=tuple(_texts(connection, client_id)),
        )


def _texts(connection: Connection, client_id: str) -> Iterator[FreeText]:
    for name, fields in FIELDS.items():
        for row in _rows(connection, tables.metadata.tables[name], client_id):
            for field in fields:
                text = getattr(row, field)
                if text and text != "{}":
                    yield FreeText(TextPlace(name, key_of(name, row), field), text)


def _rows(connection: Connection, table: Table, client_id: str) -> list[Any]:
    asked = select(*[column for column in table.c if column.name != "thumbnail"]).where(_belongs(table, client_id))
    return list(connection.execute(asked.order_by(*table.primary_key.columns)))


def _belongs(table: Table, client_id: str) -> ColumnElement[bool]:
    if table.name == "site":
        return table.c.client_id == client_id
    sites = select(tables.site.c.id).where(tables.site.c.client_id == client_id)
    if table.name == "tank":
        return table.c.site_id.in_(sites)
    mine: ColumnElement[bool] = table.c.job_id.in_(select(tables.job.c.id).where(tables.job.c.site_id.in_(sites)))
    if table.name in AT_TANKS:
        mine = mine | table.c.tank_id.in_(select(tables.tank.c.id).where(tables.tank.c.site_id.in_(sites)))
    return mine
