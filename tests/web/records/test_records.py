"""What is kept beside a job, through the app: photos, condition before work, goods, documents, log; on both databases."""

from __future__ import annotations

import io
import json
import zipfile

import pytest

from slackwater.actions import arriving, happening, recording
from slackwater.book import documents, events, jobs, photos, plans
from slackwater.job.event import read_events
from tests.book.pictures import encoded, jpeg
from tests.web.conftest import NOW
from tests.web.records.conftest import AT, NONE, SCRIPT, body, once

PLAN = {
    "supply": {
        "order": [
            {"item": "eleocharis_mini", "unit": "pot", "packs": 6, "pack_size": 1, "order_by": "2027-01-20"},
            {"item": "soil_fine", "unit": "bag of 9 L", "packs": 4, "pack_size": 1, "order_by": None},
            {"item": "salt", "unit": "g", "packs": 2, "pack_size": 500, "order_by": None},
            {"item": "on_hand", "unit": "piece", "packs": 0, "pack_size": 1, "order_by": None},
        ]
    },
    "day": {"entries": [{"activity": "E1", "label": "Lay the bed"}, {"activity": "break:anna", "label": "Break"}]},
}


# ---------------------------------------------------------------- all pages


@pytest.mark.parametrize("page", ["photos", "condition", "goods", "documents", "log"])
def test_an_empty_page_stands_and_is_linked_from_the_job(call, job_id, page):
    answer = call.get(f"/jobs/{job_id}/{page}")
    assert answer.status_code == 200
    assert "Light" in answer.text or "light" in answer.text
    assert f'href="/jobs/{job_id}/{page}"' in call.get(f"/jobs/{job_id}").text


@pytest.mark.parametrize("page", ["photos", "condition", "goods", "documents", "log"])
def test_a_job_that_is_not_there_is_told_in_the_one_sentence(call, page):
    answers = [call.get(f"/jobs/{NONE}/{page}"), call.get(f"/jobs/%3Cscript%3E/{page}")]
    assert {answer.status_code for answer in answers} == {404}
    assert all("There is nothing at this address" in answer.text for answer in answers)


@pytest.mark.parametrize("page", ["photos/more", "condition", "goods", "documents", "log"])
def test_a_form_from_another_page_is_refused(call, job_id, page):
    answer = call.post(f"/jobs/{job_id}/{page}", data={"at": AT}, headers={"origin": "https://example.org"})
    assert answer.status_code == 403


# ---------------------------------------------------------------- photos


def test_photos_are_kept_shown_and_lose_their_place_when_asked(call, office, job_id):
    answer = call.post(
        f"/jobs/{job_id}/photos/more",
        data={"caption": SCRIPT},
        files=[("file", ("a.jpg", encoded("JPEG", told=True))), ("file", ("b.jpg", encoded("WEBP", told=True)))],
    )
    assert answer.status_code == 303
    kept = recording.photos_of(office, job_id)
    assert [photo.has_place for photo in kept] == [True, True]
    page = call.get(f"/jobs/{job_id}/photos").text
    assert "<script>alert" not in page
    assert page.count("Take the place out") == 2
    assert call.post(f"/jobs/{job_id}/photos/{kept[0].id}/place").status_code == 303
    assert {photo.id: photo.has_place for photo in recording.photos_of(office, job_id)} == {
        kept[0].id: False,
        kept[1].id: True,
    }
    assert call.get(f"/jobs/{job_id}/photos").text.count("Take the place out") == 1


def test_of_several_photos_none_is_kept_where_one_is_no_picture(call, office, job_id):
    answer = call.post(
        f"/jobs/{job_id}/photos/more",
        data={"caption": "north wall"},
        files=[("file", ("a.jpg", jpeg())), ("file", ("b.jpg", b"<svg onload='x'/>"))],
    )
    assert answer.status_code == 422
    assert "Photo 2" in answer.text
    assert "north wall" in answer.text
    assert recording.photos_of(office, job_id) == []


def test_another_jobs_photo_keeps_its_place(call, office, job_id, other):
    theirs = photos.add(office.book, encoded("JPEG", told=True), at=NOW, by="", job_id=other)
    answers = [call.post(f"/jobs/{job_id}/photos/{theirs.id}/place"), call.post(f"/jobs/{job_id}/photos/{NONE}/place")]
    assert {answer.status_code for answer in answers} == {404}
    assert body(answers[0]) == body(answers[1])
    assert photos.get(office.book, theirs.id).has_place


# ---------------------------------------------------------------- condition


def test_what_was_seen_is_noted_with_its_photos_and_stands_to_be_signed(call, office, job_id):
    sent = {
        "part": "scratches", "place": "front pane", "seen": SCRIPT, "at": AT, "without_place": "yes",
        "once": once(call.get(f"/jobs/{job_id}/condition").text),
    }  # fmt: skip
    for _ in range(2):
        answer = call.post(f"/jobs/{job_id}/condition", data=sent, files=[("file", ("a.jpg", jpeg()))])
        assert answer.status_code == 303
    (entry,) = recording.condition_of(office, job_id)
    assert entry.at.astimezone().strftime("%Y-%m-%dT%H:%M") == AT
    assert len(entry.photo_ids) == 1
    assert not photos.get(office.book, entry.photo_ids[0]).has_place
    page = call.get(f"/jobs/{job_id}/condition").text
    assert "front pane" in page
    assert "<script>alert" not in page
    assert "signature" in page
    more = call.post(f"/jobs/{job_id}/condition/{entry.id}/photos", files=[("file", ("c.jpg", jpeg()))])
    assert more.status_code == 303
    assert len(recording.condition_of(office, job_id)[0].photo_ids) == 2


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"seen": ""}, "This is needed"),
        ({"part": "walls"}, "Choose one of the list"),
        ({"at": "noon"}, "A date with a time"),
        ({"seen": "s" * 5000}, "at most 4000"),
    ],
)
def test_what_cannot_be_noted_is_told_beside_its_field(call, office, job_id, changed, said):
    sent = {"part": "seams", "place": "left rear", "seen": "old repair", "at": AT, **changed}
    answer = call.post(f"/jobs/{job_id}/condition", data=sent)
    assert answer.status_code == 422
    assert said in answer.text
    assert "left rear" in answer.text
    assert recording.condition_of(office, job_id) == []


def test_photos_do_not_go_to_what_was_seen_on_another_job(call, office, job_id, other):
    theirs = recording.note_condition(office, other, {"part": "floor", "seen": "dry", "at": AT})
    answer = call.post(f"/jobs/{job_id}/condition/{theirs.id}/photos", files=[("file", ("c.jpg", jpeg()))])
    assert answer.status_code == 404
    assert recording.condition_of(office, other)[0].photo_ids == ()


# ---------------------------------------------------------------- goods


@pytest.fixture
def ordered(office, job_id):
    plans.keep(office.book, job_id, 1, plan_json=json.dumps(PLAN), inputs_hash="x", at=NOW)
    return job_id


def test_goods_are_held_against_the_order_and_what_is_missing_stands_on_top(call, office, ordered):
    first = arriving.goods(office, ordered)
    assert {line.key: (line.ordered, line.unit) for line in first.lines} == {
        "eleocharis_mini": (6, "pot"), "soil_fine": (4, "bag of 9 L"), "salt": (2, "pack of 500 g"),
    }  # fmt: skip
    sent = {"got:soil_fine": "4", "got:eleocharis_mini": "2", "got:salt": "", "at": AT}
    sent["once"] = once(call.get(f"/jobs/{ordered}/goods").text)
    for _ in range(2):
        assert call.post(f"/jobs/{ordered}/goods", data=sent).status_code == 303
    now = arriving.goods(office, ordered)
    assert {line.key: line.missing for line in now.lines} == {"eleocharis_mini": 4, "salt": 2, "soil_fine": 0}
    assert now.lines[-1].key == "soil_fine"
    page = call.get(f"/jobs/{ordered}/goods").text
    assert "4 missing" in page
    assert page.index("eleocharis mini") < page.index("soil fine")
    call.post(f"/jobs/{ordered}/goods", data={"got:soil_fine": "-1,5", "at": AT})
    assert {line.key: line.missing for line in arriving.goods(office, ordered).lines}["soil_fine"] == 1.5


@pytest.mark.parametrize("amount", ["three", "nan", "inf", "1e400", "4; DROP"])
def test_an_amount_that_is_no_number_loses_nothing(call, office, ordered, amount):
    answer = call.post(f"/jobs/{ordered}/goods", data={"got:salt": amount, "got:soil_fine": "3", "at": AT})
    assert answer.status_code == 422
    assert 'value="3"' in answer.text
    assert arriving.goods(office, ordered).receipts == ()


def test_what_is_not_in_the_order_is_noted_too_and_an_empty_form_is_told(call, office, job_id):
    assert "Nothing was entered" in call.post(f"/jobs/{job_id}/goods", data={"at": AT}).text
    sent = {"what": SCRIPT, "amount": "2", "unit": "", "at": AT}
    assert call.post(f"/jobs/{job_id}/goods", data=sent).status_code == 303
    page = call.get(f"/jobs/{job_id}/goods").text
    assert "<script>alert" not in page
    assert "2 <bdi>piece" in page


def test_a_plan_whose_words_were_erased_leaves_an_empty_order(call, office, job_id):
    plans.keep(office.book, job_id, 1, plan_json="{}", inputs_hash="x", at=NOW)
    assert "The plan orders nothing" in call.get(f"/jobs/{job_id}/goods").text


# ---------------------------------------------------------------- documents


def zipped():
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as bundle:
        bundle.writestr("word/document.xml", "<w/>")
    return packed.getvalue()


@pytest.mark.parametrize(
    ("name", "content", "kind", "saved_as"),
    [
        ("rules.pdf", b"%PDF-1.7 x", "application/pdf", "rules.pdf"),
        ("page.html", b"<html><script>alert(1)</script>", "text/plain", "page.txt"),
        ("drawing.svg", b"<svg onload='alert(1)'/>", "text/plain", "drawing.txt"),
        ("../../etc/passwd.pdf", b"%PDF-", "application/pdf", "passwd.pdf"),
        ("C:\\x\\a\u202efdp.exe", b"%PDF-", "application/pdf", "afdp.pdf"),
        ('a"; filename="b.exe', b"%PDF-", "application/pdf", "a; filename=b.pdf"),
        ("تقرير.pdf", b"%PDF-", "application/pdf", "تقرير.pdf"),
        ("letter.docx", zipped(), recording.KINDS["docx"], "letter.docx"),
        ("letter.exe", zipped(), "application/zip", "letter.zip"),
        ("list.csv", "a,ü\r\n1,2\r\n".encode(), "text/csv", "list.csv"),
        ("photo.pdf", jpeg(), "image/jpeg", "photo.jpg"),
    ],
)
def test_a_document_is_handed_out_as_a_file_of_its_own_kind(call, office, job_id, name, content, kind, saved_as):
    row = recording.keep_document(office, job_id, {}, (name, content))
    answer = call.get(f"/jobs/{job_id}/documents/{row.id}")
    assert answer.status_code == 200
    assert answer.content == content
    assert answer.headers["content-type"].partition(";")[0] == kind
    disposition = answer.headers["content-disposition"]
    assert disposition.startswith("attachment;")
    assert disposition.count('"') == 2
    assert recording.document(office, job_id, row.id).file_name == saved_as
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "<script>alert" not in call.get(f"/jobs/{job_id}/documents").text


def test_a_document_comes_in_by_its_form(call, office, job_id):
    sent = {"title": SCRIPT}
    answer = call.post(f"/jobs/{job_id}/documents", data=sent, files=[("file", ("a.pdf", b"%PDF-1.7"))])
    assert answer.status_code == 303
    assert recording.documents_of(office, job_id)[0].title == SCRIPT


@pytest.mark.parametrize(
    ("file", "said"),
    [
        (("a.exe", b"MZ\x90\x00\x03"), "This kind of file is not kept"),
        (("a.txt", b""), "No file was chosen"),
        (("a.pdf", b"%PDF-" + b"x" * 25_000_001), "at most 25 MB"),
    ],
)
def test_a_file_that_is_not_kept_is_told_and_what_was_typed_stays(call, office, job_id, file, said):
    answer = call.post(f"/jobs/{job_id}/documents", data={"title": "water report"}, files=[("file", file)])
    assert answer.status_code == 422
    assert said in answer.text
    assert "water report" in answer.text
    assert recording.documents_of(office, job_id) == []


def test_another_jobs_document_is_not_handed_out(call, office, job_id, other):
    theirs = documents.add(office.book, other, b"x", title="t", media_type="text/plain", at=NOW, by="")
    answers = [call.get(f"/jobs/{job_id}/documents/{theirs.id}"), call.get(f"/jobs/{job_id}/documents/{NONE}")]
    assert {answer.status_code for answer in answers} == {404}
    assert body(answers[0]) == body(answers[1])


# ---------------------------------------------------------------- log


def test_the_log_takes_what_happened_and_shows_it_in_order(call, office, ordered):
    at = f"/jobs/{ordered}/log"
    for sent in (
        {"kind": "finished", "subject": "E1", "at": "2027-02-01T10:00"},
        {"kind": "started", "subject": "E1", "at": "2027-02-01T09:00"},
        {"kind": "slipped", "subject": "E1", "at": "2027-02-01T09:30", "remaining_min": "1 h 10 min"},
        {"kind": "counted", "subject": "boraras_brigittae", "at": "2027-02-01T09:40", "caught": "12"},
        {"kind": "noted", "text": SCRIPT, "at": "2027-02-01T09:50"},
    ):
        assert call.post(at, data=sent).status_code == 303, sent
    log = happening.log_of(office, ordered)
    assert [entry.row.event.kind.value for entry in log.entries] == [
        "started",
        "slipped",
        "counted",
        "noted",
        "finished",
    ]
    assert log.entries[1].row.event.body == {"remaining_min": 70}
    assert log.entries[2].row.event.body == {"caught": 12}
    assert log.work == (("E1", "Lay the bed"),)
    page = call.get(at).text
    assert "<script>alert" not in page
    assert page.count("Lay the bed") >= 4
    told = read_events(call.get(f"{at}/events.jsonl").text, file_name="log")
    assert {event.id for event in told} == {entry.row.event.id for entry in log.entries}
    assert {event.job for event in told} == {jobs.get(office.book, ordered).reference}


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"kind": "exploded", "at": AT}, "Choose one of the list"),
        ({"kind": "started", "subject": "Z9", "at": AT}, "Choose one of the list"),
        ({"kind": "started", "subject": "E1", "at": "soon"}, "A time is expected, such as 1240"),
        ({"kind": "slipped", "subject": "E1", "at": AT, "remaining_min": "long"}, "time span"),
        ({"kind": "slipped", "subject": "E1", "at": AT, "remaining_min": "3000"}, "out of range"),
        ({"kind": "counted", "subject": "boraras_brigittae", "at": AT, "caught": "1.5"}, "whole number"),
        ({"kind": "noted", "text": "", "at": AT}, "This is needed"),
    ],
)
def test_an_entry_that_cannot_be_used_is_told_and_not_kept(call, office, ordered, sent, said):
    answer = call.post(f"/jobs/{ordered}/log", data=sent)
    assert answer.status_code == 422
    assert said in answer.text
    assert events.after(office.book, ordered) == []


HOURS = {
    "E1": ("2027-02-01T08:00:00+01:00", "2027-02-01T08:30:00+01:00"),
    "E2": ("2027-02-01T08:30:00+01:00", "2027-02-01T09:30:00+01:00"),
    "E3": ("2027-02-01T10:00:00+01:00", "2027-02-01T11:00:00+01:00"),
}
ON_THE_DAY = """reference = "J"
[site]
time_zone = "Europe/Berlin"
windows = [{ start = "2027-02-01 08:00", end = "2027-02-01 18:00" }]
[[livestock]]
species = "boraras_brigittae"
"""


@pytest.fixture
def on_the_day(office):
    """A job whose planned day is going on: it is 09:00 at the house."""
    made = jobs.create(office.book, text=ON_THE_DAY, at=NOW, by="").id
    entries = [{"activity": name, "label": f"Work {name}", "start": a, "end": b} for name, (a, b) in HOURS.items()]
    plan = json.dumps({"day": {"entries": entries}})
    plans.keep(office.book, made, 1, plan_json=plan, inputs_hash="x", at=NOW)
    return made


def told_of(office, job_id):
    return [
        (entry.row.event.kind.value, entry.row.event.subject, f"{entry.row.event.at:%H:%M}", dict(entry.row.event.body))
        for entry in happening.log_of(office, job_id).entries
    ]


def test_what_is_due_is_noted_by_one_touch_at_the_time_of_the_house(call, office, on_the_day):
    at = f"/jobs/{on_the_day}/log"
    page = call.get(at).text
    assert [page.index(f"Work {name}") for name in HOURS] == sorted(page.index(f"Work {name}") for name in HOURS)
    sent = [
        {"tap": "started:E1", "at": "0805"},
        {"tap": "finished:E1", "at": "8.40"},
        {"tap": "started:E2", "at": "8:45"},
        # By its plan an hour from 08:45: at 09:00 there are 45 minutes to go, and 20 more.
        {"tap": "slipped:20:E2"},
        {"tap": "dropped:E3", "at": "2027-02-01 09:00"},
        {"tap": "counted:boraras_brigittae", "caught": "7"},
    ]
    same_page = once(page)
    for form in sent:
        answer = call.post(at, data={"once": same_page, **form})
        assert answer.status_code == 303, form
        assert "Noted: " in call.get(answer.headers["location"]).text
    assert told_of(office, on_the_day) == [
        ("started", "E1", "08:05", {}),
        ("finished", "E1", "08:40", {}),
        ("started", "E2", "08:45", {}),
        ("slipped", "E2", "09:00", {"remaining_min": 65}),
        ("dropped", "E3", "09:00", {}),
        ("counted", "boraras_brigittae", "09:00", {"caught": 7}),
    ]
    (due,) = happening.log_of(office, on_the_day).due
    assert (due.work.id, due.stand.value, f"{due.until:%H:%M}") == ("E2", "running", "10:05")


def test_a_touch_that_was_sent_late_or_again_counts_once_at_its_own_time(call, office, on_the_day):
    at = f"/jobs/{on_the_day}/log"
    form = {"once": once(call.get(at).text), "tap": "started:E1", "tapped": "2027-02-01T07:31:20.000Z"}
    for tapped in (form["tapped"], "2027-02-01T07:32:00Z", "2031-01-01T00:00:00Z", "x"):
        assert call.post(at, data={**form, "tapped": tapped}).status_code == 303
    assert told_of(office, on_the_day) == [("started", "E1", "08:31", {})]


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({"tap": ""}, "Touch what happened"),
        ({"tap": "started:E9"}, "Choose one of the list"),
        ({"tap": "started:E1", "at": "1530"}, "still to come"),
        ({"tap": "started:E1", "at": "2575"}, "A time is expected"),
        ({"tap": "slipped:x:E1"}, "Nothing was saved"),
        ({"tap": "counted:", "caught": "7"}, "Choose one of the list"),
    ],
)
def test_a_touch_that_cannot_be_used_keeps_what_was_typed(call, office, on_the_day, form, said):
    answer = call.post(f"/jobs/{on_the_day}/log", data=form)
    assert answer.status_code == 422
    assert said in answer.text
    assert all(f'value="{text}"' in answer.text for name, text in form.items() if name != "tap")
    assert told_of(office, on_the_day) == []


def test_without_a_plan_the_log_says_so(call, job_id):
    assert "This job has no plan yet" in body(call.get(f"/jobs/{job_id}/log"))


def test_an_entry_sent_twice_is_kept_once_and_one_that_was_wrong_is_withdrawn(call, office, ordered, other):
    at = f"/jobs/{ordered}/log"
    sent = {"kind": "noted", "text": "leak", "at": AT, "once": once(call.get(at).text)}
    for _ in range(2):
        assert call.post(at, data=sent).status_code == 303
    (entry,) = happening.log_of(office, ordered).entries
    wrong = f"{at}/{entry.row.event.id}/wrong"
    answers = [call.post(f"/jobs/{other}/log/{entry.row.event.id}/wrong"), call.post(f"{at}/{NONE}/wrong")]
    assert {answer.status_code for answer in answers} == {404}
    assert body(answers[0]) == body(answers[1])
    for _ in range(2):
        assert call.post(wrong).status_code == 303
    (entry,) = happening.log_of(office, ordered).entries
    assert entry.withdrawn
    assert len(events.after(office.book, ordered)) == 2
    assert "withdrawn" in call.get(at).text
