"""Accounts, sessions, failed attempts, links and the trail, on both databases."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from sqlalchemy.exc import DBAPIError

from slackwater.book import accounts, attempts, erasing, links, open_book, trail
from slackwater.book.accounts import Role, Signed
from slackwater.errors import Conflict, NotFound
from tests.book.places import NOON, one_of_each

LATER = NOON + timedelta(hours=1)


def owner(book, sign_in="ada", role=Role.OWNER):
    return accounts.add(book, name=f"{sign_in} Harbour", sign_in=sign_in, role=role, password="$1", at=NOON, by="")


def signed(book, row, token="t", password="$1"):
    return accounts.begin_session(book, row.id, token, password=password, at=NOON, until=LATER)


def test_a_session_is_of_its_account_until_its_moment(book):
    row = owner(book)
    assert accounts.whose(book, "t", at=NOON) is None
    assert signed(book, row)
    assert accounts.whose(book, "t", at=LATER - timedelta(seconds=1)) == Signed(row.id, Role.OWNER)
    assert accounts.whose(book, "t", at=LATER) is None
    accounts.end_session(book, "t")
    assert accounts.whose(book, "t", at=NOON) is None


def test_a_change_of_role_ends_all_sessions_and_one_of_the_password_all_others(book):
    one, two = owner(book), owner(book, "bo")
    for token in ("a", "b"):
        signed(book, two, token)
    accounts.set_password(book, two.id, "$2", at=NOON, keep="a")
    assert accounts.whose(book, "a", at=NOON) is not None and accounts.whose(book, "b", at=NOON) is None
    # Who had the old password read before it changed is not let in with it.
    assert not signed(book, two, "c")
    accounts.set_role(book, two.id, Role.CREW)
    assert accounts.whose(book, "a", at=NOON) is None
    assert accounts.get(book, one.id).role is Role.OWNER


def test_there_is_always_an_owner(book):
    with pytest.raises(Conflict, match="owner"):
        owner(book, "bo", Role.CREW)
    row = owner(book)
    for act in (lambda: accounts.set_role(book, row.id, Role.CREW), lambda: accounts.close(book, row.id, at=NOON)):
        with pytest.raises(Conflict, match="only owner"):
            act()
    other = owner(book, "bo")
    with ThreadPoolExecutor(2) as pool:
        tries = [pool.submit(accounts.close, book, one.id, at=NOON) for one in (row, other)]
    assert [type(one.exception()) for one in tries].count(Conflict) == 1
    assert accounts.has_owner(book)


def test_a_sign_in_name_is_one_persons_whatever_its_letters(book):
    row = owner(book, "Ada  Harbour")
    with pytest.raises(Conflict, match="already"):
        owner(book, "ada harbour")
    assert accounts.called(book, " ADA harbour ") == (row, "$1")
    assert accounts.called(book, "bo") is None


def test_names_of_accounts_stand_with_the_people_and_go_when_they_are_erased(book):
    keep, row = owner(book, "keep"), owner(book)
    signed(book, row)
    erasing.erase_person(book, row.person_id, at=NOON, by=keep.id)
    assert accounts.whose(book, "t", at=NOON) is None
    assert accounts.called(book, "ada") is None
    assert (accounts.get(book, row.id).name, accounts.get(book, row.id).ended_at) == ("", NOON)


def test_the_trail_is_only_added_to(book):
    trail.note(book, trail.Deed.FAILED, at=NOON)
    for statement in ("UPDATE trail SET note = 'x'", "DELETE FROM trail"):
        with pytest.raises(DBAPIError, match="only added to"), book.engine.begin() as connection:
            connection.exec_driver_sql(statement)
    assert [entry.deed for entry in trail.listed(book)] == [trail.Deed.FAILED]


def test_attempts_are_counted_before_they_are_looked_at_and_outlive_the_program(place):
    def wait(failed):
        return 0 if failed < 3 else 60

    with open_book(place.where, folder=place.folder) as book, ThreadPoolExecutor(4) as pool:
        many = list(pool.map(lambda _: attempts.begin(book, {"name": wait}, at=NOON), range(8)))
    assert many.count(0) == 3
    with open_book(place.where, folder=place.folder) as book:
        assert attempts.begin(book, {"name": wait}, at=NOON + timedelta(seconds=20)) == 40
        assert attempts.begin(book, {"other": wait}, at=NOON) == 0
        # A clock that was set back to before the attempts keeps nobody out for longer than the wait itself.
        assert attempts.begin(book, {"name": wait}, at=NOON - timedelta(hours=5)) == 60
        assert attempts.begin(book, {"name": wait}, at=NOON + timedelta(seconds=60)) == 0
        attempts.went_well(book, forget="name", halve="other")
        assert attempts.begin(book, {"name": wait, "other": wait}, at=NOON) == 0


def test_a_link_shows_its_job_until_it_expires_or_is_ended(book):
    known = one_of_each(book)
    row = links.add(book, known.job, "x", at=NOON, until=LATER, by="me")
    assert links.job_of(book, "x", at=NOON) == known.job
    for token, at in (("y", NOON), ("x", LATER)):
        with pytest.raises(NotFound):
            links.job_of(book, token, at=at)
    with pytest.raises(NotFound):
        links.end(book, known.person, row.id, at=NOON)
    assert links.end(book, known.job, row.id, at=NOON) and not links.end(book, known.job, row.id, at=NOON)
    with pytest.raises(NotFound):
        links.job_of(book, "x", at=NOON)
