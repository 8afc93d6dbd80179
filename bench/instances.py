"""Reads public scheduling instances into a day's problem: PSPLIB single-mode files (.sm) and RCPSP/max files (.sch).

An instance has no people, only renewable resources; its work is a mode without crew. A time lag between two starts is a
minimum wait where it is positive and a hard clock the other way round where it is negative. The makespan is the start
of the last, empty activity, and nothing ends after it.

References
----------
Kolisch and Sprecher (1996), PSPLIB - a project scheduling problem library, European Journal of Operational Research 96.
Schwindt (1998), Generation of resource-constrained project scheduling problems subject to temporal constraints.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from slackwater.day.model import Activity, Clock, DayProblem, Event, Lag, Mode, Resource

BEST_KNOWN = "best_known.csv"


@dataclass(frozen=True)
class Instance:
    """A problem with the best makespan that is published; None where it is proved to have no solution."""

    name: str
    problem: DayProblem
    best_known: int | None


def load_folder(folder: Path) -> list[Instance]:
    """The instances that a folder's best_known.csv names, in its order.

    Raises
    ------
    FileNotFoundError
        If the list or a file it names is not there.
    """
    with (folder / BEST_KNOWN).open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    return [
        Instance(
            name=row["file"],
            problem=read(folder / row["file"]),
            best_known=None if row["best_known"] == "infeasible" else int(row["best_known"]),
        )
        for row in rows
    ]


def read(path: Path) -> DayProblem:
    """One instance, by the end of its file's name."""
    text = path.read_text(encoding="utf-8")
    return from_sm(text) if path.suffix == ".sm" else from_sch(text)


def from_sm(text: str) -> DayProblem:
    """A PSPLIB single-mode file: successors of each job, then its duration and demands, then capacities."""
    sections = {name: _rows(text, name) for name in ("PRECEDENCE RELATIONS", "REQUESTS/DURATIONS")}
    successors = {int(row[0]): [int(word) for word in row[3:]] for row in sections["PRECEDENCE RELATIONS"]}
    work = {int(row[0]): [int(word) for word in row[2:]] for row in sections["REQUESTS/DURATIONS"]}
    capacities = [int(word) for word in _rows(text, "RESOURCEAVAILABILITIES")[0]]
    before: dict[int, list[int]] = {job: [] for job in work}
    for job, after in successors.items():
        for other in after:
            before[other].append(job)
    activities = [
        _activity(job, duration, demands, tuple(f"j{other}" for other in before[job]))
        for job, (duration, *demands) in work.items()
    ]
    return _problem(activities, capacities, sum(row[0] for row in work.values()))


def _rows(text: str, section: str) -> list[list[str]]:
    """Lines of numbers between a section's heading and the next line of stars."""
    body = text.split(section, 1)[1].split("****", 1)[0]
    return [line.split() for line in body.splitlines() if re.match(r"\s*\d", line)]


def from_sch(text: str) -> DayProblem:
    """An RCPSP/max file: arcs with lags from start to start, then durations and demands, then capacities."""
    lines = [line.split() for line in text.splitlines() if line.strip()]
    jobs = int(lines[0][0]) + 2
    arcs, work, capacities = lines[1 : 1 + jobs], lines[1 + jobs : 1 + 2 * jobs], lines[1 + 2 * jobs]
    activities = []
    longest: dict[int, int] = {}
    for row in work:
        job, duration = int(row[0]), int(row[2])
        activities.append(_activity(job, duration, [int(word) for word in row[3:]], ()))
        longest[job] = duration
    lags, clocks = [], []
    for row in arcs:
        job, count = int(row[0]), int(row[2])
        for other, word in zip(row[3 : 3 + count], row[3 + count :], strict=True):
            lag = int(word.strip("[]"))
            a, b = Event(activity=f"j{job}", side="start"), Event(activity=f"j{other}", side="start")
            if lag >= 0:
                lags.append(Lag(a=a, b=b, minimum=lag))
                longest[job] = max(longest[job], lag)
            else:
                clocks.append(Clock(id=f"{job} to {other}", starts=b, ends=a, limit_min=-lag, hard=True))
    return _problem(activities, [int(word) for word in capacities], sum(longest.values()), lags, clocks)


def _activity(job: int, duration: int, demands: Sequence[int], after: tuple[str, ...]) -> Activity:
    amounts = {f"r{number}": amount for number, amount in enumerate(demands) if amount}
    return Activity(id=f"j{job}", modes=(Mode(id="m", minutes=duration, crew=(), resources=amounts),), after=after)


def _problem(
    activities: Sequence[Activity],
    capacities: Sequence[int],
    horizon: int,
    lags: Sequence[Lag] = (),
    clocks: Sequence[Clock] = (),
) -> DayProblem:
    """Within the sum of the longest steps, if anything can be done at all: a schedule without idle time ends by then."""
    return DayProblem(
        activities=tuple(activities),
        people=(),
        resources=tuple(Resource(id=f"r{number}", capacity=amount) for number, amount in enumerate(capacities)),
        lags=tuple(lags),
        clocks=tuple(clocks),
        closes_min=max(1, horizon),
        horizon_min=max(1, horizon),
    )
