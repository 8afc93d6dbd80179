"""The three example jobs show what was written down beforehand, and each finding goes away with one fact changed."""

from __future__ import annotations

import csv
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from slackwater.finding import Severity, Verdict, verdict
from tests.plans import QUICK, UNASKED, plan_of

ASKED = ("day.safe_state_late",)
"""Found only where it is asked what would make the day fit."""
BOOKED = replace(QUICK, why=0.0)

HERE = Path(__file__).parent / "expected"


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def changes(text: str) -> tuple[tuple[str, object], ...]:
    """Read ``path=value; path=value``, values as in TOML; ``null`` takes the fact away."""
    found = []
    for part in text.split(";"):
        path, _, value = part.strip().partition("=")
        found.append((path, None if value == "null" else tomllib.loads(f"v = {value.replace('|', ',')}")["v"]))
    return tuple((path, _Hashable(value) if isinstance(value, list) else value) for path, value in found)


class _Hashable(list):
    """A list that may be part of a cache key: two of the same text are the same."""

    def __hash__(self):
        return hash(repr(self))


def variant(row):
    """The changes that make the job of a row out of its example; most rows stand on the example itself."""
    return changes(row["variant"]) if row["variant"] else ()


def matching(plan, row):
    return [
        finding
        for finding in plan.findings
        if finding.id == row["finding"] and (not row["about"] or finding.about == row["about"])
    ]


@pytest.mark.parametrize(
    "row", rows("findings.csv"), ids=lambda row: f"{row['scenario']}:{row['finding']}:{row['about']}"
)
def test_a_job_shows_what_was_expected_of_it(row):
    found = matching(plan_of(row["scenario"], variant(row)), row)
    assert found, f"{row['finding']} is missing: {row['reason']}"
    if row["value"]:
        value = found[0].margin if row["value"] == "margin" else found[0].values[row["value"]]
        assert float(row["low"]) <= value <= float(row["high"]), row["reason"]


@pytest.mark.parametrize(
    "row", rows("findings.csv"), ids=lambda row: f"{row['scenario']}:{row['finding']}:{row['about']}"
)
def test_one_fact_changed_makes_the_finding_go_away(row):
    effort = QUICK if row["finding"] in ASKED else BOOKED if row["finding"].startswith("day.") else UNASKED
    assert not matching(plan_of(row["scenario"], variant(row) + changes(row["change"]), effort), row)


@pytest.mark.parametrize("row", rows("figures.csv"), ids=lambda row: f"{row['scenario']}:{row['figure']}")
def test_a_figure_lies_where_it_was_expected(row):
    figure = next(figure for figure in plan_of(row["scenario"]).figures if figure.id == row["figure"])
    assert float(row["low"]) <= figure.value <= float(row["high"]), row["reason"]


def test_the_verdict_follows_from_the_findings():
    for example in ("blue-corridor", "harbour-line", "light-well"):
        plan = plan_of(example)
        assert plan.verdict is verdict(plan.findings) is Verdict.DOES_NOT_FIT
        assert any(finding.severity is Severity.MISFIT for finding in plan.findings)


def test_with_the_third_person_booked_and_a_key_holder_who_stays_the_first_job_fits_with_conditions():
    plan = plan_of("blue-corridor", (("people.2.on_call", False),))
    assert plan.verdict is Verdict.FITS_IF
    assert plan.day is not None and plan.day.margin_min is not None and 0 <= plan.day.margin_min <= 30


def test_every_schedule_passed_the_independent_check():
    for example in ("blue-corridor", "harbour-line", "light-well"):
        assert plan_of(example).day.broken_rules == ()


def test_every_figure_can_be_asked_why():
    for figure in plan_of("blue-corridor").figures:
        assert figure.formula and figure.source
        if figure.low is not None and figure.high is not None:
            assert figure.low <= figure.high
