"""The layout editor in a real browser that draws by software: finger, keys, numbers, and a browser that cannot draw at all."""

from __future__ import annotations

import pytest

from slackwater.actions.settings import read_settings
from slackwater.book import jobs
from slackwater.web.app import create_app
from tests.web.browser import ARGUMENTS, PHONE, need_chromium, open_door
from tests.web.conftest import NOW
from tests.web.test_layout import TANK

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright comes with ./go test")
axe_api = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe comes with ./go test")

DRAWS = [*ARGUMENTS, "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
DRAWS_NOT = [*ARGUMENTS, "--disable-gpu", "--disable-3d-apis"]
TABLET = {"width": 1024, "height": 768}
LEAST_TAP_PX = 44
MOST_CALLS = 40
"""Of all four views together, however many pieces stand in the tank."""


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    settings = read_settings({"SLACKWATER_HOME": str(tmp_path_factory.mktemp("home"))})
    app = create_app(settings, clock=lambda: NOW)
    with open_door(app) as address:
        yield address, jobs.create(app.state.office.book, text=TANK, at=NOW, by="").id


def opened(page, house):
    """The editor, with everything that the browser complained of."""
    address, job = house
    said = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(f"{address}/jobs/{job}/layout")
    page.locator("#editor[data-ready]").wait_for(timeout=120_000)
    return said


def test_a_piece_is_placed_dragged_nudged_typed_and_undone_on_a_tablet(house):
    with sync_api.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=need_chromium(), args=DRAWS)
        page = browser.new_context(viewport=TABLET, has_touch=True, is_mobile=True).new_page()
        said = opened(page, house)
        sync_api.expect(page.locator("#plain")).to_be_hidden()
        spoken, x = page.locator("#spoken"), page.locator("#c-x")

        page.locator("#hand button").first.tap()
        sync_api.expect(spoken).to_contain_text("Number 1", timeout=60_000)
        sync_api.expect(page.locator("#list button")).to_have_count(1)
        began = float(x.input_value())

        # From above, the tank fills its view: a drag to the right is a drag to the right.
        page.locator("#stage").scroll_into_view_if_needed()
        pane = page.locator(".strip .pane").nth(2).bounding_box()
        middle = pane["x"] + pane["width"] / 2, pane["y"] + pane["height"] / 2
        page.mouse.move(*middle)
        page.mouse.down()
        page.mouse.move(middle[0] + 12, middle[1], steps=3)
        page.mouse.move(middle[0] + 24, middle[1], steps=3)
        page.mouse.up()
        page.wait_for_timeout(100)
        sync_api.expect(x).not_to_have_value(f"{began:.1f}", timeout=60_000)
        dragged = float(x.input_value())
        assert dragged > began + 1

        page.locator("#stage").focus()
        page.keyboard.press("ArrowRight")
        sync_api.expect(x).to_have_value(f"{dragged + 1:.1f}", timeout=60_000)
        sync_api.expect(spoken).to_contain_text(f"{dragged + 1:.1f} cm from the left")

        x.fill("40")
        page.locator("#c-turn").fill("90")
        page.get_by_role("button", name="Put so").tap()
        sync_api.expect(spoken).to_contain_text("40.0 cm from the left", timeout=60_000)
        sync_api.expect(spoken).to_contain_text("turned 90 degrees")

        # Refused: the piece is back where it was, with the sentence; what was typed stays to be set right.
        x.fill("1")
        page.get_by_role("button", name="Put so").tap()
        sync_api.expect(page.locator("#refused")).to_contain_text("through the glass", timeout=60_000)
        sync_api.expect(x).to_have_value("1")
        sync_api.expect(page.locator("#list button")).to_have_count(1)
        for field, typed, sentence in (
            ("c-x", "a hand", "From the left glass: write a number, such as 12.5. You wrote: a hand"),
            ("c-x", "", "From the left glass: write a number"),
            ("c-tip", "400", "Tip to the front: write a number from -360 to 360. You wrote: 400"),
        ):
            before = page.locator(f"#{field}").input_value()
            page.locator(f"#{field}").fill(typed)
            page.get_by_role("button", name="Put so").tap()
            sync_api.expect(page.locator("#refused")).to_contain_text(sentence)
            sync_api.expect(page.locator(f"#{field}")).to_have_value(typed)
            sync_api.expect(page.locator(f"#{field}")).to_have_attribute("aria-invalid", "true")
            page.locator(f"#{field}").fill(before)
        page.locator("#f-bed summary").tap()
        for field, typed, sentence in (
            ("b-radius", "0", "Width to each side: write a number from 0.5 to 500. You wrote: 0"),
            ("b-x2", "20", "A second point needs both numbers"),
        ):
            before = page.locator(f"#{field}").input_value()
            page.locator(f"#{field}").fill(typed)
            page.locator("#bed").get_by_role("button", name="Shape the bed").tap()
            sync_api.expect(page.locator("#refused")).to_contain_text(sentence)
            sync_api.expect(page.locator(f"#{field}")).to_have_value(typed)
            page.locator(f"#{field}").fill(before)

        page.get_by_role("button", name="Undo").tap()
        sync_api.expect(x).to_have_value(f"{dragged + 1:.1f}", timeout=60_000)
        page.locator("#f-versions summary").tap()
        page.locator("#s-title").fill("First try")
        page.get_by_role("button", name="Save as a version").tap()
        sync_api.expect(page.locator("#versions")).to_contain_text("First try", timeout=60_000)
        sync_api.expect(page.locator("[data-figure=mass]")).to_have_text("4 kg", timeout=60_000)

        assert page.evaluate("layoutEditor.stats.calls") <= MOST_CALLS
        heights = page.locator("#editor button:visible, #editor select:visible").evaluate_all(
            "all => all.map(e => [e.innerText, e.getBoundingClientRect().height])"
        )
        assert [text for text, height in heights if height < LEAST_TAP_PX] == []
        found = axe_api.Axe().run(page).response
        assert [(item["id"], [node["html"][:200] for node in item["nodes"]]) for item in found["violations"]] == []
        # The one line is of what was refused above, and of no defect.
        assert [text for text in said if "status of 422" not in text] == []
        browser.close()


def test_a_browser_that_cannot_draw_shows_drawings_and_everything_else_works(house):
    with sync_api.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=need_chromium(), args=DRAWS_NOT)
        page = browser.new_context(viewport=PHONE).new_page()
        opened(page, house)
        sync_api.expect(page.locator("#no-picture")).to_contain_text("drawings to scale")
        sync_api.expect(page.locator("#plain")).to_be_hidden()
        standing = page.locator("#list button").count()
        page.locator("#hand button").first.dispatch_event("click")
        sync_api.expect(page.locator("#list button")).to_have_count(standing + 1, timeout=60_000)
        # Five drawings, each loaded: the plan, both public faces, and the two cuts.
        pictures = page.locator("#panes img")
        sync_api.expect(pictures).to_have_count(5)
        loaded = "all => Promise.all(all.map(e => e.decode().then(() => e.naturalWidth > 0)))"
        assert pictures.evaluate_all(loaded) == [True] * 5
        assert pictures.nth(1).get_attribute("alt") == "Front, drawn to scale"
        before = pictures.first.get_attribute("src")

        x = page.locator("#c-x")
        began = float(x.input_value())
        page.locator("#stage").focus()
        page.keyboard.press("ArrowLeft")
        sync_api.expect(x).to_have_value(f"{began - 1:.1f}", timeout=60_000)
        page.get_by_role("button", name="to the right", exact=True).click()
        sync_api.expect(x).to_have_value(f"{began:.1f}", timeout=60_000)
        assert pictures.first.get_attribute("src") != before
        page.get_by_role("button", name="Undo").click()
        sync_api.expect(x).to_have_value(f"{began - 1:.1f}", timeout=60_000)
        width, room = page.locator("html").evaluate("e => [e.scrollWidth, e.clientWidth]")
        assert width <= room, "the page scrolls sideways"
        found = axe_api.Axe().run(page).response
        assert [(item["id"], [node["html"][:200] for node in item["nodes"]]) for item in found["violations"]] == []
        browser.close()


def test_without_script_there_are_drawings_numbers_and_versions(house):
    address, job = house
    with sync_api.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=need_chromium(), args=DRAWS_NOT)
        page = browser.new_context(viewport=PHONE, java_script_enabled=False).new_page()
        page.goto(f"{address}/jobs/{job}/layout")
        sync_api.expect(page.get_by_role("img", name="From above, drawn to scale")).to_be_visible()
        sync_api.expect(page.get_by_role("heading", name="Saved versions")).to_be_visible()
        sync_api.expect(page.locator("#editor")).to_be_hidden()
        browser.close()
