"""Drawings of the examples and of random circuits: sound, and how long does one take?

    python benchmarks/drawings.py [--quick] [--circuits N] [--seed N] [--json FILE]

Circuits of up to 40 parts of all kinds are drawn and read back from their SVG (see
`railwright.make.drawing.soundness`). A FILE of the same commit and seed is gone on with where it
ended: it is written anew after each drawing. JSON keys: circuits, sound, odd (by seed or file what
is wrong), parts, flags (names in place of wires, per part), seconds (of the processor, for one
drawing: median, nine tenths, worst; of the example `radio-bench-rail`), drawings (by seed or file:
wrong, parts, flags, seconds), seed, machine, commit.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
import traceback
from collections.abc import Mapping
from typing import Any

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


def looked_at(design: Design) -> dict[str, Any]:
    """Draw a design and look it over; an error is told and stays its own."""
    began = time.process_time()
    try:
        found = drawing(design)
        text = found.svg()
        taken = time.process_time() - began
        wrong = flaws(text, design.circuit)
        flags = len(found.scene.flags)
    except Exception:
        return {"wrong": [traceback.format_exc(limit=-3)], "parts": len(design.circuit.parts)}
    return {
        "wrong": wrong,
        "parts": len(design.circuit.parts),
        "flags": flags,
        "seconds": round(taken, 3),
    }


def counted(drawings: Mapping[str, Mapping[str, Any]], seed: int) -> dict[str, Any]:
    """The figures of all that was drawn."""
    made = [each for each in drawings.values() if "seconds" in each]
    taken = [each["seconds"] for each in made]
    odd = {name: each["wrong"] for name, each in drawings.items() if each["wrong"]}
    return {
        "circuits": len(drawings),
        "sound": len(drawings) - len(odd),
        "odd": odd,
        "parts": sum(each["parts"] for each in drawings.values()),
        "flags": sum(each["flags"] for each in made) / max(sum(e["parts"] for e in made), 1),
        "seconds": {
            "median": float(np.median(taken)),
            "nine_tenths": float(np.quantile(taken, 0.9)),
            "worst": max(taken),
            DEMO: drawings.get(DEMO, {}).get("seconds"),
        }
        if taken
        else {},
        "drawings": drawings,
        "seed": seed,
        "machine": machine(),
        "commit": commit(),
    }


def known(args: argparse.Namespace) -> dict[str, dict[str, Any]]:
    """What the file has already, of this commit and seed."""
    if args.json is None or not args.json.exists():
        return {}
    before = json.loads(args.json.read_text(encoding="utf-8"))
    if (before.get("commit"), before.get("seed")) != (commit(), args.seed):
        return {}
    found: dict[str, dict[str, Any]] = before["drawings"]
    return found


def main() -> None:
    """Draw, look over, count."""
    parser = arguments(__doc__, f"{QUICK_CIRCUITS} circuits only")
    parser.add_argument("--circuits", type=int, default=CIRCUITS, help="how many otherwise")
    parser.add_argument("--seed", type=int, default=0, help="the first circuit's")
    args = parser.parse_args()
    count = QUICK_CIRCUITS if args.quick else args.circuits
    designs = examples()
    for seed in range(args.seed, args.seed + count):
        designs[str(seed)] = design_of(drawn(seed))
    drawing(designs[DEMO])  # what is read once is read before
    drawings = known(args)
    for name, design in designs.items():
        if name in drawings:
            continue
        drawings[name] = looked_at(design)
        if drawings[name]["wrong"]:
            print(f"{name}: {drawings[name]['wrong']}", flush=True)
        write(counted(drawings, args.seed), args.json)
    figures = counted(drawings, args.seed)
    print(as_json({key: value for key, value in figures.items() if key != "drawings"}))


if __name__ == "__main__":
    main()
