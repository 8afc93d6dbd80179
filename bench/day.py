"""How soon the solver has a day, how good it is at two seconds, and when it is proved, for the three examples.

Baseline of the same run: a serial schedule, which takes the activities in order and starts each as early as people and
places allow. Run: python -m bench.day [EXAMPLE ...]. Nothing is asserted.
"""

from __future__ import annotations

import sys
import time
import tomllib
from pathlib import Path

from slackwater.day import assess
from slackwater.day.model import DayProblem
from slackwater.day.solve import Effort, Relaxed, solve
from slackwater.job.catalog import load_catalog
from slackwater.job.fields import FROM_FILE
from slackwater.job.model import Job
from slackwater.plan import plan

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"


class _Captured(Exception):
    """Carries the problem out of the pipeline, before it is solved."""


def problem_of(name: str) -> DayProblem:
    """The day's problem of an example, as the pipeline builds it."""
    job = Job.model_validate(tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")), context=FROM_FILE)
    held: list[DayProblem] = []

    def capture(problem: DayProblem, **_: object) -> None:
        held.append(problem)
        raise _Captured

    real, assess.solve = assess.solve, capture  # type: ignore[assignment]
    try:
        plan(job, load_catalog(), version="bench")
    except _Captured:
        pass
    finally:
        assess.solve = real
    return held[0]


def serial_finish(problem: DayProblem) -> int:
    """Finish of the plain serial schedule; clocks, breaks and quiet hours are not looked at, so it is an easier day."""
    placed: dict[str, tuple[int, int, frozenset[str], dict[str, int]]] = {}
    todo = [activity for activity in problem.activities if not activity.optional]
    capacity = {resource.id: resource.capacity for resource in problem.resources}
    while todo:
        ready = [a for a in todo if not set(a.after) & {b.id for b in todo}]
        activity = ready[0]
        best = None
        for mode in activity.modes:
            start = max((placed[name][1] for name in activity.after if name in placed), default=0)
            while True:
                beside = [p for p in placed.values() if p[0] < start + mode.minutes and start < p[1]]
                busy = any(p[2] & set(mode.crew) for p in beside)
                full = any(
                    sum(p[3].get(name, 0) for p in beside) + amount > capacity[name]
                    for name, amount in mode.resources.items()
                )
                if not busy and not full:
                    break
                start = min(p[1] for p in beside)
            if best is None or start + mode.minutes < best[1]:
                best = (start, start + mode.minutes, frozenset(mode.crew), dict(mode.resources))
        assert best is not None
        placed[activity.id] = best
        todo.remove(activity)
    return max(end for _, end, _, _ in placed.values())


def main(names: list[str]) -> None:
    for name in names:
        problem = problem_of(name)
        begun = time.perf_counter()
        baseline = serial_finish(problem)
        serial_s = time.perf_counter() - begun
        news: list[tuple[float, str]] = []
        begun = time.perf_counter()
        answer = solve(
            problem,
            effort=Effort(finish=20, exposure=0.2),
            relaxed=Relaxed(closing=True),
            on_progress=lambda text, start=begun, seen=news: seen.append((time.perf_counter() - start, text)),
        )
        took = time.perf_counter() - begun
        at_two = [text for when, text in news if when <= 2.0]
        print(f"{name}: {len(problem.activities)} activities, {len(problem.people)} people")
        print(f"  baseline, serial schedule without clocks or breaks: {baseline} min in {serial_s:.3f} s")
        print(f"  first day after {news[0][0]:.2f} s (bar 1 s): {news[0][1]}")
        print(f"  at 2 s: {at_two[-1] if at_two else 'none yet'}")
        print(
            f"  after {took:.1f} s (bar 20 s): {answer.status}, {answer.finish_min} min, bound {answer.bound_min} min"
        )


if __name__ == "__main__":
    main(sys.argv[1:] or ["blue-corridor", "harbour-line", "light-well"])
