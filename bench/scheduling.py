"""Solves every public scheduling instance of a folder and compares with the best value that is published.

Run: python -m bench.scheduling [DIR] [--against-baseline]. The exit code is 1 where an instance falls short of the
published value, is not proved, or is claimed to be better than what is proved to be best. Bar: 20 s each.
Baseline: the same instances by PyJobShop with the same seed, workers and limit, if it is installed; median of five
where an instance takes less than two seconds.
"""

from __future__ import annotations

import argparse
import importlib.util
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

from bench.instances import Instance, load_folder
from slackwater.day.check import broken_rules
from slackwater.day.model import DayProblem, Status
from slackwater.day.solve import Effort, solve

OWN = Path(__file__).resolve().parents[1] / "tests" / "day" / "instances"
SEED = 1
BAR_S = 20
THOROUGH = Effort(excess=BAR_S, finish=BAR_S, exposure=0.0, tidy=0.0, seed=SEED)
Answer = tuple[int | None, int | None, bool]
"""Makespan, bound, and whether it is proved."""


def ours(problem: DayProblem) -> Answer:
    answer = solve(problem, effort=THOROUGH)
    assert broken_rules(problem, answer) == () or answer.finish_min is None
    return answer.finish_min, answer.bound_min, answer.status in (Status.PROVED, Status.IMPOSSIBLE)


def theirs(problem: DayProblem) -> Answer:
    """The same by PyJobShop: one worker, the same seed, and the bar as time limit."""
    from pyjobshop import Model

    model = Model()
    capacity = {resource.id: model.add_renewable(resource.capacity) for resource in problem.resources}
    task = {}
    for activity in problem.activities:
        task[activity.id] = model.add_task()
        (mode,) = activity.modes
        used = {name: amount for name, amount in mode.resources.items() if amount}
        model.add_mode(task[activity.id], [capacity[name] for name in used], mode.minutes, list(used.values()))
    for activity in problem.activities:
        for before in activity.after:
            model.add_end_before_start(task[before], task[activity.id])
    for lag in problem.lags:
        model.add_start_before_start(task[lag.a.activity], task[lag.b.activity], lag.minimum)
    for clock in problem.clocks:
        model.add_start_before_start(task[clock.ends.activity], task[clock.starts.activity], -clock.limit_min)
    result = model.solve(time_limit=BAR_S, num_workers=1, display=False, random_seed=SEED)
    status = result.status.name
    proved = status in ("OPTIMAL", "INFEASIBLE")
    if status not in ("OPTIMAL", "FEASIBLE"):
        return None, None, proved
    return int(result.objective), int(result.lower_bound), proved


def timed(solver: Callable[[DayProblem], Answer], problem: DayProblem) -> tuple[Answer, float]:
    """Answer and seconds; the median of five where one takes less than two seconds."""
    took = []
    while not took or (max(took) < 2 and len(took) < 5):
        begun = time.perf_counter()
        answer = solver(problem)
        took.append(time.perf_counter() - begun)
    return answer, statistics.median(took)


def shown(answer: Answer, seconds: float) -> str:
    makespan, bound, proved = answer
    value = "none" if makespan is None else str(makespan)
    gap = 0.0 if makespan is None or bound is None or not makespan else 100 * (makespan - bound) / makespan
    return f"{value:>5} {'proved' if proved else 'open':<7}{seconds:7.3f} s  gap {gap:.1f} %"


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=OWN)
    parser.add_argument("--against-baseline", action="store_true", help="solve by PyJobShop too")
    args = parser.parse_args(arguments)
    baseline = args.against_baseline and importlib.util.find_spec("pyjobshop") is not None
    if args.against_baseline and not baseline:
        print("no baseline: PyJobShop is not installed")
    short = []
    for instance in load_folder(args.folder):
        answer, seconds = timed(ours, instance.problem)
        if falls_short(instance, answer):
            short.append(instance.name)
        published = "none" if instance.best_known is None else instance.best_known
        print(f"{instance.name:<18} published {published!s:>5}  ours {shown(answer, seconds)}", flush=True)
        if baseline:
            print(f"{'':<18} {'baseline':>21} {shown(*timed(theirs, instance.problem))}", flush=True)
    print(f"short of the published value: {', '.join(short) or 'none'}")
    return 1 if short else 0


def falls_short(instance: Instance, answer: Answer) -> bool:
    """Whether the makespan differs from the best known one, which is proved, or is not proved."""
    makespan, _, proved = answer
    return not proved or makespan != instance.best_known


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
