"""The file `go`: what it runs, and the one sentence with a cure for each thing that can be wrong on a machine."""

from __future__ import annotations

import os
import runpy
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[1]
posix = pytest.mark.skipif(os.name == "nt", reason="the stand-in for Python is a shell script")
# Run go in a Python that is changed first, as a machine that lacks something would be.
CHANGED = "import runpy, sys; sys.argv = sys.argv[1:]; {change}; runpy.run_path(sys.argv[0], run_name='__main__')"


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """The files that go reads, and nothing set up."""
    for name in (
        "go",
        "pyproject.toml",
        "requirements.lock",
        "requirements-web.lock",
        "requirements-picture.lock",
        "requirements-dev.lock",
    ):
        shutil.copy(TOP / name, tmp_path / name)
    return tmp_path


def run_go(project: Path, *args: str, change: str = "pass") -> subprocess.CompletedProcess[str]:
    """Run go with no package index at all, so that no test depends on a network."""
    env = {name: value for name, value in os.environ.items() if not name.startswith("PIP_")}
    env |= {"PIP_CONFIG_FILE": os.devnull, "PIP_NO_INDEX": "1"}
    command = [sys.executable, "-c", CHANGED.format(change=change), str(project / "go"), *args]
    return subprocess.run(command, capture_output=True, text=True, env=env, cwd=project.parent, timeout=60, check=False)


def set_up_as(project: Path, group: str) -> None:
    """Put a shell script in the place of the environment's Python, which says its arguments and ends with 7."""
    stand_in = project / ".venv" / "bin" / "python"
    stand_in.parent.mkdir(parents=True)
    stand_in.write_text('#!/bin/sh\necho "in $(basename "$PWD"): $*"\nexit 7\n', encoding="utf-8")
    stand_in.chmod(0o755)
    mark = runpy.run_path(str(project / "go"))["wanted"](group)
    (project / ".venv" / ".ready").write_text(mark, encoding="utf-8")


def assert_one_sentence(done: subprocess.CompletedProcess[str], *words: str) -> None:
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    last = done.stderr.strip().splitlines()[-1]
    assert last.endswith(".")
    for word in words:
        assert word in last


@pytest.mark.parametrize("version", [(3, 10, 13, "final", 0), (3, 15, 0, "final", 0)], ids=["too old", "too new"])
def test_a_python_outside_the_range_is_named_with_those_that_do(project, version):
    done = run_go(project, "plan", "x.toml", change=f"sys.version_info = {version}; sys.version = '3.99 (x)'")
    assert_one_sentence(done, "3.11 to 3.14", "this is 3.99", "python3.12 go")
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize("module", ["venv", "ensurepip"])
def test_a_python_without_its_venv_module_is_told_what_to_install(project, module):
    done = run_go(project, "plan", "x.toml", change=f"sys.modules[{module!r}] = None")
    assert_one_sentence(done, "python3-venv")
    assert len(done.stderr.splitlines()) == 1


def test_an_unknown_group_is_said_with_the_known_ones(project):
    assert_one_sentence(run_go(project, "setup", "pictures"), "pictures", "run, web, dev")
    assert not (project / ".venv").exists()


def test_a_folder_that_cannot_be_made_is_said(project):
    refuse = "import venv; venv.EnvBuilder.create = lambda *a: (_ for _ in ()).throw(OSError('read-only'))"
    assert_one_sentence(run_go(project, "setup", change=refuse), ".venv", "read-only", "writable")


def test_a_registry_out_of_reach_is_said_and_the_next_run_begins_again(project):
    done = run_go(project, "plan", "x.toml")
    assert_one_sentence(done, "registry", "run this again")
    assert "once" in done.stderr.splitlines()[0]
    assert (project / ".venv").is_dir()
    assert not (project / ".venv" / ".ready").exists()


@posix
def test_what_is_not_test_or_setup_goes_to_slackwater_where_the_reader_stands(project):
    set_up_as(project, "run")
    done = run_go(project, "plan", "my job.toml", "--units", "us")
    assert done.stdout == f"in {project.parent.name}: -P -m slackwater.cli plan my job.toml --units us\n"
    assert (done.returncode, done.stderr) == (7, "")


@posix
def test_the_tests_run_in_the_projects_folder_with_their_arguments(project):
    set_up_as(project, "dev")
    done = run_go(project, "test", "-k", "budget")
    assert done.stdout.splitlines()[-1] == f"in {project.name}: -m pytest -n 2 --dist worksteal -k budget"
    assert done.returncode == 7


@posix
def test_the_test_environment_is_enough_for_running(project):
    set_up_as(project, "dev")
    assert run_go(project, "verify").returncode == 7


@posix
@posix
@pytest.mark.parametrize("args", [("plan", "x.toml"), ("setup", "web"), ("setup", "picture")])
def test_the_environment_with_pictures_is_enough_for_running_and_for_pages(project, args):
    set_up_as(project, "picture")
    done = run_go(project, *args)
    assert "Setting up" not in done.stderr
    assert done.returncode == (0 if args[0] == "setup" else 7)


def test_the_running_environment_is_kept_and_added_to_for_tests(project):
    set_up_as(project, "run")
    done = run_go(project, "test")
    assert_one_sentence(done, "could not be installed")  # the stand-in refuses pip, as everything else
    assert (project / ".venv" / "bin" / "python").read_text(encoding="utf-8").startswith("#!/bin/sh")
    assert not (project / ".venv" / ".ready").exists()


@posix
@pytest.mark.parametrize("spoil", ["lock", "python", "folder"])
def test_an_environment_that_no_longer_fits_is_made_again(project, spoil):
    set_up_as(project, "run")
    if spoil == "lock":
        with (project / "requirements.lock").open("a", encoding="utf-8") as lock:
            lock.write("\n")
    elif spoil == "python":
        (project / ".venv" / "bin" / "python").unlink()
    else:
        project = project.rename(project.with_name("moved"))
    stop = "import venv; venv.EnvBuilder.create = lambda *a: print('made again') or sys.exit(9)"
    done = run_go(project, "plan", "x.toml", change=stop)
    assert (done.returncode, done.stdout) == (9, "made again\n")
    assert not (project / ".venv" / ".ready").exists()


@posix
@pytest.mark.parametrize("args", [("test",), ("serve", "--port", "0")], ids=lambda args: args[0])
def test_what_opens_pages_bundles_their_scripts_first_and_nothing_else_does(project, args):
    set_up_as(project, "dev")
    lines = run_go(project, *args).stdout.splitlines()
    assert lines[0].endswith("tools/bundle.py")
    assert len(lines) == 2
    assert "bundle" not in run_go(project, "plan", "x.toml").stdout


@posix
def test_the_office_needs_no_test_environment(project):
    set_up_as(project, "web")
    assert run_go(project, "serve").returncode == 7
    assert run_go(project, "plan", "x.toml").returncode == 7
    assert_one_sentence(run_go(project, "test"), "could not be installed")


@posix
@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGTERM])
def test_what_is_interrupted_puts_its_things_away_first(project, sign):
    set_up_as(project, "run")
    stand_in = project / ".venv" / "bin" / "python"
    put_away = "trap 'sleep 1; echo put away; exit 5' INT TERM; echo there; while :; do sleep 0.1; done"
    stand_in.write_text(f"#!/bin/sh\n{put_away}\n", encoding="utf-8")
    command = [sys.executable, str(project / "go"), "worker"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, start_new_session=True) as process:
        assert process.stdout.readline() == "there\n"
        # A terminal interrupts all that runs in it; a request to end comes to the one that was asked.
        (os.killpg if sign is signal.SIGINT else os.kill)(process.pid, sign)
        assert process.stdout.read() == "put away\n"
    assert process.returncode == 5
