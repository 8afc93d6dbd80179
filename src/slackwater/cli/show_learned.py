"""What the terminal shows of what was learned: a table for each part, and the jobs with what was passed over."""

from __future__ import annotations

import textwrap

from slackwater.actions.learned import Learned, Line, lines_of
from slackwater.wording.render import say

WIDTH = 96
NAME = 44


def print_learned(found: Learned, *, with_jobs: bool) -> None:
    """The answer of ``learned``; made to be printed as well as read."""
    count = "none" if not found.jobs else "one" if found.jobs == 1 else "some"
    _print(say(f"learned.jobs_{count}", {"jobs": str(found.jobs), "most": str(found.most)}))
    for part, lines in lines_of(found):
        print()
        print(say(f"learned.{part}", {}))
        if not lines:
            _print(say(f"learned.{part}_none", {}), "  ")
            continue
        _print_head()
        for line in lines:
            _print_line(line)
    if with_jobs:
        print()
        print(say("learned.days", {}))
        for day in found.days:
            _print(f"{day.on}  {day.name}: {day.fault or day.learned}", "  ", "    ")
            if day.out:
                _print(say("learned.left_out", {"reason": day.out}), "    ", "      ")
            for text in day.skipped:
                _print(text, "    ", "      ")


def _print(text: str, first: str = "", rest: str | None = None) -> None:
    print(textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=first if rest is None else rest))


def _print_head() -> None:
    named = (say(f"learned.col.{name}", {}) for name in ("what", "jobs", "planned", "ratio"))
    what, jobs, planned, ratio = named
    print(f"  {what:<{NAME}} {jobs:>4}  {planned:>17}  {ratio}")


def _print_line(line: Line) -> None:
    names = textwrap.wrap(line.name, NAME) or [line.key]
    print(f"  {names[0]:<{NAME}} {line.jobs:>4}  {line.planned:>17}  {line.ratio} ({line.band})")
    for more in names[1:]:
        print(f"  {more}")
    for name, text in (("bias", line.bias), ("drift", line.drift)):
        _print(f"{say(f'learned.col.{name}', {})}: {text}", "    ", "      ")
    _print(line.used, "    ", "      ")
