"""Pieces kept on disk by what they are made from: what is slow is done once, on this machine for all jobs."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from slackwater.errors import BadInput
from slackwater.layout.keeping import packed, unpacked
from slackwater.layout.scene import Faces, Floats, Kind, Look, Piece

MOST_KEPT = 2_000
"""Pieces; those not used for longest go first."""


class PieceCache:
    """A folder of finished pieces. It may be emptied at any time, and a folder that cannot be written is no error."""

    def __init__(self, folder: Path, *, most: int = MOST_KEPT) -> None:
        self._folder, self._most = folder, most

    def _path(self, key: str) -> Path:
        return self._folder / f"{key}.piece"

    def get(self, key: str) -> Piece | None:
        """The piece of that key; None where it is not kept. A damaged one is thrown away."""
        path = self._path(key)
        try:
            piece = unpacked(path.read_bytes())
            if piece.key != key:
                raise BadInput("what was kept of a piece is of another one")
        except BadInput:
            with contextlib.suppress(OSError):
                path.unlink()
            return None
        except OSError:
            return None
        with contextlib.suppress(OSError):
            os.utime(path)
        return piece

    def put(self, piece: Piece) -> None:
        """Keep a piece; whole or not at all, also where two processes keep the same one."""
        with contextlib.suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=self._folder, suffix=".part")
            try:
                with os.fdopen(handle, "wb") as file:
                    file.write(packed(piece))
                Path(name).replace(self._path(piece.key))
            except BaseException:
                Path(name).unlink(missing_ok=True)
                raise
            kept = sorted(self._folder.glob("*.piece"), key=lambda path: path.stat().st_mtime)
            for old in kept[: max(0, len(kept) - self._most)]:
                old.unlink()

    def _made_once(self, key: str, make: Callable[[], Piece]) -> Piece:
        piece = self.get(key)
        if piece is None:
            piece = make()
            self.put(piece)
        return piece

    def from_mesh(
        self,
        *,
        name: str,
        kind: Kind,
        look: Look,
        material: str,
        density_kg_m3: float,
        vertices_m: Floats,
        faces: Faces,
    ) -> Piece:
        """`pieces.piece_from_mesh`, done once."""
        # What makes a piece takes seconds to load; who finds all of them kept need not wait for it.
        from slackwater.layout import pieces

        vertices, triangles = pieces.checked(vertices_m, faces)
        made_from: dict[str, Any] = {
            "name": name,
            "kind": kind,
            "look": look,
            "material": material,
            "density_kg_m3": density_kg_m3,
            "vertices_m": vertices,
            "faces": triangles,
        }
        return self._made_once(pieces.mesh_key(**made_from), lambda: pieces.piece_from_mesh(**made_from))

    def stand_in(
        self,
        *,
        name: str,
        kind: Kind,
        look: Look,
        material: str,
        density_kg_m3: float,
        size_m: tuple[float, float, float] | None,
        mass_kg: float | None,
        seed: int,
    ) -> Piece:
        """`standin.stand_in`, done once."""
        from slackwater.layout import standin

        asked = standin.asked(
            name=name,
            kind=kind,
            look=look,
            material=material,
            density_kg_m3=density_kg_m3,
            size_m=size_m,
            mass_kg=mass_kg,
            seed=seed,
        )
        return self._made_once(asked.key, lambda: standin.made(asked))
