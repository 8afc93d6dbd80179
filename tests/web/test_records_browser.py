"""The pages of the record book in a real browser, script off: nothing for axe, nothing cut off, every target to be hit."""

from __future__ import annotations

import json
import os
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from slackwater.actions import clientele, happening, pricing, recording, testing
from slackwater.actions.settings import read_settings
from slackwater.book import jobs, plans
from slackwater.web.app import create_app
from tests.book.pictures import encoded
from tests.web.browser import ARGUMENTS, DESK, PHONE, need_chromium, open_door
from tests.web.conftest import EXAMPLE, NOW
from tests.web.records.test_records import PLAN

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright comes with ./go test")
axe_api = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe comes with ./go test")

LEAST_TAP_PX = 44
LONG = "W" * 150 + " and a long name that goes on " * 5
ARABIC = "شركة أحواض السمك الكبيرة " * 4
AT = "2027-02-01T08:30"


@pytest.fixture(scope="module")
def browser():
    program = need_chromium()
    with sync_api.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=program, args=ARGUMENTS)
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    """An office with a client of a long name, one written from right to left, a full job and an empty one."""
    settings = read_settings({"SLACKWATER_HOME": str(tmp_path_factory.mktemp("home"))})
    app = create_app(settings, clock=lambda: NOW)
    with open_door(app) as address:
        office = app.state.office
        client = clientele.add_client(
            office, {"name": LONG[:300], "contacts": "phone: 0123 456\nmail: desk@example.org", "access": "door 4711"}
        ).id
        ring = clientele.add_person(office, client, {"name": ARABIC[:90], "role": "R" * 120, "address": ARABIC[:90]})
        site = clientele.add_site(office, client, {"site_name": LONG[:300], "who": ring.id}).id
        tank = clientele.add_tank(office, client, site, {"tank_name": ARABIC[:90]}).id
        bare = clientele.add_client(office, {"name": "Ada"}).id
        job = jobs.create(office.book, text=EXAMPLE, at=NOW, by="", site_id=site, tank_id=tank).id
        empty = jobs.create(office.book, text=f'name = "{LONG[:200]}"\n', at=NOW, by="").id
        entries = [
            {"activity": name, "label": label, "start": f"2027-02-01T{start}:00", "end": f"2027-02-01T{end}:00"}
            for name, label, start, end in (
                ("E1", "Lay the bed", "08:00", "08:30"),
                ("E2", LONG, "08:30", "10:00"),
                ("E3", "Plant", "10:00", "11:00"),
            )
        ]
        planned = json.dumps({**PLAN, "day": {"entries": entries}})
        plans.keep(office.book, job, 1, plan_json=planned, inputs_hash="x", at=NOW)
        told = encoded("JPEG", told=True)
        recording.keep_photos(office, job, {"caption": "W" * 120}, [told, told])
        recording.note_condition(office, job, {"part": "scratches", "place": "front", "seen": LONG, "at": AT}, [told])
        recording.keep_document(office, job, {"title": "D" * 200}, ("a.pdf", b"%PDF-"))
        happening.note_event(office, job, {"kind": "noted", "text": "N" * 300, "at": AT})
        event = happening.note_event(office, job, {"kind": "finished", "subject": "E1", "at": AT})
        happening.withdraw(office, job, str(event.id))
        place = testing.place_of_tank(office, tank)
        for day in range(1, 9):
            typed = {"temp_c": f"{24 + day % 3} C", "ph": f"{7 + day / 20}", "at": f"2027-01-0{day}T10:00"}
            testing.enter_test(office, place, typed, "metric")
        for day in (NOW - timedelta(30), NOW + timedelta(30)):
            typed = {"item": "stone_kg", "amount": "12.50", "currency": "EUR", "unit": "kg", "supplier": LONG[:300]}
            pricing.set_price(office, {**typed, "valid_from": f"{day:%Y-%m-%d}"})
        photo = recording.photos_of(office, job)[0].id
        texts = clientele.see_client(office, client)
        at = f"/clients/{client}"
        app.state.pages = {
            "clients": "/clients",
            "client": at,
            "client without anything": f"/clients/{bare}",
            "person": f"{at}/people/{texts.people[1].row.id}",
            "house": f"{at}/sites/{site}",
            "tank": f"{at}/sites/{site}/tanks/{tank}",
            "tests": f"/tanks/{tank}/tests",
            "no tests": f"/jobs/{empty}/tests",
            "review": f"{at}/erase",
            "nothing to review": f"/clients/{bare}/erase",
            "erase client": f"/erase/client/{client}",
            "erase photo": f"/erase/photo/{photo}",
            "reword": f"{at}/erase/text?place=condition+{recording.condition_of(office, job)[0].id}+seen",
            "job": f"/jobs/{job}",
            **{name: f"/jobs/{job}/{name}" for name in RECORDS},
            **{f"no {name}": f"/jobs/{empty}/{name}" for name in RECORDS},
            "version": f"/jobs/{empty}/versions/1",
            "found": f"/clients?find={LONG[:20]}",
            "prices": "/prices",
            "price": "/prices?item=stone_kg",
        }
        yield address, app, job, client


RECORDS = ("photos", "condition", "goods", "documents", "log", "versions")
PAGES = (
    "clients", "client", "client without anything", "person", "house", "tank", "tests", "no tests", "review",
    "nothing to review", "erase client", "erase photo", "reword", "job", "version", "found", "prices", "price", *RECORDS,
    *(f"no {name}" for name in RECORDS),
)  # fmt: skip


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_sound(browser, house, name, size):
    address, app, *_ = house
    with browser.new_context(viewport=size) as context:
        page = context.new_page()
        said = []
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        assert page.goto(address + app.state.pages[name]).status == 200
        assert said == []
        look(page, name, size)
        found = axe_api.Axe().run(page).response
        assert len(found["passes"]) > 5
        assert [(item["id"], [node["html"][:200] for node in item["nodes"]]) for item in found["violations"]] == []
        assert page.locator("h1").count() == 1
        width, room = page.locator("html").evaluate("e => [e.scrollWidth, e.clientWidth]")
        assert width <= room, "the page scrolls sideways"
        targets = "button:visible, a.button:visible, a.tap:visible, a.big:visible, select:visible, summary:visible"
        heights = page.locator(targets).evaluate_all(
            "all => all.map(e => [e.innerText, e.getBoundingClientRect().height])"
        )
        assert [text for text, height in heights if height < LEAST_TAP_PX] == []


def look(page, name, size):
    """Keep a picture of the page where somebody asks to see them."""
    if folder := os.environ.get("SLACKWATER_PICTURES"):
        page.screenshot(path=Path(folder) / f"{name.replace(' ', '-')}-{size['width']}.png", full_page=True)


@pytest.fixture
def page(browser, house):
    with browser.new_context(viewport=PHONE, java_script_enabled=False) as context:
        yield context.new_page()


def test_a_client_is_entered_with_script_off_and_a_fault_keeps_what_was_typed(page, house):
    address, *_ = house
    page.goto(f"{address}/clients")
    page.get_by_label("Door codes and keys").fill("door 1234")
    page.get_by_label("Name").fill("  ")
    page.get_by_role("button", name="Add the client").click()
    sync_api.expect(page.get_by_text("This is needed")).to_be_visible()
    sync_api.expect(page.get_by_label("Door codes and keys")).to_have_value("door 1234")
    page.get_by_label("Name").fill("Harbour House")
    page.get_by_role("button", name="Add the client").click()
    sync_api.expect(page.get_by_role("heading", level=1)).to_have_text("Harbour House")


def test_the_condition_is_noted_with_a_photo_with_script_off(page, house, tmp_path):
    address, _, job, _ = house
    (tmp_path / "pane.jpg").write_bytes(encoded("JPEG"))
    page.goto(f"{address}/jobs/{job}/condition")
    page.get_by_label("What you looked at").select_option("seams")
    page.get_by_label("What you saw").fill("a repaired seam")
    page.locator("#f-condition-photo").set_input_files(tmp_path / "pane.jpg")
    page.get_by_role("button", name="Note it").click()
    sync_api.expect(page.get_by_text("a repaired seam")).to_be_visible()
    sync_api.expect(page.get_by_alt_text("Seams: photo")).to_be_visible()


def test_the_condition_prints_without_forms_and_with_lines_to_sign(page, house):
    address, _, job, _ = house
    page.goto(f"{address}/jobs/{job}/condition")
    page.emulate_media(media="print")
    sync_api.expect(page.get_by_text("Client: place, date, signature")).to_be_visible()
    sync_api.expect(page.locator("form").first).to_be_hidden()
    sync_api.expect(page.locator("header.top")).to_be_hidden()


def test_work_is_logged_and_withdrawn_with_script_off(page, house):
    address, _, job, _ = house
    page.goto(f"{address}/jobs/{job}/log")
    page.get_by_role("button", name="Started: Lay the bed").click()
    sync_api.expect(page.get_by_role("status")).to_contain_text("started Lay the bed")
    page.get_by_role("button", name="20 min late: Lay the bed").click()
    page.get_by_text("Other work, or later").click()
    page.get_by_label("Which work").select_option("E1")
    page.get_by_role("button", name="Finished", exact=True).click()
    line = page.locator("ol.rows li", has_text="09:00 finished Lay the bed")
    sync_api.expect(line).to_be_visible()
    line.get_by_role("button", name="This was wrong").click()
    sync_api.expect(line).to_contain_text("withdrawn")


def test_a_person_is_erased_in_two_steps_with_script_off(page, house):
    address, app, *_ = house
    client = clientele.add_client(app.state.office, {"name": "Quillfeather"}).id
    page.goto(f"{address}/clients/{client}")
    page.get_by_role("link", name="Look through and erase").click()
    page.get_by_role("link", name="Erase: Quillfeather").click()
    sync_api.expect(page.get_by_text("What goes:")).to_be_visible()
    sync_api.expect(page.get_by_text("What stays:")).to_be_visible()
    page.get_by_role("button", name="Erase for good").click()
    sync_api.expect(page.get_by_text("It is gone from the book")).to_be_visible()
    assert "Quillfeather" not in page.content()


def test_what_is_touched_while_the_office_is_away_is_sent_later_with_its_own_time(browser, house):
    address, app, job, _ = house
    with browser.new_context(viewport=PHONE) as context:
        page = context.new_page()
        page.clock.install(time=NOW)
        page.goto(f"{address}/jobs/{job}/log")
        page.route("**/log", lambda route: route.abort() if route.request.method == "POST" else route.fallback())
        page.get_by_label("What happened").fill("lost connection")
        page.get_by_role("button", name="Note it").click()
        sync_api.expect(page.get_by_text("The office does not answer")).to_be_visible()
        page.unroute("**/log")
        # Left and opened again before anything was sent: what waits goes out by itself.
        page.goto(f"{address}/jobs/{job}/photos")
        page.goto(f"{address}/jobs/{job}/log")
        sync_api.expect(page.locator("#entries + ol")).to_contain_text("lost connection")
        sync_api.expect(page.get_by_text("The office does not answer")).to_be_hidden()
    kept = [entry.row.event for entry in happening.log_of(app.state.office, job).entries]
    found = [event.at for event in kept if event.body.get("text") == "lost connection"]
    assert found == [datetime(2027, 2, 1, 9, 0)]
