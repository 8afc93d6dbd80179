"""Seconds for 10,000 simulated days of the three examples, and what they say.

Baseline of the same run: the same policy replayed in plain Python, day by day, for 200 days, scaled to 10,000; it draws
nothing and looks for no critical path, so it has less to do. Run: python -m bench.risk [EXAMPLE ...]. Nothing is asserted.
"""

from __future__ import annotations

import sys
import time
import tomllib
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from slackwater.day import assess
from slackwater.day.activities import Minutes
from slackwater.day.model import DayProblem, Schedule
from slackwater.day.policy import Policy, policy_of
from slackwater.day.replay import Floats, replay
from slackwater.day.risk import choose_robust, draw_minutes, simulate
from slackwater.day.solve import Effort, Relaxed, solve
from slackwater.job.catalog import Mishap, load_catalog
from slackwater.job.fields import FROM_FILE
from slackwater.job.model import Job
from slackwater.living.weeks import Thoroughness
from slackwater.plan import plan

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
DAYS = 10_000
LOOPED = 200


class _Captured(Exception):
    """Carries the solved day out of the pipeline."""


def day_of(name: str) -> tuple[DayProblem, Schedule, Mapping[str, Minutes]]:
    """The day's problem of an example, its schedule, and the minutes of its activities."""
    job = Job.model_validate(tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")), context=FROM_FILE)
    held: list[tuple[DayProblem, Schedule, Mapping[str, Minutes]]] = []

    def capture(day: assess._Day, problem: DayProblem, schedule: Schedule, *_: object) -> None:
        held.append((problem, schedule, day.minutes))
        raise _Captured

    real, assess._assessed = assess._assessed, capture  # type: ignore[assignment]
    try:
        rough = Thoroughness(members=60, calendars=30, step_d=1 / 4)
        plan(job, load_catalog(), version="bench", thoroughness=rough)
    except _Captured:
        pass
    finally:
        assess._assessed = real
    return held[0]


def looped(policy: Policy, minutes: Floats) -> list[float]:
    """Finish of each day, one event of one day at a time."""
    finishes = []
    for row in minutes.tolist():
        at = [0.0] * len(policy.order)
        for event in policy.order:
            element, side = divmod(event, 2)
            if side:
                taken = row[element] if element < len(row) else policy.planned_min[element]
                time_min = at[event - 1] + taken
            else:
                time_min = policy.not_before[element]
            for source, lag in policy.arcs[event]:
                time_min = max(time_min, at[source] + lag)
            if not side:
                for left, right in policy.shut_starts[element]:
                    if left < time_min < right:
                        time_min = right
            at[event] = time_min
        finishes.append(max(at[1 : 2 * len(row) : 2]))
    return finishes


def robust(problem: DayProblem, first: Schedule, spans: Mapping[str, Minutes], mishaps: tuple[Mishap, ...]) -> None:
    """What it costs and brings to choose among plans that end no later, found from other seeds."""
    begun = time.perf_counter()
    candidates = [first]
    for seed in range(2, 5):
        effort = Effort(excess=0.1, finish=0.1, exposure=0.2, tidy=0.02, seed=seed)
        found = solve(problem, effort=effort, relaxed=Relaxed(closing=True), near=first)
        if found.finish_min == first.finish_min and found.excess_min == first.excess_min:
            candidates.append(found)
    solved_s = time.perf_counter() - begun
    begun = time.perf_counter()
    choice = choose_robust(problem, candidates, spans, mishaps, rank_seed=11, report_seed=12)
    alone = choose_robust(problem, candidates[:1], spans, mishaps, rank_seed=11, report_seed=12)
    print(
        f"  robust choice among {len(candidates)}: solving {solved_s:.2f} s, ranking {time.perf_counter() - begun:.2f} s;"
        f" everything holds {alone.reported.share:.4f} with the first, {choice.reported.share:.4f} with the chosen one"
        f" (looked {choice.optimism:+.4f} better on the days it was chosen by)"
    )


def main(names: list[str]) -> None:
    catalog = load_catalog()
    mishaps = tuple(catalog.mishaps.values())
    hold_points = [row.id for row in catalog.activities.values() if row.hold_point]
    for name in names:
        problem, schedule, spans = day_of(name)
        whole = []
        for seed in range(5):
            begun = time.perf_counter()
            risk = simulate(
                problem, schedule, spans, mishaps, np.random.default_rng(seed), days=DAYS, hold_points=hold_points
            )
            whole.append(time.perf_counter() - begun)
        begun = time.perf_counter()
        minutes = draw_minutes(problem, schedule, spans, mishaps, np.random.default_rng(0), days=DAYS)
        drawn_s = time.perf_counter() - begun
        policy = policy_of(problem, schedule)
        begun = time.perf_counter()
        finish = replay(policy, minutes).finish
        replay_s = time.perf_counter() - begun
        begun = time.perf_counter()
        slow = looped(policy, minutes[:LOOPED])
        loop_s = (time.perf_counter() - begun) * DAYS / LOOPED
        apart = max(abs(a - b) for a, b in zip(slow, finish[:LOOPED].tolist(), strict=True))
        print(
            f"{name}: {len(schedule.placed)} activities, {len(policy.order)} events, {sum(map(len, policy.arcs))} arcs"
        )
        print(f"  everything, {DAYS} days: best of 5 {min(whole):.3f} s, worst {max(whole):.3f} s (bar 0.1 s)")
        print(f"  of it drawing {drawn_s:.3f} s, one replay {replay_s:.4f} s")
        print(f"  baseline, replay in plain Python: {loop_s:.2f} s (finish differs by {apart:.1e} min at most)")
        for title, outcome in (("as planned", risk.as_planned), ("with gates", risk.with_gates)):
            print(
                f"  {title}: everything holds {outcome.everything_holds.share:.3f}"
                f" ± {outcome.everything_holds.standard_error:.3f}, by closing {outcome.done_by_closing.share:.3f},"
                f" finish {outcome.finish_p50_min:.0f} / {outcome.finish_p80_min:.0f} / {outcome.finish_p95_min:.0f} min"
                f" (planned {schedule.finish_min}, closing {problem.closes_min})"
            )
            for clock in outcome.clocks:
                print(f"    {clock.clock}: kept {clock.kept.share:.3f}, excess p95 {clock.excess_p95_min:.0f} min")
        print(
            "  gates: "
            + ", ".join(
                f"{gate.opener} after {gate.after} ({gate.clock}{', adds a wait' if gate.adds_a_wait else ''})"
                for gate in risk.gates
            )
        )
        robust(problem, schedule, spans, mishaps)
        print(f"  latest starts: {dict(risk.latest_start_min)}")
        critical = sorted(risk.critical_shares.items(), key=lambda item: -item[1])
        print("  critical: " + ", ".join(f"{activity} {share:.2f}" for activity, share in critical if share > 0.05))


if __name__ == "__main__":
    main(sys.argv[1:] or ["blue-corridor", "harbour-line", "light-well"])
