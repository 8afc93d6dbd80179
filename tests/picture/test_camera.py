"""The whole glass in each picture, uprights upright."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import BadInput
from slackwater.layout.scene import Glass
from slackwater.picture.camera import MARGIN, camera_of, corners_m, seen_at, sides_of
from tests.layout.scenes import glass


def in_picture(over, side, shape):
    camera = camera_of(over, side, width_over_height=shape)
    seen = seen_at(corners_m(over), np.array(camera.origin_m), np.array(camera.target_m))
    half = np.tan(np.radians(camera.across_deg) / 2)
    return camera, seen[:, 0] / half, seen[:, 1] / (half / shape) - 2 * camera.rise


@given(
    length=st.floats(0.2, 3),
    width=st.floats(0.2, 1),
    height=st.floats(0.2, 1.2),
    shape=st.floats(0.4, 3),
    side=st.sampled_from(["front", "rear", "left", "right", "oblique"]),
)
def test_the_whole_glass_is_in_every_picture_and_fills_it(length, width, height, shape, side):
    over = Glass(
        corners_m=((0, 0), (length, 0), (length, width), (0, width)),
        height_m=height,
        water_line_m=0.9 * height,
        wall_m=0.01,
        public_sides=("front", "rear", "left", "right"),
    )
    _, across, up = in_picture(over, side, shape)
    room = 1 - 2 * MARGIN
    assert np.abs(across).max() <= room + 1e-9
    assert np.abs(up).max() <= room + 1e-9
    assert max(float(np.abs(across).max()), float(up.max() - up.min()) / 2) >= room - 1e-9


@pytest.mark.parametrize("side", ["front", "rear"])
def test_uprights_are_upright_and_the_eye_is_over_the_water(side):
    camera, across, _ = in_picture(glass(), side, 16 / 9)
    # Corners of the box come in pairs, bottom and top.
    assert across[0::2] == pytest.approx(across[1::2], abs=1e-12)
    assert camera.origin_m[2] > glass().water_line_m
    assert camera.origin_m[2] == camera.target_m[2]


def test_front_and_rear_are_mirror_images():
    front, rear = (camera_of(glass(), side, width_over_height=1.5) for side in ("front", "rear"))
    assert front.across_deg == pytest.approx(rear.across_deg)
    assert front.origin_m[1] == pytest.approx(0.4 - rear.origin_m[1])


def test_a_side_that_nobody_sees_is_refused_with_those_that_are():
    assert sides_of(glass()) == ("front", "rear", "oblique")
    with pytest.raises(BadInput, match="front, rear, oblique"):
        camera_of(glass(), "left", width_over_height=1)
