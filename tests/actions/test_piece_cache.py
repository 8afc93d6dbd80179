"""Pieces on disk: made once, whole or not at all, damaged ones thrown away."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from slackwater.actions.piece_cache import PieceCache
from slackwater.actions.settings import cache_folder
from slackwater.layout import meshes, pieces
from tests.layout.scenes import body

GIVEN = {"name": "x", "kind": "stone", "look": "rounded", "material": "stone", "density_kg_m3": 2700.0}
PIECE = body(meshes.block((0.2, 0.1, 0.15)))


def files(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_piece_is_made_once(tmp_path, monkeypatch):
    vertices, faces = meshes.block((0.2, 0.1, 0.15))
    first = PieceCache(tmp_path / "cache").from_mesh(**GIVEN, vertices_m=vertices, faces=faces)
    assert files(tmp_path / "cache") == [f"{first.key}.piece"]
    monkeypatch.setattr(pieces, "assembled", None)  # would fail if it were made again
    again = PieceCache(tmp_path / "cache").from_mesh(**GIVEN, vertices_m=vertices, faces=faces)
    assert again.key == first.key and again.volume_l == first.volume_l == pytest.approx(3.0)


def test_a_made_up_piece_is_made_once(tmp_path, monkeypatch):
    asked = {**GIVEN, "size_m": (0.1, 0.1, 0.08), "mass_kg": 1.0, "seed": 3}
    cache = PieceCache(tmp_path)
    first = cache.stand_in(**asked)
    monkeypatch.setattr("slackwater.layout.standin.made", None)
    assert cache.stand_in(**asked).key == first.key


@pytest.mark.parametrize("content", [b"", b"x" * 500, None], ids=["empty", "rubbish", "cut"])
def test_a_damaged_entry_is_thrown_away(tmp_path, content):
    cache = PieceCache(tmp_path)
    cache.put(PIECE)
    (path,) = tmp_path.iterdir()
    path.write_bytes(path.read_bytes()[:-1] if content is None else content)
    assert cache.get(PIECE.key) is None
    assert files(tmp_path) == []


def test_an_entry_under_the_name_of_another_piece_is_thrown_away(tmp_path):
    cache = PieceCache(tmp_path)
    cache.put(PIECE)
    (tmp_path / f"{PIECE.key}.piece").rename(tmp_path / "other.piece")
    assert cache.get("other") is None
    assert files(tmp_path) == []


def test_those_not_used_for_longest_go_first(tmp_path):
    cache = PieceCache(tmp_path, most=2)
    names = [body(meshes.block((0.2, 0.1, 0.15)), name=name) for name in "abc"]
    for age, piece in ((300, names[0]), (200, names[1])):
        cache.put(piece)
        os.utime(tmp_path / f"{piece.key}.piece", (10**9 - age, 10**9 - age))
    assert cache.get(names[0].key) is not None  # used just now
    cache.put(names[2])
    assert files(tmp_path) == sorted(f"{names[number].key}.piece" for number in (0, 2))


def test_a_folder_that_cannot_be_written_is_no_error(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("no folder", encoding="utf-8")
    cache = PieceCache(blocked / "cache")
    cache.put(PIECE)
    assert cache.get(PIECE.key) is None


def test_the_folder_is_the_users_cache_or_what_is_set():
    assert cache_folder({"SLACKWATER_CACHE": "there"}) == Path("there")
    assert "slackwater" in str(cache_folder({}))
