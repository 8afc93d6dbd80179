"""The measure of the office runs and prints; what it prints is not held to anything here."""

from __future__ import annotations

import subprocess
import sys


def test_a_small_run_visits_every_kind_of_page_and_prints_its_curve(computed):
    words = ["--jobs", "2", "20", "--users", "5", "--visits", "3", "--pause", "0", "0.1", "--computed", str(computed)]
    done = subprocess.run(
        [sys.executable, "-m", "bench.office", *words], capture_output=True, text=True, timeout=300, check=False
    )
    assert done.returncode == 0, done.stderr
    curve = done.stdout.rpartition("largest survey page\n")[2]
    assert [line.split()[:2] for line in curve.splitlines()] == [["2", "400"], ["20", "4,000"], ["bar", "100"]]
    assert "looked at by nobody: none" in done.stdout
