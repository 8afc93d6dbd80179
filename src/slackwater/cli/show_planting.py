"""What the terminal shows of a planting: a bucket for each zone, in the order of planting."""

from __future__ import annotations

from slackwater.actions.planting_job import PlantingShown
from slackwater.cli.show import print_findings, print_rows, wrapped
from slackwater.finding import Severity
from slackwater.units import UnitSystem

ALL = (Severity.REFUSE, Severity.MISFIT, Severity.MISSING, Severity.CONDITION, Severity.NOTE)


def print_planting(shown: PlantingShown, units: UnitSystem) -> None:
    """The answer of ``slackwater planting``."""
    print(f"{shown.plan.job_name}: planting")
    if shown.page is not None:
        print(wrapped(shown.page["told"], "", ""))
        for bucket in shown.page["buckets"]:
            print(f"\n{bucket['zone']}. {bucket['place']}, {bucket['portions']}")
            print_rows([tuple(shown.page["columns"]), *(tuple(row) for row in bucket["rows"])])
    print_findings(shown.plan.findings, units, ALL)
    if shown.file is not None:
        print(f"\nWritten to {shown.file}")
