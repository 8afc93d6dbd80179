"""Pictures of a job: drawn once, kept, told what is on them, offered where they are there."""

from __future__ import annotations

import numpy as np
import pytest

from slackwater.actions import picturing
from slackwater.actions.picture_work import TOLD, _lay, laid_beside
from slackwater.actions.picturing import CAPTION, OnePicture, Pictures, Wish, offer_pictures, pictures_of
from slackwater.cli.main import main
from slackwater.errors import BadInput
from slackwater.layout.gltf import to_glb
from slackwater.paper.picture_page import NO_PICTURES, OfferPictures, Shot, pictures_data
from slackwater.picture import apart, mitsuba
from slackwater.picture.mitsuba import Drawn
from slackwater.reader import Reader
from tests.jobs import EXAMPLES, job_from
from tests.picture.scenes import catalog, tank

SMALL = Wish(ages=("planted", "month3"), width=64, height=36)


@pytest.fixture
def drawn(monkeypatch):
    """Instead of the renderer: grey pictures, and how often each camera was asked for."""
    asked = []

    def draw(scene, cameras, *, width, height, on_pass, seconds, **_):
        for number, camera in enumerate(cameras):
            asked.append((scene.age, camera.side))
            on_pass(number, 1, 1)
            light = np.full((height, width, 3), 0.1 * len(asked), dtype=np.float32)
            yield Drawn(light=light, samples=4, whole=seconds is None, denoised=False, seconds=0.0)

    monkeypatch.setattr(apart, "draw_apart", draw)
    return asked


@pytest.fixture(scope="module")
def scene():
    return to_glb(tank())


def job(**changes):
    return job_from(plants=[{"plant": "vallisneria_nana", "units": 2}], **changes)


def pictures(scene, cache, wish=SMALL, asked=None, **more):
    return pictures_of(asked or job(), catalog(), scene, wish, cache=cache, reader=Reader(), **more)


def test_each_side_and_age_is_drawn_once_and_then_kept(drawn, scene, tmp_path):
    heard = []
    first = pictures(scene, tmp_path, on_progress=heard.append)
    assert drawn == [(age, side) for age in SMALL.ages for side in ("front", "rear", "oblique")]
    assert [picture.file for picture in first.pictures][:2] == ["front-planted.png", "front-month3.png"]
    assert heard[-1] == "drawing obliquely above, after three months: picture 6 of 6, 100 %"
    again = pictures(scene, tmp_path)
    assert len(drawn) == 6
    assert again == first


@pytest.mark.parametrize(
    "changes",
    [{"light.bottom_centre": "80 umol/m2/s"}, {"seed": 99}, {"plants.0.units": 3}],
    ids=["light", "seed", "plants"],
)
def test_what_changes_the_picture_has_it_drawn_anew(changes, drawn, scene, tmp_path):
    pictures(scene, tmp_path)
    changed = job_from(**{"plants": [{"plant": "vallisneria_nana", "units": 2}], **changes})
    pictures(scene, tmp_path, asked=changed)
    assert len(drawn) == 12


def test_one_that_was_stopped_is_handed_out_told_and_not_kept(drawn, scene, tmp_path):
    wish = Wish(sides=("front",), ages=("week6",), width=64, height=36, seconds=1)
    found = pictures(scene, tmp_path, wish)
    assert not found.pictures[0].whole
    assert "1 of the pictures were stopped" in found.caption[-1]
    assert not list(tmp_path.glob("*.png"))


def test_a_side_that_nobody_sees_is_refused(drawn, scene, tmp_path):
    with pytest.raises(BadInput, match="front, rear, oblique"):
        pictures(scene, tmp_path, Wish(sides=("left",)))


def test_the_caption_tells_plants_light_and_what_is_not_shown(drawn, scene, tmp_path):
    told = " ".join(pictures(scene, tmp_path).caption)
    assert "1 kinds" in told and "12 single portions" in told
    assert "read at the bottom, 62" in told
    assert "Not shown: animals" in told
    dark = " ".join(pictures(scene, tmp_path, asked=job_from(plants=None, light=None)).caption)
    assert "No plants are named" in dark and "was not read; 60" in dark


def test_the_offer_shows_what_is_there_and_else_the_command(drawn, scene, tmp_path, monkeypatch):
    monkeypatch.setattr(mitsuba, "is_installed", lambda: False)
    before = offer_pictures(job(), catalog(), scene, cache=tmp_path, reader=Reader())
    assert before.shots == () and "./go setup picture" in before.missing
    monkeypatch.setattr(mitsuba, "is_installed", lambda: True)
    assert "slackwater picture" in offer_pictures(job(), catalog(), scene, cache=tmp_path, reader=Reader()).missing
    pictures(scene, tmp_path, Wish())
    shown = offer_pictures(job(), catalog(), scene, cache=tmp_path, reader=Reader("metric", "de"))
    assert [shot.file for shot in shown.shots] == [
        *("picture-oblique-month3.png", "picture-front-month3.png", "picture-rear-month3.png"),
        *("picture-oblique-planted.png", "picture-oblique-week6.png"),
    ]
    assert shown.shots[1].title == "Von vorn, nach drei Monaten"
    assert offer_pictures(job(), catalog(), None, cache=tmp_path, reader=Reader()) == NO_PICTURES


def test_what_is_laid_beside_a_plan_comes_back_and_papers_without_it_go(tmp_path):
    found = OfferPictures(shots=(Shot("picture-front-month3.png", "t", "a", b"png"),), caption=("c",))
    (tmp_path / "set").mkdir()
    _lay(found, tmp_path)
    assert laid_beside(tmp_path) == found
    assert not (tmp_path / "set").exists()
    (tmp_path / "pictures" / TOLD).write_text("{", encoding="utf-8")
    assert laid_beside(tmp_path) is None


def test_a_folder_of_pictures_is_written_whole_and_no_other_one_is_touched(tmp_path):
    found = Pictures("a job", (OnePicture("front", "week6", b"png", True),), ("told",))
    picturing._write(found, tmp_path / "out")
    picturing._write(found, tmp_path / "out")
    assert sorted(file.name for file in (tmp_path / "out").iterdir()) == [CAPTION, "front-week6.png"]
    assert (tmp_path / "out" / CAPTION).read_text(encoding="utf-8") == "a job\ntold\n"


def test_pictures_as_texts_name_files_that_are_there():
    shots = (Shot("a.png", "t", "alt", b"1"),)
    told = pictures_data(OfferPictures(shots=shots), Reader())
    assert told["items"] == [{"file": "a.png", "title": "t", "alt": "alt"}]
    assert OfferPictures(shots=shots).files == {"a.png": b"1"}


def test_the_command_says_in_one_sentence_what_installs_the_renderer(monkeypatch, capsys, tmp_path):
    monkeypatch.setattr(mitsuba, "is_installed", lambda: False)
    assert main(["picture", str(EXAMPLES / "blue-corridor.toml"), "--out", str(tmp_path / "out")]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert (
        told.err == "Pictures need a renderer that is not installed: run `./go setup picture` once, then ask again.\n"
    )


@pytest.mark.parametrize("size", ["640", "0x0", "64x-36", "9999x9999", "640x100000", "axb", "64x36x2", "2000x100"])
def test_a_size_that_cannot_be_is_answered_with_what_is_expected(size, capsys):
    with pytest.raises(SystemExit):
        main(["picture", "x.toml", "--size", size])
    assert "width x height such as 1920x1080" in capsys.readouterr().err
