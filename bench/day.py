"""How soon the solver has a day, how good it is at two seconds, and when it is proved, for the three examples; and how
long it takes to say why a day does not fit and what would make it fit.

Baseline of the same run: a serial schedule, which takes the activities in order and starts each as early as people and
places allow. Run: python -m bench.day [EXAMPLE ...]. Nothing is asserted.
"""

from __future__ import annotations

import sys
import time
import tomllib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from slackwater.day import assess
from slackwater.day.model import DayProblem
from slackwater.day.repairs import Change, epiphytes_at_bench, repairs_of
from slackwater.day.solve import Effort, Relaxed, can_fit, solve
from slackwater.day.version import Version, solved
from slackwater.day.version import problem_of as version_problem
from slackwater.day.why import smallest_conflict
from slackwater.job.catalog import load_catalog
from slackwater.job.fields import FROM_FILE
from slackwater.job.model import Job
from slackwater.plan import plan

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"


class _Captured(Exception):
    """Carries the problem out of the pipeline, before it is solved."""


def day_of(name: str) -> tuple[Version, DayProblem]:
    """The day of an example and its problem, as the pipeline builds them."""
    job = Job.model_validate(tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")), context=FROM_FILE)
    held: list[tuple[Version, DayProblem]] = []

    def capture(day: Version, *_: object) -> DayProblem:
        problem = version_problem(day)
        assert not isinstance(problem, str)
        held.append((day, problem))
        raise _Captured

    real, assess.problem_of = assess.problem_of, capture  # type: ignore[assignment]
    try:
        plan(job, load_catalog(), version="bench")
    except _Captured:
        pass
    finally:
        assess.problem_of = real
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


def _explain(day: Version, problem: DayProblem) -> None:
    """Seconds for the conflict and for the repairs, beside those of the two questions asked plainly.

    Baseline: leave out closing and look whether any day is left, and one change solved from nothing.
    """
    schedule = solve(problem, effort=Effort(), relaxed=Relaxed(closing=True))
    if schedule.finish_min is None or (schedule.finish_min <= day.closes_min and not schedule.excess_min):
        print("  fits: nothing to explain")
        return
    why = Effort().why
    quick = Effort(excess=why, finish=why, exposure=0.0, tidy=0.0)
    with ThreadPoolExecutor(max_workers=2) as pool:
        for what, ask in (
            (
                "baseline, is it closing alone",
                lambda: can_fit(problem, seconds=why, seed=1, relaxed=Relaxed(closing=True)),
            ),
            ("smallest conflict", lambda: smallest_conflict(problem, seconds=why, seed=1).rules),
            ("baseline, one change solved from nothing", lambda: _finish(epiphytes_at_bench(day), quick)),
            (
                "all repairs",
                lambda: sum(item.fits for item in repairs_of(day, problem, schedule, quick, pool).what_ifs),
            ),
        ):
            begun, used = time.perf_counter(), time.process_time()
            answer = ask()
            wall, cpu = time.perf_counter() - begun, time.process_time() - used
            print(f"  {what}: {wall:.1f} s, {cpu:.1f} s of processor: {answer}")


def _finish(change: Change | None, effort: Effort) -> int | None:
    found = None if change is None else solved(change.day, effort)
    return None if found is None else found.finish_min


def main(names: list[str]) -> None:
    for name in names:
        day, problem = day_of(name)
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
        _explain(day, problem)


if __name__ == "__main__":
    main(sys.argv[1:] or ["blue-corridor", "harbour-line", "light-well"])
