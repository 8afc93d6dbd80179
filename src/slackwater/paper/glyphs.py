"""Which signs the fonts of the papers can show: an archive file may hold no text without a shape."""

from __future__ import annotations

import struct
import unicodedata
from functools import cache
from importlib.resources import files

FONTS = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
IN_PLACE = "\ufffd"
"""Stands for a sign that no font has; the data inside the file hold the sign itself."""
SEGMENTED, BY_DELTA = 12, 4


def showable(text: str) -> str:
    """A text with a mark in place of each sign that cannot be shown."""
    known = shown_signs()
    lost = [
        sign for sign in set(text) if ord(sign) not in known and unicodedata.category(sign) not in ("Cc", "Cf", "Zs")
    ]
    return text.translate(dict.fromkeys(map(ord, lost), IN_PLACE)) if lost else text


def all_shown(text: str) -> bool:
    """Whether every sign of a text has a shape."""
    return showable(text) is text


@cache
def shown_signs() -> frozenset[int]:
    """Code points that every font of the papers has a shape for."""
    fonts = files("slackwater.paper").joinpath("fonts")
    return frozenset.intersection(*(_signs_of(fonts.joinpath(name).read_bytes()) for name in FONTS))


def _signs_of(font: bytes) -> frozenset[int]:
    """Code points of a font's table of characters.

    References
    ----------
    ISO/IEC 14496-22:2019, Open Font Format, "cmap": subtables of format 12 and 4.
    """
    (tables,) = struct.unpack_from(">H", font, 4)
    records = (struct.unpack_from(">4sIII", font, 12 + 16 * number) for number in range(tables))
    start = next(offset for tag, _, offset, _ in records if tag == b"cmap")
    (count,) = struct.unpack_from(">H", font, start + 2)
    offsets = [start + struct.unpack_from(">HHI", font, start + 4 + 8 * number)[2] for number in range(count)]
    by_format = {struct.unpack_from(">H", font, offset)[0]: offset for offset in offsets}
    if SEGMENTED in by_format:
        at = by_format[SEGMENTED]
        (groups,) = struct.unpack_from(">I", font, at + 12)
        spans = (struct.unpack_from(">III", font, at + 16 + 12 * number)[:2] for number in range(groups))
        return frozenset(code for first, last in spans for code in range(first, last + 1))
    at = by_format[BY_DELTA]
    (twice,) = struct.unpack_from(">H", font, at + 6)
    lasts = struct.unpack_from(f">{twice // 2}H", font, at + 14)
    firsts = struct.unpack_from(f">{twice // 2}H", font, at + 16 + twice)
    return frozenset(
        code for first, last in zip(firsts, lasts, strict=True) if first != 0xFFFF for code in range(first, last + 1)
    )
