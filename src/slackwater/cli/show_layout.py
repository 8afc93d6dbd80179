"""What the terminal shows of layouts: the pieces in the order of placing, the litres, what speaks for each."""

from __future__ import annotations

from slackwater.actions.layout_job import LayoutsShown
from slackwater.cli.show import print_findings, print_rows, wrapped
from slackwater.finding import Severity
from slackwater.units import UnitSystem

ALL = (Severity.REFUSE, Severity.MISFIT, Severity.MISSING, Severity.CONDITION, Severity.NOTE)


def print_layouts(shown: LayoutsShown, units: UnitSystem) -> None:
    """The answer of ``slackwater layout``."""
    print(f"{shown.job_name}: layout" if len(shown.layouts) < 2 else f"{shown.job_name}: {len(shown.layouts)} layouts")
    for one in shown.layouts:
        page = one.page
        if page is not None:
            print(f"\n{page['heading']}")
            print_rows([tuple(page["columns"]), *(tuple(row) for row in page["rows"])])
            print()
            print_rows([tuple(row) for row in page["litres"]])
            for part in page["parts"]:
                print(wrapped(part, "  - ", "    "))
        print_findings(one.findings, units, ALL)
        if one.folder is not None:
            print(f"\nWritten to {one.folder}")
    if not shown.layouts:
        print_findings(shown.findings, units, ALL)
