"""Looking at a picture without trusting it: kind, size, place, a thumbnail."""

from __future__ import annotations

import io
import struct
import warnings
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from slackwater.errors import BadInput

LARGEST_BYTES = 25_000_000
LARGEST_PIXELS = 60_000_000
"""A phone takes 12 to 50 million; a picture of one colour can claim far more than memory holds."""
THUMBNAIL_PX = 480
KINDS = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}
"""What a browser shows and nothing runs in; an SVG can hold script."""

LARGEST_LOGO_BYTES = 5_000_000
LOGO_PX = (1200, 480)
"""As large as paper shows it sharply: 60 by 24 mm at 500 dots an inch."""

DAMAGE = (OSError, SyntaxError, ValueError, EOFError, TypeError, LookupError, struct.error, zlib.error)
"""What reading a damaged picture raises, found by changing bytes of sound ones."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What a picture is: upright width and height in pixels, and whether it tells where it was taken."""

    media_type: str
    width_px: int
    height_px: int
    has_place: bool
    thumbnail: bytes


def look_at(content: bytes) -> Seen:
    """Look at a picture and make its thumbnail.

    Parameters
    ----------
    content : bytes
        JPEG, PNG or WebP.

    Returns
    -------
    Seen
        With a thumbnail as JPEG, upright, its longer side at most `THUMBNAIL_PX`.

    Raises
    ------
    BadInput
        If it is too large, damaged, or no such picture.
    """
    if len(content) > LARGEST_BYTES:
        raise BadInput(f"The picture has {len(content) / 1e6:.0f} MB, expected at most {LARGEST_BYTES / 1e6:.0f} MB")
    with opened(content) as picture:
        place = has_place(picture)
        # Lets a JPEG be decoded at a fraction of its size; other kinds are held by the limit alone.
        picture.draft("RGB", (2 * THUMBNAIL_PX, 2 * THUMBNAIL_PX))
        width, height = picture.size if picture.format != "JPEG" else _full_size(content)
        upright = ImageOps.exif_transpose(picture)
        turned = (upright.width > upright.height) != (picture.width > picture.height)
        upright.thumbnail((THUMBNAIL_PX, THUMBNAIL_PX))
        out = io.BytesIO()
        _on_white(upright).save(out, "JPEG", quality=80)
        return Seen(
            media_type=KINDS[str(picture.format)],
            width_px=height if turned else width,
            height_px=width if turned else height,
            has_place=place,
            thumbnail=out.getvalue(),
        )


def logo_of(content: bytes) -> bytes:
    """A picture made anew as a logo: PNG, upright, no larger than paper shows, nothing beside the picture in it.

    Parameters
    ----------
    content : bytes
        JPEG, PNG or WebP.

    Raises
    ------
    BadInput
        If it is too large, damaged, or no such picture.
    """
    if len(content) > LARGEST_LOGO_BYTES:
        raise BadInput(
            f"The picture has {len(content) / 1e6:.0f} MB, expected at most {LARGEST_LOGO_BYTES / 1e6:.0f} MB; make it smaller"
        )
    if b"<svg" in content[:4096].lower():
        raise BadInput(
            "A drawing as SVG is not taken, for it can hold programs and addresses. Save it as PNG, 1200 pixels wide or more"
        )
    with opened(content) as picture:
        upright = ImageOps.exif_transpose(picture).convert("RGBA")
        upright.thumbnail(LOGO_PX)
        out = io.BytesIO()
        upright.save(out, "PNG", optimize=True)
        return out.getvalue()


@contextmanager
def opened(content: bytes) -> Iterator[Image.Image]:
    """A picture of a known kind and a bearable size; faults while it is in use are told as sentences.

    Raises
    ------
    BadInput
    """
    try:
        # Warnings are of odd EXIF, which hurts no picture, and of a size above our own limit below.
        with warnings.catch_warnings(action="ignore"), Image.open(io.BytesIO(content), formats=list(KINDS)) as picture:
            if picture.width * picture.height > LARGEST_PIXELS:
                raise BadInput(
                    f"The picture has {picture.width} x {picture.height} pixels, more than {LARGEST_PIXELS // 10**6} million in "
                    "all; make it smaller"
                )
            yield picture
    except UnidentifiedImageError:
        raise BadInput(
            "This is no picture that can be kept; expected JPEG, PNG or WebP (on an iPhone: Settings, Camera, Formats, Most "
            "Compatible)"
        ) from None
    except Image.DecompressionBombError:
        raise BadInput(
            f"The picture has far more than {LARGEST_PIXELS // 10**6} million pixels; make it smaller"
        ) from None
    except DAMAGE as error:
        raise BadInput(f"The picture is damaged and cannot be shown ({error}); take or send it again") from error


def has_place(picture: Image.Image) -> bool:
    """Whether a picture tells where it was taken, as far as EXIF and XMP say."""
    told = picture.info.get("xmp") or picture.info.get("XML:com.adobe.xmp") or b""
    text = told if isinstance(told, bytes) else str(told).encode("utf-8", errors="replace")
    return bool(picture.getexif().get_ifd(ExifTags.IFD.GPSInfo)) or b"GPSL" in text


def _full_size(content: bytes) -> tuple[int, int]:
    with opened(content) as picture:
        return picture.size


def _on_white(picture: Image.Image) -> Image.Image:
    if picture.mode == "RGB":
        return picture
    clear = picture.convert("RGBA")
    ground = Image.new("RGBA", clear.size, "white")
    ground.alpha_composite(clear)
    return ground.convert("RGB")
