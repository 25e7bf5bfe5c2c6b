"""Is a reading ever lost when the program is killed?

    python benchmarks/kills.py [--quick] [--json FILE] [--kills N]

A walk through hundreds of readings, with a capture now and then, runs in a process of its own
(Linux only), tells of each reading once it is accepted, and is killed without notice at a random
moment, the opening of its log included; the next one goes on with the same log until the walk is
through, and a new log is begun. JSON keys: kills, logs (that were finished), readings (accepted in
all), while (kills by what the program was doing), lost (accepted readings that a log does not
have), wrong (with another value), twice (asked for although they were there), broken (logs that
could not be opened or whose integrity check failed, captures that were cut), seconds, seed,
machine, commit.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from pathlib import Path

from _report import ROOT, arguments, as_json, commit, machine, write

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path.pop(0)
sys.path.insert(0, str(ROOT / "tests"))

from measure.kills import killed

SEED = 1
KILLS, QUICK_KILLS = 200, 40


def main() -> None:
    """Kill, count, print, and write JSON where asked for."""
    parser = arguments(__doc__, f"{QUICK_KILLS} kills")
    parser.add_argument("--kills", type=int, help="how many")
    asked = parser.parse_args()
    wanted = asked.kills or (QUICK_KILLS if asked.quick else KILLS)
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        counts = killed(Path(folder), wanted, random.Random(SEED))
    figures = {
        **counts,
        "seconds": round(time.perf_counter() - began, 1),
        "seed": SEED,
        "machine": machine(),
        "commit": commit(),
    }
    print(as_json(figures))
    write(figures, asked.json)
    sys.exit(any(counts[what] for what in ("lost", "wrong", "twice", "broken")))


if __name__ == "__main__":
    main()
