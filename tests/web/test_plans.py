"""The plan on screen."""

from __future__ import annotations

import hashlib
import io
import json
import re
import shutil
import zipfile
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from pypdf import PdfReader

from slackwater.actions.plan_work import PLAN, Change, Wanted, place_of, plan_kind
from slackwater.book import firm as book_firm
from slackwater.book import jobs, prices, tasks
from slackwater.book.tasks import State
from slackwater.invoice.model import Firm, Look, Seller
from slackwater.job.form import all_questions, whole
from slackwater.job.load import read_job
from slackwater.job.screen import fact_missing
from slackwater.job.text import add_card
from slackwater.paper.shown import waits_of
from slackwater.web.pages import with_links
from slackwater.web.plans import phases
from tests.web.conftest import EXAMPLE, NOW, put_plan


def phase(begins, ends):
    return {"begins": f"2027-02-10T{begins}:00+01:00", "ends": f"2027-02-10T{ends}:00+01:00"}


def test_on_the_day_the_phase_that_goes_on_and_the_next_stand_first():
    first, second, third, last = (
        phase(*span) for span in (("08:00", "09:00"), ("08:30", "10:00"), ("11:00", "12:00"), ("12:00", "13:00"))
    )
    day = [first, second, third, last]
    # 09:30 at the site is 08:30 in universal time.
    found = phases(day, datetime(2027, 2, 10, 8, 30, tzinfo=UTC))
    assert found == {"over": [first], "now": [second, third], "later": [last]}
    for before_or_after in (datetime(2027, 2, 10, 6, 59, tzinfo=UTC), datetime(2027, 2, 10, 12, 0, tzinfo=UTC)):
        assert phases(day, before_or_after) == {"over": [], "now": [], "later": day}
    assert phases((), NOW) == {"over": [], "now": [], "later": []}


def test_on_the_day_the_page_opens_what_goes_on_and_loses_nothing(call, office, planned, computed):
    pages = json.loads((computed / "page.json").read_text(encoding="utf-8"))["day"]["pages"]
    begins = datetime.fromisoformat(pages[3]["begins"])
    place = place_of(office.settings, office.book, Wanted(planned, 1, "metric"), on=NOW.date())
    object.__setattr__(office, "clock", lambda: begins)
    assert place_of(office.settings, office.book, Wanted(planned, 1, "metric"), on=begins.date()).hash == place.hash
    page = call.get(f"/jobs/{planned}/plan").text
    for item in pages:
        assert page.count(f'<summary>{item["title"]} <span class="soft">{item["hours"]}') == 1
    assert f"open><summary>{pages[3]['title']}" in page
    assert page.index("Now and next") < page.index("Over by the plan") < page.index('id="figure-gantt"')


NOBODY = "0190a000-0000-7000-8000-000000000000"
KEYS = [question.key for question in all_questions(whole()) if "." in question.key]


def headings(page):
    return [re.sub("<[^>]+>", "", text).strip() for text in re.findall(r"<h2[^>]*>(.*?)</h2>", page, re.DOTALL)]


def test_verdict_and_deciding_findings_stand_before_everything_else(call, planned, computed):
    page = call.get(f"/jobs/{planned}/plan").text
    said = json.loads((computed / "page.json").read_text(encoding="utf-8"))
    assert said["deciding"]
    at = [page.index(said["verdict"].replace("'", "&#39;")), page.index("What decides"), page.index('href="#water"')]
    assert at == sorted(at)
    assert headings(page) == [
        "What decides", "Conditions", "Water", "Everything alive", "The day", "Order and packing", "Price",
        "What the plan took for granted", "Papers",
    ]  # fmt: skip


def test_conditions_stand_as_on_paper_and_the_index_leads_to_every_part(call, planned, computed):
    page = call.get(f"/jobs/{planned}/plan").text
    groups = json.loads((computed / "page.json").read_text(encoding="utf-8"))["condition_groups"]
    for group in groups:
        for item in group["items"]:
            assert "<summary><span>" + item["line"].replace("'", "&#39;") in page, (
                "each stands in one line, the sentence behind it"
            )
    shown = re.findall(r"<h3>([^<]+)</h3> <span class=\"soft\">\((\d+)\)", page)
    assert shown == [(group["title"], str(len(group["items"]))) for group in groups]
    ids = set(re.findall(r'\bid="([^"]+)"', page))
    asked = re.findall(r'href="#([^"]+)"', page)
    assert {"conditions", "water", "living", "day", "order", "price"} <= set(asked) <= ids


def test_what_is_folded_by_the_script_comes_open_without_it(call, planned):
    folds = re.findall(r"<details[^>]*data-fold[^>]*>", call.get(f"/jobs/{planned}/plan").text)
    assert len(folds) >= 8
    assert all(" open" in fold for fold in folds)


def test_a_drawing_can_be_seen_by_itself_with_its_words_and_table(call, planned, computed):
    page = call.get(f"/jobs/{planned}/plan").text
    for drawing in computed.glob("*.svg"):
        assert f'href="/jobs/{planned}/plan/figures/{drawing.name}?version=1"' in page
    alone = call.get(f"/jobs/{planned}/plan/figures/gantt.svg")
    assert alone.status_code == 200
    assert alone.text.count("<svg") == 1
    assert "<table" in alone.text
    assert call.get(f"/jobs/{planned}/plan/figures/page.json").status_code == 404


def test_facts_are_called_as_the_survey_calls_them_and_lead_to_their_question():
    said = with_links("Measure people[1].until <b> and `livestock`.", "x")
    assert said == (
        'Measure <a href="/jobs/x/survey/people#field-people-0-until">&quot;Until&quot; of person 1 (Crew)</a> '
        '&lt;b&gt; and <a href="/jobs/x/survey/animals#livestock">&quot;Animals&quot;</a>.'
    )
    assert with_links("tank.length") == "&quot;Inside length&quot; (Tank)"


def test_no_sentence_of_a_plan_shows_a_key_of_the_job_file(call, planned, computed):
    page = call.get(f"/jobs/{planned}/plan").text
    assert "`" not in page
    assert "survey/people#" in page
    words = re.sub(r"<[^>]+>", " ", re.sub(r"<svg.*?</svg>", " ", page, flags=re.DOTALL))
    assert [key for key in KEYS if key in words] == []


def test_every_figure_of_the_plan_can_be_asked_why(call, planned, computed):
    page = call.get(f"/jobs/{planned}/plan").text
    figures = json.loads((computed / "plan.json").read_text(encoding="utf-8"))["figures"]
    lines = json.loads((computed / "page.json").read_text(encoding="utf-8"))["price"]["lines"]
    assert len(figures) > 50 and len(lines) > 5
    assert page.count('class="why"') == len(figures)
    assert page.count('class="why-of"') == len(lines)
    assert page.count("<dt>formula</dt>") == len(figures) + len(lines)
    assert page.count("<dt>source</dt>") == len(figures)


def test_every_drawing_of_the_papers_stands_on_the_page_with_words_and_a_table(call, planned, computed):
    page = call.get(f"/jobs/{planned}/plan").text
    drawings = list(computed.glob("*.svg"))
    assert len(drawings) >= 8
    assert page.count('class="drawing" role="img"') == len(drawings)
    assert page.count("The same as a table") == len(drawings)


def test_marks_inside_drawings_are_told_apart_on_the_page(call, planned):
    page = call.get(f"/jobs/{planned}/plan").text
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    assert {name for name in re.findall(r"url\(#([^)]+)\)", page)} <= set(ids)


def test_a_page_with_drawings_holds_no_style_and_no_script_of_its_own(call, planned):
    page = call.get(f"/jobs/{planned}/plan").text
    assert " style=" not in page
    assert "<style" not in page
    assert page.count("<script") <= 1


def mark(content):
    return hashlib.sha256(content).hexdigest()


def test_all_papers_come_in_one_file_and_the_same_twice(call, planned, computed):
    answer = call.get(f"/jobs/{planned}/plan/papers.zip")
    bundle = zipfile.ZipFile(io.BytesIO(answer.content))
    assert {"day-sheet.pdf", "offer.pdf", "packing-list.pdf", "calendar.ics", "plan.json"} <= set(bundle.namelist())
    # Compared by hash: a difference of two papers takes minutes to be told.
    assert mark(bundle.read("packing-list.pdf")) == mark((computed / "packing-list.pdf").read_bytes())
    # The offer bears the name of the client, whom only the book knows; by itself it is the same.
    assert mark(bundle.read("offer.pdf")) == mark(call.get(f"/jobs/{planned}/plan/papers/offer.pdf").content)
    assert mark(call.get(f"/jobs/{planned}/plan/papers.zip").content) == mark(answer.content)


def test_a_letterhead_stands_on_what_goes_to_a_client_as_soon_as_it_is_set(office, call, planned, computed):
    def text(name):
        answer = call.get(f"/jobs/{planned}/plan/papers/{name}")
        return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)

    # The job by its reference, as people call it.
    assert "LW-2027-10 box-A" in " ".join(text("cards.pdf").split())
    look = Look(accent="#00647a", address="https://desk.example")
    firm = Firm(seller=Seller(name="#Quay *Ltd*", phone="+49 40 77"), look=look)
    book_firm.save(office.book, firm.model_dump_json(), revision=0, at=NOW, by="")
    assert "#Quay *Ltd*" in text("offer.pdf") and "+49 40 77" in text("handover.pdf")
    assert "page of the job" in text("cards.pdf") and "holds only" not in text("cards.pdf")
    assert "#Quay" not in text("day-sheet.pdf")
    assert (computed / "offer.pdf").read_bytes() != call.get(f"/jobs/{planned}/plan/papers/offer.pdf").content


@pytest.mark.parametrize(
    ("name", "kind"), [("offer.pdf", "application/pdf"), ("calendar.ics", "text/calendar; charset=utf-8")]
)
def test_each_paper_can_be_taken_by_itself(call, planned, name, kind):
    answer = call.get(f"/jobs/{planned}/plan/papers/{name}")
    assert (answer.status_code, answer.headers["content-type"]) == (200, kind)
    assert "attachment" in answer.headers["content-disposition"]


@pytest.mark.parametrize("name", ["page.json", "..%2fpage.json", "nothing.pdf", "%2e%2e"])
def test_nothing_else_is_given_out_as_a_paper(call, planned, name):
    assert call.get(f"/jobs/{planned}/plan/papers/{name}").status_code == 404


@pytest.mark.parametrize(
    "path", ["plan", "plan/papers.zip", "change", "plan?version=7", "plan?version=0", "plan?version=x"]
)
def test_a_plan_that_is_not_there_is_refused_with_a_sentence(call, planned, path):
    job_id = planned if "version" in path else NOBODY
    answer = call.get(f"/jobs/{job_id}/{path}")
    assert answer.status_code in (404, 422)
    assert 'role="alert"' in answer.text


def test_a_job_without_plan_offers_to_make_one(call, job_id):
    page = call.get(f"/jobs/{job_id}/plan").text
    assert f'action="/jobs/{job_id}/plan"' in page
    assert "Make the plan" in page


def test_a_text_with_faults_ends_as_a_sentence_that_says_where(call, office):
    job = jobs.create(office.book, text='name = "x"\n[tank]\nlength = "long"\n', at=NOW, by="")
    answer = call.post(f"/jobs/{job.id}/plan")
    assert answer.status_code == 303
    ended = wait_for(office, answer.headers["location"].rpartition("/")[2])
    assert ended.state is State.FAILED
    page = call.get(answer.headers["location"])
    assert "No plan came out" in page.text
    assert "length" in page.text
    assert "Begin again" in page.text
    # Each fact by itself, and no place in a file that nobody sees.
    assert page.text.count("<li>", page.text.index("No plan came out")) >= 2
    assert "job, line" not in page.text and "job:" not in page.text


def wait_for(office, task_id):
    import time

    for _ in range(600):
        task = tasks.get(office.book, task_id)
        if task.state not in (State.WAITING, State.RUNNING):
            return task
        time.sleep(0.1)
    raise AssertionError(f"still {task.state} after a minute: {task.doing}")


def test_a_plan_that_is_kept_is_only_set_again_in_other_units(call, office, planned):
    call_us = {"cookie": "units=us"}
    assert "Make the plan" in call.get(f"/jobs/{planned}/plan", headers=call_us).text
    answer = call.post(f"/jobs/{planned}/plan", headers=call_us)
    ended = wait_for(office, answer.headers["location"].rpartition("/")[2])
    assert ended.state is State.DONE
    page = call.get(f"/jobs/{planned}/plan", headers=call_us).text
    assert " gal" in page
    assert call.get(f"/tasks/{ended.id}", headers=call_us).headers["location"] == f"/jobs/{planned}/plan?version=1"


def test_a_page_of_an_older_program_is_set_anew(call, office, planned):
    place = place_of(office.settings, office.book, Wanted(planned, 1, "metric"), on=NOW.date())
    page = json.loads((place.folder / "page.json").read_text(encoding="utf-8"))
    (place.folder / "page.json").unlink()
    (place.folder / "page.json").write_text(json.dumps({**page, "format": 1}), encoding="utf-8")
    assert "Make the plan" in call.get(f"/jobs/{planned}/plan").text
    answer = call.post(f"/jobs/{planned}/plan")
    assert wait_for(office, answer.headers["location"].rpartition("/")[2]).state is State.DONE
    assert "What decides" in call.get(f"/jobs/{planned}/plan").text


def test_asked_twice_a_plan_is_made_once(call, office, job_id):
    first = call.post(f"/jobs/{job_id}/plan").headers["location"]
    assert call.post(f"/jobs/{job_id}/plan").headers["location"] == first
    call.post(f"{first}/cancel")


def test_a_changed_fact_shows_which_figures_move(call, office, planned, computed, tmp_path):
    changed = Wanted(planned, 1, "metric", (Change(("tank", "length"), "58 cm"),))
    other = tmp_path / "changed"
    put_changed(computed, other)
    put_plan(office, other, changed)
    answer = call.get(f"/jobs/{planned}/change", params={"key": "tank.length", "value": "58 cm"})
    assert answer.status_code == 200
    assert "Figures that differ: 1." in answer.text
    assert "Water to the water line, empty tank" in answer.text
    assert "-10 %" in answer.text
    assert answer.text.count("Reworded.") == 1
    # What came out stands before the form that asked for it.
    assert answer.text.index('id="result"') < answer.text.index('id="value"')
    assert answer.text.count("Told only by") == 2
    assert jobs.newest(office.book, planned).text == EXAMPLE


def put_changed(computed, other):
    """The same plan with one figure a tenth smaller."""
    shutil.copytree(computed, other)
    page = json.loads((other / "page.json").read_text(encoding="utf-8"))
    figure = next(why for why in page["whys"]["tank"] if why["id"] == "tank.gross_l")
    figure["number"] *= 0.9
    figure["value"] = f"{figure['number']:.3g} L"
    page["told"][0][1] += " Reworded."
    page["told"][1][0] = "other.finding"
    (other / "page.json").write_text(json.dumps(page), encoding="utf-8")


@pytest.mark.parametrize(
    ("key", "value", "told"),
    [
        ("tank.length", "long", "length"),
        ("tank.length", "-5 cm", "length"),
    ],
)
def test_a_fact_that_cannot_be_is_told_at_the_field_and_kept_there(call, planned, key, value, told):
    answer = call.get(f"/jobs/{planned}/change", params={"key": key, "value": value})
    assert answer.status_code == 422
    assert told in answer.text
    assert 'aria-invalid="true"' in answer.text
    assert f'value="{value}"' in answer.text


def test_a_part_that_waits_says_for_what_where_it_would_stand(call, office, computed, job_id, tmp_path):
    waits = fact_missing("the water", ("preparation.ro.may_run_until",))
    whole = waits.model_copy(update={"values": {**waits.values, "part": "the water, the day and the weeks after"}})
    told = waits_of([whole], "metric")
    assert {section for section, texts in told.items() if texts} == {"water", "day", "living"}
    other = tmp_path / "waiting"
    shutil.copytree(computed, other)
    page = json.loads((other / "page.json").read_text(encoding="utf-8"))
    (other / "page.json").write_text(json.dumps({**page, "water": None, "waits": told}), encoding="utf-8")
    put_plan(office, other, Wanted(job_id, 1, "metric"))
    shown = call.get(f"/jobs/{job_id}/plan").text.partition('id="water"')[2].partition("</section>")[0]
    assert f'href="/jobs/{job_id}/survey/making#field-preparation-ro-may_run_until"' in shown


@pytest.mark.parametrize("value", ["2027-02-10T06:30", "2027-02-10 06:30"])
def test_a_time_is_taken_as_browsers_send_it_and_as_people_type_it(call, planned, value):
    answer = call.get(f"/jobs/{planned}/change", params={"key": "site.key_holder_leaves", "value": value})
    assert answer.status_code == 200
    assert 'type="datetime-local" value="2027-02-10T06:30"' in answer.text


@pytest.mark.parametrize("key", ["tank.nothing", "job", "people.9.until"])
def test_what_the_survey_does_not_ask_cannot_be_changed(call, planned, key):
    answer = call.get(f"/jobs/{planned}/change", params={"key": key, "value": "1"})
    assert answer.status_code == 422
    assert "no value called" in answer.text
    assert 'name="q"' in answer.text


def test_a_fact_is_found_by_words_given_or_not(call, planned):
    found = call.get(f"/jobs/{planned}/change", params={"q": "LIMIT stand"}).text
    assert re.findall(r"key=([a-z_.0-9]+)&", found) == ["site.floor.stand_limit"]
    assert "not known yet" in found
    asked = call.get(f"/jobs/{planned}/change", params={"key": "site.floor.stand_limit"}).text
    assert re.search(r"Such as [\d.]+ kN", asked)
    date = call.get(f"/jobs/{planned}/change", params={"key": "surveyed"}).text
    assert 'name="value" type="date"' in date and "Such as 2027-02-10." in date
    nothing = call.get(f"/jobs/{planned}/change", params={"q": "zzz"}).text
    assert "zzz" in nothing
    assert "key=" not in nothing


def test_a_fact_that_was_not_given_can_be_tried(call, planned):
    data = {"key": "site.floor.stand_limit", "value": "far too much", "version": "1"}
    refused = call.post(f"/jobs/{planned}/change", data=data).headers["location"]
    assert "stand_limit" in call.get(refused).text
    answer = call.post(f"/jobs/{planned}/change", data={**data, "value": "2.5 kN"})
    assert answer.headers["location"].startswith("/tasks/")
    call.post(f"{answer.headers['location']}/cancel")


def test_a_changed_fact_is_followed_and_can_be_stopped(call, office, planned):
    answer = call.post(f"/jobs/{planned}/change", data={"key": "tank.length", "value": "59 cm", "version": "1"})
    where = answer.headers["location"]
    assert where.startswith("/tasks/")
    assert "Making the plan" in call.get(where).text
    assert call.post(f"{where}/cancel").headers["location"] == where
    ended = wait_for(office, where.rpartition("/")[2])
    assert ended.state is State.CANCELLED
    assert "Nothing of it was kept" in call.get(where).text
    assert call.get(f"{where}/line").headers["hx-redirect"] == where


def test_two_versions_stand_side_by_side(call, office, planned, computed):
    jobs.save_version(office.book, planned, EXAMPLE + "\n# looked at once more\n", parent=1, at=NOW, by="")
    assert "a newer version is there: 2" in call.get(f"/jobs/{planned}/plan?version=1").text
    assert "not made yet" in call.get(f"/compare?before={planned}:1&after={planned}:2").text
    put_plan(office, computed, Wanted(planned, 2, "metric"))
    page = call.get(f"/compare?before={planned}:1&after={planned}:2").text
    assert "No figure differs" in page
    assert page.index("No figure differs") < page.index('id="before"')
    assert page.count("notice bad") >= 2


@pytest.mark.parametrize("named", ["x", "1:", f"{NOBODY}:1", f"{NOBODY}:-1", f"{NOBODY}:99999999999999999999"])
def test_what_cannot_be_compared_is_refused(call, named):
    assert call.get("/compare", params={"before": named}).status_code in (404, 422)


def test_nothing_to_compare_is_said(call):
    assert "There are not two plans yet" in call.get("/compare").text


def test_a_plan_of_the_office_is_made_with_the_prices_that_hold_on_its_day(office, job_id):
    wanted = Wanted(job_id, 1, "metric")
    before = place_of(office.settings, office.book, wanted, on=NOW.date()).hash
    task = tasks.add(office.book, kind=PLAN, arguments=wanted.arguments(), at=NOW, by="", job_id=job_id)
    given = plan_kind(office.settings, office.book, office.clock).given
    assert given(task)["prices"] == []
    for minor, days in ((700, -9), (735, -2), (900, 5)):
        prices.add(
            office.book, item="stone_kg", amount_minor=minor, currency="EUR", unit="kg", supplier="Quarry",
            valid_from=NOW.date() + timedelta(days=days), at=NOW, by="",
        )  # fmt: skip
    (told,) = given(task)["prices"]
    # Of 7.00, 7.35 and, from a later day on, 9.00.
    assert (told["item"], told["amount"], told["supplier"]) == ("stone_kg", "7.35", "Quarry")
    place = place_of(office.settings, office.book, wanted, on=NOW.date())
    assert place.hash != before


def test_a_plan_that_was_shown_before_tells_that_a_newer_version_is_there(call, office, planned):
    at = f"/jobs/{planned}/plan?version=1"
    first = call.get(at).text
    assert call.get(at).text == first
    jobs.save_version(office.book, planned, EXAMPLE + "\n", parent=1, at=NOW, by="")
    link = f'<a href="/jobs/{planned}/plan">'
    assert (link in first, link in call.get(at).text) == (False, True)


def test_the_price_says_what_it_carries_and_its_floor(call, planned, computed):
    said = json.loads((computed / "page.json").read_text(encoding="utf-8"))
    page = call.get(f"/jobs/{planned}/plan").text
    price = page[page.index('id="price"') :]
    odds = said["carried"]["odds"]
    for text in (
        odds["floor"],
        *odds["words"],
        *(cell for row in odds["prices"] for cell in row),
        "One visit of the contract",
    ):
        assert text.replace("'", "&#39;") in price
    assert len(odds["prices"]) == 4


def test_what_changed_between_two_offers_stands_above_the_figures(call, office, planned, computed, tmp_path):
    jobs.save_version(office.book, planned, EXAMPLE + "\n# looked at once more\n", parent=1, at=NOW, by="")
    dearer = tmp_path / "dearer"
    shutil.copytree(computed, dearer)
    page = json.loads((dearer / "page.json").read_text(encoding="utf-8"))
    was = Decimal(dict(page["offered"]["amounts"])["Travel"])
    page["offered"]["amounts"] = [
        [name, f"{was + 10}" if name == "Travel" else amount] for name, amount in page["offered"]["amounts"]
    ]
    page["offered"]["texts"].append("The <b>lamp</b> stays.")
    (dearer / "page.json").write_text(json.dumps(page), encoding="utf-8")
    put_plan(office, dearer, Wanted(planned, 2, "metric"))
    shown = call.get(f"/compare?before={planned}:1&after={planned}:2").text
    assert shown.index("What changed between the two offers") < shown.index("Figures")
    row = re.search(r'<th scope="row">Travel</th>(.*?)</tr>', shown, re.DOTALL)[1]
    assert re.findall(r">([^<]+)</td>", row) == [f"{was:.2f} cr", f"{was + 10:.2f} cr", "+10.00"]
    assert "The &lt;b&gt;lamp&lt;/b&gt; stays." in shown


def test_a_plan_stays_when_prices_change_and_says_that_it_is_not_of_today(call, office, planned):
    at = f"/jobs/{planned}/plan"
    assert "have changed" not in call.get(at).text
    dearer = {"item": "travel_km", "amount_minor": 90, "currency": "EUR", "unit": "km"}
    prices.add(office.book, **dearer, valid_from=NOW.date(), at=NOW, by="")
    seen = call.get(at)
    assert "prices of the record book" in seen.text and "The day at a glance" in seen.text
    assert call.get(f"{at}/papers/offer.pdf").status_code == 200
    # Asked for anew, it is made anew.
    assert "/tasks/" in call.post(at, data={"version": "1"}).headers["location"]


def test_the_option_that_a_client_chose_becomes_the_next_version_once(call, office, job_id):
    text = add_card(EXAMPLE, ("price", "options"), {"name": "Good", "changes": ["fewer_plants"]})
    jobs.save_version(office.book, job_id, text, parent=1, at=NOW, by="")
    at = f"/jobs/{job_id}/plan/option"
    assert call.post(at, data={"version": "2", "place": "2"}).status_code == 404
    assert call.post(at, data={"version": "2", "place": "1"}).headers["location"] == f"/jobs/{job_id}/plan"
    taken = jobs.newest(office.book, job_id)
    job = read_job(taken.text, file_name="job")
    assert (taken.n, job.price.options, job.plants[0].units) == (3, (), 10)  # two thirds of 14, rounded up
    again = call.post(at, data={"version": "2", "place": "1"})
    assert again.status_code == 409 and jobs.newest(office.book, job_id).n == 3
