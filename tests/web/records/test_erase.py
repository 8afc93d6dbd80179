"""Erasing through the app: in two steps, with what goes and what stays; what is erased is gone from book and screen."""

from __future__ import annotations

import json
from urllib.parse import quote

import pytest

from slackwater.actions import erasing, recording
from slackwater.actions.plan_work import PLAN, Wanted, place_of, plan_kind
from slackwater.book import events, jobs, people, photos, plans, tasks
from slackwater.book.plans import newest
from tests.book.pictures import jpeg
from tests.book.places import event, one_of_each
from tests.web.conftest import NOW
from tests.web.records.conftest import NONE, body

RARE = "Quillfeather"


@pytest.fixture
def known(office):
    found = one_of_each(office.book, name=RARE, text=f'name = "Lobby"\nreference = "L-1"\nbrief = "for {RARE}"\n')
    recording.keep_photos(office, found.job, {"caption": f"{RARE} at the door"}, [jpeg()])
    recording.keep_document(office, found.job, {"title": f"letter of {RARE}"}, ("a.pdf", b"%PDF-"))
    recording.note_condition(office, found.job, {"part": "floor", "seen": f"{RARE} saw it", "at": "2027-02-01T08:00"})
    events.append(office.book, found.job, [event(text=f"{RARE} rang")])
    plans.keep(office.book, found.job, 1, plan_json=json.dumps({"job": RARE}), inputs_hash="x", at=NOW)
    return found


def test_everything_that_may_tell_of_a_client_is_listed(call, known):
    page = call.get(f"/clients/{known.client}/erase").text
    for told in (
        f"{RARE} at the door",
        f"letter of {RARE}",
        f"{RARE} saw it",
        "A plan that was made",
        "A saved version",
    ):
        assert told in page


def test_a_client_without_anything_has_empty_lists(call):
    at = call.post("/clients", data={"name": "Ada"}).headers["location"]
    page = call.get(f"{at}/erase").text
    assert "No photo is left" in page
    assert "No document is left" in page
    assert "No text is left" in page


@pytest.mark.parametrize("target", ["client", "person", "photo", "document"])
def test_nothing_is_erased_before_it_was_said_what_goes_and_what_stays(call, office, known, target):
    ids = {
        "client": known.client,
        "person": known.person,
        "photo": recording.photos_of(office, known.job)[0].id,
        "document": recording.documents_of(office, known.job)[0].id,
    }
    at = f"/erase/{target}/{ids[target]}"
    page = call.get(at).text
    assert "What goes:" in page
    assert "What stays:" in page
    assert not erasing.asked(office, target, ids[target]).gone
    assert call.post(at).status_code == 303
    assert erasing.asked(office, target, ids[target]).gone
    assert "erased before" in call.get(at).text
    if target in ("client", "person"):
        assert people.get(office.book, known.person).person is None
        assert f">{RARE}<" not in call.get(f"/clients/{known.client}").text


def test_an_erased_photo_leaves_the_condition_that_showed_it(call, office, known):
    entry = recording.condition_of(office, known.job)[0]
    recording.add_condition_photos(office, known.job, entry.id, {}, [jpeg()])
    photo = recording.condition_of(office, known.job)[0].photo_ids[0]
    call.post(f"/erase/photo/{photo}")
    page = call.get(f"/jobs/{known.job}/condition").text
    assert "photo erased" in page
    assert photo not in [row.id for row in recording.photos_of(office, known.job)]
    assert photos.get(office.book, photo).erased_at is not None


@pytest.mark.parametrize("table", ["condition", "version", "photo"])
def test_a_text_is_reworded_after_it_was_shown_what_goes(call, office, known, table):
    text = next(
        text for text in erasing.review_of(office, known.client).texts if text.table == table and RARE in text.text
    )
    at = f"/clients/{known.client}/erase/text"
    assert RARE in call.get(f"{at}?place={quote(text.told)}").text
    becomes = text.text.replace(RARE, "the client")
    shown = call.post(at, data={"place": text.told, "becomes": becomes})
    assert shown.status_code == 200
    assert "What goes:" in shown.text
    assert RARE in erasing.text_at(office, known.client, text.told).text
    assert call.post(at, data={"place": text.told, "becomes": becomes, "sure": "yes"}).status_code == 303
    assert erasing.text_at(office, known.client, text.told).text == becomes


def test_what_the_program_made_is_taken_out_whole_and_every_page_still_stands(call, office, known):
    (office.settings.home / "computed" / "x").mkdir(parents=True)
    for text in erasing.review_of(office, known.client).texts:
        if text.made:
            sent = {"place": text.told, "becomes": "whatever was typed", "sure": "yes"}
            assert call.post(f"/clients/{known.client}/erase/text", data=sent).status_code == 303
    assert newest(office.book, known.job).plan_json == "{}"
    assert not (office.settings.home / "computed").exists()
    for page in (
        "/",
        f"/jobs/{known.job}",
        f"/jobs/{known.job}/plan",
        f"/jobs/{known.job}/goods",
        f"/jobs/{known.job}/log",
    ):
        assert call.get(page).status_code == 200, page


def test_words_that_cannot_stand_there_are_told_and_kept_on_the_page(call, office, known):
    text = next(text for text in erasing.review_of(office, known.client).texts if text.field == "body")
    sent = {"place": text.told, "becomes": "no JSON <b>here</b>"}
    answer = call.post(f"/clients/{known.client}/erase/text", data=sent)
    assert answer.status_code == 422
    assert "is JSON" in answer.text
    assert "no JSON &lt;b&gt;here" in answer.text
    assert erasing.text_at(office, known.client, text.told).text == text.text


def test_what_is_not_there_and_what_is_anothers_read_the_same(call, office, known):
    other = one_of_each(office.book, name="Other", text='name = "theirs"\n')
    theirs = erasing.review_of(office, other.client).texts[0].told
    text = f"/clients/{known.client}/erase/text"
    answers = [
        call.get(f"/erase/person/{NONE}"),
        call.post(f"/erase/photo/{NONE}"),
        call.get(f"/erase/everything/{known.client}"),
        call.get(f"/erase/person/{other.person}?client={known.client}"),
        call.get(f"/clients/{NONE}/erase"),
        call.get(f"{text}?place={quote(theirs)}"),
        call.get(f"{text}?place=person+x+sealed"),
        call.post(text, data={"place": theirs, "becomes": "x", "sure": "yes"}),
    ]
    assert {answer.status_code for answer in answers} == {404}
    assert len({body(answer) for answer in answers}) == 1
    assert people.get(office.book, other.person).person.name == "Other"


def test_erasing_from_another_page_is_refused(call, office, known):
    for at in (f"/erase/client/{known.client}", f"/clients/{known.client}/erase/text"):
        assert call.post(at, headers={"origin": "https://example.org"}).status_code == 403
    assert people.get(office.book, known.person).person.name == RARE
    assert jobs.newest(office.book, known.job).text.count(RARE) == 1


def test_a_plan_whose_words_were_erased_is_made_anew(office, known):
    wanted = Wanted(known.job, 1, "metric")
    place = place_of(office.settings, office.book, wanted, on=NOW.date())
    plans.keep(office.book, known.job, 1, plan_json='{"job": "x"}', inputs_hash=place.hash, at=NOW)
    task = tasks.add(office.book, kind=PLAN, arguments=wanted.arguments(), at=NOW, by="", job_id=known.job)
    kind = plan_kind(office.settings, office.book, office.clock)
    assert kind.given(task)["plan_json"] == '{"job": "x"}'
    for text in erasing.review_of(office, known.client).texts:
        if text.table == "plan":
            erasing.reword(office, known.client, text.told, erasing.without(text))
    assert kind.given(task)["plan_json"] == ""
