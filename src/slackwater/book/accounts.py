"""Accounts: who may come in, as what, by which password; and the sessions of those who came.

A name and the sign-in name stand with the person, as those of everybody else; here is an id. Passwords are kept as their hash
only, tokens of sessions likewise, and neither leaves the book in a backup or an export.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import Connection, Row, delete, func, select, update

from slackwater.book import moments, people
from slackwater.book.handle import Book
from slackwater.book.ids import new_id
from slackwater.book.people import Contact, Person
from slackwater.book.rows import add as add_row
from slackwater.book.rows import change as change_row
from slackwater.book.rows import found, insert_once
from slackwater.book.tables import account, credential, fact, session
from slackwater.errors import Conflict, NotFound

SIGN_IN = "sign-in"
"""Kind of the contact that is a sign-in name."""
TURNS = "accounts"
"""Name of the fact that is held while accounts are changed: rules over all of them are checked by one at a time."""


class Role(StrEnum):
    """As what somebody may come in."""

    OWNER = "owner"
    CREW = "crew"


@dataclass(frozen=True, slots=True)
class AccountRow:
    """An account.

    Attributes
    ----------
    name, sign_in : str
        Of the person; both empty once erased.
    ended_at : datetime or None
        Since when it is closed for good.
    has_password : bool
        False after a restore, until one is set on the machine.
    """

    id: str
    person_id: str
    name: str
    sign_in: str
    role: Role
    revision: int
    added_at: datetime
    ended_at: datetime | None
    has_password: bool


@dataclass(frozen=True, slots=True)
class Signed:
    """Whose session it is."""

    account_id: str
    role: Role


def plain(sign_in: str) -> str:
    """A sign-in name as it is compared: large and small letters and spaces make no difference."""
    return " ".join(sign_in.split()).casefold()


def any_account(book: Book) -> bool:
    """Whether there ever was one; one that was closed counts, for nobody comes in again without one."""
    with book.reading() as connection:
        return connection.scalar(select(account.c.id).limit(1)) is not None


def has_owner(book: Book) -> bool:
    """Whether there is an owner who can sign in."""
    asked = (
        select(account.c.id).join(credential).where(account.c.role == Role.OWNER.value, account.c.ended_at.is_(None))
    )
    with book.reading() as connection:
        return connection.scalar(asked.limit(1)) is not None


def add(book: Book, *, name: str, sign_in: str, role: Role, password: str, at: datetime, by: str) -> AccountRow:
    """Open an account.

    Parameters
    ----------
    password : str
        Its hash.

    Raises
    ------
    Conflict
        If the sign-in name is somebody's, or the first account would be none of an owner.
    """
    known = Person(name=name, contacts=(Contact(kind=SIGN_IN, value=sign_in),))
    with _one_at_a_time(book) as connection:
        others = [row for row in _all(book, connection) if row.ended_at is None]
        if any(plain(row.sign_in) == plain(sign_in) for row in others):
            raise Conflict("Somebody signs in with this name already; choose another")
        if role is not Role.OWNER and not any(row.role is Role.OWNER for row in others):
            raise Conflict("The first account is that of an owner; add the owner, then the others")
        person_id, new = new_id(at), new_id(at)
        people.put(book, connection, known, at=at, person_id=person_id)
        add_row(
            connection,
            account,
            id=new,
            person_id=person_id,
            role=role.value,
            added_at=moments.stored(at),
            added_by=by,
        )
        add_row(connection, credential, account_id=new, password=password, set_at=moments.stored(at))
    return get(book, new)


def get(book: Book, account_id: str) -> AccountRow:
    """An account.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        found(connection, account, account_id)
        return next(row for row in _all(book, connection) if row.id == account_id)


def listed(book: Book) -> list[AccountRow]:
    """All accounts in the order of entry, those closed included: a firm has some, not thousands."""
    with book.reading() as connection:
        return _all(book, connection)


def called(book: Book, sign_in: str) -> tuple[AccountRow, str] | None:
    """The open account of a sign-in name with the hash of its password; None where there is none, or it has no password."""
    with book.reading() as connection:
        for row in _all(book, connection):
            if row.ended_at is None and row.has_password and plain(row.sign_in) == plain(sign_in):
                return row, password_of(connection, row.id)
    return None


def password_of(connection: Connection, account_id: str) -> str:
    """The hash of an account's password."""
    asked = select(credential.c.password).where(credential.c.account_id == account_id)
    return str(connection.execute(asked).scalar_one())


def hash_of(book: Book, account_id: str) -> str:
    """As `password_of`, by itself."""
    with book.reading() as connection:
        return password_of(connection, account_id)


def set_role(book: Book, account_id: str, role: Role) -> None:
    """Give an account another role; its sessions end.

    Raises
    ------
    NotFound, Conflict
        If it is not there, is closed, or is the last owner.
    """
    with _one_at_a_time(book) as connection:
        row = _open(book, connection, account_id)
        if row.role is not role:
            _keep_an_owner(book, connection, row)
        change_row(connection, account, account_id, revision=row.revision, role=role.value)
        _end_sessions(connection, account_id)


def set_password(book: Book, account_id: str, password: str, *, at: datetime, keep: str = "") -> None:
    """Give an account another password; its sessions end, but for that of the token hash `keep`.

    Raises
    ------
    NotFound, Conflict
        If it is not there or closed.
    """
    with _one_at_a_time(book) as connection:
        _open(book, connection, account_id)
        connection.execute(delete(credential).where(credential.c.account_id == account_id))
        add_row(connection, credential, account_id=account_id, password=password, set_at=moments.stored(at))
        _end_sessions(connection, account_id, keep=keep)


def close(book: Book, account_id: str, *, at: datetime) -> None:
    """Close an account for good; its name stays for the trail until the person is erased.

    Raises
    ------
    NotFound, Conflict
        If it is not there, is closed, or is the last owner.
    """
    with _one_at_a_time(book) as connection:
        row = _open(book, connection, account_id)
        _keep_an_owner(book, connection, row)
        close_account_of(connection, row.person_id, ended_at=moments.stored(at))


def close_account_of(connection: Connection, person_id: str, *, ended_at: str) -> None:
    """Within a transaction: nobody comes in any more as this person."""
    ids = list(connection.scalars(select(account.c.id).where(account.c.person_id == person_id)))
    if ids:
        connection.execute(
            update(account).where(account.c.id.in_(ids), account.c.ended_at.is_(None)).values(ended_at=ended_at)
        )
        connection.execute(delete(credential).where(credential.c.account_id.in_(ids)))
        connection.execute(delete(session).where(session.c.account_id.in_(ids)))


# ---------------------------------------------------------------- sessions


def begin_session(
    book: Book, account_id: str, token_sha256: str, *, password: str, at: datetime, until: datetime
) -> bool:
    """Let somebody in; False where the account was closed, or its password changed, since its hash was read."""
    with book.writing() as connection:
        connection.execute(delete(session).where(session.c.expires_at <= moments.stored(at)))
        now = select(credential.c.password).where(credential.c.account_id == account_id)
        if connection.scalar(now.with_for_update()) != password:
            return False
        values = {"account_id": account_id, "began_at": moments.stored(at), "expires_at": moments.stored(until)}
        add_row(connection, session, token_sha256=token_sha256, **values)
    return True


def whose(book: Book, token_sha256: str, *, at: datetime) -> Signed | None:
    """Whose session a token is of; None where it has ended. One look-up by key, for every page asks this."""
    asked = (
        select(account.c.id, account.c.role)
        .join_from(session, account, session.c.account_id == account.c.id)
        .where(
            session.c.token_sha256 == token_sha256,
            session.c.expires_at > moments.stored(at),
            account.c.ended_at.is_(None),
        )
    )
    with book.reading() as connection:
        row = connection.execute(asked).one_or_none()
    return None if row is None else Signed(row.id, Role(row.role))


def end_session(book: Book, token_sha256: str) -> None:
    """Sign one device out."""
    with book.writing() as connection:
        connection.execute(delete(session).where(session.c.token_sha256 == token_sha256))


def end_sessions(book: Book, account_id: str) -> int:
    """Sign somebody out everywhere; from how many devices.

    Raises
    ------
    NotFound
    """
    with book.writing() as connection:
        found(connection, account, account_id)
        return _end_sessions(connection, account_id)


def sessions(book: Book, *, at: datetime) -> Mapping[str, int]:
    """On how many devices each account is signed in."""
    asked = select(session.c.account_id, func.count()).where(session.c.expires_at > moments.stored(at))
    with book.reading() as connection:
        return {row[0]: row[1] for row in connection.execute(asked.group_by(session.c.account_id))}


# ---------------------------------------------------------------- within


@contextmanager
def _one_at_a_time(book: Book) -> Iterator[Connection]:
    with book.writing() as connection:
        insert_once(connection, fact, name=TURNS, value="")
        connection.execute(select(fact.c.name).where(fact.c.name == TURNS).with_for_update())
        yield connection


def _end_sessions(connection: Connection, account_id: str, *, keep: str = "") -> int:
    ended = delete(session).where(session.c.account_id == account_id, session.c.token_sha256 != keep)
    return connection.execute(ended).rowcount


def _open(book: Book, connection: Connection, account_id: str) -> AccountRow:
    found(connection, account, account_id)
    row = next(row for row in _all(book, connection) if row.id == account_id)
    if row.ended_at is not None:
        raise Conflict("This account was closed; open a new one")
    return row


def _keep_an_owner(book: Book, connection: Connection, leaving: AccountRow) -> None:
    others = [row for row in _all(book, connection) if row.id != leaving.id]
    if leaving.role is Role.OWNER and not any(row.role is Role.OWNER and row.ended_at is None for row in others):
        raise Conflict(
            "This is the only owner, and an office without an owner would be closed to everybody; add another first"
        )


def _all(book: Book, connection: Connection) -> list[AccountRow]:
    with_password = set(connection.scalars(select(credential.c.account_id)))
    rows = connection.execute(select(account).order_by(account.c.added_at, account.c.id)).all()
    known = people.within(book, connection, [row.person_id for row in rows])
    return [_row(row, known.get(row.person_id), row.id in with_password) for row in rows]


def _row(row: Row[Any], person: Person | None, has_password: bool) -> AccountRow:
    names = [contact.value for contact in person.contacts if contact.kind == SIGN_IN] if person else []
    return AccountRow(
        id=row.id,
        person_id=row.person_id,
        name=person.name if person else "",
        sign_in=names[0] if names else "",
        role=Role(row.role),
        revision=row.revision,
        added_at=moments.read(row.added_at),
        ended_at=None if row.ended_at is None else moments.read(row.ended_at),
        has_password=has_password,
    )


def named(rows: list[AccountRow], sign_in: str) -> AccountRow:
    """The open account of a sign-in name, among those listed.

    Raises
    ------
    NotFound
    """
    for row in rows:
        if row.ended_at is None and plain(row.sign_in) == plain(sign_in):
            return row
    raise NotFound(f"Nobody signs in as {sign_in[:60]}")
