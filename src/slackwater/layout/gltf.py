"""A layout as a scene file, binary glTF 2.0, and back.

In the file y is up, as the standard says; inside z is: the turn is made here and nowhere else. What glTF has no word
for stands in ``extras`` under one key with a version number. The bed stands there twice: as a mesh, which any viewer
shows, and as a grid, which is what is read back.

References
----------
glTF 2.0 specification, Khronos Group 2017, ISO/IEC 12113:2022.
"""

from __future__ import annotations

import base64
import binascii
import json
import struct
import zlib
from collections.abc import Iterator, Mapping, Sequence
from math import isfinite
from typing import Any, Literal, cast

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from slackwater.errors import BadInput
from slackwater.layout.scene import (
    Bay,
    Bed,
    Cap,
    Faces,
    Floats,
    Glass,
    Joint,
    Layout,
    Piece,
    Placement,
    Retainer,
    rotation,
)

KEY = "slackwater"
VERSION = 1
"""Of what stands under the key; raised when an older program could misread it."""
MOST_BYTES = 512 * 1024 * 1024
"""A larger file is refused before it is looked at."""
MOST_NUMBERS = 50_000_000
"""Numbers that one packed array may hold: a scan of five million triangles has fewer."""

_MAGIC, _JSON, _BIN = 0x46546C67, 0x4E4F534A, 0x004E4942
_FLOAT, _UINT = 5126, 5125
_VERTEX, _INDEX = 34962, 34963
_COLOURS: Mapping[str, tuple[float, float, float, float]] = {
    "soil": (0.16, 0.12, 0.09, 1.0),
    "stone": (0.42, 0.42, 0.40, 1.0),
    "wood": (0.36, 0.24, 0.15, 1.0),
}


# ---------------------------------------------------------------- out


class _Writer:
    """Grows the binary chunk and the lists of the JSON chunk."""

    def __init__(self) -> None:
        self.binary = bytearray()
        self.views: list[dict[str, Any]] = []
        self.accessors: list[dict[str, Any]] = []
        self.meshes: list[dict[str, Any]] = []
        self.nodes: list[dict[str, Any]] = []

    def _view(self, data: bytes, target: int) -> int:
        self.binary += b"\0" * (-len(self.binary) % 4)
        self.views.append({"buffer": 0, "byteOffset": len(self.binary), "byteLength": len(data), "target": target})
        self.binary += data
        return len(self.views) - 1

    def mesh(self, name: str, vertices_m: Floats, faces: Faces, material: int, extras: Mapping[str, Any]) -> int:
        """A mesh of triangles, z up as inside; its number."""
        points = _up_in_file(vertices_m).astype("<f4")
        indices = np.ascontiguousarray(faces, dtype="<u4")
        at = len(self.accessors)
        self.accessors += [
            {
                "bufferView": self._view(points.tobytes(), _VERTEX),
                "componentType": _FLOAT,
                "count": len(points),
                "type": "VEC3",
                "min": [float(value) for value in points.min(axis=0)],
                "max": [float(value) for value in points.max(axis=0)],
            },
            {
                "bufferView": self._view(indices.tobytes(), _INDEX),
                "componentType": _UINT,
                "count": int(indices.size),
                "type": "SCALAR",
            },
        ]
        primitive = {"attributes": {"POSITION": at}, "indices": at + 1, "material": material}
        self.meshes.append({"name": name, "primitives": [primitive], "extras": {KEY: {"version": VERSION, **extras}}})
        return len(self.meshes) - 1


def _up_in_file(points: Floats) -> Floats:
    """From z up to y up: x stays, y is the old z, z is the old y the other way."""
    return np.stack([points[:, 0], points[:, 2], -points[:, 1]], axis=1)


def _up_inside(points: Floats) -> Floats:
    return np.stack([points[:, 0], -points[:, 2], points[:, 1]], axis=1)


def _packed(values: NDArray[np.float64] | NDArray[np.int32]) -> dict[str, Any]:
    """An array so that every bit comes back, in a text that other programs carry along."""
    kind = "<i4" if values.dtype.kind == "i" else "<f8"
    data = np.ascontiguousarray(values, dtype=kind).tobytes()
    return {
        "kind": kind,
        "shape": list(values.shape),
        "zlib": base64.b64encode(zlib.compress(data, 6)).decode("ascii"),
    }


def bed_mesh(bed: Bed) -> tuple[Floats, Faces]:
    """The surface of a bed as triangles: each cell is cut from its node of least x and y to that of greatest.

    Returns
    -------
    corners, faces
        Corners [n, 3] in metres, one for each node, rows of one y after the other; faces look up.
    """
    rows, columns = bed.top_m.shape
    x, y = np.meshgrid(bed.x_m, bed.y_m)
    corners = np.stack([x.ravel(), y.ravel(), bed.top_m.ravel()], axis=1)
    j, i = np.meshgrid(np.arange(rows - 1), np.arange(columns - 1), indexing="ij")
    low = (j * columns + i).ravel()
    right, rear, far = low + 1, low + columns, low + columns + 1
    faces = np.concatenate([np.stack([low, right, far], axis=1), np.stack([low, far, rear], axis=1)])
    return corners, faces.astype(np.int32)


def to_glb(layout: Layout) -> bytes:
    """A layout as a binary glTF 2.0 file: a node for the bed and for each placement, a mesh for each piece once."""
    writer = _Writer()
    materials = list(_COLOURS)
    corners, faces = bed_mesh(layout.bed)
    bed = writer.mesh("bed", corners, faces, materials.index("soil"), {"part": "bed"})
    writer.nodes.append({"name": "bed", "mesh": bed, "extras": {KEY: {"version": VERSION, "part": "bed"}}})
    placed = {placement.piece for placement in layout.placements}
    meshes: dict[str, int] = {}
    on_hand: list[int] = []
    for key, piece in layout.pieces.items():
        meshes[key] = writer.mesh(
            piece.name, piece.vertices_m, piece.faces, materials.index(piece.kind), _told_piece(key, piece)
        )
        if key not in placed:
            on_hand.append(meshes[key])
    for placement in layout.placements:
        x, y, z = placement.position_m
        writer.nodes.append(
            {
                "name": f"{placement.number} {layout.pieces[placement.piece].name}",
                "mesh": meshes[placement.piece],
                "translation": [x, z, -y],
                "rotation": _turn_in_file(placement.turn),
                "extras": {
                    KEY: {
                        "version": VERSION,
                        "part": "piece",
                        "number": placement.number,
                        "locked": placement.locked,
                    }
                },
            }
        )
    document = {
        "asset": {"version": "2.0", "generator": KEY},
        "scene": 0,
        "scenes": [
            {"nodes": list(range(len(writer.nodes))), "extras": {KEY: {"version": VERSION, **_told_scene(layout)}}}
        ],
        "nodes": writer.nodes,
        "meshes": writer.meshes,
        "materials": [
            {
                "name": name,
                "pbrMetallicRoughness": {"baseColorFactor": colour, "metallicFactor": 0.0, "roughnessFactor": 0.9},
                "doubleSided": name == "soil",
            }
            for name, colour in _COLOURS.items()
        ],
        "accessors": writer.accessors,
        "bufferViews": writer.views,
        "buffers": [{"byteLength": len(writer.binary)}],
    }
    told = json.dumps(document, allow_nan=False, separators=(",", ":")).encode()
    told += b" " * (-len(told) % 4)
    binary = bytes(writer.binary) + b"\0" * (-len(writer.binary) % 4)
    whole = 12 + 8 + len(told) + 8 + len(binary)
    return b"".join(
        (
            struct.pack("<III", _MAGIC, 2, whole),
            struct.pack("<II", len(told), _JSON),
            told,
            struct.pack("<II", len(binary), _BIN),
            binary,
        )
    )


def _turn_in_file(turn: tuple[float, float, float, float]) -> list[float]:
    w, x, y, z = turn
    size = (w * w + x * x + y * y + z * z) ** 0.5
    # Readers want a unit quaternion; one that is unit but for its last bits is written as it is, so that it comes back.
    if abs(size - 1) > 1e-6:
        rotation(turn)
        w, x, y, z = (part / size for part in turn)
    return [x, z, -y, w]


def _told_scene(layout: Layout) -> dict[str, Any]:
    bed = layout.bed
    return {
        "glass": layout.glass.model_dump(mode="json"),
        "bed": {
            "x_m": _packed(bed.x_m),
            "y_m": _packed(bed.y_m),
            "top_m": _packed(bed.top_m),
            "base_m": _packed(bed.base_m),
            "soil": bed.soil,
            "base": bed.base,
            "repose_deg": bed.repose_deg,
            "bays": [{"outline_m": [list(at) for at in bay.outline_m], "material": bay.material} for bay in bed.bays],
            "retainers": [{"line_m": [list(at) for at in item.line_m], "top_m": item.top_m} for item in bed.retainers],
            "cap": None
            if bed.cap is None
            else {"material": bed.cap.material, "depth_m": bed.cap.depth_m, "share": bed.cap.share},
        },
        "joints": [{"one": item.one, "other": item.other, "at_m": list(item.at_m)} for item in layout.joints],
        "ballast_kg": {str(number): kg for number, kg in layout.ballast_kg.items()},
    }


def _told_piece(key: str, piece: Piece) -> dict[str, Any]:
    told: dict[str, Any] = {
        "part": "shape",
        "key": key,
        "name": piece.name,
        "kind": piece.kind,
        "look": piece.look,
        "material": piece.material,
        "density_kg_m3": piece.density_kg_m3,
        "volume_l": piece.volume_l,
        "volume_error_l": piece.volume_error_l,
        "hull_l": piece.hull_l,
        "centre_m": [float(value) for value in piece.centre_m],
        "inertia_kg_m2": [[float(value) for value in row] for row in piece.inertia_kg_m2],
        "convex_m": [_packed(part) for part in piece.convex_m],
        "stand_in": piece.stand_in,
    }
    # The accessor holds single precision; what that would round is kept beside it in full.
    if not np.array_equal(piece.vertices_m, piece.vertices_m.astype(np.float32).astype(np.float64)):
        told["vertices_m"] = _packed(piece.vertices_m)
        told["faces"] = _packed(piece.faces)
    if not (
        np.array_equal(piece.closed_vertices_m, piece.vertices_m) and np.array_equal(piece.closed_faces, piece.faces)
    ):
        told["closed_vertices_m"] = _packed(piece.closed_vertices_m)
        told["closed_faces"] = _packed(piece.closed_faces)
    return told


# ---------------------------------------------------------------- in


def from_glb(data: bytes) -> Layout:
    """The layout that a binary glTF 2.0 file of ours holds.

    Another program may have moved the pieces meanwhile: their nodes say where they stand.

    Raises
    ------
    BadInput
        If the file is no binary glTF 2.0, damaged, of another program, or of a newer version of this one; and where
        a piece was scaled or its node put below another that is.
    """
    document, binary = _chunks(data)
    scene = _scene_of(document)
    told = _ours(scene, "the scene")
    if told is None:
        raise BadInput(
            "the file is a glTF scene of another program: it holds no layout; its meshes can be used as scans of pieces"
        )
    try:
        return _layout_of(document, binary, scene, told)
    except BadInput:
        raise
    except (
        KeyError,
        IndexError,
        TypeError,
        ValueError,
        AttributeError,
        OverflowError,
        ValidationError,
        zlib.error,
        binascii.Error,
        struct.error,
    ) as error:
        raise BadInput(
            f"the scene file is damaged: what it says of the layout cannot be read ({_why(error)})"
        ) from error


def _why(error: Exception) -> str:
    return f"{error} is missing" if isinstance(error, KeyError) else str(error).splitlines()[0][:120]


def _chunks(data: bytes) -> tuple[Mapping[str, Any], bytes]:
    if len(data) > MOST_BYTES:
        raise BadInput(f"the scene file has {len(data) / 1e6:.0f} MB, at most {MOST_BYTES / 1e6:.0f} MB are read")
    if len(data) < 20 or struct.unpack_from("<I", data)[0] != _MAGIC:
        raise BadInput("the file is no binary glTF scene (.glb)")
    _, version, whole = struct.unpack_from("<III", data)
    if version != 2:
        raise BadInput(f"the file is binary glTF {version}, expected is 2.0")
    if whole > len(data):
        raise BadInput(f"the scene file is damaged: it should have {whole} bytes and ends after {len(data)}")
    chunks: dict[int, bytes] = {}
    at = 12
    while at + 8 <= whole:
        length, kind = struct.unpack_from("<II", data, at)
        if at + 8 + length > whole:
            raise BadInput("the scene file is damaged: a part of it reaches beyond its end")
        chunks.setdefault(kind, data[at + 8 : at + 8 + length])
        at += 8 + length
    try:
        document = json.loads(chunks[_JSON].decode("utf-8"), parse_constant=_no_constant)
    except KeyError as error:
        raise BadInput("the scene file is damaged: it has no description") from error
    except (UnicodeDecodeError, ValueError, RecursionError) as error:
        raise BadInput("the scene file is damaged: its description cannot be read") from error
    if not isinstance(document, dict):
        raise BadInput("the scene file is damaged: its description is no table")
    return document, chunks.get(_BIN, b"")


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no number")


def _scene_of(document: Mapping[str, Any]) -> Mapping[str, Any]:
    scenes = document.get("scenes")
    number = document.get("scene", 0)
    if not isinstance(scenes, list) or not isinstance(number, int) or not 0 <= number < len(scenes):
        raise BadInput("the file holds no scene")
    scene = scenes[number]
    return scene if isinstance(scene, dict) else {}


def _ours(thing: Any, what: str) -> Mapping[str, Any] | None:
    """What stands under our key; None where nothing does.

    Raises
    ------
    BadInput
        If it was written by a newer program.
    """
    extras = thing.get("extras") if isinstance(thing, dict) else None
    told = extras.get(KEY) if isinstance(extras, dict) else None
    if not isinstance(told, dict):
        return None
    version = told.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise BadInput(f"the scene file is damaged: {what} has no version number")
    if version > VERSION:
        raise BadInput(
            f"the scene was written by a newer version of the program (format {version}, this one reads up to "
            f"{VERSION}): bring this program up to date"
        )
    return told


def _unpacked(told: Mapping[str, Any], dimensions: int) -> NDArray[Any]:
    kind = {"<f8": np.float64, "<i4": np.int32}[told["kind"]]
    shape = tuple(int(size) for size in told["shape"])
    count = 1
    for size in shape:
        if size < 0:
            raise ValueError("a size is below zero")
        count *= size
    if len(shape) != dimensions or count > MOST_NUMBERS:
        raise ValueError(f"an array has the sizes {shape}")
    want = count * np.dtype(kind).itemsize
    # Ends at the length that was announced: a small text cannot unpack to more than that.
    opened = zlib.decompressobj()
    data = opened.decompress(base64.b64decode(told["zlib"], validate=True), want + 1)
    if len(data) != want:
        raise ValueError("an array is shorter or longer than it says")
    return np.frombuffer(data, dtype=np.dtype(kind).newbyteorder("<")).astype(kind).reshape(shape)


def _floats(told: Mapping[str, Any], dimensions: int) -> Floats:
    found = _unpacked(told, dimensions)
    if found.dtype != np.float64 or not np.isfinite(found).all():
        raise ValueError("an array holds what is no number")
    return found


def _points(told: Mapping[str, Any]) -> Floats:
    found = _floats(told, 2)
    if found.shape[1] != 3:
        raise ValueError("points have three coordinates")
    return found


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise ValueError(f"{str(value)[:40]} is no number")
    return float(value)


def _numbers(values: Any, count: int) -> tuple[float, ...]:
    if not isinstance(values, list) or len(values) != count:
        raise ValueError(f"{count} numbers are expected")
    return tuple(_number(value) for value in values)


def _spots(values: Any) -> tuple[tuple[float, float], ...]:
    return tuple((x, y) for x, y in (_numbers(value, 2) for value in values))


def _layout_of(document: Mapping[str, Any], binary: bytes, scene: Mapping[str, Any], told: Mapping[str, Any]) -> Layout:
    bed = _bed_of(told["bed"])
    pieces: dict[str, Piece] = {}
    of_mesh: dict[int, str] = {}
    for number, mesh in enumerate(document.get("meshes", [])):
        shape = _ours(mesh, "a mesh")
        if shape is not None and shape.get("part") == "shape":
            piece = _piece_of(shape, document, mesh, binary)
            pieces.setdefault(piece.key, piece)
            of_mesh[number] = piece.key
    placements = []
    for node in _nodes_of(document, scene):
        stands = _ours(node, "a piece")
        if stands is None or stands.get("part") != "piece":
            continue
        mesh = node["mesh"]
        if mesh not in of_mesh:
            raise ValueError(f"piece {stands.get('number')} has no shape")
        placements.append(_placement_of(node, stands, of_mesh[mesh]))
    numbers = [placement.number for placement in placements]
    if len(set(numbers)) < len(numbers):
        raise ValueError("two pieces have the same number")
    joints = tuple(
        Joint(one=int(item["one"]), other=int(item["other"]), at_m=_three(_numbers(item["at_m"], 3)))
        for item in told.get("joints", [])
    )
    return Layout(
        glass=Glass.model_validate_json(json.dumps(told["glass"])),
        bed=bed,
        pieces=pieces,
        placements=tuple(sorted(placements, key=lambda item: item.number)),
        joints=joints,
        ballast_kg={int(number): _number(kg) for number, kg in told.get("ballast_kg", {}).items()},
    )


def _three(values: Sequence[float]) -> tuple[float, float, float]:
    x, y, z = values
    return x, y, z


def _nodes_of(document: Mapping[str, Any], scene: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    """The nodes of the scene itself, and those below nodes that move nothing."""
    nodes = document.get("nodes", [])
    left, seen = list(scene.get("nodes", [])), set()
    while left:
        number = left.pop(0)
        if number in seen or not isinstance(number, int) or number < 0:
            raise ValueError("its nodes do not form a tree")
        seen.add(number)
        node = nodes[number]
        yield node
        below = node.get("children", [])
        if below and any(name in node for name in ("matrix", "translation", "rotation", "scale")):
            if any(_ours(nodes[child], "a piece") is not None for child in below):
                raise BadInput("a piece of the scene hangs on a thing that is moved itself: put it on its own")
            continue
        left += below


def _placement_of(node: Mapping[str, Any], told: Mapping[str, Any], piece: str) -> Placement:
    number = told["number"]
    if not isinstance(number, int) or isinstance(number, bool) or number < 1:
        raise ValueError("a piece has no number")
    if "matrix" in node:
        raise BadInput(f"piece {number} of the scene is placed by a matrix; position and rotation are expected")
    scale = _numbers(node.get("scale", [1, 1, 1]), 3)
    if any(abs(factor - 1) > 1e-4 for factor in scale):
        raise BadInput(f"piece {number} of the scene was scaled: a stone has one size; take the scaling away")
    x, y, z = _numbers(node.get("translation", [0, 0, 0]), 3)
    qx, qy, qz, qw = _numbers(node.get("rotation", [0, 0, 0, 1]), 4)
    turn = (qw, qx, -qz, qy)
    rotation(turn)
    return Placement(
        number=number, piece=piece, position_m=(x, -z, y), turn=turn, locked=bool(told.get("locked", False))
    )


def _bed_of(told: Mapping[str, Any]) -> Bed:
    x, y = _floats(told["x_m"], 1), _floats(told["y_m"], 1)
    top, base = _floats(told["top_m"], 2), _floats(told["base_m"], 2)
    if len(x) < 2 or len(y) < 2 or top.shape != (len(y), len(x)) or base.shape != top.shape:
        raise ValueError("the grid of the bed does not go together")
    if (np.diff(x) <= 0).any() or (np.diff(y) <= 0).any():
        raise ValueError("the nodes of the bed are not in order")
    repose = told.get("repose_deg")
    return Bed(
        x_m=x,
        y_m=y,
        top_m=top,
        base_m=base,
        soil=str(told["soil"]),
        base=None if told.get("base") is None else str(told["base"]),
        repose_deg=None if repose is None else _number(repose),
        bays=tuple(
            Bay(outline_m=_spots(bay["outline_m"]), material=str(bay["material"])) for bay in told.get("bays", [])
        ),
        retainers=tuple(
            Retainer(line_m=_spots(item["line_m"]), top_m=_number(item["top_m"])) for item in told.get("retainers", [])
        ),
        cap=None if told.get("cap") is None else _cap_of(told["cap"]),
    )


def _cap_of(told: Mapping[str, Any]) -> Cap:
    return Cap(material=str(told["material"]), depth_m=_number(told["depth_m"]), share=_number(told["share"]))


def _piece_of(told: Mapping[str, Any], document: Mapping[str, Any], mesh: Mapping[str, Any], binary: bytes) -> Piece:
    kind, look = told["kind"], told["look"]
    if kind not in ("stone", "wood") or look not in ("rounded", "angular", "slab", "pitted", "branching"):
        raise ValueError(f"a piece is {str(kind)[:20]} and {str(look)[:20]}")
    (primitive,) = mesh["primitives"]
    if "vertices_m" in told:
        vertices, faces = _points(told["vertices_m"]), _unpacked(told["faces"], 2)
    else:
        shown = _accessor(document, binary, primitive["attributes"]["POSITION"], _FLOAT, 3)
        vertices = _up_inside(shown.astype(np.float64))
        faces = _accessor(document, binary, primitive["indices"], _UINT, 1).reshape(-1, 3)
    closed_vertices = _points(told["closed_vertices_m"]) if "closed_vertices_m" in told else vertices
    closed_faces = _unpacked(told["closed_faces"], 2) if "closed_faces" in told else faces
    return Piece(
        key=str(told["key"]),
        name=str(told["name"]),
        kind=cast("Literal['stone', 'wood']", kind),
        look=look,
        material=str(told["material"]),
        density_kg_m3=_number(told["density_kg_m3"]),
        vertices_m=vertices,
        faces=_faces(faces, len(vertices)),
        closed_vertices_m=closed_vertices,
        closed_faces=_faces(closed_faces, len(closed_vertices)),
        volume_l=_number(told["volume_l"]),
        volume_error_l=_number(told["volume_error_l"]),
        hull_l=_number(told["hull_l"]),
        centre_m=np.array(_numbers(told["centre_m"], 3)),
        inertia_kg_m2=np.array([_numbers(row, 3) for row in told["inertia_kg_m2"]]).reshape(3, 3),
        convex_m=tuple(_points(part) for part in told["convex_m"]),
        stand_in=bool(told["stand_in"]),
    )


def _faces(faces: NDArray[Any], corners: int) -> Faces:
    if faces.ndim != 2 or faces.shape[1] != 3 or faces.dtype.kind not in "iu":
        raise ValueError("triangles have three corners")
    if faces.size and (faces.min() < 0 or faces.max() >= corners):
        raise ValueError("a triangle has a corner that is not there")
    return faces.astype(np.int32)


def _accessor(document: Mapping[str, Any], binary: bytes, number: int, component: int, width: int) -> NDArray[Any]:
    """Numbers of an accessor as the writer of this file makes them; other programs may use shorter indices."""
    item = document["accessors"][number]
    view = document["bufferViews"][item["bufferView"]]
    known = {_FLOAT: "<f4", _UINT: "<u4", 5123: "<u2", 5121: "<u1"}
    kind = np.dtype(known[item["componentType"]])
    if (component == _FLOAT) != (item["componentType"] == _FLOAT) or item["type"] != (
        "VEC3" if width == 3 else "SCALAR"
    ):
        raise ValueError("an accessor is of another kind")
    count, step = int(item["count"]), int(view.get("byteStride", width * kind.itemsize))
    start = int(view.get("byteOffset", 0)) + int(item.get("byteOffset", 0))
    if count < 1 or count > MOST_NUMBERS or start < 0 or step < width * kind.itemsize:
        raise ValueError("an accessor reaches outside the file")
    end = start + step * (count - 1) + width * kind.itemsize
    if end > len(binary):
        raise ValueError("an accessor reaches outside the file")
    found = np.ndarray((count, width), dtype=kind, buffer=binary, offset=start, strides=(step, kind.itemsize))
    if kind.kind == "f":
        if not np.isfinite(found).all():
            raise ValueError("a corner is no number")
        return found.astype(np.float32)
    return found.astype(np.int64)
