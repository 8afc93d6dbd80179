"""Personal data: sealed with a key where one is set, and told when the key is wrong or missing."""

from __future__ import annotations

import pytest
from cryptography.fernet import Fernet
from sqlalchemy import text

from slackwater.book import open_book, people
from slackwater.book.safe import new_key_file, read_key_file
from slackwater.errors import CannotRun, Conflict, CorruptBook, NotFound
from tests.book.places import NOON, one_of_each
from tests.book.test_erasing import RARE, bytes_on_disk

ADA = people.Person(
    name=f"Ada {RARE}", contacts=(people.Contact(kind="phone", value="+00 555"),), access="door 4711", note="ü"
)


def test_with_a_key_no_name_stands_readable_on_the_disk(place):
    key = Fernet.generate_key()
    with open_book(place.where, key, folder=place.folder) as book:
        row = people.add(book, ADA, at=NOON)
        assert people.get(book, row.id).person == ADA
        assert people.several(book, [row.id]) == {row.id: people.get(book, row.id)}
        assert RARE.encode() not in bytes_on_disk(place, book)
    with open_book(place.where, key, folder=place.folder) as book:
        assert people.get(book, row.id).person == ADA


def test_a_key_set_later_seals_what_was_entered_before(place):
    with open_book(place.where, folder=place.folder) as book:
        row = people.add(book, ADA, at=NOON)
        assert RARE.encode() in bytes_on_disk(place, book)
    with open_book(place.where, Fernet.generate_key(), folder=place.folder) as book:
        assert people.get(book, row.id).person == ADA
        assert RARE.encode() not in bytes_on_disk(place, book)


@pytest.mark.parametrize(
    ("key", "said"),
    [(None, "sealed with a key, and none is set"), (Fernet.generate_key(), "sealed with another key")],
    ids=["no key", "another key"],
)
def test_without_the_right_key_a_sealed_book_does_not_open(place, key, said):
    with open_book(place.where, Fernet.generate_key(), folder=place.folder) as book:
        people.add(book, ADA, at=NOON)
    with pytest.raises(CannotRun, match=said):
        open_book(place.where, key, folder=place.folder)


def test_a_sealed_entry_that_was_changed_is_told(place):
    key = Fernet.generate_key()
    with open_book(place.where, key, folder=place.folder) as book:
        row = people.add(book, ADA, at=NOON)
        with book.writing() as connection:
            connection.execute(text("UPDATE person SET sealed = :junk"), {"junk": b"gAAAAAB" + b"A" * 80})
        with pytest.raises(CorruptBook, match="no longer opens: it is damaged"):
            people.get(book, row.id)


def test_of_two_corrections_the_second_is_told(book):
    known = one_of_each(book)
    assert people.change(book, known.person, ADA, revision=1).person == ADA
    with pytest.raises(Conflict, match="changed by somebody else"):
        people.change(book, known.person, people.Person(name="x"), revision=1)
    assert people.get(book, known.person).person == ADA


def test_a_key_file_is_made_once_and_read_again(tmp_path):
    path = tmp_path / "key"
    new_key_file(path)
    key = read_key_file(path)
    assert path.stat().st_mode & 0o077 == 0
    with pytest.raises(Conflict, match="would lock its book"):
        new_key_file(path)
    assert read_key_file(path) == key


def test_a_key_file_that_is_missing_or_none_is_told(tmp_path):
    with pytest.raises(NotFound, match="no such key file"):
        read_key_file(tmp_path / "none")
    (tmp_path / "word").write_text("secret", encoding="utf-8")
    with pytest.raises(CannotRun, match="holds no key"):
        read_key_file(tmp_path / "word")
    with pytest.raises(CannotRun, match="cannot be written"):
        new_key_file(tmp_path / "nowhere" / "key")
