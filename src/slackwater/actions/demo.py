"""The three example jobs in the book, for a look around."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from slackwater.actions.office import Office
from slackwater.book import jobs
from slackwater.errors import NotFound

DEMO = {
    "blue-corridor": "0190a000-0000-7000-8000-00000000d001",
    "harbour-line": "0190a000-0000-7000-8000-00000000d002",
    "light-well": "0190a000-0000-7000-8000-00000000d003",
}
"""Each example with an id of its own, so that it is laid in once."""


def example_text(name: str) -> str:
    """The text of an example job."""
    packaged = files("slackwater").joinpath("examples")
    # In a checkout the examples stand at the top; a built package carries them inside.
    folder = packaged if packaged.is_dir() else Path(__file__).parents[3] / "examples"
    return folder.joinpath(f"{name}.toml").read_text(encoding="utf-8")


def lay_in_demo(office: Office) -> int:
    """Put the example jobs into the book, those that are not there yet; how many were put in."""
    added = 0
    for name, job_id in DEMO.items():
        try:
            jobs.get(office.book, job_id)
        except NotFound:
            jobs.create(office.book, text=example_text(name), at=office.clock(), by="", job_id=job_id)
            added += 1
    return added
