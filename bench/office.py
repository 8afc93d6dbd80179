"""How fast the office answers as the book grows, beside a bare page of the same size under the same load.

Run: python -m bench.office [--jobs 5 50 500] [--users 50] [--visits 20] [--pause 1 3] [--database postgresql://...]
[--computed FOLDER]. Nothing is asserted.

One book is filled through its own functions, bigger for each step (200 events a job, so 500 jobs are 100,000 events).
The office runs behind uvicorn in a process of its own; people are asyncio clients in another. Each pauses between two
visits as a reader does, without a pause with `--pause 0 0`. Visits follow `MIX` and go to jobs drawn over the whole book.

Three times are shown: `CPU`, what a visit takes of the processor while it is alone, which a busy machine changes least;
`server`, from the request's arrival in the app to the last byte handed over, waiting in its queues
included; `client`, from asking to the last byte read, which adds the connection and the client's own work.

Baseline: FastAPI with one route whose template has nothing to look up and as many bytes as the mix has on average, at
the same moments, by the same people. What lies between is the work of this program; what the baseline takes on a busy
machine is the machine's.
"""

from __future__ import annotations

import argparse
import asyncio
import io
import json
import math
import os
import random
import re
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

from slackwater.actions import accounts as sign_ins
from slackwater.actions import erasing, looking, pricing, recording, testing
from slackwater.actions.accounts import AccountRow
from slackwater.actions.demo import DEMO
from slackwater.actions.examples import example_text
from slackwater.actions.office import Office, open_office
from slackwater.actions.plan_work import PLAN, Wanted, make_plan, place_of
from slackwater.actions.rest_work import REST, rest_file
from slackwater.actions.settings import Settings, read_settings
from slackwater.book import clients, documents, events, jobs, people, photos, plans, sites, tanks, tasks
from slackwater.book.ids import new_id
from slackwater.errors import NotFound
from slackwater.job.event import Event, EventKind
from slackwater.job.form import parts

NOW = datetime(2027, 2, 1, 8, 0, tzinfo=UTC)
EVENTS_A_JOB = 200
JOBS_A_HOUSE, PHOTO_EACH, PLAN_EACH, MANY_PLANTS_EACH = 5, 10, 10, 25
"""Every so manieth job has a photo, a plan, two hundred plants."""
TESTS_A_JOB, CONDITIONS_A_JOB, PRICES = 4, 3, 50
ALONE = 3
"""So often each kind of visit comes while nobody else does, for the processor's time that it takes."""
PLANNED = "light-well"
BAR_MS, BAR_KB = 100, 100
MIX: dict[str, int] = {
    "start": 12,
    "jobs": 8,
    "jobs, next page": 2,
    "new job": 2,
    "job": 12,
    "survey part": 20,
    "plan": 10,
    "plan not made": 2,
    "change": 3,
    "change with a value": 2,
    "compare": 2,
    "compare two": 2,
    "work": 2,
    "work line": 3,
    "photo": 2,
    "photo, small": 3,
    "job file": 1,
    "papers": 1,
    "paper": 2,
    "drawing": 2,
    "calendar": 2,
    "style": 2,
    "api jobs": 3,
    "api job": 2,
    "api versions": 1,
    "api version": 1,
    "api plan": 2,
    "api drawing": 2,
    "api task": 2,
    "api events": 3,
    "layout": 2,
    "layout, its scene": 1,
    "layout, a drawing": 1,
    "layout, a version": 1,
    "api layout": 1,
    "api layout, figures": 1,
    "api layout, cleaning": 1,
    "api layout, versions": 1,
    "api layout, work": 1,
    "api description": 1,
    "POST survey part": 10,
    "POST new job": 1,
    "POST copy": 1,
    "POST bring in": 1,
    "POST house": 1,
    "POST photo": 1,
    "POST units": 1,
    "POST plan that is there": 1,
    "POST api events": 4,
    "clients": 3,
    "client": 3,
    "person": 1,
    "house": 1,
    "tank": 1,
    "client of a job": 1,
    "photos": 2,
    "condition": 2,
    "condition, to sign": 1,
    "care report": 1,
    "care report, its paper": 1,
    "goods": 2,
    "documents": 1,
    "document": 1,
    "log": 4,
    "log file": 1,
    "tests": 2,
    "tests of a tank": 1,
    "tests, drawn": 1,
    "tests of a tank, drawn": 1,
    "prices": 1,
    "versions": 3,
    "version": 2,
    "version, its file": 1,
    "rest of the day": 3,
    "people": 1,
    "somebody's account": 1,
    "trail": 1,
    "links of a job": 1,
    "what a client sees": 1,
    "the offer for a client": 1,
    "the handover for a client": 1,
    "sign in": 1,
    "password": 1,
    "health": 1,
    "find a client": 2,
    "erase, review": 1,
    "erase, asked": 1,
    "erase, a text": 1,
    "POST log": 3,
    "POST condition": 1,
    "POST test": 1,
}
"""How often each kind of visit comes, of about 175. Long work is not begun: it runs in other processes."""


# ---------------------------------------------------------------- the book


def picture(luck: random.Random) -> bytes:
    """A photo as small as a telephone's thumbnail: what a page shows of photos does not depend on their size."""
    from PIL import Image

    packed = io.BytesIO()
    Image.frombytes("RGB", (160, 120), luck.randbytes(160 * 120 * 3)).save(packed, "JPEG")
    return packed.getvalue()


def job_text(number: int) -> str:
    """The text of an example with a name and a day of its own."""
    name = PLANNED if number % PLAN_EACH == 0 else sorted(DEMO)[number % len(DEMO)]
    text = example_text(name)
    day = NOW.date() + timedelta(days=number * 7 % 365)
    text = re.sub(r'^name = ".*"', f'name = "Job {number}"', text, count=1, flags=re.MULTILINE)
    text = re.sub(r'(start|end) = "2027-\d\d-\d\d', rf'\1 = "{day}', text)
    if number % MANY_PLANTS_EACH == 1:
        text += "".join(f'\n[[plants]]\nplant = "plant {k}"\nunits = {k + 1}\n' for k in range(200))
    return text


def fill(office: Office, first: int, last: int, computed: Path | None) -> tuple[list[str], Path]:
    """Put jobs from number `first` up to before `last` into the book, with all that hangs on them."""
    luck, book, ids, site_id = random.Random(first), office.book, [], ""
    if first == 0:
        # All at once: a price that is told later makes the plans before it those of other prices.
        for number in range(PRICES):
            pricing.set_price(office, price(number))
    for number in range(first, last):
        if number % JOBS_A_HOUSE == 0 or not site_id:
            person = people.add(book, people.Person(name=f"Client {number}"), at=NOW)
            owner = clients.add(book, person_id=person.id, at=NOW)
            site_id = sites.add(book, owner.id, name=f"House {number}", at=NOW).id
        placed = number % 2 == 0
        tank_id = tanks.add(book, site_id, name="tank", at=NOW).id if placed else None
        made = jobs.create(
            book,
            text=job_text(number),
            at=NOW + timedelta(seconds=number),
            by="",
            site_id=site_id if placed else None,
            tank_id=tank_id,
        )
        ids.append(made.id)
        for begin in range(0, EVENTS_A_JOB, events.LARGEST_BATCH):
            numbers = range(begin, min(begin + events.LARGEST_BATCH, EVENTS_A_JOB))
            events.append(book, made.id, [event(device=f"phone {number}", seq=k) for k in numbers])
        if number % PHOTO_EACH == 0:
            photos.add(book, picture(luck), at=NOW, by="", job_id=made.id)
        lay_in_records(office, made.id, number)
        if number % PLAN_EACH == 0:
            computed = lay_in_plan(office, made.id, computed)
    assert computed is not None
    return ids, computed


def lay_in_records(office: Office, job_id: str, number: int) -> None:
    """Water tests, what was seen before the work, and a document."""
    place = testing.place_of_job(office, job_id)
    for day in range(TESTS_A_JOB):
        testing.enter_test(office, place, water_test(day), "metric")
    for _ in range(CONDITIONS_A_JOB):
        recording.note_condition(office, job_id, condition(), [])
    if number % PHOTO_EACH == 0:
        paper = ("report.pdf", b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n")
        recording.keep_document(office, job_id, {"title": "report of the waterworks"}, paper)


def water_test(day: int) -> dict[str, str]:
    """A form of a water test as it is sent."""
    return {"at": f"2027-01-{day % 28 + 1:02}T09:30", "nitrate_mg_l": f"{20 + day} mg/L", "alkalinity_dkh": "4 dKH"}


def condition() -> dict[str, str]:
    """A form of what was seen before the work."""
    part, seen = recording.Part, "scratch of 40 mm, left front corner"
    return {"part": next(iter(part)).value, "seen": seen, "at": "2027-02-01T08:00"}


def price(number: int) -> dict[str, str]:
    """A form of a price as it is sent."""
    return {
        "item": f"moss on wood {number}",
        "unit": "piece",
        "currency": "EUR",
        "amount": "9.50",
        "valid_from": "2027-01-01",
    }


def event(*, device: str, seq: int) -> Event:
    """Something noted on the day."""
    return Event(
        id=UUID(new_id(NOW)),
        at=NOW.replace(tzinfo=None),
        kind=EventKind.NOTED,
        job="J",
        device=device,
        seq=seq,
        body={"text": "level in the left barrel at 40 cm, water clear"},
    )


def lay_in_plan(office: Office, job_id: str, computed: Path | None) -> Path:
    """A plan where the office looks for it, as if a task had made it: computed once, then laid in."""
    wanted = Wanted(job_id, 1, "metric")
    place = place_of(office.settings, office.book, wanted, on=NOW.date())
    place.folder.parent.mkdir(parents=True)
    if computed is None:
        given = {"text": place.text, "folder": str(place.folder), "units": "metric", "catalog": "", "plan_json": ""}
        make_plan({**given, "prices": []}, lambda what: print(f"  {what}", file=sys.stderr))
    else:
        place.folder.mkdir()
        for file in computed.iterdir():
            with suppress(OSError):
                os.link(file, place.folder / file.name)
            if not (place.folder / file.name).exists():
                (place.folder / file.name).write_bytes(file.read_bytes())
    plan_json = place.plan_file.read_text(encoding="utf-8")
    plans.keep(office.book, job_id, 1, plan_json=plan_json, inputs_hash=place.hash, at=NOW)
    task = tasks.add(office.book, kind=PLAN, arguments=wanted.arguments(), at=NOW, by="", job_id=job_id)
    tasks.start(office.book, task.id, at=NOW)
    tasks.finish(office.book, task.id, result=place.hash, at=NOW)
    return place.folder


def lay_in_rest(office: Office, job_id: str) -> str:
    """The rest of a day as if a task had planned it: as many rows as a day has; id of the task."""
    arguments = {"version": 1, "units": "metric", "changes": [], "at": "2027-02-01T12:40", "events": EVENTS_A_JOB}
    task = tasks.add(office.book, kind=REST, arguments=arguments, at=NOW, by="", job_id=job_id)
    tasks.start(office.book, task.id, at=NOW)
    tasks.finish(office.book, task.id, result=task.id, at=NOW)
    row = {"start": "12:40", "end": "13:05", "who": "lead, apprentice", "what": "lay soil, slope, retainers"}
    way = {"name": "Keep to the plan", "fits": True, "done": "Done about 17:40.", "clock": ""}
    clock = {"what": "fish", "latest": "15:10", "over": False, "margin": "20 min to spare", "runs": "", "left": ""}
    day: dict[str, Any] = {"now": "Mon 12:40", "urgent": [], "fits": True, "advised": "Keep to the plan.", "done": ""}
    day |= {"hours": [{**row, "id": "E16", "stop": False, "runs": False, "was": "12:10"}] * 40, "clocks": [clock] * 8}
    day |= {"left_out": ["E21 epiphytes"], "ways": [way] * 10, "none": [], "broken": ""}
    note = {"text": "E1 should be over and no end was noted.", "remedies": []}
    file = rest_file(office.settings, task.id)
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(json.dumps({"job": "J", "heavy": [], "notes": [note] * 6, "day": day}), encoding="utf-8")
    return task.id


OWNER = {"name": "Owner", "sign_in": "owner", "role": "owner", "new_password": "bench for the office"}


def owner_of(office: Office) -> AccountRow:
    """The account of the owner, which is opened once: with it every visit looks up its session."""
    try:
        return sign_ins.called(office, OWNER["sign_in"])
    except NotFound:
        return sign_ins.add(office, OWNER, by="")[0]


def session_of(office: Office) -> str:
    """The token with which all visitors come."""
    return sign_ins.sign_in(office, {**OWNER, "password": OWNER["new_password"]}, address="127.0.0.1")


def known(office: Office, ids: Sequence[str]) -> dict[str, Any]:
    """What visitors may ask for, by its ids."""
    planned = [[job, 1] for job in ids[::PLAN_EACH]]  # forms that were sent may have made newer versions
    with_plan = {job_id for job_id, _ in planned}
    task = tasks.add(
        office.book, kind="bench", arguments={"version": 1, "units": "metric", "changes": []}, at=NOW, by=""
    )
    tasks.start(office.book, task.id, at=NOW)
    tasks.progress(office.book, task.id, doing="looking for a day")
    owners = clients.listed(office.book, limit=20)
    houses = sites.of_clients(office.book, [client.id for client in owners])
    return {
        "jobs": list(ids),
        "planned": planned,
        "unplanned": [job_id for job_id in ids if job_id not in with_plan],
        "photos": [[job, photo.id] for job in ids[::PHOTO_EACH] for photo in photos.of_job(office.book, job)],
        "tasks": [task.id],
        "rests": [[ids[0], lay_in_rest(office, ids[0])]],
        "documents": [
            [job, document.id] for job in ids[::PHOTO_EACH] for document in documents.of_job(office.book, job)
        ],
        "places": {client.id: erasing.review_of(office, client.id).texts[0].told for client in owners},
        "clients": [client.id for client in owners],
        "people": [[client.id, client.person_id] for client in owners],
        "houses": [[client.id, site.id] for client in owners for site in houses[client.id]],
        "tanks": [
            [client.id, site.id, tank.id]
            for client in owners
            for site in houses[client.id]
            for tank in tanks.at_site(office.book, site.id)
        ],
        "parts": [part.id for part in parts()],
        "account": owner_of(office).id,
        "token": looking.make(office, ids[0], {"days": "30"}, by="")[1],
        "session": session_of(office),
        "text": job_text(0),
        "picture": picture(random.Random(0)).hex(),
    }


# ---------------------------------------------------------------- the server


class Timed:
    """An ASGI wrapper that notes how long each answer took, in headers that only this bench sends and reads.

    The processor's time is that of the whole process: it tells what an answer took only while there is no other.
    """

    def __init__(self, app: Any) -> None:
        self._app = app

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Hold the start of the answer back until its body is whole, to say how long that took."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        began, worked, held = time.perf_counter(), time.process_time(), []

        async def sending(message: Any) -> None:
            held.append(message)
            if message["type"] == "http.response.body" and not message.get("more_body", False):
                took = f"{1000 * (time.perf_counter() - began):.3f}".encode()
                cpu = f"{1000 * (time.process_time() - worked):.3f}".encode()
                held[0]["headers"] = [*held[0]["headers"], (b"x-took-ms", took), (b"x-cpu-ms", cpu)]
                for kept in held:
                    await send(kept)

        await self._app(scope, receive, sending)


def run(app: Any) -> None:
    """Open a door for an app, print its port, serve until ended."""
    import uvicorn

    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as door:
        door.bind(("127.0.0.1", 0))
        door.listen(256)
        print(door.getsockname()[1], flush=True)
        config = uvicorn.Config(Timed(app), log_level="error", access_log=False, server_header=False, ws="none")
        # The server ends by sending itself the signal that ended it; what it opened is closed by whoever opened it.
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        with suppress(KeyboardInterrupt):
            uvicorn.Server(config).run(sockets=[door])


def serve_office(home: str, database: str) -> None:
    """The office itself, as `slackwater serve` opens it, with the bench's clock."""
    from slackwater.web.app import create_app
    from slackwater.web.ready import make_ready

    settings = settings_of(Path(home), database)
    with open_office(settings, clock=lambda: NOW) as office:
        app = create_app(settings, clock=lambda: NOW)
        app.state.office = office
        make_ready(office)
        run(app)


def serve_bare(size: int) -> None:
    """FastAPI and a template of so many bytes, nothing else."""
    from fastapi import FastAPI
    from fastapi.responses import HTMLResponse
    from jinja2 import Environment

    app = FastAPI(openapi_url=None)
    template = Environment(autoescape=True).from_string("<p>" + "x" * max(0, size - 7) + "</p>")

    @app.get("/")
    def page() -> HTMLResponse:
        return HTMLResponse(template.render())

    run(app)


def settings_of(home: Path, database: str) -> Settings:
    """Settings of the book that is measured."""
    named = {"SLACKWATER_HOME": str(home)}
    return read_settings({**named, "SLACKWATER_DATABASE": database} if database else named)


# ---------------------------------------------------------------- the visitors


def address(name: str, ids: dict[str, Any], luck: random.Random) -> str:
    """Where a visit that only looks goes."""
    job, (planned, version) = luck.choice(ids["jobs"]), luck.choice(ids["planned"])
    other, other_version = luck.choice(ids["planned"])
    photo_job, photo = luck.choice(ids["photos"])
    task = luck.choice(ids["tasks"])
    client, (house_client, house) = luck.choice(ids["clients"]), luck.choice(ids["houses"])
    person_client, someone = luck.choice(ids["people"])
    with_document, document = luck.choice(ids["documents"])
    tank_client, tank_house, tank = luck.choice(ids["tanks"])
    made = f"/api/jobs/{planned}/versions/{version}"
    return {
        "start": "/",
        "jobs": "/jobs",
        "jobs, next page": f"/jobs?after={job}",
        "new job": "/jobs/new",
        "job": f"/jobs/{job}",
        "survey part": f"/jobs/{job}/survey/{luck.choice(ids['parts'])}",
        "plan": f"/jobs/{planned}/plan?version={version}",
        "plan not made": f"/jobs/{luck.choice(ids['unplanned'] or ids['jobs'])}/plan",
        "change": f"/jobs/{planned}/change?version={version}",
        "change with a value": f"/jobs/{planned}/change?version={version}&key=tank.length&value={luck.randint(100, 140)}+cm",
        "compare": "/compare",
        "compare two": f"/compare?before={planned}:{version}&after={other}:{other_version}",
        "work": f"/tasks/{task}",
        "work line": f"/tasks/{task}/line",
        "photo": f"/jobs/{photo_job}/photos/{photo}",
        "photo, small": f"/jobs/{photo_job}/photos/{photo}/small",
        "job file": f"/jobs/{job}/job.toml",
        "papers": f"/jobs/{planned}/plan/papers.zip?version={version}",
        "paper": f"/jobs/{planned}/plan/papers/day-sheet.pdf?version={version}",
        "drawing": f"/jobs/{planned}/plan/figures/gantt.svg?version={version}",
        "calendar": "/calendar.ics",
        "style": "/static/style.css",
        "api jobs": "/api/jobs",
        "api job": f"/api/jobs/{job}",
        "api versions": f"/api/jobs/{job}/versions",
        "api version": f"/api/jobs/{job}/versions/1",
        "api plan": f"{made}/plan",
        "api drawing": f"{made}/drawings/",
        "api task": f"/api/tasks/{task}",
        "api events": f"/api/jobs/{job}/events?after={luck.choice((0, 150, 190))}",
        # Until its pieces are made a layout is refused with a sentence; so is what nobody has saved or asked for.
        "layout": f"/jobs/{planned}/layout",
        "layout, its scene": f"/jobs/{planned}/layout/scene.glb",
        "layout, a drawing": f"/jobs/{planned}/layout/drawings/plan.svg",
        "layout, a version": f"/jobs/{planned}/layout/versions/1/scene.glb",
        "api layout": f"/api/jobs/{planned}/layout",
        "api layout, figures": f"/api/jobs/{planned}/layout/figures",
        "api layout, cleaning": f"/api/jobs/{planned}/layout/cleaning",
        "api layout, versions": f"/api/jobs/{planned}/layout/versions",
        "api layout, work": f"/api/jobs/{planned}/layout/work/{task}",
        "api description": "/api/openapi.json",
        "clients": "/clients",
        "client": f"/clients/{client}",
        "person": f"/clients/{person_client}/people/{someone}",
        "house": f"/clients/{house_client}/sites/{house}",
        "tank": f"/clients/{tank_client}/sites/{tank_house}/tanks/{tank}",
        "client of a job": f"/jobs/{job}/client",
        "photos": f"/jobs/{photo_job}/photos",
        "condition": f"/jobs/{job}/condition",
        "condition, to sign": f"/jobs/{job}/condition/record.pdf",
        "care report": f"/jobs/{job}/report",
        "care report, its paper": f"/jobs/{job}/report.pdf",
        "goods": f"/jobs/{job}/goods",
        "documents": f"/jobs/{with_document}/documents",
        "document": f"/jobs/{with_document}/documents/{document}",
        "log": f"/jobs/{job}/log",
        "log file": f"/jobs/{job}/log/events.jsonl",
        "tests": f"/jobs/{job}/tests",
        "tests of a tank": f"/tanks/{tank}/tests",
        "tests, drawn": f"/jobs/{job}/tests/over-time.svg",
        "tests of a tank, drawn": f"/tanks/{tank}/tests/over-time.svg",
        "prices": "/prices",
        "versions": f"/jobs/{job}/versions",
        "version": f"/jobs/{job}/versions/1",
        "version, its file": f"/jobs/{job}/versions/1/job.toml",
        "people": "/people",
        "somebody's account": f"/people/{ids['account']}",
        "trail": "/trail",
        "links of a job": f"/jobs/{job}/links",
        "what a client sees": f"/look/{ids['token']}",
        # The plan of the bench fits no day, so this is refused with a sentence.
        "the offer for a client": f"/look/{ids['token']}/offer.pdf",
        "the handover for a client": f"/look/{ids['token']}/handover.pdf",
        "sign in": "/sign-in",
        "password": "/password",
        "health": "/health",
        "rest of the day": "/jobs/{}/rest/{}".format(*luck.choice(ids["rests"])),
        "find a client": f"/clients?find=Client+{luck.randint(100, 499)}",
        "erase, review": f"/clients/{client}/erase",
        "erase, asked": f"/erase/client/{client}",
        "erase, a text": f"/clients/{client}/erase/text?place={ids['places'][client]}",
    }[name]


async def visit(client: Any, name: str, ids: dict[str, Any], luck: random.Random) -> Any:
    """One visit; looks that a form needs first are not counted."""
    job = luck.choice(ids["jobs"])
    if not name.startswith("POST"):
        where = address(name, ids, luck)
        if name == "api drawing":
            where += luck.choice((await client.get(where.replace("/drawings/", "/plan"))).json()["drawings"])
        return await client.get(where)
    if name == "POST survey part":
        page = await client.get(f"/jobs/{job}/survey/tank")
        based_on = re.findall(r'name="based_on"[^>]*value="(\d+)"', page.text)[0]
        answer = {"based_on": based_on, "tank.length": f"{luck.randint(1000, 1400) / 10} cm"}
        return await client.post(f"/jobs/{job}/survey/tank", data=answer)
    if name == "POST api events":
        batch = [event(device=f"bench {luck.getrandbits(64)}", seq=k).model_dump(mode="json") for k in range(5)]
        return await client.post(f"/api/jobs/{job}/events", json=batch)
    plan, version = luck.choice(ids["planned"])
    words = {"name": f"A job of {luck.getrandbits(32)}"}
    where, more = {
        "POST new job": ("/jobs/new", {"data": words}),
        "POST copy": (f"/jobs/{job}/copy", {"data": {**words, "what": "again"}}),
        "POST bring in": ("/jobs/bring-in", {"files": {"file": ("job.toml", ids["text"].encode())}}),
        "POST house": (f"/jobs/{job}/house", {"data": {"client": "A client", "site": words["name"]}}),
        "POST photo": (f"/jobs/{job}/photos", {"files": {"file": ("a.jpg", bytes.fromhex(ids["picture"]))}}),
        "POST units": ("/units", {"data": {"units": "metric"}}),
        "POST plan that is there": (f"/jobs/{plan}/plan", {"data": {"version": str(version)}}),
        "POST log": (f"/jobs/{job}/log", {"data": {"kind": "noted", "at": "2027-02-01T08:00", "text": words["name"]}}),
        "POST condition": (f"/jobs/{job}/condition", {"data": condition()}),
        "POST test": (f"/jobs/{job}/tests", {"data": water_test(luck.randrange(28))}),
    }[name]
    return await client.post(where, **more)


def headers_of(door: str, ids: dict[str, Any]) -> dict[str, str]:
    """As a browser of the owner sends them; a bare page knows nobody."""
    return {"origin": door, "accept": "text/html", "cookie": f"session={ids.get('session', '')}"}


async def person(
    door: str, ids: dict[str, Any], asked: argparse.Namespace, seed: int, told: list[tuple[str, float, float, int, int]]
) -> None:
    """One person's visits: name, milliseconds for the server and for the client, bytes, status of each."""
    import httpx

    luck = random.Random(seed)
    names, weights = list(MIX), list(MIX.values())
    async with httpx.AsyncClient(base_url=door, headers=headers_of(door, ids), timeout=120) as client:
        await asyncio.sleep(luck.uniform(0, asked.pause[1]))
        for _ in range(asked.visits):
            (name,) = luck.choices(names, weights)
            began = time.perf_counter()
            if asked.bare:
                answer = await client.get("/")
            else:
                answer = await visit(client, name, ids, luck)
            if name in ("POST survey part", "api drawing"):
                took = 1000 * answer.elapsed.total_seconds()
            else:
                took = 1000 * (time.perf_counter() - began)
            told.append((name, float(answer.headers["x-took-ms"]), took, len(answer.content), answer.status_code))
            await asyncio.sleep(luck.uniform(*asked.pause))


async def visitors(asked: argparse.Namespace) -> dict[str, Any]:
    """A first round that is not counted makes the server load what it loads once; then one at a time, then all at once."""
    import httpx

    ids, door = json.load(sys.stdin), f"http://127.0.0.1:{asked.port}"
    alone: dict[str, float] = {}
    if not asked.bare:
        luck = random.Random(1)
        async with httpx.AsyncClient(base_url=door, headers=headers_of(door, ids), timeout=120) as client:
            for name in MIX:
                await visit(client, name, ids, luck)
            for name in MIX:
                answers = [await visit(client, name, ids, luck) for _ in range(ALONE)]
                alone[name] = statistics.median(float(answer.headers["x-cpu-ms"]) for answer in answers)
    told: list[tuple[str, float, float, int, int]] = []
    await asyncio.gather(*(person(door, ids, asked, seed, told) for seed in range(asked.users)))
    return {"told": told, "alone": alone}


# ---------------------------------------------------------------- the run


def p95(times: Sequence[float]) -> float:
    """The time that 95 of 100 keep (nearest rank)."""
    return sorted(times)[math.ceil(0.95 * len(times)) - 1]


def measured(
    server: Sequence[str], ids: dict[str, Any], asked: argparse.Namespace, *more: str
) -> tuple[list[tuple[str, float, float, int, int]], dict[str, float]]:
    """Open a server, let people in, close it; visits, and what each kind took of the processor while alone [ms]."""
    own = [sys.executable, "-m", "bench.office"]
    with subprocess.Popen([*own, *server], stdout=subprocess.PIPE, text=True) as office:
        assert office.stdout is not None
        port = office.stdout.readline().strip()
        low, high = asked.pause
        visiting = [*own, "--port", port, "--users", str(asked.users), "--visits", str(asked.visits)]
        visiting += ["--pause", str(low), str(high), *more]
        done = subprocess.run(visiting, input=json.dumps(ids), stdout=subprocess.PIPE, text=True, check=False)
        office.terminate()
    if done.returncode:
        raise SystemExit("the visitors did not get through; what went wrong is told above")
    found = json.loads(done.stdout)
    return [(row[0], row[1], row[2], row[3], row[4]) for row in found["told"]], found["alone"]


def show(told: list[tuple[str, float, float, int, int]], alone: dict[str, float]) -> None:
    """A line for each kind of visit."""
    print(
        f"  {'':26}{'CPU ms':>7} {'visits':>6} {'server ms: median':>18} {'p95':>6} {'client p95':>11} {'largest kB':>11}"
    )
    for name in MIX:
        rows = [row for row in told if row[0] == name]
        if not rows:
            print(f"  {name:26}{alone[name]:7.1f} {0:6}")
            continue
        server, client = [row[1] for row in rows], [row[2] for row in rows]
        line = f"  {name:26}{alone[name]:7.1f} {len(rows):6} {statistics.median(server):18.1f} {p95(server):6.1f} {p95(client):11.1f}"
        refused = [row[4] for row in rows if row[4] >= 400]
        print(f"{line} {max(row[3] for row in rows) / 1000:11.1f}{f'  refused: {refused}' if refused else ''}")


def unvisited() -> list[str]:
    """Addresses to look at that the mix leaves out."""
    from slackwater.web import accounts, api, clients, erase, plans, records, start, survey, tests_prices, versions

    nowhere = {"jobs": ["0"], "planned": [["0", 1]], "unplanned": ["0"], "photos": [["0", "0"]]}
    nowhere |= {"rests": [["0", "0"]]}
    nowhere |= {"documents": [["0", "0"]], "places": {"0": "0"}}
    nowhere |= {"tasks": ["0"], "parts": ["tank"], "clients": ["0"], "people": [["0", "0"]]}
    nowhere |= {"account": "0", "token": "0"}
    nowhere |= {"houses": [["0", "0"]], "tanks": [["0", "0", "0"]]}
    gone = [address(name, nowhere, random.Random(0)).split("?")[0] for name in MIX if not name.startswith("POST")]
    found = []
    for room in (start, survey, clients, erase, records, tests_prices, versions, plans, accounts, api):
        for route in room.router.routes:
            asked = getattr(route, "path_regex", None)
            if "GET" in (getattr(route, "methods", None) or ()) and asked is not None:
                reached = any(asked.match(one if not one.endswith("/drawings/") else f"{one}x") for one in gone)
                found += [] if reached else [str(getattr(route, "path", ""))]
    return found


def main(asked: argparse.Namespace) -> None:
    """Fill, visit, tell; then the curve over the size of the book."""
    curve, computed, ids = [], asked.computed, []
    with tempfile.TemporaryDirectory() as room:
        home = Path(room) / "home"
        settings = settings_of(home, asked.database)
        print(f"{asked.users} people at once, each pausing {asked.pause[0]:g} to {asked.pause[1]:g} s between visits;")
        print(f"{os.cpu_count()} cores; book on {'PostgreSQL' if asked.database else 'SQLite'}")
        left_out = unvisited()
        print(f"addresses that are looked at by nobody: {', '.join(left_out) or 'none'}")
        for count in asked.jobs:
            began = time.perf_counter()
            with open_office(settings, clock=lambda: NOW) as office:
                more, computed = fill(office, len(ids), count, computed)
                ids += more
                asks = known(office, ids)
            print(
                f"\n{count} jobs, {count * EVENTS_A_JOB:,} events (filled in {time.perf_counter() - began:.0f} s)",
                flush=True,
            )
            told, alone = measured(["--serve", str(home), "--database", asked.database], asks, asked)
            show(told, alone)
            cpu = sum(alone[row[0]] for row in told) / len(told)
            size = round(statistics.mean(row[3] for row in told))
            bare, _ = measured(["--serve-bare", str(size)], {}, asked, "--bare")
            survey = max((row[3] for row in told if row[0] == "survey part"), default=0) / 1000
            line = [p95([row[at] for row in rows]) for rows in (told, bare) for at in (1, 2)]
            curve.append((count, cpu, statistics.median(row[1] for row in told), line, survey))
        print(
            f"\n{'jobs':>6} {'events':>8} {'CPU ms':>7} {'median':>7} {'p95':>6} {'client p95':>11} | bare page of the same size",
            end="",
        )
        print(f" {'p95':>6} {'client p95':>11} | largest survey page")
        for count, cpu, median, (server, client, bare_server, bare_client), survey in curve:
            print(
                f"{count:6} {count * EVENTS_A_JOB:8,} {cpu:7.1f} {median:7.1f} {server:6.1f} {client:11.1f} |", end=" "
            )
            print(f"{'':26} {bare_server:6.1f} {bare_client:11.1f} | {survey:.1f} kB")
        print(f"{'bar':>6} {'':8} {'':7} {'':7} {BAR_MS:6} {'':11} | {'':26} {'':6} {'':11} | {BAR_KB} kB")


def arguments(words: Sequence[str]) -> argparse.Namespace:
    """What was asked for on the command line."""
    given = argparse.ArgumentParser(prog="python -m bench.office", description=(__doc__ or "").partition("\n")[0])
    given.add_argument("--jobs", type=int, nargs="+", default=[5, 50, 500], help="sizes of the book, growing")
    given.add_argument("--users", type=int, default=50)
    given.add_argument("--visits", type=int, default=20, help="of each person")
    given.add_argument(
        "--pause", type=float, nargs=2, default=[1.0, 3.0], help="seconds between visits, least and most"
    )
    given.add_argument("--database", default="", help="an empty PostgreSQL database instead of SQLite")
    given.add_argument("--computed", type=Path, help="folder of a plan of light-well that is there, in metric units")
    for name in ("--serve", "--serve-bare", "--port"):
        given.add_argument(name, default="", help=argparse.SUPPRESS)
    given.add_argument("--bare", action="store_true", help=argparse.SUPPRESS)
    return given.parse_args(words)


if __name__ == "__main__":
    wanted = arguments(sys.argv[1:])
    if wanted.serve:
        serve_office(wanted.serve, wanted.database)
    elif wanted.serve_bare:
        serve_bare(int(wanted.serve_bare))
    elif wanted.port:
        print(json.dumps(asyncio.run(visitors(wanted))))
    else:
        main(wanted)
