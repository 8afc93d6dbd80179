"""What stands in docstrings runs, and the event files of the examples are events of their jobs."""

from __future__ import annotations

import doctest
import importlib

import pytest

from slackwater.job.event import read_events, write_events
from tests.jobs import EXAMPLES, job_from


@pytest.mark.parametrize(
    "module",
    [
        "slackwater.units",
        "slackwater.job.positions",
        "slackwater.job.text",
        "slackwater.paper.hour_list",
        "slackwater.paper.figures",
        "slackwater.paper.day_figures",
    ],
)
def test_docstring_examples_give_what_they_say(module):
    result = doctest.testmod(importlib.import_module(module))
    assert result.attempted > 0 and result.failed == 0


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.events.jsonl")), ids=lambda path: path.name)
def test_event_files_belong_to_their_job_and_come_back(path):
    events = read_events(path.read_text(encoding="utf-8"), file_name=path.name)
    job = job_from(path.name.removesuffix(".events.jsonl"))
    assert events and {event.job for event in events} == {job.reference}
    assert len({event.id for event in events}) == len(events)
    assert read_events(write_events(events), file_name="again") == events
    seen = {}
    for event in events:
        assert event.seq == seen.get(event.device, 0) + 1
        seen[event.device] = event.seq
