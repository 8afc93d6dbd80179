"""What a user does with people who may come in: sign in and out, add, change roles, end sessions, and read the trail."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from functools import partial

from slackwater.actions import passwords
from slackwater.actions.entering import LONGEST_NAME, Entered, Unusable
from slackwater.actions.office import Desk
from slackwater.book import accounts, attempts, trail
from slackwater.book.accounts import AccountRow as AccountRow
from slackwater.book.accounts import Role as Role
from slackwater.book.accounts import Signed as Signed
from slackwater.book.trail import Deed, Entry
from slackwater.errors import BadInput, Conflict, SlackwaterError
from slackwater.wording.render import say

DAY = timedelta(hours=16)
"""How long a session lasts: the longest day on site with its drive, so that nobody has to type with wet hands."""
FREE = {"name": 5, "address": 20}
"""Failed attempts without a wait; behind one address there may be a whole crew."""
LONGEST_PATH = 300
LONGEST_WAIT_S = 900
"""Whoever guesses on gets 96 guesses a day; an owner who is held back by them waits a quarter of an hour, never for ever."""
HERE = ("127.0.0.1", "::1")


class NotLetIn(SlackwaterError):
    """Name and password do not fit, or it is too early to try again."""

    def __init__(self, sentence: str, *, wait_s: int = 0) -> None:
        super().__init__(sentence)
        self.wait_s = wait_s


@dataclass(frozen=True)
class Asker:
    """Who asks for something.

    Attributes
    ----------
    role : Role or None
        None for somebody who is not signed in.
    account_id : str
        Empty where nobody is signed in, or the office has no accounts and whoever sits at its machine is its owner.
    token_sha256 : str
        Of the session.
    """

    role: Role | None
    account_id: str = ""
    token_sha256: str = ""

    @property
    def is_owner(self) -> bool:
        """Whether prices, people and settings are shown."""
        return self.role is Role.OWNER


NOBODY = Asker(None)
ALONE = Asker(Role.OWNER)
"""Whoever sits at the machine of an office without accounts."""


def sha256(token: str) -> str:
    """A token as the book keeps it; a hash without salt is enough, for nobody can guess 256 random bits."""
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def wait_s(failed: int, *, free: int) -> int:
    """Seconds until the next attempt, after so many that failed: none for the first, then double each time, up to a bound."""
    return 0 if failed < free else min(LONGEST_WAIT_S, 2 ** min(failed - free + 1, 30))


def _key(kind: str, told: str) -> str:
    # Hashed, so that no list of addresses and of names that were tried lies in the book in the open.
    return f"{kind}:{hashlib.sha256(told.encode('utf-8', 'surrogatepass')).hexdigest()}"


def _keys(sign_in: str, address: str) -> tuple[str, str]:
    """The keys of a name and of an address; at the machine itself a name has one of its own, which nobody else can use up."""
    where = "here" if address in HERE else "net"
    return _key(f"name {where}", accounts.plain(sign_in)), _key("address", address)


def any_account(office: Desk) -> bool:
    """Whether the office has accounts; without one it is open to its own machine only."""
    return accounts.any_account(office.book)


def has_owner(office: Desk) -> bool:
    """Whether an owner can sign in."""
    return accounts.has_owner(office.book)


def asker_of(office: Desk, token: str) -> Asker:
    """Who comes with a token."""
    mark = sha256(token)
    signed = accounts.whose(office.book, mark, at=office.clock())
    return NOBODY if signed is None else Asker(signed.role, signed.account_id, mark)


def sign_in(office: Desk, typed: Mapping[str, str], *, address: str) -> str:
    """The token of a new session.

    Parameters
    ----------
    address : str
        From where.

    Raises
    ------
    NotLetIn
        If name and password do not fit: nobody is told which; or if it is too early after failed attempts.
    CannotRun
        If too many sign in at once.
    """
    name, password = typed.get("sign_in", "")[:LONGEST_NAME], typed.get("password", "")[: passwords.MOST + 1]
    by_name, by_address = _keys(name, address)
    waits = {by_name: partial(wait_s, free=FREE["name"]), by_address: partial(wait_s, free=FREE["address"])}
    at = office.clock()
    left_s = attempts.begin(office.book, waits, at=at)
    if left_s:
        # Not noted in the trail: whoever hammers at the door would fill it. The failures before the wait stand there.
        raise NotLetIn(say("people.fault.wait", {"wait": in_words(left_s)}), wait_s=left_s)
    found = accounts.called(office.book, name)
    kept = found[1] if found else None
    if not office.passwords.fits(password, kept) or found is None or kept is None:
        trail.note(office.book, Deed.FAILED, at=at, about=found[0].id if found else "")
        raise NotLetIn(say("people.fault.no_fit", {}))
    row, token = found[0], secrets.token_urlsafe(32)
    if office.passwords.is_old(kept):
        kept = office.passwords.hashed(password)
        accounts.set_password(office.book, row.id, kept, at=at)
    if not accounts.begin_session(office.book, row.id, sha256(token), password=kept, at=at, until=at + DAY):
        raise NotLetIn(say("people.fault.no_fit", {}))
    attempts.went_well(office.book, forget=by_name, halve=by_address)
    trail.note(office.book, Deed.SIGNED_IN, at=at, by=row.id)
    return token


def in_words(seconds: int) -> str:
    """A wait as people say it."""
    if seconds < 60:
        return say("people.wait.seconds", {"count": str(seconds)})
    return say("people.wait.minutes", {"count": str(-(-seconds // 60))})


def sign_out(office: Desk, asker: Asker) -> None:
    """End the session of this device."""
    accounts.end_session(office.book, asker.token_sha256)
    trail.note(office.book, Deed.SIGNED_OUT, at=office.clock(), by=asker.account_id)


# ---------------------------------------------------------------- people


@dataclass(frozen=True)
class Member:
    """Somebody who may come in, and on how many devices they are signed in."""

    row: AccountRow
    devices: int


def members(office: Desk) -> list[Member]:
    """Everybody whose account is open, in the order of entry."""
    signed = accounts.sessions(office.book, at=office.clock())
    return [Member(row, signed.get(row.id, 0)) for row in accounts.listed(office.book) if row.ended_at is None]


def member(office: Desk, account_id: str) -> AccountRow:
    """Somebody's account.

    Raises
    ------
    NotFound
    """
    return accounts.get(office.book, account_id)


def called(office: Desk, sign_in: str) -> AccountRow:
    """The account of a sign-in name.

    Raises
    ------
    NotFound
    """
    return accounts.named(accounts.listed(office.book), sign_in)


def add(office: Desk, typed: Mapping[str, str], *, by: str) -> tuple[AccountRow, str]:
    """Let somebody in from now on; their account, and the password where it was made up here.

    Raises
    ------
    Unusable
        If a field cannot be used.
    """
    entered = Entered(typed)
    name, sign_in = entered.needed("name"), entered.needed("sign_in", most=100)
    role = entered.one_of("role", frozenset(Role))
    password, made = _new_password(entered, sign_in)
    entered.done()
    hashed = office.passwords.hashed(password)
    try:
        row = accounts.add(
            office.book, name=name, sign_in=sign_in, role=Role(role), password=hashed, at=office.clock(), by=by
        )
    except Conflict as error:
        raise Unusable({"sign_in" if "choose another" in str(error) else "role": str(error)}) from None
    trail.note(office.book, Deed.ACCOUNT_ADDED, at=office.clock(), by=by, about=row.id, note=role)
    return row, password if made else ""


def _new_password(entered: Entered, sign_in: str) -> tuple[str, bool]:
    """The password of a form, and whether it was made up because none was typed."""
    password = entered.typed.get("new_password", "")
    if not password:
        return passwords.made_up(), True
    if why := passwords.fault(password, sign_in):
        entered.faults["new_password"] = say(
            f"people.fault.{why}", {"least": str(passwords.LEAST), "most": str(passwords.MOST)}
        )
    return password, False


def set_role(office: Desk, account_id: str, role: str, *, by: str) -> None:
    """Give somebody another role; they sign in anew.

    Raises
    ------
    NotFound, BadInput, Conflict
    """
    if role not in frozenset(Role):
        raise BadInput(say("records.fault.choose", {}))
    accounts.set_role(office.book, account_id, Role(role))
    trail.note(office.book, Deed.ROLE_CHANGED, at=office.clock(), by=by, about=account_id, note=role)


def end_sessions(office: Desk, account_id: str, *, by: str) -> int:
    """Sign somebody out everywhere; from how many devices.

    Raises
    ------
    NotFound
    """
    count = accounts.end_sessions(office.book, account_id)
    trail.note(office.book, Deed.SESSIONS_ENDED, at=office.clock(), by=by, about=account_id)
    return count


def close(office: Desk, account_id: str, *, by: str) -> None:
    """Close somebody's account for good.

    Raises
    ------
    NotFound, Conflict
    """
    accounts.close(office.book, account_id, at=office.clock())
    trail.note(office.book, Deed.ACCOUNT_CLOSED, at=office.clock(), by=by, about=account_id)


def set_password(office: Desk, account_id: str, typed: Mapping[str, str], *, by: str) -> str:
    """Give somebody else a new password; they sign in anew, at once. The password where it was made up here.

    Raises
    ------
    NotFound, Unusable, Conflict
    """
    row, entered = member(office, account_id), Entered(typed)
    password, made = _new_password(entered, row.sign_in)
    entered.done()
    accounts.set_password(office.book, account_id, office.passwords.hashed(password), at=office.clock())
    attempts.forget(office.book, [_keys(row.sign_in, address)[0] for address in (*HERE, "")])
    trail.note(office.book, Deed.PASSWORD_CHANGED, at=office.clock(), by=by, about=account_id)
    return password if made else ""


def change_own_password(office: Desk, asker: Asker, typed: Mapping[str, str], *, address: str) -> None:
    """Change one's own password; one's other devices sign in anew.

    Raises
    ------
    Unusable
        If the present one does not fit, or the new one is none.
    """
    row, entered = member(office, asker.account_id), Entered(typed)
    by_name, by_address = _keys(f"own {row.id}", address)
    waits = {by_name: partial(wait_s, free=FREE["name"])}
    if left_s := attempts.begin(office.book, waits, at=office.clock()):
        raise Unusable({"password": say("people.fault.wait", {"wait": in_words(left_s)})})
    present = typed.get("password", "")[: passwords.MOST + 1]
    if not office.passwords.fits(present, accounts.hash_of(office.book, row.id)):
        raise Unusable({"password": say("people.fault.present", {})})
    attempts.went_well(office.book, forget=by_name, halve=by_address)
    if not typed.get("new_password", ""):
        entered.fault("new_password", "empty")
    password, _ = _new_password(entered, row.sign_in)
    entered.done()
    hashed = office.passwords.hashed(password)
    accounts.set_password(office.book, row.id, hashed, at=office.clock(), keep=asker.token_sha256)
    trail.note(office.book, Deed.PASSWORD_CHANGED, at=office.clock(), by=asker.account_id, about=asker.account_id)


# ---------------------------------------------------------------- the trail


def note_change(office: Desk, asker: Asker, path: str) -> None:
    """Note that somebody with an account changed something, by the address to which it was sent."""
    trail.note(office.book, Deed.CHANGED, at=office.clock(), by=asker.account_id, note=path[:LONGEST_PATH])


@dataclass(frozen=True)
class Told:
    """An entry of the trail with the names of who did it and to whom, where they are those of people who come in."""

    entry: Entry
    by: str
    about: str


def told(office: Desk, *, before: str | None = None, limit: int = 100) -> list[Told]:
    """The trail, the newest first."""
    names = {row.id: row.name or row.sign_in or say("people.page.erased", {}) for row in accounts.listed(office.book)}
    return [
        Told(entry, names.get(entry.by, ""), names.get(entry.about, entry.about))
        for entry in trail.listed(office.book, before=before, limit=limit)
    ]
