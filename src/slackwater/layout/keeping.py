"""A finished piece as bytes and back, so that what was slow to find is found once."""

from __future__ import annotations

import io
import json
import zipfile
from hashlib import sha256

import numpy as np

from slackwater.errors import BadInput
from slackwater.layout.scene import Piece

_HEAD = b"slackwater piece 1\n"
_PLAIN = (
    "key",
    "name",
    "kind",
    "look",
    "material",
    "density_kg_m3",
    "volume_l",
    "volume_error_l",
    "hull_l",
    "stand_in",
)
_ARRAYS = ("vertices_m", "faces", "closed_vertices_m", "closed_faces", "centre_m", "inertia_kg_m2")


def packed(piece: Piece) -> bytes:
    """The piece as bytes that say of themselves whether they are whole."""
    body = io.BytesIO()
    plain = json.dumps({name: getattr(piece, name) for name in _PLAIN})
    arrays = {name: getattr(piece, name) for name in _ARRAYS}
    arrays |= {f"convex_{number}": part for number, part in enumerate(piece.convex_m)}
    np.savez_compressed(body, plain=np.frombuffer(plain.encode(), dtype=np.uint8), **arrays)
    return _HEAD + sha256(body.getvalue()).digest() + body.getvalue()


def unpacked(data: bytes) -> Piece:
    """The piece that was packed.

    Raises
    ------
    BadInput
        Where the bytes are damaged or of another make.
    """
    start = len(_HEAD) + 32
    body = data[start:]
    if not data.startswith(_HEAD) or sha256(body).digest() != data[len(_HEAD) : start]:
        raise BadInput("what was kept of a piece is damaged")
    try:
        with np.load(io.BytesIO(body), allow_pickle=False) as held:
            parts = sum(name.startswith("convex_") for name in held.files)
            return Piece(
                **json.loads(held["plain"].tobytes()),
                **{name: held[name] for name in _ARRAYS},
                convex_m=tuple(held[f"convex_{number}"] for number in range(parts)),
            )
    except (KeyError, TypeError, ValueError, zipfile.BadZipFile) as error:
        raise BadInput("what was kept of a piece is of another make") from error
