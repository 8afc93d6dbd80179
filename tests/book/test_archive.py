"""Backups and exports: whole, verified, and the same book again when they are brought back."""

from __future__ import annotations

import json
import threading
import zipfile
from datetime import timedelta
from pathlib import Path

import pytest
from cryptography.fernet import Fernet
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select, text

from slackwater.book import (
    accounts,
    bringing,
    checking,
    clients,
    conditions,
    documents,
    erasing,
    events,
    firm,
    invoices,
    jobs,
    layouts,
    left_out,
    links,
    migrate,
    open_book,
    parcels,
    people,
    photos,
    plans,
    prices,
    receipts,
    saving,
    tables,
    tasks,
    trail,
    water_tests,
)
from slackwater.book.accounts import Role
from slackwater.book.archive import Kind
from slackwater.errors import BadInput, CannotRun, Conflict, CorruptBook, NotFound
from tests.book.pictures import encoded, jpeg
from tests.book.places import NOON, event, on_sqlite, one_of_each
from tests.book.test_migrate import JOB, begin_old_book


def save(book, path, kind=Kind.BACKUP):
    return saving.save(book, path, kind=kind, at=NOON, program="0.0.0")


def fill(book):
    """A book with something in every table."""
    known = one_of_each(book)
    jobs.save_version(book, known.job, "# ü\r\na = 1", parent=1, at=NOON, by="me")
    layouts.put_draft(book, known.job, '{"format": 1}', based_on=0, revision=0, at=NOON, by="me")
    copy = jobs.create(book, text="", at=NOON - timedelta(days=1), by="me", copied_from=known.job)
    events.append(book, known.job, [event(device="phone", seq=n, note="ä\u2028\x00") for n in range(3)])
    plans.keep(book, known.job, 1, plan_json='{"a": 1}', inputs_hash="h", at=NOON)
    wrong = water_tests.add(book, readings={"ph": 9}, at=NOON, by="me", tank_id=known.tank)
    earlier = NOON - timedelta(hours=1)
    water_tests.add(book, readings={"ph": 6.9}, at=earlier, by="me", tank_id=known.tank, corrects=wrong.id)
    photo = photos.add(book, jpeg(), at=NOON, by="me", job_id=known.job)
    photos.add(book, encoded("PNG"), at=NOON, by="me", job_id=copy.id)
    documents.add(book, known.job, b"%PDF", title="t", media_type="application/pdf", at=NOON, by="me")
    conditions.add(book, known.job, part=conditions.Part.HOSES, seen="old", at=NOON, by="me", photo_ids=[photo.id])
    prices.add(
        book, item="soil", amount_minor=2490, currency="cr", unit="bag", valid_from=NOON.date(), at=NOON, by="me"
    )
    left_out.leave_out(book, known.job, reason="burst pipe at noon", at=NOON, by="me")
    receipts.add(book, known.job, line="soil", received=2.5, ordered=3, unit="bag", at=NOON, by="me")
    firm.save(book, '{"currency": "EUR"}', revision=0, at=NOON, by="me")
    draft = invoices.add_draft(book, known.job, '{"b": "Ä"}', kind="380", at=NOON, by="me").line
    papers = invoices.Papers(b"%PDF", b"<a/>")
    made = invoices.Made("2027-0001", '{"a": 1}', "EUR", "119.00", papers)
    issued = invoices.issue(book, draft.id, revision=1, on=NOON.date(), first_n=1, make=lambda n: made).line
    invoices.add_draft(book, copy.id, "{}", kind="381", at=NOON - timedelta(days=1), by="me", corrects=issued.id)
    first = tasks.add(book, kind="plan", arguments={"a": [1]}, at=NOON, by="me", job_id=known.job)
    tasks.ask_cancel(book, first.id, at=NOON)
    tasks.restart(book, first.id, at=NOON - timedelta(days=1), by="me")
    owner = accounts.add(book, name="O", sign_in="o", role=Role.OWNER, password="$hash", at=NOON, by="")
    links.add(book, known.job, "f" * 64, at=NOON, until=NOON + timedelta(days=1), by=owner.id)
    trail.note(book, trail.Deed.ACCOUNT_ADDED, at=NOON, about=owner.id, note="owner")
    gone = people.add(book, people.Person(name="Gone"), at=NOON)
    erasing.erase_person(book, gone.id, at=NOON, by="me")
    return known


def content_of(book):
    """Every row of every table, people opened."""
    found = {}
    with book.reading() as connection:
        for table in tables.metadata.sorted_tables:
            if table.name in (*saving.NOT_SAVED, "blob"):
                continue
            rows = connection.execute(select(table).order_by(*table.primary_key.columns)).mappings()
            found[table.name] = [dict(row) for row in rows]
        found["blob"] = [
            (sha256, book.blobs.get(connection, sha256))
            for sha256 in connection.scalars(select(tables.blob.c.sha256).order_by(tables.blob.c.sha256)).all()
        ]
    for row in found["person"]:
        if row["sealed"] is not None:
            row["sealed"] = json.loads(book.safe.open(row["sealed"], sealed_with=row.pop("sealed_with")))
    return found


@pytest.mark.parametrize("kind", list(Kind))
def test_a_book_with_something_in_every_table_comes_back_whole(new_place, tmp_path, kind):
    one, other = new_place(), new_place()
    with open_book(one.where, folder=one.folder) as book:
        fill(book)
        before = content_of(book)
        assert all(before.values()), "a table that is empty here proves nothing"
        manifest = save(book, tmp_path / "a.zip", kind)
        assert manifest.rows["event"] == 3
    with open_book(other.where, folder=other.folder) as book:
        bringing.restore(book, tmp_path / "a.zip")
        assert content_of(book) == before
        assert checking.check(book).faults == ()
        # And it is written on: numbers go on where they were.
        (job,) = [job for job in jobs.listed(book) if job.newest_n == 2]
        assert events.append(book, job.id, [event()]).accepted[0].n == 4


def test_a_backup_from_one_database_is_restored_into_the_other(new_place, tmp_path):
    one, other = new_place(), on_sqlite(tmp_path / "other")
    with open_book(one.where, folder=one.folder) as book:
        fill(book)
        before = content_of(book)
        save(book, tmp_path / "a.zip")
    with open_book(other.where) as book:
        bringing.restore(book, tmp_path / "a.zip")
        assert content_of(book) == before
        save(book, tmp_path / "back.zip")
    third = new_place()
    with open_book(third.where, folder=third.folder) as book:
        bringing.restore(book, tmp_path / "back.zip")
        assert content_of(book) == before


def test_an_export_is_plain_files_that_other_programs_can_read(book, tmp_path):
    known = fill(book)
    save(book, tmp_path / "a.zip", Kind.EXPORT)
    with zipfile.ZipFile(tmp_path / "a.zip") as packed:
        assert packed.read(f"jobs/{known.job}/2.toml").decode() == "# ü\r\na = 1"
        people_told = [json.loads(line) for line in packed.read("tables/person.jsonl").splitlines()]
        assert sorted(row["open"]["name"] for row in people_told if row.get("open")) == ["Ada Harbour", "O"]
        assert sorted(Path(name).suffix for name in packed.namelist() if name.startswith("originals/")) == [
            ".jpg",
            ".pdf",
            ".png",
        ]


def test_a_backup_keeps_names_sealed_and_an_export_opens_them(place, tmp_path):
    with open_book(place.where, Fernet.generate_key(), folder=place.folder) as book:
        one_of_each(book)
        save(book, tmp_path / "backup.zip", Kind.BACKUP)
        save(book, tmp_path / "export.zip", Kind.EXPORT)
    told = {}
    for name in ("backup", "export"):
        with zipfile.ZipFile(tmp_path / f"{name}.zip") as packed:
            told[name] = b"".join(packed.read(entry) for entry in packed.namelist())
    assert b"Ada Harbour" not in told["backup"]
    assert b"Ada Harbour" in told["export"]


def test_a_sealed_backup_asks_for_its_key_and_an_export_takes_any(new_place, tmp_path):
    key, one = Fernet.generate_key(), new_place()
    with open_book(one.where, key, folder=one.folder) as book:
        known = one_of_each(book)
        save(book, tmp_path / "backup.zip", Kind.BACKUP)
        save(book, tmp_path / "export.zip", Kind.EXPORT)
    for wrong in (None, Fernet.generate_key()):
        place = new_place()
        with open_book(place.where, wrong, folder=place.folder) as book:
            with pytest.raises(CannotRun, match="sealed with"):
                bringing.restore(book, tmp_path / "backup.zip")
            assert jobs.listed(book) == [] and clients.listed(book) == []
            bringing.restore(book, tmp_path / "export.zip")
            assert people.get(book, known.person).person.name == "Ada Harbour"
    place = new_place()
    with open_book(place.where, key, folder=place.folder) as book:
        bringing.restore(book, tmp_path / "backup.zip")
        assert people.get(book, known.person).person.name == "Ada Harbour"


def test_what_was_erased_after_the_backup_does_not_come_back(new_place, tmp_path):
    one, other, third = new_place(), new_place(), new_place()
    with open_book(one.where, folder=one.folder) as book:
        known = fill(book)
        save(book, tmp_path / "a.zip")
        erasing.erase_client(book, known.client, at=NOON, by="me")
        for photo in photos.of_job(book, known.job):
            erasing.erase_photo(book, photo.id, at=NOON, by="me")
        kept_list = book.folder / erasing.FILE_NAME
    # The list lies beside the new book, as when a damaged file was moved aside ...
    other.folder.mkdir(exist_ok=True)
    (other.folder / erasing.FILE_NAME).write_bytes(kept_list.read_bytes())
    with open_book(other.where, folder=other.folder) as book:
        assert bringing.restore(book, tmp_path / "a.zip").erased_again == 3
        assert people.get(book, known.person).person is None
        assert [photo.sha256 for photo in photos.of_job(book, known.job)] == [None]
        assert checking.check(book).faults == () == checking.check(book).notes
    # ... or is named, as on a new machine; and it is kept there from then on.
    with open_book(third.where, folder=third.folder) as book:
        bringing.restore(book, tmp_path / "a.zip", erasures=erasing.read_list(kept_list))
        assert people.get(book, known.person).person is None
        assert len(erasing.read_list(book.folder / erasing.FILE_NAME)) == 3


def test_a_restore_goes_into_an_empty_book_only(book, tmp_path):
    one_of_each(book)
    save(book, tmp_path / "a.zip")
    before = content_of(book)
    with pytest.raises(Conflict, match="not empty"):
        bringing.restore(book, tmp_path / "a.zip")
    assert content_of(book) == before


def test_an_import_adds_what_is_new_leaves_what_is_the_same_and_refuses_what_differs(new_place, tmp_path):
    one, other = new_place(), new_place()
    with open_book(one.where, Fernet.generate_key(), folder=one.folder) as book:
        known = fill(book)
        save(book, tmp_path / "a.zip", Kind.EXPORT)
    with open_book(other.where, Fernet.generate_key(), folder=other.folder) as book:
        theirs = one_of_each(book, name="Theirs")
        first = bringing.bring(book, tmp_path / "a.zip")
        assert (first.there, people.get(book, theirs.person).person.name) == (0, "Theirs")
        again = bringing.bring(book, tmp_path / "a.zip")
        assert (again.added, again.there) == (0, first.added)
        jobs.save_version(book, known.job, "theirs = 1", parent=2, at=NOON, by="me")
        before = content_of(book)
        with pytest.raises(Conflict, match="already, and not as it is in the file"):
            bringing.bring(book, tmp_path / "a.zip")
        assert content_of(book) == before


def test_a_book_that_is_brought_back_has_no_queue(place, new_place, tmp_path):
    with open_book(place.where, folder=place.folder) as book:
        known = one_of_each(book)
        task = tasks.add(book, kind="plan", arguments={}, at=NOON, by="", job_id=known.job)
        assert tasks.claim(book, task.id, owner=task.id)
        assert tasks.hand_over(book, task.id, owner=task.id, program="1", handed={"catalog": "catalog/x"})
        parcels.lay(book, "catalog/x", {"soils.csv": b"id"})
        save(book, tmp_path / "b.zip")
        # Into the book it came from, it is the same.
        assert bringing.bring(book, tmp_path / "b.zip").added == 0
        assert tasks.get(book, task.id).program == "1"
    new = new_place()
    with open_book(new.where, folder=new.folder) as book:
        bringing.restore(book, tmp_path / "b.zip")
        back = tasks.get(book, task.id)
        assert (back.state, back.program, dict(back.handed)) == (tasks.State.WAITING, None, {})
        assert parcels.fetch(book, "catalog/x") is None
        assert checking.check(book).faults == ()
        # Any office takes it.
        assert tasks.claim(book, task.id, owner=task.id)


def test_an_archive_of_an_older_form_is_brought_to_todays(new_place, tmp_path, monkeypatch):
    # An archive as the first program would have written it: the tables of that form, and their rows.
    old, new = new_place(), new_place()
    begin_old_book(old)
    with open_book(old.where, folder=old.folder) as book:
        save(book, tmp_path / "new.zip")
    dropped = {"price", "receipt", "erasure", "plan_summary", "account", "link", "trail"}
    dropped |= {"firm", "invoice", "invoice_paper"}
    with zipfile.ZipFile(tmp_path / "new.zip") as packed, zipfile.ZipFile(tmp_path / "old.zip", "w") as out:
        manifest = json.loads(packed.read("manifest.json"))
        manifest["form"] = "0001"
        for name in dropped:
            del manifest["rows"][name], manifest["files"][f"tables/{name}.jsonl"]
        told = {}
        for table, later in {
            "job": ("name", "reference", "day"),
            "task": ("owner", "program", "tries", "handed"),
        }.items():
            lines = [json.loads(line) for line in packed.read(f"tables/{table}.jsonl").splitlines()]
            for line in lines:
                for field in later:
                    del line[field]
            name = f"tables/{table}.jsonl"
            told[name] = "".join(json.dumps(line) + "\n" for line in lines).encode()
            manifest["files"][name] = sha256(told[name])
        for name in manifest["files"]:
            out.writestr(name, told.get(name) or packed.read(name))
        out.writestr("manifest.json", json.dumps(manifest))
    with open_book(new.where, folder=new.folder) as book:
        bringing.restore(book, tmp_path / "old.zip")
        assert (jobs.get(book, JOB).name, jobs.get(book, JOB).day.isoformat()) == ("Divider", "2027-02-10")
        with book.reading() as connection:
            assert migrate.revision_of(connection) == migrate.newest_revision()


def sha256(content):
    import hashlib

    return hashlib.sha256(content).hexdigest()


def changed(path, out, change):
    """A copy of an archive in which `change` has altered the files (a mapping of name to content)."""
    with zipfile.ZipFile(path) as packed:
        held = {name: packed.read(name) for name in packed.namelist()}
    change(held)
    with zipfile.ZipFile(out, "w") as packed:
        for name, content in held.items():
            packed.writestr(name, content)
    return out


def set_manifest(held, **values):
    held["manifest.json"] = json.dumps({**json.loads(held["manifest.json"]), **values}).encode()


DAMAGE = {
    "a changed text": (lambda held: held.update({text_of(held): b"a = 2"}), CorruptBook, "is not what it was"),
    "a lost text": (lambda held: held.pop(text_of(held)), CorruptBook, "is missing"),
    "a lost table": (lambda held: held.pop("tables/event.jsonl"), CorruptBook, "is missing"),
    "one more file": (lambda held: held.update({"../../x": b""}), CorruptBook, "does not belong to it"),
    "no manifest": (lambda held: held.pop("manifest.json"), BadInput, "no backup or export"),
    "a manifest of another": (lambda held: held.update({"manifest.json": b"{}"}), BadInput, "no backup or export"),
    "another format": (lambda held: set_manifest(held, format="x"), BadInput, "says it is x"),
    "a newer form": (lambda held: set_manifest(held, form="9999"), CannotRun, "newer Slackwater"),
}


def text_of(held):
    return next(name for name in held if name.startswith("jobs/"))


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    """An archive with one of everything that a job needs."""
    folder = tmp_path_factory.mktemp("sound")
    with open_book(folder / "home") as book:
        one_of_each(book)
        save(book, folder / "a.zip")
    return folder / "a.zip"


@pytest.mark.parametrize("damage", list(DAMAGE))
def test_a_damaged_archive_is_told_and_nothing_is_taken_from_it(book, sound, tmp_path, damage):
    change, kind, said = DAMAGE[damage]
    before = content_of(book)
    with pytest.raises(kind, match=said):
        bringing.restore(book, changed(sound, tmp_path / "b.zip", change))
    assert content_of(book) == before


def test_rows_that_do_not_fit_together_are_told(book, sound, tmp_path):
    """Hashes that are right prove only that the file is what somebody wrote."""

    def forge(held):
        held["tables/site.jsonl"] = held["tables/site.jsonl"].replace(b'"client_id": "0', b'"client_id": "f')
        files = json.loads(held["manifest.json"])["files"]
        set_manifest(held, files={**files, "tables/site.jsonl": sha256(held["tables/site.jsonl"])})

    with pytest.raises(Conflict, match="does not fit together"):
        bringing.restore(book, changed(sound, tmp_path / "b.zip", forge))
    assert clients.listed(book) == []


@pytest.mark.parametrize("line", [b"no json", b"[1]", b'{"id": 1, "surprise": 2}', b"{}", b"[" * 100_000])
def test_a_table_that_holds_something_else_is_told(book, sound, tmp_path, line):
    def forge(held):
        held["tables/tank.jsonl"] = line + b"\n"
        files = json.loads(held["manifest.json"])["files"]
        set_manifest(held, files={**files, "tables/tank.jsonl": sha256(held["tables/tank.jsonl"])})

    with pytest.raises(CorruptBook, match="does not hold what its tables ask for"):
        bringing.restore(book, changed(sound, tmp_path / "b.zip", forge))
    assert clients.listed(book) == []


@pytest.mark.parametrize("keep", [0, 10, 200, -30])
def test_a_cut_off_archive_is_told(book, tmp_path, keep):
    one_of_each(book)
    save(book, tmp_path / "a.zip")
    whole = (tmp_path / "a.zip").read_bytes()
    (tmp_path / "cut.zip").write_bytes(whole[:keep])
    with pytest.raises(CorruptBook, match="cut off"):
        bringing.bring(book, tmp_path / "cut.zip")
    with pytest.raises(NotFound):
        bringing.bring(book, tmp_path / "none.zip")


def test_a_backup_overwrites_nothing_and_leaves_no_half_file(book, tmp_path):
    one_of_each(book)
    (tmp_path / "a.zip").write_bytes(b"mine")
    with pytest.raises(Conflict, match="exists and is left as it is"):
        save(book, tmp_path / "a.zip")
    with pytest.raises(CannotRun, match="cannot be written"):
        save(book, tmp_path / "nowhere" / "a.zip")
    photo = photos.add(book, jpeg(), at=NOON, by="me")
    for path in book.folder.glob("originals/*/*"):
        path.write_bytes(b"x")
    with book.writing() as connection:
        connection.execute(text("UPDATE blob SET content = :junk WHERE content IS NOT NULL"), {"junk": b"x"})
    with pytest.raises(CorruptBook, match=f"The original {photo.sha256[:12]}"):
        save(book, tmp_path / "b.zip")
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["a.zip"]
    assert (tmp_path / "a.zip").read_bytes() == b"mine"


def test_a_backup_taken_while_others_write_is_one_moment_of_the_book(new_place, tmp_path):
    one, other = new_place(), new_place()
    with open_book(one.where, folder=one.folder) as book:
        known = one_of_each(book)
        stop = threading.Event()

        def write():
            # Each step belongs together: a version that says how many events there are, and as many events.
            n = 1
            while not stop.is_set():
                jobs.save_version(book, known.job, f"n = {n}", parent=n, at=NOON, by="me")
                events.append(book, known.job, [event(n=n)])
                n += 1

        writer = threading.Thread(target=write)
        writer.start()
        try:
            for n in range(3):
                save(book, tmp_path / f"{n}.zip")
        finally:
            stop.set()
            writer.join()
    with open_book(other.where, folder=other.folder) as book:
        bringing.restore(book, tmp_path / "2.zip")
        assert checking.check(book).faults == ()
        job = jobs.get(book, known.job)
        # Version n + 1 is saved before event n: one moment can lie between the two, and nowhere else.
        assert job.newest_n - job.events_n in (1, 2)


texts = st.text(st.characters(exclude_characters="\x00", exclude_categories=["Cs"]), max_size=40)


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    names=st.lists(texts, min_size=1, max_size=3),
    versions=st.lists(texts, max_size=4, unique=True),
    bodies=st.lists(
        st.dictionaries(texts, st.one_of(texts, st.integers(), st.floats(allow_nan=False, allow_infinity=False))),
        max_size=4,
    ),
    key=st.sampled_from([None, Fernet.generate_key()]),
    kind=st.sampled_from(list(Kind)),
)
def test_whatever_is_entered_comes_back_the_same(tmp_path_factory, names, versions, bodies, key, kind):
    folder = tmp_path_factory.mktemp("round")
    with open_book(folder / "one", key) as book:
        for name in names:
            known = one_of_each(book, name=name)
        for text_now in versions:
            newest = jobs.newest(book, known.job)
            jobs.save_version(book, known.job, text_now, parent=newest.n, at=NOON, by=names[0])
        events.append(book, known.job, [event(**{"told": body}) for body in bodies])
        before = content_of(book)
        save(book, folder / "a.zip", kind)
    with open_book(folder / "two", key) as book:
        bringing.restore(book, folder / "a.zip")
        assert content_of(book) == before
        save(book, folder / "b.zip", kind)
    # A backup of sealed names differs in nothing: they are carried over as they are. The book's own id differs.
    with zipfile.ZipFile(folder / "a.zip") as one, zipfile.ZipFile(folder / "b.zip") as two:
        assert one.namelist() == two.namelist()
        assert {n: one.read(n) for n in one.namelist() if n != "manifest.json"} == {
            n: two.read(n) for n in two.namelist() if n != "manifest.json"
        }
