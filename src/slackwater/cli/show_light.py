"""What the terminal shows of the light: by place, the weeks ahead, the plants."""

from __future__ import annotations

from slackwater.actions.light_job import LightShown
from slackwater.cli.show import print_findings, print_rows, wrapped
from slackwater.cli.show_layout import ALL
from slackwater.units import UnitSystem


def print_light(shown: LightShown, units: UnitSystem) -> None:
    """The answer of ``slackwater light``."""
    print(f"{shown.job_name}: light")
    page = shown.page
    if page is not None:
        for line in page["told"]:
            print(wrapped(line, "", ""))
        print()
        print_rows([tuple(page["columns"]), *(tuple(row) for row in page["rows"])])
        print()
        print_rows([tuple(page["week_columns"]), *(tuple(row) for row in page["weeks"])])
        if page["plants"]:
            print()
            print_rows([tuple(page["plant_columns"]), *(tuple(row) for row in page["plants"])])
        if shown.assumed:
            print("\nTaken where the job does not say:")
            for item in shown.assumed:
                print(wrapped(f"{item.field}: {item.value} ({item.source})", "  - ", "    "))
    print_findings(shown.findings, units, ALL)
    if shown.result is not None and shown.folder is not None:
        print(f"\nWritten to {shown.folder}")
