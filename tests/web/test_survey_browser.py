"""The survey in a real browser, on a phone and on a desk, with script and without."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest

from slackwater.actions.settings import read_settings
from slackwater.book import jobs
from slackwater.job.form import parts
from slackwater.job.text import read_text, set_value
from slackwater.web.app import create_app
from tests.web.browser import ARGUMENTS, DESK, PHONE, need_chromium, open_door
from tests.web.conftest import NOW

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright comes with ./go test")
axe_api = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe comes with ./go test")

BLUE = Path("examples/blue-corridor.toml").read_text(encoding="utf-8")
PARTS = [part.id for part in parts()]
TAP_PX = 48
SIZES = pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
SCRIPT = pytest.mark.parametrize("script", [True, False], ids=["script on", "script off"])


@pytest.fixture(scope="module")
def browser():
    program = need_chromium()
    with sync_api.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=program, args=ARGUMENTS)
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    """An office with the first example, one with faults and long names in it, and one of which nothing is known."""
    app = create_app(read_settings({"SLACKWATER_HOME": str(tmp_path_factory.mktemp("home"))}), clock=lambda: NOW)
    with open_door(app) as address:
        book = app.state.office.book
        faulty = set_value(set_value(BLUE, ("tank", "length"), "118 elephants"), ("livestock", 0, "species"), "rasbra")
        faulty = set_value(faulty, ("name",), "Averylongnamewithoutanyspace" * 7)
        app.state.jobs = {
            "whole": jobs.create(book, text=BLUE, at=NOW, by="").id,
            "faulty": jobs.create(book, text=faulty, at=NOW, by="").id,
            "empty": jobs.create(book, text='format = 1\nname = "Lobby"\n', at=NOW, by="").id,
        }
        yield address, app


def sound(page):
    found = axe_api.Axe().run(page).response
    assert [(item["id"], [node["html"][:200] for node in item["nodes"]]) for item in found["violations"]] == []
    width, room = page.locator("html").evaluate("e => [e.scrollWidth, e.clientWidth]")
    assert width <= room, "the page scrolls sideways"
    touched = "main button:visible, main a.button:visible, main select, main input:visible:not([type=radio], [type=checkbox]), main .choice"
    heights = page.locator(touched).evaluate_all(
        "all => all.filter(e => e.tabIndex >= 0 || e.matches('.choice'))"
        ".map(e => [e.outerHTML.slice(0, 90), e.getBoundingClientRect().height])"
    )
    assert [text for text, height in heights if height < TAP_PX] == []


OUT_OF_LINE = """() => {
  const parts = [".field > label, .field > .label", ":is(input:not([type=hidden]), select, textarea, .picks)", ".beside"];
  const found = [];
  for (const group of document.querySelectorAll(".survey, .part-group, .entry")) {
    const fields = [...group.children].filter(one => one.matches(".field"));
    fields.slice(1).forEach((right, at) => {
      const left = fields[at];
      if (right.getBoundingClientRect().left <= left.getBoundingClientRect().left + 5) return;
      for (const part of parts) {
        const tops = [left, right].map(one => [...one.children].find(child => child.matches(part)).getBoundingClientRect().top);
        if (Math.abs(tops[0] - tops[1]) > 1) found.push([left.id, right.id, part]);
      }
    });
  }
  return found;
}"""


@pytest.mark.parametrize(
    ("which", "size"),
    [("whole", PHONE), ("faulty", PHONE), ("faulty", DESK), ("empty", DESK)],
    ids=["whole on a phone", "faulty on a phone", "faulty on a desk", "empty on a desk"],
)
def test_every_page_of_the_survey_is_sound(browser, house, which, size):
    address, app = house
    job = app.state.jobs[which]
    with browser.new_context(viewport=size) as context:
        page = context.new_page()
        said = []
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        # Every part once on the phone; on a desk those that differ in kind.
        names = PARTS if size == PHONE and which == "whole" else ["tank", "animals", "readings"]
        for at in (f"/jobs/{job}", "/jobs", "/jobs/new", *(f"/jobs/{job}/survey/{name}" for name in names)):
            assert page.goto(address + at).status == 200
            sound(page)
            assert page.evaluate(OUT_OF_LINE) == [], "fields of one row do not line up"
        assert said == []


@SIZES
@SCRIPT
def test_a_part_is_entered_and_kept(browser, house, size, script):
    address, app = house
    book = app.state.office.book
    with browser.new_context(viewport=size, java_script_enabled=script) as context:
        page = context.new_page()
        page.goto(f"{address}/jobs/new")
        page.get_by_label("Name of the job").fill("Lobby, north wall")
        page.get_by_role("button", name="Begin the survey").click()
        job = page.url.rpartition("/")[2]
        page.get_by_role("link", name="Tank", exact=True).click()
        page.get_by_label("Inside length").fill('46 1/2"')
        page.get_by_role("group", name="Damaged seams").get_by_label("no", exact=True).check()
        page.get_by_role("button", name="Save, then").click()
        sync_api.expect(page.get_by_role("heading", name="Filter and equipment")).to_be_visible()
        page.go_back()
        page.get_by_role("link", name="All parts").click()
        page.get_by_role("link", name="Animals", exact=True).click()
        page.get_by_role("button", name="Add: species").click()
        page.get_by_role("combobox", name="Species needed").fill("neon tetra")
        page.get_by_label("How many").fill("24 ± 2")
        page.get_by_role("button", name="Save", exact=True).click()
        sync_api.expect(page.get_by_role("status")).to_contain_text("Saved as version")
        plain = read_text(jobs.newest(book, job).text)
        assert plain["tank"] == {"length": '46 1/2"', "seam_damage": False}
        assert plain["livestock"] == [{"species": "paracheirodon_innesi", "count": "24 ± 2"}]


def test_each_answer_is_saved_as_one_goes_and_told_where_it_cannot_be_used(browser, house):
    address, app = house
    book, job = app.state.office.book, app.state.jobs["empty"]
    with browser.new_context(viewport=PHONE) as context:
        page = context.new_page()
        page.goto(f"{address}/jobs/{job}/survey/tank")
        page.get_by_label("Inside length").fill("118")
        page.get_by_label("Inside width").focus()
        beside = page.locator("#n-tank-length")
        sync_api.expect(beside).to_contain_text("a length with its unit is expected")
        page.get_by_label("Inside length").fill("118 cm")
        page.get_by_label("Inside width").fill("42 cm")
        page.get_by_label("Inside height").focus()
        sync_api.expect(beside).not_to_contain_text("expected")
        sync_api.expect(page.locator("#n-tank-width")).not_to_contain_text("Waits for this")
        # The browser closes without a button having been touched.
    tank = read_text(jobs.newest(book, job).text)["tank"]
    assert (tank["length"], tank["width"]) == ("118 cm", "42 cm")


def test_a_button_that_is_only_reached_does_nothing(browser, house):
    address, app = house
    book = app.state.office.book
    with browser.new_context(viewport=PHONE) as context:
        page = context.new_page()
        page.goto(f"{address}/jobs/new")
        page.get_by_label("Name of the job").fill("Stairs")
        page.get_by_role("button", name="Begin the survey").click()
        job = page.url.rpartition("/")[2]
        page.goto(f"{address}/jobs/{job}/survey/animals")
        page.get_by_role("button", name="Add: species").click()
        page.get_by_role("combobox", name="Species needed").fill("neon tetra")
        page.get_by_label("How many").fill("24")
        page.get_by_label("Note").fill("torn fin")
        with page.expect_response(lambda told: "torn" in (told.request.post_data or "")):
            page.get_by_label("Note").press("Tab")
            sync_api.expect(page.get_by_role("button", name="Take out")).to_be_focused()
        page.reload()
        sync_api.expect(page.get_by_label("Note")).to_have_value("torn fin")
    assert len(read_text(jobs.newest(book, job).text)["livestock"]) == 1


def test_what_is_typed_while_the_office_is_away_is_said_to_be_unsaved_and_sent_again(browser, house):
    address, app = house
    book = app.state.office.book
    job = jobs.create(book, text='format = 1\nname = "Hall"\n', at=NOW, by="").id
    with browser.new_context(viewport=PHONE) as context:
        page = context.new_page()
        page.goto(f"{address}/jobs/{job}/survey/tank")
        page.route("**/survey/tank", lambda route: route.abort())
        page.get_by_label("Inside length").fill("118 cm")
        page.get_by_label("Inside width").focus()
        status = page.get_by_role("status")
        sync_api.expect(status).to_contain_text("Not saved")
        page.unroute("**/survey/tank")
        sync_api.expect(status).to_contain_text("Saved as version", timeout=15_000)
    assert read_text(jobs.newest(book, job).text)["tank"]["length"] == "118 cm"


@SCRIPT
def test_two_people_on_one_answer_choose_which_is_right(browser, house, script):
    address, app = house
    book = app.state.office.book
    job = jobs.create(book, text=BLUE, at=NOW, by="").id
    with browser.new_context(viewport=PHONE, java_script_enabled=script) as context:
        mine, theirs = context.new_page(), context.new_page()
        for page in (mine, theirs):
            page.goto(f"{address}/jobs/{job}/survey/tank")
        theirs.get_by_label("Inside length").fill("120 cm")
        theirs.get_by_role("button", name="Save", exact=True).click()
        sync_api.expect(theirs.get_by_role("status")).to_contain_text("Saved as version 2")
        mine.get_by_label("Inside length").fill("117 cm")
        if script:
            mine.get_by_label("Inside width").focus()
        else:
            mine.get_by_role("button", name="Save", exact=True).click()
        clash = mine.locator("#clash")
        sync_api.expect(clash).to_contain_text("Somebody else answered otherwise meanwhile")
        assert read_text(jobs.newest(book, job).text)["tank"]["length"] == "120 cm"
        if script:  # the form now holds theirs, so that nothing is overwritten by the next answer
            sync_api.expect(mine.get_by_label("Inside length")).to_have_value("120 cm")
        clash.get_by_label("Yours: 117 cm").check()
        clash.get_by_role("button", name="Save what I chose").click()
        sync_api.expect(mine.get_by_label("Inside length")).to_have_value("117 cm")
        assert read_text(jobs.newest(book, job).text)["tank"]["length"] == "117 cm"


def test_a_part_can_be_printed_and_filled_in_by_hand(browser, house):
    address, app = house
    with browser.new_context(viewport=DESK) as context:
        page = context.new_page()
        page.goto(f"{address}/jobs/{app.state.jobs['whole']}/survey/tank")
        page.emulate_media(media="print")
        sync_api.expect(page.get_by_label("Inside length")).to_be_visible()
        sync_api.expect(page.get_by_role("button", name="Save", exact=True)).to_be_hidden()


def test_a_list_is_said_to_hold_nothing_by_one_touch(browser, house):
    address, app = house
    job = jobs.create(app.state.office.book, text='format = 1\nname = "Lobby"\n', at=NOW, by="").id
    with browser.new_context(viewport=PHONE) as context:
        page = context.new_page()
        page.goto(f"{address}/jobs/{job}/survey/animals")
        page.get_by_role("group", name="Animals").get_by_label("there are none").check()
        sync_api.expect(page.get_by_role("status")).to_contain_text("Saved as version 2")
    assert read_text(jobs.newest(app.state.office.book, job).text)["livestock"] == []


def test_cards_added_right_after_typing_keep_what_was_typed_in_them(browser, house):
    address, app = house
    book = app.state.office.book
    job = jobs.create(book, text='format = 1\nname = "Pier"\n', at=NOW, by="").id
    typed = [("box_45", 4), ("box_65", 2), ("tub_90", 3), ("barrel_120", 5)]
    with browser.new_context(viewport=PHONE) as context:
        page = context.new_page()
        page.goto(f"{address}/jobs/{job}/survey/boxes")
        add = page.locator('button[value="add:containers"]')
        for number, (container, count) in enumerate(typed):
            add.click()
            page.locator(f'[name="containers.{number}.container"]').fill(container)
            page.locator(f'[name="containers.{number}.count"]').fill(str(count))
        add.click()
        sync_api.expect(page.locator(f'[name="containers.{len(typed)}.container"]')).to_have_value("")
        sync_api.expect(page.locator("#clash")).to_be_empty()
    kept = read_text(jobs.newest(book, job).text)["containers"]
    assert kept == [*({"container": container, "count": count} for container, count in typed), {}]


@pytest.fixture
def tank_page(browser, house):
    """The tank of a new job on a phone, opened from the list of its parts, and what is kept of it."""
    address, app = house
    book = app.state.office.book
    job = jobs.create(book, text='format = 1\nname = "Quay"\n', at=NOW, by="").id
    with browser.new_context(viewport=PHONE) as context:
        page = context.new_page()
        page.goto(f"{address}/jobs/{job}")
        page.get_by_role("link", name="Tank", exact=True).click()
        yield page, lambda: read_text(jobs.newest(book, job).text).get("tank", {})


def soon(what, expected):
    """Wait until something that happens behind the page has happened."""
    for _ in range(100):
        if what() == expected:
            break
        time.sleep(0.05)
    assert what() == expected


@pytest.mark.parametrize("way", ["back", "link"])
def test_what_was_typed_last_is_kept_when_the_page_is_left_at_once(tank_page, way):
    page, kept = tank_page
    page.get_by_label("Inside length").press_sequentially("118 cm")
    page.get_by_role("group", name="Braced").get_by_label("yes", exact=True).check()
    if way == "back":
        page.go_back()
    else:
        page.get_by_role("link", name="All parts").click()
    sync_api.expect(page.get_by_role("heading", name="Survey")).to_be_visible()
    # The list may have been fetched before the answers arrived.
    row = page.locator("ol.parts li", has=page.get_by_role("link", name="Tank", exact=True))
    sync_api.expect(row).to_contain_text(re.compile(r"\b2 of \d+ answered"))
    soon(kept, {"length": "118 cm", "braced": True})
    page.go_forward() if way == "back" else page.get_by_role("link", name="Tank", exact=True).click()
    sync_api.expect(page.get_by_label("Inside length")).to_have_value("118 cm")


def test_what_was_typed_while_the_office_was_away_is_there_again_when_the_page_is_opened_again(tank_page):
    page, kept = tank_page
    page.route("**/survey/tank", lambda route: route.abort() if route.request.method == "POST" else route.fallback())
    page.get_by_label("Inside length").press_sequentially("118 cm")
    page.go_back()
    page.unroute("**/survey/tank")
    page.get_by_role("link", name="Tank", exact=True).click()
    sync_api.expect(page.get_by_label("Inside length")).to_have_value("118 cm")
    soon(kept, {"length": "118 cm"})
    page.reload()
    sync_api.expect(page.get_by_label("Inside length")).to_have_value("118 cm")


def test_one_touch_takes_the_reading_of_a_bare_number_and_a_text_too_long_is_refused_aloud(tank_page):
    page, kept = tank_page
    page.get_by_label("Inside length").fill("120")
    page.get_by_label("Inside width").focus()
    page.get_by_role("button", name="120 cm").click()
    sync_api.expect(page.get_by_label("Inside length")).to_have_value("120 cm")
    soon(kept, {"length": "120 cm"})
    page.get_by_label("Inside width").fill("x" * 20_000)
    page.get_by_label("Inside height").focus()
    sync_api.expect(page.get_by_role("alert")).to_contain_text("more than 10,000; shorten it")
