"""Small pictures, really drawn."""

from __future__ import annotations

import io
import os

import numpy as np
import pytest
from PIL import Image

from slackwater.errors import CannotRun, OutOfRange
from slackwater.picture import apart, mitsuba
from slackwater.picture.apart import draw_apart
from slackwater.picture.camera import camera_of
from slackwater.picture.compose import scene_of
from slackwater.picture.mitsuba import cut_up, exposure_of, frame_of, prism, shown_on_screen, two_faced
from slackwater.picture.scene import Mesh
from tests.layout.scenes import BENT, BOW, BOX, CUT, glass
from tests.picture.scenes import kinds, still

drawn_here = pytest.mark.skipif(
    not mitsuba.is_installed(), reason="mitsuba is not installed: ./go setup picture, or ./go test, brings it"
)
WIDE, HIGH = 64, 36


def scene(par=60.0):
    return scene_of(still(), kinds()[:2], "week6", par_umol_m2_s=par, seed=5)


def draw(made, *sides, **more):
    cameras = [camera_of(glass(), side, width_over_height=WIDE / HIGH) for side in sides]
    return list(draw_apart(made, cameras, width=WIDE, height=HIGH, **{"samples": 4, "seed": 1, **more}))


@pytest.fixture(scope="module")
def pictures():
    return draw(scene(), "front", "rear", "oblique", samples=8)


@drawn_here
def test_a_picture_has_its_size_and_shows_something(pictures):
    for one in pictures:
        with Image.open(io.BytesIO(one.png())) as shown:
            assert shown.size == (WIDE, HIGH)
        assert np.isfinite(one.light).all()
        assert one.whole and one.samples == 8
        assert float(one.light.std()) > 0.05


@drawn_here
def test_the_room_is_as_bright_on_both_faces(pictures):
    front, rear, _ = pictures
    # The upper corners show the wall, which shines by itself: any other exposure would show there.
    assert front.light[:2, :8].mean() == pytest.approx(float(rear.light[:2, :8].mean()), rel=0.02)
    assert front.light.mean() == pytest.approx(float(rear.light.mean()), rel=0.25)


@drawn_here
def test_the_same_seed_gives_the_same_bytes_and_more_light_a_brighter_tank(pictures):
    (again,) = draw(scene(), "front", samples=8)
    assert again.png() == pictures[0].png()
    (bright,) = draw(scene(par=150), "front", samples=8)
    # The same paths, so that each point can be held against itself: the wall as before, lit leaves and stone brighter, by
    # (150 / 60) ^ 0.35 = 1.38 where all light is the lamp's.
    ratio = (bright.light / np.maximum(pictures[0].light, 1e-3))[8:28, 6:58]
    assert np.median(ratio) > 0.98
    assert 1.2 < np.percentile(ratio, 97) < 1.45


@drawn_here
def test_one_that_is_stopped_hands_out_the_best_so_far():
    heard = []

    def stop_after_two(number, done, of):
        heard.append((number, done, of))
        return done < 2

    (one,) = draw(scene(), "front", samples=40, on_pass=stop_after_two)
    assert heard == [(0, 1, 10), (0, 2, 10)]
    assert not one.whole and one.samples == 8


@drawn_here
def test_a_budget_ends_a_picture_after_its_first_pass_at_the_least():
    (one,) = draw(scene(), "front", samples=400, seconds=1e-6)
    assert not one.whole and one.samples == 4


@drawn_here
def test_what_cannot_be_drawn_is_said_by_the_process_that_draws():
    with pytest.raises(OutOfRange, match="samples"):
        draw(scene(), "front", samples=0)


@drawn_here
@pytest.mark.skipif(os.name == "nt", reason="the stand-in for Python is a program of other systems")
def test_a_process_that_ends_too_early_is_said(monkeypatch):
    monkeypatch.setattr(apart.sys, "executable", "/bin/false")
    with pytest.raises(CannotRun, match="smaller picture"):
        draw(scene(), "front")


def test_without_the_renderer_the_command_that_brings_it_is_named(monkeypatch):
    monkeypatch.setattr(apart, "is_installed", lambda: False)
    with pytest.raises(CannotRun, match=r"\./go setup picture"):
        draw(scene(), "front")


def test_more_light_is_exposed_less_but_ends_brighter_and_exposure_knows_no_side():
    dim, bright = exposure_of(scene(30)), exposure_of(scene(120))
    assert dim > bright
    assert 120 * bright > 30 * dim


def test_screens_get_what_they_can_show_in_the_order_of_brightness():
    grey = np.linspace(0, 40, 200, dtype=np.float32)[None, :, None] * np.ones(3, dtype=np.float32)
    shown = shown_on_screen(grey)
    assert shown[0, 0].tolist() == [0, 0, 0]
    assert shown.min() >= 0 and shown.max() <= 1
    assert (np.diff(shown[0, :, 0]) >= 0).all()
    assert np.allclose(shown[..., 0], shown[..., 2])


@pytest.mark.parametrize(
    ("corners", "area"), [(BOX, 0.4), (CUT, 0.4 - 0.17 * 0.18 / 2), (BENT, 0.37 * 0.4 + 0.63 * 0.17)]
)
def test_outlines_are_cut_into_triangles_that_fill_them(corners, area):
    points = np.array(corners)
    sizes = []
    for a, b, c in cut_up(corners):
        one, other = points[b] - points[a], points[c] - points[a]
        sizes.append((one[0] * other[1] - one[1] * other[0]) / 2)
    assert min(sizes) >= 0
    assert sum(sizes) == pytest.approx(area)


@pytest.mark.parametrize("corners", [BOX, BOW, CUT, BENT], ids=["box", "bow", "cut", "bent"])
def test_a_body_of_water_is_closed_and_looks_outward(corners):
    body = prism(corners, 0.0, 0.37)
    a, b, c = (body.vertices_m.astype(float)[body.faces[:, k]] for k in range(3))
    points = np.array(corners)
    x, y = points.T
    area = float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2
    assert float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6 == pytest.approx(0.37 * area, rel=1e-6)
    edges = {
        tuple(edge) for face in body.faces for edge in ((face[0], face[1]), (face[1], face[2]), (face[2], face[0]))
    }
    assert all((other, one) in edges for one, other in edges)


def test_a_leaf_shown_from_both_sides_has_each_triangle_twice_the_other_way_round():
    mesh = Mesh(
        np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0]], np.float32),
        np.array([[0, 1, 2]], np.int32),
        np.eye(3, dtype=np.float32),
    )
    both = two_faced(mesh)
    a, b, c = (both.vertices_m[both.faces[:, k]] for k in range(3))
    assert np.cross(b - a, c - a)[:, 2].tolist() == [1, -1]
    assert a[0, 2] > 0 > a[1, 2]
    assert np.array_equal(both.colour[both.faces[1]], np.eye(3)[::-1])


def test_a_sheet_stands_behind_each_pane_that_nobody_looks_through():
    assert scene().backdrop == ("left", "right")
    assert len(frame_of(scene())) == 2 + 4 + 4 + 2
