"""The pages in a real browser, on a phone and on a desk: nothing for axe, nothing on the console, nothing cut off."""

from __future__ import annotations

import re

import pytest

from slackwater.actions.plan_work import Change, Wanted
from slackwater.actions.settings import read_settings
from slackwater.book import jobs, tasks
from slackwater.web.app import create_app
from tests.web.browser import ARGUMENTS, DESK, PHONE, need_chromium, open_door
from tests.web.conftest import EXAMPLE, NOW, put_plan
from tests.web.test_plans import put_changed

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright comes with ./go test")
axe_api = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe comes with ./go test")

LONG = "The very long name of a client's tank on the third floor beside the lift " * 3
LEAST_TAP_PX = 44


@pytest.fixture(scope="module")
def browser():
    program = need_chromium()
    with sync_api.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=program, args=ARGUMENTS)
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def house(tmp_path_factory, computed):
    """An office with a planned job of two versions, a changed plan, one that failed, and one with a long name."""
    settings = read_settings({"SLACKWATER_HOME": str(tmp_path_factory.mktemp("home"))})
    app = create_app(settings, clock=lambda: NOW)
    with open_door(app) as address:
        office = app.state.office
        job = jobs.create(office.book, text=EXAMPLE, at=NOW, by="").id
        put_plan(office, computed, Wanted(job, 1, "metric"))
        jobs.save_version(office.book, job, EXAMPLE + "\n# seen\n", parent=1, at=NOW, by="")
        put_plan(office, computed, Wanted(job, 2, "metric"))
        changed = tmp_path_factory.mktemp("changed") / "metric"
        put_changed(computed, changed)
        put_plan(office, changed, Wanted(job, 2, "metric", (Change(("tank", "length"), "58 cm"),)))
        near = f'[[site.windows]]\nkind = "day"\nstart = "{NOW:%Y-%m}-08 08:00"\nend = "{NOW:%Y-%m}-08 18:00"\n'
        unplanned = jobs.create(office.book, text=f'name = "{LONG}"\n{near}', at=NOW, by="").id
        arguments = {"version": 1, "units": "metric", "changes": []}
        failed = tasks.add(office.book, kind="plan", arguments=arguments, at=NOW, by="", job_id=unplanned)
        tasks.start(office.book, failed.id, at=NOW)
        tasks.fail(office.book, failed.id, fault="line 3, tank.length: this is no length", at=NOW)
        app.state.pages = {
            "start": "/",
            "plan": f"/jobs/{job}/plan",
            "no plan": f"/jobs/{unplanned}/plan",
            "failed work": f"/tasks/{failed.id}",
            "change": f"/jobs/{job}/change",
            "changed": f"/jobs/{job}/change?version=2&key=tank.length&value=58+cm",
            "change refused": f"/jobs/{job}/change?version=2&key=tank.length&value=long",
            "compare": "/compare",
            "compared": f"/compare?before={job}:1&after={job}:2",
            "nothing there": "/nowhere",
        }
        yield address, app, job, unplanned


PAGES = (
    "start", "plan", "no plan", "failed work", "change", "changed", "change refused", "compare",
    "compared", "nothing there",
)  # fmt: skip


@pytest.mark.parametrize(
    ("size", "colours"), [(PHONE, "light"), (DESK, "light"), (PHONE, "dark")], ids=["phone", "desk", "phone at night"]
)
@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_sound(browser, house, name, size, colours):
    address, app, *_ = house
    with browser.new_context(viewport=size, color_scheme=colours) as context:
        page = context.new_page()
        said = []
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        answer = page.goto(address + app.state.pages[name])
        expected = 404 if name == "nothing there" else 422 if name == "change refused" else 200
        assert answer.status == expected
        # A browser notes every refused page on its console; anything else there is a defect.
        assert [text for text in said if f"status of {expected}" not in text] == []
        found = axe_api.Axe().run(page).response
        assert len(found["passes"]) > 5
        assert [(item["id"], [node["html"][:200] for node in item["nodes"]]) for item in found["violations"]] == []
        assert page.locator("h1").count() == 1
        width, room = page.locator("html").evaluate("e => [e.scrollWidth, e.clientWidth]")
        assert width <= room, "the page scrolls sideways"
        heights = page.locator("button:visible, a.button:visible, select:visible, summary:visible").evaluate_all(
            "all => all.map(e => [e.innerText, e.getBoundingClientRect().height])"
        )
        assert [text for text, height in heights if height < LEAST_TAP_PX] == []


@pytest.fixture
def page(browser, house):
    with browser.new_context(viewport=PHONE) as context:
        yield context.new_page()


def test_a_figure_is_asked_why_by_keyboard(page, house):
    address, app, *_ = house
    page.goto(address + app.state.pages["plan"] + "#water")
    page.locator("section[aria-labelledby=water] details.whys > summary").first.focus()
    page.keyboard.press("Enter")
    inner = page.locator("section[aria-labelledby=water] details.whys li summary").first
    inner.focus()
    page.keyboard.press("Enter")
    sync_api.expect(
        page.locator("section[aria-labelledby=water] details.whys dt", has_text="formula").first
    ).to_be_visible()


def test_a_drawing_is_told_in_words_and_as_a_table(page, house):
    address, app, *_ = house
    page.goto(address + app.state.pages["plan"])
    drawing = page.get_by_role("img", name=re.compile("The day at a glance"))
    sync_api.expect(drawing).to_be_hidden()
    page.get_by_role("navigation", name="Parts of the plan").get_by_role("link", name="Day").click()
    sync_api.expect(drawing).to_be_visible()
    figure = page.locator("figure", has=drawing)
    figure.locator("summary").click()
    assert figure.locator("tbody tr").count() > 20
    whole, seen = drawing.locator("svg").bounding_box(), figure.bounding_box()
    assert whole["x"] >= seen["x"] and whole["x"] + whole["width"] <= seen["x"] + seen["width"]
    figure.get_by_role("link").click()
    page.wait_for_url("**/plan/figures/gantt.svg?version=*")
    assert drawing.locator("svg").bounding_box()["width"] > 2 * whole["width"]
    page.get_by_role("link", name="Back to the plan").click()
    sync_api.expect(drawing).to_be_visible()


def test_a_plan_prints_without_buttons_and_with_what_is_folded(page, house):
    address, app, *_ = house
    page.goto(address + app.state.pages["plan"])
    page.emulate_media(media="print")
    sync_api.expect(page.locator("header.top")).to_be_hidden()
    sync_api.expect(page.locator("a.button").first).to_be_hidden()
    sync_api.expect(page.get_by_text("Does not fit.").first).to_be_visible()
    sync_api.expect(page.locator("section[aria-labelledby=living] details:not(.whys) dt").first).to_be_visible()
    sync_api.expect(page.locator("details.whys").first).to_be_hidden()


@pytest.mark.parametrize("script", [True, False], ids=["script on", "script off"])
def test_a_plan_is_asked_for_followed_and_stopped(browser, house, script):
    address, app, *_ = house
    text = EXAMPLE.replace("2027-10", "2027-11") + f"\n# {'with' if script else 'without'} script\n"
    job = jobs.create(app.state.office.book, text=text, at=NOW, by="").id
    with browser.new_context(viewport=PHONE, java_script_enabled=script) as context:
        page = context.new_page()
        page.goto(f"{address}/jobs/{job}/plan")
        page.get_by_role("button", name="Make the plan").click()
        sync_api.expect(page.get_by_role("heading", name="Making the plan")).to_be_visible()
        line = page.locator("#line")
        if script:
            # Renewed in place: the sentence changes while the page stays.
            sync_api.expect(line).not_to_contain_text("Waiting for its turn", timeout=60_000)
        else:
            page.get_by_role("link", name="How far now?").click()
            sync_api.expect(line).to_be_visible()
        page.get_by_role("button", name="Stop it").click()
        sync_api.expect(page.get_by_text("This work was stopped")).to_be_visible(timeout=120_000)
        sync_api.expect(page.get_by_role("button", name="Begin again")).to_be_visible()


def test_a_fault_in_the_text_comes_up_by_itself(page, house):
    address, app, *_ = house
    job = jobs.create(app.state.office.book, text='name = "x"\n[tank]\nlength = "long"\n', at=NOW, by="").id
    page.goto(f"{address}/jobs/{job}/plan")
    page.get_by_role("button", name="Make the plan").click()
    sync_api.expect(page.get_by_text("No plan came out")).to_be_visible(timeout=120_000)
    sync_api.expect(page.locator(".notice.bad")).to_contain_text("length")


def test_units_are_chosen_and_the_page_stays(page, house):
    address, app, *_ = house
    page.goto(address + app.state.pages["compare"])
    page.get_by_role("button", name="US", exact=True).click()
    assert page.url.endswith("/compare")
    sync_api.expect(page.get_by_role("button", name="US", exact=True)).to_have_attribute("aria-pressed", "true")


def test_all_papers_are_taken_at_one_touch(page, house):
    address, app, *_ = house
    page.goto(address + app.state.pages["plan"])
    with page.expect_download() as waiting:
        page.get_by_role("link", name="All papers in one file").click()
    assert waiting.value.suggested_filename.endswith(".zip")
