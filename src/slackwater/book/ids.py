"""Ids of records: UUIDs of version 7, made here or by a client, in the order of their time."""

from __future__ import annotations

import secrets
from datetime import datetime
from uuid import UUID

from slackwater.errors import BadInput


def new_id(at: datetime) -> str:
    """A new id, which sorts after those of earlier milliseconds.

    Parameters
    ----------
    at : datetime
        With its time zone.

    References
    ----------
    RFC 9562 (2024), Universally Unique IDentifiers, section 5.7.
    """
    millis = int(at.timestamp() * 1000) & ((1 << 48) - 1)
    value = millis << 80 | 0x7 << 76 | secrets.randbits(12) << 64 | 0b10 << 62 | secrets.randbits(62)
    return str(UUID(int=value))


def checked_id(text: str) -> str:
    """An id given from outside, in its usual form.

    Raises
    ------
    BadInput
        If it is no UUID.
    """
    try:
        return str(UUID(text))
    except (ValueError, AttributeError, TypeError):
        raise BadInput(
            f'"{str(text)[:60]}" is no id; an id is 32 digits of 0 to 9 and a to f in groups of 8-4-4-4-12'
        ) from None
