"""The commands, as a user meets them: answers, exit codes, and one plain line for each mistake."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from pypdf import PdfReader

from slackwater.actions import day_job, living_job
from slackwater.cli.main import main
from tests.jobs import EXAMPLES
from tests.paper.by_hand import catch, living, living_plan_of, nothing_known
from tests.replans import booked

EXAMPLE = EXAMPLES / "blue-corridor.toml"


def run(*args, cwd=None):
    return subprocess.run(
        [sys.executable, "-m", "slackwater.cli", *map(str, args)], capture_output=True, text=True, cwd=cwd, timeout=600
    )


def test_help_loads_nothing_heavy():
    code = "import sys; from slackwater.cli.main import main\ntry: main(['--help'])\nexcept SystemExit: pass\nprint(sorted(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    for heavy in ("numpy", "scipy", "pydantic", "ortools", "pint", "typst", "vl_convert", "slackwater.plan"):
        assert f"'{heavy}'" not in loaded


COMMANDS = (
    "new",
    "check",
    "plan",
    "planting",
    "water",
    "living",
    "day",
    "book",
    "learned",
    "people",
    "schema",
    "verify",
    "worker",
)


def test_every_command_has_help(capsys):
    for command in COMMANDS:
        with pytest.raises(SystemExit) as ended:
            main([command, "--help"])
        assert ended.value.code == 0
        assert len(capsys.readouterr().out) > 80


def test_every_command_stands_in_the_readme():
    readme = (EXAMPLES.parent / "README.md").read_text(encoding="utf-8")
    for command in (*COMMANDS, "serve"):
        assert f"./go {command}" in readme


@pytest.mark.parametrize("command", [["learned"], ["plan", str(EXAMPLE), "--book"], ["day", str(EXAMPLE), "--book"]])
def test_what_asks_for_the_book_says_where_it_looked_and_begins_none(command, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SLACKWATER_HOME", str(tmp_path / "home"))
    assert main(command) == 2
    assert f"{tmp_path / 'home'}: there is no record book in this folder" in capsys.readouterr().err
    assert not (tmp_path / "home").exists()


def test_a_language_without_a_catalog_is_refused_before_anything_is_planned(tmp_path, capsys):
    assert main(["plan", str(EXAMPLE), "--language", "xx", "--out", str(tmp_path / "out")]) != 0
    told = capsys.readouterr().err
    assert 'no catalog for the language "xx"; there are: en, de' in told and "planning" not in told
    assert not (tmp_path / "out").exists()


def test_plan_prints_the_verdict_first_and_says_where_the_papers_are(tmp_path):
    done = run("plan", EXAMPLE, "--out", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Blue corridor: Does not fit.")
    assert "day-sheet.pdf" in done.stdout and (tmp_path / "out" / "day-sheet.pdf").exists()
    assert "planning the day" in done.stderr


def test_day_shows_the_hours_and_with_news_what_to_do_first(tmp_path, capsys, monkeypatch):
    # The day is solved once for both; the commands are the real ones.
    day = booked("blue-corridor")
    monkeypatch.setattr(day_job, "day_as_booked", lambda *_, **__: (day, ()))
    assert main(["day", str(EXAMPLE)]) == 0
    planned = capsys.readouterr().out
    assert planned.startswith("Blue corridor: the day as planned")
    for needed in ("E26", "STOP", "lead", "Clocks", "fish in holding boxes", "margin"):
        assert needed in planned
    log = tmp_path / "log.jsonl"
    log.write_text(
        '{"id": "6f1d1d0e-3b1a-4d34-9a3e-0b6b6f2c0009", "at": "2027-02-10T12:20:00", "kind": "unavailable", '
        '"job": "BC-2027-02", "subject": "box B", "body": {"part": "battery air pump"}}\n',
        encoding="utf-8",
    )
    for at in ([], ["--at", "12:20"], ["--at", "2027-02-10 12:20"]):
        assert main(["day", str(EXAMPLE), "--events", str(log), *at]) == 0
        shown = capsys.readouterr().out
        lines = shown.splitlines()
        assert lines[0] == "Blue corridor, Wed 12:20" and "give box B air again" in lines[1] + lines[2]
        assert "What can be done, best first" in shown and "Safe overnight state" in shown and "left now" in shown


@pytest.mark.parametrize(
    ("at", "needed"),
    [
        ("25:99", "is not a time"),
        ("noon", "is not a time"),
        ("2027-02-10", "is not a time"),
        ("05:00", "before the start"),
        ("2027-02-09 12:00", "it cannot be"),
    ],
)
def test_a_time_that_cannot_be_is_answered_with_what_is_expected(at, needed, capsys, monkeypatch):
    monkeypatch.setattr(day_job, "day_as_booked", lambda *_, **__: (booked("blue-corridor"), ()))
    assert main(["day", str(EXAMPLE), "--at", at]) == 2
    answer = capsys.readouterr().err.strip().splitlines()[-1]
    assert needed in answer and len(answer) > 40


def test_water_shows_cards_and_writes_its_page(tmp_path):
    page = tmp_path / "water.pdf"
    done = run("water", EXAMPLE, "--pdf", page)
    assert done.returncode == 0, done.stderr
    for needed in ("Blue corridor: water", "new-water barrel 1", "go on", "adjust, else stop", "Bringing them over"):
        assert needed in done.stdout
    text = "\n".join(sheet.extract_text() for sheet in PdfReader(page).pages)
    assert "Water and boxes" in text and "What to settle" in text and "Soil, stone and this water" in text
    first = page.read_bytes()
    assert run("water", EXAMPLE, "--pdf", page).returncode == 0 and page.read_bytes() == first


def test_planting_shows_buckets_and_writes_its_sheet(tmp_path):
    page = tmp_path / "planting.pdf"
    done = run("planting", EXAMPLE, "--pdf", page)
    assert done.returncode == 0, done.stderr
    for needed in ("Blue corridor: planting", "background", "Portions", "java fern", str(page)):
        assert needed in done.stdout
    reader = PdfReader(page)
    assert len(reader.pages) == 1
    assert "Hang this at the tank" in " ".join(reader.pages[0].extract_text().split())


def test_water_in_us_units_and_without_a_file(tmp_path):
    done = run("water", EXAMPLE, "--units", "us", cwd=tmp_path)
    assert done.returncode == 0 and "gal" in done.stdout and "°F" in done.stdout
    assert not list(tmp_path.iterdir())


def test_water_never_writes_over_another_kind_of_file(tmp_path):
    other = tmp_path / "notes.txt"
    other.write_text("mine", encoding="utf-8")
    done = run("water", EXAMPLE, "--pdf", other)
    assert done.returncode == 2 and "another kind of file" in done.stderr and other.read_text("utf-8") == "mine"
    done = run("water", EXAMPLE, "--pdf", tmp_path)
    assert done.returncode == 2 and "is a folder" in done.stderr


def test_water_of_a_bare_job_asks_for_its_facts(tmp_path):
    job = tmp_path / "bare.toml"
    assert run("new", job).returncode == 0
    done = run("water", job)
    assert done.returncode == 0 and "Facts that are missing" in done.stdout and "tank.length" in done.stdout


@pytest.fixture
def at_once(monkeypatch):
    """The living command with everything alive made by hand: what is tested here is the command, not the reckoning."""
    told = {}

    def made(job, catalog, *, version, laid=None, events=(), on_progress=lambda _: None):
        told["events"] = events
        on_progress("following the boxes")
        return living_plan_of(told.get("living", living()), job_name=job.name)

    monkeypatch.setattr(living_job, "living_plan", made)
    return told


def test_living_shows_the_boxes_first_and_writes_its_page(at_once, tmp_path, capsys):
    page = tmp_path / "living.pdf"
    assert main(["living", str(EXAMPLE), "--pdf", str(page)]) == 0
    shown = capsys.readouterr()
    order = [
        "Blue corridor: everything alive",
        "Boxes",
        "9 h 20 min",
        "Filter",
        "The weeks after",
        "Water changes",
        "Wrote",
    ]
    places = [shown.out.index(text) for text in order]
    assert places == sorted(places)
    for needed in ("longer than 14 h", "4 pearl gourami", "kg of zeolite", "97 %", "80 L", "visits are enough"):
        assert needed in shown.out, needed
    assert "setting the living page" in shown.err
    text = "\n".join(sheet.extract_text() for sheet in PdfReader(page).pages)
    assert "The weeks after the restart" in text and "pearl gourami" in text
    first = page.read_bytes()
    assert main(["living", str(EXAMPLE), "--pdf", str(page)]) == 0 and page.read_bytes() == first


def test_living_hands_over_what_has_happened(at_once, capsys):
    at_once["living"] = living(catches=(catch(),))
    assert main(["living", str(EXAMPLE), "--events", str(EXAMPLES / "blue-corridor.events.jsonl")]) == 0
    assert len(at_once["events"]) >= 4 and "cherry shrimp, passes 46, 29, 20: about 33" in capsys.readouterr().out


def test_living_in_us_units_and_with_nothing_known(at_once, capsys):
    assert main(["living", str(EXAMPLE), "--units", "us"]) == 0
    shown = capsys.readouterr().out
    assert "21 gal" in shown and "lb of zeolite" in shown
    at_once["living"] = nothing_known()
    assert main(["living", str(EXAMPLE)]) == 0
    shown = capsys.readouterr().out
    assert "No animals wait in boxes." in shown and "No filter is told of" in shown and "not reckoned" in shown


def test_living_never_writes_over_another_kind_of_file(at_once, tmp_path, capsys):
    other = tmp_path / "notes.txt"
    other.write_text("mine", encoding="utf-8")
    assert main(["living", str(EXAMPLE), "--pdf", str(other)]) == 2
    assert "another kind of file" in capsys.readouterr().err and other.read_text("utf-8") == "mine"


def test_living_of_a_bare_job_asks_for_its_facts(tmp_path):
    job = tmp_path / "bare.toml"
    assert run("new", job).returncode == 0
    done = run("living", job)
    assert done.returncode == 0 and "Facts that are missing" in done.stdout and "tank.length" in done.stdout


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda path: None, "there is no such file of events"),
        (lambda path: path.mkdir(), "is a folder"),
        (lambda path: path.write_bytes(b"\xff\xfe\x00"), "not a text file"),
        (lambda path: path.write_text('\n{"kind": "counted"\n'), "line 2"),
        (lambda path: path.write_text("{}\n"), "line 1: id"),
        (lambda path: path.write_text("[1]\n"), "line 1"),
    ],
)
def test_a_bad_file_of_events_gives_one_line_and_exit_code_2(tmp_path, make, says):
    events = tmp_path / "events.jsonl"
    make(events)
    done = run("living", EXAMPLE, "--events", events)
    assert done.returncode == 2 and says in done.stderr and "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1 and done.stdout == ""


def test_new_then_check_works_and_new_never_overwrites(tmp_path):
    job = tmp_path / "my tank.toml"
    assert run("new", job).returncode == 0
    checked = run("check", job)
    assert checked.returncode == 0 and "0 of 7 parts" in checked.stdout and "tank.length" in checked.stdout
    again = run("new", job)
    assert again.returncode == 2 and "is left as it is" in again.stderr


@pytest.mark.parametrize("what", ["job", "plan", "event"])
def test_schemas_are_schemas(what):
    Draft202012Validator.check_schema(json.loads(run("schema", what).stdout))


def test_verify_passes_and_counts(tmp_path):
    done = run("verify", "--strict")
    assert done.returncode == 0
    assert "computed: " in done.stdout and "0 miss" in done.stdout


HEAD = 'format = 1\nname = "x"\n'


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "the file is empty"),
        ("not toml at all", "not a readable job file"),
        (HEAD + '[tank]\nlength = "42 parsecs"\n', "not a unit known here"),
        (HEAD + '[tank]\nheight = "-3 cm"\n', "more than 0 is expected"),
        (HEAD + "[tank]\nlength = nan\n", "tank.length"),
    ],
)
def test_a_bad_file_gives_one_line_and_exit_code_2(tmp_path, text, says):
    job = tmp_path / "bad.toml"
    job.write_text(text)
    done = run("check", job)
    assert done.returncode == 2 and says in done.stderr and "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda path: None, "there is no such file"),
        (lambda path: path.mkdir(), "is a folder"),
        (lambda path: path.write_bytes(b"\xff\xfe\x00name"), "not a text file"),
        (lambda path: path.write_bytes(b"#" * 6_000_000), "is it the right file"),
    ],
)
def test_what_is_no_job_file_is_said(tmp_path, make, says):
    path = Path(tmp_path / "thing.toml")
    make(path)
    done = run("plan", path)
    assert done.returncode == 2 and says in done.stderr and "Traceback" not in done.stderr


@pytest.mark.parametrize("port", ["-1", "65536", "http", "8.5", ""])
def test_a_port_that_is_none_is_refused(port, capsys):
    with pytest.raises(SystemExit) as ended:
        main(["serve", "--port", port])
    assert ended.value.code == 2
    assert "0 to 65535" in capsys.readouterr().err


def test_a_port_that_is_taken_is_told_with_the_way_out(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SLACKWATER_HOME", str(tmp_path))
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        door.listen()
        assert main(["serve", "--port", str(door.getsockname()[1])]) == 2
    assert "--port 0" in capsys.readouterr().err


@pytest.mark.skipif(os.name == "nt", reason="signals are sent by other means there")
@pytest.mark.parametrize("sign", ["SIGINT", "SIGTERM"])
def test_the_office_says_where_it_is_and_closes_when_asked(tmp_path, sign):
    env = {**os.environ, "SLACKWATER_HOME": str(tmp_path), "PYTHONPATH": os.pathsep.join(sys.path)}
    command = [sys.executable, "-m", "slackwater.cli", "serve", "--demo", "--port", "0"]
    with subprocess.Popen(command, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as office:
        line = office.stdout.readline()
        address = re.search(r"http://127\.0\.0\.1:\d+/", line)[0]
        with urllib.request.urlopen(address, timeout=60) as page:
            text = page.read().decode()
        assert all(name in text for name in ("Blue corridor", "Harbour line", "Light well"))
        office.send_signal(getattr(signal, sign))
        rest, errors = office.communicate(timeout=60)
    assert (rest, errors, office.returncode) == ("", "", 0)


@pytest.mark.skipif(os.name == "nt", reason="a process is killed by other means there")
def test_a_killed_office_opens_at_its_port_again_while_a_page_of_it_is_still_open(tmp_path):
    env = {**os.environ, "SLACKWATER_HOME": str(tmp_path), "PYTHONPATH": os.pathsep.join(sys.path)}
    command = [sys.executable, "-m", "slackwater.cli", "serve", "--port"]
    page, port = None, "0"
    for _ in range(2):
        with subprocess.Popen([*command, port], env=env, stdout=subprocess.PIPE, text=True) as office:
            port = re.search(r"http://127\.0\.0\.1:(\d+)/", office.stdout.readline())[1]
            if page is None:
                page = http.client.HTTPConnection("127.0.0.1", int(port), timeout=60)
                page.request("GET", "/static/style.css")
                assert page.getresponse().read()
            office.kill()
    page.close()


@pytest.mark.parametrize(
    ("name", "value"), [("SLACKWATER_DATABASE", "mysql://x/y"), ("SLACKWATER_KEY_FILE", "/nowhere/key")]
)
def test_an_office_that_cannot_be_opened_says_why(tmp_path, monkeypatch, capsys, name, value):
    monkeypatch.setenv("SLACKWATER_HOME", str(tmp_path))
    monkeypatch.setenv(name, value)
    assert main(["serve", "--port", "0"]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert "mysql" in line or "key" in line
