"""What is erased is gone: from the tables, from the bytes on the disk, and from every book brought back later."""

from __future__ import annotations

import psycopg
import pytest

from slackwater.book import clients, conditions, documents, erasing, events, jobs, open_book, people, photos, review
from slackwater.book.places import TextPlace
from slackwater.errors import BadInput, Conflict, CorruptBook, NotFound
from tests.book.pictures import jpeg
from tests.book.places import NOON, event, one_of_each

RARE = "Zwetschgenbaum"
"""A name that stands nowhere else."""


def bytes_on_disk(place, book):
    """All that the book has written, as far as a thief of the disk would read it in its files."""
    if place.is_sqlite:
        return b"".join(path.read_bytes() for path in sorted(place.folder.rglob("*")) if path.is_file())
    with psycopg.connect(place.where, autocommit=True) as connection:
        connection.execute("CHECKPOINT")
        tables = connection.execute(
            "SELECT oid FROM pg_class WHERE relkind IN ('r', 't', 'i') AND relfilenode > 0"
        ).fetchall()
        files = [connection.execute("SELECT pg_relation_filepath(%s::oid)", row).fetchone()[0] for row in tables]
        return b"".join(
            connection.execute("SELECT pg_read_binary_file(%s, 0, 100000000, true)", (name,)).fetchone()[0] or b""
            for name in files
        )


def test_an_erased_person_is_in_no_byte_on_the_disk(place):
    with open_book(place.where, folder=place.folder) as book:
        known = one_of_each(book, name=RARE)
        people.change(book, known.person, people.Person(name=RARE, note=RARE * 200), revision=1)
        others = [people.add(book, people.Person(name=f"Other {i}"), at=NOON).id for i in range(30)]
        assert RARE.encode() in bytes_on_disk(place, book)
        done = erasing.erase_person(book, known.person, at=NOON, by="me")
        assert done.traces_removed
        assert RARE.encode() not in bytes_on_disk(place, book)
        row = people.get(book, known.person)
        assert (row.person, row.erased_at) == (None, NOON)
        # Ids stay, and so does everybody else.
        assert clients.get(book, known.client).person_id == known.person
        assert [people.get(book, other).person.name for other in others] == [f"Other {i}" for i in range(30)]
        with pytest.raises(Conflict, match="was erased"):
            people.change(book, known.person, people.Person(name="Back"), revision=2)


def test_erasing_a_client_erases_the_people_of_its_sites_too(book):
    known = one_of_each(book)
    caretaker = people.add(book, people.Person(name="Caretaker"), at=NOON)
    clients.add_person(book, known.client, person_id=caretaker.id, role="caretaker", at=NOON)
    erasing.erase_client(book, known.client, at=NOON, by="me")
    assert people.get(book, known.person).person is None
    assert people.get(book, caretaker.id).person is None


def test_review_shows_each_text_photo_and_document_of_a_client_and_of_no_other(book):
    mine, theirs = one_of_each(book), one_of_each(book, name="Other", text='name = "Other job"')
    events.append(book, mine.job, [event(note=f"ring {RARE}")])
    events.append(book, theirs.job, [event(note="theirs")])
    conditions.add(book, mine.job, part=conditions.Part.SEAMS, seen=f"{RARE} saw it", at=NOON, by="me")
    photo = photos.add(book, jpeg(), at=NOON, by="me", tank_id=mine.tank, caption="with people")
    photos.add(book, jpeg(), at=NOON, by="me", tank_id=theirs.tank)
    paper = documents.add(book, mine.job, b"%PDF-1.7", title="file", media_type="application/pdf", at=NOON, by="me")
    found = review.of_client(book, mine.client)
    assert found.photo_ids == (photo.id,)
    assert found.document_ids == (paper.id,)
    seen = {(text.place.table, text.place.field) for text in found.texts}
    assert seen == {
        ("site", "name"),
        ("tank", "name"),
        ("version", "text"),
        ("event", "body"),
        ("photo", "caption"),
        ("document", "title"),
        ("condition", "seen"),
    }
    assert any(RARE in text.text for text in found.texts)
    assert not any("theirs" in text.text or "Other" in text.text for text in found.texts)


def test_a_replaced_text_reads_otherwise_and_is_gone_from_the_disk(place):
    with open_book(place.where, folder=place.folder) as book:
        known = one_of_each(book, text=f'name = "Job of {RARE}"')
        jobs.save_version(book, known.job, f'name = "Still {RARE}"', parent=1, at=NOON, by="me")
        fact = event(note=RARE)
        events.append(book, known.job, [fact])
        for text in review.of_client(book, known.client).texts:
            if RARE in text.text:
                erasing.replace_text(book, text.place, text.text.replace(RARE, "client"), at=NOON, by="me")
        assert jobs.version(book, known.job, 1).text == 'name = "Job of client"'
        assert jobs.get(book, known.job).name == "Still client"
        assert events.after(book, known.job)[0].event.body == {"note": "client"}
        assert RARE.encode() not in bytes_on_disk(place, book)
        # The phone that still holds the event sends it again: that is no news and no quarrel.
        again = events.append(book, known.job, [fact])
        assert [done.n for done in again.accepted] == [1] and again.refused == ()
        assert events.after(book, known.job)[0].event.body == {"note": "client"}


def test_an_erased_photo_and_its_file_are_gone_and_a_shared_file_stays_with_the_other(book):
    known = one_of_each(book)
    content = jpeg()
    first, second = (photos.add(book, content, at=NOON, by="me", job_id=known.job, caption="Ada") for _ in range(2))
    erasing.erase_photo(book, first.id, at=NOON, by="me")
    with pytest.raises(NotFound, match="erased"):
        photos.original(book, first.id)
    with pytest.raises(NotFound, match="erased"):
        photos.thumbnail(book, first.id)
    assert photos.get(book, first.id).caption == ""
    assert photos.original(book, second.id) == content
    erasing.erase_photo(book, second.id, at=NOON, by="me")
    assert not list(book.folder.glob("originals/*/*"))


def test_an_erasure_that_was_cut_off_is_finished_when_the_book_is_next_opened(place):
    with open_book(place.where, folder=place.folder) as book:
        known = one_of_each(book, name=RARE)
        # What stands on the disk when the power goes after the list was written and before anything was removed.
        cut_off = erasing.Erasure(
            id=known.client, kind=erasing.Kind.PERSON, target=known.person, at="2027-02-10T12:00:00.000000Z"
        )
        erasing.write_list(book.folder / erasing.FILE_NAME, [cut_off])
    with open_book(place.where, folder=place.folder) as book:
        assert people.get(book, known.person).person is None
        assert erasing.listed(book) == [cut_off]
        assert RARE.encode() not in bytes_on_disk(place, book)


def test_a_list_cut_off_in_its_last_line_is_read_and_written_on(tmp_path):
    path = tmp_path / "erased.jsonl"
    entries = [
        erasing.Erasure(id=str(n), kind=erasing.Kind.PERSON, target="x", at="2027-02-10T12:00:00.000000Z")
        for n in range(3)
    ]
    erasing.write_list(path, entries[:2])
    path.write_bytes(path.read_bytes()[:-9])
    assert erasing.read_list(path) == entries[:1]
    erasing.write_list(path, entries[2:])
    assert erasing.read_list(path) == [entries[0], entries[2]]


def test_a_damaged_list_is_told_with_its_line(tmp_path):
    path = tmp_path / "erased.jsonl"
    path.write_text('{"id": 1}\n{"id": 2}\n', encoding="utf-8")
    with pytest.raises(CorruptBook, match="line 1: the list of erasures is damaged"):
        erasing.read_list(path)


def test_only_texts_of_the_book_can_be_replaced_and_only_by_what_fits(book):
    known = one_of_each(book)
    fact = event(note="x")
    events.append(book, known.job, [fact])
    with pytest.raises(BadInput, match="is JSON"):
        erasing.replace_text(book, TextPlace("event", str(fact.id), "body"), "words", at=NOON, by="me")
    with pytest.raises(BadInput, match="no place of a text"):
        TextPlace.from_told("person x sealed")
    with pytest.raises(NotFound, match="no tank"):
        erasing.replace_text(book, TextPlace("tank", known.site, "name"), "t", at=NOON, by="me")
    assert erasing.listed(book) == []
