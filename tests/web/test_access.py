"""Every address of the app with everybody who may ask: nobody, a client by a link, the crew, an owner."""

from __future__ import annotations

import io
import json
import re
import shutil
from datetime import timedelta

import pytest
from pypdf import PdfReader

from slackwater.actions import looking
from slackwater.actions.office import open_office
from slackwater.actions.plan_work import Wanted
from slackwater.book import jobs, links, prices
from slackwater.job.form import Kind, all_questions, parts
from slackwater.paper.shown import without_amounts
from slackwater.web.access import TABLE, May, is_business, row_of
from slackwater.web.app import create_app
from slackwater.web.gate import routes_of
from tests.web.conftest import EXAMPLE, NOW, put_plan
from tests.web.doors import add_people, cheap, sign_in
from tests.web.test_hostile import NOBODY, addresses, filled, sentence

AS = ("nobody", "client", "crew", "owner")
LONG = re.compile(r"/(plan|restart|rest|change)$")
"""Begins long work where it is let through, which is not what is asked here."""
ENDS = ("/sign-out",)


@pytest.fixture
def office(settings):
    with open_office(cheap(settings), clock=lambda: NOW, workers=1) as opened:
        yield opened


@pytest.fixture
def told(office, call):
    add_people(office)
    job = jobs.create(office.book, text=EXAMPLE, at=NOW, by="").id
    other = jobs.create(office.book, text=EXAMPLE.replace("Light well", "Other job"), at=NOW, by="").id
    row, token = looking.make(office, job, {"days": "2"}, by="")
    headers = {"nobody": {}, "client": {}, "crew": sign_in(call, "crew"), "owner": sign_in(call, "owner")}
    return {"job": job, "other": other, "token": token, "link": row.id, "headers": headers}


def test_every_address_of_the_app_has_a_row_and_every_row_an_address(app):
    patterns = {route.path for route in routes_of(app)}
    assert patterns - set(TABLE) == set(), (
        "an address without a row in web/access.py is for owners only: say who may ask"
    )
    assert set(TABLE) - patterns == set()
    assert row_of("/nowhere", "GET") is May.OWNER


def test_everybody_gets_what_the_table_says_and_nobody_more(app, call, told):
    """Refused before anything is looked up: a guessed id and a real one get the same answer."""
    walked = set()
    for method, pattern in addresses(app):
        pattern = "/static" if pattern.startswith("/static") and "fonts" not in pattern else pattern
        pattern = "/static/fonts" if "fonts" in pattern else pattern
        for who in AS:
            for job in (told["job"], NOBODY):
                address = filled(
                    pattern, job_id=job, token=told["token"] if job == told["job"] else "guessed", link_id=told["link"]
                )
                if pattern.startswith("/static"):
                    address = "/static/style.css" if pattern == "/static" else "/static/fonts/LICENSE.txt"
                needs = May.OWNER if pattern.endswith("/papers/{name}") else row_of(pattern, method)
                let = {"nobody": 0, "client": 0, "crew": 1, "owner": 2}[who] >= needs
                if let and ((method == "POST" and LONG.search(pattern)) or pattern in ENDS):
                    continue
                # A client has a link and may put its token wherever a browser sends something.
                headers = {
                    **told["headers"][who],
                    **({"cookie": f"session={told['token']}"} if who == "client" else {}),
                }
                sent = {"json": []} if method == "POST" and pattern.startswith("/api") else {}
                answer = call(method, address, headers=headers, **sent)
                walked.add((who, pattern, let))
                told_to = (method, pattern, who, answer.status_code)
                if (method, pattern) == ("POST", "/sign-in"):
                    assert answer.status_code in (401, 429) and "set-cookie" not in answer.headers
                elif let:
                    assert answer.status_code not in (401, 403), told_to
                elif who in ("nobody", "client") and method == "GET" and not pattern.startswith("/api"):
                    assert (answer.status_code, answer.headers["location"].partition("?")[0]) == (303, "/sign-in"), (
                        told_to
                    )
                else:
                    assert answer.status_code == (403 if who == "crew" else 401), told_to
                    assert sentence(answer)
    assert {(who, let) for who, _, let in walked} >= {
        ("nobody", False),
        ("nobody", True),
        ("crew", False),
        ("owner", True),
    }


def test_an_address_that_somebody_forgot_is_for_owners_only(app, call, told):
    @app.get("/forgotten")
    def forgotten():
        return "secret"

    assert call.get("/forgotten", headers=told["headers"]["crew"]).status_code == 403
    assert call.get("/forgotten").status_code == 303
    assert call.get("/forgotten", headers=told["headers"]["owner"]).text == '"secret"'
    assert call.get("/nowhere").status_code == 404


@pytest.mark.parametrize("how", ["guessed", "expired", "ended", "client erased"])
def test_a_link_that_shows_nothing_is_told_the_same_whatever_it_was(office, call, told, how):
    token = told["token"]
    assert call.get(f"/look/{token}").status_code == 200
    if how == "guessed":
        token = token[:-1] + ("A" if token[-1] != "A" else "B")
    elif how == "expired":
        app = create_app(office.settings, clock=lambda: NOW)
        links.add(office.book, told["job"], looking.sha256("old"), at=NOW - timedelta(days=2), until=NOW, by="")
        token = "old"
        del app
    elif how == "ended":
        address = f"/jobs/{told['job']}/links/{told['link']}/end"
        assert call.post(address, headers=told["headers"]["owner"]).status_code == 303
    else:
        owner = told["headers"]["owner"]
        call.post(f"/jobs/{told['job']}/house", headers=owner, data={"client": "Ada", "site": "lobby"})
        client = call.get(f"/jobs/{told['job']}/client", headers=owner).headers["location"].rpartition("/")[2]
        assert call.post(f"/erase/client/{client}", headers=owner, data={"client": client}).status_code == 303
    for end in ("", "/offer.pdf"):
        answer = call.get(f"/look/{token}{end}")
        assert answer.status_code == 404 and "There is nothing at this address" in sentence(answer)
    other = call.post(f"/jobs/{told['other']}/links/{told['link']}/end", headers=told["headers"]["owner"])
    assert other.status_code == 404


def test_a_client_sees_the_offer_and_the_dates_and_nothing_of_the_firm(office, call, told, computed, tmp_path):
    job = told["job"]
    call.post(f"/jobs/{job}/house", headers=told["headers"]["owner"], data={"client": "Ada Harbour", "site": "lobby"})
    put_plan(office, computed, Wanted(job, 1, "metric"))
    waiting = call.get(f"/look/{told['token']}").text
    page = json.loads((computed / "page.json").read_text(encoding="utf-8"))
    assert not page["offer"]["ready"] and "not ready yet" in waiting
    assert call.get(f"/look/{told['token']}/offer.pdf").status_code == 404
    assert call.get(f"/look/{told['token']}/handover.pdf").status_code == 404
    # The same plan as if its day fitted.
    own = tmp_path / "own"
    shutil.copytree(computed, own)
    page["offer"] |= {"ready": True, "price": "8 000.00 cr", "tax": "0.00 cr", "total": "8 000.00 cr"}
    (own / "page.json").write_text(json.dumps(page), encoding="utf-8")
    ready = jobs.create(office.book, text=EXAMPLE + "\n# ready\n", at=NOW, by="").id
    put_plan(office, own, Wanted(ready, 1, "metric"))
    token = looking.make(office, ready, {"days": "2"}, by="")[1]
    seen = call.get(f"/look/{token}").text
    assert "8 000.00 cr" in seen and page["day"]["opens"] in seen and page["offer"]["included"][0] in seen
    for hidden in ("/jobs/", "/clients", "hourly", "margin", "overhead", "Ada Harbour", "Other job", page["verdict"]):
        assert hidden not in seen, hidden
    assert call.get(f"/look/{token}/offer.pdf").content.startswith(b"%PDF")
    assert call.get(f"/look/{token}/handover.pdf").content.startswith(b"%PDF")


def words_of(pdf):
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


@pytest.mark.parametrize(
    ("told", "language"),
    [
        ("5 165.89 EUR, 20 %: 12.00 EUR", "en"),
        ("5.165,89 €, 20 %: 12,00\u00a0€", "de"),
        ("-3 EUR", "de"),
        ("EUR 1,240.50", "en"),
    ],
)
def test_an_amount_is_masked_as_its_language_writes_it(told, language):
    masked = without_amounts({"a": [f"costs {told} for 3 h, 40 cm and EURO 5"]}, "EUR", language)["a"][0]
    assert not re.search(r"165|12[.,]00|240|-3", masked) and "3 h, 40 cm and EURO 5" in masked


def test_without_a_currency_whatever_is_written_like_money_is_masked():
    assert re.search(r"\d", without_amounts({"a": ["5\u202f165.89 and 1.240,50"]}, "")["a"][0]) is None


def test_the_crew_sees_no_price_in_a_plan_a_survey_or_a_paper(office, call, told, computed):
    put_plan(office, computed, Wanted(told["job"], 1, "metric"))
    crew, owner = told["headers"]["crew"], told["headers"]["owner"]
    at = f"/jobs/{told['job']}"
    amount = re.compile(r"\d\s*cr\b")
    theirs, whole = call.get(f"{at}/plan", headers=crew), call.get(f"{at}/plan", headers=owner)
    assert amount.search(whole.text) and not amount.search(theirs.text)
    assert "The day at a glance" in theirs.text and "offer.pdf" not in theirs.text and "/change" not in theirs.text
    allowed = ("day-sheet.pdf", "packing-list.pdf", "van-card.pdf", "cards.pdf", "handover.pdf")
    for name, status in (*((name, 200) for name in allowed), ("offer.pdf", 403), ("plan.json", 403)):
        paper = call.get(f"{at}/plan/papers/{name}", headers=crew)
        assert paper.status_code == status
        if status == 200:
            assert not amount.search(words_of(paper.content)), name
    assert amount.search(words_of(call.get(f"{at}/plan/papers/day-sheet.pdf", headers=owner).content))
    hidden = [
        asked for part in parts() for group in part.groups for asked in all_questions(group) if asked.kind is Kind.MONEY
    ]
    assert len(hidden) > 8 and all(is_business(tuple(question.key.split("."))) for question in hidden)
    for part in ("people", "office", "bed"):
        for names, headers in ((True, owner), (False, crew)):
            shown = call.get(f"{at}/survey/{part}", headers=headers).text
            assert any(f'.{word}"' in shown for word in ("hourly_rate", "margin_share", "bag_price")) is names


def test_an_offer_of_the_office_tells_the_price(office, call, told, computed):
    put_plan(office, computed, Wanted(told["job"], 1, "metric"))
    amount = re.compile(r"\d[\d., \u202f]*\.\d\d")
    handed = call.get(f"/jobs/{told['job']}/plan/papers/offer.pdf", headers=told["headers"]["owner"]).content
    amounts = amount.findall(words_of((computed / "offer.pdf").read_bytes()))
    assert amounts and amount.findall(words_of(handed)) == amounts


def test_the_crew_cannot_touch_how_the_price_is_made(office, call, told):
    crew, at = told["headers"]["crew"], f"/jobs/{told['job']}/survey/office"
    shown = call.get(at, headers=crew).text
    for name in ("risk_share", "deposit_share", "terms", "options"):
        assert f"price.{name}" not in shown
        assert f"price.{name}" in call.get(at, headers=told["headers"]["owner"]).text
    before = jobs.newest(office.book, told["job"]).text
    sent = {"based_on": "1", "price.risk_share": "45 %", "price.terms": "none", "do": "add:price.options"}
    assert call.post(at, headers=crew, data=sent).status_code == 303
    assert jobs.newest(office.book, told["job"]).text == before


def test_a_link_shows_the_offer_that_was_sent_while_the_firm_writes_on(office, call, told, computed, tmp_path):
    own = tmp_path / "own"
    shutil.copytree(computed, own)
    page = json.loads((computed / "page.json").read_text(encoding="utf-8"))
    page["offer"] |= {"ready": True, "total": "8 000.00 cr"}
    (own / "page.json").write_text(json.dumps(page), encoding="utf-8")
    put_plan(office, own, Wanted(told["job"], 1, "metric"))
    look = f"/look/{told['token']}"
    assert "8 000.00 cr" in call.get(look).text
    jobs.save_version(office.book, told["job"], EXAMPLE + "\n# later\n", parent=1, at=NOW, by="")
    assert "8 000.00 cr" in call.get(look).text
    # A plan of the newer version that is no offer yet takes the older offer away no more than a price that changed.
    put_plan(office, computed, Wanted(told["job"], 2, "metric"))
    dearer = {"item": "travel_km", "amount_minor": 90, "currency": "EUR", "unit": "km"}
    prices.add(office.book, **dearer, valid_from=NOW.date(), at=NOW, by="")
    assert "8 000.00 cr" in call.get(look).text and call.get(f"{look}/offer.pdf").content.startswith(b"%PDF")


def test_the_crew_answers_the_survey_but_no_question_about_money(office, call, told):
    crew, at = told["headers"]["crew"], f"/jobs/{told['job']}/survey/people"
    sent = {"based_on": "1", "people.0.id": "boss", "people.0.hourly_rate": "1", "price.margin_share": "0"}
    assert call.post(at, headers=crew, data=sent).status_code == 303
    text = jobs.newest(office.book, told["job"]).text
    old = [line for line in EXAMPLE.splitlines() if line.startswith(("hourly_rate", "margin"))]
    assert (
        '"boss"' in text and [line for line in text.splitlines() if line.startswith(("hourly_rate", "margin"))] == old
    )
