"""Drawings of the examples and of random circuits: sound, and how long does one take?

    python benchmarks/drawings.py [--quick] [--circuits N] [--seed N] [--json FILE]

Circuits of up to 40 parts of all kinds are drawn and read back from their SVG (see
`railwright.make.drawing.soundness`). JSON keys: circuits, sound, odd (by seed or file what is
wrong), parts, flags (names in place of wires, per part), seconds (of the processor, for one
drawing: median, nine tenths, worst; of the example `radio-bench-rail`), seed, machine, commit.
"""

from __future__ import annotations

import sys
import time
import traceback

from _report import ROOT, arguments, as_json, commit, machine, write

# In place of this folder, whose files would stand before the tests' rooms of the same names.
sys.path.pop(0)
sys.path.insert(0, str(ROOT / "tests"))

import numpy as np
from make.any_circuits import design_of, drawn

from railwright.circuit.design import Design, read
from railwright.make.drawing import drawing
from railwright.make.drawing.soundness import flaws

CIRCUITS, QUICK_CIRCUITS = 200, 10
DEMO = "radio-bench-rail"


def examples() -> dict[str, Design]:
    """The designs that come with the project, by name."""
    files = sorted((ROOT / "examples").glob("*.toml"))
    return {file.stem: read(file) for file in files if not file.stem.endswith("mistakes")}


def main() -> None:
    """Draw, look over, count."""
    parser = arguments(__doc__, f"{QUICK_CIRCUITS} circuits only")
    parser.add_argument("--circuits", type=int, default=CIRCUITS, help="how many otherwise")
    parser.add_argument("--seed", type=int, default=0, help="the first circuit's")
    asked = parser.parse_args()
    count = QUICK_CIRCUITS if asked.quick else asked.circuits
    designs = examples()
    for seed in range(asked.seed, asked.seed + count):
        designs[str(seed)] = design_of(drawn(seed))
    drawing(designs[DEMO])  # what is read once is read before
    odd: dict[str, list[str]] = {}
    seconds: dict[str, float] = {}
    parts = flags = 0
    for name, design in designs.items():
        began = time.process_time()
        try:
            found = drawing(design)
            text = found.svg()
            seconds[name] = time.process_time() - began
            wrong = flaws(text, design.circuit)
            parts += len(design.circuit.parts)
            flags += len(found.scene.flags)
        except Exception:
            wrong = [traceback.format_exc(limit=-3)]
        if wrong:
            odd[name] = wrong
            print(f"{name}: {wrong}", flush=True)
    taken = list(seconds.values())
    figures = {
        "circuits": len(designs),
        "sound": len(designs) - len(odd),
        "odd": odd,
        "parts": parts,
        "flags": flags / max(parts, 1),
        "seconds": {
            "median": float(np.median(taken)),
            "nine_tenths": float(np.quantile(taken, 0.9)),
            "worst": max(taken),
            DEMO: seconds[DEMO],
        },
        "seed": asked.seed,
        "machine": machine(),
        "commit": commit(),
    }
    print(as_json(figures))
    write(figures, asked.json)


if __name__ == "__main__":
    main()
