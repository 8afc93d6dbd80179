"""The numbered steps lead to the tables as the program knows them, on both databases."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError

from slackwater.book import events, jobs, migrate, open_book, plans, sites, tasks, water_tests
from slackwater.book.tables import metadata
from slackwater.errors import CannotRun
from tests.book.places import NOON


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


OLD = (Path(__file__).parent / "revision_0001.sql").read_text(encoding="utf-8")
JOB, BROKEN_JOB = "01a2185d-0000-7000-8000-000000000006", "01a2185d-0000-7000-8000-000000000007"


def begin_old_book(place):
    """A book as the first released program left it."""
    opened = open_book(place.where, folder=place.folder)
    with opened, opened.engine.connect() as connection, connection.begin():
        for table in ("fact", *reversed(metadata.sorted_tables), "alembic_version"):
            connection.execute(text(f"DROP TABLE IF EXISTS {table}"))
        migrate.to_revision(connection, "0001")
        for statement in OLD.split(";\n"):
            connection.exec_driver_sql(statement)


def test_an_old_book_is_brought_to_todays_form_with_all_that_is_in_it(place):
    begin_old_book(place)
    with open_book(place.where, folder=place.folder) as book:
        with book.reading() as connection:
            assert migrate.revision_of(connection) == migrate.newest_revision() != "0001"
        job = jobs.get(book, JOB)
        assert (job.name, job.reference, job.day) == ("Divider", "D-7", date(2027, 2, 10))
        assert jobs.newest(book, JOB).text.startswith('name = "Divider"\nreference = "D-7"  # theirs\n')
        assert jobs.version(book, JOB, 1).text == 'name = "Old name"'
        broken = jobs.get(book, BROKEN_JOB)
        assert (broken.name, broken.day) == ("", None)
        assert [row.event.body for row in events.after(book, JOB)] == [{"caught": 5}]
        assert water_tests.of_job(book, JOB)[0].readings == {"ph": 6.8}
        assert plans.newest(book, JOB).inputs_hash == "h"
        assert plans.summaries(book, [JOB, BROKEN_JOB])[JOB].summary == {"verdict": "misfit"}
        assert tasks.mark_broken(book, at=NOON) == 1
        assert sites.get(book, job.site_id).name == "waiting room"
        # And it is written on as any other.
        assert jobs.save_version(book, JOB, 'name = "New"', parent=2, at=NOON, by="me").n == 3


def test_links_between_tables_still_hold_after_the_steps(place):
    begin_old_book(place)
    with (
        open_book(place.where, folder=place.folder) as book,
        book.engine.connect() as connection,
        pytest.raises(IntegrityError),
        connection.begin(),
    ):
        connection.execute(text("DELETE FROM job"))


def test_a_step_that_fails_leaves_the_old_book_as_it_was(place, monkeypatch):
    begin_old_book(place)

    def fail(connection, revision):
        connection.execute(text("DROP TABLE water_test"))
        raise CannotRun("the disk went away")

    with monkeypatch.context() as patched, pytest.raises(CannotRun, match="went away"):
        patched.setattr(migrate, "to_revision", fail)
        open_book(place.where, folder=place.folder)
    with open_book(place.where, folder=place.folder) as book:
        assert water_tests.of_job(book, JOB)[0].readings == {"ph": 6.8}


def test_programs_that_begin_or_upgrade_one_book_at_once_take_turns(new_place):
    fresh, old = new_place(), new_place()
    begin_old_book(old)
    for place in (fresh, old):
        with ThreadPoolExecutor(4) as pool:
            books = list(pool.map(lambda _, place=place: open_book(place.where, folder=place.folder), range(4)))
        for book in books:
            with book, book.reading() as connection:
                assert migrate.revision_of(connection) == migrate.newest_revision()
                assert connection.execute(text("SELECT count(*) FROM fact")).scalar_one() == 1
