"""How long papers take in a process that has made others before, in English and German, beside one empty page.

Run: python -m bench.papers [EXAMPLE]. Prints what was measured; nothing is asserted. The papers of another example are
made first, so that what is timed has been set up once but set never: the typesetter remembers whole pages.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import typst

from slackwater.paper import write
from slackwater.paper.write import write_papers
from slackwater.reader import Reader
from tests.jobs import job_from
from tests.plans import HARDLY, catalog, plan_of

WARM_BY = "light-well"


def seconds(call: Callable[[], object]) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def empty_page(folder: Path) -> None:
    (folder / "empty.typ").write_text(f'#set document(title: "empty {time.perf_counter_ns()}")\n= empty\n')
    typst.compile(str(folder / "empty.typ"), pdf_standards=["ua-1"], timestamp=0)


def main(example: str) -> None:
    plans = {name: (plan_of(name, (), HARDLY), job_from(name)) for name in (WARM_BY, example)}
    each: dict[str, float] = {}
    typeset = write._typeset

    def timed(name: str, *rest: Path) -> bytes:
        start = time.perf_counter()
        made = typeset(name, *rest)
        each[name] = time.perf_counter() - start
        return made

    write._typeset = timed
    with tempfile.TemporaryDirectory() as room:
        folder = Path(room)
        for language in ("en", "de"):
            plan, job = plans[WARM_BY]
            write_papers(plan, job, catalog(), folder / f"warm-{language}", reader=Reader(language=language))
        baseline = min(seconds(lambda: empty_page(folder)) for _ in range(5))
        print(f"baseline: one empty page with Typst {baseline:.3f} s")
        for language in ("en", "de"):
            plan, job = plans[example]
            out = folder / language
            whole = seconds(
                lambda: write_papers(plan, job, catalog(), out, reader=Reader(language=language))  # noqa: B023
            )
            for name, took in each.items():
                print(f"{example} {language} {name:14} {took:6.2f} s   (bar 1 s)")
            print(f"{example} {language} all papers     {whole:6.2f} s   (bar 4 s)")


if __name__ == "__main__":
    main(*(sys.argv[1:] or ["harbour-line"]))
