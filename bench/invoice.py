"""How long the e-invoice takes: XML by the standard's schema, PDF with it inside, cold once and warm.

Run: python -m bench.invoice [LINES ...]. Of each number of lines the first call and the middle of five more are shown, with bytes. The
aim is 1 s warm for an invoice as jobs have them. Nothing is asserted.
"""

from __future__ import annotations

import statistics
import sys
import time

from slackwater.paper.invoice import invoice_papers
from tests.invoice.made import LESS, USUAL, invoice, line

TIMES = 5


def main() -> None:
    for count in map(int, sys.argv[1:] or ["6", "100", "1000"]):
        made = invoice(*(line("1.5", "49.99", LESS if n % 2 else USUAL, text=f"item {n}") for n in range(count)))
        took = []
        for _ in range(1 + TIMES):
            began = time.perf_counter()
            pdf, xml = invoice_papers(made)
            took.append(time.perf_counter() - began)
        print(
            f"{count:5d} lines: first {took[0]:.2f} s, warm {statistics.median(took[1:]):.2f} s, "
            f"PDF {len(pdf) / 1000:.0f} kB, XML {len(xml) / 1000:.0f} kB"
        )


if __name__ == "__main__":
    main()
