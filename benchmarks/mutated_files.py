"""What becomes of spoilt design files: a clear error or a verdict, never a crash or a hang.

    python benchmarks/mutated_files.py [--quick] [--json FILE] [--seed N]

How files are spoilt and judged: `tests/spoilt_files.py`. JSON keys: files, refused, read, proved
(by verdict), tracebacks, hangs, unclear (a refusal without a place, or a status that is not the
verdict's), failures (by seed), seed, machine, commit.
"""

from __future__ import annotations

import sys
import time
from collections import Counter

from _report import ROOT, arguments, as_json, commit, machine, write

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path.pop(0)
sys.path.insert(0, str(ROOT / "tests"))

from spoilt_files import CLEAN, VERDICTS, base, outcome

FILES, QUICK_FILES = 500, 20


def main() -> None:
    """Spoil, read, prove, count."""
    parser = arguments(__doc__, f"{QUICK_FILES} files only")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    files = QUICK_FILES if asked.quick else FILES
    started = time.perf_counter()
    counts: Counter[str] = Counter()
    failures: dict[str, str] = {}
    for seed in range(asked.seed * 100_000, asked.seed * 100_000 + files):
        found = outcome(seed)
        unclear = "traceback" if "Traceback" in found else "unclear"
        counts[found if found in (*CLEAN, "hang") else unclear] += 1
        if found not in CLEAN:
            failures[str(seed)] = found
            print(f"seed {seed}, {base(seed).name}: {found}")
    figures = {
        "files": files,
        "refused": counts["refused"],
        "read": counts["read"],
        "proved": {verdict: counts[verdict] for verdict in VERDICTS},
        "tracebacks": counts["traceback"],
        "hangs": counts["hang"],
        "unclear": counts["unclear"],
        "failures": failures,
        "seed": asked.seed,
        "machine": machine(),
        "commit": commit(),
    }
    print(as_json(figures))
    print(f"{time.perf_counter() - started:.0f} s")
    write(figures, asked.json)


if __name__ == "__main__":
    main()
