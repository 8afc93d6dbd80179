"""Seconds for a re-plan of the three examples with a catch that takes 40 minutes longer, and for all moves.

Baseline of the same run: the same day with the same facts solved anew from scratch, with the effort of a first plan.
Run: python -m bench.replan [EXAMPLE ...]. Nothing is asserted.
"""

from __future__ import annotations

import sys
import time
import tomllib
from pathlib import Path

from slackwater.day.moves import replanned, rest_of_day
from slackwater.day.progress import Facts, Work
from slackwater.day.replan import shifted
from slackwater.day.solve import Relaxed, solve
from slackwater.job.catalog import load_catalog
from slackwater.job.fields import FROM_FILE
from slackwater.job.model import Job
from slackwater.plan import day_as_booked

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
SLIP_MIN = 40


def main(names: list[str]) -> None:
    """Print a line for each example."""
    print("example         re-plan          all moves   from scratch     changed starts: re-plan, scratch")
    for name in names or ["blue-corridor", "harbour-line", "light-well"]:
        text = (EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")
        booked, _ = day_as_booked(Job.model_validate(tomllib.loads(text), context=FROM_FILE), load_catalog())
        if booked is None:
            continue
        catch = next(item for item in booked.schedule.placed if item.activity == "E6")
        work = Work(start_min=catch.start, remaining_until_min=catch.end + SLIP_MIN)
        facts = Facts(now_min=catch.end, work={"E6": work})
        began = time.perf_counter()
        rest = rest_of_day(booked, facts)
        again_s = time.perf_counter() - began
        began = time.perf_counter()
        found = replanned(booked, facts)
        moves_s = time.perf_counter() - began - again_s
        began = time.perf_counter()
        scratch = solve(rest.standing.problem, relaxed=Relaxed(closing=True))
        scratch_s = time.perf_counter() - began
        moved = [len(shifted(booked.schedule, day, now_min=facts.now_min)) for day in (rest.schedule, scratch)]
        print(
            f"{name:14}  {again_s:5.2f} s {rest.schedule.finish_min:5} min  {moves_s:5.2f} s ({len(found.moves)})"
            f"  {scratch_s:5.2f} s {scratch.finish_min:5} min  {moved[0]}, {moved[1]}"
        )


if __name__ == "__main__":
    main(sys.argv[1:])
