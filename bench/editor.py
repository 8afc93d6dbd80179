"""How fast the layout editor is with 12 and with 40 pieces: first picture, milliseconds a frame, draw calls, triangles, answers of the office.

Run: python -m bench.editor [--pieces 12 40]. Nothing is asserted. It needs Chromium, which draws by software here: a machine with
a graphics card takes a small part of the milliseconds a frame. Pieces are made before the clock starts, as the page does.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from playwright.sync_api import sync_playwright

from slackwater.actions import editing_layout
from slackwater.actions.layout_counts import Counted, count
from slackwater.actions.layout_work import make_pieces, pieces_folder
from slackwater.actions.settings import read_settings
from slackwater.book import jobs
from slackwater.layout.acts import Place
from slackwater.layout.scene import Layout
from slackwater.web.app import create_app
from tests.web.browser import ARGUMENTS, need_chromium, open_door

NOW = datetime(2027, 2, 1, 8, 0, tzinfo=UTC)
DRAWS = [*ARGUMENTS, "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
FRAMES, TOUCHES = 20, 10
WHERE = """[performance.getEntriesByType("navigation")[0].responseStart,
  Math.max(...performance.getEntriesByType("resource").filter(e => e.name.endsWith("/layout")).map(e => e.responseEnd)),
  performance.getEntriesByName("first-picture")[0].startTime].map(ms => ms / 1000)"""
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
    asked.add_argument("--pieces", type=int, nargs="+", default=[12, 40])
    for number in asked.parse_args().pieces:
        measured(number)


def measured(number: int) -> None:
    """The same with one number of pieces, in an office of its own."""
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
            whole, touched = counted(laid.layout)
            print(
                f"{number} pieces counted (litres, planting area, remarks): {whole:.1f} ms from the beginning, "
                f"{touched:.1f} ms after one has moved; bar 5 ms"
            )
            shown(address, job, number)


def counted(layout: Layout) -> tuple[float, float]:
    """Milliseconds of the processor for a count from nothing, and for one after a touch."""
    before = count(layout)
    whole, touched = [], []
    for n in range(TOUCHES):
        began = time.process_time()
        told(count(layout))
        whole.append(time.process_time() - began)
        item = layout.placements[n % len(layout.placements)]
        x, y, z = item.position_m
        layout = layout.with_placement(replace(item, position_m=(x + 0.01, y - 0.01, z)))
        began = time.process_time()
        before = count(layout, before)
        told(before)
        touched.append(time.process_time() - began)
    return 1000 * median(whole), 1000 * median(touched)


def told(found: Counted) -> None:
    """Ask for all that is shown, for it is reckoned when asked for."""
    _ = found.volumes, found.planting_m2, found.mass_kg, found.findings


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
            told = page.evaluate(WHERE)
            print(
                f"{visit} visit: picture after {time.perf_counter() - began:.2f} s; bar 2 s "
                f"(page begins at {told[0]:.2f}, scene there at {told[1]:.2f}, script done at {told[2]:.2f})"
            )
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
