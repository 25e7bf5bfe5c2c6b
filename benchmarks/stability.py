"""Do multipliers and poles foretell what becomes of small disturbances?

    python benchmarks/stability.py [--quick] [--json FILE] [--seed N]

Cycles of a switching stage and rests of a linear supply, their values drawn from stable to
unstable. What multipliers or poles say is held against courses in time from close by. What is
within 0.005 of the unit circle, in a period of the clock or of what rings, is undecided. JSON
keys: switching and linear (how many `agree`, `contradict`, are `undecided`, have `no course`, and
how many of the variants are `unstable`), variants, seed, machine, commit.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

from _report import ROOT, arguments, as_json, commit, machine, write

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path.pop(0)
sys.path.insert(0, str(ROOT / "tests"))

from engine.stability import Verdicts, of_linear_supplies, of_switching_stages

VARIANTS, QUICK_VARIANTS = 400, 40
SEED = 1


def counted(study: Callable[[int, int], Verdicts], variants: int, seed: int) -> dict[str, int]:
    """How many variants of a study end in which way."""
    found = study(variants, seed)
    ways = ("agree", "contradict", "undecided", "no course")
    return {way: found.counts[way] for way in ways} | {"unstable": int(found.unstable.sum())}


def main() -> None:
    """Draw, foretell, follow, count."""
    parser = arguments(__doc__, f"{QUICK_VARIANTS} variants each")
    parser.add_argument("--seed", type=int, default=SEED, help="what is drawn")
    asked = parser.parse_args()
    variants = QUICK_VARIANTS if asked.quick else VARIANTS
    began = time.perf_counter()
    figures = {
        "switching": counted(of_switching_stages, variants, asked.seed),
        "linear": counted(of_linear_supplies, variants, asked.seed),
        "variants": variants,
        "seed": asked.seed,
        "machine": machine(),
        "commit": commit(),
    }
    print(as_json(figures))
    print(f"{time.perf_counter() - began:.0f} s")
    write(figures, asked.json)


if __name__ == "__main__":
    main()
