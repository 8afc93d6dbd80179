"""Write a job file to start from."""

from __future__ import annotations

from pathlib import Path

from slackwater.actions.files import write_new_text
from slackwater.job.starter import starter_text


def new_job(path: Path) -> None:
    """Write a commented starter file; an existing file is never touched."""
    write_new_text(path, starter_text(path.stem))
