"""A scene file holds the layout bit by bit, in the standard's axes, and a file that is none of ours is refused in one line."""

import io
import json
import struct
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from slackwater.errors import BadInput
from slackwater.layout.gltf import KEY, VERSION, bed_mesh, from_glb, to_glb
from slackwater.layout.scene import Bay, Bed, Cap, Glass, Joint, Layout, Piece, Placement, Retainer, stood

EDGES_M = (0.2, 0.1, 0.15)


def block(key="block", shift=0.0):
    """A box of 0.2 x 0.1 x 0.15 m, 3 L; its corners are not exact in single precision."""
    x, y, z = EDGES_M
    corners = np.array([[i * x, j * y, k * z] for i in (0, 1) for j in (0, 1) for k in (0, 1)]) + shift
    quads = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))
    faces = np.array([face for a, b, c, d in quads for face in ((a, b, c), (a, c, d))], dtype=np.int32)
    return Piece(
        key=key,
        name="a block",
        kind="stone",
        look="slab",
        material="stone_slate",
        density_kg_m3=2700.0,
        vertices_m=corners,
        faces=faces,
        closed_vertices_m=corners,
        closed_faces=faces,
        volume_l=3.0,
        volume_error_l=0.0,
        hull_l=3.0,
        centre_m=np.array([0.1, 0.05, 0.075]) + shift,
        inertia_kg_m2=np.diag([0.1, 0.2, 0.3]) / 3,
        convex_m=(corners, corners[:5]),
        stand_in=True,
    )


def bed(heights=None):
    x, y = np.linspace(0, 1, 5), np.linspace(0, 0.4, 3)
    top = np.full((3, 5), 0.1) if heights is None else np.array(heights).reshape(3, 5)
    return Bed(
        x_m=x,
        y_m=y,
        top_m=top,
        base_m=top / 3,
        soil="active_soil_lean",
        base="base_pumice",
        repose_deg=32.0,
        bays=(Bay(outline_m=((0.0, 0.0), (0.1, 0.0), (0.1, 0.1)), material="sand"),),
        retainers=(Retainer(line_m=((0.2, 0.1), (0.4, 0.1)), top_m=0.07),),
        cap=Cap(material="active_soil_fine", depth_m=0.02, share=0.6),
    )


def scene(placements=(), heights=None):
    glass = Glass(
        corners_m=((0.0, 0.0), (1.0, 0.0), (1.0, 0.4), (0.0, 0.4)),
        height_m=0.4,
        water_line_m=0.37,
        wall_m=0.01,
        public_sides=("front", "rear"),
        openings_m=((0.45, 0.4),),
    )
    return Layout(
        glass=glass,
        bed=bed(heights),
        pieces={"block": block(), "spare": block("spare", shift=1 / 3)},
        placements=tuple(placements),
        joints=(Joint(one=1, other=0, at_m=(0.1, 0.2, 1 / 3)),),
        ballast_kg={1: 0.7},
    )


ONE = Placement(number=1, piece="block", position_m=(0.3, 0.2, 0.1))


def chunks(data):
    length = struct.unpack_from("<I", data, 12)[0]
    return json.loads(data[20 : 20 + length]), data[20 + length :]


def with_document(data, change):
    document, rest = chunks(data)
    change(document)
    told = json.dumps(document).encode()
    told += b" " * (-len(told) % 4)
    return (
        struct.pack("<III", 0x46546C67, 2, 20 + len(told) + len(rest))
        + struct.pack("<II", len(told), 0x4E4F534A)
        + told
        + rest
    )


def assert_same(one, other):
    assert one.glass == other.glass
    assert one.placements == other.placements
    assert one.joints == other.joints
    assert one.ballast_kg == other.ballast_kg
    for name in ("x_m", "y_m", "top_m", "base_m"):
        np.testing.assert_array_equal(getattr(one.bed, name), getattr(other.bed, name), strict=True)
    assert (one.bed.soil, one.bed.base, one.bed.repose_deg) == (other.bed.soil, other.bed.base, other.bed.repose_deg)
    assert (one.bed.bays, one.bed.retainers) == (other.bed.bays, other.bed.retainers)
    assert one.bed.cap == other.bed.cap
    assert list(one.pieces) == list(other.pieces)
    for key, piece in one.pieces.items():
        for name in piece.__dataclass_fields__:
            np.testing.assert_equal(getattr(other.pieces[key], name), getattr(piece, name), err_msg=name)
        assert other.pieces[key].vertices_m.dtype == np.float64
        assert other.pieces[key].faces.dtype == np.int32


COORDINATE = st.floats(-3, 3, allow_nan=False)


@settings(max_examples=40, deadline=None)
@given(
    position=st.tuples(COORDINATE, COORDINATE, COORDINATE),
    axis=st.tuples(COORDINATE, COORDINATE, COORDINATE, COORDINATE).filter(lambda q: sum(v * v for v in q) > 1e-3),
    heights=st.lists(st.floats(0, 0.3), min_size=15, max_size=15),
    locked=st.booleans(),
)
def test_what_is_written_comes_back_bit_by_bit(position, axis, heights, locked):
    size = sum(value * value for value in axis) ** 0.5
    turn = tuple(value / size for value in axis)
    layout = scene((replace(ONE, position_m=position, turn=turn, locked=locked), replace(ONE, number=2)), heights)
    assert_same(layout, from_glb(to_glb(layout)))


def test_the_same_layout_gives_the_same_bytes():
    assert to_glb(scene((ONE,))) == to_glb(scene((ONE,)))


def test_another_reader_of_the_standard_sees_the_piece_where_it_stands_with_y_up():
    half = 0.5**0.5
    # A quarter turn about the upright, against the clock from above, then a shift.
    placement = replace(ONE, turn=(half, 0.0, 0.0, half))
    layout = scene((placement,))
    seen = trimesh.load(io.BytesIO(to_glb(layout)), file_type="glb", process=False)
    name = next(name for name in seen.graph.nodes_geometry if name.startswith("1 "))
    pose, geometry = seen.graph[name]
    mesh = seen.geometry[geometry].copy()
    mesh.apply_transform(pose)
    assert mesh.volume * 1000 == pytest.approx(3.0, rel=1e-6)
    inside = stood(layout.pieces["block"].vertices_m, placement)
    # y up: the third coordinate inside is the second in the file, and the rear is where its third falls.
    expected = np.stack([inside[:, 0], inside[:, 2], -inside[:, 1]], axis=1)
    assert mesh.bounds == pytest.approx(np.array([expected.min(axis=0), expected.max(axis=0)]), abs=1e-6)
    # By hand: the box runs 0.1 m to the left of x = 0.3, 0.2 m to the rear of y = 0.2, 0.15 m up from z = 0.1.
    assert mesh.bounds == pytest.approx(np.array([[0.2, 0.1, -0.4], [0.3, 0.25, -0.2]]), abs=1e-6)


def test_every_piece_has_one_mesh_however_often_it_stands_there():
    layout = scene((ONE, replace(ONE, number=2), replace(ONE, number=3)))
    document, _ = chunks(to_glb(layout))
    assert [mesh["name"] for mesh in document["meshes"]] == ["bed", "a block", "a block"]
    assert [node["mesh"] for node in document["nodes"]] == [0, 1, 1, 1]


def test_file_keeps_to_the_alignment_and_the_bounds_that_the_standard_asks_for():
    data = to_glb(scene((ONE,)))
    assert struct.unpack_from("<I", data, 8)[0] == len(data) and len(data) % 4 == 0
    document, rest = chunks(data)
    binary = rest[8:]
    assert document["buffers"][0]["byteLength"] <= len(binary)
    for item in document["accessors"]:
        view = document["bufferViews"][item["bufferView"]]
        assert view["byteOffset"] % 4 == 0
        assert view["byteOffset"] + view["byteLength"] <= document["buffers"][0]["byteLength"]
        if item["type"] == "VEC3":
            points = np.frombuffer(binary, "<f4", item["count"] * 3, view["byteOffset"]).reshape(-1, 3)
            assert points.min(axis=0).tolist() == item["min"] and points.max(axis=0).tolist() == item["max"]


def test_cells_of_the_bed_are_cut_from_their_least_to_their_greatest_node():
    corners, faces = bed_mesh(bed(range(15)))
    assert len(faces) == 2 * 4 * 2
    assert {tuple(face) for face in faces[[0, 8]].tolist()} == {(0, 1, 6), (0, 6, 5)}
    edges = corners[faces[:, 1]] - corners[faces[:, 0]], corners[faces[:, 2]] - corners[faces[:, 0]]
    assert (np.cross(*edges)[:, 2] > 0).all()


def moved_by_another_program(document):
    node = next(node for node in document["nodes"] if node["name"].startswith("1 "))
    node["translation"] = [0.5, 0.25, -0.125]


def test_a_piece_that_another_program_moved_stands_where_that_put_it():
    found = from_glb(with_document(to_glb(scene((ONE,))), moved_by_another_program))
    assert found.placement(1).position_m == (0.5, 0.125, 0.25)


def newer(document):
    document["scenes"][0]["extras"][KEY]["version"] = VERSION + 1


def foreign(document):
    for thing in (*document["scenes"], *document["nodes"], *document["meshes"]):
        thing.pop("extras", None)


def scaled(document):
    document["nodes"][1]["scale"] = [2, 2, 2]


def without_glass(document):
    del document["scenes"][0]["extras"][KEY]["glass"]


def short_grid(document):
    document["scenes"][0]["extras"][KEY]["bed"]["top_m"]["shape"] = [3, 6]


def far_corner(document):
    del document["meshes"][1]["extras"][KEY]["vertices_m"]
    document["accessors"][2]["count"] = 10_000_000


def twice_the_number(document):
    document["nodes"].append(document["nodes"][1])
    document["scenes"][0]["nodes"].append(2)


def below_itself(document):
    document["nodes"][0]["children"] = [0]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (newer, "newer version"),
        (foreign, "another program"),
        (scaled, "was scaled"),
        (without_glass, "damaged"),
        (short_grid, "damaged"),
        (far_corner, "damaged"),
        (twice_the_number, "same number"),
        (below_itself, "damaged"),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_a_scene_that_cannot_be_used_is_refused_in_one_line(change, told):
    with pytest.raises(BadInput, match=told) as refused:
        from_glb(with_document(to_glb(scene((ONE,))), change))
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "no binary glTF"),
        (b"solid a stone\nfacet normal 0 0 0", "no binary glTF"),
        (struct.pack("<III", 0x46546C67, 1, 20) + b"\0" * 8, "glTF 1"),
        (struct.pack("<III", 0x46546C67, 2, 28) + struct.pack("<II", 4, 0x4E4F534A) + b"{}  " + b"\0" * 4, "no scene"),
    ],
)
def test_what_is_no_scene_file_is_told(data, told):
    with pytest.raises(BadInput, match=told):
        from_glb(data)


@settings(max_examples=60, deadline=None)
@given(at=st.floats(0, 1), value=st.integers(0, 255), cut=st.booleans())
def test_a_damaged_file_is_read_or_refused_and_nothing_else(at, value, cut):
    data = bytearray(to_glb(scene((ONE,))))
    place = min(int(at * len(data)), len(data) - 1)
    if cut:
        data = data[:place]
    else:
        data[place] = value
    try:
        from_glb(bytes(data))
    except BadInput as refused:
        assert "\n" not in str(refused)
