"""What goes wrong around a book: each is a sentence, and what was in the book before is there after."""

from __future__ import annotations

import os
import re
import sqlite3
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import event as on
from sqlalchemy import text

from slackwater.book import checking, events, jobs, open_book, photos, sites
from slackwater.book.opening import FILE_NAME
from slackwater.errors import BadInput, CannotRun, CorruptBook, SlackwaterError
from slackwater.wording.render import say, sentences
from tests.book.pictures import jpeg
from tests.book.places import NOON, event, one_of_each


def test_a_full_disk_saves_nothing_of_it_and_keeps_all_before(book):
    known = one_of_each(book)
    if book.engine.dialect.name == "sqlite":

        def limit(connection, *_):
            # The database's own limit on pages gives the very fault that a full disk gives.
            pages = connection.execute("PRAGMA page_count").fetchone()[0]
            connection.execute(f"PRAGMA max_page_count={pages + 1}")

        book.engine.dispose()
        on.listen(book.engine, "connect", limit)
    else:
        with book.writing() as connection:
            connection.execute(
                text(
                    "CREATE FUNCTION full_disk() RETURNS trigger AS "
                    "$$ BEGIN RAISE EXCEPTION 'no space left on device' USING ERRCODE = 'disk_full'; END $$ LANGUAGE plpgsql"
                )
            )
            connection.execute(text("CREATE TRIGGER no_room BEFORE INSERT ON version EXECUTE FUNCTION full_disk()"))
    with pytest.raises(CannotRun, match="disk that holds the record book is full"):
        jobs.save_version(book, known.job, "# " + "x" * 100_000, parent=1, at=NOON, by="me")
    assert jobs.newest(book, known.job).n == 1
    assert jobs.get(book, known.job).newest_n == 1
    assert checking.check(book).faults == ()


def test_an_originals_folder_that_cannot_be_written_is_told(tmp_path):
    with open_book(tmp_path / "home") as book:
        known = one_of_each(book)
        (tmp_path / "home" / "originals").write_bytes(b"a file where the folder should be")
        with pytest.raises(CannotRun, match="cannot be written"):
            photos.add(book, jpeg(), at=NOON, by="me", job_id=known.job)
        assert photos.of_job(book, known.job) == []


@pytest.mark.parametrize(
    ("content", "said"),
    [(b"Dear diary, " * 500, "damaged: file is not a database"), (b"\x00" * 8192, "not a database")],
)
def test_a_file_that_is_no_book_is_told_and_left(tmp_path, content, said):
    (tmp_path / FILE_NAME).write_bytes(content)
    with pytest.raises(CorruptBook, match=said):
        open_book(tmp_path)
    assert (tmp_path / FILE_NAME).read_bytes() == content


def test_another_programs_database_is_told_and_left(tmp_path):
    with sqlite3.connect(tmp_path / FILE_NAME) as other:
        other.execute("CREATE TABLE job (x)")
    other.close()
    with pytest.raises(SlackwaterError, match="another program"):
        open_book(tmp_path)
    other = sqlite3.connect(tmp_path / FILE_NAME)
    assert other.execute("SELECT name FROM sqlite_master").fetchall() == [("job",)]
    other.close()


def test_bytes_that_changed_on_the_disk_are_found_or_told(tmp_path):
    with open_book(tmp_path) as book:
        known = one_of_each(book)
        for n in range(1, 30):
            jobs.save_version(book, known.job, f"# {n}\n" * 800, parent=n, at=NOON, by="me")
        book.engine.dispose()
    path = tmp_path / FILE_NAME
    whole = path.read_bytes()
    rng = np.random.default_rng(11)
    # Pages have room to spare, and what changes there harms nobody: the bytes of saved texts are struck.
    texts = [hit.start() for hit in re.finditer(rb"\n# \d", whole)]
    found = 0
    for at in rng.choice(texts, 12):
        path.write_bytes(whole[:at] + rng.bytes(30) + whole[at + 30 :])
        try:
            with open_book(tmp_path) as book:
                found += bool(checking.check(book).faults)
        except CorruptBook:
            found += 1
    assert found == 12


def test_a_truncated_book_is_found_or_told(tmp_path):
    with open_book(tmp_path) as book:
        one_of_each(book, text="# x\n" * 20_000)
    path = tmp_path / FILE_NAME
    path.write_bytes(path.read_bytes()[:-40_000])
    with pytest.raises(CorruptBook, match="slackwater book restore"), open_book(tmp_path) as book:
        assert checking.check(book).faults == ()


@pytest.mark.skipif(os.name != "posix", reason="rights of folders are those of POSIX here")
def test_the_data_folder_is_its_owners_alone(tmp_path):
    with open_book(tmp_path / "a" / "home"):
        assert (tmp_path / "a" / "home").stat().st_mode & 0o077 == 0
    # Also in a folder that was there and that others may look into.
    tmp_path.chmod(0o755)
    with open_book(tmp_path) as book:
        photos.add(book, jpeg(), at=NOON, by="me")
        names = [FILE_NAME, f"{FILE_NAME}-wal", f"{FILE_NAME}-shm", "originals"]
        assert [(tmp_path / name).stat().st_mode & 0o077 for name in names] == [0, 0, 0, 0]


def test_a_folder_that_cannot_be_made_is_told(tmp_path):
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(CannotRun, match=r"cannot be made: .* SLACKWATER_HOME"):
        open_book(tmp_path / "file" / "home")


@pytest.mark.parametrize(
    ("address", "kind", "said"),
    [
        ("postgresql://nobody@127.0.0.1:9/none", CannotRun, "does not answer"),
        ("mysql://me@here/x", BadInput, "names mysql; expected postgresql"),
        ("post gres://", BadInput, "no address of a database"),
    ],
)
def test_a_database_that_is_not_there_is_told(tmp_path, address, kind, said):
    with pytest.raises(kind, match=said) as told:
        open_book(address, folder=tmp_path)
    assert "password" not in str(told.value).lower()


def test_a_writer_that_waits_too_long_is_told_and_nothing_of_it_is_kept(tmp_path):
    with open_book(tmp_path) as book, open_book(tmp_path) as other:
        known = one_of_each(book)

        def hurry(connection, *_):
            connection.execute("PRAGMA busy_timeout=50")

        on.listen(other.engine, "connect", hurry)
        other.engine.dispose()
        with book.writing(), pytest.raises(CannotRun, match="busy for too long"):
            sites.change(other, known.site, name="x", person_id=None, revision=1)
        assert sites.get(book, known.site).name == "lobby"


def test_every_connection_to_a_file_keeps_what_it_acknowledges_and_clears_what_it_frees(tmp_path):
    # Values of the pragmas: SQLite documentation, "PRAGMA Statements" (synchronous 2 is FULL).
    expected = {"journal_mode": "wal", "foreign_keys": 1, "busy_timeout": 5000, "synchronous": 2, "secure_delete": 1}
    with open_book(tmp_path) as book, book.reading() as one, book.reading() as other:
        for connection in (one, other):
            assert {name: connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in expected} == expected


def test_readers_do_not_wait_for_a_writer(book):
    known = one_of_each(book)
    with book.writing() as connection:
        connection.execute(text("UPDATE job SET name = 'not yet'"))
        assert jobs.get(book, known.job).name == "Lobby"


CHANGES = {
    "version_changed": "UPDATE version SET text = 'x' WHERE n = 1",
    "version_missing": "DELETE FROM version WHERE n = 1 AND job_id IN (SELECT id FROM job WHERE newest_n = 2)",
    "versions_lost": "UPDATE job SET newest_n = 7",
    "event_changed": "UPDATE event SET subject = 'x' WHERE n = 1",
    "event_missing": "DELETE FROM event WHERE n = 1",
    "events_lost": "UPDATE job SET events_n = 9",
}


@pytest.mark.parametrize("fault", list(CHANGES))
def test_check_finds_what_is_not_as_it_was_saved(book, fault):
    known = one_of_each(book)
    jobs.save_version(book, known.job, "a = 1", parent=1, at=NOON, by="me")
    events.append(book, known.job, [event(n=1), event(n=2)])
    assert checking.check(book).faults == () == checking.check(book).notes
    with book.writing() as connection:
        connection.execute(text(CHANGES[fault]))
    found = checking.check(book).faults
    assert fault in {one.id for one in found}
    for one in found:
        assert say(f"book.fault.{one.id}", one.values).endswith(".")


def test_check_finds_a_lost_original_and_tells_of_strays_without_alarm(tmp_path):
    with open_book(tmp_path) as book:
        photos.add(book, jpeg(), at=NOON, by="me")
        (path,) = tmp_path.glob("originals/*/*")
        stray = path.with_name("0" * 64)
        stray.write_bytes(b"left by a process that was stopped")
        found = checking.check(book)
        assert (found.faults, [note.id for note in found.notes]) == ((), ["file_unknown"])
        path.write_bytes(b"changed")
        assert [fault.id for fault in checking.check(book).faults] == ["original_lost"]


def test_every_fault_and_note_has_its_sentence_and_every_sentence_its_fault():
    source = Path(checking.__file__).read_text(encoding="utf-8")
    told = {name.removeprefix("book.fault.") for name in sentences() if name.startswith("book.fault.")}
    assert {name for name in told if f'Fault("{name}"' not in source} == set()
    assert source.count('Fault("') == len(told)
