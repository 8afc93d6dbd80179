"""Invoices on pages: from the firm's settings to the papers, on both databases, without a script."""

from __future__ import annotations

import io
import json
import re
from datetime import timedelta
from decimal import Decimal
from uuid import UUID

import pytest
from pypdf import PdfReader

from slackwater.actions import invoicing
from slackwater.book import clients, events, invoices, jobs, people, plans, sites
from slackwater.job.event import Event
from tests.web.conftest import NOW
from tests.web.records.conftest import NONE, SCRIPT, body, once

FIRM = {
    "name": "Still Water Ltd",
    "line_one": "Quay 1",
    "postcode": "20457",
    "city": "Hamburg",
    "country": "de",
    "vat_id": "DE 123456789",
    "iban": "DE89 3704 0044 0532 0130 00",
    "currency": "eur",
    "payment_days": "14",
    "first_number": "57",
    "number_prefix": "SW-",
    "decimal": "point",
    "tax-1-label": "usual",
    "tax-1-category": "S",
    "tax-1-rate": "19",
    "tax-2-label": "abroad",
    "tax-2-category": "AE",
    "tax-2-reason": "Reverse charge",
    "revision": "0",
}
PRICE = {
    "price": "1000.01",
    "currency": "EUR",
    "lines": [
        {"id": "labour:ana", "amount": "300.00"},
        {"id": "office", "amount": "100.00"},
        {"id": "materials", "amount": "200.00"},
        {"id": "overhead", "amount": "90.00"},
    ],
}


@pytest.fixture
def priced(office):
    """A job at a client's house, with a plan that has a price, and a day with notes."""
    who = people.Person(
        name="Hotel Example",
        address="Lake Road 5\n10115 Berlin",
        contacts=(people.Contact(kind="mail", value="a@example.org"),),
    )
    client = clients.add(office.book, person_id=people.add(office.book, who, at=NOW).id, at=NOW)
    site = sites.add(office.book, client.id, name="Lobby", at=NOW)
    text = 'name = "Lobby tank"\nreference = "L-1"\n[site]\nwindows = [{start = "2027-01-20T08:00", end = "2027-01-20T18:00"}]\n'
    job = jobs.create(office.book, text=text, at=NOW, by="", site_id=site.id)
    plan = json.dumps({"supply": {"price": PRICE, "order": []}})
    plans.keep(office.book, job.id, 1, plan_json=plan, inputs_hash="h", at=NOW)
    facts = [
        ("added", "E99", {"label": "New inlet pipe", "minutes": 90}),
        ("dropped", "E20", {}),
        ("noted", "", {"text": SCRIPT}),
    ]
    events.append(
        office.book,
        job.id,
        [
            Event(id=UUID(int=n), at="2027-01-20T10:00:00", kind=kind, job="L-1", subject=subject, body=told)
            for n, (kind, subject, told) in enumerate(facts, start=1)
        ],
    )
    return job.id


def begun(call, job_id, offer="1"):
    page = call.get(f"/jobs/{job_id}/invoices").text
    answer = call.post(f"/jobs/{job_id}/invoices", data={"once": once(page), "offer": offer})
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def test_of_an_offer_with_options_it_is_one_of_them_that_is_charged_in_the_clients_language(call, office, priced):
    text = jobs.newest(office.book, priced).text + '[papers]\nlanguage = "de"\n'
    version = jobs.save_version(office.book, priced, text, parent=1, at=NOW, by="").n
    better = {**PRICE, "price": "1500.00"}
    told = [{"name": "Good", "price": PRICE}, {"name": "Better *b*", "price": better}, {"name": "Best", "price": None}]
    plan = json.dumps({"supply": {"price": PRICE, "order": []}, "options": told})
    plans.keep(office.book, priced, version, plan_json=plan, inputs_hash="h2", at=NOW)
    assert [(offer.key, offer.price) for offer in invoicing.offers(office, priced)] == [
        (f"{version}.1", Decimal("1000.01")), (f"{version}.2", Decimal("1500.00")), ("1", Decimal("1000.01")),
    ]  # fmt: skip
    assert "option Better *b*: 1500.00 EUR" in call.get(f"/jobs/{priced}/invoices").text
    draft = call.get(begun(call, priced, f"{version}.2")).text
    # 400 of 600 direct cost is work, 200 goods; the option bears its own margin.
    assert "1000.00" in draft
    assert "500.00" in draft and "Wie in der Variante Better *b*" in draft and "Material und Pflanzen" in draft


def revision(page):
    return re.search(r'issue"[^>]*><input type="hidden" name="revision" value="(\d+)"', page)[1]


def issue(call, at):
    return call.post(f"{at}/issue", data={"revision": revision(call.get(at).text)})


def test_an_invoice_goes_from_the_offer_over_the_day_to_its_papers(call, office, priced):
    assert call.post("/firm", data=FIRM).status_code == 303
    assert "Everything that an invoice needs" in call.get("/firm").text
    assert "1000.01 EUR before tax" in call.get(f"/jobs/{priced}/invoices").text
    at = begun(call, priced)
    page = body(call.get(at))
    # 400 of 600 and 200 of 600 of 1000.01: 666.673... and 333.336..., to the cent and to the whole.
    assert "666.67" in page and "333.34" in page and "1000.01" in page
    assert "Hotel Example" in page and 'value="10115"' in page and 'value="2027-01-20"' in page
    assert "E99" not in page and SCRIPT not in page and "&lt;script&gt;" in page
    assert "Before it can be issued" not in page
    # The added work is confirmed at 60 an hour, the dropped one is left out.
    added = {"once": NONE, "source": f"event:{UUID(int=1)}", "text": "New inlet pipe", "quantity": "1.5", "unit": "HUR"}
    assert call.post(f"{at}/lines", data={**added, "price": "", "tax": "1"}).status_code == 422
    for _ in range(2):
        assert call.post(f"{at}/lines", data={**added, "price": "60", "tax": "1"}).status_code == 303
    assert call.post(f"{at}/leave", data={"source": f"event:{UUID(int=2)}"}).status_code == 303
    page = body(call.get(at))
    assert page.count("New inlet pipe") == 1 and "Dropped:" not in page and "Noted:" in page
    answer = issue(call, at)
    assert answer.status_code == 303
    # 1000.01 + 90 = 1090.01; 19 % of it 207.1019; together 1297.11.
    page = body(call.get(at))
    assert "SW-2027-0057" in page and "207.10" in page and "1297.11" in page
    assert not re.search(r"<form[^>]*/(head|lines|issue|drop)", page)
    pdf, xml, csv = (call.get(f"{at}/invoice.{form}") for form in ("pdf", "xml", "csv"))
    assert 'filename="SW-2027-0057.pdf"' in pdf.headers["content-disposition"]
    reader = PdfReader(io.BytesIO(pdf.content))
    assert reader.attachments["factur-x.xml"][0] == xml.content
    assert "1297.11" in reader.pages[0].extract_text().replace("\u202f", "")
    assert len(csv.text.splitlines()) == 4 and csv.text.startswith("number,kind,")
    assert call.get("/invoices/2027.csv").content == csv.content
    assert "SW-2027-0057" in call.get("/invoices").text
    # An entry that is charged already is not offered to the next invoice.
    assert "New inlet pipe" not in call.get(begun(call, priced, "none")).text


def test_an_issued_invoice_never_changes_and_a_credit_note_gives_back_no_more_than_it_asked_for(call, office, priced):
    call.post("/firm", data=FIRM)
    at = begun(call, priced)
    stale = revision(call.get(at).text)
    issue(call, at)
    before = call.get(f"{at}/invoice.pdf").content
    head = {"name": "Other", "revision": stale, "country": "DE"}
    assert call.post(f"{at}/head", data=head).status_code == 409
    assert call.post(f"{at}/drop").status_code == 409
    line = {"once": NONE, "text": "x", "quantity": "1", "unit": "H87", "price": "1", "tax": "1"}
    assert call.post(f"{at}/lines", data=line).status_code == 409
    # Sent twice, it is issued once.
    assert call.post(f"{at}/issue", data={"revision": stale}).status_code == 303
    assert [row.number for row in invoices.of_year(office.book, 2027)] == ["SW-2027-0057"]
    notes = [call.post(f"{at}/credit", data={"once": once(call.get(at).text)}).headers["location"] for _ in range(2)]
    assert issue(call, notes[0]).status_code == 303
    refused = issue(call, notes[1])
    assert refused.status_code == 422 and "of its invoice 0.00 is left" in refused.text
    xml = call.get(f"{notes[0]}/invoice.xml").text
    assert ">381<" in xml and "SW-2027-0057" in xml
    assert "-666.67" in call.get(f"{notes[0]}/invoice.csv").text
    assert call.post(f"{notes[0]}/credit", data={"once": NONE}).status_code == 409
    assert call.get(f"{at}/invoice.pdf").content == before
    assert notes[1] in call.get(at).text


def test_what_is_missing_is_told_one_by_one_and_uses_no_number(call, office, priced):
    at = begun(call, priced, "none")
    page = body(issue_or_page(call, at))
    for words in ("The firm has no name", "no account", "no currency", "told no tax", "has no line", "VAT number nor"):
        assert words in page, words
    assert call.post(f"{at}/issue", data={"revision": "1"}).status_code == 422
    assert invoices.of_year(office.book, 2027) == []
    assert call.post(f"{at}/drop").status_code == 303
    assert call.get(at).status_code == 404


def issue_or_page(call, at):
    answer = call.post(f"{at}/issue", data={"revision": "1"})
    assert answer.status_code == 422
    return answer


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("iban", "DE89370400440532013001", "check digits"),
        ("bic", "COBADE", "8 or 11"),
        ("vat_id", "123", "two letters of its country"),
        ("currency", "cr", "a currency in use"),
        ("currency", "XYZ", "a currency in use"),
        ("mail", "nobody", "no mail address"),
        ("country", "Germany", "two letters"),
        ("tax-1-rate", "-19", "out of range"),
        ("tax-2-reason", "", "needs the reason"),
        ("tax-1-reason", "why", "bear no reason"),
        ("payment_days", "two", "A number is expected"),
        ("name", "n" * 301, "too many"),
        ("number_prefix", "<b>", "letters, digits"),
    ],
)
def test_a_setting_that_cannot_be_is_told_beside_its_field_and_nothing_is_lost(call, field, value, said):
    answer = call.post("/firm", data={**FIRM, field: value})
    assert answer.status_code == 422
    assert said in answer.text
    assert 'value="Quay 1"' in answer.text and f'value="{value}"' in answer.text.replace("&lt;", "<").replace(
        "&gt;", ">"
    )
    assert 'value="Quay 1"' not in call.get("/firm").text


def test_two_people_who_change_the_same_see_what_the_other_wrote(call, priced):
    call.post("/firm", data=FIRM)
    answer = call.post("/firm", data={**FIRM, "city": "Bremen"})
    assert answer.status_code == 409 and "Hamburg" in answer.text and 'value="Bremen"' in answer.text
    at = begun(call, priced)
    page = call.get(f"{at}/lines/1").text
    line = {"text": "mine", "quantity": "2", "unit": "HUR", "price": "10,50", "tax": "1"}
    shown = re.search(r'name="revision" value="(\d+)"', page)[1]
    assert call.post(f"{at}/lines/1", data={**line, "revision": shown}).status_code == 303
    answer = call.post(f"{at}/lines/1", data={**line, "text": "theirs", "revision": shown})
    assert answer.status_code == 409 and "mine" in answer.text and "theirs" in answer.text
    page = body(call.get(at))
    assert "21.00" in page
    assert call.post(f"{at}/lines/2", data={"out": "yes", "revision": revision(page)}).status_code == 303
    assert call.post(f"{at}/taxes", data={"tax": "2"}).status_code == 303
    assert "asks for the VAT number of the one who is to pay" in call.get(at).text


def test_an_offer_in_no_currency_and_prices_below_nothing_are_told(call, office, priced):
    call.post("/firm", data=FIRM)
    plan = {"supply": {"price": {**PRICE, "currency": "cr"}, "order": []}}
    jobs.save_version(office.book, priced, 'name = "Two"\n', parent=1, at=NOW, by="")
    plans.keep(office.book, priced, 2, plan_json=json.dumps(plan), inputs_hash="i", at=NOW)
    at = begun(call, priced, "2")
    assert 'value="EUR"' in call.get(at).text
    line = {"once": NONE, "text": "x", "quantity": "1", "unit": "H87", "price": "-5", "tax": "1"}
    assert "out of range" in call.post(f"{at}/lines", data=line).text
    assert "could mean a thousand" in call.post(f"{at}/lines", data={**line, "price": "1,000"}).text
    free = {**line, "price": "0", "text": "A gift"}
    assert call.post(f"{at}/lines", data=free).status_code == 303
    less = {**line, "once": str(UUID(int=7)), "price": "5000", "quantity": "-1"}
    assert call.post(f"{at}/lines", data=less).status_code == 303
    assert "less than nothing" in call.get(at).text


@pytest.mark.parametrize("path", ["", "/invoice.pdf", "/lines/1", "/invoice.exe"])
def test_an_invoice_of_another_job_and_what_was_not_issued_are_not_there(call, office, priced, other, path):
    call.post("/firm", data=FIRM)
    at = begun(call, priced)
    mine = at.rpartition("/")[2]
    assert call.get(f"/jobs/{other}/invoices/{mine}{path}").status_code == 404
    assert call.get(f"/jobs/{priced}/invoices/{NONE}{path}").status_code == 404
    if path.startswith("/invoice."):
        assert call.get(f"{at}{path}").status_code == 404
    assert call.get("/invoices/2027.csv").status_code == 404


def test_erasing_a_client_takes_the_drafts_and_leaves_what_was_issued(call, office, priced):
    call.post("/firm", data=FIRM)
    kept, draft = begun(call, priced), begun(call, priced)
    issue(call, kept)
    client = clients.listed(office.book)[0]
    assert call.post(f"/erase/client/{client.id}", data={"client": client.id}).status_code in (200, 303)
    assert call.get(draft).status_code == 404
    assert "Hotel Example" in call.get(kept).text
    assert len(invoicing.of_job(office, priced)) == 1


@pytest.mark.parametrize("verdict", ["does not fit", "cannot say", "do not take"])
def test_a_plan_that_is_no_offer_cannot_have_been_accepted(call, office, priced, verdict):
    plan = {"verdict": verdict, "supply": {"price": PRICE, "order": []}}
    jobs.save_version(office.book, priced, 'name = "Two"\n', parent=1, at=NOW, by="")
    plans.keep(office.book, priced, 2, plan_json=json.dumps(plan), inputs_hash="i", at=NOW)
    page = call.get(f"/jobs/{priced}/invoices").text
    assert 'value="1"' in page and 'value="2"' not in page


def test_work_that_is_still_to_be_done_is_told_before_an_invoice_for_it_is_issued(call, office, priced):
    call.post("/firm", data=FIRM)
    at = begun(call, priced, "none")
    for day, told in (((NOW + timedelta(days=3)).date(), True), ((NOW - timedelta(days=1)).date(), False)):
        sent = {**invoicing.head_fields(invoicing.see(office, priced, at.rpartition("/")[2])), "delivered_on": f"{day}"}
        assert call.post(f"{at}/head", data=sent).status_code == 303
        assert ("The work is to be done on" in call.get(at).text) is told
