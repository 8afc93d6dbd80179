"""What may run at the same time on one circuit."""

from __future__ import annotations

from slackwater.figure import Figure
from slackwater.finding import Finding, Severity
from slackwater.job.catalog import Catalog
from slackwater.job.model import Circuit, Job

DEFAULT_VOLTAGE_V = 230.0


def ours_w(circuit: Circuit) -> float:
    """What a circuit has for us [W]: of one that others use too no more than half; common practice, no source."""
    allowed = circuit.rating_a * (circuit.voltage_v or DEFAULT_VOLTAGE_V)
    return allowed / 2 if circuit.shared_with else allowed


def device_watts(job: Job, catalog: Catalog) -> dict[str, float]:
    """Everything that draws power on the day, by name [W]."""
    watts: dict[str, float] = {
        "wet-vac": catalog.kit["wet_vac"].power_w,
        "transfer pump": catalog.kit["transfer_pump"].power_w,
    }
    watts["tank heaters"] = sum(heater.power_w * heater.count for heater in job.heaters or ())
    watts["lamps"] = sum(lamp.power_w * lamp.count for lamp in (job.light.lamps if job.light else ()))
    watts["filters"] = sum(item.power_w or 0.0 for item in job.filters or ())
    watts["barrel heater"] = job.preparation.heater_w or 0.0
    if job.preparation.ro is not None and job.preparation.ro.place != "workshop":
        watts["booster pump"] = job.preparation.ro.booster_w or 0.0
    return {name: value for name, value in watts.items() if value > 0}


def assess_power(job: Job, catalog: Catalog) -> tuple[tuple[Figure, ...], tuple[Finding, ...]]:
    """All devices on the weakest circuit, and residual-current protection.

    With one circuit everything hangs on it; with several, the check is that each can carry the wet-vac beside the
    heaters, because nobody keeps track of sockets with wet hands.
    """
    figures, findings = [], []
    watts = device_watts(job, catalog)
    total = sum(watts.values())
    for circuit in job.site.circuits or ():
        allowed = circuit.rating_a * (circuit.voltage_v or DEFAULT_VOLTAGE_V)
        figures.append(
            Figure(
                id=f"tank.circuit_w.{circuit.name}",
                value=total,
                unit="W",
                formula="all devices at once",
                source="device powers of the job file and the kit table",
                inputs={**watts, "allowed_w": allowed},
            )
        )
        ours = ours_w(circuit)
        if total > ours:
            findings.append(
                Finding(
                    id="tank.circuit_overload",
                    severity=Severity.CONDITION,
                    about=circuit.name,
                    values={
                        "circuit": circuit.name,
                        "total_w": total,
                        "ours_w": ours,
                        "rating_a": circuit.rating_a,
                        "devices": ", ".join(
                            f"{name} {value:.0f} W" for name, value in sorted(watts.items(), key=lambda item: -item[1])
                        ),
                    },
                    margin=ours - total,
                    margin_unit="W",
                )
            )
        if circuit.rcd_tested is not True:
            findings.append(
                Finding(
                    id="tank.rcd_untested",
                    severity=Severity.CONDITION,
                    about=circuit.name,
                    values={"circuit": circuit.name},
                )
            )
    return tuple(figures), tuple(findings)
