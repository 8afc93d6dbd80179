"""Taking out of a picture's file all that may tell where it was taken; the picture itself is not computed anew."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from contextlib import suppress

from PIL import ExifTags, Image

from slackwater.book.pictures import DAMAGE, opened
from slackwater.errors import BadInput

PNG_START = b"\x89PNG\r\n\x1a\n"
# What is kept, for the picture needs it to look right: everything else beside the picture goes, known or not.
JPEG_KEPT = {0xE0: b"JFIF\x00", 0xE2: b"ICC_PROFILE\x00", 0xEE: b"Adobe"}
PNG_DROPPED = {b"eXIf", b"tEXt", b"zTXt", b"iTXt"}
WEBP_DROPPED = {b"EXIF", b"XMP "}


def without_place(content: bytes) -> bytes:
    """The same picture without its place, camera and remarks; which way up it is and when it was taken are kept.

    Parameters
    ----------
    content : bytes
        JPEG, PNG or WebP.

    Raises
    ------
    BadInput
        If it is damaged, or no such picture.

    References
    ----------
    ITU-T T.81 (1992), annex B (JPEG markers). W3C, Portable Network Graphics, third edition, section 5. RFC 9649 (2024),
    WebP, section 2. CIPA DC-008 (2019), Exif, section 4.
    """
    with opened(content) as picture:
        kind, exif = picture.format, b""
        # Where it cannot be read, nothing of it is kept.
        with suppress(*DAMAGE):
            exif = _kept_exif(picture)
    try:
        if kind == "JPEG":
            return b"".join(_jpeg(content, exif))
        if kind == "PNG":
            return PNG_START + b"".join(_png(content, exif))
        return _webp(content, exif)
    except (struct.error, IndexError) as error:
        raise BadInput("The picture is damaged, and its place could not be taken out; take or send it again") from error


def _kept_exif(picture: Image.Image) -> bytes:
    """EXIF with the turn of the picture and its time, as bytes that begin with the TIFF header; empty where neither is known."""
    was, kept = picture.getexif(), Image.Exif()
    turn = was.get(ExifTags.Base.Orientation)
    taken = was.get_ifd(ExifTags.IFD.Exif).get(ExifTags.Base.DateTimeOriginal) or was.get(ExifTags.Base.DateTime)
    if isinstance(turn, int) and 1 <= turn <= 8:
        kept[ExifTags.Base.Orientation] = turn
    if isinstance(taken, str):
        kept[ExifTags.Base.DateTime] = taken
    return kept.tobytes().removeprefix(b"Exif\x00\x00") if len(kept) else b""


def _jpeg(content: bytes, exif: bytes) -> Iterator[bytes]:
    yield content[:2]
    if exif:
        body = b"Exif\x00\x00" + exif
        yield b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body
    at = 2
    while True:
        while content[at + 1] == 0xFF:
            at += 1
        marker = content[at + 1]
        if marker == 0xD9:
            # What some phones hang on behind the end, a film or a second picture, has a place of its own.
            yield content[at : at + 2]
            return
        (length,) = struct.unpack_from(">H", content, at + 2)
        end = at + 2 + length
        if end > len(content):
            raise IndexError
        if marker == 0xDA:
            end = _scan_end(content, end)
        beside = 0xE0 <= marker <= 0xEF or marker == 0xFE
        if not beside or content[at + 4 : end].startswith(JPEG_KEPT.get(marker, b"\x00never")):
            yield content[at:end]
        at = end


def _scan_end(content: bytes, at: int) -> int:
    """Where the packed picture data end: at the next marker that is neither a stuffed zero nor a restart."""
    while True:
        at = content.find(b"\xff", at)
        if at < 0:
            raise IndexError
        if content[at + 1] == 0 or 0xD0 <= content[at + 1] <= 0xD7:
            at += 2
        elif content[at + 1] == 0xFF:
            at += 1
        else:
            return at


def _png(content: bytes, exif: bytes) -> Iterator[bytes]:
    at = len(PNG_START)
    while True:
        (length,) = struct.unpack_from(">I", content, at)
        name, end = content[at + 4 : at + 8], at + 12 + length
        if len(name) < 4 or end > len(content):
            raise IndexError
        if name not in PNG_DROPPED:
            yield content[at:end]
        if name == b"IEND":
            return
        if name == b"IHDR" and exif:
            crc = zlib.crc32(b"eXIf" + exif)
            yield struct.pack(">I", len(exif)) + b"eXIf" + exif + struct.pack(">I", crc)
        at = end


def _webp(content: bytes, exif: bytes) -> bytes:
    chunks: list[bytes] = []
    at = 12
    while at + 8 <= len(content):
        name = content[at : at + 4]
        (length,) = struct.unpack_from("<I", content, at + 4)
        end = at + 8 + length + length % 2
        chunk = content[at:end]
        if name == b"VP8X":
            # Bits of the flags: 0x08 EXIF, 0x04 XMP; the others tell of colour profile, transparency and movement.
            chunk = chunk[:8] + bytes([chunk[8] & ~0x0C | (0x08 if exif else 0)]) + chunk[9:]
        if name not in WEBP_DROPPED:
            chunks.append(chunk)
        at = end
    if exif and chunks and chunks[0][:4] == b"VP8X":
        chunks.append(b"EXIF" + struct.pack("<I", len(exif)) + exif + b"\x00" * (len(exif) % 2))
    body = b"WEBP" + b"".join(chunks)
    return b"RIFF" + struct.pack("<I", len(body)) + body
