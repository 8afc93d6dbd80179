"""Seconds for a re-plan of the three examples with a catch that takes 40 minutes longer, and for all moves.

Baseline of the same run: the same day with the same facts solved anew from scratch, with the effort of a first plan.
Run: python -m bench.replan [EXAMPLE ...]. Nothing is asserted.
"""

from __future__ import annotations

import sys
import time
import tomllib
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TypeVar

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
T = TypeVar("T")


def timed(work: Callable[[], T]) -> tuple[T, str]:
    """What it gives, and its seconds by the wall and of processors."""
    wall, processors = time.perf_counter(), time.process_time()
    found = work()
    return found, f"{time.perf_counter() - wall:5.2f} {time.process_time() - processors:5.2f}"


def main(names: list[str]) -> None:
    """Print a line for each example."""
    print("seconds: by the wall, then of processors (more where other work holds the machine back)")
    print("example         re-plan                  with all moves        from scratch             changed starts")
    for name in names or ["blue-corridor", "harbour-line", "light-well"]:
        text = (EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")
        booked, _ = day_as_booked(Job.model_validate(tomllib.loads(text), context=FROM_FILE), load_catalog())
        if booked is None:
            continue
        catch = next(item for item in booked.schedule.placed if item.activity == "E6")
        work = Work(start_min=catch.start, remaining_until_min=catch.end + SLIP_MIN)
        facts = Facts(now_min=catch.end, work={"E6": work})
        rest, again = timed(partial(rest_of_day, booked, facts))
        found, moves = timed(partial(replanned, booked, facts))
        scratch, anew = timed(partial(solve, rest.standing.problem, relaxed=Relaxed(closing=True)))
        moved = [len(shifted(booked.schedule, day, now_min=facts.now_min)) for day in (rest.schedule, scratch)]
        print(
            f"{name:14}  {again}  {rest.schedule.finish_min:4} min   {moves} ({len(found.moves):2})"
            f"   {anew}  {scratch.finish_min:4} min   {moved[0]:2}, {moved[1]:2}"
        )


if __name__ == "__main__":
    main(sys.argv[1:])
