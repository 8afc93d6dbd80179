"""Moments as the book keeps them: UTC text of fixed width, so that both databases sort them alike."""

from __future__ import annotations

from datetime import UTC, datetime

from slackwater.errors import BadInput


def stored(at: datetime) -> str:
    """A moment as text, such as ``2027-02-10T08:05:00.000000Z``.

    Raises
    ------
    BadInput
        If it carries no time zone: nobody could say later when it was.
    """
    if at.tzinfo is None:
        raise BadInput(f"{at.isoformat()} carries no time zone; give one, such as {at.isoformat()}+01:00")
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def read(text: str) -> datetime:
    """The moment that a stored text means, in UTC."""
    return datetime.fromisoformat(text)


def utc_now() -> datetime:
    """The time of this machine, in UTC."""
    return datetime.now(UTC)
