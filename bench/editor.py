"""How fast the layout editor is with 40 pieces: first picture, milliseconds a frame, draw calls, triangles, answers of the office.

Run: python -m bench.editor [--pieces 40]. Nothing is asserted. It needs Chromium, which draws by software here: a machine with
a graphics card takes a small part of the milliseconds a frame. Pieces are made before the clock starts, as the page does.
"""

from __future__ import annotations

import argparse
import time
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from playwright.sync_api import sync_playwright

from slackwater.actions import editing_layout
from slackwater.actions.layout_counts import count
from slackwater.actions.layout_work import make_pieces, pieces_folder
from slackwater.actions.settings import read_settings
from slackwater.book import jobs
from slackwater.layout.acts import Place
from slackwater.web.app import create_app
from tests.web.browser import ARGUMENTS, need_chromium, open_door

NOW = datetime(2027, 2, 1, 8, 0, tzinfo=UTC)
DRAWS = [*ARGUMENTS, "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
FRAMES, TOUCHES = 20, 10
JOB = """
format = 1
name = "Many stones"
[tank]
length = "180 cm"
width = "60 cm"
height = "60 cm"
water_line = "55 cm"
public_sides = ["front", "rear"]
[bed.shape]
form = "ridge"
edge = "4 cm"
top = "12 cm"
[bed.soil]
material = "soil_active_granular"
[[stones]]
material = "stone_granite"
pieces = [{pieces}]
"""


def main() -> None:
    """Lay the pieces, open the editor, and print what it takes."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--pieces", type=int, default=40)
    number = asked.parse_args().pieces
    text = JOB.format(pieces=", ".join(f'"{0.5 + 0.02 * n:.2f} kg"' for n in range(number)))
    with TemporaryDirectory() as home:
        settings = read_settings({"SLACKWATER_HOME": home})
        make_pieces({"text": text, "catalog": "", "pieces": str(pieces_folder(settings))}, lambda _: None)
        app = create_app(settings, clock=lambda: NOW)
        with open_door(app) as address:
            office = app.state.office
            job = jobs.create(office.book, text=text, at=NOW, by="").id
            laid = editing_layout.see(office, job)
            places = [
                Place(act="place", piece=key, x_m=0.12 + 0.17 * (n % 10), y_m=0.09 + 0.14 * (n // 10))
                for n, key in enumerate(laid.layout.pieces)
            ]
            laid = editing_layout.change(office, job, places, revision=laid.revision)
            count(laid.layout)
            took = []
            for _ in range(TOUCHES):
                began = time.perf_counter()
                count(laid.layout)
                took.append(1000 * (time.perf_counter() - began))
            print(f"{number} pieces: counted in {sorted(took)[TOUCHES // 2]:.1f} ms (litres, planting area, remarks)")
            shown(address, job, number)


def shown(address: str, job: str, number: int) -> None:
    """Open the editor twice, the second time with what a browser keeps, and print what it says."""
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=need_chromium(), args=DRAWS)
        context = browser.new_context(viewport={"width": 1366, "height": 900})
        for visit in ("first", "next"):
            page = context.new_page()
            began = time.perf_counter()
            page.goto(f"{address}/jobs/{job}/layout", wait_until="commit")
            page.locator("#editor[data-ready]").wait_for()
            page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
            print(f"{visit} visit: picture after {time.perf_counter() - began:.2f} s")
        ms = page.evaluate(f"layoutEditor.measure({FRAMES})")
        told = page.evaluate("layoutEditor.stats")
        print(
            f"all four views: {ms:.1f} ms a frame drawn by software, of which {told['ms']:.1f} ms in our script; "
            f"{told['calls']} draw calls, {told['triangles']} triangles"
        )
        weight = Path(__file__).parents[1] / "src/slackwater/web/static/dist/layout.js"
        print(f"script: {weight.stat().st_size / 1000:.0f} KB, loaded by this page only")
        browser.close()


if __name__ == "__main__":
    main()
