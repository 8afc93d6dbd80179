"""Jobs for tests: an example job with single facts changed."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from slackwater.job.fields import FROM_FILE
from slackwater.job.model import Job

EXAMPLES = Path(__file__).parents[1] / "examples"


def job_from(example: str = "blue-corridor", /, **changes: Any) -> Job:
    """An example job with facts replaced by dotted path, as written in the file; None takes the fact away.

    >>> job_from("light-well", **{"tank.water_line": "50 cm", "people.2.on_call": False}).tank.water_line_m
    0.5
    """
    raw: Any = tomllib.loads((EXAMPLES / f"{example}.toml").read_text(encoding="utf-8"))
    for path, value in changes.items():
        *above, last = [int(part) if part.isdigit() else part for part in path.split(".")]
        table = raw
        for part in above:
            table = table.setdefault(part, {}) if isinstance(table, dict) else table[part]  # type: ignore[index]
        if value is None:
            del table[last]  # type: ignore[arg-type]
        else:
            table[last] = value  # type: ignore[index]
    return Job.model_validate(raw, context=FROM_FILE)
