"""What a finding says to whoever writes the job file by hand: the words of the survey, each fact's key behind them."""

from __future__ import annotations

from slackwater.finding import Finding
from slackwater.paper.fact_names import finding_told, with_keys
from slackwater.units import UnitSystem


def finding_line(finding: Finding, units: UnitSystem) -> str:
    """What a finding says."""
    return with_keys(finding_told(finding, units))
