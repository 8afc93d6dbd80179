"""The pipeline from a job to a plan; nothing here touches a disk, a clock or a network."""

from __future__ import annotations

from slackwater.day.result import DayResult
from slackwater.figure import Assumption, Figure
from slackwater.finding import Finding, Verdict
from slackwater.frozen import Frozen
from slackwater.layout.result import BedResult
from slackwater.supply.result import Supply
from slackwater.tank.result import Loads, TankShape, Volumes
from slackwater.water.result import WaterBudget


class Plan(Frozen):
    """Everything computed from one job. A part is None where facts are missing; the findings then say which."""

    format: int = 1
    version: str
    """Version of the program."""
    job_name: str
    reference: str
    job_hash: str
    """SHA-256 of the job's content: same job, same plan."""
    seed: int
    verdict: Verdict
    findings: tuple[Finding, ...]
    figures: tuple[Figure, ...]
    assumed: tuple[Assumption, ...]
    tank: TankShape | None
    bed: BedResult | None
    volumes: Volumes | None
    loads: Loads | None
    water: WaterBudget | None
    day: DayResult | None
    supply: Supply | None
