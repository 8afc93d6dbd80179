"""Single rows, written and looked up the same way on both databases."""

from __future__ import annotations

from functools import cache
from typing import Any

from sqlalchemy import Connection, Row, Select, Table, bindparam, insert, select, update
from sqlalchemy.dialects import postgresql, sqlite

from slackwater.errors import BadInput, Conflict, NoSuchRecord

LARGEST_INTEGER = 2**63 - 1


def storable(name: str, value: object) -> None:
    """Refuse what only one of the two databases would take.

    Raises
    ------
    BadInput
        For a text with a zero character or half a character pair, and for a whole number of more than 64 bits.
    """
    if isinstance(value, str):
        if "\x00" in value:
            raise BadInput(f"{name}: the text holds a character of code zero, which no page can show; take it out")
        try:
            value.encode("utf-8")
        except UnicodeEncodeError:
            raise BadInput(f"{name}: the text holds half of a character; type it again") from None
    elif isinstance(value, int) and abs(value) > LARGEST_INTEGER:
        raise BadInput(f"{name}: {str(value)[:12]}... is too large a whole number")


def _checked(table: Table, values: dict[str, Any]) -> dict[str, Any]:
    for name, value in values.items():
        storable(f"{table.name} {name}", value)
    return values


def add(connection: Connection, table: Table, **values: Any) -> None:
    """Insert one row; an id that is taken is a conflict.

    Raises
    ------
    Conflict
        If the id is taken.
    BadInput
        If a value cannot be kept.
    """
    if not insert_once(connection, table, **values):
        raise Conflict(f"There is a {table.name.replace('_', ' ')} with this id already; it is left as it is")


def insert_once(connection: Connection, table: Table, **values: Any) -> bool:
    """Insert one row, unless something in it that must be the only one is there already; whether it was inserted."""
    of_database: Any = postgresql.insert if connection.dialect.name == "postgresql" else sqlite.insert
    inserted = of_database(table).values(**_checked(table, values)).on_conflict_do_nothing()
    done = connection.execute(inserted, execution_options={"preserve_rowcount": True})
    return bool(done.rowcount == 1)


def add_many(connection: Connection, table: Table, rows: list[dict[str, Any]]) -> None:
    """Insert rows that are known to be new."""
    if rows:
        connection.execute(insert(table), [_checked(table, row) for row in rows])


@cache
def _of_id(table: Table, locked: bool) -> Select[Any]:
    """Built once: every page asks for a row of an id several times."""
    asked = select(table).where(table.c.id == bindparam("row_id"))
    return asked.with_for_update() if locked else asked


def found(connection: Connection, table: Table, row_id: str, *, locked: bool = False) -> Row[Any]:
    """The row of an id.

    Parameters
    ----------
    locked : bool
        Hold it until the transaction ends; SQLite holds the whole book then anyway.

    Raises
    ------
    NotFound
        If there is none.
    """
    row = connection.execute(_of_id(table, locked), {"row_id": row_id}).one_or_none()
    if row is None:
        raise NoSuchRecord(f"There is no {table.name.replace('_', ' ')} with the id {row_id[:60]} in this book")
    return row


def change(connection: Connection, table: Table, row_id: str, *, revision: int, **values: Any) -> int:
    """Change a row that nobody has changed since it was read; the new revision.

    Raises
    ------
    NotFound, Conflict
        If it is not there, or was changed meanwhile.
    """
    new = update(table).where(table.c.id == row_id, table.c.revision == revision)
    done = connection.execute(new.values(**_checked(table, values), revision=revision + 1))
    if done.rowcount != 1:
        now = found(connection, table, row_id)
        raise Conflict(
            f"This {table.name} was changed by somebody else meanwhile: you had read revision {revision}, it is now at "
            f"{now.revision}. Look at it again, then make your change"
        )
    return revision + 1
