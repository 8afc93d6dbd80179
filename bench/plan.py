"""How long a plan takes in a new process, beside a bare start of Python and of the packages it needs.

Run: python -m bench.plan [EXAMPLE ...]. Prints medians of three; nothing is asserted.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"


def seconds(command: list[str]) -> float:
    """Median wall time of three runs after one that warms the disk."""
    times = []
    for _ in range(4):
        start = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        times.append(time.perf_counter() - start)
    return statistics.median(times[1:])


def main(names: list[str]) -> None:
    bare = seconds([sys.executable, "-c", "pass"])
    imports = seconds(
        [sys.executable, "-c", "import numpy, scipy.optimize, pydantic, pint, ortools.sat.python.cp_model"]
    )
    print(f"baseline: bare Python {bare:.2f} s, importing the packages alone {imports:.2f} s")
    print(f"--help                {seconds([sys.executable, '-m', 'slackwater.cli', '--help']):6.2f} s   (bar 0.3 s)")
    for name in names:
        with tempfile.TemporaryDirectory() as folder:
            out = str(Path(folder) / "out")
            took = seconds(
                [sys.executable, "-m", "slackwater.cli", "plan", str(EXAMPLES / f"{name}.toml"), "--out", out]
            )
        bar = "   (bar 10 s)" if name == "blue-corridor" else ""
        print(f"plan {name:16} {took:6.2f} s{bar}")


if __name__ == "__main__":
    main(sys.argv[1:] or ["blue-corridor", "harbour-line", "light-well"])
