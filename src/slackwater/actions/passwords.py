"""Passwords: hashed by Argon2id, a few at a time, and made up where somebody would rather not think of one."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cached_property
from threading import BoundedSemaphore

from argon2 import PasswordHasher, Type
from argon2.exceptions import InvalidHashError, VerificationError

from slackwater.actions.settings import HashCost
from slackwater.errors import CannotRun
from slackwater.wording.render import say

AT_ONCE, MAY_WAIT = 2, 6
"""Hashes at once, and how many more may wait for them: each takes memory, and the threads that wait are those of pages."""
LEAST, MOST = 12, 256
"""Signs of a password. Length is asked for and nothing else, as NIST SP 800-63B, section 5.1.1.2 says; 12 is our own choice."""
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""Of passwords that are made up: none that look alike."""


class Passwords:
    """Hashes and compares passwords; to be called from a thread that may wait, never from the one that serves everybody.

    Parameters
    ----------
    cost : HashCost
        Of new hashes; older ones are still compared by their own.
    """

    def __init__(self, cost: HashCost) -> None:
        self._hasher = PasswordHasher(
            time_cost=cost.passes,
            memory_cost=cost.memory_kib,
            parallelism=cost.lanes,
            hash_len=32,
            salt_len=16,
            type=Type.ID,
        )
        self._door = BoundedSemaphore(AT_ONCE + MAY_WAIT)
        self._seats = BoundedSemaphore(AT_ONCE)

    @cached_property
    def _nobodys(self) -> str:
        """The hash of no password, made when it is first needed: an office that nobody signs in to never makes it."""
        return self._hasher.hash(secrets.token_hex(16))

    def hashed(self, password: str) -> str:
        """The hash of a password, with salt and cost in it.

        Raises
        ------
        CannotRun
            If too many are being hashed.
        """
        with self._seat():
            return self._hasher.hash(password)

    def fits(self, password: str, kept: str | None) -> bool:
        """Whether a password is the one of a hash; without a hash it takes as long and is not.

        Raises
        ------
        CannotRun
            If too many are being compared.
        """
        with self._seat():
            try:
                self._hasher.verify(self._nobodys if kept is None else kept, password)
            except (VerificationError, InvalidHashError):
                return False
            return kept is not None

    def is_old(self, kept: str) -> bool:
        """Whether a hash was made at another cost than that of today."""
        return self._hasher.check_needs_rehash(kept)

    @contextmanager
    def _seat(self) -> Iterator[None]:
        if not self._door.acquire(blocking=False):
            raise CannotRun(say("people.fault.crowd", {}))
        try:
            with self._seats:
                yield
        finally:
            self._door.release()


def made_up() -> str:
    """A password to be written down: four groups of five letters and digits, about 99 bits."""
    return "-".join("".join(secrets.choice(LETTERS) for _ in range(5)) for _ in range(4))


def fault(password: str, sign_in: str) -> str:
    """Id of the sentence why this is no password; empty where it is one."""
    if not LEAST <= len(password) <= MOST:
        return "length"
    plain = password.casefold()
    # What comes again in the word doubled, before its own length, is a shorter word over and over.
    repeats = plain in (plain + plain)[1:-1]
    if len(set(plain)) < 5 or repeats or "password" in plain or sign_in.casefold() in plain:
        return "easy"
    try:
        password.encode()
    except UnicodeEncodeError:
        return "sign"
    return ""
