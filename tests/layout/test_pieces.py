"""Pieces: scans of every format and every fault, mass properties in closed form, pieces made up from size and mass."""

from __future__ import annotations

import struct
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from slackwater.actions.examples import example_scan
from slackwater.errors import BadInput, Contradiction, OutOfRange
from slackwater.layout import meshes
from slackwater.layout.keeping import packed, unpacked
from slackwater.layout.pieces import closed, mesh_key, piece_findings, piece_from_mesh
from slackwater.layout.reading import read_scan
from slackwater.layout.standin import asked, stand_in
from slackwater.wording.render import finding_sentence
from tests.layout.scenes import body, scan_rows, scanned, tetrahedron

GROW = {"name": "x", "kind": "stone", "look": "rounded", "material": "stone", "density_kg_m3": 2700.0}


def file_of(mesh, file_format):
    vertices, faces = mesh
    return trimesh.Trimesh(vertices, faces, process=False).export(file_type=file_format)


def bytes_of(mesh, file_format):
    data = file_of(mesh, file_format)
    return data.encode() if isinstance(data, str) else data


def litres(read):
    return 1000 * meshes.signed_volume_m3(*closed(read.vertices_m, read.faces)[:2])


# --- mass properties in closed form


def test_a_block_has_the_mass_the_middle_and_the_moments_of_a_block():
    piece = body(meshes.block((0.2, 0.1, 0.15)), density_kg_m3=2000)
    assert piece.volume_l == pytest.approx(3.0) and piece.mass_kg == pytest.approx(6.0)
    assert piece.hull_l == pytest.approx(3.0) and piece.volume_error_l == 0
    assert piece.centre_m == pytest.approx([0, 0, 0.075])
    # m (b2 + c2) / 12 about each axis through the middle.
    expected = 6.0 / 12 * np.diag([0.1**2 + 0.15**2, 0.2**2 + 0.15**2, 0.2**2 + 0.1**2])
    assert piece.inertia_kg_m2 == pytest.approx(expected, abs=1e-12)


def test_a_tetrahedron_has_its_middle_at_the_mean_of_its_corners():
    piece = body(tetrahedron())
    assert piece.volume_l == pytest.approx(0.06**3 / 6 * 1000)
    assert piece.centre_m == pytest.approx([0.015] * 3)


def test_a_ball_far_from_the_origin_keeps_its_moments():
    vertices, faces = meshes.ball(0.1, rounds=4)
    mass = meshes.mass_of(np.add(vertices, [50, -20, 7]), faces)
    assert mass.centre_m == pytest.approx([50, -20, 7], abs=1e-9)
    # 2/5 m r2, of a ball of facets a thousandth more or less.
    assert mass.inertia_m5 == pytest.approx(0.4 * mass.volume_m3 * 0.01 * np.eye(3), rel=3e-3, abs=1e-12)


@pytest.mark.parametrize("row", scan_rows(), ids=lambda row: row["file"])
def test_each_example_scan_is_as_its_table_says(row):
    piece = next(piece for piece in scanned() if piece.name == row["file"])
    assert len(piece.faces) == int(row["triangles"])
    assert piece.volume_l == pytest.approx(float(row["volume_l"]), rel=1e-5)
    assert piece.hull_l == pytest.approx(float(row["hull_volume_l"]), rel=1e-5)
    assert piece.mass_kg == pytest.approx(float(row["mass_kg"]), rel=1e-4)
    size = 1000 * np.ptp(piece.vertices_m, axis=0)
    assert size == pytest.approx([float(row[f"size_{name}_mm"]) for name in ("x", "z", "y_up")], abs=0.01)
    edges = piece.vertices_m[piece.faces]
    area = np.linalg.norm(np.cross(edges[:, 1] - edges[:, 0], edges[:, 2] - edges[:, 0]), axis=1).sum() / 2
    assert 1e4 * area == pytest.approx(float(row["area_cm2"]), rel=1e-4)
    assert piece.volume_error_l == 0 and piece_findings(piece) == ()


# --- faults of meshes


def test_a_mesh_that_is_inside_out_is_turned():
    vertices, faces = meshes.block((0.2, 0.1, 0.15))
    assert body((vertices, faces[:, ::-1])).volume_l == pytest.approx(3.0)


def test_faces_that_look_any_way_are_turned_out():
    vertices, faces = meshes.ball(0.1, rounds=3)
    mixed = faces.copy()
    mixed[::3] = mixed[::3, ::-1]
    assert body((vertices, mixed)).volume_l == pytest.approx(4 / 3 * np.pi)


def test_corners_that_are_repeated_for_each_face_are_one_corner():
    vertices, faces = meshes.block((0.2, 0.1, 0.15))
    loose = vertices[faces.ravel()], np.arange(36).reshape(-1, 3)
    piece = body(loose)
    assert piece.volume_l == pytest.approx(3.0) and piece.volume_error_l == 0
    assert piece.vertices_m is not vertices and len(piece.vertices_m) == 36  # the scan's own corners stay


def test_a_hole_is_closed_and_the_cap_told():
    # A block without its top: the fan of four gives it back, and half of the pyramid from the middle to it is unsure.
    vertices, faces = meshes.block((0.2, 0.1, 0.15))
    top = (vertices[faces][:, :, 2] == 0.15).all(axis=1)
    piece = body((vertices, faces[~top]))
    assert piece.volume_l == pytest.approx(3.0)
    assert piece.volume_error_l == pytest.approx(3.0 / 6 / 2)
    (finding,) = piece_findings(piece)
    assert finding.id == "layout.scan_leaky" and finding.values["error_l"] == pytest.approx(0.25)


def test_the_missing_cap_of_a_ball_is_within_the_error_told():
    vertices, faces = meshes.ball(0.1, rounds=4)
    open_top = (vertices[faces][:, :, 2] > 0.09).any(axis=1)
    piece = body((vertices, faces[~open_top]))
    lost = 4 / 3 * np.pi - piece.volume_l
    assert 0 < lost < piece.volume_error_l < 0.15 * piece.volume_l


def test_two_holes_are_closed_each_for_itself():
    vertices, faces = meshes.cylinder(0.05, 0.3, around=64)
    ends = (faces >= 128).any(axis=1)
    assert body((vertices, faces[~ends])).volume_l == pytest.approx(1000 * np.pi * 0.05**2 * 0.3)


def test_shells_that_overlap_are_one_solid():
    vertices, faces = meshes.block((0.2, 0.1, 0.15))
    # Two blocks, a quarter of each in the other.
    both = np.vstack([vertices, np.add(vertices, [0.15, 0, 0])]), np.vstack([faces, faces + 8])
    assert body(both).volume_l == pytest.approx(6.0 - 0.75)


def test_a_mesh_that_is_no_solid_is_taken_as_its_hull_with_half_of_it_unsure():
    # Two walls of a block that cross a third one: an edge with three faces.
    vertices, faces = meshes.block((0.2, 0.1, 0.15))
    broken = np.vstack([faces, [[0, 3, 7]], [[0, 7, 4]]])
    piece = body((vertices, broken))
    assert piece.volume_l == pytest.approx(3.0)
    assert piece.volume_error_l == pytest.approx(1.5)


@pytest.mark.parametrize(
    ("mesh", "error", "said"),
    [
        ((np.zeros((0, 3)), np.zeros((0, 3), int)), BadInput, "empty"),
        ((np.full((3, 3), np.nan), [[0, 1, 2]]), OutOfRange, "not a number"),
        ((np.eye(3), [[0, 1, 7]]), OutOfRange, "not there"),
        ((np.eye(3), [[0, 1, 2]]), BadInput, "flat"),
        ((np.zeros((3, 3)), [[0, 1, 2]]), BadInput, "flat"),
        ((np.eye(3), np.zeros((2_000_001, 3), np.int32)), OutOfRange, "2,000,001 triangles"),
    ],
    ids=["empty", "nan", "no such corner", "one triangle", "a point", "too many"],
)
def test_a_mesh_that_is_no_piece_is_refused_in_words(mesh, error, said):
    with pytest.raises(error, match=said):
        piece_from_mesh(**GROW, vertices_m=mesh[0], faces=np.asarray(mesh[1]))


# --- files


@pytest.mark.parametrize("file_format", ["glb", "obj", "stl", "ply"])
def test_every_format_gives_the_same_stone(file_format):
    upright = meshes.block((0.2, 0.1, 0.15))
    # GLB and OBJ are y up: z of the program is their y.
    kept = np.column_stack([upright[0][:, 0], upright[0][:, 2], -upright[0][:, 1]])
    vertices = kept if file_format in ("glb", "obj") else upright[0]
    read = read_scan(bytes_of((vertices, upright[1]), file_format), file_format=file_format)
    assert np.ptp(read.vertices_m, axis=0) == pytest.approx([0.2, 0.1, 0.15], rel=1e-6)
    assert litres(read) == pytest.approx(3.0, rel=1e-6)
    assert read.length_m == pytest.approx(np.sqrt(0.2**2 + 0.1**2 + 0.15**2), rel=1e-6)


@pytest.mark.parametrize(
    ("file_format", "times", "unit"), [("stl", 1000, "mm"), ("stl", 100, "cm"), ("stl", 1, "m"), ("glb", 1000, "mm")]
)
def test_a_unit_that_is_guessed_is_told(file_format, times, unit):
    vertices, faces = meshes.block((0.2, 0.1, 0.15))
    read = read_scan(bytes_of((times * vertices, faces), file_format), file_format=file_format)
    assert litres(read) == pytest.approx(3.0, rel=1e-5)
    (finding,) = read.findings
    assert finding.id == "layout.scan_unit_guessed" and finding.values["unit"] == unit


def test_a_scan_in_metres_that_says_so_needs_no_word():
    assert read_scan(bytes_of(meshes.block((0.2, 0.1, 0.15)), "glb"), file_format="glb").findings == ()


def test_a_measured_length_scales_a_scan_of_any_unit():
    vertices, faces = meshes.block((0.2, 0.1, 0.15))
    long_m = float(np.sqrt(0.2**2 + 0.1**2 + 0.15**2))
    read = read_scan(bytes_of((39.37 * vertices, faces), "ply"), file_format="ply", length_m=long_m)
    assert litres(read) == pytest.approx(3.0, rel=1e-5) and read.findings == ()


def test_a_weighed_mass_scales_a_scan_of_any_unit():
    vertices, faces = meshes.block((0.2, 0.1, 0.15))
    data = bytes_of((39.37 * vertices, faces), "ply")
    read = read_scan(data, file_format="ply", mass_kg=8.1, density_kg_m3=2700)
    assert litres(read) == pytest.approx(3.0, rel=1e-5) and read.findings == ()


def test_a_length_and_a_mass_that_do_not_go_together_are_told():
    data = bytes_of(meshes.block((0.2, 0.1, 0.15)), "ply")
    read = read_scan(data, file_format="ply", length_m=0.2693, mass_kg=5.0, density_kg_m3=2700)
    (finding,) = read.findings
    assert finding.id == "layout.scan_mass_differs"
    assert finding.values["reckoned_kg"] == pytest.approx(8.1, rel=1e-3)
    assert "8.1 kg" in finding_sentence(finding) and "5" in finding_sentence(finding)


def test_triangles_without_a_place_are_left_out_and_counted():
    vertices, faces = meshes.ball(0.1, rounds=3)
    vertices[7] = np.nan
    lost = int((faces == 7).any(axis=1).sum())
    read = read_scan(bytes_of((vertices, faces), "stl"), file_format="stl")
    assert {finding.id: finding.values.get("triangles") for finding in read.findings}[
        "layout.scan_corners_lost"
    ] == lost
    # The hole it leaves is closed as any other.
    assert litres(read) == pytest.approx(4 / 3 * np.pi, rel=0.01)


def five_million(file_format):
    if file_format == "stl":
        return b"\0" * 80 + struct.pack("<I", 5_000_000) + bytes(50 * 5_000_000)
    if file_format == "ply":
        return b"ply\nformat binary_little_endian 1.0\nelement vertex 9\nelement face 5000000\nend_header\n"
    if file_format == "obj":
        return b"v 0 0 0\n" + b"\nf 1 1 1" * 5_000_000
    scene = b'{"accessors": [{"count": 15000000}], "meshes": [{"primitives": [{"indices": 0}]}]}'
    return b"glTF" + struct.pack("<III", 2, 20 + len(scene), len(scene)) + b"JSON" + scene


@pytest.mark.parametrize("file_format", ["glb", "obj", "stl", "ply"])
def test_five_million_triangles_are_refused_before_they_are_read(file_format):
    with pytest.raises(OutOfRange, match="5,000,000 triangles"):
        read_scan(five_million(file_format), file_format=file_format)


@pytest.mark.parametrize("file_format", ["glb", "obj", "stl", "ply"])
@pytest.mark.parametrize("data", [b"", b"hello", bytes(200), example_scan("stone_d.glb")[:900]])
def test_what_is_no_scan_is_refused_in_words(file_format, data):
    with pytest.raises(BadInput, match="scan"):
        read_scan(data, file_format=file_format)


@settings(max_examples=60, deadline=None)
@given(cut=st.integers(0, 16_000), at=st.integers(0, 16_000), byte=st.integers(0, 255))
def test_a_damaged_scan_is_read_or_refused_and_never_more(cut, at, byte):
    data = bytearray(example_scan("stone_d.glb"))
    data[at % len(data)] = byte
    for hurt in (bytes(data), bytes(data[:cut])):
        try:
            read = read_scan(hurt, file_format="glb")
        except BadInput:
            continue
        assert np.isfinite(read.vertices_m).all() and len(read.faces)


def test_a_piece_no_tank_can_hold_is_refused():
    data = bytes_of(meshes.block((0.2, 0.1, 0.15)), "stl")
    with pytest.raises(OutOfRange, match="length"):
        read_scan(data, file_format="stl", length_m=7)
    with pytest.raises(OutOfRange, match="measure its greatest length"):
        read_scan(bytes_of(meshes.block((1e-3, 1e-3, 1e-3)), "stl"), file_format="stl")


# --- made up


LOOKS = ["rounded", "angular", "slab", "pitted", "branching"]


def made(look, **changes):
    wood = look == "branching"
    given = {
        "name": "x",
        "kind": "wood" if wood else "stone",
        "look": look,
        "material": "m",
        "density_kg_m3": 900.0 if wood else 2650.0,
        "size_m": (0.2, 0.15, 0.12),
        "mass_kg": 0.3 if wood else 4.5,
        "seed": 7,
    }
    return stand_in(**given | changes)


@pytest.mark.parametrize("look", LOOKS)
def test_a_made_up_piece_has_the_size_and_the_mass_that_were_measured(look):
    piece = made(look)
    assert np.ptp(piece.vertices_m, axis=0) == pytest.approx([0.2, 0.15, 0.12], rel=1e-9)
    assert piece.vertices_m[:, 2].min() == pytest.approx(0, abs=1e-12)
    assert piece.mass_kg == pytest.approx(0.3 if look == "branching" else 4.5, rel=1e-4)
    assert piece.stand_in and piece.volume_error_l == 0
    assert meshes.open_edges(piece.closed_faces) == 0


@pytest.mark.parametrize("look", LOOKS)
def test_another_seed_is_another_piece_and_the_same_seed_the_same(look):
    one, same, other = made(look), made(look), made(look, seed=8)
    assert one.key == same.key != other.key
    assert (one.vertices_m == same.vertices_m).all()
    assert one.vertices_m.shape != other.vertices_m.shape or not np.allclose(one.vertices_m, other.vertices_m)


@settings(max_examples=8, deadline=None)
@given(
    look=st.sampled_from(LOOKS[:3]),
    fill=st.floats(0.36, 0.74),
    size=st.tuples(*[st.floats(0.03, 1.2)] * 3),
    seed=st.integers(0, 10**6),
)
def test_every_box_and_mass_that_go_together_give_a_stone(look, fill, size, seed):
    mass = 2650 * fill * float(np.prod(size))
    if not 0.005 <= mass <= 2000:
        return
    piece = made(look, size_m=size, mass_kg=mass, seed=seed)
    assert piece.mass_kg == pytest.approx(mass, rel=1e-6)


def test_a_box_and_a_mass_that_contradict_each_other_are_told():
    with pytest.raises(Contradiction, match="would fill 94% of a box"):
        made("rounded", mass_kg=9.0)
    with pytest.raises(Contradiction, match="would fill 10%"):
        made("rounded", mass_kg=1.0)


def test_size_or_mass_alone_is_enough_and_neither_is_not():
    assert made("slab", size_m=None).mass_kg == pytest.approx(4.5)
    assert np.ptp(made("slab", mass_kg=None).vertices_m, axis=0) == pytest.approx([0.2, 0.15, 0.12])
    with pytest.raises(BadInput, match="neither"):
        made("slab", size_m=None, mass_kg=None)
    with pytest.raises(BadInput, match="branching is of wood"):
        made("branching", kind="stone")


# --- keys and keeping


def test_a_key_is_of_all_that_a_piece_is_made_from_and_of_nothing_else():
    vertices, faces = meshes.block((0.2, 0.1, 0.15))
    mesh = {"vertices_m": vertices, "faces": faces}
    key = mesh_key(**GROW, **mesh)
    assert key == mesh_key(**GROW, vertices_m=vertices.copy(), faces=faces.copy())
    assert key == piece_from_mesh(**GROW, **mesh).key
    changed = [GROW | {"name": "y"}, GROW | {"density_kg_m3": 2701.0}, GROW | {"material": "other"}]
    keys = {mesh_key(**other, **mesh) for other in changed}
    keys |= {
        mesh_key(**GROW, vertices_m=vertices * 1.001, faces=faces),
        mesh_key(**GROW, vertices_m=vertices, faces=faces[::-1]),
    }
    assert len(keys | {key}) == 6


def test_what_is_asked_for_names_the_piece_before_it_is_made():
    given = {"name": "x", "kind": "stone", "look": "slab", "material": "m", "density_kg_m3": 2650.0}
    given |= {"size_m": (0.2, 0.15, 0.12), "mass_kg": 4.5, "seed": 7}
    assert asked(**given).key == stand_in(**given).key


def test_a_kept_piece_comes_back_as_it_was():
    piece = replace(body(meshes.block((0.2, 0.1, 0.15))), convex_m=(np.eye(3), np.ones((4, 3))))
    again = unpacked(packed(piece))
    for name in piece.__dataclass_fields__:
        before, after = getattr(piece, name), getattr(again, name)
        if name == "convex_m":
            assert [part.tolist() for part in after] == [part.tolist() for part in before]
        elif isinstance(before, np.ndarray):
            assert after.dtype == before.dtype and (after == before).all()
        else:
            assert after == before


@settings(max_examples=40, deadline=None)
@given(at=st.integers(0, 10**6), flip=st.integers(1, 255), cut=st.integers(0, 10**6))
def test_damage_to_a_kept_piece_is_seen(at, flip, cut):
    data = bytearray(packed(body(tetrahedron())))
    whole = bytes(data)
    data[at % len(data)] ^= flip
    for hurt in (bytes(data), whole[: cut % len(whole)], whole + b"x"):
        with pytest.raises(BadInput):
            unpacked(hurt)
