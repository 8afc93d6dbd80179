"""Whose paper it is: letterhead of the firm, and codes that lead to the page of a job."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from slackwater.paper.contrast import bears_text
from slackwater.paper.glyphs import showable

DATA, LOGO = "sender.json", "logo.png"
BLACK = "#000000"


@dataclass(frozen=True)
class Sender:
    """Who sends a paper.

    Attributes
    ----------
    name : str
        Empty: a paper without a letterhead.
    lines : tuple of str
        Of the address.
    accent : str
        "#rrggbb" or empty.
    logo : bytes
        PNG, or empty.
    page : str
        Address of the page of the job in the office; empty where nobody knows how to reach it.
    job : str
        Id of the job there; empty for a job that is in no book.
    client : str
        Whom the job is for; empty where the book knows nobody.
    """

    name: str = ""
    lines: tuple[str, ...] = ()
    phone: str = ""
    mail: str = ""
    accent: str = ""
    logo: bytes = b""
    page: str = ""
    job: str = ""
    client: str = ""

    @property
    def mark(self) -> str:
        """The same for senders whose papers are the same."""
        told = (self.name, *self.lines, self.phone, self.mail, self.accent, self.page, self.job, self.client)
        return hashlib.sha256(json.dumps(told).encode() + self.logo).hexdigest()[:32]


NOBODY = Sender()
"""Papers written without a book."""


def code_rows(text: str) -> list[str]:
    """The dark and light fields of a QR code, "1" and "0", a row each; without the quiet zone.

    Error correction Q: a quarter of a card may be wet or scratched.

    References
    ----------
    ISO/IEC 18004:2015.
    """
    import segno

    code = segno.make(text, error="q", micro=False, boost_error=False)
    return ["".join("1" if field else "0" for field in row) for row in code.matrix]


def sender_data(sender: Sender, cards: Iterable[str], reference: str) -> dict[str, Any]:
    """What the templates read of a sender.

    Parameters
    ----------
    cards : iterable of str
        Names of the cards of barrels and boxes.
    reference : str
        Of a job that is in no book.
    """
    whose = reference or sender.job
    texts = {card: sender.page or f"{whose} {card}" for card in cards}
    shown = {
        "name": sender.name,
        "lines": list(sender.lines),
        "phone": sender.phone,
        "mail": sender.mail,
        "accent": sender.accent or BLACK,
        "accent_text": sender.accent if sender.accent and bears_text(sender.accent) else BLACK,
        "logo": LOGO if sender.logo else "",
        "page": sender.page,
        "client": sender.client,
    }
    codes = {card: {"text": text, "rows": code_rows(text)} for card, text in texts.items()}
    return {**json.loads(showable(json.dumps(shown, ensure_ascii=False))), "codes": codes}


def bring_sender(workshop: Path, sender: Sender, cards: Iterable[str], reference: str) -> None:
    """Put what the templates read of a sender into their folder."""
    told = json.dumps(sender_data(sender, cards, reference), ensure_ascii=False)
    (workshop / DATA).write_text(told, encoding="utf-8", newline="\n")
    if sender.logo:
        (workshop / LOGO).write_bytes(sender.logo)
