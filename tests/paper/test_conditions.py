"""Conditions in one line each: what they are called, and that nothing is lost behind the line."""

from __future__ import annotations

import pytest

from slackwater.finding import Severity
from slackwater.paper.data import LONGEST_LINE, condition_groups, condition_line
from slackwater.reader import ENGLISH
from slackwater.wording.render import sentences
from tests.jobs import job_from
from tests.plans import HARDLY, UNASKED, plan_of

EXAMPLES = (("blue-corridor", HARDLY), ("harbour-line", UNASKED), ("light-well", HARDLY))
LINES = {key.removeprefix("condition."): text for key, text in sentences().items() if key.startswith("condition.")}


def test_each_line_belongs_to_a_finding_and_is_short():
    assert len(LINES) > 100
    assert [name for name in LINES if f"finding.{name}" not in sentences()] == []
    assert [text for text in LINES.values() if len(text) > LONGEST_LINE or text.endswith(".")] == []


@pytest.mark.parametrize(("example", "effort"), EXAMPLES, ids=[name for name, _ in EXAMPLES])
def test_every_condition_of_an_example_has_its_line_and_stands_behind_it_once(example, effort):
    plan = plan_of(example, effort=effort)
    told = [finding.id for finding in plan.findings if finding.severity is Severity.CONDITION]
    assert [name for name in told if name not in LINES] == []
    for group in condition_groups(plan, job_from(example), ENGLISH):
        lines = [line for room in group["rooms"] for line in room["lines"]]
        behind = [item["text"] for line in lines for item in line["items"]]
        assert sorted(behind) == sorted(item["text"] for item in group["items"])
        for room in group["rooms"]:
            assert len({line["line"] for line in room["lines"]}) == len(room["lines"])


def test_a_condition_without_a_line_begins_its_sentence():
    plan = plan_of("blue-corridor", effort=HARDLY)
    late = next(finding for finding in plan.findings if finding.id == "day.ends_late")
    line = condition_line(late, ENGLISH)
    assert line.startswith("With the 2 people booked") and len(line) <= LONGEST_LINE
