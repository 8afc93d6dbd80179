"""Letterhead, condition record and care report on pages, on both databases."""

from __future__ import annotations

import io
import re

import pytest
from PIL import Image
from pypdf import PdfReader

from slackwater.actions.letterhead import sender_of
from slackwater.book import firm, jobs
from slackwater.book.blobs import content_hash
from slackwater.errors import CorruptBook
from tests.web.conftest import NOW
from tests.web.records.conftest import AT, NONE, body, once
from tests.web.records.test_invoices import FIRM

LOOK = {"accent": "#00647A", "address": "https://192.168.1.20:8443/", "language": "de", "size": "letter"}


def picture(kind="PNG", size=(1600, 400), colour=(0, 100, 122, 128)):
    out = io.BytesIO()
    made = Image.new("RGBA", size, colour)
    (made if kind == "PNG" else made.convert("RGB")).save(out, kind)
    return out.getvalue()


def text_of(answer):
    assert answer.status_code == 200 and answer.headers["content-type"] == "application/pdf"
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages).split())


def send_firm(call, fields, logo=None):
    files = [] if logo is None else [("logo", ("logo.png", logo, "image/png"))]
    revision = re.search(r'name="revision" value="(\d+)"', call.get("/firm").text)
    sent = {**FIRM, **fields, "revision": revision[1] if revision else "0"}
    return call.post("/firm", data=sent, files=files)


@pytest.fixture
def job(office):
    return jobs.create(office.book, text='format = 1\nname = "#strong[Bay] *1*"\nreference = "B-1"\n', at=NOW, by="").id


def test_the_letterhead_is_kept_shown_and_taken_off_again(office, call, job):
    assert call.get("/firm/logo.png").status_code == 404
    assert send_firm(call, LOOK, picture()).status_code == 303
    sender = sender_of(office, job)
    assert (sender.name, sender.accent) == (FIRM["name"], "#00647a")
    assert sender.page == f"https://192.168.1.20:8443/jobs/{job}"
    shown = Image.open(io.BytesIO(call.get("/firm/logo.png").content))
    assert (shown.format, shown.mode) == ("PNG", "RGBA") and shown.width <= 1200 and shown.height <= 480
    assert "to 1, enough to be read" in call.get("/firm").text
    # Saved once more without a picture it stays; taken off, nothing is left of it.
    assert send_firm(call, {**LOOK, "accent": "#ffee00"}).status_code == 303
    assert sender_of(office, job).logo == sender.logo and "Only lines are set" in call.get("/firm").text
    assert send_firm(call, {**LOOK, "without_logo": "yes"}).status_code == 303
    assert sender_of(office, job).logo == b""
    with pytest.raises(CorruptBook):
        firm.logo(office.book, content_hash(sender.logo))


@pytest.mark.parametrize(
    ("logo", "told"),
    [
        (b"\x89PNG\r\n\x1a\n" + bytes(8_000_000), "The picture has 8 MB, expected at most 5 MB"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", "Save it as PNG"),
        (picture()[:200], "damaged"),
        (b"no picture", "no picture that can be kept"),
    ],
    ids=["8 MB", "svg", "broken", "text"],
)
def test_a_logo_that_cannot_be_used_is_refused_in_a_sentence_and_nothing_is_lost(office, call, job, logo, told):
    answer = send_firm(call, {**LOOK, "name": "Typed meanwhile"}, logo)
    assert answer.status_code == 422 and "The logo was not changed" in answer.text and "Typed meanwhile" in answer.text
    assert told in body(answer).replace("&#39;", "'")
    assert sender_of(office, job).name == ""


def test_a_logo_of_forty_megabytes_is_told_beside_its_field_and_what_was_typed_is_kept(office, call, job):
    answer = send_firm(call, {**LOOK, "name": "Typed meanwhile"}, bytes(40_000_000))
    assert answer.status_code == 422 and 'id="e-firm-logo"' in answer.text and "Typed meanwhile" in answer.text
    assert "has 40 MB, expected at most 5 MB" in body(answer) and sender_of(office, job).name == ""


def test_everything_wrong_with_the_firm_is_told_at_once_each_beside_its_field(office, call, job):
    wrong = {"mail": "office.example.com", "accent": "green", "currency": "XYZ", "country": "Germany", "iban": "DE00"}
    answer = send_firm(call, {**wrong, "payment_days": "two"})
    assert answer.status_code == 422
    for field in (*wrong, "payment_days"):
        assert f'id="e-firm-{field}"' in answer.text, field
    assert "three letters of a currency in use are expected" in body(answer) and sender_of(office, job).name == ""


def test_a_colour_that_cannot_be_read_is_told_on_top_of_the_page(call):
    assert send_firm(call, {"accent": "#ffff00"}).status_code == 303
    page = call.get("/firm").text
    assert 'notice warn"><a href="#f-firm-accent"' in page
    assert send_firm(call, {"accent": "#00647a"}).status_code == 303
    assert '<a href="#f-firm-accent"' not in call.get("/firm").text


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("accent", "green"),
        ("accent", "#12345"),
        ("address", "192.168.1.20"),
        ("address", "https://a.example/page"),
        ("address", "javascript:alert(1)"),
        ("language", "xx"),
        ("size", "a0"),
    ],
)
def test_what_cannot_be_a_colour_an_address_or_a_size_is_told_beside_its_field(call, field, value):
    answer = send_firm(call, {**LOOK, field: value})
    assert answer.status_code == 422 and f'id="e-firm-{field}"' in answer.text


def test_a_new_job_begins_with_what_the_firm_has_chosen(office, call):
    assert send_firm(call, LOOK).status_code == 303
    answer = call.post("/jobs/new", data={"name": "next"})
    text = jobs.newest(office.book, answer.headers["location"].split("/")[2]).text
    assert 'language = "de"' in text and 'size = "letter"' in text and 'currency = "EUR"' in text


def test_the_condition_record_has_what_was_seen_its_pictures_and_lines_to_sign(call, job):
    page = call.get(f"/jobs/{job}/condition").text
    assert f"/jobs/{job}/condition/record.pdf" in page
    seen = {"part": "seams", "place": "front *left*", "seen": "x" * 300, "at": AT, "once": once(page)}
    call.post(f"/jobs/{job}/condition", data=seen, files=[("file", ("a.jpg", picture("JPEG"), "image/jpeg"))])
    answer = call.get(f"/jobs/{job}/condition/record.pdf")
    text = text_of(answer)
    for needed in ("Condition before the work", "front *left*", "#strong[Bay] *1*", "For the client", "For the firm"):
        assert needed in text, needed
    assert "x" * 300 in text.replace(" ", "")
    # What the picture shows and when it was kept; whom the job is for.
    assert re.search(r"front \*left\* · \d{4}-\d\d-\d\d \d\d:\d\d", text), text
    call.post(f"/jobs/{job}/house", data={"site_id": "", "client": "Ms Reed", "site": "Bay house"})
    assert "Ms Reed" in text_of(call.get(f"/jobs/{job}/condition/record.pdf"))
    read = PdfReader(io.BytesIO(answer.content))
    assert sum(len(page.images) for page in read.pages) == 1 and "/StructTreeRoot" in read.trailer["/Root"]
    assert answer.content == call.get(f"/jobs/{job}/condition/record.pdf").content
    assert call.get(f"/jobs/{NONE}/condition/record.pdf").status_code == 404


def test_the_care_report_has_the_days_that_were_asked_for_and_no_others(call, job):
    for number, day in enumerate(("2027-01-10", "2027-01-20", "2027-01-30")):
        page = call.get(f"/jobs/{job}/tests").text
        test = {"at": f"{day}T10:00", "temp_c": f"2{number} °C", "ph": "7.1", "once": once(page)}
        assert call.post(f"/jobs/{job}/tests", data=test).status_code == 303
    page = call.get(f"/jobs/{job}/report").text
    assert 'value="2027-01-05"' in page and 'value="2027-02-01"' in page
    text = text_of(call.get(f"/jobs/{job}/report.pdf?first=2027-01-15&last=2027-01-31"))
    assert "15 Jan 2027 to 31 Jan 2027" in text and "21 °C" in text and "22 °C" in text and "20 °C" not in text
    assert "What comes next" in text and "Remarks" in text
    one = text_of(call.get(f"/jobs/{job}/report.pdf?first=2027-01-10&last=2027-01-10"))
    assert "20 °C" in one and "21 °C" not in one
    refused = call.get(f"/jobs/{job}/report.pdf?first=2027-01-31&last=2027-01-15")
    assert refused.status_code == 422 and "lies before" in refused.text
    assert call.get(f"/jobs/{job}/report.pdf?first=soon").status_code == 422


def test_papers_of_the_book_are_in_the_language_and_on_the_paper_of_the_firm(call, job):
    assert send_firm(call, LOOK, picture()).status_code == 303
    read = PdfReader(io.BytesIO(call.get(f"/jobs/{job}/condition/record.pdf").content))
    assert read.trailer["/Root"]["/Lang"].startswith("de") and round(read.pages[0].mediabox.height) == 792
    assert FIRM["name"] in read.pages[0].extract_text() and len(read.pages[0].images) == 1
