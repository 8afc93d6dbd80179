"""The numbered steps lead to the tables as the program knows them, on both databases."""

from __future__ import annotations

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text

from slackwater.book import migrate, open_book
from slackwater.book.tables import metadata
from slackwater.errors import CannotRun


def test_the_steps_end_at_the_tables_that_the_program_uses(book):
    with book.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": False})
        assert compare_metadata(context, metadata) == []


def test_a_book_of_a_newer_program_is_refused_and_not_touched(place):
    with open_book(place.where, folder=place.folder) as book, book.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(CannotRun, match="form 9999, this program knows forms up to"):
        open_book(place.where, folder=place.folder)


def test_opening_again_takes_no_step(place):
    with open_book(place.where, folder=place.folder) as book, book.reading() as connection:
        first = connection.execute(text("SELECT value FROM fact WHERE name = 'book_id'")).scalar_one()
    with open_book(place.where, folder=place.folder) as book, book.reading() as connection:
        assert connection.execute(text("SELECT value FROM fact WHERE name = 'book_id'")).scalar_one() == first
        assert migrate.revision_of(connection) == migrate.newest_revision()
