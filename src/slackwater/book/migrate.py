"""Bringing a book to today's form by numbered steps."""

from __future__ import annotations

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, inspect, text

from slackwater.errors import CannotRun

LOCK = 0x51AC_BA7E
"""Any fixed number: two programs that open an old book at once take turns on it."""


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", "slackwater.book:migrations")
    return config


def newest_revision() -> str:
    """The newest form of the book that this program knows."""
    head = ScriptDirectory.from_config(_config()).get_current_head()
    assert head is not None
    return head


def revision_of(connection: Connection) -> str | None:
    """The form in which a book is; None for one that is empty."""
    return MigrationContext.configure(connection).get_current_revision()


def to_newest(engine: Engine) -> None:
    """Take all steps that a book lacks, all or none.

    Raises
    ------
    CannotRun
        If the book was written by a newer program, or the database is another program's.
    """
    newest = newest_revision()
    with engine.connect() as connection, connection.begin():
        revision = revision_of(connection)
        if revision == newest:
            return
        if revision is None and inspect(connection).get_table_names():
            raise CannotRun(
                "The database that should be the record book holds tables of another program. Nothing was touched; choose another "
                "SLACKWATER_HOME, or an empty database"
            )
    with engine.connect() as connection:
        writing = connection.execution_options(slackwater_writes=True)
        on_sqlite = connection.dialect.name == "sqlite"
        if on_sqlite:
            # Rebuilding a table drops the old one, which would count as deleting its rows; takes effect outside of
            # transactions only (https://www.sqlite.org/pragma.html#pragma_foreign_keys).
            connection.connection.driver_connection.execute("PRAGMA foreign_keys=OFF")  # type: ignore[union-attr]
        try:
            with writing.begin():
                if not on_sqlite:
                    writing.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": LOCK})
                to_revision(writing, newest)
        finally:
            if on_sqlite:
                connection.connection.driver_connection.execute("PRAGMA foreign_keys=ON")  # type: ignore[union-attr]


def to_revision(connection: Connection, revision: str) -> None:
    """Take the steps up to a revision, within the caller's transaction.

    Raises
    ------
    CannotRun
        If the book is in a form that this program does not know.
    """
    check_known(revision_of(connection))
    config = _config()
    config.attributes["connection"] = connection
    command.upgrade(config, revision)


def check_known(revision: str | None) -> None:
    """Refuse a book, or a backup, of a newer program.

    Raises
    ------
    CannotRun
    """
    known = {step.revision for step in ScriptDirectory.from_config(_config()).walk_revisions()}
    if revision is not None and revision not in known:
        raise CannotRun(
            f"The record book has form {revision[:20]}, this program knows forms up to {newest_revision()}: it was written by a "
            "newer Slackwater. Nothing was touched; use the newer program"
        )
