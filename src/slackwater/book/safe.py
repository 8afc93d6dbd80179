"""The safe for personal data: seals it with a key where one is set, and keeps it readable where none is."""

from __future__ import annotations

import hashlib
from pathlib import Path

from cryptography.fernet import Fernet, InvalidToken

from slackwater.errors import CannotRun, Conflict, CorruptBook, NotFound

NO_KEY = ""
"""In place of a key's fingerprint, where something is not sealed."""


class Safe:
    """Seals texts with one key, or with none.

    Fernet (AES in CBC mode with an HMAC, a fresh random start each time) was taken before AES-GCM: it leaves no nonce to get
    wrong, and what it writes can be opened by any library of that name.

    Attributes
    ----------
    fingerprint : str
        Tells keys apart without giving them away; empty without a key.
    """

    def __init__(self, key: bytes | None) -> None:
        self._fernet = None if key is None else Fernet(key)
        self.fingerprint = NO_KEY if key is None else hashlib.sha256(b"slackwater key " + key).hexdigest()[:16]

    def seal(self, text: str) -> bytes:
        """A text as it is kept."""
        plain = text.encode("utf-8")
        return plain if self._fernet is None else self._fernet.encrypt(plain)

    def open(self, sealed: bytes, *, sealed_with: str) -> str:
        """A text as it was given.

        Raises
        ------
        CannotRun
            If it is sealed with another key, or a key is needed and none is set.
        CorruptBook
            If it was sealed with this key and has been changed since.
        """
        if sealed_with == NO_KEY:
            return sealed.decode("utf-8")
        self.check_key(sealed_with)
        assert self._fernet is not None
        try:
            return self._fernet.decrypt(sealed).decode("utf-8")
        except InvalidToken as error:
            raise CorruptBook(
                "A person's entry was sealed with this key but no longer opens: it is damaged. Bring it back from a backup"
            ) from error

    def check_key(self, sealed_with: str) -> None:
        """Refuse to go on with another key than the one that sealed.

        Raises
        ------
        CannotRun
        """
        if sealed_with in (NO_KEY, self.fingerprint):
            return
        if self._fernet is None:
            raise CannotRun(
                "Names and contacts in this book are sealed with a key, and none is set. "
                "Name the key file in SLACKWATER_KEY_FILE"
            )
        raise CannotRun(
            "Names and contacts in this book are sealed with another key than the one in SLACKWATER_KEY_FILE. "
            "Name the file of the key they were sealed with"
        )


def new_key_file(path: Path) -> None:
    """Write a new key to a file that only its owner may read.

    Raises
    ------
    Conflict, CannotRun
        If the file is there, or cannot be written.
    """
    try:
        path.touch(mode=0o600, exist_ok=False)
        path.write_bytes(Fernet.generate_key() + b"\n")
    except FileExistsError as error:
        raise Conflict(
            f"{path} exists and is left as it is; a key written over would lock its book for good"
        ) from error
    except OSError as error:
        raise CannotRun(f"{path} cannot be written: {error.strerror}") from error


def read_key_file(path: Path) -> bytes:
    """The key in a file.

    Raises
    ------
    NotFound, CannotRun
        If there is no such file, or it holds no key.
    """
    try:
        key = path.read_bytes().strip()
        Fernet(key)
    except FileNotFoundError as error:
        raise NotFound(f"{path}: there is no such key file; look at SLACKWATER_KEY_FILE") from error
    except OSError as error:
        raise CannotRun(f"{path} cannot be read: {error.strerror}") from error
    except ValueError as error:
        raise CannotRun(f"{path} holds no key; one is made by `slackwater book key FILE`") from error
    return key
