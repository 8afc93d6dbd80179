"""Property tests are the same on every run: no luck, no flakes. The processes of a run share the plans they make."""

import os
import shutil
import tempfile

from hypothesis import settings

from tests.plans import PLANS_OF_THIS_RUN

CACHE = "SLACKWATER_CACHE"
"""Layouts that programs under test lay are kept for the run, in the same folder: each is laid once."""

settings.register_profile("same every time", derandomize=True, deadline=None, max_examples=60)
settings.load_profile("same every time")


def pytest_configure(config):
    if not hasattr(config, "workerinput"):
        os.environ[PLANS_OF_THIS_RUN] = tempfile.mkdtemp(prefix="plans-")
        os.environ[CACHE] = os.environ[PLANS_OF_THIS_RUN]


def pytest_unconfigure(config):
    if not hasattr(config, "workerinput"):
        del os.environ[CACHE]
        shutil.rmtree(os.environ.pop(PLANS_OF_THIS_RUN), ignore_errors=True)


def pytest_terminal_summary(terminalreporter):
    """Lines that tests want seen though none failed: how near a comparison came to its bar, or what was not run."""
    stats = terminalreporter.stats
    for report in [*stats.get("passed", []), *stats.get("skipped", [])]:
        for name, value in report.user_properties:
            if name == "shown":
                terminalreporter.write_line(value)
