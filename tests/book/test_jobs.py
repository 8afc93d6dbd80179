"""Versions of jobs: every one kept, and nobody's edit lost to another's."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime, timedelta
from itertools import pairwise

import pytest

from slackwater.book import jobs, open_book, plans, sites, tanks
from slackwater.book.ids import new_id
from slackwater.errors import BadInput, Conflict, NotFound
from tests.book.places import NOON, TEXT, one_of_each


def test_every_version_is_kept_as_it_was_typed(book):
    known = one_of_each(book)
    texts = [TEXT, TEXT + "# café ☕\r\n", TEXT + "\t# last, no newline"]
    for n, text in enumerate(texts[1:], start=1):
        assert jobs.save_version(book, known.job, text, parent=n, at=NOON, by="me").n == n + 1
    assert [jobs.version(book, known.job, n).text for n in (1, 2, 3)] == texts
    assert jobs.newest(book, known.job).text == texts[-1]
    assert [(line.n, line.parent) for line in jobs.history(book, known.job)] == [(3, 2), (2, 1), (1, 0)]


def test_of_two_edits_of_one_version_the_second_is_told_of_both_and_saves_nothing(book):
    known = one_of_each(book)
    jobs.save_version(book, known.job, "a = 1", parent=1, at=NOON, by="Ada")
    with pytest.raises(jobs.EditConflict, match="yours began from version 1, version 2 was saved by Ada") as told:
        jobs.save_version(book, known.job, "a = 2", parent=1, at=NOON, by="Bo")
    assert (told.value.based_on, told.value.newest.n, told.value.newest.text) == (1, 2, "a = 1")
    assert isinstance(told.value, Conflict)
    assert jobs.newest(book, known.job).text == "a = 1"
    assert jobs.get(book, known.job).newest_n == 2


def test_saving_the_same_text_again_makes_no_new_version(book):
    # A lost answer makes a browser send its form twice.
    known = one_of_each(book)
    first = jobs.save_version(book, known.job, "a = 1", parent=1, at=NOON, by="me")
    assert jobs.save_version(book, known.job, "a = 1", parent=1, at=NOON, by="me") == first


def test_of_many_at_once_exactly_one_edit_of_each_version_wins(book):
    known = one_of_each(book)

    def edit(n: int) -> bool:
        try:
            jobs.save_version(book, known.job, f"a = {n}", parent=1, at=NOON, by=str(n))
        except jobs.EditConflict:
            return False
        return True

    with ThreadPoolExecutor(8) as pool:
        won = list(pool.map(edit, range(16)))
    assert won.count(True) == 1
    assert [line.n for line in jobs.history(book, known.job)] == [2, 1]


def test_the_line_of_a_job_follows_its_newest_text_and_outlives_one_that_cannot_be_read(book):
    known = one_of_each(book)
    windows = '[[site.windows]]\nstart = "2027-02-1{} 06:30"\n'  # left open, the day itself is meant
    jobs.save_version(book, known.job, TEXT + windows.format(1) + windows.format(0), parent=1, at=NOON, by="me")
    row = jobs.get(book, known.job)
    assert (row.name, row.reference, row.day) == ("Lobby", "L-1", date(2027, 2, 10))
    jobs.save_version(book, known.job, "name = half", parent=2, at=NOON, by="me")
    assert jobs.get(book, known.job).name == "Lobby"
    jobs.save_version(book, known.job, 'name = 7\n[site]\nwindows = "x"', parent=3, at=NOON, by="me")
    row = jobs.get(book, known.job)
    assert (row.name, row.day) == ("", None)


def test_jobs_are_listed_by_pages_and_by_day(book):
    days = ["2027-03-02", "2027-02-10", None, "2027-01-01"]
    made = [
        jobs.create(
            book,
            text=f'[[site.windows]]\nkind = "day"\nstart = "{day} 06:30"\n' if day else "",
            at=datetime(2027, 1, 1, 8, n, tzinfo=NOON.tzinfo),
            by="me",
        ).id
        for n, day in enumerate(days)
    ]
    first = jobs.listed(book, limit=3)
    assert [job.id for job in first] == made[:0:-1]
    assert [job.id for job in jobs.listed(book, limit=3, after=first[-1].id)] == made[:1]
    assert [job.id for job in jobs.by_day(book, since=date(2027, 2, 1))] == [made[1], made[0]]
    assert [job.id for job in jobs.without_day(book)] == [made[2]]


def test_a_job_that_cannot_be_begun_leaves_no_half(book):
    known = one_of_each(book)
    other_site = sites.add(book, known.client, name="other", at=NOON)
    for faulty, kind in (
        ({"text": "x" * (jobs.LONGEST_TEXT + 1)}, BadInput),
        ({"text": "a\x00b"}, BadInput),
        ({"text": "\ud800"}, BadInput),
        ({"text": "", "site_id": new_id(NOON)}, NotFound),
        ({"text": "", "site_id": other_site.id, "tank_id": known.tank}, BadInput),
        ({"text": "", "copied_from": new_id(NOON)}, NotFound),
        ({"text": "", "job_id": known.job}, Conflict),
        ({"text": "", "job_id": "../../etc"}, BadInput),
    ):
        with pytest.raises(kind):
            jobs.create(book, at=NOON, by="me", **faulty)
    assert [job.id for job in jobs.listed(book)] == [known.job]


def test_a_site_has_several_tanks_and_records_are_not_overwritten_unseen(book):
    known = one_of_each(book)
    second = tanks.add(book, known.site, name="second", at=NOON + timedelta(seconds=1))
    assert [tank.name for tank in tanks.at_site(book, known.site)] == ["long tank", "second"]
    assert tanks.change(book, second.id, name="left", revision=1).revision == 2
    with pytest.raises(Conflict, match="you had read revision 1, it is now at 2"):
        tanks.change(book, second.id, name="right", revision=1)
    assert tanks.get(book, second.id).name == "left"
    assert tanks.several(book, [second.id, known.tank, known.site]).keys() == {second.id, known.tank}
    assert sites.several(book, [known.site]) == {known.site: sites.get(book, known.site)}
    moved = jobs.place(book, known.job, site_id=known.site, tank_id=second.id, revision=1)
    assert moved.tank_id == second.id
    with pytest.raises(Conflict):
        jobs.place(book, known.job, site_id=known.site, tank_id=known.tank, revision=1)


def test_somebody_elses_id_is_refused_with_a_sentence(book):
    for ask in (jobs.get, jobs.newest, sites.get, tanks.get):
        with pytest.raises(NotFound, match=r"There is no .* with the id"):
            ask(book, new_id(NOON))
    known = one_of_each(book)
    with pytest.raises(NotFound, match="no version 9"):
        jobs.version(book, known.job, 9)


def test_a_plan_is_kept_once_for_the_same_inputs(book):
    known = one_of_each(book)
    jobs.save_version(book, known.job, "a = 1", parent=1, at=NOON, by="me")
    assert plans.newest(book, known.job) is None
    first = plans.keep(book, known.job, 1, plan_json='{"verdict": 1}', inputs_hash="h1", at=NOON)
    assert plans.keep(book, known.job, 1, plan_json='{"verdict": 2}', inputs_hash="h1", at=NOON) == first
    second = plans.keep(book, known.job, 2, plan_json="{}", inputs_hash="h2", at=NOON)
    assert plans.newest(book, known.job) == second
    later = NOON + timedelta(minutes=1)
    last = plans.keep(
        book, known.job, 2, plan_json="{}", inputs_hash="h3", at=later, summary={"verdict": "fits", "missing": 0}
    )
    assert plans.newest(book, known.job) == last
    other = one_of_each(book).job
    (shown,) = plans.summaries(book, [known.job, other]).values()
    assert (shown.version_n, shown.summary, shown.computed_at) == (2, {"verdict": "fits", "missing": 0}, later)
    with pytest.raises(NotFound, match="no version 3"):
        plans.keep(book, known.job, 3, plan_json="{}", inputs_hash="h", at=NOON)


def test_ids_made_here_follow_the_time_and_are_of_version_seven():
    made = [new_id(datetime(2027, 1, 1, 0, 0, second, tzinfo=NOON.tzinfo)) for second in range(50)]
    assert all(before < after for before, after in pairwise(made))
    assert {(one[14], one[19] in "89ab") for one in made} == {("7", True)}
    # RFC 9562, appendix A.6: 2022-02-22 14:22:22 at -05:00 is 0x017F22E279B0.
    rfc = datetime.fromisoformat("2022-02-22T14:22:22-05:00")
    assert new_id(rfc).startswith("017f22e2-79b0-7")


def test_a_moment_without_a_zone_is_refused(place):
    with open_book(place.where, folder=place.folder) as book, pytest.raises(BadInput, match="no time zone"):
        jobs.create(book, text="", at=datetime(2027, 1, 1), by="me")
