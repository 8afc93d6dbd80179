"""Saved versions of a job: all are listed with what they changed, each can be seen, and taken back as a new one."""

from __future__ import annotations

import re

import pytest

from slackwater.book import jobs
from slackwater.job.text import add_card, set_value
from tests.web.conftest import NOW
from tests.web.test_rest import told

BEGUN = 'format = 1\nname = "Lobby"\n[tank]\nlength = "118 cm"  # to the seam\n'


@pytest.fixture
def job_id(office):
    return jobs.create(office.book, text=BEGUN, at=NOW, by="").id


def save(office, job_id, change):
    now = jobs.newest(office.book, job_id)
    return jobs.save_version(office.book, job_id, change(now.text), parent=now.n, at=NOW, by="").n


def longer(text):
    return set_value(text, ("tank", "length"), "120 cm")


def test_each_version_is_told_with_what_it_changed_newest_first(call, office, job_id):
    save(office, job_id, longer)
    save(office, job_id, lambda text: add_card(text, ("stones",), {"material": "seiryu_stone"}))
    page = told(call.get(f"/jobs/{job_id}/versions"))
    found = [
        page.index(words)
        for words in ("version 3", "0 entries → 1", "version 2", "118 cm → 120 cm", "version 1", "The job was begun")
    ]
    assert found == sorted(found)
    assert page.index("the newest") < page.index("version 2")
    assert f'href="/jobs/{job_id}/versions"' in call.get(f"/jobs/{job_id}").text


def test_an_old_version_comes_back_as_a_new_one_and_none_is_lost(call, office, job_id):
    save(office, job_id, longer)
    page = call.get(f"/jobs/{job_id}/versions/1")
    assert "120 cm → 118 cm" in told(page)
    based_on = re.search(r'name="based_on" value="(\d+)"', page.text)[1]
    answer = call.post(f"/jobs/{job_id}/versions/1/back", data={"based_on": based_on})
    assert (answer.status_code, answer.headers["location"]) == (303, f"/jobs/{job_id}/versions/3")
    assert [jobs.version(office.book, job_id, n).text for n in (1, 2, 3)] == [BEGUN, longer(BEGUN), BEGUN]
    assert "as it stands" in told(call.get(f"/jobs/{job_id}/versions/3"))


def test_what_somebody_saved_meanwhile_is_not_taken_over(call, office, job_id):
    save(office, job_id, longer)
    save(office, job_id, lambda text: set_value(text, ("tank", "width"), "45 cm"))
    answer = call.post(f"/jobs/{job_id}/versions/1/back", data={"based_on": "2"})
    assert answer.status_code == 409
    assert jobs.get(office.book, job_id).newest_n == 3


def test_a_version_shows_its_answers_and_is_taken_out_as_it_was_typed(call, job_id):
    page = told(call.get(f"/jobs/{job_id}/versions/1"))
    assert "118 cm" in page
    assert "Lobby" in page
    assert call.get(f"/jobs/{job_id}/versions/1/job.toml").text == BEGUN


def test_a_version_that_cannot_be_read_is_shown_as_it_is(call, office, job_id):
    save(office, job_id, lambda text: "tank = [\n")
    assert "tank = [" in call.get(f"/jobs/{job_id}/versions/2").text
    assert "cannot be read" in told(call.get(f"/jobs/{job_id}/versions"))


def test_many_versions_come_on_several_pages(call, office, job_id):
    for number in range(2, 14):
        save(office, job_id, lambda text, number=number: set_value(text, ("tank", "length"), f"{100 + number} cm"))
    first = call.get(f"/jobs/{job_id}/versions").text
    onward = re.search(r'href="([^"]+before=\d+)"', first)[1]
    second = call.get(onward).text
    shown = [int(n) for n in re.findall(r">version (\d+)<", first + second)]
    assert shown == list(range(13, 0, -1))
    assert "Older versions" not in second


@pytest.mark.parametrize("path", ["versions/7", "versions/7/job.toml"])
def test_a_version_that_is_not_there_is_not_found(call, job_id, path):
    assert call.get(f"/jobs/{job_id}/{path}").status_code == 404
