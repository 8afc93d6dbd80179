"""Sizes of pieces as people write them, and the table of the layout."""

import pytest

from slackwater.errors import BadInput
from slackwater.job.load import read_job

HEAD = 'format = 1\nname = "a job"\n'


def stone(size):
    text = f'{HEAD}[[stones]]\nmaterial = "stone_slate"\npieces = ["6 kg"]\nsizes = [{size}]\n'
    return read_job(text, file_name="job").stones[0].sizes


@pytest.mark.parametrize(
    ("written", "metres"),
    [
        ("'26 x 17 x 21 cm'", (0.26, 0.17, 0.21)),
        ("'26 cm x 17 cm x 210 mm'", (0.26, 0.17, 0.21)),
        ("'26×17×21cm'", (0.26, 0.17, 0.21)),
        ("'26.5 by 17 by 21 cm'", (0.265, 0.17, 0.21)),
        # An inch is 25.4 mm by definition.
        ("'10 1/2 x 7 x 8 in'", (0.2667, 0.1778, 0.2032)),
        ("""'10" x 7" x 8"'""", (0.254, 0.1778, 0.2032)),
    ],
)
def test_a_size_is_read_as_it_is_written(written, metres):
    (size,) = stone(written)
    assert (size.length_m, size.width_m, size.height_m) == pytest.approx(metres)


@pytest.mark.parametrize("written", ["'26 x 17 cm'", "'26 x 17 x 21'", "'x x cm'", "'0 x 17 x 21 cm'", "26", "''"])
def test_what_is_no_size_is_told_with_its_line(written):
    with pytest.raises(BadInput, match=r"stones\[1\]\.sizes\[1\]"):
        stone(written)


def test_a_job_without_a_layout_asks_for_nothing_there():
    wish = read_job(HEAD, file_name="job").layout
    assert (wish.scene, wish.intent, wish.seed, wish.seated_eye_m) == (None, None, None, None)


def test_a_layout_is_told_by_file_intent_seed_and_eyes():
    text = (
        f'{HEAD}[layout]\nscene = "a.glb"\nintent = "island"\nseed = 7\nseated_eye = "120 cm"\nstanding_eye = "1.6 m"\n'
    )
    wish = read_job(text, file_name="job").layout
    assert (wish.scene, wish.intent, wish.seed) == ("a.glb", "island", 7)
    assert (wish.seated_eye_m, wish.standing_eye_m) == pytest.approx((1.2, 1.6))
