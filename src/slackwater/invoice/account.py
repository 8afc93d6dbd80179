"""Bank accounts: whether a number can be one."""

from __future__ import annotations

import re

IBAN = re.compile(r"[A-Z]{2}[0-9]{2}[A-Z0-9]{11,30}")
BIC = re.compile(r"[A-Z0-9]{4}[A-Z]{2}[A-Z0-9]{2}(?:[A-Z0-9]{3})?")


def compact(text: str) -> str:
    """A number as it is kept: capitals, without the gaps that people write it with."""
    return re.sub(r"[\s.-]", "", text).upper()


def is_iban(text: str) -> bool:
    """Whether a number in its compact form is an IBAN: its form, and the check digits by mod 97.

    References
    ----------
    ISO 13616-1:2020, annex A; ISO 7064 MOD 97-10.
    """
    if not IBAN.fullmatch(text):
        return False
    turned = text[4:] + text[:4]
    return int("".join(str(int(sign, 36)) for sign in turned)) % 97 == 1


def is_bic(text: str) -> bool:
    """Whether a code has the form of a BIC (ISO 9362:2022): 8 or 11 signs."""
    return BIC.fullmatch(text) is not None
