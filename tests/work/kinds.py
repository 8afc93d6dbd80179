"""Work for tests, at the top of a module so that a worker process can find it."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from slackwater.errors import BadInput
from slackwater.work import Kind, bench


def work(given: Mapping[str, Any], report: Callable[[str], None]) -> str:
    """Do what is said: double a number, refuse it, die, or go on until stopped."""
    what = given["what"]
    report(f"began {what}")
    if what == "refuse":
        raise BadInput("This number is odd")
    if what == "die":
        os._exit(3)
    if what == "die telling":
        # As one does that is killed while it writes: the lock of what it tells through is never given back.
        bench._news._wlock.acquire()
        os._exit(3)
    if what == "break":
        raise ZeroDivisionError("secret inside")
    if what == "silent":
        time.sleep(60)
    while what == "on and on":
        time.sleep(0.02)
        report("still going")
    if what == "pids":
        # Tells each time who has begun it, and goes on for long the first time only.
        file = Path(given["file"])
        with file.open("a", encoding="utf-8") as pids:
            pids.write(f"{os.getppid()} {os.getpid()}\n")
        if len(file.read_text(encoding="utf-8").splitlines()) == 1:
            time.sleep(60)
    if what == "compute":
        until = time.process_time() + given["cpu_s"]
        while time.process_time() < until:
            pass
    if what == "wait":
        time.sleep(given["wait_s"])
    if what == "count":
        with Path(given["file"]).open("a", encoding="utf-8") as file:
            file.write("x")
    return str(2 * given.get("number", 0))


def given(task):
    """What a test's task is given."""
    if task.arguments.get("what") == "unreadable":
        raise BadInput("There is no such number")
    return task.arguments


def keep(_task, result):
    """What becomes of a test's result."""
    if result == "26":
        raise BadInput("Nobody keeps thirteen doubled")
    return f"kept {result}"


KIND = Kind(run=work, given=given, kept=keep)
