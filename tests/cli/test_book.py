"""The commands about the record book, as a user meets them."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from slackwater.actions.settings import Settings, read_settings
from slackwater.book import erasing, jobs, open_book, people
from slackwater.cli.main import main
from tests.book.places import NOON, one_of_each


@pytest.fixture
def home(tmp_path, monkeypatch):
    """A data folder with a book, as the environment names it."""
    for name in ("SLACKWATER_DATABASE", "SLACKWATER_KEY_FILE"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("SLACKWATER_HOME", str(tmp_path / "home"))
    with open_book(tmp_path / "home") as book:
        one_of_each(book)
    return tmp_path / "home"


def said(capsys):
    told = capsys.readouterr()
    return " ".join(told.out.split()), " ".join(told.err.split())


def test_a_lost_book_comes_back_from_its_backup_without_what_was_erased(home, tmp_path, capsys):
    assert main(["book", "backup", str(tmp_path / "b.zip")]) == 0
    out, _ = said(capsys)
    assert "1 jobs, 1 versions" in out and "It was read again and is whole" in out and "erased.jsonl" in out
    with open_book(home) as book:
        (job,) = jobs.listed(book)
        with book.reading() as connection:
            person = connection.exec_driver_sql("SELECT id FROM person").scalar_one()
        erasing.erase_person(book, person, at=NOON, by="me")
    (home / "book.sqlite3").unlink()
    assert main(["book", "restore", str(tmp_path / "b.zip")]) == 0
    out, _ = said(capsys)
    assert "1 erasures were applied again" in out
    with open_book(home) as book:
        assert jobs.get(book, job.id) == job
        assert people.get(book, person).person is None
    assert main(["book", "check"]) == 0
    assert "is sound: 1 jobs" in said(capsys)[0]


def test_an_export_goes_into_another_book_and_twice_is_once(home, tmp_path, capsys, monkeypatch):
    assert main(["book", "export", str(tmp_path / "e.zip")]) == 0
    assert "for everybody to read" in said(capsys)[0]
    monkeypatch.setenv("SLACKWATER_HOME", str(tmp_path / "other"))
    for told in ("Added 7 entries", "Added 0 entries"):
        assert main(["book", "import", str(tmp_path / "e.zip")]) == 0
        assert told in said(capsys)[0]


def test_a_key_is_made_and_seals(home, tmp_path, capsys, monkeypatch):
    assert main(["book", "key", str(tmp_path / "key")]) == 0
    assert "SLACKWATER_KEY_FILE" in said(capsys)[0]
    monkeypatch.setenv("SLACKWATER_KEY_FILE", str(tmp_path / "key"))
    assert main(["book", "check"]) == 0
    assert b"Ada Harbour" not in (home / "book.sqlite3").read_bytes()
    monkeypatch.delenv("SLACKWATER_KEY_FILE")
    said(capsys)
    assert main(["book", "check"]) == 2
    assert "sealed with a key, and none is set" in said(capsys)[1]


def test_a_client_is_erased_in_two_steps_and_what_is_left_is_listed(home, tmp_path, capsys):
    def erase(*words):
        assert main(["book", "erase", *words]) == 0
        return said(capsys)[0]

    listed = erase()
    assert "Ada Harbour" in listed
    client = listed.split()[0]
    asked = erase("client", client)
    assert (
        "What goes: names, contacts" in asked and "What stays: invoices that were issued" in asked and "--sure" in asked
    )
    assert "Ada Harbour" in erase()
    told = erase("client", client, "--sure")
    assert "It is gone from the book" in told
    assert "Ada Harbour" not in erase()
    # What the erasure leaves to be judged is named with the command that shows it.
    place = re.search(r'book erase text "([^"]+)" --client (\S+) A saved version', told)
    assert place[2] == client
    assert "Nobody's entry is left" in told
    (tmp_path / "words.toml").write_text('name = "without"\n', encoding="utf-8")
    words = ["text", place[1], "--client", client, "--becomes", str(tmp_path / "words.toml")]
    assert 'name = "without"' in erase(*words)
    with open_book(home) as book:
        (job,) = jobs.listed(book)
        before = jobs.newest(book, job.id).text
    assert "without" not in before
    erase(*words, "--sure")
    with open_book(home) as book:
        assert jobs.newest(book, job.id).text == 'name = "without"\n'
    assert main(["book", "check"]) == 0


def test_a_fault_ends_with_one_and_its_sentence(home, capsys):
    with open_book(home) as book, book.writing() as connection:
        connection.exec_driver_sql("UPDATE version SET text = 'x'")
    assert main(["book", "check"]) == 1
    out, _ = said(capsys)
    assert "The record book has 1 faults" in out and "is not what was saved" in out and "book restore" in out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["backup", "{tmp}/there"], "exists and is left as it is"),
        (["restore", "{tmp}/none"], "there is no such file"),
        (["restore", "{tmp}/there"], "no backup or export of a record book"),
        (["restore", "{tmp}/there", "--erased", "{tmp}/none"], "no such list of erasures"),
        (["import", "{tmp}"], "is a folder"),
        (["key", "{tmp}/there"], "exists and is left as it is"),
        (["erase", "client"], "its id is missing"),
        (["erase", "client", "nobody", "--sure"], "no such"),
        (["erase", "text", "version/x", "--client", "nobody", "--sure"], "no such"),
    ],
)
def test_a_mistake_is_one_sentence_and_two(home, tmp_path, capsys, words, told):
    (tmp_path / "there").write_bytes(b"mine")
    before = (home / "book.sqlite3").read_bytes()
    assert main(["book", *(word.format(tmp=tmp_path) for word in words)]) == 2
    assert told in said(capsys)[1]
    assert (tmp_path / "there").read_bytes() == b"mine"
    assert (home / "book.sqlite3").read_bytes() == before


def test_looking_in_the_wrong_place_begins_no_book_there(home, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("SLACKWATER_HOME", str(tmp_path / "wrong"))
    for words, told in (
        (["check"], "no record book in this folder"),
        (["backup", str(tmp_path / "b.zip")], "no record book in this folder"),
        (["erase"], "no record book in this folder"),
        (["restore", str(tmp_path / "none.zip")], "no such file"),
    ):
        assert main(["book", *words]) == 2
        assert told in said(capsys)[1]
    assert not (tmp_path / "wrong").exists()


def test_a_damaged_book_says_so_and_the_backup_brings_it_back_beside(home, tmp_path, capsys, monkeypatch):
    main(["book", "backup", str(tmp_path / "b.zip")])
    (home / "book.sqlite3").write_bytes(b"no book at all " * 999)
    assert main(["book", "check"]) == 2
    assert "The record book is damaged" in said(capsys)[1]
    monkeypatch.setenv("SLACKWATER_HOME", str(tmp_path / "new"))
    shutil.copytree(home, tmp_path / "new", ignore=shutil.ignore_patterns("book.sqlite3*"))
    assert main(["book", "restore", str(tmp_path / "b.zip")]) == 0


def test_settings_come_from_the_environment_and_what_is_empty_is_not_set():
    assert read_settings({"SLACKWATER_HOME": "x", "SLACKWATER_DATABASE": "", "SLACKWATER_KEY_FILE": "k"}) == Settings(
        Path("x"), None, Path("k")
    )
    assert read_settings({}).home.name == "slackwater"
