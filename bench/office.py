"""How fast pages come as the book grows: python -m bench.office [JOBS ...] (default: 5 500).

Fills a book in a temporary folder, opens the office in a process of its own, and lets 50 people look at pages, each
thinking 1 to 3 s between two. Shown are seconds from asking to the last byte, on this machine, whatever else it does.
"""

from __future__ import annotations

import http.client
import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections import defaultdict
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

from slackwater.actions.demo import example_text
from slackwater.actions.office import open_office
from slackwater.actions.plan_work import Wanted, make_plan, place_of
from slackwater.actions.settings import read_settings
from slackwater.book import events, jobs
from slackwater.book.ids import new_id
from slackwater.job.event import Event, EventKind

USERS, VISITS, EVENTS_A_JOB = 50, 8, 200
NOW = datetime(2027, 2, 1, 8, 0, tzinfo=UTC)
EXAMPLE = "light-well"


def fill(home: Path, count: int, plan_folder: Path | None) -> tuple[list[str], Path]:
    """A book with so many jobs, each with events; every tenth has a plan (the same one, laid in)."""
    settings, text, ids = read_settings({"SLACKWATER_HOME": str(home)}), example_text(EXAMPLE), []
    with open_office(settings, clock=lambda: NOW, workers=1) as office:
        for number in range(count):
            day = NOW + timedelta(days=number % 200)
            own = text.replace('name = "Light well"', f'name = "Job {number}"').replace("2027-10-26", f"{day:%Y-%m-%d}")
            job = jobs.create(office.book, text=own, at=NOW + timedelta(seconds=number), by="").id
            ids.append(job)
            for start in range(0, EVENTS_A_JOB, events.LARGEST_BATCH):
                batch = [
                    Event(
                        id=UUID(new_id(NOW)), at=NOW.replace(tzinfo=None), kind=EventKind.NOTED, job=f"J{number}", seq=k
                    )
                    for k in range(start, start + events.LARGEST_BATCH)
                ]
                events.append(office.book, job, batch)
            if number % 10 == 0:
                place = place_of(settings, office.book, Wanted(job, 1, "metric"))
                place.folder.parent.mkdir(parents=True)
                if plan_folder is None:
                    given = {
                        "text": own,
                        "folder": str(place.folder),
                        "units": "metric",
                        "catalog": "",
                        "plan_json": "",
                    }
                    make_plan(given, lambda what: print(" ", what, file=sys.stderr))
                    plan_folder = Path(tempfile.mkdtemp()) / "metric"
                    shutil.copytree(place.folder, plan_folder)
                else:
                    shutil.copytree(plan_folder, place.folder, copy_function=os.link)
    assert plan_folder is not None
    return ids, plan_folder


def look(port: int, pages: dict[str, str], found: dict[str, list[float]], sizes: dict[str, int], seed: int) -> None:
    """One person: a page, a thought, the next page."""
    luck = random.Random(seed)
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    time.sleep(luck.uniform(0, 3))
    for _ in range(VISITS):
        name = luck.choice(sorted(pages))
        began = time.perf_counter()
        line.request("GET", pages[name])
        answer = line.getresponse()
        content = answer.read()
        found[name].append(time.perf_counter() - began)
        sizes[name] = len(content)
        assert answer.status == 200, (name, answer.status)
        time.sleep(luck.uniform(1, 3))
    line.close()


def main(counts: list[int]) -> None:
    """Fill, open, look, tell."""
    plan_folder = None
    for count in counts:
        with tempfile.TemporaryDirectory() as room:
            home = Path(room) / "home"
            ids, plan_folder = fill(home, count, plan_folder)
            pages = {
                "start": "/",
                "jobs": "/jobs",
                "job": f"/jobs/{ids[-1]}",
                "survey": f"/jobs/{ids[-1]}/survey/plants",
                "plan": f"/jobs/{ids[0]}/plan",
                "no plan": f"/jobs/{ids[1]}/plan",
                "change": f"/jobs/{ids[0]}/change",
                "compare": "/compare",
                "calendar": "/calendar.ics",
                "api jobs": "/api/jobs",
                "api events": f"/api/jobs/{ids[0]}/events?after=190",
            }
            env = {**os.environ, "SLACKWATER_HOME": str(home)}
            command = [sys.executable, "-m", "slackwater.cli", "serve", "--port", "0"]
            with subprocess.Popen(command, env=env, stdout=subprocess.PIPE, text=True) as office:
                assert office.stdout is not None
                port = int(office.stdout.readline().split("127.0.0.1:")[1].split("/")[0])
                found: dict[str, list[float]] = defaultdict(list)
                sizes: dict[str, int] = {}
                for page in pages.values():  # what a fresh program loads once is no part of the question
                    with urllib.request.urlopen(f"http://127.0.0.1:{port}{page}", timeout=60) as answer:
                        answer.read()
                people = [
                    threading.Thread(target=look, args=(port, pages, found, sizes, seed)) for seed in range(USERS)
                ]
                for person in people:
                    person.start()
                for person in people:
                    person.join()
                office.terminate()
            print(f"{count} jobs, {count * EVENTS_A_JOB} events, {USERS} people")
            for name in pages:
                times = sorted(found[name])
                p95 = times[int(0.95 * (len(times) - 1))]
                print(
                    f"  {name:12} {len(times):4} visits  median {statistics.median(times):.3f}  95 % {p95:.3f}"
                    f"  {sizes[name] / 1000:7.1f} kB"
                )


if __name__ == "__main__":
    main([int(text) for text in sys.argv[1:]] or [5, 500])
