"""Work for tests, at the top of a module so that a worker process can find it."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from slackwater.errors import BadInput


def work(given: Mapping[str, Any], report: Callable[[str], None]) -> str:
    """Do what is said: double a number, refuse it, die, or go on until stopped."""
    what = given["what"]
    report(f"began {what}")
    if what == "refuse":
        raise BadInput("This number is odd")
    if what == "die":
        os._exit(3)
    if what == "break":
        raise ZeroDivisionError("secret inside")
    if what == "silent":
        time.sleep(60)
    while what == "on and on":
        time.sleep(0.02)
        report("still going")
    if what == "count":
        with Path(given["file"]).open("a", encoding="utf-8") as file:
            file.write("x")
    return str(2 * given.get("number", 0))
