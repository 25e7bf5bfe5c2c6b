"""How long one need takes, all architectures: every candidate at quick, the best three at default.

    python benchmarks/propose.py [--quick] [--json FILE]

The first run of a circuit compiles it, and does not count: the second of two runs does. JSON keys:
seconds, candidates, proved (of those at depth default), refused, machine, commit.
"""

from __future__ import annotations

import time

from _report import ROOT, arguments, as_json, commit, machine, write

from railwright.circuit.design import read
from railwright.files.source import source_text
from railwright.propose.candidates import Proposal, propose
from railwright.surveys.depth import DEFAULT, QUICK, Depth

NEED = ROOT / "examples" / "needs" / "lamp-panel-twelve-volts.toml"
RUNS = 2


def timed(depth: Depth) -> tuple[Proposal, float]:
    """A proposal for the need, and how long the last of the runs took [s]."""
    for _ in range(RUNS):
        started = time.perf_counter()
        found = propose(read(NEED), source_text(NEED), depth=depth)
        seconds = time.perf_counter() - started
    return found, seconds


def main() -> None:
    """Propose, time, count."""
    asked = arguments(__doc__, "depth quick alone").parse_args()
    found, seconds = timed(QUICK if asked.quick else DEFAULT)
    figures = {
        "seconds": round(seconds, 2),
        "candidates": len(found.candidates),
        "proved": sum(each.depth.covers(DEFAULT) for each in found.candidates),
        "refused": len(found.withdrawn),
        "machine": machine(),
        "commit": commit(),
    }
    print(as_json(figures))
    write(figures, asked.json)


if __name__ == "__main__":
    main()
