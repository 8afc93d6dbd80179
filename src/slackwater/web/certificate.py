"""The certificate of the office: read before the door opens, so that what is wrong with it is told as a sentence."""

from __future__ import annotations

import ssl
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from cryptography import x509
from cryptography.x509 import DNSName, IPAddress, SubjectAlternativeName

from slackwater.errors import CannotRun
from slackwater.wording.render import say


@dataclass(frozen=True)
class Certificate:
    """A certificate with its key, which fits.

    Attributes
    ----------
    file, key : Path
        PEM; behind the certificate may stand that of whoever signed it.
    names : tuple of str
        Names and addresses that it is good for, as they stand in a Host header.
    """

    file: Path
    key: Path
    names: tuple[str, ...]


def read_certificate(file: Path, key: Path, *, at: datetime) -> Certificate:
    """A certificate and its key, if a browser could take them.

    Parameters
    ----------
    at : datetime
        Now.

    Raises
    ------
    CannotRun
        If a file cannot be read, the two do not fit, the key is locked, the certificate is over or names no machine.
    """
    for one in (file, key):
        try:
            one.read_bytes()
        except OSError as error:
            raise CannotRun(say("people.serve.no_file", {"file": str(one), "why": error.strerror or ""})) from error
    _check_pair(file, key)
    found = x509.load_pem_x509_certificate(file.read_bytes())
    if found.not_valid_after_utc <= at:
        until = f"{found.not_valid_after_utc:%d %b %Y}"
        raise CannotRun(say("people.serve.over", {"certificate": str(file), "day": until}))
    try:
        told = found.extensions.get_extension_for_class(SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        told = SubjectAlternativeName([])
    addresses = [str(one) for one in told.get_values_for_type(IPAddress)]
    names = [one.lower() for one in told.get_values_for_type(DNSName) if "*" not in one]
    names += [f"[{one}]" if ":" in one else one for one in addresses]
    if not names:
        raise CannotRun(say("people.serve.no_names", {"certificate": str(file)}))
    return Certificate(file, key, tuple(names))


class _Locked(Exception):
    """A key asks for its password."""


def _check_pair(file: Path, key: Path) -> None:
    def asked() -> str:
        raise _Locked

    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(file, key, asked)
    except _Locked:
        raise CannotRun(say("people.serve.locked_key", {"key": str(key)})) from None
    except (ssl.SSLError, ValueError) as error:
        why = getattr(error, "reason", None) or str(error) or "no PEM"
        raise CannotRun(
            say("people.serve.no_pair", {"certificate": str(file), "key": str(key), "why": str(why)})
        ) from error
