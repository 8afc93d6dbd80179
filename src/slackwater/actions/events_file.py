"""Reading a file of events."""

from __future__ import annotations

from pathlib import Path

from slackwater.actions.files import read_text
from slackwater.errors import BadInput, NotFound
from slackwater.job.event import Event, read_events


def read_events_file(path: Path | None) -> tuple[Event, ...]:
    """What a file says has happened; nothing where none is named.

    Raises
    ------
    NotFound, BadInput
        If it is not there, is a folder, or cannot be understood.
    """
    if path is None:
        return ()
    if path.is_dir():
        raise BadInput(f"{path} is a folder; name the file of events in it")
    if not path.exists():
        raise NotFound(f"{path}: there is no such file of events; leave --events out if nothing has happened yet")
    return read_events(read_text(path), file_name=str(path))
