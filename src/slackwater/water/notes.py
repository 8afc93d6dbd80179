"""What the water's parts have to say while the budget is made: findings, figures, defaults, missing facts."""

from __future__ import annotations

from dataclasses import dataclass, field

from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Remedy, Severity


@dataclass
class Notes:
    """Findings, figures, defaults and missing facts as they turn up."""

    findings: list[Finding] = field(default_factory=list)
    figures: list[Figure] = field(default_factory=list)
    assumed: list[Assumption] = field(default_factory=list)
    lacks: list[str] = field(default_factory=list)

    def say(self, name: str, severity: Severity, *, about: str = "", **values: float | str) -> None:
        """A finding of this room without a margin."""
        self.findings.append(Finding(id=f"water.{name}", severity=severity, about=about, values=values))

    def miss(
        self,
        name: str,
        severity: Severity,
        *,
        margin: float,
        unit: str,
        remedies: tuple[Remedy, ...] = (),
        about: str = "",
        **values: float | str,
    ) -> None:
        """A finding that tells how far off something is, and what would cure it."""
        self.findings.append(
            Finding(
                id=f"water.{name}",
                severity=severity,
                about=about,
                values=values,
                margin=margin,
                margin_unit=unit,
                remedies=remedies,
            )
        )

    def figure(
        self,
        name: str,
        value: float,
        unit: str,
        formula: str,
        source: str,
        *,
        band: tuple[float, float] | None = None,
        **inputs: float | str,
    ) -> None:
        """A figure of this room; `band` are its 5 and 95 % ends."""
        low, high = band or (None, None)
        self.figures.append(
            Figure(
                id=f"water.{name}",
                value=value,
                unit=unit,
                low=low,
                high=high,
                formula=formula,
                source=source,
                inputs=inputs,
            )
        )

    def assume(self, field_name: str, value: str, source: str) -> None:
        """A default, said once."""
        item = Assumption(field=field_name, value=value, source=source)
        if item not in self.assumed:
            self.assumed.append(item)
