"""How much memory start-ups of a thousand switching stages take, and whether lanes add to it.

    python benchmarks/memory.py [--quick] [--json FILE]

Each lane has other values, and each run its own process (Linux only). JSON keys: runs (lanes,
instants, results_mb: what the watched signals take, before_mb and peak_mb: largest resident
memory before and after, solved, seconds), limit_mb, seed, machine, commit.
"""

from __future__ import annotations

import sys

from _report import ROOT, arguments, commit, machine, write

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path.pop(0)
sys.path.insert(0, str(ROOT / "tests"))

from engine.memory import measured

SEED = 1
LANES, QUICK_LANES = (10, 100, 1000), (10, 100)
SPAN, INSTANTS = 5e-3, 5000
LIMIT_MB = 500.0
"""What a thousand lanes may take."""


def main() -> None:
    """Measure, print, and write JSON where asked for."""
    asked = arguments(__doc__, "fewer lanes").parse_args()
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
    write(figures, asked.json)


if __name__ == "__main__":
    main()
