"""Pictures for tests, made here."""

from __future__ import annotations

import io

import numpy as np
from PIL import ExifTags, Image

PLACE = "Exmouth Strand 17"


def picture(width: int = 64, height: int = 48) -> Image.Image:
    rng = np.random.default_rng(7)
    return Image.fromarray(rng.integers(0, 255, (height, width, 3), dtype=np.uint8))


def exif(*, turn: int = 1) -> Image.Exif:
    made = Image.Exif()
    made[ExifTags.Base.Make] = "Camera"
    made[ExifTags.Base.Orientation] = turn
    made[ExifTags.Base.ImageDescription] = PLACE
    made.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal] = "2027:02:10 08:05:00"
    made.get_ifd(ExifTags.IFD.GPSInfo).update({1: "N", 2: (50.0, 37.0, 12.0), 3: "W", 4: (3.0, 24.0, 0.0)})
    return made


XMP = f"<x:xmpmeta><exif:GPSLatitude>50,37.2N {PLACE}</exif:GPSLatitude></x:xmpmeta>".encode()


def encoded(kind: str, *, turn: int = 1, told: bool = False) -> bytes:
    """A picture as JPEG, PNG or WEBP; `told` puts a place into it in all the ways that a file can hold one."""
    out = io.BytesIO()
    extra = {"exif": exif(turn=turn)} if told or turn != 1 else {}
    if told and kind in ("JPEG", "WEBP"):
        extra["xmp"] = XMP
    if kind == "WEBP":
        extra["lossless"] = True
    picture().save(out, kind, **extra)
    return out.getvalue()


def jpeg() -> bytes:
    return encoded("JPEG")
