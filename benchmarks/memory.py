"""How much memory start-ups of a thousand switching stages take, and whether lanes add to it.

    python benchmarks/memory.py [--quick] [--json FILE]

Each lane has other values, and each run its own process (Linux only). JSON keys: runs (lanes,
instants, results_mb: what the watched signals take, before_mb and peak_mb: largest resident
memory before and after, solved, seconds), limit_mb, seed, machine, commit.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from prove import ROOT, SEED, commit, machine

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path.pop(0)
sys.path.insert(0, str(ROOT / "tests"))

from engine.memory import measured

LANES, QUICK_LANES = (10, 100, 1000), (10, 100)
SPAN, INSTANTS = 5e-3, 5000
LIMIT_MB = 500.0
"""What a thousand lanes may take."""


def main() -> None:
    """Measure, print, and write JSON where asked for."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("--quick", action="store_true", help="fewer lanes")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures there too")
    asked = parser.parse_args()
    runs = [
        measured(lanes, SPAN, INSTANTS, SEED) for lanes in (QUICK_LANES if asked.quick else LANES)
    ]
    for run in runs:
        print(
            f"{run['lanes']:5.0f} lanes {run['peak_mb']:6.0f} MB at most, of it results "
            f"{run['results_mb']:6.1f} MB, before {run['before_mb']:4.0f} MB; "
            f"{run['solved']:.1%} solved, {run['seconds']:.1f} s"
        )
    within = runs[-1]["peak_mb"] < LIMIT_MB
    print(f"{'within' if within else 'BEYOND'} {LIMIT_MB:.0f} MB")
    figures = {
        "runs": runs,
        "limit_mb": LIMIT_MB,
        "seed": SEED,
        "machine": machine(),
        "commit": commit(),
    }
    if asked.json is not None:
        asked.json.write_text(json.dumps(figures, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
