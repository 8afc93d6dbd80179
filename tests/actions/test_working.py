"""Plans made by workers: everything that a task reads and writes goes through the book, and no disk is shared."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from dataclasses import replace
from itertools import count
from pathlib import Path

import pytest
from sqlalchemy import text

from slackwater.actions import erasing, planning, resting
from slackwater.actions.agenda import agenda
from slackwater.actions.book import make_key
from slackwater.actions.office import open_office
from slackwater.actions.plan_work import Wanted, place_of
from slackwater.actions.rest_work import rest_file
from slackwater.actions.settings import LongWork, read_settings
from slackwater.actions.working import kinds
from slackwater.book import events, parcels, plans, tasks
from slackwater.book.opening import open_to_work
from slackwater.book.tasks import State
from slackwater.cli.main import main
from slackwater.errors import BadInput, NotFound
from slackwater.paper.shown import FORMAT
from slackwater.web.app import create_app
from tests.book import postgresql
from tests.book.conftest import server as server
from tests.book.places import event, one_of_each
from tests.web.client import Caller
from tests.web.conftest import EXAMPLE, NOW
from tests.work.crew import ended

NUMBERS = count()
PAGE = {"format": FORMAT, "told": [], "orders": [], "steps": [], "missing": [], "outcome": "fits", "verdict": "Fits."}
MADE = {"page.json": json.dumps(PAGE).encode(), "plan.json": b"{}", "day-sheet.pdf": b"%PDF-1.7 \xff\x00"}


@pytest.fixture
def settings(server, tmp_path):
    """An office with a key, its own catalog rows, and work for workers."""
    make_key(tmp_path / "key")
    own = tmp_path / "home" / "catalog"
    own.mkdir(parents=True)
    (own / "soils.csv").write_text("id,name\nown,Own soil\n", encoding="utf-8")
    with postgresql.schema(server, f"working_{next(NUMBERS)}") as place:
        yield read_settings(
            {
                "SLACKWATER_HOME": str(tmp_path / "home"),
                "SLACKWATER_DATABASE": place,
                "SLACKWATER_KEY_FILE": str(tmp_path / "key"),
                "SLACKWATER_LONG_WORK": "workers",
            }
        )


@pytest.fixture
def office(settings):
    with open_office(settings, clock=lambda: NOW) as opened:
        yield opened


@pytest.fixture
def known(office):
    return one_of_each(office.book, text=EXAMPLE)


@pytest.fixture
def wanted(known):
    return Wanted(known.job, 1, "metric")


@pytest.fixture
def worker(office, settings, tmp_path):
    """How a worker that knows only the database does a task; each time in a new empty folder."""
    with open_to_work(settings.database, tmp_path / "elsewhere") as book:
        bare = read_settings({"SLACKWATER_HOME": "/nowhere", "SLACKWATER_DATABASE": settings.database})
        make, rooms = kinds(bare, book, lambda: NOW), count()

        def done(task):
            room = tmp_path / f"room-{next(rooms)}"
            room.mkdir()
            return make(task, room)

        yield done


def make(folder, files):
    """What a worker process writes, without the minute that planning takes."""
    folder.mkdir(parents=True)
    for name, content in files.items():
        (folder / name).write_bytes(content)


def test_a_plan_of_a_worker_is_seen_in_the_office_with_all_its_papers(office, worker, wanted, settings):
    task = tasks.get(office.book, planning.ask_plan(office, wanted).id)
    assert task.program is not None and task.owner is None
    kind = worker(task)
    given = kind.given(task)
    # The office's own rows have come along, whole.
    assert Path(given["catalog"], "soils.csv").read_bytes() == (settings.home / "catalog" / "soils.csv").read_bytes()
    assert given["text"] == EXAMPLE
    assert not given["folder"].startswith(str(settings.home))
    make(Path(given["folder"]), MADE)
    place = place_of(settings, office.book, wanted, on=NOW.date())
    # Found by the hash under which the office looks for it, though the worker reckoned it by itself.
    assert kind.kept(task, given["hash"]) == place.hash
    assert plans.of_inputs(office.book, wanted.job_id, 1, place.hash).plan_json == "{}"
    assert not place.folder.exists()
    shown = planning.see_plan(office, wanted)
    assert shown.page == PAGE
    assert {file.name: file.read_bytes() for file in place.folder.iterdir()} == MADE
    assert planning.paper(office, shown, "day-sheet.pdf")[0] == MADE["day-sheet.pdf"]


def test_what_a_worker_made_before_it_died_is_not_made_twice(office, worker, wanted):
    task = tasks.get(office.book, planning.ask_plan(office, wanted).id)
    first = worker(task)
    given = first.given(task)
    make(Path(given["folder"]), MADE)
    made = first.kept(task, given["hash"])
    again = worker(task)
    told = []
    # Planning would tell of more than reading, and would fail: there is no such soil.
    assert again.run(again.given(task), told.append) == made
    assert told == ["reading the job"]
    assert again.kept(task, made) == made


def test_the_start_page_knows_of_a_plan_that_a_worker_made(office, worker, wanted, settings):
    task = tasks.get(office.book, planning.ask_plan(office, wanted).id)
    kind = worker(task)
    given = kind.given(task)
    make(Path(given["folder"]), MADE)
    kind.kept(task, given["hash"])
    agenda(office)
    assert place_of(settings, office.book, wanted, on=NOW.date()).folder.is_dir()


def test_the_rest_of_a_day_goes_through_the_book_too(office, worker, wanted, settings):
    events.append(office.book, wanted.job_id, [event()])
    asked = resting.ask_rest(office, wanted.job_id, {"rest_at": "2027-10-23T12:00"}, "metric")
    task = tasks.get(office.book, asked.id)
    kind = worker(task)
    given = kind.given(task)
    assert "noted" in given["events"] and given["catalog"]
    make(Path(given["file"]).parent, {f"{task.id}.json": b'{"day": null}'})
    assert kind.kept(task, "") == task.id
    assert not rest_file(settings, task.id).exists()
    assert resting.see_rest(office, wanted.job_id, task.id)[0] == {"day": None}


def test_catalog_rows_that_are_gone_are_told(office, worker, wanted):
    task = tasks.get(office.book, planning.ask_plan(office, wanted).id)
    parcels.forget(office.book, "catalog")
    with pytest.raises(NotFound, match="no longer laid out for workers"):
        worker(task)


def test_words_that_are_erased_leave_what_is_laid_out_too(office, worker, known, wanted):
    task = tasks.get(office.book, planning.ask_plan(office, wanted).id)
    kind = worker(task)
    given = kind.given(task)
    make(Path(given["folder"]), MADE)
    kind.kept(task, given["hash"])
    with office.book.reading() as connection:
        assert connection.execute(text("SELECT count(*) FROM parcel WHERE mark LIKE 'plan/%'")).scalar_one() == 1
    place = f"version {wanted.job_id}/1 text"
    erasing.reword(office, known.client, place, EXAMPLE.replace('name = "', 'name = "Other ', 1))
    with office.book.reading() as connection:
        assert connection.execute(text("SELECT count(*) FROM parcel WHERE mark LIKE 'plan/%'")).scalar_one() == 0


def test_the_page_of_a_task_says_when_no_worker_is_there_and_when_it_was_begun_again(office, settings, wanted):
    app = create_app(settings, clock=lambda: NOW)
    app.state.office = office
    call = Caller(app)
    task = planning.ask_plan(office, wanted)
    for page in (f"/tasks/{task.id}", f"/tasks/{task.id}/line"):
        assert "No worker of program version" in call.get(page).text
    program = tasks.get(office.book, task.id).program
    for n in range(2):
        tasks.take(office.book, task.id, owner=f"worker {n}", program=program, at=NOW)
        if n == 0:
            tasks.begin_again(office.book, task.id, owner="worker 0")
    tasks.progress(office.book, task.id, doing="packing boxes", owner="worker 1")
    page = call.get(f"/tasks/{task.id}/line").text
    assert "packing boxes" in page and "Begun 2 times" in page and "No worker" not in page
    assert call.post(f"/tasks/{task.id}/cancel").status_code == 303
    assert "Stopping at the next step" in call.get(f"/tasks/{task.id}").text


# ---------------------------------------------------------------- the command


def test_the_command_needs_only_the_database_and_says_nothing_of_it(office, worker, wanted, settings, tmp_path):
    place = place_of(settings, office.book, wanted, on=NOW.date())
    parcels.lay(office.book, f"plan/{place.hash}/metric", MADE)  # as if made before: planning takes a minute
    task = planning.ask_plan(office, wanted)
    bare = {key: value for key, value in os.environ.items() if not key.startswith("SLACKWATER_")}
    command = [sys.executable, "-m", "slackwater.cli", "worker", "--at-once", "1"]
    with subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**bare, "SLACKWATER_DATABASE": settings.database, "HOME": str(tmp_path / "nobody")},
    ) as process:
        try:
            done = ended(office.book, task.id)
            process.send_signal(signal.SIGTERM)
            said, _ = process.communicate(timeout=30)
        finally:
            process.kill()
    assert (done.state, done.result) == (State.DONE, place.hash)
    assert process.returncode == 0
    assert "This worker is there" in said and "Done: plan" in said and "The worker has ended" in said
    assert [word for word in ("procrastinate", "postgresql", "working_", "tester", "Traceback") if word in said] == []
    assert not (tmp_path / "nobody").exists()


def said_and_code(capsys, *words):
    code = main(list(words))
    return code, " ".join(capsys.readouterr().err.split())


def test_what_a_worker_needs_is_said(server, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SLACKWATER_HOME", str(tmp_path))
    monkeypatch.delenv("SLACKWATER_DATABASE", raising=False)
    code, said = said_and_code(capsys, "worker")
    assert code == 2 and said.startswith("Workers share a record book in PostgreSQL")
    with postgresql.schema(server, "empty") as where:
        monkeypatch.setenv("SLACKWATER_DATABASE", where)
        code, said = said_and_code(capsys, "worker")
        assert code == 2 and said.startswith("There is no record book in this database yet")
    monkeypatch.setenv("SLACKWATER_DATABASE", "postgresql://nobody@127.0.0.1:1/none")
    code, said = said_and_code(capsys, "worker")
    assert code == 2 and "does not answer" in said
    with pytest.raises(SystemExit):
        main(["worker", "--at-once", "0"])


def test_a_worker_changes_no_older_book(office, settings, monkeypatch, capsys):
    monkeypatch.setenv("SLACKWATER_DATABASE", settings.database)
    for form, words in (("0001", "in the form of an older program"), ("9999", "written by a newer Slackwater")):
        with office.book.writing() as connection:
            connection.execute(text(f"UPDATE alembic_version SET version_num = '{form}'"))
        code, said = said_and_code(capsys, "worker")
        assert code == 2 and words in said


def test_an_office_with_a_file_cannot_leave_work_to_workers(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SLACKWATER_HOME", str(tmp_path))
    monkeypatch.delenv("SLACKWATER_DATABASE", raising=False)
    code, said = said_and_code(capsys, "serve", "--port", "0", "--long-work", "workers")
    assert code == 2 and "Set SLACKWATER_DATABASE" in said


def test_who_does_long_work_is_a_setting():
    assert read_settings({}).long_work is LongWork.HERE
    assert read_settings({"SLACKWATER_LONG_WORK": "workers"}).long_work is LongWork.WORKERS
    with pytest.raises(BadInput, match="expected here or workers"):
        read_settings({"SLACKWATER_LONG_WORK": "elves"})
    assert replace(read_settings({}), long_work=LongWork.WORKERS).database is None
