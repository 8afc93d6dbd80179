"""Invoices in the book: numbers without a gap, nothing that changes after it was issued, sealed like people."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta

import pytest
from cryptography.fernet import Fernet
from sqlalchemy import text

from slackwater.book import bringing, checking, erasing, firm, invoices, open_book, saving
from slackwater.book.archive import Kind
from slackwater.book.invoices import Made, Papers
from slackwater.errors import Conflict, NotFound
from tests.book.places import NOON, one_of_each

TODAY = date(2027, 2, 12)
NAME = "Ada Harbour"


def begin(book, job, *, content=None, corrects=None):
    told = json.dumps(content or {"buyer": NAME})
    return invoices.add_draft(
        book, job, told, kind="381" if corrects else "380", at=NOON, by="me", corrects=corrects
    ).line


def made(n):
    papers = Papers(f"%PDF {NAME}".encode(), f"<a>{NAME}</a>".encode())
    return Made(f"2027-{n:04d}", json.dumps({"n": n, "buyer": NAME}), "EUR", "119.00", papers)


def issue(book, line, *, on=TODAY, make=made, first_n=1):
    return invoices.issue(book, line.id, revision=line.revision, on=on, first_n=first_n, make=make).line


@pytest.fixture
def job(book):
    firm.save(book, "{}", revision=0, at=NOON, by="me")
    return one_of_each(book, name=NAME).job


def test_numbers_follow_each_other_in_their_year(book, job):
    numbers = [issue(book, begin(book, job), first_n=57).number for _ in range(3)]
    next_year = issue(book, begin(book, job), on=date(2028, 1, 1))
    assert numbers == ["2027-0057", "2027-0058", "2027-0059"]
    assert next_year.number == "2027-0001"  # `made` writes the year, the book gives the 1
    assert [line.number for line in invoices.of_year(book, 2027)] == numbers
    assert invoices.years(book) == [2028, 2027]
    with pytest.raises(Conflict, match="numbers follow the days"):
        issue(book, begin(book, job), on=TODAY - timedelta(days=1))


def test_people_who_issue_at_once_leave_no_gap_and_no_double(book, job):
    drafts = [begin(book, job) for _ in range(12)]

    def fail(n):
        raise NotFound("no paper")

    def act(at):
        try:
            return issue(book, drafts[at], make=fail if at % 3 == 0 else made).number
        except NotFound:
            return None

    with ThreadPoolExecutor(6) as pool:
        numbers = [number for number in pool.map(act, range(12)) if number]
    assert sorted(numbers) == [f"2027-{n:04d}" for n in range(1, 9)]
    assert checking.check(book).faults == ()
    assert sum(not line.number for line in invoices.of_job(book, job)) == 4


def test_one_draft_issued_twice_at_once_gets_one_number(book, job):
    draft = begin(book, job)

    def act(_):
        try:
            return issue(book, draft).number
        except Conflict:
            return None

    with ThreadPoolExecutor(4) as pool:
        assert sorted(filter(None, pool.map(act, range(4)))) == ["2027-0001"]


def test_what_was_issued_never_changes(book, job):
    line = begin(book, job)
    changed = invoices.change_draft(book, line.id, '{"buyer": "Other"}', revision=line.revision)
    with pytest.raises(Conflict, match="revision 1, it is now at 2"):
        invoices.change_draft(book, line.id, "{}", revision=line.revision)
    with pytest.raises(Conflict):
        issue(book, line)  # as it was before the change
    done = issue(book, changed.line)
    for act in (
        lambda: invoices.change_draft(book, line.id, "{}", revision=done.revision),
        lambda: invoices.drop_draft(book, line.id),
        lambda: issue(book, done),
    ):
        with pytest.raises(Conflict, match="never changes"):
            act()
    assert json.loads(invoices.get(book, line.id).content) == {"n": 1, "buyer": NAME}
    assert invoices.papers(book, line.id).xml == f"<a>{NAME}</a>".encode()


def test_only_what_was_issued_is_corrected_and_drafts_have_no_papers(book, job):
    draft = begin(book, job)
    with pytest.raises(Conflict, match="Only an invoice that was issued"):
        begin(book, job, corrects=draft.id)
    with pytest.raises(NotFound):
        invoices.papers(book, draft.id)
    issue(book, draft)
    note = begin(book, job, corrects=draft.id)
    assert [line.id for line in invoices.corrections(book, draft.id)] == [note.id]
    invoices.drop_draft(book, note.id)
    assert invoices.corrections(book, draft.id) == []


def test_without_the_firm_nothing_is_issued(book):
    line = begin(book, one_of_each(book).job)
    with pytest.raises(NotFound):
        issue(book, line)


def test_with_a_key_no_name_of_an_invoice_stands_readable_and_an_old_one_is_sealed_later(place):
    with open_book(place.where, folder=place.folder) as book:
        firm.save(book, "{}", revision=0, at=NOON, by="me")
        job = one_of_each(book, name=NAME).job
        line = issue(book, begin(book, job))
        begin(book, job)
    key = Fernet.generate_key()
    with open_book(place.where, key, folder=place.folder) as book:
        assert NAME in invoices.get(book, line.id).content
        assert NAME.encode() in invoices.papers(book, line.id).pdf
        assert checking.check(book).faults == ()
        with book.reading() as connection:
            for table in ("invoice", "invoice_paper"):
                for row in connection.execute(text(f"SELECT * FROM {table}")):
                    assert not any(NAME.encode() in bytes(value) for value in row if isinstance(value, bytes))
    if place.is_sqlite:
        for file in place.folder.rglob("*"):
            assert not file.is_file() or NAME.encode() not in file.read_bytes(), file


@pytest.mark.parametrize("kind", list(Kind))
def test_invoices_come_back_from_a_backup_and_from_an_export(new_place, tmp_path, kind):
    one, other = new_place(), new_place()
    with open_book(one.where, Fernet.generate_key() if kind is Kind.EXPORT else None, folder=one.folder) as book:
        firm.save(book, '{"a": 1}', revision=0, at=NOON, by="me")
        job = one_of_each(book, name=NAME).job
        first = issue(book, begin(book, job))
        note = issue(book, begin(book, job, corrects=first.id))
        saving.save(book, tmp_path / "a.zip", kind=kind, at=NOON, program="0")
    with open_book(other.where, folder=other.folder) as book:
        firm.save(book, '{"own": 1}', revision=0, at=NOON, by="me")
        bringing.bring(book, tmp_path / "a.zip")
        assert firm.get(book).facts == '{"own": 1}', "a firm keeps its own settings"
        assert invoices.of_year(book, 2027) == [first, note]
        assert invoices.papers(book, first.id) == Papers(f"%PDF {NAME}".encode(), f"<a>{NAME}</a>".encode())
        assert checking.check(book).faults == ()
        assert issue(book, begin(book, job)).number == "2027-0003"
        assert bringing.bring(book, tmp_path / "a.zip").added == 0
    third = new_place()
    with open_book(third.where, folder=third.folder) as book:
        firm.save(book, "{}", revision=0, at=NOON, by="me")
        issue(book, begin(book, one_of_each(book).job))
        with pytest.raises(Conflict, match="two invoices bear one number"):
            bringing.bring(book, tmp_path / "a.zip")


@pytest.mark.parametrize(
    ("damage", "fault"),
    [
        ("UPDATE invoice SET sealed = sealed_paper.sealed FROM invoice_paper AS sealed_paper", "invoice_changed"),
        ("UPDATE invoice_paper SET sealed = NULL", "invoice_changed"),
        ("DELETE FROM invoice_paper WHERE id = (SELECT min(id) FROM invoice)", "invoice_paper_lost"),
        ("UPDATE invoice SET n = 7 WHERE n = 2", "invoice_number_missing"),
    ],
)
def test_a_look_through_the_book_finds_what_is_wrong_with_invoices(book, job, damage, fault):
    for _ in range(2):
        issue(book, begin(book, job))
    assert checking.check(book).faults == ()
    with book.writing() as connection:
        connection.execute(text(damage))
    assert fault in {found.id for found in checking.check(book).faults}


def test_erasing_a_person_takes_drafts_to_their_client_and_no_others(book, job):
    known = one_of_each(book, name="Someone")
    kept, draft, theirs = issue(book, begin(book, known.job)), begin(book, known.job), begin(book, job)
    erasing.erase_person(book, known.person, at=NOON, by="me")
    assert [line.id for line in invoices.of_job(book, known.job)] == [kept.id]
    assert [line.id for line in invoices.of_job(book, job)] == [theirs.id]
    with pytest.raises(NotFound):
        invoices.get(book, draft.id)
