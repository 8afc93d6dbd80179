"""The API against its own description: hundreds of made-up calls, sound and unsound, to the real office."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from slackwater.actions.demo import lay_in_demo
from slackwater.actions.settings import read_settings
from slackwater.web.app import create_app
from tests.web.browser import open_door
from tests.web.conftest import NOW

pytest.importorskip("schemathesis", reason="schemathesis comes with ./go test")

# That an event's time is local, without an offset, is nothing that a description of this kind can say.
NOT_ASKED = "positive_data_acceptance"
# Begins long work with each call: minutes of it for nothing that the other calls do not show.
TOO_MUCH_WORK = r"versions/\{number\}/plan$|restart$|layout/(settle|proposals)$"


def test_no_call_breaks_the_office_or_its_description(tmp_path):
    app = create_app(read_settings({"SLACKWATER_HOME": str(tmp_path / "home")}), clock=lambda: NOW)
    with open_door(app) as address:
        lay_in_demo(app.state.office)
        command = [
            str(Path(sys.executable).with_name("schemathesis")), "run", f"{address}/api/openapi.json",
            "--max-examples", "5", "--seed", "1", "--header", f"Origin: {address}", "--exclude-checks", NOT_ASKED,
            "--exclude-path-regex", TOO_MUCH_WORK, "--generation-deterministic", "--no-color",
        ]  # fmt: skip
        env = {**os.environ, "HYPOTHESIS_STORAGE_DIRECTORY": str(tmp_path / "examples")}
        done = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, env=env, timeout=500, check=False)
    failures = done.stdout.partition(" FAILURES ")[2].partition(" WARNINGS ")[0]
    assert done.returncode == 0, failures or done.stdout + done.stderr
    asked = [path for path, told in app.openapi()["paths"].items() for _ in told if not re.search(TOO_MUCH_WORK, path)]
    assert f"Tested: {len(asked)}" in done.stdout
