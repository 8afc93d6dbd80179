"""The three example jobs in the book, for a look around."""

from __future__ import annotations

from slackwater.actions.examples import example_text
from slackwater.actions.office import Office
from slackwater.book import jobs
from slackwater.errors import NotFound

DEMO = {
    "blue-corridor": "0190a000-0000-7000-8000-00000000d001",
    "harbour-line": "0190a000-0000-7000-8000-00000000d002",
    "light-well": "0190a000-0000-7000-8000-00000000d003",
}
"""Each example with an id of its own, so that it is laid in once."""


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
