"""Scans from files: bytes of GLB, OBJ, STL or PLY to a mesh in metres, z up. The one file that knows the mesh reader."""

from __future__ import annotations

import io
import json
import struct
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
import trimesh
from scipy.spatial import ConvexHull, QhullError
from scipy.spatial.distance import pdist

from slackwater.errors import BadInput, OutOfRange, check_range
from slackwater.finding import Finding, Severity
from slackwater.layout import meshes
from slackwater.layout.pieces import MOST_TRIANGLES, checked, closed
from slackwater.layout.scene import Faces, Floats

FileFormat = Literal["glb", "obj", "stl", "ply"]

_Y_UP = frozenset({"glb", "obj"})
"""glTF says so; of OBJ it is common practice, no source. STL and PLY are taken z up."""
LENGTH_M = (0.01, 3.0)
"""Least and greatest length of a piece."""
_CM_FROM, _MM_FROM = 3.0, 100.0
"""A length without a unit is taken as metres below the first, as millimetres above the second."""
_MASS_AGREES = 0.25
"""Weighed and reckoned mass may differ by this share; common practice, no source."""


@dataclass(frozen=True, eq=False)
class ScanRead:
    """A mesh as read and scaled, and what is to be known of it."""

    vertices_m: Floats
    faces: Faces
    length_m: float
    """Greatest distance between two of its points."""
    findings: tuple[Finding, ...] = ()


def _glb_triangles(data: bytes) -> int:
    """Triangles that a GLB announces; 0 where that cannot be told."""
    try:
        (size,) = struct.unpack_from("<I", data, 12)
        document = json.loads(data[20 : 20 + size])
        counts = [
            document["accessors"][part["indices"]]["count"]
            for mesh in document.get("meshes", ())
            for part in mesh["primitives"]
            if "indices" in part
        ]
        return sum(int(count) for count in counts) // 3
    except (struct.error, ValueError, KeyError, IndexError, TypeError, AttributeError):
        return 0


def _announced(data: bytes, file_format: FileFormat) -> int:
    """Triangles that a file announces, found without reading it."""
    if file_format == "glb":
        return _glb_triangles(data)
    if file_format == "obj":
        return data.count(b"\nf ")
    if file_format == "stl":
        if len(data) >= 84 and len(data) == 84 + 50 * struct.unpack_from("<I", data, 80)[0]:
            return (len(data) - 84) // 50
        return data.count(b"endfacet")
    for line in data[:4096].split(b"end_header")[0].splitlines():
        words = line.split()
        if words[:2] == [b"element", b"face"] and words[2:3] and words[2].isdigit():
            return int(words[2])
    return 0


def _mesh_of(data: bytes, file_format: FileFormat) -> tuple[Floats, Faces]:
    if not data:
        raise BadInput("the scan is empty")
    announced = _announced(data, file_format)
    if announced > MOST_TRIANGLES:
        raise OutOfRange(
            f"the scan has {announced:,} triangles, expected at most {MOST_TRIANGLES:,}: thin it where it was made"
        )
    try:
        scene = trimesh.load_scene(io.BytesIO(data), file_type=file_format, process=False, skip_materials=True)
        mesh = scene.to_mesh()
        vertices, faces = np.array(mesh.vertices, dtype=np.float64), np.array(mesh.faces)
    # The reader raises whatever a broken file makes it trip over.
    except Exception as error:
        raise BadInput(
            f"the scan cannot be read as {file_format.upper()}: it is damaged, or of another kind"
        ) from error
    if not faces.size:
        raise BadInput("the scan is empty: it has no triangle")
    return vertices, faces


def _greatest_m(vertices: Floats) -> float:
    try:
        corners = vertices[ConvexHull(vertices).vertices]
    except QhullError as error:
        raise BadInput("the scan is flat: it has no volume") from error
    # Of a very round scan only some of the hull's corners: 2,000 of them miss less than a thousandth.
    return float(pdist(corners[:: max(1, len(corners) // 2000)]).max())


def _unit(greatest: float, file_format: FileFormat) -> tuple[float, str]:
    """What a length of one in the file is in metres, and the name of that unit."""
    if greatest <= _CM_FROM:
        return 1.0, "m"
    # The standard says metres; who does not keep to it writes millimetres.
    if greatest > _MM_FROM or file_format == "glb":
        return 0.001, "mm"
    return 0.01, "cm"


def read_scan(
    data: bytes,
    *,
    file_format: FileFormat,
    length_m: float | None = None,
    mass_kg: float | None = None,
    density_kg_m3: float | None = None,
) -> ScanRead:
    """A scan scaled to metres and turned z up.

    Parameters
    ----------
    data : bytes
        The file.
    file_format : str
        glb, obj, stl or ply.
    length_m : float or None
        Greatest distance between two points of the piece, measured [m, 0.01 to 3]; scales the scan whatever its unit.
    mass_kg, density_kg_m3 : float or None
        Mass, dry, and density. Without a length they scale the scan; with one they are held against it.

    Raises
    ------
    BadInput
        Where the file cannot be read or holds no solid piece.
    OutOfRange
        Where it has too many triangles, or is of a size that no piece has.
    """
    if file_format not in get_args(FileFormat):
        raise BadInput(f"a scan must be one of {', '.join(get_args(FileFormat))}, not {file_format}")
    vertices, faces = _mesh_of(data, file_format)
    findings: list[Finding] = []
    lost = np.asarray(~np.isfinite(vertices).all(axis=1))
    # Triangles of a damaged file may name corners that it does not have.
    placed = np.asarray(((faces >= 0) & (faces < len(vertices))).all(axis=1))
    placed[placed] = ~lost[faces[placed]].any(axis=1)
    faces, vertices = faces[placed], np.where(lost[:, None], 0.0, vertices)
    if not placed.all():
        findings.append(
            Finding(id="layout.scan_corners_lost", severity=Severity.NOTE, values={"triangles": int((~placed).sum())})
        )
    if not len(faces):
        raise BadInput("the scan is empty: no triangle of it has a place")
    used, again = np.unique(faces, return_inverse=True)
    vertices, faces = vertices[used], again.reshape(-1, 3).astype(np.int32)
    if file_format in _Y_UP:
        vertices = np.column_stack([vertices[:, 0], -vertices[:, 2], vertices[:, 1]])
    greatest = _greatest_m(vertices)
    if length_m is not None:
        check_range("length", length_m, *LENGTH_M, unit="m")
        scale = length_m / greatest
    elif mass_kg is not None and density_kg_m3 is not None:
        # Measured at a size of one, where all tolerances are at home.
        volume = meshes.signed_volume_m3(*closed(vertices / greatest, faces)[:2])
        scale = (mass_kg / density_kg_m3 / volume) ** (1 / 3) / greatest
    else:
        scale, unit = _unit(greatest, file_format)
        if file_format != "glb" or unit != "m":
            findings.append(
                Finding(
                    id="layout.scan_unit_guessed",
                    severity=Severity.CONDITION,
                    values={"unit": unit, "length_m": greatest * scale},
                )
            )
    found_m = greatest * scale
    if not LENGTH_M[0] * (1 - 1e-9) <= found_m <= LENGTH_M[1] * (1 + 1e-9):
        raise OutOfRange(
            f"the scan would be {found_m:.3g} m long, expected {LENGTH_M[0]:g} to {LENGTH_M[1]:g} m: "
            "measure its greatest length and give it"
        )
    vertices_m, faces = checked(vertices * scale, faces)
    if length_m is not None and mass_kg is not None and density_kg_m3 is not None:
        volume_l = 1000 * meshes.signed_volume_m3(*closed(vertices_m, faces)[:2])
        reckoned_kg = volume_l * density_kg_m3 / 1000
        if abs(reckoned_kg / mass_kg - 1) > _MASS_AGREES:
            findings.append(
                Finding(
                    id="layout.scan_mass_differs",
                    severity=Severity.CONDITION,
                    values={"mass_kg": mass_kg, "reckoned_kg": reckoned_kg},
                )
            )
    return ScanRead(vertices_m=vertices_m, faces=faces, length_m=found_m, findings=tuple(findings))
